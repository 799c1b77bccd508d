"""Small files of every format to damage: made here, all of parts of one tilted plane."""
import json
import struct

COLUMNS, ROWS, STEP = 6, 5, 2.0


def plane(x, y):
    return 10 + 0.1 * x + 0.05 * y


POSTS = [(STEP * i, STEP * j, plane(STEP * i, STEP * j)) for j in range(ROWS) for i in range(COLUMNS)]
FACES = [face for j in range(ROWS - 1) for i in range(COLUMNS - 1) for at in [j * COLUMNS + i]
         for face in ((at, at + 1, at + COLUMNS + 1), (at, at + COLUMNS + 1, at + COLUMNS))]


def lines(rows):
    return "".join(" ".join(str(value) for value in row) + "\n" for row in rows).encode()


def ply(kind):
    head = (f"ply\nformat {kind} 1.0\ncomment a plane\nelement vertex {len(POSTS)}\nproperty double x\nproperty double y\n"
            f"property float z\nelement face {len(FACES)}\nproperty list uchar int vertex_indices\nend_header\n").encode()
    if kind == "ascii":
        return head + lines(POSTS) + lines((3, *f) for f in FACES)
    order = "<" if kind == "binary_little_endian" else ">"
    return (head + b"".join(struct.pack(order + "ddf", *p) for p in POSTS) +
            b"".join(struct.pack(order + "Biii", 3, *f) for f in FACES))


def obj():
    return b"# a plane\n" + lines(("v", *p) for p in POSTS) + lines(("f", *(v + 1 for v in f)) for f in FACES)


def off():
    return b"OFF\n" + lines([(len(POSTS), len(FACES), 0)]) + lines(POSTS) + lines((3, *f) for f in FACES)


def stl(binary):
    if binary:
        return (b"a plane".ljust(80, b" ") + struct.pack("<I", len(FACES)) +
                b"".join(struct.pack("<12fH", 0, 0, 1, *(c for v in f for c in POSTS[v]), 0) for f in FACES))
    facets = ("facet normal 0 0 1\nouter loop\n" + "".join("vertex {} {} {}\n".format(*POSTS[v]) for v in f) +
              "endloop\nendfacet\n" for f in FACES)
    return ("solid plane\n" + "".join(facets) + "endsolid plane\n").encode()


def asc():
    head = f"ncols {COLUMNS}\nnrows {ROWS}\nxllcenter 0\nyllcenter 0\ncellsize {STEP}\nNODATA_value -9999\n".encode()
    return head + lines([POSTS[j * COLUMNS + i][2] for i in range(COLUMNS)] for j in reversed(range(ROWS)))


def las(minor=2, form=1):
    """Public header block and points after the ASPRS LAS specification 1.2 and 1.4."""
    header_size = {2: 227, 3: 235, 4: 375}[minor]
    record = {0: 20, 1: 28, 6: 30}[form]
    scale = 0.001
    head = bytearray(header_size)
    struct.pack_into("<4s", head, 0, b"LASF")
    struct.pack_into("<BB", head, 24, 1, minor)
    struct.pack_into("<HII", head, 94, header_size, header_size, 0)
    struct.pack_into("<BH", head, 104, form, record)
    struct.pack_into("<I5I", head, 107, *((0,) * 6 if form >= 6 else (len(POSTS), len(POSTS), 0, 0, 0, 0)))
    struct.pack_into("<6d", head, 131, scale, scale, scale, 0, 0, 0)
    extremes = [f(p[axis] for p in POSTS) for axis in range(3) for f in (max, min)]
    struct.pack_into("<6d", head, 179, *extremes)
    if minor == 4:
        struct.pack_into("<Q15Q", head, 247, len(POSTS), len(POSTS), *(0,) * 14)
    points = b""
    for p in POSTS:
        place = struct.pack("<iii", *(round(c / scale) for c in p))
        rest = struct.pack("<HBBBBhHd", 0, 0x11, 0, 2, 0, 0, 0, 0.0) if form >= 6 else struct.pack(
            "<HBBbBH", 0, 0x09, 2, 0, 0, 0) + (struct.pack("<d", 0.0) if form == 1 else b"")
        points += place + rest
    return bytes(head) + points


def xyz(separator):
    return "".join(separator.join(str(c) for c in p) + "\n" for p in POSTS).encode()


def glb():
    """Binary glTF 2.0 with y up, as that standard says."""
    places = b"".join(struct.pack("<fff", x, z, -y) for x, y, z in POSTS)
    indices = b"".join(struct.pack("<HHH", *f) for f in FACES)
    span = [f(p[axis] for p in ((x, z, -y) for x, y, z in POSTS)) for f in (min, max) for axis in range(3)]
    tree = {"asset": {"version": "2.0"}, "scene": 0, "scenes": [{"nodes": [0]}], "nodes": [{"mesh": 0}],
            "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}],
            "buffers": [{"byteLength": len(places) + len(indices)}],
            "bufferViews": [{"buffer": 0, "byteLength": len(places)},
                            {"buffer": 0, "byteOffset": len(places), "byteLength": len(indices)}],
            "accessors": [{"bufferView": 0, "componentType": 5126, "count": len(POSTS), "type": "VEC3",
                           "min": span[:3], "max": span[3:]},
                          {"bufferView": 1, "componentType": 5123, "count": 3 * len(FACES), "type": "SCALAR"}]}
    text = json.dumps(tree).encode()
    text += b" " * (-len(text) % 4)
    data = places + indices
    data += b"\0" * (-len(data) % 4)
    body = struct.pack("<I4s", len(text), b"JSON") + text + struct.pack("<I4s", len(data), b"BIN\0") + data
    return struct.pack("<4sII", b"glTF", 2, 12 + len(body)) + body


def own():
    """Name and bytes of what the program reads itself."""
    return [("a.ply", ply("ascii")), ("b.ply", ply("binary_little_endian")), ("c.ply", ply("binary_big_endian")),
            ("a.obj", obj()), ("a.off", off()), ("a.stl", stl(False)), ("b.stl", stl(True)), ("a.asc", asc())]


def points():
    return [("a.las", las(2, 1)), ("b.las", las(4, 6)), ("c.las", las(2, 0)), ("a.xyz", xyz(" ")), ("b.xyz", xyz(","))]
