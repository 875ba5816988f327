"""Colours as the eye gets them, against published figures; each test names where its figures come from."""

import numpy as np
import pytest
import skimage.color

from facegraphic.checks.fine import readable
from facegraphic.film.colour import coded, contrast, halftone, luminance, seen, to_coded, to_linear
from facegraphic.film.vision import KINDS, as_seen_with, difference, lab

WCAG = [
    ("#000000", "#ffffff", 21.0),
    ("#777777", "#ffffff", 4.478089),
    ("#767676", "#ffffff", 4.542225),
    ("#757575", "#ffffff", 4.607518),
    ("#595959", "#ffffff", 7.004729),
    ("#949494", "#ffffff", 3.033470),
    ("#959595", "#ffffff", 2.995346),
    ("#333333", "#ffffff", 12.634654),
    ("#aaaaaa", "#ffffff", 2.323123),
    ("#b3b3b3", "#ffffff", 2.096705),
    ("#0000ee", "#ffffff", 9.397616),
    ("#777777", "#eeeeee", 3.859655),
    ("#000000", "#666666", 3.657366),
    ("#ff0000", "#ffffff", 3.998477),
    ("#00ff00", "#ffffff", 1.372190),
    ("#0000ff", "#ffffff", 8.592471),
    ("#ffff00", "#ffffff", 1.073839),
    ("#ff0000", "#0000ff", 2.148936),
    ("#ff0000", "#000000", 5.252000),
    ("#0000ff", "#000000", 2.444000),
    ("#ffff00", "#000000", 19.556000),
    ("#00c600", "#0000c6", 5.000229),
    ("#c0c0c0", "#000000", 11.542303),
    ("#c0c0c0", "#ffffff", 1.819394),
]


def light(ink: str) -> np.ndarray:
    return to_linear(coded(ink))


@pytest.mark.parametrize(("one", "other", "ratio"), WCAG)
def test_contrast_is_wcag_s(one: str, other: str, ratio: float) -> None:
    """WCAG 2.2; figures of ACT rule afw4f7, to 6 places by the package wcag-contrast-ratio."""
    a, b = luminance(light(one)), luminance(light(other))
    assert contrast(a, b) == pytest.approx(ratio, abs=2e-6)
    assert contrast(b, a) == contrast(a, b)


def test_luminances_are_wcag_s() -> None:
    """The first column of the same table."""
    for ink, value in (("#777777", 0.184475), ("#0000ee", 0.061730), ("#00c600", 0.403882), ("#ffff00", 0.927800)):
        assert luminance(light(ink)) == pytest.approx(value, abs=1e-6)


def test_srgb_is_decoded_and_encoded_as_the_standard_says() -> None:
    """IEC 61966-2-1: straight below 0.04045 and 0.0031308; every 8-bit value comes back."""
    every = np.arange(256) / 255
    assert np.abs(to_coded(to_linear(every)) - every).max() < 1e-9
    assert to_linear(np.array([10 / 255]))[0] == pytest.approx(10 / 255 / 12.92)
    assert to_linear(np.array([11 / 255]))[0] == pytest.approx(((11 / 255 + 0.055) / 1.055) ** 2.4)
    assert to_coded(np.array([0.0031308]))[0] == pytest.approx(12.92 * 0.0031308)
    assert to_coded(np.array([-0.1, 1.2])).tolist() == pytest.approx([0.0, 1.0])


def test_clear_film_multiplies_in_linear_light() -> None:
    """W3C Compositing, multiply: B(Cb, Cs) = Cb × Cs, taken in light; nothing comes out lighter than the paint."""
    got = seen(coded("#8040c0"), "#c9ccca", "clear")
    assert got == pytest.approx(light("#8040c0") * light("#c9ccca"))
    assert seen(coded("#ffffff"), "#173f4a", "clear") == pytest.approx(light("#173f4a"))
    rng = np.random.default_rng(3)
    assert (seen(rng.random((99, 3)), "#8a5533", "clear") <= light("#8a5533") + 1e-12).all()


def test_white_film_and_a_white_plate_show_colours_as_they_are() -> None:
    for look in ("white", "plate"):
        assert seen(coded("#f6f1e1"), "#101010", look) == pytest.approx(light("#f6f1e1"))


def test_toner_is_opaque_black_and_its_dots_look_larger_than_they_are() -> None:
    assert seen(coded("#000000"), "#c9ccca", "toner") == pytest.approx(np.zeros(3))
    assert seen(coded("#ffffff"), "#c9ccca", "toner") == pytest.approx(light("#c9ccca"))
    half = seen(np.full(3, 0.5), "#ffffff", "toner")
    assert (half < 0.5).all()
    assert (half > 0.5**2).all()


@pytest.mark.parametrize(
    ("tint", "solid", "scatter", "covered"),
    [
        (0.30, 1.50, 1.0, 0.515102),
        (0.30, 1.50, 1.7, 0.384303),
        (0.30, 1.50, 2.0, 0.355223),
        (0.54, 1.70, 1.0, 0.726084),
        (0.54, 1.70, 1.7, 0.576411),
        (0.54, 1.70, 2.0, 0.539121),
    ],
)
def test_dot_gain_is_yule_and_nielsen_s(tint: float, solid: float, scatter: float, covered: float) -> None:
    """Murray-Davies (scatter 1) and Yule-Nielsen: dots that cover so much have the tint's density."""
    reflected = halftone(np.array([covered]), np.array([10**-solid]), np.array([1.0]), scatter)
    assert -np.log10(reflected[0]) == pytest.approx(tint, abs=5e-6)


PAIRS = """
50 2.6772 -79.7751 50 0 -82.7485 2.0425
50 3.1571 -77.2803 50 0 -82.7485 2.8615
50 2.8361 -74.0200 50 0 -82.7485 3.4412
50 -1.3802 -84.2814 50 0 -82.7485 1.0000
50 -1.1848 -84.8006 50 0 -82.7485 1.0000
50 -0.9009 -85.5211 50 0 -82.7485 1.0000
50 0 0 50 -1 2 2.3669
50 -1 2 50 0 0 2.3669
50 2.4900 -0.0010 50 -2.4900 0.0009 7.1792
50 2.4900 -0.0010 50 -2.4900 0.0010 7.1792
50 2.4900 -0.0010 50 -2.4900 0.0011 7.2195
50 2.4900 -0.0010 50 -2.4900 0.0012 7.2195
50 -0.0010 2.4900 50 0.0009 -2.4900 4.8045
50 -0.0010 2.4900 50 0.0010 -2.4900 4.8045
50 -0.0010 2.4900 50 0.0011 -2.4900 4.7461
50 2.5 0 50 0 -2.5 4.3065
50 2.5 0 73 25 -18 27.1492
50 2.5 0 61 -5 29 22.8977
50 2.5 0 56 -27 -3 31.9030
50 2.5 0 58 24 15 19.4535
50 2.5 0 50 3.1736 0.5854 1.0000
50 2.5 0 50 3.2972 0 1.0000
50 2.5 0 50 1.8634 0.5757 1.0000
50 2.5 0 50 3.2592 0.3350 1.0000
60.2574 -34.0099 36.2677 60.4626 -34.1751 39.4387 1.2644
63.0109 -31.0961 -5.8663 62.8187 -29.7946 -4.0864 1.2630
61.2901 3.7196 -5.3901 61.4292 2.2480 -4.9620 1.8731
35.0831 -44.1164 3.7933 35.0232 -40.0716 1.5901 1.8645
22.7233 20.0904 -46.6940 23.0331 14.9730 -42.5619 2.0373
36.4612 47.8580 18.3852 36.2715 50.5065 21.2231 1.4146
90.8027 -2.0831 1.4410 91.1528 -1.6435 0.0447 1.4441
90.9257 -0.5406 -0.9208 88.6381 -0.8985 -0.7239 1.5381
6.7747 -0.2908 -2.4247 5.8714 -0.0985 -2.2286 0.6377
2.0776 0.0795 -1.1350 0.9033 -0.0636 -0.5514 0.9082
"""


@pytest.mark.parametrize("line", PAIRS.split("\n")[1:-1])
def test_ciede2000_gives_the_published_differences(line: str) -> None:
    """Sharma, Wu and Dalal, Color Res. Appl. 30(1), 2005, table 1. Pair 14 lies on an edge of hue: see its paper."""
    l1, a1, b1, l2, a2, b2, wanted = map(float, line.split())
    assert difference((l1, a1, b1), (l2, a2, b2)) == pytest.approx(wanted, abs=1e-4)


def test_ciede2000_agrees_with_scikit_image() -> None:
    rng = np.random.default_rng(7)
    ones, others = (rng.uniform((0, -90, -90), (100, 90, 90), (300, 3)) for _ in range(2))
    wanted = skimage.color.deltaE_ciede2000(ones, others)
    got = [difference(tuple(one), tuple(other)) for one, other in zip(ones, others, strict=True)]
    assert np.abs(wanted - got).max() < 1e-6


def test_lab_is_that_of_scikit_image() -> None:
    for ink, wanted in (("#ff0000", (53.2406, 80.0923, 67.2028)), ("#0000ff", (32.2957, 79.1856, -107.8573))):
        assert lab(light(ink)) == pytest.approx(wanted, abs=0.02)
    for ink in ("#00ff00", "#101820", "#c9ccca", "#f6f1e1"):
        assert lab(light(ink)) == pytest.approx(skimage.color.rgb2lab(coded(ink)), abs=0.02)


def test_colour_blindness_keeps_greys_and_joins_what_it_should() -> None:
    """Machado, Oliveira and Fernandes 2009: rows of each matrix sum to 1, so greys stay as they are.

    Red and green come together for protanopes and deuteranopes; blue and green for tritanopes.
    """
    for kind in KINDS:
        assert as_seen_with(kind, light("#777777")) == pytest.approx(light("#777777"), abs=1e-5)

    def apart(kind: str, one: str, other: str) -> float:
        a, b = (light(ink) for ink in (one, other))
        return difference(lab(as_seen_with(kind, a)), lab(as_seen_with(kind, b))) / difference(lab(a), lab(b))

    for kind in ("protanopia", "deuteranopia"):
        assert apart(kind, "#b04a3a", "#6f7a2c") < 0.5
    assert apart("tritanopia", "#b04a3a", "#6f7a2c") > 0.6 > apart("tritanopia", "#2f7fa0", "#2f8a60")


@pytest.mark.parametrize(
    ("distance", "heights"),
    [
        (700, (3.054, 3.258, 4.072, 4.480)),
        (1000, (4.363, 4.654, 5.818, 6.400)),
        (1600, (6.981, 7.447, 9.308, 10.239)),
    ],
)
def test_heights_fill_their_angles(distance: float, heights: tuple[float, ...]) -> None:
    """NUREG-0700 Rev 2, 1.3.1-4, H = 6.283 D MA / 21600 at 15, 16, 20 and 22 arcmin; and 2 D tan(a/2)."""
    for arcmin, height in zip((15, 16, 20, 22), heights, strict=True):
        assert readable(distance, arcmin) == pytest.approx(height, abs=0.0006)
        assert readable(distance, arcmin) == pytest.approx(6.283 * distance * arcmin / 21600, abs=0.001)
