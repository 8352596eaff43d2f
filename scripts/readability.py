"""Print how hard each page of the handbook is to read: ``python -m scripts.readability``.

The figure is the Coleman-Liau index, a United States school grade. It needs letters, words and
sentences only, so no guess at syllables is in it. It is there to be looked at: the page at the
top deserves a second reading aloud. Nothing fails on it, because short words can be wrong and
long ones right.

References
----------
M. Coleman and T. L. Liau, A computer readability formula designed for machine scoring, Journal of
Applied Psychology 60 (2), 1975, 283-284.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

DOCS = Path(__file__).resolve().parents[1] / "docs"
FEWEST = 100
"""Pages of fewer words than this are mostly a calculator, and their figure means little."""
HARD = 10.0
"""School grade from which a page is marked for a second reading (a good newspaper's level)."""


@dataclass(frozen=True)
class Reading:
    """What a text's readability is counted from."""

    letters: int
    words: int
    sentences: int
    longest: str
    """The sentence with the most words."""

    @property
    def grade(self) -> float:
        """Return the Coleman-Liau index, a school grade.

        Notes
        -----
        0.0588 L - 0.296 S - 15.8, with L letters and S sentences per hundred words.

        Examples
        --------
        >>> round(Reading(letters=639, words=119, sentences=5, longest="").grade, 1)
        14.5
        """
        per = 100.0 / self.words
        return 0.0588 * self.letters * per - 0.296 * self.sentences * per - 15.8

    @property
    def length(self) -> float:
        """Return the mean number of words in a sentence."""
        return self.words / self.sentences


def prose(text: str) -> list[str]:
    r"""Return a page's sentences as a reader meets them, without tables, code, links and markup.

    >>> prose("# A head\n\nTake **1/8 in** balsa, [see](x.md). It\nholds: {{ x }} of 2.5.")
    ['Take 1/8 in balsa, see.', 'It holds: 1 of 2.5.']
    """
    text = re.sub(r"\A---\n.*?\n---\n", "", text, flags=re.DOTALL)
    text = re.sub(r"^(`{3,}|~{3,}).*?^\1", "", text, flags=re.DOTALL | re.MULTILINE)
    text = re.sub(r"\{\{.*?\}\}", "1", text)
    text = re.sub(r"!\[[^\]]*\]\([^)]*\)", "", text)
    text = re.sub(r"\[([^\]]*)\]\([^)]*\)(?:\{[^}]*\})?", r"\1", text)
    text = re.sub(r"<[^>]+>|\$\$?[^$]+\$\$?|`[^`]*`|[*_]{1,3}", "", text)
    blocks: list[list[str]] = [[]]
    for raw in text.splitlines():
        line = raw.strip()
        if not line or line.startswith(("|", "#", "--8<--", "!!!", "???", "=")):
            blocks.append([])
            continue
        item = re.match(r"(?:[-+] |\d+\. |: +|> )", line)
        if item:
            blocks.append([line[item.end() :].strip()])
        else:
            blocks[-1].append(line)
    out: list[str] = []
    for block in blocks:
        for sentence in re.split(r"(?<=[.!?])[\")’”]*\s+(?=[\"(“A-Z0-9])", " ".join(block)):
            if len(re.findall(r"[A-Za-z]+", sentence)) >= 2:
                out.append(sentence.strip())
    return out


def reading(text: str) -> Reading:
    """Return the counts of a page's prose."""
    sentences = prose(text)
    words = [word for each in sentences for word in re.findall(r"[\w’'/.,-]*\w", each)]
    letters = sum(character.isalpha() for word in words for character in word)
    longest = max(sentences, key=lambda each: len(each.split()), default="")
    return Reading(letters, max(1, len(words)), max(1, len(sentences)), longest)


def pages() -> list[tuple[str, Reading]]:
    """Return every page long enough to judge, the hardest first."""
    found = []
    for path in sorted(DOCS.rglob("*.md")):
        if path.parent.name == "_includes":
            continue
        read = reading(path.read_text(encoding="utf-8"))
        if read.words >= FEWEST:
            found.append((path.relative_to(DOCS).as_posix(), read))
    return sorted(found, key=lambda each: -each[1].grade)


def main() -> None:
    """Print the table."""
    print(f"{'page':44}{'grade':>7}{'words':>7}{'a sentence':>12}  longest")
    for name, read in pages():
        mark = "*" if read.grade >= HARD else " "
        print(
            f"{name:44}{read.grade:6.1f}{mark}{read.words:7d}{read.length:12.1f}"
            f"{len(read.longest.split()):9d}"
        )
    print(f"* grade {HARD:g} or more: read it aloud once more (Coleman-Liau index, 1975).")


if __name__ == "__main__":
    main()
