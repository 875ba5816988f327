"""Text to outlines in mm: fonts, shaping with HarfBuzz, lines, blocks and text on an arc."""
