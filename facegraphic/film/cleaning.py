"""Keep ink and bare ground from growing too fine where a screen is cut: morphological opening of both, on pixels."""

import numpy as np

from facegraphic.film.screen import Mask

ROUNDS = 10
PATIENT = 3  # rounds in which what ink and bare ground both claim is left to settle by itself
RIM = 0.5  # pixels that a disc of pixels is smaller than its width


def cleaned(ink: Mask, free: Mask, least: tuple[int, int], round_dots: bool) -> Mask:
    """Ink within `free`, without ink and bare parts finer than `least` pixels (of ink, and of bare ground).

    Beyond the edges all is bare. Square cells are measured by squares, which they hold exactly; round dots by discs.
    Where a bridge of ink is too fine, and so is the gap that would be there without it, a gap is cut that is not.
    """
    opened = _round_opened if round_dots else _opened
    for number in range(ROUNDS):
        held = opened(ink, least[0], False)
        held = ~opened(~held, least[1], True) & free
        odd = held & ~opened(held, least[0], False)
        if not odd.any():
            return held
        ink = held & ~odd
        if number >= PATIENT:
            ink &= ~grown(_bridges(odd), -(-least[1] // 2))
    return opened(ink, least[0], False)


def shrunk(mask: Mask, radius: float) -> Mask:
    """What of a mask is at least `radius` pixels from all outside it; beyond the edges it runs on."""
    out = mask.copy()
    for down in range(-int(radius), int(radius) + 1):
        half = int((radius**2 - down**2) ** 0.5)
        row = _window(_at(mask, 0, -half, True) if half else mask, 2 * half + 1, 1, True)
        out &= _at(row, down, 0, True)
    return out


def _bridges(odd: Mask) -> Mask:
    """What is three pixels long at least, up or across: single pixels along a rim are no bridge."""
    runs = [~_window(~_window(odd, 3, axis, False), 3, axis, True, back=True) for axis in (0, 1)]
    return np.asarray(runs[0] | runs[1])


def grown(mask: Mask, by: int) -> Mask:
    """A mask with all that is within `by` pixels of it, across and down."""
    for axis in (0, 1):
        for back in (False, True):
            mask = ~_window(~mask, by + 1, axis, True, back)
    return mask


def _opened(mask: Mask, side: int, outside: bool) -> Mask:
    """What squares of `side` pixels that fit into a mask cover of it."""
    if side < 2:
        return mask
    padded = np.pad(mask, side, constant_values=outside)
    for axis in (0, 1):
        padded = _window(padded, side, axis, outside)
    for axis in (0, 1):
        padded = ~_window(~padded, side, axis, not outside, back=True)
    return padded[side:-side, side:-side]


def _window(mask: Mask, length: int, axis: int, outside: bool, back: bool = False) -> Mask:
    """Whether all of the `length` pixels from each one on are true, along an axis; `back` looks the other way."""
    seen, out = 1, mask
    while seen < length:
        step = min(seen, length - seen)
        out = out & _shifted(out, -step if back else step, axis, outside)
        seen += step
    return out


def _shifted(mask: Mask, step: int, axis: int, outside: bool) -> Mask:
    """A mask in which each pixel has what stands `step` pixels further."""
    out = np.full_like(mask, outside)
    near, far = [slice(None)] * 2, [slice(None)] * 2
    near[axis], far[axis] = (
        (slice(None, -step), slice(step, None)) if step > 0 else (slice(-step, None), slice(None, step))
    )
    out[tuple(near)] = mask[tuple(far)]
    return out


def _round_opened(mask: Mask, width: int, outside: bool) -> Mask:
    """What discs of `width` pixels that fit into a mask cover of it."""
    if width < 3:
        return _opened(mask, width, outside)
    padded = np.pad(mask, width, constant_values=outside)
    runs = _disc(width)
    cores = np.ones_like(padded)
    for row, (start, length) in enumerate(runs):
        cores &= _at(_window(padded, length, 1, outside), row, start, outside)
    # Cores stand at the disc's upper left corner; what they cover is what any core reaches.
    covered = np.zeros_like(padded)
    for row, (start, length) in enumerate(runs):
        reach = ~_window(~cores, length, 1, not outside, back=True)
        covered |= _at(reach, -row, -start, outside)
    return covered[width:-width, width:-width]


def _at(mask: Mask, down: int, across: int, outside: bool) -> Mask:
    for axis, step in ((0, down), (1, across)):
        mask = _shifted(mask, step, axis, outside) if step else mask
    return mask


def _disc(width: int) -> list[tuple[int, int]]:
    """A disc of pixels, row by row: where its run begins and how long it is."""
    radius, runs = (width - RIM) / 2, []
    for row in range(width):
        y = row - (width - 1) / 2
        half = int((radius**2 - y**2) ** 0.5 + (width % 2 == 0) * 0.5)
        length = 2 * half + width % 2
        runs.append(((width - length) // 2, length))
    return runs
