//! Promise 6: every notice and every decision can be traced in the journal to the rule and the
//! facts behind it.
//!
//! Never here: the wording of notices.
//! Promises: each link is followed to its end: mail to entry, entry to occasion, occasion to the
//! letter that somebody really wrote.

use std::collections::BTreeSet;

use super::super::ledger::{Cause, Step};
use super::super::trial::{Broken, Promise};
use super::super::world::World;
use crate::store::{
    JournalLine, MailRecord, OccasionId, OccasionRecord, RequestTarget, StoreError,
};

/// What makes entries, as the service writes it down.
const OCCASIONS: &[&str] =
    &["enroll", "due", "reply", "decision", "undeliverable", "awoke", "clock"];

impl World<'_> {
    /// A mail that is put in.
    pub(super) fn check_traced(
        &mut self,
        mail: &MailRecord,
        cause: Option<(usize, Cause, RequestTarget)>,
        step: &Step,
    ) -> Result<(), Broken> {
        let broken = |what: String| Err(Broken::new(Promise::Traces, what));
        let Some(follow_up) = mail.follow_up else {
            // Mail about several clients carries mail of the same step about each; mail about the
            // clinic as a whole follows from an absence, from a clock that was set back or from a
            // letter set aside.
            let fits = step.inbox.is_some()
                || self.carries_mail_of(mail, step)
                || matches!(step.doing, "begins" | "wakes" | "notes that the clock was set back");
            return if fits {
                Ok(())
            } else {
                broken(format!("mail {} is about nobody, while it {}", mail.id, step.doing))
            };
        };
        let Some((client, cause, about)) = cause else {
            return broken(format!("mail {} has no entry that calls for it", mail.id));
        };
        if self.ledger.clients[client].follow_up != follow_up {
            return broken(format!("mail {} is traced to another client's entry", mail.id));
        }
        let fits = match cause {
            Cause::Announced | Cause::AskedFirst(_) | Cause::AskedAgain(_) | Cause::AskedAnew => {
                mail.target == about
            }
            Cause::Alerted => mail.target == about,
            Cause::ToldToStop | Cause::Told | Cause::Else => {
                !matches!(mail.target, RequestTarget::Alert(_))
            }
        };
        if fits {
            return Ok(());
        }
        broken(format!("mail {} about {:?} is traced to {cause:?}", mail.id, mail.target))
    }

    /// Whether a mail carries others that were put in with it, about different clients.
    fn carries_mail_of(&mut self, mail: &MailRecord, step: &Step) -> bool {
        let parts = self.station.view().read(|view| view.parts_of(mail.id)).unwrap_or_default();
        let clients: BTreeSet<_> = parts.iter().map(|part| part.follow_up).collect();
        parts.len() > 1
            && clients.len() == parts.len()
            && parts.iter().all(|part| {
                part.follow_up.is_some() && step.mails.iter().any(|put_in| put_in.id == part.id)
            })
    }

    /// An entry that is written. Entries in a row share their occasion, as a rule: the last one that was
    /// read is handed on.
    pub(super) fn check_entry_traced(
        &mut self,
        line: &JournalLine,
        step: &Step,
        last: &mut Option<(OccasionId, OccasionRecord)>,
    ) -> Result<(), Broken> {
        let (_, occasion) = match last.take_if(|(id, _)| *id == line.occasion) {
            Some(same) => last.insert(same),
            None => {
                let store = self.station.view();
                let read = store.read(|view| view.occasion(line.occasion));
                let read = read.map_err(|error: StoreError| {
                    let what = format!("entry {}: no occasion: {error}", line.number);
                    Broken::new(Promise::Traces, what)
                })?;
                last.insert((line.occasion, read))
            }
        };
        let known = OCCASIONS.contains(&occasion.kind.as_str());
        let said = occasion.detail.get("inbox").and_then(serde_json::Value::as_i64);
        let written = matches!(occasion.kind.as_str(), "reply" | "decision");
        let fits = known
            && !line.rule.is_empty()
            && (!written || (said.is_some() && said == step.inbox.map(|id| id.number())));
        if fits {
            return Ok(());
        }
        let what = format!(
            "entry {} ({}) is traced to {:?} {}, while it {}",
            line.number, line.rule, occasion.kind, occasion.detail, step.doing
        );
        Err(Broken::new(Promise::Traces, what))
    }
}
