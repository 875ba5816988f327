"""The starter job that ``facegraphic new`` writes: small, complete, and explained line by line."""

import os
from pathlib import Path

from facegraphic.errors import Problem, UserError
from facegraphic.job.beside import put_new

STARTER = """\
# A facegraphic job: one file a box. Lengths are mm, or text such as "3/8 in".
title = {title}

[box]
stock = "112x60x31"          # see: facegraphic stock boxes; or size = [112.4, 60.5, 31.0]
orientation = "portrait"     # the long side runs away from you
paint = "#e8e2d0"            # the colour the box is painted

[finish]
process = "waterslide-clear" # see: facegraphic stock films
ink = "#1d2b36"
dpi = 600

[[face]]
side = "top"                 # positions count from the face centre, x right, y up
hole = [
    {{ id = "level", at = [-14, 33], d = 7.5 }},
    {{ id = "tone", at = [14, 33], d = 7.5 }},
    {{ id = "lamp", at = [0, 8], d = 8.0 }},
    {{ id = "foot", at = [0, -34], d = 12.2 }},
]

[[face.control]]
hole = "level"
part = "pot-16"              # see: facegraphic stock parts
knob = "round-16"            # see: facegraphic stock knobs
label = "LEVEL"

[[face.control]]
hole = "tone"
part = "pot-16"
knob = "round-16"
label = "TONE"

[[face.control]]
hole = "lamp"
part = "lamp-5-holder"

[[face.control]]
hole = "foot"
part = "footswitch"

[[face.text]]
text = "{{title}}"
at = [0, -12]
height = {height:.2g}
"""


def write_starter(path: Path) -> Path:
    """Write a starter job to `path`, with .toml put on. UserError if it exists or cannot be written."""
    path = job_path(path)
    title = title_of(path)
    # The widest letters are about as wide as they are high, and the face has room for 48 mm of them.
    write_new(path, STARTER.format(title=f'"{title}"', height=min(5.0, 48 / len(title))))
    return path


def job_path(path: Path) -> Path:
    """The job file that a name means. UserError if it is no name, or is there already."""
    if not path.name.removesuffix(".toml").strip(". "):
        mend = "give it one, as in: facegraphic new my-box"
        raise UserError(Problem("the job file has no name", mend, "" if path == Path() else str(path)))
    path = path if path.suffix == ".toml" else path.with_name(path.name + ".toml")
    if os.path.lexists(path):
        raise UserError(_taken(path))
    return path


def title_of(path: Path) -> str:
    """A title that can stand between quotes in a job file, made of a file's name."""
    words = path.stem.replace("-", " ").replace("_", " ").split()
    title, *more = [word[:1].upper() + word[1:] for word in words] or [""]
    title = title if len(title) <= 40 else f"{title[:39]}…"
    for word in more:
        if len(title) + 1 + len(word) > 24:  # whole words only
            break
        title += f" {word}"
    return "".join(c for c in title if c.isprintable() and c not in '"\\{}') or "Box"


def write_new(path: Path, text: str) -> None:
    """Write a file that is not there yet, whole or not at all. UserError if it is, or cannot be written."""
    try:
        put_new(path, text.encode("utf-8"))
    except FileExistsError:
        raise UserError(_taken(path)) from None
    except OSError as error:
        mend = "choose a folder that exists and that you may write to, or make room"
        raise UserError(Problem(f"cannot write: {error.strerror}", mend, str(path))) from None


def _taken(path: Path) -> Problem:
    return Problem("the file is there already", "choose another name, or edit it", str(path))
