//! Commands that only look.

use chrono::Days;
use fadewatch::care::{Reading, Verdict};

use super::world::World;

/// What a command prints, on both streams, with its exit code.
fn check(world: &World, name: &str, args: &[&str]) {
    let ran = world.run(args);
    let shown = format!(
        "$ fadewatch {}\n{}{}[{}]\n",
        args.join(" "),
        ran.out,
        ran.err.lines().map(|line| format!("! {line}\n")).collect::<String>(),
        ran.code
    );
    insta::with_settings!({ omit_expression => true, prepend_module_to_snapshot => false }, {
        insta::assert_snapshot!(name, world.lasting(&shown));
    });
}

#[test]
fn the_list_begins_with_whoever_needs_somebody() {
    check(&World::busy(), "show", &["show"]);
}

#[test]
fn a_clients_page_says_how_it_stands_and_why() {
    let world = World::busy();
    check(&world, "show-stopped", &["show", "A7"]);
    check(&world, "show-unanswered", &["show", "B2"]);
}

#[test]
fn what_is_due_and_which_alerts_wait_are_listed() {
    let world = World::busy();
    check(&world, "due", &["due"]);
    check(&world, "alerts", &["alerts"]);
}

#[test]
fn the_journal_reads_in_plain_words_with_rule_and_cause() {
    let world = World::busy();
    check(&world, "journal", &["journal", "A7"]);
    check(&world, "journal-all", &["journal", "A7", "--all"]);
}

#[test]
fn a_journal_that_was_cut_says_so() {
    let world = World::busy();
    let older = "There are older entries";
    assert!(!world.run(&["journal", "C3"]).out.starts_with(older));
    let clear = Verdict::bare(Reading::Clear);
    for day in 1..6 {
        let date = world.today + Days::new(day);
        for hour in [9, 11] {
            world.pass_until(date, hour, 45);
            world.say("C3", "first", &clear, world.at(date, hour, 45));
        }
    }
    assert!(world.run(&["journal", "C3"]).out.starts_with(older));
}

#[test]
fn a_clinic_without_clients_is_told_so() {
    let world = World::empty();
    for args in [&["show"][..], &["due"], &["alerts"]] {
        let ran = world.run(args);
        assert_eq!((ran.code, ran.err.as_str()), (0, ""), "{args:?}");
        assert!(ran.out.starts_with("No"), "{}", ran.out);
    }
    let ran = world.run(&["show", "A7"]);
    assert_eq!(ran.code, 3);
    assert!(ran.err.contains("nobody is enrolled yet"), "{}", ran.err);
}

#[test]
fn json_says_the_same_as_the_tables() {
    let world = World::busy();
    let all = world.json(&["show", "--json", "--all"]);
    let clients: Vec<&str> =
        all.as_array().unwrap().iter().map(|one| one["client"].as_str().unwrap()).collect();
    assert_eq!(clients, ["A7", "B2", "C3", "D4"]);
    assert_eq!(all[0]["standing"], "stopped");
    assert_eq!(all[0]["waiting_for"], "clinician");
    assert_eq!(all[1]["waiting_for"], "answer");
    assert_eq!(all[2]["run"], 4);
    assert_eq!(all[3]["standing"], "closed");

    let page = world.json(&["show", "B2", "--json"]);
    assert_eq!(page["contacts"][0]["mail"], "robin@home.example");
    assert_eq!(page["open_looks"][0]["asking"], "first");
    let alerts = world.json(&["alerts", "--json"]);
    assert_eq!(alerts[0]["sent"]["seating"], 1);
    let due = world.json(&["due", "--json", "--limit", "2"]);
    assert_eq!(due.as_array().unwrap().len(), 2);
    assert_eq!(due[0]["overdue"], false);

    let journal = world.json(&["journal", "A7", "--all", "--json"]);
    let journal = journal.as_array().unwrap();
    assert_eq!(journal[0]["entry"]["what"], "enrolled");
    assert_eq!(journal[0]["number"], 1);
    let stop = journal.iter().find(|line| line["entry"]["what"] == "stopped").unwrap();
    assert_eq!((&stop["rule"], &stop["occasion"]), (&"R11".into(), &"phone".into()));
    assert_eq!(stop["occasion_detail"]["taken_by"], "desk");
}

#[test]
fn a_journal_that_was_changed_by_other_hands_shows_in_the_exit_code() {
    let world = World::busy();
    let ran = world.run(&["journal", "verify"]);
    assert_eq!((ran.code, ran.err.as_str()), (0, ""));
    assert!(ran.out.ends_with("all as they were written.\n"));

    let database = rusqlite::Connection::open(world.path("data/fadewatch.db")).unwrap();
    database
        .execute_batch(
            "DROP TRIGGER journal_is_never_changed;
             UPDATE journal SET rule = 'R1' WHERE seq = 9;",
        )
        .unwrap();
    drop(database);
    let ran = world.run(&["journal", "verify", "--json"]);
    assert_eq!(ran.code, 5);
    let found: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!(found["untouched"], false);
    assert_eq!(found["findings"].as_array().unwrap().len(), 1);
}

#[test]
fn no_colour_leaves_the_program_where_nobody_looks_at_a_terminal() {
    let ran = World::busy().run(&["show"]);
    assert!(!ran.out.contains('\u{1b}'));
}

#[test]
fn every_command_has_an_example_in_its_help() {
    let world = World::empty();
    for command in [
        "serve", "enroll", "show", "report", "decide", "due", "alerts", "journal", "pause",
        "unpause", "contact", "plan", "aside", "health", "backup", "restore",
    ] {
        let help = world.run(&[command, "--help"]);
        assert_eq!(help.code, 0);
        assert!(help.out.contains("Example"), "{command} has no example");
    }
    assert!(world.run(&["--help"]).out.contains("Exit codes:"));
}
