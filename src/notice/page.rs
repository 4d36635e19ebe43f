//! What every notice about one follow-up shares: the reader's wording, the client's clock, the
//! frame of the subject, answers, cautions.
//!
//! Never here: what a single kind of notice says.
//! Promises: a time is on the client's clock; a mail names the client by call name only, and its
//! subject by reference only.

use super::draft::{Answer, Answers, Block, Draft, Urgency};
use super::phrase::Clock;
use super::setting::{Backdrop, Setting, one_line};
use super::stop_cause::stop_cause;
use super::wording::Wording;
use crate::care::{ClinicianId, ContactId, Ladder, Minutes, Plan, Site};
use crate::follow_up::calendar::Cursor;
use crate::follow_up::event::StopReason;
use crate::follow_up::state::Standing;
use crate::follow_up::{Event, Instant, State, StepNumber};

/// One event of one follow-up, with everything around it.
#[derive(Clone, Copy)]
pub(super) struct Scene<'a> {
    pub(super) at: Instant,
    pub(super) state: &'a State,
    pub(super) plan: &'a Plan,
    pub(super) setting: &'a Setting<'a>,
    pub(super) backdrop: &'a Backdrop<'a>,
}

/// A scene in the words of one reader.
#[derive(Clone, Copy)]
pub(super) struct Page<'a> {
    pub(super) w: &'a Wording,
    pub(super) scene: Scene<'a>,
}

impl<'a> Scene<'a> {
    pub(super) fn for_contact(self, to: &ContactId) -> Page<'a> {
        let person = self.setting.contacts.get(to);
        self.in_language(person.map_or("", |person| person.language()))
    }

    pub(super) fn for_clinician(self, to: &ClinicianId) -> Page<'a> {
        let person = self.setting.clinicians.get(to);
        self.in_language(person.map_or("", |person| person.language()))
    }

    pub(super) fn in_language(self, tag: &str) -> Page<'a> {
        Page { w: self.setting.languages.wording(tag), scene: self }
    }

    fn ladder(self) -> Option<&'a Ladder> {
        self.plan.ladder(&self.state.terms.risk)
    }

    /// Why sitting was last stopped and where the sign is, where that is known.
    pub(super) fn stop(self) -> Option<(StopReason, &'a [Site])> {
        let Some(Event::Stopped { why, sites, .. }) = self.backdrop.stop.map(|entry| &entry.event)
        else {
            return stop_cause(self.state);
        };
        Some((*why, sites))
    }

    /// How long one sitting of a step lasts.
    pub(super) fn sit(self, step: StepNumber) -> Option<Minutes> {
        let index = (step.count() as usize).checked_sub(1)?;
        self.ladder()?.steps.get(index).map(|step| step.sit)
    }

    /// How many steps there are.
    pub(super) fn steps(self) -> u32 {
        u32::try_from(self.ladder().map_or(0, |ladder| ladder.steps.len())).unwrap_or(u32::MAX)
    }

    /// The next planned sitting that R4's rest lets take place, while sitting time is built up.
    pub(super) fn next_sitting(self) -> Option<Instant> {
        let State { terms, sitting_cursor, gone_at, .. } = self.state;
        if self.state.standing != Standing::Open {
            return None;
        }
        let step =
            self.ladder()?.steps.get((self.state.step()?.count() as usize).checked_sub(1)?)?;
        let times: Vec<_> =
            terms.sittings_at.iter().copied().take(step.sittings_per_day as usize).collect();
        let rested = gone_at.map(|at| at + self.plan.looks.rest_after_mark.elapsed());
        let from = sitting_cursor.from.max(self.at).max(rested.unwrap_or(self.at));
        let slot = terms.zone.next_of(&times, &Cursor { from, handled: sitting_cursor.handled })?;
        Some(slot.at)
    }
}

impl<'a> Page<'a> {
    /// An empty draft with its subject.
    pub(super) fn draft(&self, urgency: Urgency, what: &str) -> Draft {
        let client_ref = self.client_ref();
        let subject = self.w.frame_subject(&what, &client_ref);
        Draft::new(self.w, urgency, subject, self.w.frame_reply_subject(&client_ref))
    }

    pub(super) fn client(&self) -> &'a str {
        self.scene.setting.client.call_name()
    }

    pub(super) fn client_ref(&self) -> &'a str {
        self.scene.setting.client.reference().as_str()
    }

    /// A contact's name.
    pub(super) fn contact(&self, id: &ContactId) -> String {
        let person = self.scene.setting.contacts.get(id);
        person.map_or_else(|| self.w.frame_unnamed(), |person| person.name().to_owned())
    }

    /// A clinician's name.
    pub(super) fn clinician(&self, id: &ClinicianId) -> String {
        let person = self.scene.setting.clinicians.get(id);
        person.map_or_else(|| self.w.frame_unnamed(), |person| person.name().to_owned())
    }

    pub(super) fn when(&self, at: Instant) -> String {
        self.w.when(Clock { zone: &self.scene.state.terms.zone, now: self.scene.at }, at)
    }

    /// The time of day alone.
    pub(super) fn clock(&self, at: Instant) -> String {
        self.w.clock(self.scene.state.terms.zone.local(at).time())
    }

    pub(super) fn duration(&self, duration: Minutes) -> String {
        self.w.duration(duration)
    }

    pub(super) fn place<'s>(&self, sites: impl IntoIterator<Item = &'s Site>) -> String {
        self.w.place(sites)
    }

    /// `step 2 (30 min)`.
    pub(super) fn step(&self, step: StepNumber) -> String {
        match self.scene.sit(step) {
            Some(sit) => self.w.frame_step(&step, &self.duration(sit)),
            None => step.to_string(),
        }
    }

    /// The one-tap answers of a notice, and the line that plain words are welcome.
    pub(super) fn answers(&self, draft: &mut Draft, answers: Vec<Answer>, example: &str) {
        let (tap, write) = (self.w.frame_tap(), self.w.frame_write());
        draft.push(Block::Answers(Answers { tap, write, answers }));
        draft.line(self.w.frame_own_words(&example));
    }

    /// One-tap answers under a line of their own.
    pub(super) fn answers_under(&self, draft: &mut Draft, above: String, answers: Vec<Answer>) {
        draft.push(Block::Answers(Answers { tap: above.clone(), write: above, answers }));
    }

    /// The answer with which a clinician stops sitting that goes on (R23).
    pub(super) fn stop_answer(&self) -> Answer {
        let w = self.w;
        let (label, body) = (w.label_stop(), w.tap_keep_stopped());
        Answer { label, body, meaning: Some(w.meaning_stop()) }
    }

    /// What contacts have to know whatever they are asked.
    pub(super) fn contact_cautions(&self, draft: &mut Draft) {
        draft.push(Block::Urgent(self.w.caution_urgent()));
        draft.small(format!("{} {}", self.w.caution_service(), self.hours()));
    }

    /// How to reach the clinic, and what to do when it is closed.
    pub(super) fn hours(&self) -> String {
        let clinic = self.scene.setting.clinic;
        self.w.caution_hours(&clinic.name, &clinic.phone, &clinic.out_of_hours)
    }

    pub(super) fn clinician_cautions(&self, draft: &mut Draft) {
        draft.small(self.w.caution_clinician());
    }

    /// The pictures that go with the mail.
    pub(super) fn pictures(&self, draft: &mut Draft) {
        for picture in &self.scene.backdrop.pictures {
            let line = self.w.frame_picture(&picture.described);
            draft.push(Block::Picture { picture: picture.clone(), line });
        }
    }

    /// Words that somebody wrote, with who and when.
    pub(super) fn said(&self, draft: &mut Draft) {
        if let Some(said) = &self.scene.backdrop.said {
            let when = self.when(said.at);
            draft.line(match said.who.map(one_line).or_else(|| self.reporter(said.at)) {
                Some(who) => self.w.alert_said(&who, &when),
                None => self.w.alert_written(&when),
            });
            draft.quote(self.w, said.words);
        }
    }
}

impl Page<'_> {
    /// The contact whose finding came at an instant.
    fn reporter(&self, at: Instant) -> Option<String> {
        let looks = self.scene.state.looks();
        let mut found = looks.filter_map(|look| look.found.as_ref());
        found.find(|found| found.said_at == at).map(|found| self.contact(&found.by))
    }
}

impl Answer {
    pub(super) fn new(label: String, body: String) -> Self {
        Self { label, body, meaning: None }
    }
}
