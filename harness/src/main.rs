//! The `lampwright` command.
fn main() {}
