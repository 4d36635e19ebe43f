use super::super::Occasion;
use super::super::stage::{PLAN, Stage, at, plan, seating, step};
use super::*;
use crate::care::Reading;

fn version() -> PlanVersion {
    PlanVersion::from_hash("2".repeat(64))
}

/// Adopts a plan that the text gives.
fn adopt(stage: &mut Stage, text: &str, when: crate::follow_up::Instant) -> Vec<Event> {
    // What is due before belongs to the plan that is still in force.
    stage.pass_until(when);
    stage.plan = plan(text);
    stage.act(&Occasion::Adopt { by: seating(), plan: version() }, when)
}

/// The plan with its second step and its routine phase cut off.
fn one_step() -> String {
    let (first, second) = PLAN.rsplit_once("[[risk.high.step]]").unwrap();
    assert!(second.contains("[risk.high.routine]"));
    first.to_owned()
}

/// Brings a client to the second step.
fn climb(stage: &mut Stage) {
    for hour in [10, 15] {
        stage.say(Reading::Clear, None, at(6, hour, 20));
    }
    stage.pass_until(at(7, 9, 0));
    assert_eq!(stage.state.step(), Some(step(2)));
}

#[test]
fn the_step_is_kept_and_the_run_starts_again() {
    let mut stage = Stage::new();
    stage.say(Reading::Clear, None, at(6, 10, 20));
    assert_eq!(stage.state.run.credits, 1);
    let events =
        adopt(&mut stage, &PLAN.replace("sit = \"15min\"", "sit = \"20min\""), at(6, 12, 0));
    assert!(matches!(&events[..], [Event::PlanAdopted { step: Some(s), .. }] if *s == step(1)));
    assert_eq!(stage.state.terms.plan, version());
    assert_eq!(stage.state.run.credits, 0);
    stage.pass_until(at(6, 15, 0));
    assert_eq!(stage.state.sittings().next_back().unwrap().sit, crate::care::Minutes::new(20));
    assert!(stage.is_as_journalled());
}

#[test]
fn a_step_beyond_the_new_ladder_becomes_its_last() {
    let mut stage = Stage::new();
    climb(&mut stage);
    adopt(&mut stage, &one_step(), at(7, 9, 0));
    assert_eq!(stage.state.step(), Some(step(1)));
    stage.pass_until(at(7, 10, 0));
    assert_eq!(stage.state.sittings().next_back().unwrap().sit, crate::care::Minutes::new(15));
}

#[test]
fn a_stop_stays_a_stop_and_is_resumed_within_the_new_ladder() {
    let mut stage = Stage::new();
    climb(&mut stage);
    stage.pass_until(at(7, 10, 30));
    stage.say(Reading::Alarming, None, at(7, 10, 35));
    adopt(&mut stage, &one_step(), at(7, 11, 0));
    assert!(stage.state.is_stopped() && stage.state.alert.is_some());
    stage.decide(Reading::Resume, None, at(7, 12, 0));
    assert_eq!(stage.state.step(), Some(step(1)));
    assert!(stage.is_as_journalled());
}

#[test]
fn open_looks_keep_the_clocks_that_they_were_asked_with() {
    let mut stage = Stage::new();
    stage.pass_until(at(6, 10, 15));
    let slower = PLAN.replace("answer_within = \"20min\"", "answer_within = \"50min\"");
    adopt(&mut stage, &slower, at(6, 10, 20));
    assert_eq!(stage.state.next_due(&stage.basis()), Some(at(6, 10, 35)));
}

#[test]
fn times_of_day_that_are_past_are_not_asked_about() {
    let mut stage = Stage::new();
    stage.say(Reading::Clear, None, at(6, 10, 20));
    let with_looks = PLAN.replacen(
        "[[risk.high.step]]",
        "[risk.high]\nlook_at = [\"08:00\", \"12:30\"]\n[[risk.high.step]]",
        1,
    );
    adopt(&mut stage, &with_looks, at(6, 12, 0));
    assert_eq!(stage.state.next_due(&stage.basis()), Some(at(6, 12, 30)));
}

#[test]
fn a_routine_phase_goes_on_where_the_new_ladder_has_one() {
    let mut stage = Stage::new();
    climb(&mut stage);
    for hour in [10, 15] {
        stage.say(Reading::Clear, None, at(7, hour, 40));
    }
    stage.pass_until(at(8, 9, 0));
    assert_eq!(stage.state.step(), None);
    stage.say(Reading::Clear, None, at(8, 9, 5));
    adopt(&mut stage, PLAN, at(8, 12, 0));
    assert_eq!(stage.state.step(), None);
    adopt(&mut stage, &one_step(), at(8, 13, 0));
    assert_eq!(stage.state.step(), Some(step(1)));
    assert!(stage.is_as_journalled());
}

#[test]
fn an_ended_follow_up_adopts_nothing() {
    let mut stage = Stage::new();
    stage.decide(Reading::Close, None, at(6, 9, 0));
    assert!(adopt(&mut stage, PLAN, at(6, 9, 5)).is_empty());
}
