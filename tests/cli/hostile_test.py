"""The program against hostile files and a hostile machine: damaged files of every format, names, streams, limits.
usage: hostile_test.py PROGRAM REPOSITORY [--mutants N] [--seed N] [--sanitized] [--keep DIR] [unittest words]
A mutant is a function of the seed and its number, so a failure can be repeated; --keep names where it is left.
Under a sanitizer (--sanitized) memory limits and times say nothing and are not set."""
import argparse
import concurrent.futures
import json
import os
import pathlib
import random
import re
import resource
import signal
import struct
import subprocess
import sys
import tempfile
import threading
import unittest

import hostile_seeds

HOLDS, VIOLATED, INPUT, SYSTEM = 0, 1, 2, 3
MEGABYTE = 1 << 20


def options():
    parser = argparse.ArgumentParser()
    parser.add_argument("program", type=pathlib.Path)
    parser.add_argument("repository", type=pathlib.Path)
    parser.add_argument("--mutants", type=int, default=int(os.environ.get("RIMSTANCE_MUTANTS", "300")))
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--sanitized", action="store_true")
    parser.add_argument("--keep", type=pathlib.Path, default=pathlib.Path("."))
    return parser.parse_known_args()


ASKED, REST = options()
PROGRAM, ROOT = ASKED.program.resolve(), ASKED.repository.resolve()
IMPORT = PROGRAM.parent / "rimstance-import"


def limited(seconds):
    """So much processor time and 1 GB of addresses; the import program sets its own limits. The soft limits only."""
    if ASKED.sanitized:
        return []
    return ["prlimit", f"--as={1 << 30}:", f"--cpu={seconds}:"]


def run(*words, seconds=60, **how):
    """Status (negative: the signal), standard output and error."""
    how.setdefault("stdin", subprocess.DEVNULL)
    how.setdefault("stdout", subprocess.PIPE)
    how.setdefault("stderr", subprocess.PIPE)
    done = subprocess.run([os.fsencode(w) if isinstance(w, (str, os.PathLike)) else w for w in words], timeout=seconds,
                          **how)
    return done.returncode, done.stdout or b"", done.stderr or b""


# ---- what was wrong with an answer, as text; nothing if it is right ---------------------------------------------


def steers(text):
    """Bytes that a terminal obeys instead of showing."""
    clean = re.sub(rb"\xc2[\x80-\x9f]|\xe2\x80[\xa8-\xae]|\xe2\x81[\xa6-\xa9]", b"\x1b", text)
    return re.search(rb"[\x00-\x09\x0b-\x1f\x7f]", clean) is not None


def wrong_message(err, places):
    """Every line is `place: what; way out`, the place one of those."""
    if not err.endswith(b"\n"):
        return "the message does not end its line"
    if steers(err):
        return "the message steers the terminal"
    for line in err[:-1].split(b"\n"):
        place = next((p for p in places if line.startswith(p)), None)
        if place is None:
            return f"a line without a place: {line!r}"
        if not re.fullmatch(rb"(:\d+)*: [^;]+;.+", line[len(place):]):
            return f"not of the form `place: what; way out`: {line!r}"
    return None


def wrong_answer(status, out, err, places):
    if status not in (HOLDS, VIOLATED, INPUT):
        if status == SYSTEM and err == b"out of memory\n":
            return None
        return f"status {status}: {err[-500:]!r}"
    if status == INPUT:
        return f"output beside a refusal: {out[:200]!r}" if out else wrong_message(err, places)
    return f"a note with --quiet: {err[:200]!r}" if err else None


# ---- what a damaged file announces, read without the program ------------------------------------------------------


def word_after(pattern, data):
    found = re.search(pattern, data)
    return int(found.group(1)) if found and len(found.group(1)) < 10 else None


def announced(name, data):
    """(cells or triangles or points) that an accepted file must have given, or None where its form does not say."""
    kind = name.rsplit(".", 1)[1]
    if kind == "ply" and data.startswith(b"ply"):
        return "triangles", word_after(rb"[\r\n]\s*element\s+face\s+(\d+)\s", data)
    if kind == "off":
        found = re.match(rb"(?:#.*[\r\n]|\s)*[A-Z]*OFF(?:#.*|\s)*\s(\d+)\s+(\d+)\s+\d+\s", data)
        return "triangles", int(found.group(2)) if found and len(found.group(2)) < 10 else None
    if kind == "stl" and len(data) >= 84 and len(data) == 84 + 50 * struct.unpack_from("<I", data, 80)[0]:
        return "triangles", struct.unpack_from("<I", data, 80)[0]
    if kind == "asc":
        return "posts", (word_after(rb"(?im)^\s*ncols\s+\+?(\d+)\s*$", data),
                         word_after(rb"(?im)^\s*nrows\s+\+?(\d+)\s*$", data))
    if kind == "las" and len(data) >= 255:
        legacy = struct.unpack_from("<I", data, 107)[0]
        return "points", legacy or (struct.unpack_from("<Q", data, 247)[0] if data[25] >= 4 else None)
    if kind == "obj" and b"\\" not in data:
        return "triangles", len(re.findall(rb"(?:^|[\r\n])[ \t\v\f]*f[ \t\v\f]", data))
    return None, None


def fewer(name, data, result):
    what, least = announced(name, data)
    if what == "posts":
        if None not in least and (result["columns"], result["rows"]) != least:
            return f"{least} posts announced, {result['columns']} x {result['rows']} given"
    elif least is not None and result.get(what, 0) < least:
        return f"{least} {what} announced, {result.get(what)} given"
    return None


# ---- accidents --------------------------------------------------------------------------------------------------

NUMBERS = [b"0", b"-1", b"1e308", b"-1e308", b"1e-308", b"nan", b"inf", b"-inf", b"4294967296", b"2147483647", b"-9999",
           b"18446744073709551616", b"1,5", b"0x10", b"1e999", b"99999999999999999999", b"--1", b"1.5.2", b"-0", b"1e5"]
WORDS = [struct.pack(order + kind, value) for order in "<>" for kind, values in
         (("I", (0, 1, 0x7fffffff, 0x80000000, 0xffffffff, 1000000)), ("H", (0, 0xffff)),
          ("d", (float("nan"), float("inf"), 1e308, -1e5)), ("f", (float("nan"), 3e38, -9999))) for value in values]


def damaged(data, draw):
    """One to four accidents: bytes changed, cut, lost, repeated, put elsewhere; numbers exchanged."""
    data = bytearray(data)
    for _ in range(draw.choice((1, 1, 1, 2, 3, 4))):
        if not data:
            break
        at = draw.randrange(len(data))
        if draw.random() < 0.3:
            at = min(at, draw.randrange(400))  # headers are short and matter
        size = draw.choice((1, 2, 4, 8, 24, 200))
        accident = draw.randrange(9)
        if accident == 0:
            data[at] = draw.randrange(256)
        elif accident == 1:
            data[at] ^= 1 << draw.randrange(8)
        elif accident == 2:
            del data[at:at + size]
        elif accident == 3:
            start = draw.randrange(len(data))
            data[at:at] = data[start:start + size]
        elif accident == 4:
            data[at:] = b""
        elif accident == 5:
            data[at:at] = bytes(draw.randrange(256) for _ in range(size))
        elif accident == 6:
            word = draw.choice(WORDS)
            data[at:at + len(word)] = word
        else:
            found = list(re.finditer(rb"[-+]?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?", bytes(data)))
            if found:
                number = draw.choice(found[:12] if draw.random() < 0.4 else found)
                data[number.start():number.end()] = draw.choice(NUMBERS)
    return bytes(data)


class Kind:
    """Files of one kind: where a mutant goes and which command reads it."""

    def __init__(self, seconds, seeds, words, announces=True):
        self.seconds, self.seeds, self.words, self.announces = seconds, seeds, words, announces


def scenario_files():
    """A scenario and its machine on a small plane; the machine is what is damaged half of the time."""
    folder = ROOT / "examples/01_dunlin_at_kettle"
    scenario = (folder / "scenario.yaml").read_bytes()
    scenario = re.sub(rb"file: \S+\n  up: z\n", b"file: plane.asc\n", scenario)
    scenario = scenario.replace(b"[-22.0, 12.7] m", b"[15, 15] m")
    machine = (folder / "dunlin.yaml").read_bytes()
    rows = "\n".join(" ".join(f"{0.05 * i + 0.02 * j:.3f}" for i in range(31)) for j in range(31))
    plane = f"ncols 31\nnrows 31\nxllcenter 0\nyllcenter 0\ncellsize 1\n{rows}\n".encode()
    return scenario, machine, plane


def with_nasty(seeds, *kinds):
    folder = ROOT / "tests/terrain/nasty"
    return seeds + [(p.name, p.read_bytes()) for p in sorted(folder.iterdir()) if p.suffix[1:] in kinds]


class Mutants(unittest.TestCase):
    """Shares of all mutants: own formats and point clouds 60 %, scenarios 30 %, imported formats 10 %."""

    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = pathlib.Path(folder.name)

    def put(self, path, data):
        path.write_bytes(data)
        return path

    def inspected(self, number, seeds, seconds):
        """What is wrong with the answer to mutant `number` of these files; whether it was accepted."""
        draw = random.Random(f"{ASKED.seed} {number}")
        name, data = seeds[number % len(seeds)]
        data = damaged(data, draw)
        path = self.put(self.folder / f"{number}-{name}", data)
        words = ["inspect", path, "--json", "--quiet", "--at", "3,5"]
        if draw.random() < 0.05:
            words += ["-o", self.folder / f"{number}-out"]
        status, out, err = run(*limited(seconds), PROGRAM, *words, seconds=20 * seconds)
        wrong = wrong_answer(status, out, err, [os.fsencode(path)])
        if wrong is None and status == HOLDS:
            result = json.loads(out)
            wrong = fewer(name, data, result)
        return self.judged(number, name, data, wrong, status, path)

    def judged(self, number, name, data, wrong, status, *paths):
        if wrong is not None:
            ASKED.keep.mkdir(parents=True, exist_ok=True)
            kept = ASKED.keep / f"mutant-{ASKED.seed}-{number}-{name}"
            kept.write_bytes(data)
            wrong = f"{kept}: {wrong}"
        for path in paths:
            path.unlink()
        return wrong, status

    def all_right(self, count, one, least_accepted):
        with concurrent.futures.ThreadPoolExecutor(2) as pool:
            answers = list(pool.map(one, range(count)))
        wrong = [w for w, _ in answers if w is not None]
        if wrong:
            self.fail("\n".join([f"{len(wrong)} of {count} mutants:", *wrong[:20]]))
        accepted = sum(status in (HOLDS, VIOLATED) for _, status in answers)
        # Both ways are taken, else the accidents are too mild or too wild to say anything.
        self.assertGreaterEqual(accepted, least_accepted * count)
        self.assertGreaterEqual(count - accepted, 0.2 * count)

    def test_files_that_the_program_reads_itself(self):
        seeds = with_nasty(hostile_seeds.own(), "ply", "obj", "stl", "asc")
        self.all_right(ASKED.mutants * 45 // 100, lambda i: self.inspected(i, seeds, 2), 0.02)

    def test_scenarios(self):
        scenario, machine, plane = scenario_files()

        def one(number):
            draw = random.Random(f"{ASKED.seed} scenario {number}")
            folder = self.folder / str(number)
            folder.mkdir()
            part = draw.choice(("scenario.yaml", "dunlin.yaml"))
            data = {"scenario.yaml": scenario, "dunlin.yaml": machine, "plane.asc": plane}
            data[part] = damaged(data[part], draw)
            paths = [self.put(folder / name, content) for name, content in data.items()]
            status, out, err = run(*limited(5), PROGRAM, "stand", folder / "scenario.yaml", "--json", "--quiet",
                                   seconds=120)
            wrong = wrong_answer(status, out, err, [os.fsencode(p) for p in paths])
            if wrong is None and status != INPUT:
                json.loads(out)
            answer = self.judged(number, part, data[part], wrong, status, *paths)
            folder.rmdir()
            return answer

        self.all_right(ASKED.mutants * 30 // 100, one, 0.02)

    def test_point_clouds_under_a_machine(self):
        """Too small a cloud to stand on, but read, triangulated and asked."""
        scenario, machine, _ = scenario_files()
        scenario = scenario.replace(b"[15, 15] m", b"[5, 4] m")
        seeds = hostile_seeds.points()

        def one(number):
            name, data = seeds[number % len(seeds)]
            data = damaged(data, random.Random(f"{ASKED.seed} points {number}"))
            folder = self.folder / str(number)
            folder.mkdir()
            terrain = f"file: {name}\n  longest_edge: 5 m\n".encode()
            files = {"scenario.yaml": scenario.replace(b"file: plane.asc\n", terrain), "dunlin.yaml": machine, name: data}
            paths = [self.put(folder / file, content) for file, content in files.items()]
            status, out, err = run(*limited(2), PROGRAM, "stand", folder / "scenario.yaml", "--json", "--quiet")
            wrong = wrong_answer(status, out, err, [os.fsencode(p) for p in paths])
            answer = self.judged(number, name, data, wrong, status, *paths)
            folder.rmdir()
            return answer

        self.all_right(ASKED.mutants * 15 // 100, one, 0.02)

    def test_files_of_other_formats_through_the_import_program(self):
        if not IMPORT.exists():
            self.skipTest(f"{IMPORT} is not there")
        seeds = with_nasty([("a.glb", hostile_seeds.glb())], "tif")
        # Libraries that mend what they can accept a good deal; all that is asked is that nothing dies or hangs.
        self.all_right(ASKED.mutants * 10 // 100, lambda i: self.inspected(i, seeds, 10), 0.02)


@unittest.skipIf(ASKED.sanitized, "a sanitizer has memory of its own")
class Memory(unittest.TestCase):
    """Counts that a file cannot hold are refused before anything is made for them."""

    def peak(self, path, *words):
        out = tempfile.TemporaryFile()
        child = subprocess.Popen([PROGRAM, "inspect", path, *words], stdout=out, stderr=out, stdin=subprocess.DEVNULL)
        _, status, used = os.wait4(child.pid, 0)
        child.returncode = os.waitstatus_to_exitcode(status)
        return child.returncode, used.ru_maxrss * 1024

    def test_promised_counts_never_allocate(self):
        many = b"2000000000"
        ply = hostile_seeds.ply
        lies = {"v.ply": re.sub(rb"vertex \d+", b"vertex " + many, ply("ascii")),
                "f.ply": re.sub(rb"face \d+", b"face " + many, ply("binary_little_endian")),
                "l.ply": ply("binary_little_endian").replace(b"list uchar int", b"list uint32 int"),
                "a.off": hostile_seeds.off().replace(b"30 40 0", many + b" 40 0"),
                "b.off": hostile_seeds.off().replace(b"30 40 0", b"30 " + many + b" 0"),
                "a.asc": hostile_seeds.asc().replace(b"ncols 6", b"ncols " + many),
                "b.stl": hostile_seeds.stl(True)[:80] + struct.pack("<I", 0xfffffff0) + hostile_seeds.stl(True)[84:],
                "a.obj": hostile_seeds.obj() + b"f 1 2 2000000000\n"}
        las = bytearray(hostile_seeds.las())
        struct.pack_into("<I", las, 107, 2000000000)
        lies["a.las"] = bytes(las)
        with tempfile.TemporaryDirectory() as folder:
            for name, data in lies.items():
                with self.subTest(name):
                    path = pathlib.Path(folder) / name
                    path.write_bytes(data)
                    status, peak = self.peak(path)
                    self.assertEqual(status, INPUT)
                    self.assertLess(peak, 100 * MEGABYTE)


class Places(unittest.TestCase):
    """What stands where a file should, and under what name."""

    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = pathlib.Path(folder.name)

    def refused(self, command, path, said):
        status, out, err = run(PROGRAM, command, path, "--json", seconds=30)
        self.assertEqual((status, out), (INPUT, b""), err)
        self.assertIn(said, err)
        self.assertFalse(steers(err), err)

    def test_what_is_no_file_is_refused_without_waiting(self):
        fifo = self.folder / "fifo.ply"
        os.mkfifo(fifo)
        loop = self.folder / "loop.ply"
        loop.symlink_to(loop)
        for command in ("inspect", "stand"):
            for path, said in ((self.folder, b"not a regular file"), (fifo, b"not a regular file"),
                               ("/dev/zero", b"not a regular file"), ("/dev/null", b"not a regular file"),
                               (loop, b"cannot be read"), (self.folder / "none.ply", b"no such file"),
                               (self.folder / ("n" * 300), b"cannot be read"), ("", b"a name is missing")):
                with self.subTest(command=command, path=str(path)[-20:]):
                    self.refused(command, path, said)

    @unittest.skipIf(os.geteuid() == 0, "the superuser may read everything")
    def test_an_unreadable_file_is_refused(self):
        path = self.folder / "secret.ply"
        path.write_bytes(hostile_seeds.ply("ascii"))
        path.chmod(0)
        self.refused("inspect", path, b"cannot be read")

    def test_no_name_steers_the_terminal(self):
        """In refusals, in notes and in results for people."""
        for name in (b"new\nline.ply", b"\x1b[2J\x1b]0;title\x07.ply", b"\xc2\x9b31m.ply", b"\xff\xfe.ply",
                     "\u202eylp.ply".encode(), b"\r\x08.ply", b"\x7f.ply"):
            path = os.fsencode(self.folder) + b"/" + name
            with self.subTest(name):
                status, out, err = run(PROGRAM, "inspect", path)
                self.assertEqual((status, out), (INPUT, b""))
                self.assertFalse(steers(err), err)
                self.assertEqual(err.count(b"\n"), 1, err)
                with open(path, "wb") as file:
                    file.write(hostile_seeds.ply("ascii"))
                status, out, err = run(PROGRAM, "inspect", path, "-o", self.folder / "out")
                self.assertEqual(status, HOLDS, err)
                self.assertFalse(steers(out), out)
                self.assertFalse(steers(err), err)
                status, out, err = run(PROGRAM, "inspect", path, "--json")
                self.assertEqual(status, HOLDS, err)
                json.loads(out)
                status, out, err = run(PROGRAM, "new", os.fsencode(self.folder) + b"/d" + name)
                self.assertEqual(status, HOLDS, err)
                self.assertFalse(steers(err), err)

    def test_no_text_of_a_scenario_or_of_the_command_line_steers_the_terminal(self):
        scenario, machine, plane = scenario_files()
        (self.folder / "dunlin.yaml").write_bytes(machine)
        (self.folder / "plane.asc").write_bytes(plane)
        path = self.folder / "scenario.yaml"
        for old, new in ((b"title: Dunlin", rb'title: "\e[31m\b\x9b red \n two" #'),
                         (b"yaw: -50 deg", rb'yaw: "\e[31m"'), (b"gravity: moon", rb'"\e]0;x\a": moon'),
                         (b"file: plane.asc", rb'file: "\e[31m.asc"')):
            self.assertIn(old, scenario)
            path.write_bytes(scenario.replace(old, new))
            with self.subTest(new):
                status, out, err = run(PROGRAM, "stand", path)
                self.assertIn(status, (HOLDS, VIOLATED, INPUT))
                self.assertFalse(steers(out), out)
                self.assertFalse(steers(err), err)
        for words in ((b"\x1b[31m",), (b"stand", path, b"--set", b"\x1b[31m=1"), (b"stand", path, b"--\x1b[31m"),
                      (b"inspect", path, b"--at", b"\x1b[31m"), (b"inspect", path, b"--unit", b"\x1b[31m")):
            with self.subTest(words):
                status, _, err = run(PROGRAM, *words)
                self.assertEqual(status, INPUT, err)
                self.assertFalse(steers(err), err)


class Streams(unittest.TestCase):
    """A machine that does not take what it is given."""

    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = pathlib.Path(folder.name)
        self.path = self.folder / "a.ply"
        self.path.write_bytes(hostile_seeds.ply("ascii"))

    def test_a_full_or_closed_output_is_a_failure_of_the_system(self):
        with open("/dev/full", "wb") as full:
            self.assertEqual(run(PROGRAM, "inspect", self.path, stdout=full)[0], SYSTEM)
        closed = run("/bin/sh", "-c", 'exec "$0" "$@" >&-', PROGRAM, "inspect", self.path)
        self.assertEqual(closed[0], SYSTEM, closed)

    def test_a_closed_error_stream_changes_no_status(self):
        for words, status in (((self.path,), HOLDS), ((self.folder / "none.ply",), INPUT)):
            done = run("/bin/sh", "-c", 'exec "$0" "$@" 2>&-', PROGRAM, "inspect", *words)
            self.assertEqual(done[0], status, done)

    def test_a_reader_that_leaves_early_is_no_signal(self):
        """The pipe is closed before the program writes."""
        read, write = os.pipe()
        os.close(read)
        child = subprocess.Popen([PROGRAM, "inspect", self.path, "--json"], stdout=write, stderr=subprocess.PIPE)
        os.close(write)
        self.assertEqual((child.communicate()[0], child.returncode), (None, SYSTEM))

    def test_a_limit_on_file_sizes_leaves_nothing_half_written(self):
        out = self.folder / "out"
        status, _, err = run("prlimit", "--fsize=2048", PROGRAM, "inspect", self.path, "-o", out)
        self.assertEqual(status, SYSTEM, err)
        self.assertIn(os.fsencode(out), err)
        self.assertEqual(list(out.iterdir()), [])

    def test_a_folder_that_cannot_be_made_is_a_failure_of_the_system(self):
        status, out, err = run(PROGRAM, "inspect", self.path, "-o", self.path / "below", "--quiet")
        self.assertEqual((status, out), (SYSTEM, b""), err)
        self.assertIn(os.fsencode(self.path), err)

    @unittest.skipIf(ASKED.sanitized, "a sanitizer has memory of its own")
    def test_too_little_memory_is_said_or_is_enough(self):
        """From far too little on: the program ends by itself, with a status it has."""
        for megabytes in range(12, 60, 4):
            with self.subTest(megabytes):
                status, out, err = run("prlimit", f"--as={megabytes * MEGABYTE}", PROGRAM, "inspect", self.path, "--json")
                if status == 127:  # not even its libraries fit
                    continue
                self.assertIn(status, (HOLDS, SYSTEM), err)
                self.assertEqual(out == b"", status == SYSTEM)


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *REST])
