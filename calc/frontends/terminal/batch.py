"""A table of questions in, the same table with its answers out: ``python -m calc batch``.

Every row is one question: the column ``calculator`` names who answers it (or ``--calculator``
does, for all rows), other columns are inputs by name with texts in any accepted unit. An empty
cell takes the calculator's own example value. A column whose name begins with ``#`` is a label
and is carried along. One table may ask all calculators: what a row gives that its calculator does
not have is reported under ``not_used``. Identical questions are computed once, and of each only
what the table shows. Instead of a table it takes a file of rockets, a row for each.

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
import difflib
import logging
import math
import os
import re
import signal
import sys
import threading
import time
from collections import Counter, deque
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from calc import __version__, calculators, rocket
from calc.errors import InputError
from calc.frontends.terminal import choice, output
from calc.frontends.terminal.pages import link
from calc.frontends.terminal.rockets import read_rockets
from calc.report import FORMULA, WORDS
from calc.units import KINDS, to_unit
from calc.wording import unit_for

VERDICT = ("verdict", "governs", "margin", "margin_low", "margin_high")
REMARKS = (
    "only_limits", "not_promised", "sentence", "notes", "not_used", "query", "version", "error",
)  # fmt: skip
"""Columns around the answers: which numbers are limits only, which margins are not promised, what
the verdict and its margins say in words, which inputs did not apply."""
LINK = "link"
"""Column of addresses, where the site's is known; never read back."""
TODAY = ("material", "thickness")
"""Columns that, beside a question to the material finder, say what is used today."""
CHUNK = 8
"""Rows handed to a process at a time: about a second of work for the main calculator."""
TALL = 3.0
"""Metres above which a number is shown as a height."""
SAVE_EVERY = 1.0
"""Seconds between two writings of the table, and at least twenty times what one takes."""
# A number with its unit, such as a grain angle: it begins like a formula and is none.
_QUANTITY = re.compile(r"[-+][\d.,/\s]*\d\s*[A-Za-z°²³/µ]*")
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


class _Enough(Exception):
    """Ends an answer as soon as all that a table shows of it is known."""


def _ask(slug: str, texts: Mapping[str, str]) -> calculators.Outcome:
    """Return an answer without what no table shows, where the calculator can tell it apart.

    A slow one's first answer is not its last, so it is heard to its end.
    """
    calculator = calculators.load(slug)
    if not calculator.early or calculator.slow:
        return calculators.ask(slug, texts)
    found: list[calculators.Outcome] = []

    def enough(outcome: calculators.Outcome) -> None:
        found.append(outcome)
        raise _Enough

    try:
        return calculators.ask(slug, texts, early=enough)
    except _Enough:
        return found[0]


def answer_row(row: Row) -> dict[str, str]:
    """Return the answer columns of one question; a bad one has its reason under ``error``."""
    out = {"version": __version__}
    stated = dict(row.texts)
    try:
        known = calculators.load(row.calculator).known_names
        given = {name: text for name, text in stated.items() if name in known}
        outcome = _ask(row.calculator, given)
    except InputError as problem:
        return out | {"error": str(problem)}
    except ModuleNotFoundError as problem:
        return out | {"error": output.needed(problem) or str(problem)}
    except Exception as problem:
        # Whatever goes wrong in one row must not cost the others.
        return out | {"error": f"{type(problem).__name__}: {problem}"}
    calculator, report = outcome.calculator, outcome.report
    if report is None:
        return out | {"error": "; ".join(str(problem) for problem in outcome.errors.values())}
    foreign = [name for name in stated if name not in given]
    if row.calculator == "material-finder":
        today = None
        if "material" in stated:
            checked = calculators.load("fin-check").known_names
            today = _ask("fin-check", {n: t for n, t in stated.items() if n in checked})
            foreign = [name for name in foreign if name not in TODAY]
        out |= choice.columns(outcome, today)
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
    out["not_promised"] = ", ".join(mode.name for mode in report.modes if not mode.known)
    out["sentence"] = "" if verdict is None else verdict.sentence
    out["notes"] = "; ".join(f"{mode.name}: {mode.note}" for mode in report.modes if mode.note)
    out["not_used"] = ", ".join(
        name
        for name in stated
        if name in foreign
        or (name in given and outcome.values.get(calculator.aliases.get(name, name)) is None)
    )
    out["query"] = calculator.query(outcome.texts)
    return {name: text for name, text in out.items() if text}


def answer_rows(rows: Sequence[Row]) -> list[dict[str, str]]:
    """Answer one row after the other; the task of one process of the pool."""
    return [answer_row(row) for row in rows]


def read(path: Path, *, calculator: str | None = None) -> Table:
    """Return what a file asks; `calculator` answers rows that name none.

    Raises
    ------
    InputError
        Where the table as a whole cannot be used: no text, no header, a column whose name is
        nearly, but not quite, an input's.
    """
    if path.suffix.lower() == ".json":
        return _of_rockets(path, calculator)
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
    _check_columns(names)
    return Table(names, tuple(cells), tuple(rows), tuple(problems), delimiter)


def _of_rockets(path: Path, slug: str | None) -> Table:
    """Return a table that asks one calculator about every rocket of a file."""
    if slug is None:
        raise InputError("calculator", "", "--calculator SLUG for a file of rockets")
    calculator = calculators.load(slug)
    found = [(each.name, rocket.inputs_of(each, calculator)) for each in read_rockets(path)]
    given = [item.name for item in calculator.all_inputs if any(item.name in t for _, t in found)]
    return Table(
        ("calculator", "#rocket", *given),
        tuple((slug, name, *(texts.get(each, "") for each in given)) for name, texts in found),
        tuple(
            Row(slug, tuple(sorted((n, t) for n, t in texts.items() if t))) for _, texts in found
        ),
        ("",) * len(found),
        ",",
    )


def _lines(path: Path) -> tuple[tuple[str, ...], list[tuple[str, ...]], str]:
    """Return column names, the other lines that are not empty, and what parts the cells."""
    try:
        with path.open(encoding="utf-8-sig", newline="") as opened:
            first = opened.readline()
            # Where the decimal comma is usual, spreadsheets part cells by semicolons.
            delimiter = max(",;\t", key=first.count)
            opened.seek(0)
            reader = csv.reader(opened, delimiter=delimiter, strict=True)
            lines = []
            begins = 1
            for line in reader:
                lines.append(tuple(_from_cell(text) for text in line))
                begins = reader.line_num + 1
    except OSError as problem:
        raise InputError("file", str(path), f"a table to read ({problem.strerror})") from None
    except csv.Error as problem:
        reason = str(problem)
        if reason == "unexpected end of data":
            reason = "a quotation mark is never closed"
        raise InputError(
            "file", str(path), f"a CSV file in UTF-8 (from line {begins} on: {reason})"
        ) from None
    except UnicodeDecodeError as problem:
        raise InputError("file", str(path), f"a CSV file in UTF-8 ({problem})") from None
    filled = [line for line in lines if any(text.strip() for text in line)]
    if not filled:
        raise InputError("file", str(path), "a table with a line of column names")
    return tuple(name.strip() for name in filled[0]), filled[1:], delimiter


def _cell(text: str) -> str:
    """Return a text for a cell, with an apostrophe where a spreadsheet would take it for a formula.

    Control characters go, because tables are also looked at in terminals.

    >>> _cell("=1+1"), _cell("-30 deg"), _cell("balsa")
    ("'=1+1", '-30 deg', 'balsa')
    """
    text = output.plain(text)
    if text.startswith(FORMULA) and not _QUANTITY.fullmatch(text):
        return f"'{text}"
    return text


def _from_cell(text: str) -> str:
    """Return the text that `_cell` has made a cell of."""
    text = output.plain(text)
    return text[1:] if text.startswith("'") and text[1:].startswith(FORMULA) else text


def _check_columns(names: Sequence[str]) -> None:
    """Refuse a column that is nearly an input: a misspelt name would change no answer.

    A column that resembles no input of any calculator is the reader's own; it is told like every
    other that does not apply.
    """
    known = frozenset().union(*(calculators.load(slug).known_names for slug in calculators.SLUGS))
    for name in names:
        if name == "calculator" or name.startswith("#") or name in known:
            continue
        near = difflib.get_close_matches(name.lower(), known, n=3, cutoff=0.8)
        if near:
            raise InputError(
                "column", name, f"an input ({', '.join(near)}), or #{name} for a label"
            )


def earlier(path: Path) -> dict[Row, Answered]:
    """Return the answers of a table written earlier that are still valid.

    Raises
    ------
    InputError
        Where the file is something else: it is not overwritten.
    """
    if path.exists() and not path.is_file():
        # A pipe would wait for ever, a device or a folder cannot be put in place of another.
        raise InputError("out", str(path), "the name of a file, which is rewritten as it grows")
    if not path.exists() or not path.stat().st_size:
        return {}
    names, lines, _ = _lines(path)
    if not {"calculator", *VERDICT, *REMARKS} <= set(names):
        raise InputError("out", str(path), "a new name, or a table that this command wrote")
    start = names.index(VERDICT[0])
    found: dict[Row, Answered] = {}
    for line in lines:
        pairs = [(name, text) for name, text in zip(names, line, strict=False) if text]
        inputs = dict(pair for pair in pairs if pair[0] in names[:start])
        answered = dict(pair for pair in pairs if pair[0] in names[start:] and pair[0] != LINK)
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
    answers = list(answers)
    fixed = {*VERDICT, *choice.TEXTS, *REMARKS, LINK}
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
    there = frozenset().union(*answers)
    words = [name for name in choice.TEXTS if name in there]
    return (*VERDICT, *words, *numbers, *([LINK] if LINK in there else []), *REMARKS)


def _scratch(path: Path) -> Path:
    """Return where a table is written before it takes the place of the one before.

    Beside the file itself, where `path` is a link to one.
    """
    path = path.resolve()
    return path.with_name(f".{path.name}.{os.getpid()}")


def write(
    path: Path, table: Table, answers: Mapping[Row, Answered], *, site: str = "", system: str = ""
) -> None:
    """Write the rows answered so far, in their order, without ever leaving an incomplete file.

    Parameters
    ----------
    site
        Address of the handbook, for links.
    system
        "inch" or "metric" for numbers rounded for people; SI, and every digit, where empty.
    """
    done: list[tuple[tuple[str, ...], Answered]] = []
    for cells, row, problem in zip(table.cells, table.rows, table.problems, strict=True):
        answered = {"version": __version__, "error": problem} if problem else answers.get(row)
        if answered is not None:
            if site and "query" in answered:
                answered = {**answered, LINK: link(site, row.calculator, answered["query"])}
            done.append((cells, answered))
    if system:
        done = readable(done, system)
    results = columns(answered for _, answered in done)
    scratch = _scratch(path)
    try:
        with scratch.open("w", encoding="utf-8", newline="") as opened:
            out = csv.writer(opened, delimiter=table.delimiter)
            out.writerow((*table.header, *results))
            for cells, answered in done:
                texts = (*cells, *(answered.get(name, "") for name in results))
                out.writerow([_cell(text) for text in texts])
            opened.flush()
            os.fsync(opened.fileno())
        scratch.replace(path.resolve())
    finally:
        scratch.unlink(missing_ok=True)


_ROUNDED = "{:.4g}"


def readable(
    done: Sequence[tuple[tuple[str, ...], Answered]], system: str
) -> list[tuple[tuple[str, ...], Answered]]:
    """Return answers with numbers in the units of a system, rounded, one unit a column."""
    largest: dict[str, float] = {}
    for _, answered in done:
        for name, text in answered.items():
            parts = _RANGE.fullmatch(name)
            if parts is not None:
                both = f"{parts['name']} {parts['unit']}"
                largest[both] = max(largest.get(both, 0.0), abs(float(text)))
    named: dict[str, tuple[str, str]] = {}
    for both, most in largest.items():
        si = both.partition(" ")[2][1:-1]
        # Metres are lengths of parts, or heights where they are more than a person's.
        kinds = [kind for kind in KINDS if KINDS[kind].si == si]
        kind = "altitude" if si == "m" and most > TALL else kinds[0]
        named[both] = kind, unit_for(kind, system, most)

    def shown(name: str, text: str) -> tuple[str, str]:
        parts = _RANGE.fullmatch(name)
        if parts is None:
            return name, text
        kind, unit = named[f"{parts['name']} {parts['unit']}"]
        number = float(_ROUNDED.format(to_unit(float(text), kind, unit)))
        return f"{parts['name']}{parts['end'] or ''} [{unit}]", f"{number:.12g}"

    return [
        (cells, dict(shown(name, text) for name, text in answered.items()))
        for cells, answered in done
    ]


class Pool(Protocol):
    """Where chunks of rows are answered."""

    def submit(self, rows: tuple[Row, ...]) -> Future[list[dict[str, str]]]:
        """Hand over a chunk."""

    def width(self) -> int:
        """Return how many chunks may be under way at a time."""

    def close(self) -> None:
        """Shut the processes down after the chunks in progress."""


class Processes:
    """Processes of this machine; a new set where one of them died."""

    def __init__(self, workers: int) -> None:
        self.workers = workers
        self.executor: Executor | None = None

    def submit(self, rows: tuple[Row, ...]) -> Future[list[dict[str, str]]]:
        """Hand over a chunk, starting the processes at the first."""
        with _without_interrupts():
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
        """Wait for the chunks in progress and drop the rest."""
        if self.executor is not None:
            self.executor.shutdown(cancel_futures=True)


@contextlib.contextmanager
def _without_interrupts() -> Iterator[None]:
    """Start processes that ignore Ctrl-C from their first moment; this one waits meanwhile."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    from multiprocessing import resource_tracker

    # Its own start would end the blocking.
    resource_tracker.ensure_running()
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@contextlib.contextmanager
def _second_interrupt_ends(out: Path) -> Iterator[None]:
    """Let the first Ctrl-C stop in good order and a second one end everything at once.

    A service manager's SIGTERM counts as one. The processes of the pool end with this one. The
    table stays as it was last written.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    pressed = 0

    def press(number: int, frame: Any) -> None:
        nonlocal pressed
        pressed += 1
        if pressed == 1:
            # a cluster that is closed halfway through an answer would log that at length
            logging.disable(logging.CRITICAL)
            raise KeyboardInterrupt(number)
        _scratch(out).unlink(missing_ok=True)
        os.write(2, f"\nStopped at once. {out} is as it was last written.\n".encode())
        os._exit(output.interrupted(number))

    before = {each: signal.getsignal(each) for each in (signal.SIGINT, signal.SIGTERM)}
    heard = [each for each, handler in before.items() if handler is not signal.SIG_IGN]
    for each in heard:
        signal.signal(each, press)
    try:
        yield
    finally:
        for each in heard:
            signal.signal(each, before[each])


def _quiet_worker() -> None:
    """Leave Ctrl-C to the parent, and do not outlive it."""
    import multiprocessing

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()

    def follow() -> None:
        if parent is not None:
            parent.join()
            os._exit(1)

    threading.Thread(target=follow, daemon=True).start()


class Cluster:
    """A Dask cluster: the one at an address, or a temporary one made here."""

    def __init__(self, address: str, workers: int) -> None:
        # Its workers would tell at length that they were stopped. Read when they are started, so
        # it has to stand before.
        os.environ.setdefault("DASK_LOGGING__DISTRIBUTED", "critical")
        try:
            from distributed import Client, LocalCluster
        except ImportError:
            raise InputError(
                "dask", address, "this option after: pip install '.[bulk]' in the project's folder"
            ) from None
        self.local: Any = None
        if not address:
            with _without_interrupts():
                # Without its web page dask still opens a port; any free one, so that runs can stand
                # side by side.
                self.local = LocalCluster(
                    n_workers=workers, threads_per_worker=1, dashboard_address=":0",
                    scheduler_kwargs={"dashboard": False}, silence_logs=logging.ERROR,
                )  # fmt: skip
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
    site: str = "",
) -> tuple[dict[Row, Answered], int]:
    """Answer a table into `out`; return the answers by question and how many were there already.

    `tell` hears (questions done, questions in all, bad ones). Whatever ends the run, what has
    been answered is written. `site` is the address of the handbook, for links.
    """
    stored = earlier(out)
    asked = list(
        dict.fromkeys(row for row, bad in zip(table.rows, table.problems, strict=True) if not bad)
    )
    answers: dict[Row, Answered] = {row: stored[row] for row in asked if row in stored}
    reused = len(answers)
    waiting = [row for row in asked if row not in answers]
    if not waiting:
        write(out, table, answers, site=site)
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
                    write(out, table, answers, site=site)
                    saved = time.monotonic()
                    pause = max(SAVE_EVERY, 20 * (saved - began))
        finally:
            write(out, table, answers, site=site)
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
        130 after Ctrl-C, 143 after SIGTERM.
    """
    parser = argparse.ArgumentParser(
        prog="python -m calc batch",
        description="Answer every row of a table. Run it again to go on where it stopped.",
    )
    parser.add_argument(
        "file", type=Path, help="CSV with a column for each input, or a rockets' file"
    )
    parser.add_argument("--out", type=Path, help="where to write (default: FILE-answers.csv)")
    parser.add_argument("--calculator", metavar="SLUG", help="who answers rows that name none")
    parser.add_argument("--workers", type=int, metavar="N", help="processes (default: all cores)")
    parser.add_argument(
        "--dask", nargs="?", const="", metavar="ADDRESS",
        help="run on Dask: on the cluster at this address, or on one made here",
    )  # fmt: skip
    parser.add_argument(
        "--site", default=os.environ.get("FINSTOCK_SITE_URL", ""), metavar="ADDRESS",
        help="where the handbook stands, for a column of links (default: $FINSTOCK_SITE_URL)",
    )  # fmt: skip
    parser.add_argument(
        "--units", choices=("inch", "metric"),
        help="write a second table beside it, in these units and rounded, to be read by people",
    )  # fmt: skip
    options = parser.parse_args(arguments)
    if not options.file.name:
        output.complain(InputError("file", str(options.file), "a table to read"))
        return 2
    out = options.out or options.file.with_name(f"{options.file.stem}-answers.csv")
    workers = (os.cpu_count() or 1) if options.workers is None else options.workers
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

        with _second_interrupt_ends(out):
            answers, reused = run(table, out, pool, tell=Bar(), site=options.site)
        if options.units:
            beside = out.with_name(f"{out.stem}-{options.units}{out.suffix or '.csv'}")
            write(beside, table, answers, site=options.site, system=options.units)
    except InputError as problem:
        output.complain(problem)
        return 2
    except OSError as problem:
        output.complain(f"{out}: {problem.strerror}")
        return 2
    except KeyboardInterrupt as stop:
        print(f"\nStopped. What was answered stands in {out}; run again to go on.", file=sys.stderr)
        return output.interrupted(*stop.args)
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
        output.complain(f"row {number}: {problem}")
    if len(wrong) > 5:
        print(f"and {len(wrong) - 5} more: see the column error", file=sys.stderr)
    total = len(table.rows)
    print(
        f"{total - len(wrong)} of {total} rows answered, {len(wrong)} bad, "
        f"{reused} questions answered before: {out}",
        file=sys.stderr,
    )
    for line in summary(table, answers):
        print(output.plain(line), file=sys.stderr)
    return 1 if wrong and len(wrong) == total else 0


def summary(table: Table, answers: Mapping[Row, Answered]) -> list[str]:
    """Return what a table comes to: verdicts and advice by calculator, and columns not used."""
    verdicts: dict[str, Counter[str]] = {}
    advice: Counter[str] = Counter()
    unused: Counter[str] = Counter()
    for row, problem in zip(table.rows, table.problems, strict=True):
        answered = {} if problem else answers[row]
        if "error" in answered or not answered:
            continue
        told = verdicts.setdefault(row.calculator, Counter())
        told[answered.get("verdict", "")] += 1
        if "advice" in answered:
            advice[answered["advice"]] += 1
        unused.update(name for name in answered.get("not_used", "").split(", ") if name)
    lines = []
    for slug, told in verdicts.items():
        known = [f"{WORDS[state].lower()} {told[state]}" for state in WORDS if told[state]]
        lines.append(f"{slug}: {', '.join(known) or f'{told.total()} answered'}")
    if advice:
        lines.append(
            "material in use: " + ", ".join(f"{word} {number}" for word, number in advice.items())
        )
    if unused:
        lines.append(
            "columns that did not apply: "
            + ", ".join(f"{name} ({number} rows)" for name, number in unused.most_common())
        )
    return lines
