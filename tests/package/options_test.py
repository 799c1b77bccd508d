"""The manual page and the completions of bash and zsh against --help of the program and of every command.

usage: options_test.py PROGRAM FOLDER-OF-SOURCES MANUAL manual|bash|zsh
Exit status 77: the shell or man is not there.
"""
import os
import pty
import re
import select
import shutil
import subprocess
import sys
import tempfile
import time
import unittest

program, sources, manual = map(os.path.abspath, sys.argv[1:4])
part = sys.argv[4]


def help_of(*command):
    return subprocess.run([program, *command, "--help"], capture_output=True, text=True, check=True).stdout


def options_in_help(*command):
    """The option names of the list; descriptions are indented further and say nothing here."""
    found = set()
    for names in re.findall(r"^  (-[^ ]*)", help_of(*command).split("Options:")[1], re.M):
        found.update(names.split(","))
    return found


COMMANDS = re.findall(r"^  ([a-z]+) ", help_of().split("Subcommands:")[1], re.M)
OPTIONS = {command: options_in_help(command) for command in COMMANDS}
OPTIONS[""] = options_in_help()


class Manual(unittest.TestCase):
    def setUp(self):
        with open(manual, encoding="ascii") as file:
            self.text = file.read()

    def section(self, name):
        return re.search(rf"^\.SH {name}$(.*?)(?=^\.SH |\Z)", self.text, re.M | re.S).group(1)

    def test_knows_every_command_and_no_other(self):
        named = re.findall(r"^\.TP\n\.B ([a-z]+)$", self.section("COMMANDS"), re.M)
        self.assertEqual(sorted(named), sorted(COMMANDS))

    def test_knows_every_option_of_every_command_and_no_other(self):
        known = {command: set() for command in OPTIONS}
        for title, body in re.findall(r"^\.SS Options of (.*?)$(.*?)(?=^\.SS |\Z)", self.section("OPTIONS"),
                                      re.M | re.S):
            owners = re.split(r", | and ", title)
            owners = {"all commands": list(OPTIONS), "no command": [""]}.get(title, owners)
            for heads in re.findall(r"^\.TP\n(.*)$", body, re.M):
                names = re.findall(r"(?<![\w-])--?[a-z][a-z-]*", heads.replace("\\-", "-"))
                for owner in owners:
                    known[owner].update(names)
        for command, options in OPTIONS.items():
            self.assertEqual(known[command], options, command)

    def test_renders_without_a_warning(self):
        if not shutil.which("man"):
            self.skipTest("man is not installed")
        shown = subprocess.run(["man", "--warnings", "-E", "UTF-8", "-l", "-Tutf8", "-Z", manual], text=True,
                               capture_output=True, env={**os.environ, "MANROFFSEQ": "", "LC_ALL": "C.UTF-8"})
        self.assertEqual((shown.returncode, shown.stderr), (0, ""))


class Terminal:
    """A shell that believes it is used by hand."""

    def __init__(self, shell, folder, setup):
        try:
            pid, self.terminal = pty.fork()
        except OSError as error:
            raise unittest.SkipTest(f"no terminal can be had here: {error}") from None
        if pid == 0:
            os.chdir(folder)
            environment = {"PATH": os.environ["PATH"], "TERM": "dumb", "HOME": folder, "LC_ALL": "C.UTF-8",
                           "COLUMNS": "150", "LINES": "100"}
            os.execvpe(shell[0], shell, environment)
        self.pid = pid
        subprocess.run(["stty", "rows", "100", "cols", "150"], stdin=self.terminal, check=True)
        for line in setup:
            self.type(line + "\n")
        self.type("echo set''tled\n")
        self.until("settled")

    def type(self, keys):
        os.write(self.terminal, keys.encode())

    def read(self, seconds):
        text = b""
        while select.select([self.terminal], [], [], seconds)[0]:
            try:
                text += os.read(self.terminal, 65536)
            except OSError:
                break
        return text.decode(errors="replace")

    def until(self, wanted):
        text, limit = "", time.monotonic() + 20
        while wanted not in text and time.monotonic() < limit:
            text += self.read(0.05)
        assert wanted in text, f"waited for {wanted!r}, got {text!r}"
        self.read(0.1)

    def complete(self, line, tabs=1):
        """What appears after the line and the tabulator key, the line included."""
        self.type(line + "\t" * tabs)
        text = ""
        for _ in range(60):  # until something has come and nothing more does
            more = self.read(0.3)
            if not more and len(text) > len(line):
                break
            text += more
        self.type("\x15\n")  # away with the line
        self.read(0.1)
        return re.sub(r"\x1b\[[0-9;?]*[a-zA-Z]|[\x07\r]|\x08", "", text)

    def close(self):
        self.type("\x15exit\n")
        os.close(self.terminal)
        os.waitpid(self.pid, 0)


class Shell(unittest.TestCase):
    tabs = 1

    @classmethod
    def setUpClass(cls):
        folder = tempfile.TemporaryDirectory()
        cls.addClassCleanup(folder.cleanup)
        for name in ("scenario.yaml", "scan.ply", "scum.md", "grid of posts.asc"):
            open(os.path.join(folder.name, name), "w").close()
        cls.terminal = Terminal(cls.shell, folder.name, cls.start)
        cls.addClassCleanup(cls.terminal.close)

    def test_completes_commands(self):
        self.assertIn("rimstance inspect ", self.terminal.complete("rimstance in"))
        self.assertIn("rimstance capacity ", self.terminal.complete("rimstance ca"))

    def test_completes_files_by_their_kind(self):
        self.assertIn("stand scenario.yaml", self.terminal.complete("rimstance stand sc"))
        self.assertIn("inspect scan.ply", self.terminal.complete("rimstance inspect sc"))
        self.assertIn("inspect grid\\ of\\ posts.asc", self.terminal.complete("rimstance inspect gr"))

    def test_completes_values_that_are_known(self):
        self.assertRegex(self.terminal.complete("rimstance inspect --up ", 2 * self.tabs), r"x +y +z")

    def test_offers_every_command_and_no_other(self):
        shown = self.terminal.complete("rimstance ", self.tabs)
        self.assertEqual(self.listed(shown, r"[a-z]+"), set(COMMANDS))

    def test_offers_every_option_of_every_command_and_no_other(self):
        for command, options in OPTIONS.items():
            with self.subTest(command=command):
                shown = self.terminal.complete(f"rimstance {command} -".replace("  ", " "), self.tabs)
                self.assertEqual(self.listed(shown, r"--?[a-z][a-z-]*"), options)


class Bash(Shell):
    shell = ["bash", "--norc", "--noprofile", "-i"]
    tabs = 2

    start = ["PS1='$ '", "bind 'set enable-bracketed-paste off'", f"source '{sources}/rimstance.bash'"]

    def listed(self, shown, names):
        """The words below the line, before it is written anew."""
        words = shown.split("\n", 1)[1].rsplit("$ rimstance", 1)[0].split()
        return {word for word in words if re.fullmatch(names, word)}


class Zsh(Shell):
    shell = ["zsh", "-f", "-i"]

    start = ["PS1='$ '", "unsetopt zle_bracketed_paste prompt_sp", "LISTMAX=1000", "mkdir .functions",
             f"cp '{sources}/rimstance.zsh' .functions/_rimstance", "fpath=($PWD/.functions $fpath)",
             "autoload -U compinit", "compinit -u -D"]

    def listed(self, shown, names):
        """The words that start a line of the list, alone or several with one description."""
        found = set()
        for line in shown.split("\n")[1:]:
            words = line.split(" -- ")[0].split()
            if " -- " in line and all(re.fullmatch(names, word) for word in words):
                found.update(words)
        return found


if part != "manual" and not shutil.which(part):
    print(f"{part} is not installed: skipped")
    sys.exit(77)
case = {"manual": Manual, "bash": Bash, "zsh": Zsh}[part]
result = unittest.TextTestRunner(verbosity=2).run(unittest.defaultTestLoader.loadTestsFromTestCase(case))
sys.exit(1 if not result.wasSuccessful() else 77 if result.skipped and not result.testsRun else 0)
