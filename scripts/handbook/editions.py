"""Verdicts that changed since a published edition, for the changelog.

Both sides are kept answers (`scripts.regression`): those of the edition lie beside today's, as
``edition-<version>.json``.
"""

from __future__ import annotations

from functools import cache
from typing import Any

from calc import calculators
from calc.calculators.fin_check import PARTS
from calc.report import WORDS, Column, Table
from scripts import regression
from scripts.handbook.rocket_family import MARGINAL


@cache
def _both(version: str, until: str = "") -> tuple[tuple[str, Any, Any], ...]:
    """Return name and facts, then and now, of every question asked of both editions alike.

    Now is today, or the edition `until`, whose section in the changelog must not change any more.
    """
    then = regression.read(regression.DATA / f"edition-{version}.json")["answers"]
    now = regression.read(*([regression.DATA / f"edition-{until}.json"] if until else []))[
        "answers"
    ]
    return tuple(
        (name, item["facts"], now[name]["facts"])
        for name, item in then.items()
        if name in now
        and now[name]["inputs"] == item["inputs"]
        and "verdict" in item["facts"]
        and "verdict" in now[name]["facts"]
    )


def verdicts_compared(version: str, until: str = "") -> str:
    """Return how many questions have a verdict in an edition and in the other or today."""
    return str(len(_both(version, until)))


def verdicts_changed(version: str, until: str = "") -> str:
    """Return how many of these have another verdict in the later one."""
    return str(sum(then["verdict"] != now["verdict"] for _, then, now in _both(version, until)))


def changed_verdicts(version: str, until: str = "") -> Table:
    """Return the questions whose verdict differs from an edition's, the safer changes first.

    Safer is a change away from "holds".
    """
    rows = []
    for name, then, now in sorted(
        _both(version, until), key=lambda row: row[1]["verdict"] != "holds"
    ):
        if then["verdict"] == now["verdict"]:
            continue
        slug, _, question = name.partition(" · ")
        rows.append(
            (
                calculators.load(slug).title,
                question,
                _said(then),
                _said(now),
                _in_words(now["governing mode"]),
            )
        )
    return Table(
        f"Verdicts that differ from edition {version}",
        (
            Column("calculator", "Calculator"),
            Column("question", "Question"),
            Column("then", version),
            Column("now", until or "Now"),
            Column("governs", f"Governs in {until}" if until else "Governs now"),
        ),
        tuple(rows),
        note="The same inputs, and each edition's own defaults where a question gives none: some "
        f"are judged for more ways to fail than they were. {MARGINAL} A joint with a large margin "
        "is marginal too where the fin breaks before its joint does.",
    )


def _said(facts: Any) -> str:
    """Return a verdict's word with its margin."""
    word = WORDS[facts["verdict"]]
    if facts["verdict"] == "unknown":
        return word
    _, margin, *_, bound = facts["margin"]
    return f"{word}, margin {bound + ' ' if bound else ''}{margin:.2f}"


def _in_words(mode: str) -> str:
    """Return the way of failing that governs, in words.

    >>> _in_words("joint-hand"), _in_words("bending"), _in_words("tube wall folding")
    ('the joint, a hand on the tip', 'bending at the root', 'tube wall folding')
    """
    return HAND if mode == "joint-hand" else PARTS.get(mode, mode)


HAND = f"{PARTS['joint']}, {PARTS['handling']}"
