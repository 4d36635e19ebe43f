//! The bell between processes.

use std::time::Duration;

use fadewatch::store::bell::{Listener, ring};
use fadewatch::store::{Mode, Store, StoreError};

use crate::bench::{Bench, InAFile};
use crate::sample::{self, at};

/// How long a ring may take before we call it lost; it takes well under a millisecond.
const SOON: Duration = Duration::from_secs(5);
/// How long nothing must be heard to call it silence.
const QUIET: Duration = Duration::from_millis(200);

#[tokio::test]
async fn a_commit_of_a_command_rings_and_the_services_own_does_not() {
    let bench = Bench::<InAFile>::new();
    let listener = Listener::new(bench.host.folder()).unwrap();
    bench.store.write(|tx| tx.add_occasion(&sample::due(at(0)))).await.unwrap();
    assert!(tokio::time::timeout(QUIET, listener.heard()).await.is_err());
    let command = Store::open(bench.host.folder(), Mode::Command).unwrap();
    command.write(|tx| tx.add_occasion(&sample::due(at(1)))).await.unwrap();
    tokio::time::timeout(SOON, listener.heard()).await.unwrap();
    let refused: Result<(), _> = command.write(|_| Err(StoreError::NoRandomness)).await;
    assert!(refused.is_err());
    assert!(tokio::time::timeout(QUIET, listener.heard()).await.is_err());
}

#[tokio::test]
async fn rings_while_nobody_waits_are_kept_also_when_the_file_was_deleted() {
    let bench = Bench::<InAFile>::new();
    let listener = Listener::new(bench.host.folder()).unwrap();
    ring(bench.host.folder()).unwrap();
    tokio::time::timeout(SOON, listener.heard()).await.unwrap();
    std::fs::remove_file(bench.host.folder().join("bell/rung")).unwrap();
    ring(bench.host.folder()).unwrap();
    tokio::time::timeout(SOON, listener.heard()).await.unwrap();
}
