"""What a reader confirms before a drawing from a file becomes the fin, as HTML."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from html import escape

from calc.errors import InputError
from calc.forms import Choice, Input
from calc.render.html import field_html, figure_html
from calc.report import Figure
from calc.wording import with_unit

SLUG = "outline-file"


def panel_html(
    options: Sequence[Input],
    texts: Mapping[str, str],
    *,
    edges: Sequence[float],
    figure: Figure | None,
    notes: Sequence[str],
    errors: Mapping[str, InputError],
    units: str,
) -> str:
    """Return the picture of a drawing, what it says of itself, and the fields to put it right.

    Parameters
    ----------
    options, texts
        The fields and what stands in them.
    edges
        Lengths of the edges that may be the root [m].
    figure, notes, errors
        From reading the file.
    units
        "inch" or "metric".
    """
    shown: list[str] = []
    for item in options:
        asked = _with_lengths(item, edges, units) if item.name == "edge" else item
        text = texts.get(item.name, item.default)
        applies = item.applies(texts)
        shown.append(field_html(SLUG, asked, text, errors.get(item.name), applies=applies))
    picture = figure_html(figure, units, f"{SLUG}-drawing") if figure else ""
    problem = errors.get("file")
    refused = (
        f'<p class="fs-error" role="alert">Error: give {escape(problem.accepts)}.</p>'
        if problem
        else ""
    )
    said = " ".join(escape(note) for note in notes)
    return (
        f'{picture}<div class="fs-file-choices"><p class="fs-help" role="status">{said}</p>'
        f'{refused}<div class="fs-fields">{"".join(shown)}</div></div>'
    )


def _with_lengths(item: Input, edges: Sequence[float], units: str) -> Input:
    """Return the choice of the root with the edges that there are, and how long each is."""
    named = [choice for choice in item.choices if not choice.value.isdigit()]
    numbered = [
        Choice(str(number), f"{number}: {with_unit(length, 'length', units, digits=4)}")
        for number, length in enumerate(edges, 1)
    ]
    return replace(item, choices=(*named, *numbered))
