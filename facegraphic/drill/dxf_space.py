"""Model space with all blocks unfolded, under a limit: each entity, the matrix that takes it to mm, its layer."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from ezdxf.entities.dxfgfx import DXFGraphic
from ezdxf.math import Matrix44

from facegraphic.drill.model import DEEPEST, MOST_ENTITIES, TooMuch, Unreadable

TOO_MUCH = "have only the holes exported, without the blocks of parts and the decoration"


class Source(NamedTuple):
    """Where a thing stands: its handle in the file, and its turn in the drawing's order."""

    handle: str
    number: int


@dataclass(frozen=True)
class Placed:
    """An entity, the matrix from its own space to mm, and the layer that it ends up on."""

    entity: Any
    matrix: Matrix44
    layer: str
    source: Source


Told = dict[tuple[str, str, bool], list[Source]]  # what, how to mend it, and whether it may have been a hole


@dataclass
class Space:
    """A document being unfolded: mm to a unit, layers (lower case) nobody sees, and what was left out."""

    document: Any
    factor: float
    hidden: frozenset[str]
    told: Told = field(default_factory=dict)
    seen: int = 0

    def tell(self, what: str, mend: str, source: Source, lost: bool = True) -> None:
        self.told.setdefault((what, mend, lost), []).append(source)


def unfold(space: Space) -> Iterator[Placed]:
    """Every visible entity of model space that is no block. Unreadable when there is no end of them."""
    scale = Matrix44.scale(space.factor)
    yield from _inside(space, space.document.modelspace(), scale, "0", 0)


def _inside(space: Space, entities: Any, matrix: Matrix44, layer: str, depth: int) -> Iterator[Placed]:
    if depth > DEEPEST:
        raise Unreadable(f"blocks stand in blocks more than {DEEPEST} deep, or in themselves", TOO_MUCH)
    for entity in entities:
        space.seen += 1
        if space.seen > MOST_ENTITIES:
            raise TooMuch(f"the drawing unfolds to more than {MOST_ENTITIES} entities", TOO_MUCH)
        if not isinstance(entity, DXFGraphic):
            continue
        source = Source(str(entity.dxf.get("handle", "") or "").upper(), space.seen)
        own = str(entity.dxf.get("layer", "0"))
        own = layer if own == "0" else own
        kind = entity.dxftype()
        if own.lower() in space.hidden or entity.dxf.get("invisible", 0):
            if kind in ("CIRCLE", "INSERT", "ARC"):
                mend = "name the layer with --layer to read it (in a job: layer)"
                space.tell(f'a {kind.lower()} on the hidden layer "{own}", left out', mend, source)
        elif kind == "INSERT":
            yield from _block(space, entity, matrix, own, depth)
        else:
            yield Placed(entity, matrix, own, source)


def _block(space: Space, insert: Any, matrix: Matrix44, layer: str, depth: int) -> Iterator[Placed]:
    block = insert.block()
    source = Source(str(insert.dxf.get("handle", "") or "").upper(), space.seen)
    if block is None or block.block.is_xref or block.block.is_xref_overlay:
        space.tell(f'a block "{insert.dxf.get("name", "")}" that is not in the file', "bind it, or draw it in", source)
        return
    times = max(insert.dxf.row_count, 1) * max(insert.dxf.column_count, 1)
    if times > MOST_ENTITIES:
        raise TooMuch(f"a block stands in the drawing {times} times", TOO_MUCH)
    for one in insert.multi_insert() if times > 1 else (insert,):
        yield from _inside(space, block, one.matrix44() * matrix, layer, depth + 1)
