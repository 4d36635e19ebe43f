//! Forgetting a client: nothing personal is left in any byte of the data, and the record verifies.

use std::path::Path;

use fadewatch::care::ClientRef;
use fadewatch::store::{FollowUpId, StoreError};

use crate::post_box::{mail, reply_to, take};
use crate::world::World;

/// Names, addresses and words that stand nowhere else.
const CANARIES: [&str; 6] = [
    "Quillfeather",
    "Zebulon",
    "zebulon-71@home.example",
    "Wilhelmina",
    "wilhelmina-72@home.example",
    "plumcoloured",
];

/// Enrols and closes a client with people and words of its own.
fn world() -> World {
    let world = World::busy();
    let path = world.client_file("E5");
    let text = std::fs::read_to_string(&path).unwrap();
    let text = text
        .replace("Sam", "Quillfeather")
        .replace("Robin", "Zebulon")
        .replace("robin@home.example", "zebulon-71@home.example")
        .replace("Kim", "Wilhelmina")
        .replace("kim@neighbour.example", "wilhelmina-72@home.example");
    std::fs::write(&path, text).unwrap();
    let at = world.at(world.today - chrono::Days::new(1), 0, 5);
    let today = world.today - chrono::Days::new(1);
    world.write(move |office, tx| {
        let file = fadewatch::config::read_client(&path, &office.clinic, today).unwrap().value;
        fadewatch::service::enrolling::enroll(office, tx, &file, "test", at).map(|_| ())
    });
    world.pass_until(world.today, 9, 15);
    let to = reply_to(&world, "zebulon-71@home.example");
    let words = "plumcoloured patch on the left sit bone, still there after 40 minutes";
    let answer = mail("zebulon-71@home.example", &to, "a", words);
    take(&world, &answer, world.at(world.today, 9, 20));
    // Without a token, so that it belongs to nobody, and the clinic is shown its words.
    let loose = mail("Zebulon-71@home.example", "checks@clinic.example", "b", "plumcoloured, no?");
    take(&world, &loose, world.at(world.today, 9, 25));
    world
}

fn follow_up(world: &World, client: &str) -> FollowUpId {
    let client = ClientRef::new(client).unwrap();
    world.store.read_blocking(|view| view.follow_up_of(&client)).unwrap().unwrap()
}

/// Where in the files of a folder some words stand, in any letter case.
fn found_in(folder: &Path, words: &str) -> Vec<String> {
    let words = words.to_lowercase().into_bytes();
    let mut places = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if !path.is_file() {
            continue;
        }
        let bytes = std::fs::read(&path).unwrap().to_ascii_lowercase();
        if bytes.windows(words.len()).any(|window| window == words) {
            places.push(path.display().to_string());
        }
    }
    places
}

#[test]
fn what_is_forgotten_is_in_no_byte_of_the_data_and_the_journal_still_verifies() {
    let world = world();
    let data = world.path("data");
    for canary in CANARIES {
        assert!(!found_in(&data, canary).is_empty(), "{canary} was never there");
    }
    let before = world.store.read_blocking(|view| view.load(follow_up(&world, "E5"))).unwrap();
    let refused = world.run(&["forget", "E5", "--by", "seating", "--really", "E5"]);
    assert_eq!(refused.code, 4, "{}", refused.err);
    assert!(refused.err.contains("still runs"), "{}", refused.err);

    let exported = world.json(&["export", "E5"]).to_string();
    for canary in CANARIES {
        assert!(
            exported.to_lowercase().contains(&canary.to_lowercase()),
            "{canary} is not exported"
        );
    }
    assert_eq!(world.run(&["decide", "E5", "--by", "seating", "close"]).code, 0);
    for wrong in [["E5", "seating", "A7"], ["E5", "desk", "E5"]] {
        let ran = world.run(&["forget", wrong[0], "--by", wrong[1], "--really", wrong[2]]);
        assert_ne!(ran.code, 0);
        assert!(!found_in(&data, "Zebulon").is_empty());
    }
    let forgotten = world.run(&["forget", "E5", "--by", "seating", "--really", "E5"]);
    assert_eq!(forgotten.code, 0, "{}", forgotten.err);
    for canary in CANARIES {
        assert_eq!(found_in(&data, canary), Vec::<String>::new(), "{canary} is left");
    }

    let id = follow_up(&world, "E5");
    world
        .store
        .read_blocking(|view| {
            view.check_integrity()?;
            assert_eq!(view.verify_journal()?.findings, []);
            assert!(view.is_state_as_journalled(id)?);
            assert!(view.is_forgotten(id)?);
            assert!(!view.is_forgotten(follow_up(&world, "A7"))?);
            assert_eq!(view.newest_occasions(Some("forgotten"), 10)?.len(), 1);
            assert!(view.load(id)?.head.entries > before.head.entries);
            Ok::<_, StoreError>(())
        })
        .unwrap();
    // What is left of it can be looked at, and the others are untouched.
    for words in [
        &["show", "E5"][..],
        &["export", "E5"],
        &["journal", "E5"],
        &["letter", "E5"],
        &["show", "A7"],
    ] {
        let ran = world.run(words);
        assert_eq!(ran.code, 0, "{words:?}: {}", ran.err);
        assert!(!ran.out.contains("Zebulon"));
    }
}
