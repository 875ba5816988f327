"""Files of masks and plugs, read back by programs that we didn't write: ezdxf, svgelements, pdfium."""

import io
import json
import math
from functools import cache
from itertools import pairwise
from pathlib import Path

import ezdxf
import pytest
import shapely
from eyes import pdf_pages_mm
from ezdxf.path import make_path
from helpers.jobs import lay
from helpers.runs import run_here
from samples import FOLDER
from shapely.geometry.base import BaseGeometry
from svgelements import SVG, Close
from svgelements import Path as SvgPath

from facegraphic.film.sheet_marks import draw_note
from facegraphic.geometry.path import Box
from facegraphic.masks.cut import CutMask
from facegraphic.masks.drawn import mask_piece
from facegraphic.masks.plugs import MOST_PAST, WHY_BARE
from facegraphic.masks.spraying import CAUTION
from facegraphic.pipeline.making import make
from facegraphic.pipeline.preparing import Prepared, Wishes, prepare
from facegraphic.scene.scene import Fill

EXAMPLE = FOLDER / "drift-line.toml"
# A face of 120 × 60 mm without draft or rounded edges, with a ring, a band over two faces, and a stencil.
JOB = """\
[box]
size = [120, 60, 30]
corner = 0
edge = 0
draft = 0
[[face]]
side = "top"
hole = [{{ id = "a", at = [-40, 20], d = 7.5 }}, {{ id = "b", at = [40, 20], d = 7.5 }}]
[[face]]
side = "front"
[[coat]]
paint = "#305070"
{coat}
"""
BAND = '[[coat.shape]]\nshape = "band"\nangle = 90\nwidth = 20\n'


@cache
def made(path: Path) -> tuple[Prepared, dict[str, bytes]]:
    wishes = Wishes(("svg", "pdf"), ("masks", "steps"))
    prepared = prepare(path, wishes)
    return prepared, make(prepared, wishes)


def job_with(folder: Path, coat: str) -> tuple[Prepared, dict[str, bytes]]:
    return made(lay(folder, JOB.format(coat=coat)))


def svg_region(data: bytes) -> BaseGeometry:
    """The region inside an SVG's closed paths, even-odd, in mm; ValueError for what is open or crosses itself."""
    rings = []
    for element in SVG.parse(io.BytesIO(data), reify=False).elements():
        if isinstance(element, SvgPath):
            for part in element.as_subpaths():
                path = SvgPath(part)
                if not isinstance(path[-1], Close):
                    raise ValueError("open")
                points = [path[0].end]
                for segment in path[1:]:
                    count = 1 if type(segment).__name__ in ("Line", "Close") else 24
                    points += [segment.point(step / count) for step in range(1, count + 1)]
                rings.append([(float(at.x), float(at.y)) for at in points])
    return even_odd(rings)


def dxf_region(data: bytes) -> BaseGeometry:
    """The region inside a DXF's closed lines, even-odd; ValueError for what is open."""
    document = ezdxf.read(io.StringIO(data.decode("utf-8")))
    assert document.header["$INSUNITS"] == 4  # millimetres (DXF reference)
    rings = []
    for entity in document.modelspace():
        path = make_path(entity)
        if not path.is_closed:
            raise ValueError("open")
        rings.append([(at.x, at.y) for at in path.flattening(0.002)])
    return even_odd(rings)


def even_odd(rings: list[list[tuple[float, float]]]) -> BaseGeometry:
    area: BaseGeometry = shapely.Polygon()
    for ring in rings:
        if not shapely.LinearRing(ring).is_simple:
            raise ValueError("crosses itself")
        area = area.symmetric_difference(shapely.Polygon(ring))
    return area


def masks_of(prepared: Prepared) -> dict[str, CutMask]:
    return {mask.stem: mask for mask in prepared.masks}


def test_the_example_makes_the_files_it_should() -> None:
    prepared, files = made(EXAMPLE)
    assert set(masks_of(prepared)) == {"mask-top-3", "mask-top-4"}
    stems = ("mask-top-3", "mask-top-4", "plugs")
    wanted = {f"{stem}.{kind}" for stem in stems for kind in ("svg", "dxf", "pdf")}
    assert wanted | {"mask-sheet-1.pdf", "mask-sheet-2.pdf", "steps.md", "report.json"} == set(files)
    listed = {output["file"]: output for output in json.loads(files["report.json"])["outputs"]}
    assert set(files) - {"report.json"} == set(listed)
    assert listed["mask-top-3.svg"]["kind"] == "mask"
    assert listed["mask-sheet-1.pdf"]["size_mm"] == [210, 297]
    assert {output["mirrored"] for output in listed.values()} == {False}


def test_cut_files_hold_the_masks_outlines_and_nothing_else() -> None:
    prepared, files = made(EXAMPLE)
    for stem, mask in masks_of(prepared).items():
        for read, kind in ((svg_region, "svg"), (dxf_region, "dxf")):
            region = read(files[f"{stem}.{kind}"])
            assert region.area == pytest.approx(mask.material.area, rel=1e-3)
        assert b"<text" not in files[f"{stem}.svg"]
        assert b'fill="none"' in files[f"{stem}.svg"]
        # A DXF keeps the face's own places.
        assert dxf_region(files[f"{stem}.dxf"]).symmetric_difference(mask.material).area < 0.05 * mask.material.length


def test_the_readers_reject_open_and_crossing_lines() -> None:
    head = '<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm" viewBox="0 0 9 9"><path d="{}"/></svg>'
    assert svg_region(head.format("M1 1h5v5h-5z").encode()).area == pytest.approx(25)
    for bad in ("M1 1h5v5h-5", "M1 1l5 5v-5l-5 5z"):
        with pytest.raises(ValueError, match=r"open|crosses"):
            svg_region(head.format(bad).encode())


def test_pages_have_true_size() -> None:
    prepared, files = made(EXAMPLE)
    for output in json.loads(files["report.json"])["outputs"]:
        if output["file"].endswith(".pdf"):
            [size] = pdf_pages_mm(files[output["file"]])
            assert size == pytest.approx(output["size_mm"], abs=0.01)
    for mask in prepared.masks:
        x0, y0, x1, y1 = mask.material.bounds
        [(width, height)] = pdf_pages_mm(files[f"{mask.stem}.pdf"])
        assert width >= x1 - x0
        assert height >= y1 - y0


def test_a_mask_goes_on_past_its_face_but_not_into_its_opening() -> None:
    prepared, _ = made(EXAMPLE)
    for mask in prepared.masks:
        face = shapely.union(mask.one.cover, mask.one.opening)
        assert mask.material.intersection(mask.opening).area < 1e-6
        x0, y0, x1, y1 = mask.material.bounds
        fx0, fy0, fx1, fy1 = face.bounds
        for reach in (fx0 - x0, fy0 - y0, x1 - fx1, y1 - fy1):
            assert reach == pytest.approx(mask.one.coat.overspray, abs=0.01)
        assert mask.material.geom_type == "Polygon"  # flaps hang on the mask
        assert not mask.loose


def test_paper_is_folded_in_corners_and_film_has_ears() -> None:
    prepared, _ = made(EXAMPLE)
    film, paper = masks_of(prepared)["mask-top-3"], masks_of(prepared)["mask-top-4"]
    corners = shapely.box(*paper.material.bounds)
    assert paper.material.union(paper.opening).area == pytest.approx(corners.area, rel=1e-6)
    diagonal = [line for line in paper.folds if min(abs(line[0][0] - line[1][0]), abs(line[0][1] - line[1][1])) > 1]
    assert len(diagonal) == 4
    assert film.material.union(film.opening).area < shapely.box(*film.material.bounds).area - 500


def test_neighbouring_masks_of_one_coat_lap_and_stay_open_together(tmp_path: Path) -> None:
    prepared, _ = job_with(tmp_path, BAND)
    masks = masks_of(prepared)
    assert set(masks) == {"mask-top-1", "mask-front-1"}
    strip = shapely.box(-10, -40, 10, -30.01)  # past the lower edge, where the band goes on to the front
    assert masks["mask-top-1"].material.intersection(strip).area < 1e-5
    beside = shapely.box(-59.99, -31.9, -10.1, -30.1)
    assert masks["mask-top-1"].material.contains(beside)
    assert masks["mask-top-1"].material.bounds[1] == pytest.approx(-32)  # two masks lap by 2 mm on a sharp edge


def test_a_loose_piece_is_numbered_and_weeded(tmp_path: Path) -> None:
    ring = '<svg xmlns="http://www.w3.org/2000/svg" width="30mm" height="30mm" viewBox="0 0 30 30">{}</svg>'
    drawn = ring.format('<circle cx="15" cy="15" r="10" fill="none" stroke="#000" stroke-width="4"/>').encode()
    body = JOB.format(coat='side = "top"\nwhere = "ring.svg"\n')
    for kind, loose in (("adhesive", 1), ("paper", 1), ("stencil", 0)):
        job = body.replace('where = "ring', f'mask = "{kind}"\nwhere = "ring')
        prepared, _ = made(lay(tmp_path / kind, job, {"ring.svg": drawn}))
        [mask] = prepared.masks
        assert len(mask.loose) == loose
        [weed] = mask.weeds or [((0, 0), (0, 0))]
        assert math.dist(*weed) == pytest.approx(4.0 if loose else 0.0, abs=0.02)
        assert len(shapely.get_parts(mask.material)) == 1 + loose
        assert bool(mask.bridges) is (kind == "stencil")


def test_a_mask_is_lined_up_by_its_holes_or_else_at_its_edges(tmp_path: Path) -> None:
    over, _ = job_with(tmp_path / "a", f'side = "top"\n{BAND}')
    [mask] = over.masks
    assert {at for at, _ in mask.crosses} == {(-40, 20), (40, 20)}
    assert mask.marks == ()
    right, _ = job_with(
        tmp_path / "b", 'side = "top"\n[[coat.shape]]\nshape = "rectangle"\nat = [35, 0]\nsize = [50, 60]'
    )
    [mask] = right.masks
    assert len(mask.crosses) == 1
    middles = {tuple(round((a + b) / 2) for a, b in zip(*line, strict=True)) for line in mask.marks}
    assert len(middles) == 4


def test_every_hole_is_on_a_masks_page_dark_under_the_mask_and_faint_in_openings() -> None:
    prepared, _ = made(EXAMPLE)
    holes = {(hole.x, hole.y) for layout in prepared.layouts for hole in layout.face.holes if layout.face.side == "top"}
    mask = masks_of(prepared)["mask-top-4"]
    assert {at for at, _ in (*mask.crosses, *mask.plugged)} == holes
    assert {at for at, _ in mask.plugged} == {(0, -1), (0, -37), (0, -21)}  # band and disc reach over the lamp's edge
    crosses = next(item for item in mask_piece(mask, 5).group.items if getattr(item, "id", "") == "mask-top-4-crosses")
    inks = {item.ink for item in crosses.items if item.path.bounds.width > 2}  # type: ignore[union-attr]
    assert inks == {"#000000", "#8a8a8a"}


def test_a_coat_over_everything_needs_no_mask_but_plugs(tmp_path: Path) -> None:
    prepared, files = job_with(tmp_path, "")
    assert prepared.masks == ()
    assert {plug.hole.id for plug in prepared.plugs} == {"a", "b"}
    assert {"plugs.svg", "plugs.dxf", "plugs.pdf", "mask-sheet-1.pdf"} <= set(files)
    assert "No mask but the plugs" in files["steps.md"].decode("utf-8")


def test_plugs_cover_holes_and_stay_under_what_hides_them() -> None:
    """A dot covers all of its hole and nothing that nut, washer or rim leave to be seen (plain geometry)."""
    prepared, files = made(EXAMPLE)
    holes = {(layout.face.side, hole.id) for layout in prepared.layouts for hole in layout.face.holes}
    assert {(plug.side, plug.hole.id) for plug in prepared.plugs} == holes
    controls = {(layout.face.side, c.hole): c for layout in prepared.layouts for c in layout.face.controls}
    for plug in prepared.plugs:
        assert plug.diameter >= plug.hole.d
        part = controls[plug.side, plug.hole.id].part
        assert part is not None
        if not plug.inside:
            assert plug.diameter < max(part.hides, plug.hole.d + 0.01)
        if not plug.why:
            assert plug.diameter <= plug.hole.d + 2 * MOST_PAST
    region = svg_region(files["plugs.svg"])
    discs = sum(math.pi * (plug.diameter / 2) ** 2 for plug in prepared.plugs)
    assert region.area == pytest.approx(discs, rel=2e-3)
    assert len(shapely.get_parts(region)) == len(prepared.plugs)


def test_one_socket_stays_bare_outside_and_inside_with_the_reason() -> None:
    prepared, files = made(EXAMPLE)
    bare = [plug for plug in prepared.plugs if plug.why]
    assert [(plug.side, plug.hole.id, plug.inside) for plug in bare] == [("back", "in", False), ("back", "in", True)]
    assert WHY_BARE in files["steps.md"].decode("utf-8")


def test_the_steps_tell_the_spraying_order_and_leave_times_to_the_label() -> None:
    text = made(EXAMPLE)[1]["steps.md"].decode("utf-8")
    section = text.split("## Spray the coats")[1].split("## Steps")[0]
    order = ["Primer", "#ece3cc", "#2f6170", "#b5452a", "Clear coat"]
    places = [section.index(f"{number}. **{name}") for number, name in enumerate(order, 1)]
    assert places == sorted(places)
    assert "label says" in section
    assert "respirator" in text
    assert "Caution" in section


def test_with_coats_the_steps_paint_once_and_give_no_times_of_their_own() -> None:
    text = made(EXAMPLE)[1]["steps.md"].decode("utf-8")
    painting = text.split("### 3. Sand, wash, paint")[1].split("- **Check")[0]
    assert "Spray the coats as told under" in painting
    assert "minutes apart" not in painting
    assert "#c9ccca" not in text  # the bare box's colour is nobody's paint here
    [clear] = [line for line in text.splitlines() if line.startswith("5. **Clear coat**")]
    number = next(line for line in text.splitlines() if line.startswith("### ") and "Clear coat" in line)[4:].split(
        "."
    )[0]
    assert clear.endswith(f"spray it at step {number}.")
    assert "a band and a circle" in text


def test_masks_that_a_job_has_no_more_are_taken_away(tmp_path: Path) -> None:
    """They would be cut with the others; other files of the folder stay."""
    out = tmp_path / "out"
    body = JOB.format(coat=BAND)
    assert run_here("make", lay(tmp_path, body), "--only", "art,masks", "--out", out).status == 0
    (out / "mask-notes.txt").write_text("mine")
    assert (out / "mask-top-1.dxf").exists()
    bare = lay(tmp_path, body.split("[[coat]]")[0])
    assert run_here("make", bare, "--only", "art", "--out", out).status == 0
    assert run_here("make", lay(tmp_path, body), "--only", "art,masks", "--out", out).status == 0
    assert (out / "mask-top-1.dxf").exists()
    bare = lay(tmp_path, body.split("[[coat]]")[0])
    assert run_here("make", bare, "--only", "art,masks", "--out", out).status == 0
    assert [path.name for path in out.iterdir() if path.name.startswith(("mask", "plugs"))] == ["mask-notes.txt"]
    assert (out / "top-art.svg").exists()


@pytest.mark.parametrize(("width", "coats"), [(35, 3), (35, 12), (120, 24)])
def test_the_note_on_a_masks_page_keeps_its_lines_apart(width: float, coats: int) -> None:
    """Ink of one line never meets that of the next, and nothing leaves the page."""
    order = "Spraying order: " + " · ".join(f"{n} #a0b0c{n % 10}, a band and 2 circles" for n in range(1, coats + 1))
    said = ("DRIFT LINE · paint masks", order, "Print at 100 %. The bar must measure 100 mm.", CAUTION)
    room = Box(0, 0, max(width, 98), 21)
    lines = [item for item in draw_note(said, room, (90.0,)).items if getattr(item, "id", "").startswith("note-")]
    boxes = [line.path.bounds for line in lines if isinstance(line, Fill)]
    assert len(boxes) >= 4
    for above, below in pairwise(boxes):
        assert above.y0 > below.y1
    assert all(box.x0 >= -0.01 and box.x1 <= room.width + 0.01 for box in boxes)
    assert min(box.height for box in boxes) > 1.0


def test_the_steps_name_the_paints_of_the_coats_and_not_of_the_bare_box(tmp_path: Path) -> None:
    text = made(EXAMPLE)[1]["steps.md"].decode("utf-8")
    needs = text.split("## You need")[1].split("## Spray the coats")[0]
    for need in ("primer #8d9093", "#ece3cc", "#2f6170", "#b5452a", "clear coat", "adhesive mask film", "paper"):
        assert need in needs
    assert "stencil" not in needs
    assert "#c9ccca" not in text
    for process in ("waterslide-clear", "toner-transfer", "adhesive-label", "toner-resist", "service-print"):
        head = f'[finish]\nprocess = "{process}"\n[box]\npaint = "#123456"\n'
        bare = JOB.format(coat="").replace("[box]\n", head).split("[[coat]]")[0]
        texts = []
        for name, job in (("bare", bare), ("sprayed", bare + '[[coat]]\npaint = "#305070"\n')):
            texts.append(made(lay(tmp_path / process / name, job))[1]["steps.md"].decode("utf-8"))
        assert "Spray the coats as told" not in texts[0]
        assert "#305070" in texts[1]
        assert "#123456" not in texts[1]


def test_formats_and_kinds_are_those_asked_for(tmp_path: Path) -> None:
    job = lay(tmp_path, JOB.format(coat=BAND))
    for kind, endings in (("svg", {"svg", "dxf"}), ("pdf", {"pdf"}), ("png", {"png"})):
        out = tmp_path / kind
        ran = run_here("make", job, "--only", "masks", "--format", kind, "--out", out, "--dpi", "100")
        assert ran.status == 0, ran.err
        assert {path.suffix[1:] for path in out.iterdir()} - {"json"} == endings
    out = tmp_path / "art"
    assert run_here("make", job, "--only", "art", "--format", "svg", "--out", out).status == 0
    assert not [path for path in out.iterdir() if "mask" in path.name]
