"""Files that were made, as the page links to them: each in a world of its own, apart from the page."""

import mimetypes
from pathlib import Path

from starlette.responses import Response

from facegraphic.page.guard import Refused
from facegraphic.page.record import made_file

# A preview carries its own script and pictures in it; sandboxed, it has no part in the page's address or token.
APART = (
    "sandbox allow-scripts; default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; "
    "img-src data: blob:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
STILL = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; object-src 'self'; frame-ancestors 'none'"
TEXTS = {".md": "text/plain; charset=utf-8", ".dxf": "text/plain; charset=utf-8"}


def made_response(folder: Path, name: str) -> Response:
    """A file of the folder of made files. Refused if there is none of that plain name in it."""
    path = made_file(folder, name)
    if path is None:
        raise Refused(404, "there is no such file", "make the job again")
    try:
        data = path.read_bytes()
    except OSError:
        raise Refused(404, "there is no such file", "make the job again") from None
    kind = TEXTS.get(path.suffix) or mimetypes.guess_type(name)[0] or "application/octet-stream"
    policy = APART if path.suffix in (".html", ".svg") else STILL
    return Response(data, media_type=kind, headers={"content-security-policy": policy})
