"""Python-Markdown extension: computed numbers, tables, pictures and calculators in pages.

In a sentence, ``{{ expression | style }}`` becomes the number that `scripts.handbook.names`
computes. Alone on a line, an expression may also give a table or a picture. A fence

    ```calculator fin-check
    thickness = 1/8 in
    ```

becomes the calculator with those inputs filled in and already answered. A drawing alone on a
line, ``![what it shows](../assets/img/sheet.svg "caption")``, is put into the page itself, so that
it takes the page's colours by day and night. ``$…$`` and ``$$…$$`` become MathML, which browsers
draw without a script. Whatever cannot be computed raises, so that the build fails and names file
and line: a silent gap would be a wrong number in print. The extension knows nothing of any one
site generator.
"""

from __future__ import annotations

import re
from html import escape
from pathlib import Path
from typing import Any

from latex2mathml.converter import convert as mathml
from markdown import Markdown
from markdown.extensions import Extension
from markdown.preprocessors import Preprocessor

from calc import calculators
from calc.errors import InputError
from calc.render import html
from calc.report import Figure, Table
from calc.units import parse, show
from calc.wording import TRADE
from scripts.handbook import glossary, names
from scripts.handbook.outlines import Silhouettes

FENCE = re.compile(r"^(?P<mark>`{3,}|~{3,})\s*(?P<info>[^`]*)$")
FORMULA = re.compile(r"(?P<code>(?P<ticks>`+).+?(?P=ticks))|\$(?=\S)(?P<tex>[^$]+?)(?<=\S)\$(?!\d)")
EXPRESSION = re.compile(r"(?P<code>(?P<ticks>`+).+?(?P=ticks))|\{\{\s*(?P<body>.+?)\s*\}\}")
DRAWING = re.compile(
    r"\s*!\[(?P<words>[^\]]*)\]\((?:\.\./)*(?P<file>assets/img/[^\s)]+\.svg)"
    r'(?: "(?P<caption>[^"]*)")?\)\s*'
)
MOST_WORDS = 7
"""Most words that stay on one line with their number, such as "at least 676 mph"."""
DOCS = Path(__file__).resolve().parents[2] / "docs"
SIZE = re.compile(
    r"(?P<code>(?P<ticks>`+).+?(?P=ticks)|\]\([^)]*\))"
    r"|(?<![\d/])(?P<size>(?:\d+ )?\d+/(?:2|4|8|16|32|64) in)\b(?! \()"
)


class PageError(Exception):
    """A page asks for something that cannot be computed."""


class Computed(Preprocessor):
    """Replaces expressions and calculator fences before any other Markdown is read."""

    def __init__(self, md: Markdown) -> None:
        super().__init__(md)
        self.figures = 0
        self.sizes: set[str] = set()

    def run(self, lines: list[str]) -> list[str]:
        """Return the page's lines with everything computed put in place."""
        self.figures = 0
        self.sizes = set()
        out: list[str] = []
        index = 0
        while index < len(lines):
            line = lines[index]
            fence = FENCE.match(line)
            if fence is None:
                out.append(self._sizes(self._line(line)))
                index += 1
                continue
            end = index + 1
            while end < len(lines) and not lines[end].strip().startswith(fence["mark"]):
                end += 1
            info = fence["info"].split()
            if info[:1] == ["calculator"]:
                out += ["", self._calculator(info[1:], lines[index + 1 : end], line), ""]
            else:
                out += lines[index : end + 1]
            index = end + 1
        return out

    def _line(self, line: str) -> str:
        display = re.fullmatch(r"\s*\$\$(.+)\$\$\s*", line)
        if display:
            return "\n" + self._formula(display[1], line, display="block") + "\n"
        line = FORMULA.sub(
            lambda m: m["code"] or self._formula(m["tex"], line, display="inline"), line
        )
        drawing = DRAWING.fullmatch(line)
        if drawing:
            return "\n" + _indent(line) + self._drawing(drawing, line) + "\n"
        whole = re.fullmatch(r"\s*\{\{\s*(.+?)\s*\}\}\s*", line)
        if whole and "}}" not in whole[1]:
            found, style = self._evaluate(whole[1], line)
            if isinstance(found, Table | Figure | Silhouettes):
                return "\n" + _indent(line) + self._block(found) + "\n"
            if isinstance(found, tuple) and all(isinstance(part, Table) for part in found):
                return "".join("\n" + _indent(line) + self._block(part) + "\n" for part in found)
            return self._shown(found, style, line)

        def put(match: re.Match[str]) -> str:
            if match["code"]:
                return match["code"]
            found, style = self._evaluate(match["body"], line)
            return self._shown(found, style, line)

        return EXPRESSION.sub(put, line)

    def _sizes(self, line: str) -> str:
        """Put millimetres behind each trade size where a page's sentences first name it."""
        if line.lstrip().startswith(("#", "|", "<", ">")):
            return line

        def put(match: re.Match[str]) -> str:
            size = match["size"]
            if size is None or size in self.sizes:
                return match[0]
            self.sizes.add(size)
            return f"{size} ({show(parse(size, 'length'), 'length', 'mm', digits=2)})"

        return SIZE.sub(put, line)

    def _formula(self, tex: str, line: str, *, display: str) -> str:
        try:
            found = mathml(tex.strip(), display=display)
        except Exception as problem:
            raise self._fault(f"formula {tex!r}: {problem}", line) from problem
        if display == "block":
            # Wider than a phone, it scrolls in a box of its own, which the Tab key reaches.
            box = '<div class="fs-math" tabindex="0" role="group" aria-label="Formula">'
            found = f"{box}{found}</div>"
        return self.md.htmlStash.store(found)

    def _evaluate(self, body: str, line: str) -> tuple[Any, str]:
        expression, _, style = body.partition("|")
        try:
            found = eval(expression, {"__builtins__": {}}, names.NAMES)
        except Exception as problem:
            raise self._fault(f"{{{{ {body} }}}}: {problem}", line) from problem
        return found, style.strip()

    def _shown(self, found: Any, style: str, line: str) -> str:
        try:
            text = escape(names.shown(found, style))
        except Exception as problem:
            raise self._fault(f"{problem}", line) from problem
        source = getattr(found, "source", "")
        if not any(sign.isdigit() for sign in text) or len(text.split()) > MOST_WORDS:
            return self.md.htmlStash.store(text)  # words and sentences wrap as words do
        title = f' title="{escape(source)}"' if source else ""
        return self.md.htmlStash.store(f'<span class="fs-num"{title}>{text}</span>')

    def _block(self, found: Table | Figure | Silhouettes) -> str:
        self.figures += 1
        if isinstance(found, Table):
            rendered = html.table_html(found, TRADE)
        elif isinstance(found, Silhouettes):
            rendered = found.html(f"page-figure-{self.figures}")
        else:
            rendered = html.figure_html(found, TRADE, f"page-figure-{self.figures}")
        return self.md.htmlStash.store(rendered)

    def _drawing(self, found: re.Match[str], line: str) -> str:
        path, words = DOCS / found["file"], found["words"].strip()
        if not words or not path.is_file():
            raise self._fault(f"{found['file']}: no such drawing, or no words for it", line)
        self.figures += 1
        name = f"page-figure-{self.figures}"
        # the first sentence says what it is; the rest, or the caption, what there is to see
        title, _, rest = words.partition(". ")
        svg = path.read_text(encoding="utf-8")
        svg = svg[svg.index("<svg") :]
        svg = svg.replace(
            ">",
            f'><title id="{name}-title">{escape(title.rstrip("."))}</title>'
            f'<desc id="{name}-desc">{escape(rest or found["caption"] or words)}</desc>',
            1,
        ).replace(
            "<svg",
            f'<svg class="fs-svg" role="img" aria-labelledby="{name}-title {name}-desc"',
            1,
        )
        caption = f"<figcaption>{escape(found['caption'])}</figcaption>" if found["caption"] else ""
        return self.md.htmlStash.store(f'<figure class="fs-figure">{svg}{caption}</figure>')

    def _calculator(self, words: list[str], body: list[str], line: str) -> str:
        texts: dict[str, str] = {}
        for row in body:
            if row.strip():
                name, equals, text = row.partition("=")
                if not equals:
                    raise self._fault(f"calculator input {row!r} is not name = value", row)
                texts[name.strip()] = text.strip()
        if len(words) != 1:
            raise self._fault("a calculator fence names one calculator", line)
        try:
            outcome = calculators.ask(words[0], texts)
        except InputError as problem:
            raise self._fault(str(problem), line) from problem
        if outcome.report is None:
            problems = outcome.errors.values()
            raise self._fault("; ".join(str(problem) for problem in problems), line)
        return self.md.htmlStash.store(
            html.block(outcome.calculator, outcome.texts, outcome.values, outcome.report)
        )

    def _fault(self, message: str, line: str) -> PageError:
        where = "page"
        # MkDocs leaves the page's file with its link processor; other hosts leave nothing
        relative = next((t for t in self.md.treeprocessors if hasattr(t, "file")), None)
        file = getattr(relative, "file", None)
        if file is not None:
            where = str(file.src_uri)
            for number, text in enumerate(
                Path(file.abs_src_path).read_text(encoding="utf-8").splitlines(), 1
            ):
                if text.strip() == line.strip():
                    where += f", line {number}"
                    break
        return PageError(f"{where}: {message}")


def _indent(line: str) -> str:
    """Return the space before a line's words: a block inside a folded part stays inside."""
    return line[: len(line) - len(line.lstrip())]


class Handbook(Extension):
    """Registers the computed-text step ahead of fences and HTML blocks."""

    def extendMarkdown(self, md: Markdown) -> None:
        """Add the preprocessor before fences are read, and links to the glossary at the end."""
        md.preprocessors.register(Computed(md), "finstock", 28)
        glossary.register(md)


def makeExtension(**options: Any) -> Handbook:
    """Return the extension, as Python-Markdown looks for it."""
    return Handbook(**options)
