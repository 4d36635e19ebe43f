//! A folder as an outlet: one maildir per recipient, for the demonstration and for tests.
//!
//! Never here: reading mail.
//! Promises: a mail appears whole or not at all, and is on disk when it counts as accepted; no
//! address can name a folder outside the outlet's own.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{SystemTime, UNIX_EPOCH};

use super::super::address::Address;
use super::super::connectivity::Trouble;
use super::super::error::PostError;
use super::Outcome;

/// Tells apart the mails of one process that fall into one microsecond.
static WRITTEN: AtomicU64 = AtomicU64::new(0);

/// A folder that holds a maildir for each recipient, named after the address in lower case without
/// its token.
#[derive(Clone, Debug)]
pub struct MaildirOutlet {
    root: PathBuf,
}

impl MaildirOutlet {
    /// Opens the folder, making it if need be.
    ///
    /// # Errors
    /// When the folder cannot be made.
    pub fn new(root: impl Into<PathBuf>) -> Result<Self, PostError> {
        let root = root.into();
        fs::create_dir_all(&root)
            .map_err(|source| PostError::Maildir { path: root.clone(), source })?;
        Ok(Self { root })
    }

    /// The maildir of a recipient; it exists once a mail was sent there.
    pub fn folder_of(&self, recipient: &Address) -> PathBuf {
        self.root.join(folder_name(recipient))
    }

    /// Whether a file can be written here; see [`super::Outlet::probe`].
    ///
    /// # Errors
    /// When it cannot.
    pub fn probe(&self) -> Result<(), Trouble> {
        tempfile::tempfile_in(&self.root).map(|_| ()).map_err(|_| Trouble::Disk)
    }

    /// Writes one mail, with the trace headers that a delivering server would add.
    pub async fn send(
        &self,
        envelope_from: &Address,
        recipient: &Address,
        bytes: &[u8],
    ) -> Outcome {
        let folder = self.folder_of(recipient);
        let trace = format!("Return-Path: <{envelope_from}>\r\nDelivered-To: {recipient}\r\n");
        let mail = [trace.as_bytes(), bytes].concat();
        let written = tokio::task::spawn_blocking(move || deliver(&folder, &mail)).await;
        match written {
            Ok(Ok(name)) => Outcome::Accepted { reply: name },
            Ok(Err(error)) => {
                Outcome::Unreachable { trouble: Trouble::Disk, why: error.to_string() }
            }
            Err(broken) => Outcome::InDoubt { why: broken.to_string() },
        }
    }
}

/// Writes a mail into a maildir: into `tmp`, synced, then moved to `new`. Returns its file name.
fn deliver(folder: &Path, mail: &[u8]) -> io::Result<String> {
    for inner in ["tmp", "new", "cur"] {
        fs::create_dir_all(folder.join(inner))?;
    }
    let name = unique_name();
    let (draft, place) = (folder.join("tmp").join(&name), folder.join("new").join(&name));
    let written = File::create_new(&draft).and_then(|mut file| {
        file.write_all(mail)?;
        file.sync_all()
    });
    let moved = written.and_then(|()| fs::rename(&draft, &place));
    if let Err(error) = moved {
        // The draft is worthless; when even removing it fails, the first error says more.
        let _ = fs::remove_file(&draft);
        return Err(error);
    }
    File::open(folder.join("new"))?.sync_all()?;
    Ok(name)
}

/// Sorts by time of writing: seconds, microseconds, process, count.
fn unique_name() -> String {
    let now = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
    let count = WRITTEN.fetch_add(1, Ordering::Relaxed);
    let (seconds, micros, process) = (now.as_secs(), now.subsec_micros(), std::process::id());
    format!("{seconds}.M{micros:06}P{process}Q{count:06}.fadewatch")
}

/// An address as a folder's name: anything that is not plainly harmless becomes `=` and two
/// hexadecimal digits, a leading dot too.
fn folder_name(address: &Address) -> String {
    let mut name = String::new();
    for byte in address.without_token().folded().bytes() {
        let plain = byte.is_ascii_alphanumeric()
            || matches!(byte, b'@' | b'-' | b'_')
            || (byte == b'.' && !name.is_empty());
        if plain { name.push(char::from(byte)) } else { name.push_str(&format!("={byte:02x}")) }
    }
    name
}

#[cfg(test)]
mod tests {
    use super::*;

    fn address(text: &str) -> Address {
        Address::parse(text).unwrap()
    }

    #[tokio::test]
    async fn a_mail_lies_whole_in_new_with_its_trace_headers() {
        let folder = tempfile::tempdir().unwrap();
        let outlet = MaildirOutlet::new(folder.path().join("sent")).unwrap();
        let (from, to) = (address("robot@clinic.example"), address("Ann+x@home.example"));
        let outcome = outlet.send(&from, &to, b"Subject: a\r\n\r\nb\r\n").await;
        assert!(matches!(outcome, Outcome::Accepted { .. }), "{outcome:?}");
        let maildir = folder.path().join("sent/ann@home.example");
        let mails: Vec<_> = fs::read_dir(maildir.join("new")).unwrap().collect();
        assert_eq!(mails.len(), 1);
        assert_eq!(
            fs::read_to_string(mails[0].as_ref().unwrap().path()).unwrap(),
            "Return-Path: <robot@clinic.example>\r\nDelivered-To: Ann+x@home.example\r\n\
             Subject: a\r\n\r\nb\r\n"
        );
        assert_eq!(fs::read_dir(maildir.join("tmp")).unwrap().count(), 0);
    }

    #[tokio::test]
    async fn a_folder_that_cannot_be_written_is_no_fault_of_the_recipient() {
        let folder = tempfile::tempdir().unwrap();
        let outlet = MaildirOutlet::new(folder.path()).unwrap();
        fs::write(folder.path().join("ann@home.example"), "in the way").unwrap();
        let (from, to) = (address("robot@clinic.example"), address("ann@home.example"));
        let outcome = outlet.send(&from, &to, b"x").await;
        assert!(
            matches!(outcome, Outcome::Unreachable { trouble: Trouble::Disk, .. }),
            "{outcome:?}"
        );
    }

    #[test]
    fn no_address_names_a_folder_elsewhere() {
        assert_eq!(folder_name(&address("a/b|c@home.example")), "a=2fb=7cc@home.example");
        assert_eq!(folder_name(&address("Ann+tok@Home.example")), "ann@home.example");
    }

    #[test]
    fn names_of_mails_sort_in_the_order_of_writing() {
        let names: Vec<_> = (0..500).map(|_| unique_name()).collect();
        let mut sorted = names.clone();
        sorted.sort();
        assert_eq!(names, sorted);
    }
}
