#!/usr/bin/env python3
"""Puts faults into the solver, one at a time, and tells which tests see them.

usage: host-tests/mutants/run.py SCRATCH [NUMBER...]

SCRATCH is a folder for a crate that holds `electrical` alone, with every fault of `faults.toml` behind a switch, and for
what is built of it: one build serves all faults. Without numbers every fault is tried. Prints a row of the table in
DEVELOPERS.md for each; exit code 1 if the tests fail without a fault or a fault is seen by none of them.
"""
import json
import os
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
TESTS = [
    "network_properties", "drive_and_copper", "lanes", "staged_lanes", "decades", "supply_collapse",
    "network_faults", "references", "lampwright",
]
LIMIT_S = 300
LIBRARY = """pub mod electrical;
pub mod units {
    pub mod math;
}
static MUTANT: std::sync::OnceLock<usize> = std::sync::OnceLock::new();
fn mutant(number: usize) -> bool {
    let asked = || std::env::var("MUTANT").ok().and_then(|n| n.parse().ok()).unwrap_or(0);
    *MUTANT.get_or_init(asked) == number
}
"""


def dependencies(manifest, names):
    table = tomllib.loads((ROOT / manifest).read_text())
    found = table["dependencies"] | table.get("dev-dependencies", {})
    version = {n: found[n] if isinstance(found[n], str) else found[n]["version"] for n in names}
    features = {n: [] if isinstance(found[n], str) else found[n].get("features", []) for n in names}
    return "".join(f'{n} = {{ version = "{version[n]}", features = {json.dumps(features[n])} }}\n' for n in names)


def write(path, text):
    path.parent.mkdir(parents=True, exist_ok=True)
    if not path.exists() or path.read_text() != text:
        path.write_text(text)


def crate(scratch, mutants):
    """Both crates of the scratch workspace: the library with its switches, and the tests as they stand."""
    library, tests = scratch / "library", scratch / "tests"
    electrical = ROOT / "harness/src/electrical"
    files = {p.relative_to(electrical): p.read_text() for p in electrical.rglob("*.rs")}
    for number, m in enumerate(mutants, 1):
        text = files[Path(m["file"])]
        if text.count(m["was"]) != 1:
            sys.exit(f"run.py: fault {number} ({m['what']}): its text stands {text.count(m['was'])} times in {m['file']}")
        files[Path(m["file"])] = text.replace(m["was"], m["switched"].replace("{on}", f"crate::mutant({number})"))
    for path, text in files.items():
        write(library / "src/electrical" / path, text)
    write(library / "src/lib.rs", LIBRARY)
    write(library / "src/units/math.rs", (ROOT / "harness/src/units/math.rs").read_text())
    own = dependencies("harness/Cargo.toml", ["libm", "multiversion", "thiserror"])
    model = f'lampwright-model = {{ path = "{ROOT / "firmware-model"}" }}\n'
    tried = dependencies("harness/Cargo.toml", ["proptest"]) + model
    head = '[package]\nname = "{}"\nversion = "0.0.0"\nedition = "2021"\n'
    write(library / "Cargo.toml", f"{head.format('lampwright')}[dependencies]\n{own}[dev-dependencies]\n{tried}")
    for name in ["tests", "reference", "REFERENCES.md"]:
        copied = shutil.copytree if (HERE.parent / name).is_dir() else shutil.copy2
        shutil.rmtree(tests / name, ignore_errors=True)
        tests.mkdir(exist_ok=True)
        copied(HERE.parent / name, tests / name)
    write(tests / "src/lib.rs", "")
    listed = "".join(
        f'[[test]]\nname = "{t}"\npath = "tests/{t}{"/main" if t == "references" else ""}.rs"\n' for t in TESTS[:-1]
    )
    used = dependencies("host-tests/Cargo.toml", ["proptest", "serde", "serde_json"])
    head = head.format("mutant-tests") + "autotests = false\n"
    write(tests / "Cargo.toml", f'{head}[dependencies]\nlampwright = {{ path = "../library" }}\n{used}{listed}')
    profile = '[profile.dev]\nopt-level = 1\ndebug = false\n[profile.dev.package."*"]\ndebug = false\n'
    write(scratch / "Cargo.toml", f'[workspace]\nresolver = "2"\nmembers = ["library", "tests"]\n{profile}')
    if not (scratch / "Cargo.lock").exists():
        shutil.copy2(ROOT / "Cargo.lock", scratch / "Cargo.lock")


def build(scratch):
    """The test programs by name."""
    command = ["cargo", "test", "--workspace", "--no-run", "--message-format=json"]
    done = subprocess.run(command, cwd=scratch, stdout=subprocess.PIPE, text=True, check=False)
    if done.returncode:
        sys.exit("run.py: the switched crate does not build")
    lines = (json.loads(line) for line in done.stdout.splitlines())
    made = {m["target"]["name"]: m["executable"] for m in lines if m.get("executable") and m["profile"]["test"]}
    return {t: made[t] for t in TESTS}


def failures(programs, number, folder):
    env = os.environ | {
        "MUTANT": str(number), "CARGO_MANIFEST_DIR": str(folder), "PROPTEST_RNG_SEED": "20261125",
        # What fails needs not be made small, and a test that hangs has seen the fault as well.
        "PROPTEST_MAX_SHRINK_ITERS": "0", "RUST_BACKTRACE": "0",
    }
    found = {}
    for name, program in programs.items():
        try:
            done = subprocess.run([program], cwd=folder, env=env, capture_output=True, text=True, timeout=LIMIT_S)
            lines = [l for l in done.stdout.splitlines() if l.startswith("test ") and l.endswith("FAILED")]
            if done.returncode:
                found[name] = max(1, len(lines))
        except subprocess.TimeoutExpired:
            found[name] = 1
    return found


def main():
    if len(sys.argv) < 2:
        sys.exit("usage: host-tests/mutants/run.py SCRATCH [NUMBER...]")
    scratch = Path(sys.argv[1]).resolve()
    mutants = tomllib.loads((HERE / "faults.toml").read_text())["mutant"]
    crate(scratch, mutants)
    programs = build(scratch)
    if found := failures(programs, 0, scratch / "tests"):
        sys.exit(f"run.py: without any fault these tests fail: {found}")
    unseen = 0
    for number in [int(n) for n in sys.argv[2:]] or range(1, len(mutants) + 1):
        found = failures(programs, number, scratch / "tests")
        unseen += not found
        seen = ", ".join(f"{name} {count}" for name, count in found.items()) or "**none**"
        m = mutants[number - 1]
        print(f"| {number} | {m['file']} | {m['what']} | {seen} |", flush=True)
    return 1 if unseen else 0


if __name__ == "__main__":
    sys.exit(main())
