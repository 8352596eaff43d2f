"""A report as plain text, for the terminal."""

from __future__ import annotations

from calc.render.html import cell
from calc.render.values import range_text, with_unit
from calc.report import Report


def text(report: Report, *, units: str) -> str:
    """Return the answer, its margins, what would change it and the cautions as plain text."""
    lines: list[str] = [report.summary, ""]
    for answer in report.answers:
        shown = with_unit(answer.value, answer.kind, units, digits=answer.digits)
        bound = f"{answer.bound} " if answer.bound else ""
        spread = "" if bound else range_text(answer.low, answer.high, answer.kind, units)
        lines.append(f"  {answer.label:44} {bound}{shown}{spread}")
    if report.modes:
        lines += ["", "Margins (capacity over demand):"]
        for mode in report.modes:
            bound = f"{mode.bound} " if mode.bound else ""
            spread = "" if bound else range_text(mode.low, mode.high, "number", units)
            lines.append(f"  {mode.label:44} {bound}{mode.margin:.2f}{spread}")
    for table in report.tables:
        lines += ["", table.title]
        lines.append("  " + " | ".join(column.label for column in table.columns))
        for row in table.rows:
            cells = [
                cell(value, column.kind, units, column.digits)
                for column, value in zip(table.columns, row, strict=True)
            ]
            lines.append("  " + " | ".join(cells))
    if report.changes:
        lines += ["", "What would change it:"]
        lines += [f"  {change.label}: {change.effect}" for change in report.changes]
    for note in (*report.notes, *report.cautions):
        lines += ["", note]
    return "\n".join(lines)
