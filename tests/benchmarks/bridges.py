"""Bridges of every letter with a counter, in three fonts, against the least total length.

    PYTHONPATH=.:tests python tests/benchmarks/bridges.py

Prints length, optimum and their ratio, the worst last. Takes some minutes: the optimum is a 0/1 program.
"""

from helpers.bridge_optimum import optimum
from helpers.outlines import ACCENTED, PLAIN, SIGNS, counters, font, framed, letter

from facegraphic.masks.bridges import bridged

WIDTH = 1.2


def main() -> None:
    rows = []
    for name in ("dejavu", "liberation", "osifont"):
        face = font(name)
        for character in PLAIN + SIGNS + ACCENTED:
            shape = letter(face, character)
            if shape.is_empty or not counters(shape):
                continue
            material = framed(shape)
            length, least = bridged(material, WIDTH).bridge_length, optimum(material, 5 * WIDTH, 0.6)
            rows.append((length / least, name, character, length, least))
    for ratio, name, character, length, least in sorted(rows):
        print(f"{name:12} {character}  {length:6.2f} mm  least {least:6.2f} mm  {ratio:.3f}")


if __name__ == "__main__":
    main()
