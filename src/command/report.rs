//! `fadewatch report`: a finding taken by phone.
//!
//! Never here: what a finding leads to.
//! Promises: it is the same act as the reply that would have said it, with the person who took it
//! on record; words are shown as they were understood before they are taken.

use std::io::{IsTerminal, Write as _};
use std::process::ExitCode;

use chrono::NaiveTime;
use clap::Args;
use clap::builder::PossibleValuesParser;

use super::moments::moment;
use super::outcome;
use super::paper;
use super::setting::{CommandError, ConfigOption, now};
use super::telling::at_sites;
use super::who::{self, Act};
use crate::care::site::all_sites;
use crate::care::{ContactId, Minutes, Reading, Site, Verdict};
use crate::reply::{self, Answering};
use crate::service::Office;
use crate::service::acts_by_hand::{self, PhoneReport, answering};
use crate::store::{FollowUpId, Loaded, Store, View};

/// What may be reported, from calm to alarming.
const READINGS: [Reading; 8] = [
    Reading::Clear,
    Reading::Faded,
    Reading::Marked,
    Reading::Persisting,
    Reading::Alarming,
    Reading::NotLooked,
    Reading::NoSitting,
    Reading::Started,
];

/// What `report` is called with.
#[derive(Debug, Args)]
#[command(
    group = clap::ArgGroup::new("said").required(true).args(["reading", "words"]),
    after_help = "Examples:\n  \
        fadewatch report A7 --by first --reading clear --taken-by desk\n  \
        fadewatch report A7 --by first --reading marked --site ischium-left --at 10:20 \
        --taken-by desk\n  \
        fadewatch report A7 --by first --words \"darker patch on the left sit bone\" \
        --taken-by desk"
)]
pub(super) struct ReportArgs {
    /// The client's reference.
    client: String,
    /// The contact who said it.
    #[arg(long, value_name = "CONTACT")]
    by: String,
    /// What was found.
    #[arg(long, value_parser = PossibleValuesParser::new(READINGS.map(Reading::name)))]
    reading: Option<String>,
    /// What was said, in the contact's own words; they are read as a reply would be.
    #[arg(long)]
    words: Option<String>,
    /// Where; may be given more than once.
    #[arg(long = "site", value_name = "SITE", value_parser = site, conflicts_with = "words")]
    sites: Vec<Site>,
    /// Minutes until the mark was gone, or for which it has lasted.
    #[arg(long, value_name = "N", conflicts_with = "words")]
    minutes: Option<u32>,
    /// When it was seen, or when sitting started, by the client's clock.
    #[arg(long, value_name = "HH:MM", value_parser = time, conflicts_with = "words")]
    at: Option<NaiveTime>,
    /// Who of the clinic took the call: a clinician or an assistant.
    #[arg(long, value_name = "STAFF")]
    taken_by: String,
    /// Take the words as they were understood, without asking.
    #[arg(long, requires = "words")]
    yes: bool,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    config: ConfigOption,
}

impl ReportArgs {
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        let (office, store) = self.config.open()?;
        let taken_by = who::staff(&office.clinic, &self.taken_by, Act::Report)?;
        let (loaded, by, answering, language) = store.read_blocking(|view| self.about(view))?;
        let verdict = match &self.words {
            Some(words) => self.understood(&office, &language, answering, words)?,
            None => self.verdict(),
        };
        self.doubt_time(&office, &store, &loaded)?;
        let what = format!(
            "taken by {taken_by} by phone from {by}: {}{}",
            verdict.reading,
            at_sites(&verdict.sites)
        );
        let words = self.words.clone();
        let report = PhoneReport { by, taken_by, verdict, words };
        act_and_tell(office, &store, &loaded, &what, self.json, move |office, tx, id, now| {
            acts_by_hand::report(office, tx, id, &report, now)
        })
    }

    /// The client, the contact, what they were last asked, and their language.
    fn about(
        &self,
        view: &View<'_>,
    ) -> Result<(Loaded, ContactId, Answering, String), CommandError> {
        let loaded = who::loaded(view, &self.client)?;
        let by = who::contact(&loaded.state, &self.by)?;
        let person = view.contact(loaded.follow_up, &by)?;
        let language = person.map(|person| person.language).unwrap_or_default();
        let answering = answering(&loaded.state, &by);
        Ok((loaded, by, answering, language))
    }

    /// A time further back than the plan's `tell_clinic_after` is not counted (R2, R10).
    fn doubt_time(
        &self,
        office: &Office,
        store: &Store,
        loaded: &Loaded,
    ) -> Result<(), CommandError> {
        let Some(time) = self.at else { return Ok(()) };
        let plan = store.read_blocking(|view| office.plan(view, &loaded.plan))?;
        let (now, longest) = (now(), plan.looks.tell_clinic_after);
        let at = loaded.state.terms.zone.latest_not_after(time, now);
        if now - at > longest.elapsed() {
            let stated = moment(&loaded.state.terms.zone, at);
            paper::warn(&format!(
                "{stated} is more than {longest} ago (`tell_clinic_after`): the time of the call \
                 counts instead"
            ));
        }
        Ok(())
    }

    fn verdict(&self) -> Verdict {
        let name = self.reading.as_deref().unwrap_or_default();
        let reading = name.parse().expect("OK because only names of readings are let through");
        let mut sites = Vec::new();
        for site in &self.sites {
            if !sites.contains(site) {
                sites.push(*site);
            }
        }
        let minutes = self.minutes.map(Minutes::new);
        Verdict { reading, sites, minutes, stated_at: self.at, step: None }
    }

    /// Reads the words as a reply, and has the person at the phone confirm the reading.
    fn understood(
        &self,
        office: &Office,
        language: &str,
        answering: Answering,
        words: &str,
    ) -> Result<Verdict, CommandError> {
        let read = reply::read(&office.lexicons, language, answering, words);
        let verdict = read.verdict;
        let minutes = verdict.minutes.map(|m| format!(", {m}")).unwrap_or_default();
        let at = verdict.stated_at.map(|at| format!(", at {}", at.format("%H:%M")));
        let heard = format!(
            "understood as: {}{}{minutes}{} (because of: {})",
            verdict.reading,
            at_sites(&verdict.sites),
            at.unwrap_or_default(),
            read.because.join(" / ")
        );
        if !READINGS.contains(&verdict.reading) {
            return Err(CommandError::BadInput(format!(
                "{heard}\nthese words cannot be taken; nothing was changed\nhint: ask what was \
                 seen, then say it with --reading"
            )));
        }
        eprintln!("{heard}");
        if self.yes || confirmed()? {
            return Ok(verdict);
        }
        Err(CommandError::Refused(
            "not taken; nothing was changed\nhint: say it with --reading".to_owned(),
        ))
    }
}

/// Does an act on a client's follow-up, and tells what it led to.
pub(super) fn act_and_tell(
    office: Office,
    store: &Store,
    loaded: &Loaded,
    what: &str,
    json: bool,
    act: impl FnOnce(
        &Office,
        &mut crate::store::Tx<'_>,
        FollowUpId,
        crate::follow_up::Instant,
    ) -> Result<crate::service::Acted, crate::service::ServiceError>
    + Send
    + 'static,
) -> Result<ExitCode, CommandError> {
    let now = now();
    let office = std::sync::Arc::new(office);
    let (working, follow_up) = (std::sync::Arc::clone(&office), loaded.follow_up);
    let acted = store.write_blocking(move |tx| act(&working, tx, follow_up, now))?;
    let exit = outcome::tell(&office, store, (loaded.client.clone(), acted), what, json)?;
    outcome::warn_if_away(store, now)?;
    store.close();
    Ok(exit.into())
}

fn confirmed() -> Result<bool, CommandError> {
    if !std::io::stdin().is_terminal() {
        return Err(CommandError::BadInput(
            "nobody is there to confirm what was understood; nothing was changed\nhint: check it, \
             then add --yes"
                .to_owned(),
        ));
    }
    eprint!("take it so? [y/N] ");
    std::io::stderr().flush()?;
    let mut answer = String::new();
    std::io::stdin().read_line(&mut answer)?;
    Ok(matches!(answer.trim().to_lowercase().as_str(), "y" | "yes"))
}

/// Reads the id of a site.
pub(super) fn site(text: &str) -> Result<Site, String> {
    text.parse().map_err(|_| {
        let known: Vec<String> = all_sites().iter().map(ToString::to_string).collect();
        match who::nearest(text, &known) {
            Some(meant) => format!("there is no site `{text}`; did you mean `{meant}`?"),
            None => format!("there is no site `{text}`; the sites are {}", known.join(", ")),
        }
    })
}

fn time(text: &str) -> Result<NaiveTime, String> {
    NaiveTime::parse_from_str(text, "%H:%M")
        .map_err(|_| format!("`{text}` is not a time of day such as 10:20"))
}
