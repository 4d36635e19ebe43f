//! Stops, alerts and what clinicians decide (R21, R22, R23).

use crate::story::Story;

/// One sitting a day at 10:00, its look asked at 10:15; a lasting mark is reported at 10:16.
fn stopped() -> Story {
    Story::new().sittings_at("10:00").steps(&["15min 1 3", "30min 1 3"]).says(
        "06 10:16",
        "first",
        "persisting sacrum",
    )
}

/// R21: nothing is asked, planned or begun while stopped; the other look is withdrawn; the run
/// starts at zero.
#[test]
fn a_stop_withdraws_everything_and_tells_every_contact() {
    Story::new()
        .days(2)
        .contacts(&["first", "second", "third"])
        .look_at(&["08:00", "10:10"])
        .says("06 08:05", "first", "clear")
        .says("06 10:16", "first", "persisting sacrum to:look")
        .says("06 10:17", "clinic", "keep-stopped")
        .gives(
            "06 08:00 asked routine → first
             06 08:05 answered routine by first: clear
             06 10:00 sitting 1 step 1 15min
             06 10:10 asked routine → first
             06 10:15 asked first 1 → first
             06 10:16 answered first 1 by first: persisting sacrum
             06 10:16 stopped persisting sacrum
             06 10:16 told-to-stop first
             06 10:16 told-to-stop second
             06 10:16 told-to-stop third
             06 10:16 alerted clinic
             06 10:17 acknowledged clinic
             06 10:17 kept-stopped clinic",
        );
}

/// R21: any stop lifts a suspension first.
#[test]
fn a_stop_lifts_a_suspension_first() {
    Story::new()
        .sittings_at("10:00")
        .steps(&["15min 1 9"])
        .set("missed_to_suspend", "1")
        .says("06 12:20", "clinic", "keep-stopped")
        .gives_from(
            "06 12:20",
            "06 12:20 unsuspended
             06 12:20 stopped clinician
             06 12:20 told-to-stop first
             06 12:20 told-to-stop second",
        );
}

/// R21, fine print.
#[test]
fn a_stop_whose_reply_names_no_site_carries_those_of_the_mark() {
    Story::new()
        .sittings_at("10:00")
        .steps(&["15min 1 3"])
        .says("06 10:16", "first", "marked ischium-left")
        .says("06 10:50", "first", "persisting")
        .gives_of(&["stopped"], "06 10:50 stopped persisting ischium-left");
}

/// R22: repeated every 45 minutes and passed on every hour, both counted from 10:16.
#[test]
fn an_alert_is_repeated_and_passed_on_at_times_counted_from_when_it_was_raised() {
    stopped()
        .cover(&["ann", "bob"])
        .set("repeat_alert", "\"45min\"")
        .says("06 13:20", "bob", "seen")
        .gives_from(
            "06 10:17",
            "06 11:01 alerted ann again 1
             06 11:16 alerted bob
             06 11:46 alerted bob again 1
             06 12:16 alerted ann again 2
             06 12:31 alerted ann again 3
             06 13:16 alerted bob again 2
             06 13:20 acknowledged bob",
        );
}

/// R22: where a repeat and passing on fall together there is one sending.
#[test]
fn a_repeat_that_falls_together_with_passing_on_is_one_sending() {
    stopped().cover(&["ann", "bob"]).says("06 11:20", "bob", "seen").gives_from(
        "06 10:17",
        "06 10:46 alerted ann again 1
         06 11:16 alerted bob
         06 11:20 acknowledged bob",
    );
}

/// R22.
#[test]
fn with_one_clinician_an_alert_stays_and_never_ends_by_itself() {
    let story = stopped().days(2);
    let alerts = story.json().iter().filter(|line| line.contains("\"alerted\"")).count();
    // Every half hour from 10:16 until the midnight after the next day: 37 h 44 min.
    assert_eq!(alerts, 1 + 75);
}

/// R22: at `bring_back_at`, to the one who took it up, until it is decided.
#[test]
fn an_alert_that_was_seen_but_not_decided_is_brought_back_every_day() {
    stopped()
        .days(4)
        .cover(&["ann", "bob"])
        .says("06 10:20", "bob", "seen")
        .says("08 09:00", "ann", "keep-stopped")
        .gives_from(
            "06 10:20",
            "06 10:20 acknowledged bob
             07 08:00 alerted bob
             08 08:00 alerted bob again 1
             08 09:00 kept-stopped ann",
        );
}

/// R22, fine print.
#[test]
fn an_alert_seen_at_exactly_bring_back_at_comes_back_the_next_day() {
    let seen = |at: &str, expected: &str| {
        stopped()
            .days(3)
            .says(at, "clinic", "seen")
            .says("08 08:01", "clinic", "keep-stopped")
            .gives_from(at, expected);
    };
    seen(
        "07 08:00",
        "07 08:00 acknowledged clinic
         08 08:00 alerted clinic again 44
         08 08:01 kept-stopped clinic",
    );
    seen(
        "07 07:59",
        "07 07:59 acknowledged clinic
         07 08:00 alerted clinic again 44
         08 08:00 alerted clinic again 45
         08 08:01 kept-stopped clinic",
    );
}

/// R23: a step, minutes that equal one step's `sit`, or `step_back` below.
#[test]
fn a_clinician_resumes_on_the_step_named_or_step_back_below() {
    let resumed = |step_back: &str, words: &str, expected: &str| {
        Story::new()
            .sittings_at("10:00")
            .steps(&["15min 1 1", "30min 1 1", "45min 1 9"])
            .days(3)
            .set("step_back", step_back)
            .says("06 10:16", "first", "clear")
            .says("07 10:31", "first", "clear")
            .says("08 10:46", "first", "persisting")
            .says("08 10:50", "clinic", words)
            .gives_of(&["resumed", "set-aside"], expected);
    };
    resumed("1", "resume", "08 10:50 resumed clinic step 2");
    resumed("2", "resume", "08 10:50 resumed clinic step 1");
    resumed("9", "resume", "08 10:50 resumed clinic step 1");
    resumed("1", "resume step=3", "08 10:50 resumed clinic step 3");
    resumed("1", "resume sit=15min", "08 10:50 resumed clinic step 1");
    resumed("1", "resume step=4", "08 10:50 set-aside clinic no-such-step");
    resumed("1", "resume sit=20min", "08 10:50 set-aside clinic no-such-step");
}

/// R23, fine print.
#[test]
fn of_two_steps_with_the_same_sit_minutes_mean_the_lower() {
    stopped()
        .steps(&["15min 1 3", "30min 1 3", "30min 1 9"])
        .says("06 10:20", "clinic", "resume sit=30min")
        .gives_of(&["resumed"], "06 10:20 resumed clinic step 2");
}

/// R23, fine print: still stopped, and nobody has taken the alert up.
#[test]
fn a_step_that_does_not_exist_does_not_acknowledge() {
    stopped()
        .says("06 10:20", "clinic", "resume step=7")
        .says("06 10:50", "clinic", "seen")
        .gives_from(
            "06 10:20",
            "06 10:20 set-aside clinic no-such-step
             06 10:46 alerted clinic again 1
             06 10:50 acknowledged clinic",
        );
}

/// R23: the routine phase counts as the last step and is left.
#[test]
fn a_stop_in_the_routine_phase_goes_back_from_the_last_step() {
    Story::new()
        .days(2)
        .sittings_at("10:00")
        .steps(&["15min 1 1"])
        .routine(&["08:00"], &[7])
        .says("06 10:16", "first", "clear")
        .says("07 08:05", "first", "persisting")
        .says("07 08:10", "clinic", "resume")
        .says("07 10:16", "first", "clear")
        .gives_from(
            "07 08:10",
            "07 08:10 acknowledged clinic
             07 08:10 resumed clinic step 1
             07 10:00 sitting 2 step 1 15min
             07 10:15 asked first 2 → first
             07 10:16 answered first 2 by first: clear
             07 10:16 credit 2 run 1",
        );
}

/// R23: only `resume` lifts a stop; `keep-stopped` ends the alert.
#[test]
fn only_a_clinician_ends_a_stop() {
    stopped()
        .days(2)
        .says("06 10:17", "first", "resume")
        .says("06 10:18", "first", "clear")
        .says("06 10:19", "second", "close")
        .says("06 10:20", "clinic", "keep-stopped")
        .says("07 10:01", "first", "started to:start")
        .gives_from(
            "06 10:17",
            "06 10:17 set-aside first does-not-fit
             06 10:18 answered first 1 by first: clear
             06 10:18 clinic-told late-report
             06 10:19 set-aside second does-not-fit
             06 10:20 acknowledged clinic
             06 10:20 kept-stopped clinic
             07 10:01 clinic-told late-report",
        );
}

/// R23: a clinician who stops has decided; nobody needs to be alerted.
#[test]
fn keep_stopped_while_sitting_goes_on_is_a_stop_without_an_alert() {
    Story::new().says("06 09:00", "clinic", "keep-stopped").gives(
        "06 09:00 stopped clinician
         06 09:00 told-to-stop first
         06 09:00 told-to-stop second",
    );
}

/// R23.
#[test]
fn resume_with_nothing_stopped_and_seen_with_no_alert_are_set_aside() {
    Story::new()
        .says("06 09:00", "clinic", "resume step=9")
        .says("06 09:01", "clinic", "seen")
        .says("06 09:02", "clinic", "clear")
        .says("06 09:03", "clinic", "unclear")
        .says("06 09:04", "clinic", "close")
        .gives(
            "06 09:00 set-aside clinic nothing-stopped
             06 09:01 set-aside clinic no-open-alert
             06 09:02 set-aside clinic does-not-fit
             06 09:03 set-aside clinic does-not-fit
             06 09:04 closed clinic",
        );
}

/// R23: after it everything is set aside.
#[test]
fn close_ends_the_follow_up_and_everything_after_it_is_set_aside() {
    stopped()
        .days(3)
        .says("06 10:20", "clinic", "close")
        .says("06 10:21", "first", "alarming")
        .says("06 10:22", "clinic", "resume")
        .gives_from(
            "06 10:20",
            "06 10:20 acknowledged clinic
             06 10:20 closed clinic
             06 10:21 set-aside first closed
             06 10:22 set-aside clinic closed",
        );
}

/// R23, fine print.
#[test]
fn seen_after_anothers_seen_is_set_aside_and_a_decision_acknowledges_nothing_anew() {
    stopped()
        .cover(&["ann", "bob"])
        .says("06 10:20", "ann", "seen")
        .says("06 10:21", "bob", "seen")
        .says("06 10:22", "bob", "resume")
        .gives_from(
            "06 10:20",
            "06 10:20 acknowledged ann
             06 10:21 set-aside bob no-open-alert
             06 10:22 resumed bob step 1",
        );
}
