#!/bin/sh
# The tests on several simulators, without changing the system: sh .ci/simulators.sh [PYTEST ARGUMENTS]
#
# Debian's own ngspice library, and those of backports and of Debian 13, are unpacked into a folder of their own each,
# as far as the configured mirror has them and the libc here can load them; without arguments the tests of simulation,
# of published figures and of verdicts run on each. A line a simulator; exits 1 where one fails.
set -u
here=$(cd "$(dirname "$0")/.." && pwd)
python=${PYTHON:-$here/.venv/bin/python}
[ $# -gt 0 ] || set -- "$here/tests/simulation" "$here/tests/published" "$here/tests/verdicts"
uri=$(sed -n 's/^URIs: *//p' /etc/apt/sources.list.d/debian.sources | head -n 1)
trees=$(mktemp -d)
trap 'rm -rf "$trees"' EXIT
trap 'exit 1' INT TERM HUP
failed=0

# Unpack the library of a suite; prints its path.
library() {
    t=$trees/$1
    mkdir -p "$t/src.d" "$t/lists/partial" "$t/cache/archives/partial"
    printf '%s\n' 'Types: deb' "URIs: $uri" "Suites: $1" 'Components: main' \
        'Signed-By: /usr/share/keyrings/debian-archive-keyring.gpg' > "$t/src.d/x.sources"
    apt_here() {
        apt-get -qq -o Dir::Etc::sourcelist=/dev/null -o Dir::Etc::sourceparts="$t/src.d" \
            -o Dir::State::Lists="$t/lists" -o Dir::Cache="$t/cache" "$@"
    }
    apt_here update >&2 || return 1
    (cd "$t" && apt_here download "libngspice0/$1" >&2 && dpkg-deb -x libngspice0_*.deb x) || return 1
    echo "$t"/x/usr/lib/*/libngspice.so.0
}

loads() {
    NGSPICE_LIBRARY_PATH=$1 PYTHONPATH=$here "$python" -c \
        'import sys; from netcheck.simulation.process import available; sys.exit(available())'
}

run() {
    name=$1 path=$2
    shift 2
    if [ -n "$path" ] && ! loads "$path"; then
        echo "$name: cannot be loaded here"
        return
    fi
    if (cd "$here" && NGSPICE_LIBRARY_PATH=$path PYTHONPATH=$here "$python" -m pytest -q -p no:cacheprovider "$@"); then
        echo "$name: passed"
    else
        echo "$name: FAILED"
        failed=1
    fi
}

run "the system's own" "" "$@"
for suite in bookworm bookworm-backports trixie; do
    if path=$(library "$suite"); then
        run "$suite ($(basename "$trees/$suite"/libngspice0_*.deb))" "$path" "$@"
    else
        echo "$suite: not to be had"
    fi
done
exit $failed
