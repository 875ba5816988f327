"""The pictures of a job as it is shown."""

from facegraphic.page.bench import Bench
from facegraphic.page.pictures import face_png, sheet_png
from facegraphic.stock.faces import Side


def face_picture(bench: Bench, side: str) -> bytes | None:
    """A face as PNG; None if the job has no such face."""
    shown = bench.state.shown
    if shown is None:
        return None
    layout = next((layout for layout in shown.prepared.layouts if layout.face.side == side), None)
    if layout is None:
        return None
    return bench.pictures.get(f"face {side}", shown.stamps[layout.face.side], lambda: face_png(shown.prepared, layout))


def draw_faces(bench: Bench) -> None:
    """Draw all faces that are not drawn yet."""
    shown = bench.state.shown
    sides: list[Side] = list(shown.stamps) if shown else []
    for side in sides:
        face_picture(bench, side)


def sheet_picture(bench: Bench, number: int) -> bytes | None:
    judged = bench.state.judged
    places = [(gang, n) for gang in judged.gangs for n in range(len(gang.pages))]
    if not 0 <= number < len(places):
        return None
    gang, page = places[number]
    return bench.pictures.get(f"sheet {number}", judged.version, lambda: sheet_png(gang, page))
