"""Ways out that `stand` offers are taken at their word: each setting, as printed, is run.
usage: ways_out_test.py PROGRAM REPOSITORY"""
import json
import pathlib
import shlex
import subprocess
import sys

PROGRAM, ROOT = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2])
DEMO = ROOT / "examples/01_dunlin_at_kettle/scenario.yaml"
HOLDS, VIOLATED = 0, 1

# How the demo is spoilt, and what at least must mend it.
SPOILT = {
    ("spot.yaw=-30 deg",): {"spot.yaw", "spot.at", "machine.outriggers.*.splay", "machine.outriggers.*.stroke"},
    ('machine.outriggers.*.stroke="[0, 0.5] m"',): {"machine.outriggers.*.stroke", "spot.at"},
    ("machine.outriggers.*.splay=100 deg",): {"machine.outriggers.*.splay"},
    ("payload.mass=80 kg",): {"payload.mass"},
    ("machine.outriggers.*.leg_limit=565 N",): {"operation.counterweight", "operation.reach"},
    # Outriggers that differ, an interval of travel, a place between millimetres.
    ("spot.yaw=-30 deg", "machine.outriggers.rear-left.splay=25 deg", 'spot.at="[-22.00049, 12.70051] m"',
     'operation.counterweight="[1.0, 1.1] m"'): {"spot.yaw"},
}


def stand(*settings, json_too=True):
    words = [w for s in settings for w in ("--set", s)] + (["--json"] if json_too else [])
    done = subprocess.run([str(PROGRAM), "stand", str(DEMO), "--quiet", *words], capture_output=True, text=True,
                          timeout=300)
    assert done.returncode in (HOLDS, VIOLATED), done.stderr
    return done.returncode, json.loads(done.stdout) if json_too else done.stdout


status, fine = stand()
assert status == HOLDS and fine["ways_out"] == [] and fine["no_way_out"] == [], fine["ways_out"]

everything = {"spot.yaw", "spot.at", "machine.outriggers.*.splay", "machine.outriggers.*.stroke",
              "operation.counterweight", "payload.mass", "operation.reach"}
for spoilt, expected in SPOILT.items():
    status, result = stand(*spoilt)
    assert status == VIOLATED, spoilt
    ways = result["ways_out"]
    told = [w["change"] for w in ways] + [w["change"] for w in result["no_way_out"]]
    assert sorted(told) == sorted(everything), f"{spoilt}: each kind of change is told of once, not {told}"
    assert all(w["reason"] for w in result["no_way_out"])
    verified = {w["change"] for w in ways if w["verified"]}
    assert expected <= verified, f"{spoilt}: {expected - verified} should help; no way out: {result['no_way_out']}"
    for way in ways:
        by = [way[k] for k in ("by_deg", "by_m", "by_kg") if k in way]
        assert len(by) == 1 and by[0] != 0, way
        status, then = stand(*spoilt, *way["set"])
        assert (status == HOLDS) == way["verified"], f"{spoilt} with {way['set']}: {then['violations']}"
        if not way["verified"]:
            assert then["levelling"]["feasible"] and way["remark"], way
    # The same from what is printed, through a shell's reading of it.
    _, text = stand(*spoilt, json_too=False)
    printed = [line.split(": ", 1)[1] for line in text.splitlines() if " --set '" in line]
    assert [[w for w in shlex.split(p) if w != "--set"] for p in printed] == \
        [w["set"] for w in sorted(ways, key=lambda w: not w["verified"])], text
