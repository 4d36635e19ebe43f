//! Who stands by, and how soon it takes over.

use std::time::{Duration, Instant};

use crate::clinic::{Clinic, until};

const PATIENCE: Duration = Duration::from_secs(30);
/// A takeover must come within this; it takes about a second.
const SOON: Duration = Duration::from_secs(10);

const RUNS: &str = "the service runs";
const STANDS_BY: &str = "this one stands by";

#[test]
fn a_second_service_stands_by_and_takes_over_within_seconds_of_a_kill() {
    let clinic = Clinic::new(2);
    let first = clinic.serve(0);
    until("the first works", PATIENCE, || first.log().contains(RUNS));
    let second = clinic.serve(1);
    until("the second stands by", PATIENCE, || second.log().contains(STANDS_BY));
    assert!(!second.log().contains(RUNS));
    let health = clinic.run(1, &["health"]);
    assert!(health.contains("last sign of life"), "{health}");
    first.kill();
    let begun = Instant::now();
    until("the second works", SOON, || second.log().contains(RUNS));
    println!("took over after {} ms", begun.elapsed().as_millis());
    assert!(second.stop());
}

#[test]
fn a_service_that_loses_the_server_ends_so_that_another_can_work() {
    let clinic = Clinic::new(2);
    let mut first = clinic.serve(0);
    until("the first works", PATIENCE, || first.log().contains(RUNS));
    let second = clinic.serve(1);
    until("the second stands by", PATIENCE, || second.log().contains(STANDS_BY));
    let cut = "SELECT pg_terminate_backend(pid) FROM pg_locks WHERE locktype = 'advisory'
               AND classid = x'66616466'::int AND objid = hashtext(current_schema())::oid";
    clinic.schema.run(cut).unwrap();
    until("the first ends", SOON, || first.ended() == Some(false));
    assert!(first.log().contains("another service takes over"), "{}", first.log());
    until("the second works", SOON, || second.log().contains(RUNS));
}

#[test]
fn a_service_that_stands_still_is_not_waited_for_once_it_is_killed() {
    let clinic = Clinic::new(2);
    let first = clinic.serve(0);
    until("the first works", PATIENCE, || first.log().contains(RUNS));
    let second = clinic.serve(1);
    until("the second stands by", PATIENCE, || second.log().contains(STANDS_BY));
    // As a hanging service that the watchdog ends.
    first.signal("-STOP");
    std::thread::sleep(Duration::from_secs(1));
    assert!(!second.log().contains(RUNS), "two worked at once");
    first.kill();
    until("the second works", SOON, || second.log().contains(RUNS));
}
