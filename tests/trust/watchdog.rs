//! The watchdog of the service manager, as it is fed by a service that works.

use std::os::unix::net::UnixDatagram;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use crate::world::World;

/// How often the manager wants to hear from the service; the service says it twice as often.
const WITHIN: Duration = Duration::from_secs(4);

#[test]
fn a_service_that_works_feeds_the_watchdog_well_within_its_time_and_a_halted_one_does_not() {
    let world = World::empty();
    let socket = world.path("notify");
    let manager = UnixDatagram::bind(&socket).unwrap();
    manager.set_read_timeout(Some(Duration::from_millis(200))).unwrap();
    let mut service = Command::new(assert_cmd::cargo::cargo_bin!("fadewatch"))
        .args(["serve", "--config", "clinic.toml"])
        .current_dir(world.folder.path())
        .env("NOTIFY_SOCKET", &socket)
        .env("WATCHDOG_USEC", WITHIN.as_micros().to_string())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let fed = |within: Duration| {
        let begun = Instant::now();
        let (mut heard, mut count) = ([0; 512], 0);
        while begun.elapsed() < within {
            if let Ok(length) = manager.recv(&mut heard) {
                let words = String::from_utf8_lossy(&heard[..length]).into_owned();
                count += words.lines().filter(|line| *line == "WATCHDOG=1").count();
            }
        }
        count
    };
    let begun = Instant::now();
    while fed(Duration::from_secs(1)) == 0 {
        assert!(begun.elapsed() < Duration::from_secs(60), "the watchdog was never fed");
    }
    assert!(fed(WITHIN * 2) >= 2, "the watchdog would have ended a service that works");
    let signal = |name: &str| {
        let sent = Command::new("kill").args([name, &service.id().to_string()]).status().unwrap();
        assert!(sent.success());
    };
    signal("-STOP");
    fed(Duration::from_millis(300));
    assert_eq!(fed(WITHIN), 0);
    signal("-CONT");
    signal("-TERM");
    assert!(service.wait().unwrap().success());
}
