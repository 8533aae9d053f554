"""A short beam planned as far as its programs, and a bare page that draws one picture of it."""

from __future__ import annotations

import http.server
import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import SimpleNamespace

import sparwright.page
from sparwright.page.pictures import PictureData

STATIC = Path(sparwright.page.__file__).parent / "static"
HTML = """<!doctype html><html lang="en"><title>A picture</title><link rel="icon" href="data:,">
<link rel="stylesheet" href="page.css"><link rel="stylesheet" href="programs.css"><body><figure><figcaption>A picture</figcaption><div class="host"></div></figure>
<script type="module">
import { pictureData } from "./data.js";
import { draw } from "./pictures/NAME.js";
window.drawn = draw(document.querySelector(".host"), await pictureData("NAME"), {});
document.body.dataset.ready = "1";
</script>"""


def shorten(job: Path) -> Path:
    """Make a bridge beam's job that of a short piece with a few pockets and one hole."""
    text = job.read_text().replace("length = 1180", "length = 240")
    text = text.replace('served = "plotter.toml"\n', "").replace(
        "tip_deflection = 0.15\nfirst_frequency = 25\n", ""
    )
    text = re.sub(r"at = \[\[90, 0\].*", "at = [[30, 30]]", text)
    for name in ("switch", "stop"):
        text = re.sub(rf'\[\[hole\]\]\nname = "{name}".*?\n\n', "", text, flags=re.DOTALL)
    job.write_text(text)
    return job


def programs_of(job_file: Path) -> SimpleNamespace:
    """A plan as far as its programs."""
    from sparwright.job.reading import load_job
    from sparwright.placing.place import place
    from sparwright.plan.pipeline import _cuts, _programs
    from sparwright.stock.member import build_member

    job = load_job(job_file)
    member = build_member(job)
    placement = place(member, job)
    pads, sides = _cuts(member, placement, job)
    programs = _programs(pads, sides, placement, job)
    return SimpleNamespace(
        job=job, member=member, placement=placement, pads=pads, sides=sides, programs=programs
    )


@contextmanager
def bare_page(name: str, data: PictureData) -> Iterator[str]:
    """The address of a page that draws one picture's data and nothing else."""
    body = data.packed()

    class Answer(http.server.BaseHTTPRequestHandler):
        def log_message(self, *_: object) -> None:
            pass

        def do_GET(self) -> None:
            path = self.path.lstrip("/").split("?")[0]
            if path == "":
                kind, found = "text/html", HTML.replace("NAME", name).encode()
            elif path == f"picture/{name}":
                kind, found = "application/octet-stream", body
            elif (STATIC / path).is_file():
                kind, found = (
                    "text/javascript" if path.endswith(".js") else "text/css",
                    (STATIC / path).read_bytes(),
                )
            else:
                kind, found = "font/otf", b""  # the fonts lie elsewhere
            self.send_response(200)
            self.send_header("content-type", kind)
            self.send_header("content-length", str(len(found)))
            self.end_headers()
            self.wfile.write(found)

    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Answer)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_port}/"
    server.shutdown()
    server.server_close()
