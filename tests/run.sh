#!/bin/sh
# Run the whole test suite, setting up whatever is missing first. Arguments go to pytest.
set -eu
root=$(CDPATH= cd -- "$(dirname -- "$0")/.." && pwd)
. "$root/.ci/setup.sh"
venv=${FACEGRAPHIC_VENV:-$root/.venv}
make_venv "$venv" test
need_cairo "$venv"
need_axe
cd "$root"
# Each of two processes takes its half in order, so that what a file's tests share is mostly made once.
exec "$venv/bin/python" -m pytest -n 2 --dist worksteal "$@"
