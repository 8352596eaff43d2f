"""A report as plain text, for the terminal."""

from __future__ import annotations

from calc.render.html import cell
from calc.report import NOT_PROMISED, Report
from calc.wording import column_like, range_text, with_unit


def text(report: Report, *, units: str) -> str:
    """Return the answer, its margins, what would change it and the cautions as plain text."""
    lines: list[str] = [report.summary, ""]
    if report.verdict is not None:
        said = (report.verdict.sentence, report.verdict.covers)
        lines += [" ".join(filter(None, said)), ""]
    for answer in report.answers:
        shown = with_unit(answer.value, answer.kind, units, digits=answer.digits)
        bound = f"{answer.bound} " if answer.bound else ""
        spread = "" if bound else range_text(answer.low, answer.high, answer.kind, units)
        lines.append(f"  {answer.label:44} {bound}{shown}{spread}")
    if report.modes:
        lines += ["", "Margins (1 is just what is required):"]
        for mode in report.modes:
            bound = f"{mode.bound} " if mode.bound else ""
            spread = "" if bound else range_text(mode.low_margin, mode.high_margin, "number", units)
            doubt = "" if mode.known else f", {NOT_PROMISED}"
            lines.append(f"  {mode.label:44} {bound}{mode.margin:.2f}{spread}{doubt}")
    for table in report.tables:
        lines += ["", table.title]
        lines.append("  " + " | ".join(column.label for column in table.columns))
        likes = [
            column_like((row[place] for row in table.rows), column.kind)
            for place, column in enumerate(table.columns)
        ]
        for row in table.rows:
            cells = [
                cell(value, column.kind, units, column.digits, like)
                for column, value, like in zip(table.columns, row, likes, strict=True)
            ]
            lines.append("  " + " | ".join(cells))
    if report.changes:
        lines += ["", "What would change it:"]
        ordered = sorted(report.changes, key=lambda change: change.worse)
        lines += [
            f"  {change.label}: {'worse, ' if change.worse else ''}{change.effect}"
            for change in ordered
        ]
    for note in (*report.notes, *report.cautions):
        lines += ["", note]
    return "\n".join(lines)
