"""The files of the page: its own, fonts, the documentation. In a wheel they come from its packed file."""

from __future__ import annotations

from collections.abc import Sequence
from importlib import resources
from pathlib import Path, PurePosixPath

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, PlainTextResponse, Response
from starlette.routing import BaseRoute, Route

from sparwright.page.packed import PACKED, packed

STATIC = Path(__file__).parent / "static"
FONTS = ("SourceSansPro-Regular.otf", "SourceSansPro-Semibold.otf", "SourceSansPro-Bold.otf")
TYPES = {".js": "text/javascript", ".css": "text/css", ".html": "text/html"}


def file_routes() -> Sequence[BaseRoute]:
    """The page and its files."""
    return [Route("/", own_file), Route("/static/{name:path}", own_file)]


async def own_file(request: Request) -> Response:
    """A file of the page by its exact name. They are few and small: read at once, they keep no thread from an answer."""
    name = request.path_params.get("name", "index.html")
    body = packed().get(f"static/{name}") if PACKED.is_file() else _in_place(name)
    if body is None:
        return PlainTextResponse("there is nothing here", 404)
    return Response(body, media_type=TYPES[PurePosixPath(name).suffix])


def _in_place(name: str) -> bytes | None:
    """The file of that name under STATIC; None where there is none."""
    names = {f.relative_to(STATIC).as_posix() for f in STATIC.rglob("*.*") if f.suffix in TYPES}
    return (STATIC / name).read_bytes() if name in names else None


async def font(request: Request) -> Response:
    """A font of the page."""
    name = request.path_params["name"]
    if name not in FONTS:
        return PlainTextResponse("there is nothing here", 404)
    folder = Path(str(resources.files("font_source_sans_pro"))) / "files"
    return Response((folder / name).read_bytes(), media_type="font/otf")


async def help_page(request: Request) -> Response:
    """A page of the documentation."""
    from sparwright.page.help import rendered

    try:
        return HTMLResponse(await run_in_threadpool(rendered, request.path_params["page"]))
    except KeyError:
        return PlainTextResponse("there is no such page", 404)
