//! Cases of the rules and of their fine print that no other test here is about.

use crate::story::Story;

/// One sitting a day at 10:00, its look asked at 10:15.
fn one_sitting() -> Story {
    Story::new().sittings_at("10:00").steps(&["15min 1 9"])
}

/// R2, fine print: 02:10 comes twice in Paris on 25 October 2026; a start stated as 02:10 is the
/// first of them, and its look at 02:40 is asked before the clock goes back.
#[test]
fn a_stated_start_that_occurs_twice_is_the_first() {
    Story::new()
        .begins("2026-10-25")
        .zone("Europe/Paris")
        .no_quiet()
        .sittings_at("02:00")
        .steps(&["30min 1 9"])
        .says("25 02:12", "first", "started @02:10")
        .gives_of(
            &["sitting", "started", "asked"],
            "25 02:00 sitting 1 step 1 30min
             25 02:12 started 1 at 02:10
             25 02:40 asked first 1 → first
             25 02:00 asked first 1 → first again 1
             25 02:20 asked first 1 → second
             25 02:40 asked first 1 → second again 1",
        );
}

/// R2: no sitting begins early while sitting is suspended, nor while it is stopped.
#[test]
fn no_sitting_begins_early_while_suspended_or_stopped() {
    one_sitting()
        .days(2)
        .set("missed_to_suspend", "1")
        .says("07 09:30", "first", "started")
        .gives_of(&["sitting", "suspended"], "06 10:00 sitting 1 step 1 15min\n06 12:15 suspended");
    one_sitting()
        .days(2)
        .says("06 10:16", "first", "persisting")
        .says("07 09:30", "first", "started")
        .gives_of(
            &["sitting", "stopped"],
            "06 10:00 sitting 1 step 1 15min\n06 10:16 stopped persisting",
        );
}

/// R10, fine print: after a `faded` that answered the recheck early, `clear` is a correction toward
/// better, and `no-sitting` does not fit.
#[test]
fn after_a_mark_was_said_to_have_gone_early_clear_is_a_correction_and_no_sitting_does_not_fit() {
    one_sitting()
        .says("06 10:16", "first", "marked")
        .says("06 10:24", "first", "faded to:look")
        .says("06 10:30", "first", "clear to:look")
        .says("06 10:31", "first", "no-sitting to:look")
        .gives_from(
            "06 10:24",
            "06 10:24 answered recheck 1 by first: faded
             06 10:24 credit 1 run 1
             06 10:30 answered recheck 1 by first: clear
             06 10:30 clinic-told correction
             06 10:31 answered recheck 1 by first: no-sitting
             06 10:31 clinic-told unclear",
        );
}

/// R15, fine print: late words that say nothing of the skin do nothing.
#[test]
fn a_late_not_looked_does_nothing() {
    one_sitting()
        .says("06 12:30", "first", "not-looked to:look")
        .gives_from("06 12:16", "06 12:30 answered first 1 by first: not-looked");
}

/// R16: a missed routine look is no sitting's, and suspends nobody.
#[test]
fn a_missed_routine_look_does_not_count_in_the_row() {
    one_sitting()
        .set("missed_to_suspend", "1")
        .look_at(&["12:00"])
        .says("06 10:16", "first", "clear")
        .gives_of(
            &["missed", "suspended", "credit", "no-credit"],
            "06 10:16 credit 1 run 1
             06 14:00 missed routine",
        );
}

/// R16, fine print: a stop and a resume between two missed sittings do not end the row.
#[test]
fn a_stop_and_a_resume_do_not_end_the_row() {
    one_sitting()
        .days(2)
        .says("06 13:00", "clinic", "keep-stopped")
        .says("06 14:00", "clinic", "resume")
        .gives_of(
            &["missed", "stopped", "resumed", "suspended"],
            "06 12:15 missed first 1
             06 13:00 stopped clinician
             06 14:00 resumed clinic step 1
             07 12:15 missed first 2
             07 12:15 suspended",
        );
}

/// R16: a correction too is a finding, and lifts a suspension.
#[test]
fn a_correction_lifts_a_suspension() {
    one_sitting()
        .days(2)
        .set("missed_to_suspend", "1")
        .look_at(&["08:00"])
        .says("06 08:05", "first", "clear")
        .says("06 13:00", "first", "faded 5min to:routine")
        .gives_of(
            &["suspended", "unsuspended"],
            "06 12:15 suspended
             06 13:00 unsuspended
             07 12:15 suspended",
        );
}

/// R17, fine print: `no-sitting` to a look that another look's mark withdrew, or a stop.
#[test]
fn no_sitting_after_a_withdrawal_is_told_as_a_late_report() {
    one_sitting()
        .look_at(&["10:05"])
        .says("06 10:10", "first", "marked to:routine")
        .says("06 10:20", "first", "no-sitting to:start")
        .gives_of(
            &["no-credit", "clinic-told"],
            "06 10:10 no-credit 1 cut-short
             06 10:20 clinic-told late-report",
        );
    one_sitting()
        .says("06 10:16", "clinic", "keep-stopped")
        .says("06 10:25", "first", "no-sitting to:look")
        .gives_of(&["clinic-told"], "06 10:25 clinic-told late-report");
}

/// R18, fine print: on a later day the same `faded` again is still the same, and `clear` a
/// correction.
#[test]
fn on_a_later_day_the_same_faded_is_the_same_and_clear_a_correction() {
    one_sitting()
        .days(2)
        .says("06 10:16", "first", "faded 5min")
        .says("07 08:00", "first", "faded 5min to:look")
        .says("07 08:10", "first", "clear to:look")
        .gives_of(
            &["answered", "clinic-told"],
            "06 10:16 answered first 1 by first: faded 5min
             07 08:00 answered first 1 by first: faded 5min
             07 08:10 answered first 1 by first: clear
             07 08:10 clinic-told correction
             07 12:15 clinic-told missed",
        );
}

/// R23, fine print: nobody decides what is not theirs to decide.
#[test]
fn a_caregivers_reading_from_a_clinician_and_a_clinicians_from_a_contact_are_set_aside() {
    one_sitting()
        .says("06 10:16", "clinic", "clear")
        .says("06 10:17", "clinic", "unclear")
        .says("06 10:18", "first", "seen")
        .says("06 10:19", "first", "close")
        .gives_of(
            &["set-aside", "closed", "answered"],
            "06 10:16 set-aside clinic does-not-fit
             06 10:17 set-aside clinic does-not-fit
             06 10:18 set-aside first does-not-fit
             06 10:19 set-aside first does-not-fit",
        );
}

/// R24: after a delayed reminder the next is `answer_within` later.
#[test]
fn after_a_reminder_that_waited_for_the_morning_the_next_keeps_its_distance() {
    Story::new()
        .days(2)
        .sittings_at("12:00")
        .steps(&["15min 1 9"])
        .set("tell_clinic_after", "\"14h\"")
        .look_at(&["20:50"])
        .says("06 12:16", "first", "clear")
        .gives_from(
            "06 20:50",
            "06 20:50 asked routine → first
             07 07:00 asked routine → first again 1
             07 07:20 asked routine → second
             07 07:40 asked routine → second again 1
             07 10:50 missed routine
             07 10:50 clinic-told missed
             07 12:00 sitting 2 step 1 15min
             07 12:15 asked first 2 → first
             07 12:35 asked first 2 → first again 1
             07 12:55 asked first 2 → second
             07 13:15 asked first 2 → second again 1
             07 20:50 asked routine → first",
        );
}
