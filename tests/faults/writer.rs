//! The writer: a process that commits entries with their mail and says how many there are.

use std::fmt;
use std::fs::File;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

use fadewatch::care::ClientRef;
use fadewatch::follow_up::Basis;
use fadewatch::store::{FollowUpId, NewMail, PersonRef, RequestTarget, Store, StoreError, Urgency};

use crate::sample::{self, at};

/// The file in which the writer says how many entries are committed, one line a commit.
pub const SAID: &str = "said";
/// Set for the writer: its folder, how often to commit, and how much.
const FOLDER: &str = "FADEWATCH_TEST_FOLDER";
const COMMITS: &str = "FADEWATCH_TEST_COMMITS";
const MAIL_BYTES: &str = "FADEWATCH_TEST_MAIL_BYTES";

/// What a run writes.
#[derive(Clone, Copy)]
pub struct Load {
    /// How often it commits.
    pub commits: usize,
    /// How large the mail of each commit is.
    pub mail_bytes: usize,
}

/// How a disk fails.
#[derive(Clone, Copy, Debug)]
pub struct Fault {
    at: usize,
    errno: i32,
    stays: bool,
}

impl Fault {
    /// The ways to fail at one change: an I/O error (EIO) or no room (ENOSPC), once or from then on.
    pub fn at(at: usize) -> [Self; 4] {
        [(5, false), (5, true), (28, false), (28, true)].map(|(errno, stays)| Self {
            at,
            errno,
            stays,
        })
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}:{}", self.at, self.errno, if self.stays { "on" } else { "once" })
    }
}

/// How a run went.
pub struct Run {
    /// The folder that was written to.
    pub disk: PathBuf,
    /// The record of all changes.
    pub trace: PathBuf,
    /// Commits that succeeded.
    pub commits: usize,
    /// The last number of entries that was said to be committed.
    pub said: u64,
    /// Commits that failed.
    pub failures: usize,
}

/// The test that is the writer where it is started as one.
const TEST: &str = "a_power_cut_at_any_moment_loses_nothing_that_was_said_to_be_committed";

/// Whether this process is to write.
pub fn is_writer() -> bool {
    std::env::var_os(FOLDER).is_some()
}

/// The library that stands between the writer and its disk, built once.
pub fn shim() -> PathBuf {
    static SHIM: OnceLock<PathBuf> = OnceLock::new();
    SHIM.get_or_init(build).clone()
}

fn build() -> PathBuf {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/faults/disk.c");
    let library = Path::new(env!("CARGO_TARGET_TMPDIR")).join("disk.so");
    let built = Command::new("cc")
        .args(["-shared", "-fPIC", "-O1", "-Wall", "-Werror", "-o"])
        .arg(&library)
        .arg(source)
        .args(["-ldl", "-pthread"])
        .status()
        .unwrap();
    assert!(built.success());
    library
}

/// Runs the writer in a folder of its own.
pub fn run(shim: &Path, folder: &Path, load: Load, fault: Option<Fault>) -> Run {
    let (disk, trace) = (folder.join("disk"), folder.join("trace"));
    std::fs::create_dir_all(folder).unwrap();
    let mut command = Command::new(std::env::current_exe().unwrap());
    command.args(["--exact", "--nocapture", TEST]).env("LD_PRELOAD", shim);
    command.env(FOLDER, &disk).env(COMMITS, load.commits.to_string());
    command.env(MAIL_BYTES, load.mail_bytes.to_string());
    command.env("DISK_ROOT", &disk).env("DISK_TRACE", &trace);
    if let Some(fault) = fault {
        command.env("DISK_FAULT", fault.to_string());
    }
    let output = command.output().unwrap();
    let printed = String::from_utf8_lossy(&output.stdout);
    let counted = |word: &str| printed.lines().filter(|line| line.starts_with(word)).count();
    let mut last = printed.lines().filter_map(|line| line.strip_prefix("committed ")?.parse().ok());
    let (commits, failures) = (counted("committed "), counted("failed "));
    assert!(
        output.status.success(),
        "the writer ended with {}: {}",
        output.status,
        String::from_utf8_lossy(&output.stderr)
    );
    Run { disk, trace, commits, said: last.next_back().unwrap_or_default(), failures }
}

/// Commits so often; what fails is told and tried once more, as the service would.
pub fn write() {
    let folder = PathBuf::from(std::env::var_os(FOLDER).unwrap());
    let folder = folder.as_path();
    let number = |name: &str| std::env::var(name).unwrap().parse::<usize>().unwrap();
    let (commits, mail_bytes) = (number(COMMITS), number(MAIL_BYTES));
    let mut tries = 0;
    let store = loop {
        match crate::open(folder) {
            Ok(store) => break store,
            Err(failed) => println!("failed to open: {failed}"),
        }
        tries += 1;
        if tries > 2 {
            return;
        }
    };
    let client = ClientRef::new("C-1").unwrap();
    let mut enrolled = None;
    for _ in 0..commits + 2 {
        let Some(follow_up) = enrolled else {
            let client = client.clone();
            let enrolling: Result<FollowUpId, StoreError> =
                store.write_blocking(move |tx| match tx.follow_up_of(&client)? {
                    Some(known) => Ok(known),
                    None => sample::enroll(tx, &client),
                });
            match enrolling {
                Ok(follow_up) => {
                    enrolled = Some(follow_up);
                    say(folder, 1);
                }
                Err(failed) => println!("failed to enrol: {failed}"),
            }
            continue;
        };
        match commit(&store, follow_up, mail_bytes) {
            Ok(entries) => say(folder, entries),
            Err(failed) => println!("failed to commit: {failed}"),
        }
    }
    store.close();
}

fn commit(store: &Store, follow_up: FollowUpId, mail_bytes: usize) -> Result<u64, StoreError> {
    store.write_blocking(move |tx| {
        let next = tx
            .load(follow_up)?
            .state
            .next_due(&Basis { plan: &sample::plan(), cover: &sample::cover() });
        let now = next.unwrap_or(at(0));
        sample::clock(tx, follow_up, now)?;
        let entries = tx.load(follow_up)?.head.entries;
        let mail = NewMail {
            follow_up: Some(follow_up),
            cause: None,
            person: PersonRef::Clinic,
            target: RequestTarget::Other,
            sender: "clinic@clinic.example".to_owned(),
            address: "clinic@clinic.example".to_owned(),
            message_id: format!("<{entries}@clinic.example>"),
            urgency: Urgency::Routine,
            raw: vec![b'x'; mail_bytes],
        };
        tx.put_mail(&mail, now)?;
        Ok(entries)
    })
}

/// Says how many entries are committed: to the one who started us, and, for the record, in a file.
fn say(folder: &Path, entries: u64) {
    println!("committed {entries}");
    let said = File::options().create(true).append(true).open(folder.join(SAID));
    // On a broken disk it cannot be said there; the other saying counts then.
    if let Ok(mut said) = said {
        let _ = said.write(format!("{entries:12}\n").as_bytes());
    }
}
