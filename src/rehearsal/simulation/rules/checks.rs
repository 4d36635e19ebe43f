//! What is held against the record at this depth, beside the checks that both depths share.
//!
//! Never here: rules; the shared checks (`simulation::checks`).
//! Promises: each entry follows a rule and a fact that can bring it; a state in memory is what its
//! entries add up to.

use chrono::TimeDelta;

use super::Rules;
use crate::follow_up::{Entry, Event, Occasion, State};
use crate::rehearsal::simulation::checks::Sight;
use crate::rehearsal::simulation::ledger::Utterance;
use crate::rehearsal::simulation::trial::{Broken, Promise};

impl Rules {
    /// What the checks see that are the same at each depth.
    pub(super) fn sight(&self) -> Sight<'_> {
        let process = &self.process;
        let is_able = process.is_up && !process.is_full;
        Sight {
            ledger: &self.ledger,
            now: self.now,
            able_since: is_able.then(|| process.up_since.max(process.room_since)),
            set_back: self.set_back,
            was_set_back: self.was_set_back,
            hidden: &process.hidden,
        }
    }

    /// What is owed at this moment; and plans stay pinned.
    pub(super) fn audit(&mut self) -> Result<(), Broken> {
        self.sight().check_owed()?;
        for (follow_up, facts) in self.follow_ups.iter().zip(&self.ledger.clients) {
            if follow_up.state.terms.plan != facts.plan_version {
                let what = "a follow-up is on another plan than it began with";
                return Err(Broken::new(Promise::Pinned, what));
            }
        }
        Ok(())
    }

    /// Promise 6: an entry has its rule, and comes of an occasion that can bring it; what is taken
    /// for an answer was said so, by that person.
    pub(super) fn check_entry_traced(
        entry: &Entry,
        occasion: &Occasion,
        said: Option<&Utterance>,
    ) -> Result<(), Broken> {
        let writer = match occasion {
            Occasion::Reply { by, .. } => Some(by),
            _ => None,
        };
        let fits = match &entry.event {
            Event::Answered { by, reading, .. } => {
                writer == Some(by) && said.is_some_and(|said| said.means == *reading)
            }
            Event::Found { found, .. } => {
                let means = said.map(|said| said.means);
                writer == Some(&found.by) && means == Some(found.finding.reading())
            }
            Event::Started { .. } | Event::TakenUp { .. } | Event::Unasked { .. } => {
                writer.is_some()
            }
            Event::Unreachable { contact } => {
                matches!(occasion, Occasion::Unreachable { contact: told } if told == contact)
            }
            Event::Awoke { .. } => matches!(occasion, Occasion::Awoke { .. }),
            Event::ClockSetBack { .. } => matches!(occasion, Occasion::ClockSetBack { .. }),
            _ => true,
        };
        if fits && !entry.event.rule().is_empty() {
            return Ok(());
        }
        let what = format!("{:?} ({}) comes of {occasion:?}", entry.event, entry.event.rule());
        Err(Broken::new(Promise::Traces, what))
    }

    /// Promise 7: all states are thrown away and rebuilt from the entries, and are the same.
    pub(super) fn rebuild(&mut self) -> Result<(), Broken> {
        for (client, follow_up) in self.follow_ups.iter_mut().enumerate() {
            let state =
                follow_up.journal.iter().fold(None, |state, entry| Some(State::fold(state, entry)));
            let rebuilt = state.expect("OK because the enrolment is an entry");
            if rebuilt != follow_up.state {
                let what = format!("client {client} is not what its journal adds up to");
                return Err(Broken::new(Promise::Journal, what));
            }
            follow_up.state = rebuilt;
        }
        Ok(())
    }

    /// The end of a run.
    pub(super) fn check_at_the_end(&mut self) -> Result<(), Broken> {
        self.sight().check_nothing_is_owed()?;
        self.rebuild()?;
        let due = self.follow_ups.iter().filter_map(|follow_up| follow_up.next_due).min();
        let late = due.filter(|due| *due < self.service_now() - TimeDelta::minutes(2));
        if let Some(due) = late {
            return Err(Broken::new(Promise::Calm, format!("something is due since {due}")));
        }
        if let Some(letter) = self.inbox.front() {
            let what = format!("what came at {} was never worked through", letter.came_at);
            return Err(Broken::new(Promise::Calm, what));
        }
        Ok(())
    }

    /// Tells what an act led to.
    pub(super) fn tell_step(&mut self, client: usize, entries: &[Entry], said: Option<&Utterance>) {
        if let Some(said) = said {
            let (means, writer, target) = (said.means.name(), &said.writer, said.target);
            self.tell(|| format!("client {client} said {means} ({writer:?}, about {target:?})"));
        }
        for entry in entries {
            let at = if entry.at == self.now {
                String::new()
            } else {
                format!(" (journalled at {})", entry.at.format("%Y-%m-%d %H:%M:%S"))
            };
            self.tell(|| format!("client {client}: {:?}{at}", entry.event));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::care::{Reading, Verdict};
    use crate::follow_up::event::LookKind;
    use crate::follow_up::{Aim, Instant, LookId};
    use crate::rehearsal::simulation::cast;
    use crate::rehearsal::simulation::fault::Faults;
    use crate::rehearsal::simulation::ledger::Writer;
    use crate::rehearsal::simulation::trial::{Depth, Medium, Trial};
    use crate::store::RequestTarget;

    fn rules() -> Rules {
        let (faults, medium, depth) = (Faults::NONE, Medium::Memory, Depth::Rules);
        let trial = Trial { seed: 1, days: 1, faults, medium, depth };
        Rules::new(trial, cast::draw(1), Instant::UNIX_EPOCH, false)
    }

    #[test]
    fn a_state_beside_its_entries_is_noticed_when_it_is_rebuilt() {
        let mut rules = rules();
        assert_eq!(rules.rebuild(), Ok(()));
        rules.follow_ups[0].state.requests += 1;
        let noticed = rules.rebuild().unwrap_err();
        assert_eq!(noticed.promise, Promise::Journal);
    }

    #[test]
    fn an_entry_that_nothing_brings_is_noticed() {
        let awoke = Event::Awoke { away_since: Instant::UNIX_EPOCH };
        let entry = Entry { at: Instant::UNIX_EPOCH, event: awoke };
        let noticed = Rules::check_entry_traced(&entry, &Occasion::Clock, None).unwrap_err();
        assert_eq!(noticed.promise, Promise::Traces);
    }

    #[test]
    fn an_answer_is_traced_to_who_gave_it_and_to_nobody_else() {
        let contacts = &rules().contacts[0];
        let by = contacts[0].0.clone();
        let verdict = Verdict::bare(Reading::Clear);
        let said = |means| Utterance {
            means,
            minutes: None,
            client: 0,
            writer: Writer::Asked,
            target: RequestTarget::Other,
            is_plain: true,
            worked_at: None,
        };
        let aim = Aim::Newest;
        let occasion = Occasion::Reply { by: by.clone(), verdict, aim };
        let event = Event::Answered {
            look: LookId::new(1),
            kind: LookKind::First,
            sitting: None,
            by,
            reading: Reading::Clear,
            sites: Vec::new(),
            minutes: None,
        };
        let entry = Entry { at: Instant::UNIX_EPOCH, event };
        let traced = |means| Rules::check_entry_traced(&entry, &occasion, Some(&said(means)));
        assert_eq!(traced(Reading::Clear), Ok(()));
        assert!(traced(Reading::Alarming).is_err());
    }
}
