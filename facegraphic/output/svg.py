"""Scenes as SVG: size in mm, one user unit a millimetre, lettering as outlines, ids that say what each thing is."""

import base64
import io
import xml.etree.ElementTree as ET
from typing import Any

import svgwrite
from fontTools.misc.transform import Transform
from PIL import Image as PILImage
from svgwrite.base import BaseElement

from facegraphic.geometry.path import Path
from facegraphic.job.image import Drawing, Picture
from facegraphic.output.drawings import svg_elements
from facegraphic.output.paint import shown
from facegraphic.scene.scene import Fill, Group, Image, Item, Plate, Scene, Screened, Stencil
from facegraphic.units import format_number

PLACES = 4  # a ten-thousandth of a millimetre
LARGE = 8_000_000  # pixels beyond which a picture is packed in haste: noise takes ten seconds otherwise


class _Raw(BaseElement):  # type: ignore[misc]
    """An element that is already built."""

    elementname = "g"

    def __init__(self, element: ET.Element) -> None:
        super().__init__(debug=False)
        self._element = element

    def get_xml(self) -> ET.Element:
        return self._element


def svg_bytes(scene: Scene) -> bytes:
    """A scene as an SVG document, UTF-8."""
    return _Writer(scene).document()


class _Writer:
    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        size = (f"{format_number(scene.width)}mm", f"{format_number(scene.height)}mm")
        box = f"0 0 {format_number(scene.width)} {format_number(scene.height)}"
        self.svg = svgwrite.Drawing(size=size, viewBox=box, debug=False)
        self.shared: dict[tuple[Picture | Drawing | Stencil, bool], str] = {}
        self.clips = 0
        self.prefix = ""

    def document(self) -> bytes:
        # SVG counts y down from the upper left corner; scenes count y up from the centre.
        page = Transform(1, 0, 0, -1, self.scene.width / 2, self.scene.height / 2)
        for item in self.scene.items:
            self.svg.add(self.item(item, page))
        out = io.StringIO()
        self.svg.write(out, pretty=False)
        return out.getvalue().encode("utf-8")

    def item(self, item: Item, transform: Transform) -> Any:
        if isinstance(item, Fill):
            return self.fill(item, transform)
        if isinstance(item, Image):
            return self.image(item, transform)
        return self.group(shown(item) if isinstance(item, Screened | Plate) else item, transform)

    def fill(self, fill: Fill, transform: Transform) -> Any:
        extra: dict[str, Any] = {"fill_rule": "evenodd"} if fill.rule == "evenodd" else {}
        if fill.id:
            extra["id"] = self.prefix + fill.id
        return self.svg.path(d=_d(fill.path, transform), fill=fill.ink, **extra)

    def group(self, group: Group, transform: Transform) -> Any:
        inner = transform.transform(group.transform)
        extra: dict[str, Any] = {"id": self.prefix + group.id} if group.id else {}
        if group.clip is not None:
            self.clips += 1
            clip = self.svg.clipPath(id=f"clip-{self.clips}")
            clip.add(self.svg.path(d=_d(group.clip, inner), clip_rule=group.clip_rule))
            self.svg.defs.add(clip)
            extra["clip_path"] = f"url(#clip-{self.clips})"
        if group.opacity < 1:
            extra["opacity"] = group.opacity
        element = self.svg.g(**extra)
        if group.layer:
            element.set_desc(title=group.layer)
        around, self.prefix = self.prefix, self.prefix + group.within
        for item in group.items:
            element.add(self.item(item, inner))
        self.prefix = around
        return element

    def image(self, image: Image, transform: Transform) -> Any:
        """An image by reference: however often it is shown, it stands in the file once."""
        key = (image.content, image.inverted)
        if key not in self.shared:
            self.shared[key] = f"image-{len(self.shared) + 1}"
            self.define(image, self.shared[key])
        matrix = transform.transform(image.transform)
        numbers = " ".join(format_number(value, 8) for value in matrix)
        extra: dict[str, Any] = {"id": self.prefix + image.id} if image.id else {}
        return self.svg.use(f"#{self.shared[key]}", transform=f"matrix({numbers})", **extra)

    def define(self, image: Image, id: str) -> None:
        """Put an image into the definitions, filling the unit square with y up."""
        if isinstance(image.content, Picture | Stencil):
            holder = self.svg.image(
                href=_data_url(image.content),
                insert=(0, 0),
                size=(1, 1),
                preserveAspectRatio="none",
                transform="matrix(1 0 0 -1 0 1)",
                id=id,
            )
            if isinstance(image.content, Stencil):
                holder["image-rendering"] = "optimizeSpeed"
        else:
            elements, width, height = svg_elements(image.content, f"{id}-", image.inverted)
            holder = self.svg.g(id=id)
            clip = self.svg.clipPath(id=f"{id}-edge")
            clip.add(self.svg.rect((0, 0), (1, 1)))
            self.svg.defs.add(clip)
            holder["clip-path"] = f"url(#{id}-edge)"
            scale = f"matrix({format_number(1 / width, 10)} 0 0 {format_number(-1 / height, 10)} 0 1)"
            inner = self.svg.g(transform=scale)
            for element in elements:
                inner.add(_Raw(element))
            holder.add(inner)
        self.svg.defs.add(holder)


def _d(path: Path, transform: Transform) -> str:
    return path.transformed(transform).to_d(lambda value: format_number(value, PLACES))


def _data_url(picture: Picture | Stencil) -> str:
    out = io.BytesIO()
    size = (picture.width, picture.height)
    if isinstance(picture, Stencil):
        # One bit a pixel: of two colours the first, where nothing is, is clear.
        pixels = PILImage.frombytes("1", size, picture.bits).convert("L").point(lambda value: value // 255)
        pixels.putpalette([255, 255, 255, *(int(picture.ink[i : i + 2], 16) for i in (1, 3, 5))])
        pixels.save(out, "PNG", bits=1, transparency=0, compress_level=6)
        return "data:image/png;base64," + base64.b64encode(out.getvalue()).decode("ascii")
    pixels = PILImage.frombytes("RGBA", size, picture.pixels)
    if pixels.getchannel("A").getextrema() == (255, 255):
        pixels = pixels.convert("RGB")
    large = picture.width * picture.height > LARGE
    pixels.save(out, "PNG", compress_level=1 if large else 6)
    return "data:image/png;base64," + base64.b64encode(out.getvalue()).decode("ascii")
