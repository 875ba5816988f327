#!/bin/sh
# Make the pictures that the README shows, from the examples themselves.
set -eu
cd "$(dirname -- "$0")"
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT INT TERM
facegraphic make slow-ferry.toml two-piers.toml kelp-drier.toml --dpi 150 --format png --out "$work" --quiet >/dev/null
mkdir -p pictures
cp "$work/slow-ferry/top-art.png" pictures/slow-ferry.png
cp "$work/two-piers/top-art.png" pictures/two-piers.png
cp "$work/kelp-drier/top-art.png" pictures/kelp-drier-mirrored.png
