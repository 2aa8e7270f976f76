# Shared by the scripts beside it: find Python, keep one environment in the checkout up to date.
# Source it, then call `prepare_env ""` (what the tool needs) or `prepare_env test` (checks too).
# A stamp in .venv remembers what was installed, so that a repeat costs one Python start and
# no network.

ROOT="$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd -P)"
VENV="$ROOT/.venv"
export PIP_DISABLE_PIP_VERSION_CHECK=1 PIP_NO_INPUT=1
# The tools look at the checkout alone, whatever the caller's shell points at.
unset PYTHONPATH PYTHONHOME VIRTUAL_ENV || true

fail() {
    echo "$(basename "$0"): $*" >&2
    exit 3
}

# Print the first Python on the path that is 3.11 or newer.
find_python() {
    local candidate found=""
    for candidate in ${PYTHON:-} python3 python3.14 python3.13 python3.12 python3.11 python; do
        command -v "$candidate" >/dev/null 2>&1 || continue
        if "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
            echo "$candidate"
            return 0
        fi
        found="$found $candidate ($("$candidate" --version 2>&1 || true))"
    done
    fail "needs Python 3.11 or newer; found${found:- none}." \
        "Install one, or name it: PYTHON=/path/to/python3 $0"
}

# Fingerprint of what should be installed: the project file and the Python that runs it.
fingerprint() {
    "$1" - "$ROOT/pyproject.toml" <<'PY'
import hashlib, pathlib, sys
text = pathlib.Path(sys.argv[1]).read_bytes()
where = str(pathlib.Path(sys.argv[1]).parent)
print(hashlib.sha256(text + sys.version.encode() + where.encode()).hexdigest())
PY
}

# prepare_env EXTRA: make the environment and install, unless the stamp says it is done.
prepare_env() {
    local extra="$1" wanted stamp log python
    # The set with the checks holds the plain one, so its stamp serves both.
    local stamps=("$VENV/.crossday-test")
    [ -n "$extra" ] || stamps+=("$VENV/.crossday-run")
    if [ -x "$VENV/bin/python" ] && "$VENV/bin/python" -c '' 2>/dev/null; then
        wanted="$(fingerprint "$VENV/bin/python")"
        for stamp in "${stamps[@]}"; do
            if [ -f "$stamp" ] && [ "$(cat "$stamp")" = "$wanted" ]; then
                echo "Environment: $VENV is up to date."
                return 0
            fi
        done
        "$VENV/bin/python" -c 'import sys; sys.exit(sys.version_info < (3, 11))' ||
            fail "$VENV holds $("$VENV/bin/python" --version), older than 3.11; remove that folder"
    fi
    # Missing, or left half made by a run that was cut off.
    if ! "$VENV/bin/python" -c 'import pip' 2>/dev/null; then
        python="$(find_python)" || exit 3
        echo "Environment: making $VENV with $("$python" --version)."
        "$python" -c 'import venv, ensurepip' 2>/dev/null ||
            fail "$python has no venv module; install it (on Debian and Ubuntu:" \
                "apt install python3-venv) and run again"
        "$python" -m venv --clear "$VENV" || fail "could not make $VENV; the reason stands above"
    fi
    echo "Environment: installing the package${extra:+ and what its checks need} (once; minutes)."
    log="$VENV/install.log"
    if ! "$VENV/bin/python" -m pip install --quiet -e "$ROOT${extra:+[$extra]}" >"$log" 2>&1 \
        </dev/null; then
        tail -n 15 "$log" >&2
        fail "installing failed (whole log: $log). A package index must be reachable this once"
    fi
    rm -f "$VENV/.crossday-run" "$VENV/.crossday-test"
    fingerprint "$VENV/bin/python" >"$VENV/.crossday-${extra:-run}"
}
