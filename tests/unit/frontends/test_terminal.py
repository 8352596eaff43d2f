"""The command line ends with one sentence and a status, whatever its surroundings do to it."""

from __future__ import annotations

import os
import shlex
import signal
import subprocess
import sys
import time
import tomllib
from pathlib import Path

import pytest

from calc.frontends.terminal import output
from calc.frontends.terminal.cli import main

ROOT = Path(__file__).parents[3]


def command(*words: str) -> list[str]:
    """Return a command of its own Python."""
    return [sys.executable, "-m", "calc", *words]


def one_sentence(err: str) -> str:
    """Return the only line of what was said."""
    (line,) = err.strip().splitlines()
    assert "Traceback" not in line
    return line


def test_closed_output_is_no_crash() -> None:
    """A reader that closes the output after its first line, as `head -1` does, gets status 141."""
    with subprocess.Popen(
        command("fin-check", "--json"), cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        text=True,
    ) as process:  # fmt: skip
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        assert one_sentence(process.stderr.read()) == "The output was closed before its end."
    assert process.returncode == 141


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full")
def test_full_disk_is_said() -> None:
    """Output that finds no space says so."""
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            command("speed"), cwd=ROOT, stdout=full, stderr=subprocess.PIPE, text=True, check=False
        )
    assert done.returncode == 2
    assert "No space left" in one_sentence(done.stderr)


def test_file_that_cannot_be_written_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture
) -> None:
    """A file that a folder stands in the way of is named with the reason."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "cutting-plan.svg").mkdir()
    assert main(["cutting-plan", "tries=2", "--file", "svg"]) == 2
    said = one_sentence(capsys.readouterr().err)
    assert said.startswith("cutting-plan.svg cannot be written: ")


def test_encoding_without_the_signs_is_said() -> None:
    """A sign that the output cannot hold stops the text; JSON goes through in ASCII."""
    narrow = {**os.environ, "PYTHONIOENCODING": "ascii"}
    told = subprocess.run(
        command("landing"), cwd=ROOT, env=narrow, capture_output=True, text=True, check=False
    )
    assert told.returncode == 2
    assert "PYTHONIOENCODING=utf-8" in one_sentence(told.stderr)
    whole = subprocess.run(
        command("landing", "--json"), cwd=ROOT, env=narrow, capture_output=True, check=False
    )
    assert whole.returncode == 0
    assert whole.stdout.isascii()


def test_no_control_characters_reach_the_terminal(capsys: pytest.CaptureFixture) -> None:
    """A text with escapes is printed without them, in answers, JSON and errors."""
    text = "\x1b[31mX\a\x9b31m \udcff"
    for words in (["field-card", f"rocket={text}"], ["field-card", f"rocket={text}", "--json"],
                  ["fin-check", f"{text}=3"], ["fin-check", text]):  # fmt: skip
        main(words)
        shown = "".join(capsys.readouterr())
        assert "31mX" in shown
        assert not set("\x1b\a\x9b\udcff") & set(shown)


@pytest.mark.parametrize("word", ["=3", "root", "="])
def test_word_that_is_no_input_is_named(word: str, capsys: pytest.CaptureFixture) -> None:
    """A word without a name, or without a value, is refused as an input."""
    assert main(["fin-check", word]) == 2
    assert one_sentence(capsys.readouterr().err).startswith(f"input: '{word}' cannot be used")


def test_import_prints_inputs_that_a_calculator_takes(
    tmp_path: Path, capsys: pytest.CaptureFixture
) -> None:
    """An outline from a drawing comes as words that follow a calculator's name."""
    path = tmp_path / "fin.svg"
    path.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="9in" viewBox="0 0 9 9">'
        '<path d="M1 4h3l-.5-2.5h-1z"/></svg>'
    )
    assert main(["import", str(path)]) == 0
    shown = capsys.readouterr()
    assert "one unit is 25.4 mm" in shown.err
    words = shlex.split(shown.out)
    assert words == ["outline=corners", "points=0,0 1.5,2.5 2.5,2.5 3,0 in", "radius=0 in"]
    assert main(["weight-effect", *words]) == 0
    capsys.readouterr()
    assert main(["import", str(path), "edge=7"]) == 2
    assert "an edge from 1 to 4" in one_sentence(capsys.readouterr().err)
    assert main(["import", str(tmp_path / "none.svg")]) == 2
    assert "a drawing to read" in one_sentence(capsys.readouterr().err)


@pytest.mark.parametrize(
    ("library", "kind"), [("ezdxf", "dxf"), ("fpdf", "pdf-a4"), ("segno", None)]
)
def test_missing_library_names_its_extra(
    library: str, kind: str | None, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture
) -> None:
    """Without an optional library the command says what to install."""
    monkeypatch.setitem(sys.modules, library, None)
    if kind is None:
        words = ["field-card", "address=https://example.org"]
    else:
        words = ["cutting-plan", "tries=2", "--file", kind]
    assert main(words) == 2
    assert f"the library {library}: pip install '.[files]'" in one_sentence(capsys.readouterr().err)


def test_extras_are_declared() -> None:
    """Each extra that a sentence names is one of the package's own and holds the library."""
    declared = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    for library, extra in output.EXTRAS.items():
        assert library in "".join(declared["optional-dependencies"][extra])


@pytest.mark.parametrize("workers", ["0", "-1"])
def test_no_workers_are_refused(
    workers: str, tmp_path: Path, capsys: pytest.CaptureFixture
) -> None:
    """A run needs at least one process."""
    path = tmp_path / "one.csv"
    path.write_text("calculator\nspeed\n", encoding="utf-8")
    assert main(["batch", str(path), "--workers", workers]) == 2
    assert "a whole number from 1" in one_sentence(capsys.readouterr().err)


@pytest.mark.parametrize("name", ["", ".", "/"])
def test_folder_is_no_table(name: str, capsys: pytest.CaptureFixture) -> None:
    """A name that is a folder, or nothing, is refused."""
    assert main(["batch", name]) == 2
    assert "a table to read" in one_sentence(capsys.readouterr().err)


def test_unclosed_quotation_mark_is_said(tmp_path: Path, capsys: pytest.CaptureFixture) -> None:
    """A quotation mark that swallows the rest of a table is refused with its line."""
    path = tmp_path / "open.csv"
    path.write_text('calculator,mass\nspeed,100 g\nspeed,"200 g\nspeed,300 g\n', encoding="utf-8")
    assert main(["batch", str(path)]) == 2
    said = one_sentence(capsys.readouterr().err)
    assert "from line 3 on: a quotation mark is never closed" in said
    assert not (tmp_path / "open-answers.csv").exists()


@pytest.mark.parametrize("pause", [0.02, 0.3])
@pytest.mark.parametrize("wait", [0.4, 3.0])
def test_further_interrupts_end_at_once(wait: float, pause: float, tmp_path: Path) -> None:
    """Three Ctrl-C to the whole group end the run and its processes soon, without a traceback."""
    path = tmp_path / "many.csv"
    rows = "".join(f"fin-check,{50 + k} mm\n" for k in range(80))
    path.write_text(f"calculator,root\n{rows}", encoding="utf-8")
    heed = {"preexec_fn": lambda: signal.signal(signal.SIGINT, signal.SIG_DFL)}
    with subprocess.Popen(
        command("batch", str(path), "--workers", "2"), cwd=ROOT, stderr=subprocess.PIPE,
        text=True, start_new_session=True, **heed,
    ) as process:  # fmt: skip
        time.sleep(wait)
        for _ in range(3):
            os.killpg(process.pid, signal.SIGINT)
            time.sleep(pause)
        began = time.monotonic()
        told = process.communicate(timeout=30)[1]  # ends when no process holds its end open
        assert time.monotonic() - began < 10.0
    assert process.returncode in (130, -signal.SIGINT)
    assert "Traceback" not in told
    assert list(tmp_path.glob(".*")) == []
