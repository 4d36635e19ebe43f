//! Reads the review guide: what to examine after a finding.
//!
//! Never here: asking the guide.
//! Promises: every line says what it rests on and has a text in English; a line that could never
//! be proposed is refused.

use std::collections::{BTreeMap, BTreeSet};

use super::document::Document;
use super::person::Language;
use super::problem::{Checked, Problems, Purpose};
use super::shape::{Key, Kind, Shape, listed, nearest};
use super::table::{At, Table};
use crate::care::Place;
use crate::care::fitting::{Bearing, Check};
use crate::review::{
    FittingFact, Guide, GuideLine, HistoryFact, LineSource, Seen, Sidedness, When,
};

/// What stands as the source of a line that has none.
const COMMON_PRACTICE: &str = "common practice";

/// Reads a review guide from a text.
///
/// # Errors
/// All problems, when the text is no usable guide.
pub fn parse_review_guide(name: &str, text: &str) -> Result<Checked<Guide>, Problems> {
    let (guide, problems) = Document::new(name, text)
        .read(Purpose::Serve, |map, report| read(&Table::root(map, &GUIDE, report)));
    Checked::unless_refused(guide, problems)
}

/// The shipped guide.
pub fn shipped_review_guide() -> Guide {
    let text = include_str!("../../config/review-guide.toml");
    parse_review_guide("review-guide.toml", text)
        .expect("OK because a test reads the shipped guide")
        .value
}

fn read(root: &Table<'_>) -> Option<Guide> {
    let lines_most = root.count("lines_most");
    let tables = root.tables("line")?;
    let lines: Vec<At<GuideLine>> = tables.iter().filter_map(line).collect();
    let complete = lines.len() == tables.len();
    refuse_same_ids(root, &lines);
    doubt_languages(root, &lines);
    let lines = complete.then(|| lines.into_iter().map(|line| line.value).collect());
    Some(Guide { lines_most: lines_most?.value as usize, lines: lines? })
}

fn line(table: &Table<'_>) -> Option<At<GuideLine>> {
    let id = table.text("id");
    let when = if table.has("when") {
        table.table("when").and_then(|when| conditions(&when))
    } else {
        Some(When::default())
    };
    let source = table.text("source").map(|source| match source.value {
        COMMON_PRACTICE => LineSource::CommonPractice,
        published => LineSource::Published(published.to_owned()),
    });
    let texts = texts(table);
    let id = id?;
    let line = GuideLine { id: id.value.to_owned(), when: when?, source: source?, texts: texts? };
    Some(At { value: line, span: id.span })
}

fn texts(table: &Table<'_>) -> Option<BTreeMap<String, String>> {
    let named = table.named_texts("text")?;
    let mut texts = BTreeMap::new();
    let mut complete = true;
    for (code, text) in named {
        if Language::new(code.value).is_err() {
            let what = format!("\"{}\" is no language tag", code.value);
            table.report.error(code.span, what).label("write it like `en` or `de-AT`");
            complete = false;
        } else if text.value.trim().is_empty() {
            table.report.error(text.span, "this text is empty".to_owned());
            complete = false;
        } else {
            texts.insert(code.value.to_owned(), text.value.trim().to_owned());
        }
    }
    if complete && !texts.contains_key("en") {
        table
            .report
            .error(table.value_span("text"), "a line needs a text in English".to_owned())
            .label("no `en` here")
            .why("English serves where a reader's language is missing")
            .help("add `en = \"…\"`");
        return None;
    }
    complete.then_some(texts)
}

fn conditions(table: &Table<'_>) -> Option<When> {
    let places = Place::ALL.map(|place| (place.id(), place));
    let bearings = Bearing::ALL.map(|bearing| (bearing.id(), bearing));
    let checks = Check::ALL.map(|check| (check.id(), check));
    let place = words(table, "place", &places);
    let bearing = words(table, "bearing", &bearings);
    let finding = words(table, "finding", Seen::WORDS);
    let sides = words(table, "sides", Sidedness::WORDS);
    let history = words(table, "history", HistoryFact::WORDS);
    let fitting = words(table, "fitting", FittingFact::WORDS);
    let doubtful = words(table, "doubtful", &checks);
    let when = When {
        place: place?,
        bearing: bearing?,
        finding: finding?,
        sides: sides?,
        history: history?,
        fitting: fitting?,
        doubtful: doubtful?,
    };
    refuse_impossible(table, &when)?;
    Some(when)
}

/// The words of a condition; none where it is not given.
fn words<T: Copy>(table: &Table<'_>, key: &str, known: &[(&'static str, T)]) -> Option<Vec<T>> {
    if !table.has(key) {
        return Some(Vec::new());
    }
    let texts = table.texts(key)?;
    if texts.is_empty() {
        table
            .report
            .error(table.value_span(key), format!("`{key}` has no word"))
            .label("an empty list")
            .help("take the condition out: without it the line is proposed whatever it is");
        return None;
    }
    let names: Vec<&str> = known.iter().map(|(name, _)| *name).collect();
    let mut values = Vec::new();
    for text in &texts {
        match known.iter().find(|(name, _)| *name == text.value) {
            Some((_, value)) => values.push(*value),
            None => {
                let help = match nearest(text.value, names.iter().copied()) {
                    Some(meant) => format!("did you mean \"{meant}\"?"),
                    None => format!("it can be {}", listed(&names, "or")),
                };
                table
                    .report
                    .error(text.span.clone(), format!("`{key}` cannot be \"{}\"", text.value))
                    .label("a condition that would never hold")
                    .help(help);
            }
        }
    }
    (values.len() == texts.len()).then_some(values)
}

/// Conditions that exclude each other would be a line that nobody ever sees.
fn refuse_impossible(table: &Table<'_>, when: &When) -> Option<()> {
    let sided = !when.sides.is_empty() && !when.sides.contains(&Sidedness::None);
    if sided && !when.place.is_empty() && !when.place.iter().any(|place| place.is_paired()) {
        table
            .report
            .error(table.value_span("sides"), "this line could never be proposed".to_owned())
            .label("asks for a side")
            .beside(table.value_span("place"), "places without sides")
            .help("take one of the two conditions out");
        return None;
    }
    let on_file = when.bearing.iter().any(|bearing| *bearing != Bearing::Unknown)
        && !when.bearing.contains(&Bearing::Unknown)
        || !when.doubtful.is_empty();
    if when.fitting == [FittingFact::NoneOnFile] && on_file {
        table
            .report
            .error(table.value_span("fitting"), "this line could never be proposed".to_owned())
            .label("asks for no fitting on file")
            .why("without a fitting nobody knows which sites it off-loads, or which checks were made")
            .help("take one of the conditions out");
        return None;
    }
    Some(())
}

fn refuse_same_ids(root: &Table<'_>, lines: &[At<GuideLine>]) {
    for (place, line) in lines.iter().enumerate() {
        if let Some(first) = lines[..place].iter().find(|other| other.value.id == line.value.id) {
            root.report
                .error(line.span.clone(), format!("two lines have the id \"{}\"", line.value.id))
                .label("the second")
                .beside(first.span.clone(), "the first")
                .help("give each line an id of its own");
        }
    }
}

/// A language that only some lines have is most likely a line forgotten.
fn doubt_languages(root: &Table<'_>, lines: &[At<GuideLine>]) {
    let languages: BTreeSet<&String> =
        lines.iter().flat_map(|line| line.value.texts.keys()).collect();
    for line in lines {
        for code in languages.iter().filter(|code| !line.value.texts.contains_key(**code)) {
            root.report
                .warning(line.span.clone(), format!("this line has no text in `{code}`"))
                .label(format!("other lines have one in `{code}`"))
                .why("its readers get the English text")
                .help(format!("add `{code} = \"…\"` to its texts"));
        }
    }
}

pub(super) static GUIDE: Shape = Shape {
    name: "the review guide",
    keys: &[
        Key::required(
            "lines_most",
            Kind::Count(1, 20),
            "6",
            "how many lines are proposed at once; an alert is read on a phone",
        ),
        Key::required(
            "line",
            Kind::Tables(&LINE),
            "[[line]]",
            "what to examine, in the order in which it is proposed",
        ),
    ],
};

static LINE: Shape = Shape {
    name: "[[line]]",
    keys: &[
        Key::required("id", Kind::Id, "\"bottoming-out\"", "a short name of its own"),
        Key::optional(
            "when",
            Kind::Table(&WHEN),
            "{ bearing = [\"off-loaded\"] }",
            "when the line is proposed; without it, always",
        ),
        Key::required(
            "source",
            Kind::Text,
            "\"common practice\"",
            "the published source that it rests on, or \"common practice\"",
        ),
        Key::required(
            "text",
            Kind::TextsByName,
            "{ en = \"Check for bottoming out first.\" }",
            "what to examine, by language",
        ),
    ],
};

static WHEN: Shape = Shape {
    name: "the condition",
    keys: &[
        Key::optional("place", Kind::Texts, "[\"sacrum\"]", "the place of the finding"),
        Key::optional(
            "bearing",
            Kind::Texts,
            "[\"off-loaded\"]",
            "what the seat does with the site: off-loaded, loaded or unknown",
        ),
        Key::optional(
            "finding",
            Kind::Texts,
            "[\"persisting\"]",
            "what was seen: faded, marked, persisting, alarming or unreported",
        ),
        Key::optional(
            "sides",
            Kind::Texts,
            "[\"one\"]",
            "whether the marks lie on one side: one, both or none",
        ),
        Key::optional(
            "history",
            Kind::Texts,
            "[\"again\"]",
            "how marks have faded before: first, again or lengthening",
        ),
        Key::optional("fitting", Kind::Texts, "[\"comfort-fill\"]", "what the fitting shows"),
        Key::optional(
            "doubtful",
            Kind::Texts,
            "[\"foot_support\"]",
            "checks of the fitting that were not ok, or not made",
        ),
    ],
};
