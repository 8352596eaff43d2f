"""A drawing on the device becomes the fin, with the network and without."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

import ezdxf
import pytest
from playwright.sync_api import BrowserContext, Page

from scripts.server import Server

from .conftest import PATIENCE, until, watched
from .test_offline import keep

Visit = Callable[..., Page]
SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="90mm" viewBox="0 0 120 90">'
    '<path d="m 10,80 76,0 -18,-64 -20,0 z"/></svg>'
)


@pytest.fixture
def drawings(tmp_path: Path) -> dict[str, str]:
    """Return paths of an SVG, a DXF with an arc, and a file that is no drawing."""
    document = ezdxf.new("R2010", units=ezdxf.units.IN)
    document.modelspace().add_lwpolyline(
        [(0, 0), (3, 0), (3, 1.5, 0.41421356), (2, 2.5), (1.5, 2.5)], format="xyb", close=True
    )
    stream = io.StringIO()
    document.write(stream)
    texts = {"fin.svg": SVG, "fin.dxf": stream.getvalue(), "notes.svg": "Buy glue."}
    for name, text in texts.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    return {name: str(tmp_path / name) for name in texts}


def value(page: Page, name: str) -> str:
    """Return what stands in a field."""
    return page.locator(f".fs-calc [name={name}]").first.input_value()


def open_drawing(page: Page, path: str) -> None:
    """Choose a file beside the outline field and wait for what is to be confirmed."""
    page.locator(".fs-calc .fs-file-line input[type=file]").first.set_input_files(path)
    page.locator("dialog.fs-file").wait_for(state="visible", timeout=PATIENCE * 1000)


def answered(page: Page) -> None:
    """Wait until the calculator has answered the new fin."""
    page.wait_for_timeout(500)
    until(page, "!document.querySelector('.fs-calc [aria-busy]')")


def take(page: Page) -> None:
    """Use the outline shown."""
    page.locator("dialog.fs-file button", has_text="Use this outline").click()
    page.locator("dialog.fs-file").wait_for(state="detached")
    answered(page)


def test_svg_and_dxf_become_the_fin_offline(
    context: BrowserContext, server: Server, pages: dict[str, str], drawings: dict[str, str]
) -> None:
    """Once kept, with the server stopped: a file, its scale, its root, and the answer to it."""
    page = watched(context.new_page())
    keep(page, server.address)
    address = server.address
    server.stop()
    context.set_offline(True)
    page.goto(address + pages["fin-check"])
    page.locator(".fs-calc input[type=text]").first.focus()
    until(page, "document.querySelector('.fs-calc')?.dataset.state === 'live'")
    open_drawing(page, drawings["fin.svg"])
    assert "one unit is 1 mm" in page.locator("dialog.fs-file").inner_text()
    take(page)
    assert value(page, "outline") == "corners"
    assert value(page, "points") == "0,0 38,64 58,64 76,0 mm"
    assert page.locator(".fs-calc [data-fragment=result] .fs-verdict").count() == 1
    assert "points=" in page.url
    open_drawing(page, drawings["fin.dxf"])
    take(page)
    assert value(page, "points") == "0,0 1.5,2.5 3,2.5 3,0 in"
    assert value(page, "radius") == "0 1 in"
    page.keyboard.press("Control+z")
    answered(page)
    assert value(page, "points") == "0,0 38,64 58,64 76,0 mm"


def test_scale_root_and_front_are_confirmed(visit: Visit, drawings: dict[str, str]) -> None:
    """What is chosen beside the picture changes it, and only "use" changes the form."""
    page = visit("fin-check", "?root=3.3in")
    open_drawing(page, drawings["fin.svg"])
    dialog = page.locator("dialog.fs-file")
    assert dialog.locator(".fs-draw-drawn svg").is_visible()
    dialog.locator("[name=unit]").select_option("root")
    length = dialog.locator("[name=length]")
    length.wait_for(state="visible")
    length.fill("-2")
    dialog.locator(".fs-error", has_text="Error").first.wait_for(state="visible")
    assert dialog.locator("button", has_text="Use this outline").is_disabled()
    length.fill("2")
    until(page, "!document.querySelector('dialog.fs-file .fs-primary').disabled")
    assert value(page, "root") == "3.3"
    assert value(page, "outline") == "straight"
    page.keyboard.press("Escape")
    dialog.wait_for(state="detached")
    assert value(page, "root") == "3.3"
    assert page.evaluate("document.activeElement.matches('.fs-from-file')")


def test_a_file_that_cannot_be_used_is_refused_beside_the_field(
    visit: Visit, drawings: dict[str, str]
) -> None:
    """One sentence, no dialog, and nothing typed is lost."""
    page = visit("fin-check", "?root=3.3in")
    page.locator(".fs-file-line input[type=file]").first.set_input_files(drawings["notes.svg"])
    said = page.locator(".fs-file-said").first
    until(page, "document.querySelector('.fs-file-said').textContent.startsWith('Error')")
    assert "drawing" in said.inner_text()
    assert page.locator("dialog").count() == 0
    assert value(page, "root") == "3.3"


def test_nothing_leaves_the_device(visit: Visit, drawings: dict[str, str]) -> None:
    """Reading a drawing asks only this site, and only for its own parts."""
    page = visit("fin-check")
    page.asked.clear()  # type: ignore[attr-defined]
    open_drawing(page, drawings["fin.dxf"])
    take(page)
    home = page.url.split("/", 3)[2]
    asked = page.asked  # type: ignore[attr-defined]
    assert all(url.startswith((f"http://{home}/", "blob:", "data:")) for url in asked)
