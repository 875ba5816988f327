"""Real NC drill files: those that Debian's gerbv brings along as examples, held against published and outside counts.

Figures: read with gerbonara and pcb-tools, and counted by hand (the table of drill data in the project's check values).
pcb-tools 0.1.6 reads three of these as this project does. Of the others it reads the figures of jj1.drl and of
numpres ten times too small or large, and of nollezappare a hundred times: heads that leave their digits unsaid.
"""

import hashlib
from collections import Counter
from pathlib import Path

import pytest
from helpers.drills import Row, alike, by_gerbonara, by_gerbv, by_pcb_tools, example, read, rows, told

INCH = 25.4
# name: (start of its sha256, holes, first hole, sizes with their counts in mm)
FILES: dict[str, tuple[str, int, tuple[float, float], dict[float, int]]] = {
    "ekf2/drill1.exc": (
        "8a7b3e07", 16, (59.1007, 45.3847),
        {0.889: 4, 0.9906: 1, 1.0922: 1, 1.6002: 1, 1.8034: 2, 2.1082: 2, 2.2098: 3, 3.2004: 2},
    ),
    "ekf2/drill0.exc": ("ab746f10", 2704, (177.0990, 27.1501), {}),
    "hellboard/hellboard.plated-drill.cnc": ("", 360, (1.6891, 59.6900), {0.7112: 360}),
    "numpres/numpres.pcb.output_plated-drill.grb": ("", 85, (7.7978, 5.1054), {}),
    "nollezappare/ThruHolePlated.ncd": ("", 94, (40.5, 6.27), {0.864: 68, 1.092: 4, 1.194: 12, 1.524: 7, 1.956: 3}),
}  # fmt: skip


def sizes(found: list[Row]) -> dict[float, int]:
    return dict(sorted(Counter(round(d, 4) for _, _, d in found).items()))


@pytest.mark.parametrize("name", FILES)
def test_counts_sizes_and_first_holes(name: str) -> None:
    start, count, first, wanted = FILES[name]
    data = example(name).read_bytes()
    assert hashlib.sha256(data).hexdigest().startswith(start)
    found = rows(read(data))
    assert len(found) == count
    assert found[0][:2] == pytest.approx(first, abs=5e-5)
    assert not wanted or sizes(found) == wanted


def test_the_box_of_a_real_file() -> None:
    found = rows(read(example("ekf2/drill1.exc").read_bytes()))
    box = (
        min(x - d / 2 for x, _, d in found),
        max(x + d / 2 for x, _, d in found),
        min(y - d / 2 for _, y, d in found),
        max(y + d / 2 for _, y, d in found),
    )
    assert box == pytest.approx((40.831, 195.654, 30.970, 115.758), abs=6e-4)


def test_the_smallest_tool_of_a_large_file() -> None:
    assert sizes(rows(read(example("ekf2/drill0.exc").read_bytes())))[0.3048] == 1945


def test_only_routed_moves() -> None:
    data = example("amacro-ref/jj1.drl").read_bytes()
    assert hashlib.sha256(data).hexdigest().startswith("f98e7960")
    reading = read(data)
    assert rows(reading) == []
    assert [slot.width for slot in reading.slots] == pytest.approx([0.8] * 2 + [1.0] * 4)
    assert all(slot.routed for slot in reading.slots)
    ends = [(point, slot.width / 2) for slot in reading.slots for point in (slot.start, slot.end)]
    assert min(x - r for (x, _), r in ends) == pytest.approx(2.15)
    assert max(x + r for (x, _), r in ends) == pytest.approx(9.05)
    assert min(y - r for (_, y), r in ends) == pytest.approx(76.80)
    assert max(y + r for (_, y), r in ends) == pytest.approx(83.20)
    for line in (20, 21, 26, 27, 31, 32):
        assert f"holes.file:{line}: routed move" in told(reading)


def test_without_units_it_asks() -> None:
    data = example("orcad/thruhole.tap").read_bytes()
    refused = read(data)
    assert refused.holes == ()
    assert "does not say its units" in told(refused)
    assert "--units in" in told(refused)
    assert sizes(rows(read(data, "in"))) == {0.7112: 9, 0.8636: 3, 0.9906: 1}
    # 2.4 inches, leading zeros kept and all figures there: X002250Y002300.
    assert rows(read(data, "in"))[0][:2] == pytest.approx((0.225 * INCH, 0.23 * INCH))


def test_a_binary_file_is_refused() -> None:
    reading = read(example("protel-pnp/SE_SG_IF_V2.DRL").read_bytes())
    assert reading.holes == ()
    assert "this is a binary file" in told(reading)


def test_a_layer_of_copper_is_refused() -> None:
    assert "this is a Gerber file" in told(read(example("orcad/rs232_cm.drd").read_bytes()))


@pytest.mark.parametrize(("name", "with_t0", "without"), [("ekf2/drill20.exc", 202, 137), ("ekf2/drill30.exc", 73, 56)])
def test_holes_under_t0_are_read_and_told(name: str, with_t0: int, without: int) -> None:
    # gerbonara counts 137 and 56 here, a count of lines 202 and 73: it passes T0 over.
    reading = read(example(name).read_bytes())
    assert len(rows(reading)) == with_t0
    assert "holes under T0" in told(reading)
    assert len(by_gerbonara(example(name))) == without


OUTSIDE = [name for name in FILES if name != "nollezappare/ThruHolePlated.ncd"]  # gerbonara refuses its line "R,H"


@pytest.mark.parametrize("name", OUTSIDE)
def test_gerbonara_reads_the_same(name: str) -> None:
    path = example(name)
    assert alike(rows(read(path.read_bytes())), by_gerbonara(path), 1e-6, 1e-6)


@pytest.mark.parametrize("name", FILES)
def test_gerbv_reads_the_same(name: str, tmp_path: Path) -> None:
    path = example(name)
    # It writes four places of an inch for positions and three for sizes.
    assert alike(rows(read(path.read_bytes())), by_gerbv(path, tmp_path), 0.0026, 0.0255)


@pytest.mark.parametrize("name", ["ekf2/drill1.exc", "ekf2/drill0.exc", "hellboard/hellboard.plated-drill.cnc"])
def test_pcb_tools_reads_the_same(name: str) -> None:
    data = example(name).read_bytes()
    theirs, slots = by_pcb_tools(data.decode("latin-1"))
    ours = rows(read(data))
    assert slots == []
    assert len(theirs) == len(ours) == FILES[name][1]
    assert alike(ours, theirs, 1e-6, 1e-6)
    assert not alike([(x + 0.001, y, d) for x, y, d in ours], theirs, 1e-6, 1e-6)


def test_pcb_tools_counts_the_same_routed_moves() -> None:
    data = example("amacro-ref/jj1.drl").read_bytes()
    holes, slots = by_pcb_tools(data.decode("latin-1"))
    ours = read(data).slots
    assert holes == []
    assert [width for _, _, width in slots] == pytest.approx([slot.width for slot in ours])
    # It takes the head's METRIC for other digits and sets the point elsewhere; the moves are in step all the same.
    for slot, (start, end, _) in zip(ours, slots, strict=True):
        assert (*slot.start, *slot.end) == pytest.approx([10 * figure for figure in (*start, *end)])


@pytest.mark.parametrize(("unit", "mm"), [("METRIC", 1.0), ("INCH", 25.4)])
def test_pcb_tools_reads_the_same_slot(unit: str, mm: float) -> None:
    # G85 in IPC-NC-349: a slot from the place before it to the one behind it.
    program = f"M48\n{unit},TZ\nT1C0.8\n%\nT1\nX1.0Y2.0G85X3.0Y2.5\nX5.0Y6.0\nM30\n"
    holes, slots = by_pcb_tools(program)
    ours = read(program)
    assert [*rows(ours), *holes] == [pytest.approx((5 * mm, 6 * mm, 0.8 * mm))] * 2
    wanted = ((mm, 2 * mm), (3 * mm, 2.5 * mm), 0.8 * mm)
    for start, end, width in [*slots, *((slot.start, slot.end, slot.width) for slot in ours.slots)]:
        assert (*start, *end, width) == pytest.approx((*wanted[0], *wanted[1], wanted[2]))
    assert len(slots) == len(ours.slots) == 1


def test_every_real_program_has_its_end() -> None:
    for name in (*FILES, "amacro-ref/jj1.drl", "orcad/thruhole.tap", "ekf2/drill20.exc", "ekf2/drill30.exc"):
        assert "may be cut short" not in told(read(example(name).read_bytes(), "in")), name


def test_a_real_program_without_head_or_end_still_reads() -> None:
    data = example("orcad/thruhole.tap").read_bytes()
    shorter = data[: data.index(b"M30")]
    assert rows(read(shorter, "in")) == rows(read(data, "in"))
    assert "may be cut short" not in told(read(shorter, "in"))  # programs without a head come as they are
    stump = read(shorter.rstrip()[:-2], "in")
    assert "the file is cut short: its last line" in told(stump)


def test_the_comparison_sees_planted_errors() -> None:
    some = [(1.0, 2.0, 3.0), (4.0, 5.0, 6.0)]
    assert alike(some, some[::-1], 1e-6, 1e-6)
    assert not alike(some, some[:1], 1e-6, 1e-6)
    assert not alike(some[:1], some, 1e-6, 1e-6)
    assert not alike(some, [(1.0, 2.0, 3.0), (4.0, 5.01, 6.0)], 1e-3, 1e-3)
    assert not alike(some, [(1.0, 2.0, 3.1), (4.0, 5.0, 6.0)], 1e-3, 1e-3)
