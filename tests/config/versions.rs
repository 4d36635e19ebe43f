//! The version of a plan: what changes it and what does not.

use fadewatch::config::{canonical, parse_plan, plan_version};

use crate::{PLAN, changed};

fn version(text: &str) -> String {
    plan_version(&parse_plan("plan.toml", text).unwrap().value).as_str().to_owned()
}

#[test]
fn comments_spaces_and_other_ways_to_write_the_same_make_no_new_version() {
    let before = version(PLAN);
    for (part, to) in [
        ("[looks]", "# why so\n\n[looks]   # here"),
        ("\"30min\"", "\"0h30min\""),
        ("\"2h\"", "'120min'"),
        ("\"08:00\"", "08:00:00"),
        ("approved_on = 2026-03-02", "approved_on = \"2026-03-02\""),
        ("[\"08:00\", \"20:00\"]", "[\"08:00\",\n \"20:00\",\n]"),
    ] {
        assert_eq!(version(&changed(PLAN, part, to)), before, "{to}");
    }
    assert_eq!(version(&PLAN.replace('\n', "\r\n")), before);
}

#[test]
fn every_setting_changes_the_version() {
    let mut seen = vec![version(PLAN)];
    for (part, to) in [
        ("\"two-week\"", "\"three-week\""),
        ("\"Building up", "\"building up"),
        ("A. Example", "B. Example"),
        ("2026-03-02", "2026-03-03"),
        ("approved_by = \"A. Example\"", "approved_by = \"\""),
        ("fade_limit = \"30min\"", "fade_limit = \"31min\""),
        ("slow_fade = \"15min\"", "slow_fade = \"14min\""),
        ("answer_within = \"20min\"", "answer_within = \"21min\""),
        ("ask_again = 2", "ask_again = 1"),
        ("tell_clinic_after = \"2h\"", "tell_clinic_after = \"3h\""),
        ("recheck_within = \"1h\"", "recheck_within = \"2h\""),
        ("missed_to_suspend = 2", "missed_to_suspend = 3"),
        ("rest_after_mark = \"2h\"", "rest_after_mark = \"3h\""),
        ("count = 3", "count = 2"),
        ("of_last = 5", "of_last = 6"),
        ("repeat_marks = { count = 3, of_last = 5 }", ""),
        ("repeat_alert = \"30min\"", "repeat_alert = \"40min\""),
        ("pass_on_after = \"1h\"", "pass_on_after = \"2h\""),
        ("bring_back_at = \"08:00\"", "bring_back_at = \"09:00\""),
        ("step_back = 2", "step_back = 1"),
        ("look_at = [\"08:00\"]", "look_at = [\"08:30\"]"),
        ("look_at = [\"08:00\"]", ""),
        ("sit = \"15min\"", "sit = \"16min\""),
        ("sittings_per_day = 2", "sittings_per_day = 1"),
        ("clear_to_advance = 4", "clear_to_advance = 5"),
        ("look_every = \"1h\"", "look_every = \"40min\""),
        ("look_every = \"1h\"", ""),
        ("[\"08:00\", \"20:00\"]", "[\"08:00\", \"20:01\"]"),
        ("[7, 30, 90]", "[7, 30]"),
        ("[[risk.low.step]]", "[[risk.lower.step]]"),
    ] {
        let now = version(&changed(PLAN, part, to));
        assert!(!seen.contains(&now), "{part} -> {to}");
        seen.push(now);
    }
}

/// Follow-ups are pinned to versions: the canonical form must never change by itself.
#[test]
fn the_canonical_form_of_a_plan_stays_as_it_is() {
    let plan = parse_plan("plan.toml", PLAN).unwrap().value;
    insta::assert_snapshot!(canonical(&plan), @r#"
    fadewatch plan 1
    id = "two-week"
    title = "Building up sitting time"
    approved_by = "A. Example"
    approved_on = 2026-03-02
    looks.fade_limit = 30
    looks.slow_fade = 15
    looks.answer_within = 20
    looks.ask_again = 2
    looks.tell_clinic_after = 120
    looks.recheck_within = 60
    looks.missed_to_suspend = 2
    looks.rest_after_mark = 120
    watch.repeat_marks.count = 3
    watch.repeat_marks.of_last = 5
    stop.repeat_alert = 30
    stop.pass_on_after = 60
    stop.bring_back_at = 08:00
    stop.step_back = 2
    risk.high.look_at = 08:00
    risk.high.step.1.sit = 15
    risk.high.step.1.sittings_per_day = 2
    risk.high.step.1.clear_to_advance = 4
    risk.high.step.2.sit = 120
    risk.high.step.2.sittings_per_day = 2
    risk.high.step.2.clear_to_advance = 4
    risk.high.step.2.look_every = 60
    risk.high.routine.look_at = 08:00, 20:00
    risk.high.routine.review_after_days = 7, 30, 90
    risk.low.step.1.sit = 60
    risk.low.step.1.sittings_per_day = 1
    risk.low.step.1.clear_to_advance = 2
    "#);
    insta::assert_snapshot!(version(PLAN), @"438080ae2ab84c6ef683ce2b6fcd175bae65f9949843d3407f4480a76a56f25b");
}
