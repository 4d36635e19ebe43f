use super::super::stage::{Stage, at, seating, step};
use super::super::{Event, Occasion, StepNumber};
use super::*;
use crate::care::{Reading, Site};

fn pause() -> Occasion {
    Occasion::Pause { by: seating(), why: PauseReason::Hospital }
}

fn unpause(step: Option<StepNumber>) -> Occasion {
    Occasion::Unpause { by: seating(), step }
}

#[test]
fn a_pause_calls_off_what_is_open_and_asks_nothing_until_it_ends() {
    let mut stage = Stage::new();
    stage.say(Reading::Clear, None, at(6, 10, 20));
    // The second sitting's look is asked at 15:15 and open.
    let events = stage.act(&pause(), at(6, 15, 20));
    let called_off = NoCreditReason::NoSitting;
    assert!(matches!(
        &events[..],
        [
            Event::Paused { .. },
            Event::LookWithdrawn { why: WithdrawReason::Paused, .. },
            Event::NoCredit { why, .. },
        ] if *why == called_off
    ));
    assert_eq!(stage.state.run.credits, 1, "the run stands");
    assert_eq!(stage.state.next_due(&stage.basis()), None);
    stage.pass_until(at(20, 0, 0));
    assert_eq!(stage.since(at(6, 15, 20)).count(), 0);
    assert!(stage.is_as_journalled());
}

#[test]
fn after_a_pause_the_run_starts_again_where_the_clinician_says() {
    for (named, reached) in [(None, 2), (Some(step(1)), 1)] {
        let mut stage = Stage::new();
        for (day, hour) in [(6, 10), (6, 15), (7, 10)] {
            stage.say(Reading::Clear, None, at(day, hour, 40));
        }
        assert_eq!((stage.state.step(), stage.state.run.credits), (Some(step(2)), 1));
        stage.act(&pause(), at(7, 12, 0));
        stage.act(&unpause(named), at(12, 12, 0));
        assert_eq!((stage.state.step(), stage.state.run.credits), (Some(step(reached)), 0));
        assert_eq!(stage.state.next_due(&stage.basis()), Some(at(12, 15, 0)));
        assert!(stage.is_as_journalled());
    }
}

#[test]
fn a_step_that_does_not_exist_ends_no_pause() {
    let mut stage = Stage::new();
    stage.act(&pause(), at(6, 9, 0));
    assert!(stage.act(&unpause(Some(step(3))), at(7, 9, 0)).is_empty());
    stage.decide(Reading::Resume, Some(3), at(7, 9, 0));
    assert!(stage.state.is_paused());
}

#[test]
fn a_clinicians_resume_ends_a_pause() {
    let mut stage = Stage::new();
    stage.act(&pause(), at(6, 9, 0));
    let events = stage.decide(Reading::Resume, Some(2), at(7, 9, 0));
    assert!(matches!(&events[..], [Event::Unpaused { step: Some(s), .. }] if *s == step(2)));
}

#[test]
fn an_unsettled_mark_or_a_stop_cannot_be_paused_away() {
    let mut stage = Stage::new();
    let site = Site::unsided(crate::care::Place::Coccyx);
    stage.say(Reading::Marked, Some(site), at(6, 10, 16));
    assert_eq!(stage.state.against_pause(), Some(AgainstPause::MarkUnsettled));
    assert!(stage.act(&pause(), at(6, 10, 20)).is_empty());
    stage.pass_until(at(6, 10, 50));
    assert_eq!(stage.state.against_pause(), Some(AgainstPause::MarkUnsettled), "asked");
    stage.say(Reading::Persisting, None, at(6, 10, 55));
    assert_eq!(stage.state.against_pause(), Some(AgainstPause::Stopped));
    assert!(stage.act(&pause(), at(6, 11, 0)).is_empty());
    assert!(stage.state.is_stopped() && stage.state.alert.is_some());
}

#[test]
fn a_mark_reported_during_a_pause_is_looked_at_again_and_may_stop() {
    let mut stage = Stage::new();
    stage.say(Reading::Clear, None, at(6, 10, 20));
    stage.act(&pause(), at(6, 12, 0));
    stage.say(Reading::Marked, None, at(8, 9, 0));
    assert_eq!(stage.state.next_due(&stage.basis()), Some(at(8, 9, 30)));
    stage.pass_until(at(8, 9, 30));
    assert!(stage.since(at(8, 9, 0)).any(|event| matches!(event, Event::Asked { .. })));
    assert!(stage.state.is_paused());
    // Nobody reports on it: an unknown mark is treated as a lasting one, pause or not (R12).
    stage.pass_until(at(8, 10, 30));
    assert!(stage.state.is_stopped());
    assert!(stage.is_as_journalled());
}

#[test]
fn a_mark_that_fades_during_a_pause_leaves_it_a_pause() {
    let mut stage = Stage::new();
    stage.say(Reading::Clear, None, at(6, 10, 20));
    stage.act(&pause(), at(6, 12, 0));
    stage.say(Reading::Marked, None, at(8, 9, 0));
    stage.say(Reading::Clear, None, at(8, 9, 35));
    assert!(stage.state.is_paused());
    assert_eq!(stage.state.next_due(&stage.basis()), None);
}

#[test]
fn a_start_during_a_pause_begins_nothing_and_the_clinic_is_told() {
    let mut stage = Stage::new();
    stage.pass_until(at(6, 10, 5));
    stage.act(&pause(), at(6, 10, 5));
    let events = stage.say(Reading::Started, None, at(6, 14, 30));
    assert!(events.iter().any(|event| matches!(event, Event::ClinicTold { .. })), "{events:?}");
    let began = |event: &Event| {
        matches!(event, Event::Sitting { .. } | Event::TakenUp { .. } | Event::Started { .. })
    };
    assert!(!events.iter().any(began), "{events:?}");
}

#[test]
fn a_sitting_with_a_missed_look_is_not_excused_by_a_pause() {
    let mut stage = Stage::new();
    stage.plan.risk.values_mut().for_each(|ladder| {
        ladder.steps[0].sit = crate::care::Minutes::new(240);
        ladder.steps[0].look_every = Some(crate::care::Minutes::new(60));
    });
    // The look of 11:00 is missed at 13:00; those of 12:00 to 14:00 are open or to come.
    let events = stage.act(&pause(), at(6, 13, 10));
    let missed = NoCreditReason::Missed;
    assert!(events.iter().any(|e| matches!(e, Event::NoCredit { why, .. } if *why == missed)));
    assert!(stage.state.is_paused());
}

#[test]
fn a_pause_of_the_routine_phase_ends_in_the_routine_phase() {
    let mut stage = Stage::new();
    for (day, hour) in [(6, 10), (6, 15), (7, 10), (7, 15)] {
        stage.say(Reading::Clear, None, at(day, hour, 40));
    }
    stage.pass_until(at(8, 7, 0));
    assert_eq!(stage.state.step(), None);
    stage.act(&pause(), at(8, 7, 0));
    stage.pass_until(at(9, 12, 0));
    stage.act(&unpause(None), at(9, 12, 0));
    assert_eq!(stage.state.step(), None);
    assert_eq!(stage.state.next_due(&stage.basis()), Some(at(9, 20, 0)));
}
