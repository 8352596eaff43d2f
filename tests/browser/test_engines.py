"""The main job in engines other than Chromium: Debian's Firefox and a WebKit.

Which of them are there is found out when the tests are collected; what could not be had, and so
was not run, is said in the summary of warnings.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from pathlib import Path

import pytest

from scripts import runtime
from scripts.engines import Engine, found
from scripts.server import Server
from scripts.test import PORT

MAIN = "fin-check"
ENGINES, ABSENT = found()
for sentence in ABSENT.values():
    warnings.warn(sentence, stacklevel=1)


@pytest.fixture(scope="module", params=sorted(ENGINES))
def engine(request: pytest.FixtureRequest) -> Iterator[Engine]:
    """Start each engine that is here, with a new profile."""
    browser = ENGINES[request.param]()
    yield browser
    browser.close()


def settled(engine: Engine) -> None:
    """Wait for an answer to the inputs as they stand."""
    engine.until("document.querySelector('.fs-calc')?.dataset.state === 'live'")
    engine.until("!document.querySelector('.fs-calc .fs-stale, .fs-calc [aria-busy]')")


def verdict(engine: Engine) -> str:
    """Return the verdict's text."""
    return str(engine.run("document.querySelector('.fs-calc .fs-verdict').innerText"))


def told(engine: Engine) -> str:
    """Return the whole answer's text, without the controls that a script lays under a picture."""
    script = """(() => {
      const answer = document.querySelector(".fs-calc [data-fragment=result]").cloneNode(true);
      answer.querySelectorAll(".fs-swing-bar, .fs-swing-words").forEach((part) => part.remove());
      return answer.textContent;
    })()"""
    return str(engine.run(script))


def types(engine: Engine, thickness: str) -> None:
    """Type a thickness, once the page has filled in the rocket it knows.

    A driver empties a field without the event that a hand's keys send, so a page that is still
    filling itself in would put the old text back.
    """
    engine.until("document.querySelector('.fs-calc')?.dataset.state")
    engine.replace(".fs-calc [name=thickness]", thickness)


def computes(engine: Engine, thickness: str) -> str:
    """Type a thickness, wait, return the verdict."""
    types(engine, thickness)
    engine.until("document.querySelector('.fs-calc .fs-stale') !== null", seconds=10)
    settled(engine)
    return verdict(engine)


def test_what_was_looked_for_is_accounted_for() -> None:
    """Both engines are either run here or named as not run."""
    assert set(ENGINES) | set(ABSENT) == {"firefox", "webkit"}
    assert not set(ENGINES) & set(ABSENT)


def test_main_job(engine: Engine, server: Server, pages: dict[str, str]) -> None:
    """Open the fin check, thin the fin until it fails, thicken it until it holds."""
    engine.open(server.address + pages[MAIN])
    built = verdict(engine)
    assert built
    thin = computes(engine, "1/32in")
    assert "Does not hold" in thin
    thick = computes(engine, "1/4in")
    assert "Holds" in thick
    assert "margin" in thick
    assert "thickness=1/4in" in engine.run("location.href")
    said = engine.run("document.querySelector('.fs-calc .fs-status').textContent")
    assert "margin" in str(said).lower()
    # Taken by another engine, and no less usable here.
    assert not any(path.endswith(tuple(runtime.SPARE)) for path in server.seen)


def test_mistake_is_told_beside_its_field(
    engine: Engine, server: Server, pages: dict[str, str]
) -> None:
    """A text that is no thickness gets its message; the earlier answer stays."""
    engine.open(server.address + pages[MAIN])
    types(engine, "thick")
    engine.until("document.querySelector('.fs-calc [name=thickness][aria-invalid=true]') !== null")
    message = engine.run("document.querySelector('.fs-calc .fs-error:not([hidden])').textContent")
    assert str(message).startswith("Error:")
    assert verdict(engine)


def test_same_answer_to_the_letter(
    engine: Engine, server: Server, pages: dict[str, str], site: Path
) -> None:
    """Back at the example's own numbers, the engine's answer is the one the build wrote."""
    engine.open(server.address + pages[MAIN])
    engine.run("localStorage.clear()")
    engine.open(server.address + pages[MAIN])
    built = told(engine)
    computes(engine, "1/4")
    types(engine, "1/8")
    engine.until("!/thickness/.test(location.search)")
    settled(engine)
    assert told(engine) == built


def test_kept_offline(engine: Engine, site: Path, pages: dict[str, str]) -> None:
    """Where the engine can keep pages, all works with the server gone; else it says it cannot."""
    server = Server(site, PORT).start()
    address = server.address
    try:
        home = next(
            path.relative_to(site).as_posix().removesuffix("index.html")
            for path in sorted(site.rglob("index.html"))
            if 'class="fs-keep"' in path.read_text(encoding="utf-8")
        )
        engine.open(address + home)
        engine.until(
            "['absent', 'impossible'].includes(document.querySelector('.fs-keep')?.dataset.state)"
        )
        if not engine.run("Boolean(navigator.serviceWorker)"):
            said = engine.run("document.querySelector('.fs-keep').textContent")
            assert "cannot keep" in str(said)
            return
        engine.click(".fs-keep button")
        engine.until(
            "['kept', 'failed'].includes(document.querySelector('.fs-keep')?.dataset.state)"
        )
        assert engine.run("document.querySelector('.fs-keep')?.dataset.state") == "kept", (
            engine.run("document.querySelector('.fs-keep').textContent")
        )
    finally:
        server.stop()
    engine.open(address + pages[MAIN])
    assert "Does not hold" in computes(engine, "1/32in")
    # An address that the page wrote itself would show the rocket as it is now: see test_main_job.
    engine.open(address + pages[MAIN] + "?thickness=3/8in")
    settled(engine)
    assert "Holds" in verdict(engine)
