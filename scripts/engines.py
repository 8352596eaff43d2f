"""Firefox and WebKit as Debian packs them, driven without any driver package of our own.

Firefox listens for Marionette, its built-in remote control: JSON with its length in front, on a
socket. WebKit's driver speaks WebDriver over HTTP.
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import socket
import subprocess
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Callable
from pathlib import Path
from typing import Any

from scripts.say import Failure

ELEMENT = "element-6066-11e4-a52e-4f735466cecf"
PACKAGES = {"firefox": ("firefox-esr",), "webkit": ("webkit2gtk-driver", "xvfb")}
PREFERENCES = {
    "marionette.port": 0,
    "app.update.enabled": False,
    "browser.shell.checkDefaultBrowser": False,
    "browser.startup.homepage_override.mstone": "ignore",
    "browser.startup.page": 0,
    "datareporting.policy.dataSubmissionEnabled": False,
    "network.captive-portal-service.enabled": False,
    "network.connectivity-service.enabled": False,
    "toolkit.telemetry.reportingpolicy.firstRun": False,
}


def free_port() -> int:
    """Return a port that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def waited(what: str, attempt: Callable[[], Any], *, seconds: float = 60) -> Any:
    """Return what the attempt returns once it returns something and does not fail."""
    end = time.monotonic() + seconds
    last: object = "nothing"
    while time.monotonic() < end:
        try:
            found = attempt()
            if found:
                return found
        except (OSError, Failure) as error:
            last = error
        time.sleep(0.05)
    raise Failure(f"{what} did not come in {seconds:g} s: {last}")


class Engine:
    """A browser with one window: open an address, run a script, type into a field."""

    name = ""
    version = ""

    def __init__(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="engine-"))
        self.processes: list[subprocess.Popen[bytes]] = []

    def command(self, name: str, **parameters: Any) -> Any:
        """Carry out one WebDriver command and return its value."""
        raise NotImplementedError

    def open(self, address: str) -> None:
        """Go to the address and wait for the page."""
        self.command("navigate", url=address)

    def run(self, script: str) -> Any:
        """Return the value of an expression in the page."""
        return self.command("script", script=f"return ({script})", args=[])

    def until(self, script: str, *, seconds: float = 120) -> Any:
        """Return the value of an expression once it is true."""
        return waited(f"{self.name}: {script}", lambda: self.run(script), seconds=seconds)

    def replace(self, selector: str, text: str) -> None:
        """Scroll to a field, empty it and type into it, as hands do."""
        # WebKit's driver does not wait for a page that scrolls smoothly
        to_middle = "{behavior: 'instant', block: 'center'}"
        self.run(f"document.querySelector({json.dumps(selector)}).scrollIntoView({to_middle})")
        element = self.find(selector)
        self.command("clear", element=element)
        self.command("keys", element=element, text=text)

    def click(self, selector: str) -> None:
        """Click the first match."""
        self.command("click", element=self.find(selector))

    def find(self, selector: str) -> str:
        """Return the handle of the first match."""
        found = self.command("find", using="css selector", value=selector)
        return str(found[ELEMENT])

    def start(self, command: list[str], **more: str) -> None:
        """Start a program that ends with this browser."""
        self.processes.append(
            subprocess.Popen(
                command,
                env={**os.environ, "HOME": str(self.folder), **more},
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                start_new_session=True,
            )
        )

    def close(self) -> None:
        """End the browser and what runs for it; forget its profile."""
        for process in reversed(self.processes):
            process.terminate()
            try:
                process.wait(15)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()
        shutil.rmtree(self.folder, ignore_errors=True)


_COMMANDS = {
    "navigate": "WebDriver:Navigate",
    "script": "WebDriver:ExecuteScript",
    "find": "WebDriver:FindElement",
    "clear": "WebDriver:ElementClear",
    "click": "WebDriver:ElementClick",
    "keys": "WebDriver:ElementSendKeys",
}


class Firefox(Engine):
    """Firefox through Marionette."""

    name = "firefox"

    def __init__(self) -> None:
        super().__init__()
        port = free_port()
        lines = [
            f"user_pref({json.dumps(name)}, {json.dumps(value)});"
            for name, value in {**PREFERENCES, "marionette.port": port}.items()
        ]
        (self.folder / "user.js").write_text("\n".join(lines), encoding="utf-8")
        program = shutil.which("firefox-esr") or "firefox"
        self.start(
            [program, "--headless", "--marionette", "--no-remote", "--profile", str(self.folder)]
        )
        self.number = 0
        self.socket: socket.socket = waited(
            "Firefox", lambda: socket.create_connection(("127.0.0.1", port), timeout=180)
        )
        self._receive()
        session = self._ask("WebDriver:NewSession", {})
        self.version = session["capabilities"]["browserVersion"]

    def command(self, name: str, **parameters: Any) -> Any:
        """Carry out one command."""
        if "element" in parameters:
            parameters["id"] = parameters.pop("element")
        found = self._ask(_COMMANDS[name], parameters)
        return found.get("value", found) if isinstance(found, dict) else found

    def _ask(self, command: str, parameters: dict[str, Any]) -> Any:
        self.number += 1
        text = json.dumps([0, self.number, command, parameters]).encode()
        self.socket.sendall(b"%d:%s" % (len(text), text))
        _, _, error, value = self._receive()
        if error:
            raise Failure(f"{command}: {error['message']}")
        return value

    def _receive(self) -> Any:
        length = b""
        while not length.endswith(b":"):
            piece = self.socket.recv(1)
            if not piece:
                raise Failure("Firefox hung up")
            length += piece
        text = b""
        while len(text) < int(length[:-1]):
            text += self.socket.recv(int(length[:-1]) - len(text))
        return json.loads(text)


class WebKit(Engine):
    """WebKitGTK's small browser through its driver, on a screen that nobody sees."""

    name = "webkit"

    def __init__(self) -> None:
        super().__init__()
        browser = _mini_browser()
        if browser is None:
            raise Failure("WebKit's MiniBrowser is not there")
        pipe, writer = os.pipe()
        self.processes.append(
            subprocess.Popen(
                ["Xvfb", "-displayfd", str(writer), "-screen", "0", "1280x900x24", "-nolisten",
                 "tcp"],
                pass_fds=[writer], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
                start_new_session=True,
            )
        )  # fmt: skip
        os.close(writer)
        with os.fdopen(pipe) as said:
            screen = said.readline().strip()
        port = free_port()
        self.address = f"http://127.0.0.1:{port}"
        self.start(
            ["WebKitWebDriver", f"--port={port}"],
            DISPLAY=f":{screen}",
            GDK_BACKEND="x11",
            LIBGL_ALWAYS_SOFTWARE="1",
            WEBKIT_DISABLE_DMABUF_RENDERER="1",
            XDG_RUNTIME_DIR=str(self.folder),
            NO_AT_BRIDGE="1",
        )
        waited("WebKit's driver", lambda: self._ask("GET", "/status", None))
        session = self._ask(
            "POST",
            "/session",
            {
                "capabilities": {
                    "alwaysMatch": {
                        "webkitgtk:browserOptions": {
                            "binary": str(browser),
                            "args": ["--automation"],
                        }
                    }
                }
            },
        )
        self.session = f"/session/{session['sessionId']}"
        self.version = session["capabilities"]["browserVersion"]
        self._ask("POST", f"{self.session}/timeouts", {"pageLoad": 120000, "script": 120000})

    def command(self, name: str, **parameters: Any) -> Any:
        """Carry out one command."""
        element = parameters.pop("element", "")
        path = {
            "navigate": "/url",
            "script": "/execute/sync",
            "find": "/element",
            "clear": f"/element/{element}/clear",
            "click": f"/element/{element}/click",
            "keys": f"/element/{element}/value",
        }[name]
        return self._ask("POST", self.session + path, parameters)

    def close(self) -> None:
        """Close the window first: the driver would leave it behind."""
        with contextlib.suppress(Failure, OSError, AttributeError):
            self._ask("DELETE", self.session, None)
        super().close()

    def _ask(self, method: str, path: str, body: dict[str, Any] | None) -> Any:
        request = urllib.request.Request(
            self.address + path,
            method=method,
            data=None if body is None else json.dumps(body).encode(),
            headers={"Content-Type": "application/json"},
        )
        try:
            with urllib.request.urlopen(request, timeout=180) as answer:
                return json.load(answer)["value"] or (method == "GET")
        except urllib.error.HTTPError as error:
            raise Failure(f"{path}: {error.read().decode()[:300]}") from None


def _mini_browser() -> Path | None:
    places = Path("/usr/lib").glob("*/webkit2gtk-4.*/MiniBrowser")
    return next(iter(sorted(places, reverse=True)), None)


def _missing(name: str) -> list[str]:
    if name == "firefox":
        return [] if shutil.which("firefox-esr") or shutil.which("firefox") else ["Firefox"]
    parts = {
        "WebKitWebDriver": shutil.which("WebKitWebDriver"),
        "MiniBrowser": _mini_browser(),
        "Xvfb": shutil.which("Xvfb"),
    }
    return [part for part, found in parts.items() if not found]


def found() -> tuple[dict[str, type[Engine]], dict[str, str]]:
    """Return the engines on this machine, and for each missing one why it is not tested."""
    kinds: dict[str, type[Engine]] = {"firefox": Firefox, "webkit": WebKit}
    here: dict[str, type[Engine]] = {}
    absent: dict[str, str] = {}
    for name, kind in kinds.items():
        missing = _missing(name)
        if missing:
            absent[name] = (
                f"Not run in {name}: {', '.join(missing)} not found; on Debian, "
                f"apt-get install {' '.join(PACKAGES[name])}"
            )
        else:
            here[name] = kind
    return here, absent
