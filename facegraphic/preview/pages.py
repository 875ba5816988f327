"""What the preview's one-file page shows: values handed to `output.html.preview_html`, drawn elsewhere."""

from dataclasses import dataclass

from facegraphic.preview.model import Looks, Material, Pixels


@dataclass(frozen=True)
class Stage:
    """The box on its way: all faces as they look then, and what the rest of the shell wears (None: as in the model).

    `parts` says whether the parts stand in their holes by then; while paint is sprayed they do not.
    """

    title: str
    looks: Looks
    shell: Material | None = None
    parts: bool = False


@dataclass(frozen=True)
class Leaf:
    """A flat picture (RGB or grey) and what it is; `mirrored` is said beside it."""

    picture: Pixels
    caption: str
    mirrored: bool = False


@dataclass(frozen=True)
class PreviewPages:
    """All that the page has to show. `still` is the three-quarter picture, which stands in without script.

    `coats` are the stages before the art goes on, in spraying order, beginning with the bare box; empty without coats.
    What a job has not (masks without coats, a guide without holes) is left empty, and its switch away.
    """

    still: Pixels
    finished: Looks
    coats: tuple[Stage, ...] = ()
    printed: tuple[Leaf, ...] = ()
    masks: tuple[Leaf, ...] = ()
    drill: tuple[Leaf, ...] = ()
