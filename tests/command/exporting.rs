//! What is known of a client, in the formats of other programs, read by outside readers.

use std::fs;
use std::os::unix::fs::PermissionsExt as _;

use chrono::{NaiveDate, TimeDelta};
use fadewatch::service::daily;
use fadewatch::store::{RememberedInstant, StoreError, Urgency, View};
use mail_parser::{MessageParser, MimeHeaders as _};
use serde_json::Value;

use super::world::{PLAN, World};
use crate::python;

#[derive(Debug, Clone, PartialEq, serde::Deserialize)]
struct Item {
    uid: String,
    sequence: u32,
    start: String,
    end: Option<String>,
    status: String,
    summary: String,
}

fn items(world: &World, more: &[&str]) -> Vec<Item> {
    let ran = world.run(&[&["calendar"][..], more].concat());
    assert_eq!(ran.code, 0, "{}", ran.err);
    let read = python::run("command/read_calendar.py", &[], ran.out.as_bytes());
    serde_json::from_str(&read).unwrap()
}

fn planned(items: &[Item]) -> Vec<&Item> {
    items.iter().filter(|item| item.status == "CONFIRMED").collect()
}

fn fhir(world: &World, client: &str) -> Value {
    let ran = world.run(&["export", client, "--fhir"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    serde_json::from_str(&python::run("command/read_bundle.py", &[], ran.out.as_bytes())).unwrap()
}

#[test]
fn two_outside_readers_find_the_planned_sittings_and_looks_in_the_calendar() {
    let world = World::busy();
    let items = items(&world, &["C3", "--days", "3"]);
    let planned = planned(&items);
    let tomorrow = world.today + chrono::Days::new(1);
    // Two sittings a day with one look each, on two days; those of today are over.
    assert_eq!(planned.len(), 8, "{items:#?}");
    let of = |hour, minute| world.at(tomorrow, hour, minute).format("%Y-%m-%dT%H:%MZ").to_string();
    let first = &planned[0];
    assert_eq!((&first.start, first.end.as_ref()), (&of(9, 0), Some(&of(9, 15))));
    assert_eq!(first.summary, "Sitting, 15 min (C3)");
    assert_eq!(
        (&planned[1].start, planned[1].summary.as_str()),
        (&of(9, 15), "Look at the skin (C3)")
    );
    assert!(!items.iter().any(|item| item.summary.contains("Sam")), "a name stands in it");
}

#[test]
fn after_a_change_of_plan_the_same_entries_move_and_their_sequence_grows() {
    let world = World::busy();
    let before = items(&world, &["C3"]);
    let longer =
        PLAN.replace("sit = \"15min\"", "sit = \"20min\"").replace("\"patient\"", "\"longer\"");
    fs::write(world.path("plans/longer.toml"), longer).unwrap();
    let adopt = ["plan", "adopt", "C3", "longer", "--by", "seating"];
    let ran = world.run(&adopt);
    assert_eq!(ran.code, 0, "{}{}", ran.out, ran.err);
    let after = items(&world, &["C3"]);
    let uids = |items: &[Item]| items.iter().map(|item| item.uid.clone()).collect::<Vec<_>>();
    assert_eq!(uids(&before), uids(&after));
    for (before, after) in before.iter().zip(&after) {
        assert!(after.sequence > before.sequence);
        assert_ne!((&before.start, &before.end), (&after.start, &after.end), "did not move");
    }
}

#[test]
fn a_stop_cancels_what_was_planned_instead_of_leaving_it_out() {
    let world = World::busy();
    let before = items(&world, &["C3"]);
    assert!(!planned(&before).is_empty());
    let ran = world.run(&["decide", "C3", "keep-stopped", "--by", "seating"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let after = items(&world, &["C3"]);
    assert_eq!(planned(&after).len(), 0, "{after:#?}");
    for item in planned(&before) {
        let found = after.iter().find(|after| after.uid == item.uid).unwrap();
        assert_eq!(found.status, "CANCELLED");
        assert!(found.sequence > item.sequence);
    }
}

/// What is planned for a client on a day.
fn on<'a>(items: &'a [Item], client: &str, day: NaiveDate) -> Vec<&'a Item> {
    let (ending, day) = (format!("({client})"), day.to_string());
    let of = |item: &&Item| item.summary.ends_with(&ending) && item.start.starts_with(&day);
    planned(items).into_iter().filter(of).collect()
}

/// The calendar that goes with the message of a day's morning.
fn of_the_morning(world: &World, day: NaiveDate) -> Vec<Item> {
    let at = world.at(day, 8, 0);
    world.write(move |office, tx| {
        tx.remember(RememberedInstant::DailyMessage, at - TimeDelta::days(1))?;
        let report = daily::report(office, tx, at)?;
        daily::write(office, tx, report, at).map(|_| ())
    });
    let newest = |view: &View<'_>| -> Result<_, StoreError> {
        let mail = view.newest_mail_of(Urgency::Digest)?.unwrap();
        Ok(view.raw_mail(mail.id)?.unwrap())
    };
    let raw = world.store.read_blocking(newest).unwrap();
    let mail = MessageParser::default().parse(&raw).unwrap();
    assert!(!String::from_utf8_lossy(&raw).contains("Sam"), "a name stands in it");
    let file = mail.attachment(0).unwrap();
    let kind = file.content_type().unwrap();
    assert_eq!((kind.ctype(), kind.subtype()), ("text", Some("calendar")));
    assert_eq!(kind.attribute("method"), Some("PUBLISH"));
    assert_eq!(file.attachment_name(), Some("skin-checks.ics"));
    let read = python::run("command/read_calendar.py", &[], file.contents());
    serde_json::from_str(&read).unwrap()
}

#[test]
fn the_mornings_calendar_moves_and_cancels_what_the_one_before_it_said() {
    let world = World::busy();
    let first = of_the_morning(&world, world.today);
    let tomorrow = world.today + chrono::Days::new(1);
    // Two sittings a day with one look each. A7 is stopped, D4 has ended.
    let said = on(&first, "C3", tomorrow);
    assert_eq!(said.len(), 4, "{first:#?}");
    assert_eq!(on(&first, "A7", tomorrow), Vec::<&Item>::new());
    assert_eq!(on(&first, "D4", tomorrow), Vec::<&Item>::new());
    let ran = world.run(&["decide", "C3", "keep-stopped", "--by", "seating"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let second = of_the_morning(&world, tomorrow);
    for item in said {
        let now = second.iter().find(|now| now.uid == item.uid).unwrap();
        assert_eq!(now.status, "CANCELLED", "{now:?}");
        assert!(now.sequence > item.sequence, "{now:?} {item:?}");
    }
}

#[test]
fn a_calendar_written_by_hand_and_that_of_the_morning_know_entries_by_the_same_ids() {
    let world = World::busy();
    let tomorrow = world.today + chrono::Days::new(1);
    let morning = of_the_morning(&world, tomorrow);
    let by_hand = items(&world, &["C3", "--days", "2"]);
    assert_eq!(on(&morning, "C3", tomorrow).len(), 4, "{morning:#?}");
    assert_eq!(on(&morning, "C3", tomorrow), on(&by_hand, "C3", tomorrow));
}

#[test]
fn the_calendar_speaks_the_language_asked_for() {
    let world = World::busy();
    let items = items(&world, &["C3", "--language", "de"]);
    assert!(items.iter().any(|item| item.summary == "Haut ansehen (C3)"), "{items:#?}");
}

#[test]
fn independent_models_read_the_bundle_and_all_its_references_lead_somewhere() {
    let world = World::busy();
    let kinds = fhir(&world, "A7");
    let looks = kinds["Observation"].as_array().unwrap();
    let state = world.json(&["export", "A7"]);
    let over = state["looks"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|look| !look["found"].is_null() || look["status"] == "missed");
    assert_eq!(looks.len(), over.count());
    assert!(looks.iter().any(|look| look["valueCodeableConcept"]["text"] == "persisting"));
    assert_eq!(kinds["CarePlan"][0]["status"], "on-hold");
    assert_eq!(kinds["EpisodeOfCare"][0]["status"], "active");
    let told = kinds["Communication"].as_array().unwrap();
    let told: Vec<&str> =
        told.iter().map(|told| told["payload"][0]["contentString"].as_str().unwrap()).collect();
    assert!(told.contains(&"Stop: a mark has lasted or come back"), "{told:?}");
    assert!(told.contains(&"Alert: sitting is stopped"), "{told:?}");
    let text = kinds.to_string();
    assert!(!text.contains("Robin") && !text.contains("Sam") && !text.contains("home.example"));
    assert_eq!(fhir(&world, "D4")["EpisodeOfCare"][0]["status"], "finished");
}

#[test]
fn a_look_that_nobody_answered_is_never_written_as_clear() {
    let world = World::busy();
    // Nine hours after it was asked the look of 11:15 is missed.
    world.pass_until(world.today, 20, 30);
    let kinds = fhir(&world, "B2");
    let missed = kinds["Observation"].as_array().unwrap().last().unwrap().clone();
    assert_eq!(missed["status"], "cancelled");
    assert!(missed.get("valueCodeableConcept").is_none());
    assert_eq!(missed["dataAbsentReason"]["coding"][0]["code"], "unknown");
    let csv = world.run(&["export", "B2", "--csv"]).out;
    let line = csv.lines().last().unwrap();
    assert!(line.contains(",NOT ANSWERED,") && !line.contains("clear"), "{line}");
}

#[test]
fn the_spreadsheet_has_one_line_a_look_under_named_columns() {
    let world = World::busy();
    let csv = world.run(&["export", "C3", "--csv"]).out;
    let lines: Vec<&str> = csv.split("\r\n").collect();
    let head: Vec<&str> = lines[0].split(',').collect();
    let looks = world.json(&["export", "C3"])["looks"].as_array().unwrap().len();
    assert_eq!(lines.len(), looks + 2, "{csv}");
    let cell = |name: &str| {
        let column = head.iter().position(|head| *head == name).unwrap();
        lines[1].split(',').nth(column).unwrap()
    };
    assert_eq!((cell("client"), cell("kind"), cell("answer")), ("C3", "first", "clear"));
    assert_eq!((cell("planned_minutes"), cell("sitting_outcome")), ("15", "credit"));
    assert!(cell("answered_at").ends_with(" 09:20"), "{csv}");
}

#[test]
fn everything_on_file_is_written_for_whoever_asks_what_is_known_of_them() {
    let world = World::busy();
    let file = world.json(&["export", "A7"]);
    assert_eq!(file["call_name"], "Sam");
    assert_eq!(file["contacts"][0]["mail"], "robin@home.example");
    let journal = world.json(&["journal", "A7", "--all", "--json"]);
    assert_eq!(file["journal"].as_array().unwrap().len(), journal.as_array().unwrap().len());
    assert!(!file["sent"].as_array().unwrap().is_empty());
}

#[test]
fn a_file_of_personal_data_is_closed_to_others_and_none_is_written_over() {
    let world = World::busy();
    let export = ["export", "A7", "--out", "a7.json"];
    assert_eq!(world.run(&export).code, 0);
    let mode = fs::metadata(world.path("a7.json")).unwrap().permissions().mode() & 0o777;
    assert_eq!(mode, 0o600);
    let ran = world.run(&export);
    assert_eq!(ran.code, 4);
    assert!(ran.err.contains("is there already"), "{}", ran.err);
}
