"""Laws of masks: they tile the face, paint through them gives the picture that was meant, and the trap never shows.

Areas are held by shapely, the picture by Pillow: pixels painted coat by coat through the masks, with nothing of the
program's own painting in between.
"""

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
import shapely
from helpers.coats import stack
from helpers.jobs import lay
from PIL import Image, ImageDraw, ImageFilter
from samples import FOLDER, JOBS
from shapely.geometry.base import BaseGeometry

from facegraphic.job.load import load_job
from facegraphic.job.model import Job
from facegraphic.layout.face import lay_out
from facegraphic.layout.model import FaceLayout
from facegraphic.masks.colour_map import after, colour_map
from facegraphic.masks.cut import cut_masks
from facegraphic.masks.regions import FaceCoat, asked_region, face_coats, face_region

SEEDS = range(100)
PIXELS = 6  # to the mm
FINER = 3
STRAYS = 5e-5  # of the pixels may differ away from outlines: Pillow draws shapes thinner than a pixel its own way
Pixels = npt.NDArray[np.uint8]


@cache
def laid(path: Path) -> tuple[Job, tuple[FaceLayout, ...]]:
    job = load_job(path)
    return job, tuple(lay_out(face, job.finish, None) for face in job.faces)


@pytest.fixture(scope="module")
def stacks(tmp_path_factory: pytest.TempPathFactory) -> list[tuple[Job, FaceLayout, tuple[FaceCoat, ...]]]:
    folder = tmp_path_factory.mktemp("stacks")
    found = []
    for seed in SEEDS:
        job, [layout] = laid(lay(folder / str(seed), stack(seed)))
        found.append((job, layout, face_coats(layout, job.coats)))
    return found


def drawn(area: BaseGeometry, size: tuple[int, int]) -> npt.NDArray[np.bool_]:
    """A region as pixels, drawn finer by Pillow and looked at in their middles: outlines filled, holes taken out."""
    fine = (size[0] * FINER, size[1] * FINER)
    picture = Image.new("1", fine)
    middle, scale = np.array(fine) / 2, PIXELS * FINER

    def corners(ring: shapely.LinearRing) -> list[tuple[float, float]]:
        return [(middle[0] + x * scale, middle[1] - y * scale) for x, y in ring.coords]

    for part in (part for part in shapely.get_parts(area) if not part.is_empty):
        layer = Image.new("1", fine)
        sheet = ImageDraw.Draw(layer)
        sheet.polygon(corners(part.exterior), fill=1)
        for hole in part.interiors:
            sheet.polygon(corners(hole), fill=0)
        picture.paste(1, mask=layer)
    return np.asarray(picture)[FINER // 2 :: FINER, FINER // 2 :: FINER]


def painted(layers: Sequence[tuple[int, npt.NDArray[np.bool_]]], size: tuple[int, int]) -> Pixels:
    """Each layer's number where it was sprayed last."""
    wall = np.zeros((size[1], size[0]), np.uint8)
    for number, sprayed in layers:
        wall[sprayed] = number
    return wall


def edges(picture: Pixels) -> npt.NDArray[np.bool_]:
    """Pixels within one of where a number changes: outlines fall between pixels differently."""
    image = Image.fromarray(picture)
    grown, shrunk = image.filter(ImageFilter.MaxFilter(5)), image.filter(ImageFilter.MinFilter(5))
    return np.asarray(grown) != np.asarray(shrunk)


def pictures(layout: FaceLayout, job: Job, coats: tuple[FaceCoat, ...]) -> tuple[Pixels, Pixels]:
    """What was meant, each coat's own region over the earlier ones; and what comes of spraying past masks."""
    face = face_region(layout)
    x, y = layout.face.outline.size
    size = (round(x * PIXELS) + 8, round(y * PIXELS) + 8)
    flat = drawn(face, size)
    opaque = [coat for coat in coats if coat.coat.kind != "clear"]
    meant = [(one.number, drawn(asked_region(one.coat, layout).intersection(face), size) & flat) for one in opaque]
    sprayed = [(one.number, flat & ~drawn(one.cover, size)) for one in opaque]
    return painted(meant, size), painted(sprayed, size)


def wrong_share(meant: Pixels, sprayed: Pixels) -> float:
    """The share of the pixels, those beside outlines left out, that are of another coat than was meant."""
    return float(np.mean((meant != sprayed) & ~edges(meant)))


def holds_all_laws(job: Job, layout: FaceLayout, coats: tuple[FaceCoat, ...]) -> None:
    face = face_region(layout)
    for one in coats:
        assert one.cover.area + one.opening.area == pytest.approx(face.area, abs=1e-6)
        assert one.cover.intersection(one.opening).area < 1e-6
        assert shapely.union(one.cover, one.opening).symmetric_difference(face).area < 1e-6
        assert one.region.difference(one.opening).area < 1e-6
        strayed = one.opening.difference(one.region.buffer(one.coat.trap + 0.002, quad_segs=64))
        assert strayed.area < 1e-6
    final = {colour.number: colour.area for colour in colour_map(face, coats, job.paint)}
    assert sum(area.area for area in final.values()) == pytest.approx(face.area, abs=1e-6)
    through = {colour.number: colour.area for colour in after(face, coats, job.paint, 99)}
    for number in final.keys() | through.keys():
        # The trap shows nowhere: sprayed through their masks, coats end where their regions end.
        ours = final.get(number, shapely.Polygon()).symmetric_difference(through.get(number, shapely.Polygon()))
        assert ours.area < 1e-6


def test_a_hundred_stacks_keep_the_laws(stacks: list[tuple[Job, FaceLayout, tuple[FaceCoat, ...]]]) -> None:
    assert len(stacks) == 100
    trapped = 0
    for job, layout, coats in stacks:
        holds_all_laws(job, layout, coats)
        trapped += sum(one.opening.area > one.region.area + 0.01 for one in coats)
    assert trapped >= 20  # the trap was at work at all


def test_painting_through_a_hundred_stacks_gives_the_picture_meant(
    stacks: list[tuple[Job, FaceLayout, tuple[FaceCoat, ...]]],
) -> None:
    for job, layout, coats in stacks:
        assert wrong_share(*pictures(layout, job, coats)) < STRAYS


def test_masks_as_cut_still_tile_their_faces(stacks: list[tuple[Job, FaceLayout, tuple[FaceCoat, ...]]]) -> None:
    """Once thin parts are settled and bridges added; what lies past the face aside. A stencil is one piece."""
    kinds = set()
    for job, layout, _ in stacks[:25]:
        face = face_region(layout)
        for mask in cut_masks(job, [layout]):
            kinds.add(mask.one.coat.mask)
            on_face = mask.material.intersection(face)
            assert on_face.area + mask.opening.area == pytest.approx(face.area, abs=1e-6)
            assert on_face.intersection(mask.opening).area < 1e-6
            assert mask.material.is_valid
            if mask.one.coat.mask == "stencil":
                assert len(shapely.get_parts(mask.material)) == 1
                assert mask.loose == ()
    assert kinds == {"adhesive", "paper", "stencil"}


@pytest.mark.parametrize("name", JOBS)
def test_the_examples_keep_the_laws(name: str) -> None:
    job, layouts = laid(FOLDER / f"{name}.toml")
    for layout in layouts:
        coats = face_coats(layout, job.coats)
        holds_all_laws(job, layout, coats)
        assert wrong_share(*pictures(layout, job, coats)) < STRAYS


def test_a_planted_fault_is_seen_in_the_picture(stacks: list[tuple[Job, FaceLayout, tuple[FaceCoat, ...]]]) -> None:
    """A mask half a millimetre off, or with its trap running out on bare ground, is no longer what was meant."""
    seen = 0
    for job, layout, coats in stacks[:20]:
        last = coats[-1]
        if last.coat.kind == "clear" or last.cover.buffer(-3).is_empty or last.opening.buffer(-3).is_empty:
            continue
        moved = replace(last, cover=shapely.affinity.translate(last.cover, 0.6, 0.6))
        grown = replace(last, cover=last.cover.buffer(-0.6))
        for bad in (moved, grown):
            assert wrong_share(*pictures(layout, job, (*coats[:-1], bad))) > 4 * STRAYS
        seen += 1
    assert seen >= 10
