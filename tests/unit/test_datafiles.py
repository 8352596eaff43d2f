"""Data files read the same from TOML and from the browser's JSON."""

import json
import tomllib
from importlib import resources
from pathlib import Path

import pytest

from calc import datafiles

PACKAGES = ("calc.materials", "calc.materials.library", "calc.workshop.finishes")


@pytest.mark.parametrize("package", PACKAGES)
def test_every_file_survives_the_translation(package: str) -> None:
    """JSON carries all that a file's TOML says: no dates, no keys that are not texts."""
    assert datafiles.names(package)
    for name in datafiles.names(package):
        content = datafiles.read(package, name)
        assert content == tomllib.loads((resources.files(package) / f"{name}.toml").read_text())
        assert json.loads(json.dumps(content)) == content


def test_packed_files_come_first(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the build left JSON, it is read, and its name is listed once."""
    (tmp_path / "packed_data").mkdir()
    (tmp_path / "packed_data" / "__init__.py").touch()
    (tmp_path / "packed_data" / "one.json").write_text('{"a": 1}')
    (tmp_path / "packed_data" / "two.toml").write_text("a = 2")
    monkeypatch.syspath_prepend(str(tmp_path))
    assert datafiles.names("packed_data") == ("one", "two")
    assert datafiles.read("packed_data", "one") == {"a": 1}
    assert datafiles.read("packed_data", "two") == {"a": 2}
    with pytest.raises(FileNotFoundError):
        datafiles.read("packed_data", "three")
