//! Places of the body as fields of a form.
//!
//! Never here: what they mean.
//! Promises: every place that the trade knows can be chosen, by the name that mails give it.

use super::fields::Fields;
use super::form::{Field, Problems};
use super::room::Room;
use crate::care::Site;
use crate::care::site::all_sites;

/// The language of the board.
pub(super) const LANGUAGE: &str = "en";

/// A field for places.
pub(super) fn sites_field(room: &Room, label: &str, typed: &Fields) -> Field {
    let w = room.office.languages.wording(LANGUAGE);
    let choices = all_sites().into_iter().map(|site| (site.to_string(), w.sites([&site])));
    Field::many("site", label, choices, typed)
}

/// The places that were chosen, each once.
pub(super) fn chosen_sites(fields: &Fields, problems: &mut Problems) -> Vec<Site> {
    let mut sites = Vec::new();
    for text in fields.all("site").filter(|text| !text.is_empty()) {
        match text.parse::<Site>() {
            Ok(site) if !sites.contains(&site) => sites.push(site),
            Ok(_) => {}
            Err(_) => problems.add("site", "choose from the list"),
        }
    }
    sites
}
