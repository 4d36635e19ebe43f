//! The line that confirms a reply to the one who wrote it, with a tap for 'that is wrong'.
//!
//! Never here: words that could not be read (the repeated request answers those).
//! Promises: it says what was understood and what follows, so that a misreading is caught by the
//! person who knows; what was set aside is never confirmed.

use super::draft::{Answer, Draft, Joinable, Urgency};
use super::page::Page;
use super::round::RoundKind;
use crate::care::{ContactId, Reading, Site, Verdict};
use crate::follow_up::event::{Found, LookKind, NoCreditReason, TellReason};
use crate::follow_up::{Entry, Event, Instant, SittingNumber};

/// A reply and what it led to.
pub(super) struct Reply<'a> {
    pub(super) by: &'a ContactId,
    pub(super) verdict: &'a Verdict,
    /// The entries of the decision that took the reply, in order.
    pub(super) entries: &'a [Entry],
}

/// The confirmation; none where there is nothing that could safely be confirmed.
pub(super) fn confirmation(page: &Page<'_>, reply: &Reply<'_>) -> Option<Draft> {
    let is_set_aside = reply.events().any(|event| matches!(event, Event::SetAside { .. }));
    if is_set_aside {
        return None;
    }
    let w = page.w;
    let mut draft = page.draft(Urgency::Request, &w.noted_subject());
    draft.lead(noted(page, reply)?);
    let is_stop = reply.events().any(|event| matches!(event, Event::Stopped { .. }));
    if is_stop {
        draft.line(w.noted_stop());
    } else if reply.events().any(is_told) {
        draft.line(w.noted_told());
    }
    let is_calm = matches!(reply.verdict.reading, Reading::Clear | Reading::Faded);
    if let (true, false, Some(next)) = (is_calm, is_stop, page.scene.next_sitting()) {
        draft.line(w.noted_next(&page.when(next)));
    }
    // A stop is said by itself, so that nobody overlooks it.
    if !is_stop {
        let lines = draft.lines().map(str::to_owned).collect();
        draft.joinable = Some(Joinable { kind: RoundKind::Noted, lines });
    }
    let wrong = Answer::new(w.label_wrong(), w.tap_wrong());
    page.answers_under(&mut draft, w.noted_wrong(), vec![wrong]);
    let is_worrying = reply.verdict.reading.is_worrying();
    if is_worrying || is_stop {
        page.contact_cautions(&mut draft);
    } else {
        draft.small(w.caution_service());
    }
    Some(draft)
}

impl<'a> Reply<'a> {
    fn events(&self) -> impl Iterator<Item = &'a Event> {
        self.entries.iter().map(|entry| &entry.event)
    }

    /// The sites that it names, else those that the stop takes from the mark (R21).
    fn sites(&self) -> &[Site] {
        let stopped = self.events().find_map(|event| {
            let Event::Stopped { sites, .. } = event else { return None };
            Some(sites.as_slice())
        });
        match (self.verdict.sites.as_slice(), stopped) {
            ([], Some(sites)) => sites,
            (named, _) => named,
        }
    }

    fn found(&self) -> Option<&'a Found> {
        self.events().find_map(|event| {
            let Event::Found { found, .. } = event else { return None };
            Some(found)
        })
    }
}

fn is_told(event: &Event) -> bool {
    let Event::ClinicTold { why, .. } = event else { return false };
    matches!(why, TellReason::LateReport | TellReason::Correction)
}

/// What was understood, in one line.
fn noted(page: &Page<'_>, reply: &Reply<'_>) -> Option<String> {
    let w = page.w;
    let place = page.place(reply.sites());
    let looked_at = reply.found().map_or(page.scene.at, |found| found.looked_at);
    let when = page.when(looked_at);
    match reply.verdict.reading {
        Reading::Clear => Some(w.noted_clear(&when)),
        Reading::Faded => Some(match reply.verdict.minutes {
            Some(minutes) => w.noted_faded_after(&place, &page.duration(minutes)),
            None => w.noted_faded(&place, &when),
        }),
        Reading::Marked => Some(match recheck(reply) {
            Some(due) if due > page.scene.at => w.noted_marked(&place, &when, &page.when(due)),
            Some(_) => w.noted_marked_now(&place, &when),
            None => w.noted_marked_only(&place, &when),
        }),
        Reading::Persisting => Some(w.noted_persisting(&place, &when)),
        Reading::Alarming => Some(w.noted_alarming(&place, &when)),
        Reading::NotLooked => Some(not_looked(page, reply.by)),
        Reading::NoSitting => Some(match cancelled(reply) {
            Some(number) => w.noted_no_sitting(&number),
            None => w.noted_no_sitting_plain(),
        }),
        Reading::Started => started(page, reply),
        Reading::Unclear
        | Reading::Automatic
        | Reading::Seen
        | Reading::Resume
        | Reading::KeepStopped
        | Reading::Close => None,
    }
}

/// When the mark is looked at again.
fn recheck(reply: &Reply<'_>) -> Option<Instant> {
    reply.events().find_map(|event| {
        let Event::LookPlanned { kind: LookKind::Recheck, due, .. } = event else { return None };
        Some(*due)
    })
}

fn cancelled(reply: &Reply<'_>) -> Option<SittingNumber> {
    reply.events().find_map(|event| {
        let Event::NoCredit { sitting, why: NoCreditReason::NoSitting, .. } = event else {
            return None;
        };
        Some(*sitting)
    })
}

fn not_looked(page: &Page<'_>, by: &ContactId) -> String {
    let open = page.scene.state.unsettled_looks();
    let next = open
        .filter_map(|look| look.clock.as_ref())
        .filter(|clock| clock.asking == *by)
        .filter_map(|clock| clock.wait_until)
        .filter(|at| *at > page.scene.at)
        .min();
    match next {
        Some(at) => page.w.noted_not_looked_until(&page.when(at)),
        None => page.w.noted_not_looked(),
    }
}

/// The start that counts now, and the first look that follows it.
fn started(page: &Page<'_>, reply: &Reply<'_>) -> Option<String> {
    let (number, start) = reply.events().find_map(|event| {
        let (Event::Started { sitting, start } | Event::TakenUp { sitting, start, .. }) = event
        else {
            return None;
        };
        Some((*sitting, *start))
    })?;
    let state = page.scene.state;
    let looks = state.sitting(number).looks.iter().map(|id| state.look(*id));
    let next = looks
        .filter(|look| look.kind == LookKind::First && look.is_unsettled())
        .map(|look| look.due)
        .min();
    Some(match next {
        Some(look) => page.w.noted_started(&page.when(start), &page.when(look)),
        None => page.w.noted_started_plain(&page.when(start)),
    })
}
