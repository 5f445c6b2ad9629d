# Makes the environment of examples/run.sh and tests/run.sh: what is missing of the system's packages,
# and a virtual environment in .venv. POSIX sh, to be sourced with $root, the checkout, set; then
#
#   prepare run      Python, the simulator's library, netcheck and what it needs
#   prepare test     that and the tools of the tests
#
# and $venv/bin holds the programs. Where it cannot go on it says why and exits with status 2.
# PYTHON=… names the Python to use in place of the newest found.

venv=$root/.venv
log=
updated=

say() { printf '%s\n' "$@"; }

stop() {
    say '' "$@" >&2
    exit 2
}

prepare() {
    kind=$1
    missing=
    extra=
    find_python || missing='python3 python3-venv'
    has_simulator 2>/dev/null || missing="$missing libngspice0"
    if [ "$kind" = test ]; then
        command -v ngspice >/dev/null || missing="$missing ngspice"
        has_browser || extra=chromium
    fi
    missing=${missing# }
    if [ -n "$extra" ] && ! is_debian; then
        say 'No Chromium here, and it is no ordinary package of this system: going on without it.'
        extra=
    fi

    if [ -n "$missing$extra" ]; then
        say "To be installed from this system's packages: $missing${extra:+ $extra}"
    fi
    [ -z "$missing" ] || install_needed "$missing"
    [ -z "$extra" ] || install_useful "$extra"
    [ -n "$python" ] || find_python || stop \
        "No Python from 3.10 on with its venv module was found, not even after installing this system's own." \
        'Install a newer Python, or name one: PYTHON=/path/to/python3 sh …'
    has_simulator || stop 'The library of the simulator does not load: see above.'
    make_venv
    install_project
}

# The newest Python from 3.10 on that can make a virtual environment, as a path free of links: a link may
# lie in the very .venv that is about to be made anew.
find_python() {
    if [ -n "${PYTHON:-}" ]; then
        set -- "$PYTHON"
    else
        set -- python3.13 python3.12 python3.11 python3.10 python3
    fi
    for candidate; do
        python=$("$candidate" -c '
import sys
sys.version_info >= (3, 10) or sys.exit(1)
import ctypes, ensurepip, os, ssl, venv
print(os.path.realpath(sys.executable))' 2>/dev/null) && return
    done
    python=
    return 1
}

# Asks netcheck itself, in a file that needs no other package.
has_simulator() {
    [ -n "$python" ] && PYTHONPATH=$root "$python" -B -c '
from netcheck.simulation.library import EngineMissing, find_library
try:
    find_library()
except EngineMissing as missing:
    raise SystemExit(str(missing))'
}

has_browser() {
    command -v chromium >/dev/null || command -v chromium-browser >/dev/null || command -v google-chrome >/dev/null
}

is_debian() {
    [ -r /etc/os-release ] && [ "$(. /etc/os-release && echo "$ID")" = debian ]
}

install_needed() {
    command -v apt-get >/dev/null || stop \
        "Missing: $1 (Debian's names), and this system has no apt-get." \
        "Install Python from 3.10 on and ngspice with its shared library in this system's own way, then run this again."
    apt_install "$1" || stop \
        "Installing did not work. Run this as root, then try again:" \
        "  apt-get update && apt-get install -y --no-install-recommends $1"
}

install_useful() {
    { command -v apt-get >/dev/null && apt_install "$1"; } || say "$1 could not be installed: going on without it."
}

# The names in one argument, which is split on purpose.
apt_install() {
    if [ "$(id -u)" -eq 0 ]; then
        as_root=
    elif command -v sudo >/dev/null; then
        as_root=sudo
    else
        say 'That takes root, and there is no sudo here.' >&2
        return 1
    fi
    say "Installing $1 (a minute or two) …"
    apt='env DEBIAN_FRONTEND=noninteractive apt-get -q -o DPkg::Lock::Timeout=300 -o Acquire::Retries=3'
    [ -n "$updated" ] || quietly $as_root $apt update || return 1
    updated=yes
    quietly $as_root $apt install -y --no-install-recommends $1
}

# The environment is made anew where it is broken, was moved, or belongs to another Python.
make_venv() {
    made_for="$("$python" -c 'import sys; print(sys.version)') $python $venv"
    if [ "$(cat "$venv/made-for" 2>/dev/null)" = "$made_for" ] && "$venv/bin/python" -m pip --version >/dev/null 2>&1; then
        return
    fi
    say "Making a virtual environment in $venv"
    rm -rf "$venv"
    quietly "$python" -m venv "$venv" || stop "No virtual environment could be made in $venv."
    say "$made_for" > "$venv/made-for"
}

install_project() {
    case $kind in
        run) wanted="${root}[png]" ;;
        test) wanted="${root}[test,png]" ;;
    esac
    sum=$(cksum < "$root/pyproject.toml")
    if [ "$(cat "$venv/installed-$kind" 2>/dev/null)" = "$sum" ] && "$venv/bin/netcheck" --version >/dev/null 2>&1; then
        return
    fi
    say "Installing netcheck and the Python packages it needs, with pip (a minute or two) …"
    quietly "$venv/bin/python" -m pip install --disable-pip-version-check -e "$wanted" || stop \
        'pip could not install the Python packages: the lines above say why. Run this again to try once more.'
    say "$sum" > "$venv/installed-$kind"
    [ "$kind" = run ] || say "$sum" > "$venv/installed-run"
}

# Run a command, and show what it said only where it failed.
quietly() {
    [ -n "$log" ] || { log=$(mktemp) && trap 'rm -f "$log"' EXIT; }
    "$@" > "$log" 2>&1 && return
    tail -n 20 "$log" >&2
    return 1
}
