"""The page's server: files of the page, the state, pictures, and the few things a page may ask for."""

from __future__ import annotations

import asyncio
import contextlib
import gzip
import json
import socket
import threading
import webbrowser
from collections.abc import AsyncIterator, Callable, Sequence
from functools import partial
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import (
    JSONResponse,
    PlainTextResponse,
    Response,
    StreamingResponse,
)
from starlette.routing import Mount, Route
from starlette.types import ASGIApp

from sparwright.answers import BadInput, as_sentence
from sparwright.page.board import State
from sparwright.page.editing import Change
from sparwright.page.files import file_routes, font, help_page
from sparwright.page.guard import Guard, new_word
from sparwright.page.jobtext import Stale
from sparwright.page.session import Session
from sparwright.page.shown import in_units, sweep_in_units
from sparwright.page.sweeping import Varied

MOST_CHANGES = 20
MOST_AXES = 2
"""Keys of a sweep on the page."""
HEARTBEAT = 15.0
"""Seconds between signs of life to a listening page."""


class BadRequest(ValueError):
    """A request that no page of ours makes."""


def make_app(session: Session, word: str, port: int) -> ASGIApp:
    """The application behind its guard. word: the secret first part of every path."""
    routes = [
        *file_routes(),
        Route("/state", partial(_state, session)),
        Route("/events", partial(_events, session)),
        Route("/picture/{name}", partial(_picture, session)),
        Route("/font/{name}", font),
        Route("/edit", partial(_change, session, session.edit), methods=["POST"]),
        Route("/try", partial(_try, session), methods=["POST"]),
        Route("/undo", partial(_back, session, session.undo), methods=["POST"]),
        Route("/redo", partial(_back, session, session.redo), methods=["POST"]),
        Route("/plan", partial(_do, session, session.plan_now), methods=["POST"]),
        Route("/stop", partial(_do, session, session.plans.stop), methods=["POST"]),
        Route("/sweep", partial(_sweep, session), methods=["POST"]),
        Route("/sweep/stop", partial(_do, session, session.sweeps.stop), methods=["POST"]),
        Route("/sweep/result", partial(_swept, session)),
        Route("/packet", partial(_back, session, session.make_packet), methods=["POST"]),
        Route("/packet.pdf", partial(_packet, session)),
        Route("/help/{page}", help_page),
    ]
    return Guard(Starlette(routes=[Mount(f"/{word}", routes=routes)]), word, port)


def _state_now(session: Session) -> State:
    """The state in the units the job is shown in."""
    return in_units(session.board.snapshot(), session.board.units)


def _state_text(session: Session) -> str:
    return json.dumps(_state_now(session), allow_nan=False, ensure_ascii=False)


async def _state(session: Session, request: Request) -> Response:
    return Response(_state_text(session), media_type="application/json")


async def _events(session: Session, request: Request) -> Response:
    loop, changed = asyncio.get_running_loop(), asyncio.Event()

    def heard() -> None:
        loop.call_soon_threadsafe(changed.set)

    stop = session.board.listen(heard)
    changed.set()

    async def lines() -> AsyncIterator[str]:
        try:
            while not session.closed:
                try:
                    await asyncio.wait_for(changed.wait(), HEARTBEAT)
                    changed.clear()
                    if not session.closed:
                        yield f"data: {_state_text(session)}\n\n"
                except TimeoutError:
                    yield ": still here\n\n"
        finally:
            stop()

    return StreamingResponse(lines(), media_type="text/event-stream")


async def _picture(session: Session, request: Request) -> Response:
    try:
        found = await run_in_threadpool(session.picture, request.path_params["name"])
    except KeyError:
        return PlainTextResponse("there is no such picture", 404)
    except BadInput:
        found = None  # what is wrong stands in the state's message
    if found is None:
        return Response(status_code=204)
    digest, body = found
    headers = {"x-digest": digest}
    if "gzip" in request.headers.get("accept-encoding", ""):
        headers["content-encoding"] = "gzip"
    else:
        body = await run_in_threadpool(gzip.decompress, body)
    return Response(body, media_type="application/octet-stream", headers=headers)


async def _read(request: Request) -> tuple[str, Any]:
    try:
        data = json.loads(await request.body())
    except (ValueError, RecursionError):
        raise BadRequest("not JSON") from None
    if not isinstance(data, dict) or not isinstance(data.get("digest", ""), str):
        raise BadRequest("an object with a digest is wanted")
    return data.get("digest", ""), data


def _changes(data: Any) -> list[Change]:
    listed = data.get("changes")
    if not isinstance(listed, list) or not 0 < len(listed) <= MOST_CHANGES:
        raise BadRequest(f"1 to {MOST_CHANGES} changes are wanted")
    return [_one_change(c) for c in listed]


def _one_change(c: Any) -> Change:
    if not isinstance(c, dict) or c.keys() != {"file", "path", "value"} or not isinstance(c["file"], str):
        raise BadRequest("a change is an object with file, path and value")
    path, value = c["path"], c["value"]
    plain = isinstance(path, list) and 0 < len(path) <= 8
    if not plain or not all(_key_part(p) for p in path):
        raise BadRequest("a path is a list of keys and places")
    flat = value if isinstance(value, list) else [value]
    if len(flat) > 200 or not all(v is None or isinstance(v, bool | int | float | str) for v in flat):
        raise BadRequest("a value is a number, a text, true, false, null or a list of those")
    return Change(c["file"], tuple(path), value)


def _key_part(part: Any) -> bool:
    """Whether this is a bare key, or a place in a list."""
    if isinstance(part, bool):
        return False
    if isinstance(part, int):
        return 0 <= part < 10_000
    return isinstance(part, str) and part.replace("_", "").isascii() and part.replace("_", "a").isalnum()


async def _guarded(session: Session, work: Callable[[], Any]) -> Response:
    """Do the work in a thread; what cannot be done comes back with the state as it is now."""
    try:
        found = await run_in_threadpool(work)
    except Stale:
        words = "The file was changed meanwhile; here it is as it stands now. Make the change again if it is still wanted."
        return JSONResponse({"refused": "stale", "message": words, "state": _state_now(session)})
    except BadInput as problem:
        return JSONResponse({"refused": "bad", "message": as_sentence(problem), "state": _state_now(session)})
    return JSONResponse(_state_now(session) if found is None else in_units(found, session.board.units))


async def _change(
    session: Session, make: Callable[[str, Sequence[Change]], None], request: Request
) -> Response:
    try:
        digest, data = await _read(request)
        changes = _changes(data)
    except BadRequest as problem:
        return PlainTextResponse(str(problem), 400)
    return await _guarded(session, lambda: make(digest, changes))


def _varied(data: Any) -> list[Varied]:
    listed = data.get("vary")
    if not isinstance(listed, list) or not 0 < len(listed) <= MOST_AXES:
        raise BadRequest(f"1 to {MOST_AXES} keys to vary are wanted")
    return [_one_varied(v) for v in listed]


def _one_varied(v: Any) -> Varied:
    if not isinstance(v, dict) or v.keys() != {"field", "key", "low", "high", "count"}:
        raise BadRequest("what is varied is an object with field, key, low, high and count")
    if not all(isinstance(v[name], str) for name in ("field", "key")):
        raise BadRequest("field and key are texts")
    numbers = [v["low"], v["high"], v["count"]]
    if any(isinstance(n, bool) or not isinstance(n, int | float) for n in numbers) or isinstance(
        v["count"], float
    ):
        raise BadRequest("low and high are numbers, count a whole one")
    return Varied(v["field"], v["key"], *numbers)


async def _sweep(session: Session, request: Request) -> Response:
    try:
        digest, data = await _read(request)
        wanted = _varied(data)
    except BadRequest as problem:
        return PlainTextResponse(str(problem), 400)
    return await _guarded(session, lambda: session.sweep(digest, wanted))


async def _swept(session: Session, request: Request) -> Response:
    found = session.sweeps.result
    if found is None:
        return Response(status_code=204)
    return JSONResponse(sweep_in_units(found, session.board.units))


async def _packet(session: Session, request: Request) -> Response:
    found = session.packets.pdf
    if found is None:
        return PlainTextResponse("no packet was made yet", 404)
    return Response(
        found,
        media_type="application/pdf",
        headers={"content-disposition": 'inline; filename="packet.pdf"'},
    )


async def _try(session: Session, request: Request) -> Response:
    try:
        digest, data = await _read(request)
        changes = _changes(data)
    except BadRequest as problem:
        return PlainTextResponse(str(problem), 400)
    first = data.get("first") is True
    return await _guarded(session, lambda: session.attempt(digest, changes, first=first))


async def _back(session: Session, step: Callable[[str], None], request: Request) -> Response:
    try:
        digest, _ = await _read(request)
    except BadRequest as problem:
        return PlainTextResponse(str(problem), 400)
    return await _guarded(session, lambda: step(digest))


async def _do(session: Session, what: Callable[[], None], request: Request) -> Response:
    return await _guarded(session, what)


def open_port(port: int) -> socket.socket:
    """A listening socket on this computer's own address only; port 0 takes any free one."""
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        listening.bind(("127.0.0.1", port))
        listening.listen()  # a browser that is quicker than the server waits instead of being refused
    except OSError as problem:
        listening.close()
        raise BadInput(
            f"port {port} cannot be had: {problem.strerror}; leave --port out to take a free one"
        ) from None
    return listening


def serve(path: Path, port: int = 0, *, browser: bool = True, when_asked: bool = False) -> None:
    """Serve the page of a job until it is stopped with Ctrl+C.

    browser: whether to open it. when_asked: whether the whole plan waits until it is asked for.
    """
    import uvicorn

    class Server(uvicorn.Server):
        """Ends what the session has begun before it waits for its answers: a listening page's never ends by itself."""

        async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
            await run_in_threadpool(session.close)
            await super().shutdown(sockets)

    if not path.is_file():
        raise BadInput(f"there is no file {path}; name a job file: sparwright page JOB")
    listening = open_port(port)
    session, word = Session(path, when_asked=when_asked), new_word()
    actual = listening.getsockname()[1]
    address = f"http://127.0.0.1:{actual}/{word}/"
    config = uvicorn.Config(
        make_app(session, word, actual),
        log_level="warning",
        access_log=False,
        lifespan="off",
        server_header=False,
        timeout_graceful_shutdown=1,
        limit_concurrency=64,
    )
    print(f"The job page is at {address}\nCtrl+C ends it.", flush=True)
    if browser:
        threading.Timer(0.05, webbrowser.open, (address,)).start()
    session.start()
    try:
        # Ctrl+C is how one ends it, and no fault.
        with contextlib.suppress(KeyboardInterrupt):
            Server(config).run(sockets=[listening])
    finally:
        session.close()
        listening.close()
