"""The files of the page: its own, fonts, libraries, the documentation. In a wheel they come from its packed file."""

from __future__ import annotations

from collections.abc import Sequence
from importlib import resources
from pathlib import Path, PurePosixPath

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, PlainTextResponse, Response
from starlette.routing import BaseRoute, Mount, Route
from starlette.staticfiles import StaticFiles

from sparwright.page.packed import PACKED, packed

STATIC = Path(__file__).parent / "static"
FONTS = ("SourceSansPro-Regular.otf", "SourceSansPro-Semibold.otf", "SourceSansPro-Bold.otf")
BUNDLES = ("uplot.js", "uplot.css")
TYPES = {".js": "text/javascript", ".css": "text/css", ".html": "text/html"}


def file_routes() -> Sequence[BaseRoute]:
    """The page and its files: from the packed file of a wheel, or from where they lie."""
    if PACKED.is_file():
        return [Route("/", from_packed), Route("/static/{name:path}", from_packed)]
    return [
        Route("/", index),
        Route("/static/vendor/{name}", bundle),
        Mount("/static", StaticFiles(directory=STATIC)),
    ]


async def from_packed(request: Request) -> Response:
    """A file of the page out of the packed file, by its exact name there."""
    name = request.path_params.get("name", "index.html")
    text = (await run_in_threadpool(packed)).get(f"static/{name}")
    if text is None:
        return PlainTextResponse("there is nothing here", 404)
    return Response(text, media_type=TYPES[PurePosixPath(name).suffix])


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
    """A library of others, bundled when the package is installed."""
    name = request.path_params["name"]
    if name not in BUNDLES:
        return PlainTextResponse("there is nothing here", 404)
    file = STATIC / "vendor" / name
    if not file.is_file():
        return PlainTextResponse("the page's libraries were not built; install the package anew", 404)
    return FileResponse(file)


async def help_page(request: Request) -> Response:
    """A page of the documentation."""
    from sparwright.page.help import rendered

    try:
        return HTMLResponse(await run_in_threadpool(rendered, request.path_params["page"]))
    except KeyError:
        return PlainTextResponse("there is no such page", 404)
