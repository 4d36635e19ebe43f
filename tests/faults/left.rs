//! What a power cut leaves: what was synced, and of the rest what the disk happened to write.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use crate::trace::{Change, What};

/// Disks write whole sectors; 512 bytes is the smallest in use.
const SECTOR: usize = 512;

/// What is left of changes that were not synced.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unsynced {
    /// Nothing.
    Gone,
    /// Some sectors of some writes.
    SomeSectors,
    /// All of it.
    Kept,
}

/// All files of a disk.
#[derive(Default)]
pub struct Disk {
    files: BTreeMap<PathBuf, File>,
}

#[derive(Default)]
struct File {
    /// What is surely there; none: the file is not.
    durable: Option<Vec<u8>>,
    /// What was done since.
    pending: Vec<Pending>,
}

enum Pending {
    Made,
    Written { offset: usize, bytes: Vec<u8> },
    CutTo(usize),
    Removed,
}

impl Disk {
    /// One more change happens.
    pub fn change(&mut self, change: &Change) {
        let path = change.path.clone();
        match &change.what {
            What::Synced if path.as_os_str().is_empty() => self.sync_names(),
            What::Synced => self.files.entry(path).or_default().sync(),
            What::Made => self.pend(path, Pending::Made),
            What::Written { offset, bytes } => {
                self.pend(path, Pending::Written { offset: *offset, bytes: bytes.clone() });
            }
            What::CutTo(length) => self.pend(path, Pending::CutTo(*length)),
            What::Removed => self.pend(path, Pending::Removed),
        }
    }

    /// Writes what a power cut leaves now into a folder.
    pub fn leave(&self, folder: &Path, unsynced: Unsynced, dice: &mut Dice) {
        for (path, file) in &self.files {
            let mut left = file.durable.clone();
            for pending in &file.pending {
                match unsynced {
                    Unsynced::Gone => {}
                    Unsynced::Kept => pending.apply(&mut left),
                    Unsynced::SomeSectors => pending.apply_in_part(&mut left, dice),
                }
            }
            // The memory that processes share is no file of the disk: it is made anew after a cut.
            if let Some(bytes) = left.filter(|_| !path.to_string_lossy().ends_with("-shm")) {
                let path = folder.join(path);
                fs::create_dir_all(path.parent().unwrap()).unwrap();
                fs::write(path, bytes).unwrap();
            }
        }
    }

    fn pend(&mut self, path: PathBuf, pending: Pending) {
        self.files.entry(path).or_default().pending.push(pending);
    }

    /// The folder was synced: files that were made are there, however much of their content is; those
    /// that were removed are not.
    fn sync_names(&mut self) {
        for file in self.files.values_mut() {
            if file.pending.iter().any(|pending| matches!(pending, Pending::Removed)) {
                file.sync();
            } else if file.durable.is_none() && !file.pending.is_empty() {
                file.durable = Some(Vec::new());
            }
        }
    }
}

impl File {
    fn sync(&mut self) {
        for pending in std::mem::take(&mut self.pending) {
            pending.apply(&mut self.durable);
        }
    }
}

impl Pending {
    fn apply(&self, file: &mut Option<Vec<u8>>) {
        match self {
            Self::Made => {
                file.get_or_insert_default();
            }
            Self::Written { offset, bytes } => put(file, *offset, bytes),
            Self::CutTo(length) => file.get_or_insert_default().resize(*length, 0),
            Self::Removed => *file = None,
        }
    }

    fn apply_in_part(&self, file: &mut Option<Vec<u8>>, dice: &mut Dice) {
        match self {
            Self::Written { offset, bytes } => {
                let mut at = 0;
                while at < bytes.len() {
                    let end = (at + SECTOR - (offset + at) % SECTOR).min(bytes.len());
                    if dice.falls() {
                        put(file, offset + at, &bytes[at..end]);
                    }
                    at = end;
                }
            }
            Self::Made | Self::CutTo(_) | Self::Removed => {
                if dice.falls() {
                    self.apply(file);
                }
            }
        }
    }
}

fn put(file: &mut Option<Vec<u8>>, offset: usize, bytes: &[u8]) {
    let file = file.get_or_insert_default();
    if file.len() < offset + bytes.len() {
        file.resize(offset + bytes.len(), 0);
    }
    file[offset..offset + bytes.len()].copy_from_slice(bytes);
}

/// Xorshift (Marsaglia 2003): the same numbers for the same seed.
pub struct Dice(u64);

impl Dice {
    /// Dice of a seed above zero.
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    fn falls(&mut self) -> bool {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0 >> 40 & 1 == 1
    }
}
