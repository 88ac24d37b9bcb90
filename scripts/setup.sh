#!/bin/sh
# Makes the project's own Python environment, on a machine that may have nothing prepared.
#
#   scripts/setup.sh check            says what is missing and the command that brings it (status 1), or nothing
#   scripts/setup.sh run|page|test|peers   the environment for running oilpath, for its page in a browser too, for its
#                                     tests, for the comparisons too
#   scripts/setup.sh lowest           the environment for running it, with the oldest versions that pyproject.toml allows
#   scripts/setup.sh lock             writes locks/ anew from pyproject.toml, with the newest versions that it allows
#
# PYTHON  the interpreter to use (else the first one found that has all it needs)
# VENV    the environment's folder (.venv)
# UV      the uv to use where there is one (uv); UV=no uses venv and pip
# KEEP    lock: KEEP=1 leaves the versions in locks/ as they are and adds what pyproject.toml newly asks for
set -eu
# An empty PATH: the usual one, also for the compiler and what it starts.
PATH=${PATH:-/usr/local/bin:/usr/bin:/bin}
export PATH
cd "$(dirname "$0")/.."

VENV=${VENV:-.venv}
UV=${UV:-uv}
OLDEST_MINOR=11 # requires-python in pyproject.toml

# CPython 3.13 removed a symbol that durable-rules 2.0.28 uses; this names its successor and is harmless before 3.13.
# It must be CPPFLAGS: durable-rules' own set-up overwrites CFLAGS.
RENAMED=-DPyEval_CallObject=PyObject_CallObject
case " ${CPPFLAGS:-} " in
*" $RENAMED "*) ;;
*) export CPPFLAGS="$RENAMED${CPPFLAGS:+ $CPPFLAGS}" ;;
esac

say() { printf '%s\n' "$*" >&2; }

have_uv() {
    command -v "$UV" >/dev/null 2>&1 && "$UV" pip install --help 2>/dev/null | grep -q -e '--require-hashes'
}

version_of() { # prints 3.12.1, or nothing where that interpreter does not run
    "$1" -c 'import platform; print(platform.python_version())' 2>/dev/null || :
}

new_enough() {
    "$1" -c "import sys; sys.exit(sys.version_info < (3, $OLDEST_MINOR))" 2>/dev/null
}

missing_for() { # prints one line for each thing that interpreter $1 lacks
    if ! have_uv && ! "$1" -c 'import ensurepip, venv' 2>/dev/null; then
        echo "Python's venv module, which makes the project's own environment"
    fi
    include=$("$1" -c 'import sysconfig; print(sysconfig.get_path("include"))')
    if [ ! -f "$include/Python.h" ]; then
        echo "Python's C headers (Python.h): the rule engine, durable-rules, is built from source"
    fi
    compiler=${CC:-$("$1" -c 'import sysconfig; print(sysconfig.get_config_var("CC") or "cc")')}
    if ! command -v "${compiler%% *}" >/dev/null 2>&1; then
        echo "a C compiler (${compiler%% *}): the rule engine, durable-rules, is built from source"
    else
        object=$(mktemp)
        # Unquoted on purpose: CC may be a command with options.
        # shellcheck disable=SC2086
        if ! printf '#include <stdio.h>\nint oilpath(void) { return puts(""); }\n' |
            $compiler -shared -fPIC -x c -o "$object" - >/dev/null 2>&1; then
            echo "the C library's headers: $compiler is there, but cannot compile with <stdio.h>"
        fi
        rm -f "$object"
    fi
}

say_missing() { # $1: what is missing, one a line; $2: the interpreter it is missing for, or nothing
    say "oilpath cannot be set up yet. Missing:"
    printf '%s\n' "$1" | sed 's/^/  - /' >&2
    packages=python3
    case "${2##*/}" in python3.[0-9]*) packages=${2##*/} ;; esac
    sudo=
    [ "$(id -u)" = 0 ] || sudo="sudo "
    if command -v apt-get >/dev/null 2>&1; then
        say "One command brings them:"
        say "  ${sudo}apt-get install $packages-venv $packages-dev gcc libc6-dev make"
    elif command -v dnf >/dev/null 2>&1; then
        say "One command brings them:"
        say "  ${sudo}dnf install $packages-devel gcc make"
    else
        say "Bring them with the system's own packages (on Debian: apt-get install python3-venv python3-dev gcc libc6-dev make)."
    fi
    say "Another Python can be named: PYTHON=/path/to/python3.12 make test"
}

find_python() { # sets python to an interpreter that has all it needs, or says what is missing and ends
    python=
    too_old=
    first=
    first_missing=
    if [ -n "${PYTHON:-}" ]; then
        candidates=$PYTHON
    else
        candidates="python3 python3.13 python3.12 python3.11 python3.14 python"
    fi
    for candidate in $candidates; do
        version=$(version_of "$candidate")
        [ -n "$version" ] || continue
        if ! new_enough "$candidate"; then
            too_old="$too_old${too_old:+, }$candidate is $version"
            continue
        fi
        missing=$(missing_for "$candidate")
        if [ -z "$missing" ]; then
            python=$candidate
            return
        fi
        if [ -z "$first" ]; then
            first=$candidate
            first_missing=$missing
        fi
    done
    if [ -n "$first" ]; then
        say_missing "$first_missing" "$first"
    elif [ -n "$too_old" ]; then
        say_missing "Python 3.$OLDEST_MINOR or later ($too_old)" ""
    elif [ -n "${PYTHON:-}" ]; then
        say "PYTHON names '$PYTHON', which does not run here."
    else
        say_missing "Python 3.$OLDEST_MINOR or later" ""
    fi
    exit 1
}

usable_environment() { # is $VENV one we can go on with: it runs, is not another checkout's, is the Python asked for
    [ -x "$VENV/bin/python" ] && new_enough "$VENV/bin/python" || return 1
    if [ -f "$VENV/.oilpath-checkout" ] && [ "$(cat "$VENV/.oilpath-checkout")" != "$(pwd -P)" ]; then
        return 1
    fi
    [ -z "${PYTHON:-}" ] || [ "$(version_of "$PYTHON")" = "$(version_of "$VENV/bin/python")" ]
}

make_environment() {
    find_python
    if [ -e "$VENV" ]; then
        if [ ! -f "$VENV/pyvenv.cfg" ]; then
            say "$VENV is there and is no Python environment: move it away, or name another folder: VENV=folder make test"
            exit 1
        fi
        rm -rf "$VENV"
    fi
    say "Making $VENV with Python $(version_of "$python")"
    if have_uv; then
        "$UV" venv --quiet --python "$(command -v "$python")" "$VENV"
    else
        "$python" -m venv "$VENV"
    fi
}

packages() { # $@: options and what to install; what is built is built in this environment, with what the locks pin
    if have_uv; then
        "$UV" pip install --quiet --python "$VENV/bin/python" --no-build-isolation "$@"
    else
        "$VENV/bin/python" -m pip install --quiet --disable-pip-version-check --use-pep517 --no-build-isolation "$@"
    fi
}

install() { # $1: the lock to install from
    say "Installing oilpath and what it needs into $VENV, as pinned in locks/$1.txt (the first time takes a while)"
    have_uv || "$VENV/bin/python" -m pip --version >/dev/null 2>&1 || "$VENV/bin/python" -m ensurepip >/dev/null
    # What builds durable-rules and oilpath itself comes first.
    packages --require-hashes --requirement locks/build.txt
    rule_engine "$1"
    packages --require-hashes --requirement "locks/$1.txt"
    packages --no-deps --editable .
    if ! "$VENV/bin/oilpath" --version >/dev/null 2>&1; then
        # pip writes the folder's name between double quotes, where a $ is a variable.
        folder=$(cd "$VENV" && pwd -P | sed "s/'/'\\\\''/g")
        printf '#!/bin/sh\nexec '"'%s/bin/python'"' -m oilpath "$@"\n' "$folder" >"$VENV/bin/oilpath"
        "$VENV/bin/oilpath" --version >/dev/null
    fi
    pwd -P >"$VENV/.oilpath-checkout"
}

rule_engine() ( # $1: the lock that pins it; a subshell, for the environment has another name in it
    pinned=$(mktemp)
    named=$(mktemp -d)
    trap 'rm -rf "$pinned" "$named"' EXIT
    sed -n '/^durable-rules==/,/[^\\]$/p' "locks/$1.txt" >"$pinned"
    # setuptools takes a $ in the environment's path for a variable, so it gets to see a path without one.
    ln -s "$(cd "$VENV" && pwd -P)" "$named/venv"
    VENV=$named/venv
    packages --no-deps --require-hashes --requirement "$pinned"
    # A durable-rules that was once built without the flag above may come back from the installer's cache.
    if ! "$VENV/bin/python" -c 'import durable.engine' 2>/dev/null; then
        say "Building durable-rules again, without the cache"
        if have_uv; then
            packages --no-deps --no-cache --reinstall --require-hashes --requirement "$pinned"
        else
            packages --no-deps --no-cache-dir --force-reinstall --require-hashes --requirement "$pinned"
        fi
        "$VENV/bin/python" -c 'import durable.engine'
    fi
)

lock() {
    if ! have_uv; then # pip locks for one interpreter on one system, uv for all of them
        find_python
        say "Installing uv, which writes the locks, into .venv-lock"
        "$python" -m venv .venv-lock
        .venv-lock/bin/python -m pip install --quiet --disable-pip-version-check uv
        UV=.venv-lock/bin/uv
    fi
    new=$(mktemp -d)
    trap 'rm -rf "$new"' EXIT
    [ "${KEEP:-}" != 1 ] || cp locks/peers.txt "$new" # uv keeps the versions of the file that it writes
    # All at once first: the smaller locks then take their versions from the largest.
    locked peers pyproject.toml --extra page --group build --group test --group peers
    locked test --constraint "$new/peers.txt" pyproject.toml --extra page --group test
    locked page --constraint "$new/peers.txt" pyproject.toml --extra page
    locked run --constraint "$new/peers.txt" pyproject.toml
    locked build --constraint "$new/peers.txt" --group build
    locked lowest pyproject.toml --resolution lowest-direct
    for name in peers test page run build lowest; do
        sed -e 's/-c [^ ]*peers.txt, //' -e 's/, -c [^ ]*peers.txt//' "$new/$name.txt" >"locks/$name.txt"
    done
}

locked() { # $1: name of the lock; the rest: options
    name=$1
    shift
    say "Choosing versions for locks/$name.txt"
    # One version for all Pythons and systems where there is one. No index is named: whoever installs uses their own.
    "$UV" pip compile --no-config --quiet --universal --fork-strategy fewest --python-version "3.$OLDEST_MINOR" \
        --generate-hashes --annotation-style line --no-emit-index-url --custom-compile-command "make lock" \
        --output-file "$new/$name.txt" "$@" >/dev/null
}

case "${1:-}" in
check)
    find_python
    ;;
run | page | test | peers | lowest)
    usable_environment || make_environment
    install "$1"
    ;;
lock)
    lock
    ;;
*)
    say "usage: scripts/setup.sh check|run|page|test|peers|lowest|lock"
    exit 2
    ;;
esac
