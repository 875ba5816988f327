"""The server itself: on this machine's own address only, until it is stopped."""

import asyncio
import contextlib
import logging
import os
import secrets
import socket
import sys
from collections.abc import Callable
from dataclasses import dataclass
from types import FrameType

import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

from facegraphic.errors import Problem, UserError
from facegraphic.page.apart import any_left, wait_for_writing
from facegraphic.page.desk import Desk
from facegraphic.page.events import Hub
from facegraphic.page.following import Follower
from facegraphic.page.guard import Guard
from facegraphic.page.routes import Room, application

HOST = "127.0.0.1"
PORT = 8417
TRIES = 40  # ports, from the one asked for
MOST_CONNECTIONS = 400
PATIENCE = 0.4  # s that running answers get to end
ASKING = 5.0  # s within which whoever connects has to ask for something


@dataclass(frozen=True)
class Listening:
    """A socket that listens, its port, and whether that is another than was asked for."""

    socket: socket.socket
    port: int
    moved: bool

    def address(self, token: str) -> str:
        return f"http://{HOST}:{self.port}/{token}/"


def listen(port: int) -> Listening:
    """Listen on a port, or on the next one that is free (0: on any). UserError if none is."""
    for number in range(port, min(port + TRIES, 65536)) if port else (0,):
        found = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        try:
            if os.name != "nt":  # elsewhere this would let two servers share a port
                found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            found.bind((HOST, number))
            found.listen(256)
        except OSError:
            found.close()
            continue
        found.setblocking(False)
        own = int(found.getsockname()[1])
        return Listening(found, own, bool(port) and own != port)
    raise UserError(Problem(f"no port from {port} on is free", "name another with --port"))


def new_token() -> str:
    return secrets.token_urlsafe(24)


def serve(desk: Desk, listening: Listening, token: str, read_only: bool, ready: Callable[[], None]) -> None:
    """Serve until the program is told to stop (Ctrl-C, SIGTERM); `ready` is called when it answers."""
    asyncio.run(_serve(desk, listening, token, read_only, ready))


def leave() -> None:
    """End the program where something is still being worked out, since nobody is left to see it."""
    wait_for_writing()
    if any_left():
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(0)


async def _serve(desk: Desk, listening: Listening, token: str, read_only: bool, ready: Callable[[], None]) -> None:
    hub = Hub()
    hub.loop = asyncio.get_running_loop()
    follower = Follower(desk, hub)
    app = Guard(application(Room(desk, hub, follower, read_only)), token, listening.port, read_only)
    config = uvicorn.Config(
        app,
        http=_Prompt,
        log_config=None,
        log_level=logging.CRITICAL + 1,  # answers that the end cuts off are no faults
        access_log=False,
        lifespan="off",
        server_header=False,
        proxy_headers=False,
        ws="none",
        timeout_graceful_shutdown=1,
        limit_concurrency=MOST_CONNECTIONS,
    )
    server = _Server(config, hub)
    following = asyncio.create_task(follower.follow())
    ready()
    try:
        await server.serve(sockets=[listening.socket])
    finally:
        follower.stop()
        following.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await following


class _Prompt(H11Protocol):
    """Lets go of whoever connects and asks for nothing: there are so many lines, and these would shut the page out."""

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        self.loop.call_later(ASKING, self._late)

    def _late(self) -> None:
        if self.cycle is None and not self.transport.is_closing():
            self.transport.close()


class _Server(uvicorn.Server):
    """Ends its event streams when it is told to stop, and is then done, with nothing to complain of."""

    def __init__(self, config: uvicorn.Config, hub: Hub) -> None:
        super().__init__(config)
        self.hub = hub

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        self.should_exit = True
        self.hub.close()
        if self.hub.loop is not None:
            self.hub.loop.call_soon_threadsafe(self.hub.loop.call_later, PATIENCE, self._hurry)

    def _hurry(self) -> None:
        self.force_exit = True
