//! Occasions that a scenario cannot bring about, on the core itself (R26, R27, R28).

use chrono::{DateTime, Utc};

use fadewatch::care::{ClinicianId, ContactId, Reading, Verdict};
use fadewatch::config::plan_version;
use fadewatch::follow_up::event::{AlertCause, Event};
use fadewatch::follow_up::{
    Aim, Basis, Calendar, Entry, Instant, Noticed, Occasion, QuietHours, State, Terms,
};
use fadewatch::rehearsal::json_line;

use crate::story::{Story, assert_lines, compact};

/// A follow-up whose clock is moved by hand.
pub struct Live {
    story: fadewatch::config::Scenario,
    calendar: Calendar,
    state: State,
    entries: Vec<Entry>,
    set_back_after: usize,
}

impl Live {
    pub fn of(story: &Story) -> Self {
        let scenario = story.scenario();
        let calendar = Calendar::new(scenario.client.time_zone.as_str()).unwrap();
        let terms = Terms {
            risk: scenario.client.risk.clone(),
            plan: plan_version(&scenario.plan),
            zone: calendar.clone(),
            sittings_at: scenario.client.sittings_at.clone(),
            quiet: scenario.client.quiet.map(|q| QuietHours { from: q.from, to: q.to }),
            contacts: scenario.contacts.clone(),
            cover: Vec::new(),
            begins: scenario.begins,
        };
        let from = calendar.midnight(scenario.begins);
        let mut state = State::new(terms, from);
        state.hours = scenario.hours.clone();
        Self { story: scenario, calendar, state, entries: Vec::new(), set_back_after: 0 }
    }

    /// Lets the service run until an instant, everything at its own time.
    pub fn until(&mut self, when: &str) -> &mut Self {
        let until = instant(when);
        while let Some(next) = self.next_due().filter(|next| *next <= until) {
            self.take(&Occasion::Clock, next);
        }
        self
    }

    /// Lets something happen at an instant, after everything that is due by then.
    pub fn happens(&mut self, when: &str, occasion: &Occasion) -> &mut Self {
        self.until(when).happens_unattended(when, occasion)
    }

    /// Lets something happen while nobody looked at the clock.
    pub fn happens_unattended(&mut self, when: &str, occasion: &Occasion) -> &mut Self {
        self.take(occasion, instant(when));
        self
    }

    pub fn says(&mut self, when: &str, who: &str, reading: Reading) -> &mut Self {
        let occasion = reply(who, reading);
        self.happens(when, &occasion)
    }

    /// Checks what was printed from an instant on.
    #[track_caller]
    pub fn gave_from(&self, when: &str, expected: &str) {
        let from = instant(when);
        let entries = self.entries.iter().filter(|entry| entry.at >= from);
        let lines = entries.filter_map(|entry| json_line(&self.calendar, entry));
        assert_lines(&lines.map(|line| compact(&line)).collect::<Vec<_>>(), expected);
    }

    /// The clock shows one time and is set back to another.
    pub fn sets_back(&mut self, instead_of: &str, to: &str, noticed: Noticed) -> &mut Self {
        self.set_back_after = self.entries.len();
        let instead_of = instant(instead_of);
        self.take(&Occasion::ClockSetBack { instead_of, noticed }, instant(to));
        self
    }

    /// Checks what was printed since the clock was set back.
    #[track_caller]
    pub fn gave_since_set_back(&self, expected: &str) {
        let entries = self.entries[self.set_back_after..].iter();
        let lines = entries.filter_map(|entry| json_line(&self.calendar, entry));
        assert_lines(&lines.map(|line| compact(&line)).collect::<Vec<_>>(), expected);
    }

    /// How it stands.
    pub fn state(&self) -> &State {
        &self.state
    }

    /// The journal.
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// What happened.
    pub fn events(&self) -> impl Iterator<Item = &Event> {
        self.entries.iter().map(|entry| &entry.event)
    }

    fn next_due(&self) -> Option<Instant> {
        let basis = Basis { plan: &self.story.plan, cover: &self.story.cover };
        self.state.next_due(&basis)
    }

    fn take(&mut self, occasion: &Occasion, now: Instant) {
        let basis = Basis { plan: &self.story.plan, cover: &self.story.cover };
        let entries = self.state.advance(basis, occasion, now);
        self.entries.extend(entries);
    }
}

fn reply(who: &str, reading: Reading) -> Occasion {
    let by = ContactId::new(who).unwrap();
    Occasion::Reply { by, verdict: Verdict::bare(reading), aim: Aim::Newest }
}

pub fn unreachable(who: &str) -> Occasion {
    Occasion::Unreachable { contact: ContactId::new(who).unwrap() }
}

fn awoke(since: &str) -> Occasion {
    Occasion::Awoke { away_since: instant(since) }
}

fn decides_seen() -> Occasion {
    let by = ClinicianId::new("clinic").unwrap();
    Occasion::Decision { by, verdict: Verdict::bare(Reading::Seen), answers: None }
}

/// A day of March 2026 and a time, UTC.
pub fn instant(when: &str) -> DateTime<Utc> {
    let (day, time) = when.split_once(' ').unwrap();
    format!("2026-03-{day:0>2}T{time}:00Z").parse().unwrap()
}

/// Two sittings a day, and three routine looks.
fn busy() -> Story {
    Story::new().steps(&["15min 2 9"]).look_at(&["08:00", "12:00", "18:00"])
}

/// R26: of the routine looks and sittings that passed, only the last of each is asked about.
#[test]
fn after_an_absence_what_was_missed_is_asked_once() {
    let mut live = Live::of(&busy());
    live.until("06 07:50").happens_unattended("06 18:30", &awoke("06 07:50"));
    live.until("06 20:00").gave_from(
        "06 18:30",
        "06 18:30 dropped away
         06 18:30 asked routine → first
         06 18:30 dropped unsettled
         06 18:50 asked routine → first again 1
         06 19:10 asked routine → second
         06 19:30 asked routine → second again 1",
    );
}

/// R26: waiting counts from when a person was really asked: the look due at 10:15 was asked at
/// 14:00 only, and is missed two hours after that.
#[test]
fn after_an_absence_waiting_counts_from_when_a_person_was_really_asked() {
    let mut live = Live::of(&Story::new().sittings_at("10:00").steps(&["15min 1 9"]));
    live.until("06 10:05").happens_unattended("06 14:00", &awoke("06 10:05"));
    live.until("06 23:00").gave_from(
        "06 14:00",
        "06 14:00 asked first 1 → first
         06 14:20 asked first 1 → first again 1
         06 14:40 asked first 1 → second
         06 15:00 asked first 1 → second again 1
         06 16:00 missed first 1
         06 16:00 clinic-told missed
         06 16:00 no-credit 1 missed",
    );
}

/// R15, R26: a reply that was waiting when the service came back is late all the same.
#[test]
fn a_reply_to_a_look_whose_time_ran_out_while_away_is_late() {
    let mut live = Live::of(&Story::new().sittings_at("10:00").steps(&["15min 1 9"]));
    live.until("06 10:15").happens_unattended("06 12:16", &reply("first", Reading::Clear));
    live.gave_from(
        "06 12:00",
        "06 12:16 missed first 1
         06 12:16 clinic-told missed
         06 12:16 no-credit 1 missed
         06 12:16 answered first 1 by first: clear
         06 12:16 clinic-told late-report",
    );
}

/// R24, R26: nobody is woken by what was missed in the evening.
#[test]
fn a_routine_look_missed_while_away_is_not_asked_in_quiet_hours() {
    let mut live = Live::of(&busy().sittings_at("10:00").steps(&["15min 1 9"]));
    live.until("06 17:00").happens_unattended("06 23:00", &awoke("06 17:00"));
    live.until("07 07:10").gave_from("06 23:00", "07 07:00 asked routine → first");
}

/// R24, R26: a reminder that came due in the evening, while the service was away, either.
#[test]
fn a_reminder_missed_while_away_is_not_sent_in_quiet_hours() {
    let story = busy().sittings_at("12:00").look_at(&["20:20"]).steps(&["15min 1 9"]);
    let mut live = Live::of(&story.set("tell_clinic_after", "\"12h\""));
    live.says("06 12:16", "first", Reading::Clear).until("06 20:30");
    live.happens_unattended("06 21:10", &awoke("06 20:30"));
    live.until("07 07:30").gave_from(
        "06 20:00",
        "06 20:20 asked routine → first
         07 07:00 asked routine → first again 1
         07 07:20 asked routine → second",
    );
}

/// R24: nor by a clock that is set on past the reminder, into the quiet hours.
#[test]
fn a_reminder_that_a_clock_set_on_meets_in_quiet_hours_waits_for_their_end() {
    let story = Story::new().sittings_at("20:00").steps(&["15min 1 9"]);
    let mut live = Live::of(&story.set("tell_clinic_after", "\"12h\""));
    live.until("06 20:20").happens_unattended("06 21:30", &Occasion::Clock);
    live.until("07 07:30").gave_from(
        "06 20:15",
        "06 20:15 asked first 1 → first
         07 07:00 asked first 1 → first again 1
         07 07:20 asked first 1 → second",
    );
}

/// R24, R26: a mark is asked about at any hour, also where the service was away meanwhile.
#[test]
fn a_recheck_is_asked_again_in_quiet_hours_after_an_absence() {
    let mut live = Live::of(&Story::new().sittings_at("20:00").steps(&["15min 1 9"]));
    live.says("06 20:20", "first", Reading::Marked).until("06 20:55");
    live.happens_unattended("06 21:15", &awoke("06 20:55"));
    live.gave_from("06 21:00", "06 21:15 asked recheck 1 → first again 1");
}

/// R27: at once, and not again of the one who cannot be reached.
#[test]
fn when_a_contact_cannot_be_reached_the_next_is_asked_at_once() {
    let mut live = Live::of(&Story::new().sittings_at("10:00").steps(&["15min 1 9"]));
    live.happens("06 10:17", &unreachable("first"));
    live.says("06 10:20", "second", Reading::Clear);
    live.until("07 10:15").gave_from(
        "06 10:15",
        "06 10:15 asked first 1 → first
         06 10:17 asked first 1 → second
         06 10:20 answered first 1 by second: clear
         06 10:20 credit 1 run 1
         07 10:00 sitting 2 step 1 15min
         07 10:15 asked first 2 → second",
    );
}

/// R27: with none left the clinic is alerted; sitting is not stopped by it.
#[test]
fn when_nobody_can_be_reached_the_clinic_is_alerted() {
    let mut live = Live::of(&Story::new().sittings_at("10:00").steps(&["15min 1 9"]));
    live.happens("06 10:17", &unreachable("first"));
    live.happens("06 10:18", &unreachable("second"));
    live.gave_from(
        "06 10:17",
        "06 10:17 asked first 1 → second
         06 10:18 alerted clinic",
    );
    let last = &live.entries.last().unwrap().event;
    assert!(matches!(last, Event::Alerted { cause: AlertCause::NobodyReachable, .. }));
    assert!(!live.state.is_stopped());
}

/// R28: the look stays open, and nothing is written down as said.
#[test]
fn an_automatic_reply_is_never_an_answer() {
    let mut live = Live::of(&Story::new().sittings_at("10:00").steps(&["15min 1 9"]));
    live.says("06 10:16", "first", Reading::Automatic);
    live.says("06 10:40", "first", Reading::Clear);
    live.gave_from(
        "06 10:15",
        "06 10:15 asked first 1 → first
         06 10:35 asked first 1 → first again 1
         06 10:40 answered first 1 by first: clear
         06 10:40 credit 1 run 1",
    );
}

/// R27: a new address makes that contact reachable again, and nobody else; a look that nobody had got
/// is asked of them at once.
#[test]
fn a_new_address_makes_that_contact_alone_reachable_again() {
    let mut live = Live::of(&Story::new().sittings_at("10:00").steps(&["15min 1 9"]));
    live.happens("06 10:17", &unreachable("first"));
    live.happens("06 10:18", &unreachable("second"));
    let ids = |names: &[&str]| names.iter().map(|name| ContactId::new(name).unwrap()).collect();
    live.happens(
        "06 10:30",
        &Occasion::Contacts { contacts: ids(&["first", "second"]), readdressed: ids(&["second"]) },
    );
    live.says("06 10:40", "second", Reading::Clear);
    live.happens("06 10:41", &decides_seen());
    live.until("07 10:15").gave_from(
        "06 10:30",
        "06 10:30 asked first 1 → second again 1
         06 10:40 answered first 1 by second: clear
         06 10:40 credit 1 run 1
         06 10:41 acknowledged clinic
         07 08:00 alerted clinic again 1
         07 10:00 sitting 2 step 1 15min
         07 10:15 asked first 2 → second",
    );
}

/// R27: another order alone makes nobody reachable again.
#[test]
fn another_order_of_the_contacts_makes_nobody_reachable_again() {
    let mut live = Live::of(&Story::new().sittings_at("10:00").steps(&["15min 1 9"]));
    live.happens("06 09:00", &unreachable("first"));
    let contacts = ["second", "first"].map(|name| ContactId::new(name).unwrap()).to_vec();
    live.happens("06 09:30", &Occasion::Contacts { contacts, readdressed: Vec::new() });
    assert!(live.state.unreachable.contains(&ContactId::new("first").unwrap()));
}
