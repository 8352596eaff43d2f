"""The one renderer: a calculator's form and its report as HTML.

The build calls `block` for a page; the browser calls `fragments` in the worker. Both run this
code, so that what a reader sees before and after the runtime wakes up is the same to the letter.
"""

from __future__ import annotations

import json
import re
import textwrap
from collections.abc import Iterable, Mapping
from html import escape
from typing import Any

from calc import materials, rocket
from calc.errors import InputError
from calc.forms import Calculator, Input
from calc.margin import Margin
from calc.render import drawing
from calc.render.svg import fin, mode
from calc.report import (
    NOT_PROMISED,
    WORDS,
    Answer,
    Change,
    Figure,
    LowerLimit,
    Report,
    Step,
    Strong,
    Table,
    Verdict,
)
from calc.units import inch_fraction, significant, spoken, to_unit
from calc.wording import TRADE, also, column_like, range_text, unit_for, with_unit

FOLD = 24
"""Letters of a table's cell from which on it may fold."""
LONG_NUMBER = 12
"""Letters of a large number with its unit above which it may take two lines."""
SHORT = 13
"""Most letters of a row's name that takes no more room than it needs."""
_CODED = re.compile(r"\*{0,2}[A-Za-z_][\w.:-]*$")
_PARTED = re.compile(r"[A-Za-z][._][A-Za-z]").search
MARKS = {"holds": "✓", "marginal": "!", "fails": "✕", "unknown": "?"}


def _e(text: object) -> str:
    return escape(str(text), quote=True)


def _t(text: object) -> str:
    r"""Escape words for a reader; the sign of a percentage stays beside its number.

    >>> _t("18% to 28 % & more")
    '18\xa0% to 28\xa0% &amp; more'
    """
    return _e(re.sub(r"(?<=\d) ?%", "\xa0%", str(text)))


def _whole(text: str) -> str:
    """Escape a number with its unit, that keeps to one line where a cell folds.

    >>> _whole("0.313 lbf")
    '<span class="fs-whole">0.313 lbf</span>'
    """
    return f'<span class="fs-whole">{_e(text)}</span>'


def _name(text: object) -> str:
    """Escape words with names from the code, which break after its dots and underscores.

    >>> _name("calc.units.parse_range")
    'calc.<wbr>units.<wbr>parse_<wbr>range'
    """
    return re.sub(r"(?<=[A-Za-z][._])(?=[A-Za-z])", "<wbr>", _t(text))


def _breakable(text: str) -> str:
    """Escape and let long words of formulas and addresses break."""
    return _e(text).replace("/", "/<wbr>")


def field_html(
    slug: str,
    item: Input,
    text: str,
    error: InputError | None = None,
    *,
    applies: bool = True,
    kept: str = "",
) -> str:
    """Return one labelled field with its unit, help and place for a message.

    `kept` are attributes that say what the field is in a rocket.
    """
    key = f"{slug}-{item.name}"
    described = f"{key}-help {key}-error" if item.help else f"{key}-error"
    invalid = ' aria-invalid="true"' if error else ""
    shown_when = {name: list(values) for name, values in item.shown_when.items()}
    when = f' data-when="{_e(json.dumps(shown_when))}"' if shown_when else ""
    unit_label = ""
    if item.kind in ("choice", "material"):
        control = _select(slug, item, text, described)
    else:
        value, unit = split_unit(item, text)
        units = [u for u in item.units if u != "1"]
        chooser = ""
        if len(units) > 1:
            options = "".join(_option(u, spoken(u), selected=u == unit) for u in units)
            chooser = (
                f'<select class="fs-unit" name="{_e(item.name)}:unit" '
                f'aria-label="Unit of {_e(item.label.lower())}" '
                f'data-default="{_e(unit)}">{options}</select>'
            )
        elif units:
            chooser = f'<span class="fs-suffix" aria-hidden="true">{_e(spoken(units[0]))}</span>'
            unit_label = f'<span class="fs-sr"> in {_e(spoken(units[0]))}</span>'
        plain = item.kind in ("length", "text", "angle", "temperature") or item.low is None
        mode = ' inputmode="numeric"' if item.kind == "integer" else ""
        if not mode and not plain and item.low is not None and item.low >= 0:
            mode = ' inputmode="decimal"'
        control = (
            f'<input type="text" id="{_e(key)}" name="{_e(item.name)}" value="{_e(value)}" '
            f'data-default="{_e(value)}" autocomplete="off" spellcheck="false"{mode} '
            f'aria-describedby="{_e(described)}"{invalid}>{chooser}'
        )
    help_html = f'<p class="fs-help" id="{_e(key)}-help">{_e(item.help)}</p>' if item.help else ""
    message = _e(error_text(error)) if error else ""
    hidden = "" if error else " hidden"
    wide = " fs-wide" if item.kind == "text" else ""
    hide = "" if applies else " hidden"
    optional = ' <span class="fs-optional">(optional)</span>' if item.optional else ""
    return (
        f'<div class="fs-field{wide}" data-name="{_e(item.name)}"{kept}{when}{hide}>'
        f'<label for="{_e(key)}">{_e(item.label)}{unit_label}{optional}</label>'
        f'<div class="fs-row">{control}</div>{help_html}'
        f'<p class="fs-error" id="{_e(key)}-error"{hidden}>{message}</p></div>'
    )


def error_text(error: InputError) -> str:
    """Return the sentence shown beside a field.

    >>> error_text(InputError("span", "-3", "a length above zero"))
    'Error: give a length above zero.'
    """
    return f"Error: give {error.accepts}."


def split_unit(item: Input, text: str) -> tuple[str, str]:
    """Return what stands in the box and in the unit chooser for a text such as "3 in"."""
    for unit in sorted(item.units, key=len, reverse=True):
        if unit != "1" and text.endswith(unit):
            bare = text[: -len(unit)].rstrip()
            if bare and bare[-1] in "0123456789.":
                return bare, unit
    return text, item.units[0] if item.units else ""


def _option(value: str, label: str, *, selected: bool) -> str:
    mark = " selected" if selected else ""
    return f'<option value="{_e(value)}"{mark}>{_e(label)}</option>'


def _select(slug: str, item: Input, text: str, described: str) -> str:
    groups: dict[str, list[str]] = {}
    for choice in item.offered:
        groups.setdefault(choice.group, []).append(
            _option(choice.value, choice.label, selected=choice.value == text)
        )
    body = "".join(
        f'<optgroup label="{_e(name)}">{"".join(options)}</optgroup>' if name else "".join(options)
        for name, options in groups.items()
    )
    return (
        f'<select id="{_e(slug)}-{_e(item.name)}" name="{_e(item.name)}" '
        f'data-default="{_e(text)}" aria-describedby="{_e(described)}">{body}</select>'
    )


def _kept(calculator: Calculator, item: Input) -> str:
    """Return what a page's script must know to keep a field as part of a rocket."""
    name = rocket.key(calculator.slug, item.name)
    said = rocket.implied(calculator, item.name)
    unsaid = rocket.UNSAID.get(calculator.slug, {}).get(item.name)
    return (
        (f' data-key="{_e(name)}"' if name != item.name else "")
        + (f' data-else="{_e(rocket.ELSE[name])}"' if name in rocket.ELSE else "")
        + (f' data-implies="{_e(json.dumps(said))}"' if said else "")
        + (f' data-unsaid="{_e(unsaid)}"' if unsaid is not None else "")
        + (" data-bench" if name in rocket.BENCH else "")
    )


def form_html(
    calculator: Calculator, texts: Mapping[str, str], errors: Mapping[str, InputError]
) -> str:
    """Return the whole form: fields in their groups, folded where a group is for the few."""
    groups: dict[str, list[str]] = {}
    shown: set[str] = set()
    for item in calculator.all_inputs:
        applies = item.applies(texts)
        html = field_html(
            calculator.slug,
            item,
            texts[item.name],
            errors.get(item.name),
            applies=applies,
            kept=_kept(calculator, item),
        )
        groups.setdefault(item.group, []).append(html)
        if applies:
            shown.add(item.group)
    parts = []
    for name, fields in groups.items():
        hidden = "" if name in shown else " hidden"
        inside = f'<div class="fs-fields">{"".join(fields)}</div>'
        if name.startswith("More"):
            parts.append(
                f'<details class="fs-group fs-more"{hidden}><summary>{_e(name)}</summary>'
                f"{inside}</details>"
            )
        else:
            parts.append(
                f'<fieldset class="fs-group"><legend>{_e(name)}</legend>{inside}</fieldset>'
            )
    return (
        f'<form class="fs-form" novalidate autocomplete="off" aria-label="{_e(calculator.title)}">'
        f"{''.join(parts)}"
        '<p class="fs-buttons">'
        '<button type="submit" class="fs-button fs-primary" data-action="answer">Answer</button> '
        '<button type="button" class="fs-button" data-action="reset">Start over</button> '
        '<button type="button" class="fs-button fs-steps" data-action="undo" hidden>Undo</button> '
        '<button type="button" class="fs-button fs-steps" data-action="redo" hidden>Redo</button>'
        "</p></form>"
    )


def _remark(text: str) -> str:
    """Return a row's last cell, marked where its words need room."""
    return f"<td{_words(text)}>{_t(text)}</td>"


def _words(value: object) -> str:
    return ' class="fs-words"' if isinstance(value, str) and len(value) > FOLD else ""


def _bound(item: Answer | Margin | Verdict) -> str:
    return f"{item.bound} " if item.bound else ""


def _range(item: Answer | Verdict, kind: str, system: str, like: float | None = None) -> str:
    """Return " (low to high)", or "" where only a limit is known: a limit has no spread."""
    return "" if item.bound else range_text(item.low, item.high, kind, system, like=like)


def _verdict(verdict: Verdict, system: str) -> str:
    state = verdict.state
    word = WORDS[state]
    margin = ""
    if state != "unknown":
        spread = _range(verdict, "number", system).strip()
        margin = (
            f', <span class="fs-margin">margin {_bound(verdict)}{verdict.margin:.2f}</span>'
            + (f' <span class="fs-range">{_e(spread)}</span>' if spread else "")
        )
    return (
        f'<section class="fs-verdict fs-state-{state}" aria-label="Verdict">'
        f'<p class="fs-verdict-word"><span class="fs-mark" aria-hidden="true">{MARKS[state]}</span>'
        f"<strong>{word}</strong>{margin}</p>"
        f'<p class="fs-verdict-why">{_t(verdict.sentence)}</p></section>'
        + (f'<p class="fs-covers">{_t(verdict.covers)}</p>' if verdict.covers else "")
    )


def _headline(answers: Iterable[Answer], slug: str, system: str) -> str:
    cells = []
    items = list(answers)
    # stiffness along, across and in shear compare at a glance only in one unit
    like = column_like((item.value for item in items if item.kind == "pressure"), "pressure")
    for item in items:
        same = like if item.kind == "pressure" else None
        shown = with_unit(item.value, item.kind, system, digits=item.digits, like=same)
        bound = f'<span class="fs-bound">{_e(item.bound)}</span> ' if item.bound else ""
        other = also(item.value, item.kind, system, digits=item.digits)
        other_html = f'<span class="fs-also">{_e(other)}</span>' if other else ""
        spread = _range(item, item.kind, system, item.value if same is None else same)
        spread_html = f'<span class="fs-range">{_e(spread.strip())}</span>' if spread else ""
        note = f'<span class="fs-note">{_t(item.note)}</span>' if item.note else ""
        # a number keeps its unit beside it, unless that is long
        long = ' class="fs-long"' if len(shown) > LONG_NUMBER else ""
        cells.append(
            f"<div><dt>{_e(item.label)}</dt>"
            f"<dd>{bound}<b{long}>{_e(shown)}</b>{spread_html}{other_html}{note}</dd></div>"
        )
    if not cells:
        return ""
    return f'<dl class="fs-headline" id="{_e(slug)}-numbers">{"".join(cells)}</dl>'


def _modes(report: Report, system: str) -> str:
    modes, slug = report.modes, report.calculator
    # one margin alone is the verdict's, which stands above
    said = report.verdict is not None and [m.margin for m in modes] == [report.verdict.margin]
    if not modes or said:
        return ""
    bars = drawing.draw(
        Figure(
            "bars",
            "Margins",
            "",
            {
                "rows": [
                    {
                        "label": m.label,
                        "margin": m.margin,
                        "low": m.low_margin,
                        "high": m.high_margin,
                        "bound": m.bound,
                    }
                    for m in modes
                ]
            },
        ),
        units=system,
        id=f"{slug}-bars",
    )

    def amount(m: Margin, value: float) -> str:
        # stresses in one unit throughout, so that they compare at a glance
        alike = modes if m.kind == "pressure" else (m,)
        both = (
            v for n in alike if n.kind == m.kind for v in (n.demand * n.required, n.capacity.value)
        )
        return _whole(with_unit(value, m.kind, system, like=column_like(both, m.kind)))

    rows = "".join(
        f'<tr><th scope="row">{_e(m.label)}</th>'
        f"<td><b>{_e(_bound(m))}{m.margin:.2f}</b>"
        f"{_e(range_text(m.low_margin, m.high_margin, 'number', system))}</td>"
        f"<td>{amount(m, m.demand * m.required)}</td>"
        f"<td>{_e(_bound(m))}{amount(m, m.capacity.value)}</td>"
        f"{_remark(m.note if m.known else f'{NOT_PROMISED}: {m.note}')}</tr>"
        for m in modes
    )
    ranges = f"<br>({_e(report.ranges)})" if report.ranges else ""
    return (
        '<section class="fs-margins"><h2>Every way to fail, with its margin</h2>'
        f'<figure class="fs-figure">{bars}<figcaption>{_t(report.bars)}</figcaption></figure>'
        '<div class="fs-table-wrap" tabindex="0" role="region" aria-label="Margins, table">'
        '<table class="fs-table"><thead><tr><th scope="col">Way to fail</th>'
        f'<th scope="col">Margin{ranges}</th><th scope="col">Required</th>'
        '<th scope="col">Capacity</th><th scope="col">Remark</th></tr>'
        f"</thead><tbody>{rows}</tbody></table></div></section>"
    )


def _changes(changes: tuple[Change, ...], system: str) -> str:
    if not changes:
        return ""
    cards = []
    for item in sorted(changes, key=lambda change: change.worse):
        label = _e(item.label)
        if item.inputs and not item.worse:
            fills = "".join(f' data-set-{_e(k)}="{_e(v)}"' for k, v in item.inputs.items())
            label = (
                f'<button type="button" class="fs-set" data-action="set"{fills}>{label}</button>'
            )
        mark = '<span class="fs-worse-mark">Worse</span> ' if item.worse else ""
        cards.append(
            f'<li{" class=fs-worse" if item.worse else ""}><span class="fs-change">{label}</span> '
            f"<span>{mark}{_t(item.effect)}</span></li>"
        )
    return (
        '<section class="fs-changes-box"><h2>What would change it</h2>'
        f'<ul class="fs-changes">{"".join(cards)}</ul></section>'
    )


def figure_html(item: Figure, system: str, key: str) -> str:
    """Return a drawing with its title and caption."""
    svg = drawing.draw(item, units=system, id=key)
    caption = f"<figcaption>{_t(item.caption)}</figcaption>" if item.caption else ""
    hand = fin.handles(item, units=system) if item.drawing == "fin" else None
    more = f' data-handles="{_e(json.dumps(hand))}"' if hand else ""
    if item.drawing == "mode":
        moves = json.dumps(mode.play(item, units=system), separators=(",", ":"))
        more = f' data-play="{_e(moves)}"'
    return (
        f'<figure class="fs-figure fs-draw-{_e(item.drawing)}"{more}><p class="fs-figure-title">'
        f"{_e(item.title)}</p>{svg}{caption}</figure>"
    )


def cell(
    value: Any,
    kind: str | None,
    system: str,
    digits: int,
    like: float | None = None,
    *,
    fractions: bool = True,
) -> str:
    """Return one table cell's text, in the unit of the value it is to be like."""
    if value is None:
        return "–"
    if kind is None or isinstance(value, str):
        return str(value)
    limit = "at least " if isinstance(value, LowerLimit) else ""
    shown = with_unit(float(value), kind, system, digits=digits, like=like)
    if system == TRADE and kind in ("length", "speed") and "(" not in shown:
        # a page is read with either ruler: what has no size by name is given in both systems
        unit = unit_for(kind, "inch")
        shown += f" ({significant(to_unit(float(value), kind, unit), digits)} {unit})"
    elif not fractions and kind == "length" and unit_for(kind, system) == "in":
        shown = f"{significant(round(to_unit(float(value), kind, 'in'), 9), digits)} in"
    return limit + shown


def _lines(text: str, most: int) -> list[str]:
    r"""Return a text in lines of at most so many characters.

    What stands in brackets stays whole, and so do a number with its unit or with its limit.

    >>> _lines("holds, margin 1.60 (0.89 to 2.87)", 15)
    ['holds, margin', '1.60', '(0.89\xa0to\xa02.87)']
    >>> _lines("holds, margin at least 1.23", 16)
    ['holds, margin', 'at\xa0least\xa01.23']
    """
    kept = re.sub(
        r"\([^()]*\)|at least (?=\d)|\d [a-z/°%]+", lambda m: m[0].replace(" ", "\xa0"), text
    )
    return textwrap.wrap(kept, most, break_long_words=False, break_on_hyphens=False)


def table_html(table: Table, system: str, *, base: str = "") -> str:
    """Return a table in its scrollable frame."""
    head = "".join(
        f'<th scope="col"><button type="button" data-action="sort">{_e(c.label)}</button></th>'
        if table.sortable
        else f'<th scope="col">{_e(c.label)}</th>'
        for c in table.columns
    )
    body = []
    likes = [
        column_like((row[position] for row in table.rows), column.kind)
        for position, column in enumerate(table.columns)
    ]
    first = [str(row[0]) for row in table.rows]
    coded = bool(first) and all(_CODED.match(text) for text in first) and any(map(_PARTED, first))
    # a column's inches are all fractions or all decimals
    plain = [
        all(inch_fraction(v, tolerance=0.002) for v in values if isinstance(v, float) and v != 0.0)
        for values in zip(*table.rows, strict=True)
    ]
    for index, row in enumerate(table.rows):
        cells = []
        for position, (column, value) in enumerate(zip(table.columns, row, strict=True)):
            shown = _t(
                cell(
                    value,
                    column.kind,
                    system,
                    column.digits,
                    likes[position],
                    fractions=plain[position],
                )
            )
            if column.fold:
                shown = "<br>".join(_lines(shown, column.fold))
            if coded and isinstance(value, str):
                shown = _name(value)
            if isinstance(value, Strong):
                shown = f"<b>{shown}</b>"
            key = (
                f' data-sort="{value:.6g}"'
                if isinstance(value, int | float) and not isinstance(value, bool)
                else ""
            )
            if position == 0:
                if table.links and table.links[index]:
                    shown = f'<a href="{_e(base + table.links[index])}">{shown}</a>'
                cells.append(f'<th scope="row"{key}>{shown}</th>')
            else:
                cells.append(f"<td{_words(value)}{key}>{shown}</td>")
        body.append(f"<tr>{''.join(cells)}</tr>")
    note = f'<p class="fs-table-note">{_t(table.note)}</p>' if table.note else ""
    sortable = " fs-sortable" if table.sortable else ""
    if coded:
        sortable += " fs-names"
    elif all(len(text) <= SHORT for text in first):
        sortable += " fs-slim"
    return (
        f'<section class="fs-table-box"><p class="fs-table-title">{_e(table.title)}</p>'
        f'<div class="fs-table-wrap" tabindex="0" role="region" aria-label="{_e(table.title)}">'
        f'<table class="fs-table{sortable}"><thead><tr>{head}</tr></thead>'
        f"<tbody>{''.join(body)}</tbody></table></div>{note}</section>"
    )


def _downloads(report: Report) -> str:
    if not report.downloads:
        return ""
    buttons = "".join(
        f'<button type="button" class="fs-button" data-action="download" '
        f'data-make="{_e(item.make)}" data-filename="{_e(item.filename)}">'
        f"{_e(item.label)}</button>"
        for item in report.downloads
    )
    return (
        '<section class="fs-downloads"><h2>Full-size files</h2>'
        f'<p class="fs-actions">{buttons}</p></section>'
    )


def _working(steps: tuple[Step, ...], numbers: Mapping[str, int], slug: str) -> str:
    if not steps:
        return ""
    items = []
    for step in steps:
        cites = "".join(_cite(key, numbers, slug) for key in step.sources)
        formula = (
            f'<span class="fs-formula">{_breakable(step.formula)}</span>' if step.formula else ""
        )
        note = f'<span class="fs-step-note">{_t(step.note)}</span>' if step.note else ""
        items.append(
            f'<li><span class="fs-step-title">{_e(step.title)}{cites}</span>{formula}'
            f'<span class="fs-step-result">{_t(step.result)}</span>{note}</li>'
        )
    return (
        '<details class="fs-working"><summary>The working, step by step</summary>'
        f"<ol>{''.join(items)}</ol></details>"
    )


def _cite(key: str, numbers: Mapping[str, int], slug: str) -> str:
    if key == PRACTICE:
        return ' <span class="fs-cite">common practice</span>'
    return f' <a class="fs-cite" href="#{_e(slug)}-source-{numbers[key]}">[{numbers[key]}]</a>'


def _sources(keys: Iterable[str], slug: str) -> str:
    known = materials.sources()
    items = "".join(
        f'<li id="{_e(slug)}-source-{number}">{_e(citation(known[key]))}</li>'
        for number, key in enumerate(keys, 1)
    )
    if not items:
        return ""
    return (
        '<details class="fs-sources"><summary>Sources of these numbers</summary>'
        f"<ol>{items}</ol></details>"
    )


def citation(source: materials.Source) -> str:
    """Return a source as a bibliography line."""
    year = f" ({source.year})" if source.year else ""
    who = f"{source.authors}{year}: " if source.authors else ""
    number = f", {source.number}" if source.number else ""
    when = year if not source.authors else ""
    note = f" {source.note}" if source.note else ""
    return f"{who}{source.title}{number}{when}.{note}"


PRACTICE = "common-practice"
"""What stands for a source where there is none: a remark beside the number, not a reference."""


def cited_keys(report: Report) -> list[str]:
    """Return the source keys of a report in the order they are first cited.

    Common practice is no source, so it has no number.
    """
    keys: dict[str, None] = {}
    for step in report.steps:
        keys.update(dict.fromkeys(step.sources))
    keys.update(dict.fromkeys(report.sources))
    return [key for key in keys if key != PRACTICE]


def first_html(report: Report, *, units: str) -> str:
    """Return what is known first and read first: verdict, large numbers and margins."""
    headline = [report.answer(name) for name in report.headline]
    return "".join(
        (
            _verdict(report.verdict, units) if report.verdict else "",
            _headline(headline, report.calculator, units),
            _modes(report, units),
        )
    )


def result_html(report: Report, *, units: str) -> str:
    """Return a report as HTML: verdict first, then numbers, pictures, working, cautions."""
    keys = cited_keys(report)
    numbers = {key: number for number, key in enumerate(keys, 1)}
    slug = report.calculator
    rest = [a for a in report.answers if a.name not in report.headline]
    others = ""
    if rest:
        rows = "".join(
            f'<tr><th scope="row">{_e(a.label)}</th>'
            f"<td>{_e(_bound(a))}"
            f"{_e(with_unit(a.value, a.kind, units, digits=a.digits))}"
            f"{_e(_range(a, a.kind, units, a.value))}</td>{_remark(a.note)}</tr>"
            for a in rest
        )
        others = (
            '<details class="fs-others"><summary>More numbers</summary><div class="fs-table-wrap" '
            'tabindex="0" role="region" aria-label="More numbers"><table class="fs-table">'
            '<thead><tr><th scope="col">Quantity</th><th scope="col">Value</th>'
            f'<th scope="col">Remark</th></tr></thead><tbody>{rows}</tbody></table></div></details>'
        )
    cautions = "".join(f"<p>{_t(text)}</p>" for text in report.cautions)
    notes = "".join(f"<li>{_t(text)}</li>" for text in report.notes)
    return "".join(
        (
            first_html(report, units=units),
            _changes(report.changes, units),
            *(
                figure_html(item, units, f"{slug}-figure-{index}")
                for index, item in enumerate(report.figures, 1)
            ),
            _downloads(report),
            *(table_html(item, units, base="") for item in report.tables),
            others,
            '<section class="fs-notes"><h2>What to know about this answer</h2>'
            f"<ul>{notes}</ul></section>"
            if notes
            else "",
            _working(report.steps, numbers, slug),
            _sources(keys, slug),
            f'<aside class="fs-caution" aria-label="Cautions">{cautions}</aside>'
            if cautions
            else "",
            f'<div hidden data-carry="{_e(json.dumps(dict(report.carry)))}"></div>'
            if report.carry
            else "",
        )
    )


def drawing_html(calculator: Calculator, values: Mapping[str, Any]) -> str:
    """Return the picture of the inputs."""
    if calculator.drawing is None:
        return ""
    figure = calculator.drawing(values)
    if figure is None:
        return ""
    return figure_html(figure, values["units"], f"{calculator.slug}-drawing")


def fragments(calculator: Calculator, values: Mapping[str, Any], report: Report) -> dict[str, str]:
    """Return the parts of a calculator's block that change with its inputs."""
    return {
        "drawing": drawing_html(calculator, values),
        "result": result_html(report, units=values["units"]),
    }


def block(
    calculator: Calculator,
    texts: Mapping[str, str],
    values: Mapping[str, Any],
    report: Report,
    *,
    heading: bool = False,
) -> str:
    """Return a calculator ready to stand in a page, complete without JavaScript."""
    parts = fragments(calculator, values, report)
    slug = _e(calculator.slug)
    title = f"<h2>{_e(calculator.title)}</h2>" if heading else ""
    slow = " data-slow" if calculator.slow else ""
    actions = (
        ("copy-link", "Copy link"),
        ("download-json", "JSON"),
        ("download-csv", "CSV"),
        ("download-svg", "Drawing"),
        ("print", "Print"),
    )
    buttons = "".join(
        f'<button type="button" class="fs-button" data-action="{name}">{label}</button>'
        for name, label in actions
    )
    return (
        f'<div class="fs-calc" data-search-exclude data-slug="{slug}" '
        f'data-version="{calculator.version}"{slow}>{title}'
        f'<p class="fs-question">{_e(calculator.question)}</p>'
        '<div class="fs-side">'
        f'<div class="fs-drawing" data-fragment="drawing">{parts["drawing"]}</div>'
        f"{form_html(calculator, texts, {})}</div>"
        '<div class="fs-main">'
        '<div class="fs-bar"><p class="fs-status" role="status" aria-live="polite"></p>'
        '<span class="fs-live" hidden>live</span>'
        '<progress class="fs-progress" hidden max="100" value="0" aria-label="Progress"></progress>'
        '<button type="button" class="fs-button" data-action="retry" hidden>Try again</button>'
        '<button type="button" class="fs-button" data-action="stop" hidden>Stop</button></div>'
        f'<div class="fs-result" data-fragment="result">{parts["result"]}</div>'
        f'<p class="fs-actions">{buttons}</p><div class="fs-keep"></div>'
        '<noscript><p class="fs-noscript">Without JavaScript this page shows the example above: '
        "its numbers are real, but the form cannot answer.</p></noscript>"
        "</div></div>"
    )
