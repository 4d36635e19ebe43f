//! A follow-up with its past in chapters is held against one that keeps everything at hand.

use super::super::occasion::{Noticed, Target};
use super::super::stage::{Stage, at, contact, seating};
use super::super::{Aim, Entry, Instant, Occasion};
use super::*;
use crate::care::{Reading, StepChoice, Verdict};

/// What the entries lead to when nothing is ever laid down in chapters.
fn flat(entries: &[Entry]) -> State {
    let stage = Stage::new();
    let mut state = stage.state;
    entries.iter().for_each(|entry| state.follow(entry));
    assert!(state.past.chapters.is_empty());
    state
}

fn said(reading: Reading, aim: Aim) -> Occasion {
    let sites = if reading == Reading::Marked {
        vec!["sacrum".parse().expect("OK because it is a site")]
    } else {
        Vec::new()
    };
    let verdict = Verdict { sites, ..Verdict::bare(reading) };
    Occasion::Reply { by: contact("first"), verdict, aim }
}

fn resumed() -> Occasion {
    let verdict = Verdict { step: Some(StepChoice::Step(1)), ..Verdict::bare(Reading::Resume) };
    Occasion::Decision { by: seating(), verdict, answers: None }
}

fn named(look: u32) -> Aim {
    Aim::Request(Target::Look(LookId::new(look)))
}

/// Occasions that look back, some of them on what is long past.
fn looking_back(state: &State, now: Instant) -> Vec<Occasion> {
    let newest = u32::try_from(state.looks_count()).unwrap();
    let aims = [Aim::Newest, named(1), named(newest / 2), named(newest.saturating_sub(20).max(1))];
    let readings = [
        Reading::Clear,
        Reading::Marked,
        Reading::Faded,
        Reading::Persisting,
        Reading::Started,
        Reading::NoSitting,
        Reading::Unclear,
    ];
    let mut occasions: Vec<Occasion> = aims
        .into_iter()
        .flat_map(|aim| readings.into_iter().map(move |reading| said(reading, aim)))
        .collect();
    let never_asked = contact("second");
    occasions.push(Occasion::Reply {
        by: never_asked.clone(),
        verdict: Verdict::bare(Reading::Marked),
        aim: Aim::Newest,
    });
    occasions.push(Occasion::Unreachable { contact: never_asked });
    let instead_of = now + chrono::TimeDelta::days(2);
    occasions.push(Occasion::ClockSetBack { instead_of, noticed: Noticed::AtStart });
    occasions.push(resumed());
    occasions
}

fn assert_same(of: &State, flat: &State) {
    assert!(of.looks().eq(flat.looks()));
    assert!(of.sittings().eq(flat.sittings()));
    assert!(of.looks().rev().eq(flat.looks().rev()));
    for look in flat.looks() {
        assert_eq!(of.look(look.id), look);
    }
    for sitting in flat.sittings() {
        assert_eq!(of.sitting(sitting.number), sitting);
    }
    assert!(of.unsettled_looks().eq(flat.unsettled_looks()));
    assert_eq!(of.newest_look_asked(), flat.newest_look_asked());
    assert_eq!(of.last_asked(), flat.last_asked());
    assert!(of.points().eq(flat.points()));
    for by in ["first", "second"].map(contact) {
        for aim in [Aim::Newest, named(1), Aim::Kind(super::super::TargetKind::Start)] {
            assert_eq!(of.newest_request(&by, aim), flat.newest_request(&by, aim));
        }
    }
}

/// Lives a day of answered looks, with a mark on some days and a stop on some.
fn live(stage: &mut Stage, day: u32) {
    let first = stage.entries.len();
    stage.pass_until(at(day, 8, 5));
    stage.say(Reading::Clear, None, at(day, 8, 5));
    stage.pass_until(at(day, 10, 20));
    let seen = if day.is_multiple_of(7) { Reading::Marked } else { Reading::Clear };
    stage.act(&said(seen, Aim::Newest), at(day, 10, 20));
    let later = if day.is_multiple_of(14) { Reading::Persisting } else { Reading::Faded };
    if seen == Reading::Marked {
        stage.act(&said(later, Aim::Newest), at(day, 10, 52));
    }
    stage.act(&resumed(), at(day, 11, 0));
    stage.say(Reading::Clear, None, at(day, 15, 40));
    stage.say(Reading::Clear, None, at(day, 20, 5));
    assert!(stage.entries.len() > first);
}

#[test]
fn whatever_is_said_of_a_long_past_leads_where_it_leads_with_all_of_it_at_hand() {
    let mut stage = Stage::new();
    for day in 6..=31 {
        live(&mut stage, day);
        let (now, flat) = (at(day, 21, 0), flat(&stage.entries));
        assert_same(&stage.state, &flat);
        for occasion in looking_back(&flat, now) {
            let basis = stage.basis();
            let mut led = stage.state.clone();
            let entries = led.advance(basis, &occasion, now);
            assert_eq!(entries, flat.decide(basis, &occasion, now), "day {day}: {occasion:?}");
            let mut all_at_hand = flat.clone();
            entries.iter().for_each(|entry| all_at_hand.follow(entry));
            assert_same(&led, &all_at_hand);
        }
    }
    assert!(stage.state.past.chapters.len() >= 2, "{}", stage.state.past.chapters.len());
    assert!(stage.is_as_journalled());
}

#[test]
fn a_correction_of_the_first_look_lays_the_past_down_anew_and_is_in_it() {
    let mut stage = Stage::new();
    (6..=31).for_each(|day| live(&mut stage, day));
    let before = stage.state.past.clone();
    stage.act(&said(Reading::NotLooked, named(1)), at(31, 21, 0));
    assert_eq!(stage.state.past, before, "who says nothing new of it leaves it as it is");
    stage.act(&said(Reading::Unclear, named(1)), at(31, 21, 1));
    assert_ne!(stage.state.past, before);
    assert_eq!(stage.state.past.chapters.len(), before.chapters.len());
    assert_eq!(stage.state.look(LookId::new(1)).unclear, 1);
    assert!(stage.is_as_journalled());
}

#[test]
fn chapters_are_known_again_by_their_mark_and_others_are_refused() {
    let mut stage = Stage::new();
    (6..=31).for_each(|day| live(&mut stage, day));
    let past = &stage.state.past;
    let kept = || -> Vec<Vec<u8>> {
        past.chapters.iter().map(|chapter| chapter.bytes().to_vec()).collect()
    };
    let read = Past::read(past.mark(), kept()).expect("OK because these are its own");
    assert_eq!(read, *past);
    assert_eq!(read.unkept().1.len(), 0);
    let (mut fewer, mut damaged, mut moved) = (kept(), kept(), kept());
    fewer.pop();
    *damaged[1].last_mut().expect("OK because a chapter has bytes") ^= 1;
    moved.swap(0, 1);
    for others in [fewer, damaged, moved, Vec::new()] {
        assert!(Past::read(past.mark(), others).is_none());
    }
}

#[test]
fn what_is_recent_stays_short_and_each_chapter_is_to_be_kept_once() {
    let mut stage = Stage::new();
    for day in 6..=31 {
        let before = stage.state.past.chapters.len();
        stage.state.note_past_kept();
        live(&mut stage, day);
        let (kept, chapters) = stage.state.past.unkept();
        assert_eq!((kept, kept + chapters.len()), (before, stage.state.past.chapters.len()));
        assert!(stage.state.recent_looks.len() < LOOKS + RECENT);
    }
}

#[test]
fn short_chapters_are_bound_into_one_once_there_are_many_and_say_what_they_said() {
    let mut stage = Stage::new();
    let mut times_bound = 0;
    for day in 6..=150 {
        let before = stage.state.past.chapters.len();
        stage.state.note_past_kept();
        live(&mut stage, day);
        let past = &stage.state.past;
        let short = past.newest_first().take_while(|chapter| chapter.looks().len() <= LOOKS);
        assert!(short.count() < BOUND);
        // The long one is to be kept, in the place of the short ones.
        let (kept, chapters) = past.unkept();
        if kept < before {
            times_bound += 1;
            assert!(chapters[0].looks().len() > LOOKS);
        }
    }
    assert!(times_bound >= 2, "{times_bound}");
    assert_same(&stage.state, &flat(&stage.entries));
    let past = &stage.state.past;
    let kept = past.chapters.iter().map(|chapter| chapter.bytes().to_vec()).collect();
    assert_eq!(Past::read(past.mark(), kept).as_ref(), Some(past));
    stage.act(&said(Reading::Unclear, named(1)), at(150, 21, 0));
    assert_eq!(stage.state.look(LookId::new(1)).unclear, 1);
    assert_same(&stage.state, &flat(&stage.entries));
    assert!(stage.is_as_journalled());
}
