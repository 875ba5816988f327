"""How much work a drawing stands for once all in it is unfolded: uses, clip paths, markers and gradients in each place.

A few kilobytes can stand for a drawing without end: a use of uses, a marker on each of a million corners, a clip path
of thousands of shapes on thousands of shapes. What it comes to is counted here before any of it is drawn.
"""

import math
import re
import xml.etree.ElementTree as ET
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from facegraphic.job.drawing_weight import (
    CROSSINGS,
    ELEMENT,
    HANDED_DOWN,
    crossings,
    handed_down,
    outline,
    segment_steps,
    text_steps,
)
from facegraphic.stock.limits import limit

MOST_NODES, DEEPEST = limit("art-elements"), limit("art-deep")
MOST_WORK, MOST_GROUPS = limit("art-work"), limit("art-groups")
HREFS = ("href", "{http://www.w3.org/1999/xlink}href")
LOOKUP = 400  # elements passed in a search for one by its id cost as much as drawing one
REBUILT = 3  # a gradient that goes back to another is built anew wherever it is used
STOP = 2  # steps of a stop of a gradient, each time it is built
_URL = re.compile(
    r"(clip-path|marker[-\w]*|fill|stroke)\s*[:=]\s*(?:['\"]\s*)?url\(\s*['\"]?#([^'\")\s]+)", re.IGNORECASE
)
_TRANSFORM = re.compile(r"(matrix|scale|skew)[XY]?\s*\(([^()]*)")
_FIGURE = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
MEND = {
    "elements": "have fewer shapes, or join them to paths",
    "segments": "simplify its paths",
    "crossings": "have fewer lines across each other in one path: simplify it, or break it apart",
    "markers, clip paths, gradients and styles": "have less repeated by them",
}
MOST_STRETCH = 1e12  # beyond it the drawing engine loses itself
_PLAIN = re.compile(r"[\w-]*(?:[.#][\w-]+)*")
_FAINT = re.compile(r"(?<![-\w])opacity\s*:\s*(?!1(?:\.0*)?\s*(?:[;}]|$))", re.IGNORECASE)


@dataclass(frozen=True)
class Load:
    """What an element unfolds to: levels, elements, corners, uses, groups with an opacity, and steps of all kinds."""

    levels: int = 1
    stretch: float = 1.0
    nodes: int = 1
    corners: int = 0
    uses: int = 0
    groups: int = 0
    segments: int = 0
    crossings: int = 0
    extra: int = 0

    @property
    def steps(self) -> int:
        return ELEMENT * self.nodes + self.segments + self.crossings + self.extra

    def __add__(self, other: "Load") -> "Load":
        return Load(
            max(self.levels, other.levels + 1),
            max(self.stretch, other.stretch),
            self.nodes + other.nodes,
            self.corners + other.corners,
            self.uses + other.uses,
            self.groups + other.groups,
            self.segments + other.segments,
            self.crossings + other.crossings,
            self.extra + other.extra,
        )


def _rules(css: str) -> Iterator[tuple[str, str]]:
    """What each rule of a style sheet is for, and its properties, in one pass."""
    for text in css.split("}")[:-1]:
        before, opened, block = text.rpartition("{")
        if opened:
            yield before.rpartition("{")[2], block


class Sheet:
    """What a drawing's style sheets ask of every element: references, an opacity, rules to try."""

    def __init__(self, css: str) -> None:
        self.longest = max((len(block) for _, block in _rules(css)), default=0)
        self.references = list(_references(css))
        parts: Counter[str] = Counter()
        self.involved = 0
        self.faint: set[str] = set()
        for prelude, block in _rules(css):
            for part in (part.strip() for part in prelude.split(",")):
                parts[part] += 1
                self.involved += not _PLAIN.fullmatch(part)
                if _FAINT.search(block + ";"):
                    self.faint |= set(re.findall(r"[.#]?[\w-]+|\*", part))
        self.tries = self.involved + max(parts.values(), default=0)

    def fades(self, node: ET.Element) -> bool:
        names = {"*", node.tag.rpartition("}")[2], f"#{node.get('id')}"}
        return bool(self.faint & (names | {f".{name}" for name in node.get("class", "").split()}))


def _stretch(node: ET.Element) -> float:
    """About how many times an element enlarges what is in it, by its transform or its viewBox."""
    by = 1.0
    for name, figures in _TRANSFORM.findall(f"{node.get('transform', '')} {node.get('style', '')}"):
        found = [abs(float(figure)) for figure in _FIGURE.findall(figures)]
        most = max(found[:4], default=1.0)
        by *= max(1.0, abs(math.tan(math.radians(most))) if name.startswith("skew") else most)
    if len(box := _FIGURE.findall(node.get("viewBox", ""))) == 4:
        by *= max(1.0, 1000.0 / max(min(abs(float(box[2])), abs(float(box[3]))), 1e-9))
    return min(by, 1e300)


def _references(css: str) -> Iterator[tuple[str, str]]:
    for kind, target in _URL.findall(css):
        kind = kind.lower()
        yield ("marker" if kind.startswith("marker") else kind), target


def too_much(work: Mapping[str, int]) -> str:
    """What a drawing's work comes to if it is more than is taken, most of it from where, and how to mend it; or ""."""
    whole = sum(work.values())
    if whole <= MOST_WORK:
        return ""
    told = str(whole) if whole < 10**9 else "a billion or more"
    most = max(work, key=lambda part: work[part])
    return f"comes to {told} steps, where {MOST_WORK} are taken, most of it by its {most}; {MEND[most]}"


class Measure:
    """Loads of a drawing's elements, each worked out once."""

    def __init__(self, root: ET.Element, css: str) -> None:
        self.by_id: dict[str, list[ET.Element]] = {}
        self.count = 0
        for node in root.iter():
            self.count += 1
            if id := node.get("id"):
                self.by_id.setdefault(id, []).append(node)
        self.sheet = Sheet(css)
        self.known: dict[int, Load] = {}
        self.heaviest: dict[str, Load] = {}  # by the id, of all elements that have it
        self.gradients: dict[str, int] = {}  # likewise
        self.whole = 0
        self.itself = False
        self.root = root

    def faults(self) -> Iterator[str]:
        """What makes the drawing too much work, as advice."""
        load = self.load(self.root, frozenset())
        if self.itself:
            yield "a <use> that contains itself; take it out"
        if load.nodes > MOST_NODES:
            yield f"<use> elements that unfold to more than {MOST_NODES}; simplify it"
        if load.levels > DEEPEST:
            yield f"<use> elements that unfold to more than {DEEPEST} levels; simplify it"
        if load.stretch > MOST_STRETCH:
            yield f"transforms that enlarge more than {MOST_STRETCH:g} times; simplify it"
        if load.groups > MOST_GROUPS:
            yield f"more than {MOST_GROUPS} groups with an opacity; give it to their shapes, or flatten them"
        work = self.work(load)
        self.whole = sum(work.values())
        if told := too_much(work):
            yield f"more than can be drawn: all unfolded it {told}"

    def work(self, load: Load) -> Mapping[str, int]:
        """The steps of the whole drawing by what they come from."""
        each = 1 + self.sheet.tries // 10
        repeated = load.extra + load.nodes * self.sheet.longest // HANDED_DOWN
        repeated += sum(self.reference(kind, target, load, frozenset()) for kind, target in self.sheet.references)
        elements = ELEMENT * (load.nodes * each + load.uses * self.count // LOOKUP)
        return dict(zip(MEND, (elements, load.segments, load.crossings, repeated), strict=False))

    def load(self, node: ET.Element, within: frozenset[int]) -> Load:
        if id(node) in self.known:
            return self.known[id(node)]
        if len(within) > DEEPEST:
            return Load()
        inside = within | {id(node)}
        drawn = outline(node)
        load = Load(
            corners=drawn.corners,
            groups=int((len(node) > 0 or node.tag.endswith("}use")) and self.faint(node)),
            segments=segment_steps(node, drawn),
            crossings=crossings(drawn.segments) // CROSSINGS,
            extra=text_steps(node),
        )
        for child in node:
            load += self.load(child, inside)
        if node.tag.endswith("}use"):
            load += self.used(node, inside)
        style = "; ".join(f"{key}={value}" for key, value in node.items() if "url(" in value and key != "style")
        extra = sum(
            self.reference(kind, target, load, inside)
            for kind, target in _references(f"{style}; {node.get('style', '')}")
        )
        extra += load.nodes * handed_down(node) // HANDED_DOWN
        load = replace(load, stretch=min(load.stretch * _stretch(node), 1e300), extra=load.extra + extra)
        self.known[id(node)] = load
        return load

    def faint(self, node: ET.Element) -> bool:
        own = node.get("opacity", "1").strip() not in ("1", "1.0")
        return own or bool(_FAINT.search(node.get("style", "") + ";")) or self.sheet.fades(node)

    def used(self, node: ET.Element, inside: frozenset[int]) -> Load:
        """What a use adds: the heaviest of the elements that have the id it names."""
        target = (next((node.get(href) for href in HREFS if node.get(href)), None) or "").strip()[1:]
        once = Load(nodes=0, uses=1)
        if target not in self.by_id or self.itself:  # which is told in any case
            return once
        self.itself |= target not in self.heaviest and any(id(used) in inside for used in self.by_id[target])
        return max(once, self._heaviest(target, inside) + once, key=lambda load: (load.steps, load.levels))

    def _heaviest(self, target: str, within: frozenset[int]) -> Load:
        """The load of the heaviest element with an id, but for those that this one lies in."""
        if target in self.heaviest:
            return self.heaviest[target]
        nodes = self.by_id.get(target, [])
        loads = [self.load(node, within) for node in nodes if id(node) not in within]
        heaviest = max(loads, key=lambda load: (load.steps, load.levels), default=Load(nodes=0))
        if all(id(node) in self.known for node in nodes):
            self.heaviest[target] = heaviest
        return heaviest

    def reference(self, kind: str, target: str, load: Load, within: frozenset[int]) -> int:
        """The steps of what an element refers to, in all the places below it where that may come into play."""
        if kind in ("fill", "stroke"):
            return load.nodes * self.gradient(target)
        weight = self._heaviest(target, within).steps
        return weight * ((load.corners + 1) if kind == "marker" else load.nodes if not within else 1)

    def gradient(self, target: str, seen: frozenset[str] = frozenset()) -> int:
        """The steps of the heaviest gradient with an id, and of those that it goes back to."""
        if target in self.gradients or target in seen or len(seen) > DEEPEST:
            return self.gradients.get(target, 0)
        loads = [self._gradient(node, seen | {target}) for node in self.by_id.get(target, ())]
        self.gradients[target] = max(loads, default=0)
        return self.gradients[target]

    def _gradient(self, node: ET.Element, seen: frozenset[str]) -> int:
        target = next((node.get(href) for href in HREFS if node.get(href)), None)
        if not target:
            return STOP * len(node)
        back = self.gradient(target.strip()[1:], seen)
        return REBUILT * (STOP * len(node) + ELEMENT * back + ELEMENT) + ELEMENT * self.count // LOOKUP
