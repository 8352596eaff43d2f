"""The look: readable contrast in both palettes, small self-hosted type, nothing from elsewhere."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

DOCS = Path(__file__).parents[2] / "docs"
STYLE = DOCS / "assets" / "style"
INKS = ("ink", "ink-soft", "link", "link-hover", "accent", "holds", "marginal", "fails", "unknown")
GROUNDS = ("sheet", "raised", "desk")
ON_THEIR_OWN_GROUND = (
    ("holds", "holds-soft"),
    ("marginal", "marginal-soft"),
    ("fails", "fails-soft"),
    ("unknown", "unknown-soft"),
    ("ink-soft", "holds-soft"),
    ("ink-soft", "marginal-soft"),
    ("ink-soft", "fails-soft"),
    ("ink-soft", "unknown-soft"),
    ("on-accent", "accent"),
    ("link", "accent-soft"),
    ("ink", "wood"),
    ("ink", "ply"),
    ("ink", "laminate"),
    ("ink", "foam"),
    ("ink", "card"),
    ("ink", "plastic"),
    ("ink-soft", "tube"),
)
LINES = (
    ("rule-strong", "raised"),
    ("rule-strong", "sheet"),
    ("rule-strong", "desk"),
    ("focus", "sheet"),
    ("focus", "raised"),
    ("wood-line", "wood"),
    ("wood-line", "raised"),
    ("data-1", "raised"),
    ("data-2", "raised"),
    ("data-3", "raised"),
    ("data-4", "raised"),
)


def colours(scheme: str) -> dict[str, str]:
    """Return the colours of a palette by name."""
    css = (STYLE / "palette.css").read_text(encoding="utf-8")
    block = re.search(rf'\[data-md-color-scheme="{scheme}"\] \{{(.*?)\n\}}', css, re.S)
    assert block is not None
    return dict(re.findall(r"--fs-([\w-]+): (#[0-9a-f]{6});", block[1]))


def luminance(colour: str) -> float:
    """Return relative luminance as WCAG 2.2 defines it."""
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(first: str, second: str) -> float:
    """Return the contrast ratio of two colours, from 1 to 21."""
    low, high = sorted((luminance(first), luminance(second)))
    return (high + 0.05) / (low + 0.05)


def test_contrast_formula_knows_its_ends() -> None:
    """Black on white is 21 to 1 (WCAG 2.2, definition of contrast ratio)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


@pytest.mark.parametrize("scheme", ["default", "slate"])
def test_lettering_meets_aa(scheme: str) -> None:
    """Every text colour stands at 4.5 to 1 or better on every ground it is used on."""
    palette = colours(scheme)
    pairs = [(ink, ground) for ink in INKS for ground in GROUNDS] + list(ON_THEIR_OWN_GROUND)
    poor = {p: contrast(palette[p[0]], palette[p[1]]) for p in pairs}
    assert {p: c for p, c in poor.items() if c < 4.5} == {}


@pytest.mark.parametrize("scheme", ["default", "slate"])
def test_lines_that_mean_something_meet_aa(scheme: str) -> None:
    """Borders of inputs, focus rings, grain and chart lines stand at 3 to 1 or better."""
    palette = colours(scheme)
    poor = {p: contrast(palette[p[0]], palette[p[1]]) for p in LINES}
    assert {p: c for p, c in poor.items() if c < 3.0} == {}


def test_palettes_name_the_same_colours() -> None:
    """What one palette names the other names too."""
    assert colours("default").keys() == colours("slate").keys()


def test_used_variables_exist() -> None:
    """No style sheet uses a value that no style sheet sets, unless it says what to use instead."""
    known = set(re.findall(r"(--[\w-]+):", "".join(p.read_text("utf-8") for p in STYLE.iterdir())))
    for sheet in STYLE.glob("*.css"):
        for name in re.findall(r"var\((--fs-[\w-]+)\)", sheet.read_text(encoding="utf-8")):
            assert name in known, f"{sheet.name}: {name}"


def test_everything_is_at_home() -> None:
    """Style sheets point only at files of this site, and those exist."""
    for sheet in STYLE.glob("*.css"):
        for target in re.findall(r"url\(\"?([^\")]+)\"?\)", sheet.read_text(encoding="utf-8")):
            assert not re.match(r"(https?:)?//|data:", target), target
            assert (sheet.parent / target).resolve().is_file(), target


def test_type_is_small_and_licensed() -> None:
    """All fonts together stay under 180 kB, each family with its licence beside it."""
    fonts = DOCS / "assets" / "fonts"
    assert sum(p.stat().st_size for p in fonts.glob("*.woff2")) < 180_000
    for family in ("besley", "source-sans-3"):
        licence = (fonts / f"{family}-LICENSE.txt").read_text(encoding="utf-8")
        assert "SIL Open Font License" in licence or "SIL OPEN FONT LICENSE" in licence
