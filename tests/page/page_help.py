"""A page of a copy of the demo job, as a process of its own, and plain requests to it."""

from __future__ import annotations

import http.client
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

FLAGS = [
    "--no-sandbox",
    "--use-gl=angle",
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
    "--disable-gpu-compositing",
    "--disable-gpu-rasterization",
    "--force-prefers-reduced-motion",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
EXAMPLES = Path(__file__).parents[2] / "examples"
OUTSIDE = (
    "static/../session.py",
    "static/%2e%2e/session.py",
    "static/..%2fsession.py",
    "static/%2fetc/passwd",
    "static//etc/passwd",
    "static/..\\session.py",
    "static/",
    "static/%00",
    "static/pictures/..%2f..%2fserver.py",
    "static/pictures/..%2f..%2f..%2f..%2f..%2fpyproject.toml",
    "static/pictures/nothing.js",
    "static/pictures/member.js.xz",
    "help/nothing",
    "help/..%2f..%2fpyproject",
    "help/stiffness.md",
    "help/%2e%2e",
    "help/",
    "font/..%2f..%2f__init__.py",
    "font/LICENSE.txt",
    "picture/..%2fsection",
    "picture/none",
    "job.toml",
    "packed.xz",
    "../../etc/passwd",
)
"""Paths behind the word that lead to nothing."""


@dataclass
class Page:
    """A page that is being served."""

    job: Path
    host: str
    word: str
    process: subprocess.Popen[str]

    @property
    def address(self) -> str:
        return f"http://{self.host}/{self.word}/"

    def raw(
        self, method: str, path: str, headers: dict[str, str] | None = None, body: bytes | None = None
    ) -> tuple[int, dict[str, str], bytes]:
        """One request with these headers and no others; status, headers and body."""
        connection = http.client.HTTPConnection(self.host, timeout=30)
        connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
        for key, value in ({"host": self.host} if headers is None else headers).items():
            connection.putheader(key, value)
        if body is not None:
            connection.putheader("content-length", str(len(body)))
        connection.endheaders(body)
        reply = connection.getresponse()
        found = reply.status, {k.lower(): v for k, v in reply.getheaders()}, reply.read()
        connection.close()
        return found

    def state(self) -> dict[str, Any]:
        return json.loads(self.raw("GET", f"/{self.word}/state")[2])

    def post(self, what: str, data: Any) -> tuple[int, Any]:
        headers = {"host": self.host, "origin": f"http://{self.host}", "content-type": "application/json"}
        status, _, body = self.raw("POST", f"/{self.word}/{what}", headers, json.dumps(data).encode())
        try:
            return status, json.loads(body)
        except ValueError:
            return status, body.decode()

    def until(self, true: Any, seconds: float = 60) -> dict[str, Any]:
        """The state as soon as it is so."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            if true(state := self.state()):
                return state
            time.sleep(0.05)
        raise AssertionError(f"not within {seconds} s: {state}")


def copy_job(folder: Path, name: str = "bridge-beam") -> Path:
    """A copy of an example's folder; its job file."""
    shutil.copytree(EXAMPLES / name, folder / name)
    return folder / name / "job.toml"


def serve(job: Path, *more: str, package: Path | None = None) -> Iterator[Page]:
    """The page of a job, with more options if wanted, ended afterwards as a user would end it.

    package: the folder of another copy of the package, to be used instead.
    """
    process = subprocess.Popen(
        [sys.executable, "-m", "sparwright.cli", "page", str(job), "--no-open", *more],
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | ({"PYTHONPATH": str(package)} if package else {}),
    )
    assert process.stdout is not None
    found = re.search(r"http://([^/]+)/([^/]+)/", process.stdout.readline())
    assert found is not None
    yield Page(job, found[1], found[2], process)
    process.send_signal(signal.SIGINT)
    code = process.wait(20)
    assert code == 0, f"the page's process ended with {code}"
