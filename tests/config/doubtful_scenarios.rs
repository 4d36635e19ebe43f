//! A scenario's times held against its plan, and what a scenario may do that a real client may
//! not.

use crate::bad_scenarios::read;
use crate::{PLAN, SCENARIO, changed, said};

/// Changes the right scenario in one place and compares everything that is said.
macro_rules! told {
    ($part:literal => $to:literal, @$snapshot:literal) => {
        insta::assert_snapshot!(said(read(&changed(SCENARIO, $part, $to), PLAN)), @$snapshot)
    };
}

#[test]
fn r2_refuses_fewer_times_than_sittings() {
    told!("[\"10:00\", \"15:30\"]" => "[\"10:00\"]", @r#"
    refused

    error: 1 of the 2 sitting times that the plan needs
     --> scenario.toml:9:15
      |
    9 | sittings_at = ["10:00"]
      |               ^^^^^^^^^ step 1 of level `high` has 2 sittings a day
      |
      = note: sittings are planned at these times, the first of the day first (R2)
      = help: add times of day, or choose a plan with fewer sittings

    1 error
    "#);
}

#[test]
fn r24_refuses_a_sitting_and_its_looks_in_quiet_hours() {
    told!("\"15:30\"]" => "\"21:00\"]", @r#"
    refused

    error: a sitting at 21:00 in quiet hours
      --> scenario.toml:9:25
       |
     9 | sittings_at = ["10:00", "21:00"]
       |                         ^^^^^^^ begins in quiet hours
    10 | quiet = ["21:00", "07:00"]
       |         ------------------ quiet 21:00 to 07:00
       |
       = note: a sitting is announced as it begins, and nobody is asked in quiet hours (R24)
       = help: move the sitting out of 21:00 to 07:00

    1 error
    "#);
    told!("\"15:30\"]" => "\"19:00\"]", @r#"
    refused

    error: a look at 21:00 would fall into quiet hours
      --> scenario.toml:9:25
       |
     9 | sittings_at = ["10:00", "19:00"]
       |                         ^^^^^^^ step 2 sits 2h from 19:00 on
    10 | quiet = ["21:00", "07:00"]
       |         ------------------ quiet 21:00 to 07:00
       |
       = note: skin is looked at during and after every sitting, in waking hours (R24)
       = help: let the sitting begin earlier, or the quiet hours later

    1 error
    "#);
}

#[test]
fn r24_refuses_a_look_at_of_the_plan_in_quiet_hours() {
    told!("[\"21:00\", \"07:00\"]" => "[\"21:00\", \"08:01\"]", @r#"
    refused

    error: the plan's look at 08:00 would fall into quiet hours
      --> scenario.toml:10:9
       |
    10 | quiet = ["21:00", "08:01"]
       |         ^^^^^^^^^^^^^^^^^^ quiet 21:00 to 08:01
       |
       = note: level `high` looks at 08:00 during the build-up; nobody is asked in quiet hours (R24)
       = help: choose other quiet hours, or a plan with another `look_at`

    error: the plan's look at 08:00 would fall into quiet hours
      --> scenario.toml:10:9
       |
    10 | quiet = ["21:00", "08:01"]
       |         ^^^^^^^^^^^^^^^^^^ quiet 21:00 to 08:01
       |
       = note: level `high` looks at 08:00 in the routine phase; nobody is asked in quiet hours (R24)
       = help: choose other quiet hours, or a plan with another `look_at`

    2 errors
    "#);
    told!("[\"21:00\", \"07:00\"]" => "[\"20:00\", \"07:00\"]", @r#"
    refused

    error: the plan's look at 20:00 would fall into quiet hours
      --> scenario.toml:10:9
       |
    10 | quiet = ["20:00", "07:00"]
       |         ^^^^^^^^^^^^^^^^^^ quiet 20:00 to 07:00
       |
       = note: level `high` looks at 20:00 in the routine phase; nobody is asked in quiet hours (R24)
       = help: choose other quiet hours, or a plan with another `look_at`

    1 error
    "#);
}

#[test]
fn r24_takes_what_only_touches_the_quiet_hours_from_outside() {
    for (part, to) in [
        ("\"15:30\"]", "\"18:59\"]"),
        ("[\"21:00\", \"07:00\"]", "[\"21:00\", \"08:00\"]"),
        ("[\"21:00\", \"07:00\"]", "[\"20:01\", \"07:00\"]"),
        ("quiet = [\"21:00\", \"07:00\"]", ""),
        ("quiet = [\"21:00\", \"07:00\"]", "quiet = []"),
    ] {
        let checked = read(&changed(SCENARIO, part, to), PLAN).unwrap();
        assert!(checked.warnings.is_empty(), "{}", checked.warnings);
    }
}

#[test]
fn what_is_only_doubtful_is_rehearsed_with_a_warning() {
    told!("\"15:30\"]" => "\"11:00\"]", @r#"
    taken

    warning: the sitting at 10:00 runs into the one at 11:00
     --> scenario.toml:9:16
      |
    9 | sittings_at = ["10:00", "11:00"]
      |                ^^^^^^^  ------- begins then
      |                |
      |                still running or unsettled: 2h on step 2
      |
      = note: the later sitting would be dropped every day (R4)
      = help: put the times further apart, or choose a plan with shorter sittings

    1 warning
    "#);
    told!("\"15:30\"]" => "\"10:00\"]", @r#"
    taken

    warning: two sittings at the same time of day
     --> scenario.toml:9:16
      |
    9 | sittings_at = ["10:00", "10:00"]
      |                ^^^^^^^ the same time twice
      |
      = note: the second would be dropped every day, since the first is not over (R4)
      = help: take one of the two out

    1 warning
    "#);
    told!("2026-03-06T10:21" => "2026-04-06T10:21", @r#"
    taken

    warning: this is said outside the days of the scenario
      --> scenario.toml:24:6
       |
    24 | at = "2026-04-06T10:21"
       |      ^^^^^^^^^^^^^^^^^^ nobody hears it
       |
       = help: the scenario runs 14 days from 2026-03-06 on

    1 warning
    "#);
}

#[test]
fn what_a_reply_states_beside_its_meaning_is_warned_of() {
    told!("look_at = \"10:18\"" => "started_at = \"10:18\"", @r#"
    taken

    warning: `started_at` is not used here
      --> scenario.toml:29:1
       |
    29 | started_at = "10:18"
       | ^^^^^^^^^^ not used
       |
       = note: `marked` does not state it

    1 warning
    "#);
    told!("sit = \"30min\"" => "sit = \"30min\"\nstep = 2", @r#"
    taken

    warning: `step` and `sit` both choose a step
      --> scenario.toml:36:7
       |
    36 | sit = "30min"
       |       ^^^^^^^ not used: `step` counts
       |
       = help: take one of the two out

    1 warning
    "#);
    told!("words = \"red on" => "minutes = 3\nwords = \"red on", @r#"
    taken

    warning: `minutes` is not used here
      --> scenario.toml:41:1
       |
    41 | minutes = 3
       | ^^^^^^^ not used
       |
       = note: what the words state is read from the words

    1 warning
    "#);
}

#[test]
fn a_doubtful_plan_is_refused_for_real_clients_only() {
    let doubtful = changed(PLAN, "slow_fade = \"15min\"", "slow_fade = \"1h\"");
    let doubtful = changed(&doubtful, "count = 3", "count = 9");
    insta::assert_snapshot!(said(read(SCENARIO, &doubtful)), @r#"
    taken

    warning: `slow_fade` is longer than `fade_limit`
     --> plan.toml:8:13
      |
    7 | fade_limit = "30min"
      |              ------- the limit
    8 | slow_fade = "1h"
      |             ^^^^ 1h is more than 30min
      |
      = note: a mark that lasts longer than the limit is a stop, so none could be a slow fade
      = help: make `slow_fade` at most as long as `fade_limit`

    warning: `count` is more than `of_last`
      --> plan.toml:17:26
       |
    17 | repeat_marks = { count = 9, of_last = 5 }
       |                          ^            - only so many sittings are looked at
       |                          |
       |                          can never be reached
       |
       = note: the clinic would never be told of marks that keep coming back
       = help: write a number up to 5

    2 warnings
    "#);
}
