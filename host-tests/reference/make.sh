#!/usr/bin/env bash
# Makes every reference number again with ngspice and PyBaMM and compares it with the committed one.
#   make.sh           compare; exit code 1 if a number differs, 2 if a tool is missing or of another version
#   make.sh --write   replace the committed numbers (read `git diff` afterwards)
# REFERENCE_VENV=DIR keeps the Python environment for the next run; without it a scratch one is made and removed.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
missing() { echo "make.sh: $*" >&2; exit 2; }

case "${1:-}" in "" | --write) ;; *) missing "unknown option $1; known: --write" ;; esac
command -v ngspice >/dev/null || missing "ngspice is not installed (Debian package: ngspice)"
found=$(ngspice -v 2>/dev/null | grep -o 'ngspice-[0-9]*' | head -n 1)
[ "$found" = "ngspice-39" ] || missing "ngspice-39 made the numbers, this is ${found:-unknown}"
python=$(command -v python3) || missing "python3 is not installed"
"$python" -c 'import sys, tomllib' 2>/dev/null || missing "python3 must be 3.11 or newer"
"$python" -m venv --help >/dev/null 2>&1 || missing "python3 has no venv (Debian package: python3-venv)"

venv=${REFERENCE_VENV:-}
if [ -z "$venv" ]; then
    venv=$(mktemp -d)
    trap 'rm -rf "$venv"' EXIT
fi
[ -x "$venv/bin/pip" ] || "$python" -m venv "$venv"
"$venv/bin/pip" install --quiet --disable-pip-version-check --requirement "$here/make/requirements.txt"
echo "$found, $("$venv/bin/pip" list --disable-pip-version-check 2>/dev/null | awk '/^(pybamm|pybammsolvers|numpy|scipy|casadi) /{printf "%s %s, ", $1, $2}')$("$python" --version)"
PYTHONDONTWRITEBYTECODE=1 "$venv/bin/python" "$here/make/make.py" "$@"
