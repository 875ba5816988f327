"""Labels too wide for their room: smaller, condensed, two lines, never below the process's minimum."""

from pathlib import Path

import pytest
from helpers.jobs import lay
from helpers.runs import run_here
from hypothesis import given
from hypothesis import strategies as st

from facegraphic.lettering.fitting import SHARES, fittings, two_lines
from facegraphic.lettering.library import condensed_of, load_named
from facegraphic.lettering.text import Style, line_length
from facegraphic.pipeline.preparing import prepare

PLAIN = load_named("tagstrip-regular")
STYLE = Style(PLAIN, 3.0)

JOB = """\
[box]
size = [{across}, 60, 30]
edge = 0
corner = 0
[finish]
process = "{process}"
font = "tagstrip-regular"
height = 3
[[face]]
side = "top"
hole = [{{ id = "a", at = [0, 5], d = 7.5 }}]
[[face.control]]
hole = "a"
part = "pot-16"
knob = "round-13"
label = "{label}"
"""


def label_of(folder: Path, across: float, label: str, process: str = "adhesive-label") -> tuple[str, float, list[str]]:
    """The label's text and capital height as laid out, and the codes of what was found."""
    prepared = prepare(lay(folder, JOB.format(across=across, label=label, process=process)))
    legends = prepared.layouts[0].legends
    # The faces are so small that the part itself does not go into the box: only what is said of lettering counts.
    codes = [finding.code for finding in prepared.findings if finding.code.startswith("legend")]
    return (legends[0].text, legends[0].block.cap, codes) if legends else ("", 0.0, codes)


def test_the_order_is_smaller_then_condensed_then_two_lines() -> None:
    ways = list(fittings("OUTPUT LEVEL", STYLE, condensed_of(PLAIN), 1.5))
    n = len(SHARES)
    assert [way.style.font.name for way in ways[:n]] == ["tagstrip-regular"] * n
    assert [way.style.font.name for way in ways[n : 2 * n]] == ["tagstrip-condensed-regular"] * n
    assert [way.text for way in ways[2 * n : 3 * n]] == ["OUTPUT\nLEVEL"] * n
    assert [way.style.cap for way in ways[:n]] == pytest.approx([3.0, 2.7, 2.4, 2.1])


@given(cap=st.floats(0.8, 6), smallest=st.floats(0.5, 3))
def test_never_below_the_minimum_unless_asked_so(cap: float, smallest: float) -> None:
    caps = [way.style.cap for way in fittings("A B", Style(PLAIN, cap), condensed_of(PLAIN), smallest)]
    assert min(caps) >= min(cap, smallest) - 1e-6


@given(st.lists(st.sampled_from(["IN", "OUT", "LEVEL", "MIX", "A"]), min_size=2, max_size=6))
def test_the_break_is_the_best_there_is(words: list[str]) -> None:
    broken = two_lines(" ".join(words), STYLE)
    assert broken is not None
    widest = max(line_length(line, STYLE) for line in broken.split("\n"))
    others = [
        max(line_length(" ".join(words[:i]), STYLE), line_length(" ".join(words[i:]), STYLE))
        for i in range(1, len(words))
    ]
    assert widest == pytest.approx(min(others))


@pytest.mark.parametrize(("text", "broken"), [("WET/DRY", "WET/\nDRY"), ("PRE-DELAY", "PRE-\nDELAY"), ("DEPTH", None)])
def test_breaks_at_hyphens_and_slashes_but_not_within_words(text: str, broken: str | None) -> None:
    assert two_lines(text, STYLE) == broken


def test_a_label_with_room_is_set_as_asked(tmp_path: Path) -> None:
    assert label_of(tmp_path, 80, "OUTPUT LEVEL") == ("OUTPUT LEVEL", 3.0, [])


def test_less_and_less_room(tmp_path: Path) -> None:
    full = line_length("OUTPUT LEVEL", STYLE) + 5
    text, cap, codes = label_of(tmp_path / "smaller", full * 0.93, "OUTPUT LEVEL")
    assert (text, cap, codes) == ("OUTPUT LEVEL", pytest.approx(2.7), ["legend-fitted"])
    text, cap, codes = label_of(tmp_path / "lines", full * 0.62, "OUTPUT LEVEL")
    assert "\n" in text
    assert codes == ["legend-fitted"]


def test_a_row_is_set_smaller_together(tmp_path: Path) -> None:
    job = JOB.format(across=70, label="REGENERATION", process="adhesive-label").replace(
        '{ id = "a", at = [0, 5], d = 7.5 }',
        '{ id = "a", at = [-15, 5], d = 7.5 }, { id = "b", at = [15, 5], d = 7.5 }',
    )
    job += '[[face.control]]\nhole = "b"\npart = "pot-16"\nknob = "round-13"\nlabel = "MIX"\n'
    legends = prepare(lay(tmp_path, job)).layouts[0].legends
    assert {legend.text for legend in legends} == {"REGENERATION", "MIX"}
    assert len({legend.block.cap for legend in legends}) == 1
    assert len({legend.box.y0 for legend in legends}) <= 2


def test_without_any_room_it_is_an_error_that_says_what_to_do(tmp_path: Path) -> None:
    job = JOB.format(across=30, label="EXTRAORDINARILYLONGUNBREAKABLEWORD", process="toner-transfer")
    ran = run_here("make", lay(tmp_path, job))
    assert ran.status == 1
    assert "EXTRAORDINARILYLONGUNBREAKABLEWORD" in ran.err
    assert "shorten it" in ran.err
    assert not (tmp_path / "job-out").exists()
