#!/bin/sh
# nostd.sh [TARGET]   proves that the model needs no std, no heap, no floating point.
#
# 1. Links it on the host beside a panic handler of its own: std anywhere below would clash.
# 2. Asks the dependency tree for a feature "std".
# 3. Builds it for TARGET (default thumbv6m-none-eabi: Cortex-M0), with a toolchain that has the
#    target's core (rustup target add TARGET), else with the distribution's compiler and library
#    sources (Debian: apt-get install rustc-web cargo-web rust-web-src lld).
# 4. Searches the object code for floating point, heap and panics.
# Exit code 0: all hold; 1: one does not; 3: no toolchain here builds for TARGET.
set -eu
here=$(CDPATH= cd -- "$(dirname -- "$0")" && pwd)
target=${1:-thumbv6m-none-eabi}
crate=$here/nostd-check
nm=${NM:-}
for tool in llvm-nm llvm-nm-19 llvm-nm-16 llvm-nm-15 llvm-nm-14 arm-none-eabi-nm; do
    [ -n "$nm" ] || ! command -v $tool >/dev/null 2>&1 || nm=$tool
done
failed=0
ok() { if [ "$2" = 0 ]; then echo "ok    $1"; else echo "FAIL  $1"; failed=1; fi; }

cd "$crate"
for features in "" defmt; do
    if cargo build --quiet --locked --features "$features"; then ok "links without std on the host (features: ${features:-none})" 0
    else ok "links without std on the host (features: ${features:-none})" 1; fi
done
std=$(cargo tree --locked --features defmt -e normal,features,no-proc-macro | grep -c 'feature "std"' || true)
ok "no dependency has its std feature on (found $std)" "$std"

if ls "$(rustc --print target-libdir --target "$target" 2>/dev/null)"/libcore-*.rlib >/dev/null 2>&1; then
    rustc --version
    cargo build --quiet --release --locked --target "$target"
else
    deb=${FW_RUSTC:-/usr/bin/rustc} debcargo=${FW_CARGO:-/usr/bin/cargo}
    if ! [ -x "$deb" ] || ! [ -x "$debcargo" ] || ! [ -d "$("$deb" --print sysroot)/lib/rustlib/src/rust/library/core" ]; then
        echo "nostd.sh: no toolchain here builds for $target" >&2
        echo "  rustup target add $target      or, on Debian:" >&2
        echo "  apt-get install rustc-web cargo-web rust-web-src lld" >&2
        exit 3
    fi
    echo "$("$deb" --version), core from source"
    env PATH="$(dirname "$deb"):$PATH" RUSTC="$deb" RUSTC_BOOTSTRAP=1 \
        "$debcargo" build --quiet --release --locked --target "$target" -Zbuild-std=core
fi
ok "builds for $target" 0

if [ -z "$nm" ]; then
    echo "FAIL  no nm found for $target (apt-get install llvm); set NM"
    exit 1
fi
# Only the member of the archive that holds the crate itself after link-time optimisation: other
# members are the compiler's own helpers, used or not.
lib=$crate/target/$target/release/libnostd_check.a
symbols=$("$nm" "$lib" 2>/dev/null | awk '/^nostd_check|^.*nostd_check.*:$/ {own=1; next} /:$/ {own=0} own')
[ -n "$symbols" ] || { echo "FAIL  no symbols read from $lib"; exit 1; }
for entry in play button_poll motion limit tick send; do
    echo "$symbols" | grep -q " T $entry\$" || { echo "FAIL  the entry point $entry is not in the object code"; exit 1; }
done
count() { echo "$symbols" | grep -c -E "$1" || true; }
float=$(count '__aeabi_([fd]|[iul]+2[fd])|__(add|sub|mul|div|cmp)[sd]f|__(fix|float)[a-z]*[sd]')
heap=$(count '__rust_alloc|__rust_no_alloc|malloc')
panics=$(count 'panic')
ok "no floating point (found $float)" "$float"
ok "no heap (found $heap)" "$heap"
ok "no panic (found $panics)" "$panics"
[ "$panics" = 0 ] || echo "$symbols" | grep panic
exit $failed
