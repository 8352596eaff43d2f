"""Every command that README.md and DEVELOPERS.md print is run as it is printed.

Commands of `calc` run in full. Those in `LONG` run, launcher included, until their command line has
been read and accepted; what they do afterwards has its own tests.
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
COMMAND = re.compile(r"(\./scripts/|\.ci/|\.venv/bin/)\w+|python\d? -m ")
LONG = {
    "scripts.serve": "builds the site and serves it until it is stopped",
    "scripts.test": "runs these very tests",
    "scripts.publish": "builds and compresses the site for minutes",
    "scripts.regression": "answers every question, and with --write renews a file of the project",
    "scripts.mutate": "runs the tests once for every changed rule",
    "scripts.javascript": "installs the tools that check it from the package index",
    "scripts.lock": "needs the package index, and renews a file of the project",
    "scripts.bench": "measures for minutes",
    "scripts.bench_engines": "measures for minutes",
    "scripts.bench_lighthouse": "measures for minutes",
    "scripts.soak": "visits for half an hour",
    "mkdocs": "serves until it is stopped",
}

# Runs a module as `python -m` does, and leaves with 0 once its command line has been accepted.
ACCEPTS = """
import argparse, os, runpy, sys

def leaving(parse):
    def parse_and_leave(self, *arguments, **more):
        parse(self, *arguments, **more)
        raise SystemExit(0)
    return parse_and_leave

sys.path.insert(0, os.getcwd())
module, *arguments = sys.argv[1:]
if module == "mkdocs":
    import mkdocs.commands.serve
    mkdocs.commands.serve.serve = lambda **settings: sys.exit(0)
else:
    argparse.ArgumentParser.parse_args = leaving(argparse.ArgumentParser.parse_args)
sys.argv[1:] = arguments
runpy.run_module(module, run_name="__main__", alter_sys=True)
"""


def printed() -> list[str]:
    """Return the commands of both files: from fences of sh, and from code in tables and text."""
    found: list[str] = []
    for name in ("README.md", "DEVELOPERS.md"):
        text = (ROOT / name).read_text(encoding="utf-8")
        for fence in re.findall(r"^```sh\n(.*?)^```", text, re.MULTILINE | re.DOTALL):
            found += [line.partition(" #")[0].strip() for line in fence.splitlines() if line]
        rest = re.sub(r"^```.*?^```", "", text, flags=re.MULTILINE | re.DOTALL)
        # A file such as `scripts/test.py` is not a command: commands stand with ./ or .venv/bin/.
        found += [code for code in re.findall(r"`([^`\n]+)`", rest) if COMMAND.match(code)]
    return list(dict.fromkeys(found))


@pytest.fixture(scope="module")
def pythons(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with a python3 that stops at `-m` once the command line was accepted."""
    folder = tmp_path_factory.mktemp("a folder")
    (folder / "accepts.py").write_text(ACCEPTS, encoding="utf-8")
    real, accepts = shlex.quote(sys.executable), shlex.quote(str(folder / "accepts.py"))
    program = folder / "python3"
    program.write_text(
        f'#!/bin/sh\nif [ "$1" = -m ]; then shift; exec {real} {accepts} "$@"; fi\n'
        f'exec {real} "$@"\n'
    )
    program.chmod(0o755)
    return folder


def ran(command: str, pythons: Path) -> subprocess.CompletedProcess[str]:
    """Return what a printed command did."""
    words = shlex.split(command)
    long = True
    if "/bin/python" in words[0]:
        assert words[1] == "-m", f"{command}: not a module"
        long = words[2] in LONG
        words[0] = str(pythons / "python3") if long else sys.executable
    else:
        assert words[0] == ".ci/run" or f"scripts.{Path(words[0]).name}" in LONG, command
    return subprocess.run(
        words,
        cwd=ROOT,
        env={**os.environ, "PATH": f"{pythons}:{os.environ['PATH']}"},
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )


def test_commands_are_found() -> None:
    """The two files print commands from a fence and from a table, so the search finds both."""
    commands = printed()
    assert "./scripts/serve" in commands
    assert "./scripts/test --fast" in commands
    assert any(command.startswith(".venv/bin/python -m calc batch") for command in commands)


@pytest.mark.parametrize("command", printed())
def test_printed_command_works(command: str, pythons: Path) -> None:
    """It ends well, run from the project's folder after one of the two main commands."""
    out = re.search(r"--out (\S+)", command)
    if out:
        # A batch whose answers are there already would compute nothing.
        (ROOT / out[1]).unlink(missing_ok=True)
        (ROOT / out[1]).parent.mkdir(exist_ok=True)
    done = ran(command, pythons)
    assert done.returncode == 0, done.stderr
    if out:
        assert (ROOT / out[1]).exists()


@pytest.mark.parametrize("command", ["./scripts/serve --prot 1", "./scripts/publish a b"])
def test_wrong_command_is_noticed(command: str, pythons: Path) -> None:
    """Stopping after the command line still refuses one that the script does not take."""
    done = ran(command, pythons)
    assert done.returncode == 2
    assert "unrecognized arguments" in done.stderr


@pytest.mark.parametrize("name", ["serve", "test", "publish"])
def test_launcher_without_a_python_says_what_it_looks_for(name: str, tmp_path: Path) -> None:
    """A machine whose only Python is too old gets the sentence and what was found."""
    for program in ("bash", "dirname"):
        (tmp_path / program).symlink_to(shutil.which(program) or "")
    old = tmp_path / "python3"
    old.write_text('#!/bin/sh\n[ "$1" = --version ] && echo Python 3.9.2 && exit 0\nexit 1\n')
    old.chmod(0o755)
    done = subprocess.run(
        [ROOT / "scripts" / name],
        env={"PATH": str(tmp_path)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1
    assert "needs Python 3.11 to 3.15" in done.stderr
    assert "Python 3.9.2" in done.stderr
