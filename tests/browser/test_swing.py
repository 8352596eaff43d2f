"""The picture of a fin that flutters: it plays, the airspeed turns its damping, and it can rest."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import Browser, Page

from scripts.server import Server

from .conftest import until, watched

Visit = Callable[..., Page]
SWEPT = "?material=balsa&thickness=3/32in&sweep=4in&speed=250mph"
DIVERGES = "?material=basswood&thickness=3/32in&root=85mm&tip=26mm&span=112mm&sweep=25mm"

REACH = """() => {
  const figure = document.querySelector('.fs-calc [data-play]');
  const {points, columns} = JSON.parse(figure.dataset.play);
  const rim = figure.querySelector('.d-swing > :last-child').getAttribute('d');
  const drawn = [...rim.matchAll(/-?[\\d.]+/g)].map(([text]) => Number(text));
  const rows = points.length / columns;
  // the tip comes after the root and the trailing edge
  return Math.max(...points.slice(-columns).reverse().map(
    ([, y], place) => Math.abs(drawn[2 * (columns + rows - 2 + place) + 1] - y)));
}"""
"""How far the tip is from rest."""

WATCHED = """(seconds) => new Promise((done) => {
  const reach = (REACH);
  const begun = performance.now();
  const most = [];
  const next = () => {
    const time = (performance.now() - begun) / 1000;
    if (time > seconds) return done(most);
    const part = Math.floor(time);
    most[part] = Math.max(most[part] ?? 0, reach());
    requestAnimationFrame(next);
  };
  next();
})""".replace("REACH", REACH)
"""The farthest that the tip comes in each second."""


def shown(visit: Visit, query: str = SWEPT) -> Page:
    """Open the fin check with a fin, its picture and its controls in place."""
    page = visit("fin-check", query)
    page.wait_for_timeout(400)
    until(page, "!document.querySelector('.fs-calc [aria-busy]')")
    page.locator(".fs-swing-bar").scroll_into_view_if_needed()
    return page


def slide(page: Page, key: str) -> str:
    """Press a key on the airspeed's slider; return what is spoken then."""
    slider = page.locator(".fs-swing-bar input")
    slider.focus()
    page.keyboard.press(key)
    spoken = slider.get_attribute("aria-valuetext") or ""
    assert page.locator(".fs-swing-words").inner_text() == f"{spoken}."
    return spoken


def test_it_stands_still_until_asked(visit: Visit) -> None:
    """Nobody's picture moves by itself; the button plays it and stops it where it stood."""
    page = shown(visit)
    button = page.locator(".fs-swing-bar button")
    still = page.evaluate(REACH)
    assert still > 5.0
    assert set(page.evaluate(WATCHED, 1.0)) == {still}
    assert button.inner_text() == "Play"
    button.click()
    assert button.inner_text() == "Stop"
    assert button.get_attribute("aria-label") == "Stop the motion"
    low = min(page.evaluate(REACH) for _ in range(40) if page.wait_for_timeout(40) is None)
    assert low < 0.7 * still
    button.click()
    assert page.evaluate(REACH) == still


def test_damping_turns_with_the_airspeed(visit: Visit) -> None:
    """Below the flutter speed the swing dies away, above it grows, and the slider says so."""
    page = shown(visit)
    page.locator(".fs-swing-bar button").click()
    spoken = slide(page, "Home")
    assert "of the flutter speed" in spoken
    assert "dies away, halves in" in spoken
    below = page.evaluate(WATCHED, 4.0)
    assert below[3] < 0.6 * below[0]
    spoken = slide(page, "End")
    assert "grows, doubles in" in spoken
    above = page.evaluate(WATCHED, 4.0)
    assert above[3] > 1.6 * above[0]
    speeds = []
    for _ in range(3):
        speeds.append(slide(page, "ArrowLeft").split(" of the flutter")[0])
    assert speeds[-1] < "1"
    assert any("neither grows" in each or each.startswith("At ") for each in speeds)


def test_divergence_leans_over_without_a_beat(visit: Visit) -> None:
    """Above divergence the tip goes one way only."""
    page = shown(visit, DIVERGES)
    assert "leans over for good" in page.locator(".fs-draw-mode").inner_text()
    assert "without swinging" in slide(page, "End")
    page.locator(".fs-swing-bar button").click()
    reach = [page.evaluate(REACH) for _ in range(12) if page.wait_for_timeout(60) is None]
    rising = reach[: reach.index(max(reach)) + 1]
    assert rising == sorted(rising)


def test_reduced_motion_still_tells_it(
    server: Server, pages: dict[str, str], chromium: Browser
) -> None:
    """With less motion asked for nothing moves, and the course over time still shows the turn."""
    context = chromium.new_context(
        viewport={"width": 360, "height": 740}, reduced_motion="reduce", color_scheme="dark"
    )
    page = watched(context.new_page())
    page.goto(f"{server.address}{pages['fin-check']}{SWEPT}")
    until(page, "document.querySelector('.fs-calc')?.dataset.state === 'live'")
    until(page, "!document.querySelector('.fs-calc [aria-busy]')")
    page.locator(".fs-swing-bar").scroll_into_view_if_needed()
    assert page.locator(".fs-swing-bar button").inner_text() == "Play"
    course = """() => {
      const path = document.querySelector('.fs-draw-mode .d-trace path').getAttribute('d');
      const places = [...path.matchAll(/-?[\\d.]+/g)].map(([text]) => Number(text));
      const {trace} = JSON.parse(document.querySelector('[data-play]').dataset.play);
      const off = places.filter((_, i) => i % 2).map(
        (y) => Math.abs(y - trace.top - trace.height / 2));
      const third = Math.floor(off.length / 3);
      return [Math.max(...off.slice(0, third)), Math.max(...off.slice(-third))];
    }"""
    slide(page, "Home")
    early, late = page.evaluate(course)
    assert late < 0.5 * early
    slide(page, "End")
    early, late = page.evaluate(course)
    assert late > 2.0 * early
    still = page.evaluate(REACH)
    assert set(page.evaluate(WATCHED, 1.0)) == {still}
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    # who asks for it all the same gets it
    page.locator(".fs-swing-bar button").click()
    moving = page.evaluate(WATCHED, 3.0)
    assert len(set(moving)) > 1
    context.close()


def test_a_new_answer_keeps_what_was_chosen(visit: Visit) -> None:
    """Another fin's picture plays on at the speed that was chosen; printing shows it at rest."""
    page = shown(visit)
    page.locator(".fs-swing-bar button").click()
    slide(page, "End")
    page.locator(".fs-calc [name=root]").fill("3.25")
    page.wait_for_timeout(400)
    until(page, "!document.querySelector('.fs-calc :is([aria-busy], .fs-stale)')")
    assert page.locator(".fs-swing-bar").count() == 1
    assert page.locator(".fs-swing-bar button").inner_text() == "Stop"
    assert "grows" in page.locator(".fs-swing-words").inner_text()
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    page.emulate_media(media="print")
    assert page.locator(".fs-swing-bar").is_hidden()
    assert page.locator(".fs-draw-mode svg").is_visible()
    still = page.evaluate(REACH)
    assert set(page.evaluate(WATCHED, 1.0)) == {still}
    assert still > 5.0


def test_the_picture_is_whole_without_scripts(
    server: Server, pages: dict[str, str], chromium: Browser
) -> None:
    """Without JavaScript the still picture, its names and its course over time are there."""
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{server.address}{pages['fin-check']}")
    figure = page.locator(".fs-draw-mode")
    words = figure.inner_text()
    for name in ("leading edge", "trailing edge", "root", "air", "at rest"):
        assert name in words
    assert figure.locator(".d-trace path").count() == 1
    assert figure.locator("button, input").count() == 0
    context.close()
