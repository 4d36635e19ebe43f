//! The ladder and what is published about it (R1, R3, R4, R7, R8).

use crate::story::Story;

/// R1, R7.
#[test]
fn each_step_has_its_own_sitting_time_number_of_sittings_and_run() {
    Story::new()
        .days(3)
        .steps(&["10min 1 1", "20min 2 2", "40min 1 1 20min"])
        .habit("clear", "5min")
        .gives(
            "06 10:00 sitting 1 step 1 10min
             06 10:10 asked first 1 → first
             06 10:15 answered first 1 by first: clear
             06 10:15 credit 1 run 1
             07 00:00 advanced step 2
             07 10:00 sitting 2 step 2 20min
             07 10:20 asked first 2 → first
             07 10:25 answered first 2 by first: clear
             07 10:25 credit 2 run 1
             07 15:00 sitting 3 step 2 20min
             07 15:20 asked first 3 → first
             07 15:25 answered first 3 by first: clear
             07 15:25 credit 3 run 2
             08 00:00 advanced step 3
             08 10:00 sitting 4 step 3 40min
             08 10:20 asked first 4 → first
             08 10:25 answered first 4 by first: clear
             08 10:40 asked first 4 → first
             08 10:45 answered first 4 by first: clear
             08 10:45 credit 4 run 1",
        );
}

/// R1, R7, with a published ladder: the National Spinal Injuries Centre, Stoke Mandeville, lets a
/// person sit for 30 minutes on the first day, 1, 2, 3, 4 and 5 hours on the next, and an hour more
/// each day after that, once a day, a stage only after the one before left no mark.
#[test]
fn the_published_ladder_of_the_nsic_reaches_eight_hours_on_the_ninth_day() {
    let nsic = Story::new().days(9).sittings_at("10:00").habit("clear", "5min").steps(&[
        "30min 1 1",
        "60min 1 1",
        "120min 1 1",
        "180min 1 1",
        "240min 1 1",
        "300min 1 1",
        "360min 1 1",
        "420min 1 1",
        "480min 1 1",
    ]);
    nsic.gives_of(
        &["sitting"],
        "06 10:00 sitting 1 step 1 30min
         07 10:00 sitting 2 step 2 60min
         08 10:00 sitting 3 step 3 120min
         09 10:00 sitting 4 step 4 180min
         10 10:00 sitting 5 step 5 240min
         11 10:00 sitting 6 step 6 300min
         12 10:00 sitting 7 step 7 360min
         13 10:00 sitting 8 step 8 420min
         14 10:00 sitting 9 step 9 480min",
    );
    // No stage is skipped, and one that left a lasting mark is not left.
    nsic.says("07 11:02", "first", "faded 16min").days(4).gives_of(
        &["sitting", "no-credit"],
        "06 10:00 sitting 1 step 1 30min
         07 10:00 sitting 2 step 2 60min
         07 11:02 no-credit 2 slow-fade
         08 10:00 sitting 3 step 2 60min
         09 10:00 sitting 4 step 3 120min",
    );
}

/// R3.
#[test]
fn looks_come_at_each_look_every_and_always_at_the_end() {
    Story::new().steps(&["40min 1 2 15min"]).habit("clear", "5min").gives_of(
        &["asked", "credit"],
        "06 10:15 asked first 1 → first
         06 10:30 asked first 1 → first
         06 10:40 asked first 1 → first
         06 10:45 credit 1 run 1",
    );
}

/// R3.
#[test]
fn a_look_that_falls_on_the_end_of_the_sitting_is_asked_once() {
    Story::new().steps(&["30min 1 2 15min"]).habit("clear", "5min").gives_of(
        &["asked"],
        "06 10:15 asked first 1 → first
         06 10:30 asked first 1 → first",
    );
}

/// R3.
#[test]
fn routine_looks_come_on_every_day_of_the_build_up_too() {
    Story::new()
        .days(2)
        .look_at(&["08:00", "18:00"])
        .sittings_at("10:00")
        .steps(&["15min 1 9"])
        .habit("clear", "5min")
        .gives_of(
            &["asked", "answered"],
            "06 08:00 asked routine → first
             06 08:05 answered routine by first: clear
             06 10:15 asked first 1 → first
             06 10:20 answered first 1 by first: clear
             06 18:00 asked routine → first
             06 18:05 answered routine by first: clear
             07 08:00 asked routine → first
             07 08:05 answered routine by first: clear
             07 10:15 asked first 2 → first
             07 10:20 answered first 2 by first: clear
             07 18:00 asked routine → first
             07 18:05 answered routine by first: clear",
        );
}

/// R3: the answer at 10:32 is to the look asked last; the earlier one stays open.
#[test]
fn a_later_look_does_not_answer_an_earlier_one() {
    Story::new().steps(&["30min 1 2 15min"]).says("06 10:32", "first", "clear").gives(
        "06 10:00 sitting 1 step 1 30min
         06 10:15 asked first 1 → first
         06 10:30 asked first 1 → first
         06 10:32 answered first 1 by first: clear
         06 10:35 asked first 1 → first again 1
         06 10:55 asked first 1 → second
         06 11:15 asked first 1 → second again 1
         06 12:15 missed first 1
         06 12:15 clinic-told missed
         06 12:15 no-credit 1 missed",
    );
}

/// R4.
#[test]
fn a_planned_sitting_is_dropped_while_a_look_is_unsettled_and_not_queued() {
    Story::new().sittings_at("10:00 12:00").gives_of(
        &["sitting", "dropped", "missed"],
        "06 10:00 sitting 1 step 1 15min
         06 12:00 dropped unsettled
         06 12:15 missed first 1",
    );
}

/// R4: a look missed at the instant of the next sitting is settled when that sitting begins.
#[test]
fn a_look_missed_as_the_next_sitting_comes_does_not_drop_it() {
    Story::new().sittings_at("10:00 12:15").gives_of(
        &["sitting", "dropped", "missed"],
        "06 10:00 sitting 1 step 1 15min
         06 12:15 missed first 1
         06 12:15 sitting 2 step 1 15min
         06 14:30 missed first 2",
    );
}

/// R4: two hours after 10:16 is 12:16; a minute before that, the client still rests.
#[test]
fn a_planned_sitting_is_dropped_less_than_rest_after_mark_after_a_mark_is_gone() {
    let mark = Story::new().says("06 10:16", "first", "faded 5min");
    mark.clone().sittings_at("10:00 12:15").gives_of(
        &["credit", "sitting", "dropped"],
        "06 10:00 sitting 1 step 1 15min
         06 10:16 credit 1 run 1
         06 12:15 dropped resting",
    );
    mark.sittings_at("10:00 12:16").gives_of(
        &["credit", "sitting", "dropped"],
        "06 10:00 sitting 1 step 1 15min
         06 10:16 credit 1 run 1
         06 12:16 sitting 2 step 1 15min",
    );
}

/// R7: the routine look asked at 20:30 is open until 00:30, so that the next midnight decides.
#[test]
fn an_advance_waits_for_a_midnight_at_which_nothing_is_unsettled() {
    Story::new()
        .days(3)
        .sittings_at("10:00")
        .steps(&["15min 1 1", "30min 1 1"])
        .look_at(&["20:30"])
        .set("tell_clinic_after", "\"4h\"")
        .says("06 10:20", "first", "clear")
        .says("07 10:20", "first", "clear")
        .says("07 20:35", "first", "clear")
        .gives_of(
            &["credit", "missed", "advanced", "sitting"],
            "06 10:00 sitting 1 step 1 15min
             06 10:20 credit 1 run 1
             07 00:30 missed routine
             07 10:00 sitting 2 step 1 15min
             07 10:20 credit 2 run 2
             08 00:00 advanced step 2
             08 10:00 sitting 3 step 2 30min
             08 14:30 missed first 3",
        );
}

/// R7: the run has to stand at midnight still.
#[test]
fn a_run_broken_in_the_evening_does_not_advance() {
    Story::new()
        .days(2)
        .sittings_at("10:00 15:00")
        .steps(&["15min 2 1", "30min 2 1"])
        .says("06 10:20", "first", "clear")
        .says("06 15:20", "first", "faded 16min")
        .gives_of(
            &["credit", "no-credit", "advanced", "sitting"],
            "06 10:00 sitting 1 step 1 15min
             06 10:20 credit 1 run 1
             06 15:00 sitting 2 step 1 15min
             06 15:20 no-credit 2 slow-fade
             07 10:00 sitting 3 step 1 15min
             07 12:15 no-credit 3 missed
             07 15:00 sitting 4 step 1 15min
             07 17:15 no-credit 4 missed",
        );
}

/// R8.
#[test]
fn after_the_last_step_come_routine_looks_and_reviews() {
    Story::new()
        .days(5)
        .sittings_at("10:00")
        .steps(&["15min 1 1"])
        .routine(&["08:00"], &[1, 3])
        .habit("clear", "5min")
        .gives(
            "06 10:00 sitting 1 step 1 15min
             06 10:15 asked first 1 → first
             06 10:20 answered first 1 by first: clear
             06 10:20 credit 1 run 1
             07 00:00 routine
             07 08:00 asked routine → first
             07 08:05 answered routine by first: clear
             08 00:00 review day 1
             08 08:00 asked routine → first
             08 08:05 answered routine by first: clear
             09 08:00 asked routine → first
             09 08:05 answered routine by first: clear
             10 00:00 review day 3
             10 08:00 asked routine → first
             10 08:05 answered routine by first: clear",
        );
}

/// R8.
#[test]
fn without_a_routine_table_the_client_stays_on_the_last_step() {
    Story::new()
        .days(3)
        .sittings_at("10:00")
        .steps(&["15min 1 1"])
        .habit("clear", "5min")
        .gives_of(
            &["sitting", "advanced", "routine", "credit"],
            "06 10:00 sitting 1 step 1 15min
             06 10:20 credit 1 run 1
             07 10:00 sitting 2 step 1 15min
             07 10:20 credit 2 run 2
             08 10:00 sitting 3 step 1 15min
             08 10:20 credit 3 run 3",
        );
}

/// R8, fine print.
#[test]
fn reviews_go_on_while_stopped_in_the_routine_phase() {
    Story::new()
        .days(3)
        .sittings_at("10:00")
        .steps(&["15min 1 1"])
        .routine(&["08:00"], &[1])
        .says("06 10:20", "first", "clear")
        .says("07 08:05", "first", "persisting sacrum")
        .says("07 08:10", "clinic", "seen")
        .gives_from(
            "07 08:10",
            "07 08:10 acknowledged clinic
             08 00:00 review day 1
             08 08:00 alerted clinic again 1",
        );
}
