"""What may reach the page: this computer's own browser, with the word in the address, and nothing else."""

from __future__ import annotations

import secrets

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

MOST_BYTES = 65536
"""Of a request's body."""
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; font-src 'self'; "
    "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cache-control": "no-store",
}


def new_word() -> str:
    """A word nobody can guess, for the page's address."""
    return secrets.token_urlsafe(24)


class Guard:
    """Refuses what does not come from our own page, before anything else sees it.

    Checked: the Host header is this server's own; the path begins with the secret word; only GET, HEAD and POST; a POST
    comes from our own origin, says it is JSON and is small. Sets the same headers on every answer.
    """

    def __init__(self, app: ASGIApp, word: str, port: int) -> None:
        self.app = app
        self.word = word
        self.hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for key, value in HEADERS.items():
                    headers[key] = value
            await send(message)

        refusal = self._refusal(scope)
        if refusal is not None:
            status, words = refusal
            await PlainTextResponse(words, status)(scope, receive, guarded)
            return
        if scope["method"] == "POST":
            body = await _body(receive)
            if body is None:
                await PlainTextResponse("too much", 413)(scope, receive, guarded)
                return
            receive = _again(body, receive)
        await self.app(scope, receive, guarded)

    def _refusal(self, scope: Scope) -> tuple[int, str] | None:
        """Status and words for a request that is not ours; None for one that is."""
        headers = Headers(scope=scope)
        hosts = headers.getlist("host")
        if len(hosts) != 1 or hosts[0].lower() not in self.hosts:
            return 421, "this host is not served here"
        first = scope["path"].split("/")[1:2]
        if not first or not secrets.compare_digest(
            first[0].encode("utf-8", "surrogatepass"), self.word.encode()
        ):
            return 404, "there is nothing here"
        if scope["method"] not in ("GET", "HEAD", "POST"):
            return 405, "only GET and POST"
        if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
            return 403, "not from this page"
        if scope["method"] == "POST":
            if headers.get("origin") != f"http://{hosts[0].lower()}":
                return 403, "not from this page"
            if headers.get("content-type", "").split(";")[0].strip().lower() != "application/json":
                return 415, "JSON only"
            length = headers.get("content-length", "0")
            if not length.isdecimal() or int(length) > MOST_BYTES:
                return 413, "too much"
        return None


async def _body(receive: Receive) -> bytes | None:
    """The whole body; None where it is larger than allowed, whatever its head said."""
    body = b""
    while True:
        message = await receive()
        if message["type"] != "http.request":
            return None
        body += message.get("body", b"")
        if len(body) > MOST_BYTES:
            return None
        if not message.get("more_body", False):
            return body


def _again(body: bytes, receive: Receive) -> Receive:
    """A body that was read, to be read once more."""
    first = True

    async def repeated() -> Message:
        nonlocal first
        if first:
            first = False
            return {"type": "http.request", "body": body, "more_body": False}
        return await receive()

    return repeated
