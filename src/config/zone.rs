//! Names of time zones, checked against the newest zone database at hand.
//!
//! Never here: turning wall clock into instants.
//! Promises: a zone name that is accepted has rules in the bundled database.

use std::fmt;

use super::shape::nearest;
use super::table::{At, Table};

/// The name of a time zone in the IANA database, in its own spelling.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct ZoneName(String);

impl ZoneName {
    /// Reads a zone's name; upper and lower case do not matter.
    ///
    /// # Errors
    /// When the database has no such zone.
    pub fn new(text: &str) -> Result<Self, UnknownZone> {
        jiff::tz::TimeZoneDatabase::bundled()
            .get(text)
            .ok()
            .and_then(|zone| zone.iana_name().map(str::to_owned))
            .map(Self)
            .ok_or_else(|| UnknownZone { meant: zone_meant(text) })
    }

    /// The name as text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for ZoneName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// A text that names no time zone.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("no time zone has this name")]
pub struct UnknownZone {
    /// The zone that was probably meant.
    pub meant: Option<String>,
}

impl Table<'_> {
    /// A time zone.
    pub(super) fn zone(&self, name: &str) -> Option<At<ZoneName>> {
        let text = self.text(name)?;
        match ZoneName::new(text.value) {
            Ok(zone) => Some(At { value: zone, span: text.span }),
            Err(unknown) => {
                let what = format!("unknown time zone \"{}\"", text.value);
                let help = match &unknown.meant {
                    Some(meant) => format!("did you mean \"{meant}\"?"),
                    None => "name a place of the IANA zone database, such as \
                             \"Europe/London\" or \"America/Denver\""
                        .to_owned(),
                };
                self.report
                    .error(text.span, what)
                    .label(unknown.to_string())
                    .why("all times of day of this file are meant in this zone")
                    .help(help);
                None
            }
        }
    }
}

/// The zone that was probably meant: by its whole name, or by the place alone.
fn zone_meant(text: &str) -> Option<String> {
    let names: Vec<String> = jiff::tz::TimeZoneDatabase::bundled()
        .available()
        .map(|name| name.as_str().to_owned())
        .filter(|name| name.contains('/'))
        .collect();
    let wanted = text.replace(' ', "_").to_lowercase();
    let place = wanted.rsplit('/').next().unwrap_or(&wanted);
    let same_place =
        |name: &&String| name.to_lowercase().rsplit('/').next().is_some_and(|last| last == place);
    if let Some(name) = names.iter().find(same_place) {
        return Some(name.clone());
    }
    nearest(&wanted, names.iter().map(String::as_str)).map(str::to_owned)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_zone_keeps_the_spelling_of_the_database() {
        assert_eq!(ZoneName::new("america/denver").unwrap().as_str(), "America/Denver");
        assert_eq!(ZoneName::new("UTC").unwrap().as_str(), "UTC");
    }

    #[test]
    fn a_misspelt_zone_gets_a_suggestion() {
        for (written, meant) in [
            ("America/Denvr", Some("America/Denver")),
            ("Denver", Some("America/Denver")),
            ("US/New York", Some("America/New_York")),
            ("Europe/Kiev2", Some("Europe/Kiev")),
            ("+01:00", None),
            ("", None),
        ] {
            assert_eq!(ZoneName::new(written).unwrap_err().meant.as_deref(), meant, "{written}");
        }
    }
}
