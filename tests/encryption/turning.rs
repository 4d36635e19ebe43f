//! Data that becomes encrypted, changes its key and becomes plain again; what is then on the disk.

use std::fs;
use std::time::Duration;

use crate::vault::{
    KEY, OTHER_KEY, WORDS, bytes, done, encrypted, holds, names_a_key, plain, rows, serve,
    write_key,
};

#[test]
fn plain_data_becomes_encrypted_then_of_another_key_then_plain_and_no_row_is_lost() {
    let world = plain();
    let database = world.path("data/fadewatch.db");
    let before = rows(&database, None);
    assert!(before.values().map(Vec::len).sum::<usize>() > 50);
    write_key(&world, "other-key", OTHER_KEY);
    for (setting, key, of_the_copy) in [
        ("key_file = \"data-key\"", Some(KEY), None),
        ("key_file = \"other-key\"", Some(OTHER_KEY), Some("data-key")),
        ("", None, Some("other-key")),
    ] {
        done(&world, &["backup", "copy.db"]);
        names_a_key(&world, setting);
        let taken = world.run(&["restore", "--load", "copy.db"]);
        assert_ne!(taken.code, 0, "it was laid over what is kept");
        fs::remove_dir_all(world.path("data")).unwrap();
        let mut words = vec!["restore", "--load", "copy.db"];
        if let Some(key) = of_the_copy {
            let unknown = world.run(&words);
            assert_ne!(unknown.code, 0, "the copy's own key is asked for");
            assert!(!database.exists());
            words.extend(["--key-file", key]);
        }
        done(&world, &words);
        assert_eq!(rows(&database, key), before, "{setting}");
        done(&world, &["journal", "verify"]);
        fs::remove_file(world.path("copy.db")).unwrap();
    }
}

#[test]
fn no_planted_word_is_on_the_disk_and_the_commands_work_as_ever() {
    let world = encrypted();
    for words in [
        vec!["show"],
        vec!["show", "A7"],
        vec!["alerts"],
        vec!["due"],
        vec!["journal", "verify"],
        vec!["journal", "A7"],
        vec!["export", "A7"],
        vec!["letter", "A7", "--text"],
        vec!["report", "B2", "--by", "first", "--words", "no marks", "--taken-by", "desk", "--yes"],
        vec!["decide", "A7", "--by", "seating", "keep-stopped"],
        vec!["forget", "D4", "--by", "seating", "--really", "D4"],
    ] {
        done(&world, &words);
    }
    let service = serve(&world);
    done(
        &world,
        &["report", "C3", "--by", "first", "--words", "no marks", "--taken-by", "desk", "--yes"],
    );
    done(&world, &["backup", "copy.db"]);
    assert!(world.run(&["health"]).out.contains("last sign of life"));
    // Killed, so that its log stays beside the file.
    drop(service);
    let mut looked_at = 0;
    for (name, bytes) in bytes(&world.path("data")) {
        for word in WORDS {
            assert!(!holds(&bytes, word), "{word} is in {name}");
        }
        looked_at += usize::from(name.starts_with("fadewatch.db"));
    }
    assert!(looked_at >= 2, "the write-ahead log was not there to be looked at");
    let copy = fs::read(world.path("copy.db")).unwrap();
    for word in WORDS {
        assert!(!holds(&copy, word), "{word} is in the copy");
    }
    let checked = world.json(&["restore", "--check", "copy.db", "--json"]);
    assert_eq!((&checked["usable"], &checked["follow_ups"]), (&true.into(), &4.into()));
    // The same look finds them in what is not encrypted.
    let plain = fs::read(plain().path("data/fadewatch.db")).unwrap();
    for word in WORDS {
        assert!(holds(&plain, word), "{word}");
    }
}

#[test]
fn a_copy_that_is_put_in_place_is_there_whole_or_not_at_all_whenever_it_is_cut_short() {
    let world = plain();
    let before = rows(&world.path("data/fadewatch.db"), None);
    done(&world, &["backup", "copy.db"]);
    names_a_key(&world, "key_file = \"data-key\"");
    let (data, database) = (world.path("data"), world.path("data/fadewatch.db"));
    let (mut cut, mut whole) = (0, 0);
    for after_ms in (0..).step_by(7) {
        let _ = fs::remove_dir_all(&data);
        let mut restoring = std::process::Command::new(assert_cmd::cargo::cargo_bin!("fadewatch"))
            .args(["restore", "--load", "copy.db", "--config", "clinic.toml"])
            .current_dir(world.folder.path())
            .stdout(std::process::Stdio::null())
            .spawn()
            .unwrap();
        std::thread::sleep(Duration::from_millis(after_ms));
        let _ = restoring.kill();
        let ended = restoring.wait().unwrap();
        if database.exists() {
            assert_eq!(rows(&database, Some(KEY)), before);
        } else {
            assert!(!ended.success());
            cut += 1;
        }
        // What is left of a first try is in no later one's way.
        if cut > 0 && !database.exists() && data.exists() {
            done(&world, &["restore", "--load", "copy.db"]);
            assert_eq!(rows(&database, Some(KEY)), before);
        }
        whole += usize::from(ended.success());
        if whole > 0 {
            break;
        }
    }
    assert!(cut > 0 && whole > 0);
    assert_eq!(rows(&world.path("copy.db"), None), before, "the copy is as it was");
}
