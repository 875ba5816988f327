"""Files that a stranger may have made to do harm: each is refused by name, at once, in little memory.

Every file here is read in a process of its own that may use 10 s of the processor and 3 GB of address space (libraries
alone map some); what it really took is measured, and must stay below 500 MB.
"""

import io
import struct
import sys
import zlib
from collections.abc import Callable
from pathlib import Path
from random import Random

import pytest
from helpers.jobs import ART_JOB, chunk, good, lay, png_file, svg
from helpers.limited import run_limited
from helpers.runs import run_apart
from PIL import Image

from facegraphic.stock.limits import limit, limits

PACKAGE = Path(__file__).parents[1] / "facegraphic"
MOST_MB = 500
SECONDS = 9  # to refuse one: 10 with what the command takes to start, which is no part of it here
DRAWN_S, DRAWN_MB = 8, 1000  # to draw the largest that is taken: 5 s, half as much on slow machines, 1 to start
LIMITED = """
import atexit, os, re, resource
from pathlib import Path
resource.setrlimit(resource.RLIMIT_CPU, (10, 10))
resource.setrlimit(resource.RLIMIT_AS, (3 << 30, 3 << 30))
def peak():
    # What getrusage tells holds the peak of the process that started this one too; the kernel's own figure does not.
    status = Path("/proc/self/status")
    if status.exists():
        return re.search(r"VmHWM:\\s+(\\d+)", status.read_text())[1]
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
tell = lambda: os.write(2, f"USED {peak()}\\n".encode())
atexit.register(tell)
"""
Bytes = Callable[[], bytes]
HUGE = "more than"


def _dxf(entities: str, blocks: str = "") -> bytes:
    head = "  0\nSECTION\n  2\nHEADER\n  9\n$INSUNITS\n 70\n4\n  0\nENDSEC\n"
    middle = f"  0\nSECTION\n  2\nBLOCKS\n{blocks}  0\nENDSEC\n" if blocks else ""
    return f"{head}{middle}  0\nSECTION\n  2\nENTITIES\n{entities}  0\nENDSEC\n  0\nEOF\n".encode()


def _block(name: str, body: str) -> str:
    return f"  0\nBLOCK\n  8\n0\n  2\n{name}\n 70\n0\n 10\n0\n 20\n0\n{body}  0\nENDBLK\n  8\n0\n"


def _insert(name: str, more: str = "") -> str:
    return f"  0\nINSERT\n  8\n0\n  2\n{name}\n 10\n0\n 20\n0\n{more}"


CIRCLE = "  0\nCIRCLE\n  8\n0\n 10\n1\n 20\n1\n 40\n1\n"
USE_A, USE_R = (f'<use href="#{id}"/>' for id in "ar")
CORNER = " 10\n1\n 20\n2\n"
GRADIENT = '<linearGradient id="g">' + "<stop/>" * 1000 + '</linearGradient><linearGradient id="h" href="#g"/>'
MARKER = '<marker id="m" viewBox="0 0 2 2">' + '<path d="M0 0H1"/>' * 300 + "</marker>"

DRAWINGS: list[tuple[str, Bytes, str]] = [
    ("elements to 20 MB", lambda: svg("<g/>" * 4_900_000), HUGE),
    ("points", lambda: svg(f'<polygon points="{"1,1 " * 100_000}"/>'), "points with"),
    ("paths", lambda: svg(f'<path d="M0 0{"L1 1" * 1_000_000}"/>'), "paths of more than"),
    ("markers on every corner", lambda: svg(f'{MARKER}<path marker-mid="url(#m)" d="M0 0{"L1 1" * 3000}"/>'), "steps"),
    (
        "clip path of much on much",
        lambda: svg('<clipPath id="c">' + "<rect/>" * 1500 + "</clipPath>" + '<rect clip-path="url(#c)"/>' * 1500),
        "steps",
    ),
    (
        "clip path by style sheet",
        lambda: svg(
            '<style>.a{clip-path:url(#c)}</style><clipPath id="c">'
            + "<rect/>" * 1500
            + "</clipPath>"
            + '<rect class="a"/>' * 1500
        ),
        "steps",
    ),
    ("gradient built anew", lambda: svg(GRADIENT + '<rect fill="url(#h)" width="9" height="9"/>' * 3000), "steps"),
    ("gradient handed down", lambda: svg(f'{GRADIENT}<g fill="url(#h)">{"<g/>" * 3000}</g>'), "steps"),
    ("uses among many", lambda: svg(f'{"<g/>" * 15_000}<g id="r"/>{USE_R * 5000}'), "steps"),
    ("an id twice", lambda: svg(f'<g id="a">{"<g/>" * 9000}</g><g id="a"/>{USE_A * 500}'), "unfold"),
    ("groups with an opacity", lambda: svg('<g opacity="0.9"><rect/></g>' * 5000), "groups with an opacity"),
    ("faint groups by class", lambda: svg("<style>.a{opacity:.5}</style>" + '<g class="a"><g/></g>' * 5000), "opacity"),
    ("attributes", lambda: svg("<g " + " ".join(f'a{i}="1"' for i in range(5000)) + "/>"), "attributes"),
    ("rules", lambda: svg("<style>" + "a{b:c}" * 5000 + "</style>"), "rules"),
    ("rules for everything", lambda: svg("<style>" + "*{b:c}" * 1900 + "</style>" + "<g/>" * 9000), "steps"),
    ("rules within rules", lambda: svg("<style>g g g g g g g g x{b:c}</style>"), "style rule"),
    ("comments that never end", lambda: svg("<style>" + "/*" * 2_000_000 + "</style>"), "style sheets of more than"),
    ("figures run together", lambda: svg('<path d="M0 0A' + "9" * 100_000 + '"/>'), "damaged"),
    ("rules turned over", lambda: svg("<style>" + ":not(" * 900 + "a" + ")" * 900 + "{b:c}</style>"), "style rule"),
    ("properties", lambda: svg("<style>a{" + "b:c;" * 9000 + "}</style>"), "properties"),
    ("brackets in a value", lambda: svg('<rect fill="' + "url(#" * 200_000 + '"/>'), "fill with"),
    ("dashes", lambda: svg('<path d="M0 0H9" stroke-dasharray="' + "1 " * 5000 + '"/>'), "dash pattern"),
    (
        "scales of scales",
        lambda: svg('<g transform="scale(999999)">' * 30 + "<circle r='1'/>" + "</g>" * 30),
        "enlarge",
    ),
    ("a huge circle", lambda: svg('<circle r="1e300"/>'), "absurd"),
    ("a circle without end", lambda: svg('<circle r="inf"/>'), "absurd"),
    ("a use by style", lambda: svg('<g id="a"><use href="#b" style="href:#a"/></g><g id="b"/>'), "style href"),
    ("data without end", lambda: svg('<image href="data:image/png;base64,' + "A" * 4_000_000 + '"/>'), "picture"),
]


def _places(many: int) -> list[str]:
    """Places all over a drawing of 30 × 30, the same each time."""
    random = Random(1)
    return [f"{random.random() * 30:.2f} {random.random() * 30:.2f}" for _ in range(many)]


def _scribble(many: int) -> str:
    """A line of many short pieces that wanders about: it crosses itself where it passes, and hardly elsewhere."""
    random = Random(1)
    steps = "".join(f"l{random.random() - 0.5:.2f} {random.random() - 0.5:.2f}" for _ in range(many))
    return f'<path d="M15 15{steps}z" stroke="#000" stroke-width="0.1"/>'


def _across(many: int) -> str:
    """A line that crosses itself everywhere."""
    return f'<path d="M0 0L{" ".join(_places(many))}z" fill="none" stroke="#000" stroke-width="0.1"/>'


TURNS = "rotate(1) " * 1990
MARKED = '<marker id="m"><circle r="1"/></marker><path marker-mid="url(#m)" stroke="red" d="M0 0L'
HEAVY: list[tuple[str, Bytes, str]] = [
    ("lines across lines", lambda: svg(_across(100_000)), "can be drawn"),
    ("lines across lines in many paths", lambda: svg(_across(1000) * 100), "can be drawn"),
    ("lines in very many pieces", lambda: svg(_scribble(390_000)), "paths of more than"),
    ("arcs", lambda: svg(f'<path d="M0 0{"".join(f"A9 50 0 1 1 {at}" for at in _places(30_000))}"/>'), "can be drawn"),
    ("equal shapes", lambda: svg('<rect width="1" height="1"/>' * 99_000), "more than 25000 elements"),
    ("circles", lambda: svg('<circle r="9"/>' * 24_000), "can be drawn"),
    ("markers", lambda: svg(MARKED + " ".join(_places(30_000)) + '"/>'), "can be drawn"),
    ("styles", lambda: svg(f'<rect style="{"fill:red;" * 2200}"/>' * 200), "can be drawn"),
    ("polygons", lambda: svg(f'<polygon points="{" ".join(_places(8000))}" stroke="red"/>' * 15), "can be drawn"),
    ("transforms", lambda: svg(f'<rect width="1" height="1" transform="{TURNS}"/>' * 230), "can be drawn"),
    ("values handed down", lambda: svg(f'<g fill="{"a" * 19_000}">{"<rect/>" * 20_000}</g>'), "can be drawn"),
    ("many references in one", lambda: svg('<rect fill="' + "url(#a " * 2500 + '"/>'), "more than one thing"),
]


STOPS = '<stop stop-color="red"/><stop offset="1" stop-color="blue" stop-opacity="0.5"/>'
GRADIENTS = f'<radialGradient id="g">{STOPS}</radialGradient>'
SMALL_RECT = '<rect width="4" height="4"/>'
FULL = '<rect width="30" height="30"{}/>'


def _thick(many: int, width: float) -> str:
    """A line of very short pieces back and forth, its stroke far wider than they are long."""
    steps = "".join(f"l0.0003 {(0.3, -0.3)[i % 2]}" for i in range(many))
    return f'<path fill="none" stroke="#000" stroke-width="{width}" stroke-linejoin="round" d="M0 15{steps}"/>'


def _walk(many: int) -> str:
    random = Random(1)
    steps = "".join(f"l{30 / many:.5f} {30 / many * random.choice((-1, 1)):.5f}" for _ in range(many))
    return f'<path fill="none" stroke="#000" stroke-width="18" stroke-linecap="round" d="M0 15{steps}"/>'


def _by_style(many: int) -> str:
    return "<style>.a{fill:none;stroke:#000;stroke-width:18}</style>" + _thick(many, 0.01).replace(
        'fill="none" stroke="#000" stroke-width="0.01"', 'class="a"'
    )


PAINTED: list[tuple[str, Bytes, str]] = [
    ("gradients over all", lambda: svg(GRADIENTS + FULL.format(' fill="url(#g)"') * 100), "its painted area"),
    (
        "gradients over all, handed down",
        lambda: svg(f'{GRADIENTS}<g fill="url(#g)">{FULL.format("") * 100}</g>'),
        "its painted area",
    ),
    ("colour over all", lambda: svg(FULL.format(' fill="#123"') * 20_000), "its painted area"),
    (
        "colour over all, enlarged by uses",
        lambda: svg(f'<defs><g id="r">{SMALL_RECT * 100}</g></defs>' + '<use href="#r" transform="scale(9)"/>' * 60),
        "its painted area",
    ),
    ("polygons over all", lambda: svg(f'<path d="M{"L".join(_places(59))}z"/>' * 2000), "its long lines"),
    ("thick strokes of 20,000 pieces", lambda: svg(_thick(20_000, 18)), "its strokes that overlap"),
    ("thick strokes of 90,000 pieces", lambda: svg(_thick(90_000, 18)), "its strokes that overlap"),
    ("thick strokes by a style sheet", lambda: svg(_by_style(20_000)), "its strokes that overlap"),
    (
        "groups with an opacity in each other",
        lambda: svg('<g opacity="0.9">' * 60 + FULL.format("") + "</g>" * 60),
        "its groups with an opacity",
    ),
]

TIFF_HEAD = [(256, 4, 1, 10), (257, 4, 1, 10), (258, 3, 1, 8), (259, 3, 1, 5), (262, 3, 1, 1), (277, 3, 1, 1)]


def _tiff(*entries: tuple[int, int, int, int]) -> bytes:
    rows = b"".join(struct.pack("<HHII", *entry) for entry in (*TIFF_HEAD, *entries))
    return b"II*\0" + struct.pack("<IH", 8, len(rows) // 12) + rows + bytes(300)


def _wide(width: int, height: int, bits: int, colour: int) -> bytes:
    """A picture of nothing, whole and valid."""
    row = bytes(1 + (width * bits * {0: 1, 2: 3, 6: 4}[colour] + 7) // 8)
    packer = zlib.compressobj(1)
    parts = [packer.compress(row) for _ in range(height)]
    return png_file(width, height, bits, colour, b"".join(parts) + packer.flush())


def _scans(many: int) -> bytes:
    """A progressive JPEG of nothing, its last scan given many times over (ITU-T T.81: SOS is 0xff 0xda)."""
    out = io.BytesIO()
    Image.new("L", (4000, 4000)).save(out, "JPEG", progressive=True)
    data = out.getvalue()
    last = data.rindex(b"\xff\xda")
    return data[:last] + data[last:-2] * many + data[-2:]


SMALL = zlib.compress(bytes(90))
PICTURES: list[tuple[str, Bytes, str]] = [
    ("pixels", lambda: _wide(9999, 9999, 8, 6), "more than 24 million"),
    ("pixels of one bit", lambda: _wide(9999, 9999, 1, 0), "more than 24 million"),
    ("scans", lambda: _scans(3000), "scans"),
    ("a row without end", lambda: png_file(2**31 - 1, 1, 8, 0, SMALL), "more than 24 million"),
    ("chunks", lambda: png_file(9, 9, 8, 0, SMALL, chunk(b"teSt", b"") * 2_000_000), "chunks"),
    (
        "a profile",
        lambda: png_file(9, 9, 8, 0, SMALL, chunk(b"iCCP", b"a\0\0" + zlib.compress(bytes(10**8)))),
        "holds too much",
    ),
    (
        "a text",
        lambda: png_file(9, 9, 8, 0, SMALL, chunk(b"iTXt", b"a\0\1\0\0\0" + zlib.compress(bytes(10**8)))),
        "holds too much",
    ),
    (
        "texts",
        lambda: png_file(9, 9, 8, 0, SMALL, chunk(b"zTXt", b"a\0\0" + zlib.compress(bytes(10**6))) * 100),
        "holds too much",
    ),
    (
        "a tile",
        lambda: _tiff((322, 4, 1, 2**31 - 16), (323, 4, 1, 2**31 - 16), (324, 4, 1, 200), (325, 4, 1, 9)),
        "damaged",
    ),
    ("strips", lambda: _tiff((273, 4, 1, 200), (278, 4, 1, 2**32 - 1), (279, 4, 1, 2**32 - 1)), "damaged"),
]

BINARY = bytes.fromhex("4175746f4341442042696e617279204458460d0a1a00")  # what every binary DXF begins with
HOLES: list[tuple[str, Bytes, str]] = [
    ("rows", lambda: b"id,x,y,d\n" + b"a,1,2,5\n" * 1_000_000, "too many holes"),
    ("empty lines", lambda: b"\n" * 9_000_000, "lines"),
    ("comments", lambda: b"#a\n" * 9_000_000, "lines"),
    ("columns", lambda: b"id,x,y,d" + b",d" * 1_000_000 + b"\n", "columns"),
    ("a cell", lambda: b'id,x,y,d\n"' + b"a" * 9_000_000, "not a table"),
    ("wrong rows", lambda: b"id,x,y,d\n" + b"a,b,c,d\n" * 40_000, "and more like these"),
    ("figures", lambda: b"id,x,y,d\na,1,2," + b"9" * 60_000 + b"\n", "characters"),
    ("repeats", lambda: b"M48\nMETRIC\nT1C1\n%\nT1\nX1Y1\n" + b"R999999999X0.001\n" * 100 + b"M30\n", "too many holes"),
    ("lines of a program", lambda: b"M48\nINCH\n%\n" + b"\n" * 9_000_000, "lines"),
    ("tools", lambda: b"M48\nMETRIC\n" + b"".join(b"T%dC1\n" % i for i in range(99_999)) + b"%\nM30\n", "tools"),
    ("blocks in themselves", lambda: _dxf(_insert("A"), _block("A", _insert("B")) + _block("B", _insert("A"))), "deep"),
    (
        "blocks of blocks",
        lambda: _dxf(
            _insert("B9"),
            _block("B0", CIRCLE) + "".join(_block(f"B{i}", _insert(f"B{i - 1}") * 10) for i in range(1, 10)),
        ),
        "unfolds to",
    ),
    ("a block in rows", lambda: _dxf(_insert("A", " 70\n32767\n 71\n32767\n"), _block("A", CIRCLE)), "times"),
    ("corners", lambda: _dxf("  0\nLWPOLYLINE\n  8\n0\n 90\n1\n 70\n1\n" + CORNER * 90_000), "corners"),
    ("pairs", lambda: _dxf("  0\nMTEXT\n  8\n0\n" + "  3\na\n" * 900_000), "pairs"),
    ("zeros", lambda: BINARY + bytes(9_000_000), "the binary DXF has"),
    ("segments", lambda: svg('<path d="M0 0A1 1 0 0 1 1 1A1 1 0 0 1 0 0"/>' * 15_000), "segments"),
    ("a path", lambda: svg(f'<path d="M0 0{"C1 1 0 0 1 1" * 70_000}Z"/>'), "segments"),
]

JOBS: list[tuple[str, Callable[[], str], str]] = [
    ("dotted key", lambda: "a" + ".a" * 400_000 + " = 1\n" + good(), "dotted key"),
    ("dotted table", lambda: "[a" + ".'a'" * 200_000 + "]\n", "dotted key"),
    ("lists in lists", lambda: good() + "x = " + "[" * 400 + "]" * 400 + "\n", "nested too deeply"),
    ("tables in tables", lambda: good() + "x = " + "{a=" * 400 + "1" + "}" * 400 + "\n", "nested too deeply"),
    ("unknown keys", lambda: good() + "".join(f"k{i} = 1\n" for i in range(90_000)), "and more problems like these"),
    ("a long key", lambda: "k" * 900_000 + " = 1\n" + good(), "not known here"),
    ("bad syntax", lambda: good() + "a = = 1\n" * 90_000, "not valid TOML"),
    ("an integer", lambda: good("dpi = 150", "dpi = 0x" + "f" * 900_000), "beyond 64 bits"),
    ("a float", lambda: good("dpi = 150", "dpi = 1" + "0" * 900_000 + ".0"), "whole number"),
    ("no figure", lambda: good("opacity = 0.5", "opacity = nan"), "finite"),
    ("a date", lambda: good("dpi = 150", "dpi = 1979-05-27T07:32:00Z"), "whole number"),
    ("controls", lambda: good() + '[[face.control]]\nhole="rate"\n' * 20_000, "at most 200"),
    ("texts", lambda: good() + '[[face.text]]\ntext="A"\nat=[0,0]\n' * 20_000, "at most 200"),
    ("texts that find their room", lambda: good() + '[[face.text]]\ntext="A"\nat="auto"\n' * 100, "auto"),
    ("frames", lambda: good() + '[[face.frame]]\nholes=["rate"]\n' * 20_000, "at most 100"),
    ("lines", lambda: good() + "[[face.line]]\nfrom=[0,0]\nto=[9,9]\n" * 20_000, "at most 200"),
    ("artwork", lambda: good() + '[[face.art]]\nfile="waves.svg"\n' * 20_000, "at most 24"),
    ("tiles", lambda: good('opacity = 0.5', 'fit = "tile"\ntile = 3').replace('"112x60x31"', '"112x60x31"').replace(
        'stock = "112x60x31"', "size = [600, 600, 50]"), "tiles of waves.svg"),
    ("a box", lambda: good('stock = "112x60x31"', "size = [2000, 2000, 2000]"), "longer than 600 mm"),
    ("faces", lambda: good() + '[[face]]\nside="back"\n' * 40_000, "at most 20"),
    ("coats", lambda: good() + '[[coat]]\nkind="primer"\n' * 20_000, "at most 24"),
    ("shapes", lambda: good() + '[[coat]]\nkind="primer"\n[[coat]]\npaint="red"\n'
        + '[[coat.shape]]\nshape="circle"\nd=100\n' * 15_000, "at most 200"),
    ("shapes of all coats", lambda: good()
        + ('[[coat]]\npaint="#123456"\n' + '[[coat.shape]]\nshape="circle"\nd=10\n' * 190) * 20, "shapes in all coats"),
    ("a text", lambda: good('text = "{title}"', 'text = "' + "W" * 990 + '"'), "at most 500"),
    ("a text by its fields", lambda: good('text = "{title}"', 'text = "' + "{title}" * 70 + '"'), "at most 500"),
]  # fmt: skip


# The heaviest that is still taken: it must be drawn, not only read, in the time and memory that all is promised for.
TAKEN: list[tuple[str, Bytes]] = [
    ("comments", lambda: svg("<style>" + "/**/" * 49_000 + "</style><rect width='9' height='9'/>")),
    ("a style without a rule", lambda: svg("<style>" + "a" * 199_000 + "</style><rect width='9' height='9'/>")),
    ("a style of blanks", lambda: svg("<style>a{fill:" + " " * 199_000 + "}</style><rect width='9' height='9'/>")),
    ("lines across lines", lambda: svg(_across(7000))),
    ("a line of 20,000 pieces", lambda: svg(_scribble(20_000))),
    ("100,000 pieces in many paths", lambda: svg(_scribble(250) * 400)),
    ("20,000 equal shapes", lambda: svg('<rect width="1" height="1"/>' * 20_000)),
    ("circles", lambda: svg('<circle r="1"/>' * 9_000)),
    ("markers", lambda: svg(MARKED + " ".join(_places(3000)) + '"/>')),
    (
        "gradients' stops",
        lambda: svg(
            '<linearGradient id="g">'
            + "<stop/>" * 5_000
            + '</linearGradient><rect width="9" height="9" fill="url(#g)"/>'
        ),
    ),
    ("radial gradients over all", lambda: svg(GRADIENTS + FULL.format(' fill="url(#g)"') * 68)),
    ("colours over all", lambda: svg(FULL.format(' fill="#123" fill-opacity="0.5"') * 1390)),
    ("a thick stroke of 4000 pieces", lambda: svg(_thick(4000, 18))),
    ("a thick walk", lambda: svg(_walk(90_000))),
    ("a stroke of 60,000 pieces", lambda: svg(_scribble(600).replace("<path", '<path fill="none"') * 100)),
    ("pixels of one bit", lambda: _wide(4898, 4898, 1, 0)),
    ("chunks", lambda: png_file(9, 9, 8, 0, SMALL, chunk(b"teSt", b"") * (limit("png-chunks") - 10))),
    ("pixels of 16 bits", lambda: _wide(4898, 4898, 16, 6)),
    ("scans", lambda: _scans(limit("jpeg-scans") - 10)),
]


@pytest.mark.skipif(sys.platform == "win32", reason="the resource module is not on Windows")
@pytest.mark.parametrize(
    ("name", "data", "format"),
    [(*taken, "png") for taken in TAKEN] + [(*taken, "svg") for taken in TAKEN[::3]],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_the_largest_that_is_taken_is_drawn_within_bounds(name: str, data: Bytes, format: str, tmp_path: Path) -> None:
    before = LIMITED.replace("(10, 10)", f"({DRAWN_S}, {DRAWN_S})")
    lay(tmp_path, ART_JOB, {"waves.svg": data()})
    ran = run_apart("make", "job.toml", "--only", "art", "--format", format, cwd=tmp_path, before=before)
    told, _, used = ran.err.rpartition("USED ")
    assert ran.status == 0, f"{name}: {ran.status} {told[-400:]}"
    assert float(used) / (2**20 if sys.platform == "darwin" else 2**10) < DRAWN_MB


@pytest.mark.skipif(sys.platform == "win32", reason="the resource module is not on Windows")
@pytest.mark.parametrize(
    ("name", "job", "files", "says"),
    [
        *((f"drawing: {name}", good, {"waves.svg": data}, says) for name, data, says in DRAWINGS),
        *((f"drawing: {name}", good, {"waves.svg": data}, says) for name, data, says in HEAVY),
        *((f"drawing: {name}", good, {"waves.svg": data}, says) for name, data, says in PAINTED),
        *((f"picture: {name}", good, {"waves.svg": data}, says) for name, data, says in PICTURES),
        *((f"holes: {name}", good, {"holes.csv": data}, says) for name, data, says in HOLES),
        *((f"job: {name}", job, {}, says) for name, job, says in JOBS),
    ],
    ids=lambda value: value if isinstance(value, str) and ":" in value else "",
)
def test_it_is_refused_in_little_memory(
    name: str, job: Callable[[], str], files: dict[str, Bytes], says: str, tmp_path: Path
) -> None:
    lay(tmp_path, job(), {file: data() for file, data in files.items()})
    ran, used = run_limited("check", "job.toml", cwd=tmp_path, seconds=SECONDS, addresses=3 << 30)
    assert ran.status == 1, f"{name}: {ran.status} {ran.err[-400:]}"
    assert says in ran.err
    assert "has a fault" not in ran.err
    assert "Traceback" not in ran.err
    assert len(ran.err) < 60_000
    assert 0 < used / 2**10 < MOST_MB


def test_every_limit_is_in_force_and_known() -> None:
    source = "\n".join(path.read_text(encoding="utf-8") for path in PACKAGE.rglob("*.py"))
    assert len(limits()) > 50
    for name, row in limits().items():
        assert f'limit("{name}")' in source, f"{name} limits nothing"
        assert row.most > 0
        assert row.title
    assert limit("holes") == 10_000
    with pytest.raises(KeyError):
        limit("no such limit")
