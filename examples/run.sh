#!/bin/sh
# Run the main job on the three examples, setting up whatever is missing first.
set -eu
root=$(CDPATH= cd -- "$(dirname -- "$0")/.." && pwd)
. "$root/.ci/setup.sh"
venv=${FACEGRAPHIC_VENV:-$root/.venv}
make_venv "$venv" ""
need_cairo "$venv"
cd "$root/examples"
"$venv/bin/facegraphic" make kelp-drier.toml slow-ferry.toml two-piers.toml
say ""
say "Open these:"
for job in kelp-drier slow-ferry two-piers; do
    say "  examples/$job-out/sheet-1.pdf   print at 100 %   (top-art.png to look at, top-art.svg to edit)"
done
