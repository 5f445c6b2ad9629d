#!/bin/sh
# Sets netcheck up and checks the first example: sh examples/run.sh
set -eu
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
. "$root/.ci/environment.sh"
prepare run
cd "$root"

say '' '$ netcheck check examples/rack-sampler.yaml --all' ''
status=0
report=$("$venv/bin/netcheck" check examples/rack-sampler.yaml --all) || status=$?
[ -n "$report" ] || stop "The check could not be done (status $status)."
say "$report"
[ "$status" -eq 0 ] || say '' \
    "(The check ended with status $status: it found danger, or something it cannot know, in the last variant.)"

mkdir -p out
"$venv/bin/netcheck" document examples/rack-sampler.yaml -o out/rack-sampler.html || stop 'The page could not be written.'
say '' "The document is $root/out/rack-sampler.html"
