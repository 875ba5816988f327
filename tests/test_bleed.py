"""Artwork that falls short of face or bleed: what is said of it, and that the size which is named mends it."""

import io
import re
from pathlib import Path

import pytest
from helpers.jobs import lay
from PIL import Image
from test_colour_findings import HIGH, WIDE, art, findings, job

from facegraphic.pipeline.preparing import prepare

SHORT_ARTS = [
    ((WIDE, HIGH), "[0, 0]", ""),
    ((30, HIGH + 1), "[3, 0]", ""),
    ((WIDE, 12), "[0, 1]", ""),
    ((WIDE, HIGH), "[0, 0]", "angle = 180"),
    ((HIGH, WIDE), "[0, 0]", "angle = 90"),
    ((WIDE * 1.05, HIGH * 1.6), "[0, 0]", "angle = 20"),
    ((WIDE - 2, HIGH - 3), "[0, 0]", ""),
    ((WIDE - 2, HIGH + 4), "[0.4, -0.2]", ""),
]


@pytest.mark.parametrize("fit", ["contain", "cover", "stretch", "tile"])
@pytest.mark.parametrize(("size", "at", "more"), SHORT_ARTS)
def test_the_size_that_is_named_fills_face_and_bleed(
    tmp_path: Path, size: tuple[float, float], at: str, more: str, fit: str
) -> None:
    """Pictures of the region's proportions, wider and higher ones: done as told, nothing is told again."""
    for number, share in enumerate((1.0, 0.97, 1.03)):
        body = f'[[face.art]]\nfile = "own.png"\nat = {at}\n{more}\n'
        files = {"own.png": picture(round(size[0] * 10 * share), round(size[1] * 10))}
        path = lay(tmp_path / f"a{number}", job(body + f'fit = "{fit}"\nsize = [{size[0]}, {size[1]}]\n'), files)
        told = [finding for finding in prepare(path).findings if finding.code == "art-short-of-bleed"]
        assert told or (fit != "stretch")
        for finding in told:
            named = re.search(r"size = \[([\d.]+), ([\d.]+)\]( and fit = \"cover\")?", finding.remedy)
            assert named
            then = f'fit = "{"cover" if named[3] else fit}"\nsize = [{named[1]}, {named[2]}]\n'
            after = prepare(lay(tmp_path / f"b{number}", job(body + then), files)).findings
            assert "art-short-of-bleed" not in {found.code for found in after}
            if "no size and at" in finding.remedy:
                bare = re.sub(r"at = .*\n", "", body) + (f'fit = "{"cover" if named[3] else fit}"\n')
                after = prepare(lay(tmp_path / f"c{number}", job(bare), files)).findings
                assert "art-short-of-bleed" not in {found.code for found in after}


def picture(wide: int, high: int) -> bytes:
    out = io.BytesIO()
    Image.new("L", (wide, high), 90).save(out, "PNG")
    return out.getvalue()


def test_a_strip_is_told_in_mm(tmp_path: Path) -> None:
    (told,) = (f for f in findings(tmp_path, job(art("grey.svg", (WIDE + 9, HIGH - 2.4)))) if "bleed" in f.code)
    found = re.search(r"ends ([\d.]+) mm inside the edge of the top face, along (\d+) mm of it", told.message)
    assert found
    assert float(found[1]) == 1.2
    assert float(found[2]) == pytest.approx(2 * WIDE, abs=2)  # it is counted in mm
    assert "comes to the edge" not in told.message


def test_artwork_under_a_border_of_toner_may_end_there(tmp_path: Path) -> None:
    """The border covers both edge and bleed (plain geometry)."""
    said = findings(tmp_path, job(art("grey.svg", (WIDE, HIGH)), "toner-resist", finish="margin = 4"))
    assert "art-short-of-bleed" not in {finding.code for finding in said}
