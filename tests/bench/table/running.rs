//! The built program at rest: how soon it is ready, what it holds in memory, what it costs idle.
//!
//! Never here: work.
//! Promises: figures are the system's own (`/proc`); ready is when the program tells the service
//! manager so.

use std::os::unix::net::UnixDatagram;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use super::clinic::Clinic;
use super::row::{Aim, Row, median, runs};

const SMALL: usize = 1_000;
const IDLE_CLIENTS: usize = 10_000;
/// Time to settle before memory is read.
const SETTLING: Duration = Duration::from_secs(3);
/// What ten idle minutes may cost.
const IDLE_MS_MAX: f64 = 50.0;
/// `sysconf(_SC_CLK_TCK)` is 100 on every Linux that this runs on.
const TICK_MS: u64 = 10;

pub fn rows(clients_max: usize, idle: Duration) -> Vec<Row> {
    let (small_ready, small_kib, _) = at_rest(SMALL, Duration::ZERO);
    let (ready, kib, _) = at_rest(clients_max, Duration::ZERO);
    let (_, _, idle_ms) = at_rest(IDLE_CLIENTS, idle);
    let each = (kib as f64 - small_kib as f64) * 1024.0 / (clients_max - SMALL) as f64;
    let mut rows = vec![
        Row {
            measure: format!("start to ready with {clients_max} follow-ups, in seconds"),
            ours: format!("{ready:.3} s"),
            beside: format!("{small_ready:.3} s with {SMALL}"),
            ratio: Some(ready),
            aim: Aim::AtMost(1.0),
            note: "nothing due".to_owned(),
        },
        Row {
            measure: format!("memory at rest with {clients_max} follow-ups, in MiB"),
            ours: format!("{:.1} MiB", kib as f64 / 1024.0),
            beside: format!("{:.1} MiB with {SMALL}", small_kib as f64 / 1024.0),
            ratio: Some(kib as f64 / 1024.0),
            aim: Aim::AtMost(100.0),
            note: "resident set".to_owned(),
        },
        Row {
            measure: "memory at rest for one more follow-up, in bytes".to_owned(),
            ours: format!("{each:.0}"),
            beside: String::new(),
            ratio: Some(each),
            aim: Aim::AtMost(200.0),
            note: String::new(),
        },
    ];
    if !idle.is_zero() {
        rows.push(Row {
            measure: format!("CPU time of {} s idle, in ms", idle.as_secs()),
            ours: format!("{idle_ms} ms"),
            beside: String::new(),
            ratio: Some(idle_ms as f64),
            // The system counts in ticks, so less than one cannot be seen.
            aim: Aim::AtMost((IDLE_MS_MAX * idle.as_secs_f64() / 600.0).max(TICK_MS as f64)),
            note: format!("{IDLE_CLIENTS} follow-ups, nothing due; the aim is 50 ms for 600 s"),
        });
    }
    rows
}

/// Seconds until ready, KiB at rest, and milliseconds of CPU time while idle.
fn at_rest(clients: usize, idle: Duration) -> (f64, u64, u64) {
    let folder = tempfile::tempdir().unwrap();
    for part in ["in", "out"] {
        for inner in ["new", "cur", "tmp"] {
            std::fs::create_dir_all(folder.path().join(part).join(inner)).unwrap();
        }
    }
    let clinic = Clinic::new(folder.path());
    clinic.enroll(0..clients);
    shift_to_the_future(folder.path());
    clinic.store.close();
    drop(clinic);
    let mut ready = Vec::new();
    let (mut kib, mut idle_ms) = (0, 0);
    for run in 0..runs() {
        let (mut service, seconds) = start(folder.path());
        ready.push(seconds);
        if run + 1 == runs() {
            std::thread::sleep(SETTLING);
            kib = resident_kib(service.id());
            let before = cpu_ms_at_rest(service.id());
            std::thread::sleep(idle);
            idle_ms = cpu_ms(service.id()) - before;
        }
        let stopped = Command::new("kill").arg(service.id().to_string()).status().unwrap();
        assert!(stopped.success());
        service.wait().unwrap();
    }
    (median(ready), kib, idle_ms)
}

/// Nothing is due before the year is over: the first due times are put off, as for clients who
/// begin later.
fn shift_to_the_future(folder: &Path) {
    let database = folder.join("data").join(fadewatch::store::DATABASE);
    let later = (chrono::Utc::now() + chrono::TimeDelta::days(300)).timestamp_millis();
    let connection = rusqlite::Connection::open(database).unwrap();
    connection.execute("UPDATE follow_up SET next_due_at_utc_ms = ?1", [later]).unwrap();
}

fn start(folder: &Path) -> (Child, f64) {
    let socket = folder.join("notify");
    std::fs::remove_file(&socket).ok();
    let told = UnixDatagram::bind(&socket).unwrap();
    told.set_read_timeout(Some(Duration::from_secs(60))).unwrap();
    let begun = Instant::now();
    let mut service = Command::new(env!("CARGO_BIN_EXE_fadewatch"))
        .args(["serve", "--config"])
        .arg(folder.join("clinic.toml"))
        .env("NOTIFY_SOCKET", &socket)
        .env("FADEWATCH_LOG", "error")
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    let mut message = [0; 256];
    loop {
        let Ok(length) = told.recv(&mut message) else {
            service.kill().and_then(|()| service.wait()).unwrap();
            panic!("the service was not ready within a minute");
        };
        if String::from_utf8_lossy(&message[..length]).contains("READY=1") {
            return (service, begun.elapsed().as_secs_f64());
        }
    }
}

fn resident_kib(process: u32) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).unwrap();
    let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:")).unwrap();
    line.trim().trim_end_matches(" kB").trim().parse().unwrap()
}

/// The CPU time until the service rests: after a start it checks its data through, beside its work.
fn cpu_ms_at_rest(process: u32) -> u64 {
    loop {
        let before = cpu_ms(process);
        std::thread::sleep(SETTLING);
        if cpu_ms(process) == before {
            return before;
        }
    }
}

fn cpu_ms(process: u32) -> u64 {
    let stat = std::fs::read_to_string(format!("/proc/{process}/stat")).unwrap();
    // Fields 14 and 15, counted after the name, which may hold spaces.
    let (_, fields) = stat.rsplit_once(')').unwrap();
    let ticks = |at: usize| fields.split_whitespace().nth(at).unwrap().parse::<u64>().unwrap();
    (ticks(11) + ticks(12)) * TICK_MS
}
