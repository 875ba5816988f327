# Sourced by examples/run.sh, tests/run.sh and .ci/run: finds a Python, makes a venv with the package in it, and
# sees to libcairo. Everything it says goes to stderr. Needs $root (the project's folder).

say() { printf '%s\n' "$*" >&2; }

stop() { say "$*"; exit 1; }

# The first Python of 3.11 or newer that runs.
find_python() {
    for name in python3 python3.13 python3.12 python3.11 python; do
        if "$name" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
            command -v "$name"
            return 0
        fi
    done
    return 1
}

# Install a Debian package if that may be done without asking anybody.
install_debian() {
    command -v apt-get >/dev/null 2>&1 && [ "$(id -u)" = 0 ] || return 1
    say "installing the system package: $*"
    (apt-get update -q && DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends "$@") >&2
}

# outside_readers FOLDER: what tests read drill files with besides; without what it asks for, a cairocffi too old for
# this project, which reading drill files does without. Its tests say so where it is missing, and fail under CI=true.
outside_readers() {
    "$1/bin/python" -m pip install --quiet --disable-pip-version-check --no-deps pcb-tools==0.1.6 >&2 ||
        say "could not install pcb-tools; tests that need it are skipped, or fail under CI=true"
}

# need_axe: axe-core, which judges pages in the tests, from the npm registry into a cache out of the repository. Sets
# AXE_CORE, the file that the tests look for; they are skipped without it, or fail under CI=true.
need_axe() {
    [ -f "${AXE_CORE:-}" ] && return 0
    axe=${XDG_CACHE_HOME:-$HOME/.cache}/facegraphic/axe-core-4.14.1
    if [ ! -f "$axe/node_modules/axe-core/axe.min.js" ]; then
        mkdir -p "$axe"
        npm install --silent --no-save --ignore-scripts --prefix "$axe" axe-core@4.14.1 >&2 ||
            say "could not fetch axe-core by npm; tests that need it are skipped, or fail under CI=true"
    fi
    AXE_CORE=$axe/node_modules/axe-core/axe.min.js
    export AXE_CORE
}

# make_venv FOLDER EXTRA: a venv with the project in it; kept as it is when it is newer than pyproject.toml.
make_venv() {
    folder=$1
    extra=$2
    python=$(find_python) || stop "facegraphic needs Python 3.11 or newer: install it from your system's packages or python.org"
    if [ ! -f "$folder/.done-$extra" ] || [ "$root/pyproject.toml" -nt "$folder/.done-$extra" ]; then
        say "setting up $folder (once; a minute or so)"
        if ! "$python" -m venv "$folder" 2>"$root/.venv-log"; then
            # Debian's Python brings venv in a package of its own.
            version=$("$python" -c 'import sys; print("python%d.%d-venv" % sys.version_info[:2])')
            install_debian "$version" || stop "python cannot make a venv; on Debian or Ubuntu: apt install $version"
            rm -rf "$folder"
            "$python" -m venv "$folder" || stop "python cannot make a venv in $folder"
        fi
        rm -f "$root/.venv-log"
        "$folder/bin/python" -m pip install --quiet --disable-pip-version-check -e "$root${extra:+[$extra]}" >&2 ||
            stop "the packages could not be installed; is there a network connection?"
        case $extra in test | dev) outside_readers "$folder" ;; esac
        : >"$folder/.done-$extra"
    fi
}

# need_cairo FOLDER: libcairo must load; it is installed where it may be.
need_cairo() {
    "$1/bin/python" -c 'import cairocffi' 2>/dev/null && return 0
    install_debian libcairo2 && "$1/bin/python" -c 'import cairocffi' 2>/dev/null && return 0
    say "the cairo library (libcairo) is missing. Install it, then run this again:"
    say "  Debian, Ubuntu:  sudo apt install libcairo2"
    say "  Fedora:          sudo dnf install cairo"
    say "  macOS:           brew install cairo"
    exit 1
}
