//! Reads single values of a table: texts, numbers, durations, days, times, ids.
//!
//! Never here: tables within tables; checks across keys.
//! Promises: every value refused is told with what would be right.

use chrono::{DateTime, FixedOffset, NaiveDate, NaiveDateTime, NaiveTime};
use toml::Spanned;
use toml::de::DeValue;

use super::shape::{Key, Kind, listed, nearest};
use super::table::{At, Table};
use super::when;
use crate::care::Minutes;

impl<'a> Table<'a> {
    /// A text without the white space around it. Empty only where its description allows that.
    pub(super) fn text(&self, name: &str) -> Option<At<&'a str>> {
        let (key, value) = self.raw(name)?;
        self.text_of(key, value)
    }

    /// A text exactly as it was written, white space too.
    pub(super) fn verbatim(&self, name: &str) -> Option<&'a str> {
        self.text(name)?;
        let (_, value) = self.raw(name)?;
        value.get_ref().as_str()
    }

    /// A checked text: an id, a name, whatever `read` makes of it.
    pub(super) fn parsed<T, E: std::fmt::Display>(
        &self,
        name: &str,
        read: impl FnOnce(&str) -> Result<T, E>,
    ) -> Option<At<T>> {
        let text = self.text(name)?;
        match read(text.value) {
            Ok(value) => Some(At { value, span: text.span }),
            Err(reason) => {
                let (key, _) = self.raw(name)?;
                let what = format!("`{}` cannot be \"{}\"", self.full_name(name), text.value);
                self.report
                    .error(text.span, what)
                    .label(reason.to_string())
                    .why(key.purpose)
                    .help(format!("write it like `{}`", key.written()));
                None
            }
        }
    }

    /// A duration; above zero where its description asks for that.
    pub(super) fn duration(&self, name: &str) -> Option<At<Minutes>> {
        let (key, value) = self.raw(name)?;
        let text = match value.get_ref() {
            DeValue::String(text) => text.as_ref(),
            DeValue::Integer(number) => {
                let help = format!("write the unit and quotes, such as \"{}min\"", number.as_str());
                self.wrong_kind_with(key, value, Some(help));
                return None;
            }
            _ => {
                self.wrong_kind(key, value);
                return None;
            }
        };
        match text.trim().parse::<Minutes>() {
            Ok(Minutes::ZERO) if matches!(key.kind, Kind::Wait) => {
                let what = format!("`{}` must be above zero", self.full_name(name));
                self.report
                    .error(value.span(), what)
                    .label("no time at all")
                    .why(key.purpose)
                    .help(format!("write it like `{}`", key.written()));
                None
            }
            Ok(value_read) => Some(At { value: value_read, span: value.span() }),
            Err(reason) => {
                let what = format!("`{}` cannot be \"{text}\"", self.full_name(name));
                self.report
                    .error(value.span(), what)
                    .label(reason.to_string())
                    .why(key.purpose)
                    .help(when::duration_meant(text).map_or_else(
                        || format!("write it like `{}`", key.written()),
                        |meant| format!("did you mean \"{meant}\"?"),
                    ));
                None
            }
        }
    }

    /// A whole number within the bounds of its description.
    pub(super) fn count(&self, name: &str) -> Option<At<u32>> {
        let (key, value) = self.raw(name)?;
        self.count_of(key, value)
    }

    /// Yes or no.
    pub(super) fn yes_no(&self, name: &str) -> Option<At<bool>> {
        let (key, value) = self.raw(name)?;
        match value.get_ref() {
            DeValue::Boolean(is_so) => Some(At { value: *is_so, span: value.span() }),
            _ => {
                self.wrong_kind(key, value);
                None
            }
        }
    }

    /// A calendar day.
    pub(super) fn date(&self, name: &str) -> Option<At<NaiveDate>> {
        self.moment_of(name, when::date)
    }

    /// A time of day.
    pub(super) fn time(&self, name: &str) -> Option<At<NaiveTime>> {
        self.moment_of(name, when::time)
    }

    /// A day and time, on the wall or exact.
    pub(super) fn moment(&self, name: &str) -> Option<At<SaidAt>> {
        self.moment_of(name, when::moment)
    }

    /// A list of texts, none empty.
    pub(super) fn texts(&self, name: &str) -> Option<Vec<At<&'a str>>> {
        self.list(name, |key, value| self.text_of(key, value))
    }

    /// A list of whole numbers within the bounds of its description.
    pub(super) fn counts(&self, name: &str) -> Option<Vec<At<u32>>> {
        self.list(name, |key, value| self.count_of(key, value))
    }

    /// A list of times of day.
    pub(super) fn times(&self, name: &str) -> Option<Vec<At<NaiveTime>>> {
        self.list(name, |key, value| self.moment_in(key, value, when::time))
    }

    /// One of the words that its description lists.
    pub(super) fn word(&self, name: &str) -> Option<At<&'static str>> {
        let (key, value) = self.raw(name)?;
        let (Kind::Word(words) | Kind::WordOrTable(words, _)) = key.kind else {
            unreachable!("`{name}` is described as {:?}", key.kind)
        };
        let text = self.text_of(key, value)?;
        if let Some(word) = words.iter().find(|word| **word == text.value) {
            return Some(At { value: word, span: text.span });
        }
        let help = match nearest(text.value, words.iter().copied()) {
            Some(meant) => format!("did you mean \"{meant}\"?"),
            None => format!("it can be {}", listed(words, "or")),
        };
        let what = format!("`{}` cannot be \"{}\"", self.full_name(name), text.value);
        self.report
            .error(text.span, what)
            .label(format!("not {}", key.kind.in_words()))
            .why(key.purpose)
            .help(help);
        None
    }

    fn text_of(&self, key: &Key, value: &'a Spanned<DeValue<'a>>) -> Option<At<&'a str>> {
        let Some(text) = value.get_ref().as_str() else {
            self.wrong_kind(key, value);
            return None;
        };
        let text = text.trim();
        if text.is_empty() && !matches!(key.kind, Kind::MaybeText) {
            self.report
                .error(value.span(), format!("`{}` must not be empty", self.full_name(key.name)))
                .label("nothing is written here")
                .why(key.purpose)
                .help(format!("write it like `{}`", key.written()));
            return None;
        }
        Some(At { value: text, span: value.span() })
    }

    fn count_of(&self, key: &Key, value: &Spanned<DeValue<'_>>) -> Option<At<u32>> {
        let (Kind::Count(least, most) | Kind::Counts(least, most)) = key.kind else {
            unreachable!("`{}` is described as {:?}", key.name, key.kind)
        };
        let Some(number) = value.get_ref().as_integer() else {
            let help = value
                .get_ref()
                .as_str()
                .filter(|text| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit()))
                .map(|digits| format!("write the number without quotes: {digits}"));
            self.wrong_kind_with(key, value, help);
            return None;
        };
        match i64::from_str_radix(number.as_str(), number.radix()).ok().map(u32::try_from) {
            Some(Ok(count)) if (least..=most).contains(&count) => {
                Some(At { value: count, span: value.span() })
            }
            _ => {
                let name = self.full_name(key.name);
                self.report
                    .error(value.span(), format!("`{name}` must be {least} to {most}"))
                    .label("out of range")
                    .why(key.purpose);
                None
            }
        }
    }

    fn moment_of<T>(&self, name: &str, read: ReadMoment<T>) -> Option<At<T>> {
        let (key, value) = self.raw(name)?;
        self.moment_in(key, value, read)
    }

    fn moment_in<T>(
        &self,
        key: &Key,
        value: &Spanned<DeValue<'_>>,
        read: ReadMoment<T>,
    ) -> Option<At<T>> {
        let written = match value.get_ref() {
            DeValue::String(text) => text.trim().to_owned(),
            DeValue::Datetime(datetime) => datetime.to_string(),
            _ => {
                self.wrong_kind(key, value);
                return None;
            }
        };
        match read(&written) {
            Ok(moment) => Some(At { value: moment, span: value.span() }),
            Err(refused) => {
                let what = format!("`{}` cannot be {written}", self.full_name(key.name));
                let help = refused.meant.map_or_else(
                    || format!("write it like `{}`", key.written()),
                    |meant| format!("did you mean \"{meant}\"?"),
                );
                self.report
                    .error(value.span(), what)
                    .label(refused.why)
                    .why(key.purpose)
                    .help(help);
                None
            }
        }
    }

    fn list<T>(
        &self,
        name: &str,
        read: impl Fn(&Key, &'a Spanned<DeValue<'a>>) -> Option<T>,
    ) -> Option<Vec<T>> {
        let (key, value) = self.raw(name)?;
        let Some(items) = value.get_ref().as_array() else {
            self.wrong_kind(key, value);
            return None;
        };
        let values: Vec<T> = items.iter().filter_map(|item| read(key, item)).collect();
        (values.len() == items.len()).then_some(values)
    }
}

type ReadMoment<T> = fn(&str) -> Result<T, when::Refused>;

/// When something was said: by the client's wall clock, or exactly.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SaidAt {
    /// By the client's wall clock; R25 says which instant a skipped or repeated time means.
    Wall(NaiveDateTime),
    /// With an offset from UTC.
    Exact(DateTime<FixedOffset>),
}
