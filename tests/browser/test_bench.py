"""The bench in the browser: files to cut from, sheets kept on the device, the tone of a tap."""

from __future__ import annotations

import json
import wave
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import Browser, BrowserContext, Page

from scripts import environment
from scripts.server import Server

from .conftest import FLAGS, PATIENCE, until, watched

FILES = {"svg": b"<svg", "pdf-a4": b"%PDF", "pdf-letter": b"%PDF", "dxf": b"  0\n"}


def test_files_are_made_on_the_device(visit: Callable[..., Page]) -> None:
    """Each file comes down under its name; the libraries are fetched once, only when needed."""
    page = visit("cutting-plan")
    asked = page.asked  # type: ignore[attr-defined]
    for make, start in FILES.items():
        before = sum("library.zip" in url for url in asked)
        assert (make == "svg") <= (before == 0)
        with page.expect_download(timeout=PATIENCE * 1000) as found:
            page.locator(f'[data-make="{make}"]').click()
        content = Path(found.value.path()).read_bytes().replace(b"\r\n", b"\n")
        assert content.startswith(start)
        assert found.value.suggested_filename.startswith("cutting-plan")
    fetched = {url.removesuffix(".gz") for url in asked if "library.zip" in url}
    assert len(fetched) == 1


def test_a_long_answer_leaves_no_progress_behind(visit: Callable[..., Page]) -> None:
    """After a search the page is live again and the counter is gone."""
    page = visit("cutting-plan", "?count=9")
    until(page, "document.querySelector('.fs-calc')?.dataset.state === 'live'")
    assert page.locator(".fs-bytes").first.text_content() == ""


def test_a_kept_sheet_is_a_material_elsewhere(visit: Callable[..., Page]) -> None:
    """A sheet kept under a name fills the reader's own material in the fin check; then it goes."""
    page = visit("sheet-test")
    page.fill("#keep-sheet-test", "Rack 3 <b>")
    page.get_by_role("button", name="Keep this sheet on this device").click()
    page.locator(".fs-keep-sheet [role=status]").filter(has_text="is kept").wait_for()
    kept = json.loads(page.evaluate("localStorage.getItem('finstock:sheets')"))
    assert kept["Rack 3 <b>"]["material"] == "own"
    page = visit("fin-check")
    page.select_option('select[name="material"]', "kept:Rack 3 <b>")
    until(page, "location.search.includes('material=own')")
    assert page.input_value('select[name="material"]') == "own"
    for name in ("modulus_along", "shear_modulus", "own_density"):
        value = page.input_value(f'[name="{name}"]')
        assert kept["Rack 3 <b>"][name].startswith(value)
    assert page.input_value('[name="spread"]') == kept["Rack 3 <b>"]["spread"]
    # A sheet kept before spreads were takes the usual one, not that of the sheet picked last.
    page.evaluate(
        """() => {
          const sheets = JSON.parse(localStorage.getItem('finstock:sheets'));
          const {spread, ...old} = sheets['Rack 3 <b>'];
          localStorage.setItem('finstock:sheets', JSON.stringify({...sheets, old}));
          dispatchEvent(new StorageEvent('storage', {key: 'finstock:sheets'}));
        }"""
    )
    page.select_option('select[name="material"]', "kept:old")
    until(page, "!location.search.includes('spread=')")
    assert page.input_value('[name="spread"]') == ""
    page = visit("sheet-test")
    page.get_by_role("button", name="Remove old").click()
    page.get_by_role("button", name="Remove Rack 3 <b>").click()
    assert page.evaluate("localStorage.getItem('finstock:sheets')") == "{}"


@pytest.fixture
def tapping(tmp_path: Path, chromium: Browser) -> Iterator[BrowserContext]:
    """Open a browser whose microphone hears a strip tapped at 188 Hz."""
    rate = 48000
    time = np.arange(3 * rate) / rate
    since = np.maximum(time - 1.0, 0.0)
    sound = 0.6 * (time > 1.0) * np.exp(-since / 0.25) * np.sin(2 * np.pi * 188.0 * since)
    sound += 0.002 * np.random.default_rng(1).standard_normal(time.size)
    with wave.open(str(tmp_path / "tap.wav"), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes((32767 * sound).astype("<i2").tobytes())
    flags = [
        *FLAGS,
        "--use-fake-device-for-media-stream",
        "--use-fake-ui-for-media-stream",
        f"--use-file-for-fake-audio-capture={tmp_path / 'tap.wav'}",
    ]
    browser = chromium.browser_type.launch(
        executable_path=environment.chromium(), headless=True, args=flags
    )
    yield browser.new_context(permissions=["microphone"])
    browser.close()


def _unfold(page: Page) -> None:
    """Open the tests that the form asks for later."""
    page.locator("form.fs-form details").evaluate_all("all => all.forEach(d => { d.open = true; })")


def test_the_tone_of_a_tap_is_heard(
    tapping: BrowserContext, server: Server, pages: dict[str, str]
) -> None:
    """Listen fills the frequency from the microphone and nothing leaves the page."""
    page = watched(tapping.new_page())
    page.goto(server.address + pages["sheet-test"])
    _unfold(page)
    field = page.locator(".fs-field[data-name=tone_across]")
    heard = []
    for _ in range(3):
        # a busy machine drops blocks of sound: listen again, as a person would
        page.fill("[name=tone_across]", "")
        field.get_by_role("button").click()
        until(page, "document.querySelector('[name=tone_across]').value !== ''")
        heard.append(float(page.input_value("[name=tone_across]")))
        if heard[-1] == pytest.approx(188.0, rel=0.01):
            break
    assert heard[-1] == pytest.approx(188.0, rel=0.01), heard
    assert "Heard" in (field.locator("[role=status]").text_content() or "")
    assert all(url.startswith(server.address) for url in page.asked)  # type: ignore[attr-defined]


def test_a_refused_microphone_is_said(server: Server, pages: dict[str, str], page: Page) -> None:
    """Without permission the field says what to do instead."""
    page.goto(server.address + pages["sheet-test"])
    _unfold(page)
    field = page.locator(".fs-field[data-name=tone_along]")
    field.get_by_role("button").click()
    said = field.locator("[role=status]")
    said.filter(has_text="Type the frequency instead").wait_for(timeout=PATIENCE * 1000)
