//! `pattern`: a preset as a capture of the data lines, for a pattern generator or a test.

use crate::build::diag::{InputError, InputErrors};
use crate::cli::args::PatternArgs;
use crate::cli::capture::lines_of;
use crate::cli::exit::Exit;
use crate::cli::load::load;
use crate::cli::verbs::profile::single;
use crate::cli::VerbError;
use crate::profile::capture::{render, RenderError, RenderOptions};
use crate::report::output::Output;
use crate::units::{parse, Quantity, Ratio, Time};
use std::io::Write;

/// Runs the verb.
pub(in crate::cli) fn run(args: &PatternArgs) -> Result<Exit, VerbError> {
    let options = RenderOptions {
        from_s: typed::<Time>("--from", &args.from)?,
        length_s: typed::<Time>("--length", &args.length)?,
        jitter: typed::<Ratio>("--jitter", &args.jitter)?,
        seed: args.seed,
    };
    let loaded = load(&args.prop)?;
    let play = single(&loaded)?;
    let lines = lines_of(&loaded.prop)?;
    let failed = |error| VerbError::Write {
        name: args.out.display().to_string(),
        error,
    };
    let mut output = Output::create(&args.out).map_err(failed)?;
    let mut stream = play.open(&loaded.prop, loaded.cap)?;
    let rendered = match render(stream.as_mut(), &lines, options, &mut output) {
        Ok(rendered) => rendered,
        Err(RenderError::Input(errors)) => return Err(errors.into()),
        Err(RenderError::Write(error)) => return Err(failed(error)),
    };
    if rendered.frames == 0 {
        let message = "no frame lies between --from and --from + --length";
        let help = "the trace is shorter; lower --from";
        return Err(InputErrors::from(InputError::whole(message).help(help)).into());
    }
    output.finish().map_err(failed)?;
    let late = match rendered.late {
        0 => String::new(),
        n => format!("; {n} had to wait until the one before was sent, as check's frame-time says"),
    };
    let _ = writeln!(
        anstream::stderr(),
        "{} frames, {:.3} s{late}",
        rendered.frames,
        rendered.length_ns as f64 / 1e9
    );
    Ok(Exit::Holds)
}

/// A quantity of at least 0.
fn typed<Q: Quantity>(option: &str, text: &str) -> Result<f64, InputErrors> {
    let wrong = |why: String| {
        InputErrors::from(
            InputError::whole(format!("{option}: {why}"))
                .help(format!("write {option} \"{}\"", Q::EXAMPLE)),
        )
    };
    let value = parse::<Q>(text).map_err(|e| wrong(e.to_string()))?.si();
    if !value.is_finite() || value < 0.0 {
        return Err(wrong(format!("{text} lies below 0")));
    }
    Ok(value)
}
