"""Debian's nginx for the tests: found or installed, then run on loopback with a configuration."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import tempfile
import time
from pathlib import Path

from scripts.runtime import run
from scripts.say import Failure, step

PACKAGES = ("nginx-light", "libnginx-mod-http-brotli-static")
_MODULES = (
    Path("/usr/lib/nginx/modules/ngx_http_brotli_static_module.so"),
    Path("/usr/share/nginx/modules/ngx_http_brotli_static_module.so"),
)


def _find() -> tuple[str, Path] | None:
    program = shutil.which("nginx") or shutil.which("nginx", path="/usr/sbin:/usr/local/sbin")
    module = next((path for path in _MODULES if path.exists()), None)
    return (program, module) if program and module else None


def program() -> tuple[str, Path]:
    """Return nginx and its brotli module, installing Debian's where that can be done."""
    found = _find()
    if found:
        return found
    if shutil.which("apt-get") and os.geteuid() == 0:
        step("Installing Debian's nginx for the test of the published site (once)")
        quiet = ["apt-get", "--quiet", "--quiet", "--yes"]
        run([*quiet, "update"], "apt-get update failed")
        run(
            [*quiet, "install", "--no-install-recommends", *PACKAGES],
            "apt-get install nginx failed",
        )
        found = _find()
        if found:
            return found
    raise Failure(
        "The test of the published site needs nginx with its brotli module: "
        f"sudo apt-get install {' '.join(PACKAGES)}"
    )


class Nginx:
    """A running nginx of our own, with one configuration for its http block."""

    def __init__(self, configuration: str, port: int) -> None:
        binary, module = program()
        self.folder = Path(tempfile.mkdtemp(prefix="nginx-"))
        (self.folder / "site.conf").write_text(configuration, encoding="utf-8")
        kinds = ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
        scratch = "\n".join(f"{kind}_temp_path {self.folder}/{kind};" for kind in kinds)
        # Started by root it would give its rights away and then could not read the work tree.
        user = "user root;\n" if os.geteuid() == 0 else ""
        (self.folder / "nginx.conf").write_text(
            f"{user}load_module {module};\n"
            f"daemon off; worker_processes 1; pid {self.folder}/pid; error_log {self.folder}/log;\n"
            f"events {{}}\n"
            f"http {{\naccess_log off;\n{scratch}\ninclude {self.folder}/site.conf;\n}}\n",
            encoding="utf-8",
        )
        self.process = subprocess.Popen(
            [binary, "-p", str(self.folder), "-e", f"{self.folder}/log",
             "-c", f"{self.folder}/nginx.conf"],
            stderr=subprocess.PIPE,
        )  # fmt: skip
        end = time.monotonic() + 20
        while True:
            try:
                socket.create_connection(("127.0.0.1", port), timeout=1).close()
                return
            except OSError:
                if self.process.poll() is not None or time.monotonic() > end:
                    self.process.kill()
                    _, said = self.process.communicate()
                    log = self.folder / "log"
                    told = log.read_text() if log.exists() else said.decode()
                    raise Failure(f"nginx did not start: {told.strip()}") from None
                time.sleep(0.05)

    def stop(self) -> None:
        """End it and remove its scratch folder."""
        if self.process.poll() is None:
            self.process.terminate()
            self.process.communicate(timeout=20)
        shutil.rmtree(self.folder, ignore_errors=True)
