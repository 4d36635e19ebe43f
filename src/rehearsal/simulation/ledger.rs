//! The simulation's own record of what people said and saw and what mail servers took: the truth
//! that the promises are held against.
//!
//! From the service's journal it takes labels only (which look belongs to which sitting), never an
//! opinion.
//!
//! Never here: the checks themselves (`checks`), randomness.
//! Promises: whatever is noted here happened in the simulated world.

use std::collections::{BTreeMap, BTreeSet};

use crate::care::{ContactId, Ladder, Plan, PlanVersion, Reading};
use crate::config::{ClientFile, plan_version};
use crate::follow_up::event::{AlertSending, LookKind};
use crate::follow_up::{Calendar, Entry, Event, Instant, LookId, SittingNumber, State, StepNumber};
use crate::post::Outcome;
use crate::store::{
    Digest, FollowUpId, InboxId, JournalLine, JournalSeq, MailRecord, RequestTarget,
};

/// Who wrote something, as the simulation knows it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Writer {
    /// The contact who was asked, from the address on file, with the request's own token.
    Asked,
    /// A contact on file without a request of their own.
    OnFile,
    /// Somebody who is on file nowhere, or nobody who could be told.
    Stranger,
    /// A clinician, answering mail about the client.
    Clinician,
    /// A machine.
    Machine,
}

/// Something that was written.
#[derive(Clone, Debug)]
pub struct Utterance {
    /// What was meant.
    pub means: Reading,
    /// The minutes that it states.
    pub minutes: Option<u32>,
    /// The client that it is about.
    pub client: usize,
    /// Who wrote it.
    pub writer: Writer,
    /// What the notice that it answers asked about.
    pub target: RequestTarget,
    /// Whether its words can be read as they are meant, with nothing else around them.
    pub is_plain: bool,
    /// When it came, once it is worked through, by the world's clock.
    pub worked_at: Option<Instant>,
}

/// A letter in the clinic's mailbox.
#[derive(Clone, Debug)]
pub struct Posted {
    /// Its number on the server.
    pub uid: u32,
    /// Its bytes.
    pub raw: Vec<u8>,
    /// When it came, by the world's clock.
    pub came_at: Instant,
    /// Whether the service confirmed that it was taken.
    pub confirmed: bool,
    /// The inbox's number for it.
    pub inbox: Option<InboxId>,
}

/// A mail of the service, as far as it matters.
#[derive(Clone, Debug)]
pub struct Notice {
    /// The record when it was put in.
    pub record: MailRecord,
    /// What called for it.
    pub cause: Option<Cause>,
    /// When it was put in, or offered last, by the world's clock.
    pub touched: Instant,
    /// Whether a mail server refused it for good.
    pub refused: bool,
    /// How often it was offered to a mail server.
    pub offered: u32,
    /// How often a mail server took it and said so.
    pub accepted: u32,
    /// How often it had to go again, because nobody could know whether it went.
    pub excused: u32,
}

impl Notice {
    /// Whether it is of a stop or an alert.
    pub(super) fn is_urgent(&self) -> bool {
        matches!(self.cause, Some(Cause::ToldToStop | Cause::Alerted))
    }

    /// Whether a mail server took it, or may have, or will never take it.
    pub(super) fn is_done_with(&self) -> bool {
        self.accepted + self.excused > 0 || self.refused
    }

    /// It was offered to a mail server, with this outcome.
    pub(super) fn take(&mut self, outcome: &Outcome, now: Instant) {
        self.offered += 1;
        self.touched = now;
        match outcome {
            Outcome::Accepted { .. } => self.accepted += 1,
            Outcome::InDoubt { .. } => self.excused += 1,
            Outcome::Refused(refusal) => self.refused |= refusal.recipient_at_fault,
            Outcome::Unreachable { .. } => {}
        }
    }
}

/// The kinds of entries that call for mail, as labels.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cause {
    /// A sitting is announced.
    Announced,
    /// A look is asked for the first time.
    AskedFirst(LookKind),
    /// A look is asked again.
    AskedAgain(LookKind),
    /// A look is asked again because of unclear words.
    AskedAnew,
    /// An alert goes out.
    Alerted,
    /// A contact is told to stop.
    ToldToStop,
    /// The clinic is told something.
    Told,
    /// Anything else.
    Else,
}

/// A sitting, by its labels.
#[derive(Clone, Debug)]
pub struct SittingFacts {
    /// Its number.
    pub number: SittingNumber,
    /// How many sittings had begun, or begun again, before it did so last: a sitting that was
    /// cancelled may be taken up again after a later one.
    pub begun_after: usize,
    /// The looks that it must have.
    pub looks: Vec<LookId>,
}

/// A look, by its labels.
#[derive(Clone, Copy, Debug)]
pub struct LookFacts {
    /// Its kind.
    pub kind: LookKind,
    /// Its sitting.
    pub sitting: Option<SittingNumber>,
    /// The look that its mark was seen at.
    pub of: Option<LookId>,
    /// When it was first asked, by the world's clock.
    pub first_asked: Option<Instant>,
    /// Whether it is settled, by what was said or by a notice that it is not wanted or missed.
    pub settled: bool,
}

/// An alert that the clinic is owed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Owed {
    /// Since when, or when it was last offered, by the world's clock.
    pub last_offered: Instant,
    /// Whether it has been offered at all.
    pub offered: bool,
    /// Whether a clinician has acknowledged it.
    pub acknowledged: bool,
}

/// What the simulation knows of one client.
#[derive(Debug)]
pub struct ClientFacts {
    /// The service's number.
    pub follow_up: FollowUpId,
    /// The client file.
    pub file: ClientFile,
    /// The version of the plan that it was enrolled on.
    pub plan_version: PlanVersion,
    /// The calendar.
    pub calendar: Calendar,
    /// Entries seen so far.
    pub entries: u64,
    /// The newest entry's time.
    pub last_entry_at: Option<Instant>,
    /// Looks by number, from 1.
    pub looks: Vec<LookFacts>,
    /// How many looks lie before the first that is not settled.
    settled_before: usize,
    /// Sittings by number, from 1.
    pub sittings: Vec<SittingFacts>,
    /// The step, and the first sitting of the present stretch on it.
    pub step: u32,
    /// Sittings that last began earlier in the order than this do not count for the present step.
    pub stretch_from: usize,
    /// How many sittings have begun, or begun again.
    pub begun: usize,
    /// Which contact was asked about which look, by their place in the file, and how often
    /// without the requests that unclear words called for.
    asked: BTreeMap<(LookId, usize), usize>,
    /// Contacts whose mail fails for good.
    pub unreachable: BTreeSet<ContactId>,
    /// Whether sitting is stopped, as far as people have said.
    pub stopped: bool,
    /// Whether the follow-up has ended, by a clinician's word.
    pub closed: bool,
    /// The alert that is owed.
    pub owed: Option<Owed>,
    /// The number of the newest alert.
    pub newest_alert: u32,
    /// What the entries seen so far add up to, and the hash that covers them.
    pub journalled: Option<(State, Digest)>,
}

/// One committed step of the service.
#[derive(Debug, Default)]
pub struct Step {
    /// What the service was doing.
    pub doing: &'static str,
    /// The utterance that was worked through in it.
    pub worked: Option<usize>,
    /// The inbox number of it.
    pub inbox: Option<InboxId>,
    /// New entries, by client.
    pub entries: Vec<(usize, JournalLine)>,
    /// New mails, oldest first.
    pub mails: Vec<MailRecord>,
}

/// The record.
#[derive(Debug, Default)]
pub struct Ledger {
    /// Clients in the order of enrolment.
    pub clients: Vec<ClientFacts>,
    /// Everything said.
    pub said: Vec<Utterance>,
    /// The clinic's mailbox.
    pub posted: Vec<Posted>,
    /// The service's mails by their number.
    pub notices: BTreeMap<i64, Notice>,
    /// The numbers of those of a stop or an alert that no server has taken.
    pub untaken: BTreeSet<i64>,
    /// The entry's label for each place in the journal that called for mail.
    pub causes: BTreeMap<JournalSeq, (usize, Cause, RequestTarget)>,
    /// How often each mail of the inbox was worked through.
    pub worked: BTreeMap<i64, u32>,
    /// How often the store had been written to when plans were last seen to stay pinned.
    pub pinned_at: Option<u64>,
    /// The same for when states were last held against their journals.
    pub held_at: Option<u64>,
    /// Alerts that were raised.
    pub alerts: u64,
    /// Advances.
    pub advances: u64,
}

impl ClientFacts {
    /// A client who has just been enrolled.
    pub fn new(follow_up: FollowUpId, file: ClientFile) -> Self {
        let calendar = Calendar::new(file.time_zone.as_str())
            .expect("OK because the zone was checked when it was drawn");
        Self {
            follow_up,
            plan_version: plan_version(&file.plan),
            file,
            calendar,
            entries: 0,
            last_entry_at: None,
            looks: Vec::new(),
            settled_before: 0,
            sittings: Vec::new(),
            step: 1,
            stretch_from: 0,
            begun: 0,
            asked: BTreeMap::new(),
            unreachable: BTreeSet::new(),
            stopped: false,
            closed: false,
            owed: None,
            newest_alert: 0,
            journalled: None,
        }
    }

    /// The plan that the client was enrolled on.
    pub fn plan(&self) -> &Plan {
        &self.file.plan
    }

    /// The ladder of the client's level.
    pub fn ladder(&self) -> &Ladder {
        self.plan().ladder(&self.file.risk).expect("OK because the plan was drawn with it")
    }

    /// A look by number.
    pub fn look(&self, id: LookId) -> Option<&LookFacts> {
        self.looks.get((id.count() as usize).checked_sub(1)?)
    }

    fn look_mut(&mut self, id: LookId) -> Option<&mut LookFacts> {
        self.looks.get_mut((id.count() as usize).checked_sub(1)?)
    }

    fn push_look(&mut self, kind: LookKind, sitting: Option<SittingNumber>, of: Option<LookId>) {
        self.looks.push(LookFacts { kind, sitting, of, first_asked: None, settled: false });
        let id = LookId::new(u32::try_from(self.looks.len()).unwrap_or(u32::MAX));
        if let (LookKind::First, Some(number)) = (kind, sitting)
            && let Some(sitting) = self.sittings.get_mut(number.count() as usize - 1)
        {
            sitting.looks.push(id);
        }
    }

    fn forget_look(&mut self, id: LookId) {
        for sitting in &mut self.sittings {
            sitting.looks.retain(|look| *look != id);
        }
    }

    /// Adds an entry to what the entries add up to.
    pub fn add_up(&mut self, line: &JournalLine) {
        let state = self.journalled.take().map(|(state, _)| state);
        self.journalled = Some((State::fold(state, &line.entry), line.hash));
    }

    /// The place of a contact in the file.
    pub fn place_of(&self, contact: &ContactId) -> Option<usize> {
        self.file.contacts.iter().position(|known| known.id == *contact)
    }

    /// Whether a contact was ever asked about a look, for whatever reason.
    pub fn was_asked(&self, look: LookId, place: usize) -> bool {
        self.asked.contains_key(&(look, place))
    }

    /// How often a contact was asked about a look, without what unclear words called for.
    pub fn times_asked(&self, look: LookId, place: usize) -> usize {
        self.asked.get(&(look, place)).copied().unwrap_or(0)
    }

    /// Notes that a contact was asked about a look; anew, because of unclear words.
    pub fn note_asked(&mut self, look: LookId, place: usize, anew: bool) {
        *self.asked.entry((look, place)).or_default() += usize::from(!anew);
    }

    /// Looks that may still wait for something, by number: all that are not settled are among
    /// them.
    pub fn recent_looks(&self) -> impl Iterator<Item = (u32, &LookFacts)> {
        (1..).zip(&self.looks).skip(self.settled_before)
    }

    /// The alert that is owed is offered to a mail server.
    pub fn note_alert_offered(&mut self, world: Instant) {
        if let Some(owed) = &mut self.owed {
            owed.last_offered = world;
            owed.offered = true;
        }
    }

    /// Takes the labels of an entry, which has this number.
    pub fn label(&mut self, number: u64, entry: &Entry, world: Instant) {
        self.entries = number;
        self.last_entry_at = Some(entry.at);
        match &entry.event {
            Event::Sitting { sitting, offsets, .. } => {
                let begun_after = self.begun;
                self.begun += 1;
                self.sittings.push(SittingFacts {
                    number: *sitting,
                    begun_after,
                    looks: Vec::new(),
                });
                offsets.iter().for_each(|_| self.push_look(LookKind::First, Some(*sitting), None));
            }
            Event::TakenUp { sitting, offsets, .. } => {
                if let Some(facts) = self.sittings.get_mut(sitting.count() as usize - 1) {
                    facts.begun_after = self.begun;
                    self.begun += 1;
                }
                offsets.iter().for_each(|_| self.push_look(LookKind::First, Some(*sitting), None));
            }
            Event::LookPlanned { kind, sitting, of, .. } => self.push_look(*kind, *sitting, *of),
            Event::RoutineDue { .. } => self.push_look(LookKind::Routine, None, None),
            Event::Unasked { look, kind, .. } => {
                // Nobody was asked for it, so it is none of those that a sitting must have.
                self.push_look(*kind, None, None);
                self.settle(*look);
            }
            Event::LookWithdrawn { look, why } => {
                use crate::follow_up::event::WithdrawReason::{Moved, NoSitting};
                if matches!(why, Moved | NoSitting) {
                    self.forget_look(*look);
                }
                self.settle(*look);
            }
            Event::Asked { look, .. } => {
                if let Some(look) = self.look_mut(*look) {
                    look.first_asked.get_or_insert(world);
                }
            }
            Event::Found { look, .. } | Event::Missed { look, .. } => self.settle(*look),
            Event::Stopped { .. } | Event::Closed { .. } => {
                self.looks.iter_mut().for_each(|look| look.settled = true);
            }
            Event::Advanced { step, .. } | Event::Resumed { step, .. } => self.stand_on(*step),
            Event::Held { .. } | Event::Routine { .. } => {
                self.stretch_from = self.begun;
            }
            _ => {}
        }
        let waiting = self.looks[self.settled_before..].iter().position(|look| !look.settled);
        self.settled_before = waiting.map_or(self.looks.len(), |ahead| self.settled_before + ahead);
    }

    fn stand_on(&mut self, step: StepNumber) {
        self.step = step.count();
        self.stretch_from = self.begun;
    }

    fn settle(&mut self, id: LookId) {
        if let Some(look) = self.look_mut(id) {
            look.settled = true;
        }
    }
}

impl Ledger {
    /// Takes an entry that passed its checks: its labels, and what is owed by it.
    pub fn take(&mut self, client: usize, number: u64, entry: &Entry, world: Instant) {
        let facts = &mut self.clients[client];
        facts.label(number, entry, world);
        match &entry.event {
            Event::Stopped { .. } => facts.stopped = true,
            Event::Resumed { .. } => {
                facts.stopped = false;
                facts.owed = None;
            }
            Event::Closed { .. } => {
                facts.closed = true;
                facts.owed = None;
            }
            Event::Advanced { .. } | Event::Routine { .. } => self.advances += 1,
            Event::Alerted { alert, sending: AlertSending::Raised, .. } => {
                self.alerts += 1;
                facts.newest_alert = alert.count();
                facts.owed =
                    Some(Owed { last_offered: world, offered: false, acknowledged: false });
            }
            _ => {}
        }
    }

    /// The client with the service's number.
    pub fn client_of(&self, follow_up: FollowUpId) -> Option<usize> {
        self.clients.iter().position(|client| client.follow_up == follow_up)
    }

    /// The label of an entry that may call for mail, with what such mail is about.
    pub fn cause_of(event: &Event) -> (Cause, RequestTarget) {
        use crate::follow_up::event::RequestClock;
        match event {
            Event::Sitting { sitting, .. } => {
                (Cause::Announced, RequestTarget::Announcement(*sitting))
            }
            Event::Asked { look, kind, clock, .. } => {
                let cause = match clock {
                    RequestClock::First { .. } => Cause::AskedFirst(*kind),
                    RequestClock::Again { .. } => Cause::AskedAgain(*kind),
                    RequestClock::Unchanged => Cause::AskedAnew,
                };
                (cause, RequestTarget::Look(*look))
            }
            Event::Alerted { alert, .. } => (Cause::Alerted, RequestTarget::Alert(*alert)),
            Event::ToldToStop { .. } => (Cause::ToldToStop, RequestTarget::Other),
            Event::ClinicTold { .. } => (Cause::Told, RequestTarget::Other),
            Event::Answered { look, .. } => (Cause::Else, RequestTarget::Look(*look)),
            Event::Started { sitting, .. } => (Cause::Else, RequestTarget::Announcement(*sitting)),
            _ => (Cause::Else, RequestTarget::Other),
        }
    }
}
