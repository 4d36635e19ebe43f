//! Commands that act on one client.

use super::world::World;

#[test]
fn a_mark_said_by_phone_is_the_same_as_a_reply() {
    let world = World::busy();
    let ran = world.run(&[
        "report",
        "B2",
        "--by",
        "first",
        "--reading",
        "marked",
        "--site",
        "coccyx",
        "--taken-by",
        "desk",
        "--json",
    ]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(ran.err.contains("the service does not seem to run"), "{}", ran.err);
    let outcome: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!(outcome["done"], true);
    let whats: Vec<&str> = outcome["entries"]
        .as_array()
        .unwrap()
        .iter()
        .map(|e| e["what"].as_str().unwrap())
        .collect();
    assert!(whats.contains(&"answered") && whats.contains(&"look-planned"), "{whats:?}");
    assert_eq!(outcome["now"]["waiting_for"], "mark");
    let journal = world.json(&["journal", "B2", "--json"]);
    let answered = journal
        .as_array()
        .unwrap()
        .iter()
        .rfind(|line| line["entry"]["what"] == "answered")
        .unwrap();
    assert_eq!(answered["occasion"], "phone");
    assert_eq!(answered["entry"]["sites"][0], "coccyx");
}

#[test]
fn a_time_that_is_too_long_ago_to_count_is_not_taken_silently() {
    let world = World::busy();
    let said = |at| {
        let by = ["report", "B2", "--by", "first", "--reading", "clear", "--taken-by", "desk"];
        world.run(&[&by[..], &["--at", at]].concat())
    };
    assert!(said("02:00").err.contains("the time of the call counts instead"));
    assert!(!said("11:16").err.contains("counts instead"));
}

#[test]
fn words_said_by_phone_are_confirmed_before_they_are_taken() {
    let world = World::busy();
    let words = "no marks at all, skin looks as always";
    let said = ["report", "B2", "--by", "first", "--words", words, "--taken-by", "desk"];
    let ran = world.run(&said);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("understood as: clear"), "{}", ran.err);
    assert!(ran.err.contains("add --yes"), "{}", ran.err);
    assert_eq!(world.json(&["show", "B2", "--json"])["waiting_for"], "answer");

    let ran = world.run(&[&said[..], &["--yes"]].concat());
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(ran.out.contains("taken by desk by phone from first: clear"), "{}", ran.out);
    assert!(ran.out.contains("earns credit; run 4"), "{}", ran.out);
}

#[test]
fn words_that_cannot_be_read_safely_are_never_taken() {
    let world = World::busy();
    let ran = world.run(&[
        "report",
        "B2",
        "--by",
        "first",
        "--words",
        "well, you know",
        "--taken-by",
        "desk",
        "--yes",
    ]);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("--reading"), "{}", ran.err);
}

#[test]
fn only_staff_who_may_report_take_a_finding() {
    let world = World::busy();
    let by = |staff| {
        let said = ["report", "B2", "--by", "first", "--reading", "clear", "--taken-by", staff];
        world.run(&said)
    };
    let observer = by("guest");
    assert_eq!(observer.code, 4);
    assert!(observer.err.contains("may not do this"), "{}", observer.err);
    let misspelt = by("desc");
    assert_eq!(misspelt.code, 3);
    assert!(misspelt.err.contains("did you mean `desk`?"), "{}", misspelt.err);
}

#[test]
fn names_that_are_not_there_are_answered_with_those_that_were_meant() {
    let world = World::busy();
    for (args, meant) in [
        (&["show", "a7"][..], "did you mean `A7`?"),
        (&["journal", "Z99999"], "`fadewatch show --all` lists the clients"),
        (
            &["report", "B2", "--by", "frist", "--reading", "clear", "--taken-by", "desk"],
            "did you mean `first`?",
        ),
    ] {
        let ran = world.run(args);
        assert_eq!(ran.code, 3, "{args:?}: {}", ran.err);
        assert!(ran.err.contains(meant), "{args:?}: {}", ran.err);
    }
    let ran = world.run(&[
        "report",
        "B2",
        "--by",
        "first",
        "--reading",
        "marked",
        "--site",
        "ischium-lft",
        "--taken-by",
        "desk",
    ]);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("did you mean `ischium-left`?"), "{}", ran.err);
}

#[test]
fn a_clinician_takes_an_alert_up_and_lets_sitting_begin_again() {
    let world = World::busy();
    let ran = world.run(&["decide", "A7", "seen", "--by", "duty"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let alerts = world.json(&["alerts", "--json"]);
    assert_eq!(alerts[0]["acknowledged_by"], "duty");

    let ran = world.run(&["decide", "A7", "resume", "--sit", "30min", "--by", "seating"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(ran.out.contains("seating lets sitting begin again, at step 2"), "{}", ran.out);
    assert_eq!(world.run(&["alerts"]).out, "No alert is open.\n");
    assert_eq!(world.json(&["show", "A7", "--json"])["standing"], "open");
}

#[test]
fn only_a_clinician_decides() {
    let world = World::busy();
    let ran = world.run(&["decide", "A7", "resume", "--by", "desk"]);
    assert_eq!(ran.code, 4);
    assert_eq!(world.json(&["show", "A7", "--json"])["standing"], "stopped");
}

#[test]
fn a_decision_that_changes_nothing_is_not_shown_as_taken() {
    let world = World::busy();
    let ran = world.run(&["decide", "C3", "resume", "--by", "seating"]);
    assert_eq!(ran.code, 4);
    assert!(ran.err.contains("sitting is not stopped"), "{}", ran.err);
    let ran = world.run(&["decide", "A7", "resume", "--step", "7", "--by", "seating"]);
    assert_eq!(ran.code, 4);
    assert!(ran.err.contains("no such step"), "{}", ran.err);
    assert_eq!(world.json(&["show", "A7", "--json"])["standing"], "stopped");
    let ran = world.run(&["decide", "A7", "seen", "--step", "2", "--by", "seating"]);
    assert_eq!(ran.code, 2);
}

#[test]
fn keeping_somebody_off_who_sits_is_a_stop() {
    let world = World::busy();
    let ran = world.run(&[
        "decide",
        "C3",
        "keep-stopped",
        "--site",
        "sacrum",
        "--by",
        "seating",
        "--json",
    ]);
    let outcome: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!(outcome["now"]["standing"], "stopped");
    assert_eq!(outcome["entries"][0]["sites"][0], "sacrum");
}
