#!/bin/sh
# How fast frames are solved and played, and how that compares with other ways to solve the same strip.
#
# usage: host-tests/reference/speed.sh SCRATCH
#
# Needs cargo, cc, python3 and ngspice. SCRATCH is a folder for what is built and installed on the way; nothing is
# written elsewhere but cargo's own target folder. Everything that is compared runs on one core, on the same 512 random
# frames, and must agree with the scalar solver on the supply of every pixel to 1 uV before it is timed. Rates are of
# the fastest run: on a machine that does other work as well, the least disturbed one.
set -eu
cd "$(dirname "$0")/../.."
here=host-tests/reference/speed
[ $# -eq 1 ] || { sed -n '4p' "$0" | cut -c3-; exit 2; }
mkdir -p "$1"
scratch=$(cd "$1" && pwd)
one_core() { if command -v taskset >/dev/null; then taskset -c 0 "$@"; else "$@"; fi; }

cargo build --release --quiet -p lampwright --bin lampwright -p lampwright-host-tests --example solve_speed
[ -x "$scratch/venv/bin/python" ] || python3 -m venv "$scratch/venv"
"$scratch/venv/bin/pip" install --quiet numpy==2.4.6 scipy==1.17.1
cc -O3 -march=native -Wall -o "$scratch/newton" "$here/newton.c" -lm
python=$scratch/venv/bin/python
export OPENBLAS_NUM_THREADS=1 OMP_NUM_THREADS=1

echo "== Lampwright"
target/release/examples/solve_speed "$scratch" | tee "$scratch/own.txt"

echo
echo "== The same frames elsewhere: frames/s, largest disagreement in V, Newton steps a frame"
for supply in ample:8.0 starved:3.7; do
    name=${supply%%:*} emf=${supply##*:}
    set -- "$emf" "$scratch/frames.bin" "$scratch/$name.bin"
    lanes=$(sed -n "s/^$name *side by side *\([0-9]*\).*/\1/p" "$scratch/own.txt")
    for way in c numpy ngspice; do
        case $way in
            c) found=$(one_core "$scratch/newton" "$@") ;;
            numpy) found=$(one_core "$python" "$here/banded.py" "$@") ;;
            ngspice) found=$(one_core "$python" "$here/circuit.py" "$@" "$scratch") ;;
        esac
        echo "$name $way: $found; side by side is $((lanes / ${found%% *})) times as fast"
    done
done

echo
echo "== An hour of 60 frames/s, 144 pixels, rendered, solved twice a frame, written as CSV: wall s, processor s, MB"
for preset in one-layer three-layers; do
    for cores in one both; do
        set -- "$python" "$here/measure.py" target/release/lampwright profile "$here/hour" \
            --preset $preset --cues "$here/hour/cues/hour.csv" --soc "90 %" --out "$scratch/$preset.csv"
        if [ $cores = one ]; then found=$(one_core "$@"); else found=$("$@"); fi
        echo "$preset, $cores: $found"
    done
done

echo
echo "== Memory: an hour and a day (5,184,000 frames): wall s, processor s, MB"
for length in hour day; do
    found=$("$python" "$here/measure.py" target/release/lampwright profile "$here/hour" \
        --preset one-layer --cues "$here/hour/cues/$length.csv" --soc "90 %")
    echo "$length: $found"
done
