#!/usr/bin/env bash
# Called by make: choose a Python, see to the system's libraries, build .venv and install stringflux in it.
#   tools/setup.sh run     what the program needs, in a new .venv
#   tools/setup.sh test    and what the tests need, into the same .venv
# PYTHON=/path/to/python3 chooses the interpreter.
set -euo pipefail
cd "$(dirname "$0")/.."

venv=.venv
python=

say() { printf '%s\n' "$*"; }
stop() {
    printf 'stop: %s\n' "$*" >&2
    exit 1
}

# Run it rather than look for it: a shim of a version manager can be on the path and still fail.
is_new_enough() { "$1" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1; }
has_venv() { "$1" -c 'import ensurepip, venv' >/dev/null 2>&1; }

# The first that can make a virtual environment; failing that, the first that is new enough.
choose_python() {
    local name path
    if [ -n "${PYTHON:-}" ]; then
        is_new_enough "$PYTHON" || stop "PYTHON=$PYTHON does not run or is older than Python 3.11"
        python=$PYTHON
        return
    fi
    for name in python3.14 python3.13 python3.12 python3.11 python3; do
        while IFS= read -r path; do
            is_new_enough "$path" || continue
            if has_venv "$path"; then
                python=$path
                return
            fi
            python=${python:-$path}
        done < <(type -ap "$name" || true)
    done
    [ -n "$python" ] || stop "no working Python 3.11 or newer was found; install one, or name it: make $goal PYTHON=/path/to/python3"
}

# Debian's packages for the shared libraries given as package=library that cannot be loaded.
packages_of_missing() {
    "$python" - "$@" <<'PY'
import ctypes
import sys

for pair in sys.argv[1:]:
    package, library = pair.split("=")
    try:
        ctypes.CDLL(library)
    except OSError:
        print(package)
PY
}

apt_install() {
    local root=()
    command -v apt-get >/dev/null || return 1
    if [ "$(id -u)" -ne 0 ]; then
        command -v sudo >/dev/null && sudo -n true 2>/dev/null || return 1
        root=(sudo -n)
    fi
    say "installing with apt-get: $*"
    # A failed update may still leave lists that are good enough.
    "${root[@]}" apt-get update -qq || true
    "${root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get -o DPkg::Lock::Timeout=120 \
        install -y -qq --no-install-recommends "$@" >/dev/null
}

see_to_system() {
    local needed=()
    # The same packages as APT_LINE in geometry/gmsh_session.py.
    mapfile -t needed < <(packages_of_missing \
        libgl1=libGL.so.1 libglu1-mesa=libGLU.so.1 libxrender1=libXrender.so.1 libxcursor1=libXcursor.so.1 \
        libxft2=libXft.so.2 libxinerama1=libXinerama.so.1 libgomp1=libgomp.so.1)
    has_venv "$python" || needed+=("$("$python" -c 'import sys; print("python%d.%d-venv" % sys.version_info[:2])')")
    if [ ${#needed[@]} -gt 0 ]; then
        apt_install "${needed[@]}" || stop "packages of the system are missing; run this line, then make again:
    sudo apt-get update && sudo apt-get install -y ${needed[*]}"
        has_venv "$python" || stop "$python cannot make a virtual environment; name another: make $goal PYTHON=/path/to/python3"
    fi
    # Only the 3-D picture wants this one.
    if [ -n "$(packages_of_missing libegl1=libEGL.so.1)" ]; then
        apt_install libegl1 || say "note: without libEGL there is no 3-D picture; for it: sudo apt-get install -y libegl1"
    fi
}

pip_install() {
    local quiet=()
    [ -t 1 ] || quiet=(-qq)  # errors only
    "$venv/bin/python" -m pip install --disable-pip-version-check --no-input "${quiet[@]}" "$@"
}

case "${1:-}" in
run)
    goal=demo
    choose_python
    see_to_system
    say "installing stringflux into $venv with $("$python" --version); the first time takes some minutes"
    rm -rf build "$venv"
    "$python" -m venv "$venv"
    pip_install -e .
    pwd -P >"$venv/.run"
    ;;
test)
    say "installing what the tests need"
    rm -rf build
    pip_install -e '.[test,dev]'
    pip_install -e '.[peers]' ||
        say "note: the independent finite element code (extra 'peers') could not be installed; its checks will be skipped"
    touch "$venv/.test"
    ;;
*)
    stop "say what for: tools/setup.sh run, or tools/setup.sh test"
    ;;
esac
