"""What the server answers with: JSON, pictures, and errors that say what to do."""

from typing import Any

from starlette.responses import JSONResponse, Response

from facegraphic.errors import Problem, UserError


def refusal(status: int, message: str, remedy: str = "") -> JSONResponse:
    return JSONResponse({"message": message, "remedy": remedy}, status)


def problem_record(problem: Problem) -> dict[str, Any]:
    return {
        "message": problem.what,
        "remedy": problem.mend,
        "file": problem.file,
        "key": problem.key,
        "line": problem.line,
    }


def refused(status: int, error: UserError) -> JSONResponse:
    """All that is wrong, the first of it also as the message."""
    first = error.problems[0]
    records = [problem_record(problem) for problem in error.problems]
    return JSONResponse({"message": first.what, "remedy": first.mend, "problems": records}, status)


def png(data: bytes) -> Response:
    return Response(data, media_type="image/png")
