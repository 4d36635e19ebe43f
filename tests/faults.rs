//! The store on a disk that breaks: power cuts at every change, I/O errors and full disks at every
//! change.
//!
//! A writer runs as a process of its own with `faults/disk.c` between it and its files. It says after
//! each commit, in a file of the same disk, how many entries are committed; whatever it said must be
//! there afterwards.
//!
//! Never here: clinic rules, mail servers.
//! Promises: every sync and every seventh write of the traced run is a place to cut, with what may be
//! left of what was not synced: nothing, some sectors, all of it. A broken disk breaks at every change.
//! The figures are printed.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on says so by stopping")]

#[path = "faults/left.rs"]
mod left;
#[allow(dead_code, reason = "made for the tests of the store, which use all of it")]
#[path = "store/sample.rs"]
mod sample;
#[path = "faults/trace.rs"]
mod trace;
#[path = "faults/writer.rs"]
mod writer;

use std::fs::DirBuilder;
use std::os::unix::fs::DirBuilderExt;
use std::path::Path;

use fadewatch::store::{DataKey, Mode, Store, StoreError};
use left::{Disk, Unsynced};
use writer::Load;

/// Of so many writes one is cut at; of syncs and of files made, cut or removed, every one.
const WRITES_PER_CUT: usize = 7;
/// The run that is cut: enough for the log to be folded into the database in between.
const CUT: Load = Load { commits: 32, mail_bytes: 150_000 };
/// Each run on a broken disk: a fault at every change takes four runs.
const BROKEN: Load = Load { commits: 3, mail_bytes: 2_000 };

/// Opens the data: encrypted in a build that can, where each page carries a seal of its own.
fn open(folder: &Path) -> Result<Store, StoreError> {
    match DataKey::parse(&"5e".repeat(32)) {
        Ok(key) => Store::open_encrypted(folder, &key, Mode::Service),
        Err(_) => Store::open(folder, Mode::Service),
    }
}

/// What the cut or broken disk holds: entries of the one follow-up, after all checks.
fn entries_found(folder: &Path) -> Option<u64> {
    let store = open(folder).unwrap();
    let entries = store
        .read_blocking(|view| {
            view.check_integrity()?;
            assert_eq!(view.verify_journal()?.findings, []);
            let Some(listed) = view.follow_ups(None, 1)?.into_iter().next() else {
                return Ok(None);
            };
            assert!(view.is_state_as_journalled(listed.follow_up)?);
            let occasions = view.newest_occasions(Some("due"), u32::MAX)?.len() as u64;
            let mails = view.outbox_counts()?;
            assert_eq!(occasions, mails.queued, "an occasion without its mail");
            Ok::<_, StoreError>(Some(listed.entries))
        })
        .unwrap();
    store.close();
    entries
}

#[test]
fn a_power_cut_at_any_moment_loses_nothing_that_was_said_to_be_committed() {
    if writer::is_writer() {
        return writer::write();
    }
    let shim = writer::shim();
    let bench = tempfile::tempdir().unwrap();
    let run = writer::run(&shim, bench.path(), CUT, None);
    assert!(run.commits >= CUT.commits, "the writer committed {} times only", run.commits);
    let changes = trace::read(&run.trace, &run.disk);
    let mut disk = Disk::default();
    let mut dice = left::Dice::new(7);
    let (mut cuts, mut lost, mut said, mut writes) = (0, 0, 0, 0);
    for change in &changes {
        disk.change(change);
        if let Some(entries) = change.said() {
            said = entries;
            continue;
        }
        // Between two syncs most writes leave the same choices: every seventh is cut at.
        let is_write = matches!(change.what, trace::What::Written { .. });
        writes += usize::from(is_write);
        let left: &[Unsynced] = match (is_write, writes % WRITES_PER_CUT) {
            (true, 0) => &[Unsynced::SomeSectors, Unsynced::Kept],
            (true, _) => &[],
            (false, _) => &[Unsynced::Gone, Unsynced::SomeSectors, Unsynced::Kept],
        };
        for unsynced in left.iter().copied() {
            let folder = tempfile::tempdir_in("/dev/shm").unwrap();
            let left = folder.path().join("data");
            // As the store makes it; the mode of a folder is there as soon as the folder is.
            DirBuilder::new().mode(0o700).create(&left).unwrap();
            disk.leave(&left, unsynced, &mut dice);
            let found = entries_found(&left).unwrap_or_default();
            cuts += 1;
            lost += u64::from(found < said);
            assert!(found >= said, "{found} entries of {said}, {unsynced:?}, after {change:?}");
        }
    }
    println!(
        "power cuts: {cuts} at {} changes of {} commits; records lost: {lost}",
        changes.len(),
        run.commits
    );
    assert!(cuts > 500, "{cuts} cuts only");
    assert_eq!(entries_found(&run.disk), Some(said));
}

#[test]
fn an_io_error_or_a_full_disk_at_any_change_loses_nothing_and_leaves_nothing_half_done() {
    let shim = writer::shim();
    let bench = tempfile::tempdir_in("/dev/shm").unwrap();
    let whole = writer::run(&shim, &bench.path().join("whole"), BROKEN, None);
    let changes = trace::read(&whole.trace, &whole.disk).len();
    let (mut faults, mut refused, mut lost) = (0, 0, 0);
    for at in 1..=changes {
        for fault in writer::Fault::at(at) {
            let folder = bench.path().join(format!("{at}-{fault}"));
            let run = writer::run(&shim, &folder, BROKEN, Some(fault));
            let found = entries_found(&run.disk).unwrap_or_default();
            lost += u64::from(found < run.said);
            assert!(found >= run.said, "{found} entries of {}: {fault}", run.said);
            faults += 1;
            refused += u64::from(run.failures > 0);
            std::fs::remove_dir_all(&folder).unwrap();
        }
    }
    println!(
        "disk faults: {faults} at {changes} changes; {refused} were met by a write; lost: {lost}"
    );
    assert!(refused > faults / 4, "{refused} of {faults} faults were met by a write");
}
