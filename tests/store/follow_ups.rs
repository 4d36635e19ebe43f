//! Follow-ups: enrolled once, changed whole, found when due.

use fadewatch::care::ClientRef;
use fadewatch::store::{FollowUpId, ListedAlert, ListedStanding, Mode, OccasionRecord, StoreError};
use serde_json::json;

use super::Bench;
use crate::bench::Host as _;
use crate::sample::{self, at};

#[test]
fn a_follow_up_loads_as_it_was_left_also_after_a_restart() {
    let bench = Bench::new();
    let follow_up = bench.enroll("C-1");
    bench.clock(follow_up, at(0));
    let before = bench.load(follow_up);
    bench.store.close();
    let store = bench.host.open(Mode::Service);
    let after = store.read_blocking(|view| view.load(follow_up)).unwrap();
    assert_eq!(before, after);
    assert!(after.head.entries > 1);
    assert_eq!(store.read_blocking(|view| view.plan(&after.plan)).unwrap(), sample::plan());
}

#[test]
fn a_reference_is_enrolled_once_and_the_second_try_changes_nothing() {
    let bench = Bench::new();
    bench.enroll("C-1");
    let client = ClientRef::new("C-1").unwrap();
    let refused = bench.store.write_blocking(move |tx| sample::enroll(tx, &client));
    assert!(matches!(refused, Err(StoreError::DuplicateClient { .. })), "{refused:?}");
    let occasions = bench.store.read_blocking(|view| view.newest_occasions(None, 9)).unwrap();
    assert_eq!(occasions.len(), 1);
}

#[test]
fn the_state_rebuilt_from_the_journal_is_the_stored_one() {
    let bench = Bench::new();
    let follow_up = bench.enroll("C-1");
    for minutes in [0, 30, 60, 90, 270] {
        bench.clock(follow_up, at(minutes));
    }
    let (loaded, rebuilt, same) = bench
        .store
        .read_blocking(|view| {
            Ok::<_, StoreError>((
                view.load(follow_up)?,
                view.rebuild(follow_up)?,
                view.is_state_as_journalled(follow_up)?,
            ))
        })
        .unwrap();
    assert_eq!(loaded, rebuilt);
    assert!(same);
}

#[test]
fn a_state_in_a_form_of_another_version_is_rebuilt_when_it_is_loaded() {
    let bench = Bench::new();
    let follow_up = bench.enroll("C-1");
    bench.clock(follow_up, at(0));
    let before = bench.load(follow_up);
    let bench = bench.with_hands(|host| {
        host.run("UPDATE follow_up SET state_format = 1, state = x'00'").unwrap();
    });
    assert_eq!(bench.load(follow_up), before);
}

/// A follow-up that has run for so many days, with whatever was due done on each.
fn lived(bench: &Bench, days: std::ops::Range<i64>, follow_up: FollowUpId) {
    bench
        .store
        .write_blocking(move |tx| {
            for minutes in days.flat_map(|day| [0, 30, 60, 90, 270].map(|past| day * 1440 + past)) {
                sample::clock(tx, follow_up, at(minutes))?;
            }
            Ok::<_, StoreError>(())
        })
        .unwrap();
}

#[test]
fn a_long_past_lies_in_chapters_beside_the_state_and_is_loaded_with_it() {
    let bench = Bench::new();
    let follow_up = bench.enroll("C-1");
    lived(&bench, 0..70, follow_up);
    let before = bench.load(follow_up);
    assert_eq!(before.state.looks_count(), 70);
    let bench = bench.with_hands(|host| {
        let long = |table: &str, column: &str| {
            format!("UPDATE {table} SET {column} = {column} WHERE length({column}) > 4000")
        };
        assert_eq!(host.run("UPDATE chapter SET number = number").unwrap(), 3);
        assert_eq!(host.run(&long("chapter", "body")).unwrap(), 0);
        assert_eq!(host.run(&long("follow_up", "state")).unwrap(), 0);
    });
    assert_eq!(bench.load(follow_up), before);
    assert_eq!(bench.store.read_blocking(move |view| view.rebuild(follow_up)).unwrap(), before);
}

#[test]
fn a_past_that_is_lost_or_not_as_it_was_written_is_rebuilt_and_kept_again() {
    for harm in [
        "DELETE FROM chapter",
        "DELETE FROM chapter WHERE number = 0",
        "UPDATE chapter SET body = x'00' WHERE number = 1",
        "UPDATE chapter SET number = number + 100",
    ] {
        let bench = Bench::new();
        let follow_up = bench.enroll("C-1");
        lived(&bench, 0..70, follow_up);
        let before = bench.load(follow_up);
        let bench = bench.with_hands(|host| assert!(host.run(harm).unwrap() > 0));
        assert_eq!(bench.load(follow_up), before, "{harm}");
        lived(&bench, 70..71, follow_up);
        // None but those that belong there are left.
        let bench = bench.with_hands(|host| {
            let others = "DELETE FROM chapter WHERE number > 2";
            assert_eq!(host.run(others).unwrap(), 0, "{harm}");
            assert_eq!(host.run("UPDATE chapter SET number = number").unwrap(), 3, "{harm}");
        });
        let same = bench.store.read_blocking(move |view| view.is_state_as_journalled(follow_up));
        assert!(same.unwrap(), "{harm}");
    }
}

#[test]
fn a_changed_state_is_told_from_the_journalled_one() {
    let bench = Bench::new();
    let (changed, untouched) = (bench.enroll("C-1"), bench.enroll("C-2"));
    bench.clock(changed, at(0));
    let bench = bench.with_hands(|host| {
        let (to, from) = (changed.number(), untouched.number());
        let state = format!("(SELECT state FROM follow_up WHERE id = {from})");
        host.run(&format!("UPDATE follow_up SET state = {state} WHERE id = {to}")).unwrap();
    });
    let same = |follow_up| {
        bench.store.read_blocking(move |view| view.is_state_as_journalled(follow_up)).unwrap()
    };
    assert!(!same(changed));
    assert!(same(untouched));
}

#[test]
fn a_change_worked_out_on_older_entries_is_refused() {
    let bench = Bench::new();
    let follow_up = bench.enroll("C-1");
    let stale = bench.load(follow_up);
    bench.clock(follow_up, at(0));
    let refused = bench.store.write_blocking(move |tx| {
        let occasion = sample::due(at(1));
        let kept = tx.add_occasion(&occasion)?;
        tx.append(&sample::moved_on(&stale, &occasion, at(1)), kept)
    });
    let Err(StoreError::MovedOn { expected: 1, found, .. }) = refused else {
        panic!("{refused:?}")
    };
    assert_eq!(found, bench.load(follow_up).head.entries);
}

#[test]
fn what_is_due_comes_in_the_order_of_its_times() {
    let bench = Bench::new();
    let (first, second) = (bench.enroll("C-1"), bench.enroll("C-2"));
    bench.clock(first, at(0));
    let ask = |now, limit| {
        bench.store.read_blocking(move |view| view.due_follow_ups(now, limit)).unwrap()
    };
    assert_eq!(ask(at(-1), 10), []);
    assert_eq!(ask(at(0), 10), [second]);
    assert_eq!(ask(at(30), 10), [second, first]);
    assert_eq!(ask(at(30), 1), [second]);
    assert_eq!(bench.store.read_blocking(|view| view.earliest_due()).unwrap(), Some(at(0)));
    bench.clock(second, at(0));
    assert_eq!(bench.store.read_blocking(|view| view.earliest_due()).unwrap(), Some(at(30)));
}

#[test]
fn the_list_says_what_the_state_says() {
    let bench = Bench::new();
    let follow_up = bench.enroll("C-1");
    bench.enroll("C-2");
    let list = bench.store.read_blocking(|view| view.follow_ups(None, 10)).unwrap();
    assert_eq!(list.len(), 2);
    assert_eq!(list[0].client.as_str(), "C-1");
    assert_eq!(list[0].standing, ListedStanding::Open);
    assert_eq!(list[0].alert, ListedAlert::None);
    assert_eq!(list[0].step, bench.load(follow_up).state.step());
    assert_eq!(list[0].next_due, Some(at(0)));
    let rest = bench.store.read_blocking(|view| view.follow_ups(Some(follow_up), 10)).unwrap();
    assert_eq!(rest, list[1..]);
}

#[test]
fn acts_of_the_clinic_are_kept_without_a_follow_up() {
    let bench = Bench::new();
    let cover = OccasionRecord {
        follow_up: None,
        kind: "cover".to_owned(),
        at: at(5),
        detail: json!({ "by": "ot-1", "cover": ["ot-2", "ot-1"] }),
    };
    let kept = cover.clone();
    let id = bench
        .store
        .write_blocking(move |tx| tx.add_occasion(&kept).map(|occasion| occasion.id))
        .unwrap();
    let newest = bench.store.read_blocking(|view| view.newest_occasions(Some("cover"), 1)).unwrap();
    assert_eq!(newest, [(id, cover)]);
}

#[tokio::test]
async fn a_failed_write_changes_nothing_and_a_panic_leaves_the_writer_at_work() {
    let bench = Bench::new();
    let store = bench.store.clone();
    let broken = tokio::spawn(async move {
        store
            .write(|tx| -> Result<(), StoreError> {
                tx.add_occasion(&sample::due(at(0)))?;
                panic!("a planted one");
            })
            .await
    });
    assert!(broken.await.unwrap_err().is_panic());
    let refused: Result<(), StoreError> = bench
        .store
        .write(|tx| {
            tx.add_occasion(&sample::due(at(1)))?;
            Err(StoreError::NoRandomness)
        })
        .await;
    assert!(refused.is_err());
    let kept = bench.store.read(|view| view.newest_occasions(None, 9)).await.unwrap();
    assert_eq!(kept, []);
    bench.store.write(|tx| tx.add_occasion(&sample::due(at(2)))).await.unwrap();
    let kept = bench.store.read(|view| view.newest_occasions(None, 9)).await.unwrap();
    assert_eq!(kept.len(), 1);
}

#[tokio::test]
async fn work_that_was_handed_over_is_done_even_when_it_holds_the_last_handle() {
    let bench = Bench::new();
    let (go, wait) = std::sync::mpsc::channel::<()>();
    let (begin, begun) = tokio::sync::oneshot::channel();
    let last = bench.store.clone();
    let handed_over = {
        let store = bench.store.clone();
        tokio::spawn(async move {
            store
                .write(move |tx| {
                    begin.send(()).unwrap();
                    wait.recv().unwrap();
                    let kept = tx.add_occasion(&sample::due(at(0)));
                    drop(last);
                    kept
                })
                .await
        })
    };
    begun.await.unwrap();
    handed_over.abort();
    assert!(handed_over.await.unwrap_err().is_cancelled());
    let Bench { host, store } = bench;
    drop(store);
    go.send(()).unwrap();
    let store = host.open(Mode::Service);
    // Waits for the writer's transaction, if it is not committed yet.
    store.write(|tx| tx.add_occasion(&sample::due(at(1)))).await.unwrap();
    let kept = store.read(|view| view.newest_occasions(None, 9)).await.unwrap();
    assert_eq!(kept.len(), 2);
}

#[test]
fn readers_see_the_old_state_while_a_transaction_is_written() {
    let bench = Bench::new();
    let other = bench.store.clone();
    bench
        .store
        .write_blocking(move |tx| {
            tx.add_occasion(&sample::due(at(0)))?;
            let seen = other.read_blocking(|view| view.newest_occasions(None, 9))?;
            assert_eq!(seen, []);
            assert_eq!(tx.newest_occasions(None, 9)?.len(), 1);
            Ok::<_, StoreError>(())
        })
        .unwrap();
    let seen = bench.store.read_blocking(|view| view.newest_occasions(None, 9)).unwrap();
    assert_eq!(seen.len(), 1);
}

#[test]
fn thousands_of_due_looks_fit_into_one_transaction() {
    let bench = Bench::new();
    let ids: Vec<_> = bench
        .store
        .write_blocking(|tx| {
            (0..2000)
                .map(|n| sample::enroll(tx, &ClientRef::new(&format!("C-{n}")).unwrap()))
                .collect::<Result<_, _>>()
        })
        .unwrap();
    let due = bench
        .store
        .write_blocking(|tx| {
            let due = tx.due_follow_ups(at(0), 5000)?;
            let occasion = sample::due(at(0));
            let kept = tx.add_occasion(&occasion)?;
            for follow_up in &due {
                let change = sample::moved_on(&tx.load(*follow_up)?, &occasion, at(0));
                tx.append(&change, kept)?;
            }
            Ok::<_, StoreError>(due)
        })
        .unwrap();
    assert_eq!(due, ids);
    let verified = bench.store.read_blocking(|view| view.verify_journal()).unwrap();
    assert_eq!(verified.findings, []);
    assert!(verified.entries >= 4000);
}
