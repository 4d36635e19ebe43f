//! The live timetable: what the service writes into its journal, as lines for people.
//!
//! Never here: anything that the journal does not say.
//! Promises: each entry is shown once, in the order of the journal, at its own time.

use std::collections::{BTreeMap, HashMap};
use std::io::Write;

use chrono::NaiveDate;

use super::error::DemoError;
use super::stage::{DAYS, Stage, first_day};
use crate::care::Plan;
use crate::follow_up::{Calendar, Event, State};
use crate::notice::Languages;
use crate::rehearsal::remark::{Remark, Remarks, Weight, shows_words};
use crate::rehearsal::wrap::wrapped;
use crate::reply::letter;
use crate::store::{FollowUpId, JournalLine, JournalSeq, OccasionId, Store, StoreError, View};

/// How many entries are read in one go.
const ENTRIES_MAX: u32 = 1000;
/// How wide the text of a line may be, in characters: with time and name it fits 100.
const TEXT_CHARS_MAX: usize = 82;

/// Follows the journal.
pub(super) struct Watcher {
    plan: Plan,
    languages: Languages,
    calendar: Calendar,
    pub(super) clients: Vec<Followed>,
    seen: Option<JournalSeq>,
    day: Option<NaiveDate>,
    colour: bool,
}

/// One client, as far as the journal has told.
pub(super) struct Followed {
    pub(super) follow_up: FollowUpId,
    pub(super) call_name: String,
    pub(super) names: BTreeMap<String, String>,
    pub(super) state: Option<State>,
    pub(super) tally: Tally,
}

/// What is counted for the summary.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Tally {
    pub(super) sittings: u32,
    pub(super) counted: u32,
    pub(super) answers: u32,
    pub(super) missed: u32,
    pub(super) stops: u32,
    pub(super) alerts: u32,
}

impl Watcher {
    pub(super) fn new(stage: &Stage, colour: bool) -> Self {
        let clinicians: BTreeMap<String, String> = stage
            .office
            .clinic
            .clinicians
            .iter()
            .map(|person| (person.id.to_string(), person.name.as_str().to_owned()))
            .collect();
        let clients = stage.clients.iter().map(|client| {
            let contacts = client.file.contacts.iter();
            let contacts =
                contacts.map(|person| (person.id.to_string(), person.name.as_str().to_owned()));
            Followed {
                follow_up: client.follow_up,
                call_name: client.file.call_name.as_str().to_owned(),
                names: clinicians.clone().into_iter().chain(contacts).collect(),
                state: None,
                tally: Tally::default(),
            }
        });
        Self {
            plan: stage.plan().clone(),
            languages: Languages::shipped(),
            calendar: stage.office.calendar.clone(),
            clients: clients.collect(),
            seen: None,
            day: None,
            colour,
        }
    }

    /// The plan that all clients are on.
    pub(super) fn plan(&self) -> &Plan {
        &self.plan
    }

    /// Says what is going to be seen.
    pub(super) fn welcome(
        &self,
        stage: &Stage,
        out: &mut (dyn Write + Send),
    ) -> Result<(), DemoError> {
        let names: Vec<&str> =
            self.clients.iter().map(|client| client.call_name.as_str()).collect();
        let text = format!(
            "{}\n\n\
             The real service runs the skin-check follow-up of {} invented clients: {}.\n\
             {DAYS} days go by in fast motion. The service asks by mail; the people answer by mail; \
             each line\nbelow is read from the journal that the service writes. (R5) names the rule \
             behind it.\n\
             Not a medical device and no substitute for clinical judgement.\n\n\
             Everything lies in {}\n",
            stage.office.clinic.name,
            names.len(),
            names.join(", "),
            stage.folder.display()
        );
        out.write_all(text.as_bytes()).map_err(DemoError::Output)
    }

    /// Shows what has come to the journal since the last time.
    pub(super) async fn show(
        &mut self,
        store: &Store,
        out: &mut (dyn Write + Send),
    ) -> Result<(), DemoError> {
        let after = self.seen;
        let (lines, words) = store
            .read(move |view| -> Result<_, StoreError> {
                let lines = view.journal_since(after, ENTRIES_MAX)?;
                let words = words_behind(view, &lines)?;
                Ok((lines, words))
            })
            .await?;
        let mut words = words;
        for line in lines {
            self.seen = Some(line.seq);
            let said =
                shows_words(&line.entry.event).then(|| words.remove(&line.occasion)).flatten();
            self.take(&line, said.as_deref(), out).map_err(DemoError::Output)?;
        }
        out.flush().map_err(DemoError::Output)
    }

    fn take(
        &mut self,
        line: &JournalLine,
        words: Option<&str>,
        out: &mut (dyn Write + Send),
    ) -> std::io::Result<()> {
        let found = self.clients.iter_mut().find(|client| client.follow_up == line.follow_up);
        let Some(client) = found else { return Ok(()) };
        let state = State::fold(client.state.take(), &line.entry);
        client.tally.count(&line.entry.event);
        let remarks = Remarks::new(&self.plan, client.names.clone(), &self.languages);
        let remark = remarks.of(&line.entry, &state, words);
        let name = client.call_name.clone();
        client.state = Some(state);
        let Some(remark) = remark else { return Ok(()) };
        let local = self.calendar.local(line.entry.at);
        if self.day != Some(local.date_naive()) {
            self.day = Some(local.date_naive());
            let number = (local.date_naive() - first_day()).num_days() + 1;
            let day =
                if number < 1 { "The day before".to_owned() } else { format!("Day {number}") };
            let title = format!("{day} · {}", local.format("%A %-d %B %Y"));
            writeln!(out, "\n{}", self.painted(&title, "1"))?;
        }
        self.write(&local.format("%H:%M").to_string(), &name, &remark, out)
    }

    fn write(
        &self,
        time: &str,
        name: &str,
        remark: &Remark,
        out: &mut (dyn Write + Send),
    ) -> std::io::Result<()> {
        let text = if remark.rule.is_empty() {
            remark.text.clone()
        } else {
            format!("{} ({})", remark.text, remark.rule)
        };
        let mark = match remark.weight {
            Weight::Plain => ' ',
            Weight::Forward => '+',
            Weight::Grave => '!',
        };
        for (number, part) in wrapped(&text, TEXT_CHARS_MAX).iter().enumerate() {
            let part = match remark.weight {
                Weight::Plain => part.clone(),
                Weight::Forward => self.painted(part, "32"),
                Weight::Grave => self.painted(part, "1;31"),
            };
            if number == 0 {
                writeln!(out, " {time}  {name:<5} {mark} {part}")?;
            } else {
                writeln!(out, "                 {part}")?;
            }
        }
        Ok(())
    }

    fn painted(&self, text: &str, code: &str) -> String {
        if self.colour { format!("\u{1b}[{code}m{text}\u{1b}[0m") } else { text.to_owned() }
    }
}

impl Tally {
    fn count(&mut self, event: &Event) {
        match event {
            Event::Sitting { .. } => self.sittings += 1,
            Event::Credit { .. } => self.counted += 1,
            Event::Answered { .. } => self.answers += 1,
            Event::Missed { .. } => self.missed += 1,
            Event::Stopped { .. } => self.stops += 1,
            Event::Alerted { .. } => self.alerts += 1,
            _ => {}
        }
    }
}

/// The own words of the replies that led to entries, by occasion.
fn words_behind(
    view: &View<'_>,
    lines: &[JournalLine],
) -> Result<HashMap<OccasionId, String>, StoreError> {
    let mut words = HashMap::new();
    for line in lines {
        if !shows_words(&line.entry.event) || words.contains_key(&line.occasion) {
            continue;
        }
        let occasion = view.occasion(line.occasion)?;
        if let Some(inbox) = occasion.inbox()
            && let Some(raw) = view.raw_received(inbox)?
        {
            words.insert(line.occasion, letter::open(&raw).words);
        }
    }
    Ok(words)
}
