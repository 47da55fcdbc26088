#!/usr/bin/env python3
"""Replays a sheet of sets on an Apache Spark cluster and comes to the figures of `nextrung replay files`, to the bit.

    spark-submit --master spark://HOST:7077 replay.py --binary /opt/nextrung/nextrung \
        --sets /shared/sets.csv --athletes athletes.toml --out replayed

The work is cut by athlete, and the same binary does it everywhere:

1. The driver walks over the sheet once: its separator, its header, which rows are empty, and whether it is a sheet that
   two readers cannot read differently (RFC 4180 to the letter, UTF-8). Spark's reader forgives; this walk does not.
2. Spark reads the sheet (one task: rows may hold line breaks) and numbers its rows, and shuffles them to parts by the hash
   of the athlete, each part sorted by athlete and then by row. So each athlete is in one part, in order of arrival.
3. Each part is piped into `nextrung replay learn`; the driver joins what was learned with `nextrung replay join-learned`
   and sends it to all workers.
4. Each part is piped into `nextrung replay score`; the driver joins the scores with `nextrung replay join`, which writes
   the folder. Until then nothing is written.

What the parts learn and score is kept in whole numbers, so the sums do not depend on how the sheet was cut.

Rows that cannot be read are named by their place in the sheet, though the binary on a worker only knows its own part.
Exit codes are the binary's: 2 for a file or flag to mend, 4 for a fault. Nothing but PySpark and the binary is needed.
See README.md beside this file for what travels where and what to mind about people's data.
"""

import argparse
import array
import bisect
import csv
import dataclasses
import io
import json
import mmap
import os
import pathlib
import re
import shutil
import socket
import subprocess
import sys
import tempfile
from collections.abc import Iterator

from pyspark import RDD, SparkContext, SparkFiles
from pyspark.rdd import portable_hash
from pyspark.sql import SparkSession
from pyspark.sql.types import StringType, StructField, StructType

STANDARD_INPUT = "/dev/stdin"
MOST_PROBLEMS = 100
BYTE_ORDER_MARK = b"\xef\xbb\xbf"
PLACE = re.compile(r"row\[(\d+)\]")


class Trouble(Exception):
    """Why there are no figures: lines for the user and the exit code."""

    def __init__(self, *lines: str, code: int = 2):
        super().__init__("\n".join(lines))
        self.code = code


# --- what is asked for -------------------------------------------------------------------------------------------


def read_arguments() -> argparse.Namespace:
    """The flags: those of `nextrung replay files`, and those of the cluster."""
    parser = argparse.ArgumentParser(
        prog="replay.py",
        description="Replays a sheet of sets on a Spark cluster; the figures are those of `nextrung replay files`.",
        allow_abbrev=False,
    )
    what = parser.add_argument_group("what is replayed")
    what.add_argument("--sets", required=True, metavar="FILE", help="the sheet: a path that the driver and every worker "
                      "see, or an address that Spark reads (hdfs://, s3a://)")
    what.add_argument("--athletes", type=pathlib.Path, metavar="FILE", help="the profiles of the athletes (TOML)")
    what.add_argument("--leave-out-bad-rows", action="store_true", help="leave out bad rows and count them")
    how = parser.add_argument_group("what is scored, and how (as in `nextrung replay files --help`)")
    how.add_argument("--data", type=pathlib.Path, metavar="FOLDER", default=os.environ.get("NEXTRUNG_DATA") or None,
                     help="ladders in place of the program's [env: NEXTRUNG_DATA]")
    for flag in ("--from", "--to"):
        how.add_argument(flag, metavar="DAY")
    for flag in ("--ladder", "--athlete"):
        how.add_argument(flag, action="append", default=[], metavar="NAME")
    how.add_argument("--policy", action="append", default=[], metavar="NAME=FILE")
    how.add_argument("--no-advice", action="store_true")
    how.add_argument("--warm-up-days", metavar="N")
    how.add_argument("--seed", metavar="N")
    where = parser.add_argument_group("where")
    where.add_argument("--binary", default="nextrung", metavar="PATH", help="the binary: its path on the driver and on "
                       "every worker, or with --ship on the driver alone [default: nextrung, looked for in PATH]")
    where.add_argument("--ship", action="store_true", help="send the binary to the workers, which have the driver's kind "
                       "of processor and system")
    where.add_argument("--parts", type=int, metavar="N", help="parts to cut the sheet into [default: one for each "
                       "core of the cluster]")
    where.add_argument("--keep-parts", type=pathlib.Path, metavar="FOLDER", help="keep what each part learned and scored")
    where.add_argument("--out", type=pathlib.Path, required=True, metavar="FOLDER", help="the folder to write into")
    options = parser.parse_args()
    if options.parts is not None and options.parts < 1:
        parser.error(f"found --parts {options.parts}; expected 1 or more")
    return options


@dataclasses.dataclass(frozen=True)
class Flag:
    """A flag for the binary. A shipped file stands among Spark's files, which lie elsewhere on each machine."""

    name: str
    value: str | None = None
    shipped: str | None = None

    def words(self) -> list[str]:
        """The flag as words of a command on this machine."""
        if self.shipped is None:
            return [self.name] if self.value is None else [f"{self.name}={self.value}"]
        return [f"{self.name}={self.value or ''}{SparkFiles.get(self.shipped)}"]


@dataclasses.dataclass(frozen=True)
class Command:
    """The binary and its flags, the same on every machine."""

    binary: Flag
    of_sheet: tuple[Flag, ...]
    of_score: tuple[Flag, ...]

    def program(self) -> str:
        """The binary on this machine."""
        shipped = self.binary.shipped
        return self.binary.name if shipped is None else SparkFiles.get(shipped)


def prepare(context: SparkContext, options: argparse.Namespace, folder: pathlib.Path) -> Command:
    """Hands Spark the files that the binary needs on the workers, under names of their own, and makes the flags."""

    def ship(path: pathlib.Path, name: str) -> str:
        try:
            shutil.copy(path, folder / name)
        except OSError as error:
            raise Trouble(f"{path} cannot be read: {error.strerror}") from None
        context.addFile(str(folder / name))
        return name

    of_sheet, of_score = [], []
    if options.athletes:
        of_sheet.append(Flag("--athletes", shipped=ship(options.athletes, "athletes.toml")))
    if options.leave_out_bad_rows:
        of_sheet.append(Flag("--leave-out-bad-rows"))
    if options.data:
        if not options.data.is_dir():
            raise Trouble(f"{options.data} is no folder")
        archive = shutil.make_archive(str(folder / "ladders"), "zip", options.data)
        context.addArchive(f"{archive}#ladders")
        of_score.append(Flag("--data", shipped="ladders"))
    for number, text in enumerate(options.policy, 1):
        name, is_pair, path = text.partition("=")
        if not (name and is_pair and path):
            raise Trouble(f"found --policy {text}; expected NAME=FILE")
        of_score.append(Flag("--policy", f"{name}=", ship(pathlib.Path(path), f"policy-{number}.toml")))
    for flag in ("from", "to", "ladder", "athlete", "warm_up_days", "seed"):
        found = getattr(options, flag)
        values = found if isinstance(found, list) else [found]
        of_score += [Flag("--" + flag.replace("_", "-"), value) for value in values if value is not None]
    if options.no_advice:
        of_score.append(Flag("--no-advice"))
    found = shutil.which(options.binary)
    if found is None:
        raise Trouble(f"{options.binary} is no program on the driver; name the binary with --binary")
    path = os.path.abspath(options.binary) if os.sep in options.binary else options.binary
    binary = Flag(path, shipped=ship(pathlib.Path(found), "nextrung") if options.ship else None)
    return Command(binary, tuple(of_sheet), tuple(of_score))


# --- the sheet, on the driver ------------------------------------------------------------------------------------


@dataclasses.dataclass(frozen=True)
class Form:
    """The form of a sheet. A record is a row that is not wholly empty; only records come out of Spark's reader."""

    separator: str
    header: list[str]
    header_record: int  # records before the header
    records: int  # the header among them
    empty: list[int]  # for each empty row the records before it

    def row(self, record: int) -> int:
        """The row as a spreadsheet shows it, of a record counted from 0."""
        return record + 1 + bisect.bisect_right(self.empty, record)


def walk(path: pathlib.Path) -> Form:
    """Finds the form of a sheet, or where it is none."""
    try:
        with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as sheet:
            return walk_over(sheet, path.name)
    except OSError as error:
        raise Trouble(f"{path} cannot be read: {error.strerror}") from None
    except ValueError:  # an empty file cannot be mapped
        raise Trouble(f"{path.name} is empty; expected a header row and a row for each set") from None


def walk_over(sheet: mmap.mmap, name: str) -> Form:
    """The same, of the bytes."""
    at = len(BYTE_ORDER_MARK) if sheet[:3] == BYTE_ORDER_MARK else 0
    first_line = re.compile(rb"[^\r\n]*").match(sheet, at).group()
    separator = b";" if first_line.count(b";") > first_line.count(b",") else b","
    cell = rb'(?:"[^"]*(?:""[^"]*)*"|[^"%s\r\n]*)' % separator
    whole_row = re.compile(rb"(%s(?:%s%s)*)(?:\r\n|[\r\n]|\Z)" % (cell, separator, cell))
    header, header_record, records, empty = None, 0, 0, []
    while at < len(sheet):
        place = f"row[{records + len(empty) + 1}]"
        found = whole_row.match(sheet, at)
        if found is None:
            raise Trouble(
                f"{name} is no sheet that can be cut",
                f"  {place}: found a quote that is not closed, not doubled or not at the edge of its cell; expected cells "
                "that hold a quote in quotes, the quotes within them doubled",
            )
        try:
            text = found[1].decode()
        except UnicodeDecodeError:
            raise Trouble(f"{name} is no sheet that can be cut", f"  {place}: expected text in UTF-8") from None
        if text == "":
            empty.append(records)
        else:
            if header is None:
                cells = next(csv.reader(io.StringIO(text, newline=""), delimiter=separator.decode()))
                if any(cell.strip() for cell in cells):
                    header, header_record = cells, records
            records += 1
        at = found.end()
    if header is None:
        raise Trouble(f"{name} holds nothing; expected a header row and a row for each set")
    return Form(separator.decode(), header, header_record, records, empty)


def find_sheet(spark: SparkSession, sets: str, folder: pathlib.Path) -> tuple[pathlib.Path, str]:
    """The sheet as a file of the driver, and its address for Spark's reader."""
    if not re.match(r"[a-z][a-z0-9+.-]*:/", sets):
        path = pathlib.Path(sets)
        return path, "file://" + re.sub(r"([\\*?{}\[\]])", r"\\\1", str(path.absolute()))
    # The walk and the hash in the manifest need the bytes in order; Hadoop's file systems bring them.
    hadoop = spark.sparkContext._jvm.org.apache.hadoop.fs
    source = hadoop.Path(sets)
    copy = folder / source.getName()
    try:
        source.getFileSystem(spark.sparkContext._jsc.hadoopConfiguration()).copyToLocalFile(
            False, source, hadoop.Path(f"file://{copy}"), True
        )
    except Exception as error:  # py4j wraps whatever the file system throws
        raise Trouble(f"{sets} cannot be read: {getattr(error, 'java_exception', error)}") from None
    return copy, sets


# --- the sheet, in Spark -----------------------------------------------------------------------------------------


def cut(spark: SparkSession, address: str, form: Form, parts: int) -> RDD:
    """The rows as ((athlete, record), cells), each athlete in one part, sorted. A row of another width than the header's
    stays as it was written, for the binary to judge."""
    width = len(form.header)
    columns = [StructField(f"cell{at}", StringType()) for at in range(width)] + [StructField("written", StringType())]
    rows = spark.read.csv(
        address, schema=StructType(columns), sep=form.separator, quote='"', escape='"', encoding="UTF-8", header=False,
        multiLine=True, mode="PERMISSIVE", columnNameOfCorruptRecord="written", ignoreLeadingWhiteSpace=False,
        ignoreTrailingWhiteSpace=False, enforceSchema=True, maxCharsPerColumn=-1, maxColumns=max(512, 2 * width),
    ).rdd
    if rows.getNumPartitions() != 1:
        raise Trouble(f"{address} is read in {rows.getNumPartitions()} pieces; expected one file")
    at = [name.strip() for name in form.header].index("athlete")
    header_record = form.header_record

    def keyed(records: Iterator) -> Iterator:
        """Names each row's athlete; a row that names nobody goes with the one above."""
        athlete = ""
        for number, record in enumerate(records):
            if number <= header_record:
                continue
            *cells, written = record
            athlete = (cells[at] or "").strip() or athlete
            yield (athlete, number), (cells if written is None else written)

    return rows.mapPartitions(keyed).repartitionAndSortWithinPartitions(parts, lambda key: portable_hash(key[0]))


@dataclasses.dataclass
class Outcome:
    """What came of one part."""

    part: int
    host: str
    first: str  # athlete, in the order of the part
    last: str
    athletes: int = 0
    rows: int = 0
    content: bytes = b""  # what the binary wrote
    code: int = 0
    said: str = ""  # what it said instead
    records: array.array | None = None  # of a part with problems: the record of each row

    def name(self) -> str:
        """The part, for people."""
        who = f"athlete {self.first}" if self.athletes == 1 else f"{self.athletes} athletes, {self.first} to {self.last}"
        return f"part {self.part} ({who}; {self.rows} rows; on {self.host})"


def through(verb: str, command: Command, more: tuple[Flag, ...], form: Form, threads: str):
    """The function that pipes a part through the binary."""
    header, separator = form.header, form.separator

    def run(part: int, rows: Iterator) -> Iterator[Outcome]:
        first = next(rows, None)
        if first is None:
            return
        outcome = Outcome(part, socket.gethostname(), first[0][0], first[0][0])
        with tempfile.TemporaryDirectory(prefix="nextrung-") as folder:
            written = pathlib.Path(folder, "written.json")
            words = ["replay", verb, "--json", f"--sets={STANDARD_INPUT}", f"--out={written}", f"--threads={threads}"]
            words += [word for flag in (*command.of_sheet, *command.of_score, *more) for word in flag.words()]
            with pathlib.Path(folder, "said").open("w+b") as said:
                try:
                    process = start([command.program(), *words], said)
                except OSError as error:
                    outcome.code, outcome.said = 4, f"{command.program()} cannot be run: {error.strerror}"
                    yield outcome
                    return
                records = feed(process.stdin, header, separator, first, rows, outcome)
                outcome.code = process.wait()
                said.seek(0)
                outcome.said = said.read().decode(errors="replace").strip()
            if outcome.code < 0:  # killed, perhaps for memory: another machine may do better
                raise RuntimeError(f"{outcome.name()}: nextrung replay {verb} was ended by signal {-outcome.code}")
            if outcome.code == 0:
                outcome.content = written.read_bytes()
            else:
                outcome.records = records
        yield outcome

    return run


def start(words: list[str], said) -> subprocess.Popen:
    """Starts the binary beside Spark's worker."""
    return subprocess.Popen(
        words, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=said, env=environment()
    )


def environment() -> dict[str, str]:
    """This machine's environment without settings of the binary: flags alone decide, the same everywhere."""
    return {name: value for name, value in os.environ.items() if not name.startswith("NEXTRUNG_")}


def feed(pipe, header: list[str], separator: str, first: tuple, rest: Iterator, outcome: Outcome) -> array.array:
    """Writes a part as a sheet; returns the record of each row under the header."""
    records = array.array("q")
    try:
        with io.TextIOWrapper(pipe, encoding="utf-8", newline="", write_through=False) as text:
            sheet = csv.writer(text, delimiter=separator, lineterminator="\n")
            sheet.writerow(header)
            row = first
            while row is not None:
                (athlete, record), cells = row
                if outcome.athletes == 0 or athlete != outcome.last:
                    outcome.athletes, outcome.last = outcome.athletes + 1, athlete
                records.append(record)
                outcome.rows += 1
                if isinstance(cells, str):
                    text.write(cells.rstrip("\r\n") + "\n")
                else:
                    sheet.writerow(["" if cell is None else cell for cell in cells])
                row = next(rest, None)
    except BrokenPipeError:
        pass  # the binary ended early, and says why
    return records


# --- what came of it ---------------------------------------------------------------------------------------------


def failures(outcomes: list[Outcome], form: Form, name: str) -> Trouble | None:
    """What went wrong in the parts, told in the sheet's own rows."""
    failed = [outcome for outcome in outcomes if outcome.code != 0]
    if not failed:
        return None
    told = sorted(told_by(outcome, form) for outcome in failed)
    problems = sum(len(lines) for _, _, lines in told)
    rows = {row for _, rows, _ in told for row in rows}
    count = len(rows) or len(failed)
    thing = ("row" if rows else "part") + ("" if count == 1 else "s")
    lines = [f"{name} has problems in {count} {thing}"]
    room = MOST_PROBLEMS
    for heading, _, texts in told:
        lines += [heading[1], *texts[:room]]
        room = max(0, room - len(texts))
    if problems > MOST_PROBLEMS:
        lines.append(f"and {problems - MOST_PROBLEMS} more")
    if rows:
        lines.append("Nothing was written. Mend the rows, or leave them out with --leave-out-bad-rows.")
    return Trouble(*lines, code=max(outcome.code for outcome in failed))


def told_by(outcome: Outcome, form: Form) -> tuple[tuple[int, str], list[int], list[str]]:
    """A part's problems: (first row and the part's name), the rows of the sheet, and a line for each problem."""
    try:
        error = json.loads(outcome.said)["error"]
        problems = [f"{field['field']}: {field['description']}" for field in error.get("fields", [])]
        problems = problems or [f"{error['message']} {error.get('advice') or ''}".strip()]
    except (ValueError, KeyError, TypeError):
        problems = outcome.said.splitlines() or [f"ended with exit code {outcome.code} and said nothing"]
    rows: list[int] = []
    lines = []
    for problem in problems:
        found = PLACE.match(problem)
        of_part = int(found[1]) if found else 0
        if outcome.records is None or not 2 <= of_part <= len(outcome.records) + 1:
            lines.append(f"  {problem}")
            continue
        row = form.row(outcome.records[of_part - 2])  # the header is row 1
        rows.append(row)
        lines.append(f"  row[{row}]{problem[found.end():]} (row {of_part} of the part)")
    return (min(rows, default=0), outcome.name()), rows, lines


def on_driver(command: Command, words: list[str], folder: pathlib.Path, piped: bytes = b"") -> bytes:
    """Runs the binary on the driver, in the folder; returns what it printed."""
    program = shutil.which(command.program()) or command.program()
    done = subprocess.run([program, "replay", *words], input=piped, cwd=folder, env=environment(), capture_output=True)
    if done.returncode != 0:
        said = done.stderr.decode(errors="replace").strip().removeprefix("error: ")
        said = said or f"nextrung replay {words[0]} ended with {done.returncode}"
        raise Trouble(said, code=done.returncode if done.returncode > 0 else 4)
    return done.stdout


def check(command: Command, form: Form, folder: pathlib.Path, name: str) -> None:
    """Lets the binary judge flags, files and header before any work is handed out, by a sheet without rows."""
    header = io.StringIO(newline="")
    csv.writer(header, delimiter=form.separator).writerow(form.header)
    flags = [word for flag in (*command.of_sheet, *command.of_score) for word in flag.words()]
    try:
        on_driver(
            command, ["learn", f"--sets={STANDARD_INPUT}", "--out=header.json", *flags], folder, header.getvalue().encode()
        )
    except Trouble as trouble:
        raise Trouble(str(trouble).replace(STANDARD_INPUT, name), code=trouble.code) from None


def joined(command: Command, words: list[str], folder: pathlib.Path, outcomes: list[Outcome]) -> bytes:
    """Puts parts together on the driver; returns what the binary printed."""
    names = []
    for outcome in outcomes:
        names.append(f"{words[0]}-{outcome.part}.json")
        (folder / names[-1]).write_bytes(outcome.content)
    return on_driver(command, [*words, *names], folder)


def keep(folder: pathlib.Path | None, verb: str, outcomes: list[Outcome]) -> None:
    """Keeps what the parts came to, if that is wanted."""
    if folder is not None:
        folder.mkdir(parents=True, exist_ok=True)
        for outcome in outcomes:
            (folder / f"{verb}-{outcome.part}.json").write_bytes(outcome.content)


def replay(spark: SparkSession, options: argparse.Namespace, folder: pathlib.Path) -> bytes:
    """All of it; returns the page for people."""
    context = spark.sparkContext
    path, address = find_sheet(spark, options.sets, folder)
    form = walk(path)
    command = prepare(context, options, folder)
    parts = options.parts or max(1, context.defaultParallelism)
    threads = context.getConf().get("spark.task.cpus", "1")
    check(command, form, folder, path.name)
    rows = cut(spark, address, form, parts)

    def each_part(verb: str, *more: Flag) -> list[Outcome]:
        outcomes = rows.mapPartitionsWithIndex(through(verb, command, more, form, threads)).collect()
        if trouble := failures(outcomes, form, path.name):
            raise trouble
        read, there = sum(outcome.rows for outcome in outcomes), form.records - form.header_record - 1
        if read != there:
            raise Trouble(f"Spark's reader finds {read} rows in {path.name}, where {there} are; expected one kind of "
                          "line break, and quotes only around whole cells")
        keep(options.keep_parts, verb, outcomes)
        return outcomes

    learned = each_part("learn")
    if not learned:
        raise Trouble(f"{path.name} holds no set under its header")
    athletes = sum(outcome.athletes for outcome in learned)
    print(f"learned from {athletes} athletes in {len(learned)} parts", file=sys.stderr)
    joined(command, ["join-learned", "--out=learned.json"], folder, learned)
    context.addFile(str(folder / "learned.json"))
    scored = each_part("score", Flag("--learned", shipped="learned.json"))
    words = [word for flag in command.of_score for word in flag.words()]
    words += [f"--hash-of={file.absolute()}" for file in (path, options.athletes) if file]
    return joined(command, ["join", *words, f"--out={options.out.absolute()}"], folder, scored)


def main() -> int:
    """Runs the job; a trouble is told in its own words, without a trace."""
    options = read_arguments()
    spark = SparkSession.builder.appName("nextrung replay").getOrCreate()
    try:
        with tempfile.TemporaryDirectory(prefix="nextrung-replay-") as folder:
            page = replay(spark, options, pathlib.Path(folder))
    except Trouble as trouble:
        print(f"error: {trouble}", file=sys.stderr)
        return trouble.code
    finally:
        spark.stop()
    sys.stdout.write(page.decode())
    return 0


if __name__ == "__main__":
    sys.exit(main())
