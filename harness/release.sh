#!/usr/bin/env bash
# Builds the archive of a release: a static binary for Linux, man pages, completions, licences, a bill of materials
# (CycloneDX 1.6, checked against its schema), and beside it the SHA-256 of the archive.
#
#   harness/release.sh [OUT]          into OUT (default: target/release-archive)
#   BINARY=FILE harness/release.sh    packs that program in place of one built here, to try the script
#
# The C library is bound in, so that the binary asks nothing of the system it runs on but its kernel. Only the last
# step of the build differs for that: everything below is the ordinary release build's.
set -euo pipefail
here="$(cd "$(dirname "$0")/.." && pwd)"
cd "$here"
out="${1:-target/release-archive}"
version="$(sed -n 's/^version = "\(.*\)"$/\1/p' Cargo.toml | head -n 1)"
triple="$(rustc -vV | sed -n 's/^host: //p')"
name="lampwright-$version-$triple"
target="${CARGO_TARGET_DIR:-target}"

work="$(mktemp -d)"
trap 'rm -rf "$work"' EXIT
stage="$work/$name"
mkdir -p "$stage"

if [ -n "${BINARY:-}" ]; then
    cp "$BINARY" "$stage/lampwright"
else
    cargo rustc --quiet --locked --release -p lampwright --bin lampwright -- -C target-feature=+crt-static -C strip=symbols
    cp "$target/release/lampwright" "$stage/"
fi
if readelf -d "$stage/lampwright" 2>/dev/null | grep -q NEEDED; then
    echo "the binary still needs libraries of the system" >&2
    exit 1
fi

"$stage/lampwright" man --out "$stage/man/man1" >/dev/null
mkdir "$stage/completions"
"$stage/lampwright" completions bash >"$stage/completions/lampwright.bash"
"$stage/lampwright" completions zsh >"$stage/completions/_lampwright"
"$stage/lampwright" completions fish >"$stage/completions/lampwright.fish"
cp README.md CHANGELOG.md LICENSE-MIT LICENSE-APACHE "$stage/"
cp -r traces "$stage/"

tools="$work/tools"
python3 -m venv "$tools"
"$tools/bin/pip" install -q --disable-pip-version-check -r harness/release/requirements.txt
cargo metadata --locked --format-version 1 --filter-platform "$triple" >"$work/metadata.json"
"$tools/bin/python" harness/release/bill.py "$work/metadata.json" "$stage/lampwright" "$stage"

mkdir -p "$out"
# The same bytes from the same files: sorted, no owner, one time for all.
time="$(git log -1 --format=%ct 2>/dev/null || echo 0)"
tar --sort=name --owner=0 --group=0 --numeric-owner --mtime="@$time" -C "$work" -cf - "$name" | gzip -n -9 >"$work/$name.tar.gz"
mv "$work/$name.tar.gz" "$out/"
(cd "$out" && sha256sum "$name.tar.gz" >"$name.tar.gz.sha256")
echo "$out/$name.tar.gz: $(stat -c %s "$out/$name.tar.gz") bytes"
