#!/bin/sh
# release.sh FOLDER PYTHON: build the sdist, and the wheel from that sdist; try the wheel as a stranger would, in a venv
# of its own, away from the sources, with every Python of 3.11 to 3.13 on the path or kept by pyenv; those that are not
# there are named.
# PYTHON has the package "build".
set -eu
root=$(CDPATH= cd -- "$(dirname -- "$0")/.." && pwd)
work=$1/release
mkdir -p "$work"
"$2" -m build --outdir "$work/dist" "$root" >"$work/build.log" 2>&1 || { cat "$work/build.log" >&2; exit 1; }
wheel=$(echo "$work"/dist/*.whl)

# try_wheel PYTHON NAME
try_wheel() {
    rm -rf "$work/venv-$2"
    "$1" -m venv "$work/venv-$2"
    "$work/venv-$2/bin/python" -m pip install --quiet --disable-pip-version-check "$wheel[page]" 2>"$work/pip.log" || { cat "$work/pip.log" >&2; exit 1; }
    rm -rf "$work/elsewhere-$2"
    mkdir "$work/elsewhere-$2"
    cd "$work/elsewhere-$2"
    tried=$work/venv-$2/bin/facegraphic
    said=$("$tried" --version)
    echo "the wheel with Python $2: $said"
    case $said in "facegraphic $version (cairo "*) ;; *) echo "that is not the wheel's $version, or no cairo" >&2; exit 1 ;; esac
    "$tried" new first --pots 2 --footswitches 1 --lamps 1 2>/dev/null
    "$tried" make first.toml --dpi 150 --quiet
    for file in top-art.svg top-art.png top-art.pdf preview.png preview.html steps.md report.json; do
        [ -s "first-out/$file" ] || { echo "the wheel made no $file" >&2; exit 1; }
    done
    "$tried" show --help >/dev/null
    "$work/venv-$2/bin/python" -c '
from importlib.resources import files
for name in ("page/web/index.html", "output/web/box-view.js"):
    assert (files("facegraphic") / name).is_file(), f"the wheel has no {name}"
'
}

version=$(basename "$wheel" | cut -d- -f2)
tried=""
kept=${PYENV_ROOT:-$HOME/.pyenv}/versions
for python in "$2" python3.11 python3.12 python3.13 "$kept"/3.12.*/bin/python "$kept"/3.13.*/bin/python; do
    found=$("$python" -c 'import sys; print("%d.%d" % sys.version_info[:2])' 2>/dev/null) || continue
    case " $tried " in *" $found "*) continue ;; esac
    (try_wheel "$python" "$found")
    tried="$tried $found"
done
for wanted in 3.11 3.12 3.13; do
    case " $tried " in *" $wanted "*) ;; *) echo "the wheel was NOT tried with Python $wanted, which is not here" >&2 ;; esac
done
