//! One scenario for each kind of mistake, and the whole message.

use chrono::NaiveDate;
use fadewatch::care::{Minutes, Reading, StepChoice, Verdict};
use fadewatch::config::{
    Answers, Checked, Problems, Said, SaidAt, Scenario, Speaker, parse_scenario,
};

use crate::{PLAN, SCENARIO, changed, said};

/// Reads a scenario whose plan is `plan.toml`.
pub fn read(scenario: &str, plan: &str) -> Result<Checked<Scenario>, Problems> {
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

    error: this value needs quotes
      --> plan.toml:10:13
       |
    10 | ask_again = two
       |             ^^^ neither a number nor a quoted text
       |
       = help: put a text in quotes, and write a number in digits

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
       = help: the people of this scenario are `first` and `second`

    2 errors
    "#);
    told!("[[cover]]\nid = \"clinic\"\n" => "", @r#"
    refused

    error: the scenario lacks `cover`
    --> scenario.toml
     = note: `cover`: the clinicians who get alerts, in calling order
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
}

#[test]
fn a_site_a_time_or_an_answer_that_cannot_be_is_told() {
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
