#!/bin/sh
# Sets netcheck up with the tools of its tests and runs them: sh tests/run.sh [what pytest takes]
set -eu
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
. "$root/.ci/environment.sh"
prepare test
cd "$root"

failed=
"$venv/bin/ruff" check netcheck tests || failed=' ruff'
"$venv/bin/mypy" || failed="$failed mypy"
"$venv/bin/python" -m pytest "$@" || failed="$failed pytest"
[ -z "$failed" ] || stop "Not clean:$failed."
