"""A table of questions in, the same table with its answers out: ``python -m calc batch``.

Every row is one question: the column ``calculator`` names who answers it (or ``--calculator``
does, for all rows), other columns are inputs by name with texts in any accepted unit. An empty
cell takes the calculator's own example value. A column whose name begins with ``#`` is a label
and is carried along. Identical questions are computed once.

The work is spread over processes of this machine, or over a Dask cluster; both run `answer_row`
in a process of its own whose linear algebra has one thread, so that the answers are the same
to the last digit. The table of answers is written anew every few seconds under another name and
then renamed, so that it is whole at any moment. A run that was stopped goes on where it was:
rows that stand in it with the same inputs, from the same version, without an error, stay.
"""

from __future__ import annotations

import argparse
import contextlib
import csv
import math
import os
import re
import signal
import sys
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from calc import __version__, calculators
from calc.errors import InputError, ValidityError
from calc.units import KINDS

VERDICT = ("verdict", "governs", "margin", "margin_low", "margin_high")
REMARKS = ("only_limits", "not_used", "query", "version", "error")
"""Columns around the answers: which numbers are limits only, which inputs did not apply."""
CHUNK = 4
"""Rows handed to a process at a time: about a second of work for the main calculator."""
SAVE_EVERY = 1.0
"""Seconds between two writings of the table, and at least twenty times what one takes."""
_RANGE = re.compile(r"(?P<name>\S+)(?P<end> low| high)? (?P<unit>\[.*\])")


@dataclass(frozen=True)
class Row:
    """One question: a calculator and what is given to it, sorted by name."""

    calculator: str
    texts: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Table:
    """What a file asks: `rows` in order, and beside each its cells and what is wrong with it."""

    header: tuple[str, ...]
    cells: tuple[tuple[str, ...], ...]
    rows: tuple[Row, ...]
    problems: tuple[str, ...]
    delimiter: str


Answered = Mapping[str, str]
"""Column name to text; columns without a text are left out."""


def answer_row(row: Row) -> dict[str, str]:
    """Return the answer columns of one question; a bad one has its reason under ``error``."""
    out = {"version": __version__}
    try:
        calculator = calculators.load(row.calculator)
        given = dict(row.texts)
        texts = calculator.complete(given)
        values, errors = calculator.read(texts)
        if errors:
            return out | {"error": "; ".join(str(problem) for problem in errors.values())}
        report = calculators.answer(calculator, values)
    except (InputError, ValidityError) as problem:
        return out | {"error": str(problem)}
    except Exception as problem:
        # Whatever goes wrong in one row must not cost the others.
        return out | {"error": f"{type(problem).__name__}: {problem}"}
    limits = [a.name for a in report.answers if a.bound]
    for item in report.answers:
        unit = f"[{KINDS[item.kind].si}]"
        out[f"{item.name} {unit}"] = repr(float(item.value))
        if item.low is not None and item.high is not None:
            out[f"{item.name} low {unit}"] = repr(float(item.low))
            out[f"{item.name} high {unit}"] = repr(float(item.high))
    verdict = report.verdict
    if verdict is not None:
        out |= {
            "verdict": verdict.state,
            "governs": verdict.governs,
            "margin": repr(float(verdict.margin)),
        }
        if verdict.low is not None and verdict.high is not None:
            out["margin_low"] = repr(float(verdict.low))
            out["margin_high"] = repr(float(verdict.high))
        if verdict.bound:
            limits.insert(0, "margin")
    bounds = {a.name: a.bound for a in report.answers}
    out["only_limits"] = ", ".join(f"{name} {bounds.get(name, 'at least')}" for name in limits)
    out["not_used"] = ", ".join(
        name for name in given if values.get(calculator.aliases.get(name, name)) is None
    )
    out["query"] = calculator.query(texts)
    return {name: text for name, text in out.items() if text}


def answer_rows(rows: Sequence[Row]) -> list[dict[str, str]]:
    """Answer one row after the other; what a process of the pool is asked to do."""
    return [answer_row(row) for row in rows]


def read(path: Path, *, calculator: str | None = None) -> Table:
    """Return what a file asks; `calculator` answers rows that name none.

    Raises
    ------
    InputError
        Where the table as a whole cannot be used: no text, no header, a column nobody knows.
    """
    names, lines, delimiter = _lines(path)
    if len(set(names)) < len(names):
        twice = next(name for name in names if names.count(name) > 1)
        raise InputError("column", twice, "each column once")
    if "calculator" not in names:
        if calculator is None:
            raise InputError(
                "calculator", "", "a column of that name in the table, or --calculator SLUG"
            )
        names = ("calculator", *names)
        lines = [("", *line) for line in lines]
    place = names.index("calculator")
    cells, rows, problems = [], [], []
    for line in lines:
        problem = ""
        if len(line) > len(names):
            problem = f"{len(line)} cells under {len(names)} column names"
        full = [text.strip() for text in (*line, *[""] * (len(names) - len(line)))][: len(names)]
        full[place] = full[place] or calculator or ""
        given = (
            (name, text)
            for name, text in zip(names, full, strict=True)
            if text and name != "calculator" and not name.startswith("#")
        )
        cells.append(tuple(full))
        rows.append(Row(full[place], tuple(sorted(given))))
        problems.append(problem)
    _check_columns(names, {row.calculator for row in rows} | ({calculator} - {None}))
    return Table(names, tuple(cells), tuple(rows), tuple(problems), delimiter)


def _lines(path: Path) -> tuple[tuple[str, ...], list[tuple[str, ...]], str]:
    """Return column names, the other lines that are not empty, and what parts the cells."""
    try:
        with path.open(encoding="utf-8-sig", newline="") as opened:
            first = opened.readline()
            # Where the decimal comma is usual, spreadsheets part cells by semicolons.
            delimiter = max(",;\t", key=first.count)
            opened.seek(0)
            lines = [tuple(line) for line in csv.reader(opened, delimiter=delimiter)]
    except OSError as problem:
        raise InputError("file", str(path), f"a table to read ({problem.strerror})") from None
    except (UnicodeDecodeError, csv.Error) as problem:
        raise InputError("file", str(path), f"a CSV file in UTF-8 ({problem})") from None
    filled = [line for line in lines if any(text.strip() for text in line)]
    if not filled:
        raise InputError("file", str(path), "a table with a line of column names")
    return tuple(name.strip() for name in filled[0]), filled[1:], delimiter


def _check_columns(names: Sequence[str], slugs: Iterable[str | None]) -> None:
    """Refuse a column that no calculator of the table has: a misspelt name changes no answer."""
    loaded = [calculators.load(slug) for slug in slugs if slug in calculators.SLUGS]
    if not loaded:
        return
    known = frozenset().union(*(calculator.known_names for calculator in loaded))
    for name in names:
        if name != "calculator" and not name.startswith("#") and name not in known:
            raise InputError(
                "column",
                name,
                f"an input of {', '.join(sorted(c.slug for c in loaded))} "
                f"({', '.join(sorted(known))}), or #{name} for a label",
            )


def earlier(path: Path) -> dict[Row, Answered]:
    """Return the answers that a table written before still holds good.

    Raises
    ------
    InputError
        Where the file is something else: it is not overwritten.
    """
    if not path.exists():
        return {}
    names, lines, _ = _lines(path)
    if not {"calculator", *VERDICT, *REMARKS} <= set(names):
        raise InputError("out", str(path), "a new name, or a table that this command wrote")
    start = names.index(VERDICT[0])
    found: dict[Row, Answered] = {}
    for line in lines:
        pairs = [(name, text) for name, text in zip(names, line, strict=False) if text]
        inputs = dict(pair for pair in pairs if pair[0] in names[:start])
        answered = dict(pair for pair in pairs if pair[0] in names[start:])
        if answered.get("version") == __version__ and "error" not in answered:
            texts = tuple(
                sorted(
                    (name, text)
                    for name, text in inputs.items()
                    if name != "calculator" and not name.startswith("#")
                )
            )
            found[Row(inputs["calculator"], texts)] = answered
    return found


def columns(answers: Iterable[Answered]) -> tuple[str, ...]:
    """Return the result columns in order: verdict, each number and its range, remarks."""
    fixed = {*VERDICT, *REMARKS}
    ends: dict[tuple[str, str], set[str]] = {}
    for name in dict.fromkeys(name for answered in answers for name in answered):
        parts = _RANGE.fullmatch(name)
        if name not in fixed and parts is not None:
            ends.setdefault((parts["name"], parts["unit"]), set()).add(parts["end"] or "")
    numbers = [
        f"{name}{end} {unit}"
        for (name, unit), known in ends.items()
        for end in ("", " low", " high")
        if end in known
    ]
    return (*VERDICT, *numbers, *REMARKS)


def write(path: Path, table: Table, answers: Mapping[Row, Answered]) -> None:
    """Write the rows answered so far, in their order, so that nobody ever sees half a table."""
    done: list[tuple[tuple[str, ...], Answered]] = []
    for cells, row, problem in zip(table.cells, table.rows, table.problems, strict=True):
        answered = {"version": __version__, "error": problem} if problem else answers.get(row)
        if answered is not None:
            done.append((cells, answered))
    results = columns(answered for _, answered in done)
    scratch = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        with scratch.open("w", encoding="utf-8", newline="") as opened:
            out = csv.writer(opened, delimiter=table.delimiter)
            out.writerow((*table.header, *results))
            for cells, answered in done:
                out.writerow((*cells, *(answered.get(name, "") for name in results)))
            opened.flush()
            os.fsync(opened.fileno())
        scratch.replace(path)
    finally:
        scratch.unlink(missing_ok=True)


class Pool(Protocol):
    """Where chunks of rows are answered."""

    def submit(self, rows: tuple[Row, ...]) -> Future[list[dict[str, str]]]:
        """Hand over a chunk."""

    def width(self) -> int:
        """Return how many chunks may be under way at a time."""

    def close(self) -> None:
        """Let go of the processes, after the chunks under way."""


class Processes:
    """Processes of this machine; a new set where one of them died."""

    def __init__(self, workers: int) -> None:
        self.workers = workers
        self.executor: Executor | None = None

    def submit(self, rows: tuple[Row, ...]) -> Future[list[dict[str, str]]]:
        """Hand over a chunk, starting the processes at the first."""
        if self.executor is not None:
            with contextlib.suppress(BrokenProcessPool):
                return self.executor.submit(answer_rows, rows)
        self.executor = self._start()
        return self.executor.submit(answer_rows, rows)

    def _start(self) -> Executor:
        from concurrent.futures import ProcessPoolExecutor
        from multiprocessing import get_context

        # A process started afresh reads this before it loads numpy; one that is forked would not.
        for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
            os.environ.setdefault(name, "1")
        return ProcessPoolExecutor(
            self.workers, mp_context=get_context("spawn"), initializer=_quiet_worker
        )

    def width(self) -> int:
        """Keep one chunk in hand for each process."""
        return 2 * self.workers

    def close(self) -> None:
        """Wait for what is under way and drop the rest."""
        if self.executor is not None:
            self.executor.shutdown(cancel_futures=True)


def _quiet_worker() -> None:
    """Leave Ctrl-C to the parent, and do not outlive it."""
    import multiprocessing
    import threading

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()

    def follow() -> None:
        if parent is not None:
            parent.join()
            os._exit(1)

    threading.Thread(target=follow, daemon=True).start()


class Cluster:
    """A Dask cluster: the one at an address, or one made here for the while."""

    def __init__(self, address: str, workers: int) -> None:
        try:
            from distributed import Client, LocalCluster
        except ImportError:
            raise InputError(
                "dask", address, "this option after: pip install '.[bulk]' in the project's folder"
            ) from None
        self.local: Any = None
        if not address:
            self.local = LocalCluster(
                n_workers=workers, threads_per_worker=1, dashboard_address=None
            )
        try:
            self.client: Any = Client(self.local or address)
        except (OSError, ValueError) as problem:
            raise InputError(
                "dask", address, f"the address of a running scheduler ({problem})"
            ) from None
        self.executor: Executor = self.client.get_executor(pure=False)

    def submit(self, rows: tuple[Row, ...]) -> Future[list[dict[str, str]]]:
        """Hand over a chunk; workers import this module by name, so they need `calc` installed."""
        return self.executor.submit(answer_rows, rows)

    def width(self) -> int:
        """Follow the cluster as it grows and shrinks."""
        cores: int = sum(self.client.ncores().values())
        return 2 * max(1, cores)

    def close(self) -> None:
        """Leave the cluster; end it if it was made here."""
        self.client.close()
        if self.local is not None:
            self.local.close()


def spread(rows: Sequence[Row], pool: Pool) -> Iterator[tuple[Row, dict[str, str]]]:
    """Answer rows on a pool, in whatever order they come back.

    A process that dies takes its chunk with it. The rows that were under way are then asked again
    one at a time with nothing beside them, so that the one to blame is known and no other is lost.
    """
    chunks = deque(tuple(rows[k : k + CHUNK]) for k in range(0, len(rows), CHUNK))
    suspects: deque[Row] = deque()
    flying: dict[Future[list[dict[str, str]]], tuple[tuple[Row, ...], bool]] = {}
    while chunks or suspects or flying:
        if suspects and not flying:
            suspect = (suspects.popleft(),)
            flying[pool.submit(suspect)] = (suspect, True)
        while chunks and not suspects and len(flying) < pool.width():
            chunk = chunks.popleft()
            flying[pool.submit(chunk)] = (chunk, False)
        finished, _ = wait(flying, return_when=FIRST_COMPLETED)
        for future in finished:
            chunk, alone = flying.pop(future)
            problem = future.exception()
            if problem is None:
                yield from zip(chunk, future.result(), strict=True)
            elif alone:
                yield (
                    chunk[0],
                    {
                        "version": __version__,
                        "error": "the process that computed this row ended "
                        f"({type(problem).__name__})",
                    },
                )
            else:
                suspects.extend(chunk)


def run(
    table: Table,
    out: Path,
    pool: Callable[[], Pool],
    *,
    tell: Callable[[int, int, int], None] = lambda done, total, bad: None,
) -> tuple[dict[Row, Answered], int]:
    """Answer a table into `out`; return the answers by question and how many stood there already.

    `tell` hears (questions done, questions in all, bad ones). Whatever ends the run, what has
    been answered is written.
    """
    stored = earlier(out)
    asked = list(
        dict.fromkeys(row for row, bad in zip(table.rows, table.problems, strict=True) if not bad)
    )
    answers: dict[Row, Answered] = {row: stored[row] for row in asked if row in stored}
    reused = len(answers)
    waiting = [row for row in asked if row not in answers]
    if not waiting:
        write(out, table, answers)
        return answers, reused
    bad = 0
    saved = -math.inf
    pause = SAVE_EVERY
    with contextlib.closing(pool()) as opened:
        tell(reused, len(asked), bad)
        try:
            for row, answered in spread(waiting, opened):
                answers[row] = answered
                bad += "error" in answered
                tell(len(answers), len(asked), bad)
                began = time.monotonic()
                if began - saved >= pause:
                    write(out, table, answers)
                    saved = time.monotonic()
                    pause = max(SAVE_EVERY, 20 * (saved - began))
        finally:
            write(out, table, answers)
    return answers, reused


class Bar:
    """One line that grows on a terminal; silent in a log."""

    def __init__(self) -> None:
        self.began = time.monotonic()
        self.first: int | None = None

    def __call__(self, done: int, total: int, bad: int) -> None:
        """Redraw."""
        if not sys.stderr.isatty():
            return
        self.first = done if self.first is None else self.first
        filled = 24 * done // total
        rate = (done - self.first) / max(time.monotonic() - self.began, 1e-9)
        left = f", {_clock((total - done) / rate)} left" if rate and done < total else ""
        wrong = f", {bad} bad" if bad else ""
        end = "\n" if done == total else ""
        print(
            f"\r[{'#' * filled}{'.' * (24 - filled)}] {done} of {total}{wrong}{left}\x1b[K",
            end=end,
            file=sys.stderr,
            flush=True,
        )


def _clock(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes // 60}:{minutes % 60:02d}:{rest:02d}"


def main(arguments: Sequence[str]) -> int:
    """Run the command.

    Returns
    -------
    int
        Exit status: 0 if any row was answered, 1 if none, 2 for a table that cannot be used,
        130 after Ctrl-C.
    """
    parser = argparse.ArgumentParser(
        prog="python -m calc batch",
        description="Answer every row of a table. Run it again to go on where it stopped.",
    )
    parser.add_argument("file", type=Path, help="CSV: a column calculator, one for each input")
    parser.add_argument("--out", type=Path, help="where to write (default: FILE-answers.csv)")
    parser.add_argument("--calculator", metavar="SLUG", help="who answers rows that name none")
    parser.add_argument("--workers", type=int, metavar="N", help="processes (default: all cores)")
    parser.add_argument(
        "--dask", nargs="?", const="", metavar="ADDRESS",
        help="run on Dask: on the cluster at this address, or on one made here",
    )  # fmt: skip
    options = parser.parse_args(arguments)
    out = options.out or options.file.with_name(f"{options.file.stem}-answers.csv")
    workers = options.workers or os.cpu_count() or 1
    try:
        if workers < 1:
            raise InputError("workers", workers, "a whole number from 1")
        if out.resolve() == options.file.resolve():
            raise InputError("out", str(out), "another file than the one that is read")
        if options.calculator is not None:
            calculators.load(options.calculator)
        table = read(options.file, calculator=options.calculator)

        def pool() -> Pool:
            return Processes(workers) if options.dask is None else Cluster(options.dask, workers)

        answers, reused = run(table, out, pool, tell=Bar())
    except InputError as problem:
        print(problem, file=sys.stderr)
        return 2
    except OSError as problem:
        print(f"{out}: {problem.strerror}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        print(f"\nStopped. What was answered stands in {out}; run again to go on.", file=sys.stderr)
        return 130
    return _report(table, answers, reused, out)


def _report(table: Table, answers: Mapping[Row, Answered], reused: int, out: Path) -> int:
    wrong = [
        (number, problem or answers[row]["error"])
        for number, (row, problem) in enumerate(
            zip(table.rows, table.problems, strict=True), start=1
        )
        if problem or "error" in answers[row]
    ]
    for number, problem in wrong[:5]:
        print(f"row {number}: {problem}", file=sys.stderr)
    if len(wrong) > 5:
        print(f"and {len(wrong) - 5} more: see the column error", file=sys.stderr)
    total = len(table.rows)
    print(
        f"{total - len(wrong)} of {total} rows answered, {len(wrong)} bad, "
        f"{reused} questions answered before: {out}",
        file=sys.stderr,
    )
    return 1 if wrong and len(wrong) == total else 0
