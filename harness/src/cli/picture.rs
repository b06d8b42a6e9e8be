//! Writing a picture to the file a user named.

use super::VerbError;
use crate::build::diag::{InputError, InputErrors};
use crate::report::output::Output;
use crate::report::picture::to_png;
use std::io::Write as _;
use std::path::Path;

/// Refuses a file whose ending says neither SVG nor PNG, before the work starts.
pub(super) fn check_ending(path: Option<&Path>) -> Result<(), VerbError> {
    let ending = path.map(|p| p.extension().and_then(|e| e.to_str()).unwrap_or_default());
    match ending {
        None | Some("svg" | "png") => Ok(()),
        Some(_) => {
            let error = InputError::whole("--picture must name a file that ends in .svg or .png");
            Err(InputErrors::from(error.help("write --picture map.svg")).into())
        }
    }
}

/// Writes an SVG text as SVG or PNG, as the ending says.
pub(super) fn write(path: &Path, svg: &str) -> Result<(), VerbError> {
    let fail = |error| VerbError::Write {
        name: path.display().to_string(),
        error,
    };
    let mut out = Output::create(path).map_err(fail)?;
    if path.extension().is_some_and(|e| e == "png") {
        let png = to_png(svg, 1.0).map_err(|e| VerbError::Tool(e.to_string()))?;
        out.write_all(&png).map_err(fail)?;
    } else {
        out.write_all(svg.as_bytes()).map_err(fail)?;
    }
    out.finish().map_err(fail)
}
