"""nginx for the tests: found, then run on loopback with one configuration."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import tempfile
import time
from pathlib import Path

from scripts.say import Failure

PACKAGES = ("nginx-light", "libnginx-mod-http-brotli-static")
"""Debian's packages."""

_MODULES = (
    Path("/usr/lib/nginx/modules/ngx_http_brotli_static_module.so"),
    Path("/usr/share/nginx/modules/ngx_http_brotli_static_module.so"),
)


def find() -> tuple[str, Path] | None:
    """Return the paths of nginx and of its brotli module, or None where one is missing."""
    program = shutil.which("nginx") or shutil.which("nginx", path="/usr/sbin:/usr/local/sbin")
    module = next((path for path in _MODULES if path.exists()), None)
    return (program, module) if program and module else None


class Nginx:
    """A running nginx with one configuration in its http block."""

    def __init__(self, configuration: str, port: int) -> None:
        found = find()
        if found is None:
            raise Failure(
                "nginx with its brotli module is needed and was not found "
                f"(Debian: sudo apt-get install {' '.join(PACKAGES)})."
            )
        binary, module = found
        self.folder = Path(tempfile.mkdtemp(prefix="nginx-"))
        (self.folder / "site.conf").write_text(configuration, encoding="utf-8")
        kinds = ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
        scratch = "\n".join(f"{kind}_temp_path {self.folder}/{kind};" for kind in kinds)
        # Workers of an nginx that root starts run as another user, who may not read the work tree.
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
                    output = log.read_text() if log.exists() else said.decode()
                    raise Failure(f"nginx did not start: {output.strip()}") from None
                time.sleep(0.05)

    def stop(self) -> None:
        """Stop nginx and remove its temporary folder."""
        if self.process.poll() is None:
            self.process.terminate()
            self.process.communicate(timeout=20)
        shutil.rmtree(self.folder, ignore_errors=True)
