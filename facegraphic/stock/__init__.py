"""Tables of what is bought: boxes, parts, knobs, films, papers and bits, each figure with its source."""
