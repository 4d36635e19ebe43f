//! The daily message, backups in rotation, and what has been kept for long enough.

use std::path::Path;

use chrono::{NaiveTime, TimeDelta};
use fadewatch::config::Backups;
use fadewatch::follow_up::Instant;
use fadewatch::service::{backing_up, daily};
use fadewatch::store::{MailStatus, RememberedInstant, StoreError, Urgency};
use mail_parser::MessageParser;

use crate::world::World;

/// Writes the day's message, where it is due then. Returns whether it was.
fn message_at(world: &World, now: Instant) -> bool {
    let before = newest(world);
    world.write(move |office, tx| {
        let report = daily::report(office, tx, now)?;
        daily::write(office, tx, report, now).map(|_| ())
    });
    newest(world) != before
}

fn newest(world: &World) -> Option<fadewatch::store::MailRecord> {
    world.store.read_blocking(|view| view.newest_mail_of(Urgency::Digest)).unwrap()
}

fn is_held_up(world: &World, now: Instant) -> bool {
    world.store.read_blocking(move |view| daily::is_held_up(view, now)).unwrap()
}

#[test]
fn one_message_a_day_says_how_all_stand_and_one_that_does_not_leave_is_noticed() {
    let world = World::busy();
    let first = world.at(world.today, 8, 0);
    assert!(!message_at(&world, first - TimeDelta::hours(20)), "not before the first full day");
    assert!(message_at(&world, first));
    assert!(!message_at(&world, first + TimeDelta::hours(1)), "twice on one day");
    let mail = newest(&world).unwrap();
    let raw = world.store.read_blocking(|view| view.raw_mail(mail.id)).unwrap().unwrap();
    let message = MessageParser::default().parse(&raw).unwrap();
    let text = message.body_text(0).unwrap();
    assert!(text.contains("3 follow-ups"), "{text}");
    assert!(text.contains("1 is stopped"), "{text}");
    assert!(text.contains("- A7: stopped since"), "{text}");

    assert!(!is_held_up(&world, first + TimeDelta::minutes(20)));
    assert!(is_held_up(&world, first + TimeDelta::minutes(31)));
    let id = mail.id;
    world.write(move |_, tx| {
        while !tx.claim_mail(first + TimeDelta::hours(12), 500)?.is_empty() {}
        Ok(tx.mark_sent(id, first + TimeDelta::minutes(32))?)
    });
    assert_eq!(newest(&world).unwrap().status, MailStatus::Sent);
    assert!(!is_held_up(&world, first + TimeDelta::minutes(33)));
}

fn names(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).unwrap();
    let mut names: Vec<String> =
        entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

#[test]
fn copies_are_tried_out_and_rotate_and_nothing_else_in_their_folder_is_touched() {
    let world = World::busy();
    let folder = world.path("backups");
    std::fs::create_dir(&folder).unwrap();
    std::fs::write(folder.join("fadewatch-notes.db"), "somebody's own").unwrap();
    let at = NaiveTime::from_hms_opt(3, 30, 0).unwrap();
    let backups = Backups { folder: folder.clone(), at, copies: 2 };
    let mut last = None;
    for day in 0..4 {
        let now = world.at(world.today, 12, 0) + TimeDelta::days(day);
        last = Some(backing_up::back_up(&world.store, &backups, now).unwrap());
    }
    let last = last.unwrap();
    let names = names(&folder);
    assert_eq!(names.len(), 3, "{names:?}");
    assert!(names.contains(&"fadewatch-notes.db".to_owned()));
    let checked = backing_up::check_copy(&last, None).unwrap();
    assert_eq!((checked.follow_ups, checked.findings), (4, vec![]));
    let mode = std::os::unix::fs::PermissionsExt::mode(&last.metadata().unwrap().permissions());
    assert_eq!(mode & 0o777, 0o600);
}

#[test]
fn a_copy_that_proves_unusable_lets_no_older_one_go() {
    let world = World::busy();
    let folder = world.path("backups");
    let at = NaiveTime::from_hms_opt(3, 30, 0).unwrap();
    let backups = Backups { folder: folder.clone(), at, copies: 2 };
    let now = |day| world.at(world.today, 12, 0) + TimeDelta::days(day);
    for day in 0..2 {
        backing_up::back_up(&world.store, &backups, now(day)).unwrap();
    }
    let before = names(&folder);
    // Other hands at the record: the copy is whole as a file, and its journal does not verify.
    let other = rusqlite::Connection::open(world.path("data/fadewatch.db")).unwrap();
    other
        .execute_batch(
            "DROP TRIGGER journal_is_never_changed;
             UPDATE journal SET rule = 'R99' WHERE seq = 3;",
        )
        .unwrap();
    let failed = backing_up::back_up(&world.store, &backups, now(2)).unwrap_err();
    assert!(failed.to_string().contains("trying a backup out"), "{failed}");
    for name in before {
        assert!(folder.join(name).exists());
    }
}

#[test]
fn mail_that_is_done_with_is_erased_after_its_time_and_no_other() {
    let world = World::busy();
    let now = world.at(world.today, 12, 0);
    let count = |world: &World| {
        world
            .store
            .read_blocking(|view| {
                let mut kept = 0;
                for mail in view.newest_mails(1000)? {
                    kept += usize::from(view.raw_mail(mail.id)?.is_some());
                }
                Ok::<_, StoreError>(kept)
            })
            .unwrap()
    };
    let all = count(&world);
    world.write(move |_, tx| {
        let claimed = tx.claim_mail(now, 1)?;
        tx.mark_sent(claimed[0].id, now)?;
        tx.erase_mail_before(now, 100)?;
        Ok(())
    });
    // Ended exactly then: not before. Withdrawn mail of the story ended earlier and is gone.
    let kept = count(&world);
    assert!(kept < all && kept > 0, "{kept} of {all}");
    world.write(move |_, tx| {
        assert_eq!(tx.erase_mail_before(now + TimeDelta::seconds(1), 100)?, 1);
        Ok(())
    });
    assert_eq!(count(&world), kept - 1);
    assert!(
        world
            .store
            .read_blocking(|view| view.remembered(RememberedInstant::LastBackup))
            .unwrap()
            .is_none()
    );
}
