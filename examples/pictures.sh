#!/bin/sh
# Make the pictures of the README and of GALLERY.md from the examples themselves, setting up whatever is missing first.
set -eu
root=$(CDPATH= cd -- "$(dirname -- "$0")/.." && pwd)
. "$root/.ci/setup.sh"
venv=${FACEGRAPHIC_VENV:-$root/.venv}
make_venv "$venv" ""
need_cairo "$venv"
cd "$root/examples"
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT INT TERM
facegraphic() { "$venv/bin/facegraphic" "$@" >/dev/null; }
facegraphic make slow-ferry.toml two-piers.toml kelp-drier.toml --apart --only art,sheet --dpi 150 --format png --out "$work" --quiet
facegraphic make drift-line.toml --dpi 100 --format png --only masks --out "$work/masks" --quiet
facegraphic make *.toml --apart --only preview --view three-quarter,flat,top --out "$work/seen" --quiet
facegraphic fonts --specimen tagstrip-regular --out "$work"
facegraphic ruler --out "$work"
mkdir -p pictures
cp "$work/slow-ferry/top-art.png" pictures/slow-ferry.png
cp "$work/two-piers/top-art.png" pictures/two-piers.png
cp "$work/kelp-drier/top-art.png" pictures/kelp-drier-mirrored.png
cp "$work/masks/mask-top-3.png" pictures/drift-line-mask.png
"$venv/bin/python" - "$work" pictures <<'END'
import sys
from pathlib import Path
from PIL import Image
work, pictures = map(Path, sys.argv[1:])

def small(source, width, crop=None):
    picture = Image.open(work / source).convert("RGB")
    picture = picture.resize((width, round(width * picture.height / picture.width)), Image.Resampling.LANCZOS)
    return picture.crop(crop) if crop else picture

# Small enough for a page that is read.
for job in ("slow-ferry", "two-piers", "kelp-drier", "drift-line"):
    small(f"seen/{job}/preview.png", 1000).save(pictures / f"{job}-preview.jpg", quality=88, optimize=True)
small("seen/drift-line/preview-coats.png", 1200).save(pictures / "drift-line-preview-coats.jpg", quality=88, optimize=True)
small("seen/two-piers/preview-flat.png", 1000).save(pictures / "two-piers-flat.jpg", quality=88, optimize=True)
small("seen/slow-ferry/preview-top.png", 800).save(pictures / "slow-ferry-top.jpg", quality=88, optimize=True)
small("slow-ferry/sheet-1.png", 800).save(pictures / "slow-ferry-sheet.jpg", quality=88, optimize=True)
small("ruler.png", 900).convert("L").quantize(16).save(pictures / "ruler.png", optimize=True)
# The page's upper part.
small("tagstrip-regular-specimen.png", 1240, (60, 60, 1180, 1540)).convert("L").save(pictures / "tagstrip.png", optimize=True)
END
