"""Pictures of measurements, by matplotlib, which only the benchmarks want."""

import io
from collections.abc import Mapping, Sequence
from pathlib import Path

from PIL import Image

INKS = ("#173f4a", "#b5452a", "#2f8a74", "#c08a1e", "#6a4a8c", "#3b6fb0")
MARKS = "osD^vP"


def growth_plot(lines: Mapping[str, Sequence[tuple[float, float]]], plot: Path) -> None:
    """Write lines of time over work as a picture, both logarithmic and as multiples of the first rung's."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    figure, axes = pyplot.subplots(figsize=(6.4, 4.4), dpi=110)
    most = max(points[-1][0] for points in lines.values())
    axes.plot([1, most], [1, most], color="#b9b9b9", linewidth=6, alpha=0.5, solid_capstyle="butt", label="linear")
    for (name, points), ink, mark in zip(lines.items(), INKS, MARKS, strict=False):
        times = [seconds / points[0][1] for _, seconds in points]
        axes.plot([work for work, _ in points], times, color=ink, marker=mark, markersize=5, linewidth=1.5, label=name)
    for axis, scale in ((axes.xaxis, axes.set_xscale), (axes.yaxis, axes.set_yscale)):
        scale("log", base=2)
        axis.set_major_formatter(lambda value, _: f"{value:g}")
    axes.set_xlabel("work, as a multiple of the least")
    axes.set_ylabel("processor time, likewise")
    axes.grid(color="#e4e4e4", linewidth=0.7)
    axes.set_axisbelow(True)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.legend(frameon=False, loc="upper left", fontsize=9)
    figure.tight_layout()
    drawn = io.BytesIO()
    figure.savefig(drawn)
    pyplot.close(figure)
    with Image.open(drawn) as picture:  # few colours are all that it has
        picture.convert("RGB").quantize(48).save(plot, optimize=True)
