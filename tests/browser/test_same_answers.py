"""The browser's Python and this Python give the same answers, to the letter."""

from __future__ import annotations

import json
import math
import random
import re
from typing import Any

import pytest
from playwright.sync_api import Page

from calc import calculators, units
from calc.forms import Input
from calc.frontends import browser

# Where one answer judges many fins, fewer forms try as much.
FORMS = {"compare": 5, "material-finder": 8, "rocket": 8}
NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e[-+]?\d+)?")

# A worker of the test's own, asked directly: the page's own glue has its own tests.
START = """() => new Promise((resolve, reject) => {
  const worker = new Worker(new URL('/assets/app/worker.js', location), {type: 'module'});
  const waiting = new Map();
  let number = 0;
  window.askWorker = (slug, inputs) => new Promise((answer) => {
    number += 1;
    waiting.set(number, answer);
    worker.postMessage({id: number, type: 'answer', slug, inputs});
  });
  worker.onerror = (event) => reject(new Error(event.message));
  worker.onmessage = ({data}) => {
    if (data.type === 'live') resolve(data);
    else if (data.id && !['busy', 'early'].includes(data.type)) waiting.get(data.id)(data);
    else if (data.type === 'failed') reject(new Error(data.message));
  };
})"""


@pytest.fixture(scope="module")
def worker(chromium: Any, site: Any) -> Any:
    """Return a page with a live worker behind `askWorker`, and what the worker said of itself."""
    from scripts.server import Server
    from scripts.test import PORT

    context = chromium.new_context()
    page = context.new_page()
    # Once Python runs the worker needs no server, and other tests need the port.
    running = Server(site, PORT).start()
    try:
        page.goto(running.address)
        live = page.evaluate(START)
    finally:
        running.stop()
    yield page, live
    context.close()


def random_inputs(slug: str, count: int) -> list[dict[str, str]]:
    """Return complete forms around the defaults, in mixed units, the same ones every time."""
    chance = random.Random(slug)
    calculator = calculators.load(slug)
    forms = []
    for _ in range(count):
        texts = calculator.defaults()
        for item in calculator.all_inputs:
            if item.kind == "choice":
                texts[item.name] = chance.choice(item.choices).value
            elif item.kind == "integer" and item.low is not None and item.high is not None:
                texts[item.name] = str(chance.randint(int(item.low), min(int(item.high), 8)))
            elif item.kind in units.KINDS and texts[item.name]:
                value = Input.read(item, texts[item.name]) * chance.uniform(0.7, 1.4)
                low = -math.inf if item.low is None else item.low
                high = math.inf if item.high is None else item.high
                value = min(max(value, low), high)
                texts[item.name] = units.typed(value, item.kind, chance.choice(item.units))
        forms.append(texts)
    return forms


def assert_same(native: Any, browsers: Any, where: str) -> None:
    """Compare two JSON values; floats to 9 digits."""
    numbers = (int, float)
    if isinstance(native, dict):
        assert isinstance(browsers, dict), where
        assert native.keys() == browsers.keys(), where
        for key in native:
            assert_same(native[key], browsers[key], f"{where}.{key}")
    elif isinstance(native, list):
        assert isinstance(browsers, list), where
        assert len(native) == len(browsers), where
        for index, (one, other) in enumerate(zip(native, browsers, strict=True)):
            assert_same(one, other, f"{where}[{index}]")
    elif isinstance(native, numbers) and not isinstance(native, bool):
        # JavaScript has one kind of number: 2.0 comes back as 2.
        assert isinstance(browsers, numbers), where
        assert math.isclose(native, browsers, rel_tol=1e-9, abs_tol=1e-12), (
            f"{where}: {native!r} here, {browsers!r} in the browser"
        )
    else:
        assert native == browsers, where


def assert_same_text(native: str, browsers: str, where: str) -> None:
    """Compare two pieces of HTML; a printed number may differ by one in its last place.

    The numbers behind them agree to 9 digits; where one falls on a rounding edge, its last printed
    digit may go either way. Everything else must be equal to the letter.
    """
    if native == browsers:
        return
    assert NUMBER.sub("#", native) == NUMBER.sub("#", browsers), where
    for one, other in zip(NUMBER.findall(native), NUMBER.findall(browsers), strict=True):
        places = len(one.partition(".")[2]) if "e" not in one else 0
        step = 10.0**-places if "e" not in one else abs(float(one)) * 1e-3
        assert abs(float(one) - float(other)) <= 1.01 * step, f"{where}: {one} and {other}"


def test_tablet_trap_is_shut(worker: tuple[Page, dict[str, Any]]) -> None:
    """The code path that crashes Safari on tablets is off: its helper's pointer is 0."""
    assert worker[1]["trap"] == 0


@pytest.mark.parametrize("slug", calculators.SLUGS)
def test_every_calculator_answers_alike(slug: str, worker: tuple[Page, dict[str, Any]]) -> None:
    """Defaults and random forms give the same fragments here and on trimmed Pyodide."""
    page, _ = worker
    forms = [calculators.load(slug).defaults(), *random_inputs(slug, FORMS.get(slug, 20))]
    for number, inputs in enumerate(forms):
        native = json.loads(browser.answer(slug, json.dumps(inputs)))
        reply = page.evaluate("([slug, inputs]) => askWorker(slug, inputs)", [slug, inputs])
        where = f"{slug} form {number} {inputs}"
        assert reply["type"] == "answer", f"{where}: {reply}"
        result = reply["result"]
        assert result["errors"] == native["errors"], where
        assert result["query"] == native["query"], where
        assert_same(native["json"], result["json"], where)
        assert_same_text(native["summary"], result["summary"], where)
        assert native["fragments"].keys() == result["fragments"].keys(), where
        for name, html in native["fragments"].items():
            assert_same_text(html, result["fragments"][name], f"{where} {name}")


def test_default_answers_stand_in_the_pages(
    site: Any, pages: dict[str, str], worker: tuple[Page, dict[str, Any]]
) -> None:
    """What the build wrote into a calculator's page is what the browser computes from its form."""
    page, _ = worker
    for slug, address in pages.items():
        path = site / address / "index.html" if not address.endswith(".html") else site / address
        built = page.evaluate(
            """([html, slug]) => {
              const parsed = new DOMParser().parseFromString(html, 'text/html');
              const block = parsed.querySelector(`.fs-calc[data-slug="${slug}"]`);
              const inputs = {};
              for (const field of block.querySelectorAll('.fs-field')) {
                const name = field.dataset.name;
                const box = field.querySelector(`[name="${name}"]`);
                const unit = field.querySelector(`[name="${name}:unit"]`);
                const text = box.value.trim();
                inputs[name] = unit && /[0-9.]$/.test(text) ? text + unit.value : text;
              }
              const parts = {};
              for (const part of block.querySelectorAll('[data-fragment]')) {
                parts[part.dataset.fragment] = part.innerHTML;
              }
              return {inputs, parts};
            }""",
            [path.read_text(encoding="utf-8"), slug],
        )
        reply = page.evaluate("([s, i]) => askWorker(s, i)", [slug, built["inputs"]])
        # Through the same parser, so that only content counts.
        parts = page.evaluate(
            """(parts) => Object.fromEntries(Object.entries(parts).map(([name, html]) => {
              const place = new DOMParser().parseFromString('<div></div>', 'text/html').body;
              place.innerHTML = html;
              return [name, place.innerHTML];
            }))""",
            reply["result"]["fragments"],
        )
        for name, html in parts.items():
            assert_same_text(built["parts"][name], html, f"{slug} {name} in /{address}")
