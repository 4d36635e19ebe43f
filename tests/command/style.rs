//! What all commands have in common.

use serde_json::json;

use super::world::World;

/// The commands below one, as its help lists them.
fn commands(world: &World, path: &[&str]) -> Vec<String> {
    let help = world.run(&[path, &["--help"]].concat()).out;
    let Some((_, list)) = help.split_once("\nCommands:\n") else { return Vec::new() };
    let list = list.split("\n\n").next().unwrap();
    let names = list.lines().filter(|line| line.starts_with("  ") && !line.starts_with("   "));
    let names = names.map(|line| line.split_whitespace().next().unwrap().to_owned());
    names.filter(|name| name != "help").collect()
}

fn all_commands(world: &World) -> Vec<Vec<String>> {
    let mut all = Vec::new();
    for name in commands(world, &[]) {
        let inner = commands(world, &[&name]);
        all.extend(inner.into_iter().map(|inner| vec![name.clone(), inner]));
        all.push(vec![name]);
    }
    all
}

#[test]
fn every_command_shows_an_example_its_exit_codes_and_prints_json() {
    let world = World::empty();
    let all = all_commands(&world);
    assert!(all.len() > 30, "{all:?}");
    for command in &all {
        let path: Vec<&str> = command.iter().map(String::as_str).collect();
        let help = world.run(&[&path[..], &["--help"]].concat()).out;
        assert!(help.contains("Example"), "{command:?} has no example");
        assert!(help.contains("Exit codes: 0 done"), "{command:?} says nothing of exit codes");
        // Those that only hold others print nothing of their own.
        let holds_others = all.iter().any(|other| other.len() > 1 && other[0] == command[0])
            && help.contains("<COMMAND>");
        assert!(holds_others || help.contains("--json"), "{command:?} has no --json");
    }
}

#[test]
fn every_exit_code_is_described() {
    let help = World::empty().run(&["--help"]).out;
    let (_, codes) = help.split_once("Exit codes:").unwrap();
    let described: Vec<&str> =
        codes.lines().filter_map(|line| line.split_whitespace().next()).collect();
    assert_eq!(described, ["0", "1", "2", "3", "4", "5"]);
}

#[test]
fn what_is_piped_holds_no_progress() {
    let world = World::busy();
    for args in [
        &["journal", "verify"][..],
        &["backup", "copy.db"],
        &["restore", "--check", "copy.db"],
        &["export", "A7"],
        &["simulate", "--seeds", "0..2", "--days", "2"],
    ] {
        let ran = world.run(args);
        assert_eq!((ran.code, ran.err.as_str()), (0, ""), "{args:?}");
        assert!(!ran.out.contains('\r') && !ran.out.contains('\u{1b}'), "{args:?}");
    }
}

#[test]
fn what_prints_a_format_of_its_own_prints_json_too() {
    let world = World::busy();
    let calendar = world.json(&["calendar", "C3", "--days", "2", "--json"]);
    assert!(calendar["calendar"].as_str().unwrap().starts_with("BEGIN:VCALENDAR"));
    assert!(calendar["entries"].as_u64().unwrap() > 0);
    let letter = world.json(&["letter", "C3", "--json"]);
    assert!(letter["html"].as_str().unwrap().contains("<html"), "{letter}");
    let tally = world.json(&["simulate", "--seeds", "0..2", "--days", "2", "--json"]);
    assert_eq!((&tally["runs"], &tally["broken"]), (&json!(2), &json!([])));
    let files = world.json(&["schema", "--folder", "schemas", "--json"]);
    assert!(files.as_array().unwrap().contains(&json!("schemas/wording.schema.json")), "{files}");
}

#[test]
fn commands_work_while_the_service_is_down_and_say_what_waits_for_it() {
    let world = World::busy();
    for (args, done) in [
        (&["pause", "C3", "--why", "holiday", "--by", "desk"][..], "paused"),
        (&["unpause", "C3", "--by", "seating"], "ended"),
        (&["decide", "A7", "seen", "--by", "seating"], "A7"),
        (&["cover", "set", "duty", "--by", "desk"], "duty"),
        (&["contact", "B2", "order", "second", "first", "--by", "desk"], "B2"),
    ] {
        let ran = world.run(args);
        assert_eq!(ran.code, 0, "{args:?}: {}", ran.err);
        assert!(ran.out.contains(done), "{args:?}: {}", ran.out);
        assert!(ran.err.contains("waits until `fadewatch serve`"), "{args:?}: {}", ran.err);
    }
}

#[test]
fn a_clinic_file_saved_by_a_word_processor_is_told_as_such_or_taken() {
    let world = World::empty();
    let path = world.path("clinic.toml");
    let text = std::fs::read_to_string(&path).unwrap();
    // A byte order mark and the line ends of another system change nothing.
    std::fs::write(&path, format!("\u{feff}{}", text.replace('\n', "\r\n"))).unwrap();
    assert_eq!(world.run(&["show"]).code, 0);
    // Curly quotes are told, all at once, and nothing is read out of them.
    std::fs::write(&path, text.replace("\"Riverside Seating Clinic\"", "“Riverside”")).unwrap();
    let ran = world.run(&["show"]);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("“Riverside”") && ran.err.contains("quote"), "{}", ran.err);
}

#[test]
fn a_file_that_is_not_there_is_told_in_one_line_with_what_to_do() {
    let world = World::empty();
    for args in [
        &["enroll", "nobody.toml"][..],
        &["plan", "check", "none.toml"],
        &["rehearse", "none.toml"],
        &["show", "--config", "elsewhere.toml"],
    ] {
        let ran = world.run(args);
        assert_eq!(ran.code, 3, "{args:?}: {}", ran.err);
        assert!(ran.err.contains("there is no"), "{args:?}: {}", ran.err);
    }
    assert!(world.run(&["due", "--config", "elsewhere.toml"]).err.contains("`fadewatch setup`"));
}
