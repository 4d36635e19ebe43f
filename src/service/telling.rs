//! Telling people that the service itself is in trouble, by whatever way is left.
//!
//! Never here: noticing trouble; wording.
//! Promises: the ways are tried side by side, so that none holds another up: the outbox, the mail
//! server without the outbox (a full disk), a second mail server, a program, the service manager's
//! status and the log; no client, address or word of a person is in any of them but the mails.

use std::process::Stdio;
use std::sync::Arc;
use std::time::Duration;

use sd_notify::NotifyState;
use tokio::io::AsyncWriteExt;
use tracing::{error, info, warn};

use super::act::clinician;
use super::error::ServiceError;
use super::ledger::News;
use super::mailing;
use super::office::Office;
use super::waking::tell_first_on_cover;
use crate::follow_up::{Calendar, Instant};
use crate::notice::{self, Draft, MailWay, ServiceTrouble};
use crate::post::{Address, Outcome, Outlet};
use crate::store::{Person, Store, Urgency};

/// How long the program that is told may take.
const PROGRAM_MAX: Duration = Duration::from_secs(60);

/// How often news is sent without the outbox until a server takes it, and the wait in between. What
/// lasts is told again some hours later.
const TRIES: u32 = 10;
/// See `TRIES`.
const BETWEEN_TRIES: Duration = Duration::from_secs(60);

/// The ways that news can take.
#[derive(Clone, Debug)]
pub struct Ways {
    /// The clinic's office.
    pub office: Arc<Office>,
    /// The store, whose outbox is the first choice.
    pub store: Store,
    /// The clinic's way out.
    pub outlet: Outlet,
    /// The second way out, where the clinic has one.
    pub second: Option<Outlet>,
}

impl Ways {
    /// Tells the news. Returns when all ways were tried.
    pub async fn tell(&self, news: News, now: Instant) {
        let words = in_words(&self.office, &news, now);
        if news.troubles.is_empty() {
            info!(over = ?news.over, "trouble is over");
        } else {
            error!(troubles = ?news.troubles, "the service is in trouble");
        }
        let is_out = |(what, _): &(ServiceTrouble, Instant)| {
            matches!(what, ServiceTrouble::Mail(MailWay::Out, _))
        };
        let has_data_trouble = |(what, _): &(ServiceTrouble, Instant)| {
            matches!(what, ServiceTrouble::Full | ServiceTrouble::Data | ServiceTrouble::Damaged)
        };
        let mail_goes = !news.troubles.iter().any(is_out);
        let data_works = !news.troubles.iter().any(has_data_trouble);
        tokio::join!(
            self.tell_clinic(&news, now, mail_goes, data_works),
            self.tell_second(&news, now, mail_goes),
            self.tell_program(&words),
        );
    }

    /// The first on cover: by the outbox; where that cannot be written, straight away; where the
    /// clinic's server is the trouble, by the second one.
    async fn tell_clinic(&self, news: &News, now: Instant, mail_goes: bool, data_works: bool) {
        let cover = self.office.clinic.cover.first();
        let Some(to) = cover.and_then(|id| clinician(&self.office, id)) else { return };
        if !mail_goes {
            self.send(self.second.as_ref(), &to, news, now).await;
            return;
        }
        if data_works {
            let (office, news) = (Arc::clone(&self.office), news.clone());
            let put = self.store.write(move |tx| {
                tell_first_on_cover(&office, tx, now, Urgency::Alert, |desk| draft(desk, &news))
            });
            match put.await {
                Ok::<(), ServiceError>(()) => return,
                Err(failed) => warn!(error = %failed, "the outbox took no news of trouble"),
            }
        }
        self.send(Some(&self.outlet), &to, news, now).await;
    }

    async fn tell_second(&self, news: &News, now: Instant, mail_goes: bool) {
        let Some(address) = &self.office.clinic.watch.second else { return };
        let language = self.office.clinic.clinicians[0].language.as_str().to_owned();
        let to = Person { name: String::new(), mail: address.as_str().to_owned(), language };
        let clinics_own = mail_goes.then_some(&self.outlet);
        self.send(self.second.as_ref().or(clinics_own), &to, news, now).await;
    }

    /// Sends without the outbox; tried again for some minutes, always under one Message-ID.
    async fn send(&self, by: Option<&Outlet>, to: &Person, news: &News, now: Instant) {
        let Some(outlet) = by else { return };
        let (recipient, raw) = match self.composed(to, news, now) {
            Ok(composed) => composed,
            Err(failed) => {
                warn!(error = %failed, "news of trouble could not be composed");
                return;
            }
        };
        for _ in 0..TRIES {
            match outlet.send(&self.office.from.address, &recipient, &raw).await {
                Outcome::Accepted { .. } => {
                    info!("news of trouble went out without the outbox");
                    return;
                }
                outcome => warn!(?outcome, "news of trouble did not go out by mail"),
            }
            tokio::time::sleep(BETWEEN_TRIES).await;
        }
    }

    fn composed(
        &self,
        to: &Person,
        news: &News,
        now: Instant,
    ) -> Result<(Address, Vec<u8>), ServiceError> {
        let office = &self.office;
        let desk = notice::Desk {
            languages: &office.languages,
            language: &to.language,
            zone: &office.calendar,
            now,
        };
        let raw = mailing::without_outbox(office, to, &draft(&desk, news), now)?;
        let whom = || ServiceError::Address { whom: "who is told of trouble".to_owned() };
        Ok((Address::parse(&to.mail).map_err(|_| whom())?, raw))
    }

    async fn tell_program(&self, words: &str) {
        let Some((program, arguments)) =
            self.office.clinic.watch.command.as_ref().and_then(|command| command.split_first())
        else {
            return;
        };
        let started = tokio::process::Command::new(program)
            .args(arguments)
            .stdin(Stdio::piped())
            .stdout(Stdio::null())
            .kill_on_drop(true)
            .spawn();
        let told = async {
            let mut child = started?;
            if let Some(mut stdin) = child.stdin.take() {
                stdin.write_all(words.as_bytes()).await?;
            }
            child.wait().await
        };
        match tokio::time::timeout(PROGRAM_MAX, told).await {
            Ok(Ok(status)) if status.success() => info!("the program was told of trouble"),
            Ok(Ok(status)) => warn!(%status, "the program that is told of trouble failed"),
            Ok(Err(failed)) => warn!(error = %failed, "the program could not be told of trouble"),
            Err(_) => warn!("the program that is told of trouble takes too long"),
        }
    }
}

/// Shows the service manager how things stand (`systemctl status`).
pub fn show_status(troubles: usize) {
    let text = match troubles {
        0 => "well".to_owned(),
        count => format!("in trouble ({count}); see the log and `fadewatch health`"),
    };
    if let Err(refused) = sd_notify::notify(&[NotifyState::Status(&text)]) {
        warn!(error = %refused, "the service manager could not be told");
    }
}

fn draft(desk: &notice::Desk<'_>, news: &News) -> Draft {
    if news.troubles.is_empty() {
        desk.service_in_order(&news.over)
    } else {
        desk.service_in_trouble(&news.troubles)
    }
}

/// The news as plain text, for a program.
fn in_words(office: &Office, news: &News, now: Instant) -> String {
    let zone: &Calendar = &office.calendar;
    let language = office.clinic.clinicians[0].language.as_str();
    let desk = notice::Desk { languages: &office.languages, language, zone, now };
    let notice = draft(&desk, news).addressed(office.reply_to.as_str());
    format!("{}\n\n{}", notice.subject, notice.text)
}
