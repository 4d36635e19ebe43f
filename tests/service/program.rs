//! Runs the built program: single commands, and `serve` as a process that tests stop or kill.
//!
//! Never here: files of a clinic, mail.
//! Promises: no service outlives its test; a service counts as ready when it says so itself.

use std::fs::File;
use std::os::unix::net::UnixDatagram;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Output};
use std::time::{Duration, Instant};

/// The longest that a service may take to start or to stop.
pub const PATIENCE: Duration = Duration::from_secs(40);

/// The program, not yet started.
pub fn fadewatch() -> Command {
    Command::new(assert_cmd::cargo::cargo_bin!("fadewatch"))
}

/// Runs a command that must succeed. Returns what it printed.
pub fn succeed(command: &mut Command) -> String {
    let output = command.output().unwrap();
    assert!(output.status.success(), "{command:?} failed:\n{}", complaint(&output));
    String::from_utf8(output.stdout).unwrap()
}

/// Runs a command that must fail. Returns what it complained of.
pub fn fail(command: &mut Command) -> String {
    let output = command.output().unwrap();
    assert!(!output.status.success(), "{command:?} succeeded:\n{}", complaint(&output));
    complaint(&output)
}

fn complaint(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// A running service.
pub struct Running {
    child: Child,
    told: UnixDatagram,
    told_at: PathBuf,
    log: PathBuf,
}

impl Running {
    /// Starts `serve` with a command that is complete but for the place to report to. Its log goes
    /// on at the end of the file.
    pub fn start(command: &mut Command, folder: &Path) -> Self {
        let told_at = folder.join("notify");
        let _ = std::fs::remove_file(&told_at);
        let told = UnixDatagram::bind(&told_at).unwrap();
        told.set_read_timeout(Some(Duration::from_millis(100))).unwrap();
        let log = folder.join("log");
        let stderr = File::options().create(true).append(true).open(&log).unwrap();
        let child = command.env("NOTIFY_SOCKET", &told_at).stderr(stderr).spawn().unwrap();
        Self { child, told, told_at, log }
    }

    /// Waits until the service says that it is ready.
    pub fn ready(mut self) -> Self {
        self.await_word("READY=1");
        self
    }

    /// Waits until the service has told the service manager this.
    pub fn await_word(&mut self, word: &str) {
        let until = Instant::now() + PATIENCE;
        let mut heard = [0; 512];
        while Instant::now() < until {
            if let Ok(length) = self.told.recv(&mut heard)
                && String::from_utf8_lossy(&heard[..length]).lines().any(|line| line == word)
            {
                return;
            }
            if let Some(status) = self.child.try_wait().unwrap() {
                panic!("the service ended with {status} before {word}:\n{}", self.log());
            }
        }
        panic!("the service did not say {word}:\n{}", self.log());
    }

    /// Hears from now on whatever the service tells the service manager: what nobody fetches blocks
    /// it, as it never does with a real one.
    pub fn hear_all(&self) {
        let (told, told_at) = (self.told.try_clone().unwrap(), self.told_at.clone());
        std::thread::spawn(move || {
            let mut heard = [0; 512];
            while told_at.exists() {
                let _ = told.recv(&mut heard);
            }
        });
    }

    /// What the service has logged so far, in this run and those before it.
    pub fn log(&self) -> String {
        std::fs::read_to_string(&self.log).unwrap_or_default()
    }

    /// The process.
    pub fn id(&self) -> u32 {
        self.child.id()
    }

    /// Ends the process at once, wherever it is.
    pub fn kill(mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }

    /// Asks the service to stop.
    pub fn terminate(&self) {
        succeed(Command::new("kill").arg("-TERM").arg(self.id().to_string()));
    }

    /// Waits for the end. Returns how it ended and after how long.
    pub fn ended(&mut self) -> (ExitStatus, Duration) {
        let begun = Instant::now();
        while begun.elapsed() < PATIENCE {
            if let Some(status) = self.child.try_wait().unwrap() {
                return (status, begun.elapsed());
            }
            std::thread::sleep(Duration::from_millis(20));
        }
        panic!("the service did not end:\n{}", self.log());
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        if self.child.try_wait().is_ok_and(|ended| ended.is_none()) {
            let _ = self.child.kill();
            let _ = self.child.wait();
        }
        if std::thread::panicking() {
            eprintln!("the service's log:\n{}", self.log());
        }
        let _ = std::fs::remove_file(&self.told_at);
    }
}
