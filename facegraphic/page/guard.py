"""Who is let in: only a page that this server has sent, on this machine, with the token that stands in its address.

Any web page can make a browser send requests to 127.0.0.1, and a name of its own can be made to lead there (DNS
rebinding); so the Host, the Origin and the token are all checked, before anything is read (OWASP: cross-site request
forgery, DNS rebinding). Bodies are refused before they are read when they are too large or no JSON.
"""

import secrets
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from facegraphic.page.answers import refusal

MOST_BODY = 64 * 1024
METHODS = ("GET", "HEAD", "POST")

PAGE_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; connect-src 'self'; "
    "font-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
HEADERS: Mapping[str, str] = {
    "content-security-policy": PAGE_POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "cache-control": "no-store",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=()",
}


class Refused(HTTPException):
    """A request that is not answered, with why and what to do."""

    def __init__(self, status: int, message: str, remedy: str = "") -> None:
        super().__init__(status, message)
        self.message, self.remedy = message, remedy


@dataclass(frozen=True)
class Guard:
    """An ASGI application before another: lets good requests through, without the token, and sets safe headers."""

    app: ASGIApp
    token: str
    port: int
    read_only: bool = False

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            return  # no sockets of other kinds; the lifespan is kept by the server itself
        body = _Body(receive)
        safe = _Safe(send)
        try:
            path = self.admitted(scope)
            inner = {**scope, "path": path, "raw_path": path.encode(), "root_path": ""}
            await self.app(inner, body.receive, safe.send)
        except Refused as no:
            if not safe.started:
                answer = refusal(no.status_code, no.message, no.remedy)
                answer.headers["connection"] = "close"  # whatever else is sent is not read
                await answer(scope, receive, safe.send)

    def admitted(self, scope: Scope) -> str:
        """The path below the token. Refused says why there is none."""
        headers = _Headers(scope["headers"])
        host = headers.only("host")
        if host not in self.hosts:
            raise Refused(403, "this server answers on its own machine only", "open the address that it has printed")
        path = self._below_token(scope)
        if scope["method"] not in METHODS:
            raise Refused(405, f"{scope['method']} is not known here")
        origins = headers.all("origin")
        if any(origin != f"http://{host}" for origin in origins) or len(origins) > 1:
            raise Refused(403, "another site has sent this", "open the address that the server has printed")
        site, mode = headers.only("sec-fetch-site"), headers.only("sec-fetch-mode")
        if site in ("cross-site", "same-site") and mode != "navigate":
            raise Refused(403, "another site has sent this", "open the address that the server has printed")
        if scope["method"] == "POST":
            self._may_change(headers, bool(origins))
        return path

    @property
    def hosts(self) -> tuple[str, str]:
        return (f"127.0.0.1:{self.port}", f"localhost:{self.port}")

    def _below_token(self, scope: Scope) -> str:
        path = str(scope["path"])
        raw = bytes(scope.get("raw_path") or b"").lower()
        first, slash, rest = path.removeprefix("/").partition("/")
        # The comparison takes as long for a guess that is nearly right as for any other.
        known = secrets.compare_digest(first.encode("utf-8", "replace"), self.token.encode())
        if not known or not slash:
            raise Refused(403, "the token is missing, or wrong", "open the address that the server has printed")
        odd = any(ord(c) < 32 or c == "\\" for c in rest) or b"%2f" in raw or b"%5c" in raw
        if odd or any(part in ("..", ".") for part in rest.split("/")):
            raise Refused(404, "there is nothing of that name")
        return f"/{rest}"

    def _may_change(self, headers: "_Headers", from_origin: bool) -> None:
        if self.read_only:
            raise Refused(403, "this page only shows", "start it without --read-only to change the file")
        if not from_origin or headers.only("sec-fetch-site") not in ("", "same-origin"):
            raise Refused(403, "this was not sent by the page itself", "open the address that the server has printed")
        if headers.only("content-type").partition(";")[0].strip().lower() != "application/json":
            raise Refused(415, "only JSON is read here")
        length = headers.only("content-length")
        if length and not (length.isascii() and length.isdigit() and int(length[:20]) <= MOST_BODY):
            raise Refused(413, f"more than {MOST_BODY} bytes are not read")


class _Headers:
    def __init__(self, pairs: Iterable[tuple[bytes, bytes]]) -> None:
        self._pairs = [(name.decode("latin-1").lower(), value.decode("latin-1")) for name, value in pairs]

    def all(self, name: str) -> list[str]:
        return [value for key, value in self._pairs if key == name]

    def only(self, name: str) -> str:
        """The header's one value; empty if it is missing. Refused if it is there twice."""
        values = self.all(name)
        if len(values) > 1:
            raise Refused(400, f"{name} is there more than once")
        return values[0].strip() if values else ""


class _Body:
    """Counts what is read of a body, whatever its length was said to be."""

    def __init__(self, receive: Receive) -> None:
        self._receive = receive
        self._read = 0

    async def receive(self) -> Message:
        message = await self._receive()
        if message["type"] == "http.request":
            self._read += len(message.get("body", b""))
            if self._read > MOST_BODY:
                raise Refused(413, f"more than {MOST_BODY} bytes are not read")
        return message


class _Safe:
    """Sets the headers that every answer has; an answer may have a policy of its own."""

    def __init__(self, send: Send) -> None:
        self._send = send
        self.started = False

    async def send(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            self.started = True
            own = list(message.get("headers", []))
            have = {name.lower() for name, _ in own}
            more = [(name.encode(), value.encode()) for name, value in HEADERS.items() if name.encode() not in have]
            message = {**message, "headers": own + more}
        await self._send(message)
