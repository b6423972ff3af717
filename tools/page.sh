#!/usr/bin/env bash
# Types and faults of the modules of our pages, where node is there; no user needs node.
set -euo pipefail
cd "$(dirname "$0")/.."

node=$(node --version 2>/dev/null || true)
if [[ ! "$node" =~ ^v([0-9]+) ]] || [ "${BASH_REMATCH[1]}" -lt 20 ] || ! command -v npm >/dev/null; then
    echo "The page's modules: left out, there is no node from version 20 on."
    exit 0
fi
tools=.venv/page
if ! cmp -s tools/page/package-lock.json "$tools/package-lock.json" || [ ! -d "$tools/node_modules" ]; then
    mkdir -p "$tools"
    cp tools/page/package.json tools/page/package-lock.json "$tools/"
    npm ci --prefix "$tools" --silent --no-audit --no-fund
fi
"$tools/node_modules/.bin/tsc" -p tools/page/tsconfig.json
rm -rf "$tools/looked-at"  # it looks at nothing above its own folder
mkdir "$tools/looked-at"
cp cases/live/page/*.js postprocess/demonstrations/page/*.js "$tools/looked-at/"
cp tools/page/eslint.config.mjs "$tools/"
(cd "$tools" && node_modules/.bin/eslint --max-warnings 0 looked-at)
echo "The page's modules: no fault."
