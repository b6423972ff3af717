#!/usr/bin/env bash
# Called by make demo: predict the case that CASE names, say where the results are and what to type next.
set -euo pipefail
cd "$(dirname "$0")/.."

name=${CASE##*/}
results=results/${name%.toml}
printf 'stringflux predict %q --out %q\n' "$CASE" "$results"
.venv/bin/stringflux predict "$CASE" --out "$results"
cat <<TEXT

The results are in $PWD/$results
To go on, type or copy these lines:
  . .venv/bin/activate                  # puts stringflux on the path, in this terminal
  stringflux start my-pickup.toml       # writes a commented case: edit it
  stringflux predict my-pickup.toml --out results/mine
  stringflux --help                     # all commands
TEXT
