#!/bin/sh
# Format, lint, types, import direction, tests. Stops at the first that fails.
# Usage: sh tests/run.sh [PYTEST ARGUMENTS]
#   PYTHON=...   the interpreter that makes .venv (default: the first of python3.11 and later)
#   WORKERS=...  test processes (default 2)
set -eu

CDPATH='' cd -- "$(dirname -- "$0")/.."
venv=.venv
py=$venv/bin/python
workers=${WORKERS:-2}

stop() {
    printf 'tests/run.sh: stopped: %s\n' "$*" >&2
    exit 1
}

new_enough() {
    "$1" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1
}

# Settings of the person who runs this must not change what is measured.
unset PYTHONPATH PYTHONHOME VIRTUAL_ENV SWATHBOOK_BOOK 2>/dev/null || :
PIP_DISABLE_PIP_VERSION_CHECK=1
export PIP_DISABLE_PIP_VERSION_CHECK

# --- environment ---------------------------------------------------------------------------------
if ! { [ -x "$py" ] && new_enough "$py"; }; then
    found=
    for candidate in ${PYTHON:-} python3.11 python3.12 python3.13 python3.14 python3; do
        if command -v "$candidate" >/dev/null 2>&1 && new_enough "$candidate"; then
            found=$candidate
            break
        fi
    done
    [ -n "$found" ] || stop "no Python 3.11 or later found; install one, or name it: PYTHON=/path/to/python sh tests/run.sh"
    printf '== making %s with %s\n' "$venv" "$found"
    "$found" -m venv --clear "$venv" || stop "python -m venv failed; on Debian and its kin install the python3-venv package"
fi

stamp=$venv/.installed
want=$("$py" - pyproject.toml tests/constraints.txt <<'PY'
import hashlib, os, sys
digest = hashlib.sha256(f"{sys.version} {os.getcwd()}".encode())
for name in sys.argv[1:]:
    with open(name, "rb") as file:
        digest.update(file.read())
print(digest.hexdigest())
PY
)
if [ "$(cat "$stamp" 2>/dev/null || :)" != "$want" ]; then
    printf '== installing pinned packages\n'
    rm -f "$stamp" "$venv/.lacking"
    "$py" -m pip install --quiet --upgrade pip || stop "pip could not be upgraded (is the network up?)"
    "$py" -m pip install --quiet --editable '.[test]' --constraint tests/constraints.txt ||
        stop "the pinned packages could not be installed; tests/constraints.txt has the versions"
    # What is not there for every machine: without it, some tests are passed over.
    for extra in test-server fuzz; do
        "$py" -m pip install --quiet --editable ".[$extra]" --constraint tests/constraints.txt 2>/dev/null ||
            printf '%s\n' "$extra" >>"$venv/.lacking"
    done
    printf '%s\n' "$want" >"$stamp"
fi

# --- checks --------------------------------------------------------------------------------------
step() {
    name=$1
    shift
    printf '== %s\n' "$name"
    "$@" || stop "$name failed; the lines above say where"
}

step 'ruff format' "$venv/bin/ruff" format --check --quiet .
step 'ruff check' "$venv/bin/ruff" check --quiet .
step 'mypy' "$py" -m mypy
step 'import-linter' "$venv/bin/lint-imports" --no-cache

if [ "$(id -u)" -eq 0 ]; then
    printf 'not run as root: two tests of files that may not be written (root may write anywhere)\n'
fi

if grep -q test-server "$venv/.lacking" 2>/dev/null; then
    printf 'not run: tests of a book on a server (pip has no PostgreSQL server for this machine)\n'
fi
if grep -q fuzz "$venv/.lacking" 2>/dev/null; then
    printf 'not run: fuzzing (pip has no atheris for this machine)\n'
fi

if [ "$#" -eq 0 ] && "$py" -c 'import atheris' 2>/dev/null; then
    step 'fuzzing, briefly' "$py" -m tests.fuzz --seconds 1 --jobs 2
fi

# Last, so that the closing line of pytest is the last line of a good run.
printf '== pytest\n'
if [ "$#" -eq 0 ]; then
    set -- --cov --cov-report=term # the floor is fail_under in pyproject.toml; a chosen few tests cannot reach it
fi
"$py" -m pytest --numprocesses "$workers" --dist worksteal "$@" || stop "pytest failed; the lines above say where"
