//! `fadewatch show CLIENT`: everything about one follow-up that a clinician asks for first.
//!
//! Never here: changing anything.
//! Promises: a look that nobody answered shows, and never as clear; who is asked is named by
//! reference, name and address.

use serde::Serialize;

use super::contact::{self, Known};
use super::journal_lines::{self, Line};
use super::moments::{moment, stamp, time_of_day};
use super::setting::{CommandError, now};
use super::standing::{Stand, StandJson};
use super::table::{Cell, Table, painted};
use super::telling::{at_sites, finding, named};
use crate::care::Minutes;
use crate::config::Colour;
use crate::follow_up::state::{Course, Look, LookStatus, Outcome, Sitting};
use crate::follow_up::{Calendar, Instant};
use crate::overview::contacts::hours_left_open;
use crate::rehearsal::phrases::alert_cause;
use crate::service::Office;
use crate::store::{FollowUpId, View};

/// Sittings and journal entries that fit a screen beside the rest.
const SITTINGS_SHOWN: usize = 6;
const ENTRIES_SHOWN: u64 = 60;
const CONTACTS: &str = "Contacts, in calling order";
const LINES_SHOWN: usize = 10;

/// All that the page shows.
pub(super) struct ClientPage {
    stand: Stand,
    call_name: Option<String>,
    contacts: Vec<Known>,
    lines: Vec<Line>,
}

/// The page as programs read it.
#[derive(Serialize)]
pub(super) struct ClientJson {
    #[serde(flatten)]
    stand: StandJson,
    call_name: Option<String>,
    risk: String,
    plan_id: String,
    approved_by: Option<String>,
    /// The version of the fitting that is tested.
    #[serde(skip_serializing_if = "Option::is_none")]
    fitting: Option<String>,
    begins: String,
    sittings_at: Vec<String>,
    quiet: Option<[String; 2]>,
    time_zone_database: &'static str,
    cover: Vec<String>,
    contacts: Vec<Known>,
    alert_detail: Option<AlertJson>,
    sittings: Vec<SittingJson>,
    open_looks: Vec<OpenLookJson>,
    journal: Vec<Line>,
}

/// An alert as programs read it.
#[derive(Serialize)]
pub(super) struct AlertJson {
    about: &'static str,
    raised_at: String,
    with: String,
    sent: std::collections::BTreeMap<String, u32>,
    last_sent: String,
    acknowledged_by: Option<String>,
    acknowledged_at: Option<String>,
}

#[derive(Serialize)]
struct SittingJson {
    sitting: u32,
    step: u32,
    start: String,
    planned_minutes: u32,
    looks: String,
    outcome: &'static str,
}

#[derive(Serialize)]
struct OpenLookJson {
    look: u32,
    what: String,
    due: String,
    asking: Option<String>,
    asked_since: Option<String>,
    over_at: Option<String>,
}

impl ClientPage {
    pub(super) fn read(
        office: &Office,
        view: &View<'_>,
        follow_up: FollowUpId,
    ) -> Result<Self, CommandError> {
        let now = now();
        let stand = Stand::load(office, view, follow_up, now)?;
        let contacts = contact::known(view, follow_up, (&stand.state, &stand.plan), now)?;
        let mut lines =
            journal_lines::newest(view, follow_up, &stand.state.terms.zone, ENTRIES_SHOWN)?;
        lines.retain(|line| !line.keeps_the_books);
        let first = lines.len().saturating_sub(LINES_SHOWN);
        lines.drain(..first);
        Ok(Self { call_name: view.call_name(follow_up)?, stand, contacts, lines })
    }

    fn zone(&self) -> &Calendar {
        &self.stand.state.terms.zone
    }

    pub(super) fn rendered(&self, now: Instant, colour: Colour) -> String {
        let mut text = format!(
            "{}{}: {}\n\n",
            self.stand.client,
            self.call_name.as_ref().map(|name| format!(" ({name})")).unwrap_or_default(),
            painted(self.stand.standing(), (&self.stand.state.standing).into(), colour),
        );
        for (name, fact) in self.facts(now) {
            text.push_str(&format!("  {name:<13} {fact}\n"));
        }
        let parts = [
            (CONTACTS, contact::table(&self.contacts).indented(2)),
            ("Last sittings", self.sittings_table()),
            ("Open looks", self.open_looks_table()),
        ];
        let open = hours_left_open(&self.stand.state, &self.stand.plan);
        for (title, table) in parts {
            if !table.is_empty() {
                text.push_str(&format!("\n{title}\n{}", table.rendered(colour)));
            }
            for gap in open.iter().filter(|_| title == CONTACTS) {
                text.push_str(&format!("  {gap}\n"));
            }
        }
        let journal = journal_lines::table(&self.lines).indented(2);
        let rest = format!("fadewatch journal {} shows the rest", self.stand.client);
        text.push_str(&format!("\nJournal ({rest})\n{}", journal.rendered(colour)));
        text
    }

    fn facts(&self, now: Instant) -> Vec<(&'static str, String)> {
        let (stand, zone) = (&self.stand, self.zone());
        let terms = &stand.state.terms;
        let approval = stand.plan.approval.as_ref();
        let approved = approval.map(|a| format!(", approved by {} on {}", a.by, a.on));
        let mut facts = vec![
            ("Risk level", terms.risk.to_string()),
            (
                "Plan",
                format!(
                    "{}, version {}{}",
                    stand.plan.id,
                    terms.plan,
                    approved.unwrap_or_default()
                ),
            ),
            ("Step", self.step_in_full()),
        ];
        let fitting = stand.state.fitting.as_ref();
        facts.extend(fitting.map(|version| ("Fitting", format!("tests version {version}"))));
        facts.extend(stand.run().map(|run| ("Run", run)));
        facts.extend(stand.waiting_in_words(now).map(|waiting| ("Waits for", waiting)));
        if let (Some((at, _)), Some(what)) = (stand.next, stand.next_in_words()) {
            facts.push(("Next due", format!("{}, {what}", moment(zone, at))));
        }
        facts.push(("Alert", self.alert_in_words()));
        let times = terms.sittings_at.iter().map(|time| time_of_day(*time));
        facts.push(("Sittings at", times.collect::<Vec<_>>().join(", ")));
        let quiet = terms
            .quiet
            .map(|quiet| format!("{} to {}", time_of_day(quiet.from), time_of_day(quiet.to)));
        facts.push(("Quiet hours", quiet.unwrap_or_else(|| "none".to_owned())));
        let database = Calendar::database_version();
        let zone_name = zone.zone_name();
        facts.push(("Time zone", format!("{zone_name}, by time-zone database {database}")));
        let whose = if terms.cover.is_empty() { " (the clinic's)" } else { "" };
        facts.push(("Cover", format!("{}{whose}", self.cover().join(", "))));
        facts.push(("Began", terms.begins.to_string()));
        facts
    }

    fn cover(&self) -> Vec<String> {
        self.stand.cover.iter().map(ToString::to_string).collect()
    }

    fn step_in_full(&self) -> String {
        let Some(step) = self.stand.state.step() else { return self.stand.step() };
        let ladder = self.stand.ladder();
        let plan_step = ladder.and_then(|l| l.steps.get(step.count().checked_sub(1)? as usize));
        let more = plan_step.map(|step| {
            let every = step.look_every.map(|every| format!(", a look every {every}"));
            format!(
                ", {} a day, {} clear to advance{}",
                step.sittings_per_day,
                step.clear_to_advance,
                every.unwrap_or_default()
            )
        });
        format!("{}{}", self.stand.step(), more.unwrap_or_default())
    }

    fn alert_in_words(&self) -> String {
        let Some(alert) = &self.stand.state.alert else { return "none".to_owned() };
        let zone = self.zone();
        let sent: Vec<String> =
            alert.sent.iter().map(|(who, count)| format!("{count}× {who}")).collect();
        let taken = match &alert.acknowledged {
            Some((by, at)) => format!("taken up by {by} at {}, not decided", moment(zone, *at)),
            None => format!("OPEN, with {}", alert.holder),
        };
        format!(
            "{taken}; raised {}: {}; sent {}",
            moment(zone, alert.raised_at),
            alert_cause(alert.cause),
            sent.join(", ")
        )
    }

    fn last_sittings(&self) -> impl Iterator<Item = &Sitting> {
        self.stand.state.sittings().rev().take(SITTINGS_SHOWN)
    }

    fn sittings_table(&self) -> Table {
        let head = ["sitting", "start", "step", "planned", "looks", "outcome"];
        let mut table = Table::new(&head).indented(2);
        for sitting in self.last_sittings() {
            table.row(vec![
                sitting.number.to_string().into(),
                moment(self.zone(), sitting.start).into(),
                sitting.step.to_string().into(),
                sitting.sit.to_string().into(),
                self.looks_in_words(sitting).into(),
                outcome(sitting).into(),
            ]);
        }
        table
    }

    /// `clear`; `marked at ischium-left, recheck faded after 20min`.
    fn looks_in_words(&self, sitting: &Sitting) -> String {
        let looks = sitting.looks.iter().map(|id| self.stand.state.look(*id));
        let words: Vec<String> = looks.map(look_in_words).collect();
        words.join(", ")
    }

    fn open_looks(&self) -> impl Iterator<Item = &Look> {
        self.stand.state.unsettled_looks()
    }

    fn open_looks_table(&self) -> Table {
        let head = ["look", "what", "due", "asked", "since", "ends"];
        let mut table = Table::new(&head).indented(2);
        let zone = self.zone();
        for look in self.open_looks() {
            let clock = look.clock.as_ref();
            table.row(vec![
                look.id.to_string().into(),
                named(look.kind, look.sitting).into(),
                moment(zone, look.due).into(),
                Cell::maybe(clock.map(|clock| clock.asking.to_string())),
                Cell::maybe(clock.map(|clock| moment(zone, clock.first_asked))),
                Cell::maybe(clock.map(|clock| moment(zone, clock.over_at))),
            ]);
        }
        table
    }

    pub(super) fn json(self) -> ClientJson {
        let zone = self.zone().clone();
        let cover = self.cover();
        let alert_detail = alert_json(&self.stand);
        let sittings = self.last_sittings().map(|sitting| SittingJson {
            sitting: sitting.number.count(),
            step: sitting.step.count(),
            start: stamp(&zone, sitting.start),
            planned_minutes: sitting.sit.count(),
            looks: self.looks_in_words(sitting),
            outcome: outcome(sitting),
        });
        let sittings = sittings.collect();
        let open_looks = self.open_looks().map(|look| {
            let clock = look.clock.as_ref();
            OpenLookJson {
                look: look.id.count(),
                what: named(look.kind, look.sitting),
                due: stamp(&zone, look.due),
                asking: clock.map(|clock| clock.asking.to_string()),
                asked_since: clock.map(|clock| stamp(&zone, clock.first_asked)),
                over_at: clock.map(|clock| stamp(&zone, clock.over_at)),
            }
        });
        let open_looks = open_looks.collect();
        let terms = &self.stand.state.terms;
        ClientJson {
            stand: self.stand.json(),
            risk: terms.risk.to_string(),
            plan_id: self.stand.plan.id.clone(),
            approved_by: self.stand.plan.approval.as_ref().map(|a| a.by.clone()),
            fitting: self.stand.state.fitting.as_ref().map(|f| f.as_str().to_owned()),
            begins: terms.begins.to_string(),
            sittings_at: terms.sittings_at.iter().map(|time| time_of_day(*time)).collect(),
            quiet: terms.quiet.map(|quiet| [time_of_day(quiet.from), time_of_day(quiet.to)]),
            time_zone_database: Calendar::database_version(),
            call_name: self.call_name,
            cover,
            contacts: self.contacts,
            alert_detail,
            sittings,
            open_looks,
            journal: self.lines,
        }
    }
}

/// The alert of a follow-up.
pub(super) fn alert_json(stand: &Stand) -> Option<AlertJson> {
    let (alert, zone) = (stand.state.alert.as_ref()?, &stand.state.terms.zone);
    let acknowledged = alert.acknowledged.as_ref();
    Some(AlertJson {
        about: alert_cause(alert.cause),
        raised_at: stamp(zone, alert.raised_at),
        with: alert.holder.to_string(),
        sent: alert.sent.iter().map(|(who, count)| (who.to_string(), *count)).collect(),
        last_sent: stamp(zone, alert.last_sent),
        acknowledged_by: acknowledged.map(|(by, _)| by.to_string()),
        acknowledged_at: acknowledged.map(|(_, at)| stamp(zone, *at)),
    })
}

fn look_in_words(look: &Look) -> String {
    let recheck = if look.of.is_some() { "recheck " } else { "" };
    let said = match (&look.found, look.status) {
        (Some(found), _) => {
            let fade = found.fade.filter(|fade| *fade > Minutes::ZERO);
            let fade = fade.map(|fade| format!(" after {fade}")).unwrap_or_default();
            format!("{}{}{fade}", finding(found.finding), at_sites(&found.sites))
        }
        (None, LookStatus::Planned) => "not asked yet".to_owned(),
        (None, LookStatus::Open) => "open".to_owned(),
        (None, LookStatus::Missed) => "NOT ANSWERED".to_owned(),
        (None, LookStatus::Withdrawn { .. } | LookStatus::Answered) => "withdrawn".to_owned(),
    };
    format!("{recheck}{said}")
}

fn outcome(sitting: &Sitting) -> &'static str {
    match (sitting.course, sitting.outcome) {
        (Course::Cancelled, _) => "did not take place",
        (Course::Stopped, _) => "stopped",
        (_, Some(Outcome::Credit { .. })) => "credit",
        (_, Some(Outcome::NoCredit { .. })) => "no credit",
        (_, None) => "under way",
    }
}
