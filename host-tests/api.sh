#!/bin/sh
# api.sh            holds what both crates offer against the committed lists host-tests/api/*.txt
# api.sh --write    writes the lists anew
#
# With the features that the workspace turns on.
#
# A line that is gone or reads otherwise breaks what stands on it: raise the version (below 1.0 its second number), say so
# in CHANGELOG.md, then write the lists. A new line is an addition. Not looked at: derived traits and behaviour, which has its tests.
# Exit code 0: the same; 1: not.
set -eu
cd "$(dirname "$0")/.."
# The whole workspace: with the features, and so the compiled dependencies, of all other builds.
RUSTDOC=$PWD/host-tests/api/rustdoc cargo doc --quiet --locked --no-deps --lib --workspace
found=0
for crate in lampwright_model lampwright; do
    list=host-tests/api/$crate.txt
    python3 host-tests/api/list.py "${CARGO_TARGET_DIR:-target}/doc/$crate.json" >"$list.new"
    if [ "${1:-}" = --write ] || cmp -s "$list" "$list.new"; then
        mv "$list.new" "$list"
        echo "$crate: $(wc -l <"$list") public items"
    else
        diff -U0 "$list" "$list.new" | grep '^[-+][^-+]' || true
        rm "$list.new"
        found=1
    fi
done
exit $found
