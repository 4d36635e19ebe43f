//! Where a key comes from, and what a wrong or missing one leads to.

use std::fs;
use std::os::unix::fs::PermissionsExt;

use crate::vault::{
    KEY, OTHER_KEY, bytes, done, encrypted, names_a_key, plain, rows, serve, write_key,
};

/// Commands that look, that write, and the service itself.
const ALL_KINDS: [&[&str]; 3] = [
    &["show"],
    &["report", "B2", "--by", "first", "--words", "no marks", "--taken-by", "desk", "--yes"],
    &["serve"],
];

#[test]
fn a_key_comes_from_a_file_a_program_or_the_service_manager() {
    let world = encrypted();
    fs::write(world.path("key.sh"), format!("#!/bin/sh\necho {KEY}\n")).unwrap();
    fs::set_permissions(world.path("key.sh"), fs::Permissions::from_mode(0o700)).unwrap();
    for setting in
        ["key_file = \"data-key\"", "key_command = [\"./key.sh\"]", "key_credential = \"data-key\""]
    {
        names_a_key(&world, setting);
        let mut command = world.command(&["show"]);
        command.env("CREDENTIALS_DIRECTORY", world.folder.path());
        let ran = command.output().unwrap();
        assert!(ran.status.success(), "{setting}: {}", String::from_utf8_lossy(&ran.stderr));
    }
}

#[test]
fn a_wrong_or_missing_key_is_told_and_changes_no_byte_and_makes_nothing() {
    let world = encrypted();
    // A service that is killed leaves a log, which must not be folded in by another key either.
    drop(serve(&world));
    write_key(&world, "other-key", OTHER_KEY);
    write_key(&world, "no-key", "a passphrase");
    let before = bytes(&world.path("data"));
    assert!(before.keys().any(|name| name.ends_with("-wal")));
    for (setting, told) in [
        ("key_file = \"other-key\"", "cannot be read with the key that is named for it"),
        ("key_file = \"nowhere\"", "the key file of store cannot be read"),
        ("key_file = \"no-key\"", "a key is 64 hexadecimal digits"),
        ("key_command = [\"false\"]", "the program that gives the secret of store failed"),
        ("key_credential = \"data-key\"", "LoadCredential=data-key:"),
        ("", "is not a database"),
    ] {
        names_a_key(&world, setting);
        for words in ALL_KINDS {
            let mut command = world.command(words);
            let ran = command.env_remove("CREDENTIALS_DIRECTORY").output().unwrap();
            let said = String::from_utf8_lossy(&ran.stderr).into_owned();
            assert!(!ran.status.success(), "{setting} {words:?}");
            assert!(said.contains(told), "{setting} {words:?}: {said}");
            let sayings = [KEY, OTHER_KEY, "passphrase", "PRAGMA"];
            assert!(sayings.iter().all(|key| !said.contains(key)), "{said}");
            let names: Vec<String> = bytes(&world.path("data")).into_keys().collect();
            assert!(
                names.iter().all(|name| before.contains_key(name) || !name.contains(".db")),
                "{names:?}"
            );
        }
        let health = world.run(&["health"]);
        assert_eq!(health.code, 5, "{}{}", health.out, health.err);
        assert!(health.out.contains("database    NOT WELL"), "{}", health.out);
        let kept = bytes(&world.path("data"));
        for file in ["fadewatch.db", "fadewatch.db-wal"] {
            assert!(kept[file] == before[file], "{setting}: {file} was changed");
        }
    }
    // And nothing is made where there is nothing.
    fs::rename(world.path("data"), world.path("aside")).unwrap();
    names_a_key(&world, "key_file = \"nowhere\"");
    for words in ALL_KINDS {
        assert_ne!(world.run(words).code, 0);
        assert!(!world.path("data/fadewatch.db").exists(), "{words:?}");
    }
    fs::remove_dir_all(world.path("data")).ok();
    fs::rename(world.path("aside"), world.path("data")).unwrap();
    names_a_key(&world, "key_file = \"data-key\"");
    done(&world, &["journal", "verify"]);
}

#[test]
fn plain_data_under_a_key_is_told_and_left_as_it_is() {
    let world = plain();
    let before = rows(&world.path("data/fadewatch.db"), None);
    names_a_key(&world, "key_file = \"data-key\"");
    for words in ALL_KINDS {
        let ran = world.run(words);
        assert_ne!(ran.code, 0, "{words:?}");
        assert!(ran.err.contains("is not encrypted, but a key is named"), "{}", ran.err);
        assert!(ran.err.contains("fadewatch restore --help"), "{}", ran.err);
    }
    assert_eq!(rows(&world.path("data/fadewatch.db"), None), before);
}

#[test]
fn the_key_is_in_no_log_no_list_of_processes_and_no_file_of_the_data() {
    let world = encrypted();
    let service = serve(&world);
    done(&world, &["backup", "copy.db"]);
    done(&world, &["restore", "--check", "copy.db"]);
    let process = format!("/proc/{}", service.0.id());
    let read = |name: &str| fs::read(format!("{process}/{name}")).unwrap();
    let mut places = bytes(&world.path("data"));
    places.extend(["cmdline", "environ", "comm"].map(|name| (name.to_owned(), read(name))));
    drop(service);
    places.insert("log".to_owned(), fs::read(world.path("log")).unwrap());
    let raw: Vec<u8> =
        (0..32).map(|at| u8::from_str_radix(&KEY[2 * at..2 * at + 2], 16).unwrap()).collect();
    for (place, bytes) in places {
        let text = String::from_utf8_lossy(&bytes).to_lowercase();
        assert!(!text.contains(&KEY[..16]), "{place}");
        assert!(!bytes.windows(16).any(|part| part == &raw[..16]), "{place}");
    }
}

#[test]
fn a_key_beside_a_server_and_two_keys_are_refused_in_the_clinic_file() {
    let world = plain();
    for (setting, told) in [
        ("key_file = \"a\"\nkey_command = [\"b\"]", "two places for one key"),
        ("key_file = \"a\"\npostgres = \"host=x\"", "a key for a database on a server"),
        ("key_file = \"a\"\npassword_file = \"b\"", "`password_file` without a server"),
    ] {
        names_a_key(&world, setting);
        let ran = world.run(&["show"]);
        assert_ne!(ran.code, 0);
        assert!(ran.err.contains(told), "{}", ran.err);
    }
}
