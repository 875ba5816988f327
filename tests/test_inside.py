"""The inside of the box: every finding just there and just not, by hand in a box with upright walls, and laws."""

import math
import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from facegraphic.checks import inside
from facegraphic.errors import Finding, UserError
from facegraphic.job.load import read_job
from facegraphic.job.model import Job
from facegraphic.layout.bodies import bodies
from facegraphic.pipeline.preparing import prepare
from facegraphic.stock.cavity import cavity, stand
from facegraphic.stock.tables import boxes, parts

EXAMPLES = Path(__file__).parents[1] / "examples"
# Inside: x ±48, y ±38, z 2 to 38; screw posts from x 42 and y 32 outwards. A wall's face is centred at
# z = 4 + (36 − 1)/2 = 21.5, 35 mm high.
UPRIGHT = "size = [100, 80, 40]\nlid = 4\ncorner = 3\nedge = 1\npost = 6"


def job(*faces: str, box: str = UPRIGHT, more: str = "") -> Job:
    text = f'[box]\n{box}\norientation = "landscape"\n{more}\n' + "".join(faces)
    return read_job(text, Path("job.toml"))


def face(side: str, *fitted: tuple[str, float, float] | tuple[str, float, float, float]) -> str:
    """A face with parts by name, place and turn; holes are called by side and number."""
    text, rows = "", []
    for number, (part, x, y, *turn) in enumerate(fitted):
        rows.append(f'{{ id = "{side}-{number}", at = [{x}, {y}], d = 3 }}')
        text += f'[[face.control]]\nhole = "{side}-{number}"\npart = "{part}"\nturn = {turn[0] if turn else 0}\n'
    return f'[[face]]\nside = "{side}"\nhole = [{", ".join(rows)}]\n{text}'


def told(read: Job) -> list[Finding]:
    rules = (inside.parts_meet_inside, inside.part_meets_box, inside.part_meets_board, inside.board_meets_box)
    return [finding for rule in rules for finding in rule(read)]


def buttons(x: float) -> Job:
    return job(face("top", ("push-button", 0, 0), ("push-button", x, 0)))


def pot_over_socket(y: float) -> Job:
    # The pot's body ends at y + 8.25, the socket's 9 mm behind the wall at y = 29, under it by 21.5 + 6 + 5.25 − 29.
    return job(face("top", ("pot-16", 0, y)), face("back", ("socket-3.5", 0, 6)))


def button_at(x: float, y: float) -> Job:
    return job(face("top", ("push-button", x, y)))


def low_box(height: float, part: str = "footswitch") -> Job:
    return job(face("top", (part, 0, 0)), box=UPRIGHT.replace("40]", f"{height}]"))


def plugs(across: float) -> Job:
    # Two open sockets face to face: each plug reaches 25.5 mm in from a wall 2 mm thick.
    faces = (face("left", ("socket-6.35", 0, 0)), face("right", ("socket-6.35", 0, 0)))
    return job(*faces, box=UPRIGHT.replace("[100, 80,", f"[{across}, 40,"))


def board(keys: str, part: str = "pot-16") -> Job:
    return job(face("top", (part, 0, 0)), more=f"[board]\n{keys}")


CASES = [
    # code, what is named, a job that has it by 0.05 mm, one that has it not by 0.05 mm
    ("parts-meet-inside", "body of top-0 (push-button) and the body of top-1", buttons(11.95), buttons(12.05)),
    ("parts-meet-inside", "pot-16) and the body of back-0 (socket-3.5", pot_over_socket(20.8), pot_over_socket(20.7)),
    ("parts-meet-inside", "the plug in left-0 (socket-6.35) and the plug in right-0", plugs(54.95), plugs(55.05)),
    ("part-meets-box", "the right wall", button_at(42.05, 0), button_at(41.95, 0)),
    ("part-meets-box", "the front wall", button_at(0, -32.05), button_at(0, -31.95)),
    ("part-meets-box", "screw post in the far right corner", button_at(36.05, 27), button_at(35.95, 27)),
    ("part-meets-box", "screw post in the near left corner", button_at(-37, -26.05), button_at(-37, -25.95)),
    ("part-meets-box", "the lugs of top-0 (footswitch) and the lid", low_box(28.45), low_box(28.55)),
    (
        "part-meets-board", "the body of top-0 (pot-16) and the circuit board",
        board('size = [40, 40]\nunder = "top"\nstandoff = 10.95'),
        board('size = [40, 40]\nunder = "top"\nstandoff = 11.05'),
    ),
    (
        # Footswitch down to 38 − 24.5 = 13.5; board on the lid up to 2 + 5 + 1.6 + parts.
        "part-meets-board", "the lugs of top-0 (footswitch) and the circuit board",
        board("size = [40, 40]\nparts = 4.95", "footswitch"), board("size = [40, 40]\nparts = 4.85", "footswitch"),
    ),
    (
        # The board's left edge stands 24 · 2.54 / 2 = 30.48 left of its middle, the footswitch's lugs reach 7.5.
        "part-meets-board", "circuit board",
        board("holes = [24, 18]\nparts = 8\nat = [37.93, 0]", "footswitch"),
        board("holes = [24, 18]\nparts = 8\nat = [38.03, 0]", "footswitch"),
    ),
    ("board-meets-box", "the right wall", board("size = [96.1, 40]"), board("size = [95.9, 40]")),
    ("board-meets-box", "the top", board("size = [40, 40]\nparts = 29.45"), board("size = [40, 40]\nparts = 29.35")),
    ("board-meets-box", "far left corner", board("size = [84.1, 70]"), board("size = [83.9, 70]")),
]  # fmt: skip


@pytest.mark.parametrize(("code", "says", "bad", "good"), CASES, ids=[f"{case[0]} {case[1][:30]}" for case in CASES])
def test_the_fault_is_found_and_its_absence_too(code: str, says: str, bad: Job, good: Job) -> None:
    found = [finding for finding in told(bad) if finding.code == code and says in finding.message]
    assert found, [str(finding) for finding in told(bad)]
    assert "0.05 mm" in found[0].message
    assert found[0].severity == "warning"
    assert not [finding for finding in told(good) if finding.code == code and says in finding.message]


def test_stripboard_is_counted_in_tenths_of_an_inch() -> None:
    """24 × 18 holes at 2.54 mm are 60.96 × 45.72 mm (common practice; 24 · 2.54 and 18 · 2.54)."""
    read = board("holes = [24, 18]").board
    assert read is not None
    assert read.size == pytest.approx((60.96, 45.72))


@pytest.mark.parametrize(
    ("keys", "says"),
    [
        ("size = [40, 40]\nholes = [3, 3]", "both size and holes"),
        ("standoff = 3", "the board has no size"),
        ("holes = [2.5, 3]", "two whole numbers of holes"),
        ('size = [40, 40]\nunder = "back"', '"back" is not known here'),
        ("size = [40, 40]\nstandof = 3", 'did you mean "standoff"'),
        ("size = [40]", "a list of 2 lengths"),
    ],
)
def test_a_board_that_cannot_be_read_is_told(keys: str, says: str) -> None:
    with pytest.raises(UserError) as caught:
        board(keys)
    assert says in str(caught.value)
    assert all(problem.line and problem.key.startswith("board") for problem in caught.value.problems)


def extents(read: Job) -> tuple[np.ndarray, np.ndarray]:
    [one] = bodies(read)
    return one.blocks[0].solid.low, one.blocks[0].solid.high


@pytest.mark.parametrize(
    # A pot's lugs point down on its face: its body, 16.5 × 21, reaches 12.75 that way and 8.25 the other.
    ("turn", "x", "y"),
    [
        (0, (-8.25, 8.25), (-12.75, 8.25)),
        (90, (-12.75, 8.25), (-8.25, 8.25)),
        (180, (-8.25, 8.25), (-8.25, 12.75)),
        (-90, (-8.25, 12.75), (-8.25, 8.25)),
    ],
)
def test_a_body_is_turned_clockwise(turn: float, x: tuple[float, float], y: tuple[float, float]) -> None:
    low, high = extents(job(face("top", ("pot-16", 0, 0, turn))))
    assert (low[0], high[0], low[1], high[1], low[2], high[2]) == pytest.approx((*x, *y, 29, 38), abs=1e-9)


@pytest.mark.parametrize(
    # A button of 12 × 12 × 13 at x = 10 on each face, which is seen from outside.
    ("side", "low", "high"),
    [
        ("back", (-16, 25, 15.5), (-4, 38, 27.5)),
        ("front", (4, -38, 15.5), (16, -25, 27.5)),
        ("left", (-48, -16, 15.5), (-35, -4, 27.5)),
        ("right", (35, 4, 15.5), (48, 16, 27.5)),
    ],
)
def test_each_face_stands_where_it_is(side: str, low: tuple[float, ...], high: tuple[float, ...]) -> None:
    found = extents(job(face(side, ("push-button", 10, 0))))
    assert (*found[0], *found[1]) == pytest.approx((*low, *high), abs=1e-9)


@pytest.mark.parametrize("name", boxes())
@pytest.mark.parametrize("side", ["top", "back", "front", "left", "right"])
def test_faces_lie_a_wall_outside_the_cavity(name: str, side: str) -> None:
    """Every point of a face is one wall's thickness, square to it, from the cavity (plain geometry)."""
    box = boxes()[name]
    where = stand(box, side, box.size[0], box.size[1])  # type: ignore[arg-type]
    plane = cavity(box, box.size[0], box.size[1]).planes["the top" if side == "top" else f"the {side} wall"]
    for point in (where.point(0, 0), where.point(20, -7), where.point(-11, 9)):
        assert point @ np.array(plane.normal) - plane.reach == pytest.approx(box.wall, abs=1e-9)
    assert where.axes @ where.axes.T == pytest.approx(np.eye(3), abs=1e-12)
    # Seen from outside x runs right and y up: x, y and outwards are a right-handed set.
    assert np.linalg.det(np.vstack([where.axes[:2], -where.axes[2]])) == pytest.approx(1)


def test_walls_that_lean_are_met_higher_up_first() -> None:
    """At a height z a wall leaning by 2° stands z·tan 2° further in, its inner side wall/cos 2° behind it."""
    box = UPRIGHT + "\ndraft = 2"
    limit = 50 - 38 * math.tan(math.radians(2)) - 2 / math.cos(math.radians(2)) - 6
    for over in (0.05, -0.05):
        found = told(job(face("top", ("push-button", round(limit + over, 6), 0)), box=box))
        assert bool(found) == (over > 0)


place = st.tuples(st.integers(-300, 300), st.integers(-180, 180)).map(lambda p: (p[0] / 10, p[1] / 10))
part = st.sampled_from(sorted(parts()))


@given(part, place, part, place, st.sampled_from([0, 90, 180, 30]))
@settings(max_examples=60, deadline=None)
def test_each_move_that_is_advised_frees_the_two(
    one: str, at: tuple[float, float], other: str, there: tuple[float, float], turn: float
) -> None:
    def read(a: tuple[float, float], b: tuple[float, float]) -> list[Finding]:
        faces = (face("top", (one, *a, turn)), face("back", (other, b[0], b[1] / 2)))
        return list(inside.parts_meet_inside(job(*faces, box=UPRIGHT.replace("40]", "60]"))))

    ways = {"right": (1, 0), "left": (-1, 0), "up": (0, 1), "down": (0, -1)}
    for finding in read(at, there):
        for hole, far, way in re.findall(r"move (top|back)-0 ([\d.]+) mm (\w+)", finding.remedy):
            dx, dy = (float(far) * step for step in ways[way])
            moved = (at[0] + dx, at[1] + dy) if hole == "top" else at
            moved_there = (there[0] + dx, there[1] + 2 * dy) if hole == "back" else there
            try:
                assert read(moved, moved_there) == []
            except UserError:  # it would leave the face, which the reader tells by itself
                continue


@given(st.lists(st.tuples(part, place), min_size=2, max_size=5))
@settings(max_examples=30, deadline=None)
def test_a_mirrored_panel_has_the_same_overlaps(fitted: list[tuple[str, tuple[float, float]]]) -> None:
    def depths(sign: int) -> list[str]:
        read = job(face("top", *((name, sign * x, y) for name, (x, y) in fitted)))
        return sorted(re.findall(r"[\d.]+ mm", " ".join(finding.message for finding in told(read))))

    assert depths(1) == depths(-1)


def test_a_shallower_part_is_told_and_named() -> None:
    [lid] = told(low_box(26))
    assert "take a part 2.5 mm shallower in top-0," in lid.remedy
    # The socket's body reaches up to 21.5 − 1 + 5.25 = 25.75, the pot's two gangs down to 38 − 16 = 22.
    [met] = told(job(face("top", ("pot-dual", 0, 25)), face("back", ("socket-3.5", 0, -1))))
    assert "take a part 3.8 mm shallower in top-0 (as pot-16)" in met.remedy


def test_the_taller_box_is_the_smallest_that_is_tall_enough() -> None:
    short = "size = [112, 60, 26]\nlid = 4\ncorner = 3\nedge = 1\nwall = 2.2"
    [finding] = told(job(face("top", ("footswitch", 0, 0)), box=short))
    assert "take a taller box (112x60x31)" in finding.remedy


def test_a_closed_socket_is_named_where_it_would_do() -> None:
    # Open, 25.5 mm with its plug; closed, its body is narrower but the plug reaches as far, so it is no help there.
    faces = (face("left", ("socket-6.35", 0, 0)), face("right", ("socket-6.35", 0, 0)))
    [finding, *_] = told(job(*faces, box=UPRIGHT.replace("[100, 80,", "[50, 40,")))
    assert "socket-6.35-closed" not in finding.remedy


@pytest.mark.parametrize("name", ["slow-ferry", "two-piers", "kelp-drier"])
def test_nothing_meets_inside_the_examples(name: str) -> None:
    assert told(prepare(EXAMPLES / f"{name}.toml").job) == []
