"""The container image, as far as it can be made without an engine: its files are laid out by the script that the
Dockerfile runs, and the program is started in them as the image would start it, without root and without anything else."""

import fnmatch
import os
import pathlib
import re
import shutil
import subprocess
import tempfile
import time
import tomllib
import unittest
import urllib.request

import shipped

FOLDER = shipped.DEPLOY / "container"
DOCKERFILE = (FOLDER / "Dockerfile").read_text()
USER = 65532


def instructions(word: str) -> list[str]:
    return re.findall(rf"^{word} (.*)$", DOCKERFILE, re.MULTILINE)


def is_kept(name: str, pattern: str) -> bool:
    """Whether a pattern of the file of ignored ones names a file or a folder that it stands in, from the top."""
    parts, wanted = name.split("/"), pattern.split("/")
    return len(parts) >= len(wanted) and all(fnmatch.fnmatchcase(part, one) for part, one in zip(parts, wanted))


def workspace(kept: list[str], to: pathlib.Path) -> str:
    """Lays out the files that an engine would be sent, and what cargo says is wrong with them."""
    there = subprocess.run(["git", "ls-files"], cwd=shipped.ROOT, capture_output=True, text=True, check=True)
    for name in there.stdout.splitlines():
        if any(is_kept(name, pattern) for pattern in kept):
            (to / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(shipped.ROOT / name, to / name)
    command = ["cargo", "metadata", "--locked", "--offline", "--no-deps", "--format-version", "1"]
    return subprocess.run(command, cwd=to, capture_output=True, text=True, check=False).stderr


class Image(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.laid_out = pathlib.Path(tempfile.mkdtemp())
        cls.addClassCleanup(shutil.rmtree, cls.laid_out)
        subprocess.run([FOLDER / "rootfs", shipped.binary(), cls.laid_out / "root"], check=True)

    def setUp(self):
        self.folder = pathlib.Path(tempfile.mkdtemp())
        self.addCleanup(shutil.rmtree, self.folder)
        self.root = self.folder / "root"
        subprocess.run(["cp", "--archive", self.laid_out / "root", self.root], check=True)

    def test_the_dockerfile_uses_this_layout(self):
        self.assertIn("deploy/container/rootfs /target/release/nextrung /rootfs", instructions("RUN"))
        self.assertEqual(instructions("FROM")[-1], "scratch")
        self.assertEqual(instructions("COPY")[-1], "--from=build /rootfs/ /")
        self.assertEqual(instructions("USER"), [f"{USER}:{USER}"])
        self.assertEqual(instructions("ENTRYPOINT"), ['["/usr/bin/nextrung"]'])

    def test_only_the_program_and_its_libraries_are_in_it(self):
        files = {str(path.relative_to(self.root)) for path in self.root.rglob("*") if path.is_file()}
        own = {"usr/bin/nextrung", "etc/passwd", "etc/group"}
        own |= {f"usr/share/doc/nextrung/{name}" for name in ("LICENSE-MIT", "LICENSE-APACHE", "licences.txt")}
        own |= {f"usr/share/doc/{package}/copyright" for package in ("libc6", "libgcc-s1")}
        self.assertTrue(own <= files, files)
        libraries = files - own
        self.assertTrue(libraries and all(re.search(r"\.so(\.\d+)*$", name) for name in libraries), libraries)
        self.assertLessEqual(len(libraries), 6, libraries)

    def test_the_licences_of_all_that_is_built_in_are_in_it(self):
        text = (self.root / "usr/share/doc/nextrung/licences.txt").read_text()
        head, *texts = text.split(f"\n{'-' * 80}\n")
        named = {line.split(": ")[0] for line in head.splitlines() if re.match(r"[\w-]+ \d+\.\d+\S*: \S", line)}
        # Each name stands above a text, or among those that come without.
        without = {line.split(": ")[0] for line in head.partition("without the text")[2].splitlines()}
        owners = {line for one in texts for line in one.split("\n\n")[0].splitlines()}
        self.assertEqual(named - owners, named & without)
        self.assertLess(len(without), 20)
        command = ["cargo", "tree", "--locked", "--package", "nextrung-cli", "--edges", "normal,build", "--prefix", "none"]
        tree = subprocess.run(command, cwd=shipped.ROOT, capture_output=True, text=True, check=True).stdout
        packages = {line.split()[0] for line in tree.splitlines() if line.strip()}
        wanted = {name for name in packages if not name.startswith("nextrung-")}
        self.assertEqual({name.split()[0] for name in named}, wanted)

    def test_what_the_build_needs_is_not_ignored(self):
        patterns = (FOLDER / "Dockerfile.dockerignore").read_text().splitlines()
        self.assertIn("*", patterns)
        kept = [line[1:] for line in patterns if line.startswith("!")]
        self.assertEqual(workspace(kept, self.folder / "kept"), "")
        self.assertTrue((self.folder / "kept/Cargo.lock").is_file())
        self.assertTrue((self.folder / "kept/deploy/container/rootfs").is_file())
        self.assertTrue((self.folder / "kept/deploy/licences").is_file())
        for member in ("tests/fuzz/Cargo.toml", "tests/Cargo.toml", "crates"):
            less = [pattern for pattern in kept if pattern != member]
            self.assertIn("No such file", workspace(less, self.folder / member.replace("/", "-")), member)

    def verb(self, address: str, *words: str) -> str:
        """Runs a verb of a client, from outside of the image."""
        clean = {name: value for name, value in os.environ.items() if not name.startswith("NEXTRUNG_")}
        command = [shipped.binary(), *words, "--server", f"http://{address}"]
        done = subprocess.run(command, env=clean, capture_output=True, text=True, check=False)
        self.assertEqual(done.returncode, 0, done.stderr)
        return done.stdout

    def records_and_erases(self, address: str) -> None:
        """Half a year of sets comes in and an athlete goes, where there is no folder for temporary files."""
        demo = shipped.ROOT / "data/demo"
        names = [athlete["id"] for athlete in tomllib.loads((demo / "athletes.toml").read_text())["athlete"]]
        self.verb(address, "roster", "add", "hall", "--title", "The hall")
        for name in names:
            self.verb(address, "athlete", "add", f"hall/{name}", "--name", name, "--body-mass", "61.5")
        total = len((demo / "sets.csv").read_text().splitlines()) - 1
        said = self.verb(address, "record", "--csv", str(demo / "sets.csv"), "--roster", "hall")
        self.assertIn(f"{total} ", said)
        self.verb(address, "athlete", "erase", f"hall/{names[0]}", "--confirm", f"hall/{names[0]}")
        self.assertNotIn(names[0], self.verb(address, "athlete", "list", "hall").split())

    def test_it_serves_and_drains_without_root_on_a_read_only_file_system(self):
        if os.geteuid() != 0:
            self.fail("only root can start it in a root directory of its own: run this as root")
        data = self.root / "var/lib/nextrung"
        self.assertEqual((data.stat().st_uid, data.stat().st_mode & 0o777), (USER, 0o700))
        variables = dict(line.split("=", 1) for line in instructions("ENV"))
        # Only an erasure in a database larger than this one's wants it.
        self.assertEqual(variables.pop("SQLITE_TMPDIR"), "/var/lib/nextrung")
        variables |= {"NEXTRUNG_LISTEN": "127.0.0.1:0", "NEXTRUNG_METRICS_LISTEN": "127.0.0.1:0",
                      "NEXTRUNG_TODAY": "2026-11-23"}
        # A mount namespace of its own, in which the root is read only but for the volume.
        script = 'mount --bind "$1" "$1" && mount --bind "$1/var/lib/nextrung" "$1/var/lib/nextrung" && ' \
                 'mount -o remount,bind,ro "$1" && exec chroot --userspec=65532:65532 "$1" /usr/bin/nextrung serve'
        command = ["unshare", "--mount", "sh", "-ec", script, "sh", str(self.root)]
        process = subprocess.Popen(command, env=variables | {"PATH": os.environ["PATH"]}, stdout=subprocess.PIPE,
                                   stderr=subprocess.PIPE, text=True)
        self.addCleanup(process.kill)
        lines = [process.stdout.readline().strip() for _ in range(2)]
        if not lines[1].startswith("metrics on "):
            self.fail(process.communicate()[1])
        status = pathlib.Path(f"/proc/{process.pid}/status").read_text()
        self.assertIn(f"Uid:\t{USER}\t{USER}\t{USER}\t{USER}", status)
        with urllib.request.urlopen(f"http://{lines[1].removeprefix('metrics on ')}/readyz") as answer:
            self.assertEqual(answer.read(), b"ready\n")
        self.records_and_erases(lines[0].removeprefix("listening on "))
        self.assertEqual((data / "log.sqlite").stat().st_mode & 0o777, 0o600)
        began = time.monotonic()
        process.terminate()
        self.assertEqual(process.wait(20), 0)
        self.assertLess(time.monotonic() - began, 10)
        process.stdout.close()
        process.stderr.close()
