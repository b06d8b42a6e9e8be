//! Puts the memory map of the core where the linker finds it, and passes the linker its scripts, so that no
//! configuration of cargo is needed.
use std::path::PathBuf;
use std::{env, fs};

fn main() {
    println!("cargo:rerun-if-changed=memory");
    println!("cargo:rerun-if-changed=build.rs");
    let target = env::var("TARGET").expect("cargo names the target");
    let core = target.split('-').next().unwrap_or_default();
    if !core.starts_with("thumb") {
        return;
    }
    let out = PathBuf::from(env::var("OUT_DIR").expect("cargo names the folder"));
    fs::copy(format!("memory/{core}.x"), out.join("memory.x")).expect("the core has a memory map");
    println!("cargo:rustc-link-search={}", out.display());
    for argument in ["--nmagic", "-Tlink.x", "-Tdefmt.x"] {
        println!("cargo:rustc-link-arg-bins={argument}");
    }
}
