"""The smallest stock box that holds a list of parts, and why no smaller one does."""

from bisect import insort
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import islice, product

from facegraphic.errors import Problem, UserError
from facegraphic.geometry.solids import Array
from facegraphic.planning.model import Item, Plan, Short, Wish, items_of, space
from facegraphic.planning.rows import Arrangement, arrangements
from facegraphic.planning.walls import Finder, Room, inside, taken
from facegraphic.stock.tables import BoxSize, Knob, Part, boxes, kinds, knobs, parts

Variant = Mapping[str, tuple[Part, Knob | None]]
ENOUGH = 4  # plans to choose from, each way that a box may lie
MOST_TOPS = 20  # arrangements of a top face that sockets are sought for
UNUSUAL = 2.0  # what each step away from the usual parts and knobs costs in looks
ALIKE = 4.0  # mm
TRIED = 6  # plans of a box that are tried in full before it is given up
Trial = Callable[[Plan], str]


def choose(wish: Wish, trial: Trial, tell: Callable[[str], None] = lambda name: None) -> Plan:
    """The first plan, box by box from the smallest, that `trial` has nothing against (it gives "" then).

    `tell` gets the name of the box that is being tried, again and again while it is.
    UserError when no box will do, with what is too much for the largest.
    """
    refused: list[tuple[str, str]] = []
    for box in _boxes(wish):
        if why := _against(box, wish):
            refused.append((box.name, why))
            continue
        faults: list[Short] = []
        said = ""
        for plan in _plans(box, wish, faults, tell):
            tell(box.name)
            said = trial(plan)
            if not said:
                return replace(plan, refused=tuple(refused))
        refused.append((box.name, said or _worst(faults)))
    raise UserError(Problem(*_too_much(wish, refused)))


def _against(box: BoxSize, wish: Wish) -> str:
    """What the trade's rules have against a box, whatever would find room in it."""
    feet, wide = wish.count("footswitches"), min(box.size[:2])
    if feet > 1 and wide < space("feet-box"):
        return (
            f"{feet} footswitches side by side want the widest of the four usual boxes or a larger one, at least"
            f" {space('feet-box'):g} mm wide (common practice); this is {wide:g}"
        )
    return ""


def _boxes(wish: Wish) -> list[BoxSize]:
    """By volume, then by face."""
    if wish.box:
        return [boxes()[wish.box]]
    return sorted(boxes().values(), key=lambda box: (box.volume, box.size[0] * box.size[1]))


def variants(wish: Wish) -> Iterator[Variant]:
    """The parts and knobs to try, the usual ones first; a kind that is not asked for has one way only."""
    ways = []
    for name, kind in kinds().items():
        fitted: list[tuple[Part, Knob | None]] = []
        turned = kind.knobs and ([wish.knob] if wish.knob and name == "pots" else kind.knobs)
        for part in kind.part:
            fitted += [(parts()[part], knobs().get(knob)) for knob in turned or ("",)]
        ways.append([(name, one) for one in (fitted if wish.count(name) else fitted[:1])])
    order = sorted(product(*(range(len(way)) for way in ways)), key=sum)
    for numbers in order:
        chosen = dict(zip(kinds(), numbers, strict=True))
        if wish.count("jacks") and wish.count("dc") and chosen["jacks"] != chosen["dc"]:
            continue  # small sockets go together
        yield dict(way[number] for way, number in zip(ways, numbers, strict=True))


def _plans(box: BoxSize, wish: Wish, faults: list[Short], tell: Callable[[str], None]) -> Iterator[Plan]:
    """The plans of a box that keep all rules, the best-looking first, as many as are worth a trial."""
    found = []
    for number, variant in enumerate(variants(wish)):
        tell(box.name)
        plans = _of_variant(box, wish, variant, faults)
        found += [replace(plan, score=plan.score + UNUSUAL * number) for plan in plans]
    unlike = {_rough(plan): plan for plan in sorted(found, key=lambda plan: -plan.score)}
    yield from sorted(unlike.values(), key=lambda plan: plan.score)[:TRIED]


def _rough(plan: Plan) -> tuple[object, ...]:
    """The same for plans that differ by little: what is wrong with one is wrong with the other."""
    return (plan.across, *((one.item.id, one.side, round(one.x / ALIKE), round(one.y / ALIKE)) for one in plan.placed))


def _of_variant(box: BoxSize, wish: Wish, variant: Variant, faults: list[Short]) -> Iterator[Plan]:
    """A few plans with the parts of a variant, each way that the box may lie."""
    items = items_of(wish, variant)
    long, short = max(box.size[:2]), min(box.size[:2])
    wide = wish.count("footswitches") > 1 or wish.count("pots") + wish.count("rotaries") > 6
    for across, deep in ((short, long), (long, short)):
        turned = 5.0 if (across == long) != wide else 0.0
        room = Room(box, across, deep)
        for plan in islice(_lying(room, items, faults), ENOUGH):
            yield replace(plan, score=plan.score + turned)


def _lying(room: Room, items: Mapping[str, Sequence[Item]], faults: list[Short]) -> Iterator[Plan]:
    """The plans of a box that lies so, by the look of the top face."""
    if Finder(room, taken(room, ())).sockets(items["jacks"], items["dc"]) is None:
        faults.append(Short(-2.0, "its sides have no room for the sockets"))
        return
    width, height = room.outline("top").size
    for arrangement in _best(arrangements(items, width, height, faults)):
        top = taken(room, arrangement.placed)
        if not inside(room, "top", top).all():
            faults.append(_too_deep(room, top))
            continue
        sockets = Finder(room, top).sockets(items["jacks"], items["dc"])
        if sockets is None:
            faults.append(_no_place(top, [*items["jacks"], *items["dc"]]))
            continue
        placed = (*arrangement.placed, *sockets.placed)
        yield Plan(room.box, room.across, room.deep, placed, arrangement.score + sockets.score)


def _best(found: Iterable[Arrangement]) -> list[Arrangement]:
    """The best-looking of some that are found, which come with less and less to hope for."""
    best: list[Arrangement] = []
    for arrangement in found:
        if len(best) == MOST_TOPS and arrangement.floor >= best[-1].score:
            break
        insort(best, arrangement, key=lambda one: one.score)
        del best[MOST_TOPS:]
    return best


def _too_deep(room: Room, top: Array) -> Short:
    reach = float(top[:, 5].max() - top[:, 2].min())
    free = room.box.size[2] - 2 * room.box.wall - space("inside")
    if reach > free:
        return Short(reach - free, f"its parts reach {reach:.1f} mm down, there are {free:.1f}")
    return Short(-0.5, "its face holds the parts, but inside they meet walls or screw posts")


def _no_place(top: Array, sockets: Sequence[Item]) -> Short:
    down = float(top[:, 5].max() - top[:, 2].min()) if len(top) else 0.0
    deep = max(item.part.reach for item in sockets)
    return Short(
        -1.0,
        "its face holds the parts, but inside, beside what reaches"
        f" {down:.0f} mm down, sockets that reach {deep:.0f} mm in find no place",
    )


def _worst(faults: Sequence[Short]) -> str:
    """What comes nearest to fitting, since that is what keeps it out."""
    if not faults:
        return "its sides have no room for the sockets"
    return min(faults, key=lambda fault: fault.by).why


def _too_much(wish: Wish, refused: Sequence[tuple[str, str]]) -> tuple[str, str]:
    name, why = refused[-1]
    asked = ", ".join(f"{count} {key}" for key, count in wish.counts.items() if count)
    which = f"the box {name} does" if wish.box else f"no stock box does, not even the largest, {name}:"
    mend = (
        "ask for a larger box, for fewer parts or for smaller knobs"
        if wish.box
        else "ask for fewer parts or for smaller knobs, or make it two boxes"
    )
    return f"{asked}: {which}{' not hold them:' if wish.box else ''} {why}", mend
