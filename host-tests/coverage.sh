#!/usr/bin/env bash
# How much of the project's own code its tests run: lines and regions by LLVM's source-based coverage.
#
#   host-tests/coverage.sh [OUT]     a table into OUT/coverage.txt, uncovered lines into OUT/uncovered.txt
#                                    (default: target/coverage)
#
# Needs the llvm-profdata and llvm-cov of the compiler's own LLVM: `rustup component add llvm-tools`, or a package such as
# llvm-22. Counters are put into the project's own crates alone, so that the tests take little longer than usual.
# TESTS holds the arguments of `cargo test` (default: --workspace).
set -euo pipefail
here="$(cd "$(dirname "$0")/.." && pwd)"
cd "$here"
out="${1:-target/coverage}"
mkdir -p "$out"
out="$(realpath "$out")"
major="$(rustc -vV | sed -n 's/^LLVM version: \([0-9]*\).*/\1/p')"
tool() {
    local own
    own="$(rustc --print sysroot)/lib/rustlib/$(rustc -vV | sed -n 's/^host: //p')/bin/$1"
    if [ -x "$own" ]; then echo "$own"; else command -v "$1-$major"; fi
}
profdata="$(tool llvm-profdata)"
cov="$(tool llvm-cov)"

export CARGO_TARGET_DIR="$out/build" RUSTC_WRAPPER="$here/host-tests/counted"
export LLVM_PROFILE_FILE="$out/profiles/%p-%8m.profraw"
rm -rf "$out/profiles"
read -ra tests <<<"${TESTS:---workspace}"
cargo test --locked --no-fail-fast "${tests[@]}" >"$out/tests.txt" 2>&1 || echo "some tests fail with counters: $out/tests.txt" >&2
cargo test --locked --no-run --message-format json "${tests[@]}" 2>/dev/null |
    python3 -c '
import json, sys
for line in sys.stdin:
    found = json.loads(line)
    if found.get("executable"):
        print(found["executable"])
' | sort -u >"$out/programs.txt"
# Tests kill programs, which then leave no whole profile.
"$profdata" merge --sparse --failure-mode=all --output "$out/all.profdata" "$out"/profiles/*.profraw
objects=("$(head -n 1 "$out/programs.txt")")
while read -r program; do objects+=(--object "$program"); done < <(tail -n +2 "$out/programs.txt")
only=("$here/firmware-model/src" "$here/harness/src")
"$cov" report "${objects[@]}" --instr-profile "$out/all.profdata" "${only[@]}" >"$out/coverage.txt"
"$cov" export "${objects[@]}" --instr-profile "$out/all.profdata" --format lcov "${only[@]}" >"$out/lines.lcov"
awk -F'[:,]' '/^SF:/ { file = $2 } /^DA:/ && $3 == 0 { print file ":" $2 }' "$out/lines.lcov" | sed "s|$here/||" >"$out/uncovered.txt"
tail -n 1 "$out/coverage.txt"
