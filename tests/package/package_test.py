"""The Debian packages of a built tree: what they hold, what they need, and that the main one does without the
import program's libraries.

usage: package_test.py CPACK BUILD-FOLDER VERSION HAS-IMPORT(0|1)
Exit status 77: the tools that make packages are not there.
"""
import glob
import os
import re
import shutil
import subprocess
import sys
import tempfile
import unittest

cpack, build, version, has_import = sys.argv[1:5]
has_import = has_import == "1"


def output(*command):
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout


class Packages(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        folder = tempfile.TemporaryDirectory()
        cls.addClassCleanup(folder.cleanup)
        made = subprocess.run([cpack, "--config", os.path.join(build, "CPackConfig.cmake"), "-B", folder.name],
                              capture_output=True, text=True, cwd=folder.name)
        assert made.returncode == 0, made.stdout + made.stderr
        cls.files = {}
        for path in glob.glob(os.path.join(folder.name, "*.deb")):
            cls.files[output("dpkg-deb", "-f", path, "Package").strip()] = path

    def field(self, package, name):
        return output("dpkg-deb", "-f", self.files[package], name).strip()

    def content(self, package):
        """Mode and path of everything in it."""
        lines = output("dpkg-deb", "-c", self.files[package]).splitlines()
        return {line.split(None, 5)[5].removeprefix("."): line[:10] for line in lines}

    def test_there_is_one_for_each_part(self):
        wanted = {"rimstance", "librimstance-dev"} | ({"rimstance-import"} if has_import else set())
        self.assertEqual(set(self.files), wanted)

    def test_say_what_debian_asks_for(self):
        for package in self.files:
            with self.subTest(package=package):
                self.assertEqual(self.field(package, "Version"), version)
                self.assertEqual(self.field(package, "Priority"), "optional")
                self.assertIn(self.field(package, "Section"), ("science", "libdevel"))
                self.assertRegex(self.field(package, "Maintainer"), r"^.+ <.+@.+>$")
                summary, *rest = self.field(package, "Description").split("\n")
                self.assertLessEqual(len(summary), 80)
                self.assertTrue(all(line.startswith(" ") for line in rest) and rest, rest)

    def test_the_main_one_needs_neither_assimp_nor_gdal(self):
        depends = self.field("rimstance", "Depends")
        self.assertNotRegex(depends, "assimp|gdal|rimstance-import")
        self.assertRegex(depends, r"libyaml-cpp[0-9.]+ ")  # so the libraries were looked at
        self.assertEqual(self.field("rimstance", "Recommends"), "rimstance-import")

    @unittest.skipUnless(has_import, "built without the import program")
    def test_the_import_one_brings_assimp_and_gdal_and_the_same_version_of_the_program(self):
        depends = self.field("rimstance-import", "Depends")
        self.assertRegex(depends, r"libassimp[0-9]+")
        self.assertRegex(depends, r"libgdal[0-9]+")
        self.assertIn(f"rimstance (= {version})", depends)
        self.assertRegex(self.content("rimstance-import")["/usr/libexec/rimstance/rimstance-import"], "^-rwxr-xr-x")

    def test_put_every_file_in_its_place(self):
        main = self.content("rimstance")
        self.assertEqual(main["/usr/bin/rimstance"], "-rwxr-xr-x")
        for path in ("man/man1/rimstance.1.gz", "bash-completion/completions/rimstance",
                     "zsh/site-functions/_rimstance", "rimstance/terrain/kettle.ply",
                     "rimstance/examples/01_dunlin_at_kettle/scenario.yaml"):
            self.assertEqual(main["/usr/share/" + path], "-rw-r--r--", path)
        self.assertFalse([path for path in main if not re.match("/($|usr/($|bin/|share/))", path)])
        dev = self.content("librimstance-dev")
        for path in ("include/rimstance/statics/stand.hpp", "lib/librimstance.a",
                     "lib/cmake/Rimstance/RimstanceConfig.cmake", "lib/cmake/Rimstance/RimstanceTargets.cmake"):
            self.assertEqual(dev["/usr/" + path], "-rw-r--r--", path)

    def test_share_no_file(self):
        seen = {}
        for package in self.files:
            for path in self.content(package):
                if path.endswith("/"):
                    continue
                self.assertNotIn(path, seen, f"in {package} and {seen.get(path)}")
                seen[path] = package

    def test_carry_license_and_changes(self):
        for package in self.files:
            for name in ("copyright", "changelog.gz"):
                self.assertIn(f"/usr/share/doc/{package}/{name}", self.content(package))

    def test_hold_stripped_programs(self):
        with tempfile.TemporaryDirectory() as folder:
            output("dpkg-deb", "-x", self.files["rimstance"], folder)
            self.assertNotIn(".symtab", output("readelf", "-SW", os.path.join(folder, "usr/bin/rimstance")))
            self.assertEqual(output(os.path.join(folder, "usr/bin/rimstance"), "--version").split()[1], version)
            manual = output("gzip", "-dc", os.path.join(folder, "usr/share/man/man1/rimstance.1.gz"))
            self.assertIn(version, manual)


for tool in ("dpkg-deb", "dpkg-shlibdeps", "file", "readelf", "gzip"):
    if not shutil.which(tool):
        print(f"{tool} is not installed: skipped")
        sys.exit(77)
result = unittest.TextTestRunner(verbosity=2).run(unittest.defaultTestLoader.loadTestsFromTestCase(Packages))
sys.exit(0 if result.wasSuccessful() else 1)
