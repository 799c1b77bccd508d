"""From any kind of file to a standing: what `inspect` prints for the scenario works in one, and the same ground in
another format gives the same stance. usage: ground_test.py PROGRAM REPOSITORY"""
import json
import math
import pathlib
import re
import subprocess
import sys
import tempfile

PROGRAM, ROOT = (pathlib.Path(word).resolve() for word in sys.argv[1:3])
DEMO = ROOT / "examples/01_dunlin_at_kettle"
DEM = ROOT / "terrain/kettle_dem.asc"
GDAL = {"PATH": "/usr/bin:/bin"}


def run(*words, status=(0,)):
    done = subprocess.run([str(PROGRAM), *map(str, words)], capture_output=True, text=True, timeout=120)
    assert done.returncode in status, f"{words}: status {done.returncode}\n{done.stderr}{done.stdout}"
    return done.stdout


def inspect(path, *words):
    return json.loads(run("inspect", path, "--json", *words))


def stand(folder, lines):
    """The demo on another ground."""
    text = (DEMO / "scenario.yaml").read_text()
    text = re.sub(r"terrain:\n(  .*\n)+", lines, text).replace("dunlin.yaml", str(DEMO / "dunlin.yaml"))
    scenario = folder / "scenario.yaml"
    scenario.write_text(text)
    return json.loads(run("stand", scenario, "--json", status=(0, 1)))


def strokes(result):
    return [foot["stroke_m"] for foot in result["feet"]]


def near(a, b, tolerance):
    assert len(a) == len(b) and all(abs(x - y) <= tolerance for x, y in zip(a, b)), (a, b)


def rows_of(path):
    lines = path.read_text().split("\n")
    head = {line.split()[0].lower(): float(line.split()[1]) for line in lines[:6]}
    return head, [[float(w) for w in line.split()] for line in lines[6:] if line.strip()]


def main(folder):
    head, rows = rows_of(DEM)
    cell, n = head["cellsize"], len(rows)
    expected = strokes(stand(folder, inspect(DEM)["scenario_lines"]))

    # The grid as a GeoTIFF: the same posts, so the same strokes; axis and unit come from its tags.
    tif = folder / "dem.tif"
    subprocess.run(["gdal_translate", "-q", "-a_srs", "EPSG:32633", "-ot", "Float64", str(DEM), str(tif)], check=True,
                   env=GDAL)
    facts = inspect(tif)
    assert facts["kind"] == "grid" and "WGS 84" in facts["crs"] and facts["body_like"] == "Earth", facts
    result = stand(folder, facts["scenario_lines"])
    near(strokes(result), expected, 1e-6)  # heights pass through single precision there
    # A map of the Earth under the Moon's gravity is said.
    assert any("Earth" in text and "gravity" in text for text in result["cautions"]), result["cautions"]

    # Heights in whole steps of 0.1 m: coarser than the stroke in hand, and said.
    steps = folder / "steps.asc"
    steps.write_text(DEM.read_text())
    coarse = folder / "coarse.tif"
    subprocess.run(["gdal_translate", "-q", "-a_srs", "EPSG:32633", "-ot", "Int16", "-scale", "-50", "50", "-500", "500",
                    "-a_scale", "0.1", "-a_offset", "0", str(DEM), str(coarse)], check=True, env=GDAL)
    facts = inspect(coarse)
    assert abs(facts["pad"]["height_step_m"] - 0.1) < 1e-12, facts["pad"]
    near([facts["pad"]["slope_of_one_step_deg"]], [math.degrees(math.atan(0.1 / cell))], 1e-9)
    result = stand(folder, facts["scenario_lines"])
    assert any("steps of 0.1" in text for text in result["cautions"]), result["cautions"]

    # Its posts as points: the triangulation may choose the other diagonal of a cell, no more.
    points = folder / "posts.xyz"
    x0, y0 = head["xllcorner"] + cell / 2, head["yllcorner"] + cell / 2
    points.write_text("".join(f"{x0 + cell * c!r} {y0 + cell * (n - 1 - r)!r} {z!r}\n"
                              for r, row in enumerate(rows) for c, z in enumerate(row) if z != head["nodata_value"]))
    facts = inspect(points, "--longest-edge", f"{2 * cell}m", "--unit", "m")
    assert facts["kind"] == "points" and "longest_edge" in facts["scenario_lines"], facts["scenario_lines"]
    near(strokes(stand(folder, facts["scenario_lines"])), expected, 0.1)

    # The mesh as a GeoTIFF of its highest surface: every post at the height that the mesh has there.
    mesh = ROOT / "terrain/kettle.ply"
    run("inspect", mesh, "--up", "z", "--unit", "m", "--posts", "1.5m", "-o", folder / "out", "--quiet")
    posts = [(-39.0, 21.0), (12.0, -30.0), (30.0, 30.0)]
    at = [w for x, y in posts for w in ("--at", f"{x},{y}")]
    by_mesh = inspect(mesh, "--up", "z", "--unit", "m", *at)["at"]
    by_posts = inspect(folder / "out/heights.tif", *at)["at"]
    near([p["height_m"] for p in by_posts], [p["height_m"] for p in by_mesh], 1e-6)
    said = subprocess.run(["gdallocationinfo", "-valonly", "-geoloc", str(folder / "out/heights.tif"), "12", "-30"],
                          capture_output=True, text=True, env=GDAL, check=True)
    near([float(said.stdout)], [by_mesh[1]["height_m"]], 1e-5)

    # Hole areas add up with the ground to the extent.
    facts = inspect(DEM, "--hole-below", "-20m", "--unit", "m")
    size = facts["size_m"]
    near([facts["hole_areas"]["area_m2"] + facts["plan_area_m2"]], [size[0] * size[1]], 1e-6 * size[0] * size[1])
    assert facts["hole_areas"]["count"] >= 1 and "hole_below" in facts["scenario_lines"]


with tempfile.TemporaryDirectory() as name:
    main(pathlib.Path(name))
