"""Toner as a resist: raised faces, sunk ones that are their inverse, the border, and limits that change over."""

import re
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from eyes import difference, pdf_picture, png_colour, png_grey, svg_picture
from helpers.jobs import lay, svg
from helpers.runs import run_here

from facegraphic.pipeline.making import make
from facegraphic.pipeline.preparing import Wishes, prepare
from facegraphic.stock.faces import face_outline
from facegraphic.stock.tables import boxes, films

Mask = np.ndarray[Any, np.dtype[np.bool_]]
FILM = films()["toner-resist"]
DPI = 600
SCALE = DPI / 25.4
JOB = """\
title = "KELP DRIER"
[box]
stock = "93x39x31"
orientation = "portrait"
[finish]
process = "toner-resist"
{finish}
[[face]]
side = "top"
hole = [{{ id = "foot", at = [0, -28], d = 12.2 }}]
[[face.text]]
text = "{{title}}"
at = [0, 10]
height = {height}
[[face.art]]
file = "ring.svg"
size = [16, 16]
at = [0, -6]
"""
RING = svg('<path d="M3 3H27V27H3Z"/><path d="M9 9H21V21H9Z" fill="#fff"/>')


def files_of(folder: Path, finish: str) -> dict[str, bytes]:
    wishes = Wishes(("svg", "png", "pdf"), ("art", "steps"), DPI, False)
    return make(prepare(lay(folder, JOB.format(finish=finish, height=4.0), {"ring.svg": RING}), wishes), wishes)


def black(folder: Path, finish: str) -> Mask:
    return png_grey(files_of(folder, finish)["top-art.png"]) < 128


def at(mask: Mask, x: float, y: float) -> bool:
    high, wide = mask.shape
    return bool(mask[round(high / 2 - y * SCALE), round(wide / 2 + x * SCALE)])


def test_a_sunk_face_is_the_inverse_of_a_raised_one(tmp_path: Path) -> None:
    """What stands in one is eaten in in the other: lettering, drawings and hole marks, inside the border."""
    raised, sunk = black(tmp_path / "a", ""), black(tmp_path / "b", 'polarity = "sunk"')
    high, wide = raised.shape
    edge = round((FILM.bleed + FILM.border + 2.5) * SCALE)
    inside = np.s_[edge : high - edge, edge : wide - edge]
    apart = (raised == sunk)[inside]
    # Edges fall to either side of a pixel's middle; a cross is wider where it is left bare.
    thick = cv2.morphologyEx(apart.astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    assert not thick.any()
    assert 0.05 < raised[inside].mean() < 0.5


def test_a_ring_keeps_its_parts(tmp_path: Path) -> None:
    raised, sunk = black(tmp_path / "a", ""), black(tmp_path / "b", 'polarity = "sunk"')
    for x, inked in ((0, False), (5, True), (7.5, False)):
        assert at(raised, x, -6) is inked
        assert at(sunk, x, -6) is not inked


@pytest.mark.parametrize("finish", ["", 'polarity = "sunk"'])
def test_a_border_of_toner_runs_round_the_face_and_out_through_the_bleed(tmp_path: Path, finish: str) -> None:
    """It keeps the etchant off the edge, and tape overlaps it (common practice)."""
    for border in (FILM.border, 2.25):
        mask = black(tmp_path / str(border), f"{finish}\nborder = {border}\nmargin = 3")
        reach = FILM.bleed + border
        row = mask[mask.shape[0] // 2, :]
        assert row[: int(reach * SCALE)].all()
        assert row[-int(reach * SCALE) :].all()
        if not finish:
            bare = np.flatnonzero(~row)
            assert bare[0] / SCALE == pytest.approx(reach, abs=1.5 / SCALE)


def test_no_border_when_it_is_0(tmp_path: Path) -> None:
    mask = black(tmp_path, "border = 0")
    assert not mask[mask.shape[0] // 2, :20].any()


def test_a_hole_is_marked_by_a_bare_cross_in_toner(tmp_path: Path) -> None:
    mask = black(tmp_path, 'polarity = "sunk"')
    assert not at(mask, 0, -28)
    assert not at(mask, 4, -28)
    assert at(mask, 2, -26)
    assert at(mask, 5.5, -28)


def test_cleared_holes_keep_their_toner_in_a_sunk_face(tmp_path: Path) -> None:
    mask = black(tmp_path, 'polarity = "sunk"\nholes = "clear"')
    assert at(mask, 0, -28)
    assert at(mask, 5, -26)


@pytest.mark.parametrize("finish", ["", 'polarity = "sunk"', 'polarity = "sunk"\nholes = "clear"\nhalo = 0.5'])
def test_svg_and_pdf_show_what_the_png_shows(tmp_path: Path, finish: str) -> None:
    files = files_of(tmp_path, finish)
    png = png_colour(files["top-art.png"])
    size = (png.shape[1], png.shape[0])
    for other in (svg_picture(files["top-art.svg"], size, DPI), pdf_picture(files["top-art.pdf"], size)):
        found = difference(png, other)
        assert found.mean < 1.5
        assert found.share < 5e-5


def codes(folder: Path, finish: str, height: float) -> set[str]:
    prepared = prepare(lay(folder, JOB.format(finish=finish, height=height), {"ring.svg": RING}))
    return {finding.code for finding in prepared.findings}


def test_limits_change_over_where_lettering_is_left_bare(tmp_path: Path) -> None:
    """Two printers' specifications ask about half as much again of reversed strokes; see the films table."""
    assert FILM.line_reversed > FILM.line
    light = 'font = "tagstrip-light"\n'
    # Light strokes are 0.07 of the capitals' height: 0.28 mm at 4 mm, between the least line and the least bare one.
    assert "strokes-too-fine" not in codes(tmp_path / "a", light, 4.0)
    assert "strokes-too-fine" in codes(tmp_path / "b", light + 'polarity = "sunk"', 4.0)
    least = FILM.text * FILM.line_reversed / FILM.line
    assert "text-too-small" not in codes(tmp_path / "c", "", FILM.text)
    assert "text-too-small" in codes(tmp_path / "d", 'polarity = "sunk"', FILM.text)
    assert "text-too-small" not in codes(tmp_path / "e", 'polarity = "sunk"', least)


@pytest.mark.parametrize(
    ("finish", "said"),
    [
        ('polarity = "hollow"', '"hollow" is not known here'),
        ('polarity = "sunk"\ncut = "line"', 'use cut = "ticks"'),
        ("border = 2.4\nmargin = 2.5", "make it 2.7 or more"),
        ("choke = 0.1", "no white plate"),
    ],
)
def test_what_cannot_be_is_told(tmp_path: Path, finish: str, said: str) -> None:
    ran = run_here("make", lay(tmp_path, JOB.format(finish=finish, height=4), {"ring.svg": RING}))
    assert (ran.status, said in ran.err) == (1, True), ran.err


def test_other_processes_have_neither_border_nor_polarity(tmp_path: Path) -> None:
    text = JOB.format(finish='border = 1\npolarity = "sunk"', height=4).replace("toner-resist", "toner-transfer")
    ran = run_here("make", lay(tmp_path, text, {"ring.svg": RING}))
    assert "no resist" in ran.err
    assert "etches nothing" in ran.err


def test_the_steps_tell_what_stands_in_the_end(tmp_path: Path) -> None:
    raised = files_of(tmp_path / "a", "")["steps.md"].decode("utf-8")
    sunk = files_of(tmp_path / "b", 'polarity = "sunk"\nborder = 0')["steps.md"].decode("utf-8")
    assert "stands raised in the end" in raised
    assert "A border of toner, 1.5 mm wide" in raised
    assert "are eaten in" in sunk
    assert "stands raised" not in sunk
    assert "No toner guards the edges" in sunk


EDGE = 3.5  # mm from the upper edge of the face to the text that is to be lost


def near_edge(folder: Path, finish: str, body: str = "") -> Path:
    """A job with lettering of 3 mm, 3.5 mm inside the upper edge of a face, and whatever else."""
    head = f'[box]\nstock = "93x39x31"\norientation = "portrait"\n[finish]\nprocess = "toner-resist"\n{finish}\n'
    box = boxes()["93x39x31"]
    high = face_outline(box, "top", box.size[1], box.size[0]).size[1]
    words = (
        f'[[face]]\nside = "top"\n{body}[[face.text]]\ntext = "HULL"\nheight = 3\nat = [0, {high / 2 - EDGE - 1.5}]\n'
    )
    return lay(folder, head + words)


@pytest.mark.parametrize("polarity", ["raised", "sunk"])
@pytest.mark.parametrize(("border", "lost"), [(EDGE - 0.1, False), (EDGE + 0.1, True), (EDGE + 9, True)])
def test_lettering_in_the_border_is_lost_and_told(tmp_path: Path, polarity: str, border: float, lost: bool) -> None:
    """Black in black, or bare lettering that the border covers (plain geometry)."""
    path = near_edge(tmp_path, f'polarity = "{polarity}"\nborder = {border}')
    told = [finding for finding in prepare(path).findings if finding.code == "lost-in-border"]
    assert [finding.severity for finding in told] == ["error"] * lost
    if lost:
        assert '"HULL" lies in the border of toner' in told[0].message
        named = re.search(r"border = ([\d.]+) or less", told[0].remedy)
        assert named
        assert float(named[1]) == pytest.approx(EDGE - max(FILM.gap, FILM.gap_reversed), abs=0.1)
        after = prepare(near_edge(tmp_path / "b", f'polarity = "{polarity}"\nborder = {named[1]}'))
        assert "lost-in-border" not in {finding.code for finding in after.findings}
        assert run_here("make", path).status == 1


def test_scales_and_lines_in_the_border_are_lost_too(tmp_path: Path) -> None:
    scale = '[[face.control]]\nhole = "a"\npart = "pot-16"\nknob = "round-19"\nscale = { from = 0, to = 10 }\n'
    body = (
        'hole = [{ id = "a", at = [0, 0], d = 7.5 }]\n' + scale + "[[face.line]]\nfrom = [-12, -20]\nto = [12, -20]\n"
    )
    (told,) = (f for f in prepare(near_edge(tmp_path, "border = 7", body)).findings if f.code == "lost-in-border")
    assert all(name in told.message for name in ('"HULL"', "the scale of a", "a section line"))
    found = prepare(near_edge(tmp_path / "b", "border = 1.5", body)).findings
    assert "lost-in-border" not in {finding.code for finding in found}


PHOTO = """\
[box]
stock = "93x39x31"
orientation = "portrait"
[finish]
process = "toner-resist"
{finish}
[[face]]
side = "top"
[[face.text]]
text = "HULL"
at = [0, 10]
height = 5
[[face.art]]
file = "grey.png"
"""


def with_photo(folder: Path, finish: str, text: str = PHOTO) -> Mask:
    """The ink (or sunk: what is bare) of a face under greys from nearly black to nearly white, with noise."""
    tones = np.linspace(20, 235, 120 * 300).reshape(300, 120) + np.random.default_rng(5).normal(0, 25, (300, 120))
    coded = cv2.imencode(".png", np.clip(tones, 0, 255).astype(np.uint8))[1].tobytes()
    path = lay(folder, text.format(finish=finish), {"grey.png": coded})
    wishes = Wishes(("png",), ("art",), DPI, False)
    return png_grey(make(prepare(path, wishes), wishes)["top-art.png"]) < 128


@pytest.mark.parametrize("screen", ["diffusion", "ordered", "dots"])
@pytest.mark.parametrize("polarity", ["raised", "sunk"])
def test_the_border_ends_in_a_clean_bare_line(tmp_path: Path, polarity: str, screen: str) -> None:
    """Whatever the picture's tone: bare from the border's straight inner edge on, as wide as a line that holds."""
    mask = with_photo(tmp_path, f'polarity = "{polarity}"\nscreen = "{screen}"')
    start = (FILM.bleed + FILM.border) * SCALE
    least = FILM.line_reversed if polarity == "sunk" else FILM.gap
    near, far = round(start) + 1, int(start + least * SCALE)
    corner = round(start + 4 * SCALE)
    for turn in range(4):
        side = np.rot90(mask, turn)
        assert side[near - 3, corner:-corner].all()
        assert not side[near:far, corner:-corner].any()


@pytest.mark.parametrize("polarity", ["raised", "sunk"])
@pytest.mark.parametrize(("halo", "rim"), [("", FILM.rim), ("halo = 0.9", 0.9), ("halo = 0.2", FILM.gap)])
def test_a_screen_leaves_a_rim_round_lettering(tmp_path: Path, polarity: str, halo: str, rim: float) -> None:
    """Figures hidden among dots cannot be read; how wide the rim is without a halo is the films table's."""
    finish = f'polarity = "{polarity}"\n{halo}'
    alone = with_photo(tmp_path / "a", finish, PHOTO.partition("[[face.art]]")[0])
    both = with_photo(tmp_path / "b", finish)
    high, wide = both.shape
    x, y = wide // 2, round(high / 2 - 10 * SCALE)
    there = np.s_[y - round(5 * SCALE) : y + round(5 * SCALE), x - round(10 * SCALE) : x + round(10 * SCALE)]
    letters, ink = ((~mask if polarity == "sunk" else mask)[there] for mask in (alone, both))
    apart = cv2.distanceTransform((~letters).astype(np.uint8), cv2.DIST_L2, 5) / SCALE
    dots = ink & (apart > 2 / SCALE)
    assert letters.mean() > 0.05
    assert float(apart[dots].min()) == pytest.approx(rim, abs=0.1)
