//! The data folder and the file in it: made closed, refused with a clear reason, copied whole.

use std::fs::{self, Permissions};
use std::os::unix::fs::PermissionsExt;
use std::os::unix::process::CommandExt;
use std::path::Path;
use std::process::Command;

use fadewatch::store::{DATABASE, Mode, Store, StoreError};

use crate::bench::{Bench, InAFile};
use crate::sample::{self, at};

/// Set for a child process without rights: the folder that it is to open.
const CHILD: &str = "FADEWATCH_TEST_OPENS";
/// A user and group that own nothing.
const NOBODY: u32 = 65534;

fn mode_of(path: &Path) -> u32 {
    fs::metadata(path).unwrap().permissions().mode() & 0o777
}

fn refusal(folder: &Path) -> StoreError {
    Store::open(folder, Mode::Service).unwrap_err()
}

#[test]
fn the_folder_and_all_files_in_it_are_closed_to_others() {
    let parent = tempfile::tempdir().unwrap();
    let folder = parent.path().join("a/b");
    let store = Store::open(&folder, Mode::Service).unwrap();
    let _lock = Store::lock_for_service(&folder).unwrap();
    store.write_blocking(|tx| tx.add_occasion(&sample::due(at(0)))).unwrap();
    assert_eq!(mode_of(&folder), 0o700);
    let files: Vec<_> = fs::read_dir(&folder).unwrap().map(|file| file.unwrap().path()).collect();
    assert!(files.len() >= 5, "{files:?}");
    for file in files {
        assert_eq!(mode_of(&file) & 0o077, 0, "{}", file.display());
    }
}

#[test]
fn a_folder_with_other_peoples_files_is_not_closed_to_them() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("letter.txt"), "dear all").unwrap();
    fs::set_permissions(folder.path(), Permissions::from_mode(0o755)).unwrap();
    assert!(matches!(refusal(folder.path()), StoreError::FolderNotOurs { .. }));
    assert_eq!(mode_of(folder.path()), 0o755);
}

#[test]
fn a_second_service_on_one_folder_is_refused_until_the_first_ends() {
    let bench = Bench::<InAFile>::new();
    let lock = Store::lock_for_service(bench.host.folder()).unwrap();
    let refused = Store::lock_for_service(bench.host.folder()).unwrap_err();
    assert!(matches!(refused, StoreError::ServiceRunning { .. }), "{refused}");
    assert!(refused.to_string().contains("another `fadewatch serve` already runs"));
    Store::open(bench.host.folder(), Mode::Command).unwrap();
    drop(lock);
    Store::lock_for_service(bench.host.folder()).unwrap();
}

#[test]
fn a_database_of_a_newer_version_is_refused_and_left_as_it_is() {
    let bench = Bench::<InAFile>::new();
    bench.store.close();
    let path = bench.host.folder().join(DATABASE);
    let file = rusqlite::Connection::open(&path).unwrap();
    file.pragma_update(None, "user_version", 99).unwrap();
    file.close().unwrap();
    let before = fs::read(&path).unwrap();
    for mode in [Mode::Service, Mode::Command, Mode::Reading] {
        let refused = Store::open(bench.host.folder(), mode).unwrap_err();
        assert!(matches!(refused, StoreError::Newer { found: 99, .. }), "{refused}");
        assert!(refused.to_string().contains("newer than this program"));
    }
    assert_eq!(fs::read(&path).unwrap(), before);
}

#[test]
fn files_that_are_not_our_database_are_refused_and_left_as_they_are() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(DATABASE);
    let text = "This is no database. ".repeat(100);
    fs::write(&path, &text).unwrap();
    assert!(matches!(refusal(folder.path()), StoreError::NotADatabase { .. }));
    assert_eq!(fs::read_to_string(&path).unwrap(), text);
    fs::remove_file(&path).unwrap();
    let other = rusqlite::Connection::open(&path).unwrap();
    other.execute_batch("CREATE TABLE theirs (x)").unwrap();
    assert!(matches!(refusal(folder.path()), StoreError::AnotherProgram { .. }));
}

#[test]
fn a_damaged_database_is_noticed_at_the_start() {
    let bench = Bench::<InAFile>::new();
    let follow_up = bench.enroll("C-1");
    for minutes in 0..40 {
        bench.clock(follow_up, at(minutes * 30));
    }
    bench.store.close();
    let path = bench.host.folder().join(DATABASE);
    let mut bytes = fs::read(&path).unwrap();
    // All pages but the first, which holds the header and the tables' definitions.
    let (page, end) = (4096, bytes.len());
    bytes[page..end].iter_mut().step_by(7).for_each(|byte| *byte ^= 0x55);
    fs::write(&path, bytes).unwrap();
    assert!(matches!(refusal(bench.host.folder()), StoreError::Damaged { .. }));
}

#[test]
fn reading_only_makes_nothing_and_writes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let missing = Store::open(folder.path(), Mode::Reading).unwrap_err();
    assert!(matches!(missing, StoreError::Missing { .. }));
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);
    let bench = Bench::<InAFile>::new();
    let follow_up = bench.enroll("C-1");
    let reading = Store::open(bench.host.folder(), Mode::Reading).unwrap();
    assert!(reading.read_blocking(|view| view.load(follow_up)).is_ok());
    let refused = reading.write_blocking(|tx| tx.add_occasion(&sample::due(at(0))));
    assert!(matches!(refused, Err(StoreError::Closed)));
}

#[test]
fn a_folder_that_may_not_be_written_to_is_refused_as_read_only() {
    if let Some(folder) = std::env::var_os(CHILD) {
        let refused = refusal(Path::new(&folder));
        println!("refused: {refused} | {}", refused.help());
        return;
    }
    let place = tempfile::tempdir().unwrap();
    let folder = place.path().join("data");
    drop(Store::open(&folder, Mode::Service).unwrap());
    fs::set_permissions(place.path(), Permissions::from_mode(0o755)).unwrap();
    for file in fs::read_dir(&folder).unwrap() {
        let path = file.unwrap().path();
        let mode = if path.is_dir() { 0o555 } else { 0o444 };
        fs::set_permissions(path, Permissions::from_mode(mode)).unwrap();
    }
    // Readable, so that it looks like a folder on a disk mounted for reading.
    fs::set_permissions(&folder, Permissions::from_mode(0o555)).unwrap();
    let copy = place.path().join("test");
    // By a process of its own: a program that a fork of another test still holds open for writing
    // cannot be started.
    let copied = Command::new("cp").arg(std::env::current_exe().unwrap()).arg(&copy).status();
    assert!(copied.unwrap().success());
    let mut child = Command::new(copy);
    child
        .args(["--exact", "--nocapture"])
        .arg("folder::a_folder_that_may_not_be_written_to_is_refused_as_read_only")
        .env(CHILD, &folder)
        .current_dir(place.path());
    if is_root() {
        child.uid(NOBODY).gid(NOBODY);
    }
    let output = child.output().unwrap();
    let said = String::from_utf8_lossy(&output.stdout);
    assert!(said.contains("refused: the data folder"), "{said}");
    assert!(said.contains("is read-only for this user | Nothing was changed."), "{said}");
}

fn is_root() -> bool {
    use std::os::unix::fs::MetadataExt;
    fs::metadata("/proc/self").unwrap().uid() == 0
}

#[test]
fn a_backup_made_while_the_store_is_written_opens_whole() {
    let bench = Bench::<InAFile>::new();
    let follow_up = bench.enroll("C-1");
    bench.clock(follow_up, at(0));
    let place = tempfile::tempdir().unwrap();
    fs::create_dir(place.path().join("restored")).unwrap();
    let copy = place.path().join("restored").join(DATABASE);
    let (store, to) = (bench.store.clone(), copy.clone());
    bench
        .store
        .write_blocking(move |tx| {
            tx.add_occasion(&sample::due(at(1)))?;
            store.backup(&to)
        })
        .unwrap();
    assert_eq!(mode_of(&copy), 0o600);
    let restored = Store::open(&place.path().join("restored"), Mode::Service).unwrap();
    assert_eq!(restored.read_blocking(|view| view.load(follow_up)).unwrap(), bench.load(follow_up));
    restored.read_blocking(|view| view.check_integrity()).unwrap();
    assert!(bench.store.backup(&copy).is_err(), "a backup must not replace another");
    let rest = fs::read_dir(place.path().join("restored")).unwrap();
    assert!(rest.flatten().all(|file| !file.path().ends_with("unfinished")));
}

#[test]
fn closing_leaves_one_file_and_refuses_later_writes() {
    let bench = Bench::<InAFile>::new();
    bench.enroll("C-1");
    bench.store.close();
    let log = bench.host.folder().join(format!("{DATABASE}-wal"));
    assert!(fs::metadata(log).map_or(0, |file| file.len()) == 0);
    let refused = bench.store.write_blocking(|tx| tx.add_occasion(&sample::due(at(0))));
    assert!(matches!(refused, Err(StoreError::Closed)));
}
