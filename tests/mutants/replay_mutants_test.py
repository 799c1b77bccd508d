"""tools/replay_mutants: reading the list, finding the place, choosing what to replay."""
import importlib.machinery
import importlib.util
import pathlib
import sys
import unittest

sys.dont_write_bytecode = True
PATH = pathlib.Path(__file__).resolve().parents[2] / "tools/replay_mutants"
loader = importlib.machinery.SourceFileLoader("replay_mutants", str(PATH))
spec = importlib.util.spec_from_loader("replay_mutants", loader)
tool = importlib.util.module_from_spec(spec)
loader.exec_module(tool)


def mutant(line=1, old="a + b", new="a - b", file="src/statics/x.cpp", row=1):
    return tool.Mutant(row, file, line, old, new, "why")


class TheList(unittest.TestCase):
    def test_comments_and_blank_lines_are_no_mutants(self):
        self.assertEqual(tool.read_list("# note\n\nf.cpp\t3\ta\tb\twhy\n"),
                         [tool.Mutant(3, "f.cpp", 3, "a", "b", "why")])

    def test_a_row_with_a_field_missing_is_refused(self):
        for row in ("f.cpp\t3\ta\tb", "f.cpp\tthree\ta\tb\twhy", "f.cpp\t3\t\tb\twhy", "f.cpp\t3\ta\ta\twhy"):
            with self.assertRaises(tool.ListError):
                tool.read_list(row)


class ThePlace(unittest.TestCase):
    def test_the_stated_line_wins_over_its_neighbours(self):
        text = "x = a + b;\ny = a + b;\n"
        self.assertEqual(tool.planted(text, mutant(line=2)), "x = a + b;\ny = a - b;\n")

    def test_code_that_moved_a_little_is_found(self):
        text = "\n" * tool.DRIFT + "x = a + b;\n"
        self.assertEqual(tool.planted(text, mutant(line=1)), "\n" * tool.DRIFT + "x = a - b;\n")

    def test_code_that_moved_far_is_not_guessed(self):
        with self.assertRaises(tool.ListError):
            tool.planted("\n" * (tool.DRIFT + 1) + "x = a + b;\n", mutant(line=1))

    def test_two_places_near_the_line_are_not_guessed(self):
        with self.assertRaises(tool.ListError):
            tool.planted("\nx = a + b;\ny = a + b;\n", mutant(line=1))

    def test_twice_on_the_stated_line_is_refused(self):
        with self.assertRaises(tool.ListError):
            tool.planted("x = a + b + (a + b);\n", mutant(line=1))


class TheChoice(unittest.TestCase):
    many = [mutant(file=f"src/statics/{i % 5}.cpp", row=i) for i in range(20)]

    def test_all_of_a_changed_file_are_replayed(self):
        picked = tool.chosen(self.many, {"src/statics/2.cpp"}, 7)
        self.assertEqual([m.row for m in picked], [2, 7, 12, 17])

    def test_three_are_replayed_where_nothing_changed_and_all_take_their_turn(self):
        seen = set()
        for turn in range(20):
            picked = tool.chosen(self.many, set(), turn)
            self.assertEqual(len({m.row for m in picked}), 3)
            seen |= {m.row for m in picked}
        self.assertEqual(len(seen), 20)

    def test_no_more_than_four_of_the_changed_files_are_replayed_and_all_take_their_turn(self):
        files, seen = {f"src/statics/{i}.cpp" for i in range(3)}, set()
        for turn in range(20):
            picked = tool.chosen(self.many, files, turn)
            self.assertEqual(len({m.row for m in picked}), 4)
            self.assertTrue({m.file for m in picked} <= files)
            seen |= {m.row for m in picked}
        self.assertEqual(len(seen), 12)

    def test_a_short_list_is_replayed_whole(self):
        self.assertEqual(len(tool.chosen(self.many[:2], set(), 5)), 2)


class TheStages(unittest.TestCase):
    def test_the_tests_of_a_stage_and_of_the_later_ones_can_notice(self):
        self.assertEqual(tool.stages_from("src/statics/x.cpp")[0], "statics")
        self.assertEqual(tool.stages_from("include/rimstance/loads/boom.hpp")[:2], ["loads", "stance"])
        with self.assertRaises(tool.ListError):
            tool.stages_from("README.md")


if __name__ == "__main__":
    unittest.main()
