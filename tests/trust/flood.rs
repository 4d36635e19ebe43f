//! Floods of mail, and machines that answer each other.

use std::time::{Duration, Instant};

use chrono::TimeDelta;
use fadewatch::care::ClientRef;
use fadewatch::store::{StoreError, Urgency};

use crate::post_box::{mail, mails_out, reply_to, take};
use crate::world::World;

/// A clinic with one client whose contact has an address of their own.
fn world() -> (World, String) {
    let world = World::empty();
    world.enroll("B2");
    world.pass_until(world.today, 9, 15);
    let to = reply_to(&world, "robin@home.example");
    (world, to)
}

fn is_stopped(world: &World) -> bool {
    world
        .store
        .read_blocking(|view| {
            let client = ClientRef::new("B2").unwrap();
            let follow_up = view.follow_up_of(&client)?.unwrap();
            Ok::<_, StoreError>(view.load(follow_up)?.state.is_stopped())
        })
        .unwrap()
}

#[test]
fn two_machines_that_answer_each_other_stop_and_a_worrying_word_still_gets_through() {
    let (world, to) = world();
    let noon = world.at(world.today, 12, 0);
    let mut sent = Vec::new();
    for number in 0..200 {
        let now = noon + TimeDelta::seconds(number);
        // No header says that a machine wrote this.
        let raw =
            mail("robin@home.example", &to, &format!("m{number}"), "Thank you for your mail!");
        let before = mails_out(&world);
        take(&world, &raw, now);
        sent.push(mails_out(&world) - before);
    }
    let answered: usize = sent.iter().sum();
    assert!(answered < 100, "{answered} mails went out over 200");
    assert_eq!(sent[100..].iter().sum::<usize>(), 0, "it goes on without end");

    let worrying =
        mail("robin@home.example", &to, "w", "Dark patch on the tailbone, skin is broken");
    take(&world, &worrying, noon + TimeDelta::minutes(10));
    assert!(is_stopped(&world), "a worrying word was lost in the flood");
}

#[test]
fn a_flood_of_strangers_mail_is_told_as_a_flood_and_each_mail_is_kept() {
    let (world, _) = world();
    let noon = world.at(world.today, 12, 0);
    let before = mails_out(&world);
    for number in 0..100 {
        let from = format!("stranger-{number}@nowhere.example");
        let raw = mail(&from, "checks@clinic.example", &format!("s{number}"), "Buy this");
        take(&world, &raw, noon + TimeDelta::seconds(number));
    }
    let shown = mails_out(&world) - before;
    assert!((10..30).contains(&shown), "{shown} notices about 100 mails");
    let newest = world.store.read_blocking(|view| view.newest_mails(1)).unwrap().remove(0);
    assert_eq!(newest.urgency, Urgency::Alert);
    let raw = world.store.read_blocking(|view| view.raw_mail(newest.id)).unwrap().unwrap();
    assert!(String::from_utf8_lossy(&raw).contains("fadewatch aside"));
    let aside = world.store.read_blocking(|view| view.received_set_aside(1000)).unwrap();
    assert_eq!(aside.len(), 100);
}

#[test]
fn beyond_what_a_day_may_bring_only_the_head_of_strangers_mail_is_kept_and_it_is_told_once() {
    let (world, to) = world();
    let noon = world.at(world.today, 12, 0);
    let (large, count) = (vec![b'x'; 20 * 1024 * 1024], 16);
    let with = |mut head: Vec<u8>| {
        head.extend_from_slice(&large);
        head
    };
    for number in 0..count {
        let from = format!("stranger-{number}@nowhere.example");
        let mut raw = mail(&from, "checks@clinic.example", &format!("s{number}"), "Buy this");
        if number % 2 == 0 {
            // A machine's mail is filed without being shown; it fills a disk all the same.
            raw = [b"Auto-Submitted: auto-replied\r\n".as_slice(), &raw].concat();
        }
        take(&world, &with(raw), noon + TimeDelta::seconds(number));
    }
    let bytes = std::fs::metadata(world.path("data/fadewatch.db")).unwrap().len();
    let sent = large.len() as u64 * count as u64;
    println!("strangers sent {} MiB; the data has {} MiB", sent >> 20, bytes >> 20);
    assert!(bytes < 260 * 1024 * 1024, "{bytes} bytes are kept of {sent}");
    let told = |world: &World| {
        world
            .store
            .read_blocking(|view| {
                let mut told = 0;
                for record in view.newest_mails(10_000)? {
                    let raw = view.raw_mail(record.id)?.unwrap_or_default();
                    let words = String::from_utf8_lossy(&raw).replace("=\r\n", "");
                    told += usize::from(words.contains("not on file within a day"));
                }
                Ok::<_, StoreError>(told)
            })
            .unwrap()
    };
    assert_eq!(told(&world), 1);
    // Each is still there with who sent it.
    let aside = world.store.read_blocking(|view| view.received_set_aside(1000)).unwrap();
    assert_eq!(aside.len(), 8);
    let newest = &aside[0];
    assert!(newest.note.contains("only its head is kept"), "{}", newest.note);
    let id = newest.id;
    let kept = world.store.read_blocking(move |view| view.raw_received(id)).unwrap().unwrap();
    assert!(
        String::from_utf8_lossy(&kept).contains("From: Somebody <stranger-15@nowhere.example>")
    );

    // Somebody on file is no stranger: kept whole, and heard.
    let worrying =
        mail("robin@home.example", &to, "w", "Dark patch on the tailbone, skin is broken");
    let length = worrying.len();
    take(&world, &worrying, noon + TimeDelta::minutes(10));
    assert!(is_stopped(&world), "a worrying word was lost in the flood");
    let is_whole = world.store.read_blocking(move |view| {
        let (_, newest) = view.newest_occasions(Some("reply"), 1)?.remove(0);
        let raw = view.raw_received(newest.inbox().unwrap())?;
        Ok::<_, StoreError>(raw.is_some_and(|raw| raw.len() == length))
    });
    assert!(is_whole.unwrap());
}

#[test]
fn a_mail_of_endless_words_holds_nobody_up() {
    let (world, to) = world();
    let noon = world.at(world.today, 12, 0);
    let letters: String = ('a'..='z').cycle().take(1_000_000).collect();
    for (id, words) in [
        ("one-letter", "x".repeat(1_000_000)),
        ("two-letters", "xy".repeat(500_000)),
        ("all-letters", letters),
        ("stretched", "noooo ".repeat(200_000)),
        ("denied", "not ".repeat(250_000)),
        ("marks", "?!".repeat(500_000)),
    ] {
        let begun = Instant::now();
        take(&world, &mail("robin@home.example", &to, id, &words), noon);
        let took = begun.elapsed();
        println!("{id}: {} ms", took.as_millis());
        // The writer is held for so long; unoptimised, on a busy machine.
        assert!(took < Duration::from_secs(20), "{id} took {took:?}");
    }
}
