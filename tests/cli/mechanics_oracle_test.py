"""`stand --json` against an independent reckoning. usage: mechanics_oracle_test.py PROGRAM REPOSITORY

Reported states are recomputed to 1e-6 of the value, and a dense search of the envelope must not find a state that
is worse than the program certifies. The formulas and their sources are in mechanics_oracle.py.
"""
import json
import math
import pathlib
import subprocess
import sys
import tempfile
import unittest

try:
    import yaml

    import mechanics_oracle as oracle
    import numpy as np
except ImportError as missing:
    print(f"skipped: {missing.name} is not installed (python3-numpy, python3-yaml)")
    sys.exit(77)

PROGRAM, ROOT = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2])
DEMO = ROOT / "examples/01_dunlin_at_kettle/scenario.yaml"
NAMES = {"moment_Nm": "moment", "clearance_m": "clearance", "moment_ratio": "ratio", "tip_angle_deg": "angle",
         "energy_J": "energy", "load_side_share": "share", "force_angle": "force angle"}
SHARE = {"load_side_share": "15 %"}
# The presets as the trade has them: 1.25 P + 0.1 F (ISO 4305, by analogy), 15 % on the load side (SAE J1289, by
# analogy), 85 % of the tipping load; clauses from memory.
STUDY = [{"name": "forward", "load_factor": 1.25, "boom_factor": 0.1},
         {"name": "unloaded", "payload": "none", "margin": SHARE},
         {"name": "released", "release": 1.0, "margin": SHARE},
         {"name": "head-down", "payload": "none", "head": "down", "margin": SHARE},
         {"name": "snag", "stall": 1.25}]
PRESETS = {"study-default": STUDY, "tipping-85": [{"name": "by-tipping-load", "tipping_load": "85 %"}]}


def plumb(*more):
    return ("criteria.set_error=0 deg", *more)


class Agreement(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = pathlib.Path(folder.name)

    def ask(self, overrides=(), change=None):
        """The program's result, our stance on its contacts and the load cases; `change` edits the scenario."""
        scenario = DEMO
        if change:
            tree = oracle.load_scenario(DEMO)
            change(tree)
            scenario = self.folder / "changed.yaml"
            scenario.write_text(yaml.safe_dump(tree, sort_keys=False))
        words = [word for o in overrides for word in ("--set", o)]
        done = subprocess.run([str(PROGRAM), "stand", str(scenario), "--json", "--quiet", *words],
                              capture_output=True, timeout=60)
        self.assertIn(done.returncode, (0, 1), done.stderr.decode())
        result = json.loads(done.stdout)
        tree = oracle.load_scenario(scenario, overrides)
        criteria = tree["criteria"]
        cases = criteria["load_cases"] if "load_cases" in criteria else PRESETS[criteria["preset"]]
        return result, oracle.Stance(oracle.Machine(tree), result), cases

    def near(self, got, want, what, relative=1e-6):
        self.assertLessEqual(abs(got - want), relative * max(abs(want), 1e-3), f"{what}: {got!r}, {want!r} expected")

    def at(self, stance, cases, where):
        """Our measures at a reported state and edge."""
        case = next(c for c in cases if c["name"] == where["load_case"])
        state = {"slew": math.radians(where["slew_deg"]), "luff": math.radians(where["luff_deg"]),
                 "extension": where["extension_m"], "travel": where["travel_m"], "line": where["line_m"],
                 "units": where["units_left"]}
        state = {key: np.array([float(value)]) for key, value in state.items()}
        transit = stance.machine.tree["operation"].get("transit", {})
        payload = not (where["transit"] and transit.get("payload") == "none")
        found = oracle.measures(stance, case, state, payload, [stance.edge(where["edge"])])
        found = {key: float(value[0, 0]) for key, value in found.items()}
        found["angle"] = math.degrees(found["angle"])
        found["force angle"] /= oracle.force_angle_reference(stance)
        self.near(where["reach_m"], float(stance.machine.reach(state)[0]), "reach")
        return found

    def states_agree(self, result, stance, cases):
        # Where gravity leans, the program takes what an inclined edge costs beyond leaning straight out at the
        # masses of least moment; at those of least clearance it is some millionths of a clearance less.
        loose = {"clearance_m": 1e-5, "load_side_share": 1e-5} if stance.lean > 0 else {}
        whole = {"worst": result["worst"], "at job": result["at_job"],
                 **{case["name"]: case["worst"] for case in result["load_cases"]}}
        for label, where in whole.items():
            if where is None:
                continue
            ours = self.at(stance, cases, where)
            for key, name in NAMES.items():
                if where.get(key) is not None:
                    self.near(where[key], ours[name], f"{label}, {key}", loose.get(key, 1e-6))
                else:  # nothing overturns, or a pull has no energy
                    self.assertFalse(math.isfinite(ours[name]), f"{label}, {key}")
        for key, where in result["least"].items():
            self.assertIsNotNone(where["certified_gap"], key)
            self.near(where["value"], self.at(stance, cases, where)[NAMES[key]], f"least {key}", loose.get(key, 1e-6))
        for case in result["load_cases"]:
            where = case["decides"]
            self.near(where["value"], self.at(stance, cases, where)[NAMES[where["by"]]], f"{case['name']} decides",
                      loose.get(where["by"], 1e-6))

    def none_is_worse(self, result, stance, cases, keys):
        """A dense search finds nothing below what is certified, and no more than the search's width above it."""
        for key in keys:
            where = result["worst"] if key == "moment_Nm" else result["least"][key]
            value, gap = (where[key], where["certified_gap_Nm"]) if key == "moment_Nm" else (
                where["value"], where["certified_gap"])
            use = [c for c in cases if key != "energy_J" or not {"release", "stall"} & c.keys()]
            found, state = oracle.least(stance, use, NAMES[key])
            found = math.degrees(found) if key == "tip_angle_deg" else found
            found = found / oracle.force_angle_reference(stance) if key == "force_angle" else found
            self.assertGreaterEqual(found, value - gap - 1e-9 * abs(value), f"{key} at {state}")
            self.assertLessEqual(found, value + gap + 1e-3 * abs(value), f"{key}: the search is too coarse")

    # --- ground and pose

    def test_pads_rest_on_the_clipped_facets_and_strokes_reach_down_to_them(self):
        for overrides in ((), ('spot.at="[-24, 14] m"', "spot.yaw=20 deg")):
            result, stance, _ = self.ask(overrides)
            machine = stance.machine
            ground = oracle.Ground(*oracle.read_ply(machine.tree["terrain"]["file"]))
            for foot, outrigger in zip(result["feet"], machine.m["outriggers"]):
                contact = np.array(foot["contact_m"])
                pad = oracle.patch(ground, contact[:2], oracle.quantity(outrigger["pad_radius"]))
                # the disc is a polygon here: micrometres
                self.assertAlmostEqual(contact[2], pad["rest"], delta=1e-6)
                self.assertAlmostEqual(foot["largest_residual_m"], pad["residual"], delta=1e-6)
                self.near(foot["ground_slope_deg"], math.degrees(pad["slope"]), "slope", 1e-4)
                reached = stance.world(machine.foot(outrigger, foot["stroke_m"]))
                self.assertLess(np.abs(reached - contact).max(), 1e-9)

    def test_the_lowest_height_that_all_bounds_allow_is_taken(self):
        result, stance, _ = self.ask()
        machine, z = stance.machine, result["pose"]["at_m"][2]
        legs = list(zip(result["feet"], machine.m["outriggers"]))
        bound = [[f["contact_m"][2] + oracle.quantity(o["drop"]) - oracle.quantity(o["pivot"])[2] + s
                  for s in oracle.interval(o["stroke"])] for f, o in legs]
        kept = 0.02  # study-default keeps 20 mm of stroke in hand and 20 mm under every wheel
        lowest = [max(b[0] for b in bound) + kept]
        ground = oracle.Ground(*oracle.read_ply(machine.tree["terrain"]["file"]))
        for wheel, said in zip(machine.m["chassis"]["wheels"], result["levelling"]["wheel_clearance_m"]):
            radius, width, at = (oracle.quantity(wheel[k]) for k in ("radius", "width", "at"))
            x, y = (a.ravel() for a in np.meshgrid(np.linspace(-radius, radius, 61),
                                                   np.linspace(-width / 2, width / 2, 9)))
            under = stance.world(at + np.column_stack([x, y, -np.sqrt(np.clip(radius**2 - x**2, 0, None))]))
            sampled = np.min(under[:, 2] - ground.height(under[:, :2]))
            self.assertGreaterEqual(sampled, said - 1e-9)  # samples miss the highest point, never exceed it
            self.assertLess(sampled, said + 2e-3)
            lowest.append(z - said + max(oracle.quantity(wheel["clearance"]), kept))
        belly = machine.m["chassis"]["belly"]
        lowest.append(z - result["levelling"]["belly_clearance_m"] + oracle.quantity(belly["clearance"]))
        lo, hi = result["levelling"]["height_interval_m"]
        self.assertAlmostEqual(lo, max(lowest), delta=1e-9)
        self.assertAlmostEqual(hi, min(b[1] for b in bound) - kept, delta=1e-9)
        self.assertAlmostEqual(z, lo, delta=1e-9)

    # --- statics

    def test_mass_and_centres_are_the_sums_of_the_reference_state(self):
        result, stance, _ = self.ask(("operation.line=\"[4, 40] m\"",))
        machine, envelope = stance.machine, oracle.Envelope(stance.machine, {}, False)
        state = {"slew": 0.0, "luff": envelope.box[1, 0], "extension": envelope.extension[0],
                 "travel": envelope.box[3, 0], "line": envelope.box[4, 0], "units": machine.units - 1}
        state = {key: np.array([float(value)]) for key, value in state.items()}
        loads, weight, _, point = oracle.collected(stance, {}, state, True)
        self.near(result["weight_N"], weight.sum(), "weight")
        self.near(result["mass_kg"], weight.sum() / machine.g, "mass")
        for key, drop in (("tipping_centre_m", 0.0), ("centre_of_mass_m", 4.0)):
            lowered = np.array([p - [0, 0, drop if load.part == "hung" else 0] for load, p in zip(loads, point)])
            centre = (weight[..., None] * lowered).sum(axis=(0, 1)) / weight.sum()
            self.assertLess(np.abs(centre - result[key]).max(), 1e-9, key)

    def test_reactions_of_four_equal_springs_bound_a_fine_grid_of_states(self):
        result, stance, cases = self.ask(plumb('machine.outriggers.*.splay=60 deg'))
        self.assertIs(result["lifts_off"], False)
        low, high = self.reaction_range(stance, cases)
        for foot, least, most in zip(result["feet"], low, high):
            self.assertLessEqual(foot["reaction_min_N"], least + 1e-6)
            self.assertGreaterEqual(foot["reaction_max_N"], most - 1e-6)
            self.assertGreater(foot["reaction_min_N"], least - 0.01 * most)  # width of the grid
            self.assertLess(foot["reaction_max_N"], 1.01 * most)

    def reaction_range(self, stance, cases):
        """Bodies that add to a foot's force with their margin, the others basic; the reverse for the least."""
        low, high = np.full(4, np.inf), np.full(4, -np.inf)
        plan = np.column_stack([np.ones(4), stance.contacts[:, :2] - stance.contacts[0, :2]])
        flex = np.linalg.inv((plan * stance.springs[:, None]).T @ plan)
        for case in cases:
            case = {key: value for key, value in case.items() if key != "boom_factor"}  # in moments only
            for transit in (False, True):
                envelope = oracle.Envelope(stance.machine, case, transit)
                there = envelope.payload and case.get("payload") != "none"
                ticks = [np.linspace(lo, hi, n if hi > lo else 1)
                         for (lo, hi), n in zip(envelope.box, (37, 7, 3, 2, 2))]
                grid = np.array(np.meshgrid(*ticks)).reshape(5, -1).T
                grid = grid[envelope.states(grid)[1]]
                for units in range(stance.machine.units + (0 if there else 1)):
                    state, _ = envelope.states(grid)
                    state["units"] = np.full(len(grid), float(units))
                    _, weight, top, point = oracle.collected(stance, case, state, envelope.payload)
                    for foot in range(4):
                        reach = stance.springs[foot] * flex @ plan[foot]
                        share = reach[0] + (point[..., :2] - stance.contacts[0, :2]) @ reach[1:]
                        for sign, keep in ((1, high), (-1, low)):
                            grown = weight * np.where(sign * weight * share > 0, top, 1.0)
                            force = oracle.reactions(stance.contacts, stance.springs, grown, point)[:, foot]
                            keep[foot] = sign * max(sign * keep[foot], np.nanmax(sign * force))
        return low, high

    def test_the_demo_agrees_and_nothing_worse_is_found(self):
        result, stance, cases = self.ask()
        self.states_agree(result, stance, cases)
        self.none_is_worse(result, stance, cases, ("moment_Nm", "clearance_m", "tip_angle_deg"))

    def test_a_pose_that_cannot_be_levelled_agrees(self):
        result, stance, cases = self.ask(plumb('spot.at="[-21.6, 12.5] m"', "spot.yaw=-30 deg"))
        self.assertIs(result["levelling"]["feasible"], False)
        self.assertGreater(result["pose"]["tilt_deg"], 0.5)
        self.states_agree(result, stance, cases)
        self.none_is_worse(result, stance, cases, ("moment_Nm",))

    def test_leaning_gravity_agrees(self):
        for lean in ("criteria.set_error=2 deg", "criteria.work_tilt=1.5 deg"):
            self.states_agree(*self.ask((lean,)))

    def test_margins_on_every_kind_of_body_take_their_sign_at_the_state(self):
        def change(tree):
            machine = tree["machine"]
            for item in machine["boom"]["sections"] + machine["outriggers"]:
                item["margin"] = "20 %"
            machine["container"]["margin"] = "10 %"
        for lean in ("0 deg", "1 deg"):
            self.states_agree(*self.ask((f"criteria.set_error={lean}",), change))

    def test_three_sections_running_out_in_order_agree(self):
        def change(tree):
            tree["machine"]["boom"] |= {"order": "in-order", "sections": [
                {"length": "3.2 m", "mass": "20 kg"}, {"length": "3 m", "stroke": "2.4 m", "mass": "12 kg"},
                {"length": "2.4 m", "stroke": "2 m", "mass": "8 kg", "centre_at": 0.4, "margin": "20 %"}]}
            tree["operation"]["extension"] = "[0, 4.4] m"
        result, stance, cases = self.ask(plumb(), change)
        self.states_agree(result, stance, cases)
        self.none_is_worse(result, stance, cases, ("moment_Nm",))

    def test_three_outriggers_agree(self):
        def change(tree):
            feet = tree["machine"]["outriggers"]
            del feet[3]
            feet[0]["splay"] = feet[1]["splay"] = "60 deg"
            feet[2] |= {"name": "rear", "pivot": "[-0.7, 0, 0.5] m", "zero": "180 deg", "sense": 1, "splay": "0 deg"}
        result, stance, cases = self.ask(plumb('spot.at="[-24, 14] m"'), change)
        self.assertEqual(len(result["support_polygon_m"]), 3)
        self.states_agree(result, stance, cases)

    def test_container_and_guide_on_the_chassis_agree(self):
        def change(tree):
            tree["machine"]["container"]["mount"] = "chassis"
            tree["machine"]["guide"] |= {"mount": "chassis", "start": "[-0.4, 0, 1.1] m"}
        self.states_agree(*self.ask(plumb(), change))

    def test_other_envelopes_gravities_and_presets_agree(self):
        for overrides in (plumb("operation.slew=all"), plumb('operation.slew="[170, 190] deg"'),
                          plumb("operation.slew=30 deg"), plumb("gravity=earth"), plumb("criteria.preset=tipping-85"),
                          plumb('operation.counterweight="[0, 1.4] m"')):
            with self.subTest(overrides):
                self.states_agree(*self.ask(overrides))

    def test_cuts_and_a_boom_foot_beside_the_slew_axis_agree(self):
        def change(tree):
            tree["machine"]["boom"]["foot"] = "[-0.1, 0.4, 0.35] m"
            tree["operation"]["tip_height"] = "[2.5, 5.5] m"
            tree["operation"]["transit"] |= {"luff": "[10, 65] deg", "extension": "[0, 1] m", "line": "[0, 2] m"}
        result, stance, cases = self.ask(plumb(), change)
        self.states_agree(result, stance, cases)
        self.none_is_worse(result, stance, cases, ("moment_Nm",))

    def test_narrowed_cases_and_other_margins_agree(self):
        def change(tree):
            tree["criteria"]["load_cases"] = [
                {"name": "narrow", "payload": "none", "luff": "steepest", "counterweight": "end", "margin": SHARE},
                {"name": "weak release", "release": 0.6, "margin": {"clearance": "0.1 m"}},
                {"name": "angle", "load_factor": 1.25, "boom_factor": 0.1, "margin": {"tip_angle": "2 deg"}},
                {"name": "basic", "mass_margin": "none", "load_factor": 1.1, "margin": {"moment_ratio": 1.2}},
                {"name": "energy", "margin": {"energy": "5 J"}}]
        self.states_agree(*self.ask(plumb(), change))


    def test_lifting_off_and_a_snag_agree_and_nothing_worse_is_found(self):
        def change(tree):
            tree["operation"]["line"] = "[3, 40] m"
            tree["criteria"]["load_cases"] = [
                {"name": "lift", "hoisting": "physics", "margin": {"force_angle": 0.05}},
                {"name": "head lift", "hoisting": "physics", "payload": "none", "margin": SHARE},
                {"name": "standard", "hoisting": 1.3, "load_factor": 1.1},
                {"name": "snag", "stall": "110 %", "boom_factor": 0.1, "margin": {"tip_angle": "1 deg"}}]
        result, stance, cases = self.ask(plumb(), change)
        self.states_agree(result, stance, cases)
        self.none_is_worse(result, stance, cases, ("moment_Nm", "force_angle"))
        for case, said in zip(cases, result["load_cases"]):
            if "hoisting" in case:
                self.near(said["hoisting_factor"], stance.machine.hoisting(case), case["name"])

    def test_a_snag_is_held_at_the_setting_of_the_cut_out_and_not_above_it(self):
        def change(tree):
            tree["machine"]["hoist"]["line_pull"] = "300 N"
        result, _, _ = self.ask(plumb(), change)
        hoist = result["hoist"]
        self.near(hoist["stall_pull_N"], 375.0, "stall")
        snag = next(c for c in result["load_cases"] if c["name"] == "snag")
        self.assertIs(snag["ok"], False)
        self.assertLess(hoist["cut_out_N"], hoist["stall_pull_N"])
        for factor, ok in ((1 - 1e-7, True), (1 + 1e-5, False)):
            pull = hoist["cut_out_N"] * factor / 1.25
            again, _, _ = self.ask(plumb(f"machine.hoist.line_pull={pull!r} N"))
            self.assertIs(next(c for c in again["load_cases"] if c["name"] == "snag")["ok"], ok)

    def test_a_snag_of_a_hoist_without_pull_is_named_with_its_reason(self):
        def change(tree):
            del tree["machine"]["hoist"]["line_pull"]
        result, _, _ = self.ask(plumb(), change)
        self.assertIn("load_case:snag", result["not_evaluated"])
        self.assertTrue(any("load_case:snag (hoist.line_pull" in c for c in result["cautions"]))


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
