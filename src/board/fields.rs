//! What a form sent: its fields, as text.
//!
//! Never here: what they mean.
//! Promises: a field that is not there reads as empty; nothing in a log or a `Debug`.

/// The fields of a form, in its order.
#[derive(Clone, Default)]
pub(super) struct Fields {
    all: Vec<(String, String)>,
}

impl Fields {
    /// Reads the body of a form.
    pub(super) fn read(body: &[u8]) -> Option<Self> {
        let all = serde_urlencoded::from_bytes(body).ok()?;
        Some(Self { all })
    }

    /// Fields that a form begins with.
    pub(super) fn of<'f>(all: impl IntoIterator<Item = (&'f str, &'f str)>) -> Self {
        let own = |(name, value): (&str, &str)| (name.to_owned(), value.to_owned());
        Self { all: all.into_iter().map(own).collect() }
    }

    /// The first value of a field, without the spaces around it.
    pub(super) fn get(&self, name: &str) -> &str {
        let found = self.all.iter().find(|(key, _)| key == name);
        found.map_or("", |(_, value)| value.trim())
    }

    /// All values of a field that may come more than once.
    pub(super) fn all<'f>(&'f self, name: &'f str) -> impl Iterator<Item = &'f str> {
        self.all.iter().filter(move |(key, _)| key == name).map(|(_, value)| value.trim())
    }

    /// All fields but those of the page's own.
    pub(super) fn said(&self) -> impl Iterator<Item = &(String, String)> {
        self.all.iter().filter(|(key, _)| key != FORM_KEY && key != CONFIRMED)
    }
}

/// The field that shows that a form came from a page of this session.
pub(super) const FORM_KEY: &str = "form_key";
/// The field that says that somebody saw what would follow, and wants it.
pub(super) const CONFIRMED: &str = "confirmed";
