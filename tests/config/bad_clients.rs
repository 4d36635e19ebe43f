//! One client file for each kind of mistake, and the whole message.

use chrono::NaiveDate;
use fadewatch::config::{Checked, ClientFile, Problems, parse_client, read_client, read_clinic};

use crate::{CLIENT, PLAN, changed, clinic, said};

fn read(client: &str, plan: &str) -> Result<Checked<ClientFile>, Problems> {
    let today = NaiveDate::from_ymd_opt(2026, 3, 2).unwrap();
    parse_client("client.toml", client, &clinic(), today, |id| match id {
        "two-week" => Ok(("plans/two-week.toml".to_owned(), plan.to_owned())),
        _ => Err("the plans are `two-week`".to_owned()),
    })
}

/// Changes the right client file in one place and compares everything that is said.
macro_rules! told {
    ($part:literal => $to:literal, @$snapshot:literal) => {
        insta::assert_snapshot!(said(read(&changed(CLIENT, $part, $to), PLAN)), @$snapshot)
    };
}

#[test]
fn a_right_client_file_is_taken_without_a_word() {
    let checked = read(CLIENT, PLAN).unwrap();
    assert!(checked.warnings.is_empty(), "{}", checked.warnings);
    let client = checked.value;
    assert_eq!(client.call_name.as_str(), "Sam");
    assert_eq!(client.cover.len(), 2);
    let shown = format!("{client:?}");
    assert!(!shown.contains("Robin") && !shown.contains("robin") && !shown.contains("Sam"));
}

#[test]
fn a_score_stands_for_a_level_by_the_clinics_bands() {
    let scored = |score: &str| {
        let text = changed(CLIENT, "risk = \"high\"", &format!("risk_score = {score}"));
        read(&text, PLAN)
    };
    let low = scored("{ scale = \"waterlow\", score = 9 }").unwrap().value;
    assert_eq!((low.risk.as_str(), low.risk_score.unwrap().score), ("low", 9));
    let high = scored("{ scale = \"waterlow\", score = 10 }").unwrap().value;
    assert_eq!(high.risk.as_str(), "high");
    insta::assert_snapshot!(said(scored("{ scale = \"braden\", score = 14 }")), @r#"
    refused

    error: the clinic does not use the braden scale
     --> client.toml:3:14
      |
    3 | risk_score = { scale = "braden", score = 14 }
      |              ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ no bands for this scale
      |
      = note: the clinic file says which risk level a score means
      = help: add `[risk_scores.braden]` to the clinic file, or name the level: `risk = "high"`

    1 error
    "#);
    insta::assert_snapshot!(said(scored("{ scale = \"waterlow\", score = 65 }")), @r#"
    refused

    error: no score of 65 on the waterlow scale
     --> client.toml:3:44
      |
    3 | risk_score = { scale = "waterlow", score = 65 }
      |                                            ^^ the scale goes from 1 to 64
      |
      = help: check the score, or the name of the scale

    1 error
    "#);
    insta::assert_snapshot!(said(scored("{ scale = \"waterlo\", score = 5 }")), @r#"
    refused

    error: `risk_score.scale` cannot be "waterlo"
     --> client.toml:3:24
      |
    3 | risk_score = { scale = "waterlo", score = 5 }
      |                        ^^^^^^^^^ not one of `braden`, `norton`, `waterlow` or `scipus`
      |
      = note: the published scale
      = help: did you mean "waterlow"?

    1 error
    "#);
}

#[test]
fn a_level_and_a_score_are_one_too_many_and_neither_is_too_few() {
    told!("risk = \"high\"" => "risk = \"high\"\nrisk_score = { scale = \"waterlow\", score = 9 }", @r#"
    refused

    error: a risk level or a score, not both
     --> client.toml:4:1
      |
    3 | risk = "high"
      | ---- a level
    4 | risk_score = { scale = "waterlow", score = 9 }
      | ^^^^^^^^^^ a score
      |
      = help: take one of the two out

    1 error
    "#);
    told!("risk = \"high\"\n" => "", @r#"
    refused

    error: the client file lacks `risk`
    --> client.toml
     = note: the risk level chooses the ladder of sitting times
     = help: add `risk = "high"`, or a published score: `risk_score = { scale = "braden", score = 14 }`

    1 error
    "#);
}

#[test]
fn a_plan_must_be_there_and_approved() {
    told!("\"two-week\"" => "\"two-weeks\"", @r#"
    refused

    error: no plan "two-weeks"
     --> client.toml:7:8
      |
    7 | plan = "two-weeks"
      |        ^^^^^^^^^^^ the plans are `two-week`
      |
      = note: a plan is found by its id, as ID.toml in the clinic's folder of plans

    1 error
    "#);
    let unapproved = changed(PLAN, "approved_by = \"A. Example\"", "approved_by = \"\"");
    insta::assert_snapshot!(said(read(CLIENT, &unapproved)), @r#"
    refused

    error: the plan "two-week" is not approved
     --> client.toml:7:8
      |
    7 | plan = "two-week"
      |        ^^^^^^^^^^ nobody in the clinic has approved it
      |
      = note: a plan decides when skin is looked at; real clients run on approved ones only
      = help: have it checked in the clinic, then fill in `approved_by` and `approved_on` in plans/two-week.toml

    1 error
    "#);
    let renamed = changed(PLAN, "id = \"two-week\"", "id = \"three-week\"");
    insta::assert_snapshot!(said(read(CLIENT, &renamed)), @r#"
    refused

    error: the plan in plans/two-week.toml has the id "three-week"
     --> client.toml:7:8
      |
    7 | plan = "two-week"
      |        ^^^^^^^^^^ not the id that its file is named after
      |
      = help: give the file the name of the plan's id

    1 error
    "#);
}

#[test]
fn overlapping_sittings_are_refused() {
    told!("\"15:30\"]" => "\"12:00\"]", @r#"
    refused

    error: the sitting at 10:00 runs into the one at 12:00
     --> client.toml:5:16
      |
    5 | sittings_at = ["10:00", "12:00"]
      |                ^^^^^^^  ------- begins then
      |                |
      |                still running or unsettled: 2h on step 2
      |
      = note: the later sitting would be dropped every day (R4)
      = help: put the times further apart, or choose a plan with shorter sittings

    1 error
    "#);
    told!("\"15:30\"]" => "\"10:00\"]", @r#"
    refused

    error: two sittings at the same time of day
     --> client.toml:5:16
      |
    5 | sittings_at = ["10:00", "10:00"]
      |                ^^^^^^^ the same time twice
      |
      = note: the second would be dropped every day, since the first is not over (R4)
      = help: take one of the two out

    1 error
    "#);
}

#[test]
fn quiet_hours_are_real_and_nobody_sits_through_them() {
    told!("quiet = [\"21:00\", \"07:00\"]" => "quiet = [\"15:40\", \"15:44\"]", @r#"
    refused

    error: a sitting runs through the quiet hours
     --> client.toml:5:25
      |
    5 | sittings_at = ["10:00", "15:30"]
      |                         ^^^^^^^ step 1 sits 15min from 15:30 on
    6 | quiet = ["15:40", "15:44"]
      |         ------------------ quiet 15:40 to 15:44
      |
      = note: nobody is to sit through the hours in which nobody is asked
      = help: let the sitting begin at another time, or change the quiet hours

    1 error
    "#);
    told!("quiet = [\"21:00\", \"07:00\"]" => "quiet = [\"21:00\", \"21:00\"]", @r#"
    refused

    error: quiet hours of no length
     --> client.toml:6:9
      |
    6 | quiet = ["21:00", "21:00"]
      |         ^^^^^^^^^^^^^^^^^^ they begin when they end
      |
      = note: such hours could mean never, or all day; they are taken as never
      = help: take `quiet` out, or write it like `quiet = ["21:00", "07:00"]`

    1 error
    "#);
    told!("quiet = [\"21:00\", \"07:00\"]\n" => "", @r#"
    refused

    error: the client file lacks `quiet`
    --> client.toml
     = note: `quiet`: the hours in which nobody is asked, from and to; `[]` where there are none (R24)
     = help: add, with your own values:
             quiet = ["21:00", "07:00"]

    1 error
    "#);
}

#[test]
fn people_who_could_not_be_told_apart_are_refused() {
    told!("id = \"second\"" => "id = \"first\"", @r#"
    refused

    error: two contacts have the same id
      --> client.toml:17:6
       |
    11 | id = "first"
       |      ------- the first time
    ...
    17 | id = "first"
       |      ^^^^^^^ the second time
       |
       = note: an id stands for one person

    1 error
    "#);
    told!("kim@neighbour.example" => "Robin@Home.example", @r#"
    refused

    error: two contacts have the same mail address
      --> client.toml:19:8
       |
    13 | mail = "robin@home.example"
       |        -------------------- the first time
    ...
    19 | mail = "Robin@Home.example"
       |        ^^^^^^^^^^^^^^^^^^^^ the second time
       |
       = note: an answer from it could not be told from the other's (R29)

    1 error
    "#);
    told!("kim@neighbour.example" => "checks@clinic.example", @r#"
    refused

    error: a contact has the clinic's own address
      --> client.toml:19:8
       |
    19 | mail = "checks@clinic.example"
       |        ^^^^^^^^^^^^^^^^^^^^^^^ requests would come back to the service itself
       |
       = note: nobody would be asked
       = help: write the address of the person who looks

    1 error
    "#);
}

#[test]
fn an_address_a_name_or_a_language_that_cannot_be_is_told() {
    told!("robin@home.example" => "Robin <robin@home.example>", @r#"
    refused

    error: `contact.mail` must be the address alone
      --> client.toml:13:8
       |
    13 | mail = "Robin <robin@home.example>"
       |        ^^^^^^^^^^^^^^^^^^^^^^^^^^^^ a name stands beside the address
       |
       = help: did you mean "robin@home.example"?

    1 error
    "#);
    told!("robin@home.example" => "robin.home.example", @r#"
    refused

    error: `contact.mail` cannot be "robin.home.example"
      --> client.toml:13:8
       |
    13 | mail = "robin.home.example"
       |        ^^^^^^^^^^^^^^^^^^^^ a mail address has an `@`
       |
       = note: where requests go
       = help: write it like `mail = "robin@home.example"`

    1 error
    "#);
    told!("language = \"en\"" => "language = \"English\"", @r#"
    refused

    error: `contact.language` cannot be "English"
      --> client.toml:14:12
       |
    14 | language = "English"
       |            ^^^^^^^^^ a language is two or three small letters, such as `en` or `de-AT`
       |
       = note: the language they are written to in
       = help: write it like `language = "en"`

    1 error
    "#);
    told!("call_name = \"Sam\"" => "call_name = \"  \"", @r#"
    refused

    error: `call_name` must not be empty
     --> client.toml:2:13
      |
    2 | call_name = "  "
      |             ^^^^ nothing is written here
      |
      = note: what contacts call the client
      = help: write it like `call_name = "Sam"`

    1 error
    "#);
}

#[test]
fn cover_names_clinicians_of_the_clinic_who_may_decide() {
    told!("begins =" => "cover = [\"duti\"]\nbegins =", @r#"
    refused

    error: no clinician has the id "duti"
     --> client.toml:8:10
      |
    8 | cover = ["duti"]
      |          ^^^^^^ nobody by this id
      |
      = note: alerts go to the people on cover, in this order (R21)
      = help: did you mean "duty"?

    1 error
    "#);
    told!("begins =" => "cover = [\"desk\"]\nbegins =", @r#"
    refused

    error: `desk` may not decide
     --> client.toml:8:10
      |
    8 | cover = ["desk"]
      |          ^^^^^^ not a clinician by role
      |
      = note: an alert needs somebody who may end a stop (R23)
      = help: choose somebody whose `role` is "clinician"

    1 error
    "#);
    told!("begins =" => "cover = [\"duty\", \"duty\"]\nbegins =", @r#"
    refused

    error: one person twice on cover
     --> client.toml:8:18
      |
    8 | cover = ["duty", "duty"]
      |          ------  ^^^^^^ the second time
      |          |
      |          the first time
      |
      = note: an alert would pass from them to themselves

    1 error
    "#);
    told!("begins =" => "cover = []\nbegins =", @r#"
    refused

    error: nobody is on cover
     --> client.toml:8:9
      |
    8 | cover = []
      |         ^^ an empty list
      |
      = note: an alert would go to nobody (R21)
      = help: name at least one clinician by id

    1 error
    "#);
}

#[test]
fn a_begin_far_from_today_is_warned_of() {
    told!("2026-03-06" => "2025-03-06", @r#"
    taken

    warning: the follow-up would begin in the past
     --> client.toml:8:10
      |
    8 | begins = 2025-03-06
      |          ^^^^^^^^^^ a day that is over
      |
      = note: nobody is asked about sittings before the day of enrolment
      = help: today is 2026-03-02; check the year and the month

    1 warning
    "#);
    told!("2026-03-06" => "2027-03-06", @r#"
    taken

    warning: the follow-up would begin more than half a year from now
     --> client.toml:8:10
      |
    8 | begins = 2027-03-06
      |          ^^^^^^^^^^ far ahead
      |
      = note: nobody is asked about sittings before the day of enrolment
      = help: today is 2026-03-02; check the year and the month

    1 warning
    "#);
}

#[test]
fn a_client_file_with_two_zones_is_told() {
    told!("time_zone =" => "time_zone = \"Europe/Paris\"\ntime_zone =", @r#"
    refused

    error: this stands twice in the same table
     --> client.toml:5:1
      |
    5 | time_zone = "Europe/London"
      | ^^^^^^^^^ the second time
      |
      = help: take one of the two out

    1 error
    "#);
}

#[test]
fn a_plan_is_found_by_its_id_in_the_clinics_folder_and_a_slip_gets_a_suggestion() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::create_dir(folder.path().join("plans")).unwrap();
    std::fs::write(folder.path().join("plans/two-week.toml"), PLAN).unwrap();
    std::fs::write(folder.path().join("clinic.toml"), crate::CLINIC).unwrap();
    let clinic = read_clinic(&folder.path().join("clinic.toml")).unwrap().value;
    let path = folder.path().join("client.toml");
    let today = NaiveDate::from_ymd_opt(2026, 3, 2).unwrap();
    for (id, told) in [
        ("two-week", None),
        ("two-weak", Some("did you mean \"two-week\"?")),
        ("other", Some("the plans are `two-week`")),
        ("../clinic", Some("an id has no slashes in it")),
    ] {
        std::fs::write(&path, changed(CLIENT, "\"two-week\"", &format!("\"{id}\""))).unwrap();
        match (read_client(&path, &clinic, today), told) {
            (Ok(_), None) => {}
            (Err(problems), Some(told)) => assert!(problems.to_string().contains(told), "{id}"),
            (outcome, _) => panic!("{id}: {}", said(outcome)),
        }
    }
}

const ROBIN: &str = "mail = \"robin@home.example\"\nlanguage = \"en\"";
const KIM: &str = "mail = \"kim@neighbour.example\"\nlanguage = \"en\"";

/// The right client file with hours of the two contacts, as TOML.
fn with_hours(first: &str, second: &str) -> String {
    let asked = |whose: &str, hours: &str| match hours {
        "" => whose.to_owned(),
        hours => format!("{whose}\nasked = {hours}"),
    };
    let text = changed(CLIENT, ROBIN, &asked(ROBIN, first));
    changed(&text, KIM, &asked(KIM, second))
}

#[test]
fn a_contact_may_have_hours_and_without_them_is_asked_at_any_hour() {
    let checked = read(&with_hours("[\"Mon-Fri 07:00-15:00\", \"Sat,Sun 22:00-06:00\"]", ""), PLAN);
    let checked = checked.unwrap();
    assert!(checked.warnings.is_empty(), "{}", checked.warnings);
    let [first, second] = checked.value.contacts.as_slice() else { panic!("two contacts") };
    let stretches: Vec<String> = first.asked.stretches().iter().map(ToString::to_string).collect();
    assert_eq!(stretches, ["Mon-Fri 07:00-15:00", "Sat-Sun 22:00-06:00"]);
    assert!(second.asked.is_any());
}

#[test]
fn a_slip_in_the_hours_of_a_contact_is_told_with_what_was_meant() {
    insta::assert_snapshot!(said(read(&with_hours("[\"Mo-Fr 7-15\"]", ""), PLAN)));
    insta::assert_snapshot!(said(read(&with_hours("[\"at night\"]", ""), PLAN)));
    insta::assert_snapshot!(said(read(&with_hours("[\"07:00-07:00\"]", ""), PLAN)));
    insta::assert_snapshot!(said(read(&with_hours("[]", ""), PLAN)));
    insta::assert_snapshot!(said(read(&with_hours("\"Mon 07:00-15:00\"", ""), PLAN)));
    insta::assert_snapshot!(said(read(
        &changed(&with_hours("[\"22:00-06:00\"]", ""), "asked", "ask"),
        PLAN
    )));
}

#[test]
fn hours_that_leave_a_look_to_nobody_are_doubted_and_taken() {
    let day = "[\"Mon-Fri 07:00-10:00\"]";
    insta::assert_snapshot!(said(read(&with_hours(day, "[\"17:00-23:00\"]"), PLAN)));
    let evening = "[\"10:00-18:00\", \"20:00-21:00\", \"08:00-08:01\"]";
    assert!(read(&with_hours(day, evening), PLAN).unwrap().warnings.is_empty());
}
