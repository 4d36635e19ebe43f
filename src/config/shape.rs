//! Descriptions of the tables that a file may hold: which keys, what kind of value, why.
//!
//! Never here: reading values; the words of a problem.
//! Promises: a description is data, so that messages, and descriptions for editors, come from one
//! place.

/// One table of a file.
#[derive(Debug)]
pub(super) struct Shape {
    /// What the table is called when a problem speaks of it, such as ``the plan`` or ``[looks]``.
    pub(super) name: &'static str,
    /// Its keys, in the order in which people write them.
    pub(super) keys: &'static [Key],
}

/// One key of a table.
#[derive(Debug)]
pub(super) struct Key {
    /// The key as written.
    pub(super) name: &'static str,
    /// What its value must be.
    pub(super) kind: Kind,
    /// Whether it may be left out.
    pub(super) need: Need,
    /// What it is for, in one phrase.
    pub(super) purpose: &'static str,
    /// A right value, as written in TOML.
    pub(super) example: &'static str,
}

/// Whether a key may be left out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Need {
    /// It must be there.
    Required,
    /// It may be left out.
    Optional,
}

/// What a value must be.
#[derive(Clone, Copy, Debug)]
pub(super) enum Kind {
    /// Any text that is not empty.
    Text,
    /// Any text, also none.
    MaybeText,
    /// A short id of letters, digits, `-`, `_` and `.`.
    Id,
    /// A duration, zero too.
    Duration,
    /// A duration above zero.
    Wait,
    /// A whole number, both bounds possible.
    Count(u32, u32),
    /// A calendar day.
    Date,
    /// A time of day.
    Time,
    /// A day and a time of day, with or without an offset.
    Moment,
    /// A list of texts.
    Texts,
    /// A list of times of day.
    Times,
    /// A list of hours of the week, at least one.
    Hours,
    /// A list of whole numbers, both bounds possible.
    Counts(u32, u32),
    /// One of these words.
    Word(&'static [&'static str]),
    /// One of these words, or a table.
    WordOrTable(&'static [&'static str], &'static Shape),
    /// A table.
    Table(&'static Shape),
    /// A list of tables.
    Tables(&'static Shape),
    /// A table whose keys are names that the clinic chooses.
    Named(&'static Shape),
    /// Yes or no.
    YesNo,
    /// A clearance with its unit.
    Clearance,
    /// A table whose keys are names, each with a text.
    TextsByName,
    /// A path from the folder of this file.
    Path,
    /// A mail address.
    Mail,
    /// A table of level names, each with its lowest and highest score.
    Bands,
    /// A path from this file, or a table.
    PathOrTable(&'static Shape),
}

impl Key {
    /// A key that must be there.
    pub(super) const fn required(
        name: &'static str,
        kind: Kind,
        example: &'static str,
        purpose: &'static str,
    ) -> Self {
        Self { name, kind, need: Need::Required, purpose, example }
    }

    /// A key that may be left out.
    pub(super) const fn optional(
        name: &'static str,
        kind: Kind,
        example: &'static str,
        purpose: &'static str,
    ) -> Self {
        Self { name, kind, need: Need::Optional, purpose, example }
    }

    /// The key with its example, as somebody would write it.
    pub(super) fn written(&self) -> String {
        match self.kind {
            Kind::Table(_) | Kind::Named(_) | Kind::Tables(_) => self.example.to_owned(),
            _ => format!("{} = {}", self.name, self.example),
        }
    }
}

impl Shape {
    /// The key of that name.
    pub(super) fn key(&self, name: &str) -> Option<&Key> {
        self.keys.iter().find(|key| key.name == name)
    }
}

impl Kind {
    /// The kind in words, as in 'must be …'.
    pub(super) fn in_words(self) -> String {
        match self {
            Self::Text | Self::MaybeText => "a text in quotes".to_owned(),
            Self::Id => "an id in quotes".to_owned(),
            Self::Duration | Self::Wait => "a duration in quotes".to_owned(),
            Self::Count(..) => "a whole number".to_owned(),
            Self::Date => "a date".to_owned(),
            Self::Time => "a time of day".to_owned(),
            Self::Moment => "a date with a time of day".to_owned(),
            Self::Texts => "a list of texts".to_owned(),
            Self::Times => "a list of times of day".to_owned(),
            Self::Hours => "a list of days with hours".to_owned(),
            Self::Counts(..) => "a list of whole numbers".to_owned(),
            Self::Word(words) => format!("one of {}", listed(words, "or")),
            Self::WordOrTable(words, _) => format!("one of {}, or a table", listed(words, "or")),
            Self::Table(_) | Self::Named(_) => "a table".to_owned(),
            Self::Tables(_) => "a list of tables".to_owned(),
            Self::YesNo => "`true` or `false`".to_owned(),
            Self::Clearance => "a clearance in quotes, with its unit".to_owned(),
            Self::TextsByName => "a table of texts".to_owned(),
            Self::Path => "a path in quotes".to_owned(),
            Self::Mail => "a mail address in quotes".to_owned(),
            Self::Bands => "a table of levels with lowest and highest score".to_owned(),
            Self::PathOrTable(_) => "a path in quotes, or a table".to_owned(),
        }
    }
}

/// Names between backticks, neighbours each once: `a`, `b` or `c`.
pub(super) fn listed<T: AsRef<str>>(names: &[T], joint: &str) -> String {
    let mut quoted: Vec<String> = names.iter().map(|name| format!("`{}`", name.as_ref())).collect();
    quoted.dedup();
    match quoted.as_slice() {
        [] => String::new(),
        [one] => one.clone(),
        [few @ .., last] => format!("{} {joint} {last}", few.join(", ")),
    }
}

/// The candidate that was probably meant.
pub(super) fn nearest<'c>(
    written: &str,
    candidates: impl IntoIterator<Item = &'c str>,
) -> Option<&'c str> {
    /// Below this likeness a suggestion would only confuse.
    const LIKENESS_MIN: f64 = 0.75;
    let plain = |text: &str| text.to_lowercase().replace(['_', ' '], "-");
    let written = plain(written);
    candidates
        .into_iter()
        .map(|candidate| (strsim::jaro_winkler(&written, &plain(candidate)), candidate))
        .filter(|(likeness, _)| *likeness >= LIKENESS_MIN)
        .max_by(|(a, _), (b, _)| a.total_cmp(b))
        .map(|(_, candidate)| candidate)
}
