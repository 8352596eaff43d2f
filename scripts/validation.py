"""Validation rows: what the tests compared with the world, kept as a snapshot for the page.

The tests in ``tests/validation`` hand every comparison to the ``record`` fixture. A run leaves its
rows in ``build/validation.json``. The committed snapshot, from which the Validation page is made,
lies in ``docs/assets/data``; ``python -m scripts.validation`` refuses a run that differs from it.
"""

from __future__ import annotations

import csv
import io
import json
import math
import sys
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from scripts.runtime import ROOT
from scripts.say import Failure

SNAPSHOT = ROOT / "docs" / "assets" / "data" / "validation.json"
FRESH = ROOT / "build" / "validation.json"
CASES = ROOT / "tests" / "validation" / "data"
RENEW = "pytest tests/validation --record"

FIELDS = (
    "group", "case", "published", "ours", "unit", "difference", "tolerance", "within", "basis",
    "source", "test",
)  # fmt: skip
DIGITS = 4
NEGLIGIBLE = 1e-6
"""Relative differences below this are written as nothing: they vary from machine to machine."""


def citation(source: str | Mapping[str, Any]) -> str:
    """Return one line for a source given as text or as the ``[source]`` table of a data file."""
    if isinstance(source, str):
        return " ".join(source.split())
    parts = [source.get("authors"), source.get("title"), source.get("number"), source.get("year")]
    text = ", ".join(str(part) for part in parts if part)
    remembered = "from memory" in str(source.get("note", "")).lower()
    return text + ("; from memory in part, unverified" if remembered else "")


def significant(value: float, digits: int) -> float:
    """Return a number rounded to significant digits.

    >>> significant(3.47123, 4), significant(0.0, 4)
    (3.471, 0.0)
    """
    return float(f"{value:.{digits}g}")


def printed_digits(value: float) -> int:
    """Return how many significant digits a published number carries, as far as a float tells.

    >>> printed_digits(3.4917), printed_digits(101325.0), printed_digits(0.05)
    (5, 6, 1)
    """
    mantissa = f"{abs(value):.9e}".split("e")[0]
    return max(1, len(mantissa.replace(".", "").rstrip("0")))


def row(
    *,
    group: str,
    case: str,
    published: float,
    ours: float,
    tolerance: str,
    source: str | Mapping[str, Any],
    unit: str = "",
    within: bool | None = True,
    basis: str = "published",
    scale: float | None = None,
    test: str = "",
) -> dict[str, Any]:
    """Return one comparison, rounded so that any machine writes the same.

    The difference is relative to the published value, or to `scale` where that value may be zero.
    """
    published, ours = float(published), float(ours)
    base = abs(published) if scale is None else abs(float(scale))
    known = base > 0.0 and math.isfinite(ours) and math.isfinite(published)
    difference = (ours - published) / base if known else None
    if difference is not None:
        difference = 0.0 if abs(difference) < NEGLIGIBLE else significant(difference, 2)
    digits = max(DIGITS, min(printed_digits(published) + 1, 7))
    return {
        "group": group,
        "case": " ".join(case.split()),
        "published": significant(published, 8) if math.isfinite(published) else None,
        "ours": significant(ours, digits) if math.isfinite(ours) else None,
        "unit": unit,
        "difference": difference,
        "tolerance": " ".join(tolerance.split()),
        "within": None if within is None else bool(within),
        "basis": basis,
        "source": citation(source),
        "test": test,
    }


def rows(
    *,
    case: str,
    published: Any,
    ours: Any,
    parts: Sequence[object] | None = None,
    **more: Any,
) -> list[dict[str, Any]]:
    """Return a row for each member of a comparison, which may be a single value or a sequence.

    Parameters
    ----------
    case
        What is compared; each member's name is put after it.
    published, ours
        Values or sequences of them, of one length.
    parts
        Names of the members; their places where there are none.
    more
        As in `row`.
    """
    several = hasattr(published, "__len__")
    pairs = list(zip(published, ours, strict=True)) if several else [(published, ours)]
    names = list(parts or range(1, len(pairs) + 1)) if several else [""]
    return [
        row(case=f"{case}, {name}" if name != "" else case, published=theirs, ours=found, **more)
        for name, (theirs, found) in zip(names, pairs, strict=True)
    ]


def arranged(rows: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Return rows in an order that does not depend on which process ran which test."""
    return sorted((dict(item) for item in rows), key=lambda r: (r["group"], r["test"], r["case"]))


def read(path: Path) -> list[dict[str, Any]]:
    """Return the rows of a file; none where there is no file."""
    if not path.exists():
        return []
    rows: list[dict[str, Any]] = json.loads(path.read_text(encoding="utf-8"))["rows"]
    return rows


def write(path: Path, rows: Iterable[Mapping[str, Any]]) -> None:
    """Write rows as JSON, one to a line, so that changes read well."""
    lines = [json.dumps(item, ensure_ascii=False) for item in arranged(rows)]
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text('{"rows": [\n' + ",\n".join(lines) + "\n]}\n", encoding="utf-8")


def as_csv(rows: Iterable[Mapping[str, Any]]) -> str:
    """Return the rows as a table for a spreadsheet."""
    out = io.StringIO()
    writer = csv.DictWriter(out, fieldnames=FIELDS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def certified() -> dict[str, Any]:
    """Return every published case with its inputs, as the data files have it, by file name."""
    return {
        path.stem: tomllib.loads(path.read_text(encoding="utf-8"))
        for path in sorted(CASES.glob("*.toml"))
    }


def renew(rows: Iterable[Mapping[str, Any]], groups: Iterable[str]) -> None:
    """Put the rows of whole test files into the snapshot and write the downloads beside it."""
    done = set(groups)
    there = {path.stem for path in (ROOT / "tests" / "validation").glob("test_*.py")}
    kept = [r for r in read(SNAPSHOT) if r["group"] not in done and r["group"] in there]
    every = arranged([*kept, *rows])
    write(SNAPSHOT, every)
    SNAPSHOT.with_suffix(".csv").write_text(as_csv(every), encoding="utf-8")
    text = json.dumps(certified(), indent=1, ensure_ascii=False, allow_nan=False)
    SNAPSHOT.with_name("certified-values.json").write_text(text + "\n", encoding="utf-8")


def _near(a: Any, b: Any, relative: float) -> bool:
    if not isinstance(a, float | int) or not isinstance(b, float | int):
        return bool(a == b)
    # A value on the edge of rounding falls to either side on different machines.
    return math.isclose(a, b, rel_tol=relative, abs_tol=2.0 * NEGLIGIBLE)


def differences(
    fresh: Sequence[Mapping[str, Any]], snapshot: Sequence[Mapping[str, Any]]
) -> list[str]:
    """Return what a run and the snapshot disagree about, one line each."""
    ran = {item["group"] for item in fresh}
    new = {(item["test"], item["case"]): item for item in fresh}
    old = {(item["test"], item["case"]): item for item in snapshot if item["group"] in ran}
    found = [f"new: {key[1]}" for key in new if key not in old]
    found += [f"gone: {key[1]}" for key in old if key not in new]
    for key in new.keys() & old.keys():
        within = {"ours": 1.01 * 10.0 ** (1 - DIGITS), "difference": 0.11}
        if new[key]["basis"] == "library":
            # a library's own answer hangs on machine and threads where its equations are stiff
            within["published"] = 1e-5
        for name in FIELDS:
            relative = within.get(name, 0.0)
            if not _near(new[key][name], old[key].get(name), relative):
                found.append(f"{key[1]}: {name} was {old[key].get(name)}, is {new[key][name]}")
                break
    return sorted(found)


def check() -> None:
    """Raise unless the last run's rows are those of the snapshot.

    Raises
    ------
    Failure
        With the first difference and the command that renews the page.
    """
    fresh = read(FRESH)
    if not fresh:
        raise Failure("No validation rows: run pytest tests/validation first.")
    found = differences(fresh, read(SNAPSHOT))
    if found:
        raise Failure(
            f"The Validation page is out of date ({len(found)} rows differ, first: {found[0]}): "
            f"renew it with {RENEW}"
        )


if __name__ == "__main__":
    try:
        check()
    except Failure as failure:
        print(failure, file=sys.stderr)
        sys.exit(1)
