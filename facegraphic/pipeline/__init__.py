"""The way through the house: a job file in, findings and files out. What the command line and the page both call."""

from facegraphic.pipeline.making import (
    GangFiles,
    in_silence,
    make,
    make_card,
    make_gang,
    make_ruler,
    make_specimen,
    require_sound,
)
from facegraphic.pipeline.preparing import FORMATS, KINDS, VIEWS, Prepared, Progress, Wishes, judged, laid_out, prepare

__all__ = [
    "FORMATS",
    "KINDS",
    "VIEWS",
    "GangFiles",
    "Prepared",
    "Progress",
    "Wishes",
    "in_silence",
    "judged",
    "laid_out",
    "make",
    "make_card",
    "make_gang",
    "make_ruler",
    "make_specimen",
    "prepare",
    "require_sound",
]
