//! Commands beside the running service.

use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use super::world::World;

/// Longest wait for something that the service does within a moment.
const PATIENCE: Duration = Duration::from_secs(60);

/// The running service; ended when it is dropped.
struct Service(Child);

impl Service {
    fn start(world: &World) -> Self {
        let child = Command::new(assert_cmd::cargo::cargo_bin!("fadewatch"))
            .args(["serve", "--config", "clinic.toml"])
            .current_dir(world.folder.path())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        Self(child)
    }

    fn end(mut self) -> bool {
        let pid = self.0.id().to_string();
        assert!(Command::new("kill").args(["-TERM", &pid]).status().unwrap().success());
        self.0.wait().unwrap().success()
    }
}

impl Drop for Service {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// Waits until something holds.
fn until(what: &str, mut holds: impl FnMut() -> bool) {
    let begin = Instant::now();
    while !holds() {
        assert!(begin.elapsed() < PATIENCE, "waited in vain: {what}");
        std::thread::sleep(Duration::from_millis(100));
    }
}

/// Mail that has gone to an address.
fn mails_to(world: &World, address: &str) -> usize {
    let folder = world.path("mail/out").join(address).join("new");
    std::fs::read_dir(folder).map_or(0, |entries| entries.count())
}

#[test]
fn the_service_sends_at_once_what_a_command_led_to() {
    let world = World::busy();
    let service = Service::start(&world);
    until("the service is well", || world.run(&["health"]).code == 0);
    until("the mail that waited has gone", || {
        world.json(&["health", "--json"])["checks"][3]["count"] == 0
    });
    let before = mails_to(&world, "duty@clinic.example");
    let ran = world.run(&["decide", "A7", "seen", "--by", "duty"]);
    assert_eq!((ran.code, ran.err.as_str()), (0, ""), "{}", ran.out);
    until("the confirmation has gone", || mails_to(&world, "duty@clinic.example") > before);
    assert_eq!(world.json(&["alerts", "--json"])[0]["acknowledged_by"], "duty");
    assert!(service.end());
    // And again while it does not run.
    let ran = world.run(&["decide", "A7", "keep-stopped", "--by", "duty"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
}
