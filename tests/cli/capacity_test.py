"""`capacity` as a user runs it. usage: capacity_test.py PROGRAM REPOSITORY"""
import csv
import io
import json
import pathlib
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ElementTree
import zipfile

PROGRAM, ROOT = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2])
DEMO = ROOT / "examples/01_dunlin_at_kettle/scenario.yaml"


def run(command, *words, status):
    done = subprocess.run([str(PROGRAM), command, str(DEMO), "--quiet", *words], capture_output=True, text=True,
                          timeout=120)
    assert done.returncode == status, f"status {done.returncode}, expected {status}\n{done.stderr}{done.stdout}"
    return done.stdout


def cells(*words, status):
    return json.loads(run("capacity", "--json", *words, status=status))


def payload(mass):
    return ("--set", f"payload.mass={mass!r} kg")


def spreadsheet(path):
    """Sheets by name, each a list of rows of texts; no cell is a formula."""
    space = {"m": "http://schemas.openxmlformats.org/spreadsheetml/2006/main"}
    with zipfile.ZipFile(path) as archive:
        shared = ["".join(t.text or "" for t in item.iter("{%s}t" % space["m"]))
                  for item in ElementTree.fromstring(archive.read("xl/sharedStrings.xml"))]
        names = [s.get("name") for s in ElementTree.fromstring(archive.read("xl/workbook.xml")).find("m:sheets", space)]
        book = {}
        for number, name in enumerate(names, 1):
            sheet = ElementTree.fromstring(archive.read(f"xl/worksheets/sheet{number}.xml"))
            assert sheet.find(".//m:pane", space).get("state") == "frozen" and sheet.find(".//m:f", space) is None
            book[name] = [[shared[int(c.find("m:v", space).text)] if c.get("t") == "s"
                           else (c.find("m:v", space).text if c.find("m:v", space) is not None else None)
                           for c in row] for row in sheet.find("m:sheetData", space)]
    return book


def least_of(result):
    return min((c for c in result["cells"] if c["capacity_kg"] is not None), key=lambda c: c["capacity_kg"])


result = cells(status=0)
worst = least_of(result)
assert result["ok"] and result["violations"] == []
assert worst["capacity_kg"] >= result["payload_kg"]
assert worst["governed_by"] == "tipping" and worst["load_case"] and len(worst["edge"]) == 2, worst
assert result["as_set"]["cells"] == result["cells"]
sectors = [c["slew_deg"] for c in result["cells"] if c["reach_m"] == result["cells"][0]["reach_m"]]
assert all(a[1] == b[0] for a, b in zip(sectors, sectors[1:])), "the slew cells tile the operation's slew"

# What the least cell carries, `stand` accepts everywhere; a little more, it refuses for the same case and edge.
run("stand", *payload(worst["capacity_kg"] * (1 - 1e-6)), status=0)
over = json.loads(run("stand", "--json", *payload(worst["capacity_kg"] * (1 + 2e-4)), status=1))
broken = over["violations"][0]
assert broken["criterion"] == "load_case:" + worst["load_case"], broken
assert all(name in broken["where"] for name in worst["edge"]), broken

# A payload beyond one limit after the other: each has its criterion.
hoist = next(c for c in result["cells"] if c["governed_by"] == "hoist")
heavy = json.loads(run("stand", "--json", *payload(hoist["capacity_kg"] * 1.001), status=1))
assert "hoist" in [v["criterion"] for v in heavy["violations"]], heavy["violations"]
legs = json.loads(run("stand", "--json", "--set", "machine.outriggers.front-left.leg_limit=400 N", status=1))
assert {"leg_limit"} == {v["criterion"] for v in legs["violations"]}, legs["violations"]
assert legs["violations"][0]["where"] == "front-left"
boom = json.loads(run("stand", "--json", "--set", "machine.boom.structural_limit={rows: [{reach: 5 m, load: 90 N}]}",
                      status=1))
assert {"structural"} <= {v["criterion"] for v in boom["violations"]}, boom["violations"]

# More payload than some cell carries: status 1, the reaches named.
too_much = cells(*payload(60.0), status=1)
assert not too_much["ok"] and all(v["value"] < v["limit"] == 60 for v in too_much["violations"])

with tempfile.TemporaryDirectory() as folder:
    text = run("capacity", "-o", folder, "--reaches", "5", "--slew-step", "20deg", status=0)
    assert text.startswith("CARRIES")
    written = {p.name for p in pathlib.Path(folder).iterdir()}
    assert written == {"capacity.json", "capacity.txt", "capacity.csv", "capacity.xlsx", "capacity.svg",
                       "capacity_polar.svg"}, written
    described = json.loads((pathlib.Path(folder) / "capacity.json").read_text())
    rows = list(csv.DictReader(io.StringIO((pathlib.Path(folder) / "capacity.csv").read_text())))
    assert len({c["reach_m"] for c in described["cells"]}) == 5 and len(rows) == len(described["cells"])
    assert [float(r["capacity [kg]"]) for r in rows] == [c["capacity_kg"] for c in described["cells"]]
    book = spreadsheet(pathlib.Path(folder) / "capacity.xlsx")
    assert list(book) == ["capacity", "cells", "notes"], list(book)
    head, *body = book["cells"]
    assert head[:4] == ["reach [m]", "slew from [deg]", "slew to [deg]", "capacity [kg]"], head
    close = [abs(float(r[3]) - c["capacity_kg"]) <= 1e-14 * c["capacity_kg"] for r, c in zip(body, described["cells"])]
    assert len(body) == len(close) == len(described["cells"]) and all(close)
    matrix = book["capacity"][1:]
    assert len(matrix) == 5 and [float(x) for row in matrix for x in row[1:]] == [float(r[3]) for r in body]
    again = pathlib.Path(folder) / "again"
    run("capacity", "-o", str(again), "--reaches", "5", "--slew-step", "20deg", status=0)
    assert (again / "capacity.xlsx").read_bytes() == (pathlib.Path(folder) / "capacity.xlsx").read_bytes()

# By setting: luff and extension at stations with both ends; what the cuts leave out has no state, and why.
settings = cells("--by", "setting", "--luffs", "4", "--extensions", "3", "--slew-step", "140deg",
                 "--set", "operation.reach=[2.2 m, 6 m]", status=0)
assert [(round(c["luff_deg"], 9), round(c["extension_m"], 9)) for c in settings["cells"]] == [
    (luff, extension) for luff in (20, 35, 50, 65) for extension in (0, 1.8, 3.6)], settings["cells"]
assert settings["by"] == "setting" and "least_by_reach" not in settings
for c in settings["cells"]:
    inside = 2.2 <= c["reach_m"] <= 6
    assert (c["capacity_kg"] is not None) == inside and ("capacity_kg_reason" in c) == (not inside), c
assert any(c["capacity_kg"] is None for c in settings["cells"])

# Its chart: extension against luff, every limit that governs a cell in the legend, the least capacity among the facts.
with tempfile.TemporaryDirectory() as folder:
    run("capacity", "--by", "setting", "-o", folder, status=0)
    assert {p.name for p in pathlib.Path(folder).iterdir()} >= {"capacity.svg", "capacity.csv"}
    assert not (pathlib.Path(folder) / "capacity_polar.svg").exists()
    chart = (pathlib.Path(folder) / "capacity.svg").read_text()
    described = json.loads((pathlib.Path(folder) / "capacity.json").read_text())
    governing = {c["governed_by"] for c in described["cells"] if c["capacity_kg"] is not None}
    words = {"tipping": "the margin of a load case", "hoist": "pull of the line"}
    assert governing <= set(words) and all(words[g] in chart for g in governing), governing
    least = min(c["capacity_kg"] for c in described["cells"] if c["capacity_kg"] is not None)
    assert f"{least:.2f} kg" in chart and "luff [deg]" in chart and "extension [m]" in chart

# A limit met without payload is listed with its edge and case, however many there are.
weak = cells("--reaches", "2", "--slew-step", "140deg", "--set", "criteria.load_cases=[{ name: a, margin: "
             "{ clearance: 3 m } }, { name: b, margin: { clearance: 3 m } }]", status=1)
met = {(m["load_case"], tuple(m["edge"])) for m in weak["cells"][0]["met_without_load"]}
assert weak["cells"][0]["capacity_kg"] == 0 and {load_case for load_case, _ in met} == {"a", "b"}, met
assert len({edge for _, edge in met}) >= 2 and all(not c["met_without_load"] for c in result["cells"]), met

refused = subprocess.run([str(PROGRAM), "capacity", str(DEMO), "--slew-step", "10"], capture_output=True, text=True)
assert refused.returncode == 2 and "--slew-step" in refused.stderr and not refused.stdout, refused
