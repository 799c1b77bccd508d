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

    def test_pictures_and_numbers_are_written_and_the_pictures_are_well_formed(self):
        code, _, err = run("stand", DEMO, "-o", self.out)
        self.assertEqual(code, HOLDS, err)
        self.assertEqual({p.name for p in self.out.iterdir()}, {"stand.json", "stand.txt", "plan.svg", "side.svg"})
        json.loads((self.out / "stand.json").read_text(), parse_constant=refuse)
        for picture in self.out.glob("*.svg"):
            self.assertTrue(xml.etree.ElementTree.parse(picture).getroot().tag.endswith("svg"))

    def test_wrong_input_is_named_with_its_place_and_writes_nothing(self):
        for wrong in ("machine.outriggers.front-left.arm=-1 m", "payload.mass=14", "payload.mas=14 kg",
                      "operation.slew=\"[30, -30] deg\""):
            with self.subTest(wrong):
                code, out, err = run("stand", DEMO, "-o", self.out, "--set", wrong)
                self.assertEqual((code, out), (INPUT, ""))
                self.assertIn("--set", err)
                self.assertIn(wrong.split("=")[0], err)
                self.assertFalse(self.out.exists())

    def test_a_full_disk_is_a_failure_of_the_system_and_leaves_nothing(self):
        code, _, err = run("stand", DEMO, "-o", self.out,
                           preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (8192, 8192)))
        self.assertEqual(code, SYSTEM, err)
        self.assertIn(str(self.out), err)
        self.assertEqual([p for p in self.out.iterdir() if p.stat().st_size == 8192 or p.name.startswith(".")], [])

    def test_a_full_output_is_a_failure_of_the_system(self):
        with open("/dev/full", "wb") as full:
            self.assertEqual(run("stand", DEMO, "--json", stdout=full, stderr=subprocess.PIPE)[0], SYSTEM)


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


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
