"""`stand` on ground that nobody here made. usage: real_ground_test.py PROGRAM REPOSITORY houses|pit
Ends with 77 (skipped, saying so) where the data is not there."""
import json
import math
import pathlib
import subprocess
import sys

PROGRAM, ROOT, WHICH = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2]), sys.argv[3]
HOUSES = ROOT / "build/real_ground/b9_mesh.off"
PIT = ROOT.parent / "shared/data/moon_pit_mesh_tiles/all_leaves_merged.ply"


def needs(path, where_from):
    if not path.exists():
        print(f"skipped: {path} is not there ({where_from})")
        sys.exit(77)


def stand(scenario, status, *settings):
    words = [word for setting in settings for word in ("--set", setting)]
    done = subprocess.run([str(PROGRAM), "stand", str(ROOT / "examples" / scenario), "--json", *words],
                          capture_output=True, text=True, timeout=300)
    assert done.returncode == status, f"status {done.returncode}, expected {status}\n{done.stderr}{done.stdout}"
    return json.loads(done.stdout)


def off_triangles(path):
    words = path.read_text().split()
    assert words[0] == "OFF"
    vertices, faces = int(words[1]), int(words[2])
    xyz = [float(w) for w in words[4:4 + 3 * vertices]]
    corner = lambda i: xyz[3 * i:3 * i + 3]
    rows = words[4 + 3 * vertices:]
    return [[corner(int(i)) for i in rows[4 * f + 1:4 * f + 4]] for f in range(faces)]


def heights(triangles, x, y):
    """Every height of the mesh at a place, by trying every triangle."""
    found = []
    for (ax, ay, az), (bx, by, bz), (cx, cy, cz) in triangles:
        area = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
        if area == 0:
            continue
        b = ((x - ax) * (cy - ay) - (y - ay) * (cx - ax)) / area
        c = ((bx - ax) * (y - ay) - (by - ay) * (x - ax)) / area
        if min(b, c, 1 - b - c) >= 0:
            found.append(az + b * (bz - az) + c * (cz - az))
    return found


def cautioned(result):
    """Points farther apart than a pad is wide: said, because feet are then illustrative."""
    assert any("illustrative" in text for text in result["cautions"]), result["cautions"]


def houses():
    needs(HOUSES, "tools/real_ground fetches it")
    result = stand("02_a_mesh_of_your_own/scenario.yaml", 0)
    cautioned(result)
    triangles = off_triangles(HOUSES)
    for foot in result["feet"]:
        x, y, z = foot["contact_m"]
        ground = max(h for h in heights(triangles, x, y) if h <= -8)
        # A rigid pad lies on its highest points: not below the ground at its centre, and above it by no more
        # than the ground rises over the pad's radius.
        rise = 2 * 0.3 * math.tan(math.radians(foot["ground_slope_deg"])) + 0.05
        assert -1e-9 <= z - ground <= rise, (foot["name"], z, ground)
    nearer = stand("02_a_mesh_of_your_own/scenario.yaml", 1, 'spot.at="[-19, 20] m"')
    over = [f for f in nearer["feet"] if not f["supported"]]
    assert [f["name"] for f in over] == ["front-right"] and "void" in over[0]["reason"], over
    x, y, _ = over[0]["contact_m"] or (-17.111, 18.479, None)
    assert not [h for h in heights(triangles, x, y) if h <= -8]


def pit():
    needs(PIT, "it is not distributed with the project")
    spot = (f"terrain.file={PIT}", "terrain.up=y", 'spot.at="[122, -90] m"')
    result = stand("01_dunlin_at_kettle/scenario.yaml", 0, *spot, "spot.yaw=-30 deg")
    cautioned(result)
    assert all(f["supported"] for f in result["feet"])
    assert result["levelling"]["feasible"] and result["worst"]["moment_Nm"] > 0
    # Four metres on the feet stand in the wall.
    over = stand("01_dunlin_at_kettle/scenario.yaml", 1, *spot[:2], 'spot.at="[126, -90] m"', "spot.yaw=-30 deg")
    assert not over["ok"] and over["violations"]


{"houses": houses, "pit": pit}[WHICH]()
print(f"{WHICH}: stood")
