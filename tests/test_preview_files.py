"""The preview's files, its command line, and what [preview] may hold."""

import base64
import io
import json
import re
from pathlib import Path

import numpy as np
import pytest
from eyes import png_resolution
from helpers.jobs import good, lay
from helpers.runs import run_here, tree
from PIL import Image, ImageColor
from samples import FOLDER

from facegraphic.job.load import load_job
from facegraphic.job.model import Shown
from facegraphic.output.made import RECORD
from facegraphic.pipeline.kinds import KINDS, VIEWS
from facegraphic.pipeline.making import make, make_gang
from facegraphic.pipeline.preparing import Wishes, prepare
from facegraphic.pipeline.previewing import setting
from facegraphic.preview.coats import in_words
from facegraphic.stock.tables import colours

HOSTILE = {
    "a word for a share": ('knobs = "half"', "knobs", "a finite number is wanted"),
    "past the stop": ("knobs = 1.01", "knobs", "between 0 and 1 of a knob's travel"),
    "below nothing": ("knobs = -0.1", "knobs", "between 0 and 1"),
    "no number": ("knobs = nan", "knobs", "finite"),
    "endless": ("knobs = inf", "knobs", "finite"),
    "a truth": ("knobs = true", "knobs", "finite"),
    "a list": ("knobs = [0.1, 0.2]", "knobs", "finite"),
    "lamps misspelt": ('lamps = "onn"', "lamps", 'did you mean "on"?'),
    "lamps by truth": ("lamps = true", "lamps", "known are: off, on"),
    "lamps in capitals": ('lamps = "OFF"', "lamps", 'did you mean "off"?'),
    "an unknown key": ('lamp = "on"', "lamp", 'did you mean "lamps"?'),
    "a table in it": ("knobs = { rate = 0.2 }", "knobs", "finite"),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_what_cannot_stand_in_preview_is_told_with_line_and_advice(tmp_path: Path, name: str) -> None:
    line, key, advice = HOSTILE[name]
    text = good() + f"\n[preview]\n{line}\n"
    ran = run_here("check", lay(tmp_path, text))
    assert ran.status == 1
    place = text.splitlines().index(line) + 1
    assert f"job.toml:{place}: preview.{key}: " in ran.err
    assert advice in ran.err
    assert "Traceback" not in ran.err


def test_preview_must_be_a_table(tmp_path: Path) -> None:
    ran = run_here("check", lay(tmp_path, "preview = 3\n" + good()))
    assert ran.status == 1
    assert "job.toml:1: preview: 3 is not a table" in ran.err


def test_all_that_is_wrong_is_told_at_once(tmp_path: Path) -> None:
    ran = run_here("check", lay(tmp_path, good() + '\n[preview]\nknobs = 2\nlamps = "dim"\nmood = 1\n'))
    assert "3 problems" in ran.err


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("", Shown(0.5, True)),
        ('[preview]\nknobs = 0\nlamps = "off"\n', Shown(0.0, False)),
        ("[preview]\nknobs = 1\n", Shown(1.0, True)),
    ],
)
def test_knobs_and_lamps_are_read(tmp_path: Path, text: str, wanted: Shown) -> None:
    job = load_job(lay(tmp_path, good() + "\n" + text))
    assert job.shown == wanted
    assert (setting(job).knobs, setting(job).lamps) == (wanted.knobs, wanted.lamps)


def test_knobs_and_lamps_show_in_the_picture(tmp_path: Path) -> None:
    pictures = []
    for number, text in enumerate(("", '[preview]\nlamps = "off"\n', "[preview]\nknobs = 0.1\n")):
        job = good("[sheet]", f"{text}[sheet]")
        path = lay(tmp_path / str(number), job)
        pictures.append(_picture(path))
    assert np.array_equal(pictures[0], pictures[1])  # it has no lamp
    assert (pictures[0] != pictures[2]).any(axis=-1).sum() > 200
    lit, dark = (
        _picture(FOLDER / "slow-ferry.toml", text, tmp_path / f"ferry{number}")
        for number, text in enumerate(("", '\n[preview]\nlamps = "off"\n'))
    )
    changed = (lit != dark).any(axis=-1)
    assert lit[changed][:, 0].mean() > dark[changed][:, 0].mean() + 5  # it is red


def _picture(path: Path, more: str = "", folder: Path | None = None) -> np.ndarray:
    if folder is not None:
        folder.mkdir()
        for file in path.parent.iterdir():
            if file.is_file():
                (folder / file.name).write_bytes(file.read_bytes())
        path = folder / path.name
        path.write_text(path.read_text("utf-8") + more, encoding="utf-8")
    files = make(prepare(path), Wishes(kinds=("preview",)))
    return np.asarray(Image.open(io.BytesIO(files["preview.png"])))


def test_only_preview_writes_it_and_the_report_lists_it(tmp_path: Path) -> None:
    job = lay(tmp_path, good())
    ran = run_here("make", job, "--only", "preview", "--quiet")
    assert (ran.status, ran.err) == (0, "")
    files = tree(tmp_path / "job-out")
    assert set(files) - {RECORD} == {"preview.png", "preview.html", "report.json"}
    outputs = json.loads(files["report.json"] or b"")["outputs"]
    usual = {"kind": "preview", "side": None, "mirrored": False, "dpi": None}
    assert outputs == [{"file": "preview.png", **usual, "size_px": [1600, 1200]}, {"file": "preview.html", **usual}]
    assert Image.open(io.BytesIO(files["preview.png"] or b"")).size == (1600, 1200)


def test_every_view_is_a_file_of_its_own(tmp_path: Path) -> None:
    job = lay(tmp_path, good())
    assert run_here("make", job, "--only", "preview", "--view", "top,flat,three-quarter", "--quiet").status == 0
    files = tree(tmp_path / "job-out")
    views = {"preview.png", "preview-flat.png", "preview-top.png", "preview.html"}
    assert set(files) - {RECORD} == views | {"report.json"}
    listed = {output["file"]: output for output in json.loads(files["report.json"] or b"")["outputs"]}
    assert {output["kind"] for output in listed.values()} == {"preview"}
    assert (listed["preview-flat.png"]["dpi"], listed["preview-top.png"]["dpi"]) == (200, None)
    flat = files["preview-flat.png"] or b""
    assert Image.open(io.BytesIO(flat)).size == tuple(listed["preview-flat.png"]["size_px"])
    assert png_resolution(flat).across == round(200 / 0.0254)
    assert run_here("make", job, "--only", "preview", "--view", "flat", "--quiet").status == 0
    assert json.loads((tmp_path / "job-out" / "report.json").read_text("utf-8"))["outputs"][0]["file"] == (
        "preview-flat.png"
    )


@pytest.mark.parametrize("view", ["side", "flat,side", "", ",", "Flat"])
def test_an_unknown_view_is_a_wrong_command_line(tmp_path: Path, view: str) -> None:
    job = lay(tmp_path, good())
    before = tree(tmp_path)
    ran = run_here("make", job, "--view", view)
    assert ran.status == 2
    assert "choose from three-quarter, flat, top" in ran.err
    assert tree(tmp_path) == before


def test_coats_are_shown_where_there_are_any() -> None:
    path = FOLDER / "drift-line.toml"
    files = make(prepare(path), Wishes(kinds=("preview",)))
    assert set(files) == {"preview.png", "preview-coats.png", "preview.html", "report.json"}
    picture = np.asarray(Image.open(io.BytesIO(files["preview-coats.png"])))
    # Seven pictures: the bare box, five coats, the finished box; four paints are told by a swatch of their own colour.
    for colour in ("#c9ccca", "#8d9093", "#ece3cc", "#2f6170", "#b5452a"):
        swatch = (picture == np.array(ImageColor.getrgb(colour))).all(axis=-1)
        assert swatch.sum() > 40 * 40


def pictures_of(page: str) -> list[Image.Image]:
    """The pictures of a page's figures, from their data URLs."""
    found = re.findall(r'<figure><img alt="[^"]*" src="data:image/\w+;base64,([^"]+)"', page)
    return [Image.open(io.BytesIO(base64.b64decode(data))) for data in found]


def test_the_page_holds_prints_masks_and_guide_and_each_coat() -> None:
    page = make(prepare(FOLDER / "drift-line.toml"), Wishes(kinds=("preview",)))["preview.html"].decode("utf-8")
    assert [f'<section id="{name}">' in page for name in ("printed", "masks", "drill")] == [True] * 3
    titles = [
        "Bare box",
        "1 primer, grey",
        "2 antique white",
        "3 dark slate grey",
        "4 sienna",
        "5 clear coat",
        "Finished",
    ]
    assert [f"<span>{title}</span>" in page for title in titles] == [True] * len(titles)
    for caption in ("top, coat 3: dark slate grey", "top, coat 4: sienna", "drill guide, page 1 of "):
        assert f"<figcaption><span>{caption}" in page
    assert min(picture.width for picture in pictures_of(page)) > 100
    assert len(pictures_of(page)) >= 2 + 2 + 1


def test_the_page_shows_the_print_as_it_is_printed(tmp_path: Path) -> None:
    """A mirrored process's art stands on the page mirrored, and says so; the box itself reads right."""
    for mirrored in (False, True):
        wishes = Wishes(("png",), ("art", "preview"), 120, mirrored)
        files = make(prepare(FOLDER / "two-piers.toml", wishes), wishes)
        page = files["preview.html"].decode("utf-8")
        assert ('<span class="mirrored">mirrored</span>' in page) is mirrored
        art = Image.open(io.BytesIO(files["top-art.png"])).convert("RGB")
        shown = pictures_of(page)[0].convert("RGB")
        assert shown.size == art.size
        assert np.abs(np.asarray(shown).astype(int) - np.asarray(art)).mean() < 3


def test_a_page_without_holes_or_coats_has_no_such_parts(tmp_path: Path) -> None:
    text = '[box]\nsize = [60, 40, 30]\n[[face]]\nside = "top"\n[[face.text]]\ntext = "HULL"\nat = [0, 0]\n'
    page = make(prepare(lay(tmp_path, text)), Wishes(kinds=("preview",)))["preview.html"].decode("utf-8")
    assert '<section id="printed">' in page
    assert '<section id="masks">' not in page
    assert '<section id="drill">' not in page


def test_jobs_that_share_sheets_have_previews_of_their_own(tmp_path: Path) -> None:
    jobs = [prepare(lay(tmp_path / name, good())) for name in ("a", "b")]
    made = make_gang(jobs, Wishes(("png",), ("sheet", "preview"), dpi=72), "gang-out")
    assert all("preview.png" in files for files in made.jobs)
    assert "preview.png" not in made.sheets


def test_progress_counts_pages_and_pictures_together(tmp_path: Path) -> None:
    told: list[tuple[str, int, int]] = []
    wishes = Wishes(("svg",), ("art", "preview"), views=VIEWS)
    make(prepare(lay(tmp_path, good())), wishes, lambda *what: told.append(what))
    assert [name for name, _, _ in told] == [
        *("top-art.svg", "preview.png", "preview-flat.png", "preview-top.png", "preview.html"),
    ]
    assert [(done, total) for _, done, total in told] == [(n, 5) for n in range(5)]


def test_the_same_job_gives_the_same_pictures(tmp_path: Path) -> None:
    wishes = Wishes(kinds=("preview",), views=VIEWS)
    one, two = (make(prepare(lay(tmp_path / name, good())), wishes) for name in ("a", "b"))
    assert one == two


def test_a_preview_is_made_by_default_and_told_in_help() -> None:
    assert "preview" in KINDS
    said = " ".join(run_here("make", "--help").out.split())
    assert "preview.png" in said
    assert "--view" in said
    assert "preview-coats.png" in said


def test_colours_are_named_as_the_standard_names_them() -> None:
    """CSS Color Module Level 4, section 6.1, as Pillow's table has it."""
    for name, value in colours().items():
        assert ImageColor.getrgb(name.replace(" ", "")) == ImageColor.getrgb(value)
        assert in_words(value) == name
    assert in_words("#173f4a") == "dark slate grey"
    assert in_words("#010203") == "black"
