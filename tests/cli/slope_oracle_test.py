"""Slope and aspect of `inspect --at` against GDAL's own (`gdaldem`), which shares nothing with this project.
usage: slope_oracle_test.py PROGRAM"""
import json
import math
import pathlib
import subprocess
import sys
import tempfile
import unittest

PROGRAM = sys.argv[1]
POSTS, CELL = 21, 0.5


def write_grid(path, height):
    """ESRI ASCII grid of height(x, y) at cell centres, the northern row first."""
    rows = [" ".join(repr(height((c + 0.5) * CELL, (r + 0.5) * CELL)) for c in range(POSTS))
            for r in reversed(range(POSTS))]
    head = f"ncols {POSTS}\nnrows {POSTS}\nxllcorner 0\nyllcorner 0\ncellsize {CELL}\nNODATA_value -9999\n"
    path.write_text(head + "\n".join(rows) + "\n")


def by_gdal(folder, grid, what):
    """gdaldem's raster as rows from south to north."""
    out = folder / f"{what}.asc"
    subprocess.run(["gdaldem", what, "-q", "-of", "AAIGrid", str(grid), str(out)], check=True, capture_output=True)
    lines = out.read_text().split("\n")
    rows = [line.split() for line in lines if len(line.split()) == POSTS]
    return [[float(w) for w in row] for row in reversed(rows)]


def by_us(grid, places):
    words = [w for x, y in places for w in ("--at", f"{x!r},{y!r}")]
    done = subprocess.run([PROGRAM, "inspect", str(grid), "--unit", "m", "--json", *words],
                          capture_output=True, text=True, check=True)
    return [(at["slope_deg"], at["aspect_azimuth_deg"]) for at in json.loads(done.stdout)["at"]]


class Slopes(unittest.TestCase):
    def compare(self, height, slope_within, aspect_within):
        with tempfile.TemporaryDirectory() as name:
            folder = pathlib.Path(name)
            write_grid(folder / "ground.asc", height)
            slope = by_gdal(folder, folder / "ground.asc", "slope")
            aspect = by_gdal(folder, folder / "ground.asc", "aspect")
            posts = [(c, r) for r in (3, 10, 16) for c in (4, 10, 17)]
            # A step beside the post, inside one facet; the post itself belongs to several.
            ours = by_us(folder / "ground.asc", [((c + 0.6) * CELL, (r + 0.55) * CELL) for c, r in posts])
            for (c, r), (our_slope, our_aspect) in zip(posts, ours):
                self.assertAlmostEqual(our_slope, slope[r][c], delta=slope_within)
                turn = (our_aspect - aspect[r][c] + 180) % 360 - 180
                self.assertAlmostEqual(turn, 0, delta=aspect_within)

    def test_planes_towards_every_quarter_agree(self):
        for a, b in ((0.3, 0.1), (-0.2, 0.5), (-0.7, -0.3), (0.1, -0.4)):
            with self.subTest(rise_east=a, rise_north=b):
                # gdaldem reads heights of some 10 m in single precision: 1e-6 m over a metre, in degrees.
                self.compare(lambda x, y: 5 + a * x + b * y, 3e-4, 3e-4)

    def test_a_curved_ground_agrees_within_what_a_facet_can_differ(self):
        # Second derivatives are at most 0.04 per metre: over one cell the gradient changes by at most
        # 0.04 * 0.5 * sqrt(2), and the aspect by that over the gradient itself (0.2 at least here).
        bend = math.degrees(math.atan(0.04 * CELL * math.sqrt(2)))
        self.compare(lambda x, y: 0.3 * x + 0.2 * y + 0.02 * (x - 5) ** 2 - 0.01 * (y - 5) ** 2,
                     bend, bend / 0.2)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
