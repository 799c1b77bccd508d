"""`counterweight`, and `counterweight: schedule`, as a user runs them. usage: counterweight_test.py PROGRAM REPOSITORY"""
import csv
import io
import json
import pathlib
import subprocess
import sys
import tempfile

PROGRAM, ROOT = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2])
DEMO = ROOT / "examples/01_dunlin_at_kettle/scenario.yaml"


def sets(*pairs):
    return [word for pair in pairs for word in ("--set", pair)]


def run(command, *words, status):
    done = subprocess.run([str(PROGRAM), command, str(DEMO), "--quiet", *words], capture_output=True, text=True,
                          timeout=120)
    assert done.returncode == status, f"status {done.returncode}, expected {status}\n{done.stderr}{done.stdout}"
    return done.stdout


def asked(command, *words, status):
    return json.loads(run(command, "--json", *words, status=status))


def check_rows(rows):
    """From a row to the next of its range one thing moves, the one that `first` names."""
    for a, b in zip(rows, rows[1:]):
        if a["slew_deg"] != b["slew_deg"]:
            assert a["first"] is None and b["slew_deg"][0] == a["slew_deg"][1]
            continue
        moved = {"boom": a["reach_m"] != b["reach_m"], "cabinets": a["travel_m"] != b["travel_m"]}
        assert moved[a["first"]] and sum(moved.values()) == 1, (a, b)
    assert rows[-1]["first"] is None


# The demo's own travel lies in every window; the stations are the operation's reach.
demo = asked("counterweight", status=0)
states = demo["states"]
assert demo["ok"] and demo["schedule_holds"] and demo["violations"] == []
assert (states[0]["reach_m"], states[-1]["reach_m"], len(states)) == (2.2, 7.2, 21)
assert all(s["window_m"][0] <= 1.1 <= s["window_m"][1] and s["missing_travel_m"] == 0 for s in states)
assert demo["as_set"]["states"] == states
assert all(s["transit_window_m"] == demo["transit"]["window_m"] for s in states)
check_rows(demo["schedule"])

# `stand` accepts what is inside the last window and refuses what is outside, for the case and edge that were named.
last = states[-1]
for end, inside in (("lower", 1), ("upper", -1)):
    travel = last["window_m"][0 if end == "lower" else 1]
    run("stand", *sets(f"operation.counterweight={travel + inside * 1e-3!r} m"), status=0)
    refused = asked("stand", *sets(f"operation.counterweight={travel - inside * 1e-3!r} m"), status=1)
    broken = [v for v in refused["violations"] if v["criterion"] == "load_case:" + last[end]["load_case"]]
    assert broken and all(name in broken[0]["where"] for name in last[end]["edge"]), refused["violations"]

# The operation's own travel outside a window is a violation, of the case that ends it.
outside = asked("counterweight", *sets("operation.counterweight=0.2 m"), status=1)
assert outside["schedule_holds"] and {v["criterion"] for v in outside["violations"]} == {"load_case:snag"}
assert all(v["value"] == 0.2 < v["limit"] for v in outside["violations"])

# With the needed mass at its least a schedule still stands, with less it does not.
least = max(s["needed_mass_kg"][0] for s in states)
for share, status in ((1.002, 0), (0.998, 1)):
    run("stand", *sets("operation.counterweight=schedule", f"machine.guide.bodies.cabinets.mass={least * share!r} kg",
                       "operation.transit.counterweight=1 m"), status=status)

# More payload than any travel carries: complete, with what is missing in words; a schedule asked there is status 1.
heavy = sets("payload.mass=66 kg", "operation.counterweight=schedule")
short = asked("counterweight", *heavy, status=1)
empty = [s for s in short["states"] if s["window_m"] is None]
assert empty and len(empty) == len(short["violations"]) and short["schedule"] and not short["schedule_holds"]
assert all(s["needed_mass_kg"][0] > 120 for s in empty)
assert sum("no travel of the guide holds" in c for c in short["cautions"]) == len(empty)
refused = asked("stand", *heavy, status=1)
assert any("no travel of the guide holds" in c for c in refused["cautions"]), refused["cautions"]
assert refused["schedule"] == short["schedule"]

# A machine that has to move its cabinets on the way out: neither travel alone stands, the schedule does.
CASES = ("criteria.load_cases=[{name: forward, load_factor: 1.25, boom_factor: 0.1}, "
         "{name: unloaded, payload: none, margin: {load_side_share: 38 %}}]")
moving = sets(CASES, 'operation.slew="[-10, 10] deg"', "payload.mass=300 kg", "machine.hoist.line_pull=900 N",
              "machine.guide.bodies.cabinets.mass=300 kg", 'machine.guide.travel="[0, 2.4] m"',
              "machine.container.mount=platform", 'machine.container.at="[-0.55, 0, 0.45] m"',
              "operation.transit.counterweight=0.1 m")
scheduled = sets("operation.counterweight=schedule")
plan = asked("counterweight", *moving, *scheduled, status=0)
check_rows(plan["schedule"])
used = sorted({row["travel_m"] for row in plan["schedule"]})
assert len(used) == 2 and abs(plan["schedule_movement_m"][0] - (used[1] - used[0])) < 1e-12
standing = asked("stand", *moving, *scheduled, status=0)
assert standing["schedule"] == plan["schedule"]
for travel in used:
    run("stand", *moving, *sets(f"operation.counterweight={travel!r} m"), status=1)
carried = asked("capacity", *moving, *scheduled, "--reaches", "6", status=0)
assert all(used[0] <= c["travel_m"] <= used[1] for c in carried["cells"] if c["travel_m"] is not None)
kept = asked("counterweight", *moving, *scheduled, *sets("criteria.travel_reserve=20 mm"), status=0)
assert kept["schedule_reserve_m"] == 0.02
assert kept["schedule_movement_m"][0] > plan["schedule_movement_m"][0]

# A guide on the chassis sees the boom go round: windows for each range of slew.
chassis = asked("counterweight", *sets("machine.guide.mount=chassis", 'machine.guide.start="[0.4, 0, 0.9] m"'),
                "--slew-step", "35deg", "--reaches", "5", status=1)
ranges = []
for s in chassis["states"]:
    if s["slew_deg"] not in ranges:
        ranges.append(s["slew_deg"])
assert len(ranges) == 4 and len(chassis["states"]) == 20 and ranges[0][0] == -70 and ranges[-1][1] == 70
assert all(a[1] == b[0] for a, b in zip(ranges, ranges[1:]))
check_rows(chassis["schedule"])

with tempfile.TemporaryDirectory() as folder:
    text = run("counterweight", "-o", folder, "--reaches", "5", status=0)
    assert "HOLDS" in text and "Schedule, going out" in text
    files = {p.name for p in pathlib.Path(folder).iterdir()}
    assert files == {"counterweight.json", "counterweight.txt", "counterweight.svg", "windows.csv", "schedule.csv"}
    described = json.loads((pathlib.Path(folder) / "counterweight.json").read_text())
    rows = list(csv.DictReader(io.StringIO((pathlib.Path(folder) / "windows.csv").read_text())))
    assert [float(r["window from [m]"]) for r in rows] == [s["window_m"][0] for s in described["states"]]
    steps = list(csv.DictReader(io.StringIO((pathlib.Path(folder) / "schedule.csv").read_text())))
    assert [float(r["travel [m]"]) for r in steps] == [r["travel_m"] for r in described["schedule"]]
