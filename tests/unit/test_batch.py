"""A table of questions: the same answers as one by one, nothing lost, nothing computed twice."""

from __future__ import annotations

import csv
import os
import signal
import subprocess
import sys
import time
from concurrent.futures import Future
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path

import pytest

from calc import __version__, batch, calculators
from calc.__main__ import main
from calc.errors import InputError
from calc.units import KINDS

ROOT = Path(__file__).parents[2]
MIXED = """\
#kit,calculator,root,thickness,material,density,layup
Small,fin-check,2 in,1/16 in,balsa,10 lb/ft3,
"Middle, ply",fin-check,60 mm,1.6mm,birch-plywood,,
Wrong,fin-check,wide,1/8 in,balsa,,
Nobody,fin-wish,3 in,,,,
Stack,ply-layup,,,,,0/90/0
Again,fin-check,2 in,1/16 in,balsa,10 lb/ft3,
Stray,ply-layup,3 in,,,,
Long,fin-check,3 in,1/8 in,balsa,,,surplus
Thin,moisture,,,,,
"""


def table(path: Path) -> list[dict[str, str]]:
    """Return the rows of a CSV file."""
    with path.open(encoding="utf-8", newline="") as opened:
        return list(csv.DictReader(opened))


def many(path: Path, count: int) -> Path:
    """Write a table of so many different flights, each some hundredths of a second of work."""
    lines = ["calculator,mass", *(f"speed,{100 + k} g" for k in range(count))]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


@pytest.fixture
def mixed(tmp_path: Path) -> Path:
    """Return a table of several calculators with good and bad rows."""
    path = tmp_path / "mixed.csv"
    path.write_text(MIXED, encoding="utf-8")
    return path


def test_rows_equal_single_runs(mixed: Path, tmp_path: Path) -> None:
    """Each good row holds what the calculator answers alone, number for number, in SI."""
    out = tmp_path / "out.csv"
    assert main(["batch", str(mixed), "--out", str(out)]) == 0
    rows = table(out)
    assert [row["#kit"] for row in rows] == [row["#kit"] for row in table(mixed)]
    for row in (rows[0], rows[1], rows[4], rows[8]):
        names = ("root", "thickness", "material", "density", "layup")
        texts = {name: row[name] for name in names if row[name]}
        report = calculators.run(row["calculator"], texts)
        for item in report.answers:
            unit = KINDS[item.kind].si
            assert float(row[f"{item.name} [{unit}]"]) == pytest.approx(item.value, rel=1e-9)
            if item.low is not None and item.high is not None:
                low = float(row[f"{item.name} low [{unit}]"])
                assert low == pytest.approx(item.low, rel=1e-9, abs=1e-15)
        if report.verdict is None:
            assert not row["verdict"]
        else:
            assert row["verdict"] == report.verdict.state
            assert row["governs"] == report.verdict.governs
            assert float(row["margin"]) == pytest.approx(report.verdict.margin, rel=1e-9)
            assert float(row["margin_low"]) == pytest.approx(report.verdict.low, rel=1e-9)
        assert row["version"] == __version__
        assert not row["error"]


def test_bad_rows_are_reported_and_lose_nothing(
    mixed: Path, tmp_path: Path, capsys: pytest.CaptureFixture
) -> None:
    """Four bad rows keep their place and their reason; the count is told; the rest is answered."""
    out = tmp_path / "out.csv"
    assert main(["batch", str(mixed), "--out", str(out), "--workers", "1"]) == 0
    told = capsys.readouterr().err
    assert "5 of 9 rows answered, 4 bad" in told
    assert "row 3: root: 'wide' cannot be used" in told
    errors = {row["#kit"]: row["error"] for row in table(out) if row["error"]}
    assert set(errors) == {"Wrong", "Nobody", "Stray", "Long"}
    assert "3/32 in" in errors["Wrong"]
    assert "fin-check" in errors["Nobody"]
    assert "8 cells under 7 column names" in errors["Long"]


def test_status_tells_when_every_row_is_bad(tmp_path: Path) -> None:
    """Exit status 1 only where no row could be answered; the table still says why."""
    path = tmp_path / "bad.csv"
    path.write_text("root\nwide\nbroad\n", encoding="utf-8")
    assert main(["batch", str(path), "--calculator", "fin-check"]) == 1
    assert all(row["error"] for row in table(tmp_path / "bad-answers.csv"))


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("calculator,thicknes\nfin-check,1/8 in\n", "thicknes"),
        ("root,root\n1 in,2 in\n", "each column once"),
        ("root\n1 in\n", "--calculator"),
        ("\n\n", "column names"),
    ],
)
def test_table_nobody_can_use_is_refused(
    content: str, words: str, tmp_path: Path, capsys: pytest.CaptureFixture
) -> None:
    """A misspelt column would change no answer, so it stops the run with status 2."""
    path = tmp_path / "bad.csv"
    path.write_text(content, encoding="utf-8")
    assert main(["batch", str(path)]) == 2
    assert words in capsys.readouterr().err
    assert not (tmp_path / "bad-answers.csv").exists()


def test_other_files_are_not_overwritten(mixed: Path, tmp_path: Path) -> None:
    """Neither the table itself nor a file that this command did not write is replaced."""
    assert main(["batch", str(mixed), "--out", str(mixed)]) == 2
    other = tmp_path / "notes.csv"
    other.write_text("a,b\n1,2\n", encoding="utf-8")
    assert main(["batch", str(mixed), "--out", str(other)]) == 2
    assert other.read_text(encoding="utf-8") == "a,b\n1,2\n"
    assert mixed.read_text(encoding="utf-8") == MIXED


def test_semicolons_and_decimal_commas(tmp_path: Path) -> None:
    """A table as spreadsheets write it where the decimal comma is usual gives the same answer."""
    first, second = tmp_path / "a.csv", tmp_path / "b.csv"
    first.write_text("calculator,root\nply-layup,\nfin-check,76.2 mm\n", encoding="utf-8")
    second.write_text("calculator;root\nply-layup;\nfin-check;76,2 mm\n", encoding="utf-8-sig")
    tables = [batch.read(path) for path in (first, second)]
    answers = [batch.answer_row(each.rows[1]) for each in tables]
    assert answers[0]["flutter_speed [m/s]"] == answers[1]["flutter_speed [m/s]"]
    assert tables[1].delimiter == ";"


def test_what_a_row_does_not_use_is_told() -> None:
    """An input that does not apply to the row's material is named, not silently dropped."""
    row = batch.Row("fin-check", (("density", "160 kg/m3"), ("material", "birch-plywood")))
    answered = batch.answer_row(row)
    assert answered["not_used"] == "density"
    assert "material=birch-plywood" in answered["query"]


def test_limits_are_not_taken_for_values() -> None:
    """Where the model only knows a lower limit, the row says "at least"."""
    row = batch.Row("fin-check", (("root", "2 in"), ("span", "1 in"), ("thickness", "1/4 in")))
    report = calculators.run("fin-check", dict(row.texts))
    assert report.answer("flutter_speed").bound == "at least"
    assert "flutter_speed at least" in batch.answer_row(row)["only_limits"]


def test_one_two_and_dask_workers_agree(mixed: Path, tmp_path: Path) -> None:
    """However the work is spread, the table is the same to the last byte."""
    written = []
    for name, options in {
        "one": ["--workers", "1"],
        "two": ["--workers", "2"],
        "dask": ["--workers", "2", "--dask"],
    }.items():
        out = tmp_path / f"{name}.csv"
        assert main(["batch", str(mixed), "--out", str(out), *options]) == 0
        written.append(out.read_bytes())
    assert written[0] == written[1]
    assert written[0] == written[2]


def test_goes_on_after_a_kill(tmp_path: Path, capsys: pytest.CaptureFixture) -> None:
    """Killed outright, the table is whole so far; the next run computes only what is missing."""
    path = many(tmp_path / "many.csv", 60)
    out = tmp_path / "out.csv"
    command = [sys.executable, "-m", "calc", "batch", str(path), "--workers", "1",
               "--out", str(out)]  # fmt: skip
    with subprocess.Popen(command, cwd=ROOT, stderr=subprocess.DEVNULL) as process:
        end = time.monotonic() + 60
        while not out.exists():
            assert time.monotonic() < end
            time.sleep(0.02)
        process.kill()
    kept = table(out)
    assert 0 < len(kept) < 60
    assert all(row["version"] and not row["error"] for row in kept)
    assert main([*command[3:-4], "--out", str(out)]) == 0
    assert f"60 of 60 rows answered, 0 bad, {len(kept)} questions" in capsys.readouterr().err
    whole = out.read_bytes()
    assert [row["mass"] for row in table(out)] == [f"{100 + k} g" for k in range(60)]
    out.unlink()
    assert main([*command[3:-4], "--out", str(out)]) == 0
    assert out.read_bytes() == whole


def test_interrupt_keeps_what_is_answered(tmp_path: Path) -> None:
    """Ctrl-C ends with status 130, one sentence and a whole table."""
    path = many(tmp_path / "many.csv", 200)
    out = tmp_path / "out.csv"
    command = [sys.executable, "-m", "calc", "batch", str(path), "--out", str(out)]
    # a shell's background jobs, this test run perhaps among them, start with Ctrl-C ignored
    heeding = {"preexec_fn": lambda: signal.signal(signal.SIGINT, signal.SIG_DFL)}
    with subprocess.Popen(
        command, cwd=ROOT, stderr=subprocess.PIPE, text=True, **heeding
    ) as process:
        end = time.monotonic() + 60
        while not out.exists():
            assert time.monotonic() < end
            time.sleep(0.02)
        process.send_signal(signal.SIGINT)
        told = process.communicate(timeout=60)[1]
    assert process.returncode == 130
    assert "run again to go on" in told
    assert "Traceback" not in told
    assert 0 < len(table(out)) < 200
    assert list(tmp_path.glob(".*")) == []


def test_other_version_and_errors_are_computed_again(mixed: Path, tmp_path: Path) -> None:
    """Only answers of this version without an error stay."""
    out = tmp_path / "out.csv"
    assert main(["batch", str(mixed), "--out", str(out)]) == 0
    questions = {row for row in batch.read(mixed).rows if row.calculator != "fin-wish"}
    assert len(batch.earlier(out)) == 4 < len(questions)
    text = out.read_text(encoding="utf-8").replace(f",{__version__},", ",0.0.0,")
    out.write_text(text, encoding="utf-8")
    assert batch.earlier(out) == {}


def test_labels_can_change_without_computing_again(mixed: Path, tmp_path: Path) -> None:
    """A label is not an input: the next run takes the new label and the old answer."""
    out = tmp_path / "out.csv"
    assert main(["batch", str(mixed), "--out", str(out)]) == 0
    mixed.write_text(MIXED.replace("Small", "Tiny"), encoding="utf-8")
    renamed = batch.read(mixed)
    assert renamed.rows[0] in batch.earlier(out)
    assert renamed.cells[0][0] == "Tiny"


def test_process_that_dies_costs_no_row() -> None:
    """A worker killed from outside is replaced and its rows are asked again."""
    rows = [batch.Row("ply-layup", (("thickness", f"{10 + k} mm"),)) for k in range(3)]
    rows += [batch.Row("speed", (("mass", f"{100 + k} g"),)) for k in range(37)]
    pool = batch.Processes(2)
    answered = {}
    for number, (row, answer) in enumerate(batch.spread(rows, pool)):
        answered[row] = answer
        if number == 0:
            victim = next(iter(pool.executor._processes))  # type: ignore[union-attr]
            os.kill(victim, signal.SIGKILL)
    pool.close()
    assert set(answered) == set(rows)
    assert not any("process" in answer.get("error", "") for answer in answered.values())


class Fragile:
    """A pool whose processes all die at one row, as they do where memory runs out."""

    def __init__(self, deadly: batch.Row) -> None:
        self.deadly = deadly

    def submit(self, rows: tuple[batch.Row, ...]) -> Future:
        """Answer at once, or break everything that is under way."""
        future: Future = Future()
        if self.deadly in rows:
            future.set_exception(BrokenProcessPool("gone"))
        else:
            future.set_result([{"version": "x"} for _ in rows])
        return future

    def width(self) -> int:
        """Return how many chunks may be under way."""
        return 3

    def close(self) -> None:
        """Do nothing."""


def test_row_that_kills_its_process_is_named() -> None:
    """The row to blame gets the error, its neighbours their answers."""
    rows = [batch.Row("ply-layup", (("layup", f"{k}"),)) for k in range(11)]
    answered = dict(batch.spread(rows, Fragile(rows[5])))
    assert set(answered) == set(rows)
    assert [row for row in rows if "error" in answered[row]] == [rows[5]]


def test_defect_in_one_row_is_an_error_of_that_row(monkeypatch: pytest.MonkeyPatch) -> None:
    """An exception nobody expected is written into its row."""

    def stumble(*_: object, **__: object) -> None:
        raise ZeroDivisionError("division by zero")

    monkeypatch.setattr(calculators, "answer", stumble)
    answered = batch.answer_row(batch.Row("ply-layup", ()))
    assert answered["error"] == "ZeroDivisionError: division by zero"


def test_dask_is_optional(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without Dask the option says what to install; nothing else needs it."""
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(InputError, match=r"pip install .*\[bulk\]"):
        batch.Cluster("", 1)
    code = "import sys; from calc import batch; assert 'distributed' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=True)
