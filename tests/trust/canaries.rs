//! Planted secrets and names: none of them shows in a log, an error or a list of processes.

use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use crate::world::World;

/// Planted in passwords, tokens, names, addresses and words.
const SECRETS: [&str; 3] = ["pw-canary-31", "tok-canary-32", "cred-canary-33"];
const PERSONAL: [&str; 3] = ["Quillfeather", "zebulon-71", "plumcoloured"];

/// A clinic whose mail servers do not answer, with a planted secret of each kind.
fn world(secret: &str) -> World {
    let world = World::busy();
    let path = world.path("clinic.toml");
    let clinic = std::fs::read_to_string(&path).unwrap();
    let (head, _) = clinic.split_once("[mail.out]").unwrap();
    let server =
        "host = \"127.0.0.1\"\nport = 9\nsecurity = \"plain-loopback\"\nuser = \"checks\"\n";
    std::fs::write(
        &path,
        format!("{head}[mail.out]\n{server}{secret}\n[mail.in]\n{server}{secret}\n")
            .replace("Riverside Seating Clinic", "Quillfeather Clinic")
            .replace("seating@clinic.example", "zebulon-71@clinic.example"),
    )
    .unwrap();
    std::fs::write(world.path("password"), "pw-canary-31\n").unwrap();
    std::fs::write(world.path("token.sh"), "#!/bin/sh\necho tok-canary-32\necho 6\n").unwrap();
    let executable = std::fs::Permissions::from_mode(0o700);
    std::fs::set_permissions(world.path("token.sh"), executable).unwrap();
    std::fs::create_dir(world.path("credentials")).unwrap();
    std::fs::write(world.path("credentials/mail"), "cred-canary-33\n").unwrap();
    world
}

struct Running(Child);

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn serve(world: &World, log: &Path) -> Running {
    let child = Command::new(assert_cmd::cargo::cargo_bin!("fadewatch"))
        .args(["serve", "--config", "clinic.toml"])
        .current_dir(world.folder.path())
        .env("FADEWATCH_LOG", "trace")
        .env("CREDENTIALS_DIRECTORY", world.path("credentials"))
        .env("RUST_BACKTRACE", "full")
        .stderr(std::fs::File::create(log).unwrap())
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    Running(child)
}

fn assert_clean(text: &str, place: &str) {
    for canary in SECRETS.iter().chain(&PERSONAL) {
        let line = text.lines().find(|line| line.contains(canary));
        assert_eq!(line, None, "{canary} is in {place}");
    }
}

fn until(what: &str, mut holds: impl FnMut() -> bool) {
    let begun = Instant::now();
    while !holds() {
        assert!(begun.elapsed() < Duration::from_secs(60), "waited in vain: {what}");
        std::thread::sleep(Duration::from_millis(50));
    }
}

#[test]
fn planted_secrets_and_names_show_in_no_log_and_no_list_of_processes() {
    for (secret, renewed) in [
        ("password_file = \"password\"", false),
        ("password_credential = \"mail\"", false),
        ("token_command = [\"./token.sh\"]", true),
    ] {
        let world = world(secret);
        let log = world.path("log");
        let service = serve(&world, &log);
        let logged = || std::fs::read_to_string(&log).unwrap_or_default();
        until("the service runs", || logged().contains("the service runs"));
        until("a mail was tried", || logged().contains("could not be handed over"));
        if renewed {
            until("the token was renewed", || logged().contains("was renewed"));
        }
        let process = format!("/proc/{}", service.0.id());
        for file in ["cmdline", "comm", "environ"] {
            let bytes = std::fs::read(Path::new(&process).join(file)).unwrap();
            assert_clean(&String::from_utf8_lossy(&bytes), file);
        }
        drop(service);
        assert_clean(&logged(), "the log");
    }
}

#[test]
fn a_secret_that_cannot_be_used_is_named_by_its_place_and_never_shown() {
    for (secret, file, content) in [
        // A mistake that puts the secret itself where its place belongs would show it: the file's
        // name is all that is told, so the content must never be.
        ("password_file = \"nowhere\"", "password", "pw-canary-31"),
        ("token_command = [\"./token.sh\"]", "token.sh", "#!/bin/sh\necho tok-canary-32\nexit 1\n"),
        ("token_command = [\"./token.sh\"]", "token.sh", "#!/bin/sh\necho t\necho tok-canary-32\n"),
        ("password_credential = \"other\"", "credentials/mail", "cred-canary-33"),
    ] {
        let world = world(secret);
        std::fs::write(world.path(file), content).unwrap();
        let log = world.path("log");
        let mut service = serve(&world, &log);
        let status = service.0.wait().unwrap();
        assert!(!status.success());
        let told = std::fs::read_to_string(&log).unwrap();
        assert!(told.contains("mail.out"), "{told}");
        assert_clean(&told, "the error");
    }
}

#[test]
fn everything_that_the_service_writes_is_closed_to_others() {
    let world = world("password_file = \"password\"");
    let log = world.path("log");
    let service = serve(&world, &log);
    let logged = || std::fs::read_to_string(&log).unwrap_or_default();
    until("the service runs", || logged().contains("the service runs"));
    let data = world.path("data");
    let mode = |path: &Path| path.metadata().unwrap().permissions().mode() & 0o777;
    assert_eq!(mode(&data), 0o700);
    let mut files = 0;
    for entry in std::fs::read_dir(&data).unwrap() {
        let path = entry.unwrap().path();
        let open_to_others = mode(&path) & 0o077;
        assert_eq!(open_to_others, 0, "{} is open to others", path.display());
        files += 1;
    }
    assert!(files >= 3, "{files} files only");
    drop(service);
}
