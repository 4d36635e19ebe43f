//! Quiet hours and clock changes (R24, R25).

use fadewatch::config::parse_scenario;

use crate::story::Story;

/// Routine looks in the evening and no sitting that matters: the client sits at noon and answers.
fn evening(look_at: &str) -> Story {
    Story::new()
        .days(2)
        .sittings_at("12:00")
        .steps(&["15min 1 9"])
        .look_at(&[look_at])
        .set("tell_clinic_after", "\"11h\"")
        .says("06 12:16", "first", "clear")
}

/// R24: `from` is inside, `to` outside; a minute decides.
#[test]
fn reminders_of_routine_looks_wait_for_the_end_of_the_quiet_hours() {
    evening("20:39").says("06 21:30", "first", "clear").gives_from(
        "06 13:00",
        "06 20:39 asked routine → first
         06 20:59 asked routine → first again 1
         06 21:30 answered routine by first: clear
         07 12:00 sitting 2 step 1 15min
         07 12:15 asked first 2 → first
         07 12:35 asked first 2 → first again 1
         07 12:55 asked first 2 → second
         07 13:15 asked first 2 → second again 1
         07 20:39 asked routine → first
         07 20:59 asked routine → first again 1
         07 23:15 missed first 2
         07 23:15 clinic-told missed
         07 23:15 no-credit 2 missed",
    );
    evening("20:40").says("07 07:30", "second", "clear").gives_of(
        &["asked", "answered"],
        "06 12:15 asked first 1 → first
         06 12:16 answered first 1 by first: clear
         06 20:40 asked routine → first
         07 07:00 asked routine → first again 1
         07 07:20 asked routine → second
         07 07:30 answered routine by second: clear
         07 12:15 asked first 2 → first
         07 12:35 asked first 2 → first again 1
         07 12:55 asked first 2 → second
         07 13:15 asked first 2 → second again 1
         07 20:40 asked routine → first",
    );
}

/// R24: misses keep their times, also at night, so that the reminder never goes out.
#[test]
fn a_look_is_missed_at_its_time_in_quiet_hours_too() {
    evening("20:40").set("tell_clinic_after", "\"2h\"").days(1).gives_from(
        "06 13:00",
        "06 20:40 asked routine → first
         06 22:40 missed routine
         06 22:40 clinic-told missed",
    );
}

/// R24: a lasting mark does not wait for the morning.
#[test]
fn rechecks_stops_and_alerts_go_out_in_quiet_hours() {
    evening("20:40").days(1).says("06 20:45", "first", "marked sacrum").gives_from(
        "06 20:40",
        "06 20:40 asked routine → first
         06 20:45 answered routine by first: marked sacrum
         06 21:15 asked recheck → first
         06 21:35 asked recheck → first again 1
         06 21:55 asked recheck → second
         06 22:15 stopped recheck-unreported sacrum
         06 22:15 told-to-stop first
         06 22:15 told-to-stop second
         06 22:15 alerted clinic
         06 22:45 alerted clinic again 1
         06 23:15 alerted clinic again 2
         06 23:45 alerted clinic again 3",
    );
}

/// R24.
#[test]
fn unclear_words_are_asked_again_at_any_hour() {
    evening("20:40").days(1).says("06 22:00", "first", "unclear").gives_from(
        "06 20:40",
        "06 20:40 asked routine → first
         06 22:00 answered routine by first: unclear
         06 22:00 asked routine → first again 1",
    );
}

/// R24: the refusal goes by the wall clock of an ordinary day, the end look included.
#[test]
fn a_plan_and_times_that_ask_in_quiet_hours_are_refused() {
    let refused = |story: Story| {
        let text = story.toml();
        parse_scenario("story.toml", &text, |name| Err(name.to_owned())).is_err()
    };
    let sits_at = |time: &str| Story::new().sittings_at(time).steps(&["15min 1 3"]);
    assert!(refused(sits_at("20:45")), "the end look comes at 21:00");
    assert!(!refused(sits_at("20:44")));
    assert!(refused(sits_at("06:59")));
    assert!(!refused(sits_at("07:00")));
    assert!(refused(sits_at("10:00").look_at(&["21:00"])));
    assert!(!refused(sits_at("10:00").look_at(&["20:59"])));
}

/// R3: nobody is asked twice at one instant.
#[test]
fn a_time_of_day_that_a_plan_lists_twice_is_one_look() {
    evening("18:00")
        .days(1)
        .look_at(&["18:00", "18:00"])
        .says("06 18:05", "first", "clear")
        .gives_from(
            "06 18:00",
            "06 18:00 asked routine → first
         06 18:05 answered routine by first: clear",
        );
}

/// R2.
#[test]
fn fewer_times_than_sittings_a_day_are_refused() {
    let text = Story::new().sittings_at("10:00").steps(&["15min 2 3"]).toml();
    assert!(parse_scenario("story.toml", &text, |name| Err(name.to_owned())).is_err());
}

/// R25: 02:30 does not exist in Paris on 29 March 2026.
#[test]
fn a_sitting_at_a_skipped_time_begins_at_the_first_instant_after_the_gap() {
    Story::new()
        .begins("2026-03-28")
        .days(2)
        .zone("Europe/Paris")
        .no_quiet()
        .sittings_at("02:30")
        .steps(&["15min 1 9"])
        .habit("clear", "5min")
        .gives_of(
            &["sitting", "asked"],
            "28 02:30 sitting 1 step 1 15min
             28 02:45 asked first 1 → first
             29 03:00 sitting 2 step 1 15min
             29 03:15 asked first 2 → first",
        );
}

/// R25: 02:30 comes twice in Paris on 25 October 2026; the second is an hour later.
#[test]
fn a_sitting_at_a_repeated_time_begins_the_first_time_only() {
    let story = Story::new()
        .begins("2026-10-25")
        .zone("Europe/Paris")
        .no_quiet()
        .sittings_at("02:30")
        .steps(&["15min 1 9"])
        .habit("clear", "5min");
    story.gives_of(&["sitting"], "25 02:30 sitting 1 step 1 15min");
    assert!(story.json()[0].contains("2026-10-25T02:30:00+02:00"), "{}", story.json()[0]);
}

/// R25: durations are elapsed time: two hours on the night of the change are two hours.
#[test]
fn waits_are_elapsed_time_over_a_clock_change() {
    Story::new()
        .begins("2026-03-29")
        .zone("Europe/Paris")
        .no_quiet()
        .sittings_at("01:00")
        .steps(&["15min 1 9"])
        .gives_of(
            &["asked", "missed"],
            "29 01:15 asked first 1 → first
             29 01:35 asked first 1 → first again 1
             29 01:55 asked first 1 → second
             29 03:15 asked first 1 → second again 1
             29 04:15 missed first 1",
        );
}

/// R7, R25: in Cairo the midnight of 24 April 2026 is skipped; its day begins at 01:00.
#[test]
fn a_skipped_midnight_is_the_first_instant_of_the_day() {
    Story::new()
        .begins("2026-04-23")
        .days(2)
        .zone("Africa/Cairo")
        .sittings_at("10:00")
        .steps(&["15min 1 1", "30min 1 9"])
        .habit("clear", "5min")
        .gives_of(
            &["sitting", "advanced"],
            "23 10:00 sitting 1 step 1 15min
             24 01:00 advanced step 2
             24 10:00 sitting 2 step 2 30min",
        );
}

/// R24, R25: on the same night a look planned for 00:00 and quiet hours from 00:30 both begin at
/// 01:00. The look has fallen into the quiet hours and waits for their end.
#[test]
fn a_routine_look_that_a_clock_change_puts_into_quiet_hours_waits_for_their_end() {
    Story::new()
        .begins("2026-04-24")
        .zone("Africa/Cairo")
        .quiet("00:30", "05:30")
        .look_at(&["00:00"])
        .sittings_at("10:00")
        .steps(&["15min 1 9"])
        .says("24 05:40", "first", "clear")
        .says("24 10:16", "first", "clear")
        .gives(
            "24 05:30 asked routine → first
             24 05:40 answered routine by first: clear
             24 10:00 sitting 1 step 1 15min
             24 10:15 asked first 1 → first
             24 10:16 answered first 1 by first: clear
             24 10:16 credit 1 run 1",
        );
}
