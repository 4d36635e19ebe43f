//! Commands that keep a follow-up in step with life: pauses, contacts, plans, enrolment.

use std::fs;

use fadewatch::care::{Reading, Verdict};

use super::world::{PLAN, World, site};

fn whats(outcome: &serde_json::Value) -> Vec<&str> {
    let entries = outcome["entries"].as_array().unwrap();
    entries.iter().map(|entry| entry["what"].as_str().unwrap()).collect()
}

/// The words of all mail to an address, newest last.
fn mails_to(world: &World, address: &str) -> Vec<String> {
    let database = rusqlite::Connection::open(world.path("data/fadewatch.db")).unwrap();
    let mut select = database
        .prepare(
            "SELECT raw FROM outbox_mail JOIN outbox ON outbox = id WHERE address = ?1
             ORDER BY outbox.id",
        )
        .unwrap();
    let raws = select.query_map([address], |row| row.get::<_, Vec<u8>>(0)).unwrap();
    raws.map(|raw| String::from_utf8_lossy(&raw.unwrap()).into_owned()).collect()
}

#[test]
fn a_pause_calls_the_open_look_off_and_tells_the_contacts() {
    let world = World::busy();
    let outcome = world.json(&["pause", "B2", "--why", "hospital", "--by", "desk", "--json"]);
    assert_eq!(whats(&outcome), ["paused", "look-withdrawn", "no-credit"]);
    assert_eq!(outcome["now"]["standing"], "paused");
    assert_eq!(outcome["now"]["next_due"], serde_json::Value::Null);
    let mails = mails_to(&world, "robin@home.example");
    assert!(mails.last().unwrap().contains("Skin checks pause"));

    let again = world.run(&["pause", "B2", "--by", "desk"]);
    assert_eq!(again.code, 4);
    assert!(again.err.contains("it is paused already; nothing was changed"), "{}", again.err);
    let all = world.json(&["show", "--json"]);
    let last = all.as_array().unwrap().last().unwrap();
    assert_eq!((&last["client"], &last["waiting_for"]), (&"B2".into(), &"end of pause".into()));
}

#[test]
fn only_a_clinician_ends_a_pause_and_chooses_the_step() {
    let world = World::busy();
    world.run(&["pause", "B2", "--by", "desk"]);
    assert_eq!(world.run(&["unpause", "B2", "--by", "desk"]).code, 4);
    let ran = world.run(&["unpause", "B2", "--by", "seating", "--step", "9"]);
    assert_eq!(ran.code, 4);
    assert!(ran.err.contains("the plan has no step 9; its last is 2"), "{}", ran.err);
    let outcome = world.json(&["unpause", "B2", "--by", "seating", "--step", "2", "--json"]);
    assert_eq!((&outcome["now"]["step"], &outcome["now"]["run"]), (&2.into(), &0.into()));
    assert_eq!(world.run(&["unpause", "B2", "--by", "seating"]).code, 4);
}

#[test]
fn a_stop_and_an_unsettled_mark_cannot_be_paused_away() {
    let world = World::busy();
    let stopped = world.run(&["pause", "A7", "--by", "seating"]);
    assert_eq!(stopped.code, 4);
    assert!(stopped.err.contains("sitting is stopped"), "{}", stopped.err);
    let mark = Verdict { sites: vec![site("coccyx")], ..Verdict::bare(Reading::Marked) };
    world.say("B2", "first", &mark, world.at(world.today, 11, 59));
    let marked = world.run(&["pause", "B2", "--by", "seating"]);
    assert_eq!(marked.code, 4);
    assert!(marked.err.contains("a mark is not settled"), "{}", marked.err);
}

#[test]
fn a_new_address_makes_a_contact_reachable_again() {
    let world = World::busy();
    world.lose("B2", "first");
    let page = world.json(&["show", "B2", "--json"]);
    assert_eq!(page["contacts"][0]["reachable"], false);
    let set = ["contact", "B2", "set", "first", "--mail", "robin@new.example", "--by", "desk"];
    let ran = world.run(&set);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(ran.out.contains("robin@new.example"), "{}", ran.out);
    let again = world.json(&[&set[..], &["--json"]].concat());
    assert_eq!(again[0]["mail"], "robin@new.example");
    let contacts = world.json(&["contact", "B2", "list", "--json"]);
    assert_eq!(contacts[0]["reachable"], true);
    assert_eq!(contacts[0]["name"], "Robin");
}

#[test]
fn a_new_name_alone_touches_no_open_look() {
    let world = World::busy();
    let before = world.json(&["journal", "B2", "--all", "--json"]);
    let set = ["contact", "B2", "set", "first", "--name", "Robin M.", "--by", "desk"];
    assert_eq!(world.run(&set).code, 0);
    assert_eq!(world.json(&["journal", "B2", "--all", "--json"]), before);
    assert_eq!(world.json(&["contact", "B2", "list", "--json"])[0]["name"], "Robin M.");
}

#[test]
fn whoever_takes_over_is_asked_at_once_at_their_own_address() {
    let world = World::busy();
    let set = [
        "contact",
        "B2",
        "set",
        "third",
        "--name",
        "Lee",
        "--mail",
        "lee@home.example",
        "--language",
        "en",
        "--by",
        "desk",
    ];
    assert_eq!(world.run(&set).code, 0);
    let ran = world.run(&["contact", "B2", "order", "third", "--by", "desk", "--json"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(ran.err.contains("no longer asked: first, second"), "{}", ran.err);
    let outcome: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!(whats(&outcome), ["contacts-changed", "asked"]);
    assert_eq!(mails_to(&world, "lee@home.example").len(), 1);
}

#[test]
fn an_address_that_would_confuse_answers_is_refused() {
    let world = World::busy();
    let set = |mail| world.run(&["contact", "B2", "set", "first", "--mail", mail, "--by", "desk"]);
    for (mail, code, why) in [
        ("kim@neighbour.example", 4, "contact `second` has this address"),
        ("checks@clinic.example", 4, "the service's own address"),
        ("not an address", 2, "a mail address has an `@`"),
    ] {
        let ran = set(mail);
        assert_eq!(ran.code, code, "{mail}: {}", ran.err);
        assert!(ran.err.contains(why), "{mail}: {}", ran.err);
    }
    let ran = world.run(&["contact", "B2", "set", "new", "--name", "Lee", "--by", "desk"]);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("a new contact needs"), "{}", ran.err);
    let contacts = world.json(&["contact", "B2", "list", "--json"]);
    assert_eq!(contacts.as_array().unwrap().len(), 2);
}

/// A second version of the plan, with a longer first step.
fn slower(world: &World) {
    let text = PLAN
        .replace("\"patient\"", "\"slower\"")
        .replacen("clear_to_advance = 4", "clear_to_advance = 6", 1)
        .replace("sit = \"30min\"", "sit = \"25min\"");
    fs::write(world.path("plans/slower.toml"), text).unwrap();
}

#[test]
fn two_plans_are_compared_setting_by_setting() {
    let world = World::busy();
    slower(&world);
    let ran = world.run(&["plan", "diff", "patient", "plans/slower.toml"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    insta::assert_snapshot!(ran.out, @r#"
    SETTING                            FIRST      SECOND
    id                                 "patient"  "slower"
    risk.high.step.1.clear_to_advance  4          6
    risk.high.step.2.sit               30min      25min
    "#);
    let version = world.json(&["show", "B2", "--json"])["plan"].as_str().unwrap()[..12].to_owned();
    let same = world.run(&["plan", "diff", "patient", &version]);
    assert!(same.out.starts_with("The two are the same"), "{}{}", same.out, same.err);
    let unknown = world.run(&["plan", "diff", "patient", "slover"]);
    assert_eq!(unknown.code, 3);
    assert!(unknown.err.contains("did you mean `slower`?"), "{}", unknown.err);
}

#[test]
fn a_preview_of_a_plan_changes_nothing_and_adopting_it_does_what_it_said() {
    let world = World::busy();
    slower(&world);
    let adopt = ["plan", "adopt", "C3", "slower", "--by", "seating"];
    let preview = world.json(&[&adopt[..], &["--preview", "--json"]].concat());
    assert_eq!(preview["differences"].as_array().unwrap().len(), 3);
    assert!(preview["before"].as_str().unwrap().contains("run 4 of 4"));
    assert!(preview["after"].as_str().unwrap().contains("run 0 of 6"));
    assert_eq!(world.json(&["show", "C3", "--json"])["run"], 4);

    let outcome = world.json(&[&adopt[..], &["--json"]].concat());
    assert_eq!(whats(&outcome), ["plan-adopted"]);
    assert_eq!(outcome["now"]["plan"], preview["to"]);
    let page = world.json(&["show", "C3", "--json"]);
    assert_eq!((&page["plan_id"], &page["run"]), (&"slower".into(), &0.into()));
    let again = world.run(&adopt);
    assert_eq!(again.code, 4);
    assert!(again.err.contains("runs on this version already"), "{}", again.err);
    assert_eq!(world.run(&["journal", "verify"]).code, 0);
}

#[test]
fn a_plan_that_does_not_fit_the_client_is_not_adopted() {
    let world = World::busy();
    for (id, from, to, why) in [
        ("unapproved", "approved_by = \"A. Example\"", "", "nobody has approved it"),
        ("other", "risk.high", "risk.low", "no ladder for risk level `high`"),
        ("three", "sittings_per_day = 2", "sittings_per_day = 3", "the client has 2 sitting times"),
        ("long", "sit = \"30min\"", "sit = \"3h\"", "the sitting of 09:00 runs into the next"),
        ("early", "look_at = [\"08:00\"]", "look_at = [\"06:00\"]", "06:00 falls into quiet hours"),
    ] {
        let text = PLAN.replace("\"patient\"", &format!("\"{id}\"")).replace(from, to);
        fs::write(world.path(&format!("plans/{id}.toml")), text).unwrap();
        let ran = world.run(&["plan", "adopt", "C3", id, "--by", "seating"]);
        assert_eq!(ran.code, 4, "{id}: {}", ran.err);
        assert!(ran.err.contains(why), "{id}: {}", ran.err);
    }
    assert_eq!(world.json(&["show", "C3", "--json"])["plan_id"], "patient");
    let assistant = world.run(&["plan", "adopt", "C3", "patient", "--by", "desk"]);
    assert_eq!(assistant.code, 4);
}

#[test]
fn a_plan_is_checked_with_all_its_problems() {
    let world = World::empty();
    let ran = world.run(&["plan", "check", "plans/patient.toml"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(ran.out.starts_with("patient: A plan with long waits\nversion "), "{}", ran.out);
    assert!(ran.out.contains("approved by A. Example on 2026-03-02"), "{}", ran.out);
    let broken = PLAN.replace("ask_again = 1", "ask_agian = 1").replace("\"15min\"", "15");
    fs::write(world.path("broken.toml"), broken).unwrap();
    let ran = world.run(&["plan", "check", "broken.toml"]);
    assert_eq!((ran.code, ran.out.as_str()), (2, ""));
    assert!(ran.err.contains("ask_agian"), "{}", ran.err);
    let ran = world.run(&["plan", "check", "broken.toml", "--json"]);
    assert_eq!(ran.code, 2);
    let found: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!(found["usable"], false);
    assert!(found["problems"].as_array().unwrap().iter().all(|p| p["line"].is_u64()));
}

#[test]
fn a_client_is_enrolled_once() {
    let world = World::busy();
    let file = world.client_file("E5").display().to_string();
    let ran = world.run(&["enroll", &file, "--by", "desk"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(ran.out.starts_with("E5 is enrolled at risk level high"), "{}", ran.out);
    let again = world.run(&["enroll", &file]);
    assert_eq!(again.code, 4);
    assert!(again.err.contains("enrolled already"), "{}", again.err);
    let missing = world.run(&["enroll", "nobody.toml"]);
    assert_eq!(missing.code, 3);
}

#[test]
fn who_runs_on_which_version_is_shown_with_what_another_plan_would_change() {
    let world = World::busy();
    let longer =
        PLAN.replace("sit = \"15min\"", "sit = \"20min\"").replace("\"patient\"", "\"longer\"");
    fs::write(world.path("plans/longer.toml"), longer).unwrap();
    let runs = world.json(&["plan", "in-use", "--new", "longer", "--json"]);
    let runs = runs.as_array().unwrap();
    let clients: Vec<&str> = runs.iter().map(|run| run["client"].as_str().unwrap()).collect();
    assert_eq!(clients, ["A7", "B2", "C3"]);
    for run in runs {
        assert_eq!(run["folder_version"], run["version"]);
        assert!(run["with_new"]["after"].as_str().unwrap().contains("20min"), "{run}");
    }
    let edited = PLAN.replace("fade_limit = \"30min\"", "fade_limit = \"25min\"");
    fs::write(world.path("plans/patient.toml"), edited).unwrap();
    let shown = world.run(&["plan", "in-use"]).out;
    assert_eq!(shown.matches("another: ").count(), 3, "{shown}");
}

/// The hours of a contact, said at the command line.
fn set_hours(world: &World, contact: &str, hours: &[&str]) -> super::world::Ran {
    let set = ["contact", "B2", "set", contact, "--by", "desk"];
    world.run(&[&set[..], hours].concat())
}

#[test]
fn the_hours_of_a_contact_are_set_shown_and_cleared() {
    let world = World::busy();
    let ran = set_hours(&world, "first", &["--asked", "Mon-Fri 07:00-15:00; Sat 08:00-24:00"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let told = "Monday to Friday 07:00 to 15:00; Saturday 08:00 to 24:00";
    assert!(ran.out.contains(told) && ran.out.contains("at any hour"), "{}", ran.out);
    assert!(world.run(&["show", "B2"]).out.contains(told));
    let page = world.json(&["show", "B2", "--json"]);
    let asked = serde_json::json!(["Mon-Fri 07:00-15:00", "Sat 08:00-24:00"]);
    assert_eq!(page["contacts"][0]["asked"], asked);
    assert_eq!(page["contacts"][1]["on_shift"], true);
    let journal = world.run(&["journal", "B2", "--all"]);
    assert!(
        journal.out.contains(&format!("first is asked from now on: {told}")),
        "{}",
        journal.out
    );
    let whole = world.json(&["journal", "B2", "--all", "--json"]);
    let said = whole.as_array().unwrap().last().unwrap();
    assert_eq!(said["entry"]["what"], "hours-said");
    assert_eq!(said["entry"]["hours"], asked);
    // The same again is no news; nor is what is known of the person touched.
    assert_eq!(
        set_hours(&world, "first", &["--asked", "Mon-Fri 07:00-15:00;Sat 08:00-24:00"]).code,
        0
    );
    assert_eq!(world.json(&["journal", "B2", "--all", "--json"]), whole);
    assert_eq!(set_hours(&world, "first", &["--any-hour"]).code, 0);
    assert_eq!(world.json(&["contact", "B2", "list", "--json"])[0]["asked"], serde_json::json!([]));
}

#[test]
fn hours_that_leave_looks_to_nobody_are_warned_of() {
    let world = World::busy();
    assert_eq!(
        set_hours(&world, "first", &["--asked", "07:00-10:00"]).err.matches("nobody").count(),
        0
    );
    let ran = set_hours(&world, "second", &["--asked", "17:00-23:00"]);
    assert_eq!(ran.code, 0);
    let told = "every day between 10:00 and 17:00 nobody is on; the first contact is asked (such as \
                at 11:00)";
    assert!(ran.err.contains(told), "{}", ran.err);
    assert!(world.run(&["show", "B2"]).out.contains(told));
}

#[test]
fn hours_that_cannot_be_read_change_nothing() {
    let world = World::busy();
    let before = world.json(&["journal", "B2", "--all", "--json"]);
    for (hours, why) in [
        (&["--asked", "Mo-Fr 7-15"][..], "did you mean `Mon-Fri 07:00-15:00`?"),
        (&["--asked", "nights"], "written as `Mon-Fri 07:00-15:00`"),
        (&["--asked", "07:00-15:00", "--any-hour"], "cannot be used with"),
        (&[], "nothing to change"),
    ] {
        let ran = set_hours(&world, "first", hours);
        assert_eq!(ran.code, 2, "{hours:?}");
        assert!(ran.err.contains(why), "{hours:?}: {}", ran.err);
    }
    let ran = set_hours(&world, "third", &["--asked", "07:00-15:00"]);
    assert!(ran.err.contains("a new contact needs"), "{}", ran.err);
    assert_eq!(world.json(&["journal", "B2", "--all", "--json"]), before);
}

#[test]
fn hours_in_the_client_file_count_from_the_enrolment_on() {
    let world = World::empty();
    let path = world.client_file("E5");
    let text = std::fs::read_to_string(&path).unwrap();
    let hours = "language = \"en\"\nasked = [\"Mon-Fri 07:00-15:00\"]";
    std::fs::write(&path, text.replacen("language = \"en\"", hours, 1)).unwrap();
    let ran = world.run(&["enroll", path.to_str().unwrap(), "--by", "desk"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let contacts = world.json(&["contact", "E5", "list", "--json"]);
    assert_eq!(contacts[0]["asked"][0], "Mon-Fri 07:00-15:00");
    assert_eq!(contacts[1]["asked"], serde_json::json!([]));
}
