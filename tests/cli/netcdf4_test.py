"""netCDF-4, that is HDF5: its grids open with their places, units and missing data, and what is ambiguous is refused.
The files are made by GDAL's gdalmdimtranslate. usage: netcdf4_test.py PROGRAM
All hold z = 10 + 0.1 (x - 500000) + 0.05 (y - 4300000) [m], posts 2 m apart from (500000, 4300000) on, 6 x 5 of them."""
import json
import math
import pathlib
import subprocess
import sys
import tempfile

PROGRAM = pathlib.Path(sys.argv[1]).resolve()
GDAL = {"PATH": "/usr/bin:/bin"}
EAST = [500000 + 2 * i for i in range(6)]
NORTH = [4300008 - 2 * j for j in range(5)]  # the northern row first
FOOT, SURVEY_FOOT = 0.3048, 1200 / 3937  # NIST Handbook 44, appendix C
X, Y = "projection_x_coordinate", "projection_y_coordinate"  # CF conventions 1.8, appendix B


def plane(x, y):
    return 10 + 0.1 * (x - 500000) + 0.05 * (y - 4300000)


def heights(east=EAST, north=NORTH, height=lambda z: z):
    return [height(plane(x, y)) for y in north for x in east]


def array(name, dimensions, values, unit="", nodata=None, scale=None, offset=None, standard="", kind="Float64", srs=""):
    parts = [f"<DimensionRef ref='{d}'/>" for d in dimensions]
    parts += [f"<SRS>{srs}</SRS>"] * (srs != "") + [f"<Unit>{unit}</Unit>"] * (unit != "")
    parts += [f"<NoDataValue>{nodata}</NoDataValue>"] * (nodata is not None)
    parts += [f"<Offset>{offset}</Offset>", f"<Scale>{scale}</Scale>"] * (scale is not None)
    parts += [f"<InlineValues>{' '.join(map(repr, values))}</InlineValues>"]
    if standard:
        parts += [f"<Attribute name='standard_name'><DataType>String</DataType><Value>{standard}</Value></Attribute>"]
    return f"<Array name='{name}'><DataType>{kind}</DataType>{''.join(parts)}</Array>"


def places(east=EAST, north=NORTH, unit="m", names=(X, Y), units=None):
    x_unit, y_unit = units or (unit, unit)
    return [array("x", ["x"], east, x_unit, standard=names[0]), array("y", ["y"], north, y_unit, standard=names[1])]


class Maker:
    def __init__(self, folder):
        self.folder, self.made = pathlib.Path(folder), 0

    def __call__(self, *arrays, sizes=(("y", 5), ("x", 6))):
        self.made += 1
        vrt, out = (self.folder / f"{self.made}.{end}" for end in ("vrt", "nc"))
        vrt.write_text("<VRTDataset><Group name='/'>"
                       + "".join(f"<Dimension name='{n}' size='{s}' indexingVariable='{n}'/>" for n, s in sizes)
                       + "".join(arrays) + "</Group></VRTDataset>")
        subprocess.run(["gdalmdimtranslate", "-q", "-of", "netCDF", str(vrt), str(out)], check=True, env=GDAL,
                       capture_output=True)
        assert out.read_bytes()[:8] == b"\x89HDF\r\n\x1a\n"  # HDF5 File Format Specification 3.0, II.A
        return out


def run(path, *words):
    return subprocess.run([str(PROGRAM), "inspect", str(path), *words], capture_output=True, text=True, timeout=60)


def inspect(path, *words):
    done = run(path, "--json", *words)
    assert done.returncode == 0, f"status {done.returncode}\n{done.stderr}{done.stdout}"
    return json.loads(done.stdout)


def refused(path, *parts):
    done = run(path)
    assert done.returncode == 2 and not done.stdout, f"status {done.returncode}\n{done.stderr}{done.stdout}"
    for part in parts:
        assert part in done.stderr, f"no {part!r} in: {done.stderr}"


def near(values, expected, tolerance):
    assert len(values) == len(expected) and all(abs(a - b) <= tolerance for a, b in zip(values, expected)), \
        f"{values}, expected {expected}"


def is_the_plane(path, *words, tolerance=1e-6, holes=0):
    facts = inspect(path, "--at", "500003,4300005", "--at", "500009.5,4300000.5", *words)
    assert (facts["columns"], facts["rows"], facts["posts_without_data"]) == (6, 5, holes), facts
    near(facts["extent_m"][0][:2] + facts["extent_m"][1][:2], [500000, 4300000, 500010, 4300008], tolerance)
    near([p["height_m"] for p in facts["at"]], [plane(500003, 4300005), plane(500009.5, 4300000.5)], tolerance)
    near([facts["slope_deg"]["max"]], [math.degrees(math.atan(math.hypot(0.1, 0.05)))], 1e-3)
    return facts


def reads(make):
    facts = is_the_plane(make(*places(), array("z", "yx", heights(), "m")))
    assert "unit" not in facts["scenario_lines"], facts["scenario_lines"]  # the file says it all
    # The southern row first; a dimension of one time; axes that only their names tell.
    up = NORTH[::-1]
    is_the_plane(make(*places(north=up), array("z", "yx", heights(north=up), "m")))
    is_the_plane(make(array("time", ["time"], [0]), *places(), array("z", ["time", "y", "x"], heights(), "m"),
                      sizes=(("time", 1), ("y", 5), ("x", 6))))
    is_the_plane(make(*places(names=("", "")), array("z", "yx", heights(), "m")))
    # Counts of 5 cm above 9 m.
    counts = heights(height=lambda z: round((z - 9) / 0.05))
    facts = is_the_plane(make(*places(), array("z", "yx", counts, "m", scale=0.05, offset=9, kind="Int16")))
    near([facts["pad"]["height_step_m"]], [0.05], 1e-12)
    # Missing data by a declared value, or by NaN; the other posts stand.
    for mark, nodata in ((-9999.0, -9999), (math.nan, None)):
        holed = heights()
        holed[2 * 6 + 4] = mark  # (500008, 4300004)
        path = make(*places(), array("z", "yx", holed, "m", nodata))
        is_the_plane(path, holes=1)
        assert inspect(path, "--at", "500008,4300004")["at"][0]["height_m"] is None


def units(make):
    for unit, metres in (("km", 1000), ("ft", FOOT), ("US_survey_foot", SURVEY_FOOT), ("cm", 0.01)):
        is_the_plane(make(*places(), array("z", "yx", heights(height=lambda z: z / metres), unit)))
        east, north = [x / metres for x in EAST], [y / metres for y in NORTH]
        is_the_plane(make(*places(east, north, unit), array("z", "yx", heights(), "m")), tolerance=1e-5)
    # Neither is said: both are asked for together, and one statement serves.
    bare = make(*places(unit=""), array("z", "yx", heights()))
    assert "unit" in inspect(bare)["scenario_lines"]
    is_the_plane(bare, "--unit", "m")
    # A coordinate system goes with its coordinates.
    is_the_plane(make(*places(), array("z", "yx", heights(), "m", srs="EPSG:32631")))


def refuses(make):
    z = array("z", "yx", heights(), "m")
    refused(make(*places(), z, array("slope", "yx", heights(), "degree")), "holds 2 rasters", "z", "slope",
            "gdal_translate 'NETCDF:")
    refused(make(array("time", ["time"], [0, 1]), *places(), array("z", ["time", "y", "x"], 2 * heights(), "m"),
                 sizes=(("time", 2), ("y", 5), ("x", 6))), "has 2 bands of 6 x 5 posts, heights are one", "gdal_translate -b 1")
    refused(make(*places(), array("t", "yx", heights(), "K")), '"K"', "no length")
    refused(make(z), "does not say where its posts are", "-a_ullr")
    # A row left out, posts that crowd, one coordinate missing.
    gap = NORTH[:2] + [y - 2 for y in NORTH[2:]]
    refused(make(*places(north=gap), z), "unevenly spaced", 'along "y"', "2 to 4 apart")
    crowded = [500000 + 2 * i + 0.1 * i * i for i in range(6)]
    refused(make(*places(crowded), z), "unevenly spaced", 'along "x"', "2.1 to 2.9 apart")
    refused(make(*places([*EAST[:3], math.nan, *EAST[4:]]), z), "unevenly spaced", 'along "x"')
    refused(make(*places(units=("m", "ft")), z), 'eastings "x" in "m"', 'northings "y" in "ft"')
    refused(make(*places(unit="km"), array("z", "yx", heights(), "m", srs="EPSG:32631")), "in two ways",
            "(500000, 4300000) units of 1 m", "units of 1000 m")
    refused(make(*places(unit="rad"), z), 'positions in "rad"', "no length")
    refused(make(*places([x / 1e5 for x in EAST], [y / 1e5 for y in NORTH],
                         units=("degrees_east", "degrees_north"), names=("longitude", "latitude")), z),
            "degrees of longitude and latitude", "gdalwarp -s_srs", "+lat_0=43 +lon_0=5.00005")
    # Columns over the northing: a plane read this way would be mirrored.
    turned = [plane(x, y) for x in EAST for y in NORTH[::-1]]
    refused(make(*places(north=NORTH[::-1]), array("z", "xy", turned, "m"), sizes=(("x", 6), ("y", 5))),
            'rows over "x" and columns over "y"', "standard_name")
    # One axis that nothing marks.
    for name, other, sizes in (("q", "y", (("y", 5), ("q", 6))), ("q", "x", (("q", 5), ("x", 6)))):
        axes = dict(zip("xy", places()))
        unmarked = array(name, [name], EAST if other == "y" else NORTH, "m")
        refused(make(axes[other], unmarked, array("z", [n for n, _ in sizes], heights(), "m"), sizes=sizes),
                f'over "{name}"', "not marked")
    refused(make(*places(EAST[::-1]), array("z", "yx", heights(EAST[::-1]), "m")), "east to west")
    holed = heights()
    holed[2 * 6 + 2] = -9999.0
    refused(make(*places(), array("z", "yx", holed, "m")), "-9999", "row 3, column 3", "hole_below")


def damage(make):
    whole = make(*places(), array("z", "yx", heights(), "m", -9999)).read_bytes()
    cut = make.folder / "cut.nc"
    for length in [*range(100, len(whole), len(whole) // 12), len(whole) - 1]:
        cut.write_bytes(whole[:length])
        refused(cut, "cut short", f"asks for {len(whole)} bytes, it has {length}")
    cut.write_bytes(whole[:40])
    refused(cut, "cut short")
    cut.write_bytes(whole[:48] + b"\xff" * 200 + whole[248:])
    refused(cut, "cut.nc")


with tempfile.TemporaryDirectory() as name:
    maker = Maker(name)
    for part in (reads, units, refuses, damage):
        part(maker)
print("netCDF-4: read and refused")
