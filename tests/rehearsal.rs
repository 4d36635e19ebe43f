//! The six shipped scenarios, rehearsed: the lines for programs, the sheet for people, and that
//! each tells the story that its comment tells.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on says so by stopping")]

use std::path::Path;

use fadewatch::config::{Scenario, parse_scenario, read_scenario};
use fadewatch::follow_up::event::{
    AlertSending, DropReason, LookKind, NoCreditReason, StopReason, TellReason,
};
use fadewatch::follow_up::{Entry, Event};
use fadewatch::rehearsal::{ShowMail, json_lines, reader, rehearse, timetable};
use fadewatch::reply::Lexicons;

/// The width of a page, in characters.
const PAGE_CHARS: usize = 100;

fn shipped(name: &str) -> Scenario {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("config/scenarios");
    let checked = read_scenario(&folder.join(format!("{name}.toml"))).unwrap();
    assert!(checked.warnings.is_empty(), "{}", checked.warnings);
    checked.value
}

fn sheet(scenario: &Scenario, show: ShowMail) -> String {
    let lexicons = Lexicons::shipped();
    timetable(scenario, reader(&lexicons), show)
}

/// Holds lines and sheet of a shipped scenario to their snapshots; gives what happened.
fn rehearsed(name: &str) -> Story {
    let scenario = shipped(name);
    let lexicons = Lexicons::shipped();
    let rehearsal = rehearse(&scenario, reader(&lexicons));
    insta::assert_snapshot!(format!("{name}-lines"), json_lines(&rehearsal));
    let sheet = sheet(&scenario, ShowMail::Subjects);
    let widest = sheet.lines().map(|line| line.chars().count()).max();
    assert!(widest <= Some(PAGE_CHARS), "{widest:?}");
    insta::assert_snapshot!(format!("{name}-sheet"), sheet);
    let calendar = rehearsal.calendar;
    let told = |entry: Entry| (calendar.local(entry.at).format("%-dT%H:%M").to_string(), entry);
    Story { entries: rehearsal.entries.into_iter().map(told).collect() }
}

/// What happened, each entry with its local day of the month and time.
struct Story {
    entries: Vec<(String, Entry)>,
}

impl Story {
    /// When matching events happened.
    fn times(&self, matches: impl Fn(&Event) -> bool) -> Vec<&str> {
        let found = self.entries.iter().filter(|(_, entry)| matches(&entry.event));
        found.map(|(time, _)| time.as_str()).collect()
    }

    fn count(&self, matches: impl Fn(&Event) -> bool) -> usize {
        self.times(matches).len()
    }
}

#[test]
fn clean_build_up_earns_every_step_in_two_days_with_two_marks_gone_in_time() {
    let story = rehearsed("clean-build-up");
    let advanced = story.times(|event| matches!(event, Event::Advanced { .. }));
    assert_eq!(advanced, ["8T00:00", "10T00:00", "12T00:00", "14T00:00"]);
    assert_eq!(story.times(|event| matches!(event, Event::Routine { .. })), ["16T00:00"]);
    assert_eq!(story.times(|event| matches!(event, Event::Review { .. })), ["17T00:00"]);
    let gone = |event: &Event| matches!(event, Event::Found { found, .. } if found.fade.is_some_and(|m| m.count() > 0));
    assert_eq!(story.times(gone), ["9T10:33", "12T16:33"]);
    assert_eq!(story.count(|event| matches!(event, Event::NoCredit { .. })), 0);
}

#[test]
fn slow_fade_starts_the_count_again_and_the_clinic_hears_of_the_repeated_place() {
    let story = rehearsed("slow-fade");
    let slow =
        |event: &Event| matches!(event, Event::NoCredit { why: NoCreditReason::SlowFade, .. });
    assert_eq!(story.times(slow), ["8T10:57"]);
    let repeated =
        |event: &Event| matches!(event, Event::ClinicTold { why: TellReason::RepeatMarks, .. });
    assert_eq!(story.times(repeated), ["9T10:34"]);
    let advanced = story.times(|event| matches!(event, Event::Advanced { .. }));
    assert_eq!(advanced[..2], ["8T00:00", "11T00:00"], "the second step takes longer");
    assert_eq!(story.count(|event| matches!(event, Event::Stopped { .. })), 0);
}

#[test]
fn persisting_mark_stops_alerts_passes_on_and_resumes_two_steps_lower() {
    let story = rehearsed("persisting-mark");
    let stopped = |event: &Event| matches!(event, Event::Stopped { why: StopReason::Persisting, step, .. } if step.count() == 3);
    assert_eq!(story.times(stopped), ["10T11:22"]);
    assert_eq!(story.count(|event| matches!(event, Event::ToldToStop { .. })), 2);
    let sent = |how| move |event: &Event| matches!(event, Event::Alerted { sending, .. } if *sending == how);
    assert_eq!(story.times(sent(AlertSending::Raised)), ["10T11:22"]);
    assert_eq!(story.times(sent(AlertSending::Repeated)), ["10T11:52"]);
    assert_eq!(story.times(sent(AlertSending::PassedOn)), ["10T12:22"]);
    let acknowledged =
        |event: &Event| matches!(event, Event::Acknowledged { by, .. } if by.as_str() == "duty");
    assert_eq!(story.times(acknowledged), ["10T12:40"]);
    let resumed = |event: &Event| matches!(event, Event::Resumed { step, .. } if step.count() == 1);
    assert_eq!(story.times(resumed), ["11T09:10"]);
    let advanced = story.times(|event| matches!(event, Event::Advanced { .. }));
    assert_eq!(advanced[2..], ["13T00:00", "15T00:00", "17T00:00"]);
}

#[test]
fn silent_caregiver_leads_to_missed_looks_a_suspension_and_no_step() {
    let story = rehearsed("silent-caregiver");
    let missed = |event: &Event| matches!(event, Event::Missed { kind: LookKind::First, .. });
    assert_eq!(story.times(missed), ["8T12:30", "8T18:00"]);
    assert_eq!(story.times(|event| matches!(event, Event::Suspended)), ["8T18:00"]);
    assert_eq!(story.times(|event| matches!(event, Event::Unsuspended)), ["10T09:15"]);
    let silent = story.times(|event| matches!(event, Event::Answered { .. }));
    assert!(!silent.iter().any(|time| time.starts_with("8T") || time.starts_with("9T")));
    let advanced = story.times(|event| matches!(event, Event::Advanced { .. }));
    assert_eq!(advanced, ["8T00:00"], "silence earns no step");
}

#[test]
fn daylight_saving_night_begins_the_skipped_sitting_after_the_gap() {
    let story = rehearsed("daylight-saving-night");
    let begun = story.times(|event| matches!(event, Event::Sitting { .. }));
    assert_eq!(begun[..5], ["27T01:30", "27T22:00", "28T01:30", "28T22:00", "29T02:00"]);
    let asked = story.times(|event| matches!(event, Event::Asked { .. }));
    assert!(asked.contains(&"29T02:30"), "half an hour later by either clock");
    assert_eq!(story.count(|event| matches!(event, Event::NoCredit { .. })), 0);
}

#[test]
fn clinic_closed_over_a_weekend_never_gives_the_alert_up() {
    let story = rehearsed("clinic-closed-weekend");
    let stopped = |event: &Event| matches!(event, Event::Stopped { why: StopReason::Alarming, .. });
    assert_eq!(story.times(stopped), ["13T17:40"]);
    for clinician in ["seating", "duty", "head"] {
        let alerted =
            |event: &Event| matches!(event, Event::Alerted { to, .. } if to.as_str() == clinician);
        assert!(story.count(alerted) > 40, "{clinician}");
    }
    assert_eq!(story.times(|event| matches!(event, Event::Acknowledged { .. })), ["16T08:20"]);
    let brought_back =
        |event: &Event| matches!(event, Event::Alerted { sending: AlertSending::BroughtBack, .. });
    assert_eq!(story.times(brought_back), ["17T08:00"]);
    assert_eq!(story.times(|event| matches!(event, Event::Resumed { .. })), ["17T08:45"]);
    let dropped =
        |event: &Event| matches!(event, Event::Dropped { why: DropReason::Unsettled, .. });
    assert_eq!(story.count(dropped), 0);
}

#[test]
fn messages_are_shown_at_their_place_and_change_nothing_else() {
    let scenario = shipped("silent-caregiver");
    let with = sheet(&scenario, ShowMail::Texts);
    let without = sheet(&scenario, ShowMail::Subjects);
    let kept = |text: &str| -> Vec<String> {
        let lines = text.lines().filter(|line| !line.is_empty() && !line.starts_with("        |"));
        lines.map(str::to_owned).collect()
    };
    assert_eq!(kept(&with), kept(&without));
    assert!(with.lines().all(|line| line.chars().count() <= PAGE_CHARS));
    let first = with.split_once("\n        | To first: ").unwrap().1;
    insta::assert_snapshot!(first.split_once("\n\n").unwrap().0, @r"
    Skin check (08:00) · Skin checks: D1
            |
            | D1: skin check of 08:00. Please look at the skin now.
            |
            | Reply with one of these:
            | - No marks.
            | - Redness or a darker or different-looking patch. Where:
            | - Broken skin, a blister, or hot, hard or swollen skin. Where:
            | - Not looked yet.
            |
            | Or use your own words, for example: “Darker patch on the left sit bone, skin whole”
            |
            | Look for redness or a darker or different-looking patch, and feel for warmth or
            | firmness. Compare with the skin around it.
            |
            | Broken, weeping, purple, black, hot, hard or swollen skin, a blister, a patch that
            | spreads, fever, new pain, a pounding headache with flushing: do not wait for us. Call a
            | doctor or your local emergency number.
            |
            | This is not an emergency service, and mail can be late. Riverside Seating Clinic
            | (invented): 01632 960 123, Monday to Friday 9:00 to 17:00. When closed: Keep off the
            | seat.
    ");
    assert_eq!(with, sheet(&scenario, ShowMail::Texts), "the same bytes again");
}

#[test]
fn words_are_read_as_the_service_reads_a_mail_by_what_they_answer() {
    let text = r#"
plan = "two-week.toml"
begins = 2026-03-06
days = 1
[client]
ref = "A7"
risk = "high"
time_zone = "Europe/London"
sittings_at = ["10:00", "15:30"]
[[contact]]
id = "first"
[[cover]]
id = "clinic"
[[says]]
at = "2026-03-06T10:20"
who = "first"
words = "There is a darker patch on the left sit bone."
[[says]]
at = "2026-03-06T10:55"
who = "first"
words = "There is a darker patch on the left sit bone."
[[says]]
at = "2026-03-06T11:10"
who = "clinic"
words = "Seen, I will phone them."
"#;
    let plan = include_str!("../config/plans/two-week.toml");
    let open = |name: &str| Ok((name.to_owned(), plan.to_owned()));
    let scenario = parse_scenario("words.toml", text, open).unwrap().value;
    let lexicons = Lexicons::shipped();
    let lines = json_lines(&rehearse(&scenario, reader(&lexicons)));
    for wanted in [
        r#""look":"first","sitting":1,"by":"first","reading":"marked","sites":["ischium-left"]"#,
        r#""look":"recheck","sitting":1,"by":"first","reading":"persisting""#,
        r#""what":"stopped","why":"persisting""#,
        r#""what":"acknowledged","by":"clinic""#,
    ] {
        assert!(lines.contains(wanted), "{wanted} is not in:\n{lines}");
    }
}

/// A scenario of a first day, with these contacts and replies.
fn first_day(contacts: &[&str], says: &[(&str, &str, &str)]) -> Scenario {
    let contacts: String =
        contacts.iter().map(|id| format!("[[contact]]\nid = \"{id}\"\n")).collect();
    let said = |(at, who, words): &(&str, &str, &str)| {
        format!("[[says]]\nat = \"2026-03-06T{at}\"\nwho = \"{who}\"\nwords = \"{words}\"\n")
    };
    let says: String = says.iter().map(said).collect();
    let text = format!(
        "plan = \"two-week.toml\"\nbegins = 2026-03-06\ndays = 1\n[client]\nref = \"A7\"\n\
         risk = \"high\"\ntime_zone = \"Europe/London\"\nsittings_at = [\"10:00\", \"15:30\"]\n\
         {contacts}[[cover]]\nid = \"clinic\"\n{says}"
    );
    let plan = include_str!("../config/plans/two-week.toml");
    let open = |name: &str| Ok((name.to_owned(), plan.to_owned()));
    parse_scenario("day.toml", &text, open).unwrap().value
}

#[test]
fn a_client_who_answers_for_themself_is_asked_told_and_understood_like_any_contact() {
    let scenario = first_day(
        &["client"],
        &[
            ("10:20", "client", "My left sit bone is a bit darker than usual."),
            ("10:55", "client", "I can still see it."),
        ],
    );
    let lexicons = Lexicons::shipped();
    let lines = json_lines(&rehearse(&scenario, reader(&lexicons)));
    for wanted in [
        r#""by":"client","reading":"marked","sites":["ischium-left"]"#,
        r#""look":"recheck","sitting":1,"by":"client","reading":"persisting""#,
        r#""what":"stopped","why":"persisting""#,
    ] {
        assert!(lines.contains(wanted), "{wanted} is not in:\n{lines}");
    }
    let sheet = sheet(&scenario, ShowMail::Texts);
    assert!(sheet.contains("| A7: off the seat from now on, please."), "{sheet}");
}

#[test]
fn of_two_caregivers_the_second_is_asked_when_the_first_is_away_and_their_answer_settles_the_look()
{
    let scenario =
        first_day(&["first", "second"], &[("11:20", "second", "No marks, all as always.")]);
    let lexicons = Lexicons::shipped();
    let lines = json_lines(&rehearse(&scenario, reader(&lexicons)));
    let about = |line: &&str| line.contains(r#""look":"first","sitting":1"#);
    let told: Vec<&str> = lines.lines().filter(about).collect();
    let [.., passed_on, answered] = told.as_slice() else { panic!("{lines}") };
    assert!(passed_on.contains(r#""to":"second","again":0"#), "{passed_on}");
    assert!(answered.contains(r#""by":"second","reading":"clear""#), "{answered}");
    assert!(!lines.contains(r#""what":"no-credit","sitting":1"#), "{lines}");
}
