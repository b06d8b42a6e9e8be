#!/usr/bin/env bash
# Builds the model and the solver as WebAssembly and puts them, compressed, where reports take them from. Needs rustc and
# cargo of Debian's rustc-web/cargo-web with rust-web-src, lld, and binaryen. With `--out FILE` it writes there instead.
set -euo pipefail
cd "$(dirname "$0")"
out="../src/view/page/engine.wasm.gz"
[ "${1:-}" = --out ] && out="$2"
target="${CARGO_TARGET_DIR:-target}"
flags="-C target-feature=+simd128,+bulk-memory"
env PATH="/usr/bin:$PATH" RUSTC=/usr/bin/rustc RUSTC_BOOTSTRAP=1 RUSTFLAGS="$flags" \
    CARGO_TARGET_DIR="$target" CARGO_TARGET_WASM32_UNKNOWN_UNKNOWN_LINKER=wasm-ld \
    /usr/bin/cargo build --release --locked --target wasm32-unknown-unknown -Zbuild-std=std,panic_abort
built="$target/wasm32-unknown-unknown/release/lampwright_wasm.wasm"
small="$(mktemp)"
trap 'rm -f "$small"' EXIT
wasm-opt -Oz --enable-simd --enable-bulk-memory --enable-sign-ext --enable-nontrapping-float-to-int \
    --enable-mutable-globals --strip-debug --strip-producers "$built" -o "$small"
gzip -9 -n -c "$small" > "$out"
printf '%s: %d bytes, compressed %d\n' "$out" "$(stat -c %s "$small")" "$(stat -c %s "$out")"
