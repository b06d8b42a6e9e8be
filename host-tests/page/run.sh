#!/usr/bin/env bash
# The page in a browser: installs what it needs, fails where it cannot be had.
set -euo pipefail
cd "$(dirname "$0")"
missing=
command -v chromium >/dev/null || missing="$missing chromium"
command -v node >/dev/null || missing="$missing nodejs"
command -v npm >/dev/null || missing="$missing npm"
if [ -n "$missing" ]; then
    apt-get update -q
    # shellcheck disable=SC2086
    apt-get install -y -q --no-install-recommends $missing
fi
node --version
chromium --version 2>/dev/null
npm ci --no-audit --no-fund --silent
npm test
