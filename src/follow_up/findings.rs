//! What a finding leads to: marks, rechecks, corrections, late answers (R10, R11, R13, R15, R18).
//!
//! Never here: credit (`settling`), what a stop does (`stopping`).
//! Promises: a lasting mark or an alarming sign is always a stop; a calmer word never takes back
//! a worrying one.

use std::cmp::Ordering;
use std::collections::BTreeSet;

use super::event::{
    AlertCause, Event, Found, LookKind, StopReason, TellDetail, TellReason, WithdrawReason,
};
use super::ids::{LookId, SittingNumber};
use super::replies::Said;
use super::state::{Course, Look, LookStatus, Outcome};
use super::turn::Turn;
use crate::care::{Finding, Minutes, Reading, Site};

/// How a finding meets the look that it answers.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Meeting {
    /// The look was waiting for it.
    Fresh,
    /// The look had been answered since sitting was last resumed.
    Correction,
    /// The look was missed, withdrawn, or answered before sitting was last resumed.
    Late,
}

impl Turn<'_> {
    /// A finding said to a look.
    pub(super) fn finding_said(&mut self, said: &Said<'_>, id: LookId) {
        let meeting = self.meeting(id);
        let found = self.found(said, id);
        let before = self.look(id).found.clone();
        self.answered(said, id);
        if self.state.is_suspended() {
            self.emit(Event::Unsuspended);
        }
        let detail = TellDetail::Look { look: id };
        match meeting {
            Meeting::Fresh => {}
            Meeting::Late => self.tell(TellReason::LateReport, detail),
            Meeting::Correction => match self.against(id, before.as_ref(), &found, said) {
                Ordering::Equal => return,
                Ordering::Less => return self.tell(TellReason::Correction, detail),
                Ordering::Greater => {}
            },
        }
        let stop = self.stop_reason(id, &found);
        let sites = self.sites_of_stop(id, &found);
        let in_time = found.fade.is_some_and(|fade| fade <= self.limits().fade_limit);
        let gone = in_time && stop.is_none() && self.reports_gone(id, &found);
        let finding = found.finding;
        self.emit(Event::Found { look: id, found, gone });
        if let Some(why) = stop {
            return self.stop(why, sites, Some(id), None);
        }
        if let (Some(sitting), Finding::Faded | Finding::Marked) = (self.look(id).sitting, finding)
        {
            self.watch_repeat_marks(sitting, &said.verdict.sites);
        }
        // An answer to a look answered before the last resume settles nothing anew (R18, fine
        // print); a late calm word changes nothing that was settled (R15).
        let settles_anew = match meeting {
            // An unasked look of a sitting that was settled already.
            Meeting::Fresh => self.look(id).kind == LookKind::First,
            Meeting::Correction => true,
            Meeting::Late => before.is_none() && finding > Finding::Clear,
        };
        if settles_anew {
            self.reopen(id);
        }
        match finding {
            Finding::Marked => self.mark_seen(id),
            Finding::Clear | Finding::Faded => {
                let anew = meeting != Meeting::Late || before.is_none();
                self.mark_gone(id, gone && anew);
            }
            Finding::Persisting | Finding::Alarming => {}
        }
        self.settle_sittings();
    }

    fn meeting(&self, id: LookId) -> Meeting {
        let look = self.look(id);
        match (&look.found, look.is_unsettled()) {
            (_, true) => Meeting::Fresh,
            (Some(_), false) if look.found_in == self.state.resumes => Meeting::Correction,
            (_, false) => Meeting::Late,
        }
    }

    fn found(&self, said: &Said<'_>, id: LookId) -> Found {
        let finding =
            said.reading().finding().expect("OK because only readings with a finding come here");
        let looked_at = self.stated_time(said);
        let minutes = said.verdict.minutes;
        Found {
            finding,
            fade: self.fade_time(id, finding, minutes),
            minutes,
            looked_at,
            said_at: self.now,
            by: said.by.clone(),
            sites: said.verdict.sites.clone(),
        }
    }

    /// R6: the fade time is what the reply states; else, for a `faded` that comes before its
    /// recheck was asked, the minutes from the look to the reply, rounded up; else the fade limit.
    /// `clear` at a recheck that was asked is gone without a time.
    fn fade_time(&self, id: LookId, finding: Finding, minutes: Option<Minutes>) -> Option<Minutes> {
        let look = self.look(id);
        match finding {
            Finding::Clear if look.kind == LookKind::Recheck => {
                Some(minutes.unwrap_or(self.limits().fade_limit))
            }
            Finding::Faded => Some(minutes.unwrap_or_else(|| {
                // Said directly to a first or routine look, nobody knows when the mark was first
                // seen: doubt counts as the limit.
                let mark_seen = look.of.and_then(|of| self.look(of).found.as_ref());
                let early = mark_seen.filter(|_| look.status == LookStatus::Planned);
                early.map_or(self.limits().fade_limit, |mark| {
                    minutes_rounded_up(self.now - mark.looked_at)
                })
            })),
            _ => None,
        }
    }

    /// R18: how a finding stands to the one before it; greater is worse.
    fn against(
        &self,
        id: LookId,
        before: Option<&Found>,
        found: &Found,
        said: &Said<'_>,
    ) -> Ordering {
        let Some(before) = before else { return Ordering::Greater };
        if found.finding == Finding::Faded && before.finding == Finding::Faded {
            // `faded` without minutes after `faded` is the same.
            return if said.verdict.minutes.is_none() {
                Ordering::Equal
            } else {
                found.fade.cmp(&before.fade)
            };
        }
        // What R11 stops on ranks with `persisting`, so the same mark, now said to have lasted too
        // long, is worse.
        let rank = |found: &Found| match self.stop_reason(id, found) {
            Some(StopReason::Alarming) => Finding::Alarming,
            Some(_) => Finding::Persisting,
            None => found.finding,
        };
        rank(found).cmp(&rank(before))
    }

    /// R11: whether a finding is a stop. `marked` at a recheck is; so is a mark said to have
    /// lasted longer than the fade limit, or said to have gone only after it.
    fn stop_reason(&self, id: LookId, found: &Found) -> Option<StopReason> {
        let limit = self.limits().fade_limit;
        let at_recheck = self.look(id).kind == LookKind::Recheck;
        match found.finding {
            Finding::Alarming => Some(StopReason::Alarming),
            Finding::Persisting => Some(StopReason::Persisting),
            Finding::Marked if at_recheck || found.minutes > Some(limit) => {
                Some(StopReason::Persisting)
            }
            Finding::Faded if found.fade > Some(limit) => Some(StopReason::Persisting),
            Finding::Clear if at_recheck && found.fade > Some(limit) => {
                Some(StopReason::Persisting)
            }
            Finding::Clear | Finding::Faded | Finding::Marked => None,
        }
    }

    /// R21: the sites of the reply, else those of the mark seen at that look, or of its
    /// recheck's mark.
    fn sites_of_stop(&self, id: LookId, found: &Found) -> Vec<Site> {
        if !found.sites.is_empty() {
            return found.sites.clone();
        }
        self.mark_sites(id)
    }

    /// The sites of the mark that a recheck is about, else those last named at the look itself.
    pub(super) fn mark_sites(&self, id: LookId) -> Vec<Site> {
        let look = self.look(id);
        let marked = look.of.map(|of| &self.look(of).mark_sites).filter(|sites| !sites.is_empty());
        marked.unwrap_or(&look.mark_sites).clone()
    }

    fn reports_gone(&self, id: LookId, found: &Found) -> bool {
        found.finding == Finding::Faded || self.look(id).kind == LookKind::Recheck
    }

    /// R13: tells once a sitting when a site named has been named in `count` of the last
    /// `of_last` sittings; cancelled ones are not counted.
    fn watch_repeat_marks(&mut self, number: SittingNumber, named_now: &[Site]) {
        let Some(watch) = self.basis.plan.repeat_marks else { return };
        if self.sitting(number).repeat_told {
            return;
        }
        let last: Vec<&BTreeSet<Site>> = self
            .state
            .sittings()
            .rev()
            .filter(|sitting| sitting.course != Course::Cancelled)
            .take(watch.of_last as usize)
            .map(|sitting| &sitting.named)
            .collect();
        let both: BTreeSet<Site> =
            named_now.iter().flat_map(|site| site.both_if_unsided()).collect();
        let sites: Vec<Site> = both
            .into_iter()
            .filter(|site| {
                last.iter().filter(|named| named.contains(site)).count() >= watch.count as usize
            })
            .collect();
        if !sites.is_empty() {
            let detail = TellDetail::RepeatedSites { sitting: number, sites };
            self.tell(TellReason::RepeatMarks, detail);
        }
    }

    /// R18: takes back the credit of the look's sitting, so that it is settled anew.
    fn reopen(&mut self, id: LookId) {
        let Some(number) = self.look(id).sitting else { return };
        let sitting = self.sitting(number);
        if !sitting.settled || sitting.stopped {
            return;
        }
        let run = self.state.run;
        let of_this_run = sitting.outcome == Some(Outcome::Credit { generation: run.generation });
        // A credit of a run since broken is not subtracted.
        let left = run.credits.saturating_sub(u32::from(of_this_run));
        self.emit(Event::Reopened { sitting: number, run: left });
    }

    /// R10: a mark ends the look's own sitting and the one in progress, and its recheck is due
    /// `fade_limit` after the look.
    fn mark_seen(&mut self, id: LookId) {
        let own = self.look(id).sitting;
        let in_progress =
            self.state.recent_sittings.iter().rev().map(|sitting| sitting.number).find(|number| {
                self.sitting(*number).course == Course::Ran
                    && !self.sitting(*number).settled
                    && !self.is_over(*number)
            });
        let mut ended: Vec<SittingNumber> = own.into_iter().chain(in_progress).collect();
        ended.sort_unstable();
        ended.dedup();
        for number in ended {
            self.end_by_mark(number, id);
        }
        let looked_at = self.look(id).found.as_ref().map_or(self.now, |found| found.looked_at);
        self.emit(Event::LookPlanned {
            look: self.state.next_look(),
            kind: LookKind::Recheck,
            sitting: own,
            of: Some(id),
            due: looked_at + self.limits().fade_limit.elapsed(),
        });
    }

    fn end_by_mark(&mut self, number: SittingNumber, marked: LookId) {
        let sitting = self.sitting(number);
        if sitting.course != Course::Ran {
            return;
        }
        if sitting.settled {
            // Its credit stands (R18, fine print); who sits again has begun no sitting of ours.
            return self.emit(Event::SittingEnded { sitting: number, cut_short: false });
        }
        let others: Vec<LookId> = sitting
            .looks
            .iter()
            .map(|look| self.look(*look))
            .filter(|look| look.id != marked && look.kind == LookKind::First && look.is_unsettled())
            .map(|look| look.id)
            .collect();
        let cut_short = !self.is_over(number) || !others.is_empty();
        for look in others {
            self.emit(Event::LookWithdrawn { look, why: WithdrawReason::Mark });
        }
        self.emit(Event::SittingEnded { sitting: number, cut_short });
    }

    /// A mark that came and went, or a recheck that found it gone. A slow one at a routine look
    /// breaks the run (R6); those of sittings are counted when the sitting is settled.
    fn mark_gone(&mut self, id: LookId, gone: bool) {
        let look = self.look(id);
        let fade = look.found.as_ref().and_then(|found| found.fade);
        if gone && look.sitting.is_none() && fade > Some(self.limits().slow_fade) {
            self.emit(Event::RunBroken);
        }
    }

    /// R18: an alarming reply while stopped raises a new alert if the last one had been
    /// acknowledged or decided.
    pub(super) fn alarming_again(&mut self, said: &Said<'_>) {
        let waiting = self.state.alert.as_ref().is_some_and(|alert| alert.acknowledged.is_none());
        if said.reading() == Reading::Alarming && !waiting {
            self.raise_alert(AlertCause::AlarmingAgain);
        }
    }
}

fn minutes_rounded_up(elapsed: chrono::TimeDelta) -> Minutes {
    let seconds = elapsed.num_seconds().max(0);
    Minutes::new(u32::try_from((seconds + 59) / 60).unwrap_or(u32::MAX))
}

impl Look {
    /// The fade time of the mark seen at this look, by its own answer or its recheck's.
    pub(super) fn fade_of_mark<'s>(&'s self, state: &'s super::State) -> Option<Minutes> {
        let own = self.found.as_ref()?;
        match own.finding {
            Finding::Faded => own.fade,
            Finding::Marked => {
                let recheck = self.recheck.map(|id| state.look(id))?;
                recheck.found.as_ref().filter(|_| recheck.status == LookStatus::Answered)?.fade
            }
            Finding::Clear | Finding::Persisting | Finding::Alarming => None,
        }
    }
}
