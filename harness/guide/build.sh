#!/usr/bin/env bash
# Builds the guide into the folder given (default: target/guide) with every link checked. Needs mkdocs (PyPI), whose
# version is fixed in requirements.txt.
set -euo pipefail
here="$(cd "$(dirname "$0")" && pwd)"
out="${1:-$here/../../target/guide}"
work="$(mktemp -d)"
trap 'rm -rf "$work"' EXIT
cp -r "$here/mkdocs.yml" "$here/pages" "$work/"
# The formats' reference lives beside the code that reads them; the guide shows that very file.
cp "$here/../FORMATS.md" "$work/pages/formats.md"
mkdocs build --quiet --strict --config-file "$work/mkdocs.yml" --site-dir "$work/site"
rm -rf "$out"
mkdir -p "$(dirname "$out")"
mv "$work/site" "$out"
echo "guide: $(find "$out" -name '*.html' | wc -l) pages in $out"
