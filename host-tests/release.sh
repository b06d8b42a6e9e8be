#!/usr/bin/env bash
# Tries the archive that harness/release.sh makes: its checksum, its bill of materials, and in a root that holds the
# archive alone (no shell, no library, no /etc, an empty home) `doctor` and the main job. Needs the rights to change the
# root, or `unshare` for those who have a user namespace.
#
#   host-tests/release.sh ARCHIVE.tar.gz
set -euo pipefail
archive="$(realpath "$1")"
(cd "$(dirname "$archive")" && sha256sum --check --quiet "$(basename "$archive").sha256")
root="$(mktemp -d)"
trap 'rm -rf "$root"' EXIT
tar -xzf "$archive" -C "$root" --strip-components=1
mkdir -p "$root/tmp"

inside() {
    if [ "$(id -u)" = 0 ]; then
        env -i "$(command -v chroot)" "$root" "$@"
    else
        unshare --user --map-root-user env -i "$(command -v chroot)" "$root" "$@"
    fi
}

inside /lampwright doctor
code=0
inside /lampwright check /traces/lantern-staff >"$root/report.txt" || code=$?
[ "$code" -le 1 ] || { echo "check ended with $code" >&2; exit 1; }
grep -q "Parade lantern staff" "$root/report.txt"
pages="$(find "$root/man/man1" -name '*.1' | wc -l)"
for shell in lampwright.bash _lampwright lampwright.fish; do
    grep -q unpack "$root/completions/$shell"
done
python3 - "$root" <<'PY'
import hashlib, json, pathlib, sys
root = pathlib.Path(sys.argv[1])
bill = json.loads((root / "lampwright.cdx.json").read_text())
assert bill["bomFormat"] == "CycloneDX", bill.keys()
own = hashlib.sha256((root / "lampwright").read_bytes()).hexdigest()
assert bill["metadata"]["component"]["hashes"][0]["content"] == own
assert all("licenses" in c for c in bill["components"]), "a crate without a licence"
print(f"bill of materials: {len(bill['components'])} crates, each with its licence")
PY
echo "archive: $pages man pages, works in an empty root ($(stat -c %s "$root/lampwright") bytes of program)"
