//! How problems look: the line quoted and underlined, the reason, the remedy.
//!
//! Never here: deciding what is a problem.
//! Promises: readable without colour; a flood of problems is cut and the rest counted.

use std::fmt;
use std::ops::Range;

use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};

use super::problem::{Problem, Problems, Severity};

/// More problems than this are counted, not shown: nobody reads on, and the first explain most.
const SHOWN_MAX: usize = 40;
/// Longest quoted line, in characters, so that a terminal or a mail need not wrap it.
const WIDTH_MAX: usize = 120;

impl Problems {
    /// All problems as text, with terminal colours where `colour` says so; ends with a newline
    /// unless there is nothing to say.
    pub fn rendered(&self, colour: Colour) -> String {
        let renderer = match colour {
            Colour::Plain => Renderer::plain(),
            Colour::Terminal => Renderer::styled(),
        }
        .term_width(WIDTH_MAX);
        let mut out = String::new();
        for problem in self.problems().iter().take(SHOWN_MAX) {
            for line in renderer.render(&[group(problem)]).lines() {
                out.push_str(line.trim_end());
                out.push('\n');
            }
            out.push('\n');
        }
        out.push_str(&self.closing_line());
        out
    }

    fn closing_line(&self) -> String {
        let errors = self.problems().iter().filter(|problem| problem.is_error()).count();
        let warnings = self.problems().len() - errors;
        let counted = match (errors, warnings) {
            (0, 0) => return String::new(),
            (0, warnings) => counted(warnings, "warning"),
            (errors, 0) => counted(errors, "error"),
            (errors, warnings) => {
                format!("{} and {}", counted(errors, "error"), counted(warnings, "warning"))
            }
        };
        let cut = match self.problems().len().saturating_sub(SHOWN_MAX) {
            0 => String::new(),
            more => format!(", of which {more} are not shown"),
        };
        format!("{counted}{cut}\n")
    }
}

/// Whether text is for a terminal that shows colours.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Colour {
    /// No colours: files, pipes, logs, `NO_COLOR`.
    Plain,
    /// Terminal colours.
    Terminal,
}

impl fmt::Display for Problems {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.rendered(Colour::Plain))
    }
}

fn counted(count: usize, noun: &str) -> String {
    if count == 1 { format!("1 {noun}") } else { format!("{count} {noun}s") }
}

fn group(problem: &Problem) -> Group<'_> {
    let level = match problem.severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
    };
    let mut group = Group::with_title(level.primary_title(problem.what.as_str()));
    match &problem.span {
        Some(span) => group = group.element(snippet(problem, span)),
        None => group = group.element(annotate_snippets::Origin::path(problem.file())),
    }
    if let Some(why) = &problem.why {
        group = group.element(Level::NOTE.message(why.as_str()));
    }
    if let Some(help) = &problem.help {
        group = group.element(Level::HELP.message(help.as_str()));
    }
    group
}

fn snippet<'p>(
    problem: &'p Problem,
    span: &Range<usize>,
) -> Snippet<'p, annotate_snippets::Annotation<'p>> {
    let source = &problem.source;
    let all = problem.related.iter().map(|(span, _)| span).chain([span]);
    let first = all.clone().map(|span| span.start).min().unwrap_or(span.start);
    let last = all.map(|span| span.end).max().unwrap_or(span.end);
    let lines = source.lines_around(&(first..last));
    let within = |span: &Range<usize>| {
        let start = source.floor(span.start).clamp(lines.start, lines.end);
        let end = source.floor(span.end).clamp(start, lines.end);
        start - lines.start..end - lines.start
    };
    let mut primary = AnnotationKind::Primary.span(within(span));
    if !problem.label.is_empty() {
        primary = primary.label(problem.label.as_str());
    }
    Snippet::source(&source.text()[lines.clone()])
        .path(problem.file())
        .line_start(source.position(lines.start).line)
        .annotation(primary)
        .annotations(
            problem.related.iter().map(|(span, label)| {
                AnnotationKind::Context.span(within(span)).label(label.as_str())
            }),
        )
}
