"""An independent reckoning of what `rimstance stand --json` reports: textbook statics in numpy, a dense search
instead of closed forms and bounds, and none of the program's own code.

Every load is a weight (down) or a pull (up) at a point, so one line carries all of it: the moment about an edge is
M = -sum((r_k - c) x F_k).a, the stability margins of McGhee & Frank 1968 (clearance), Papadopoulos & Rey 1996
(tip angle) and Messuri & Klein 1985 (energy) follow from the sums, the reactions from a rigid plate on springs.
Metres, newtons, radians, frames: chassis C (x forward, y left, z up), platform S on the slew axis, boom in S.
"""
import dataclasses
import itertools
import math
import pathlib
import re

import numpy as np
import yaml

GRAVITY = {"moon": 1.62, "mars": 3.71, "earth": 9.80665}
UNITS = {"m": 1.0, "cm": 0.01, "mm": 0.001, "deg": math.pi / 180, "rad": 1.0, "kg": 1.0, "t": 1000.0, "N": 1.0,
         "kN": 1e3, "kN/m": 1e3, "N/m": 1.0, "kg/m": 1.0, "%": 0.01, "m/s": 1.0, "m/s2": 1.0, "N m": 1.0, "J": 1.0,
         "": 1.0}
WEIGHTS, PULL = "weights", "pull"
MEASURES = ("moment", "clearance", "ratio", "angle", "energy", "share", "force angle")


# -------------------------------------------------------------------------------------------------- reading


def quantity(value):
    """SI value of '2.4 m', '[1, 2] m' (an array) or a bare number."""
    if isinstance(value, (int, float)):
        return float(value)
    if isinstance(value, list):
        return np.array([quantity(v) for v in value])
    if isinstance(value, dict):
        return quantity(value["value"])
    value = value.strip()
    if value.startswith("["):
        numbers, unit = value.rsplit("]", 1)
        return np.array(yaml.safe_load(numbers + "]"), dtype=float) * UNITS[unit.strip()]
    number, _, unit = value.partition(" ")
    return float(number) * UNITS[unit.strip()]


def interval(value):
    """[a, b] of an interval or of a single value."""
    value = quantity(value)
    return (float(value), float(value)) if np.ndim(value) == 0 else (float(value[0]), float(value[1]))


def load_scenario(path, overrides=()):
    """The scenario as plain maps, includes merged, overrides applied."""
    path = pathlib.Path(path)
    tree = merged(yaml.safe_load(path.read_text()), path.parent)
    for override in overrides:
        where, _, value = override.partition("=")
        put(tree, where.split("."), yaml.safe_load(value))
    tree["terrain"]["file"] = str((path.parent / tree["terrain"]["file"]).resolve())
    return tree


def merged(tree, folder):
    if isinstance(tree, list):
        return [merged(item, folder) for item in tree]
    if not isinstance(tree, dict):
        return tree
    own = {key: merged(value, folder) for key, value in tree.items() if key != "include"}
    if "include" not in tree:
        return own
    base = merged(yaml.safe_load((folder / tree["include"]).read_text()), folder)
    return deep(base, own)


def deep(base, over):
    out = dict(base)
    for key, value in over.items():
        out[key] = deep(out[key], value) if isinstance(value, dict) and isinstance(out.get(key), dict) else value
    return out


def put(tree, keys, value):
    """Set one value; '*' stands for all items of a list, a name for one of them."""
    key, rest = keys[0], keys[1:]
    if isinstance(tree, list):
        for index, item in enumerate(tree):
            if key == "*" or (isinstance(item, dict) and item.get("name") == key):
                put(item, rest, value) if rest else tree.__setitem__(index, value)
    elif rest:
        put(tree.setdefault(key, {}), rest, value)
    else:
        tree[key] = value


def read_ply(path):
    """Vertices and triangles of a binary little-endian PLY with float x, y, z."""
    data = pathlib.Path(path).read_bytes()
    head, body = data.split(b"end_header\n", 1)
    vertices, faces = (int(re.search(rb"element %s (\d+)" % word, head).group(1)) for word in (b"vertex", b"face"))
    assert b"binary_little_endian" in head and head.count(b"property float") == 3
    xyz = np.frombuffer(body, "<f4", 3 * vertices).reshape(-1, 3).astype(float)
    record = np.dtype([("n", "u1"), ("v", "<i4", 3)])
    faces = np.frombuffer(body, record, faces, 12 * vertices)
    assert (faces["n"] == 3).all()
    return xyz, faces["v"]


# -------------------------------------------------------------------------------------------------- ground


class Ground:
    """Triangles seen from above; undersides take no part. One layer is enough here: `patch` checks that."""

    def __init__(self, xyz, triangles):
        corners = xyz[triangles]
        normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        self.corners = corners[normal[:, 2] > 0]
        self.lo, self.hi = self.corners[:, :, :2].min(axis=1), self.corners[:, :, :2].max(axis=1)

    def near(self, centre, radius):
        take = ((self.lo <= np.asarray(centre) + radius) & (self.hi >= np.asarray(centre) - radius)).all(axis=1)
        return self.corners[take]

    def height(self, points):
        """Highest layer at each point (x, y); NaN where there is none."""
        points = np.asarray(points, float)
        best = np.full(len(points), np.nan)
        centre, radius = points.mean(axis=0), np.ptp(points, axis=0).max() + 1e-6
        for a, b, c in self.near(centre, radius):
            m = np.array([b[:2] - a[:2], c[:2] - a[:2]]).T
            s, t = np.linalg.solve(m, (points - a[:2]).T)
            inside = (s >= -1e-9) & (t >= -1e-9) & (s + t <= 1 + 1e-9)
            z = a[2] + s * (b[2] - a[2]) + t * (c[2] - a[2])
            best = np.where(inside, np.fmax(best, z), best)
        return best


def clipped(polygon, outline):
    """Sutherland & Hodgman: a polygon (x, y, z) cut by a convex counter-clockwise outline in plan."""
    for p, q in zip(outline, np.roll(outline, -1, axis=0)):
        if len(polygon) == 0:
            return polygon
        side = (q[0] - p[0]) * (polygon[:, 1] - p[1]) - (q[1] - p[1]) * (polygon[:, 0] - p[0])
        if (side >= 0).all():
            continue
        out = []
        for i in range(len(polygon)):
            j = (i + 1) % len(polygon)
            if side[i] >= 0:
                out.append(polygon[i])
            if (side[i] >= 0) != (side[j] >= 0):
                out.append(polygon[i] + (polygon[j] - polygon[i]) * (side[i] / (side[i] - side[j])))
        polygon = np.array(out)
    return polygon


def patch(ground, centre, radius, sides=720):
    """Rest height, slope and share of a pad: least squares over plan area on the clipped facets, corners on top.
    The disc is a polygon of the same area, so the result is good to about radius * slope / sides^2."""
    turn = 2 * math.pi * np.arange(sides) / sides
    grow = math.sqrt(math.pi / (sides / 2 * math.sin(2 * math.pi / sides)))
    outline = radius * grow * np.column_stack([np.cos(turn), np.sin(turn)])
    pieces = []
    for triangle in ground.near(centre, radius):
        local = triangle - np.array([*centre, 0.0])
        if (np.hypot(local[:, 0], local[:, 1]) < radius * 0.999).all():
            pieces.append(local)  # the whole facet lies in the disc
            continue
        piece = clipped(local, outline)
        if len(piece) >= 3:
            pieces.append(piece)
    normal, right, area = np.zeros((3, 3)), np.zeros(3), 0.0
    for piece in pieces:
        for i in range(1, len(piece) - 1):
            t = piece[[0, i, i + 1]]
            u, v = t[1, :2] - t[0, :2], t[2, :2] - t[0, :2]
            a = 0.5 * (u[0] * v[1] - u[1] * v[0])
            middles = (t + np.roll(t, -1, axis=0)) / 2  # exact for squares on a triangle
            basis = np.column_stack([middles[:, :2], np.ones(3)])
            normal += a / 3 * basis.T @ basis
            right += a / 3 * basis.T @ middles[:, 2]
            area += a
    share = area / (math.pi * radius**2)
    assert share < 1 + 1e-6, "two layers under one pad: not for this oracle"
    plane = np.linalg.solve(normal, right)
    points = np.vstack(pieces)
    residual = points[:, 2] - np.column_stack([points[:, :2], np.ones(len(points))]) @ plane
    return {"rest": plane[2] + max(0.0, residual.max()), "slope": math.atan(math.hypot(plane[0], plane[1])),
            "residual": residual.max(), "share": share}


# -------------------------------------------------------------------------------------------------- machine


@dataclasses.dataclass
class Mass:
    """A basic mass that grows by `margin` at most; `part` names the declared body for the moment ratio."""
    part: str
    mass: float
    margin: float
    where: object  # state -> (N, 3) in the chassis frame
    kind: str = WEIGHTS


def masses_of(bodies):
    return [(b["name"], quantity(b["mass"]), quantity(b.get("margin", 0.0)), b) for b in bodies or []]


class Machine:
    def __init__(self, tree):
        self.tree = tree
        machine = self.m = tree["machine"]
        g = tree.get("gravity")
        self.g = GRAVITY[g] if isinstance(g, str) and g in GRAVITY else quantity(g)
        self.axis = quantity(machine["platform"]["axis"])
        self.foot_pin = quantity(machine["boom"]["foot"])
        sections = machine["boom"]["sections"]
        self.length = np.array([quantity(s["length"]) for s in sections])
        self.stroke = np.array([0.0] + [quantity(s.get("stroke", s["length"])) for s in sections[1:]])
        self.section_mass = np.array([quantity(s["mass"]) for s in sections])
        self.section_margin = [quantity(s.get("margin", machine["boom"].get("margin", 0.0))) for s in sections]
        self.section_at = np.array([quantity(s.get("centre_at", 0.5)) for s in sections])
        self.in_order = machine["boom"].get("order", "together") == "in-order"
        hoist = machine.get("hoist", {})
        self.line_mass = quantity(hoist.get("line_mass", 0.0))
        self.line_length = quantity(hoist.get("line_length", interval(tree["operation"].get("line", 0.0))[1]))
        self.drum = quantity(hoist["drum"]) if "drum" in hoist else self.foot_pin
        self.head = quantity(hoist["head"]["mass"]) if "head" in hoist else 0.0
        self.line_pull, self.speed = quantity(hoist.get("line_pull", "inf N")), quantity(hoist.get("speed", "0.05 m/s"))
        self.line_EA = quantity(hoist["line_EA"]) if "line_EA" in hoist else math.inf
        self.container = machine.get("container")
        self.units = int(self.container["units"]) if self.container else 0
        self.unit = quantity(self.container["unit"]["mass"]) if self.container else 0.0
        self.payload = quantity(tree["payload"]["mass"]) if "mass" in tree.get("payload", {}) else self.unit
        self.guide = machine.get("guide")

    # --- geometry
    def arm(self, outrigger):
        """Unit vector of the arm in plan: azimuth = zero + sense * splay."""
        x, y, _ = quantity(outrigger["pivot"])
        zero = quantity(outrigger["zero"]) if "zero" in outrigger else (0.0 if x > 0 else math.pi)
        sense = float(outrigger.get("sense", 1.0 if x * y > 0 else -1.0))
        azimuth = zero + sense * quantity(outrigger["splay"])
        return np.array([math.cos(azimuth), math.sin(azimuth), 0.0])

    def foot(self, outrigger, stroke):
        return (quantity(outrigger["pivot"]) + quantity(outrigger["arm"]) * self.arm(outrigger)
                - np.array([0, 0, quantity(outrigger["drop"]) + stroke]))

    def on_platform(self, s, point):
        """Points (3,) or (N, 3) of the platform in the chassis frame at the states' slew."""
        point = np.broadcast_to(np.asarray(point, float), (len(s["slew"]), 3))
        c, w = np.cos(s["slew"]), np.sin(s["slew"])
        return self.axis + np.column_stack([c * point[:, 0] - w * point[:, 1], w * point[:, 0] + c * point[:, 1],
                                            point[:, 2]])

    def along_boom(self, s, distance):
        distance = np.broadcast_to(distance, s["slew"].shape)
        return self.on_platform(s, self.foot_pin + np.column_stack(
            [distance * np.cos(s["luff"]), np.zeros_like(distance), distance * np.sin(s["luff"])]))

    def tips(self, extension):
        """Distance of every section's outer end from the foot pin, (sections, N)."""
        extension = np.asarray(extension, float)
        if self.in_order:  # section 1 first, carrying the inner ones
            before = np.cumsum(self.stroke) - self.stroke
            out = [np.clip(extension - b, 0, k) for b, k in zip(before, self.stroke)]
        else:
            total = self.stroke.sum()
            out = [extension * (k / total if total else 0.0) for k in self.stroke]
        return self.length[0] + np.cumsum(out, axis=0)

    def section_centres(self, extension):
        return self.tips(extension) - self.length[:, None] * (1 - self.section_at[:, None])

    def tip(self, s):
        return self.along_boom(s, self.tips(s["extension"])[-1])

    def reach(self, s):
        tip = self.foot_pin[0] + self.tips(s["extension"])[-1] * np.cos(s["luff"])
        return np.hypot(tip, self.foot_pin[1])

    # --- masses
    def weights(self):
        """All weights but what hangs at the tip."""
        machine, out = self.m, []
        for name, mass, margin, body in masses_of(machine["chassis"].get("bodies")):
            out.append(Mass("chassis." + name, mass, margin, self.fixed(quantity(body["at"]))))
        for o in machine["outriggers"]:
            at = (quantity(o["pivot"])
                  + quantity(o.get("centre_at", 0.5)) * quantity(o["arm"]) * self.arm(o))
            out.append(Mass("outrigger." + o["name"], quantity(o["mass"]), quantity(o.get("margin", 0.0)),
                            self.fixed(at)))
        for name, mass, margin, body in masses_of(machine["platform"].get("bodies")):
            at = quantity(body["at"])
            out.append(Mass("platform." + name, mass, margin, lambda s, at=at: self.on_platform(s, at)))
        if self.guide:
            start, direction = quantity(self.guide["start"]), quantity(self.guide["direction"])
            direction = direction / np.linalg.norm(direction)
            for name, mass, margin, body in masses_of(self.guide["bodies"]):
                at = start + quantity(body.get("at", "[0, 0, 0] m"))
                move = self.mounted(self.guide.get("mount", "platform"))
                out.append(Mass("guide." + name, mass, margin,
                                lambda s, at=at, move=move: move(s, at + s["travel"][:, None] * direction)))
        if self.container:
            at, move = quantity(self.container["at"]), self.mounted(self.container.get("mount", "platform"))
            place = lambda s: move(s, at)  # noqa: E731
            out.append(Mass("container", quantity(self.container["empty"]),
                            quantity(self.container.get("margin", 0.0)), place))
            out.append(Mass("container", lambda s: self.unit * s["units"], 0.0, place))
        for k in range(len(self.length)):
            out.append(Mass("boom", self.section_mass[k], self.section_margin[k],
                            lambda s, k=k: self.along_boom(s, self.section_centres(s["extension"])[k])))
        out.append(Mass("drum", lambda s: self.line_mass * (self.line_length - s["line"]), 0.0,
                        lambda s: self.on_platform(s, self.drum)))
        return out

    @staticmethod
    def fixed(at):
        return lambda s: np.broadcast_to(at, (len(s["slew"]), 3))

    def mounted(self, mount):
        return self.on_platform if mount == "platform" else (
            lambda s, at: np.broadcast_to(np.asarray(at, float), (len(s["slew"]), 3)))

    def hoisting(self, case):
        """phi = 1 + v / g sqrt(k / m) of the lightest pick-up on the least line: line and outriggers in series, no
        load is borne more stiffly than by all legs at once; the boom rigid."""
        if case.get("hoisting") != "physics":
            return quantity(case.get("hoisting", 1.0))
        line = interval(self.tree["operation"].get("line", 0.0))[0]
        legs = sum(quantity(o.get("stiffness", "50 kN/m")) for o in self.m["outriggers"])
        k = 1 / (line / self.line_EA + 1 / legs)
        mass = (0.0 if case.get("payload") == "none" else self.payload) + self.head + self.line_mass * line
        return 1 + self.speed / self.g * math.sqrt(k / mass)

    def hanging(self, case, payload_there):
        """What acts at the tip: (part, mass, margin, kind). F = sum m_k x_k / length, hung at the tip times b.
        A stalled hoist pulls down in place of all that hangs; a load being lifted counts phi times."""
        a = 1 / quantity(case["tipping_load"]) if "tipping_load" in case else quantity(case.get("load_factor", 1.0))
        b = quantity(case.get("boom_factor", 0.0))
        k = quantity(case["release"]) if "release" in case else None
        head = 0.0 if case.get("head") == "down" else self.head
        there = payload_there and case.get("payload") != "none"
        payload = self.payload if there and k is None else 0.0
        a *= self.hoisting(case)
        out = [("hung", lambda s: a * (head + self.line_mass * s["line"] + payload), 0.0, WEIGHTS)]
        if "stall" in case:
            pull = quantity(case["stall"]) * self.line_pull / self.g
            out = [("hung", lambda s: pull + 0 * s["line"], 0.0, PULL)]
        if there and k is not None:
            out.append(("hung", lambda s: -k * self.payload + 0 * s["line"], 0.0, PULL))
        if b:
            for i in range(len(self.length)):
                out.append(("boom", lambda s, i=i: b * self.section_mass[i] * self.section_centres(s["extension"])[i]
                            / self.tips(s["extension"])[-1], self.section_margin[i], WEIGHTS))
        return [Mass(part, mass, margin, self.tip, kind) for part, mass, margin, kind in out]


# -------------------------------------------------------------------------------------------------- statics


def rotation(yaw, pitch, roll):
    c, s = math.cos, math.sin
    rz = np.array([[c(yaw), -s(yaw), 0], [s(yaw), c(yaw), 0], [0, 0, 1]])
    ry = np.array([[c(pitch), 0, s(pitch)], [0, 1, 0], [-s(pitch), 0, c(pitch)]])
    rx = np.array([[1, 0, 0], [0, c(roll), -s(roll)], [0, s(roll), c(roll)]])
    return rz @ ry @ rx


class Stance:
    """The machine on its contacts: pose of the chassis and the hull's corners, counter-clockwise."""

    def __init__(self, machine, result):
        pose = result["pose"]
        self.machine, self.origin = machine, np.array(pose["at_m"])
        self.turn = rotation(*(math.radians(pose[k]) for k in ("yaw_deg", "pitch_deg", "roll_deg")))
        names = {tuple(f["contact_m"]): f["name"] for f in result["feet"]}
        self.corners = np.array(result["support_polygon_m"])
        self.names = [names[tuple(c)] for c in result["support_polygon_m"]]
        self.contacts = np.array([f["contact_m"] for f in result["feet"]])
        self.springs = np.array([quantity(o.get("stiffness", "50 kN/m")) for o in machine.m["outriggers"]])
        criteria = machine.tree["criteria"]
        self.lean = quantity(criteria.get("set_error", 0.0)) + quantity(criteria.get("work_tilt", 0.0))
        ends = np.roll(self.corners, -1, axis=0)
        run = ends - self.corners
        self.axes = run / np.linalg.norm(run, axis=1)[:, None]
        self.plan = run[:, :2] / np.linalg.norm(run[:, :2], axis=1)[:, None]
        self.cos_psi = np.linalg.norm(self.axes[:, :2], axis=1)
        inward = np.column_stack([-self.plan[:, 1], self.plan[:, 0]])
        self.width = np.array([max((self.contacts[:, :2] - c[:2]) @ n) for c, n in zip(self.corners, inward)])

    def edge(self, names):
        pairs = list(zip(self.names, self.names[1:] + self.names[:1]))
        return pairs.index(tuple(names))

    def world(self, points):
        return self.origin + points @ self.turn.T


def collected(stance, case, states, payload_there):
    """Arrays over (load, state): lowest and highest factor, basic weights (N, pulls negative), points, part names."""
    machine = stance.machine
    loads = machine.weights() + machine.hanging(case, payload_there)
    n = len(states["slew"])
    weight = np.array([np.broadcast_to(m.mass(states) if callable(m.mass) else m.mass, n) for m in loads]) * machine.g
    top = np.array([1 + (0 if case.get("mass_margin") == "none" else m.margin) for m in loads])[:, None]
    point = np.array([stance.world(m.where(states)) for m in loads])
    return loads, weight, top, point


def arms(stance, edge, point):
    """Of every point: distance d inside the axis in plan, and v with v.u the arm of a unit force along u."""
    c, a = stance.corners[edge], stance.axes[edge]
    r = point - c
    d = (a[0] * r[..., 1] - a[1] * r[..., 0]) / stance.cos_psi[edge]
    turn = np.cross(np.broadcast_to(a, r.shape), r)  # -(r x u).a = -u.(a x r)
    return d, turn[..., :2]


def measures(stance, case, states, payload_there, edges=None, keys=MEASURES):
    """The measures `keys` at each edge and state: dict of arrays (edges, states).

    Gravity leans by `stance.lean` in the worst horizontal direction u: its pull is W (cos(phi) down + sin(phi) u).
    Masses lie between basic and basic * (1 + margin). Worst direction and worst masses are found by turns, for
    moment and clearance; the other measures are those of the masses of least moment, gravity leaning straight out."""
    loads, weight, top, point = collected(stance, case, states, payload_there)
    edges = range(len(stance.corners)) if edges is None else edges
    rows = [edge_measures(stance, e, loads, weight, top, point, keys) for e in edges]
    return {key: np.array([r[key] for r in rows]) for key in keys}


def reference_state(machine):
    """Slew of the operation nearest to ahead, all else at its least, one unit less than the container's."""
    envelope = Envelope(machine, {}, False)
    lo, hi = envelope.box[0]
    wrapped = [abs(math.remainder(x, 2 * math.pi)) for x in (lo, hi)]
    ahead = any(lo <= 2 * math.pi * k <= hi for k in range(-2, 3))
    slew = 0.0 if ahead else hi if wrapped[1] < wrapped[0] - 1e-12 else lo  # a tie takes the smaller number
    state = {"slew": slew, "luff": envelope.box[1, 0], "extension": envelope.extension[0],
             "travel": envelope.box[3, 0], "line": envelope.box[4, 0], "units": max(machine.units - 1, 0)}
    return {key: np.array([float(value)]) for key, value in state.items()}


def force_angle_reference(stance):
    """The least over the edges at the reference state, nothing factored, masses basic."""
    found = measures(stance, {"mass_margin": "none"}, reference_state(stance.machine), True, keys=("force angle",))
    return float(found["force angle"].min())


def edge_measures(stance, e, loads, weight, top, point, keys):
    phi, cos_psi = stance.lean, stance.cos_psi[e]
    d, v = arms(stance, e, point)
    up = weight * d * cos_psi * math.cos(phi)  # moment of the part that stays plumb
    side = weight[..., None] * v * math.sin(phi)  # its product with u is what leaning costs

    def worst(c):
        """Least of M - c * R_v * cos(psi) over masses and direction; c a number per state, R_v along gravity."""
        plumb = up - c * weight * cos_psi
        factor = np.ones_like(weight)
        for _ in range(8):
            total = (factor[..., None] * side).sum(axis=0)
            length = np.linalg.norm(total, axis=-1, keepdims=True)
            u = np.divide(total, length, out=np.zeros_like(total), where=length > 0)
            cost = (side * u).sum(axis=-1)
            new = np.where(plumb - cost < 0, top, 1.0)
            if (new == factor).all():
                break
            factor = new
        return factor, (factor * (up - cost)).sum(axis=0)

    factor, moment = worst(0.0)
    out = {"moment": moment}
    if {"clearance", "share"} & set(keys):
        clearance = moment / ((factor * weight).sum(axis=0) * cos_psi)
        for _ in range(12):  # Dinkelbach 1967: the least quotient over the same masses and directions
            f, m = worst(clearance)
            before, clearance = clearance, m / ((f * weight).sum(axis=0) * cos_psi)
            if np.allclose(before, clearance, rtol=1e-12, atol=1e-12):
                break
        out |= {"clearance": clearance, "share": clearance / stance.width[e]}
    outward = np.array([stance.plan[e][1], -stance.plan[e][0]])
    if "ratio" in keys:
        out["ratio"] = ratio(loads, factor * (up - side @ outward))
    if {"angle", "energy", "force angle"} & set(keys):
        out["angle"], out["energy"] = tip(stance, e, loads, factor * weight, point, outward)
        straight = (factor * (up - side @ outward)).sum(axis=0)  # of gravity leaning straight out, as the angle is
        out["force angle"] = out["angle"] * np.abs(straight)
    return out


def ratio(loads, moments):
    """Restoring over overturning, every declared body on the side of its own sign; infinite if none overturns."""
    parts = {}
    for load, moment in zip(loads, moments):
        parts[load.part] = parts.get(load.part, 0.0) + moment
    parts = np.array(list(parts.values()))
    overturning = -np.clip(parts, None, 0).sum(axis=0)
    turns = overturning > 0
    return np.where(turns, np.clip(parts, 0, None).sum(axis=0) / np.where(turns, overturning, 1), np.inf)


def tip(stance, e, loads, weight, point, outward):
    """Papadopoulos & Rey 1996 about the weights' centre r: theta = angle between l (from r to the axis) and
    f* = f + l x n / |l|, both normal to the axis; Messuri & Klein 1985: the work |f*| |l| (1 - cos theta) that lifts
    r over the axis, 0 when it is over already and none (NaN) where something pulls up."""
    a = stance.axes[e]
    is_weight = np.array([m.kind == WEIGHTS for m in loads])[:, None]
    own = np.where(is_weight, weight, 0.0)
    r = (own[..., None] * point).sum(axis=0) / own.sum(axis=0)[:, None]
    direction = np.array([*(math.sin(stance.lean) * outward), -math.cos(stance.lean)])
    force = weight.sum(axis=0)[:, None] * direction
    couple = np.cross(point - r, weight[..., None] * direction).sum(axis=0)
    to_axis = stance.corners[e] - r
    l = to_axis - (to_axis @ a)[:, None] * a
    arm = np.linalg.norm(l, axis=1)
    f = force - (force @ a)[:, None] * a
    n = (couple @ a)[:, None] * a
    pull = f + np.cross(l / arm[:, None], n) / arm[:, None]
    size = np.linalg.norm(pull, axis=1)
    # inside where (l x f*).a points along the edge: counter-clockwise edges, hull on their left
    inside = (np.cross(l, pull) @ a) > 0
    theta = np.arccos(np.clip((l * pull).sum(axis=1) / (arm * size), -1, 1)) * np.where(inside, 1, -1)
    energy = np.where(inside, size * arm * (1 - np.cos(theta)), 0.0)
    return theta, energy if is_weight.all() else np.full_like(energy, np.nan)


def reactions(contacts, springs, weight, point):
    """A rigid plate on upward-only springs: N_i = k_i (p + q x_i + r y_i) >= 0, by trial of the lifted set."""
    scale = contacts[:, :2].mean(axis=0)
    x = np.column_stack([np.ones(len(contacts)), contacts[:, :2] - scale])
    total = weight.sum(axis=0)
    load = np.column_stack([total, (weight[..., None] * (point[..., :2] - scale)).sum(axis=0)])
    out = np.full((len(total), len(contacts)), np.nan)
    open_ = np.ones(len(total), bool)
    for size in range(len(contacts), 2, -1):
        for down in map(list, itertools.combinations(range(len(contacts)), size)):
            stiff = (x[down] * springs[down, None]).T @ x[down]
            if abs(np.linalg.det(stiff)) < 1e-9 * springs.max()**3:
                continue
            sink = np.linalg.solve(stiff, load.T).T @ x.T * springs
            held = np.isin(np.arange(len(contacts)), down)
            good = open_ & (sink[:, held] >= -1e-9 * total[:, None]).all(axis=1) & (sink[:, ~held] <= 0).all(axis=1)
            out[good] = np.where(held, sink[good], 0.0)
            open_ &= ~good
    return out


# -------------------------------------------------------------------------------------------------- envelope


class Envelope:
    """The states of the operation or of its transit: box (slew, luff, share of the extension allowed there,
    travel, line), so that reach and height cuts are met by construction; units one by one."""

    def __init__(self, machine, keys, transit, reach=None):
        tree = machine.tree["operation"]
        self.machine, self.transit = machine, transit
        own = tree["transit"] if transit else {}

        def get(key, default):
            return own.get(key, tree.get(key, default))
        slew = get("slew", machine.m["platform"].get("slew_range", "[-180, 180] deg"))
        slew = (-math.pi, math.pi) if slew == "all" else interval(slew)
        total = machine.stroke.sum()
        self.extension = interval(get("extension", [0.0, float(total)]))
        luff = interval(get("luff", machine.m["boom"]["luff_range"]))
        luff = (luff[1], luff[1]) if keys.get("luff") == "steepest" else luff
        travel = get("counterweight", interval(machine.guide["travel"])[0] if machine.guide else 0.0)
        travel = interval(travel)
        travel = (travel[1], travel[1]) if keys.get("counterweight") == "end" else travel
        line = interval(0.0 if transit else tree.get("line", 0.0))
        if transit and "line" in own:
            line = interval(own["line"])
        self.box = np.array([slew, luff, (0.0, 1.0), travel, line])
        cut = own if transit else tree
        self.cut = interval(cut["reach"]) if "reach" in cut else None
        if reach is not None:
            self.cut = (reach, reach)
        self.height = interval(cut["tip_height"]) if "tip_height" in cut else None
        self.payload = not (transit and own.get("payload") == "none")

    def states(self, x):
        """x (N, 5) in the box -> states and which of them exist."""
        m = self.machine
        luff = x[:, 1]
        lo = np.full(len(x), m.length[0] + self.extension[0])
        hi = np.full(len(x), m.length[0] + self.extension[1])
        with np.errstate(divide="ignore", invalid="ignore"):
            if self.cut:
                ends = [(math.sqrt(c * c - m.foot_pin[1]**2) - m.foot_pin[0]) / np.cos(luff) for c in self.cut]
                lo, hi = np.maximum(lo, ends[0]), np.minimum(hi, ends[1])
            if self.height:
                ends = [(h - m.axis[2] - m.foot_pin[2]) / np.sin(luff) for h in self.height]
                lo, hi = np.maximum(lo, np.minimum(*ends)), np.minimum(hi, np.maximum(*ends))
        there = lo <= hi + 1e-12
        e = lo + x[:, 2] * np.maximum(hi - lo, 0) - m.length[0]
        return {"slew": x[:, 0], "luff": luff, "extension": e, "travel": x[:, 3], "line": x[:, 4]}, there


TRIALS = 12  # per start and round of the random search


def least(stance, cases, key, reach=None, domains=(False, True), edges=None, grid=(13, 6, 3), seed=1):
    """Least of a measure over cases, edges and states: a grid, then shrinking random search from its best cells."""
    best = (math.inf, None)
    tree = stance.machine.tree["operation"]
    for transit in domains:
        if transit and "transit" not in tree:
            continue
        for case in cases:
            env = Envelope(stance.machine, case, transit, reach)
            there = env.payload and case.get("payload") != "none"
            last = stance.machine.units - (1 if there else 0)
            for units in range(max(last, 0) + 1):
                if key in ("moment", "clearance", "share", "ratio", "angle") and 0 < units < last:
                    continue
                value, at = searched(stance, case, env, units, key, edges, grid, seed)
                if value < best[0]:
                    best = (value, {**at, "case": case["name"], "units": units, "transit": transit})
    return best


def searched(stance, case, env, units, key, edges, grid, seed):
    rng = np.random.default_rng(seed)
    span = env.box[:, 1] - env.box[:, 0]

    def evaluate(x):
        states, there = env.states(x)
        states["units"] = np.full(len(x), float(units))
        if not there.any():
            return np.full((1, len(x)), np.inf)
        value = measures(stance, case, states, env.payload, edges, (key,))[key]
        return np.where(there & ~np.isnan(value), value, np.inf)

    counts = [*grid, 2, 2]
    ticks = [np.linspace(lo, hi, n if hi > lo else 1) for (lo, hi), n in zip(env.box, counts)]
    x = np.array(list(itertools.product(*ticks)))
    value = evaluate(x).min(axis=0)
    keep = np.argsort(value)[:4]
    x, value = x[keep], value[keep]
    size = span / np.array([max(n - 1, 1) for n in counts])
    for _ in range(28):
        trial = np.repeat(x, TRIALS, axis=0) + rng.uniform(-1, 1, (TRIALS * len(x), 5)) * size
        moved = rng.random(trial.shape) < 0.6
        trial = np.clip(np.where(moved, trial, np.repeat(x, TRIALS, axis=0)), env.box[:, 0], env.box[:, 1])
        found = evaluate(trial).min(axis=0).reshape(len(x), TRIALS)
        pick = found.argmin(axis=1)
        better = found[np.arange(len(x)), pick] < value
        x[better] = trial.reshape(len(x), TRIALS, 5)[np.arange(len(x)), pick][better]
        value = np.where(better, found.min(axis=1), value)
        size = size * 0.65
    i = value.argmin()
    states, _ = env.states(x[i:i + 1])
    return value[i], {k: float(v[0]) for k, v in states.items()}

