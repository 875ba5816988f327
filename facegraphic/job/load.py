"""Load a job file and everything it names into a `Job`, or raise UserError with all that is wrong with it."""

from dataclasses import replace
from hashlib import sha256
from pathlib import Path

from facegraphic.errors import Problem, UserError
from facegraphic.job.board import read_board
from facegraphic.job.coats import read_coats
from facegraphic.job.faces import read_faces
from facegraphic.job.files import Files
from facegraphic.job.finish import read_finish
from facegraphic.job.model import Job
from facegraphic.job.parsing import parsed
from facegraphic.job.reader import LONGEST_LABEL, REQUIRED, Table, shown
from facegraphic.job.reading import read_file
from facegraphic.job.sheet import read_sheet
from facegraphic.job.shown import read_shown
from facegraphic.stock.faces import face_outline
from facegraphic.stock.limits import limit
from facegraphic.stock.tables import BoxSize, boxes

MOST_BYTES = limit("job-bytes")
LONGEST_SIDE = limit("box-side")
OF_A_FACE = {"hole", "control", "text", "line", "frame", "art"}  # lists of tables
DEFAULT_PAINT = "#c8c8c8"  # bare die-cast metal, near enough


def load_job(path: Path) -> Job:
    """Read a job file. UserError names every problem: file, line, key, value seen, nearest valid name."""
    data = _read_job(path)
    job = read_job(job_text(data, path.name), path)
    return replace(job, read=((str(path), sha256(data).hexdigest()), *job.read))


def read_job(text: str, path: Path, files: Files | None = None) -> Job:
    """Read a job from the text of the file at `path`, which need not be there yet. UserError as above.

    `files` reads what it names, and knows after that what that was.
    """
    name = path.name
    data, notes = parsed(text, name)
    root = Table(notes, (), data)
    files = files or Files(path.parent)
    title = root.text("title", "", most=LONGEST_LABEL)
    fields = {
        "title": title,
        "maker": root.text("maker", "", most=LONGEST_LABEL),
        "revision": root.text("revision", "", most=LONGEST_LABEL),
    }
    box, paint = _box(root.table("box"), required=root)
    finish = read_finish(root.table("finish"), (root.table("tolerance"), root.table("limits")), files, paint)
    sheet = read_sheet(root.table("sheet"))
    board = read_board(root.table("board")) if root.has("board") else None
    seen = read_shown(root.table("preview"))
    fields |= {"box": box.name, "process": finish.film.name}
    layout = read_faces(root, box, finish, files, fields)
    coats = read_coats(root, layout.faces, files)
    _close(root)
    if notes.problems:
        raise UserError(sorted(notes.problems, key=lambda problem: (problem.file != name, problem.line or 0)))
    return Job(
        file=name,
        title=title,
        box=box,
        across=layout.across,
        deep=layout.deep,
        paint=paint,
        finish=finish,
        faces=layout.faces,
        sheet=sheet,
        coats=coats,
        board=board,
        shown=seen,
        read=tuple((str(path), hashed) for path, hashed in files.read.items()),
    )


def _close(root: Table) -> None:
    """Tell of keys that are not known; tables of a face that stand beside it are told where they belong."""
    for key in sorted(OF_A_FACE & root.data.keys()):
        root.problem(key, "this belongs to a face", f"write [[face.{key}]], below the [[face]] that it is on")
        root.known.add(key)
    root.close()


def _read_job(path: Path) -> bytes:
    """A job's bytes; UserError. A name without .toml, as `new` takes it, is told the file that lies there."""
    try:
        return read_file(path, MOST_BYTES)
    except UserError as error:
        whole = path.parent / f"{path.name}.toml"
        if path.exists() or not whole.is_file():
            raise
        raise UserError([replace(one, mend=f'did you mean "{whole}"?') for one in error.problems]) from None


def job_text(data: bytes, name: str) -> str:
    """The bytes of a job file as text, its lines ended alike. UserError if they are no text."""
    try:
        return data.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise UserError(Problem("the file is not UTF-8 text", "save it as UTF-8", name, line)) from None


def _box(table: Table, required: Table) -> tuple[BoxSize, str]:
    """The box, and its paint; a box that cannot be read stands in as a usual one so that the rest is checked."""
    if not required.has("box"):
        required.notes.add((), '"box" is missing', 'add [box] with stock = "112x60x31" or size = [112.4, 60.5, 31.0]')
    paint = table.colour("paint", DEFAULT_PAINT)
    table.choice("orientation", "auto", ("auto", "landscape", "portrait"))
    stand_in = next(iter(boxes().values()))
    if table.has("stock") and table.has("size"):
        table.problem("size", "both stock and size are given", "keep one of them")
    if not table.has("size") or table.has("stock"):
        name = table.choice("stock", REQUIRED if required.has("box") else stand_in.name, tuple(boxes()))
        box = boxes().get(name, stand_in)
    else:
        box = _custom_box(table) or stand_in
    if not table.has("size"):
        for key in ("corner", "edge", "draft", "lid", "wall", "post"):
            if table.has(key):
                table.problem(key, "a stock box has its own figure for this", "give size = [...] instead of stock")
    table.close()
    return box, paint


def _custom_box(table: Table) -> BoxSize | None:
    size = table.lengths("size", 3, low=5.0)
    corner, edge, lid = table.length("corner", 3.0), table.length("edge", 1.0), table.length("lid", 0.0)
    draft = table.number("draft", 0.0, 0.0, 15.0, "degrees")
    wall, post = table.length("wall", 2.0, low=0.1, high=50.0), table.length("post", 0.0, high=50.0)
    if size is None:
        return None
    if max(size) > LONGEST_SIDE:
        table.problem("size", f"{shown(list(size))}: a side is longer than {LONGEST_SIDE} mm", "give its size in mm")
        return None
    name = "x".join(f"{length:.0f}" for length in size)
    box = BoxSize(name, size, draft, edge, corner, lid, wall, source="the job file", post=post)
    try:
        for side in ("top", "front", "left"):
            face_outline(box, side, size[0], size[1])
    except ValueError as error:
        table.problem("size", f"{shown(list(size))}: {error}", "check size, draft, lid, edge and corner")
        return None
    return box
