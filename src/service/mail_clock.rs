//! The clock that dates incoming mail, and how far ours may be ahead of it.
//!
//! A mail server dates mail by its own clock. Where ours is ahead of that one, mail looks older than
//! it is, and a late answer that came while the service was off would pass for one in time. So it is
//! learnt how far ours can be ahead at most: a mail cannot have come after it was met. Mail that is
//! met as it comes shows that to the second; a clock that is set on, and an absence, in which it may
//! have been set on, widen it again. A clock that is set back narrows nothing: the mail may lie in a
//! folder of this machine and be dated by the same clock.
//!
//! Never here: mailboxes, noticing steps (`clock::ClockWatch`).
//! Promises: however wrong our clock is, no mail counts as having come earlier than it did by the
//! clock that its waiting is held against; while nothing is known, a mail came when it was met.

use chrono::{DateTime, TimeDelta};

use crate::follow_up::Instant;
use crate::store::{RememberedInstant, StoreError, Tx, View};

/// When a mail came, by our clock, that is met now and that the mail server dates `told`.
///
/// Mail that lay waiting when the service started teaches nothing: the clock may have been set back
/// meanwhile by less than the service was away, which nobody notices, and looks that were asked
/// before go by where it was.
///
/// # Errors
/// When the store refuses.
pub fn arrival(
    tx: &mut Tx<'_>,
    told: Option<Instant>,
    lay_waiting: bool,
    now: Instant,
) -> Result<Instant, StoreError> {
    let Some(told) = told else { return Ok(now) };
    let known = ahead(tx)?;
    // A mail that is dated later than now says nothing more than that ours is not ahead.
    let seen = (now - told).max(TimeDelta::zero());
    if !lay_waiting && known.is_none_or(|known| seen < known) {
        remember(tx, seen)?;
    }
    Ok(known.map_or(now, |ahead| (told + ahead).min(now)))
}

/// Our clock was set on by so much, or may have been: it can be ahead by that much more.
///
/// # Errors
/// When the store refuses.
pub fn may_be_ahead_by_more(tx: &mut Tx<'_>, by: TimeDelta) -> Result<(), StoreError> {
    match ahead(tx)? {
        Some(known) if by > TimeDelta::zero() => remember(tx, known + by),
        _ => Ok(()),
    }
}

/// How far our clock is ahead at most, where any mail has told.
fn ahead(view: &View<'_>) -> Result<Option<TimeDelta>, StoreError> {
    let known = view.remembered(RememberedInstant::MailClock)?;
    Ok(known.map(|shown| shown - DateTime::UNIX_EPOCH))
}

/// Kept as what our clock shows at the latest when the mail server's shows the Unix epoch.
fn remember(tx: &mut Tx<'_>, ahead: TimeDelta) -> Result<(), StoreError> {
    tx.remember(RememberedInstant::MailClock, DateTime::UNIX_EPOCH + ahead)
}
