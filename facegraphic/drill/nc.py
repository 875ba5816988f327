"""NC drill files (IPC-NC-349, often called Excellon): text in, holes and whatever else they cut out.

An own reader, for reasons that were measured. Of two libraries one refuses slots (G85), G91, spaces, head lines of
older machines and metric files that leave their digits unsaid, passes over T0 in silence and knows no line numbers; the
other takes any file without units for inches and reads some figures ten or a hundred times off. Neither tells what it
left out. The first, and a viewer of drill files, serve as outside readers in the tests.
"""

import re
from dataclasses import replace

from facegraphic.drill.model import MOST_HOLES, RIGHT_FILE, Asked, LeftOut, Reading, Unreadable, too_many_holes
from facegraphic.drill.nc_state import CUTTING, MOST_PROBLEMS, State, Tool
from facegraphic.drill.nc_words import (
    Figures,
    Word,
    evidence,
    noted,
    plating,
    size_in_comment,
    split,
    units_line,
    words,
)
from facegraphic.drill.slots import slot_notes
from facegraphic.errors import Problem
from facegraphic.stock.limits import limit
from facegraphic.units import MM_PER_UNIT

MOST_LINES = limit("drill-lines")
LONGEST_LINE = limit("drill-line-length")
_SETTINGS = re.compile(
    r"/|[A-Z],.*|(FMAT|VER|ICI|TCST|ATC|AFS|CCW|CP|DETECT|DN|DTMDIST|EXDA|FSB|HBCK|NCSL|OM|OSTOP|OTCLMP|PCKPARAM|PF|PPR|PVS"
    r"|RC|RCP|RCR|RD|RH|R|SBK|SG|SIXM|SLOTSET|T|TBLK|UP|Z|ZA|ZC|ZS|ZI|BLKD|AUTO|INTERSET|LD|AXIS|FINISH|BEGIN|END)\b.*"
)  # fmt: skip
_PATTERNS = {25: "M25 (a pattern of holes)", 2: "M02 with X or Y (a pattern again)", 8: "M08 (a pattern's end)"}
_TURNED = {70: "M70 (X and Y change places)", 80: "M80 (mirrored in X)", 90: "M90 (mirrored in Y)"}
_MEND = "have the file written without it, or take the line out"
_CANNED = {82: "G82", 83: "G83", 84: "G84", 87: "G87"}
_ROUTED_CIRCLES = (32, 33)
_QUIET_G = {4, 7, 34, 35, 36, 37, 38, 39, 40, 41, 42, 45, 46, 47, 48}
_QUIET_M = {1, 6, 9, 18, 19, 20, 21, 45, 47, *range(50, 70), 99}
_ENDS = {2, 30}
_ROUTES = re.compile(r"\s*(N\d+\s*)?G0*[0-3](?!\d)", re.IGNORECASE)
_TAPE = " \t\x00\x03\x0c\x11\x13\x1a"  # what paper tapes and old systems put round lines


def read_nc(text: str, file: str, asked: Asked) -> Reading:
    """Read an NC drill file. Every hole is named after its tool and its turn: T1-1, T1-2. Unreadable without units."""
    count = text.count("\n") + text.count("\r") - text.count("\r\n") + 1
    lines = re.split(r"\r\n|\n|\r", text, maxsplit=MOST_LINES)
    if count > MOST_LINES:
        routes = any(_ROUTES.match(line) for line in lines)
        if not routes and sum(line.lstrip()[:1] in tuple("XYxy") for line in lines) > MOST_HOLES:
            raise too_many_holes()
        raise Unreadable(f"the drill file has {count} lines", RIGHT_FILE)
    long = next((number for number, line in enumerate(lines, 1) if len(line) > LONGEST_LINE), None)
    if long is not None:
        raise Unreadable(
            f"a line of {len(lines[long - 1])} characters", "drill files have short lines: is it one?", long
        )
    seen = evidence(split(line)[0] for line in lines)
    state = State(file, Figures(_first_unit(lines, asked), seen=seen))
    for state.line, line in enumerate(lines, 1):
        if len(state.problems) >= MOST_PROBLEMS:
            state.problem("and more like these", "mend these first")
            break
        if state.line == len(lines) and _stump(line, state):
            what = f'the file is cut short: its last line, "{line.strip()[:40]}", has no end'
            state.problem(what, "have it written again; or, if the line is whole, end it, and the program with M30")
            break
        _line(line, state)
    _tell_trust(state, asked)
    _tell_end(state)
    notes = sorted([*state.notes, *slot_notes(state.slots, file)], key=lambda note: note.line or 0)
    return Reading("NC drill", tuple(state.holes), tuple(state.slots), tuple(notes), tuple(state.problems))


def _first_unit(lines: list[str], asked: Asked) -> str:
    """The unit that the file names first, else the one asked for."""
    for line in lines:
        code = split(line)[0].upper()
        figures = units_line(code, Figures())
        if figures:
            return figures.unit or "mm"
        if match := re.search(r"(?<![A-Z0-9])M7([12])(?!\d)", code):
            return "mm" if match[1] == "1" else "in"
    if asked.units not in ("mm", "in"):
        what = "the drill file does not say its units" if asked.units is None else "drill files count in inches or mm"
        raise Unreadable(what, "say which they are: --units in or --units mm; in a job, units = under [[face]]")
    return asked.units


def _stump(line: str, state: State) -> bool:
    """Whether a file's last line, which no line end follows, may have had more to it: half a word is a wrong hole."""
    code = split(line.strip(_TAPE))[0].upper()
    return bool(code) and not (state.ended or state.paused or re.search(r"M(30|0?0|0?2)$", code) or code == "%")


def _line(line: str, state: State) -> None:
    code, comment = split(line.strip(_TAPE))
    if comment:
        _comment(comment, state)
    code = code.upper()
    if not code:
        return
    if state.ended and code == "%":
        return  # the end of a tape
    if state.ended:
        state.note(
            "there is more after the program's end; it is left out",
            "see whether two files were joined",
            "end",
            lost=True,
        )
        return
    if state.paused and not state.listed and _stays_ended(code, state):
        return
    figures = units_line(code, state.figures)
    if figures:
        state.set_unit(figures)
    elif code.startswith("%") or code == "M95":
        state.header, state.body = False, True
    elif code == "M48":
        state.begin_head()
    elif match := re.match(r"M(9[78]|4[57])\b", code):
        # Words drilled as dots (M97, M98), or shown to the machine's operator (M45, M47).
        state.skip_text = match[1] in ("97", "98")
        if state.skip_text:
            state.note("text drilled as dots is left out", "if its dots matter, have them written as holes", lost=True)
    elif match := re.fullmatch(r"ICI(?:\s*,\s*(ON|OFF))?", code):
        state.incremental = match[1] != "OFF"
    elif re.match(r"FMAT\s*,\s*1\b", code):
        state.note("FMAT,1: an older set of codes; read as the newer one", "compare the holes with the drawing")
    elif not ((state.header or not state.holes) and _SETTINGS.fullmatch(code)):
        _words(code.lstrip("/").strip(), state)


def _stays_ended(code: str, state: State) -> bool:
    """Whether a program has ended with M00. One that goes on with a tool or a head of its own has only paused."""
    if re.match(r"(N\d+\s*)?T\d|M48\b", code):
        state.paused = 0
        state.note("the program goes on after M00", "if it should end there, cut the rest off", "M00")
        return False
    if re.search(r"[XY]", code):
        mend = "if the program should go on there, take M00 out"
        state.note("there is more after M00, the program's end; it is left out", mend, "end", lost=True)
    return True


def _comment(comment: str, state: State) -> None:
    """What CAD programs tell in comments: figures, sizes, plating."""
    state.figures = noted(comment, state.figures)
    state.layer = plating(comment) or state.layer
    if sized := size_in_comment(comment):
        number, size, unit = sized
        state.tools.setdefault(number, Tool(size * MM_PER_UNIT[unit] or None, state.line, state.layer))
        if number not in state.listed:
            state.listed.append(number)


def _words(code: str, state: State) -> None:
    found = words(code)
    if found is None or not _numbers_sound(found):
        if state.header:
            state.note(f'head line "{code[:40]}" is not known here and left out', "see that the holes are right")
        else:
            state.problem(f'"{code[:40]}" is no drill command', "mend the line, or have the file written again")
        return
    found = [word for word in found if word.letter != "N"]
    chosen = next((index for index, word in enumerate(found) if word.letter == "T"), None)
    if chosen is not None:
        found = found[:chosen] + _tool(found[chosen:], state)
    elif found and found[0].letter in "FSBHZ":
        found = [word for word in found if word.letter not in "FSBHZ"]
    axes: list[Word] = []
    after: list[Word] | None = None  # what stands behind G85
    repeat = 0
    codes: list[int] = []
    for word in found:
        if word.letter in "XYIJA":
            (axes if after is None else after).append(word)
        elif word.letter == "R":
            repeat = int(word.number or 0)
        elif word.letter == "G" and int(word.number or -1) == 85:
            after = []
        elif word.letter == "G":
            codes.append(int(word.number or -1))
        elif word.letter == "M":
            _m_code(int(word.number or -1), any(axis.letter in "XY" for axis in found), state)
        elif word.letter not in "FSBHZ":
            state.problem(f'"{code[:40]}" has the unknown word {word.letter}', "mend the line")
            return
    if _g_codes(codes, axes, state) and not state.ended:
        _go(axes, after, repeat, state)


def _numbers_sound(found: list[Word]) -> bool:
    """Whether codes and counts are whole and short; lengths are judged where they are used."""
    return all(
        word.number.isdecimal() and word.number.isascii() and len(word.number) <= 9
        for word in found
        if word.letter in "GMTNR" and (word.number or word.letter != "N")
    )


def _tool(found: list[Word], state: State) -> list[Word]:
    """A tool's definition or choice or, outside the head, both; gives back the words behind it."""
    number = int(found[0].number)
    rest = found[1:]
    size = next((word.number for word in rest if word.letter == "C"), None)
    if len(found[0].number) == 4 and number not in state.tools and size is None:
        number = int(found[0].number[:2])  # T0101: the tool, and the number of its offset
    if size is not None:
        state.define(number, size)
    elif plated := state.layer:
        tool = state.tools.get(number)
        if tool and not tool.layer:
            state.tools[number] = replace(tool, layer=plated)
    if not state.header:
        state.tool = number
        state.listed = []
        state.down = False if state.down else state.down
    return [word for word in rest if word.letter not in "CFSBHZ"]


def _m_code(number: int, axes: bool, state: State) -> None:
    if number in (71, 72):
        state.set_unit(replace(state.figures, unit="mm" if number == 71 else "in"))
    elif number in _TURNED or (number in _PATTERNS and (number != 2 or axes)):
        name = (_TURNED | _PATTERNS)[number]
        state.problem(f"{name} is not read here", "have the file written without patterns and mirroring", number)
    elif number in _ENDS:
        state.ended = True
    elif number == 0:
        state.paused = state.line
        if state.listed and state.tool is not None:
            state.tool, state.turn = None, state.turn + 1
    elif number in (14, 15):
        state.down = True
    elif number in (16, 17):
        state.down = False
    elif number == 48:
        state.begin_head()
    elif number == 95:
        state.header, state.body = False, True
    elif number not in _QUIET_M:
        state.problem(f"M{number} is not known here", _MEND, ("M", number))


def _g_codes(codes: list[int], axes: list[Word], state: State) -> bool:
    """Take the G codes of a line; whether its coordinates still are a move or a hit."""
    for number in codes:
        if number in (0, *CUTTING):
            state.routing, state.motion = True, number
        elif number in (5, 81):
            state.routing, state.down = False, None
        elif number in (90, 91):
            state.incremental = number == 91
        elif number in (92, 93):
            here = state.zero
            state.zero, was = (0.0, 0.0), state.incremental
            state.incremental = False
            x, y = state.target(axes, (0.0, 0.0))
            state.zero, state.incremental = (here[0] + x, here[1] + y), was
            if x or y:
                mend = "other readers move the other way, or not at all: see that the positions are right"
                state.note(f"G{number}: what follows counts from {x:g}, {y:g} mm", mend)
            return False
        elif number in _ROUTED_CIRCLES:
            at = state.target(axes, state.at)
            state.note(
                f"a circle routed at {at[0]:g}, {at[1]:g} mm is left out", "add it to the job by hand", lost=True
            )
            return False
        elif number in _CANNED:
            state.problem(f"{_CANNED[number]} (a set of holes in one word) is not read", "have single holes written")
            return False
        elif number == 4:
            return False
        elif number not in _QUIET_G:
            state.problem(f"G{number} is not known here", _MEND, ("G", number))
            return False
    return True


def _go(axes: list[Word], after: list[Word] | None, repeat: int, state: State) -> None:
    """Move, and drill or cut on the way."""
    moves = any(word.letter in "XY" for word in axes)
    if state.header and moves:
        state.note("a position in the head is left out", "the head ends with % or M95", "head position")
        return
    if state.skip_text:
        state.skip_text = not moves
        state.at = state.target(axes, state.at)
        return
    start = state.at
    if repeat:
        _repeat(axes, repeat, state)
        return
    state.at = state.target(axes, start)
    if after is not None:
        begin = state.at
        state.at = state.target(after, begin)
        state.cut(begin, state.at, routed=False)
    elif not moves:
        return
    elif not state.routing:
        state.hit(state.at)
    elif state.down or (state.down is None and state.motion in CUTTING):
        state.cut(start, state.at, routed=True)


def _repeat(axes: list[Word], times: int, state: State) -> None:
    """R: the last hole again and again, each time X and Y further."""
    slot = state.slots and (not state.holes or (state.slots[-1].line or 0) > (state.holes[-1].line or 0))
    if state.routing or slot:
        state.problem("R after a slot or routed move is not read here", "have the moves written one by one")
        return
    was, state.incremental = state.incremental, True
    step = state.target(axes, (0.0, 0.0))
    state.incremental = was
    for _ in range(times):
        state.at = (state.at[0] + step[0], state.at[1] + step[1])
        before = len(state.holes)
        state.hit(state.at)
        if len(state.holes) == before:
            return


def _tell_end(state: State) -> None:
    """Tell that a program which has a head has no end."""
    last = max([row.line or 0 for row in state.holes] + [row.line or 0 for row in state.slots], default=0)
    if state.head_seen and not state.ended and state.paused <= last:
        what = "the program has no end (M30): the file may be cut short"
        state.notes.append(LeftOut(what, "see that no hole is missing, and have it written again", state.file))


def _tell_trust(state: State, asked: Asked) -> None:
    """Tell what was taken on trust: units, zeros, digits."""
    figures = state.figures
    form = ".".join(map(str, figures.shape))
    expected = "see that the positions printed are the ones you expect"
    if state.long:
        state.line = state.long[0]
        mend = "if positions come out ten times too large, write the digits into the head, as in INCH,TZ,000.0000"
        state.note(f"figures with more digits than the {form} they are read as", mend)
    elif state.unplaced and not (figures.digits and figures.seen.even):
        state.line = state.unplaced[0]
        zeros = f"{figures.shape[0]} digits before the point, the leading zeros written"
        if figures.zeros == "trailing":
            zeros = f"{form}, leading zeros left off"
        state.note(f"the file does not say how its figures are written; read as {zeros}", expected)
    elif figures.kept == "trailing" and figures.seen.kept == "leading" and not figures.seen.even:
        state.notes.append(Problem("the head says TZ, but figures look as LZ leaves them", expected, state.file))
    if asked.units in ("mm", "in") and asked.units != figures.unit:
        what = f"the file itself says that it counts in {figures.unit}"
        state.notes.append(Problem(what, "that is believed", state.file))
    if state.header:
        state.notes.append(Problem("the head has no end (% or M95)", "see whether the file is whole", state.file))
