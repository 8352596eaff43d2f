"""The `record` fixture: every comparison with the world becomes a row of the Validation page."""

from __future__ import annotations

import os
from collections.abc import Callable, Generator, Mapping, Sequence
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

from scripts import validation

# The same examples every time, so that a failure is the change's own. To look further, with new
# examples at each run and the line that repeats a failing one: FINSTOCK_HYPOTHESIS=exploring
# A busy machine is no failure: no test is timed.
UNTIMED = {"deadline": None, "suppress_health_check": [HealthCheck.too_slow]}
settings.register_profile("steady", derandomize=True, **UNTIMED)
settings.register_profile("exploring", derandomize=False, print_blob=True, **UNTIMED)
settings.load_profile(os.environ.get("FINSTOCK_HYPOTHESIS", "steady"))

ROWS = pytest.StashKey[list[dict[str, Any]]]()
GROUPS = pytest.StashKey[set[str]]()


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the option that renews the Validation page."""
    parser.addoption(
        "--record",
        action="store_true",
        help="renew docs/assets/data/validation.json from this run's validation tests",
    )


def pytest_configure(config: pytest.Config) -> None:
    """Start with no rows; refuse to renew the page from part of a file."""
    config.stash[ROWS] = []
    config.stash[GROUPS] = set()
    if config.getoption("--record"):
        parts = [text for text in config.args if "::" in text]
        if parts or config.getoption("keyword") or config.getoption("markexpr"):
            raise pytest.UsageError("--record takes whole test files, without -k, -m or ::")


def pytest_collection_finish(session: pytest.Session) -> None:
    """Note which files run, so that their old rows can go."""
    for item in session.items:
        if item.path.parent.name == "validation":
            session.config.stash[GROUPS].add(item.path.stem)


def pytest_sessionfinish(session: pytest.Session, exitstatus: int) -> None:
    """Hand the rows to the process that collects them, or write them."""
    config = session.config
    output = getattr(config, "workeroutput", None)
    if output is not None:
        output["validation"] = config.stash[ROWS]
        output["validation_groups"] = sorted(config.stash[GROUPS])
        return
    rows, groups = config.stash[ROWS], config.stash[GROUPS]
    if not rows:
        return
    validation.write(validation.FRESH, rows)
    if config.getoption("--record") and exitstatus == pytest.ExitCode.OK:
        validation.renew(rows, groups)


@pytest.hookimpl(optionalhook=True)
def pytest_testnodedown(node: Any, error: object) -> None:
    """Take over the rows of a worker process (pytest-xdist)."""
    output = getattr(node, "workeroutput", {})
    node.config.stash[ROWS].extend(output.get("validation", []))
    node.config.stash[GROUPS].update(output.get("validation_groups", []))


Record = Callable[..., None]


@pytest.fixture
def record(request: pytest.FixtureRequest) -> Generator[Record, None, None]:
    """Return a function that notes a published value beside ours, before the test judges it.

    `published` and `ours` may be sequences, `parts` then names their members. `basis` says what
    stands on the published side: "measured", "published" (a table or worked example), "exact"
    (a closed form) or "library" (independent code). `within=None` marks a case that is reported
    as it comes, without a promise. `scale` replaces the published value as what the difference
    is relative to.
    """
    rows: list[dict[str, Any]] = []

    def note(
        *,
        case: str,
        published: Any,
        ours: Any,
        tolerance: str,
        source: str | Mapping[str, Any],
        unit: str = "",
        within: bool | None = True,
        basis: str = "published",
        scale: float | None = None,
        parts: Sequence[object] | None = None,
    ) -> None:
        rows.extend(
            validation.rows(
                group=request.path.stem,
                test=request.node.name,
                case=case,
                published=published,
                ours=ours,
                tolerance=tolerance,
                source=source,
                unit=unit,
                within=within,
                basis=basis,
                scale=scale,
                parts=parts,
            )
        )

    yield note
    request.config.stash[ROWS].extend(rows)
