"""What earlier runs have left in a folder, or what somebody has put there in their place.

Whatever stands there, a run may only refuse or ignore it, and nothing may go or change but what it writes itself and
what a record there names plainly, with the very hash that it has. Bait lies in the folder, below it and beside it.
"""

import contextlib
import io
import json
import os
import re
import shutil
from collections.abc import Iterator
from functools import cache
from hashlib import sha256
from pathlib import Path

from facegraphic.cli.order import ASKED, Order, Told
from facegraphic.errors import UserError
from facegraphic.output.earlier import places_of
from facegraphic.output.folder import write_together
from facegraphic.output.made import BEGUN, RECORD, REPORT, program, record
from facegraphic.page.record import outputs

from .folder import folder
from .mutate import Choices, Maker, texts

NAMES = (RECORD, BEGUN, REPORT)
CUT = b"\n=== "  # stands ahead of each record's name in an input
LINK, FOLDER = b"-> ", b"/"  # what begins a text that stands for a link or a folder in a record's place
OPTIONS: dict[str, object] = {"fresh": False, **dict.fromkeys(ASKED)}
OLD, EDITED = b"<svg>old</svg>", b"<svg>edited since</svg>"
BAIT = b"precious"  # its hash is known to whoever makes an input; what lies under a plain name may go
UNKNOWN = b"precious, and of a hash that nobody has"
PART = ".top-art.svg.0a1b2c3d.part"
WRITTEN = {"sheet-1.svg", "top-art.svg", *NAMES}  # by the run
NEVER = ("link.svg", "links", "holiday.svg")
_EDITED = re.compile(r"\.edited(?:-\d+)?(\.[^.]*)$")
_PART = re.compile(r"\.(.+)\.[a-z0-9_]{8}\.part")
# What lies in the folder beside the records, and round it; a target that is a path is linked to.
WITHIN: dict[str, bytes | Path] = {
    "sheet-1.svg": OLD, "sheet-2.svg": OLD, "sheet-3.svg": EDITED, "top-art.svg": OLD, PART: OLD,
    "holiday.svg": UNKNOWN, "bait.svg": BAIT, "below/bait.svg": BAIT, "link.svg": Path("../bait.svg"),
    "links": Path(".."), ".holiday.svg.0a1b2c3d.part": UNKNOWN,
}  # fmt: skip
AROUND = {"bait.svg": BAIT, "holiday.svg": UNKNOWN, "job.toml": BAIT, "beside/bait.svg": BAIT}


def hashed(data: bytes) -> str:
    return sha256(data).hexdigest()


def _files() -> dict[str, bytes]:
    """What the run writes."""
    report = {
        "outputs": [{"file": "sheet-1.svg", "kind": "sheet"}, {"file": "top-art.svg", "kind": "art"}],
        "asked": ["art", "sheet", "masks"], "findings": [], "faces": [],
    }  # fmt: skip
    return {"sheet-1.svg": b"<svg>new</svg>", "top-art.svg": b"<svg/>", REPORT: json.dumps(report).encode()}


@cache
def inputs() -> tuple[bytes, ...]:
    """Records as runs leave them."""
    made = {"sheet-1.svg": hashed(OLD), "sheet-2.svg": hashed(OLD), "sheet-3.svg": hashed(OLD), REPORT: "HASH-REPORT"}
    kinds = {name: "sheet" for name in made if name != REPORT}
    left = [{"file": "plugs.svg", "kind": "plugs", "hash": hashed(BAIT)}, {"file": "bait.svg", "kind": "x", "hash": ""}]
    whole = {
        "asked": "ASKED",
        "kinds": kinds,
        "left": left,
        "made": made,
        "program": "PROGRAM",
        "read": {"JOB": "HASH-JOB"},
    }
    legends = [{"role": "label", "hole": "rate", "place": "below"}, {"role": "scale", "hole": "rate"}]
    finding = {"code": "a", "severity": "note", "message": "b", "remedy": "c", "side": "top", "at": [1.0, 2.0]}
    report = {"faces": [{"side": "top", "legends": legends}], "findings": [finding], "outputs": _outputs()}
    alone = {**whole, "made": {REPORT: "HASH-REPORT"}, "kinds": {}, "left": []}
    found = []
    for kept, begun in ((whole, {"left": left}), (alone, None), ({"left": left}, {"left": []})):
        parts = ((RECORD, kept), (BEGUN, begun), (REPORT, report))
        texts_ = (CUT + name.encode() + b"\n" + json.dumps(part, indent=1).encode() for name, part in parts if part)
        found.append(b"".join(texts_))
    return tuple(found)


def _outputs() -> list[dict[str, str]]:
    return [{"file": name, "kind": "sheet"} for name in ("sheet-1.svg", "../bait.svg", "link.svg")]


WORDS = (
    *(
        b'"holiday.svg"',
        b'"bait.svg"',
        b'"../bait.svg"',
        b'"below/bait.svg"',
        b'"link.svg"',
        b'"links/bait.svg"',
        b'""',
    ),
    *(b'"."', b'".."', b'"/bait.svg"', b'"HERE/bait.svg"', b'"AROUND/bait.svg"', b'".made.json"', b'"report.json"'),
    *(b'"HASH-JOB"', b'"JOB"', b'"art"', b'"sheet"', b'"plugs"', b'"mask"', b'"bait.svg\\u0000"', b'"a\\ud800.svg"'),
    *(b"null", b"true", b"{}", b"[]", b"NaN", b"1e999", b"-1", b'"left"', b'"made"', b'"kinds"', b'"file"', b'"hash"'),
    *(b'"' + hashed(data).encode() + b'"' for data in (OLD, BAIT, EDITED)),
    *(b"\n=== .made.json\n", b"\n=== .begun.json\n", b"\n=== report.json\n", b'"' + b"a" * 300 + b'.svg"'),
    *(
        b"\n=== .made.json\n-> ../bait.svg\n",
        b"\n=== .begun.json\n-> bait.svg\n",
        b"\n=== report.json\n-> ../job.toml\n",
    ),
    *(b"\n=== .made.json\n/", b"\n=== .begun.json\n/", b"\n=== report.json\n/", b"-> ", b"-> links"),
    b'{"file": "bait.svg", "kind": "sheet", "hash": "' + hashed(BAIT).encode() + b'"},',
    b'{"file": "../bait.svg", "kind": "sheet", "hash": "' + hashed(BAIT).encode() + b'"},',
    b'{"file": "links/bait.svg", "kind": "sheet", "hash": "' + hashed(BAIT).encode() + b'"},',
    b'{"file": "link.svg", "kind": "sheet", "hash": "' + hashed(BAIT).encode() + b'"},',
    b'{"file": "holiday.svg", "kind": "sheet", "hash": ""},',
)


def records() -> Maker:
    """Records whose names, kinds and hashes are mixed up."""
    return texts(inputs(), WORDS)


def read_left(data: bytes) -> object:
    """All that runs, `make` and page, ask of a folder, then a run that writes there, then all of it once more."""
    out = _laid(data)
    before, around = _seen(out), _seen(out.parent)
    job = out.parent / "job.toml"
    order = _order(job, out)
    _asked_for(order, job)
    kept = [text for name in NAMES if (text := before.get(name)) is not None]
    files = _files()
    files[RECORD] = record(order.asked(job), {str(job): hashed(BAIT)}, files)
    try:
        write_together({out: files}, inputs=[job])
    except UserError:
        _owned(before, _seen(out), {}, kept)
        raise
    finally:
        if _seen(out.parent) != around:
            raise AssertionError("something beside the folder was changed")
    _owned(before, _seen(out), files, kept)
    order = _order(job, out)  # which looks at each file once
    if not order.nothing_new(job):
        raise AssertionError("a run's own record is not believed")
    return _asked_for(order, job)


def _order(job: Path, out: Path) -> Order:
    return Order(OPTIONS, {job: out}, None, False)


def _laid(data: bytes) -> Path:
    """A folder with bait and the records of an input."""
    around = folder() / "around"
    shutil.rmtree(around, ignore_errors=True)
    out = around / "out"
    for place, named in ((around, AROUND), (out, WITHIN)):
        for name, content in named.items():
            path = place / name
            path.parent.mkdir(parents=True, exist_ok=True)
            if isinstance(content, Path):
                path.symlink_to(content)
            else:
                path.write_bytes(content)
    texts_ = {name: text for part in data.split(CUT)[1:] for name, _, text in [part.partition(b"\n")]}
    for name in reversed(NAMES):  # the record last, for it may tell the others' hashes
        text = texts_.get(name.encode())
        if text is None:
            continue
        if text.startswith(LINK):
            (out / name).symlink_to(os.fsdecode(text[len(LINK) :].split(b"\n")[0].replace(b"\0", b"")[:200] or b"."))
        elif text.startswith(FOLDER):
            (out / name).mkdir()
        else:
            (out / name).write_bytes(_told(text, around, out))
    return out


def _told(text: bytes, around: Path, out: Path) -> bytes:
    """Words of an input that stand for what differs from machine to machine, or for other parts of it."""
    report = out / REPORT
    words = {
        b"HASH-REPORT": hashed(report.read_bytes()) if report.is_file() else "",
        b"HASH-JOB": hashed(BAIT),
        b"ASKED": _order(around / "job.toml", out).asked(around / "job.toml"),
        b"PROGRAM": program(),
        b"JOB": str(around / "job.toml"),
        b"HERE": str(out),
        b"AROUND": str(around),
    }
    return re.sub(b"|".join(words), lambda found: words[found[0]].encode(), text)


def _seen(place: Path) -> dict[str, bytes]:
    """What lies right in a folder and where links lead; of folders in it, what lies in them."""
    found = {}
    for path in _walked(place):
        name = str(path.relative_to(place))
        if not name.startswith("out/"):
            found[name] = os.fsencode(path.readlink()) if path.is_symlink() else path.read_bytes()
    return found


def _walked(place: Path) -> Iterator[Path]:
    for path in place.iterdir():
        if path.is_dir() and not path.is_symlink():
            yield from _walked(path)
        else:
            yield path


def _owned(before: dict[str, bytes], after: dict[str, bytes], files: dict[str, bytes], kept: list[bytes]) -> None:
    """AssertionError if anything went or changed that is neither written by the run nor told to be ours."""
    for name, data in before.items():
        if name in files or after.get(name) == data or name == BEGUN:
            continue
        if name in after or "/" in name or name in NEVER:
            raise AssertionError(f"{name} was changed or taken away")
        part = _PART.fullmatch(name)
        told = part[1] if part else name
        plain = part is not None or any(hashed(data).encode() in text for text in kept)
        if told not in WRITTEN and not (plain and any(_names(text, told) for text in kept)):
            raise AssertionError(f"{name} was taken away, which no record names with its hash")
    for name, data in files.items():
        if name != RECORD and after.get(name) != data:
            raise AssertionError(f"{name} is not as it was written")
    strange = after.keys() - before.keys() - files.keys()
    # What was edited stays, whole, under a name of its own.
    edited = {name for name in strange if before.get(_EDITED.sub(r"\1", name)) == after[name]}
    if strange - edited:
        raise AssertionError(f"left lying: {strange - edited}")


def _names(text: bytes, name: str) -> bool:
    """Whether a record has a name anywhere, as JSON writes it."""
    return json.dumps(name).encode() in text or name.encode() in text


def _asked_for(order: Order, job: Path) -> object:
    out = order.folders[job]
    told = io.StringIO()
    with contextlib.redirect_stdout(told), contextlib.redirect_stderr(told):
        if order.nothing_new(job):
            Told(False, False).kept("job.toml", out)
    return places_of(out), outputs(out)


def many_records(choices: Choices, _: bytes) -> bytes:
    """A record of a great many files."""
    count = choices.of((1000, 30_000))
    name = choices.of(("sheet-{}.svg", "../{}.svg", "below/{}", "{}"))
    left = [{"file": name.format(number), "kind": "sheet", "hash": hashed(BAIT)} for number in range(count)]
    return CUT + RECORD.encode() + b"\n" + json.dumps({"left": left}).encode()
