"""Measured terrain out of package registries: opens, or is refused for the right reason.
usage: measured_ground_test.py PROGRAM REPOSITORY DATASET
The facts are those of the data sets' own documentation or were counted with other people's programs (numpy, gdalinfo);
each stands beside its check. Ends with 77 (skipped, saying so) where tools/real_ground has not fetched the file."""
import json
import math
import pathlib
import re
import subprocess
import sys
import tempfile

PROGRAM, ROOT, WHICH = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2]), sys.argv[3]
FETCHED = ROOT / "build/real_ground"


def fetched(name):
    path = FETCHED / name
    if not path.exists():
        print(f"skipped: {path} is not there (tools/real_ground fetches it; --all for the large ones)")
        sys.exit(77)
    return path


def inspect(path, *words, status=0):
    done = subprocess.run([str(PROGRAM), "inspect", str(path), "--json", *words], capture_output=True, text=True,
                          timeout=120)
    assert done.returncode == status, f"status {done.returncode}, expected {status}\n{done.stderr}{done.stdout}"
    return json.loads(done.stdout) if status == 0 else done.stderr


def near(value, expected, tolerance):
    assert abs(value - expected) <= tolerance, f"{value}, expected {expected} within {tolerance}"


def says(text, *words):
    for word in words:
        assert word in text, f"no {word!r} in: {text}"


def heights(facts):
    return facts["extent_m"][0][2], facts["extent_m"][1][2]


def post_heights(path, pairs=0):
    """Heights of the posts that lie on ground, asked for one by one, up to the very border. `pairs`: the share of a
    spacing by which a post is asked for nearer to the other of the two that are alike."""
    facts = inspect(path)
    (west, south, _), (east, north, _) = facts["extent_m"]
    columns, rows = facts["columns"], facts["rows"]
    def within(low, high, k, count):
        shift = 0 if k in (0, count - 1) else pairs if k % 2 == 0 else -pairs
        return min(low + (k + shift) / (count - 1) * (high - low), high)

    known = []
    for first in range(0, rows, 10):  # a command line holds ten rows
        at = []
        for row in range(first, min(first + 10, rows)):
            y = within(south, north, row, rows)
            at += [w for c in range(columns) for w in ("--at", f"{within(west, east, c, columns)!r},{y!r}")]
        known += [p["height_m"] for p in inspect(path, *at)["at"] if p["height_m"] is not None]
    return known


def asc(folder, rows, dx, dy):
    """A grid as its user would hand it on: rows from north to south."""
    path = pathlib.Path(folder) / "grid.asc"
    head = f"ncols {len(rows[0])}\nnrows {len(rows)}\nxllcenter 0\nyllcenter 0\ndx {dx!r}\ndy {dy!r}\n"
    path.write_text(head + "".join(" ".join(str(z) for z in row) + "\n" for row in rows))
    return path


def slopes_agree(numpy, facts, z, dx, dy, between):
    """z: the southern row first. `between`: slopes between posts two apart that half, 90 %, 99 % and all do not exceed;
    None where it is not known."""
    # Each cell is two facets along its south-west to north-east diagonal; their slopes, by area.
    sw, se, nw, ne = z[:-1, :-1], z[:-1, 1:], z[1:, :-1], z[1:, 1:]
    tangents = numpy.concatenate([numpy.hypot((se - sw) / dx, (ne - se) / dy).ravel(),
                                  numpy.hypot((ne - nw) / dx, (nw - sw) / dy).ravel()])
    order = numpy.argsort(tangents)
    area = numpy.cumsum(numpy.sqrt(1 + tangents[order] ** 2))
    for name, share in (("p50", 0.5), ("p90", 0.9), ("p99", 0.99)):
        at = tangents[order][numpy.searchsorted(area, share * area[-1])]
        near(facts["slope_deg"][name], math.degrees(math.atan(at)), 0.01)
    near(facts["slope_deg"]["max"], math.degrees(math.atan(tangents.max())), 1e-6)
    north, east = numpy.gradient(z, dy, dx)
    slopes = numpy.degrees(numpy.arctan(numpy.hypot(north, east)))
    for share, value in zip((50, 90, 99, 100), between):
        if value is not None:
            near(numpy.percentile(slopes, share), value, 0.06)


def elev():
    """r-cran-terra 1.7-3: Luxembourg, 95 x 90 posts, 1/120 degree, 3942 without data, 141 ... 547 m, mean 348.3366
    (gdalinfo -stats; its own statistics tag is wrong). In degrees it is refused; given a projected system it opens with these facts."""
    path = fetched("elev.tif")
    says(inspect(path, status=2), "degrees", "project")
    with tempfile.TemporaryDirectory() as folder:
        flat = pathlib.Path(folder) / "flat.tif"
        subprocess.run(["gdal_translate", "-q", "-a_srs", "EPSG:32632", "-a_ullr", "250000", "5560000", "307000",
                        "5500000", str(path), str(flat)], check=True, env={"PATH": "/usr/bin", "GDAL_PAM_ENABLED": "NO"})
        facts = inspect(flat)
        assert (facts["columns"], facts["rows"], facts["posts_without_data"]) == (95, 90, 3942), facts
        assert heights(facts) == (141, 547)
        # A ragged country: few posts at its border are corners of no facet. With each post four times, all are.
        fine = pathlib.Path(folder) / "fine.tif"
        subprocess.run(["gdal_translate", "-q", "-r", "nearest", "-outsize", "200%", "200%", str(flat), str(fine)],
                       check=True, env={"PATH": "/usr/bin", "GDAL_PAM_ENABLED": "NO"})
        known = post_heights(fine, 1e-6)
        assert len(known) == 4 * (95 * 90 - 3942), len(known)
        near(sum(known) / len(known), 348.3366, 6e-5)


def olinda():
    """r-cran-stars 0.6-0: Olinda, 111 x 111 posts of 89.994 m, UTM 25 south, -1 ... 88 m, mean 21.665 (gdalinfo -stats);
    its northern edge lies 9 120 760 m north of the system's origin."""
    path = fetched("olinda_dem_utm25s.tif")
    facts = inspect(path)
    assert (facts["columns"], facts["rows"]) == (111, 111)
    near(facts["spacing_m"], 89.994, 1e-3)
    assert heights(facts) == (-1, 88)
    near(facts["extent_m"][1][1] + facts["spacing_m"] / 2, 9120760, 1)  # a false northing of 10 000 km
    known = post_heights(path)
    assert len(known) == 111 * 111
    near(sum(known) / len(known), 21.665, 6e-4)


def jacksboro():
    """matplotlib 3.6.3's sample data: int16 344 x 403, 236 ... 1076 m, posts of 74.4 x 92.7 m, element [0, 0] is 483 and
    [171, 201] is 553. As an archive it is refused; written as a grid its slopes are those that numpy finds."""
    path = fetched("jacksboro_fault_dem.npz")
    says(inspect(path, status=2), "ZIP")
    try:
        import numpy
    except ImportError:
        print("skipped: python3-numpy is not there")
        sys.exit(77)
    z = numpy.load(path)["elevation"]
    assert z.shape == (344, 403)
    dx, dy = 74.4, 92.7
    with tempfile.TemporaryDirectory() as folder:
        grid = asc(folder, z.tolist(), dx, dy)
        places = [(0, 343 * dy), (201 * dx, (343 - 171) * dy)]
        facts = inspect(grid, "--unit", "m", *[w for x, y in places for w in ("--at", f"{x!r},{y!r}")])
    assert heights(facts) == (236, 1076)
    assert [p["height_m"] for p in facts["at"]] == [483, 553]
    slopes_agree(numpy, facts, z[::-1].astype(float), dx, dy, (13.3, 23.0, 27.9, 36.1))


def trinidad():
    """libncarg-data 6.6.2: 2401 x 1201 posts, 1/1200 degree apart, in feet that no attribute tells: 4457.52 ... 14176.16,
    the highest at 37.577 N, 105.486 W. Slopes between posts: 99 % below 28.2 deg, 64.4 at most. In degrees it is refused;
    given a projected system and its unit it opens with these facts."""
    path = fetched("trinidad.nc")
    says(inspect(path, status=2), "degrees", "project")
    foot = 0.3048
    dy = 6371000 * math.radians(1 / 1200)
    dx = dy * math.cos(math.radians(37.5))
    with tempfile.TemporaryDirectory() as folder:
        flat = pathlib.Path(folder) / "flat.tif"
        corners = [repr(v) for v in (-dx / 2, 1200.5 * dy, 2400.5 * dx, -dy / 2)]
        subprocess.run(["gdal_translate", "-q", "-a_srs", "EPSG:32613", "-a_scale", repr(foot), "-a_offset", "0", "-a_ullr",
                        *corners, str(path), str(flat)], check=True, env={"PATH": "/usr/bin", "GDAL_PAM_ENABLED": "NO"})
        plain = pathlib.Path(folder) / "plain.bin"
        subprocess.run(["gdal_translate", "-q", "-of", "ENVI", str(path), str(plain)], check=True, env={"PATH": "/usr/bin"})
        raw = plain.read_bytes()
        top = (-105.486 + 106) * 1200 * dx, (37.577 - 37) * 1200 * dy
        facts = inspect(flat, "--unit", "m", "--at", f"{top[0]!r},{top[1]!r}")
    assert (facts["columns"], facts["rows"], facts["posts_without_data"]) == (2401, 1201, 0), facts
    near(heights(facts)[0], 4457.52 * foot, 0.005 * foot)
    near(heights(facts)[1], 14176.16 * foot, 0.005 * foot)
    # The place is given to a thousandth of a degree, a post and more: near the top, on slopes below 45 degrees.
    assert 0 <= heights(facts)[1] - facts["at"][0]["height_m"] < 1.2 * dy, facts["at"]
    import numpy
    z = numpy.frombuffer(raw, "<f4").reshape(1201, 2401)[::-1].astype(float) * foot
    slopes_agree(numpy, facts, z, dx, dy, (None, None, 28.2, 64.4))


def pond():
    """assimp-testmodels 5.2.5: 70 051 points declared, the file is 69 bytes short (its line ends were changed)."""
    says(inspect(fetched("pond.0.ply"), status=2), "pond.0.ply")
    text = inspect(fetched("pond.0.ply"), "--longest-edge", "1m", status=2)
    says(text, "expected 70051 vertices")
    needed, left = (int(n) for n in re.search(r"(\d+) bytes or more are needed, (\d+) are left", text).groups())
    assert needed - left == 69, text


def volcano():
    """vega-datasets 3.2.1: 87 x 61 whole metres, 94 ... 195 (its own width and height fields, and a count)."""
    path = fetched("volcano.json")
    says(inspect(path, status=2), "JSON")
    data = json.loads(path.read_text())
    assert (data["width"], data["height"], data["values"][:3]) == (87, 61, [103, 104, 104])
    rows = [data["values"][r * 87:(r + 1) * 87] for r in range(61)]
    with tempfile.TemporaryDirectory() as folder:
        facts = inspect(asc(folder, rows, 10, 10), "--unit", "m", "--at", "0,600")
    assert heights(facts) == (94, 195) and (facts["columns"], facts["rows"]) == (87, 61)
    assert facts["at"][0]["height_m"] == 103
    assert math.isclose(facts["plan_area_m2"], 86 * 60 * 100, rel_tol=1e-9)


{"elev": elev, "olinda": olinda, "jacksboro": jacksboro, "trinidad": trinidad, "pond": pond, "volcano": volcano}[WHICH]()
