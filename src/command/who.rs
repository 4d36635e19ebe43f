//! Finding whom a command is about, by the short names that the clinic gave.
//!
//! Never here: names and addresses.
//! Promises: a name that is not there is answered with the one that was probably meant.

use super::setting::CommandError;
use crate::care::{ClientRef, ClinicianId, ContactId};
use crate::config::Clinic;
use crate::follow_up::State;
pub(super) use crate::overview::all;
use crate::store::{FollowUpId, Loaded, View};

/// What a member of the staff is to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Act {
    /// Clinicians only.
    Decide,
    /// Clinicians and assistants.
    Report,
}

/// The follow-up of a client.
pub(super) fn client(view: &View<'_>, reference: &str) -> Result<FollowUpId, CommandError> {
    let known = ClientRef::new(reference).ok().map(|client| view.follow_up_of(&client));
    if let Some(follow_up) = known.transpose()?.flatten() {
        return Ok(follow_up);
    }
    let references: Vec<String> = all(view)?.iter().map(|l| l.client.to_string()).collect();
    let hint = match nearest(reference, &references) {
        Some(meant) => format!("did you mean `{meant}`?"),
        None if references.is_empty() => "nobody is enrolled yet: `fadewatch enroll`".to_owned(),
        None => "`fadewatch show --all` lists the clients".to_owned(),
    };
    Err(CommandError::NotFound(format!("no client has the reference `{reference}`\nhint: {hint}")))
}

/// The follow-up of a client, loaded.
pub(super) fn loaded(view: &View<'_>, reference: &str) -> Result<Loaded, CommandError> {
    Ok(view.load(client(view, reference)?)?)
}

/// A contact of a client.
pub(super) fn contact(state: &State, id: &str) -> Result<ContactId, CommandError> {
    let contacts = &state.terms.contacts;
    if let Some(found) = contacts.iter().find(|contact| contact.as_str() == id) {
        return Ok(found.clone());
    }
    let names: Vec<String> = contacts.iter().map(ToString::to_string).collect();
    let hint = match nearest(id, &names) {
        Some(meant) => format!("did you mean `{meant}`?"),
        None => format!("the contacts are {}", names.join(", ")),
    };
    Err(CommandError::NotFound(format!("this client has no contact `{id}`\nhint: {hint}")))
}

/// A member of the staff who may do what they are to do.
pub(super) fn staff(clinic: &Clinic, id: &str, act: Act) -> Result<ClinicianId, CommandError> {
    let Some(found) = clinic.clinicians.iter().find(|person| person.id.as_str() == id) else {
        let names: Vec<String> = clinic.clinicians.iter().map(|p| p.id.to_string()).collect();
        let hint = match nearest(id, &names) {
            Some(meant) => format!("did you mean `{meant}`?"),
            None => format!("the clinic file names {}", names.join(", ")),
        };
        return Err(CommandError::NotFound(format!(
            "nobody of the clinic has the id `{id}`\nhint: {hint}"
        )));
    };
    let may = match act {
        Act::Decide => found.role.decides(),
        Act::Report => found.role.reports(),
    };
    if may {
        return Ok(found.id.clone());
    }
    let needed = match act {
        Act::Decide => "only somebody whose `role` in the clinic file is \"clinician\" decides",
        Act::Report => "only a \"clinician\" or an \"assistant\" by `role` in the clinic file may",
    };
    Err(CommandError::Refused(format!(
        "`{id}` may not do this; nothing was changed\nhint: {needed}"
    )))
}

/// The name that was probably meant.
pub(super) fn nearest<'n>(written: &str, names: &'n [String]) -> Option<&'n str> {
    /// Below this likeness a suggestion would only confuse.
    const LIKENESS_MIN: f64 = 0.75;
    let plain = |text: &str| text.to_lowercase().replace(['_', ' ', '.'], "-");
    let written = plain(written);
    names
        .iter()
        .map(|name| (strsim::jaro_winkler(&written, &plain(name)), name.as_str()))
        .filter(|(likeness, _)| *likeness >= LIKENESS_MIN)
        .max_by(|(a, _), (b, _)| a.total_cmp(b))
        .map(|(_, name)| name)
}
