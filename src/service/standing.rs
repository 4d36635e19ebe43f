//! What hinders the service at present, for other processes: one small file beside the data.
//!
//! Never here: noticing trouble, telling people of it; clients, addresses or words of anybody.
//! Promises: whoever reads the file finds all of one writing or of the one before it. It is no part
//! of the record: it is written anew at every start, and a copy of the data needs none.

use std::fs;
use std::io::{self, Write};
use std::path::Path;

use serde::{Deserialize, Serialize};

use crate::follow_up::Instant;
use crate::notice::ServiceTrouble;

/// The file's name in the data folder.
const FILE: &str = "trouble.json";

/// One thing that hinders the service, as it was told.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Standing {
    /// What it is.
    pub what: ServiceTrouble,
    /// Since when.
    pub since: Instant,
}

/// Writes down what stands.
///
/// # Errors
/// When the folder cannot be written to, as on a full disk.
pub fn write(folder: &Path, standing: &[Standing]) -> io::Result<()> {
    let text = serde_json::to_string(standing)?;
    // Closed to others from its first moment on.
    let mut file = tempfile::NamedTempFile::new_in(folder)?;
    file.write_all(text.as_bytes())?;
    file.persist(folder.join(FILE))?;
    Ok(())
}

/// What stands; nothing where no service has written yet.
///
/// # Errors
/// When the file cannot be read, or holds something else.
pub fn read(folder: &Path) -> io::Result<Vec<Standing>> {
    match fs::read_to_string(folder.join(FILE)) {
        Ok(text) => Ok(serde_json::from_str(&text)?),
        Err(missing) if missing.kind() == io::ErrorKind::NotFound => Ok(Vec::new()),
        Err(failed) => Err(failed),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::notice::{MailTrouble, MailWay};

    #[test]
    fn what_stands_is_read_as_it_was_written_and_nothing_stands_before() {
        let folder = tempfile::tempdir().unwrap();
        assert_eq!(read(folder.path()).unwrap(), []);
        let what = ServiceTrouble::Mail(MailWay::In, MailTrouble::Certificate);
        let since = Instant::from_timestamp_millis(1_800_000_000_123).unwrap();
        write(folder.path(), &[Standing { what, since }]).unwrap();
        assert_eq!(read(folder.path()).unwrap(), [Standing { what, since }]);
        write(folder.path(), &[]).unwrap();
        assert_eq!(read(folder.path()).unwrap(), []);
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn a_file_of_other_content_is_no_sign_that_nothing_stands() {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join(FILE), "all is well").unwrap();
        assert!(read(folder.path()).is_err());
    }
}
