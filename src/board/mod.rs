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
//! Promises: nobody sees anything of a client without signing in; whatever becomes of the board, the follow-up
//! goes on, and the clinic is told; no name or address in a log.

mod aside;
mod client;
mod contacts;
mod cover;
mod decide;
mod deed;
mod door;
mod ended;
mod enrol;
mod fields;
mod form;
mod guard;
mod live;
mod monitors;
mod pace;
mod page;
mod passes;
mod pausing;
mod places;
mod refit;
mod refused;
mod report;
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
use crate::service::{Beside, Clock, Office, ServiceError};
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

    /// Opens the board on a thread of its own, where it stays open until the process ends.
    ///
    /// # Errors
    /// When the system gives no thread.
    pub fn open(&self) -> Result<Beside, ServiceError> {
        let system = |source| ServiceError::System { doing: "starting the board's thread", source };
        let runtime =
            tokio::runtime::Builder::new_current_thread().enable_all().build().map_err(system)?;
        let (health, hindered) = watch::channel(None);
        let acted = Arc::clone(&self.room.acted);
        let (room, committed) = (Arc::clone(&self.room), Arc::clone(&self.committed));
        std::thread::Builder::new()
            .name("board".to_owned())
            .spawn(move || runtime.block_on(stay_open(room, &committed, &health)))
            .map_err(system)?;
        Ok(Beside { hindered, acted })
    }
}

async fn stay_open(
    room: Arc<Room>,
    committed: &Notify,
    health: &watch::Sender<Option<ServiceTrouble>>,
) {
    tokio::join!(room.count(committed), open_again_and_again(&room, health));
}

async fn open_again_and_again(room: &Arc<Room>, health: &watch::Sender<Option<ServiceTrouble>>) {
    loop {
        let is_open = || {
            health.send_replace(None);
        };
        if let Err(error) = door::open(&room.settings, routes::routes(room), is_open).await {
            tracing::error!(%error, "the board cannot open; the follow-up goes on without it");
        }
        health.send_replace(Some(ServiceTrouble::Board));
        tokio::time::sleep(AGAIN).await;
    }
}
