"""NC drill files: how figures are decoded, the dialects of CAD programs, and what is told or refused."""

from pathlib import Path

import pytest
from helpers.drills import Row, alike, by_gerbonara, by_gerbv, read, rows, told
from hypothesis import given, settings
from hypothesis import strategies as st

from facegraphic.drill.model import LeftOut

PLAIN = [(10.0, 20.0, 7.5), (30.0, 20.0, 7.5), (30.0, 95.5, 12.2)]


def near(found: list[Row], wanted: list[Row]) -> bool:
    return len(found) == len(wanted) and all(
        row == pytest.approx(other, abs=1e-9) for row, other in zip(found, wanted, strict=True)
    )


# Line, header, mm: gerbonara and gerbv's rules agree on these (the project's check values, section 6).
DECODED = [
    ("X01Y02", "INCH,LZ", (25.4, 50.8)),
    ("X0152Y00455", "INCH,LZ", (38.608, 11.557)),
    ("X005Y0105", "METRIC,LZ", (5.0, 10.5)),
    ("X000665Y023500", "INCH,TZ", (1.6891, 59.69)),
    ("X2550Y80000", "METRIC,TZ", (2.55, 80.0)),
    ("X3070Y2010", "INCH,TZ", (7.7978, 5.1054)),
]


@pytest.mark.parametrize(("line", "head", "mm"), DECODED)
def test_figures_are_decoded_as_published(line: str, head: str, mm: tuple[float, float], tmp_path: Path) -> None:
    program = f"M48\n{head}\nT1C0.100\n%\nT1\n{line}\nM30\n"
    (x, y, _) = rows(read(program))[0]
    assert (x, y) == pytest.approx(mm, abs=1e-9)
    path = tmp_path / "a.drl"
    path.write_text(program.replace("METRIC,TZ", "METRIC,TZ,000.000").replace("METRIC,LZ", "METRIC,LZ,000.000"))
    assert by_gerbonara(path)[0][:2] == pytest.approx(mm, abs=1e-6)
    assert by_gerbv(path, tmp_path)[0][:2] == pytest.approx(mm, abs=0.0026)


HEAD = "M48\nMETRIC,TZ\nT1C7.5\nT2C12.2\n%\n"
TENTHS = "T1\nX100000Y200000\nX300000\nT2\nY955000\n"
SAME = {
    "trailing zeros kept": HEAD + "T1\nX10000Y20000\nX30000Y20000\nT2\nX30000Y95500\nM30\n",
    "all zeros kept": HEAD + "T1\nX010000Y020000\nX030000Y020000\nT2\nX030000Y095500\nM30\n",
    "leading zeros kept": HEAD.replace("TZ", "LZ") + "T1\nX01Y02\nX03Y02\nT2\nX03Y0955\nM30\n",
    "points": HEAD.replace(",TZ", "") + "T1\nX10.0Y20.0\nX30.Y20\nT2\nX30.0Y95.5\nM30\n".replace("Y20\n", "Y20.0\n"),
    "modal axes": HEAD + "T1\nX10000Y20000\nX30000\nT2\nY95500\nM30\n",
    "incremental": HEAD + "G91\nT1\nX10000Y20000\nX20000\nT2\nY75500\nM30\n",
    "incremental by the head": HEAD.replace("T1C", "ICI,ON\nT1C") + "T1\nX10000Y20000\nX20000\nT2\nY75500\nM30\n",
    "absolute again": HEAD + "G91\nT1\nX10000Y20000\nG90\nX30000\nT2\nY95500\nM30\n",
    "Windows line ends, blank lines, comments": (
        (HEAD + "\n; holes\nT1 ; first\nX10000Y20000\n\n(two)X30000\nT2\nY95500\nM30\n").replace("\n", "\r\n")
    ),
    "lower case": (HEAD + "T1\nX10000Y20000\nX30000\nT2\nY95500\nM30\n").lower(),
    "spaces between words": HEAD + "T1\nX10000 Y20000\n X30000\nT2\nX30000 Y95500\nM30\n",
    "signs": HEAD + "T1\nX+10000Y+20000\nX+30000\nT2\nY95500\nM30\n",
    "digits in the head": HEAD.replace("TZ", "TZ,0000.00") + "T1\nX1000Y2000\nX3000\nT2\nY9550\nM30\n",
    "digits in the head, other order": HEAD.replace("TZ", "000.0000,TZ") + TENTHS,
    "digits in a comment": HEAD.replace("METRIC", ";FILE_FORMAT=4:4\nMETRIC") + TENTHS,
    "leading zeros and digits in a comment": (
        "M48\n;FILE_FORMAT=4:4\nMETRIC,LZ\nT1F00S00C7.5\nT2F00S00C12.2\n%\n"
        "G90\nG05\nT01\nX001Y002\nX003\nT02\nY00955\nM30\n"
    ),
    "digits in braces": (
        "M48\n; FORMAT={3:3/ absolute / metric / suppress leading zeros}\nFMAT,2\nMETRIC\nT1C7.5\nT2C12.2\n%\n"
        "G90\nG05\nT1\nX10000Y20000\nX30000\nT2\nY95500\nT0\nM30\n"
    ),
    "format words": HEAD.replace("T1C", "FMAT,2\nVER,1\nICI,OFF\nATC,ON\nTCST,OFF\nR,H\n/\nT1C") + (
        "G90\nG05\nM71\nT1\nX10000Y20000\nX30000\nT2\nY95500\nT0\nM30\n"
    ),
    "feeds and speeds": HEAD.replace("C7.5", "F085S030C7.5H500").replace("C12.2", "C12.2B200F25S40Z-1.2") + (
        "T01\nX10000Y20000\nX30000\nT02\nY95500\nM30\n"
    ),
    "head ends with M95": HEAD.replace("%", "M95") + "T1\nX10000Y20000\nX30000\nT2\nY95500\nM00\n",
    "tools in the body": "M48\nMETRIC,TZ\n%\nT1C7.5F200S100\nX10000Y20000\nX30000\nT2C12.2F200S100\nY95500\nM30\n",
    "no head but M71": "%\nM71\nT1C7.5\nX10000Y20000\nX30000\nT2C12.2\nY95500\nM30\n",
    "M72 in the head": (
        "%\nM48\nM72\nT01C0.295275590\nT02C0.480314960\n%\nT01\nX3.937007874Y7.874015748\n".replace("3.937", "0.3937")
        .replace("0.3937007874", "0.39370078740").replace("7.874015748", "0.78740157480")
        + "X1.18110236220\nT02\nY3.75984251968\nM30\n"
    ),
    "units after the tools": (
        "M48\nT01C7.5\nT02C12.2\n%\nG90\nM71\nG93X000000Y000000\nG05\nT01\nX10000Y20000\nX30000\nT02\nY95500\n"
    ),
    "zero set elsewhere": HEAD + "G93X5000Y-5000\nT1\nX5000Y25000\nX25000\nT2\nY100500\nM30\n",
    "repeat": HEAD + "T1\nX10000Y20000\nR1X20000\nT2\nX30000Y95500\nM30\n",
    "tool and hole in a line": HEAD + "T1X10000Y20000\nX30000\nT2Y95500\nM30\n",
    "codes in a line": HEAD + "G90G05T1\nG81X10000Y20000\nG05X30000\nT2G05Y95500\nM30\n",
    "line numbers": HEAD + "N1T1\nN2X10000Y20000\nN3X30000\nN4T2\nN5Y95500\nM30\n",
    "tool with its offset": HEAD + "T0101\nX10000Y20000\nX30000\nT0202\nY95500\nM30\n",
    "routing before": HEAD + "T1\nG00X0Y0\nM15\nG01X1000\nM16\nG05\nX10000Y20000\nX30000\nT2\nY95500\nM30\n",
    "operator's texts": HEAD + "M47, LOAD X1Y1\nT1\nX10000Y20000\nM45,HALF WAY\nX30000\nT2\nY95500\nM30\n",
    "sizes in comments": (
        ";HOLESIZE\n; T01 Holesize 1. = 7.500000 Tolerance = +0.0/-0.0 PLATED MM Quantity = 2\n"
        "; T02 Holesize 2. = 12.200000 Tolerance = +0.0/-0.0 NON_PLATED MM Quantity = 1\n%\nG90\nM71\nT01\n"
        "X10000Y20000\nX30000Y20000\nT02\nX30000Y95500\nM30\n"
    ),
    "nothing said, leading zeros and no trailing ones": HEAD.replace(",TZ", "") + "T1\nX01Y02\nX03\nT2\nY0955\nM30\n",
    "nothing said, all zeros, seven digits": HEAD.replace(",TZ", "") + (
        "T1\nX0100000Y0200000\nX0300000\nT2\nY0955000\nM30\n"
    ),
    "units by M71 with zeros": HEAD.replace("METRIC", "M71") + "T1\nX10000Y20000\nX30000\nT2\nY95500\nM30\n",
    "a pause between tools": HEAD + "T1\nX10000Y20000\nX30000\nM00\nT2\nY95500\nM30\n",
    "sizes in comments, tools by pauses": (
        ";LEADER: 12\n;   Holesize 1. = 7.500000 Tolerance = +0.0/-0.0 PLATED MM Quantity = 2\n"
        ";   Holesize 2. = 12.200000 Tolerance = +0.0/-0.0 NON_PLATED MM Quantity = 1\n%\nG90\nM71\n"
        "X0100000Y0200000\nX0300000Y0200000\nM00\nX0300000Y0955000\nM30\n"
    ),
    "byte order mark": "\ufeff" + HEAD + "T1\nX10000Y20000\nX30000\nT2\nY95500\nM30\n",
}  # fmt: skip


@pytest.mark.parametrize("name", SAME)
def test_one_program_written_many_ways_reads_the_same(name: str) -> None:
    reading = read(SAME[name])
    assert reading.kind == "NC drill"
    assert rows(reading) == [pytest.approx(row, abs=1e-6) for row in PLAIN]


# gerbv 2.9.6 goes its own way in these: it knows no lower case, no digits but 2.4 and 3.3 with points in heads or
# braces, takes sizes before units for inches, moves zero the other way and by inches, ends at M00, reads one tool in a
# line and no sizes in comments, takes T0101 for the tool 101, and falls over some machine settings.
NOT_GERBV = {
    "lower case", "digits in the head", "digits in the head, other order", "leading zeros and digits in a comment",
    "digits in braces", "units after the tools", "zero set elsewhere", "tool and hole in a line", "codes in a line",
    "tool with its offset", "sizes in comments", "sizes in comments, tools by pauses", "a pause between tools",
    "nothing said, leading zeros and no trailing ones", "format words",
}  # fmt: skip


@pytest.mark.parametrize("name", [name for name in SAME if name not in NOT_GERBV])
def test_gerbv_reads_the_dialects_too(name: str, tmp_path: Path) -> None:
    path = tmp_path / "a.drl"
    path.write_text(SAME[name], encoding="utf-8")
    assert alike(PLAIN, by_gerbv(path, tmp_path), 0.0026, 0.0255)


def test_holes_are_named_after_their_tool_and_turn_and_know_their_line() -> None:
    holes = read(HEAD + "T2\nX1000Y1000\nT1\nX2000\nX3000\nT2\nX4000\n").holes
    assert [(hole.id, hole.tool, hole.line) for hole in holes] == [
        ("T2-1", "T2", 7), ("T1-1", "T1", 9), ("T1-2", "T1", 10), ("T2-2", "T2", 12),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("comments", "names"),
    [
        ((";TYPE=PLATED", ";TYPE=NON_PLATED"), ["plated", "non-plated"]),
        (("; #@! TA.AperFunction,Plated,PTH", "; #@! TA.AperFunction,NonPlated,NPTH"), ["plated", "non-plated"]),
        (("; NON-PLATED HOLES START AT T1", "; THROUGH (PLATED) HOLES START AT T2"), ["non-plated", "plated"]),
    ],
)  # fmt: skip
def test_plating_in_comments_counts_as_a_layer(comments: tuple[str, str], names: list[str]) -> None:
    program = f"M48\nMETRIC\n{comments[0]}\nT1C1.0\n{comments[1]}\nT2C2.0\n%\nT1\nX1.0Y1.0\nT2\nX2.0Y2.0\nM30\n"
    assert [hole.layer for hole in read(program).holes] == names
    assert [hole.id for hole in read(program, layers=(names[1],)).holes] == ["T2-1"]
    assert f'no hole is on a layer "{names[1]}x"' in told(read(program, layers=(names[1] + "x",)))


def test_slots_are_told_and_kept_apart_from_holes() -> None:
    reading = read(HEAD + "T1\nX1000Y2000G85X3000Y2500\nG85Y9000\nX5000Y5000\n")
    assert rows(reading) == [(5.0, 5.0, 7.5)]
    assert [(slot.start, slot.end, slot.width, slot.routed) for slot in reading.slots] == [
        ((1.0, 2.0), (3.0, 2.5), 7.5, False),
        ((3.0, 2.5), (3.0, 9.0), 7.5, False),
    ]
    assert "holes.file:7: slot 7.5 mm wide from 1, 2 to 3, 2.5 mm is left out" in told(reading)


def test_many_slots_are_told_shortly_but_none_is_forgotten() -> None:
    reading = read(HEAD + "T1\n" + "".join(f"X{n}000Y0G85X{n}000Y5000\n" for n in range(40)))
    assert len(reading.slots) == 40
    assert "28 more slots or routed moves are left out" in told(reading)
    assert told(reading).count("is left out") == 12


TOLD = {
    "circle routed by one word": ("T1\nG00X5000Y5000\nG32X5000Y5000A2000\nG05\n", "a circle routed at 5, 5 mm"),
    "circle routed by an arc": ("T1\nG00X5000Y5000\nM15\nG03X5000Y5000A2500\nM16\nG05\n", "routed move 7.5 mm wide"),
    "drilled text": ("T1\nM97,A37\nX5000Y5000\nX1000Y1000\n", "text drilled as dots is left out"),
    "pause": ("T1\nX1000Y1000\nM00\nT2\nX2000Y1000\n", "the program goes on after M00"),
    "more after M00": ("T1\nX1000Y1000\nM00\nX2000Y1000\n", "more after M00, the program's end; it is left out"),
    "zero elsewhere": ("G93X1000Y0\nT1\nX1000Y1000\n", "G93: what follows counts from 1, 0 mm"),
    "more after the end": ("T1\nX1000Y1000\nM30\nX2000Y1000\n", "more after the program's end"),
    "tool changed": ("T1\nX1000Y1000\nT1C1.0\nX2000Y1000\n", "T1 changes from 7.5 to 1 mm"),
    "units changed": ("T1\nX1000Y1000\nM72\nX2000Y1000\n", "counts in in, no longer in mm"),
    "hole twice": ("T1\nX1000Y1000\nX2000\nX1000\n", "holes T1-1 and T1-3 share one place, 1, 1 mm"),
    "digits too many": ("T1\nX00010000Y1000\n", "figures with more digits than the 3.3"),
    "T0 without a hole": ("T1\nX1000Y1000\nT0\nM30\n", ""),
}  # fmt: skip


@pytest.mark.parametrize("name", TOLD)
def test_what_is_left_out_or_trusted_is_told(name: str) -> None:
    body, says = TOLD[name]
    reading = read(HEAD + body)
    assert reading.problems == ()
    assert says in told(reading)
    assert (told(reading) == "") == (says == "")


def test_a_file_that_says_all_there_is_to_say_gets_no_note() -> None:
    assert told(read(SAME["trailing zeros kept"])) == ""
    assert told(read(SAME["points"])) == ""


def test_figures_whose_zeros_nobody_tells_of_are_told() -> None:
    assert "does not say how its figures are written; read as 3.3" in told(
        read(HEAD.replace(",TZ", "") + "T1\nX1000Y1\n")
    )


def test_figures_tell_by_themselves_which_zeros_stand() -> None:
    bare = "%\nT1C.125F095S3\nX01095Y0127\nX035Y02445\nM30\n"
    assert near(rows(read(bare, "in")), [(27.813, 32.258, 3.175), (88.9, 62.103, 3.175)])
    # Sizes with five places go with positions of five.
    five = "%\nM48\nM72\nT01C0.03200\n%\nT01\nX11212Y116343\nM30\n"
    assert near(rows(read(five)), [(0.11212 * 25.4, 1.16343 * 25.4, 0.8128)])
    four = five.replace("0.03200", "0.0320")
    assert near(rows(read(four)), [(1.1212 * 25.4, 11.6343 * 25.4, 0.8128)])
    assert "read as 2.5, leading zeros left off" in told(read(five))


def test_zeros_other_than_the_head_says_are_told() -> None:
    assert "the head says TZ, but figures look as LZ leaves them" in told(read(HEAD + "T1\nX01Y02\nX0355Y0555\n"))


def test_the_only_tool_is_taken_when_none_is_chosen() -> None:
    reading = read("M48\nMETRIC,TZ\nT1C3.2\n%\nX1000Y2000\nM30\n")
    assert rows(reading) == [(1.0, 2.0, 3.2)]
    assert "its only one, T1, is taken" in told(reading)


REFUSED = {
    "no end of the last line": (
        HEAD + "T1\nX10000Y20000\nX30000\nT2\nY95500", ['holes.file:10: the file is cut short: its last line, "Y95500"']
    ),
    "half a word": (HEAD + "T1\nX10000Y20000\nX2.", ['holes.file:8: the file is cut short: its last line, "X2."']),
    "two units in a head": (
        "M48\nMETRIC,TZ\nINCH,TZ\nT1C0.8\n%\nT1\nX1.0Y1.0\nM30\n",
        ["holes.file:3: the head says inches here, and mm on line 2"],
    ),
    "two units in a head, by M71": (
        "M48\nINCH,TZ\nM71\nT1C0.8\n%\nT1\nX1.0Y1.0\nM30\n", ["file:3: the head says mm here, and inches on line 2"]
    ),
    "two units without M48": (
        "METRIC\nINCH\nT1C0.8\nT1\nX1.0Y1.0\nM30\n", ["holes.file:2: the head says inches here, and mm on line 1"]
    ),
    "far out": (HEAD + "T1\nX1000000000.0Y1.0\nM30\n", ["holes.file:7: X1000000000.0 lies 1e9 mm out"]),
    "a million holes": (HEAD + "T1\n" + "X1Y1\n" * 1_000_000, ["too many holes: more than 10000 holes"]),
    "a million repeats": (HEAD + "T1\nX1Y1\nR1000000X.1\nM30\n", ["too many holes: more than 10000 holes"]),
    "no units": ("M48\nT1C1.0\n%\nT1\nX1000Y1000\nM30\n", ["does not say its units", "--units in or", "[[face]]"]),
    "no tool": (HEAD + "X1000Y1000\nM30\n", ["holes.file:6: a hole without a tool", "as in T1C0.8"]),
    "tool without a size": (HEAD + "T7\nX1000Y1000\n", ["holes.file:7: holes under T7, which has no size"]),
    "T0 without a size": (HEAD + "T0\nX1000Y1000\n", ["holes under T0, which has no size: that means no tool"]),
    "tool of a metre": ("M48\nINCH,TZ\nT1C40\n%\nT1\nX1000Y1\n", ["T1 is 1016 mm across", "sizes have a point"]),
    "repeated slot": (HEAD + "T1\nX1000Y1000G85X2000\nR3X5000\n", ["holes.file:8: R after a slot"]),
    "repeated cut": (HEAD + "T1\nG00X1000Y1000\nG01X2000\nR3X5000\n", ["holes.file:9: R after a slot"]),
    "pattern": (HEAD + "T1\nM25\nX1000Y1000\nM01\nM02X5000Y0\nM08\nM30\n", ["M25 (a pattern of holes)", "M02 with X"]),
    "mirrored": (HEAD + "T1\nM80\nX1000Y1000\n", ["holes.file:7: M80 (mirrored in X) is not read here"]),
    "changed about": (HEAD + "T1\nM70\nX1000Y1000\n", ["M70 (X and Y change places)"]),
    "package of holes": (HEAD + "T1\nX1000Y1000\nG83X5000Y9000\n", ["G83 (a set of holes in one word)"]),
    "unknown code": (HEAD + "T1\nG66X1000Y1000\n", ["G66 is not known here"]),
    "unknown word": (HEAD + "T1\nX1000Y1000Q5\n", ["has the unknown word Q"]),
    "no command": (HEAD + "T1\n!?\nX1000Y1000\n", ['holes.file:7: "!?" is no drill command']),
    "exponent": (HEAD + "T1\nX1e400Y1000\n", ["holes.file:7: "]),
    "NaN": (HEAD + "T1\nXnanY1000\n", ["holes.file:7: "]),
    "digits without end": (HEAD + "T1\nX" + "9" * 5000 + "Y1\n", ["holes.file:7: X has a number of 5000 characters"]),
    "digits without end and a point": (HEAD + "T1\nX" + "9" * 5000 + ".5Y1\n", ["a number of 5002 characters"]),
    "tool number without end": (HEAD + "T" + "9" * 5000 + "\nX1Y1\n", ["is no drill command"]),
    "size without end": (HEAD + "T3C" + "9" * 5000 + "\nX1Y1\n", ["T3 has no sound size"]),
    "far away": (HEAD + "T1\nX99999.0Y1.0\n", ["X99999.0 lies 99999 mm out"]),
    "lines without end": (HEAD + "T1\nG00\n" + "X1\n" * 200_000, ["the drill file has 200008 lines"]),
    "line without end": (HEAD + "T1\n" + "X1" * 9000, ["holes.file:7: a line of 18000 characters"]),
    "repeats without end": (HEAD + "T1\nX1000Y1000\nR999999X1\n", ["more than 10000 holes"]),
    "repeats for ever": (HEAD + "T1\nX1000Y1000\nR" + "9" * 5000 + "X1\n", ["is no drill command"]),
    "too many holes": (HEAD + "T1\n" + "X1000Y1000\n" * 10_001, ["more than 10000 holes"]),
    "everything wrong": (HEAD + "T1\n" + "!?\n" * 1000, ["and more like these"]),
    "axis without figure": (HEAD + "T1\nXY1000\n", ["X has no number"]),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_read_is_refused_with_advice(name: str) -> None:
    program, says = REFUSED[name]
    reading = read(program)
    assert reading.problems
    assert all(problem.mend for problem in reading.problems)
    for words in says:
        assert words in told(reading)


def test_units_are_taken_when_the_file_has_none_and_only_then() -> None:
    bare = "M48\nT1C0.1\n%\nT1\nX10000Y20000\nM30\n"
    assert near(rows(read(bare, "in")), [(25.4, 50.8, 2.54)])
    assert near(rows(read(bare, "mm")), [(10.0, 20.0, 0.1)])
    assert "drill files count in inches or mm" in told(read(bare, "mil"))
    reading = read(SAME["all zeros kept"], "in")
    assert near(rows(reading), PLAIN)
    assert "the file itself says that it counts in mm" in told(reading)


def test_a_head_without_an_end_is_told() -> None:
    assert "the head has no end" in told(read("M48\nMETRIC,TZ\nT1C1.0\nT1\nX1000Y1000\n"))


MICRONS = st.integers(-900_000, 900_000)
HOLES = st.lists(st.tuples(st.integers(1, 4), MICRONS, MICRONS), min_size=1, max_size=30)
WAYS = st.sampled_from(["TZ", "LZ", "point"])


def program(holes: list[tuple[int, int, int]], way: str, inches: bool) -> str:
    """A program by the rules of IPC-NC-349, positions in thousandths of mm or ten-thousandths of an inch."""

    def figure(value: int) -> str:
        if way == "point":
            return f"{value / (10_000 if inches else 1000):.4f}"
        digits = f"{abs(value):06d}"
        return ("-" if value < 0 else "") + (digits.rstrip("0") or "0" if way == "LZ" else digits.lstrip("0") or "0")

    # gerbonara wants the digits of metric files said.
    digits = "" if inches or way == "point" else ",000.000"
    head = f"M48\n{'INCH' if inches else 'METRIC'}{'' if way == 'point' else ',' + way}{digits}\n"
    tools = "".join(f"T{number}C{number / 10:.3f}\n" for number in range(1, 5))
    body = "".join(f"T{tool}\nX{figure(x)}Y{figure(y)}\n" for tool, x, y in holes)
    return f"{head}{tools}%\n{body}M30\n"


@given(HOLES, WAYS, st.booleans())
def test_whatever_is_written_by_the_rules_reads_back(holes: list[tuple[int, int, int]], way: str, inches: bool) -> None:
    unit, size = (0.00254, 25.4) if inches else (0.001, 1.0)
    wanted = [(x * unit, y * unit, tool / 10 * size) for tool, x, y in holes]
    assert rows(read(program(holes, way, inches))) == [pytest.approx(row, abs=1e-6) for row in wanted]


@settings(max_examples=20, deadline=None)
@given(HOLES, WAYS, st.booleans())
def test_outside_readers_agree(
    tmp_path_factory: pytest.TempPathFactory, holes: list[tuple[int, int, int]], way: str, inches: bool
) -> None:
    folder = tmp_path_factory.mktemp("drill")
    path = folder / "a.drl"
    path.write_text(program(holes, way, inches))
    found = rows(read(path.read_bytes()))
    assert alike(found, by_gerbonara(path), 1e-5, 1e-5)
    assert alike(found, by_gerbv(path, folder), 0.0026, 0.0255)


PIECES = (
    "M48 % METRIC,TZ INCH T1C1.0 T1 T0 X1Y1 X1.5 Y-2 G85 X1Y1G85X2 G00 G01X5 M15 M16 G05 G91 R3X1 G93X1 M30 M97,A"
    " ICI ;TYPE=PLATED M71 M72 X R G T M X--1 ( G02X1I3J T1C T1C. X. /X1 N é \x00 FMAT,1 T99999999X1"
)
CODES = st.lists(st.sampled_from(PIECES.split(" ")), max_size=15).map("\n".join)


@given(st.one_of(CODES, CODES.map(lambda codes: HEAD + codes)), st.sampled_from([None, "mm", "in", "mil"]))
def test_any_text_gives_holes_or_problems_and_never_fails(text: str, units: str | None) -> None:
    reading = read(text, units)
    for problem in reading.problems:
        assert problem.file == "holes.file"
        assert problem.what
        assert problem.mend
    assert all(abs(hole.x) < 1e9 and hole.d > 0 for hole in reading.holes) or reading.problems


def test_units_may_change_in_the_body_and_that_is_told() -> None:
    reading = read("M48\nMETRIC,TZ\nT1C0.8\n%\nT1\nX1.0Y1.0\nM72\nX1.0Y1.0\nM30\n")
    assert rows(reading) == [pytest.approx((1, 1, 0.8)), pytest.approx((25.4, 25.4, 0.8))]
    assert "holes.file:7: from here on the file counts in in" in told(reading)


def test_a_second_head_may_name_its_own_unit() -> None:
    program = "M48\nMETRIC,TZ\nT1C0.8\n%\nT1\nX1.0Y1.0\nM48\nINCH,TZ\n%\nX1.0Y1.0\nM30\n"
    assert rows(read(program))[1][:2] == pytest.approx((25.4, 25.4))


CUT = "the program has no end (M30): the file may be cut short"


@pytest.mark.parametrize("end", ["", "M00\n", "M30", "M30\n", "M00", "M30\n;tail", "M30\n%"])
def test_a_program_without_its_end_is_told_as_one_cut_short(end: str) -> None:
    reading = read(HEAD + "T1\nX10000Y20000\n" + end)
    assert len(rows(reading)) == 1
    assert (CUT in told(reading)) == (end == "")
    assert any(isinstance(note, LeftOut) for note in reading.notes) == (end == "")


def test_a_pause_is_no_end() -> None:
    assert CUT in told(read(HEAD + "T1\nX10000Y20000\nM00\nT2\nX10000Y20000\n"))


@given(st.integers(0, len(HEAD + "T1\nX10.0Y20.0\nX33.5\nT2\nY95.5\nM30\n")))
def test_no_cut_makes_up_a_hole(at: int) -> None:
    """Of a file cut anywhere, only holes that the whole file has are read; and what is missing is never passed over."""
    whole = HEAD + "T1\nX10.0Y20.0\nX33.5\nT2\nY95.5\nM30\n"
    reading = read(whole[:at], "mm")
    if not reading.problems:
        assert set(rows(reading)) <= set(rows(read(whole)))
        assert len(reading.holes) == 3 or CUT in told(reading) or reading.kind != "NC drill"
