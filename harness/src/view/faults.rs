//! Faults of the input as the page shows them.

use crate::build::diag::{InputError, InputErrors};
use serde_json::{json, Value};

/// Every fault with its place, the line at fault and how to mend it.
pub(super) fn faults_json(errors: &InputErrors) -> Value {
    errors.0.iter().map(fault).collect()
}

fn fault(error: &InputError) -> Value {
    let location = error.location();
    let line_text = error.place.as_ref().and_then(|p| {
        let before = p.source.text.get(..p.span.start)?;
        let line = before.matches('\n').count();
        p.source.text.lines().nth(line).map(str::to_owned)
    });
    let (file, line, column) = match location {
        Some((file, line, column)) => (Some(file.to_string()), Some(line), Some(column)),
        None => (None, None, None),
    };
    json!({
        "message": error.message, "file": file, "line": line, "column": column,
        "text": line_text, "label": error.label, "help": error.help,
    })
}
