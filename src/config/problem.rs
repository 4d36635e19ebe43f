//! What is wrong with a file: each problem with its place, its reason and its remedy, all at once.
//!
//! Never here: knowing settings; how a problem looks on screen (that is `render`).
//! Promises: problems of one file come in the order of its lines; a refused file lists them all.

use std::cell::RefCell;
use std::fmt;
use std::ops::Range;
use std::sync::Arc;

use super::source::{Position, Source};

/// How much a problem weighs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// The file is refused.
    Error,
    /// The file is taken, and somebody should look.
    Warning,
}

/// What a file is read for; some doubts are refused for real clients and only shown on paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Purpose {
    /// Real clients.
    Serve,
    /// A rehearsal: the clinic wants to see what would happen.
    Rehearse,
}

/// One thing that is wrong or doubtful.
#[derive(Clone, PartialEq, Eq)]
pub struct Problem {
    pub(super) severity: Severity,
    pub(super) source: Arc<Source>,
    pub(super) span: Option<Range<usize>>,
    pub(super) what: String,
    pub(super) label: String,
    pub(super) related: Vec<(Range<usize>, String)>,
    pub(super) why: Option<String>,
    pub(super) help: Option<String>,
    /// Whether it says that something is missing; where the syntax is broken, it may be there.
    pub(super) for_absence: bool,
}

impl Problem {
    /// Whether the file is refused because of it.
    pub fn is_error(&self) -> bool {
        self.severity == Severity::Error
    }

    /// The name of the file.
    pub fn file(&self) -> &str {
        self.source.name()
    }

    /// Where it stands, unless it concerns the file as a whole.
    pub fn position(&self) -> Option<Position> {
        self.span.as_ref().map(|span| self.source.position(span.start))
    }

    /// What is wrong, in one line.
    pub fn what(&self) -> &str {
        &self.what
    }

    /// Why it matters, where there is more to say.
    pub fn why(&self) -> Option<&str> {
        self.why.as_deref()
    }

    /// What would be right, where that is known.
    pub fn help(&self) -> Option<&str> {
        self.help.as_deref()
    }
}

/// Prints the place and the weight only: the words may quote what a person wrote.
impl fmt::Debug for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Problem")
            .field("severity", &self.severity)
            .field("file", &self.file())
            .field("position", &self.position())
            .finish_non_exhaustive()
    }
}

/// All problems of one reading, file by file in the order of their lines. `Display` shows them in
/// full, without colour.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Problems {
    list: Vec<Problem>,
}

impl Problems {
    /// The problems, file by file in the order of their lines.
    pub fn problems(&self) -> &[Problem] {
        &self.list
    }

    /// Whether there is nothing to say.
    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    pub(super) fn any_error(&self) -> bool {
        self.list.iter().any(Problem::is_error)
    }

    pub(super) fn append(&mut self, later: Self) {
        self.list.extend(later.list);
    }

    /// Puts the problems of one file into the order of its lines.
    pub(super) fn sort(&mut self) {
        self.list.sort_by_key(|problem| problem.span.as_ref().map_or(0, |span| span.start));
    }

    pub(super) fn keep(&mut self, keep: impl FnMut(&Problem) -> bool) {
        self.list.retain(keep);
    }
}

impl std::error::Error for Problems {}

/// A value that was read, beside what is doubtful about it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Checked<T> {
    /// What the file says.
    pub value: T,
    /// Warnings only; empty where there is nothing to say.
    pub warnings: Problems,
}

impl<T> Checked<T> {
    /// The value, where no problem refuses it.
    pub(super) fn unless_refused(value: Option<T>, problems: Problems) -> Result<Self, Problems> {
        match value {
            Some(value) if !problems.any_error() => Ok(Self { value, warnings: problems }),
            _ => {
                assert!(problems.any_error(), "a file was refused without a reason");
                Err(problems)
            }
        }
    }
}

/// Collects the problems of one file while it is read.
pub(super) struct Report {
    source: Arc<Source>,
    purpose: Purpose,
    list: RefCell<Vec<Problem>>,
}

impl Report {
    pub(super) fn new(source: &Arc<Source>, purpose: Purpose) -> Self {
        Self { source: Arc::clone(source), purpose, list: RefCell::new(Vec::new()) }
    }

    /// Records an error at a place, or about the whole file; the rest is filled in on the note.
    pub(super) fn error(&self, span: impl Into<Option<Range<usize>>>, what: String) -> Note<'_> {
        self.note(Severity::Error, span.into(), what)
    }

    /// Records a warning.
    pub(super) fn warning(&self, span: impl Into<Option<Range<usize>>>, what: String) -> Note<'_> {
        self.note(Severity::Warning, span.into(), what)
    }

    /// Records what is refused for real clients and only a warning in a rehearsal.
    pub(super) fn doubt(&self, span: impl Into<Option<Range<usize>>>, what: String) -> Note<'_> {
        let severity = match self.purpose {
            Purpose::Serve => Severity::Error,
            Purpose::Rehearse => Severity::Warning,
        };
        self.note(severity, span.into(), what)
    }

    fn note(&self, severity: Severity, span: Option<Range<usize>>, what: String) -> Note<'_> {
        let problem = Problem {
            severity,
            source: Arc::clone(&self.source),
            span,
            what,
            label: String::new(),
            related: Vec::new(),
            why: None,
            help: None,
            for_absence: false,
        };
        Note { report: self, problem: Some(problem) }
    }

    /// Everything recorded, in the order of lines.
    pub(super) fn into_problems(self) -> Problems {
        let mut problems = Problems { list: self.list.into_inner() };
        problems.sort();
        problems
    }
}

/// A problem being written; it is recorded when the note is dropped, so none can be forgotten.
pub(super) struct Note<'r> {
    report: &'r Report,
    problem: Option<Problem>,
}

impl Note<'_> {
    /// The words under the underlining.
    pub(super) fn label(self, label: impl Into<String>) -> Self {
        self.with(|problem| problem.label = label.into())
    }

    /// Another place that belongs to the problem.
    pub(super) fn beside(self, span: Range<usize>, label: impl Into<String>) -> Self {
        self.with(|problem| problem.related.push((span, label.into())))
    }

    /// Why it matters.
    pub(super) fn why(self, why: impl Into<String>) -> Self {
        self.with(|problem| problem.why = Some(why.into()))
    }

    /// Why it matters, where there is something to say.
    pub(super) fn why_if(self, why: Option<String>) -> Self {
        self.with(|problem| problem.why = why)
    }

    /// What would be right.
    pub(super) fn help(self, help: impl Into<String>) -> Self {
        self.with(|problem| problem.help = Some(help.into()))
    }

    /// Says that the problem is an absence.
    pub(super) fn for_absence(self) -> Self {
        self.with(|problem| problem.for_absence = true)
    }

    /// What would be right, where something is known.
    pub(super) fn help_if(self, help: Option<String>) -> Self {
        self.with(|problem| problem.help = help)
    }

    fn with(mut self, change: impl FnOnce(&mut Problem)) -> Self {
        if let Some(problem) = &mut self.problem {
            change(problem);
        }
        self
    }
}

impl Drop for Note<'_> {
    fn drop(&mut self) {
        if let Some(problem) = self.problem.take() {
            self.report.list.borrow_mut().push(problem);
        }
    }
}
