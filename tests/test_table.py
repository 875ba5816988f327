"""Hole tables as text: what is read, and what is refused with advice."""

import csv
import io
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from facegraphic.drill.table import read_table

Row = tuple[str, float, float, float]
PLAIN = [("rate", -12.0, 32.0, 7.5), ("foot", 0.0, -36.0, 12.2)]


def rows(text: str, unit: str = "mm") -> list[Row]:
    """The holes of a table that must have no problems."""
    holes, problems = read_table(text, "holes.csv", unit)
    assert problems == []
    return [(hole.id, round(hole.x, 9), round(hole.y, 9), round(hole.d, 9)) for hole in holes]


def complaints(text: str) -> list[str]:
    """The problems of a table as they are told, one string each."""
    return [str(problem) for problem in read_table(text, "holes.csv")[1]]


SAME = {
    "plain": "id,x,y,d\nrate,-12,32,7.5\nfoot,0,-36,12.2\n",
    "no last line end": "id,x,y,d\nrate,-12,32,7.5\nfoot,0,-36,12.2",
    "another order": "d,y,id,x\n7.5,32,rate,-12\n12.2,-36,foot,0\n",
    "capitals and other names": "Name, X ,Y,Diameter\nrate,-12,32,7.5\nfoot,0,-36,12.2\n",
    "byte order mark": "\ufeffid,x,y,d\nrate,-12,32,7.5\nfoot,0,-36,12.2\n",
    "Windows line ends": "id,x,y,d\r\nrate,-12,32,7.5\r\n\r\nfoot,0,-36,12.2\r\n",
    "tabs": "id\tx\ty\td\nrate\t-12\t32\t7.5\nfoot\t0\t-36\t12.2\n",
    "semicolons": "id;x;y;d\nrate;-12;32;7.5\nfoot;0;-36;12.2\n",
    "spaces round cells": "id, x, y, d\n rate , -12 , 32,7.5 \nfoot,\t0,-36,12.2\n",
    "comments and blank lines": "# by hand\n\nid,x,y,d\n# first row\nrate,-12,32,7.5\n\n , , , \nfoot,0,-36,12.2\n",
    "a comment full of commas": "# id, x, y, d, in mm, all of them\nid;x;y;d\nrate;-12;32;7.5\nfoot;0;-36;12.2\n",
    "a blank line before tabs": "\n \nid\tx\ty\td\nrate\t-12\t32\t7.5\nfoot\t0\t-36\t12.2\n",
    "quoted cells": '"id","x","y","d"\n"rate","-12","32","7.5"\n"foot","0","-36","12.2"\n',
    "units in cells": 'id,x,y,d\nrate,-1.2 cm,32 mm,7500/1000\nfoot,0,-36mm,"12.2"\n',
    "units in the header": "id,x_cm,y (mm),d[mm]\nrate,-1.2,32,7.5\nfoot,0,-36,12.2\n",
    "thousandths in the header": "id,x,y,d mil\nrate,-12,32,295.2755905512\nfoot,0,-36,480.3149606299\n",
    "decimal commas between semicolons": "id;x;y;d\nrate;-12,0;32;7,5\nfoot;,0;-36;12,2\n",
    "decimal commas between tabs": "id\tx\ty\td\nrate\t-12\t32\t7,5\nfoot\t0\t-36\t12,2 mm\n",
    "a spreadsheet's first line": "sep=;\nid;x;y;d\nrate;-12;32;7,5\nfoot;0;-36;12,2\n",
    "cells filled up by a spreadsheet": "id,x,y,d,,\nrate,-12,32,7.5,,\nfoot,0,-36,12.2\n",
    "unit names written out": "id,x [millimetres],y / cm,d in mm\nrate,-12,3.2,7.5\nfoot,0,-3.6,12.2\n",
    "units in a column": "id,x,unit,y,d\nrate,-12,mm,32,7.5\nfoot,0,cm,-3.6,1.22\n",
    "inches in a column": "id,x,y,d,Units\nrate,-12 mm,32 mm,7.5 mm,in\nfoot,0,-36mm,12.2,\n",
    "a plus sign": "id,x,y,d\nrate,-12,+32,+7.5\nfoot,0,-36,12.2\n",
}


@pytest.mark.parametrize("name", SAME)
def test_one_table_written_many_ways_reads_the_same(name: str) -> None:
    assert rows(SAME[name]) == PLAIN


def test_bare_figures_count_in_the_unit_asked_for() -> None:
    # 3/8 in is 9.525 mm (a chart of fractional drills that cites the drill standard).
    assert rows("id,x,y,d\na,1,-0.5,3/8\n", unit="in") == [("a", 25.4, -12.7, 9.525)]


def test_a_unit_in_the_header_wins_over_the_one_asked_for_and_one_in_the_cell_over_both() -> None:
    assert rows("id,x_mm,y,d\na,1,1,3 mm\n", unit="in") == [("a", 1.0, 25.4, 3.0)]


def test_ids_may_hold_delimiters_quotes_and_line_ends() -> None:
    assert rows('id,x,y,d\n"a,b",1,2,3\n"say ""c""",4,5,6\n"two\nlines",7,8,9\n') == [
        ("a,b", 1, 2, 3),
        ('say "c"', 4, 5, 6),
        ("two\nlines", 7, 8, 9),
    ]


def test_holes_without_ids_are_numbered() -> None:
    assert rows("d,x,y\n1,2,3\n4,5,6\n") == [("1", 2, 3, 1), ("2", 5, 6, 4)]


def test_each_hole_knows_its_line() -> None:
    holes, _ = read_table("# one\nid,x,y,d\n\na,1,2,3\n# five\nb,1,2,3\n", "holes.csv")
    assert [(hole.id, hole.line) for hole in holes] == [("a", 4), ("b", 6)]


REFUSED = {
    "decimal commas and points": (
        "id;x;y;d\na;1,5;2;3\nb;1;2.5;3\n",
        ["holes.csv:2: decimal commas, and decimal points from line 3 on"],
    ),
    "unit of a row unknown": ("id,x,y,d,unit\na,1,2,3,ell\n", ['holes.csv:2: unit "ell" is not known']),
    "decimal comma in quotes": ('id,x,y,d\na,"1,5",2,3\n', ['holes.csv:2: decimal comma in x = "1,5"', "point: 1.5"]),
    "decimal comma with a unit": ('id,x,y,d\na,1,2,"7,5 mm"\n', ['decimal comma in d = "7,5 mm"', "point: 7.5 mm"]),
    "decimal comma without a first digit": ('id,x,y,d\na,",5",2,3\n', ['holes.csv:2: decimal comma in x = ",5"']),
    "points for thousands": ("id;x;y;d\na;1.234,5;2;3\n", ['holes.csv:2: x = "1.234,5" is not a length']),
    "decimal commas between commas": ("id,x,y,d\na,1,5,2,3,5\n", ["holes.csv:2: 6 cells where 4 are", "as in 7.5"]),
    "unknown column": ("id,x,y,d,dept\na,1,2,3,4\n", ['holes.csv:1: column "dept" is not known']),
    "column twice": ("id,x,y,d,dia\na,1,2,3,4\n", ['holes.csv:1: two columns for "d"', "keep one of them"]),
    "columns missing": ("id,x\na,1\n", ["holes.csv:1: no column for y, d", "must name the columns id, x, y and d"]),
    "no header": ("rate,1,2,3\n", ["holes.csv:1: no column for id, x, y, d"]),
    "cell missing": ("id\tx\ty\td\na\t1\t2\n", ["holes.csv:2: 3 cells where 4 are wanted", 'parted by "a tab"']),
    "cell too many": ("id;x;y;d\na;1;2;3;4\n", ["holes.csv:2: 5 cells where 4 are wanted", 'parted by ";"']),
    "no figure": ("id,x,y,d\na,left,2,3\n", ['holes.csv:2: x = "left" is not a length', "write a number and a unit"]),
    "empty figure": ("id,x,y,d\na,,2,3\n", ['holes.csv:2: x = "" is not a length']),
    "NaN": ("id,x,y,d\na,1,nan,3\n", ['holes.csv:2: y = "nan" is not a length']),
    "unit unknown": ("id,x,y,d\na,1,2,3 ell\n", ["holes.csv:2: d = ", "unknown unit ell; known are mm"]),
    "empty": ("", ["holes.csv: the table is empty", "write a header id,x,y,d"]),
    "only comments": ("# nothing\n\n", ["holes.csv: the table is empty"]),
    "endless cell": ("id,x,y,d\n" + "9" * 200_000 + ",1,2,3\n", ["holes.csv:2: not a table", "CSV or TSV"]),
    "two units": (
        "id,x_in,y_mm,d,unit\na,1,1,3,mm\nb,1,1,3,in\n",
        ["holes.csv:2: the unit column says mm, but the header has x (in)",
         "holes.csv:3: the unit column says in, but the header has y (mm)"],
    ),
    "doubled id beside other faults": (
        "id,x,y,d\na,1,2,3\na,2,2,3\na,?,2,3\n",
        ['holes.csv:3: two holes have the id "a", here and on line 2', 'csv:4: x = "?"', "csv:4: two holes"],
    ),
    "everything wrong": ("x,y,d\n" + "b,c,d\n" * 1000, ["holes.csv:2: x", "holes.csv:36: and more like these"]),
    "too many holes": ("x,y,d\n" + "1,2,3\n" * 10_001, ["holes.csv: the file holds too many holes: more than 10000"]),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_wrong_is_said_with_its_line(name: str) -> None:
    text, says = REFUSED[name]
    told = "\n".join(complaints(text))
    for words in says:
        assert words in told


def test_every_bad_row_is_told_and_the_good_ones_kept() -> None:
    holes, problems = read_table("id,x,y,d\na,1,2,3\nb,?,2,!\nc,1,2\nd,4,5,6\n", "holes.csv")
    assert [hole.id for hole in holes] == ["a", "d"]
    assert [problem.line for problem in problems] == [3, 3, 4]


@pytest.mark.parametrize(
    ("cell", "mm"), [("1e-3", 0.001), ("2.5E+1", 25.0), ("-1e1", -10.0), ("1e0 in", 25.4), ("5e-1in", 12.7)]
)
def test_exponents_are_numbers(cell: str, mm: float) -> None:
    holes, problems = read_table(f"id,x,y,d\na,{cell},2,3\n", "holes.csv")
    assert problems == []
    assert holes[0].x == pytest.approx(mm, abs=1e-12)
    holes, problems = read_table(f"id;x;y;d\na;2;{cell.replace('.', ',')};3\n", "holes.csv")
    assert problems == [] and holes[0].y == pytest.approx(mm, abs=1e-12)


def test_an_endless_exponent_is_no_length() -> None:
    assert "a length must be a finite number" in str(read_table("x,y,d\n1e400,2,3\n", "holes.csv")[1][0])


def test_unnamed_holes_keep_the_number_of_their_row() -> None:
    holes, problems = read_table("x,y,d\n?,2,3\n4,5,6\n1,2\n7,8,9\n", "holes.csv")
    assert [hole.id for hole in holes] == ["2", "4"]
    assert len(problems) == 2


FIGURES = st.floats(-1000, 1000).map(lambda figure: round(figure, 9))
IDS = st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), min_size=1).map(str.strip)
TABLES = st.lists(
    st.tuples(IDS.filter(lambda id: id and not id.startswith("#")), FIGURES, FIGURES, FIGURES),
    max_size=20,
    unique_by=lambda row: row[0],
)


@given(TABLES, st.permutations(["id", "x", "y", "d"]), st.sampled_from(",;\t"), st.sampled_from(["\n", "\r\n"]))
def test_whatever_the_standard_writer_writes_reads_back(
    table: list[Row], order: list[str], delimiter: str, end: str
) -> None:
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, order, delimiter=delimiter, lineterminator=end, quoting=csv.QUOTE_MINIMAL)
    writer.writeheader()
    for id, x, y, d in table:
        writer.writerow({"id": id, "x": f"{x:.9f}", "y": f"{y:.9f}", "d": f"{d:.9f}"})
    holes, problems = read_table(out.getvalue(), "holes.csv")
    assert problems == []
    assert [hole.id for hole in holes] == [id for id, _, _, _ in table]
    for hole, (_, *figures) in zip(holes, table, strict=True):
        assert [hole.x, hole.y, hole.d] == pytest.approx(figures, abs=1e-9)


ROUGH = st.text(st.sampled_from('idxy,;\t"#\n\r 0123456789.-/m\ufeff\x00é'), max_size=80)


@given(st.one_of(st.text(), ROUGH, ROUGH.map(lambda text: "id,x,y,d\n" + text)))
def test_any_text_gives_holes_or_problems_and_never_fails(text: str) -> None:
    holes, problems = read_table(text, "holes.csv")
    for problem in problems:
        assert problem.file == "holes.csv"
        assert problem.what
        assert problem.mend
    for hole in holes:
        assert math.isfinite(hole.x + hole.y + hole.d)
