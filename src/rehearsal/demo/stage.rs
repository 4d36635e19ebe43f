//! The clinic of the demonstration, on a folder of its own: its files, its store, its clients.
//!
//! Never here: what happens afterwards.
//! Promises: everything is read and enrolled as a real clinic's files would be; an existing
//! folder is used only when it is empty.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use chrono::{Days, NaiveDate, NaiveTime};

use super::error::DemoError;
use crate::care::Plan;
use crate::config::{self, ClientFile, MailIn};
use crate::follow_up::Instant;
use crate::notice::Languages;
use crate::reply::Lexicons;
use crate::service::picturing::Easel;
use crate::service::{Office, enrolling};
use crate::store::{FollowUpId, Mode, ServiceLock, Store};

/// How many days are shown: enough for the last client to build up again after the stop.
pub(super) const DAYS: u64 = 12;

/// The files of the clinic, by their place in the folder.
const FILES: [(&str, &str); 8] = [
    ("clinic.toml", include_str!("../../../config/demo/clinic.toml")),
    ("plans/two-week.toml", include_str!("../../../config/plans/two-week.toml")),
    (CLIENTS[0], include_str!("../../../config/demo/clients/ada.toml")),
    (CLIENTS[1], include_str!("../../../config/demo/clients/ben.toml")),
    (CLIENTS[2], include_str!("../../../config/demo/clients/cleo.toml")),
    (CLIENTS[3], include_str!("../../../config/demo/clients/dev.toml")),
    (CLIENTS[4], include_str!("../../../config/demo/clients/eli.toml")),
    (CLIENTS[5], include_str!("../../../config/demo/clients/fay.toml")),
];

const CLIENTS: [&str; 6] = [
    "clients/ada.toml",
    "clients/ben.toml",
    "clients/cleo.toml",
    "clients/dev.toml",
    "clients/eli.toml",
    "clients/fay.toml",
];

/// The clinic when everything is ready to begin.
pub(super) struct Stage {
    pub(super) folder: PathBuf,
    pub(super) office: Arc<Office>,
    pub(super) store: Store,
    /// The maildir that replies come to.
    pub(super) mailbox: PathBuf,
    pub(super) clients: Vec<Client>,
    /// When the clock begins: the afternoon before the first day.
    pub(super) from: Instant,
    /// The local midnight after the last day.
    pub(super) until: Instant,
    _lock: ServiceLock,
}

/// A client of the demonstration.
pub(super) struct Client {
    pub(super) follow_up: FollowUpId,
    pub(super) file: ClientFile,
}

impl Stage {
    /// Sets the stage in a folder.
    pub(super) fn set(folder: &Path) -> Result<Self, DemoError> {
        write_files(folder)?;
        let clinic = config::read_clinic(&folder.join("clinic.toml"))?.value;
        let office = Office::new(clinic, Languages::shipped(), Lexicons::shipped())?
            .with_easel(Easel::Beside);
        let data = office.clinic.data_folder.clone();
        let store = Store::open(&data, Mode::Service)?;
        let lock = Store::lock_for_service(&data)?;
        let office = Arc::new(office);
        let eve = first_day() - Days::new(1);
        let from = office.calendar.instant(eve, enrolment_time());
        let until = office.calendar.midnight(first_day() + Days::new(DAYS));
        let mut clients = Vec::new();
        for path in CLIENTS {
            let file = config::read_client(&folder.join(path), &office.clinic, eve)?.value;
            let (office, enrolled) = (Arc::clone(&office), file.clone());
            let enrolled = store.write_blocking(move |tx| {
                enrolling::enroll(&office, tx, &enrolled, "demonstration", from)
            })?;
            clients.push(Client { follow_up: enrolled.follow_up, file });
        }
        let MailIn::Maildir(mailbox) = office.clinic.mail.incoming.clone() else {
            unreachable!("the clinic file of the demonstration names a maildir");
        };
        let folder = folder.to_owned();
        Ok(Self { folder, office, store, mailbox, clients, from, until, _lock: lock })
    }

    /// When most is going on: a stop that nobody has decided, a suspension, looks that wait.
    pub(super) fn most_going_on(&self) -> Instant {
        let day = first_day() + Days::new(5);
        let time = NaiveTime::from_hms_opt(8, 3, 0).expect("OK because there is such a time");
        self.office.calendar.instant(day, time)
    }

    /// The plan that all clients are on.
    pub(super) fn plan(&self) -> &Plan {
        &self.clients[0].file.plan
    }
}

/// The first day of the first follow-ups: a Friday, so that a weekend comes soon.
pub(super) fn first_day() -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 3, 6).expect("OK because there is such a day")
}

fn enrolment_time() -> NaiveTime {
    NaiveTime::from_hms_opt(16, 0, 0).expect("OK because there is such a time")
}

fn write_files(folder: &Path) -> Result<(), DemoError> {
    let refused = |path: &Path| {
        let path = path.to_owned();
        move |source| DemoError::Folder { path, source }
    };
    fs::create_dir_all(folder).map_err(refused(folder))?;
    if fs::read_dir(folder).map_err(refused(folder))?.next().is_some() {
        return Err(DemoError::Taken { path: folder.to_owned() });
    }
    for (name, text) in FILES {
        let path = folder.join(name);
        if let Some(parent) = path.parent() {
            fs::create_dir_all(parent).map_err(refused(parent))?;
        }
        fs::write(&path, text).map_err(refused(&path))?;
    }
    Ok(())
}
