"""What the server answers to which path, below the token."""

import json
import re
from collections.abc import Callable
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from facegraphic.errors import UserError
from facegraphic.job.edit import SETTINGS
from facegraphic.job.saving import ChangedMeanwhile
from facegraphic.page.answers import png, refusal, refused
from facegraphic.page.apart import apart
from facegraphic.page.bench import Bench
from facegraphic.page.desk import Desk
from facegraphic.page.drawing import face_picture, known_side, model_json, preview_picture, sheet_picture
from facegraphic.page.events import EventStream, Hub
from facegraphic.page.following import Follower
from facegraphic.page.guard import Refused
from facegraphic.page.made import made_response
from facegraphic.page.record import jobs_record, state_record
from facegraphic.page.state import Change

KINDS = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".ico": "image/x-icon",
    ".woff2": "font/woff2",
}
_NUMBER = re.compile("[0-9]{1,3}")
# Where the page's own files lie in the package, the first that has one.
WEB = (("facegraphic.page", "web"), ("facegraphic.output", "web"))


@dataclass(frozen=True)
class Room:
    """What all answers are made from."""

    desk: Desk
    hub: Hub
    follower: Follower
    read_only: bool = False


def application(room: Room) -> Starlette:
    """The application behind the guard."""
    answers = _Answers(room)
    routes = [
        Route("/", answers.index),
        Route("/web/{name}", answers.web),
        Route("/jobs", answers.jobs),
        Route("/events", EventStream(room.hub)),
        Route("/job/{job}", answers.job),
        Route("/job/{job}/face/{side}.png", answers.face),
        Route("/job/{job}/sheet/{number:int}.png", answers.sheet),
        Route("/job/{job}/preview.png", answers.preview),
        Route("/job/{job}/model", answers.model),
        Route("/job/{job}/made/{name}", answers.made),
        Route("/job/{job}/nudge", answers.nudge, methods=["POST"]),
        Route("/job/{job}/set", answers.set, methods=["POST"]),
        Route("/job/{job}/undo", answers.undo, methods=["POST"]),
        Route("/job/{job}/redo", answers.redo, methods=["POST"]),
        Route("/job/{job}/make", answers.make, methods=["POST"]),
    ]
    handlers: Any = {HTTPException: _told, UserError: _wrong, Exception: _fault}
    return Starlette(routes=routes, exception_handlers=handlers)


async def _told(request: Request, error: HTTPException) -> Response:
    if isinstance(error, Refused):
        answer = refusal(error.status_code, error.message, error.remedy)
        if error.status_code == 413:
            answer.headers["connection"] = "close"  # whatever else is sent is not read
        return answer
    return refusal(error.status_code, str(error.detail))


async def _wrong(request: Request, error: UserError) -> Response:
    return refused(409 if isinstance(error, ChangedMeanwhile) else 400, error)


async def _fault(request: Request, error: Exception) -> Response:
    return refusal(500, f"facegraphic has a fault: {type(error).__name__}", "this is not your doing; please report it")


class _Answers:
    def __init__(self, room: Room) -> None:
        self.room = room

    async def bench(self, request: Request) -> Bench:
        """The job that is asked for, its file read."""
        bench = self.room.desk.bench(request.path_params["job"])
        if bench is None:
            raise Refused(404, "there is no such job", "reload the page")
        if bench.state.version == 0:  # many jobs are read one after another; this one is wanted first
            await self.room.follower.look(bench)
        return bench

    async def index(self, request: Request) -> Response:
        return _packaged("index.html")

    async def web(self, request: Request) -> Response:
        return _packaged(request.path_params["name"])

    async def jobs(self, request: Request) -> Response:
        return JSONResponse(jobs_record(self.room.desk.benches, self.room.read_only))

    async def job(self, request: Request) -> Response:
        bench = await self.bench(request)
        return JSONResponse(await apart(state_record, bench, bench.state))

    async def face(self, request: Request) -> Response:
        bench, side = await self.bench(request), known_side(request.path_params["side"])
        asked = request.query_params.get("coat")
        if side is None or (asked is not None and not _NUMBER.fullmatch(asked)):
            return _picture(None)
        return _picture(await apart(face_picture, bench, side, None if asked is None else int(asked)))

    async def preview(self, request: Request) -> Response:
        return _picture(await apart(preview_picture, await self.bench(request)))

    async def model(self, request: Request) -> Response:
        data = await apart(model_json, await self.bench(request))
        if data is None:
            raise Refused(404, "there is nothing to show yet", "mend the job file first")
        return Response(data, media_type="application/json")

    async def sheet(self, request: Request) -> Response:
        return _picture(await apart(sheet_picture, await self.bench(request), request.path_params["number"]))

    async def made(self, request: Request) -> Response:
        return made_response((await self.bench(request)).folder, request.path_params["name"])

    async def nudge(self, request: Request) -> Response:
        bench, asked = await self.bench(request), await _json(request)
        side, key, to = asked.get("side"), asked.get("key"), _two_lengths(asked.get("nudge"))
        if not isinstance(side, str) or not isinstance(key, str) or to is None:
            raise Refused(400, "a nudge has a side, a key, and two lengths", 'as in "nudge": [0.5, -1]')
        return self.changed(bench, await apart(bench.nudge, side, key, to))

    async def set(self, request: Request) -> Response:
        bench, asked = await self.bench(request), await _json(request)
        known = ", ".join(SETTINGS)
        if not asked or not all(name in SETTINGS and isinstance(value, str) for name, value in asked.items()):
            raise Refused(400, "this cannot be set here", f"known are, with texts: {known}")
        return self.changed(bench, await apart(bench.set, asked))

    async def undo(self, request: Request) -> Response:
        bench = await self.bench(request)
        return await self._stepped(bench, bench.undo, request)

    async def redo(self, request: Request) -> Response:
        bench = await self.bench(request)
        return await self._stepped(bench, bench.redo, request)

    async def _stepped(self, bench: Bench, step: Callable[[], Change], request: Request) -> Response:
        await _json(request)
        return self.changed(bench, await apart(step))

    async def make(self, request: Request) -> Response:
        bench = await self.bench(request)
        await _json(request)
        if not self.room.follower.make(bench):
            raise Refused(409, "it is being made already", "wait for it")
        return JSONResponse({}, 202)

    def changed(self, bench: Bench, change: Change) -> Response:
        self.room.follower.changed(bench, change)
        return JSONResponse({"version": change.version})


async def _json(request: Request) -> dict[str, Any]:
    """A request's JSON object. Refused for anything else."""
    try:
        read = json.loads(await request.body() or b"{}")
    except (ValueError, RecursionError):
        raise Refused(400, "this is not JSON") from None
    if not isinstance(read, dict):
        raise Refused(400, "a JSON object is wanted")
    return read


def _two_lengths(value: object) -> tuple[float, float] | None:
    if not isinstance(value, list) or len(value) != 2:
        return None
    numbers = [one for one in value if isinstance(one, int | float) and not isinstance(one, bool) and abs(one) < 1e6]
    return (float(numbers[0]), float(numbers[1])) if len(numbers) == 2 else None


def _picture(data: bytes | None) -> Response:
    if data is None:
        raise Refused(404, "there is no such picture", "reload the page")
    return png(data)


def _packaged(name: str) -> Response:
    """One of the page's own files, from the package."""
    kind = KINDS.get(name[name.rfind(".") :])
    if kind is None or "/" in name or name.startswith("."):
        raise Refused(404, "there is nothing of that name")
    for package, folder in WEB:
        place = files(package).joinpath(folder).joinpath(name)
        if place.is_file():
            return Response(place.read_bytes(), media_type=kind)
    raise Refused(404, "there is nothing of that name")
