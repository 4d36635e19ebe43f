//! Who is on cover on which days, and what a change of it leads to.

use std::fs;

use chrono::{Days, NaiveDate};
use fadewatch::care::{Reading, Verdict};
use fadewatch::follow_up::Instant;
use fadewatch::service::due;
use serde_json::Value;

use super::world::{PLAN, World};

/// A clinic whose alerts are repeated every 4 h and passed on every 2 h; A7 was stopped at 11:58.
fn stopped() -> World {
    let world = World::empty();
    let plan = PLAN.replace("pass_on_after = \"8h\"", "pass_on_after = \"2h\"");
    fs::write(world.path("plans/patient.toml"), plan).unwrap();
    world.enroll("A7");
    world.pass_until(world.today, 11, 30);
    world.say("A7", "first", &Verdict::bare(Reading::Persisting), world.at(world.today, 11, 58));
    world
}

fn set(world: &World, who: &[&str], from: NaiveDate, until: NaiveDate) -> (i32, String) {
    let (from, until) = (from.to_string(), until.to_string());
    let days = ["--from", &from, "--until", &until, "--by", "desk", "--json"];
    let ran = world.run(&[&["cover", "set"][..], who, &days].concat());
    (ran.code, ran.out + &ran.err)
}

fn next_due(world: &World, client: &str) -> String {
    let shown = world.json(&["show", client, "--json"]);
    shown["next_due"].as_str().unwrap()[11..16].to_owned()
}

#[test]
fn on_days_that_were_set_alerts_go_to_whoever_is_on_then() {
    let world = World::busy();
    assert_eq!(set(&world, &["duty"], world.today, world.today).0, 0);
    let ran = world.run(&[
        "report",
        "C3",
        "--by",
        "first",
        "--reading",
        "persisting",
        "--site",
        "sacrum",
        "--taken-by",
        "desk",
    ]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let alerts = world.json(&["alerts", "--json"]);
    let of = |client: &str| {
        let alert = alerts.as_array().unwrap().iter().find(|alert| alert["client"] == client);
        alert.unwrap()["with"].clone()
    };
    assert_eq!((of("A7"), of("C3")), ("seating".into(), "duty".into()));
}

#[test]
fn the_days_ahead_are_shown_and_taken_back_in_part() {
    let world = World::empty();
    let day = |days| world.today + Days::new(days);
    assert_eq!(set(&world, &["duty", "seating"], day(2), day(9)).0, 0);
    let (from, until) = (day(4).to_string(), day(5).to_string());
    let usual = ["cover", "usual", "--from", &from, "--until", &until, "--by", "seating"];
    assert_eq!(world.run(&usual).code, 0);
    let cover = world.json(&["cover", "--json"]);
    assert_eq!(cover["now"], cover["usual"]);
    let ahead: Vec<(String, String)> = cover["ahead"]
        .as_array()
        .unwrap()
        .iter()
        .map(|shift| {
            assert_eq!(shift["cover"][0], "duty");
            (
                shift["from"].as_str().unwrap().to_owned(),
                shift["until"].as_str().unwrap().to_owned(),
            )
        })
        .collect();
    let stretch = |from, until| (day(from).to_string(), day(until).to_string());
    assert_eq!(ahead, [stretch(2, 3), stretch(6, 9)]);
    let shown = world.run(&["cover"]).out;
    assert!(shown.contains("On cover now: seating, then duty\n"), "{shown}");
}

#[test]
fn only_who_may_decide_is_put_on_cover_and_only_staff_who_may_report_do_so() {
    let world = World::empty();
    let today = world.today;
    for (who, by, code) in [("desk", "seating", 4), ("dutty", "seating", 3), ("duty", "guest", 4)] {
        let ran = world.run(&["cover", "set", who, "--by", by]);
        assert_eq!(ran.code, code, "{who} {by}: {}", ran.err);
    }
    let day_before = today - Days::new(1);
    assert!(set(&world, &["duty"], today, day_before).1.contains("comes before the first"));
    assert!(set(&world, &["duty"], day_before, day_before).1.contains("these days are over"));
    assert!(set(&world, &["duty"], today, today + Days::new(800)).1.contains("a year ahead"));
    assert!(set(&world, &["duty", "duty"], today, today).1.contains("named twice"));
    assert_eq!(world.json(&["cover", "--json"])["ahead"], Value::Array(vec![]));
}

#[test]
fn what_waits_for_somebody_is_due_by_the_new_cover_at_once() {
    let world = stopped();
    assert_eq!(next_due(&world, "A7"), "13:58");
    assert_eq!(set(&world, &["seating"], world.today, world.today).0, 0);
    assert_eq!(next_due(&world, "A7"), "15:58");
    let listed = |world: &World| -> Option<Instant> {
        world.store.read_blocking(|view| view.earliest_due()).unwrap()
    };
    assert_eq!(listed(&world), Some(world.at(world.today, 15, 58)));
    assert_eq!(set(&world, &["duty"], world.today, world.today).0, 0);
    assert_eq!(listed(&world), Some(world.at(world.today, 13, 58)));
}

#[test]
fn at_the_turn_of_the_cover_what_waits_is_due_by_the_new_one() {
    let world = stopped();
    let (today, tomorrow) = (world.today, world.today + Days::new(1));
    assert_eq!(set(&world, &["seating"], today, today).0, 0);
    world.pass_until(today, 23, 59);
    let listed = |world: &World| world.store.read_blocking(|view| view.earliest_due()).unwrap();
    assert_eq!(listed(&world), Some(world.at(tomorrow, 3, 58)));
    let midnight = world.at(tomorrow, 0, 0);
    world.write(move |office, tx| {
        assert_eq!(due::next(office, tx)?, Some(midnight));
        due::act_on_due(office, tx, midnight)?;
        Ok(())
    });
    assert_eq!(listed(&world), Some(world.at(tomorrow, 1, 58)));
    world.write(move |office, tx| {
        assert_ne!(due::next(office, tx)?, Some(midnight));
        Ok(())
    });
}

#[test]
fn an_alert_with_somebody_off_cover_passes_to_the_one_who_is_on_alone() {
    let world = stopped();
    assert_eq!(set(&world, &["duty"], world.today, world.today).0, 0);
    world.pass_until(world.today, 13, 58);
    let alerts = world.json(&["alerts", "--json"]);
    assert_eq!(alerts[0]["with"], "duty");
}

#[test]
fn a_change_of_cover_is_on_record_with_who_made_it() {
    let world = World::empty();
    assert_eq!(set(&world, &["duty"], world.today, world.today).0, 0);
    let kept = world.store.read_blocking(|view| view.newest_occasions(Some("cover"), 9)).unwrap();
    assert_eq!(kept.len(), 1);
    let (_, record) = &kept[0];
    assert_eq!(record.follow_up, None);
    assert_eq!(
        (&record.detail["by"], &record.detail["cover"][0]),
        (&"desk".into(), &"duty".into())
    );
}
