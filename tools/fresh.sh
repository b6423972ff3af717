#!/usr/bin/env bash
# Called by make fresh: README's two commands on machines that have nothing but git, make and python3.
#   tools/fresh.sh SUITE...    Debian suites that debootstrap knows: bookworm trixie testing
# Each is a folder of its own under TMPDIR (or /var/tmp), 3 GB, gone at the end however that comes. Mounts and processes
# live in namespaces of their own and end with this script; of this machine nothing is touched. What it needs to reach
# the package servers (proxy, certificates, settings of pip and apt) is copied in. Tested is the last commit.
# Exit code 3: nothing was run, and the last line says why.
set -euo pipefail
cd "$(dirname "$0")/.."

place=
child=

# alone COMMAND...: in namespaces of its own, beside this shell, so that a signal is answered at once. When the first
# process of a namespace ends, all that were begun in it end, and its mounts are gone.
alone() {
    unshare --mount --propagation private --pid --fork --mount-proc --kill-child "$@" &
    child=$!
    wait "$child"
}
tidy() {
    # unshare itself does not listen to TERM
    [ -z "$child" ] || { kill -KILL "$child" && wait "$child"; } 2>/dev/null || true
    [ -z "$place" ] || for _ in 1 2 3; do
        rm -rf --one-file-system "$place" "$place.log" 2>/dev/null && break
        sleep 1  # what was killed may still hold files
    done
}
trap tidy EXIT
trap 'exit 130' INT
trap 'exit 143' TERM HUP

not_run() {
    printf 'make fresh was not run: %s\n' "$*"
    exit 3
}
[ "$(id -u)" -eq 0 ] || not_run "it needs root, for chroot"
command -v debootstrap >/dev/null || not_run "debootstrap is not installed (apt-get install debootstrap)"
git rev-parse -q --verify HEAD >/dev/null 2>&1 || not_run "this folder is no clone made by git"
unshare --mount --pid --fork true 2>/dev/null || not_run "this machine gives no namespaces of one's own (unshare)"

# copy_in FILE: to the same path in the new machine.
copy_in() {
    [ ! -f "$1" ] || install -D -m 644 "$1" "$place/$1"
}

# What stands between this machine and the package servers has to stand there too. Certificates get a place of their
# own: the package ca-certificates, which comes with python3-venv, writes the usual one anew.
settings() {
    local name bundle=/etc/ssl/certs/ca-certificates.crt
    for name in /etc/resolv.conf /etc/pip.conf "${HOME:-/root}/.config/pip/pip.conf" "${HOME:-/root}/.pip/pip.conf"; do
        copy_in "$name"
    done
    apt-config dump 2>/dev/null | grep -E '^Acquire::(http|https|Check|Retries)' >"$place/etc/apt/apt.conf.d/99fresh" || true
    : >"$place/tmp/environment"
    while IFS='=' read -r name _; do
        case "$name" in
        PIP_CERT) bundle=${!name} ;;
        *_proxy | *_PROXY | PIP_*) printf 'export %s=%q\n' "$name" "${!name}" >>"$place/tmp/environment" ;;
        esac
    done < <(env)
    if [ -f "$bundle" ]; then
        install -D -m 644 "$bundle" "$place/opt/certificates.pem"
        printf 'export PIP_CERT=/opt/certificates.pem\n' >>"$place/tmp/environment"
    fi
}

run_suite() {
    local suite=$1 began=$SECONDS
    place=$(mktemp -d "${TMPDIR:-/var/tmp}/stringflux-fresh.XXXXXX")
    printf '\n%s: building a machine in %s\n' "$suite" "$place"
    alone debootstrap --variant=minbase --include=git,make,python3 "$suite" "$place" >"$place.log" 2>&1 || {
        tail -n 3 "$place.log" >&2
        printf 'stop: debootstrap could not build %s\n' "$suite" >&2
        return 1
    }
    settings
    git clone -q --no-hardlinks . "$place/root/stringflux"
    printf '%s: built in %d s; make demo, make test\n' "$suite" $((SECONDS - began))
    alone bash -c '
        mount -t proc proc "$1/proc" && mount -t tmpfs tmpfs "$1/dev/shm" && mount -t devpts devpts "$1/dev/pts" &&
        exec chroot "$1" /usr/bin/env -i HOME=/root PATH=/usr/sbin:/usr/bin:/sbin:/bin LANG=C.UTF-8 bash -euc "
            . /tmp/environment
            cd /root/stringflux
            python3 --version
            make demo
            make test"' bash "$place" || {
        printf '%s: failed after %d s\n' "$suite" $((SECONDS - began))
        return 1
    }
    printf '%s: passed in %d s; %s on disk\n' "$suite" $((SECONDS - began)) "$(du -sh "$place/root/stringflux/.venv" | cut -f1)"
    tidy
    child= place=
}

git diff --quiet HEAD || printf 'note: changes that are not committed are not in it\n'
[ $# -gt 0 ] || set -- bookworm trixie
for suite in "$@"; do
    run_suite "$suite"
done
printf 'make fresh: passed on %s\n' "$*"
