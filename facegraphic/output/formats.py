"""A scene as a file of the format that is asked for; what writes the others is not loaded."""

from facegraphic.scene.scene import Scene


def drawn(scene: Scene, kind: str, dpi: int) -> bytes:
    """A scene as "svg", "pdf" or "png", the last with `dpi` pixels to the inch."""
    if kind == "svg":
        from facegraphic.output.svg import svg_bytes

        return svg_bytes(scene)
    if kind == "pdf":
        from facegraphic.output.pdf import pdf_bytes

        return pdf_bytes(scene)
    from facegraphic.output.png import png_bytes

    return png_bytes(scene, dpi)
