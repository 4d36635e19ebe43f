//! Reads a table by its description: unknown and missing keys, and values of the wrong kind.
//!
//! Never here: what a value means to the trade; checks across keys.
//! Promises: a value that is not returned has a problem recorded, or its key is optional and
//! absent.

use std::borrow::Cow;
use std::ops::Range;
use std::path::{Path, PathBuf};

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::problem::Report;
use super::shape::{Key, Kind, Need, Shape, listed, nearest};

/// A value with its place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct At<T> {
    pub(super) value: T,
    pub(super) span: Range<usize>,
}

impl<T> At<T> {
    /// The same place with another value.
    pub(super) fn map<U>(self, change: impl FnOnce(T) -> U) -> At<U> {
        At { value: change(self.value), span: self.span }
    }
}

/// A name that the clinic chose, with what stands under it.
pub(super) type Named<'a, T> = (At<&'a str>, T);

/// A table that is being read.
#[derive(Clone)]
pub(super) struct Table<'a> {
    map: &'a DeTable<'a>,
    /// Where the table begins: its header, or the whole of it where it stands in one line.
    pub(super) span: Range<usize>,
    path: String,
    folder: Option<&'a Path>,
    shape: &'static Shape,
    pub(super) report: &'a Report,
}

impl<'a> Table<'a> {
    /// Opens the file's outermost table.
    pub(super) fn root(map: &'a DeTable<'a>, shape: &'static Shape, report: &'a Report) -> Self {
        Self { map, span: 0..0, path: String::new(), folder: None, shape, report }.opened()
    }

    /// The same table, its paths counting from a folder; so do those of the tables within.
    pub(super) fn in_folder(self, folder: &'a Path) -> Self {
        Self { folder: Some(folder), ..self }
    }

    /// Opens a table that stands as a value.
    fn inner(
        &self,
        value: &'a Spanned<DeValue<'a>>,
        path: String,
        shape: &'static Shape,
    ) -> Option<Self> {
        let map = value.get_ref().as_table()?;
        let (folder, report) = (self.folder, self.report);
        Some(Self { map, span: value.span(), path, folder, shape, report }.opened())
    }

    /// Whether a key is there, whatever its value.
    pub(super) fn has(&self, name: &str) -> bool {
        self.map.contains_key(name)
    }

    /// The place of a key's name, or of the table where it is absent.
    pub(super) fn key_span(&self, name: &str) -> Range<usize> {
        self.map.get_key_value(name).map_or_else(|| self.span.clone(), |(key, _)| key.span())
    }

    /// The place of a key's value, or of the table where it is absent.
    pub(super) fn value_span(&self, name: &str) -> Range<usize> {
        self.map.get(name).map_or_else(|| self.span.clone(), Spanned::span)
    }

    /// The key's full name, as in `looks.fade_limit`.
    pub(super) fn full_name(&self, name: &str) -> String {
        if self.path.is_empty() { name.to_owned() } else { format!("{}.{name}", self.path) }
    }

    /// The raw value of a key, with its description.
    pub(super) fn raw(&self, name: &str) -> Option<(&'static Key, &'a Spanned<DeValue<'a>>)> {
        let key = self.shape.key(name).expect("OK because readers ask only for described keys");
        Some((key, self.map.get(name)?))
    }

    /// A table under a key.
    pub(super) fn table(&self, name: &str) -> Option<Table<'a>> {
        let (key, value) = self.raw(name)?;
        let (Kind::Table(shape) | Kind::PathOrTable(shape) | Kind::WordOrTable(_, shape)) =
            key.kind
        else {
            unreachable!("`{name}` is described as {:?}", key.kind)
        };
        let table = self.inner(value, self.full_name(name), shape);
        if table.is_none() {
            self.wrong_kind(key, value);
        }
        table
    }

    /// The tables of a list, in order.
    pub(super) fn tables(&self, name: &str) -> Option<Vec<Table<'a>>> {
        let (key, value) = self.raw(name)?;
        let Kind::Tables(shape) = key.kind else {
            unreachable!("`{name}` is described as {:?}", key.kind)
        };
        let Some(list) = value.get_ref().as_array() else {
            let help = value.get_ref().is_table().then(|| {
                let path = self.full_name(name);
                format!("with two brackets it is one of a list: `[[{path}]]`")
            });
            self.wrong_kind_with(key, value, help);
            return None;
        };
        let path = self.full_name(name);
        let tables: Vec<Self> = list
            .iter()
            .filter_map(|item| {
                let table = self.inner(item, path.clone(), shape);
                if table.is_none() {
                    self.wrong_kind(key, item);
                }
                table
            })
            .collect();
        (tables.len() == list.len()).then_some(tables)
    }

    /// The tables under names that the clinic chose, in the order of the names.
    pub(super) fn named(&self, name: &str) -> Option<Vec<Named<'a, Table<'a>>>> {
        let (key, value) = self.raw(name)?;
        let Kind::Named(shape) = key.kind else {
            unreachable!("`{name}` is described as {:?}", key.kind)
        };
        let Some(map) = value.get_ref().as_table() else {
            self.wrong_kind(key, value);
            return None;
        };
        let mut named = Vec::new();
        for (inner, value) in map {
            let path = format!("{}.{}", self.full_name(name), inner.get_ref());
            match self.inner(value, path, shape) {
                Some(table) => {
                    let at = At { value: inner.get_ref().as_ref(), span: inner.span() };
                    named.push((at, table));
                }
                None => self.wrong_kind(key, value),
            }
        }
        (named.len() == map.len()).then_some(named)
    }

    /// A path, counted from the folder of the file.
    pub(super) fn path_at(&self, name: &str) -> Option<PathBuf> {
        let path = self.text(name)?.value;
        Some(self.folder.unwrap_or_else(|| Path::new("")).join(path))
    }

    /// Names with lists of numbers, in the order of the names.
    pub(super) fn bands(&self, name: &str) -> Option<Vec<Named<'a, At<Vec<u32>>>>> {
        let (key, value) = self.raw(name)?;
        let Some(map) = value.get_ref().as_table() else {
            self.wrong_kind(key, value);
            return None;
        };
        let number = |item: &Spanned<DeValue<'_>>| {
            let digits = item.get_ref().as_integer()?;
            u32::from_str_radix(digits.as_str(), digits.radix()).ok()
        };
        let mut bands = Vec::new();
        for (inner, value) in map {
            let items = value.get_ref().as_array().map(|items| items.iter().map(number));
            match items.and_then(|items| items.collect::<Option<Vec<u32>>>()) {
                Some(numbers) => bands.push((
                    At { value: inner.get_ref().as_ref(), span: inner.span() },
                    At { value: numbers, span: value.span() },
                )),
                None => self.wrong_kind(key, value),
            }
        }
        (bands.len() == map.len()).then_some(bands)
    }

    /// Names with texts, in the order of the names.
    pub(super) fn named_texts(&self, name: &str) -> Option<Vec<Named<'a, At<&'a str>>>> {
        let (key, value) = self.raw(name)?;
        let Some(map) = value.get_ref().as_table() else {
            self.wrong_kind(key, value);
            return None;
        };
        let mut texts = Vec::new();
        for (inner, value) in map {
            match value.get_ref().as_str() {
                Some(text) => texts.push((
                    At { value: inner.get_ref().as_ref(), span: inner.span() },
                    At { value: text, span: value.span() },
                )),
                None => self.wrong_kind(key, value),
            }
        }
        (texts.len() == map.len()).then_some(texts)
    }

    /// Records that a value is not of the kind that its key wants.
    pub(super) fn wrong_kind(&self, key: &Key, value: &Spanned<DeValue<'_>>) {
        self.wrong_kind_with(key, value, None);
    }

    /// As `wrong_kind`, with advice of its own.
    pub(super) fn wrong_kind_with(
        &self,
        key: &Key,
        value: &Spanned<DeValue<'_>>,
        help: Option<String>,
    ) {
        let what = format!("`{}` must be {}", self.full_name(key.name), key.kind.in_words());
        self.report
            .error(value.span(), what)
            .label(format!("this is {}", in_words(value.get_ref())))
            .why(key.purpose)
            .help(help.unwrap_or_else(|| format!("write it like `{}`", key.written())));
    }

    fn opened(self) -> Self {
        let meant: Vec<&str> = self
            .map
            .keys()
            .filter(|key| self.shape.key(key.get_ref()).is_none())
            .filter_map(|key| self.report_unknown(key))
            .collect();
        let missing: Vec<&Key> = self
            .shape
            .keys
            .iter()
            .filter(|key| key.need == Need::Required)
            .filter(|key| !self.has(key.name) && !meant.contains(&key.name))
            .collect();
        if !missing.is_empty() {
            self.report_missing(&missing);
        }
        self
    }

    /// Records an unknown key, and returns the key that was probably meant.
    fn report_unknown(&self, key: &Spanned<Cow<'_, str>>) -> Option<&'static str> {
        let written = key.get_ref().as_ref();
        let known: Vec<&'static str> = self.shape.keys.iter().map(|key| key.name).collect();
        let meant = nearest(written, known.iter().copied().filter(|name| !self.has(name)));
        let what = format!("unknown key `{}`", self.full_name(written));
        let note =
            self.report.error(key.span(), what).label(format!("not a key of {}", self.shape.name));
        if let Some((_, why, help)) = NEVER_HERE.iter().find(|(name, ..)| *name == written) {
            note.why(*why).help(*help);
            return None;
        }
        note.why("a key that nobody reads would be a setting that silently does nothing").help(
            match meant {
                Some(meant) => format!("did you mean `{meant}`?"),
                None => format!("the keys of {} are {}", self.shape.name, listed(&known, "and")),
            },
        );
        meant
    }

    fn report_missing(&self, missing: &[&Key]) {
        let names: Vec<&str> = missing.iter().map(|key| key.name).collect();
        let why: Vec<String> =
            missing.iter().map(|key| format!("`{}`: {}", key.name, key.purpose)).collect();
        let help: Vec<String> = missing.iter().map(|key| key.written()).collect();
        let whole_file = self.path.is_empty();
        let span = (!whole_file).then(|| self.span.clone());
        self.report
            .error(span, format!("{} lacks {}", self.shape.name, listed(&names, "and")))
            .label("belongs in this table")
            .why(why.join("\n"))
            .help(format!("add, with your own values:\n{}", help.join("\n")))
            .for_absence();
    }
}

/// Keys that people try and that must not be here, with the reason and what to do instead.
const NEVER_HERE: [(&str, &str, &str); 1] = [(
    "password",
    "a settings file is copied, mailed and kept; a password in it is soon everybody's",
    "put it into a file of its own that only the service may read, and name that: \
     `password_file = \"mail-password\"`",
)];

/// What a value is, in words.
pub(super) fn in_words(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) => "a number",
        DeValue::Float(_) => "a number with a fraction",
        DeValue::Boolean(_) => "a yes-or-no value",
        DeValue::Datetime(_) => "a date or time",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}
