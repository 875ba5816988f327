#!/bin/sh
# Run the main job on the examples, setting up whatever is missing first.
set -eu
root=$(CDPATH= cd -- "$(dirname -- "$0")/.." && pwd)
. "$root/.ci/setup.sh"
venv=${FACEGRAPHIC_VENV:-$root/.venv}
make_venv "$venv" ""
need_cairo "$venv"
cd "$root/examples"
"$venv/bin/facegraphic" make drift-line.toml kelp-drier.toml slow-ferry.toml two-piers.toml --apart
say ""
say "Open these:"
for job in drift-line kelp-drier slow-ferry two-piers; do
    say "  examples/$job-out/sheet-1.pdf   print at 100 %   (top-art.png to look at, top-art.svg to edit)"
done
say "  examples/drift-line-out/mask-sheet-1.pdf, mask-sheet-2.pdf   paint masks and discs for holes to print and cut"
say "  examples/slow-ferry-out/preview.png, preview.html   the finished box to look at and to turn"
say "  examples/drift-line-out/preview-coats.png   the box after each coat of paint"
