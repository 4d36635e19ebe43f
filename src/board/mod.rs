//! The board: the page on which the staff see how all follow-ups stand, and act.
//!
//! ```text
//! browser ─▶ door ─▶ guard ─▶ a page ─▶ store (reading, a few at a time)
//!                              └─ an act: the same plain function that the command line calls
//! ```
//!
//! It runs beside the service, on a thread of its own, and needs nothing of the service but the
//! store, the way out for mail and a sign that something was committed.
//!
//! Never here: rules, SQL, a second way to do what the command line does.
//! Promises: nobody sees anything without signing in; whatever becomes of the board, the follow-up
//! goes on, and the clinic is told; no name or address in a log.

mod client;
mod door;
mod fields;
mod guard;
mod live;
mod pace;
mod page;
mod passes;
mod refused;
mod room;
mod routes;
mod sign_in;
mod standing;
mod statics;
mod today;
mod visitor;

use std::io;
use std::sync::Arc;
use std::time::Duration;

use tokio::sync::{Notify, watch};

use crate::care::ClinicianId;
use crate::config::BoardSettings;
use crate::notice::ServiceTrouble;
use crate::post::Outlet;
use crate::service::{Clock, Office, ServiceError};
use crate::store::Store;
use room::Room;

/// How soon it tries again to open where it could not.
const AGAIN: Duration = Duration::from_secs(30);

/// A board, ready to open.
pub struct Board {
    room: Arc<Room>,
    committed: Arc<Notify>,
}

impl Board {
    /// A board over a service's store. `committed` is rung after each of the service's commits.
    pub fn new(
        settings: BoardSettings,
        service: (Arc<Office>, Store, Clock),
        outlet: Outlet,
        committed: Arc<Notify>,
    ) -> Self {
        Self { room: Arc::new(Room::new(service, outlet, settings)), committed }
    }

    /// A link that signs somebody in, for a demonstration: nobody is asked whether they have a
    /// right to it.
    ///
    /// # Errors
    /// When the machine gives no random bits.
    pub fn link_for(&self, who: &ClinicianId) -> io::Result<String> {
        self.room.link_for(who).map_err(io::Error::other)
    }

    /// Opens the board on a thread of its own, where it stays open until the process ends. What is
    /// returned says what hinders it.
    ///
    /// # Errors
    /// When the system gives no thread.
    pub fn open(self) -> Result<watch::Receiver<Option<ServiceTrouble>>, ServiceError> {
        let system = |source| ServiceError::System { doing: "starting the board's thread", source };
        let runtime =
            tokio::runtime::Builder::new_current_thread().enable_all().build().map_err(system)?;
        let (health, told) = watch::channel(None);
        std::thread::Builder::new()
            .name("board".to_owned())
            .spawn(move || runtime.block_on(self.stay_open(&health)))
            .map_err(system)?;
        Ok(told)
    }

    async fn stay_open(self, health: &watch::Sender<Option<ServiceTrouble>>) {
        let Self { room, committed } = self;
        let counting = Arc::clone(&room);
        tokio::spawn(async move { counting.count(&committed).await });
        loop {
            let opened = door::open(&room.settings, routes::routes(&room), || {
                health.send_replace(None);
            });
            if let Err(error) = opened.await {
                tracing::error!(%error, "the board cannot open; the follow-up goes on without it");
            }
            health.send_replace(Some(ServiceTrouble::Board));
            tokio::time::sleep(AGAIN).await;
        }
    }
}
