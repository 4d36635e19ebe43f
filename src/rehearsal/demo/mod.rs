//! The demonstration: the real service in an invented clinic, under a clock that is set forward as
//! soon as everybody has done what they do at the time.
//!
//! ```text
//! stage      the clinic on a folder of its own: files, store, clients enrolled
//! cast       the people: each watches their own maildir and answers by mail
//! conductor  sets the clock forward when service and people have nothing left to do
//! watcher    shows what the service writes into its journal
//! album      lays out mails to clinicians as files to look at
//! ```
//!
//! Never here: rules, acts of the service, mail to people: all that is the service's own.
//! Promises: nothing is staged: every line of the timetable comes from the journal of the running
//! service, and whatever people say reaches it as a mail in its mailbox.

mod album;
mod cast;
mod conductor;
mod error;
mod inbox;
mod reply_mail;
mod script;
mod stage;
mod summary;
mod watcher;

use std::io::Write;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use tokio::sync::{Notify, oneshot};

pub use error::DemoError;

use crate::board::Board;
use crate::config::BoardSettings;
use crate::service::clock::SteppedClock;
use crate::service::{Beside, Clock, Service, serve};
use cast::Cast;
use conductor::{Conductor, Pace};
use stage::Stage;
use watcher::Watcher;

/// How the demonstration is run.
#[derive(Clone, Debug)]
pub struct Demo {
    /// The folder that it works in; made where it is missing.
    pub folder: PathBuf,
    /// How long to take over it, so that people can read along; it takes longer where the machine
    /// needs longer.
    pub pace: Duration,
    /// Whether to use colours.
    pub colour: bool,
    /// A board to look at: on this port the clock stands still when most is going on, and the
    /// demonstration waits until it is ended.
    pub board: Option<u16>,
}

impl Demo {
    /// Runs the demonstration to its end and writes what happens to `out`.
    ///
    /// # Errors
    /// When the folder cannot be used, holds another demonstration already, or the service or one
    /// of the people fails.
    pub fn run(&self, out: &mut (dyn Write + Send)) -> Result<(), DemoError> {
        let stage = Stage::set(&self.folder)?;
        let runtime = tokio::runtime::Builder::new_multi_thread()
            .worker_threads(2)
            .enable_all()
            .build()
            .map_err(DemoError::Threads)?;
        let watcher = runtime.block_on(self.play(&stage, out))?;
        summary::write(&stage.folder, &watcher, out)
    }

    async fn play(
        &self,
        stage: &Stage,
        out: &mut (dyn Write + Send),
    ) -> Result<Watcher, DemoError> {
        let clock = SteppedClock::new(stage.from);
        let committed = Arc::new(Notify::new());
        let (stop, stopped) = oneshot::channel::<()>();
        let (service, board) = self.service(stage, &clock, &committed)?;
        let running = serve(service, async move {
            // A conductor who is gone has ended the demonstration, one way or another.
            let _ = stopped.await;
        });
        let running = tokio::spawn(running);
        let watcher = Watcher::new(stage, self.colour);
        watcher.welcome(stage, out)?;
        let mut conductor = Conductor {
            store: stage.store.clone(),
            clock,
            committed,
            pace: Pace::over(stage.from, stage.until, self.pace),
            mailbox: stage.mailbox.clone(),
            cast: Cast::new(stage)?,
            watcher,
        };
        let until = if board.is_some() { stage.most_going_on() } else { stage.until };
        let mut conducted = conductor.conduct(until, &running, out).await;
        if let (Ok(()), Some(board)) = (&conducted, board) {
            conducted = self.show_board(stage, board, out).await;
        }
        drop(stop);
        running.await.map_err(|_| DemoError::Ended)??;
        conducted?;
        Ok(conductor.watcher)
    }

    /// The service of the demonstration, and its board where there is to be one.
    fn service(
        &self,
        stage: &Stage,
        clock: &SteppedClock,
        committed: &Arc<Notify>,
    ) -> Result<(Service, Option<(Board, Beside)>), DemoError> {
        let mail = &stage.office.clinic.mail;
        // The demonstration's mail lies in folders: no token lapses.
        let (outlet, _) = crate::service::lines::outlet(&mail.out, "mail.out")?;
        let (inbox, _) = crate::service::lines::inbox(mail, stage.from)?;
        let clock = Clock::Stepped(clock.clone());
        let board = self.board.map(|port| {
            let service = (Arc::clone(&stage.office), stage.store.clone(), clock.clone());
            let settings = BoardSettings::on_loopback(port);
            Board::new(settings, service, outlet.clone(), Arc::clone(committed))
        });
        let beside = board.as_ref().map(Board::open).transpose()?;
        let service = Service {
            outlet,
            inbox,
            second_outlet: None,
            board: beside.clone(),
            rhythm: crate::service::Rhythm::default(),
            mailbox: crate::service::lines::mailbox_name(&mail.incoming),
            office: Arc::clone(&stage.office),
            store: stage.store.clone(),
            clock,
            committed: Arc::clone(committed),
        };
        Ok((service, board.zip(beside)))
    }

    /// Shows the board, with a link for each of the staff, until the process is told to end.
    async fn show_board(
        &self,
        stage: &Stage,
        (board, mut beside): (Board, Beside),
        out: &mut (dyn Write + Send),
    ) -> Result<(), DemoError> {
        let mut text =
            "\nThe clock stands still now. Sign in on the board, each link once:\n".to_owned();
        for person in &stage.office.clinic.clinicians {
            let link = board.link_for(&person.id).map_err(DemoError::Threads)?;
            let (id, role) = (person.id.as_str(), person.role.name());
            text.push_str(&format!("  {id:<10} {role:<10} {link}\n"));
        }
        text.push_str("Ctrl-C ends it.\n");
        out.write_all(text.as_bytes()).and_then(|()| out.flush()).map_err(DemoError::Output)?;
        let is_hindered = beside.hindered.wait_for(Option::is_some);
        tokio::select! {
            _ = tokio::signal::ctrl_c() => Ok(()),
            _ = is_hindered => Err(DemoError::Board),
        }
    }
}
