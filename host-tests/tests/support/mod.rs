//! Helpers that several test files share.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, dead_code)]

use lampwright::build::diag::InputErrors;

/// A fault as `line:column: message | help`.
pub(crate) fn shown(errors: &InputErrors) -> Vec<String> {
    let one = |e: &lampwright::build::diag::InputError| {
        let at = match e.location() {
            Some((_, line, column)) => format!("{line}:{column}: "),
            None => String::new(),
        };
        format!("{at}{e} | {}", e.help.as_deref().unwrap_or("NO HELP"))
    };
    errors.0.iter().map(one).collect()
}

/// Asserts that there is exactly one fault, at a place, with words in its message and its help.
pub(crate) fn assert_fault(errors: &InputErrors, at: &str, message: &str, help: &str) {
    assert_eq!(difference(errors, at, message, help), None);
}

/// What is other than wanted, see [`assert_fault`]. An empty `at` means a fault without a place.
pub(crate) fn difference(
    errors: &InputErrors,
    at: &str,
    message: &str,
    help: &str,
) -> Option<String> {
    let faults = shown(errors);
    let [fault] = faults.as_slice() else {
        return Some(format!("{} faults: {faults:#?}", faults.len()));
    };
    let (left, right) = fault.split_once(" | ").unwrap();
    let wanted = match at {
        "" => String::new(),
        at => format!("{at}: "),
    };
    let placed = left.starts_with(&wanted) && errors.0[0].place.is_some() != at.is_empty();
    let same = placed && left.contains(message) && right.contains(help);
    (!same).then(|| format!("wanted {at}: {message} | {help}\nfound  {fault}"))
}
