"""`capacity` as a user runs it. usage: capacity_test.py PROGRAM REPOSITORY"""
import csv
import io
import json
import pathlib
import subprocess
import sys
import tempfile

PROGRAM, ROOT = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2])
DEMO = ROOT / "examples/01_dunlin_at_kettle/scenario.yaml"


def run(command, *words, status):
    done = subprocess.run([str(PROGRAM), command, str(DEMO), "--quiet", *words], capture_output=True, text=True,
                          timeout=120)
    assert done.returncode == status, f"status {done.returncode}, expected {status}\n{done.stderr}{done.stdout}"
    return done.stdout


def cells(*words, status):
    return json.loads(run("capacity", "--json", *words, status=status))


def payload(mass):
    return ("--set", f"payload.mass={mass!r} kg")


def least_of(result):
    return min((c for c in result["cells"] if c["capacity_kg"] is not None), key=lambda c: c["capacity_kg"])


result = cells(status=0)
worst = least_of(result)
assert result["ok"] and result["violations"] == []
assert worst["capacity_kg"] >= result["payload_kg"]
assert worst["governed_by"] == "tipping" and worst["load_case"] and len(worst["edge"]) == 2, worst
assert result["as_set"]["cells"] == result["cells"]
sectors = [c["slew_deg"] for c in result["cells"] if c["reach_m"] == result["cells"][0]["reach_m"]]
assert all(a[1] == b[0] for a, b in zip(sectors, sectors[1:])), "the slew cells tile the operation's slew"

# What the least cell carries, `stand` accepts everywhere; a little more, it refuses for the same case and edge.
run("stand", *payload(worst["capacity_kg"] * (1 - 1e-6)), status=0)
over = json.loads(run("stand", "--json", *payload(worst["capacity_kg"] * (1 + 2e-4)), status=1))
broken = over["violations"][0]
assert broken["criterion"] == "load_case:" + worst["load_case"], broken
assert all(name in broken["where"] for name in worst["edge"]), broken

# A payload beyond one limit after the other: each has its criterion.
hoist = next(c for c in result["cells"] if c["governed_by"] == "hoist")
heavy = json.loads(run("stand", "--json", *payload(hoist["capacity_kg"] * 1.001), status=1))
assert "hoist" in [v["criterion"] for v in heavy["violations"]], heavy["violations"]
legs = json.loads(run("stand", "--json", "--set", "machine.outriggers.front-left.leg_limit=400 N", status=1))
assert {"leg_limit"} == {v["criterion"] for v in legs["violations"]}, legs["violations"]
assert legs["violations"][0]["where"] == "front-left"
boom = json.loads(run("stand", "--json", "--set", "machine.boom.structural_limit={rows: [{reach: 5 m, load: 90 N}]}",
                      status=1))
assert {"structural"} <= {v["criterion"] for v in boom["violations"]}, boom["violations"]

# More payload than some cell carries: status 1, the reaches named.
too_much = cells(*payload(60.0), status=1)
assert not too_much["ok"] and all(v["value"] < v["limit"] == 60 for v in too_much["violations"])

with tempfile.TemporaryDirectory() as folder:
    text = run("capacity", "-o", folder, "--reaches", "5", "--slew-step", "20deg", status=0)
    assert text.startswith("CARRIES")
    written = {p.name for p in pathlib.Path(folder).iterdir()}
    assert written == {"capacity.json", "capacity.txt", "capacity.csv", "capacity.xlsx", "capacity.svg",
                       "capacity_polar.svg"}, written
    described = json.loads((pathlib.Path(folder) / "capacity.json").read_text())
    rows = list(csv.DictReader(io.StringIO((pathlib.Path(folder) / "capacity.csv").read_text())))
    assert len({c["reach_m"] for c in described["cells"]}) == 5 and len(rows) == len(described["cells"])
    assert [float(r["capacity [kg]"]) for r in rows] == [c["capacity_kg"] for c in described["cells"]]

refused = subprocess.run([str(PROGRAM), "capacity", str(DEMO), "--slew-step", "10"], capture_output=True, text=True)
assert refused.returncode == 2 and "--slew-step" in refused.stderr and not refused.stdout, refused
