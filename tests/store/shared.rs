//! A database on a server that several processes share.

use std::time::Duration;

use chrono::{TimeDelta, Utc};
use fadewatch::store::bell::Listener;
use fadewatch::store::{Mode, Server, Store, StoreError};

use crate::bench::{Bench, Host, OnAServer};
use crate::sample::{self, at};

/// How long what happens at once may take.
const SOON: Duration = Duration::from_secs(5);
/// How long nothing must be heard to call it silence.
const QUIET: Duration = Duration::from_millis(200);

fn waits_for_lead(store: &Store) {
    let begun = std::time::Instant::now();
    while !store.try_to_lead(Utc::now()).unwrap() {
        assert!(begun.elapsed() < SOON, "the place did not become free");
        std::thread::sleep(Duration::from_millis(10));
    }
}

#[test]
fn one_of_two_services_leads_and_the_other_takes_over_when_it_ends() {
    let bench = Bench::<OnAServer>::new();
    let other = bench.host.open(Mode::Service);
    assert!(bench.store.try_to_lead(Utc::now()).unwrap());
    assert!(!other.try_to_lead(Utc::now()).unwrap());
    bench.store.close();
    waits_for_lead(&other);
    let elsewhere = Bench::<OnAServer>::new();
    assert!(
        elsewhere.store.try_to_lead(Utc::now()).unwrap(),
        "another clinic's service is no hindrance"
    );
}

#[test]
fn a_service_cut_off_from_the_server_writes_nothing_any_more_and_is_told() {
    let bench = Bench::<OnAServer>::new();
    assert!(bench.store.try_to_lead(Utc::now()).unwrap());
    let schema = bench.host.schema();
    schema
        .run(
            "SELECT pg_terminate_backend(pid) FROM pg_locks WHERE locktype = 'advisory'
                AND classid = x'66616466'::int AND objid = hashtext(current_schema())::oid",
        )
        .unwrap();
    let runtime = tokio::runtime::Builder::new_current_thread().enable_time().build().unwrap();
    let told = async { tokio::time::timeout(SOON, bench.store.lost()).await };
    runtime.block_on(told).expect("the loss is told");
    let refused = bench.store.write_blocking(|tx| tx.add_occasion(&sample::due(at(0))));
    assert!(matches!(refused, Err(StoreError::Unreachable { .. })), "{refused:?}");
    waits_for_lead(&bench.host.open(Mode::Service));
}

#[test]
fn a_host_whose_clock_is_wrong_does_not_lead() {
    let bench = Bench::<OnAServer>::new();
    for wrong in [TimeDelta::seconds(7), TimeDelta::seconds(-7)] {
        let refused = bench.store.try_to_lead(Utc::now() + wrong).unwrap_err();
        assert!(matches!(refused, StoreError::ClocksDiffer { .. }), "{refused}");
    }
    assert!(bench.store.try_to_lead(Utc::now()).unwrap());
}

#[test]
fn writers_of_two_processes_never_write_at_once() {
    let bench = Bench::<OnAServer>::new();
    let follow_up = bench.enroll("C-1");
    std::thread::scope(|scope| {
        for _ in 0..3 {
            let store = bench.host.open(Mode::Command);
            scope.spawn(move || {
                for minutes in 0..20 {
                    // Refused as worked out on older entries, if another could write in between.
                    store
                        .write_blocking(move |tx| sample::clock(tx, follow_up, at(minutes)))
                        .unwrap();
                }
            });
        }
    });
    let verified = bench.store.read_blocking(|view| view.verify_journal()).unwrap();
    assert_eq!(verified.findings, []);
}

#[test]
fn a_transaction_in_which_a_part_failed_cannot_be_committed() {
    let bench = Bench::<OnAServer>::new();
    let done = bench.store.write_blocking(|tx| {
        tx.add_occasion(&sample::due(at(0)))?;
        let unknown = fadewatch::store::FollowUpId::from_number(99);
        let hidden = tx.put_call_name(unknown, "nobody");
        assert!(hidden.is_err(), "there is no such follow-up");
        Ok::<_, StoreError>(())
    });
    assert!(matches!(done, Err(StoreError::Database { .. })), "{done:?}");
    let kept = bench.store.read_blocking(|view| view.newest_occasions(None, 9)).unwrap();
    assert_eq!(kept, []);
}

#[tokio::test]
async fn a_commit_of_a_command_rings_on_the_server_and_the_services_own_does_not() {
    let bench = Bench::<OnAServer>::new();
    let listener = Listener::of(&bench.store).unwrap();
    bench.store.write(|tx| tx.add_occasion(&sample::due(at(0)))).await.unwrap();
    assert!(tokio::time::timeout(QUIET, listener.heard()).await.is_err());
    let command = bench.host.open(Mode::Command);
    command.write(|tx| tx.add_occasion(&sample::due(at(1)))).await.unwrap();
    tokio::time::timeout(SOON, listener.heard()).await.unwrap();
}

#[test]
fn a_database_of_a_newer_version_or_another_program_is_refused() {
    let bench = Bench::<OnAServer>::new();
    bench.host.run("UPDATE fadewatch_format SET format = 99").unwrap();
    let folder = tempfile::tempdir().unwrap();
    let schema = bench.host.schema();
    for mode in [Mode::Service, Mode::Command, Mode::Reading] {
        let refused = Store::open_on(&schema.server(), folder.path(), mode).unwrap_err();
        assert!(matches!(refused, StoreError::Newer { found: 99, .. }), "{refused}");
    }
    bench.host.run("DROP TABLE fadewatch_format").unwrap();
    let refused = Store::open_on(&schema.server(), folder.path(), Mode::Service).unwrap_err();
    assert!(matches!(refused, StoreError::AnotherProgram { .. }), "{refused}");
}

#[test]
fn a_server_that_is_not_there_is_told_with_what_to_do() {
    let folder = tempfile::tempdir().unwrap();
    let address = format!("host={} user=nobody", folder.path().display());
    let server = Server::new(&address, None, None).unwrap();
    let refused = Store::open_on(&server, folder.path(), Mode::Service).unwrap_err();
    assert!(matches!(refused, StoreError::Unreachable { .. }), "{refused:?}");
    assert!(refused.help().contains("[store]"));
}

#[test]
fn a_server_over_the_network_is_reached_by_tls_with_its_authority_and_the_password_only() {
    let bench = Bench::<OnAServer>::new();
    let schema = bench.host.schema();
    let (address, authority) = (schema.address_by_network(), schema.folder().join("ca.pem"));
    let folder = tempfile::tempdir().unwrap();
    let open = |password, authority| {
        let server = Server::new(&address, Some(password), authority).unwrap();
        Store::open_on(&server, folder.path(), Mode::Reading)
    };
    let store = open("hush", Some(authority.as_path())).unwrap();
    store.read_blocking(|view| view.follow_ups(None, 1)).unwrap();
    let unknown = open("hush", None).unwrap_err();
    let StoreError::Unreachable { source, .. } = &unknown else { panic!("{unknown:?}") };
    assert!(source.to_string().to_lowercase().contains("certificate"), "{source}");
    let refused = open("wrong-word", Some(authority.as_path())).unwrap_err();
    assert!(!format!("{refused:?}").contains("wrong-word"), "{refused:?}");
}

#[test]
fn a_copy_of_a_server_is_a_file_that_can_be_tried_out_and_put_on_another() {
    let bench = Bench::<OnAServer>::new();
    let follow_up = bench.enroll("C-1");
    bench.clock(follow_up, at(0));
    let copy = tempfile::tempdir().unwrap();
    let copy = copy.path().join("copy.db");
    bench.store.backup(&copy).unwrap();
    let copied = Store::open_copy(&copy, None).unwrap();
    copied
        .read_blocking(|view| {
            view.check_integrity()?;
            assert_eq!(view.verify_journal()?.findings, []);
            assert_eq!(view.load(follow_up)?, bench.load(follow_up));
            assert!(view.is_state_as_journalled(follow_up)?);
            Ok::<_, StoreError>(())
        })
        .unwrap();
    let other = Bench::<OnAServer>::new();
    other.store.load_copy(&copy, None).unwrap();
    assert_eq!(other.load(follow_up), bench.load(follow_up));
    // Numbers go on after those of the copy.
    let next = other.enroll("C-2");
    assert!(next > follow_up);
    other.clock(next, at(0));
    let verified = other.store.read_blocking(|view| view.verify_journal()).unwrap();
    assert_eq!(verified.findings, []);
    let refused = other.store.load_copy(&copy, None).unwrap_err();
    assert!(matches!(refused, StoreError::NotEmpty), "{refused}");
}
