"""How far art strays from holes and covers: handbook examples, laws, and a simulation with numpy."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from helpers.jobs import lay
from hypothesis import given
from hypothesis import strategies as st

from facegraphic.film.registration import Fit, Spread, fit, fits, opening, rss, worst_case
from facegraphic.job.load import load_job
from facegraphic.job.model import Control, Face, Finish, Hole
from facegraphic.pipeline.preparing import Wishes, prepare
from facegraphic.stock.tables import films, parts, tolerances, usual_tolerance

HEAD = '[box]\nstock = "112x60x31"\norientation = "portrait"\n'
FACE = '[[face]]\nside = "top"\n'
HOLES = """hole = [
    { id = "a", at = [-12, 30], d = 7.5 },
    { id = "b", at = [0, 0], d = 6.3 },
    { id = "c", at = [9, -40], d = 5 },
]
"""
PARTS = '[[face.control]]\nhole = "a"\npart = "pot-16"\n[[face.control]]\nhole = "b"\npart = "lamp-3-holder"\n'
few = st.lists(st.floats(0, 20), min_size=1, max_size=10)
mm = st.floats(0.01, 3)


def job(folder: Path, finish: str = "", tolerance: str = "", process: str = "adhesive-label") -> tuple[Face, Finish]:
    """A face of three holes, one of them empty, with art knocked out."""
    text = f'{HEAD}[finish]\nprocess = "{process}"\nholes = "clear"\n{finish}\n[tolerance]\n{tolerance}\n'
    text += FACE + HOLES + PARTS
    read = load_job(lay(folder, text))
    return read.faces[0], read.finish


@pytest.mark.parametrize(
    ("strays", "root", "sum_"),
    [
        # Check values for tolerance stacks: two published worked examples of RSS and worst case.
        ([0.20, 0.10, 0.15], 0.2693, 0.45),
        ([0.1] * 10, 0.3162, 1.0),
        # A 3-4-5 triangle, plain geometry.
        ([0.3, 0.4], 0.5, 0.7),
    ],
)
def test_worked_examples(strays: list[float], root: float, sum_: float) -> None:
    assert rss(strays) == pytest.approx(root, abs=5e-5)
    assert worst_case(strays) == pytest.approx(sum_, abs=1e-12)


@given(few)
def test_rss_lies_between_the_largest_stray_and_the_worst_case(strays: list[float]) -> None:
    assert max(strays) <= rss(strays) * (1 + 1e-12)
    assert rss(strays) <= worst_case(strays) * (1 + 1e-12)
    # Cauchy and Schwarz: the sum of n is at most root n times the root of the sum of squares.
    assert worst_case(strays) <= rss(strays) * math.sqrt(len(strays)) * (1 + 1e-12)


@given(few, st.randoms(use_true_random=False))
def test_order_and_sign_do_not_matter(strays: list[float], dice: object) -> None:
    turned = [-stray for stray in reversed(strays)]
    assert rss(turned) == pytest.approx(rss(strays))
    assert worst_case(turned) == pytest.approx(worst_case(strays))


@given(rim=mm, reach=st.floats(0, 6), a=mm, b=mm, more=mm)
def test_the_opening_keeps_the_window(rim: float, reach: float, a: float, b: float, more: float) -> None:
    film, seat = Spread.of(a, b), Spread.of(a, b, more)
    cover = rim + reach
    chosen = opening(rim, cover, film, seat)
    if rim + film.worst <= cover - seat.worst:  # open in the worst case: midway
        assert chosen == pytest.approx((rim + film.worst + cover - seat.worst) / 2)
    if rim + film.rss <= cover - seat.rss:
        assert rim + film.rss - 1e-9 <= chosen
    assert 0 <= chosen <= max(0.0, cover - seat.rss) + 1e-9  # never a gap by RSS
    assert opening(rim, cover, None, seat) <= max(0.0, cover - seat.worst) + 1e-9  # without film, never a gap at all


@given(rim=mm, reach=st.floats(0, 6), a=mm, b=mm, by=st.floats(0, 1))
def test_a_little_more_cover_changes_the_opening_a_little(
    rim: float, reach: float, a: float, b: float, by: float
) -> None:
    film, seat = Spread.of(a), Spread.of(a, b)
    for kind in (film, None):
        less, more = (opening(rim, rim + cover, kind, seat) for cover in (reach, reach + by))
        assert less - 1e-9 <= more <= less + by + 1e-9


def test_each_stray_counts_once(tmp_path: Path) -> None:
    """Reckoned by hand from the table's figures, for a hole of 7.5 mm with a thread of 7 mm, √(12² + 30²) mm out."""
    face, finish = job(tmp_path)
    found = fits(face, finish)[0]
    printed = 0.5 * math.sqrt(12**2 + 30**2) / 100
    strays = [0.3, 0.2 / 2, printed, 0.5]
    assert found.art.rss == pytest.approx(math.sqrt(sum(stray**2 for stray in strays)))
    assert found.art.worst == pytest.approx(sum(strays))
    assert found.seat.rss == pytest.approx(math.sqrt(sum(stray**2 for stray in [*strays, 0.25])))
    assert found.seat.worst == pytest.approx(sum(strays) + 0.25)
    assert found.cover == 12.5 / 2


def test_a_nut_hides_no_more_than_its_flats() -> None:
    """Plain geometry: a regular hexagon of unit corner circle; against shapely's own distance."""
    import shapely

    corners = [(5.5 * math.cos(math.radians(60 * i)), 5.5 * math.sin(math.radians(60 * i))) for i in range(6)]
    inside = shapely.Polygon(corners).exterior.distance(shapely.Point(0, 0))
    assert parts()["pot-9"].nut == 11.0
    assert parts()["pot-9"].hides / 2 == pytest.approx(inside)
    assert parts()["pot-16"].hides == parts()["pot-16"].washer
    assert parts()["dc-inside"].hides == parts()["dc-inside"].bezel
    assert parts()["lamp-5"].hides == 0
    assert all(part.hides <= part.seat for part in parts().values())


def test_covers_by_what_is_known(tmp_path: Path) -> None:
    face, finish = job(tmp_path)
    a, b, c = fits(face, finish)
    assert (a.cover, b.cover, c.cover) == (6.25, 4.0, None)
    # The window of the pot is open by RSS: nothing hangs over, nothing shows. That of the lamp's holder is closed.
    assert a.lacks < 0 < b.lacks
    assert a.over_hole and a.past_cover and b.over_hole and b.past_cover
    assert a.over_hole.rss <= 0 and a.past_cover.rss <= 0
    assert b.over_hole.rss == pytest.approx(b.lacks) and b.past_cover.rss == pytest.approx(0)
    # Nothing is known of what sits in c: just clear of the hole, at least what the film's table says.
    assert c.clear == pytest.approx(max(c.art.rss, films()["adhesive-label"].clear))
    assert c.past_cover is None


def test_an_opening_under_unknown_cover_keeps_off_lettering(tmp_path: Path) -> None:
    face, finish = job(tmp_path, "gap = 0.55")
    assert fits(face, finish)[2].clear == pytest.approx(0.55)


def test_a_bare_lamp_ends_at_its_hole(tmp_path: Path) -> None:
    _, finish = job(tmp_path)
    hole = Hole("lamp", 0.0, 0.0, 5.1)
    bare = fit(hole, Control("lamp", "", parts()["lamp-5"]), finish)
    assert bare.cover == 5.1 / 2
    assert bare.clear == pytest.approx(-bare.art.rss)


@pytest.mark.parametrize("process", films())
def test_only_film_hangs_over(tmp_path: Path, process: str) -> None:
    """Waterslide film and label stock stay; toner leaves its paper, a service prints ink alone (common practice)."""
    face, finish = job(tmp_path, process=process)
    stays = process.startswith("waterslide") or process == "adhesive-label"
    for found in fits(face, finish):
        assert (found.over_hole is not None) == stays
        if found.past_cover and not stays:
            assert found.past_cover.worst <= 1e-9


def test_a_number_goes_before_what_is_chosen(tmp_path: Path) -> None:
    face, finish = job(tmp_path, "clear = 0.7")
    assert [(found.clear, found.chosen) for found in fits(face, finish)] == [(0.7, False)] * 3
    face, finish = job(tmp_path, 'clear = "auto"')
    chosen = fits(face, finish)
    assert all(found.chosen for found in chosen)
    text = lay(tmp_path, "").parent / "job.toml"
    text.write_text(f'{HEAD}[finish]\nholes = "clear"\nclear = 0.7\n{FACE}{HOLES}{PARTS}clear = "auto"\n', "utf-8")
    read = load_job(text)
    assert [found.chosen for found in fits(read.faces[0], read.finish)] == [False, True, False]
    text.write_text(f'{HEAD}[finish]\nholes = "clear"\n{FACE}{HOLES}{PARTS}clear = -0.2\n', "utf-8")
    read = load_job(text)
    assert [found.chosen for found in fits(read.faces[0], read.finish)] == [True, False, True]
    assert fits(read.faces[0], read.finish)[1].clear == -0.2


def test_a_corrected_printer_strays_less(tmp_path: Path) -> None:
    from facegraphic.job.model import Printer

    path = lay(tmp_path, f'{HEAD}[finish]\nholes = "clear"\n{FACE}{HOLES}{PARTS}')
    printer = Printer("attic", 99.2, 100.4)
    plain, corrected = (prepare(path, wishes).job.finish for wishes in (Wishes(), Wishes(printer=printer)))
    assert (plain.tolerance.print, corrected.tolerance.print) == (0.5, 0.2)
    path.write_text(path.read_text("utf-8") + "[tolerance]\nprint = 0.7\n", "utf-8")
    assert prepare(path, Wishes(printer=printer)).job.finish.tolerance.print == 0.7


def test_the_table_names_its_sources_and_keeps_to_the_standard() -> None:
    # ISO 2768-1 class m: 0.3 mm over 30 to 120 mm, 0.2 mm over 6 to 30 mm (two web copies of its table 1).
    assert (usual_tolerance("drill", "adhesive-label"), usual_tolerance("size", "adhesive-label")) == (0.3, 0.2)
    assert usual_tolerance("place", "service-print") < usual_tolerance("place", "adhesive-label")
    assert usual_tolerance("print-corrected", "toner-transfer") < usual_tolerance("print", "toner-transfer")
    for row in tolerances().values():
        assert row.source and row.value > 0 and (not row.process or row.process in films())


SAMPLES = 400_000


def strays(found: Fit, finish: Finish, dice: np.random.Generator, spread: str) -> tuple[np.ndarray, np.ndarray]:
    """Shifts of the art from hole and cover, as vectors, for many boxes; and the hole's radius errors.

    Each figure is three standard deviations along any line ("normal"), or the furthest in any direction ("limits").
    """
    own = finish.tolerance
    lengths = [own.drill, own.print * math.hypot(found.hole.x, found.hole.y) / 100, own.place, found.play]
    if spread == "normal":
        each = [dice.normal(0, length / 3, (SAMPLES, 2)) for length in lengths]
        return np.stack(each), dice.normal(0, own.size / 6, SAMPLES)
    angle = dice.uniform(0, 2 * math.pi, (4, SAMPLES))
    radius = np.array(lengths)[:, None] * np.sqrt(dice.uniform(0, 1, (4, SAMPLES)))
    each = np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=2)
    return each, dice.uniform(-own.size / 2, own.size / 2, SAMPLES)


def parted(found: Fit, finish: Finish, spread: str) -> tuple[np.ndarray, np.ndarray]:
    """By how much film hangs over the hole, and the opening shows past the cover, in many boxes (circles by numpy)."""
    each, size = strays(found, finish, np.random.default_rng(20240), spread)
    drill, printed, place, moves = each
    art = printed + place - drill
    over = (found.rim + size) + np.hypot(*art.T) - (found.rim + found.clear)
    # A wider hole leaves its part more room in the same direction.
    past = np.hypot(*(art - moves).T) + size + found.rim + found.clear - (found.cover or 0)
    return over, past


def beyond(limit: float, isotropic: float, radial: float) -> float:
    """P(R + N > limit), R of Rayleigh's law and N normal: by completing the square in the convolution (textbook)."""

    def below(x: float) -> float:
        return 0.5 * math.erfc(-x / math.sqrt(2))

    both = math.hypot(isotropic, radial)
    tail = math.exp(-((limit / both) ** 2) / 2) * isotropic / both
    return below(-limit / radial) + tail * below(limit * isotropic / (both * radial))


def test_rss_means_what_it_says(tmp_path: Path) -> None:
    """At the edge of the RSS window the simulated share is the law's, and at most exp(-9/2) = 1.1 %."""
    face, finish = job(tmp_path)
    for found in fits(face, finish)[:2]:
        assert found.cover
        for edge, kind in ((found.art.rss, 0), (found.cover - found.rim - found.seat.rss, 1)):
            share = float((parted(replace(found, clear=edge), finish, "normal")[kind] > 0).mean())
            whole = (found.art.rss, found.seat.rss)[kind]
            radial = finish.tolerance.size / 6
            law = beyond(whole, math.sqrt((whole / 3) ** 2 - radial**2), radial)
            assert share == pytest.approx(law, abs=5 * math.sqrt(law / SAMPLES))
            assert law <= math.exp(-4.5)
            # A tenth less room is seen: the comparison can fail.
            tight = replace(found, clear=edge - whole / 10 if kind == 0 else edge + whole / 10)
            assert float((parted(tight, finish, "normal")[kind] > 0).mean()) > 1.5 * law


def test_along_one_line_rss_is_three_standard_deviations(tmp_path: Path) -> None:
    """The normal law: beyond three standard deviations, either way, lie 0.27 % (any table of it)."""
    face, finish = job(tmp_path)
    found = fits(face, finish)[0]
    each, size = strays(found, finish, np.random.default_rng(7), "normal")
    along = each[1, :, 0] + each[2, :, 0] - each[0, :, 0] + size
    assert float((np.abs(along) > found.art.rss).mean()) == pytest.approx(0.0027, abs=5 * math.sqrt(0.0027 / SAMPLES))


def test_the_chosen_opening_shows_no_more_than_rss_allows(tmp_path: Path) -> None:
    face, finish = job(tmp_path)
    a, b, _ = fits(face, finish)
    for kind in (0, 1):  # a is open by RSS
        assert float((parted(a, finish, "normal")[kind] > 0).mean()) <= math.exp(-4.5)
    over, past = parted(b, finish, "normal")  # b is closed: film is let hang over, and still no gap
    assert float((past > 0).mean()) <= math.exp(-4.5) * 1.1
    assert float((over > 0).mean()) > 0.1


def test_no_box_passes_the_worst_case(tmp_path: Path) -> None:
    face, finish = job(tmp_path)
    for found in fits(face, finish)[:2]:
        assert found.over_hole and found.past_cover
        over, past = parted(found, finish, "limits")
        assert over.max() <= found.over_hole.worst + 1e-9
        assert past.max() <= found.past_cover.worst + 1e-9
        # And the worst case can be met: all one way, it is reached to a hair.
        own = finish.tolerance
        printed = own.print * math.hypot(found.hole.x, found.hole.y) / 100
        reached = own.drill + printed + own.place + own.size / 2 - found.clear
        assert reached == pytest.approx(found.over_hole.worst)
        assert over.max() > found.over_hole.worst - 0.35


def test_an_open_window_never_fails_at_the_limits(tmp_path: Path) -> None:
    """With work as close as a jig's, the worst case leaves a window, and the opening stands in its middle."""
    face, finish = job(tmp_path, tolerance="drill = 0.1\nsize = 0.1\nprint = 0.1\nplace = 0.2")
    for found in fits(face, finish)[:2]:
        assert found.over_hole and found.past_cover
        assert found.over_hole.worst == pytest.approx(found.past_cover.worst)
        assert found.over_hole.worst < 0
        assert max(part.max() for part in parted(found, finish, "limits")) < 0
