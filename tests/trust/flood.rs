//! Floods of mail, and machines that answer each other.

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
