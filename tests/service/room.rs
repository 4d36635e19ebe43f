//! Room for a service's files that can be taken away and given back: a disk that fills up.
//!
//! Never here: what the service does about it.
//! Promises: nothing else on the machine runs out of room; the small disk is gone when the test ends.

use std::fs::File;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::Command;

use crate::program::{Running, succeed};

/// The room of the small disk: enough for a database with some mail.
const DISK: &str = "size=4m";
/// Where there is no small disk: no file may grow beyond this. The log has room, a reply has not.
const FILE_BYTES_MAX: &str = "100000";

/// Room that can be taken away from a service.
pub enum Room {
    /// A disk of its own, small enough to be filled up.
    Disk(PathBuf),
    /// Where no disk can be mounted: no file of the service may grow any more.
    Limit,
}

impl Room {
    /// Makes a folder, with a small disk on it if this machine lets us.
    pub fn prepare(folder: &Path) -> Self {
        std::fs::create_dir(folder).unwrap();
        let mut mount = Command::new("mount");
        mount.args(["-t", "tmpfs", "-o", DISK, "none"]).arg(folder);
        let is_mounted = mount.status().is_ok_and(|status| status.success());
        if is_mounted { Self::Disk(folder.to_owned()) } else { Self::Limit }
    }

    /// The same command with the signal that a file has reached its limit ignored, so that writing
    /// fails as it does on a full disk.
    pub fn without_signal(command: &Command) -> Command {
        let mut shell = Command::new("bash");
        shell.args(["-c", "trap '' XFSZ; exec \"$@\"", "bash"]);
        shell.arg(command.get_program()).args(command.get_args());
        for (name, value) in command.get_envs() {
            match value {
                Some(value) => shell.env(name, value),
                None => shell.env_remove(name),
            };
        }
        if let Some(folder) = command.get_current_dir() {
            shell.current_dir(folder);
        }
        shell
    }

    /// From now on nothing more can be written.
    pub fn take_away(&self, service: &Running) {
        match self {
            Self::Disk(folder) => {
                let mut ballast = File::create(folder.join("ballast")).unwrap();
                while ballast.write_all(&[0; 4096]).is_ok() {}
            }
            Self::Limit => limit_files(service.id(), FILE_BYTES_MAX),
        }
    }

    /// From now on there is room again.
    pub fn give_back(&self, service: &Running) {
        match self {
            Self::Disk(folder) => std::fs::remove_file(folder.join("ballast")).unwrap(),
            Self::Limit => limit_files(service.id(), "unlimited"),
        }
    }
}

impl Drop for Room {
    fn drop(&mut self) {
        if let Self::Disk(folder) = self {
            // Lazily, since the service may still hold its files.
            let _ = Command::new("umount").arg("--lazy").arg(folder).status();
        }
    }
}

fn limit_files(process: u32, bytes: &str) {
    succeed(
        Command::new("prlimit").arg(format!("--pid={process}")).arg(format!("--fsize={bytes}:")),
    );
}
