//! Projections and rising trends (R9, R19, R20).

use crate::story::Story;

/// Two sittings on the first step, three on the second, with the fade times given; the third step
/// comes up at the midnight of the 11th.
fn climbing(fades: [u32; 5], third_step: &str) -> Story {
    let mut story =
        Story::new().days(6).sittings_at("10:00").steps(&["15min 1 2", "30min 1 3", third_step]);
    let times = ["06 10:16", "07 10:16", "08 10:31", "09 10:31", "10 10:31"];
    for (at, fade) in times.iter().zip(fades) {
        story = story.says(at, "first", &format!("faded {fade}min"));
    }
    story
}

/// R9, R19: the line through (15, 10), (15, 10), (30, 15), (30, 15), (30, 15) rises by a third of
/// a minute a minute: 30 minutes at 75, which is not above the limit, and 31 at 78, which is.
#[test]
fn a_client_is_held_where_the_projection_is_strictly_above_fade_limit() {
    climbing([10, 10, 15, 15, 15], "75min 1 9").gives_of(
        &["advanced", "held", "clinic-told"],
        "08 00:00 advanced step 2
         11 00:00 advanced step 3
         11 13:15 clinic-told missed",
    );
    climbing([10, 10, 15, 15, 15], "78min 1 9").says("11 10:31", "first", "faded 15min").gives_of(
        &["advanced", "held", "clinic-told", "credit"],
        "06 10:16 credit 1 run 1
         07 10:16 credit 2 run 2
         08 00:00 advanced step 2
         08 10:31 credit 3 run 1
         09 10:31 credit 4 run 2
         10 10:31 credit 5 run 3
         11 00:00 held step 2 expects 31.0
         11 00:00 clinic-told projection
         11 10:31 credit 6 run 1",
    );
}

/// R19: four points are too few, however steep.
#[test]
fn with_fewer_than_five_points_nobody_is_held() {
    Story::new()
        .days(5)
        .sittings_at("10:00")
        .steps(&["15min 1 2", "30min 1 2", "240min 1 9"])
        .says("06 10:16", "first", "faded 1min")
        .says("07 10:16", "first", "faded 1min")
        .says("08 10:31", "first", "faded 15min")
        .says("09 10:31", "first", "faded 15min")
        .gives_of(
            &["advanced", "held"],
            "08 00:00 advanced step 2
             10 00:00 advanced step 3",
        );
}

/// R19: five points on one sitting time have no line.
#[test]
fn points_on_one_sitting_time_hold_nobody() {
    let mut story = Story::new().days(6).sittings_at("10:00").steps(&["15min 1 5", "240min 1 9"]);
    for day in 6..11 {
        story = story.says(&format!("{day} 10:16"), "first", "faded 15min");
    }
    story.gives_of(&["advanced", "held"], "11 00:00 advanced step 2");
}

/// R20: four points that only rise are one order of 24, p = 0.042; three are one of six.
#[test]
fn a_rising_trend_on_a_step_is_told_when_it_is_beyond_chance() {
    let mut story = Story::new().days(5).sittings_at("10:00").steps(&["15min 1 9"]);
    for (day, fade) in [(6, 2), (7, 4), (8, 6), (9, 8), (10, 1)] {
        story = story.says(&format!("{day} 10:16"), "first", &format!("faded {fade}min"));
    }
    story.gives_of(
        &["clinic-told", "credit"],
        "06 10:16 credit 1 run 1
         07 10:16 credit 2 run 2
         08 10:16 credit 3 run 3
         09 10:16 credit 4 run 4
         09 10:16 clinic-told rising
         10 10:16 credit 5 run 5",
    );
}

/// R20: 0, 0, 0, 5, 5, 5 is one order of twenty: p is exactly 0.05, and not below it.
#[test]
fn a_trend_with_p_of_exactly_one_in_twenty_is_not_told_yet() {
    let mut story = Story::new().days(7).sittings_at("10:00").steps(&["15min 1 9"]);
    for day in 6..9 {
        story = story.says(&format!("{day} 10:16"), "first", "clear");
    }
    for day in 9..13 {
        story = story.says(&format!("{day} 10:16"), "first", "faded 5min");
    }
    story.gives_of(&["clinic-told"], "12 10:16 clinic-told rising");
}

/// R19, R20: a missed look gives no point, a mark that was seen gives one even so, and neither a
/// cancelled sitting nor one that stopped gives any.
#[test]
fn only_sittings_with_a_finding_that_tells_something_give_a_point() {
    let with_between = |words: &str, expected: &str| {
        let mut story = Story::new()
            .days(5)
            .sittings_at("10:00")
            .steps(&["15min 1 9"])
            .set("missed_to_suspend", "9");
        for (day, fade) in [(6, 2), (7, 4), (9, 6)] {
            story = story.says(&format!("{day} 10:16"), "first", &format!("faded {fade}min"));
        }
        story
            .says("08 10:16", "first", words)
            .says("10 10:16", "first", "faded 8min")
            .gives_of(&["clinic-told"], expected);
    };
    with_between("faded 5min", "09 10:16 clinic-told rising\n10 10:16 clinic-told rising");
    with_between("no-sitting", "10 10:16 clinic-told rising");
    with_between("not-looked", "08 12:15 clinic-told missed\n10 10:16 clinic-told rising");
}
