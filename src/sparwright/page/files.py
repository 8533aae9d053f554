"""What is served as it lies in the package: the page itself, fonts, libraries, the documentation."""

from __future__ import annotations

import lzma
from importlib import resources
from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, PlainTextResponse, Response

STATIC = Path(__file__).parent / "static"
FONTS = ("SourceSansPro-Regular.otf", "SourceSansPro-Semibold.otf", "SourceSansPro-Bold.otf")
BUNDLES = ("three.js", "uplot.js", "uplot.css")


async def index(request: Request) -> Response:
    """The page."""
    return FileResponse(STATIC / "index.html")


async def font(request: Request) -> Response:
    """A font of the page."""
    name = request.path_params["name"]
    if name not in FONTS:
        return PlainTextResponse("there is nothing here", 404)
    folder = Path(str(resources.files("font_source_sans_pro"))) / "files"
    return FileResponse(folder / name, media_type="font/otf")


async def bundle(request: Request) -> Response:
    """A library of others; in a wheel the largest is packed."""
    name = request.path_params["name"]
    if name not in BUNDLES:
        return PlainTextResponse("there is nothing here", 404)
    plain = STATIC / "vendor" / name
    if plain.is_file():
        return FileResponse(plain)
    packed = plain.with_name(f"{name}.xz")
    if not packed.is_file():
        return PlainTextResponse("the page's libraries were not built; install the package anew", 404)
    data = await run_in_threadpool(lambda: lzma.decompress(packed.read_bytes()))
    return Response(data, media_type="text/javascript")


async def help_page(request: Request) -> Response:
    """A page of the documentation."""
    from sparwright.page.help import rendered

    try:
        return HTMLResponse(await run_in_threadpool(rendered, request.path_params["page"]))
    except KeyError:
        return PlainTextResponse("there is no such page", 404)
