//! Plans that can be read but hardly meant, and the whole message.

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
fn settings_that_defeat_each_other_are_refused_for_real_clients() {
    told!("slow_fade = \"15min\"" => "slow_fade = \"1h\"", @r#"
    refused

    error: `slow_fade` is longer than `fade_limit`
     --> plan.toml:8:13
      |
    7 | fade_limit = "30min"
      |              ------- the limit
    8 | slow_fade = "1h"
      |             ^^^^ 1h is more than 30min
      |
      = note: a mark that lasts longer than the limit is a stop, so none could be a slow fade
      = help: make `slow_fade` at most as long as `fade_limit`

    1 error
    "#);
    told!("count = 3" => "count = 6", @r#"
    refused

    error: `count` is more than `of_last`
      --> plan.toml:17:26
       |
    17 | repeat_marks = { count = 6, of_last = 5 }
       |                          ^            - only so many sittings are looked at
       |                          |
       |                          can never be reached
       |
       = note: the clinic would never be told of marks that keep coming back
       = help: write a number up to 5

    1 error
    "#);
}

#[test]
fn settings_that_are_hardly_meant_are_warned_of() {
    told!("tell_clinic_after = \"2h\"" => "tell_clinic_after = \"1h\"", @r#"
    taken

    warning: a look is missed before the second contact is asked
      --> plan.toml:11:21
       |
     9 | answer_within = "20min"
       |                 ------- the first contact is waited for this long …
    10 | ask_again = 2
       |             - … this many times and once more
    11 | tell_clinic_after = "1h"
       |                     ^^^^ the look is missed after 1h
       |
       = note: the first contact alone is waited for 60 minutes
       = help: make `tell_clinic_after` longer, or ask the first contact less often

    1 warning
    "#);
    told!("look_every = \"1h\"" => "look_every = \"2h\"", @r#"
    taken

    warning: `look_every` has no effect on this step
      --> plan.toml:37:14
       |
    34 | sit = "2h"
       |       ---- the sitting
    ...
    37 | look_every = "2h"
       |              ^^^^ not shorter than the sitting of 2h
       |
       = note: the look at the end of the sitting comes first
       = help: take it out, or make it shorter than `sit`

    1 warning
    "#);
}

#[test]
fn lists_that_are_empty_or_out_of_order_are_warned_of() {
    told!("[\"08:00\", \"20:00\"]" => "[]", @r#"
    taken

    warning: the routine phase has no looks
      --> plan.toml:40:1
       |
    40 | look_at = []
       | ^^^^^^^ an empty list
       |
       = note: after the last step nobody would be asked to look at the skin any more
       = help: name at least one time of day, such as `look_at = ["08:00", "20:00"]`

    1 warning
    "#);
    told!("[\"08:00\", \"20:00\"]" => "[\"20:00\", \"08:00\", \"20:00\"]", @r#"
    taken

    warning: the times are not in order, each once
      --> plan.toml:40:21
       |
    40 | look_at = ["20:00", "08:00", "20:00"]
       |            -------  ^^^^^^^ out of order
       |            |
       |            comes before it
       |
       = help: they are taken in order: 08:00, 20:00

    1 warning
    "#);
    told!("[7, 30, 90]" => "[30, 7]", @r#"
    taken

    warning: the days of review are not in order, each once
      --> plan.toml:41:26
       |
    41 | review_after_days = [30, 7]
       |                      --  ^ out of order
       |                      |
       |                      comes before it
       |
       = help: they are taken in order: 7, 30

    1 warning
    "#);
    told!("approved_on = 2026-03-02\n" => "", @r#"
    taken

    warning: a plan without `approved_on` counts as not approved
     --> plan.toml:3:15
      |
    3 | approved_by = "A. Example"
      |               ^^^^^^^^^^^^ approved by somebody, but when?
      |
      = note: it can be rehearsed; real clients are not run on it
      = help: add the day, such as `approved_on = 2026-03-02`

    1 warning
    "#);
}
