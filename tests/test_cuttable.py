"""Masks as they are cut: letters stay letters, nothing hangs by a hair, and files hold what a blade can follow.

Jobs of many kinds are made; their cut files are read back with svgelements and ezdxf, and drawn with OpenCV.
"""

import io
import math
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import cv2
import ezdxf
import numpy as np
import numpy.typing as npt
import pytest
import shapely
from ezdxf.path import make_path
from helpers.coats import stack
from helpers.jobs import lay, svg
from shapely.geometry.base import BaseGeometry
from svgelements import SVG, Close
from svgelements import Path as SvgPath

from facegraphic.layout.model import FaceLayout
from facegraphic.masks.cut import CutMask
from facegraphic.masks.regions import face_region
from facegraphic.pipeline.making import make
from facegraphic.pipeline.preparing import Prepared, Wishes, prepare

TOP = '[box]\nstock = "120x94x34"\n[[face]]\nside = "top"\n'
HOLE = """\
hole = [{ id = "a", at = [-30, 25], d = 7.5 }]
[[face.control]]
hole = "a"
part = "pot-16"
label = "ATTACK"
scale = { from = 0, to = 10, step = 1 }
[[face.text]]
text = "PEBBLE & 8%"
at = [0, 0]
height = 9
"""
BASE = '[[coat]]\npaint = "#ece3cc"\n'
COAT = '[[coat]]\npaint = "#a03020"\n'
BAND = '[[coat.shape]]\nshape = "band"\nwidth = 8\n'
WALLS = "".join(f'[[face]]\nside = "{side}"\n' for side in ("back", "front", "left", "right"))
WAVES = svg(
    "".join(
        f'<path fill="none" stroke="#000" stroke-width="{1 + 0.4 * number}" d="M2 {4 + 5 * number}'
        f'C10 {-3 + 5 * number} 18 {11 + 5 * number} 28 {4 + 5 * number}"/>'
        for number in range(5)
    )
)
RINGS = svg(
    "".join(f'<circle cx="15" cy="15" r="{r}" fill="none" stroke="#000" stroke-width="1.6"/>' for r in (3, 7, 11))
)
JOBS = {
    "lettering on film": TOP + HOLE + BASE + COAT + 'where = "legends"\n',
    "lettering as a stencil": TOP + HOLE + BASE + COAT + 'where = "legends"\nmask = "stencil"\n',
    "all but lettering": TOP + HOLE + BASE + COAT + 'keep = "legends"\nmask = "stencil"\n',
    "a band over two leaning walls": TOP.replace("top", "back") + '[[face]]\nside = "left"\n' + BASE + COAT + BAND,
    "a band over four leaning walls": TOP + WALLS + BASE + COAT + 'side = ["back", "front", "left", "right"]\n' + BAND,
    "all of one face": TOP + WALLS + BASE + COAT + 'side = "top"\nwhere = "everything"\n',
    "waves on film": TOP + HOLE + BASE + COAT + 'where = "waves.svg"\nsize = [100, 80]\n',
    "waves as a stencil": TOP + HOLE + BASE + COAT + 'where = "waves.svg"\nsize = [100, 80]\nmask = "stencil"\n',
    "rings as a stencil": TOP + HOLE + BASE + COAT + 'where = "rings.svg"\nsize = [60, 60]\nmask = "stencil"\n',
    "rings on paper": TOP + HOLE + BASE + COAT + 'where = "rings.svg"\nsize = [60, 60]\nmask = "paper"\n',
    **{f"stack {seed}": stack(seed) for seed in range(6)},
}  # fmt: skip
ROOT = {"folder": Path()}
SAME_MM = 1e-3  # so much of two lines on each other is a crossing and no doubled edge
Ring = list[tuple[float, float]]


@pytest.fixture(scope="module", autouse=True)
def folder(tmp_path_factory: pytest.TempPathFactory) -> None:
    ROOT["folder"] = tmp_path_factory.mktemp("cuttable")


@cache
def made(name: str) -> tuple[Prepared, dict[str, bytes]]:
    wishes = Wishes(("svg",), ("masks",))
    job = lay(ROOT["folder"] / name.replace(" ", "-"), JOBS[name], {"waves.svg": WAVES, "rings.svg": RINGS})
    prepared = prepare(job, wishes)
    return prepared, make(prepared, wishes)


def svg_rings(data: bytes) -> Iterator[tuple[Ring, int]]:
    """Each closed subpath as points, and its nodes."""
    for element in SVG.parse(io.BytesIO(data), reify=False).elements():
        for part in element.as_subpaths() if isinstance(element, SvgPath) else ():
            path = SvgPath(part)
            points = [path[0].end]
            for segment in path[1:]:
                count = 1 if type(segment).__name__ in ("Line", "Close") else 24
                points += [segment.point(step / count) for step in range(1, count + 1)]
            yield [(float(at.x), float(at.y)) for at in points], len(path) - 1 if isinstance(path[-1], Close) else 0


def dxf_rings(data: bytes) -> Iterator[Ring]:
    for entity in ezdxf.read(io.StringIO(data.decode("utf-8"))).modelspace():
        path = make_path(entity)
        yield [(round(at.x, 5), round(at.y, 5)) for at in path.flattening(0.002)]


def faults(rings: list[Ring]) -> list[str]:
    """What a blade could not follow: open lines, lines that cross themselves or others, edges that are cut twice."""
    found = [f"open at {ring[0]}" for ring in rings if math.dist(ring[0], ring[-1]) > 1e-4]
    lines = [shapely.LinearRing(ring) for ring in rings]
    found += [f"crosses itself within {line.bounds}" for line in lines if not line.is_simple]
    for first, second in shapely.STRtree(lines).query(lines, predicate="intersects").T.tolist():
        if first < second and lines[first].intersection(lines[second]).length > SAME_MM:
            found.append(f"doubled within {lines[first].bounds}")
        elif first < second and lines[first].crosses(lines[second]):
            found.append(f"crosses another within {lines[first].bounds}")
    return found


def within(rings: list[Ring]) -> BaseGeometry:
    area: BaseGeometry = shapely.Polygon()
    for ring in rings:
        area = area.symmetric_difference(shapely.Polygon(ring))
    return area


@pytest.mark.parametrize("name", JOBS)
def test_cut_files_are_closed_simple_single_and_of_the_same_area(name: str) -> None:
    prepared, files = made(name)
    assert prepared.masks
    for mask in prepared.masks:
        drawn, nodes = zip(*svg_rings(files[f"{mask.stem}.svg"]), strict=True)
        as_dxf = list(dxf_rings(files[f"{mask.stem}.dxf"]))
        for rings in (list(drawn), as_dxf):
            assert faults(rings) == [], mask.stem
            assert within(rings).area == pytest.approx(mask.material.area, rel=1e-3)
            assert len(rings) == len(drawn)
        assert all(nodes), "an open path"


def test_planted_faults_are_seen() -> None:
    square: Ring = [(0, 0), (4, 0), (4, 4), (0, 4), (0, 0)]
    assert faults([square]) == []
    assert "open" in faults([square[:-1]])[0]
    assert "itself" in faults([[(0, 0), (4, 4), (4, 0), (0, 4), (0, 0)]])[0]
    beside: Ring = [(4, 1), (8, 1), (8, 3), (4, 3), (4, 1)]
    assert "doubled" in faults([square, beside])[0]
    assert "another" in faults([square, [(x - 1, y) for x, y in beside]])[0]


@pytest.mark.parametrize("name", ["lettering on film", "waves on film", "rings on paper"])
def test_cut_files_have_a_fifth_of_the_nodes_of_their_points(name: str) -> None:
    prepared, files = made(name)
    for mask in prepared.masks:
        nodes = sum(count for _, count in svg_rings(files[f"{mask.stem}.svg"]))
        assert nodes <= shapely.get_num_coordinates(mask.material) / 5


def test_a_drawing_of_a_hundred_thousand_nodes_becomes_a_mask_of_few() -> None:
    """A wavy ring of 10^5 points, cut from film; its area by the shoelace formula over the same points."""
    turns = np.linspace(0, math.tau, 100_000, endpoint=False)
    far = 11 + 3 * np.sin(9 * turns)
    x, y = 15 + far * np.cos(turns), 15 + far * np.sin(turns)
    path = "M" + " ".join(f"{a:.5f},{b:.5f}" for a, b in zip(x, y, strict=True)) + "Z"
    job = TOP + BASE + COAT + 'where = "many.svg"\n'
    wishes = Wishes(("svg",), ("masks",))
    prepared = prepare(lay(ROOT["folder"] / "many", job, {"many.svg": svg(f'<path d="{path}"/>')}), wishes)
    rings = list(svg_rings(make(prepared, wishes)["mask-top-2.svg"]))
    assert faults([ring for ring, _ in rings]) == []
    assert sum(nodes for _, nodes in rings) < 200
    area = abs(float(np.dot(x, np.roll(y, 1)) - np.dot(y, np.roll(x, 1)))) / 2
    assert prepared.masks[0].opening.area == pytest.approx(area, rel=1e-3)
    assert min(shapely.Polygon(ring).area for ring, _ in rings) == pytest.approx(area, rel=1e-3)


def test_lettering_keeps_every_letter_and_counter() -> None:
    """Film: the opening is the lettering as it was laid out, but for corners of 0.1 mm; thin strokes are told."""
    prepared, _ = made("lettering on film")
    [mask] = prepared.masks
    wanted = mask.one.region
    assert len(shapely.get_parts(mask.opening)) == len(shapely.get_parts(wanted)) > 30
    holes = [sum(len(part.interiors) for part in shapely.get_parts(area)) for area in (mask.opening, wanted)]
    assert holes[0] == holes[1] > 10
    assert mask.opening.symmetric_difference(wanted).area < 0.02 * wanted.area
    assert "mask-sliver" in {finding.code for finding in prepared.findings}


def test_what_bridges_take_of_small_letters_is_told() -> None:
    prepared, _ = made("lettering as a stencil")
    [told] = [finding for finding in prepared.findings if finding.code == "mask-shape-lost"]
    assert "bridges" in told.message


@pytest.mark.parametrize("name", [name for name in JOBS if "walls" in name or name == "all of one face"])
def test_a_mask_with_flaps_hangs_together(name: str) -> None:
    """No flap and no lap hangs on less than 3 mm, and none reaches into the opening."""
    for mask in made(name)[0].masks:
        core = mask.material.buffer(-1.5)
        assert len(shapely.get_parts(core)) <= len(shapely.get_parts(mask.material)), mask.stem
        assert mask.material.intersection(mask.opening).area < 1e-6


def test_laps_end_where_the_opening_begins() -> None:
    """A band of 8 mm over leaning walls: what is covered beside it runs on over the edges, and nothing else."""
    for mask in made("a band over four leaning walls")[0].masks:
        x0, _, x1, _ = shapely.union(mask.one.cover, mask.one.opening).bounds
        for beyond in (x0 - 1, x1 + 1):
            strip = shapely.box(beyond - 0.1, -3.5, beyond + 0.1, 3.5)
            assert mask.material.intersection(strip).area == 0


PLOTTED = ("waves on film", "waves as a stencil", "rings as a stencil")
SCALE = 20  # pixels to the mm


def pixels(area: BaseGeometry, face: BaseGeometry) -> npt.NDArray[np.uint8]:
    x0, y0, x1, y1 = face.buffer(6).bounds
    picture = np.zeros((math.ceil((y1 - y0) * SCALE), math.ceil((x1 - x0) * SCALE)), np.uint8)
    for part in shapely.get_parts(area):
        for ring, value in [(part.exterior, 1), *((hole, 0) for hole in part.interiors)]:
            points = ((np.asarray(ring.coords) - (x0, y0)) * SCALE).round().astype(np.int32)
            cv2.fillPoly(picture, [points], value)
    return picture


def too_narrow(picture: npt.NDArray[np.uint8], width: float) -> int:
    """Pixels, single ones aside, that opening by a disc of a width takes away; the disc is 1.5 pixels smaller."""
    reach = width / 2 * SCALE - 1.5
    across = np.arange(-int(reach), int(reach) + 1)
    disc = (np.add.outer(across**2, across**2) <= reach**2).astype(np.uint8)
    gone = picture & ~cv2.morphologyEx(picture, cv2.MORPH_OPEN, disc) & 1
    return int(cv2.morphologyEx(gone, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)).sum())


def plotted(mask: CutMask, layout: FaceLayout) -> tuple[int, int]:
    """Pixels of mask and opening that are sharper than the material's least radius, by OpenCV."""
    face = face_region(layout)
    around = face.buffer(5, join_style="mitre").difference(face)
    material = pixels(mask.material.intersection(face).union(around.buffer(1e-6)), face)
    opening = pixels(mask.opening, face)
    return too_narrow(material, 2 * mask.stuff.radius), too_narrow(opening, 2 * mask.stuff.radius)


@pytest.mark.parametrize("name", PLOTTED)
def test_masks_as_cut_hold_the_least_radius(name: str) -> None:
    prepared, _ = made(name)
    for mask in prepared.masks:
        assert plotted(mask, prepared.layouts[0]) == (0, 0)


def test_what_is_told_as_thin_is_all_that_is_thin() -> None:
    """Opening by a disc of the least width (OpenCV) takes nothing but corners and what was told."""
    for name in (*PLOTTED, "lettering on film"):
        prepared, _ = made(name)
        for mask in prepared.masks:
            face = face_region(prepared.layouts[0])
            told = [sliver.shape for sliver in mask.slivers if not sliver.merged and sliver.side == "opening"]
            # A disc leaves out 0.41 of its radius in a right corner, and as much again in sharper ones.
            rest = mask.opening.difference(shapely.union_all(told).buffer(mask.stuff.least))
            lost = too_narrow(pixels(rest, face), mask.stuff.least * 0.4)
            assert lost == 0, name
