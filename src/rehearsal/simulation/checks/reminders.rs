//! Promise 3: no reminder in quiet hours, none twice for one crash-free run, never more than the
//! plan allows.
//!
//! Never here: the core's own clocks of looks.
//! Promises: counted by the mails that were put in and by what mail servers took.

use super::super::ledger::Cause;
use super::super::trial::{Broken, Promise};
use super::super::world::World;
use super::{Notice, Sight, asks};
use crate::follow_up::event::LookKind;
use crate::follow_up::{Calendar, Instant};
use crate::store::{PersonRef, RequestTarget};

/// On top of what the answering pace gives: a request for each unclear answer, and one for a
/// contact who became unreachable.
const SPARE: usize = 1;

/// A mail that asks something of a contact.
#[derive(Clone, Copy, Debug)]
pub(in super::super) struct Request {
    /// The client that it is about.
    pub(in super::super) client: usize,
    pub(in super::super) cause: Cause,
    pub(in super::super) target: RequestTarget,
    /// When it was made, by the service's clock.
    pub(in super::super) at: Instant,
    /// Whether somebody is asked in place of a contact who cannot be reached: at once (R27).
    pub(in super::super) in_place: bool,
}

impl Sight<'_> {
    /// A request is made. `before` counts those that went for the same look to the same contact,
    /// without those that unclear words called for.
    pub(in super::super) fn check_request(
        &self,
        request: &Request,
        before: impl FnOnce() -> usize,
    ) -> Result<(), Broken> {
        let Request { client, cause, target, at, in_place } = *request;
        let facts = &self.ledger.clients[client];
        let waits_for_morning = matches!(
            cause,
            Cause::AskedAgain(LookKind::First | LookKind::Routine)
                | Cause::AskedFirst(LookKind::Routine)
        );
        if let Some(quiet) = facts.file.quiet.filter(|_| waits_for_morning && !in_place)
            && is_quiet(&facts.calendar, at, quiet.from, quiet.to)
        {
            let at = facts.calendar.local(at);
            let what = format!("client {client}: {cause:?} at {at}, in quiet hours");
            return Err(Broken::new(Promise::Reminders, what));
        }
        let RequestTarget::Look(id) = target else { return Ok(()) };
        let limits = &facts.plan().looks;
        let pace = limits.answer_within.count().max(1);
        let per_contact = 1 + limits.ask_again as usize;
        let allowed = match facts.look(id).map(|look| look.kind) {
            Some(LookKind::Recheck) => {
                per_contact + (limits.recheck_within.count() / pace) as usize
            }
            _ => per_contact,
        };
        let sent = before() + 1;
        if sent > allowed + SPARE {
            let what = format!(
                "client {client}: request {sent} for look {id} to one contact, {allowed} allowed"
            );
            return Err(Broken::new(Promise::Reminders, what));
        }
        Ok(())
    }
}

impl World<'_> {
    /// A mail is put in that may be a request.
    pub(super) fn check_put_in(&self, notice: &Notice, in_place: bool) -> Result<(), Broken> {
        let Some(cause) = notice.cause.filter(|cause| asks(*cause)) else { return Ok(()) };
        let record = &notice.record;
        let Some(client) = record.follow_up.and_then(|id| self.ledger.client_of(id)) else {
            return Ok(());
        };
        let (target, at) = (record.target, record.created_at);
        let request = Request { client, cause, target, at, in_place };
        self.sight().check_request(&request, || self.requests_before(notice))
    }

    /// Requests for the same look to the same contact, without those that unclear words called
    /// for.
    fn requests_before(&self, notice: &Notice) -> usize {
        let same = |other: &&Notice| {
            let (one, other_record) = (&notice.record, &other.record);
            other_record.target == one.target
                && other_record.person == one.person
                && other_record.follow_up == one.follow_up
                && matches!(one.person, PersonRef::Contact(_))
                && other.cause.is_some_and(|cause| asks(cause) && cause != Cause::AskedAnew)
        };
        let recent = self.ledger.notices.values().rev().take(400);
        recent
            .filter(same)
            .count()
            .saturating_sub(usize::from(notice.cause == Some(Cause::AskedAnew)))
    }

    /// A mail is offered: none is taken twice, except where nobody could know.
    pub(super) fn check_not_doubled(&self, notice: &Notice) -> Result<(), Broken> {
        if notice.accepted > 1 && notice.excused == 0 {
            let what = format!("mail {} was accepted {} times", notice.record.id, notice.accepted);
            return Err(Broken::new(Promise::Reminders, what));
        }
        Ok(())
    }
}

/// Whether an instant falls into hours of a wall clock, in plain arithmetic on what it shows.
fn is_quiet(
    calendar: &Calendar,
    at: Instant,
    from: chrono::NaiveTime,
    to: chrono::NaiveTime,
) -> bool {
    let shown = calendar.local(at).time();
    if from < to { from <= shown && shown < to } else { from <= shown || shown < to }
}
