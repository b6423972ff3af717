#!/usr/bin/env bash
# Called by make: choose a Python, see to the system's libraries, build .venv and install stringflux in it.
#   tools/setup.sh run     what the program needs, in a new .venv
#   tools/setup.sh test    and what the tests need, into the same .venv
# PYTHON=/path/to/python3 chooses the interpreter.
# Exactly the packages of constraints.txt, which `make constraints` renews.
set -euo pipefail
cd "$(dirname "$0")/.."

venv=.venv
new=.venv.new  # built beside the old one, which stays until this one is complete
old=.venv.old
python=
log=$(mktemp)
trap 'rm -rf "$log" "$new"' EXIT

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

# Whether apt-get may be used: as root, or by a sudo that asks for nothing.
root=()
may_install() {
    command -v apt-get >/dev/null || return 1
    [ "$(id -u)" -ne 0 ] || return 0
    command -v sudo >/dev/null && sudo -n true 2>/dev/null || return 1
    root=(sudo -n)
}

apt_install() {
    say "installing with apt-get: $*"
    # A failed update may still leave lists that are good enough.
    "${root[@]}" apt-get update -qq >"$log" 2>&1 || true
    "${root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get -o DPkg::Lock::Timeout=120 \
        install -y -qq --no-install-recommends "$@" >>"$log" 2>&1
}

# What made apt-get fail, for `stop`.
apt_fault() {
    if grep -qE 'Could not resolve|Temporary failure|Failed to fetch|Could not connect|Unable to connect' "$log"; then
        printf '%s' "the system's packages cannot be fetched: no network, or its package server does not answer"
    else
        printf '%s' "apt-get failed ($(grep -E '^E:' "$log" | head -n 1))"
    fi
}

see_to_system() {
    local needed=() wished=()
    # The same packages as APT_LINE in geometry/mesh/session.py.
    mapfile -t needed < <(packages_of_missing \
        libgl1=libGL.so.1 libglu1-mesa=libGLU.so.1 libxrender1=libXrender.so.1 libxcursor1=libXcursor.so.1 \
        libxft2=libXft.so.2 libxinerama1=libXinerama.so.1 libgomp1=libgomp.so.1)
    has_venv "$python" || needed+=("$("$python" -c 'import sys; print("python%d.%d-venv" % sys.version_info[:2])')")
    # Only the 3-D picture wants this one.
    mapfile -t wished < <(packages_of_missing libegl1=libEGL.so.1)
    if [ ${#needed[@]} -gt 0 ]; then
        # one line for all that demo and test will want: who has to ask for it asks once
        may_install || stop "packages of the system are missing; on Debian or Ubuntu run this line, then make again:
    sudo apt-get update && sudo apt-get install -y ${needed[*]} ${wished[*]} $(missing_for_peers | xargs)"
        apt_install "${needed[@]}" "${wished[@]}" ||
            stop "$(apt_fault); needed are ${needed[*]} ${wished[*]}; when it can be reached, make again"
        has_venv "$python" || stop "$python cannot make a virtual environment; name another: make $goal PYTHON=/path/to/python3"
    elif [ ${#wished[@]} -gt 0 ]; then
        may_install && apt_install "${wished[@]}" ||
            say "note: without libEGL there is no 3-D picture; for it: sudo apt-get install -y ${wished[*]}"
    fi
}

# The independent finite element code of the tests is linked against a library of gcc that only PCs have.
missing_for_peers() {
    [ "$(uname -m)" != x86_64 ] || packages_of_missing libquadmath0=libquadmath.so.0
}

# One small package, asked for once: where even that does not come, nothing will. `index_silent` says that an index gave
# no answer, though another one, or a folder, may have had this package.
reach_index() {
    local place code=0
    place=$(mktemp -d)
    "$1/bin/python" -m pip download -vv --disable-pip-version-check --no-input --no-cache-dir --no-deps \
        --retries 0 --timeout 20 -d "$place" platformdirs >"$place/said" 2>&1 || code=1
    ! grep -qE 'connection error:|[Tt]imed out' "$place/said" || index_silent=yes
    ! grep -q 'problem confirming the ssl certificate' "$place/said" ||
        no_index="Python packages cannot be fetched: this machine does not trust the package index's certificate (PIP_CERT=FILE names others)"
    rm -rf "$place"
    return $code
}
index_silent=
no_index="Python packages cannot be fetched: no network, or the package index does not answer; when it can be reached, make again"

# pip_install ENVIRONMENT WHAT...: what pip says of it only when it fails for another reason than the network.
pip_install() {
    local where=$1 quiet=()
    shift
    [ -t 1 ] || quiet=(-qq)  # errors only
    reach_index "$where" || stop "$no_index"
    # both names: build environments are pinned by the one up to pip 25.2, by the other from 25.3 on
    PIP_CONSTRAINT=constraints.txt PIP_BUILD_CONSTRAINT=constraints.txt "$where/bin/python" -m pip install \
        --disable-pip-version-check --no-input "${quiet[@]}" "$@" 2>"$log" && return
    reach_index "$where" && [ -z "$index_silent" ] || stop "$no_index"
    cat "$log" >&2
    return 1
}

# A virtual environment knows its own path: in its scripts and in its settings.
take_place() {
    local file
    for file in "$new"/bin/* "$new/pyvenv.cfg"; do
        [ -f "$file" ] && [ ! -L "$file" ] || continue
        ! grep -qIF "$PWD/$new" "$file" || sed -i "s|$new|$venv|g" "$file"
    done
    rm -rf "$old"
    [ ! -e "$venv" ] || mv "$venv" "$old"
    mv "$new" "$venv"
    rm -rf "$old"
}

case "${1:-}" in
run)
    goal=demo
    [ -e "$venv" ] || [ ! -e "$old" ] || mv "$old" "$venv"  # stopped between two renames
    choose_python
    see_to_system
    say "installing stringflux into $venv with $("$python" --version); the first time takes some minutes"
    rm -rf build "$new"
    "$python" -m venv "$new"
    pip_install "$new" -e . || stop "stringflux could not be installed; what pip said stands above"
    pwd -P >"$new/.run"
    take_place
    ;;
test)
    python=$venv/bin/python
    say "installing what the tests need"
    rm -rf build
    # a source archive comes without the links that type checkers follow
    mkdir -p tests/_ns/stringflux
    for name in __init__.py __main__.py py.typed geometry solver postprocess cases; do
        ln -sfn "../../../$name" "tests/_ns/stringflux/$name"
    done
    pip_install "$venv" -e '.[test,dev]' || stop "what the tests need could not be installed; what pip said stands above"
    mapfile -t needed < <(missing_for_peers)
    [ ${#needed[@]} -eq 0 ] || { may_install && apt_install "${needed[@]}"; } ||
        say "note: an independent finite element code cannot be loaded, its checks will be skipped; for them: sudo apt-get install -y ${needed[*]}"
    pip_install "$venv" -e '.[peers]' ||
        say "note: the independent finite element code (extra 'peers') could not be installed; its checks will be skipped"
    touch "$venv/.test"
    ;;
*)
    stop "say what for: tools/setup.sh run, or tools/setup.sh test"
    ;;
esac
