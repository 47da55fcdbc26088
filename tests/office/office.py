"""The office program without its windows, and a service with the invented roster of the demo."""

import os
import pathlib
import subprocess
import sys
import zipfile

CONVERT_SECONDS = 300
START_SECONDS = 60
# The day on which the demo plays.
TODAY = "2026-11-22"


def program(*arguments: object, check: bool = True) -> subprocess.CompletedProcess:
    """Runs nextrung to its end, away from whatever the environment says."""
    clean = {name: value for name, value in os.environ.items() if not name.startswith("NEXTRUNG_")}
    command = [os.environ["NEXTRUNG_BINARY"], *map(str, arguments)]
    done = subprocess.run(command, env=clean, capture_output=True, text=True, check=False)
    if check and done.returncode != 0:
        raise RuntimeError(f"{command} ended with {done.returncode}: {done.stderr}")
    return done


class Service:
    """A service on the database that the demo left in a folder."""

    def __init__(self, folder: pathlib.Path):
        program("demo", "--keep", folder / "demo")
        command = [os.environ["NEXTRUNG_BINARY"], "serve", "--listen", "127.0.0.1:0", "--metrics-listen", "none"]
        command += ["--today", TODAY, "--database", folder / "demo" / "demo.db"]
        clean = {name: value for name, value in os.environ.items() if not name.startswith("NEXTRUNG_")}
        self.process = subprocess.Popen(list(map(str, command)), env=clean, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        line = self.process.stdout.readline()
        if not line.startswith("listening on "):
            raise RuntimeError(f"the service does not start: {line!r}")
        self.url = "http://" + line.removeprefix("listening on ").strip()

    def run(self, *arguments: object, check: bool = True) -> subprocess.CompletedProcess:
        """Runs a client verb against it."""
        return program(*arguments, "--server", self.url, check=check)

    def stop(self) -> None:
        self.process.terminate()
        self.process.wait(timeout=START_SECONDS)
        self.process.stdout.close()


def convert(kind: str, files: list[pathlib.Path], into: pathlib.Path) -> None:
    """Opens files in the office program and saves them as another kind; fails unless every one was saved."""
    into.mkdir(parents=True, exist_ok=True)
    profile = (into / ".profile").resolve().as_uri()
    command = ["soffice", f"-env:UserInstallation={profile}", "--headless", "--norestore", "--convert-to", kind]
    command += ["--outdir", str(into), *map(str, files)]
    # Figures are written as the reader of them expects, whatever the machine's language.
    plain = os.environ | {"LC_ALL": "C.UTF-8"}
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=CONVERT_SECONDS, env=plain)
    ending = kind.split(":")[0]
    missing = [file.name for file in files if not (into / f"{file.stem}.{ending}").is_file() and not list(into.glob(f"{file.stem}-*.{ending}"))]
    if done.returncode != 0 or missing:
        raise RuntimeError(f"not converted to {ending}: {missing}; {done.stdout} {done.stderr}")


def words(pdf: pathlib.Path) -> str:
    """The text of a PDF, blanks as one."""
    done = subprocess.run(["pdftotext", "-layout", str(pdf), "-"], capture_output=True, text=True, check=True)
    return " ".join(done.stdout.split())


def pages_of(pdf: pathlib.Path) -> list[str]:
    """The text of each page of a PDF, blanks as one."""
    done = subprocess.run(["pdftotext", "-layout", str(pdf), "-"], capture_output=True, text=True, check=True)
    return [" ".join(page.split()) for page in done.stdout.split("\f")[:-1]]


def parts(workbook: pathlib.Path) -> dict[str, bytes]:
    """The parts of a workbook."""
    with zipfile.ZipFile(workbook) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


if __name__ == "__main__":
    sys.exit("this is a part of run.py")
