//! One scenario for each kind of mistake, and the whole message; and what a scenario may do that a
//! real client may not.

use chrono::NaiveDate;
use fadewatch::care::{Minutes, Reading, StepChoice, Verdict};
use fadewatch::config::{
    Answers, Checked, Problems, Said, SaidAt, Scenario, Speaker, parse_scenario,
};

use crate::{PLAN, SCENARIO, changed, said};

fn read(scenario: &str, plan: &str) -> Result<Checked<Scenario>, Problems> {
    parse_scenario("scenario.toml", scenario, |path| match path {
        "plan.toml" => Ok((path.to_owned(), plan.to_owned())),
        _ => Err("No such file or directory".to_owned()),
    })
}

/// Changes the right scenario in one place and compares everything that is said.
macro_rules! told {
    ($part:literal => $to:literal, @$snapshot:literal) => {
        insta::assert_snapshot!(said(read(&changed(SCENARIO, $part, $to), PLAN)), @$snapshot)
    };
}

#[test]
fn a_right_scenario_is_read_as_it_stands() {
    let checked = read(SCENARIO, PLAN).unwrap();
    assert!(checked.warnings.is_empty(), "{}", checked.warnings);
    let scenario = checked.value;
    assert_eq!(
        (scenario.begins, scenario.days),
        (NaiveDate::from_ymd_opt(2026, 3, 6).unwrap(), 14)
    );
    assert_eq!(scenario.habit.unwrap().after, Minutes::new(6));
    let [first, second, third] = scenario.says.as_slice() else { panic!("three replies") };
    assert!(matches!(&first.who, Speaker::Contact(id) if id.as_str() == "first"));
    assert_eq!(first.answers, Some(Answers::Look));
    assert_eq!(
        first.what,
        Said::Verdict(Verdict {
            reading: Reading::Marked,
            sites: vec!["ischium-left".parse().unwrap()],
            minutes: Some(Minutes::new(20)),
            stated_at: chrono::NaiveTime::from_hms_opt(10, 18, 0),
            step: None,
        })
    );
    assert!(matches!(&second.who, Speaker::Clinician(id) if id.as_str() == "clinic"));
    let SaidAt::Exact(at) = second.at else { panic!("an offset") };
    assert_eq!(at.to_rfc3339(), "2026-03-07T10:21:00-07:00");
    let step = Some(StepChoice::Minutes(Minutes::new(30)));
    assert_eq!(second.what, Said::Verdict(Verdict { step, ..Verdict::bare(Reading::Resume) }));
    assert!(matches!(third.at, SaidAt::Wall(_)));
    assert_eq!(third.what, Said::Words("red on the left sit bone".to_owned()));
    assert!(!format!("{third:?}").contains("sit bone"));
}

#[test]
fn a_plan_may_stand_inside_the_scenario() {
    let mut inline = PLAN.replace("\n[[", "\n[[plan.");
    for table in ["looks", "watch", "stop", "risk"] {
        inline = inline.replace(&format!("\n[{table}"), &format!("\n[plan.{table}"));
    }
    let scenario = SCENARIO.replacen("plan = \"plan.toml\"\n", "", 1);
    let text = format!("{scenario}\n[plan]\n{inline}");
    assert_eq!(read(&text, "").unwrap().value, read(SCENARIO, PLAN).unwrap().value);
}

#[test]
fn a_plan_that_is_not_there_or_not_right_is_told() {
    told!("plan.toml" => "plans/none.toml", @r#"
    refused

    error: the plan "plans/none.toml" cannot be read
     --> scenario.toml:1:8
      |
    1 | plan = "plans/none.toml"
      |        ^^^^^^^^^^^^^^^^^ No such file or directory
      |
      = note: the path counts from the folder of the scenario
      = help: name a plan file, or write the plan into the scenario: `[plan]`

    1 error
    "#);
    told!("\"plan.toml\"" => "3", @r#"
    refused

    error: `plan` must be a path in quotes, or a table
     --> scenario.toml:1:8
      |
    1 | plan = 3
      |        ^ this is a number
      |
      = note: the plan that is rehearsed: a path from this file, or a table `[plan]`
      = help: write it like `plan = "two-week.toml"`

    1 error
    "#);
    let wrong = changed(PLAN, "ask_again = 2", "ask_again = two");
    insta::assert_snapshot!(said(read(&changed(SCENARIO, "days = 14", "days = 0"), &wrong)), @r#"
    refused

    error: `days` must be 1 to 3650
     --> scenario.toml:3:8
      |
    3 | days = 0
      |        ^ out of range
      |
      = note: how many local days are run

    error: this is not TOML: invalid boolean, expected `true`
      --> plan.toml:10:13
       |
    10 | ask_again = two
       |             ^^^ here

    2 errors
    "#);
}

#[test]
fn a_client_who_does_not_fit_is_refused() {
    told!("risk = \"high\"" => "risk = \"hihg\"", @r#"
    refused

    error: the plan has no risk level "hihg"
     --> scenario.toml:7:8
      |
    7 | risk = "hihg"
      |        ^^^^^^ not a level of plan "two-week"
      |
      = note: the level chooses the ladder of sitting times
      = help: did you mean "high"?

    1 error
    "#);
    told!("America/Denver" => "America/Denvr", @r#"
    refused

    error: unknown time zone "America/Denvr"
     --> scenario.toml:8:13
      |
    8 | time_zone = "America/Denvr"
      |             ^^^^^^^^^^^^^^^ no time zone has this name
      |
      = note: all times of day of this file are meant in this zone
      = help: did you mean "America/Denver"?

    1 error
    "#);
    told!("\"A7\"" => "\"A 7\"", @r#"
    refused

    error: `client.ref` cannot be "A 7"
     --> scenario.toml:6:7
      |
    6 | ref = "A 7"
      |       ^^^^^ an id is 1 to 40 letters, digits, `-`, `_` or `.`, and starts with a letter or digit
      |
      = note: the clinic's reference for the client
      = help: write it like `ref = "A7"`

    1 error
    "#);
    told!("quiet = [\"21:00\", \"07:00\"]" => "quiet = [\"21:00\"]", @r#"
    refused

    error: `quiet` needs two times, not 1
      --> scenario.toml:10:9
       |
    10 | quiet = ["21:00"]
       |         ^^^^^^^^^ from when, until when
       |
       = note: in these hours nobody is asked to look (R24)
       = help: write it like `quiet = ["21:00", "07:00"]`

    1 error
    "#);
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
fn r24_refuses_a_sitting_a_look_and_a_look_at_in_quiet_hours() {
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
       = note: a sitting is announced when it begins, and nobody is asked in quiet hours (R24)
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
fn who_speaks_must_be_known_and_one_of_a_kind() {
    told!("who = \"first\"" => "who = \"frist\"", @r#"
    refused

    error: nobody here is called "frist"
      --> scenario.toml:25:7
       |
    25 | who = "frist"
       |       ^^^^^^^ neither a `[[contact]]` nor on `[[cover]]`
       |
       = help: did you mean "first"?

    1 error
    "#);
    told!("id = \"second\"" => "id = \"first\"", @r#"
    refused

    error: two `contact` entries have the same id
      --> scenario.toml:15:6
       |
    13 | id = "first"
       |      ------- the first one
    14 | [[contact]]
    15 | id = "first"
       |      ^^^^^^^ the second one
       |
       = note: an id stands for one person

    1 error
    "#);
    told!("id = \"clinic\"" => "id = \"second\"", @r#"
    refused

    error: a clinician has the id of a contact
      --> scenario.toml:17:6
       |
    15 | id = "second"
       |      -------- a contact
    16 | [[cover]]
    17 | id = "second"
       |      ^^^^^^^^ a clinician
       |
       = note: what they say could not be told apart

    error: nobody here is called "clinic"
      --> scenario.toml:34:7
       |
    34 | who = "clinic"
       |       ^^^^^^^^ neither a `[[contact]]` nor on `[[cover]]`
       |
       = help: the people of this scenario are `first`, `second` and `second`

    2 errors
    "#);
    told!("[[cover]]\nid = \"clinic\"\n" => "", @r#"
    refused

    error: the scenario lacks `cover`
    --> scenario.toml
     = note: `cover` is the clinicians who get alerts, in calling order
     = help: add, with your own values:
             [[cover]]
             id = "clinic"

    1 error
    "#);
}

#[test]
fn a_reply_that_cannot_be_read_is_told() {
    told!("reading = \"marked\"" => "reading = \"mark\"", @r#"
    refused

    error: `says.reading` cannot be "mark"
      --> scenario.toml:26:11
       |
    26 | reading = "mark"
       |           ^^^^^^ not one of `clear`, `marked`, `faded`, `persisting`, `alarming`, `not-looked`, `no-sitting`, `started`, `unclear`, `automatic`, `seen`, `resume`, `keep-stopped` or `close`
       |
       = note: what the reply means
       = help: did you mean "marked"?

    1 error
    "#);
    told!("reading = \"marked\"\n" => "", @r#"
    refused

    error: this reply says nothing
      --> scenario.toml:23:1
       |
    23 | [[says]]
       | ^^^^^^^^ neither `reading` nor `words`
       |
       = help: add `reading = "clear"`, or `words = "all clear"`

    1 error
    "#);
    told!("reading = \"marked\"\n" => "reading = \"marked\"\nwords = \"red\"\n", @r#"
    refused

    error: a reply has a reading or words, not both
      --> scenario.toml:27:1
       |
    26 | reading = "marked"
       | ------- the reading
    27 | words = "red"
       | ^^^^^ the words
       |
       = help: take one of the two out

    1 error
    "#);
    told!("ischium-left" => "ischum-left", @r#"
    refused

    error: unknown site `ischum-left`
      --> scenario.toml:27:10
       |
    27 | sites = ["ischum-left"]
       |          ^^^^^^^^^^^^^ no site has this id
       |
       = help: did you mean "ischium-left"?

    1 error
    "#);
    told!("at = \"2026-03-06T10:21\"" => "at = \"10:21\"", @r#"
    refused

    error: `says.at` cannot be 10:21
      --> scenario.toml:24:6
       |
    24 | at = "10:21"
       |      ^^^^^^^ not a day and a time written as `2026-03-06T10:21`
       |
       = note: when the reply comes, by the client's wall clock or with an offset
       = help: write it like `at = "2026-03-06T10:21"`

    1 error
    "#);
    told!("answers = \"look\"" => "answers = \"first\"", @r#"
    refused

    error: `says.answers` cannot be "first"
      --> scenario.toml:30:11
       |
    30 | answers = "first"
       |           ^^^^^^^ not one of `look`, `recheck`, `routine`, `start` or `alert`
       |
       = note: what the reply answers
       = help: it can be `look`, `recheck`, `routine`, `start` or `alert`

    1 error
    "#);
    told!("after = \"6min\"" => "after = \"0min\"", @r#"
    refused

    error: `habit.after` must be above zero
      --> scenario.toml:21:9
       |
    21 | after = "0min"
       |         ^^^^^^ no time at all
       |
       = note: how long after each sending
       = help: write it like `after = "6min"`

    1 error
    "#);
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
