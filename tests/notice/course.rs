//! A whole follow-up by the real core, and who is written to about what.
//!
//! Never here: wording beyond subjects.

use fadewatch::care::{ClinicianId, Finding, Reading, StepChoice, Verdict};
use fadewatch::follow_up::{Aim, Basis, Instant, Occasion, State};
use fadewatch::notice::{Backdrop, Recipient, for_event, for_reply};

use crate::fixture::{People, REPLY_ADDRESS, at, clinician_id, contact_id, plan, site, state};

/// The core with everybody's mailbox beside it.
struct Run {
    people: People,
    cover: Vec<ClinicianId>,
    state: State,
    sent: Vec<String>,
}

impl Run {
    fn until(&mut self, when: &str) {
        let (plan, cover) = (plan(), self.cover.clone());
        let end = at(when);
        loop {
            let basis = Basis { plan: &plan, cover: &cover };
            match self.state.next_due(&basis) {
                Some(due) if due <= end => self.take(&Occasion::Clock, due),
                _ => return,
            }
        }
    }

    fn says(&mut self, when: &str, reading: Reading, sites: &[&str]) {
        self.until(when);
        let sites = sites.iter().map(|id| site(id)).collect();
        let verdict = Verdict { sites, ..Verdict::bare(reading) };
        self.take(
            &Occasion::Reply { by: contact_id("first"), verdict, aim: Aim::Newest },
            at(when),
        );
    }

    fn decides(&mut self, when: &str, reading: Reading, step: Option<u32>) {
        self.until(when);
        let verdict = Verdict { step: step.map(StepChoice::Step), ..Verdict::bare(reading) };
        self.take(
            &Occasion::Decision { by: clinician_id("lee"), verdict, answers: None },
            at(when),
        );
    }

    fn take(&mut self, occasion: &Occasion, now: Instant) {
        let plan = plan();
        let basis = Basis { plan: &plan, cover: &self.cover };
        let entries = self.state.advance(basis, occasion, now);
        let setting = self.people.setting();
        let mut drafts = Vec::new();
        for entry in &entries {
            drafts.extend(for_event(entry, &self.state, &plan, &setting, &Backdrop::default()));
        }
        if let Occasion::Reply { by, verdict, .. } = occasion {
            drafts.extend(for_reply(now, by, verdict, &entries, &self.state, &plan, &setting));
        }
        for (recipient, draft) in drafts {
            let to = match recipient {
                Recipient::Contact(id) => id.to_string(),
                Recipient::Clinician(id) => id.to_string(),
                Recipient::OnCover => "on cover".to_owned(),
            };
            let notice = draft.addressed(REPLY_ADDRESS);
            let lead = notice.text.lines().next().unwrap().to_owned();
            let time = self.state.terms.zone.local(now).format("%d %H:%M");
            self.sent.push(format!("{time} {to}: {lead}"));
        }
    }
}

#[test]
fn a_mark_that_lasts_is_told_to_everybody_who_has_to_know_and_every_answer_is_confirmed() {
    let mut run = Run {
        people: People::writing("en"),
        cover: vec![clinician_id("lee"), clinician_id("marsh")],
        state: state(2),
        sent: Vec::new(),
    };
    run.says("6T10:33", Reading::Marked, &["ischium-left"]);
    run.says("6T11:05", Reading::Persisting, &[]);
    run.decides("6T11:50", Reading::Seen, None);
    run.decides("6T14:00", Reading::Resume, Some(9));
    run.decides("6T14:01", Reading::Resume, None);
    run.says("6T15:46", Reading::Clear, &[]);
    run.until("7T10:40");
    assert_eq!(run.state.looks().filter_map(|l| l.finding()).max(), Some(Finding::Persisting));
    insta::assert_snapshot!(run.sent.join("\n"), @r"
    06 10:00 first: Sam: sitting starts now, at 10:00, for 30 min.
    06 10:30 first: Sam: the sitting of 30 min is over. Off the seat, please, and look at the skin now.
    06 10:33 first: Noted: a mark on the left sit bone at 10:33. Off the seat please; look again at 11:03.
    06 11:03 first: Sam: please look again at the mark on the left sit bone seen at 10:33.
    06 11:05 first: Sam: off the seat from now on, please.
    06 11:05 second: Sam: off the seat from now on, please.
    06 11:05 lee: Sam (A7): a mark on the left sit bone has lasted or come back. Sitting is stopped.
    06 11:05 first: Noted: a mark on the left sit bone that lasts, at 11:05. Off the seat please.
    06 11:35 lee: Sam (A7): a mark on the left sit bone has lasted or come back. Sitting is stopped.
    06 11:50 lee: Noted: you have taken up the alert about Sam (A7).
    06 14:00 lee: Sam (A7): the answer of Dr Lee changed nothing.
    06 14:01 first: Sam: sitting may begin again, from step 1 (15 min).
    06 14:01 second: Sam: sitting may begin again, from step 1 (15 min).
    06 14:01 lee: Noted: Sam (A7) may sit again from step 1 (15 min). The contacts are told.
    06 15:30 first: Sam: sitting starts now, at 15:30, for 15 min.
    06 15:45 first: Sam: the sitting of 15 min is over. Off the seat, please, and look at the skin now.
    06 15:46 first: Noted: no marks at 15:46. Thank you.
    07 10:00 first: Sam: sitting starts now, at 10:00, for 15 min.
    07 10:15 first: Sam: the sitting of 15 min is over. Off the seat, please, and look at the skin now.
    07 10:35 first: Sam: the sitting of 15 min is over. Off the seat, please, and look at the skin now.
    ");
}
