"""One rocket through all pages: kept, shared, undone, and never overwritten unasked."""

import json
import re
import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page

from scripts.server import Server

from .conftest import until
from .sweep import PHONE, Sweep

FIN, LANDING, WHOLE, SHELF = "check/fin-check/", "make/landing/", "rocket/whole/", "rocket/"
JOINT = "make/root-joint/"
REPAIR = "fly/repair/"
SETTLED = (
    "document.querySelector('.fs-calc')?.dataset.state === 'live' && "
    "!document.querySelector('.fs-calc :is([aria-busy], .fs-stale)')"
)


@pytest.fixture
def reader(sweep: Callable[..., Sweep]) -> BrowserContext:
    """Return a profile in which Python starts by itself."""
    return sweep(quiet=False).context


def opened(reader: BrowserContext, address: str) -> Page:
    """Return a page whose form has been filled."""
    page = reader.new_page()
    page.goto(address)
    until(page, "document.querySelector('.fs-rocket a')")
    return page


def typed(page: Page, name: str, text: str) -> None:
    """Type into a field and wait until the rocket has it, or would have it by now."""
    box = page.locator(f".fs-calc [name={name}]")
    key = box.evaluate("(box) => box.closest('.fs-field')?.dataset.key ?? box.name")
    box.fill(text)
    page.wait_for_timeout(450)
    there = re.compile(re.escape(f'\\"{key}\\":\\"{text}') + r"(?![\d.])")
    for _ in range(50):
        kept_texts = "JSON.stringify([{...localStorage}, sessionStorage['finstock:visit'] ?? ''])"
        if there.search(page.evaluate(kept_texts)):
            return
        page.wait_for_timeout(100)


def value(page: Page, name: str) -> str:
    """Return what stands in a field."""
    return page.locator(f".fs-calc [name={name}]").input_value()


def kept(page: Page) -> list[dict]:
    """Return the rockets kept on the device, by name."""
    found = page.evaluate(
        "Object.entries(localStorage).filter(([key]) => key.startsWith('finstock:rocket-'))"
    )
    return sorted((json.loads(text) for _, text in found), key=lambda each: each["name"])


def press(page: Page, words: str) -> None:
    """Press a button of the bar or the shelf."""
    page.get_by_role("button", name=words, exact=True).first.click()


def test_given_once_is_there_everywhere(server: Server, reader: BrowserContext) -> None:
    """A root chord typed on one page stands on the others; a landing mass stays the landing's."""
    page = opened(reader, server.address + FIN)
    assert "example" in page.locator(".fs-rocket").inner_text()
    typed(page, "root", "2.5")
    assert "1 value given" in page.locator(".fs-rocket").inner_text()
    page.goto(server.address + LANDING)
    until(page, "document.querySelector('.fs-rocket a')")
    assert value(page, "root") == "2.5"
    typed(page, "mass", "75")
    page.goto(server.address + WHOLE)
    until(page, "document.querySelector('.fs-rocket a')")
    assert (value(page, "root"), value(page, "landing_mass")) == ("2.5", "75")
    assert value(page, "mass") != "75"
    assert kept(page)[0]["inputs"] == {"root": "2.5in", "landing_mass": "75g"}


@pytest.mark.parametrize("before", ["", "75 mm"], ids=["the example", "a rocket"])
def test_typed_before_the_scripts_are_there(
    before: str, server: Server, reader: BrowserContext
) -> None:
    """What a quick hand typed on a slow line is the rocket's, in the unit it saw, and undone."""
    if before:
        typed(opened(reader, server.address + FIN), "root", before)
    arrived = threading.Event()
    server.intercept = lambda _, path: path.endswith("/app.js") and not arrived.wait(60)
    page = reader.new_page()
    page.goto(server.address + FIN)
    page.locator(".fs-calc [name=root]").fill("2.5")
    page.locator(".fs-calc [name=material]").select_option("basswood")
    arrived.set()
    until(page, SETTLED)
    assert "root=2.5in" in page.url
    assert kept(page)[0]["inputs"] == {"root": "2.5in", "material": "basswood"}
    page.locator(".fs-calc [data-action=undo]").click()
    until(page, SETTLED)
    wanted = before.split() or ["3", "in"]
    assert [value(page, "root"), page.locator("[name='root:unit']").input_value()] == wanted
    page.goto(server.address + WHOLE)
    until(page, "document.querySelector('.fs-rocket a')")
    assert value(page, "root") == wanted[0]


@pytest.mark.parametrize("by", ["a link", "an address"])
def test_typed_at_the_last_moment(by: str, server: Server, reader: BrowserContext) -> None:
    """What is typed is the rocket's even if the page is left at once."""
    page = opened(reader, server.address + FIN)
    until(page, SETTLED)
    until(page, "globalThis.document$")  # the theme, which changes pages without leaving them
    link = page.locator(".fs-rocket a").first
    address = str(link.evaluate("(link) => link.href"))
    page.locator(".fs-calc [name=root]").fill("2.5")
    if by == "a link":
        link.evaluate("(link) => link.click()")
    else:
        page.goto(address)
    page.wait_for_url(address)
    until(page, "document.querySelector('.fs-rocket')?.dataset.hand === 'mine'")
    assert kept(page)[0]["inputs"] == {"root": "2.5in"}


def test_bar_shows_picture_and_verdict(server: Server, reader: BrowserContext) -> None:
    """The bar gets the fin's outline and the verdict of the whole, and keeps them over pages."""
    page = opened(reader, server.address + FIN)
    typed(page, "root", "2.5")
    until(page, "document.querySelector('.fs-rocket .fs-chip')")
    assert page.locator(".fs-rocket polygon").count() == 1
    page.goto(server.address + LANDING)
    until(page, "document.querySelector('.fs-rocket .fs-chip')", seconds=1.5)


def test_joint_left_out_is_the_usual_one(server: Server, reader: BrowserContext) -> None:
    """A wider tube gets its usual joint on the joint's page; a fillet given there goes along."""
    page = opened(reader, server.address + FIN)
    typed(page, "body", "2.6")
    page.goto(server.address + JOINT)
    until(page, "document.querySelector('.fs-rocket a')")
    assert value(page, "joint") == "usual"
    page.goto(server.address + JOINT + "?fillet=1/8in")
    until(page, "document.querySelector('.fs-rocket[data-hand=visit]')")
    assert (value(page, "joint"), value(page, "body")) == ("fillet", "1.6")
    page.goto(server.address + FIN)
    until(page, "document.querySelector('.fs-rocket[data-hand=visit]')")
    assert (value(page, "joint"), value(page, "fillet")) == ("fillet", "1/8")


def test_a_link_never_overwrites_ones_own(server: Server, reader: BrowserContext) -> None:
    """A link shows its rocket; one's own stays until asked, and comes back with a button."""
    page = opened(reader, server.address + FIN)
    typed(page, "root", "2.5")
    page.goto(server.address + FIN + "?root=4in&material=basswood")
    until(page, "document.querySelector('.fs-rocket[data-hand=visit]')")
    assert (value(page, "root"), value(page, "material")) == ("4", "basswood")
    typed(page, "tip", "1")
    assert kept(page)[0]["inputs"] == {"root": "2.5in"}
    page.goto(server.address + LANDING)
    until(page, "document.querySelector('.fs-rocket[data-hand=visit]')")
    assert (value(page, "root"), value(page, "tip")) == ("4", "1")
    press(page, "Back to mine")
    assert value(page, "root") == "2.5"
    press(page, "Undo back to your rocket")
    assert value(page, "root") == "4"
    press(page, "Take as mine: put its values into My rocket")
    assert kept(page)[0]["inputs"] == {"root": "4in", "material": "basswood", "tip": "1in"}
    press(page, "Undo taking the link's values")
    assert kept(page)[0]["inputs"] == {"root": "2.5in"}


def test_a_link_with_one_value_is_the_example(server: Server, reader: BrowserContext) -> None:
    """A link that gives one value shows the example with one change; more make it a rocket."""
    page = opened(reader, server.address + REPAIR + "?damage=break&units=metric")
    until(page, "document.querySelector('.fs-rocket[data-hand=visit]')")
    words = page.locator(".fs-rocket-words").inner_text()
    assert "The handbook’s example with one change from a link" in words
    page.goto(server.address + REPAIR + "?damage=break&root=4in")
    until(page, "document.querySelector('.fs-rocket-words').innerText.includes('A linked rocket')")


def test_bar_of_a_damaged_rocket_says_undamaged(server: Server, reader: BrowserContext) -> None:
    """Beside the verdict of a repair the bar says that its own is of the undamaged rocket."""
    page = opened(reader, server.address + REPAIR + "?damage=break")
    until(page, "document.querySelector('.fs-rocket .fs-chip')")
    assert page.locator(".fs-rocket-verdict").inner_text().startswith("Undamaged:")
    page.goto(server.address + FIN)
    until(page, "document.querySelector('.fs-rocket .fs-chip')")
    assert "Undamaged" not in page.locator(".fs-rocket").inner_text()


def test_ones_own_address_is_no_strangers(server: Server, reader: BrowserContext) -> None:
    """Going back to a page whose address is older than the rocket shows the rocket of today."""
    page = opened(reader, server.address + FIN)
    typed(page, "root", "2.5")
    assert "root=2.5in" in page.url
    page.goto(server.address + LANDING)
    until(page, "document.querySelector('.fs-rocket a')")
    typed(page, "root", "2.25")
    page.go_back()
    until(page, "document.querySelector('.fs-rocket a')")
    until(page, "document.querySelector('[name=root]').value === '2.25'")
    assert page.locator(".fs-rocket").get_attribute("data-hand") == "mine"
    assert "root=2.25in" in page.url


def test_undo_and_redo(server: Server, reader: BrowserContext) -> None:
    """Changes are taken back one by one, over pages and reloads, and done again."""
    page = opened(reader, server.address + FIN)
    typed(page, "root", "2.5")
    typed(page, "tip", "1")
    page.reload()
    until(page, "document.querySelector('.fs-rocket a')")
    press(page, "Undo Tip chord")
    assert (value(page, "root"), value(page, "tip")) == ("2.5", "1.5")
    press(page, "Undo Root chord")
    assert page.locator(".fs-rocket").get_attribute("data-hand") == "example"
    press(page, "Redo Root chord")
    assert value(page, "root") == "2.5"


def test_start_over_loses_nothing(server: Server, reader: BrowserContext) -> None:
    """Start over shows the example; the rocket stays on the shelf and comes back with Undo."""
    page = opened(reader, server.address + FIN)
    typed(page, "root", "2.5")
    press(page, "Start over")
    assert value(page, "root") == "3"
    assert page.locator(".fs-rocket").get_attribute("data-hand") == "example"
    assert kept(page)[0]["inputs"] == {"root": "2.5in"}
    press(page, "Undo back to the example")
    assert value(page, "root") == "2.5"


def test_two_tabs_both_count(server: Server, reader: BrowserContext) -> None:
    """What one tab gives stands in the other, which does not overwrite it."""
    one = opened(reader, server.address + FIN)
    typed(one, "root", "2.5")
    two = opened(reader, server.address + FIN)
    typed(two, "tip", "1")
    until(one, "document.querySelector('[name=tip]').value === '1'")
    typed(one, "span", "2")
    until(two, "document.querySelector('[name=span]').value === '2'")
    assert kept(two)[0]["inputs"] == {"root": "2.5in", "tip": "1in", "span": "2in"}
    press(two, "Undo Tip chord")
    assert kept(two)[0]["inputs"] == {"root": "2.5in", "span": "2in"}


def test_damaged_storage_keeps_what_is_readable(server: Server, reader: BrowserContext) -> None:
    """A shelf that lost its order, and a rocket that was cut off, keep all that can be read."""
    page = opened(reader, server.address + FIN)
    typed(page, "root", "2.5")
    typed(page, "tip", "1")
    page.evaluate(
        """() => {
          const key = Object.keys(localStorage).find((each) => each.startsWith('finstock:rocket-'));
          localStorage.setItem(key, localStorage.getItem(key).slice(0, -6));
          const owl = JSON.stringify({name: 'Owl', inputs: {root: '5in'}});
          localStorage.setItem('finstock:rocket-other', owl);
          localStorage.setItem('finstock:shelf', '{"order": [');
        }"""
    )
    page.goto(server.address + SHELF)
    until(page, "document.querySelectorAll('.fs-shelf-row').length === 2")
    names = page.locator(".fs-shelf-name").evaluate_all("boxes => boxes.map((b) => b.value)")
    assert sorted(names) == ["My rocket", "Owl"]
    press(page, "Take My rocket")
    page.goto(server.address + FIN)
    until(page, "document.querySelector('[name=root]').value === '2.5'")


def test_full_storage_is_said_and_loses_nothing(server: Server, reader: BrowserContext) -> None:
    """With no room left the page goes on, says so, and what was kept before stays."""
    page = opened(reader, server.address + FIN)
    typed(page, "root", "2.5")
    page.evaluate(
        """() => {
          let size = 4e6;
          for (let n = 0; size > 1; n += 1) {
            try { localStorage.setItem(`mine${n}`, 'x'.repeat(size)); } catch { size = size >> 1; }
          }
        }"""
    )
    typed(page, "tip", "1.0625")
    assert "no room left" in page.locator(".fs-rocket").inner_text()
    assert value(page, "tip") == "1.0625"
    assert kept(page)[0]["inputs"] == {"root": "2.5in"}
    page.evaluate(
        "Object.keys(localStorage).filter((k) => k.startsWith('mine'))"
        ".forEach((k) => localStorage.removeItem(k))"
    )
    typed(page, "span", "2")
    assert kept(page)[0]["inputs"] == {"root": "2.5in", "tip": "1.0625in", "span": "2in"}
    assert "no room left" not in page.locator(".fs-rocket").inner_text()


def test_what_pages_kept_before_is_taken_over(server: Server, reader: BrowserContext) -> None:
    """A form that an earlier edition remembered becomes part of the rocket."""
    page = opened(reader, server.address + SHELF)
    page.evaluate(
        """localStorage.setItem('finstock:landing', '{"mass": "90 g", "root": "2 in"}')"""
    )
    page.goto(server.address + LANDING)
    until(page, "document.querySelector('[name=root]').value === '2'")
    assert kept(page)[0]["inputs"] == {"landing_mass": "90 g", "root": "2 in"}
    assert page.evaluate("localStorage.getItem('finstock:landing')") is None


def test_tested_sheet_goes_into_the_rocket(server: Server, reader: BrowserContext) -> None:
    """A sheet that was just tested becomes the material of the rocket on every page."""
    page = opened(reader, server.address + "make/test-your-sheet/")
    typed(page, "sheet_mass", "23.2 g")
    until(page, SETTLED)
    press(page, "Cut my rocket's fins from it")
    page.goto(server.address + FIN)
    until(page, "document.querySelector('[name=material]').value === 'own'")
    assert value(page, "own_density") != "160"


def test_shelf(server: Server, reader: BrowserContext, tmp_path: Path) -> None:
    """Rockets are renamed, copied, ordered, deleted and brought back, saved and opened."""
    page = opened(reader, server.address + FIN)
    typed(page, "root", "2.5")
    page.goto(server.address + SHELF)
    until(page, "document.querySelector('.fs-shelf-row')")
    page.get_by_label("Name of My rocket").fill("Wren 🚀")
    page.keyboard.press("Tab")
    press(page, "Duplicate Wren 🚀")
    names = "[...document.querySelectorAll('.fs-shelf-name')].map((each) => each.value).join()"
    assert page.evaluate(names) == "Wren 🚀,Wren 🚀 2"
    press(page, "Move up Wren 🚀 2")
    assert page.evaluate(names) == "Wren 🚀 2,Wren 🚀"
    press(page, "Delete Wren 🚀 2")
    assert page.evaluate(names) == "Wren 🚀"
    press(page, "Undo the deletion")
    assert page.evaluate(names) == "Wren 🚀 2,Wren 🚀"
    with page.expect_download() as made:
        press(page, "Save all to a file")
    path = tmp_path / "rockets.json"
    made.value.save_as(path)
    found = json.loads(path.read_text(encoding="utf-8"))
    assert [each["name"] for each in found["rockets"]] == ["Wren 🚀 2", "Wren 🚀"]
    press(page, "Delete Wren 🚀")
    page.locator(".fs-shelf input[type=file]").set_input_files(path)
    until(page, f"{names} === 'Wren 🚀 2,Wren 🚀 2 2,Wren 🚀'")
    path.write_text(path.read_text(encoding="utf-8")[:-30], encoding="utf-8")
    page.locator(".fs-shelf input[type=file]").set_input_files(path)
    until(page, "document.querySelector('.fs-shelf').innerText.includes('cannot be used')")


def test_two_of_the_shelf_compared(server: Server, reader: BrowserContext) -> None:
    """Two rockets chosen on the shelf stand side by side, and one of them can be taken."""
    page = opened(reader, server.address + SHELF)
    page.evaluate(
        """() => {
          localStorage.setItem('finstock:rocket-a', '{"name": "Wren", "inputs": {"root": "2 in"}}');
          localStorage.setItem('finstock:rocket-b', '{"name": "Owl", "inputs": {"root": "4 in"}}');
        }"""
    )
    page.reload()
    until(page, "document.querySelectorAll('.fs-shelf-row').length === 2")
    page.get_by_label("Choose Wren").check()
    page.get_by_label("Choose Owl").check()
    press(page, "Compare these 2")
    page.wait_for_url(re.compile("compare"))
    until(page, SETTLED)
    text = page.locator(".fs-result").inner_text()
    assert "A: Wren" in text
    assert "B: Owl" in text
    assert page.locator(".fs-draw-outlines path").count() >= 2
    page.locator(".fs-result a", has_text="Owl").click()
    until(page, "document.querySelector('.fs-rocket[data-hand=visit]')")
    assert value(page, "root") == "4"


def test_a_page_to_play_with_keeps_nothing(server: Server, reader: BrowserContext) -> None:
    """What is tried in a lesson's box does not change the rocket."""
    page = reader.new_page()
    page.goto(server.address + "teach/")
    until(page, "document.querySelector('.fs-play .fs-calc')?.dataset.state")
    page.locator(".fs-play [name=grain]").first.fill("30")
    page.wait_for_timeout(500)
    assert kept(page) == []


def test_verdict_leaves_the_field_being_typed(server: Server, sweep: Callable[..., Sweep]) -> None:
    """On a phone the standing verdict never covers the field that has the focus."""
    page = sweep(viewport=PHONE).context.new_page()
    page.goto(server.address + FIN)
    until(page, "document.querySelector('.fs-calc')?.dataset.state")
    for name in ("root", "tip", "span", "sweep", "count", "body", "thickness"):
        page.locator(f".fs-calc [name={name}]").focus()
        page.wait_for_timeout(120)
        covered = page.evaluate(
            """() => {
              const box = document.activeElement.getBoundingClientRect();
              const verdict = document.querySelector('.fs-verdict').getBoundingClientRect();
              return box.bottom > verdict.top && box.top < verdict.bottom;
            }"""
        )
        assert not covered, name


def test_whole_rocket_prints_on_two_pages(server: Server, reader: BrowserContext) -> None:
    """The print of the whole rocket is two pages at most, with a caption to file it by."""
    page = opened(reader, server.address + WHOLE)
    typed(page, "rocket", "Wren")
    until(page, SETTLED)
    for paper in ("A4", "Letter"):
        pages = len(re.findall(rb"/Type\s*/Page[^s]", page.pdf(format=paper)))
        assert 1 <= pages <= 2, f"{paper}: {pages} pages"
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    caption = page.locator(".fs-caption").text_content() or ""
    assert re.match(r"Wren · \d{4}-\d\d-\d\d · ", caption)


def test_a_page_opened_again_shows_its_answer_at_once(
    server: Server, reader: BrowserContext
) -> None:
    """With a rocket in hand a page shows the answer that it gave before Python is there again."""
    page = opened(reader, server.address + FIN)
    typed(page, "root", "2.5")
    until(page, SETTLED)
    verdict = page.locator(".fs-verdict-word").inner_text()
    page.goto(server.address + SHELF)
    page.goto(server.address + FIN, wait_until="commit")
    until(page, "document.querySelector('.fs-rocket a')")
    assert page.locator(".fs-calc").get_attribute("data-state") != "live"
    assert page.locator(".fs-verdict-word").inner_text() == verdict
    assert page.locator(".fs-calc .fs-stale").count() == 0
