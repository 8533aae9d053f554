"""Ctrl+C ends the page with all that runs for it, at once and without a word."""

from __future__ import annotations

import http.client
import json
import os
import re
import signal
import subprocess
import sys
import time

import pytest
from page_help import copy_job


@pytest.mark.parametrize("how", [os.kill, os.killpg], ids=["the process", "all of the terminal"])
def test_a_listening_page_and_a_plan_under_way_are_ended_in_silence(tmp_path, how):
    page = subprocess.Popen(
        [sys.executable, "-m", "sparwright.cli", "page", str(copy_job(tmp_path)), "--no-open"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    assert page.stdout is not None
    found = re.search(r"http://([^/]+)(/[^/]+/)", page.stdout.readline())
    listening = http.client.HTTPConnection(found[1], timeout=60)
    listening.request("GET", f"{found[2]}events")
    events = listening.getresponse()
    while not planning(events.readline()):
        pass
    start = time.monotonic()
    how(page.pid, signal.SIGINT)
    assert page.wait(10) == 0
    assert time.monotonic() - start < 3
    events.read()  # raises where the stream was cut off instead of ended
    assert page.stderr.read() == "", "nor does anybody say something who ends after it"


def planning(line: bytes) -> bool:
    """Whether the plan, with helpers of its own, is under way."""
    return line.startswith(b"data: ") and json.loads(line[6:])["work"]["step"] == "fit"
