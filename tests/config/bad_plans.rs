//! One plan for each kind of mistake, and the whole message.

use fadewatch::config::parse_plan;

use crate::{PLAN, changed, said};

/// Changes the right plan in one place and compares everything that is said.
macro_rules! told {
    ($part:literal => $to:literal, @$snapshot:literal) => {
        insta::assert_snapshot!(
            said(parse_plan("plan.toml", &changed(PLAN, $part, $to))),
            @$snapshot
        )
    };
}

#[test]
fn the_right_plan_is_taken_without_a_word() {
    assert!(parse_plan("plan.toml", PLAN).unwrap().warnings.is_empty());
}

#[test]
fn a_misspelt_key_is_told_with_the_one_that_was_meant() {
    told!("fade_limit" => "fadelimit", @r#"
    refused

    error: unknown key `looks.fadelimit`
     --> plan.toml:7:1
      |
    7 | fadelimit = "30min"
      | ^^^^^^^^^ not a key of [looks]
      |
      = note: a key that nobody reads would be a setting that silently does nothing
      = help: did you mean `fade_limit`?

    1 error
    "#);
    told!("[looks]" => "[loks]", @r#"
    refused

    error: unknown key `loks`
     --> plan.toml:6:2
      |
    6 | [loks]
      |  ^^^^ not a key of the plan
      |
      = note: a key that nobody reads would be a setting that silently does nothing
      = help: did you mean `looks`?

    1 error
    "#);
    told!("ask_again = 2" => "ask_again = 2\ncolour = 1", @r#"
    refused

    error: unknown key `looks.colour`
      --> plan.toml:11:1
       |
    11 | colour = 1
       | ^^^^^^ not a key of [looks]
       |
       = note: a key that nobody reads would be a setting that silently does nothing
       = help: the keys of [looks] are `fade_limit`, `slow_fade`, `answer_within`, `ask_again`, `tell_clinic_after`, `recheck_within`, `missed_to_suspend` and `rest_after_mark`

    1 error
    "#);
}

#[test]
fn missing_keys_are_told_together_at_their_table() {
    told!("slow_fade = \"15min\"\nanswer_within = \"20min\"\n" => "", @r#"
    refused

    error: [looks] lacks `slow_fade` and `answer_within`
     --> plan.toml:6:1
      |
    6 | [looks]
      | ^^^^^^^ belongs in this table
      |
      = note: `slow_fade`: the longest that a mark may last and the sitting still earn credit (R5)
              `answer_within`: how long a question waits before it is asked again (R14)
      = help: add, with your own values:
              slow_fade = "15min"
              answer_within = "20min"

    1 error
    "#);
    told!("id = \"two-week\"\n" => "", @r#"
    refused

    error: the plan lacks `id`
    --> plan.toml
     = note: `id`: the short name by which files refer to the plan
     = help: add, with your own values:
             id = "two-week"

    1 error
    "#);
    told!("sit = \"15min\"\n" => "", @r#"
    refused

    error: a step lacks `sit`
      --> plan.toml:28:1
       |
    28 | [[risk.high.step]]
       | ^^^^^^^^^^^^^^^^^^ belongs in this table
       |
       = note: `sit`: how long one sitting lasts (R1)
       = help: add, with your own values:
               sit = "15min"

    1 error
    "#);
}

#[test]
fn a_value_of_the_wrong_kind_is_told_with_a_right_one() {
    told!("fade_limit = \"30min\"" => "fade_limit = 30", @r#"
    refused

    error: `looks.fade_limit` must be a duration in quotes
     --> plan.toml:7:14
      |
    7 | fade_limit = 30
      |              ^^ this is a number
      |
      = note: the longest that a mark may last once the client is off the seat (R6, R10)
      = help: write the unit and quotes, such as "30min"

    1 error
    "#);
    told!("ask_again = 2" => "ask_again = \"2\"", @r#"
    refused

    error: `looks.ask_again` must be a whole number
      --> plan.toml:10:13
       |
    10 | ask_again = "2"
       |             ^^^ this is a text
       |
       = note: how often each contact is asked again before the next is asked (R14)
       = help: write the number without quotes: 2

    1 error
    "#);
    told!("ask_again = 2" => "ask_again = 2.5", @r#"
    refused

    error: `looks.ask_again` must be a whole number
      --> plan.toml:10:13
       |
    10 | ask_again = 2.5
       |             ^^^ this is a number with a fraction
       |
       = note: how often each contact is asked again before the next is asked (R14)
       = help: write it like `ask_again = 2`

    1 error
    "#);
}

#[test]
fn a_list_a_text_or_a_table_of_the_wrong_kind_is_told() {
    told!("look_at = [\"08:00\"]" => "look_at = \"08:00\"", @r#"
    refused

    error: `risk.high.look_at` must be a list of times of day
      --> plan.toml:26:11
       |
    26 | look_at = "08:00"
       |           ^^^^^^^ this is a text
       |
       = note: times of looks on every day of the build-up (R3)
       = help: write it like `look_at = ["08:00"]`

    1 error
    "#);
    told!("title = \"Building up sitting time\"" => "title = true", @r#"
    refused

    error: `title` must be a text in quotes
     --> plan.toml:2:9
      |
    2 | title = true
      |         ^^^^ this is a yes-or-no value
      |
      = note: one line that says to people what the plan is for
      = help: write it like `title = "Building up sitting time"`

    1 error
    "#);
    told!("[[risk.low.step]]" => "[risk.low.step]", @r#"
    refused

    error: `risk.low.step` must be a list of tables
      --> plan.toml:43:1
       |
    43 | [risk.low.step]
       | ^^^^^^^^^^^^^^^ this is a table
       |
       = note: the steps of the ladder, from the first on (R1)
       = help: with two brackets it is one of a list: `[[risk.low.step]]`

    1 error
    "#);
}

#[test]
fn a_wrong_unit_is_told_with_the_duration_that_was_meant() {
    told!("\"30min\"" => "\"30m\"", @r#"
    refused

    error: `looks.fade_limit` cannot be "30m"
     --> plan.toml:7:14
      |
    7 | fade_limit = "30m"
      |              ^^^^^ unknown unit `m` in a duration; the units are `min`, `h` and `d`
      |
      = note: the longest that a mark may last once the client is off the seat (R6, R10)
      = help: did you mean "30min"?

    1 error
    "#);
    told!("\"30min\"" => "\"1.5h\"", @r#"
    refused

    error: `looks.fade_limit` cannot be "1.5h"
     --> plan.toml:7:14
      |
    7 | fade_limit = "1.5h"
      |              ^^^^^^ unknown unit `.` in a duration; the units are `min`, `h` and `d`
      |
      = note: the longest that a mark may last once the client is off the seat (R6, R10)
      = help: write it like `fade_limit = "30min"`

    1 error
    "#);
    told!("\"30min\"" => "\"30 minutes\"", @r#"
    refused

    error: `looks.fade_limit` cannot be "30 minutes"
     --> plan.toml:7:14
      |
    7 | fade_limit = "30 minutes"
      |              ^^^^^^^^^^^^ unknown unit ` minutes` in a duration; the units are `min`, `h` and `d`
      |
      = note: the longest that a mark may last once the client is off the seat (R6, R10)
      = help: did you mean "30min"?

    1 error
    "#);
}

#[test]
fn a_duration_below_zero_or_beyond_ten_years_is_told() {
    told!("\"30min\"" => "\"-5min\"", @r#"
    refused

    error: `looks.fade_limit` cannot be "-5min"
     --> plan.toml:7:14
      |
    7 | fade_limit = "-5min"
      |              ^^^^^^^ not a duration; write it like "90min", "1h30min", "2h" or "7d"
      |
      = note: the longest that a mark may last once the client is off the seat (R6, R10)
      = help: write it like `fade_limit = "30min"`

    1 error
    "#);
    told!("\"30min\"" => "\"90000d\"", @r#"
    refused

    error: `looks.fade_limit` cannot be "90000d"
     --> plan.toml:7:14
      |
    7 | fade_limit = "90000d"
      |              ^^^^^^^^ a duration of more than ten years
      |
      = note: the longest that a mark may last once the client is off the seat (R6, R10)
      = help: write it like `fade_limit = "30min"`

    1 error
    "#);
}

#[test]
fn a_wait_of_no_time_and_a_count_out_of_range_are_impossible() {
    told!("answer_within = \"20min\"" => "answer_within = \"0min\"", @r#"
    refused

    error: `looks.answer_within` must be above zero
     --> plan.toml:9:17
      |
    9 | answer_within = "0min"
      |                 ^^^^^^ no time at all
      |
      = note: how long a question waits before it is asked again (R14)
      = help: write it like `answer_within = "20min"`

    1 error
    "#);
    told!("clear_to_advance = 4" => "clear_to_advance = 0", @r#"
    refused

    error: `risk.high.step.clear_to_advance` must be 1 to 1000
      --> plan.toml:31:20
       |
    31 | clear_to_advance = 0
       |                    ^ out of range
       |
       = note: how many credits in a row lead to the next step (R7)

    1 error
    "#);
    told!("ask_again = 2" => "ask_again = -1", @r#"
    refused

    error: `looks.ask_again` must be 0 to 1000
      --> plan.toml:10:13
       |
    10 | ask_again = -1
       |             ^^ out of range
       |
       = note: how often each contact is asked again before the next is asked (R14)

    1 error
    "#);
    told!("ask_again = 2" => "ask_again = 99999999999999999999", @r#"
    refused

    error: `looks.ask_again` must be 0 to 1000
      --> plan.toml:10:13
       |
    10 | ask_again = 99999999999999999999
       |             ^^^^^^^^^^^^^^^^^^^^ out of range
       |
       = note: how often each contact is asked again before the next is asked (R14)

    1 error
    "#);
    told!("[7, 30, 90]" => "[0, 30]", @r#"
    refused

    error: `risk.high.routine.review_after_days` must be 1 to 3650
      --> plan.toml:41:22
       |
    41 | review_after_days = [0, 30]
       |                      ^ out of range
       |
       = note: how many days into the routine phase the clinic reviews (R8)

    1 error
    "#);
}

#[test]
fn a_day_or_a_time_that_cannot_be_is_told() {
    told!("bring_back_at = \"08:00\"" => "bring_back_at = \"8 am\"", @r#"
    refused

    error: `stop.bring_back_at` cannot be 8 am
      --> plan.toml:22:17
       |
    22 | bring_back_at = "8 am"
       |                 ^^^^^^ not a time of day with two digits each, `HH:MM`
       |
       = note: when an alert without a decision is brought back each day (R22)
       = help: did you mean "08:00"?

    1 error
    "#);
    told!("bring_back_at = \"08:00\"" => "bring_back_at = \"24:00\"", @r#"
    refused

    error: `stop.bring_back_at` cannot be 24:00
      --> plan.toml:22:17
       |
    22 | bring_back_at = "24:00"
       |                 ^^^^^^^ a day ends before 24:00
       |
       = note: when an alert without a decision is brought back each day (R22)
       = help: did you mean "00:00"?

    1 error
    "#);
    told!("approved_on = 2026-03-02" => "approved_on = \"2026-02-30\"", @r#"
    refused

    error: `approved_on` cannot be 2026-02-30
     --> plan.toml:4:15
      |
    4 | approved_on = "2026-02-30"
      |               ^^^^^^^^^^^^ there is no such day
      |
      = note: the day on which it was approved
      = help: write it like `approved_on = 2026-03-02`

    1 error
    "#);
    told!("approved_on = 2026-03-02" => "approved_on = 2026-03-02T10:00", @r#"
    refused

    error: `approved_on` cannot be 2026-03-02T10:00
     --> plan.toml:4:15
      |
    4 | approved_on = 2026-03-02T10:00
      |               ^^^^^^^^^^^^^^^^ a day alone is wanted, without a time
      |
      = note: the day on which it was approved
      = help: write it like `approved_on = 2026-03-02`

    1 error
    "#);
}

#[test]
fn a_sitting_longer_than_the_day_is_refused() {
    told!("sit = \"2h\"" => "sit = \"25h\"", @r#"
    refused

    error: a sitting cannot last longer than a day
      --> plan.toml:34:7
       |
    34 | sit = "25h"
       |       ^^^^^ 1d1h is more than 24h
       |
       = note: the next day's sittings would begin inside it

    1 error
    "#);
}

#[test]
fn a_level_needs_a_right_name_and_at_least_one_step() {
    told!("[[risk.low.step]]" => "[[risk.\"Low Risk\".step]]", @r#"
    refused

    error: "Low Risk" cannot name a risk level
      --> plan.toml:43:8
       |
    43 | [[risk."Low Risk".step]]
       |        ^^^^^^^^^^ a risk level is a name of lower-case letters, digits and `-`, such as `very-high`

    1 error
    "#);
    told!("[[risk.low.step]]\nsit = \"1h\"\nsittings_per_day = 1\nclear_to_advance = 2\n"
        => "[risk.low]\nstep = []\n", @r#"
    refused

    error: the ladder has no step
      --> plan.toml:44:1
       |
    44 | step = []
       | ^^^^ at least one step is needed
       |
       = help: add one: `sit`, `sittings_per_day` and `clear_to_advance`

    1 error
    "#);
}

#[test]
fn all_problems_of_a_file_are_told_at_once_in_the_order_of_its_lines() {
    let text = changed(PLAN, "fade_limit = \"30min\"", "fade_limit = 30");
    let text = changed(&text, "step_back = 2", "step_bak = 2");
    let text = changed(&text, "sit = \"2h\"", "sit = \"two hours\"");
    let problems = parse_plan("plan.toml", &text).unwrap_err();
    let places: Vec<_> = problems
        .problems()
        .iter()
        .map(|problem| (problem.position().unwrap().line, problem.what().to_owned()))
        .collect();
    insta::assert_snapshot!(format!("{places:#?}"), @r#"
    [
        (
            7,
            "`looks.fade_limit` must be a duration in quotes",
        ),
        (
            23,
            "unknown key `stop.step_bak`",
        ),
        (
            34,
            "`risk.high.step.sit` cannot be \"two hours\"",
        ),
    ]
    "#);
}
