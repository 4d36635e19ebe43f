//! Commands for whoever keeps the service running: health, backups, what was set aside, the shell.

use std::fs;

use chrono::{TimeDelta, Utc};
use fadewatch::store::{Filing, Place, RememberedInstant};

use super::world::World;

#[test]
fn health_is_well_only_while_the_service_lives_and_mail_flows() {
    let world = World::empty();
    let health = |world: &World| {
        let ran = world.run(&["health", "--json"]);
        let found: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
        let unwell: Vec<String> = found["checks"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|check| check["well"] == false)
            .map(|check| check["check"].as_str().unwrap().to_owned())
            .collect();
        assert_eq!(found["well"], ran.code == 0);
        (ran.code, unwell)
    };
    assert_eq!(health(&world), (5, vec!["service".to_owned()]));
    let now = Utc::now();
    world.write(move |_, tx| Ok(tx.remember(RememberedInstant::LastAlive, now)?));
    assert_eq!(health(&world), (0, vec![]));
    let long_ago = now - TimeDelta::hours(2);
    world.write(move |_, tx| {
        tx.put_received(Place::by_bytes(b"lost"), b"lost", long_ago)?;
        Ok(())
    });
    assert_eq!(health(&world), (5, vec!["inbox".to_owned()]));
}

#[test]
fn health_of_data_that_cannot_be_read_says_so_and_fails() {
    let world = World::empty();
    world.store.close();
    fs::write(world.path("data/fadewatch.db"), "no database at all").unwrap();
    let ran = world.run(&["health"]);
    assert_eq!(ran.code, 5);
    assert!(ran.out.contains("database    NOT WELL  cannot be read"), "{}", ran.out);
    let ran = world.run(&["show"]);
    assert_eq!((ran.code, ran.out.as_str()), (1, ""));
    assert!(ran.err.contains("hint: "), "{}", ran.err);
}

#[test]
fn a_backup_is_made_once_and_proves_usable() {
    let world = World::busy();
    let ran = world.run(&["backup", "copy.db"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(ran.out.starts_with("copy.db: 4 follow-ups"), "{}", ran.out);
    let again = world.run(&["backup", "copy.db"]);
    assert_eq!(again.code, 4);
    assert!(again.err.contains("never overwrites"), "{}", again.err);
    let checked = world.json(&["restore", "--check", "copy.db", "--json"]);
    assert_eq!((&checked["usable"], &checked["follow_ups"]), (&true.into(), &4.into()));
    let left: Vec<_> = fs::read_dir(world.folder.path()).unwrap().collect();
    assert!(left.iter().all(|entry| {
        let name = entry.as_ref().unwrap().file_name();
        !name.to_string_lossy().starts_with("copy.db-")
    }));
}

#[test]
fn a_copy_that_was_changed_or_damaged_is_not_called_usable() {
    let world = World::busy();
    world.run(&["backup", "changed.db"]);
    fs::copy(world.path("changed.db"), world.path("damaged.db")).unwrap();
    let database = rusqlite::Connection::open(world.path("changed.db")).unwrap();
    let change = "UPDATE follow_up SET state =
                    (SELECT state FROM follow_up WHERE client_ref = 'B2')
                  WHERE client_ref = 'C3'";
    database.execute_batch(change).unwrap();
    drop(database);
    let ran = world.run(&["restore", "--check", "changed.db"]);
    assert_eq!(ran.code, 5, "{}{}", ran.out, ran.err);
    assert!(ran.out.contains("C3: the state kept is not what its record leads to"), "{}", ran.out);

    let mut bytes = fs::read(world.path("damaged.db")).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle..middle + 8192].fill(0xA5);
    fs::write(world.path("damaged.db"), bytes).unwrap();
    assert_ne!(world.run(&["restore", "--check", "damaged.db"]).code, 0);
    assert_eq!(world.run(&["restore", "--check", "nowhere.db"]).code, 3);
}

#[test]
fn mail_that_was_set_aside_is_shown_with_its_words_and_cannot_steer_the_terminal() {
    let world = World::empty();
    assert_eq!(world.run(&["aside"]).out, "No mail was set aside.\n");
    let mail = b"From: stranger@home.example\r\nTo: checks@clinic.example\r\nSubject: hello\r\n\
                 \r\nThe skin looks dark\x1b[31m today\r\n";
    world.write(move |_, tx| {
        let id = tx.put_received(Place::by_bytes(mail), mail, Utc::now())?.unwrap();
        let note = "unknown sender".to_owned();
        Ok(tx.set_received_aside(id, &Filing { follow_up: None, person: None, note })?)
    });
    let ran = world.run(&["aside"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(ran.out.contains("from stranger@home.example: unknown sender"), "{}", ran.out);
    assert!(ran.out.contains("> The skin looks dark"), "{}", ran.out);
    assert!(!ran.out.contains('\u{1b}'));
    assert_eq!(world.json(&["aside", "--json"])[0]["why"], "unknown sender");
}

#[test]
fn completions_and_manual_pages_are_written_by_the_program_itself() {
    let world = World::empty();
    for shell in ["bash", "zsh", "fish"] {
        let ran = world.run(&["completions", shell]);
        assert_eq!(ran.code, 0);
        assert!(ran.out.contains("report"), "{shell}");
    }
    assert_eq!(world.run(&["man-pages", "man"]).code, 0);
    let page = fs::read_to_string(world.path("man/fadewatch-report.1")).unwrap();
    assert!(page.contains("taken"), "{page}");
}

#[test]
fn a_reader_that_stops_reading_is_no_failure() {
    let world = World::busy();
    let mut command = std::process::Command::new("sh");
    let program = assert_cmd::cargo::cargo_bin!("fadewatch");
    let script = format!("'{}' journal A7 --all --json 2>err | head -c 1", program.display());
    let output = command.arg("-c").arg(script).current_dir(world.folder.path()).output().unwrap();
    assert_eq!(output.stdout, b"[");
    assert_eq!(fs::read_to_string(world.path("err")).unwrap(), "");
}

#[test]
fn a_wording_of_the_clinics_own_is_used_and_a_broken_one_is_refused_by_its_key() {
    let world = World::busy();
    let clinic = fs::read_to_string(world.path("clinic.toml")).unwrap();
    fs::write(world.path("clinic.toml"), format!("languages_folder = \"words\"\n{clinic}"))
        .unwrap();
    let shipped = concat!(env!("CARGO_MANIFEST_DIR"), "/config/languages/en/wording.toml");
    let shipped = fs::read_to_string(shipped).unwrap();
    let title = "title = \"Skin-check follow-up after a seat fitting\"";
    assert!(shipped.contains(title));
    let put = |to: &str| {
        fs::create_dir_all(world.path("words/en")).unwrap();
        fs::write(world.path("words/en/wording.toml"), shipped.replace(title, to)).unwrap();
    };
    put("title = \"Our own title\"");
    assert!(world.run(&["letter", "A7", "--text"]).out.contains("Our own title"));
    put("titel = \"Our own title\"");
    let ran = world.run(&["letter", "A7", "--text"]);
    assert_eq!(ran.code, 1);
    assert!(ran.err.contains("did you mean `letter.title`?"), "{}", ran.err);
}

#[test]
fn the_schemas_of_all_settings_files_are_printed_and_written() {
    let world = World::empty();
    let one = world.json(&["schema", "plan"]);
    assert_eq!(one["title"], "the plan");
    let ran = world.run(&["schema", "--folder", "schemas"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let written = fs::read_to_string(world.path("schemas/plan.schema.json")).unwrap();
    assert_eq!(serde_json::from_str::<serde_json::Value>(&written).unwrap(), one);
    let kinds = [
        "clinic",
        "client",
        "fitting",
        "plan",
        "scenario",
        "review-guide",
        "wording",
        "fitting-words",
        "lexicon",
    ];
    for kind in kinds {
        let path = world.path(&format!("schemas/{kind}.schema.json"));
        let written = fs::read_to_string(path).unwrap();
        let written: serde_json::Value = serde_json::from_str(&written).unwrap();
        assert_eq!(world.json(&["schema", kind]), written, "{kind}");
    }
    assert_eq!(fs::read_dir(world.path("schemas")).unwrap().count(), kinds.len());
    assert_eq!(world.run(&["schema", "plann"]).code, 2);
}

#[test]
fn the_metrics_say_what_health_says_in_a_format_that_a_collector_reads() {
    let world = World::empty();
    let ran = world.run(&["health", "--metrics"]);
    assert_eq!(ran.code, 5);
    let read = crate::python::run("command/read_metrics.py", &[], ran.out.as_bytes());
    let read: serde_json::Value = serde_json::from_str(&read).unwrap();
    assert_eq!(read["fadewatch_well service"], 0.0);
    assert_eq!(read["fadewatch_well database"], 1.0);
    assert_eq!(read["fadewatch_waiting outbox"], 0.0);
}
