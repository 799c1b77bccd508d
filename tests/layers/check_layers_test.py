"""tools/check_layers on small made-up trees: each rule is seen to bite."""
import pathlib
import subprocess
import sys
import tempfile
import unittest

TOOL = pathlib.Path(__file__).resolve().parents[2] / "tools/check_layers"
RULES = """
stage first   a b
stage second  c
top src/main.cpp
only YAML/ src/second/c.cpp
never <iostream> strtod
"""
CLEAN = {
    "tools/layers.txt": RULES,
    "include/rimstance/first/a.hpp": "#include <vector>\n#include <Eigen/Core>\n",
    "include/rimstance/first/b.hpp": '#include "rimstance/first/a.hpp"\n',
    "include/rimstance/second/c.hpp": '#include "rimstance/first/b.hpp"\n',
    "src/first/a.cpp": '#include "rimstance/first/a.hpp"\n// strtod in a comment is no call\n',
    "src/second/c.cpp": '#include "rimstance/second/c.hpp"\n#include <YAML/y.h>\n',
    "src/main.cpp": '#include "rimstance/second/c.hpp"\n',
}


def run(files):
    """Exit status and text of the tool on a tree of these files."""
    with tempfile.TemporaryDirectory() as folder:
        for name, text in files.items():
            path = pathlib.Path(folder) / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text)
        done = subprocess.run([sys.executable, str(TOOL), folder], capture_output=True, text=True)
        return done.returncode, done.stdout + done.stderr


class CheckLayers(unittest.TestCase):
    def breaks(self, name, text, message):
        status, out = run({**CLEAN, name: text})
        self.assertEqual(status, 1, out)
        self.assertIn(message, out)

    def test_a_tree_in_order_passes(self):
        status, out = run(CLEAN)
        self.assertEqual(status, 0, out)

    def test_a_later_stage_is_out_of_reach(self):
        self.breaks("include/rimstance/first/a.hpp", '#include "rimstance/second/c.hpp"\n',
                    "include/rimstance/first/a.hpp:1: rimstance/second/c.hpp belongs to second")

    def test_a_later_header_of_the_same_stage_is_out_of_reach(self):
        self.breaks("include/rimstance/first/a.hpp", '\n#include "rimstance/first/b.hpp"\n',
                    "include/rimstance/first/a.hpp:2: rimstance/first/b.hpp is not listed before a")
        self.breaks("src/first/a.cpp", '#include "rimstance/first/b.hpp"\n', "not listed before a")

    def test_a_source_may_use_the_private_headers_of_its_stage_but_a_header_may_not_jump_the_order(self):
        private = {"tools/layers.txt": RULES.replace("a b", "a b p"),
                   "src/first/p.hpp": '#include "rimstance/first/a.hpp"\n'}
        status, out = run({**CLEAN, **private, "src/first/a.cpp": '#include "p.hpp"\n'})
        self.assertEqual(status, 0, out)
        status, out = run({**CLEAN, **private, "include/rimstance/first/b.hpp": '#include "p.hpp"\n'})
        self.assertEqual(status, 1, out)
        self.assertIn("p.hpp is not listed before b", out)

    def test_a_header_nobody_listed_is_an_error(self):
        self.breaks("include/rimstance/first/new.hpp", '#include "rimstance/first/a.hpp"\n', "header new is not in stage first")

    def test_a_folder_that_is_no_stage_is_an_error(self):
        self.breaks("src/third/d.cpp", "", "folder 'third' is no stage")

    def test_a_listed_header_that_is_gone_is_an_error(self):
        self.breaks("tools/layers.txt", RULES.replace("stage second  c", "stage second  c d"),
                    "second/d is listed but does not exist")

    def test_a_library_stays_in_its_files(self):
        self.breaks("src/first/a.cpp", "#include <YAML/y.h>\n", "<YAML/y.h> belongs in src/second/c.cpp only")
        self.breaks("src/first/a.cpp", "#include <zlib.h>\n", "<zlib.h> is in no `only` line")

    def test_locale_dependent_parsing_is_kept_out(self):
        self.breaks("src/first/a.cpp", "#include <iostream>\n", "<iostream> is not used here")
        self.breaks("src/first/a.cpp", "double x = std::strtod(text, nullptr);\n",
                    "src/first/a.cpp:1: strtod is not used here")


if __name__ == "__main__":
    unittest.main()
