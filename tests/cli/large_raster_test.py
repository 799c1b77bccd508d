"""A raster of 16384 x 16384 posts is inspected whole within 2 GB, both programs together.
usage: large_raster_test.py PROGRAM
Writes a GeoTIFF of 1 GB (TIFF 6.0, one strip for 64 rows, written here byte by byte), so it is for the night: ends
with 77 (skipped, saying so) unless RIMSTANCE_LARGE is set. The ground is z = row / 64 + column / 128 m over posts 2 m
apart, row and column from the north-west."""
import array
import json
import math
import os
import pathlib
import struct
import subprocess
import sys
import tempfile
import time

PROGRAM = pathlib.Path(sys.argv[1])
SIDE, STRIP, SPACING = 16384, 64, 2.0
MOST = 2 << 30


def tag(number, kind, count, value):
    return struct.pack("<HHI", number, kind, count) + value


def write(path):
    """Heights are multiples of 1/128 m below 512 m: exact in single precision."""
    strips, size = SIDE // STRIP, 4 * SIDE * STRIP
    unit = b'<GDALMetadata><Item name="UNITTYPE" sample="0" role="unittype">m</Item></GDALMetadata>\0'
    at = 8 + 2 + 12 * 13 + 4
    counts, scale = at, at + 8 * strips
    tie, keys = scale + 24, scale + 24 + 48
    words = keys + 2 * 16
    first = words + len(unit) + len(unit) % 2
    short, long, double, text = 3, 4, 12, 2
    one = lambda value: struct.pack("<HH", value, 0)
    offset = lambda value: struct.pack("<I", value)
    tags = [tag(256, short, 1, one(SIDE)), tag(257, short, 1, one(SIDE)), tag(258, short, 1, one(32)),
            tag(259, short, 1, one(1)), tag(262, short, 1, one(1)), tag(273, long, strips, offset(counts + 4 * strips)),
            tag(278, short, 1, one(STRIP)), tag(279, long, strips, offset(counts)), tag(339, short, 1, one(3)),
            tag(33550, double, 3, offset(scale)), tag(33922, double, 6, offset(tie)),
            tag(34735, short, 16, offset(keys)), tag(42112, text, len(unit), offset(words))]
    with open(path, "wb") as out:
        out.write(b"II*\0" + offset(8) + struct.pack("<H", len(tags)) + b"".join(tags) + offset(0))
        out.write(struct.pack("<%dI" % strips, *[size] * strips))
        out.write(struct.pack("<%dI" % strips, *[first + k * size for k in range(strips)]))
        out.write(struct.pack("<3d", SPACING, SPACING, 0) + struct.pack("<6d", 0, 0, 0, 1000, 2000, 0))
        # Projected, pixels are areas, EPSG 32631 (UTM 31 north, metres).
        out.write(struct.pack("<16H", 1, 1, 0, 3, 1024, 0, 1, 1, 1025, 0, 1, 1, 3072, 0, 1, 32631))
        out.write(unit + b"\0" * (len(unit) % 2))
        base = [column / 128 for column in range(SIDE)]
        for strip in range(strips):
            for row in range(STRIP):
                rise = (strip * STRIP + row) / 64
                array.array("f", [z + rise for z in base]).tofile(out)


def resident(pid):
    try:
        return int(pathlib.Path(f"/proc/{pid}/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE")
    except (OSError, IndexError):
        return 0


def watched(command):
    """What it prints, and the greatest resident memory of it and its children together."""
    with tempfile.TemporaryFile("w+") as out:
        process = subprocess.Popen(command, stdout=out)
        children = pathlib.Path(f"/proc/{process.pid}/task/{process.pid}/children")
        most = 0
        while process.poll() is None:
            try:
                pids = [child for child in children.read_text().split()
                        # between its birth and its own program a child shares the memory of its parent
                        if pathlib.Path(f"/proc/{child}/exe").resolve() != PROGRAM.resolve()]
            except OSError:
                pids = []
            most = max(most, resident(process.pid) + sum(resident(child) for child in pids))
            time.sleep(0.01)
        assert process.returncode == 0, f"status {process.returncode}"
        out.seek(0)
        return json.load(out), most


def main():
    if not os.environ.get("RIMSTANCE_LARGE"):
        print("skipped: RIMSTANCE_LARGE is not set; this writes 1 GB")
        sys.exit(77)
    with tempfile.TemporaryDirectory() as folder:
        path = pathlib.Path(folder) / "large.tif"
        write(path)
        start = time.monotonic()
        facts, most = watched([str(PROGRAM), "inspect", str(path), "--json"])
        print(f"{time.monotonic() - start:.1f} s, {most / 2**20:.0f} MiB")
    assert (facts["columns"], facts["rows"]) == (SIDE, SIDE), facts
    (west, south, low), (east, north, high) = facts["extent_m"]
    reach = SPACING * (SIDE - 1)
    assert (west, north) == (1000 + 1, 2000 - 1), (west, north)
    assert (east - west, north - south) == (reach, reach), (east, south)
    assert (low, high) == (0, (SIDE - 1) / 64 + (SIDE - 1) / 128), (low, high)
    slope = math.degrees(math.atan(math.hypot(1 / 64, 1 / 128) / SPACING))
    assert abs(facts["slope_deg"]["p50"] - slope) < slope / 4096, facts["slope_deg"]
    assert most < MOST, f"{most / 2**20:.0f} MiB"


main()
