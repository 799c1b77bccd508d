"""The program as its users meet it: files, streams, exit status. usage: program_test.py PROGRAM REPOSITORY"""
import json
import math
import pathlib
import resource
import subprocess
import sys
import tempfile
import unittest
import xml.etree.ElementTree

PROGRAM, ROOT = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2])
DEMO = ROOT / "examples/01_dunlin_at_kettle/scenario.yaml"
HOLDS, VIOLATED, INPUT, SYSTEM = 0, 1, 2, 3


def run(*words, **how):
    done = subprocess.run([str(PROGRAM), *map(str, words)], capture_output="stdout" not in how, timeout=300, **how)
    return done.returncode, (done.stdout or b"").decode(), (done.stderr or b"").decode()


def numbers(value):
    """All numbers of a JSON value."""
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, list):
        return [n for item in value for n in numbers(item)]
    return [value] if isinstance(value, float) else []


def refuse(word):
    raise ValueError(f"{word} is not JSON")


class Stand(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.out = pathlib.Path(folder.name) / "out"

    def result(self, *words, status):
        code, out, err = run("stand", DEMO, "--json", *words)
        self.assertEqual(code, status, err + out)
        return json.loads(out, parse_constant=refuse)

    def test_the_demo_holds_and_the_result_says_the_same_as_the_exit_status(self):
        result = self.result(status=HOLDS)
        self.assertIs(result["ok"], True)
        self.assertEqual(result["violations"], [])
        self.assertTrue(all(math.isfinite(n) for n in numbers(result)))
        self.assertEqual({"rimstance", "scenario", "pose", "levelling", "feet", "worst", "least", "load_cases",
                          "not_evaluated", "as_set", "assumed"} - result.keys(), set())

    def test_the_same_question_gives_the_same_bytes(self):
        self.assertEqual(run("stand", DEMO, "--json"), run("stand", DEMO, "--json"))

    def test_a_load_beyond_the_tipping_load_is_a_violation_with_all_numbers(self):
        result = self.result("--set", "payload.mass=300 kg", status=VIOLATED)
        self.assertIs(result["ok"], False)
        self.assertIn("load_case:forward", [v["criterion"] for v in result["violations"]])
        self.assertLess(result["worst"]["moment_Nm"], 0)

    def test_a_release_that_pulls_more_than_the_machine_weighs_is_a_verdict(self):
        result = self.result("--set", "payload.mass=5 t", status=VIOLATED)
        self.assertIn("load_case:released", [v["criterion"] for v in result["violations"]])

    def test_feet_over_the_void_are_a_result_with_reasons_and_without_moments(self):
        result = self.result("--set", 'spot.at="[0, 0] m"', "--set", "spot.under=-30 m", status=VIOLATED)
        unsupported = [f for f in result["feet"] if not f["supported"]]
        if not unsupported:  # the floor holds all four: then ask where there is none at all
            result = self.result("--set", 'spot.at="[0, 0] m"', "--set", "spot.under=-500 m", status=VIOLATED)
            unsupported = [f for f in result["feet"] if not f["supported"]]
        self.assertTrue(unsupported)
        self.assertTrue(all(f["reason"] for f in unsupported))
        self.assertIsNone(result["worst"])

    def test_limits_are_worded_by_their_side_and_a_held_machine_is_not_called_accepted(self):
        code, text, _ = run("stand", DEMO, "--set", 'spot.at="[-21.6, 12.5] m"', "--set", "spot.yaw=-30 deg")
        self.assertEqual(code, VIOLATED)
        self.assertIn("NOT ACCEPTED", text.splitlines()[1])
        said = {line.split(":")[0].strip(): line for line in text.splitlines() if ", must be at " in line}
        self.assertEqual(said.keys(), {"tilt", "pad_tilt", "stroke_left"})
        self.assertIn("at most", said["tilt"])
        self.assertIn("at most", said["pad_tilt"])
        self.assertIn("at least", said["stroke_left"])

    def test_pictures_and_numbers_are_written_and_the_pictures_are_well_formed(self):
        code, _, err = run("stand", DEMO, "-o", self.out)
        self.assertEqual(code, HOLDS, err)
        self.assertEqual({p.name for p in self.out.iterdir()}, {"stand.json", "stand.txt", "plan.svg", "side.svg", "resultant.csv"})
        json.loads((self.out / "stand.json").read_text(), parse_constant=refuse)
        for picture in self.out.glob("*.svg"):
            self.assertTrue(xml.etree.ElementTree.parse(picture).getroot().tag.endswith("svg"))

    def test_the_readme_shows_the_verdict_that_the_program_prints(self):
        _, out, _ = run("stand", DEMO, "--quiet")
        readme = (ROOT / "README.md").read_text().splitlines()
        begin = readme.index("    STANDS: every criterion that was evaluated holds.")
        shown = [line[4:] for line in readme[begin:begin + 5]]
        self.assertEqual(shown, out.splitlines()[1:6])

    def test_loads_on_parts_agree_with_each_other(self):
        result = self.result(status=HOLDS)
        gravity = result["weight_N"] / result["mass_kg"]
        for foot in result["feet"]:
            self.assertAlmostEqual(foot["leg_axial_max_N"], foot["reaction_max_N"], delta=1e-6)  # level
            self.assertAlmostEqual(foot["arm_moment_max_Nm"] / (1.6 * foot["reaction_max_N"]), 1, delta=0.01)
            self.assertGreater(foot["stroke_tolerance_m"], 0)
        least, greatest = result["luff_moment_Nm"]
        self.assertEqual(result["luff_backlash"], least < 0 < greatest)
        self.assertAlmostEqual(result["boom"]["along"][0]["moment_Nm"], greatest, delta=1e-3)
        for s, period in zip(result["boom"]["line_m"], result["boom"]["pendulum_period_s"]):
            self.assertAlmostEqual(period, 2 * math.pi * math.sqrt(s / gravity), delta=1e-9)
        self.assertAlmostEqual(result["hoist"]["line_pull_max_N"], gravity * (50 + 6 + 0.05 * 40), delta=1e-9)
        self.assertLess(result["slew_bearing"]["axial_N"], 2 * result["weight_N"])
        self.assertTrue(all(line["ok"] for line in result["plausibility"]))
        self.assertIn("E I", result["boom"]["tip_deflection_m_reason"])

    def test_what_a_machine_does_not_have_is_null_with_its_reason(self):
        result = self.result("--set", 'spot.at="[0, 0] m"', "--set", "spot.under=-500 m", status=VIOLATED)
        for key in ("slew_bearing", "luff_moment_Nm", "luff_backlash", "boom", "guide", "plausibility"):
            self.assertIsNone(result[key], key)
            self.assertTrue(result[key + "_reason"], key)
        self.assertGreater(result["stowed"]["length_m"], 0)
        self.assertIsNone(result["hoist"]["line_pull_max_N"])

    def test_wrong_input_is_named_with_its_place_and_writes_nothing(self):
        for wrong in ("machine.outriggers.front-left.arm=-1 m", "payload.mass=14", "payload.mas=14 kg",
                      "operation.slew=\"[30, -30] deg\""):
            with self.subTest(wrong):
                code, out, err = run("stand", DEMO, "-o", self.out, "--set", wrong)
                self.assertEqual((code, out), (INPUT, ""))
                self.assertIn("--set", err)
                self.assertIn(wrong.split("=")[0], err)
                self.assertFalse(self.out.exists())

    def test_numbers_no_machine_has_are_wrong_input_and_cost_no_time(self):
        for wrong in ("payload.mass=1e308 kg", "payload.mass=0 kg", "gravity=1e-300 m/s2",
                      "machine.outriggers.*.pad_radius=50 m", "machine.outriggers.*.drop=1e7 m",
                      "machine.chassis.wheels.0.radius=100 m", "machine.hoist.head.mass=-1 kg",
                      "criteria.load_cases=[{name: a, load_factor: 1e300}]"):
            with self.subTest(wrong):
                code, out, err = run("stand", DEMO, "-o", self.out, "--set", wrong)
                self.assertEqual((code, out), (INPUT, ""), err)
                self.assertIn(wrong.split("=")[0].split("*")[0], err)
                self.assertFalse(self.out.exists())

    def test_all_mistakes_of_an_input_come_in_one_run(self):
        wrong = ("payload.mass=14", "spot.yaw=5 m", "operation.luff=\"[65, 20] deg\"", "titel=x",
                 "machine.outriggers.rear-left.arm=-1 m", "terrain.file=none.ply")
        code, _, err = run("stand", DEMO, *(w for one in wrong for w in ("--set", one)))
        self.assertEqual(code, INPUT)
        for one in wrong:
            self.assertIn(f"--set {one}", err)

    def test_an_error_between_values_has_the_place_of_the_first_of_them(self):
        code, _, err = run("stand", DEMO, "--set", "operation.reach=\"[50, 60] m\"")
        self.assertEqual(code, INPUT)
        self.assertRegex(err, r"^(--set .*|.*:\d+:\d+): operation: .*; .*\n$")

    def test_a_zero_has_no_sign_in_results(self):
        code, out, err = run("stand", DEMO, "--json", "--set", "operation.slew=-0 deg", "--set", "spot.yaw=-0 deg")
        self.assertIn(code, (HOLDS, VIOLATED), err)
        self.assertFalse([n for n in numbers(json.loads(out)) if n == 0 and math.copysign(1, n) < 0])

    def test_what_cannot_be_proven_is_a_result_and_no_failure(self):
        for far in ("machine.chassis.bodies.frame.at=\"[0, 0, -100] m\"", "payload.mass=100 t",
                    "machine.boom.sections.0.length=1 mm", "criteria.load_cases=[{name: a, release: 1e6}]"):
            with self.subTest(far):
                code, out, err = run("stand", DEMO, "--json", "--set", far)
                self.assertIn(code, (HOLDS, VIOLATED), err)
                result = json.loads(out, parse_constant=refuse)
                self.assertEqual(result["ok"], code == HOLDS)

    def test_names_are_text_wherever_they_appear(self):
        for name in ("</svg><script>alert(1)</script>", "a&b \u2019 \u6f22 \U0001f642", "%s %n \\ {{x}} ]]>",
                     "\u202etxet", "=1+1"):
            with self.subTest(name):
                code, out, err = run("stand", DEMO, "--json", "-o", self.out, "--set", f"title={json.dumps(name, ensure_ascii=False)}",
                                     "--set", f"machine.outriggers.front-left.name={json.dumps(name, ensure_ascii=False)}")
                self.assertIn(code, (HOLDS, VIOLATED), err)
                result = json.loads(out)
                self.assertEqual((result["scenario"]["title"], result["feet"][0]["name"]), (name, name))
                for picture in self.out.glob("*.svg"):
                    tags = {e.tag.split("}")[-1] for e in xml.etree.ElementTree.parse(picture).iter()}
                    self.assertNotIn("script", tags)

    def test_feet_on_one_line_are_a_result_with_its_reason(self):
        feet = {"front-left": -1, "front-right": 0, "rear-left": 1, "rear-right": 2}
        row = [w for name, x in feet.items() for key, value in
               (("pivot", f"\"[{x}, 0.5, 0.5] m\""), ("zero", "90 deg"), ("sense", "1"), ("splay", "0 deg"))
               for w in ("--set", f"machine.outriggers.{name}.{key}={value}")]
        self.out.mkdir()
        flat = self.out / "flat.asc"
        flat.write_text("ncols 41\nnrows 41\nxllcorner -10\nyllcorner -10\ncellsize 0.5\n" + ("0 " * 41 + "\n") * 41)
        result = self.result(*row, "--set", f"terrain.file={flat}", "--set", "spot.at=\"[0, 0] m\"", status=VIOLATED)
        self.assertIn("support", [v["criterion"] for v in result["violations"]])
        self.assertIsNone(result["worst"])
        self.assertTrue(result["worst_reason"])

    def test_a_full_disk_is_a_failure_of_the_system_and_leaves_nothing(self):
        code, _, err = run("stand", DEMO, "-o", self.out,
                           preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (8192, 8192)))
        self.assertEqual(code, SYSTEM, err)
        self.assertIn(str(self.out), err)
        self.assertEqual([p for p in self.out.iterdir() if p.stat().st_size == 8192 or p.name.startswith(".")], [])

    def test_a_full_output_is_a_failure_of_the_system(self):
        with open("/dev/full", "wb") as full:
            self.assertEqual(run("stand", DEMO, "--json", stdout=full, stderr=subprocess.PIPE)[0], SYSTEM)


class CommandLine(unittest.TestCase):
    def test_what_is_wrong_with_it_is_named_on_the_error_stream(self):
        for words, said in ((["frob"], "\"frob\" is not a command; write one of"), ([], "a command is missing"),
                            (["stand"], "SCENARIO"), (["stand", DEMO, "--jsn"], "--jsn"),
                            (["stand", DEMO, "--gap", "nan"], "\"nan\" is not a number from 1e-9 to 1"),
                            (["stand", DEMO, "--gap", "0"], "from 1e-9 to 1"),
                            (["stand", DEMO, "--set", "spot.yaw"], "has no path and value"),
                            (["inspect", DEMO.parent], "not a regular file"),
                            (["stand", "none.yaml"], "none.yaml: no such file")):
            with self.subTest(words):
                code, out, err = run(*words)
                self.assertEqual((code, out), (INPUT, ""), err)
                self.assertIn(said, err)


class New(unittest.TestCase):
    def test_the_starter_stands_as_it_is_and_is_never_written_over(self):
        with tempfile.TemporaryDirectory() as folder:
            mine = pathlib.Path(folder) / "mine"
            code, _, err = run("new", mine)
            self.assertEqual(code, HOLDS, err)
            code, out, err = run("stand", mine / "scenario.yaml")
            self.assertEqual(code, HOLDS, out + err)
            (mine / "scenario.yaml").write_text("mine")
            code, _, err = run("new", mine)
            self.assertEqual(code, INPUT, err)
            self.assertEqual((mine / "scenario.yaml").read_text(), "mine")


class Schema(unittest.TestCase):
    def test_the_schema_is_a_valid_json_schema(self):
        import jsonschema
        code, out, err = run("schema")
        self.assertEqual(code, HOLDS, err)
        schema = json.loads(out)
        jsonschema.validators.validator_for(schema).check_schema(schema)


class Inspect(unittest.TestCase):
    def test_heights_at_places_come_with_their_reason_where_there_is_none(self):
        code, out, err = run("inspect", ROOT / "terrain/kettle.ply", "--json", "--at", "-22.9,13.25", "--at", "400,0")
        self.assertEqual(code, HOLDS, err)
        on, off = json.loads(out, parse_constant=refuse)["at"]
        self.assertTrue(math.isfinite(on["height_m"]))
        self.assertIsNone(off["height_m"])
        self.assertTrue(off["reason"])

    def test_what_is_stated_by_options_comes_back_in_the_lines_to_paste(self):
        code, out, err = run("inspect", ROOT / "terrain/kettle.ply", "--json", "--up", "z", "--unit", "m",
                             "--pad", "20cm", "--weld", "1mm", "--hole-below", "-1km", "--mostly-wall")
        self.assertEqual(code, HOLDS, err)
        result = json.loads(out, parse_constant=refuse)
        self.assertEqual(result["pad"]["radius_m"], 0.2)
        self.assertFalse(result["pad"]["radius_assumed"])
        for line in ("  up: z\n", "  mostly_wall: true\n", "  unit: m\n", "  weld: 0.001 m\n", "  hole_below: -1000 m\n"):
            self.assertIn(line, result["scenario_lines"])

    def test_a_way_out_names_the_option_beside_the_key(self):
        with tempfile.TemporaryDirectory() as folder:
            mesh = pathlib.Path(folder) / "standing.obj"
            mesh.write_text("v 0 0 0\nv 1 0 0\nv 1 1 0.1\nv 0 1 0.1\nf 1 2 3\nf 1 3 4\n")
            status, out, err = run("inspect", mesh, "--up", "x")
            self.assertEqual((status, out), (INPUT, ""))
            self.assertIn("state terrain.up: z; if x is up and more wall than ground was mapped, state "
                          "terrain.mostly_wall: true (for inspect: --up; --mostly-wall)", err)

    def test_too_many_posts_are_refused_before_anything_is_written(self):
        with tempfile.TemporaryDirectory() as folder:
            out_folder = pathlib.Path(folder) / "look"
            status, out, err = run("inspect", ROOT / "terrain/kettle.ply", "--posts", "1e-6m", "-o", out_folder)
            self.assertEqual((status, out), (INPUT, ""))
            self.assertRegex(err, r"^--posts: posts 1e-06 m apart would be .*; state a spacing of [0-9.e-]+ m or more\n$")
            self.assertFalse(out_folder.exists())

    def test_a_name_that_is_empty_or_looks_like_an_option_is_told_as_such(self):
        for command in ("inspect", "stand", "capacity", "new"):
            status, out, err = run(command, "")
            self.assertEqual((status, out), (INPUT, ""))
            self.assertIn("a name is missing between the quotes", err)
        with tempfile.TemporaryDirectory() as folder:
            (pathlib.Path(folder) / "-dash.asc").write_text("ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\n1 1\n1 1\n")
            done = lambda name: subprocess.run([str(PROGRAM.resolve()), "inspect", name], capture_output=True, text=True, cwd=folder,
                                               timeout=60)
            self.assertEqual(done("-dash.asc").returncode, INPUT)
            self.assertIn("the file -dash.asc is written ./-dash.asc", done("-dash.asc").stderr)
            self.assertEqual(done("./-dash.asc").returncode, HOLDS)

    def test_an_option_without_its_unit_or_out_of_range_is_refused_by_name(self):
        for option, value in (("--pad", "0.15"), ("--pad", "-1m"), ("--weld", "-1mm"), ("--longest-edge", "0m"),
                              ("--classes", "2,"), ("--classes", "ground"), ("--classes", "256"),
                              ("--scale", "1m"), ("--spacing", "1m")):
            code, out, err = run("inspect", ROOT / "terrain/kettle.ply", option, value)
            self.assertEqual(code, INPUT, (option, value))
            self.assertEqual(out, "")
            self.assertIn("--", err.split(":")[0])


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
