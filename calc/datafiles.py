"""The package's data files: TOML for people, and the same content as JSON for the browser.

A browser's Python takes a tenth of a second to read the TOML that the first answer needs, and next
to nothing for JSON; so the build translates the files when it packs this package.
"""

from __future__ import annotations

import json
from importlib import resources
from typing import Any


def names(package: str) -> tuple[str, ...]:
    """Return the names of a package's data files, without their endings, sorted."""
    found = (item.name.rpartition(".") for item in resources.files(package).iterdir())
    return tuple(sorted({stem for stem, _, ending in found if ending in ("toml", "json")}))


def read(package: str, name: str) -> dict[str, Any]:
    """Return one data file's content.

    Raises FileNotFoundError where there is none, tomllib.TOMLDecodeError (a ValueError) where the
    file is not valid.
    """
    folder = resources.files(package)
    packed = folder / f"{name}.json"
    if packed.is_file():
        content: dict[str, Any] = json.loads(packed.read_text(encoding="utf-8"))
        return content
    # Imported here, because the browser never comes this far.
    import tomllib

    return tomllib.loads((folder / f"{name}.toml").read_text(encoding="utf-8"))
