//! A maildir as a way in: told by the system when a mail lies in `new`, moved to `cur` once taken.
//!
//! Never here: writing mails.
//! Promises: only regular files are read; a mail stays in `new` until it was confirmed.

use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::time::Duration;

use chrono::{DateTime, Utc};
use notify::event::{AccessKind, AccessMode};
use notify::{EventKind, RecursiveMode, Watcher};
use tokio::sync::{mpsc, oneshot, watch};

use super::super::connectivity::{Connectivity, Outage, Trouble};
use super::super::error::PostError;
use super::patience::pause;
use super::{Arrival, Extent, HEAD_BYTES_MAX, Place, WHOLE_MAIL_BYTES_MAX};

/// Even a watched folder is looked at this often: a file system shared over the network tells
/// nobody of what other machines put there.
const LOOK_EVERY: Duration = Duration::from_secs(60);
/// How long to wait after a first failure.
const FIRST_PAUSE: Duration = Duration::from_secs(1);
/// How long the service may take to confirm a mail.
const CONFIRM_WITHIN: Duration = Duration::from_secs(60);

/// A maildir that mail is delivered to.
#[derive(Debug)]
pub struct MaildirInbox {
    folder: PathBuf,
}

impl MaildirInbox {
    /// The folder.
    pub(super) fn folder(&self) -> &Path {
        &self.folder
    }

    /// Opens the maildir, making it if need be.
    ///
    /// # Errors
    /// When the folders cannot be made.
    pub fn new(folder: impl Into<PathBuf>) -> Result<Self, PostError> {
        let folder = folder.into();
        for inner in ["tmp", "new", "cur"] {
            fs::create_dir_all(folder.join(inner))
                .map_err(|source| PostError::Maildir { path: folder.clone(), source })?;
        }
        Ok(Self { folder })
    }

    pub(super) async fn run(
        self,
        arrivals: mpsc::Sender<Vec<Arrival>>,
        health: watch::Sender<Connectivity>,
    ) {
        let mut failures = 0;
        loop {
            let Err(stopped) = self.watch(&arrivals, &mut failures, &health).await;
            let Stopped::Fault(trouble, why) = stopped else { return };
            failures += 1;
            tracing::warn!(failures, %trouble, "mail in is down");
            health.send_replace(Connectivity::Down(Outage { failures, trouble, why }));
            tokio::select! {
                () = tokio::time::sleep(pause(FIRST_PAUSE, failures)) => {}
                () = arrivals.closed() => return,
            }
        }
    }

    /// Takes what is in `new`, again whenever something comes, until something fails.
    async fn watch(
        &self,
        arrivals: &mpsc::Sender<Vec<Arrival>>,
        failures: &mut u32,
        health: &watch::Sender<Connectivity>,
    ) -> Result<std::convert::Infallible, Stopped> {
        let new = self.folder.join("new");
        let (wake, mut woken) = mpsc::channel::<()>(1);
        // Watching begins before the first look, so that nothing falls between the two. One
        // waiting wake-up is enough: each look takes all there is.
        let mut watcher = notify::recommended_watcher(move |event| {
            if is_news(&event) {
                let _ = wake.try_send(());
            }
        })
        .map_err(disk)?;
        watcher.watch(&new, RecursiveMode::NonRecursive).map_err(disk)?;
        loop {
            for name in names_in(&new).map_err(disk)? {
                self.take(&name, arrivals).await?;
            }
            *failures = 0;
            health.send_if_modified(|state| {
                std::mem::replace(state, Connectivity::Up) != Connectivity::Up
            });
            tokio::select! {
                _ = woken.recv() => {}
                () = tokio::time::sleep(LOOK_EVERY) => {}
                () = arrivals.closed() => return Err(Stopped::ReceiverGone),
            }
        }
    }

    async fn take(&self, name: &str, arrivals: &mpsc::Sender<Vec<Arrival>>) -> Result<(), Stopped> {
        let path = self.folder.join("new").join(name);
        let found = tokio::task::spawn_blocking(move || read(&path)).await.map_err(disk)?;
        let mail = match found {
            Ok(Some(mail)) => mail,
            // No mail, or taken by somebody else since the look.
            Ok(None) => return Ok(()),
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(()),
            Err(error) => return Err(disk(error)),
        };
        let (taken, confirmation) = oneshot::channel();
        let arrival = Arrival {
            raw: mail.raw,
            extent: mail.extent,
            received_at: mail.received_at,
            place: Place::Maildir(name.to_owned()),
            taken,
        };
        arrivals.send(vec![arrival]).await.map_err(|_| Stopped::ReceiverGone)?;
        match tokio::time::timeout(CONFIRM_WITHIN, confirmation).await {
            Ok(Ok(())) => self.file_away(name).map_err(disk),
            _ if arrivals.is_closed() => Err(Stopped::ReceiverGone),
            _ => {
                let why = "a mail was handed over, but not confirmed as stored".to_owned();
                Err(Stopped::Fault(Trouble::NotTaken, why))
            }
        }
    }

    /// Moves a confirmed mail to `cur`, as seen.
    fn file_away(&self, name: &str) -> io::Result<()> {
        let seen = if name.contains(":2,") { name.to_owned() } else { format!("{name}:2,S") };
        let (from, to) = (self.folder.join("new").join(name), self.folder.join("cur").join(seen));
        match fs::rename(from, to) {
            // Somebody else moved it: it is out of `new`, which is all that matters.
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(()),
            done => done,
        }
    }
}

enum Stopped {
    ReceiverGone,
    Fault(Trouble, String),
}

struct Mail {
    raw: Vec<u8>,
    extent: Extent,
    received_at: Option<DateTime<Utc>>,
}

fn disk(error: impl ToString) -> Stopped {
    Stopped::Fault(Trouble::Disk, error.to_string())
}

/// Whether an event of the folder may mean new mail. Our own look into the folder is an event too:
/// taken for news, each look would call for the next. An error is news: better to look once too
/// often than too seldom.
fn is_news(event: &notify::Result<notify::Event>) -> bool {
    event.as_ref().map_or(true, |event| match event.kind {
        EventKind::Access(access) => access == AccessKind::Close(AccessMode::Write),
        _ => true,
    })
}

/// The names of the mails, oldest first: maildir names begin with the time of delivery.
fn names_in(folder: &Path) -> io::Result<Vec<String>> {
    let mut names = Vec::new();
    for entry in fs::read_dir(folder)? {
        // A name that is no UTF-8 or begins with a dot is no mail by the maildir rules.
        if let Ok(name) = entry?.file_name().into_string()
            && !name.starts_with('.')
        {
            names.push(name);
        }
    }
    names.sort();
    Ok(names)
}

/// Reads a mail, of a too large one the head; nothing if it is not a regular file.
fn read(path: &Path) -> io::Result<Option<Mail>> {
    let about = fs::symlink_metadata(path)?;
    if !about.is_file() {
        return Ok(None);
    }
    let is_too_large = about.len() > u64::from(WHOLE_MAIL_BYTES_MAX);
    let limit = if is_too_large { HEAD_BYTES_MAX } else { WHOLE_MAIL_BYTES_MAX };
    let mut raw = Vec::new();
    File::open(path)?.take(u64::from(limit)).read_to_end(&mut raw)?;
    let extent =
        if is_too_large { Extent::HeadOnly { size_bytes: about.len() } } else { Extent::Whole };
    Ok(Some(Mail { raw, extent, received_at: about.modified().ok().map(DateTime::from) }))
}

#[cfg(test)]
mod tests {
    use super::*;

    struct Running {
        folder: tempfile::TempDir,
        arrivals: mpsc::Receiver<Vec<Arrival>>,
        health: watch::Receiver<Connectivity>,
    }

    impl Running {
        async fn next(&mut self) -> Arrival {
            let next = self.arrivals.recv();
            tokio::time::timeout(Duration::from_secs(10), next).await.unwrap().unwrap().remove(0)
        }

        fn count(&self, inner: &str) -> usize {
            fs::read_dir(self.folder.path().join(inner)).unwrap().count()
        }

        async fn settled(&self, inner: &str, count: usize) {
            for _ in 0..500 {
                if self.count(inner) == count {
                    return;
                }
                tokio::time::sleep(Duration::from_millis(10)).await;
            }
            panic!("{inner} holds {} mails instead of {count}", self.count(inner));
        }
    }

    fn deliver(folder: &Path, name: &str, content: &[u8]) {
        let draft = folder.join("tmp").join(name);
        fs::write(&draft, content).unwrap();
        fs::rename(draft, folder.join("new").join(name)).unwrap();
    }

    fn start(before: &[&str]) -> Running {
        let folder = tempfile::tempdir().unwrap();
        let inbox = MaildirInbox::new(folder.path()).unwrap();
        for name in before {
            deliver(folder.path(), name, name.as_bytes());
        }
        let (arrivals, receiver) = mpsc::channel(1);
        let (health, watched) = watch::channel(Connectivity::Unknown);
        tokio::spawn(inbox.run(arrivals, health));
        Running { folder, arrivals: receiver, health: watched }
    }

    #[test]
    fn looking_into_the_folder_is_no_news_and_whatever_may_be_mail_is() {
        use notify::event::{CreateKind, ModifyKind, RenameMode};
        let event = |kind| Ok(notify::Event::new(kind));
        let open = AccessKind::Open(AccessMode::Any);
        for access in [open, AccessKind::Close(AccessMode::Read), AccessKind::Read] {
            assert!(!is_news(&event(EventKind::Access(access))), "{access:?}");
        }
        let written = EventKind::Access(AccessKind::Close(AccessMode::Write));
        let moved = EventKind::Modify(ModifyKind::Name(RenameMode::To));
        for news in [written, moved, EventKind::Create(CreateKind::File), EventKind::Any] {
            assert!(is_news(&event(news)), "{news:?}");
        }
        assert!(is_news(&Err(notify::Error::generic("lost"))));
    }

    #[tokio::test]
    async fn old_and_new_mails_are_handed_over_in_order_and_moved_once_confirmed() {
        let mut running = start(&["2.b", "1.a"]);
        for name in ["1.a", "2.b"] {
            let arrival = running.next().await;
            assert_eq!(arrival.place.to_string(), format!("maildir/{name}"));
            assert_eq!(arrival.raw, name.as_bytes());
            assert!(running.folder.path().join("new").join(name).exists());
            arrival.taken.send(()).unwrap();
        }
        running.settled("cur", 2).await;
        running.health.wait_for(|state| *state == Connectivity::Up).await.unwrap();
        deliver(running.folder.path(), "3.c", b"later");
        running.next().await.taken.send(()).unwrap();
        running.settled("cur", 3).await;
        assert!(running.folder.path().join("cur/3.c:2,S").exists());
    }

    #[tokio::test]
    async fn a_mail_that_was_not_confirmed_is_handed_over_again() {
        let mut running = start(&["1.a"]);
        drop(running.next().await);
        running.health.wait_for(Connectivity::is_down).await.unwrap();
        assert_eq!(running.count("new"), 1);
        running.next().await.taken.send(()).unwrap();
        running.settled("new", 0).await;
    }

    #[tokio::test]
    async fn links_folders_and_hidden_files_are_no_mails() {
        let folder = tempfile::tempdir().unwrap();
        let inbox = MaildirInbox::new(folder.path()).unwrap();
        let new = folder.path().join("new");
        std::os::unix::fs::symlink("/etc/passwd", new.join("0.link")).unwrap();
        fs::create_dir(new.join("0.folder")).unwrap();
        fs::write(new.join(".hidden"), "x").unwrap();
        deliver(folder.path(), "1.mail", b"mail");
        let (arrivals, mut receiver) = mpsc::channel(1);
        tokio::spawn(inbox.run(arrivals, watch::channel(Connectivity::Unknown).0));
        assert_eq!(receiver.recv().await.unwrap()[0].raw, b"mail");
    }

    #[tokio::test]
    async fn of_a_too_large_mail_the_head_is_handed_over_with_its_size() {
        let mut running = start(&[]);
        let large = vec![b'x'; WHOLE_MAIL_BYTES_MAX as usize + 1];
        deliver(running.folder.path(), "1.large", &large);
        let arrival = running.next().await;
        assert_eq!(arrival.extent, Extent::HeadOnly { size_bytes: large.len() as u64 });
        assert_eq!(arrival.raw.len(), HEAD_BYTES_MAX as usize);
    }

    #[tokio::test]
    async fn it_ends_when_nobody_takes_mails_any_more() {
        let folder = tempfile::tempdir().unwrap();
        let inbox = MaildirInbox::new(folder.path()).unwrap();
        let (arrivals, receiver) = mpsc::channel(1);
        let running = tokio::spawn(inbox.run(arrivals, watch::channel(Connectivity::Unknown).0));
        drop(receiver);
        tokio::time::timeout(Duration::from_secs(10), running).await.unwrap().unwrap();
    }
}
