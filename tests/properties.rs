//! What holds for every plan and every order of events: the calendar, the ladder, and the fold from
//! the journal.
//!
//! Never here: single cases (those stand beside the rules), the store, mail.

#![allow(clippy::unwrap_used, reason = "a test ends where what it rests on is missing")]

#[path = "properties/set_back.rs"]
mod set_back;

use std::collections::BTreeMap;

use chrono::{DateTime, Days, NaiveDate, NaiveTime, TimeDelta, Timelike};
use fadewatch::care::{
    AskedHours, ClinicianId, ContactId, Ladder, Limits, Minutes, Plan, PlanVersion, Reading,
    RepeatMarks, RiskLevel, Routine, Step, StopTerms, Verdict,
};
use fadewatch::follow_up::event::RequestClock;
use fadewatch::follow_up::{
    Aim, Basis, Calendar, Entry, Event, Instant, Occasion, PauseReason, QuietHours, State, Terms,
};
use proptest::prelude::*;

/// Something that happens, so many minutes after what happened before.
#[derive(Clone, Debug)]
struct Happening {
    after_minutes: i64,
    occasion: Occasion,
}

fn contact(number: u32) -> ContactId {
    ContactId::new(&format!("contact-{number}")).unwrap()
}

fn time(hour: u32, minute: u32) -> NaiveTime {
    NaiveTime::from_hms_opt(hour, minute, 0).unwrap()
}

fn plans() -> impl Strategy<Value = Plan> {
    let looks = (10_u32..40, 5_u32..30, 0_u32..3, 30_u32..150, 20_u32..90, 1_u32..4, 0_u32..240);
    let steps = prop::collection::vec(
        (20_u32..120, 1_u32..3, 1_u32..4, prop::option::of(15_u32..60)),
        1..5,
    );
    (looks, steps, any::<bool>(), any::<bool>(), 10_u32..60, 30_u32..120, 0_u32..3).prop_map(
        |(
            (fade, answer, again, miss, recheck, suspend, rest),
            steps,
            routine,
            watch,
            repeat,
            pass,
            back,
        )| {
            let steps = steps
                .into_iter()
                .map(|(sit, per_day, clear, every)| Step {
                    sit: Minutes::new(sit),
                    sittings_per_day: per_day,
                    clear_to_advance: clear,
                    look_every: every.map(Minutes::new),
                })
                .collect();
            let routine = routine
                .then(|| Routine { look_at: vec![time(8, 0)], review_after_days: vec![2, 5] });
            let ladder = Ladder { look_at: vec![time(8, 0)], steps, routine };
            Plan {
                id: "drawn".to_owned(),
                title: "Drawn".to_owned(),
                approval: None,
                looks: Limits {
                    fade_limit: Minutes::new(fade),
                    slow_fade: Minutes::new(fade / 2),
                    answer_within: Minutes::new(answer),
                    ask_again: again,
                    tell_clinic_after: Minutes::new(miss),
                    recheck_within: Minutes::new(recheck),
                    missed_to_suspend: suspend,
                    rest_after_mark: Minutes::new(rest),
                },
                repeat_marks: watch.then_some(RepeatMarks { count: 2, of_last: 4 }),
                stop: StopTerms {
                    repeat_alert: Minutes::new(repeat),
                    pass_on_after: Minutes::new(pass),
                    bring_back_at: time(8, 0),
                    step_back: back,
                },
                risk: BTreeMap::from([(RiskLevel::new("high").unwrap(), ladder)]),
            }
        },
    )
}

fn terms() -> impl Strategy<Value = Terms> {
    let zones = prop::sample::select(vec![
        "Europe/Paris",
        "America/Denver",
        "Australia/Lord_Howe",
        "Africa/Cairo",
        "Asia/Kolkata",
    ]);
    (zones, 0_u64..700, 1_u32..4, any::<bool>()).prop_map(|(zone, day, contacts, quiet)| Terms {
        risk: RiskLevel::new("high").unwrap(),
        plan: PlanVersion::from_hash("0".repeat(64)),
        zone: Calendar::new(zone).unwrap(),
        sittings_at: vec![time(9, 30), time(15, 0)],
        quiet: quiet.then_some(QuietHours { from: time(21, 0), to: time(7, 0) }),
        contacts: (1..=contacts).map(contact).collect(),
        cover: Vec::new(),
        begins: NaiveDate::from_ymd_opt(2026, 1, 5).unwrap() + Days::new(day),
    })
}

fn occasions() -> impl Strategy<Value = Occasion> {
    let reading = prop::sample::select(vec![
        Reading::Clear,
        Reading::Clear,
        Reading::Clear,
        Reading::Faded,
        Reading::Marked,
        Reading::Persisting,
        Reading::Alarming,
        Reading::NotLooked,
        Reading::NoSitting,
        Reading::Started,
        Reading::Unclear,
    ]);
    let decision = prop::sample::select(vec![
        Reading::Seen,
        Reading::Resume,
        Reading::Resume,
        Reading::KeepStopped,
    ]);
    let duty = ClinicianId::new("duty").unwrap();
    let (pauses, unpauses) = (duty.clone(), duty.clone());
    prop_oneof![
        10 => (reading, 1_u32..4, prop::option::of(1_u32..45)).prop_map(|(reading, by, minutes)| {
            let verdict = Verdict { minutes: minutes.map(Minutes::new), ..Verdict::bare(reading) };
            Occasion::Reply { by: contact(by), verdict, aim: Aim::Newest }
        }),
        4 => decision.prop_map(move |reading| Occasion::Decision {
            by: duty.clone(),
            verdict: Verdict::bare(reading),
            answers: None,
        }),
        1 => (1_u32..4).prop_map(|by| Occasion::Unreachable { contact: contact(by) }),
        1 => (1_u32..4, any::<bool>()).prop_map(|(first, is_new)| {
            let contacts: Vec<ContactId> = [first, 5 - first].into_iter().map(contact).collect();
            let readdressed = if is_new { contacts[..1].to_vec() } else { Vec::new() };
            Occasion::Contacts { contacts, readdressed }
        }),
        1 => (1_u32..4, asked_hours())
            .prop_map(|(whose, hours)| Occasion::Hours { contact: contact(whose), hours }),
        1 => Just(Occasion::Pause { by: pauses, why: PauseReason::Holiday }),
        2 => Just(Occasion::Unpause { by: unpauses, step: None }),
    ]
}

/// Up to three stretches, of any length, on any days.
fn asked_hours() -> impl Strategy<Value = AskedHours> {
    let names = vec!["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"];
    let days = prop::sample::subsequence(names, 1..=7);
    let stretch = (days, 0_u32..1440, 1_u32..1440).prop_map(|(days, from, lasts)| {
        let to = (from + lasts) % 1440;
        let hm = |minute: u32| format!("{:02}:{:02}", minute / 60, minute % 60);
        format!("{} {}-{}", days.join(","), hm(from), hm(to)).parse().unwrap()
    });
    prop::collection::vec(stretch, 0..3).prop_map(AskedHours::new)
}

fn happenings() -> impl Strategy<Value = Vec<Happening>> {
    let one = (1_i64..400, occasions())
        .prop_map(|(after_minutes, occasion)| Happening { after_minutes, occasion });
    prop::collection::vec(one, 0..30)
}

/// How the clock is driven between what happens.
#[derive(Clone, Copy)]
enum Clock {
    /// From one due instant to the next.
    Leaps,
    /// Every minute, whether anything is due or not.
    Minutes,
}

/// Runs a follow-up for so many days, and gives its journal and its state.
fn run(
    plan: &Plan,
    terms: &Terms,
    happenings: &[Happening],
    days: u64,
    clock: Clock,
) -> (Vec<Entry>, State) {
    let cover = [ClinicianId::new("duty").unwrap(), ClinicianId::new("ward").unwrap()];
    let basis = Basis { plan, cover: &cover };
    let from = terms.zone.midnight(terms.begins);
    let end = terms.zone.midnight(terms.begins + Days::new(days));
    let mut state = State::new(terms.clone(), from);
    let enrolled = Event::Enrolled { terms: Box::new(terms.clone()), from };
    let mut journal = vec![Entry { at: from, event: enrolled }];
    let mut now = from;
    let mut at = from;
    let mut coming = happenings
        .iter()
        .map(|happening| {
            at += TimeDelta::minutes(happening.after_minutes);
            (at, &happening.occasion)
        })
        .peekable();
    while now < end {
        while let Some((at, occasion)) = coming.next_if(|(at, _)| *at <= now) {
            journal.extend(state.advance(basis, occasion, at));
        }
        journal.extend(state.advance(basis, &Occasion::Clock, now));
        let due = state.next_due(&basis);
        assert!(due.is_none_or(|due| due > now), "{due:?} is due at {now} and was acted on");
        now = match clock {
            Clock::Minutes => now + TimeDelta::minutes(1),
            Clock::Leaps => {
                let next = coming.peek().map(|(at, _)| *at);
                due.into_iter().chain(next).min().unwrap_or(end).min(end)
            }
        };
    }
    (journal, state)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, ..ProptestConfig::default() })]

    #[test]
    fn a_wall_clock_time_is_the_first_instant_that_shows_it_or_the_end_of_the_gap(
        zone in prop::sample::select(Calendar::zone_names()),
        day in 0_u64..1400,
        minute in 0_u32..1440,
    ) {
        let calendar = Calendar::new(&zone).unwrap();
        let date = NaiveDate::from_ymd_opt(2024, 1, 1).unwrap() + Days::new(day);
        let wanted = date.and_time(time(minute / 60, minute % 60));
        let at = calendar.instant(date, wanted.time());
        let shows = |at: Instant| calendar.local(at).naive_local();
        let before = at - TimeDelta::seconds(1);
        if shows(at) == wanted {
            let earlier = (1..=180).map(|back| at - TimeDelta::minutes(back));
            prop_assert!(earlier.into_iter().all(|earlier| shows(earlier) != wanted));
        } else {
            // Skipped: the clock went from before it to after it in this very instant.
            prop_assert!(shows(before) < wanted && shows(at) > wanted);
        }
    }

    #[test]
    fn quiet_hours_end_when_the_clock_shows_their_end(
        zone in prop::sample::select(vec!["Europe/Paris", "Africa/Cairo", "Asia/Kolkata"]),
        minutes in 0_i64..1_000_000,
    ) {
        let calendar = Calendar::new(zone).unwrap();
        let quiet = QuietHours { from: time(21, 0), to: time(7, 0) };
        let at = DateTime::from_timestamp(1_767_600_000 + minutes * 60, 0).unwrap();
        let shown = calendar.local(at).time();
        let inside = shown >= quiet.from || shown < quiet.to;
        let end = quiet.end_after(&calendar, at);
        prop_assert_eq!(end.is_some(), inside);
        if let Some(end) = end {
            prop_assert!(end > at);
            prop_assert_eq!(calendar.local(end).time(), quiet.to);
        }
    }

    #[test]
    fn the_journal_folds_to_the_state_that_was_there(
        plan in plans(), terms in terms(), happenings in happenings(),
    ) {
        let (journal, state) = run(&plan, &terms, &happenings, 6, Clock::Leaps);
        let written = serde_json::to_vec(&journal).unwrap();
        let read: Vec<Entry> = serde_json::from_slice(&written).unwrap();
        prop_assert_eq!(&read, &journal);
        let folded = read.iter().fold(None, |state, entry| Some(State::fold(state, entry)));
        prop_assert_eq!(folded.as_ref(), Some(&state));
        let kept: State = serde_json::from_slice(&serde_json::to_vec(&state).unwrap()).unwrap();
        prop_assert_eq!(kept, state);
    }

    #[test]
    fn a_step_is_reached_from_the_one_below_while_sitting_goes_on_and_with_its_credits(
        plan in plans(), terms in terms(), happenings in happenings(),
    ) {
        let (journal, _) = run(&plan, &terms, &happenings, 8, Clock::Leaps);
        let steps = &plan.risk[&terms.risk].steps;
        let (mut step, mut credits, mut stopped) = (1_u32, 0_u32, false);
        for entry in &journal {
            match &entry.event {
                Event::Credit { run, .. } => credits = *run,
                Event::NoCredit { why, .. }
                    if *why != fadewatch::follow_up::event::NoCreditReason::NoSitting =>
                {
                    credits = 0;
                }
                Event::RunBroken | Event::Held { .. } => credits = 0,
                Event::Reopened { run, .. } => credits = *run,
                Event::Stopped { .. } => (credits, stopped) = (0, true),
                Event::Resumed { step: to, .. } => (step, credits, stopped) = (to.count(), 0, false),
                Event::Advanced { step: to, .. } => {
                    prop_assert_eq!(to.count(), step + 1);
                    prop_assert!(!stopped && credits >= steps[step as usize - 1].clear_to_advance);
                    (step, credits) = (to.count(), 0);
                }
                Event::Routine { .. } => {
                    prop_assert_eq!(step as usize, steps.len());
                    prop_assert!(!stopped && credits >= steps[step as usize - 1].clear_to_advance);
                    credits = 0;
                }
                Event::Unpaused { .. } => credits = 0,
                Event::Asked { .. } | Event::Sitting { .. } => prop_assert!(!stopped),
                _ => {}
            }
        }
    }

    #[test]
    fn one_leap_and_a_thousand_small_steps_write_the_same_journal(
        plan in plans(), terms in terms(), happenings in happenings(),
    ) {
        let (leaps, _) = run(&plan, &terms, &happenings, 4, Clock::Leaps);
        let (minutes, _) = run(&plan, &terms, &happenings, 4, Clock::Minutes);
        prop_assert_eq!(leaps, minutes);
    }

    #[test]
    fn entries_never_go_back_in_time_and_fall_on_whole_minutes(
        plan in plans(), terms in terms(), happenings in happenings(),
    ) {
        let (journal, _) = run(&plan, &terms, &happenings, 6, Clock::Leaps);
        prop_assert!(journal.windows(2).all(|pair| pair[0].at <= pair[1].at));
        prop_assert!(journal.iter().all(|entry| entry.at.second() == 0));
    }

    #[test]
    fn hours_say_who_is_asked_and_never_whether_somebody_is(
        plan in plans(), terms in terms(), hours in prop::collection::vec(asked_hours(), 3),
    ) {
        let said = (1_u32..4).zip(hours).map(|(whose, hours)| Happening {
            after_minutes: 0,
            occasion: Occasion::Hours { contact: contact(whose), hours },
        });
        let (with, state) = run(&plan, &terms, &said.collect::<Vec<_>>(), 6, Clock::Leaps);
        let (without, _) = run(&plan, &terms, &[], 6, Clock::Leaps);
        // Everybody stays silent: sittings begin, looks are asked first and are missed as ever.
        let told = |journal: &[Entry]| {
            let told = journal.iter().filter_map(|entry| match &entry.event {
                Event::Sitting { sitting, .. } => Some((entry.at, format!("{sitting}"))),
                Event::Asked { look, clock: RequestClock::First { .. }, .. }
                | Event::Missed { look, .. } => Some((entry.at, format!("{look:?}"))),
                Event::Suspended => Some((entry.at, "suspended".to_owned())),
                _ => None,
            });
            told.collect::<Vec<_>>()
        };
        prop_assert_eq!(told(&with), told(&without));
        let asked_first = with.iter().filter_map(|entry| match &entry.event {
            Event::Asked { to, clock: RequestClock::First { .. }, .. }
            | Event::Sitting { to, .. } => Some((entry.at, to)),
            _ => None,
        });
        for (at, to) in asked_first {
            let first_on = terms.contacts.iter().find(|contact| state.is_on_shift(contact, at));
            prop_assert_eq!(to, first_on.unwrap_or(&terms.contacts[0]));
        }
        // Nobody is asked more often than the plan says.
        for look in state.looks() {
            for contact in &terms.contacts {
                prop_assert!(look.times_sent_to(contact) <= plan.looks.ask_again + 1);
            }
        }
    }
}
