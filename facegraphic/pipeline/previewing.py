"""The preview's files: pictures of the finished box, and of it after each coat of paint."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property, partial

from facegraphic.job.model import Job
from facegraphic.masks.cut import body_paint
from facegraphic.output.html import preview_html
from facegraphic.output.png import pixels_bytes, render
from facegraphic.output.report import Output
from facegraphic.pipeline.leaves import preview_pages
from facegraphic.pipeline.preparing import Prepared, Wishes
from facegraphic.pipeline.seeing import coat_looks, eye, looks
from facegraphic.preview.assemble import assemble
from facegraphic.preview.camera import Camera, View, camera_for
from facegraphic.preview.coats import stages, strip
from facegraphic.preview.flat import flat
from facegraphic.preview.model import Looks, Model, Pixels, Setting
from facegraphic.preview.picture import box_picture

VIEW_FILES: Mapping[str, str] = {
    "three-quarter": "preview.png",
    "flat": "preview-flat.png",
    "top": "preview-top.png",
}
COATS = "preview-coats.png"
PAGE = "preview.html"
SIZE = (1600, 1200)  # pixels of a picture of the box
SMALL = (480, 400)  # and of one of its coats
LOOKS_DPI = 300  # of the faces in pictures of the box, which show them larger than life


@dataclass(frozen=True)
class Preview:
    """Files by name, and what the report says of them."""

    files: Mapping[str, bytes]
    outputs: tuple[Output, ...]


@dataclass(frozen=True)
class Pictures:
    """The files that are pictures, and what the page needs of them: the box, and the one that stands in for it."""

    files: Preview
    model: Model
    still: Pixels


NO_PREVIEW = Preview({}, ())
Tell = Callable[[str, int], None]
# Pictures that are begun, or to be drawn: called, it gives them, and tells of them as `preview_files` does.
Awaited = Callable[[Tell], Pictures]
Begin = Callable[[Prepared, Wishes], Awaited]


def setting(job: Job) -> Setting:
    """How the box is shown."""
    return Setting(job.shown.knobs, job.shown.lamps)


def preview_names(prepared: Prepared, wishes: Wishes) -> tuple[str, ...]:
    """The files that the preview will be."""
    if "preview" not in wishes.kinds:
        return ()
    views = [VIEW_FILES[view] for view in wishes.views]
    return (*views, *((COATS,) if prepared.job.coats else ()), PAGE)


def pictures(prepared: Prepared, wishes: Wishes, tell: Tell | None = None) -> Pictures:
    """All of a job's preview but its page, as its wishes name it."""
    shown = _Shown(prepared)
    files: dict[str, bytes] = {}
    outputs: list[Output] = []
    for done, name in enumerate(preview_names(prepared, wishes)[:-1]):
        if tell:
            tell(name, done)
        picture, dpi = shown.picture(name)
        files[name] = pixels_bytes(picture, dpi)
        size = (picture.shape[1], picture.shape[0])
        outputs.append(replace(_output(name), dpi=dpi, size_px=size))
    return Pictures(Preview(files, tuple(outputs)), shown.model, shown.still)


def in_turn(prepared: Prepared, wishes: Wishes) -> Awaited:
    """Draw the pictures when they are asked for."""
    return partial(pictures, prepared, wishes)


def preview_files(prepared: Prepared, wishes: Wishes, tell: Tell, awaited: Awaited) -> Preview:
    """The preview of a job; `tell` gets each name before it is drawn, and how many are done."""
    names = preview_names(prepared, wishes)
    if not names:
        return NO_PREVIEW
    drawn = awaited(tell)
    tell(PAGE, len(names) - 1)
    job = prepared.job
    page = preview_html(job.title or job.file, drawn.model, preview_pages(prepared, drawn.still))
    return Preview({**drawn.files.files, PAGE: page}, (*drawn.files.outputs, _output(PAGE)))


def _output(name: str) -> Output:
    return Output(name, "preview", None, False, None, None)


class _Shown:
    """A job's box and its faces, worked out once for all pictures."""

    def __init__(self, prepared: Prepared) -> None:
        self.prepared = prepared

    @cached_property
    def model(self) -> Model:
        return assemble(self.prepared.job, self.prepared.layouts, setting(self.prepared.job))

    @cached_property
    def looks(self) -> Looks:
        return looks(self.prepared, LOOKS_DPI)

    def picture(self, name: str) -> tuple[Pixels, int | None]:
        """A file's picture, and its dpi if it is true to scale."""
        if name == COATS:
            return self.coats(), None
        if name == VIEW_FILES["flat"]:
            seen = eye(self.prepared.job)
            return flat(seen, looks(self.prepared)), seen.dpi
        return self.view("top") if name == VIEW_FILES["top"] else self.still, None

    @cached_property
    def still(self) -> Pixels:
        """The box in three-quarter view: a picture of its own, and what stands in on the page where no script runs."""
        return self.view("three-quarter")

    def view(self, view: View) -> Pixels:
        return box_picture(self.model, self.looks, camera_for(self.model, view, SIZE))

    def coats(self) -> Pixels:
        """All stages from one place: that from which the finished box with its knobs fills the picture."""
        job, camera = self.prepared.job, camera_for(self.model, "three-quarter", SMALL)
        pictures = [self.bare(number, camera) for number in range(len(job.coats) + 1)]
        return strip(stages(job, pictures, box_picture(self.model, self.looks, camera)), render)

    def bare(self, number: int, camera: Camera) -> Pixels:
        """The box without its parts, once the coats up to `number` are sprayed."""
        job = self.prepared.job
        shell = assemble(replace(job, paint=body_paint(job, number), coats=()), ())
        return box_picture(shell, coat_looks(self.prepared, number), camera)
