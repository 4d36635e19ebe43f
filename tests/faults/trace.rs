//! The record of a run: every change of the disk, in order.

use std::collections::BTreeMap;
use std::fmt;
use std::path::{Path, PathBuf};

use crate::writer::SAID;

/// One change.
pub struct Change {
    /// The file.
    pub path: PathBuf,
    /// What was done to it.
    pub what: What,
}

/// What was done.
pub enum What {
    Made,
    Written { offset: usize, bytes: Vec<u8> },
    CutTo(usize),
    Synced,
    Removed,
}

impl Change {
    /// How many entries the writer says are committed, where this is its saying so.
    pub fn said(&self) -> Option<u64> {
        match &self.what {
            What::Written { bytes, .. } if self.path.ends_with(SAID) => {
                std::str::from_utf8(bytes).unwrap().trim().parse().ok()
            }
            _ => None,
        }
    }
}

impl fmt::Debug for Change {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let what = match &self.what {
            What::Made => "made".to_owned(),
            What::Written { offset, bytes } => format!("{} bytes at {offset}", bytes.len()),
            What::CutTo(length) => format!("cut to {length}"),
            What::Synced => "synced".to_owned(),
            What::Removed => "removed".to_owned(),
        };
        write!(f, "{}: {what}", self.path.display())
    }
}

/// Reads a record; paths are from the disk's own folder.
pub fn read(trace: &Path, disk: &Path) -> Vec<Change> {
    let bytes = std::fs::read(trace).unwrap();
    let mut rest = bytes.as_slice();
    let mut changes = Vec::new();
    let mut kinds: BTreeMap<char, usize> = BTreeMap::new();
    while !rest.is_empty() {
        let end = rest.iter().position(|byte| *byte == b'\n').unwrap();
        let head = std::str::from_utf8(&rest[..end]).unwrap();
        rest = &rest[end + 1..];
        let [op, path, offset, length] = head.split(' ').collect::<Vec<_>>()[..] else {
            panic!("a record that cannot be read: {head}");
        };
        let (offset, length): (usize, usize) = (offset.parse().unwrap(), length.parse().unwrap());
        let what = match op {
            "C" => What::Made,
            "W" => {
                let bytes = rest[..length].to_vec();
                rest = &rest[length..];
                What::Written { offset, bytes }
            }
            "T" => What::CutTo(offset),
            "S" => What::Synced,
            "U" => What::Removed,
            _ => panic!("a record of an unknown kind: {head}"),
        };
        *kinds.entry(op.chars().next().unwrap()).or_default() += 1;
        let path = Path::new(path).strip_prefix(disk).unwrap().to_owned();
        changes.push(Change { path, what });
    }
    for kind in ['C', 'W', 'S'] {
        assert!(kinds.contains_key(&kind), "nothing of kind {kind} was traced: {kinds:?}");
    }
    changes
}
