//! What is wrong with an input, where, and how to mend it.

use miette::{Diagnostic, LabeledSpan, SourceCode};
use std::cell::RefCell;
use std::collections::HashSet;
use std::fmt;
use std::ops::Range;
use std::sync::Arc;

/// How many faults of one reading are shown.
const MOST_FAULTS: usize = 100;

/// A text and the name it is known by; cheap to clone.
#[derive(Debug, Clone)]
pub struct Source {
    /// The path as the user would type it, or a name such as `catalogue:cells.toml`.
    pub name: Arc<str>,
    /// The whole text, or the piece of it at hand.
    pub text: Arc<str>,
    /// Lines and columns before the text where it is a piece of something too long to keep; 0, 0
    /// for a whole text.
    pub before: (usize, usize),
}

impl Source {
    /// Names a text.
    pub fn new(name: impl Into<Arc<str>>, text: impl Into<Arc<str>>) -> Self {
        Self {
            name: name.into(),
            text: text.into(),
            before: (0, 0),
        }
    }

    /// Names a piece of a text of which `lines` lines came before, and `columns` characters of the
    /// piece's first line.
    pub fn piece(
        name: impl Into<Arc<str>>,
        text: impl Into<Arc<str>>,
        lines: usize,
        columns: usize,
    ) -> Self {
        Self {
            before: (lines, columns),
            ..Self::new(name, text)
        }
    }

    /// One-based line and column (in characters) of a byte offset.
    pub fn line_column(&self, offset: usize) -> (usize, usize) {
        let mut end = offset.min(self.text.len());
        while !self.text.is_char_boundary(end) {
            end -= 1;
        }
        let before = self.text.get(..end).unwrap_or_default();
        let line = before.matches('\n').count() + 1;
        let column = before
            .rsplit('\n')
            .next()
            .unwrap_or_default()
            .chars()
            .count()
            + 1;
        self.in_whole(line, column)
    }

    /// A line and column of this text as one of the whole that it is a piece of.
    fn in_whole(&self, line: usize, column: usize) -> (usize, usize) {
        let (lines, columns) = self.before;
        let shift = if line == 1 { columns } else { 0 };
        (line + lines, column + shift)
    }
}

/// A place in a source: byte range.
#[derive(Debug, Clone)]
pub struct Place {
    /// The text the range counts in.
    pub source: Source,
    /// Bytes from start to before end.
    pub span: Range<usize>,
}

/// One fault of the input.
#[derive(Debug, Clone)]
pub struct InputError {
    /// What is wrong, in one sentence without a full stop.
    pub message: String,
    /// Where; `None` when a whole file is missing or unreadable.
    pub place: Option<Place>,
    /// The words written under the offending text.
    pub label: String,
    /// What to write instead.
    pub help: Option<String>,
}

impl InputError {
    /// A fault at a place in a text.
    pub fn at(place: Place, message: impl Into<String>, label: impl Into<String>) -> Self {
        Self {
            message: message.into(),
            place: Some(place),
            label: label.into(),
            help: None,
        }
    }

    /// A fault of a file as a whole.
    pub fn whole(message: impl Into<String>) -> Self {
        Self {
            message: message.into(),
            place: None,
            label: String::new(),
            help: None,
        }
    }

    /// Adds how to mend it.
    #[must_use]
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }

    /// What the fault is sorted by: file and offset; a fault without a place comes first.
    fn spot(&self) -> Option<(Arc<str>, usize, usize)> {
        let place = self.place.as_ref()?;
        let lines_before = place.source.before.0;
        Some((place.source.name.clone(), lines_before, place.span.start))
    }

    /// File, one-based line and column, where known.
    pub fn location(&self) -> Option<(Arc<str>, usize, usize)> {
        let place = self.place.as_ref()?;
        let (line, column) = place.source.line_column(place.span.start);
        Some((place.source.name.clone(), line, column))
    }
}

impl fmt::Display for InputError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for InputError {}

impl Diagnostic for InputError {
    fn help<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        self.help
            .as_ref()
            .map(|h| Box::new(h) as Box<dyn fmt::Display + 'a>)
    }

    fn source_code(&self) -> Option<&dyn SourceCode> {
        self.place.as_ref().map(|p| p as &dyn SourceCode)
    }

    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        let place = self.place.as_ref()?;
        let label = (!self.label.is_empty()).then(|| self.label.clone());
        let span = place.span.start..place.span.end.max(place.span.start);
        Some(Box::new(std::iter::once(
            LabeledSpan::new_primary_with_span(label, span),
        )))
    }
}

impl SourceCode for Place {
    fn read_span<'a>(
        &'a self,
        span: &miette::SourceSpan,
        before: usize,
        after: usize,
    ) -> Result<Box<dyn miette::SpanContents<'a> + 'a>, miette::MietteError> {
        let found = self.source.text.read_span(span, before, after)?;
        // miette counts from 0.
        let (line, column) = self.source.in_whole(found.line() + 1, found.column() + 1);
        Ok(Box::new(miette::MietteSpanContents::new_named(
            self.source.name.to_string(),
            found.data(),
            *found.span(),
            line - 1,
            column - 1,
            found.line_count(),
        )))
    }
}

/// All faults found in one go.
#[derive(Debug, Clone, Default)]
pub struct InputErrors(pub Vec<InputError>);

impl fmt::Display for InputErrors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, error) in self.0.iter().enumerate() {
            if i > 0 {
                writeln!(f)?;
            }
            match error.location() {
                Some((file, line, column)) => write!(f, "{file}:{line}:{column}: {error}")?,
                None => write!(f, "{error}")?,
            }
        }
        Ok(())
    }
}

impl std::error::Error for InputErrors {}

impl From<InputError> for InputErrors {
    fn from(error: InputError) -> Self {
        Self(vec![error])
    }
}

/// Collects faults while reading goes on, so that one run names them all.
#[derive(Debug, Default)]
pub struct Sink(RefCell<Vec<InputError>>);

impl Sink {
    /// An empty collection.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a fault.
    pub fn push(&self, error: InputError) {
        self.0.borrow_mut().push(error);
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.0.borrow().len()
    }

    /// Whether nothing is wrong so far.
    pub fn is_empty(&self) -> bool {
        self.0.borrow().is_empty()
    }

    /// `value` if nothing is wrong, else the faults: in the order of the text, each once, and no more than
    /// a person would read.
    ///
    /// # Errors
    /// The faults collected so far.
    pub fn finish<T>(self, value: T) -> Result<T, InputErrors> {
        let mut errors = self.0.into_inner();
        if errors.is_empty() {
            return Ok(value);
        }
        let mut seen = HashSet::new();
        errors.retain(|e| seen.insert((e.spot(), e.message.clone())));
        errors.sort_by_key(InputError::spot);
        let more = errors.len().saturating_sub(MOST_FAULTS);
        if more > 0 {
            errors.truncate(MOST_FAULTS);
            errors.push(
                InputError::whole(format!("{more} more faults are not shown"))
                    .help("mend the first ones; many of the others may follow from them"),
            );
        }
        Err(InputErrors(errors))
    }
}

/// The candidate nearest to `typed`, if it is near enough to be meant.
pub fn near_miss<'a>(
    typed: &str,
    candidates: impl IntoIterator<Item = &'a str>,
) -> Option<&'a str> {
    candidates
        .into_iter()
        .map(|c| {
            (
                strsim::jaro_winkler(&typed.to_lowercase(), &c.to_lowercase()),
                c,
            )
        })
        .filter(|(score, _)| *score > 0.8)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, c)| c)
}
