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
from dataclasses import replace
from pathlib import Path

import pytest

from calc import __version__, calculators
from calc.calculators import fin_check
from calc.errors import InputError
from calc.frontends.terminal import batch
from calc.frontends.terminal.cli import main
from calc.frontends.terminal.pages import PAGES
from calc.units import KINDS

ROOT = Path(__file__).parents[3]
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
    """Three bad rows keep place and reason and are counted; the others are answered."""
    out = tmp_path / "out.csv"
    assert main(["batch", str(mixed), "--out", str(out), "--workers", "1"]) == 0
    told = capsys.readouterr().err
    assert "6 of 9 rows answered, 3 bad" in told
    assert "row 3: root: 'wide' cannot be used" in told
    errors = {row["#kit"]: row["error"] for row in table(out) if row["error"]}
    assert set(errors) == {"Wrong", "Nobody", "Long"}
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


def test_one_table_asks_every_calculator(tmp_path: Path, capsys: pytest.CaptureFixture) -> None:
    """Columns of other calculators and of the reader's own are carried and told, not refused."""
    path, out = tmp_path / "all.csv", tmp_path / "out.csv"
    path.write_text(
        "calculator,mass,layup,kit number\nspeed,120 g,0/90/0,17\nply-layup,120 g,0/90/0,18\n",
        encoding="utf-8",
    )
    assert main(["batch", str(path), "--out", str(out), "--workers", "1"]) == 0
    speed, layup = table(out)
    assert speed["not_used"] == "kit number, layup"
    assert layup["not_used"] == "kit number, mass"
    assert (speed["kit number"], layup["kit number"]) == ("17", "18")
    alone = calculators.run("speed", {"mass": "120 g"})
    assert float(speed["peak [m]"]) == pytest.approx(alone.answer("peak").value, rel=1e-9)
    told = capsys.readouterr().err
    assert "kit number (2 rows)" in told
    assert "layup (1 rows)" in told


def test_summary_counts_verdicts(tmp_path: Path, capsys: pytest.CaptureFixture) -> None:
    """At the end stands how many fins hold and how many do not."""
    path = tmp_path / "fins.csv"
    path.write_text("thickness\n1/4 in\n1/4 in\n1/32 in\n", encoding="utf-8")
    assert main(["batch", str(path), "--calculator", "fin-check", "--workers", "1"]) == 0
    states = [row["verdict"] for row in table(tmp_path / "fins-answers.csv")]
    told = capsys.readouterr().err
    words = {"holds": "holds", "marginal": "marginal", "fails": "does not hold"}
    assert states[0] == states[1] != states[2]
    assert f"{words[states[0]]} 2" in told
    assert f"{words[states[2]]} 1" in told


def test_links_open_the_row_on_the_site(tmp_path: Path) -> None:
    """With the site's address each row has a link; the next run may have another address."""
    path, out = tmp_path / "one.csv", tmp_path / "out.csv"
    path.write_text("mass\n120 g\n", encoding="utf-8")
    command = ["batch", str(path), "--calculator", "speed", "--workers", "1", "--out", str(out)]
    for site in ("https://example.org/fins/", "https://example.net"):
        assert main([*command, "--site", site]) == 0
        (row,) = table(out)
        assert row["link"] == f"{site.rstrip('/')}/fly/speed/?{row['query']}"
    assert main([*command, "--site", ""]) == 0
    assert "link" not in table(out)[0]


def test_every_calculator_has_its_page() -> None:
    """Links lead to the page in the handbook where the calculator stands first."""
    assert set(PAGES) == set(calculators.SLUGS)
    for slug, page in PAGES.items():
        text = (ROOT / "docs" / f"{page.rstrip('/')}.md").read_text(encoding="utf-8")
        assert text.partition("```calculator ")[2].split()[0] == slug


def test_numbers_for_people_stand_in_a_second_table(tmp_path: Path) -> None:
    """Inches, miles an hour and feet, rounded, beside a table that keeps SI and every digit."""
    path, out = tmp_path / "one.csv", tmp_path / "out.csv"
    path.write_text("calculator,mass\nspeed,120 g\nfin-check,\n", encoding="utf-8")
    command = ["batch", str(path), "--workers", "1", "--out", str(out)]
    assert main([*command, "--units", "inch"]) == 0
    exact, people = table(out), table(tmp_path / "out-inch.csv")
    assert float(people[0]["peak [ft]"]) == pytest.approx(
        float(exact[0]["peak [m]"]) / 0.3048, rel=1e-3
    )
    assert float(people[1]["flutter_speed [mph]"]) == pytest.approx(
        float(exact[1]["flutter_speed [m/s]"]) / 0.44704, rel=1e-3
    )
    assert len(people[1]["flutter_speed [mph]"]) <= 6
    assert len(batch.earlier(out)) == 2


FINDER = {"only": "balsa, basswood, birch-plywood", "stock": "inch", "speed": "80 m/s"}


def found(**texts: str) -> dict[str, str]:
    """Answer one row of the material finder."""
    return batch.answer_row(
        batch.Row("material-finder", tuple(sorted({**FINDER, **texts}.items())))
    )


def test_finder_says_whether_to_keep_the_material_in_use() -> None:
    """A heavy sheet that holds is to be changed for the best, the best is to be kept."""
    heavy = found(material="birch-plywood", thickness="1/8 in")
    report = calculators.run("material-finder", FINDER)
    assert float(heavy["best_mass [kg]"]) == report.answer("lightest_mass").value
    assert heavy["best"] == report.answer("lightest_mass").note
    assert heavy["runner_up"] != heavy["best"]
    assert float(heavy["runner_up_mass [kg]"]) >= float(heavy["best_mass [kg]"])
    alone = calculators.run(
        "fin-check", {"material": "birch-plywood", "thickness": "1/8 in", "speed": "80 m/s"}
    )
    assert heavy["today_verdict"] == "holds"
    assert float(heavy["today_mass [kg]"]) == pytest.approx(alone.answer("set_mass").value)
    assert heavy["advice"] == "change"
    assert "% lighter" in heavy["why"]
    assert "not_used" not in heavy
    material, _, thickness = heavy["best"].rpartition(", ")
    name = next(
        n for n in ("balsa", "basswood", "birch-plywood") if n.split("-")[0] in material.lower()
    )
    same = found(material=name, thickness=thickness)
    assert same["advice"] == "keep"
    thin = found(material="balsa", thickness="1/32 in")
    assert thin["today_verdict"] != "holds"
    assert thin["advice"] == "change"


def test_finder_prices_are_marked_as_invented_unless_they_are_the_readers() -> None:
    """Own prices make own costs; without them the column's name says that they are invented."""
    usual = found(material="balsa", thickness="1/8 in")
    assert "today_invented_cost [1]" in usual
    assert "today_cost [1]" not in usual
    own = found(material="balsa", thickness="1/8 in", price_list="balsa 1/8 in 3x36 in 2.60")
    area = 3 * 0.5 * (3 + 1.5) * 2.5
    assert float(own["today_cost [1]"]) == pytest.approx(2.60 * area / (3 * 36), rel=1e-6)
    assert not any("invented" in name for name in own)


def test_a_row_computes_only_what_it_prints(monkeypatch: pytest.MonkeyPatch) -> None:
    """What would change a verdict is not searched for; the numbers are the page's all the same."""
    row = batch.Row("fin-check", (("root", "2.9 in"),))
    whole = calculators.run("fin-check", dict(row.texts))

    def never(*_: object) -> None:
        raise AssertionError("a table does not show it")

    monkeypatch.setattr(fin_check, "_rest", never)
    answered = batch.answer_row(row)
    for item in whole.answers:
        name = f"{item.name} [{KINDS[item.kind].si}]"
        assert float(answered[name]) == pytest.approx(item.value, rel=1e-9)


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


@pytest.mark.parametrize("dask", [[], ["--dask"]])
@pytest.mark.parametrize(("pressed", "status"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)])
def test_interrupt_keeps_what_is_answered(
    pressed: signal.Signals, status: int, dask: list[str], tmp_path: Path
) -> None:
    """Ctrl-C or SIGTERM to all processes ends with its status, one sentence and a whole table."""
    path = many(tmp_path / "many.csv", 400)
    out = tmp_path / "out.csv"
    command = [sys.executable, "-m", "calc", "batch", str(path), "--out", str(out), *dask]
    # a shell's background jobs, this test run perhaps among them, start with Ctrl-C ignored
    heeding = {"preexec_fn": lambda: signal.signal(signal.SIGINT, signal.SIG_DFL)}
    with subprocess.Popen(
        command, cwd=ROOT, stderr=subprocess.PIPE, text=True, start_new_session=True, **heeding
    ) as process:
        end = time.monotonic() + 60
        while not out.exists():
            assert time.monotonic() < end
            time.sleep(0.02)
        os.killpg(process.pid, pressed)
        told = process.communicate(timeout=60)[1]
    assert process.returncode == status
    # under Dask Python itself may warn of a semaphore that nobody was left to put away
    own = ("resource_tracker", "warnings.warn", "leaked semaphore")
    lines = [each for each in told.strip().splitlines() if not any(word in each for word in own)]
    assert len(lines) == 1, told
    assert "run again to go on" in lines[0]
    assert 0 < len(table(out)) < 400
    assert list(tmp_path.glob(".*")) == []


def test_cells_are_no_formulas(tmp_path: Path, capsys: pytest.CaptureFixture) -> None:
    """Formulas and escapes in somebody's table are disarmed; a grain angle stays as it is."""
    path, out = tmp_path / "table.csv", tmp_path / "out.csv"
    path.write_text(
        "calculator,#note,grain\nfin-check,=cmd|x!A0,-30 deg\nfin-check,-3+cmd|x!A0,=1+1\n"
        "fin-check,\x1b[31m@SUM(1),+1.5\n",
        encoding="utf-8",
    )
    for _ in range(2):
        assert main(["batch", str(path), "--out", str(out), "--workers", "1"]) == 0
        rows = table(out)
        assert [row["#note"] for row in rows] == ["'=cmd|x!A0", "'-3+cmd|x!A0", "[31m@SUM(1)"]
        assert [row["grain"] for row in rows] == ["-30 deg", "'=1+1", "+1.5"]
        assert "grain: '=1+1' cannot be used" in rows[1]["error"]
        assert "\x1b" not in "".join(capsys.readouterr()) + out.read_text("utf-8")
    assert len(batch.earlier(out)) == 2


def test_a_linked_table_is_written_where_it_leads(tmp_path: Path) -> None:
    """A link stays a link, and the file that it leads to gets the answers."""
    path = many(tmp_path / "many.csv", 1)
    (tmp_path / "far").mkdir()
    far, link = tmp_path / "far" / "answers.csv", tmp_path / "link.csv"
    link.symlink_to(far)
    for _ in range(2):
        assert main(["batch", str(path), "--out", str(link), "--workers", "1"]) == 0
        assert link.is_symlink()
        assert len(table(far)) == 1


def test_only_a_file_is_written(tmp_path: Path, capsys: pytest.CaptureFixture) -> None:
    """A pipe or a folder is refused at once; an empty file is filled."""
    path = many(tmp_path / "many.csv", 1)
    pipe, empty = tmp_path / "pipe", tmp_path / "empty.csv"
    os.mkfifo(pipe)
    for out in (pipe, tmp_path):
        assert main(["batch", str(path), "--out", str(out)]) == 2
        assert "give the name of a file" in capsys.readouterr().err
    empty.touch()
    assert main(["batch", str(path), "--out", str(empty), "--workers", "1"]) == 0
    assert len(table(empty)) == 1


def test_other_version_and_errors_are_computed_again(mixed: Path, tmp_path: Path) -> None:
    """Only answers of this version without an error stay."""
    out = tmp_path / "out.csv"
    assert main(["batch", str(mixed), "--out", str(out)]) == 0
    questions = {row for row in batch.read(mixed).rows if row.calculator != "fin-wish"}
    assert len(batch.earlier(out)) == 5 < len(questions)
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

    broken = replace(calculators.load("ply-layup"), answer=stumble)
    monkeypatch.setattr(calculators, "load", lambda slug: broken)
    answered = batch.answer_row(batch.Row("ply-layup", ()))
    assert answered["error"] == "ZeroDivisionError: division by zero"


def test_dask_is_optional(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without Dask the option says what to install; nothing else needs it."""
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(InputError, match=r"pip install .*\[bulk\]"):
        batch.Cluster("", 1)
    code = "import sys, calc.frontends.terminal.batch; assert 'distributed' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=True)
