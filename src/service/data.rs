//! The clinic's data: opened where the clinic file says it is, and led by one service at a time.
//!
//! Never here: what is read or written.
//! Promises: of all services on one database, one works and the others stand by; whoever stands by
//! takes over within seconds of the other's end, however it ended.

use std::path::Path;
use std::time::Duration;

use sd_notify::NotifyState;
use tracing::{info, warn};

use super::clock::Clock;
use super::error::ServiceError;
use super::secrets;
use crate::config::{Clinic, SecretSource};
use crate::store::{DataKey, Mode, Server, ServiceLock, Store, StoreError};

/// Between two tries to take over: so long a takeover may come late.
const TRY_EVERY: Duration = Duration::from_millis(500);

/// Opens the clinic's data.
///
/// # Errors
/// When it cannot be opened, or the key or a server's password cannot be had; nothing is made or
/// changed then.
pub fn open(clinic: &Clinic, mode: Mode) -> Result<Store, ServiceError> {
    let Some(named) = &clinic.server else {
        let folder = &clinic.data_folder;
        return Ok(match key(clinic)? {
            Some(key) => Store::open_encrypted(folder, &key, mode)?,
            None => Store::open(folder, mode)?,
        });
    };
    let password = named.password.as_ref();
    let password = password.map(|source| secrets::password(source, "store")).transpose()?;
    let server = Server::new(&named.address, password.as_deref(), named.ca_file.as_deref())?;
    Ok(Store::open_on(&server, &clinic.data_folder, mode)?)
}

/// The key that the data in the folder is encrypted with, where it is.
///
/// # Errors
/// When it cannot be had, or is no key.
pub fn key(clinic: &Clinic) -> Result<Option<DataKey>, ServiceError> {
    clinic.data_key.as_ref().map(secrets::data_key).transpose()
}

/// The key in a file that is named on the command line.
///
/// # Errors
/// When it cannot be read, or is no key.
pub fn key_in(file: &Path) -> Result<DataKey, ServiceError> {
    secrets::data_key(&SecretSource::File(file.to_owned()))
}

/// Holds the data, so that no service works on it meanwhile.
#[derive(Debug)]
pub struct Hold {
    _lock: ServiceLock,
    _lead: Option<Store>,
}

/// Takes hold of the data, until the hold is dropped.
///
/// # Errors
/// `ServiceRunning` when a service works on it; else when it cannot be opened.
pub fn hold(clinic: &Clinic, clock: &Clock) -> Result<Hold, ServiceError> {
    let lock = Store::lock_for_service(&clinic.data_folder)?;
    if clinic.server.is_none() {
        return Ok(Hold { _lock: lock, _lead: None });
    }
    let lead = open(clinic, Mode::Command)?;
    if !lead.try_to_lead(clock.now())? {
        let server = lead.server().map(ToString::to_string).unwrap_or_default();
        return Err(StoreError::ServiceRunning { path: server.into() }.into());
    }
    Ok(Hold { _lock: lock, _lead: Some(lead) })
}

/// Waits until no other service works on the data, and becomes the one that does. Blocks. The
/// service manager is told that this one stands by, and that it is well.
///
/// # Errors
/// When the server cannot be asked any more, or does not agree on the time.
pub fn await_lead(store: &Store, clock: &Clock) -> Result<(), ServiceError> {
    let mut stands_by = false;
    while !store.try_to_lead(clock.now())? {
        if !stands_by {
            stands_by = true;
            info!("another service works on the data; this one stands by");
            tell(&[NotifyState::Ready, NotifyState::Status("stands by for another service")]);
        }
        tell(&[NotifyState::Watchdog]);
        std::thread::sleep(TRY_EVERY);
    }
    if stands_by {
        info!("no other service works on the data any more; this one takes over");
        tell(&[NotifyState::Status("took over from another service")]);
    }
    Ok(())
}

fn tell(states: &[NotifyState<'_>]) {
    if let Err(refused) = sd_notify::notify(states) {
        warn!(error = %refused, "the service manager could not be told");
    }
}
