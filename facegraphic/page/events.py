"""What the page is told as it happens: server-sent events, as the HTML standard has them, to a few streams at most."""

import asyncio
import contextlib
import json
from collections.abc import Iterator, Mapping
from typing import Any

from starlette.types import Receive, Scope, Send

from facegraphic.page.answers import refusal

MOST_STREAMS = 24
MOST_WAITING = 256  # events that a reader may lie behind before it is dropped
HEARTBEAT = 15.0  # s
Queue = asyncio.Queue[bytes | None]


class Hub:
    """Hands every event to all streams. Told from any thread once `loop` is known."""

    def __init__(self) -> None:
        self.loop: asyncio.AbstractEventLoop | None = None
        self._queues: set[Queue] = set()
        self._closed = False

    @contextlib.contextmanager
    def seat(self) -> Iterator[Queue | None]:
        """A stream's queue of its own; None where all seats are taken."""
        if self._closed or len(self._queues) >= MOST_STREAMS:
            yield None
            return
        queue: Queue = asyncio.Queue(MOST_WAITING)
        self._queues.add(queue)
        try:
            yield queue
        finally:
            self._queues.discard(queue)

    def tell(self, event: str, data: Mapping[str, Any]) -> None:
        line = f"event: {event}\ndata: {json.dumps(data, ensure_ascii=False)}\n\n".encode()
        self._from_anywhere(line)

    def close(self) -> None:
        """End all streams, and let no other in."""
        self._closed = True
        self._from_anywhere(None)

    def _from_anywhere(self, line: bytes | None) -> None:
        if self.loop is not None:
            with contextlib.suppress(RuntimeError):  # the loop may have ended meanwhile
                self.loop.call_soon_threadsafe(self._spread, line)

    def _spread(self, line: bytes | None) -> None:
        for queue in tuple(self._queues):
            if line is None or queue.full():
                # A reader that does not read is let go; a living one comes again and asks for the whole state.
                while not queue.empty():
                    queue.get_nowait()
                queue.put_nowait(None)
                self._queues.discard(queue)
            else:
                queue.put_nowait(line)


class EventStream:
    """The ASGI endpoint of one stream."""

    def __init__(self, hub: Hub) -> None:
        self.hub = hub

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        with self.hub.seat() as queue:
            if queue is None:
                await refusal(503, "too many pages are open on this server", "close some of them")(scope, receive, send)
                return
            headers = [(b"content-type", b"text/event-stream; charset=utf-8")]
            await send({"type": "http.response.start", "status": 200, "headers": headers})
            gone = asyncio.create_task(_until_gone(receive))
            try:
                await _pour(queue, send, gone)
            finally:
                gone.cancel()


async def _until_gone(receive: Receive) -> None:
    while (await receive())["type"] != "http.disconnect":
        pass


async def _pour(queue: Queue, send: Send, gone: "asyncio.Task[None]") -> None:
    line: bytes | None = b"retry: 1000\n\n"
    while line is not None and not gone.done():
        await send({"type": "http.response.body", "body": line, "more_body": True})
        waiting = asyncio.create_task(queue.get())
        done, _ = await asyncio.wait({waiting, gone}, timeout=HEARTBEAT, return_when=asyncio.FIRST_COMPLETED)
        if waiting in done:
            line = waiting.result()
        else:
            waiting.cancel()
            line = b": still here\n\n"
    if not gone.done():
        await send({"type": "http.response.body", "body": b"", "more_body": False})
