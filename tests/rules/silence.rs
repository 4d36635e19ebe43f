//! Silence, doubt and corrections (R14, R15, R16, R17, R18).

use crate::story::Story;

/// One sitting a day at 10:00, its look asked at 10:15.
fn one_sitting() -> Story {
    Story::new().sittings_at("10:00").steps(&["15min 1 9"])
}

/// R14, R15: and an earlier contact may still answer.
#[test]
fn an_unanswered_look_is_asked_again_and_then_of_the_next_contact() {
    one_sitting()
        .contacts(&["first", "second", "third"])
        .set("ask_again", "0")
        .set("answer_within", "\"25min\"")
        .says("06 11:30", "first", "clear")
        .gives(
            "06 10:00 sitting 1 step 1 15min
             06 10:15 asked first 1 → first
             06 10:40 asked first 1 → second
             06 11:05 asked first 1 → third
             06 11:30 answered first 1 by first: clear
             06 11:30 credit 1 run 1",
        );
}

/// R15: at exactly `tell_clinic_after` an answer is still in time; after it, never credit.
#[test]
fn a_look_is_missed_at_tell_clinic_after_and_a_later_answer_never_earns_credit() {
    one_sitting().says("06 12:15", "first", "clear").gives_from(
        "06 12:15",
        "06 12:15 answered first 1 by first: clear
         06 12:15 credit 1 run 1",
    );
    one_sitting().says("06 12:16", "first", "clear").gives_from(
        "06 12:15",
        "06 12:15 missed first 1
         06 12:15 clinic-told missed
         06 12:15 no-credit 1 missed
         06 12:16 answered first 1 by first: clear
         06 12:16 clinic-told late-report",
    );
}

/// R15: a late mark is a finding: it is looked at again.
#[test]
fn a_late_mark_is_rechecked() {
    one_sitting()
        .says("06 12:20", "first", "marked sacrum")
        .says("06 12:51", "first", "faded 10min")
        .gives_from(
            "06 12:16",
            "06 12:20 answered first 1 by first: marked sacrum
             06 12:20 clinic-told late-report
             06 12:50 asked recheck 1 → first
             06 12:51 answered recheck 1 by first: faded 10min
             06 12:51 no-credit 1 missed",
        );
}

/// R15, fine print.
#[test]
fn a_late_answer_that_stops_is_told_and_stops() {
    one_sitting()
        .says("06 12:20", "first", "not-looked")
        .says("06 12:25", "first", "persisting sacrum")
        .says("06 12:26", "clinic", "seen")
        .gives_from(
            "06 12:16",
            "06 12:20 answered first 1 by first: not-looked
             06 12:25 answered first 1 by first: persisting sacrum
             06 12:25 clinic-told late-report
             06 12:25 stopped persisting sacrum
             06 12:25 told-to-stop first
             06 12:25 told-to-stop second
             06 12:25 alerted clinic
             06 12:26 acknowledged clinic",
        );
}

/// R16: nothing begins while suspended; routine looks go on; any later finding lifts it; the row
/// goes on until a sitting without a missed look.
#[test]
fn missed_sittings_in_a_row_suspend_until_somebody_reports_again() {
    Story::new()
        .days(3)
        .look_at(&["08:00"])
        .steps(&["15min 2 9"])
        .says("06 08:05", "first", "clear")
        .says("07 08:05", "first", "clear")
        .says("08 08:05", "first", "clear")
        .gives_of(
            &[
                "sitting",
                "missed",
                "no-credit",
                "suspended",
                "unsuspended",
                "credit",
                "clinic-told",
            ],
            "06 10:00 sitting 1 step 1 15min
             06 12:15 missed first 1
             06 12:15 clinic-told missed
             06 12:15 no-credit 1 missed
             06 15:00 sitting 2 step 1 15min
             06 17:15 missed first 2
             06 17:15 clinic-told missed
             06 17:15 no-credit 2 missed
             06 17:15 suspended
             06 17:15 clinic-told suspended
             07 08:05 unsuspended
             07 10:00 sitting 3 step 1 15min
             07 12:15 missed first 3
             07 12:15 clinic-told missed
             07 12:15 no-credit 3 missed
             07 12:15 suspended
             07 12:15 clinic-told suspended
             08 08:05 unsuspended
             08 10:00 sitting 4 step 1 15min
             08 12:15 missed first 4
             08 12:15 clinic-told missed
             08 12:15 no-credit 4 missed
             08 12:15 suspended
             08 12:15 clinic-told suspended",
        );
}

/// R16: a sitting without a missed look ends the row, even one that a mark ended; a cancelled one
/// leaves it as it is.
#[test]
fn a_sitting_ended_by_a_mark_ends_the_row_and_a_cancelled_one_does_not() {
    let between = |words: &str, expected: &str| {
        Story::new()
            .days(2)
            .steps(&["15min 2 9"])
            .says("06 15:02", "first", words)
            .says("06 15:06", "first", "faded 3min")
            .says("07 15:02", "first", "no-sitting")
            .gives_of(&["suspended"], expected);
    };
    between("marked", "");
    between("no-sitting", "07 12:15 suspended");
}

/// R16.
#[test]
fn resume_lifts_a_suspension_on_the_step_named_or_the_present_one() {
    let resumed = |words: &str, step: u32| {
        one_sitting()
            .steps(&["15min 1 9", "30min 1 9"])
            .set("missed_to_suspend", "1")
            .says("06 12:30", "clinic", words)
            .gives_from(
                "06 12:15",
                &format!(
                    "06 12:15 missed first 1
                     06 12:15 clinic-told missed
                     06 12:15 no-credit 1 missed
                     06 12:15 suspended
                     06 12:15 clinic-told suspended
                     06 12:30 resumed clinic step {step}
                     06 12:30 unsuspended"
                ),
            );
    };
    resumed("resume", 1);
    resumed("resume step=2", 2);
    resumed("resume sit=30min", 2);
}

/// R17: the look keeps its clock and its reminders; the clinic is told from the second on.
#[test]
fn unclear_words_are_asked_again_at_once_and_told_from_the_second_time() {
    one_sitting()
        .says("06 10:17", "first", "unclear")
        .says("06 10:20", "first", "unclear")
        .says("06 10:40", "first", "clear")
        .gives(
            "06 10:00 sitting 1 step 1 15min
             06 10:15 asked first 1 → first
             06 10:17 answered first 1 by first: unclear
             06 10:17 asked first 1 → first again 1
             06 10:20 answered first 1 by first: unclear
             06 10:20 asked first 1 → first again 2
             06 10:20 clinic-told unclear
             06 10:35 asked first 1 → first again 3
             06 10:40 answered first 1 by first: clear
             06 10:40 credit 1 run 1",
        );
}

/// R17.
#[test]
fn not_looked_leaves_the_look_open_on_its_clock() {
    one_sitting()
        .says("06 10:20", "first", "not-looked")
        .says("06 10:40", "first", "clear")
        .gives_from(
            "06 10:15",
            "06 10:15 asked first 1 → first
             06 10:20 answered first 1 by first: not-looked
             06 10:35 asked first 1 → first again 1
             06 10:40 answered first 1 by first: clear
             06 10:40 credit 1 run 1",
        );
}

/// R17: the run stands.
#[test]
fn no_sitting_cancels_the_sitting_and_the_run_stands() {
    Story::new()
        .days(2)
        .says("06 10:20", "first", "clear")
        .says("06 15:16", "first", "no-sitting")
        .says("07 10:20", "first", "clear")
        .says("07 15:02", "first", "no-sitting")
        .gives_from(
            "06 15:00",
            "06 15:00 sitting 2 step 1 15min
             06 15:15 asked first 2 → first
             06 15:16 answered first 2 by first: no-sitting
             06 15:16 no-credit 2 no-sitting
             07 10:00 sitting 3 step 1 15min
             07 10:15 asked first 3 → first
             07 10:20 answered first 3 by first: clear
             07 10:20 credit 3 run 2
             07 15:00 sitting 4 step 1 15min
             07 15:02 no-credit 4 no-sitting",
        );
}

/// R17: after a miss it is too late for it.
#[test]
fn no_sitting_after_a_miss_is_told_as_a_late_report() {
    one_sitting().says("06 12:20", "first", "no-sitting").gives_from(
        "06 12:16",
        "06 12:20 answered first 1 by first: no-sitting
         06 12:20 clinic-told late-report",
    );
}

/// R17.
#[test]
fn a_reading_that_does_not_fit_a_recheck_is_unclear() {
    one_sitting()
        .says("06 10:16", "first", "marked")
        .says("06 10:50", "first", "no-sitting to:recheck")
        .says("06 10:52", "first", "faded 8min")
        .gives_from(
            "06 10:46",
            "06 10:46 asked recheck 1 → first
             06 10:50 answered recheck 1 by first: no-sitting
             06 10:50 asked recheck 1 → first again 1
             06 10:52 answered recheck 1 by first: faded 8min
             06 10:52 credit 1 run 1",
        );
}

/// R18: the credit is taken back and the sitting settled anew by its findings as they then stand.
#[test]
fn a_correction_toward_worse_takes_the_credit_back() {
    one_sitting()
        .days(2)
        .says("06 10:20", "first", "clear")
        .says("06 10:30", "first", "faded 20min")
        .says("07 10:20", "first", "clear")
        .gives_from(
            "06 10:20",
            "06 10:20 answered first 1 by first: clear
             06 10:20 credit 1 run 1
             06 10:30 answered first 1 by first: faded 20min
             06 10:30 no-credit 1 slow-fade
             07 10:00 sitting 2 step 1 15min
             07 10:15 asked first 2 → first
             07 10:20 answered first 2 by first: clear
             07 10:20 credit 2 run 1",
        );
}

/// R18: nothing is changed by it, the clinic decides.
#[test]
fn a_correction_toward_better_changes_nothing_and_is_told() {
    one_sitting()
        .says("06 10:20", "first", "faded 20min")
        .says("06 10:30", "first", "faded 10min")
        .says("06 10:31", "first", "clear")
        .gives_from(
            "06 10:20",
            "06 10:20 answered first 1 by first: faded 20min
             06 10:20 no-credit 1 slow-fade
             06 10:30 answered first 1 by first: faded 10min
             06 10:30 clinic-told correction
             06 10:31 answered first 1 by first: clear
             06 10:31 clinic-told correction",
        );
    // Before the recheck is asked, too: the recheck stays.
    one_sitting()
        .says("06 10:16", "first", "marked")
        .says("06 10:20", "first", "clear")
        .says("06 10:50", "first", "faded 9min")
        .gives_from(
            "06 10:16",
            "06 10:16 answered first 1 by first: marked
             06 10:20 answered first 1 by first: clear
             06 10:20 clinic-told correction
             06 10:46 asked recheck 1 → first
             06 10:50 answered recheck 1 by first: faded 9min
             06 10:50 credit 1 run 1",
        );
}

/// R18.
#[test]
fn the_same_again_changes_nothing() {
    one_sitting()
        .says("06 10:20", "first", "faded 10min")
        .says("06 10:30", "first", "faded 10min")
        .says("06 10:31", "first", "faded")
        .gives_from(
            "06 10:20",
            "06 10:20 answered first 1 by first: faded 10min
             06 10:20 credit 1 run 1
             06 10:30 answered first 1 by first: faded 10min
             06 10:31 answered first 1 by first: faded",
        );
}

/// R18: it is a new mark, no correction of yesterday's look.
#[test]
fn a_mark_said_on_a_later_day_is_an_unasked_look() {
    one_sitting()
        .days(2)
        .says("06 10:20", "first", "clear")
        .says("07 09:00", "first", "marked heel-left to:look")
        .says("07 09:10", "first", "faded 8min")
        .gives_from(
            "07 00:00",
            "07 09:00 answered routine by first: marked heel-left
             07 09:10 answered recheck by first: faded 8min
             07 10:00 dropped resting",
        );
}

/// R18: said on a later day while a sitting is announced, it is that sitting's.
#[test]
fn a_mark_said_on_a_later_day_to_an_announced_sitting_is_an_unasked_first_look_of_it() {
    one_sitting()
        .days(2)
        .says("06 10:20", "first", "clear")
        .says("07 10:05", "first", "marked heel-left to:look")
        .says("07 10:10", "first", "faded 5min")
        .gives_from(
            "07 00:00",
            "07 10:00 sitting 2 step 1 15min
             07 10:05 answered first 2 by first: marked heel-left
             07 10:10 answered recheck 2 by first: faded 5min
             07 10:10 no-credit 2 cut-short",
        );
}

/// R18.
#[test]
fn while_stopped_replies_are_told_and_lift_nothing_and_an_alarming_one_alerts_anew() {
    one_sitting()
        .cover(&["ann", "bob"])
        .says("06 10:20", "first", "persisting sacrum")
        .says("06 10:25", "first", "clear")
        .says("06 10:26", "first", "alarming")
        .says("06 10:30", "ann", "seen")
        .says("06 10:40", "first", "alarming")
        .says("06 10:41", "bob", "seen")
        .gives_from(
            "06 10:20",
            "06 10:20 answered first 1 by first: persisting sacrum
             06 10:20 stopped persisting sacrum
             06 10:20 told-to-stop first
             06 10:20 told-to-stop second
             06 10:20 alerted ann
             06 10:25 answered first 1 by first: clear
             06 10:25 clinic-told late-report
             06 10:26 answered first 1 by first: alarming
             06 10:26 clinic-told late-report
             06 10:30 acknowledged ann
             06 10:40 answered first 1 by first: alarming
             06 10:40 clinic-told late-report
             06 10:40 alerted ann
             06 10:41 acknowledged bob",
        );
}
