"""Setting up: which Pythons, what a failed installation says, nothing installed unasked."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from scripts import environment, lock, runtime, say
from scripts import test as checks
from scripts.say import Failure, NoNetwork

ROOT = Path(__file__).resolve().parents[2]

# pip 23.0.1, Python 3.11.2
NEEDS_NEWER = """\
ERROR: Ignored the following versions that require a different python version: 13.1.2 Requires-\
Python >=3.11.5
ERROR: Could not find a version that satisfies the requirement pymdown-extensions==13.1.2
ERROR: No matching distribution found for pymdown-extensions==13.1.2
"""
# pip 23.0.1 in a network namespace without interfaces
UNREACHED = "".join(
    f"WARNING: Retrying (Retry(total={n}, connect=None)) after connection broken by "
    f"'NewConnectionError('<HTTPSConnection object at 0x7f{n}>: Failed to establish a new "
    "connection: [Errno -3] Temporary failure in name resolution')': /simple/babel/\n"
    for n in (4, 3, 2, 1, 0)
) + (
    "ERROR: Could not find a version that satisfies the requirement babel==2.18.0 (from versions: "
    "none)\nERROR: No matching distribution found for babel==2.18.0\n"
)


def test_one_range_of_pythons_everywhere() -> None:
    """Launcher, package, README and lock name the same versions."""
    oldest, newest = (f"{v[0]}.{v[1]}" for v in (environment.OLDEST, environment.NEWEST))
    launcher = (ROOT / "scripts" / "launch").read_text(encoding="utf-8")
    assert f"Python {oldest} to {newest}" in launcher
    assert (
        "({}, {}) <= sys.version_info[:2] <= ({}, {})".format(
            *environment.OLDEST, *environment.NEWEST
        )
        in launcher
    )
    for minor in range(environment.OLDEST[1], environment.NEWEST[1] + 1):
        assert f"python3.{minor} " in launcher
    assert f"Python {oldest} to {newest}" in (ROOT / "README.md").read_text(encoding="utf-8")
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert project["project"]["requires-python"] == f">={oldest}"
    assert lock.pythons()[0] == f"{oldest}.0"
    assert lock.pythons()[-1] == f"{newest}.0"


def test_one_version_of_node_everywhere() -> None:
    """README names the oldest Node that Pyodide's own package accepts, and so do the scripts."""
    assert f"Node {runtime.NODE} or newer" in (ROOT / "README.md").read_text(encoding="utf-8")
    packages = json.loads((ROOT / "package-lock.json").read_text(encoding="utf-8"))["packages"]
    assert packages["node_modules/pyodide"]["engines"]["node"] == f">={runtime.NODE}.0.0"


@pytest.mark.parametrize(
    ("version", "told"),
    [("v16.20.2", "this is 16.20.2"), ("v18.0.0", ""), ("v26.1.0", ""), ("strange", "strange")],
)
def test_node_that_is_too_old_is_named(
    version: str, told: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The version that was found stands beside the one that is needed."""
    node = tmp_path / "node"
    node.write_text(f"#!/bin/sh\necho {version}\n")
    node.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}:/bin:/usr/bin")
    assert told in runtime.node_problem()
    assert bool(runtime.node_problem()) == bool(told)


def test_missing_node_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without Node the reason says which version is needed."""
    monkeypatch.setenv("PATH", str(tmp_path))
    assert f"Node {runtime.NODE} or newer was not found" in runtime.node_problem()


def test_failed_installation_shows_all_reasons() -> None:
    """Pip's line about the Python version is shown, not only its last line."""
    failure = say.failure_of("Installing failed", NEEDS_NEWER)
    assert not isinstance(failure, NoNetwork)
    for line in NEEDS_NEWER.splitlines():
        assert line in str(failure)


def test_missing_network_is_named() -> None:
    """Pip without a network says "no matching distribution"; the failure says "no network"."""
    failure = say.failure_of("Installing failed", UNREACHED)
    assert isinstance(failure, NoNetwork)
    assert str(failure).startswith("Installing failed: no network.")
    assert str(failure).count("Retrying") == 1, "one line for five attempts"


def test_long_output_keeps_the_lines_that_name_errors() -> None:
    """Of a thousand lines those are kept that say what went wrong."""
    lines = [f"Looking at link {number}" for number in range(1000)]
    lines[300] = "ERROR: THESE PACKAGES DO NOT MATCH THE HASHES"
    told = str(say.failure_of("Installing failed", "\n".join(lines)))
    assert lines[300] in told
    assert len(told.splitlines()) < 30


@pytest.fixture
def project(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return an empty project folder, with spaces in its path, for `environment`."""
    folder = tmp_path / "my rocket fins"
    folder.mkdir()
    (folder / "requirements.lock").write_text("")
    monkeypatch.setattr(environment, "ROOT", folder)
    monkeypatch.setattr(environment, "VENV", folder / ".venv")
    monkeypatch.setattr(environment, "PYTHON", folder / ".venv/bin/python")
    monkeypatch.setattr(environment, "LOCK", folder / "requirements.lock")
    monkeypatch.setattr(environment, "STAMP", folder / ".venv/.finstock-stamp")
    return folder


@pytest.mark.parametrize("module", ["venv", "ensurepip"])
def test_missing_module_is_named(
    module: str, project: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Debian packs venv and ensurepip apart; the failure names the package that brings them."""
    find = environment.importlib.util.find_spec
    monkeypatch.setattr(
        environment.importlib.util,
        "find_spec",
        lambda name: None if name == module else find(name),
    )
    with pytest.raises(Failure, match=rf"lacks its module {module}.*python3\.\d+-venv"):
        environment.ensure()
    assert not environment.VENV.exists()


@pytest.mark.parametrize("version", [(3, 10), (3, 16)])
def test_unsupported_python_is_named(
    version: tuple[int, int], project: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Too old and too new are refused before anything is made."""
    monkeypatch.setattr(sys, "version_info", (*version, 0, "final", 0))
    with pytest.raises(Failure, match=rf"Python {version[0]}\.{version[1]} .*is not supported"):
        environment.ensure()
    assert not environment.VENV.exists()


def test_interrupted_setting_up_is_made_good(project: Path) -> None:
    """A .venv without pip, as Ctrl-C leaves it, is made anew; a second run changes nothing."""
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", environment.VENV], check=True)
    environment.ensure()
    assert (environment.packages_folder() / "pip").is_dir()
    assert (environment.packages_folder() / "finstock.pth").read_text() == f"{project}\n"
    before = environment.STAMP.stat().st_mtime_ns
    environment.ensure()
    assert environment.STAMP.stat().st_mtime_ns == before


def test_lock_is_pinned_hashed_and_from_the_source() -> None:
    """Every requirement of requirements.in stands in the lock with a version and hashes."""
    text = environment.LOCK.read_text(encoding="utf-8")
    entries = re.findall(r"^([\w.-]+)==(\S+)(?: ; .*?)? \\\n((?:    --hash=.*\n)+)", text, re.M)
    names = {name for name, _, _ in entries}
    wanted = {
        re.split(r"[<>=\[; ]", line)[0].lower()
        for line in lock.SOURCE.read_text(encoding="utf-8").splitlines()
        if line and not line.startswith("#")
    }
    assert wanted <= names
    assert len(entries) == len(re.findall(r"^\w", text, re.M)), "an entry without hashes"


PROGRAM = checks.Program("A program", ("package",), "its tests", lambda: None)


def test_nothing_is_installed_unasked(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without consent, apt-get is not run, and what it would install is printed."""
    monkeypatch.delenv("FINSTOCK_INSTALL", raising=False)
    monkeypatch.setattr(environment, "run", lambda *_: pytest.fail("something was run"))
    assert checks.missing([PROGRAM]) == [PROGRAM]
    told = capsys.readouterr().out
    assert "the its tests will not be run" in told
    assert "apt-get install package" in told
    with pytest.raises(Failure, match="Not installed"):
        environment.install(["package"])


def test_consent_installs_and_a_failure_is_not_passed_over(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """With consent apt-get runs, and a program that is still missing stops the checks."""
    commands: list[list[str]] = []
    monkeypatch.setenv("FINSTOCK_INSTALL", "1")
    monkeypatch.setattr(environment, "run", lambda command, _: commands.append(command))
    monkeypatch.setattr(environment.shutil, "which", lambda name: f"/usr/bin/{name}")
    monkeypatch.setattr(environment.os, "geteuid", lambda: 0)
    with pytest.raises(Failure, match="still not found: A program"):
        checks.missing([PROGRAM])
    assert [command[-1] for command in commands] == ["update", "package"]
    monkeypatch.setattr(environment.os, "geteuid", lambda: 1000)
    with pytest.raises(Failure, match="sudo apt-get install package"):
        checks.missing([PROGRAM])
