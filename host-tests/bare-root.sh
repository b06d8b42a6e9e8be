#!/usr/bin/env bash
# The README's commands, and nothing else, from a fresh clone and by somebody with nothing: an empty home, no variables
# but PATH, a user without rights where this is run by root.
#
#   host-tests/bare-root.sh          both commands (the second is the whole test suite)
#   host-tests/bare-root.sh first    only the main job
#
# TOOLS=DIR:... names the folders with cargo and the linker, which that user must be able to read (default: /usr/bin:/bin).
set -euo pipefail
here="$(cd "$(dirname "$0")/.." && pwd)"
room="$(mktemp -d)"
trap 'rm -rf "$room"' EXIT
mkdir "$room/home"
git clone --quiet --no-hardlinks "$here" "$room/lampwright"
as=()
if [ "$(id -u)" = 0 ]; then
    chown -R 65534:65534 "$room"
    as=(setpriv --reuid 65534 --regid 65534 --clear-groups)
fi
chmod 755 "$room"
cd "$room/lampwright"

# The first block of shell in the README, without its remarks.
commands=()
while read -r line; do
    commands+=("${line%% #*}")
done < <(sed -n '/^```sh$/,/^```$/p' README.md | sed '/^```/d' | head -n 2)
[ "${#commands[@]}" = 2 ] || { echo "the README begins with ${#commands[@]} commands, not two" >&2; exit 1; }
[ "${1:-}" != first ] || commands=("${commands[0]}")

for command in "${commands[@]}"; do
    echo "== $command"
    start=$SECONDS
    code=0
    "${as[@]}" env -i HOME="$room/home" PATH="${TOOLS:-/usr/bin:/bin}" sh -c "$command" || code=$?
    # The demo prop's bright preset fails a check until it is capped: that is a verdict, not an error.
    case "$command" in
    *" check "*) most=1 ;;
    *) most=0 ;;
    esac
    [ "$code" -le "$most" ] || { echo "ended with $code" >&2; exit 1; }
    echo "== ended with $code after $((SECONDS - start)) s"
done
