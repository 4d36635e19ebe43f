//! The end of the demonstration: what became of each client, and where everything lies.
//!
//! Never here: anything that the store does not say.
//! Promises: the store is read afresh from the disk, after the service has ended.

use std::collections::BTreeMap;
use std::io::Write;
use std::path::Path;

use super::album;
use super::error::DemoError;
use super::watcher::{Followed, Watcher};
use crate::care::Plan;
use crate::config;
use crate::follow_up::State;
use crate::follow_up::state::{Phase, Standing};
use crate::rehearsal::phrases::duration;
use crate::store::{DATABASE, FollowUpId, MailStatus, Mode, Store, StoreError};

/// Writes the table and the places.
pub(super) fn write(
    folder: &Path,
    watcher: &Watcher,
    out: &mut (dyn Write + Send),
) -> Result<(), DemoError> {
    let clinic = config::read_clinic(&folder.join("clinic.toml"))?.value;
    let store = Store::open(&clinic.data_folder, Mode::Reading)?;
    let (verified, mails) = store.read_blocking(|view| -> Result<_, StoreError> {
        let mut mails: BTreeMap<Option<FollowUpId>, u64> = BTreeMap::new();
        for mail in view.newest_mails(u32::MAX)? {
            if mail.status == MailStatus::Sent {
                *mails.entry(mail.follow_up).or_default() += 1;
            }
        }
        Ok((view.verify_journal()?, mails))
    })?;
    let mut text = String::from(
        "\nAt the end\n client  where it stands                 sittings counted answers missed \
         stops alerts mails\n",
    );
    for client in &watcher.clients {
        let tally = client.tally;
        let mails = mails.get(&Some(client.follow_up)).copied().unwrap_or(0);
        text.push_str(&format!(
            " {:<7} {:<32} {:>7} {:>7} {:>7} {:>6} {:>5} {:>6} {:>5}\n",
            client.call_name,
            standing(client, watcher.plan()),
            tally.sittings,
            tally.counted,
            tally.answers,
            tally.missed,
            tally.stops,
            tally.alerts,
            mails,
        ));
    }
    let album = album::lay_out(folder, &store, &watcher.clients)?;
    let journal = if verified.findings.is_empty() {
        "every hash fits"
    } else {
        "it is NOT as it was written"
    };
    let show = |path: &Path| path.display().to_string();
    text.push_str(&format!(
        "\n Journal verified: {} entries, {journal}.\n\n\
         Where everything lies\n\
         \x20four of the alerts {}\n\
         \x20mails to people    {}\n\
         \x20mails from people  {}\n\
         \x20journal and data   {}\n\
         \x20clinic and clients {}\n\n\
         A report to print: fadewatch letter C5 --out c5.html --config {}\n",
        verified.entries,
        show(&album),
        show(&folder.join("mail/people")),
        show(&folder.join("mail/clinic")),
        show(&clinic.data_folder.join(DATABASE)),
        show(&folder.join("clinic.toml")),
        show(&folder.join("clinic.toml")),
    ));
    out.write_all(text.as_bytes()).and_then(|()| out.flush()).map_err(DemoError::Output)
}

fn standing(client: &Followed, plan: &Plan) -> String {
    let Some(state) = &client.state else { return "not enrolled".to_owned() };
    let place = match &state.phase {
        Phase::Routine { .. } => "routine checks".to_owned(),
        Phase::BuildUp { step } => {
            let sit = sit(state, plan).map_or_else(String::new, |sit| format!(", {sit}"));
            format!("building up: step {step}{sit}")
        }
    };
    match state.standing {
        Standing::Open => place,
        Standing::Paused { .. } => "paused".to_owned(),
        Standing::Suspended => "suspended".to_owned(),
        Standing::Stopped { .. } => "stopped".to_owned(),
        Standing::Closed => "closed".to_owned(),
    }
}

fn sit(state: &State, plan: &Plan) -> Option<String> {
    let step = state.step()?;
    let ladder = plan.ladder(&state.terms.risk)?;
    ladder.steps.get((step.count() as usize).checked_sub(1)?).map(|step| duration(step.sit))
}
