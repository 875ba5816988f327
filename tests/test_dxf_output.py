"""DXF cut files, read back with ezdxf and, as SVG path data, with svgelements; shared edges cut once."""

import datetime
import io
import math

import ezdxf
import pytest
import shapely
import svgelements
from ezdxf import path as dxf_path
from ezdxf.lldxf.const import DXFError
from helpers.outlines import counters, font, framed, letter, nested
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from facegraphic.geometry.arcs import arc_lines
from facegraphic.geometry.fit_curves import fitted, node_count
from facegraphic.geometry.path import Box, Path
from facegraphic.geometry.regions import region
from facegraphic.geometry.shapes import disc, polygon, rectangle, rounded_rectangle
from facegraphic.masks.bridges import bridged
from facegraphic.output.dxf import dxf_bytes


def read(data: bytes) -> list[dxf_path.Path]:
    """What ezdxf reads, each entity as a path; the document must be sound, in mm, with cut lines only."""
    document = ezdxf.read(io.StringIO(data.decode("cp1252")))
    auditor = document.audit()
    assert (auditor.errors, auditor.fixes) == ([], [])
    assert document.header["$INSUNITS"] == 4
    assert document.dxfversion == "AC1015"
    entities = list(document.modelspace())
    assert {entity.dxftype() for entity in entities} <= {"LWPOLYLINE", "SPLINE"}
    assert {entity.dxf.layer for entity in entities} <= {"CUT"}
    return [dxf_path.make_path(entity) for entity in entities]


def lines(data: bytes) -> list[LineString]:
    """What it draws, flattened; to a hundredth of a micron, since arcs end where their bulge says."""
    found = []
    for path in read(data):
        points = [(round(p.x, 5), round(p.y, 5)) for p in path.flattening(0.0005)]
        if path.is_closed and math.dist(points[0], points[-1]) < 3e-5:
            points[-1] = points[0]
        found.append(LineString(points))
    return found


def filled(rings: list[LineString]) -> BaseGeometry:
    """The area within rings, even-odd."""
    area: BaseGeometry = Polygon()
    for ring in sorted(rings, key=lambda ring: -Polygon(ring).area):
        area = area.symmetric_difference(Polygon(ring))
    return area


def svg_path(path: dxf_path.Path) -> svgelements.Path:
    """An ezdxf path as svgelements reads it from path data."""
    text = [f"M{path.start.x},{path.start.y}"]
    for command in path.commands():
        points = [*(getattr(command, name) for name in ("ctrl1", "ctrl2") if hasattr(command, name)), command.end]
        text.append("LQC"[len(points) - 1] + " ".join(f"{p.x},{p.y}" for p in points))
    return svgelements.Path(" ".join(text))


def doubled(rings: list[LineString], reach: float = 0.02) -> float:
    """How much of the cut lines runs along another, or along itself, in mm."""
    total = 0.0
    for number, ring in enumerate(rings):
        for other in rings[number + 1 :]:
            runs = ring.intersection(other.buffer(reach))
            total += sum(part.length for part in shapely.get_parts(runs) if part.length > 6 * reach)
    return total


@pytest.mark.parametrize("curves", ["spline", "arcs"])
@pytest.mark.parametrize("character", "AB8@O%Ø&g")
def test_letters_read_back(character: str, curves: str) -> None:
    area = letter(font("dejavu"), character)
    path = fitted(area)
    data = dxf_bytes([path], curves=curves)  # type: ignore[arg-type]
    rings, entities = lines(data), read(data)
    assert len(rings) == len(shapely.get_parts(area)) + counters(area)
    assert all(entity.is_closed for entity in entities)
    assert all(ring.is_simple for ring in rings)
    assert all(not a.intersects(b) for i, a in enumerate(rings) for b in rings[i + 1 :])
    true = region(path, flatness=0.0002)
    assert filled(rings).area == pytest.approx(true.area, rel=1e-3)
    assert shapely.hausdorff_distance(filled(rings).boundary, true.boundary) < 0.012
    assert doubled(rings) == 0


@pytest.mark.parametrize("name", ["dejavu", "liberation", "osifont"])
def test_nodes_are_a_fifth_of_the_flattened_outline(name: str) -> None:
    before = after = 0
    for character in "BCDGOQRSaegs02358@&%":
        area = letter(font(name), character)
        before += sum(
            len(ring.coords) - 1 for part in shapely.get_parts(area) for ring in (part.exterior, *part.interiors)
        )
        after += sum(len(path) for path in read(dxf_bytes([fitted(area)])))
    assert after <= before / 5


def test_svgelements_reads_the_same_closed_shapes() -> None:
    path = fitted(letter(font("dejavu"), "8"))
    for entity in read(dxf_bytes([path])):
        drawn = svg_path(entity)
        first, last = drawn.first_point, drawn.current_point
        assert math.dist((first.x, first.y), (last.x, last.y)) < 1e-6
        along = LineString([(p.x, p.y) for p in entity.flattening(0.0005)])
        assert drawn.bbox() == pytest.approx(along.bounds, abs=0.001)
        assert drawn.length() == pytest.approx(along.length, rel=1e-4)


def test_a_bridged_stencil_is_cut_as_it_was_planned() -> None:
    stencil = bridged(framed(letter(font("dejavu"), "B")), 1.2)
    rings = lines(dxf_bytes([fitted(stencil.material)]))
    assert filled(rings).area == pytest.approx(stencil.material.area, rel=1e-3)
    core = filled(rings).buffer(-0.6 * 0.97)
    assert all(core.covers(LineString([bridge.start, bridge.end])) for bridge in stencil.bridges)


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from(["spline", "arcs"]))
def test_random_sheets_read_back(seed: int, curves: str) -> None:
    area = nested(seed)
    path = fitted(area)
    rings = lines(dxf_bytes([path], curves=curves))  # type: ignore[arg-type]
    assert all(ring.is_simple and ring.is_ring for ring in rings)
    assert filled(rings).area == pytest.approx(region(path, flatness=0.0002).area, rel=1e-3)


def test_lines_and_arcs_are_polylines_with_as_many_points() -> None:
    for path, points in [
        (rectangle(Box(0, 0, 10, 5)), 4),
        (disc((0, 0), 10), 4),
        (rounded_rectangle(Box(0, 0, 40, 30), 5), 8),
    ]:
        document = ezdxf.read(io.StringIO(dxf_bytes([path]).decode("cp1252")))
        (entity,) = document.modelspace()
        assert (entity.dxftype(), len(entity), entity.closed) == ("LWPOLYLINE", points, True)


@settings(max_examples=50, deadline=None)
@given(
    st.floats(1, 20), st.floats(-80, 80), st.floats(-80, 80), st.floats(0.1, 0.6), st.floats(0.1, 0.6),
    st.sampled_from([0.002, 0.005, 0.02]),
)  # fmt: skip
def test_arcs_follow_any_curve(
    chord: float, leave: float, arrive: float, first: float, last: float, tolerance: float
) -> None:
    a, b = math.radians(leave), math.radians(arrive)
    handles = (first * chord * math.cos(a), first * chord * math.sin(a))
    path = Path(
        (("M", 0, 0), ("C", *handles, chord - last * chord * math.cos(b), -last * chord * math.sin(b), chord, 0))
    )
    found = arc_lines(path, tolerance)
    ((line,), flat) = found, LineString(path.rings(0.0005)[0])
    doc = ezdxf.new()
    arcs = dxf_path.make_path(doc.modelspace().add_lwpolyline(line.points, format="xyb", close=line.closed))
    drawn = LineString([(p.x, p.y) for p in arcs.flattening(0.0005)])
    for a, b in ((drawn, flat), (flat, drawn)):
        far = shapely.distance(shapely.points(shapely.get_coordinates(a)), b).max()
        assert far < tolerance * 1.2 + 0.001


def test_the_same_bytes_on_any_day(monkeypatch: pytest.MonkeyPatch) -> None:
    first = dxf_bytes([disc((0, 0), 10), fitted(letter(font("dejavu"), "S"))])

    class Later(datetime.datetime):
        @classmethod
        def now(cls, tz: datetime.tzinfo | None = None) -> "Later":
            return cls(2031, 5, 6, 7, 8, 9, tzinfo=tz)

    import ezdxf.document

    monkeypatch.setattr(ezdxf.document, "datetime", Later)
    assert dxf_bytes([disc((0, 0), 10), fitted(letter(font("dejavu"), "S"))]) == first
    document = ezdxf.new("R2000")  # what ezdxf writes by itself does change, so the test can fail
    text = io.StringIO()
    document.write(text)
    assert "2031" in text.getvalue()


def test_what_occurs_twice_is_cut_once() -> None:
    square = rectangle(Box(0, 0, 10, 5))
    turned = polygon([(10, 5), (10, 0), (0, 0), (0, 5)])
    round_ = disc((20, 0), 6)
    backwards = Path((("M", *round_.segments[-2][-2:]), *_reversed(round_), ("Z",)))
    assert len(read(dxf_bytes([square, turned, round_, backwards, square]))) == 2
    assert len(read(dxf_bytes([square, rectangle(Box(0, 0, 10, 5.01))]))) == 2


def _reversed(path: Path) -> list[tuple[object, ...]]:
    points = [(s[-2], s[-1]) for s in path.segments[:-1]]
    curves = path.segments[1:-1]
    return [("C", *c[3:5], *c[1:3], *points[i]) for i, c in reversed(list(enumerate(curves)))]


def test_open_lines_stay_open() -> None:
    (path,) = read(dxf_bytes([Path((("M", 0, 0), ("L", 10, 0), ("L", 10, 10)))]))
    assert not path.is_closed


def test_bad_names_of_layers_are_refused() -> None:
    for name in ("", "a/b", "a*b", "a\nb"):
        with pytest.raises(ValueError, match="no name for a layer"):
            dxf_bytes([disc((0, 0), 1)], name)


def test_a_file_cut_short_is_refused_by_the_reader() -> None:
    data = dxf_bytes([disc((0, 0), 10)]).decode("cp1252")
    with pytest.raises(DXFError):
        ezdxf.read(io.StringIO(data[: len(data) // 3] + "\nxx\nyy\n"))


def test_planted_faults_are_seen() -> None:
    square = rectangle(Box(0, 0, 10, 5))
    rings = [LineString(square.rings()[0] + square.rings()[0][:1])]
    assert doubled([rings[0], shapely.affinity.translate(rings[0], 0, 5)]) == pytest.approx(10, abs=0.1)
    assert filled(rings).area == pytest.approx(50)
    assert node_count(square) == 4
