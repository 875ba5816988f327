#!/bin/sh
# Make the pictures that the README shows, from the examples themselves.
set -eu
cd "$(dirname -- "$0")"
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT INT TERM
facegraphic make slow-ferry.toml two-piers.toml kelp-drier.toml --dpi 150 --format png --out "$work" --quiet >/dev/null
facegraphic make drift-line.toml --dpi 100 --format png --only masks --out "$work/masks" --quiet >/dev/null
mkdir -p pictures
facegraphic make slow-ferry.toml drift-line.toml --only preview --out "$work/seen" --quiet >/dev/null
cp "$work/slow-ferry/top-art.png" pictures/slow-ferry.png
cp "$work/masks/mask-top-3.png" pictures/drift-line-mask.png
cp "$work/two-piers/top-art.png" pictures/two-piers.png
facegraphic fonts --specimen tagstrip-regular --out "$work" >/dev/null
cp "$work/kelp-drier/top-art.png" pictures/kelp-drier-mirrored.png
# The boxes, small enough for a page that is read.
python3 - "$work/seen" pictures <<'END'
import sys
from pathlib import Path
from PIL import Image
seen, pictures = map(Path, sys.argv[1:])
for job, name, width in (("slow-ferry", "preview", 1000), ("drift-line", "preview-coats", 1200)):
    picture = Image.open(seen / job / f"{name}.png")
    picture = picture.resize((width, round(width * picture.height / picture.width)), Image.Resampling.LANCZOS)
    picture.save(pictures / f"{job}-{name}.jpg", quality=88, optimize=True)
END
# The page's upper part, small enough to look at on a screen.
python3 - "$work/tagstrip-regular-specimen.png" pictures/tagstrip.png <<'END'
import sys
from PIL import Image
page = Image.open(sys.argv[1]).convert("L").resize((1240, 1754), Image.Resampling.LANCZOS)
page.crop((60, 60, 1180, 1540)).save(sys.argv[2], optimize=True)
END
