"""The mistakes that newcomers make, each solved by its message: the way out that is printed is applied as it
stands, and then the command works. usage: mistakes_test.py PROGRAM REPOSITORY"""
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import unittest

PROGRAM, ROOT = pathlib.Path(sys.argv[1]).resolve(), pathlib.Path(sys.argv[2]).resolve()
EXAMPLE = ROOT / "examples/01_dunlin_at_kettle"
INPUT = 2


class Case(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = pathlib.Path(folder.name).resolve()
        made = subprocess.run([PROGRAM, "new", self.folder / "mine", "--quiet"], capture_output=True, timeout=60)
        self.assertEqual(made.returncode, 0, made.stderr)
        self.scenario = self.folder / "mine/scenario.yaml"
        self.text = self.scenario.read_text()

    def run_program(self, *words):
        done = subprocess.run([PROGRAM, *map(str, words)], capture_output=True, timeout=120, cwd=self.folder)
        return done.returncode, done.stdout.decode(), done.stderr.decode()

    def stand(self, *words):
        return self.run_program("stand", self.scenario, *words)

    def refused(self, said, *words):
        """The message of a command that is refused; `said` is a pattern it must hold."""
        code, out, err = self.run_program(*words)
        self.assertEqual((code, out), (INPUT, ""), err)
        self.assertRegex(err, said)
        return re.search(said, err)

    def works(self, *words):
        code, out, err = self.run_program(*words)
        self.assertIn(code, (0, 1), err)
        return out

    def edit(self, before, after, file=None):
        file = file or self.scenario
        text = file.read_text()
        self.assertIn(before, text)
        file.write_text(text.replace(before, after, 1))

    def mistake(self, right, wrong, said, cure, file=None):
        """`right` in the scenario becomes `wrong`; what `cure` makes of the message takes its place and works."""
        self.edit(right, wrong, file)
        found = self.refused(said, "stand", self.scenario)
        self.edit(wrong, cure(found), file)
        self.works("stand", self.scenario)


def sheet(east, north, up, rise=0.2, posts=31, step=1.0):
    """A tilted sheet as OBJ text; the three functions place a point of the ground in the file's axes."""
    out = []
    for j in range(posts):
        for i in range(posts):
            x, y = (i - posts // 2) * step, (j - posts // 2) * step
            p = [0.0, 0.0, 0.0]
            for axis, value in ((east, x), (north, y), (up, rise * x)):
                p[axis[1]] = axis[0] * value
            out.append("v {} {} {}".format(*p))
    at = lambda i, j: j * posts + i + 1
    for j in range(posts - 1):
        for i in range(posts - 1):
            out.append(f"f {at(i, j)} {at(i + 1, j)} {at(i + 1, j + 1)} {at(i, j + 1)}")
    return "\n".join(out) + "\n"


def grid(rows, cell="1", corner=("-15", "-15")):
    return (f"ncols {len(rows[0])}\nnrows {len(rows)}\nxllcorner {corner[0]}\nyllcorner {corner[1]}\n"
            f"cellsize {cell}\n" + "\n".join(" ".join(row) for row in rows) + "\n")


class Scenarios(Case):
    def quantity(self):
        """A line of the starter `spot` and its yaw."""
        return re.search(r"yaw: [-0-9.]+ deg", self.text).group()

    def test_a_tab_indents(self):
        line = next(l for l in self.text.splitlines() if re.match(r"  \w+: ", l))
        self.mistake("\n" + line + "\n", "\n\t" + line.strip() + "\n",
                     r":\d+:\d+: not valid YAML: .*; indent with (blanks), not with tabs",
                     lambda m: "\n" + line + "\n")

    def test_a_unit_is_missing(self):
        mass = re.search(r"mass: ([0-9.]+) kg", self.text)
        self.mistake(mass.group(), "mass: " + mass[1], r'"[0-9.]+" has no unit; a mass is expected; write it like "[0-9.]+ (kg)"',
                     lambda m: f"mass: {mass[1]} {m[1]}")

    def test_an_angle_without_a_unit_is_asked_for_degrees_or_radians(self):
        right = self.quantity()
        for unit in (1, 2):
            self.scenario.write_text(self.text)
            self.mistake(right, "yaw: 3.05", r'"3.05" has no unit; an angle is expected; write it like "35 (deg)" '
                         r'or, in radians, like "0.61 (rad)"', lambda m: "yaw: 3.05 " + m[unit])

    def test_degrees_are_called_radians(self):
        right = self.quantity()
        self.mistake(right, "yaw: 40 rad", r'"40 rad" is out of range; .*; did you mean "(40 deg)"\?',
                     lambda m: "yaw: " + m[1])

    def test_a_decimal_comma(self):
        mass = re.search(r"mass: [0-9.]+ kg", self.text).group()
        self.mistake(mass, 'mass: "12,5 kg"', r'has a comma inside the number; .* write ("12.5 kg")',
                     lambda m: "mass: " + m[1])
        self.scenario.write_text(self.text)
        self.mistake(mass, "mass: 12,5 kg", r"a comma separates keys, the decimal sign is a (point)|comma inside",
                     lambda m: "mass: 12.5 kg")

    def test_a_decimal_comma_in_a_list(self):
        at = re.search(r'at: "\[([-0-9]+\.[0-9]+), ([-0-9.]+)\] m"', self.text)
        self.assertIsNotNone(at)
        self.mistake(at.group(), f'at: "[{at[1].replace(".", ",")}, {at[2].replace(".", ",")}] m"',
                     r"numbers where 2 are expected; .*the decimal sign is a (point)", lambda m: at.group())

    def test_a_key_is_misspelt(self):
        self.mistake("outriggers:", "outriger:", r'unknown key "outriger"; did you mean "(outriggers)"\?',
                     lambda m: m[1] + ":", self.scenario.parent / "dunlin.yaml")

    def test_two_outriggers_have_one_name(self):
        machine = self.scenario.parent / "dunlin.yaml"
        self.mistake("name: rear-left", "name: front-left",
                     r'the name "front-left" is taken by the item in line \d+; names in a list are (unique)',
                     lambda m: "name: rear-left", machine)

    def test_a_key_is_given_twice(self):
        line = next(l for l in self.text.splitlines() if l.startswith("gravity:"))
        self.edit(line, line + "\n" + line)
        m = self.refused(r'key "gravity" is given twice in one map, in lines (\d+) and (\d+); keep one of them',
                         "stand", self.scenario)
        lines = self.scenario.read_text().splitlines()
        self.assertEqual(lines[int(m[1]) - 1], lines[int(m[2]) - 1])
        del lines[int(m[2]) - 1]
        self.scenario.write_text("\n".join(lines) + "\n")
        self.works("stand", self.scenario)

    def test_a_length_where_a_mass_belongs(self):
        mass = re.search(r"mass: ([0-9.]+) kg", self.text)
        self.mistake(mass.group(), f"mass: {mass[1]} m", r'is a length; a mass is expected; write it like "[0-9.]+ (kg)"',
                     lambda m: f"mass: {mass[1]} {m[1]}")

    def test_an_interval_is_reversed(self):
        right = re.search(r'luff: "\[([-0-9.]+), ([-0-9.]+)\] deg"', self.text)
        self.mistake(right.group(), f'luff: "[{right[2]}, {right[1]}] deg"',
                     r'"\[(.*), (.*)\] deg": the first end must lie at or below the second; swap the ends',
                     lambda m: f'luff: "[{m[2]}, {m[1]}] deg"')

    def test_a_share_may_be_written_either_way(self):
        for share in ("15 %", "0.15"):
            code, _, err = self.stand("--set", f"criteria.load_cases=[{{name: a, tipping_load: {share}}}]")
            self.assertIn(code, (0, 1), err)

    def test_windows_line_ends_and_a_byte_order_mark_mean_nothing(self):
        plain = self.works("stand", self.scenario)
        self.scenario.write_bytes(b"\xef\xbb\xbf" + self.text.replace("\n", "\r\n").encode())
        self.assertEqual(self.works("stand", self.scenario), plain)

    def test_an_empty_file(self):
        empty = self.folder / "empty.yaml"
        empty.write_text("")
        m = self.refused(r"the file is empty; `rimstance (new) DIR` writes a starter", "stand", empty)
        self.works(m[1], self.folder / "another")
        self.works("stand", self.folder / "another/scenario.yaml")


class Paths(Case):
    def terrain(self):
        return re.search(r"file: *(\S+?\.asc)", self.text)[1]

    def test_the_terrain_lies_elsewhere(self):
        file = self.terrain()
        (self.folder / "ground").mkdir()
        shutil.move(self.scenario.parent / file, self.folder / "ground" / pathlib.Path(file).name)
        m = self.refused(r'no such file; looked for (/.*\.asc); did you mean "(.*)"\?', "stand", self.scenario)
        self.assertEqual(pathlib.Path(m[1]), self.scenario.parent / file)
        self.edit(file, m[2])
        self.works("stand", self.scenario)

    def test_the_terrain_is_misspelt(self):
        file = self.terrain()
        self.mistake(file, file.replace(".asc", "s.asc"), r'no such file; looked for /.*; did you mean "(.*)"\?',
                     lambda m: m[1])

    def test_a_terrain_on_the_command_line_is_misspelt(self):
        shutil.copy(self.scenario.parent / self.terrain(), self.folder / "rim.asc")
        m = self.refused(r'rmi.asc: no such file; looked for /.*/rmi.asc; did you mean "(.*)"\?', "inspect", "rmi.asc")
        self.works("inspect", m[1])
        self.refused("no such folder; paths are relative to the current folder", "inspect", "none/quite-another.asc")

    def test_the_scenario_is_misspelt_for_any_command(self):
        written = str(self.scenario.relative_to(self.folder)).replace("scenario", "scenaro")
        for command in ("stand", "capacity"):
            m = self.refused(r'scenaro.yaml: no such file; looked for (/.*); did you mean "(.*)"\?', command, written)
            self.assertEqual(pathlib.Path(m[1]), self.folder / written)
            self.assertEqual((self.folder / m[2]).resolve(), self.scenario.resolve())
        self.works("stand", m[2])
        self.refused("no such folder; paths are relative to the current folder", "stand", "none/quite-another.yml")

    def test_an_include_is_missing(self):
        whole = self.folder / "mine/over.yaml"
        whole.write_text("include: scenaro.yaml\ntitle: mine\n")
        m = self.refused(r'no such file; looked for /.*/mine/scenaro.yaml; did you mean "(.*)"\?', "stand", whole)
        whole.write_text(f"include: {m[1]}\ntitle: mine\n")
        self.works("stand", whole)

    def test_nothing_near_is_said_with_the_place_looked_at(self):
        self.edit(self.terrain(), "../nowhere/quite-another.asc")
        self.refused(r"looked for /.*/nowhere/quite-another.asc, but there is no such folder", "stand", self.scenario)

    def test_the_two_kinds_of_file_are_swapped(self):
        m = self.refused(r"is a scenario, not a terrain file; give it to `rimstance (stand)`", "inspect", self.scenario)
        self.works(m[1], self.scenario)
        ground = self.scenario.parent / self.terrain()
        m = self.refused(r"is a terrain file, not a scenario; look at it with `rimstance (inspect)`", "stand", ground)
        self.works(m[1], ground)


class Terrain(Case):
    def on(self, terrain):
        """The scenario on another ground, in the middle of it."""
        return ["stand", self.scenario, "--set", terrain, "--set", 'spot.at="[0, 0] m"', "--set", "spot.yaw=0 deg"]

    def test_the_mesh_has_y_up(self):
        file = self.folder / "ground.obj"
        file.write_text(sheet((1, 0), (-1, 2), (1, 1)))
        for command in (["inspect", file, "--up", "z", "--unit", "m"], self.on(f"terrain={{file: {file}, up: z, unit: m}}")):
            m = self.refused(r"the up axis looks wrong: state terrain\.up: (y)", *command)
            self.works(*(str(word).replace("up: z", f"up: {m[1]}") if word != "z" else m[1] for word in command))

    def test_more_wall_than_ground_was_mapped(self):
        file = self.folder / "rim.obj"
        # A plain of 20 m x 20 m and a wall of 30 m below its northern edge.
        file.write_text("v -10 -10 0\nv 10 -10 0\nv 10 10 0\nv -10 10 0\nv -10 10 -30\nv 10 10 -30\n"
                        "f 1 2 3\nf 1 3 4\nf 4 3 6\nf 4 6 5\n")
        stated = "file: {}, up: z, unit: m".format(file)
        m = self.refused(r"if z is up and more wall than ground was mapped, state terrain\.(mostly_wall: true)",
                         *self.on("terrain={" + stated + "}"))
        self.works(*self.on("terrain={" + stated + ", " + m[1] + "}"))
        m = self.refused(r"\(for inspect: --up; (--mostly-wall)\)", "inspect", file, "--up", "z", "--unit", "m")
        self.works("inspect", file, "--up", "z", "--unit", "m", m[1])

    def test_the_unit_is_spelt_out(self):
        file = self.folder / "ground.obj"
        file.write_text(sheet((1, 0), (1, 1), (1, 2), posts=91))
        for unit in ("feet", "foot", "'"):
            m = self.refused(r'did you mean "(ft)"\?', *self.on(f'terrain={{file: {file}, up: z, unit: "{unit}"}}'))
            self.works(*self.on(f"terrain={{file: {file}, up: z, unit: {m[1]}}}"))

    def test_decimal_commas(self):
        obj, asc = self.folder / "ground.obj", self.folder / "ground.asc"
        obj.write_text(sheet((1, 0), (1, 1), (1, 2)).replace("v 1.0 ", "v 1,0 ", 1))
        asc.write_text(grid([["0"] * 31] * 31).replace("cellsize 1", "cellsize 1,0"))
        for file in (obj, asc):
            m = self.refused(r':(\d+):(\d+): .* is "(.*)", written with a decimal comma; .*; write "(.*)"', "inspect", file)
            lines = file.read_text().splitlines()
            line, column = lines[int(m[1]) - 1], int(m[2]) - 1
            self.assertTrue(line[column:].startswith(m[3]))
            lines[int(m[1]) - 1] = line[:column] + m[4] + line[column + len(m[3]):]
            file.write_text("\n".join(lines) + "\n")
            self.works("inspect", file)

    def test_the_map_is_in_degrees(self):
        file = self.folder / "ground.asc"
        heights = [[str((i + j) % 3) for i in range(31)] for j in range(31)]
        cell = 1 / 3600
        file.write_text(grid(heights, repr(cell), ("10", "45")))
        self.refused(r"the cell size .* looks like degrees: .*; project the grid to (metres) first", "inspect", file)
        file.write_text(grid(heights, "30.87"))  # a second of arc of latitude on the earth [m]
        self.works("inspect", file)

    def test_the_spot_is_measured_from_elsewhere_or_swapped(self):
        file = self.folder / "ground.asc"
        file.write_text(grid([["0"] * 41] * 41, corner=("5000", "2000")))
        for at, said in (("[0, 0]", r'measured from the local origin .*: then write at: ("\[.*\] m")'),
                         ("[2021, 5019]", r'x and y may be swapped: .*then write at: ("\[.*\] m")')):
            ground = ["stand", self.scenario, "--set", f"terrain={{file: {file}, unit: m}}", "--set"]
            m = self.refused(said, *ground, f'spot.at="{at} m"')
            self.works(*ground, f"spot.at={m[1]}")

    def test_missing_data_is_not_declared(self):
        file = self.folder / "ground.asc"
        heights = [["0"] * 31 for _ in range(31)]
        heights[3][4] = "-9999"
        file.write_text(grid(heights))
        m = self.refused(r"near the value (-9999) m .*row 4, column 5 .*; .*(NODATA_value)", "inspect", file)
        file.write_text(file.read_text().replace("cellsize 1\n", f"cellsize 1\n{m[2]} {m[1]}\n"))
        self.works("inspect", file)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
