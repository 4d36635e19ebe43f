//! What a contact's reply leads to (R2, R15, R17, R18, R29).
//!
//! Never here: reading words; what a finding leads to (`findings`), a start (`starting`).
//! Promises: whatever is said leaves an entry, except absence notices, which nobody said.

use super::event::{
    AsideReason, Event, LookKind, NoCreditReason, RequestClock, TellDetail, TellReason,
    WithdrawReason,
};
use super::ids::{LookId, SittingNumber};
use super::occasion::{Aim, Target};
use super::state::{Course, Look, LookStatus};
use super::turn::Turn;
use crate::care::{ContactId, Reading, Verdict};

/// A reply with its writer, as it goes through the rules.
pub(super) struct Said<'r> {
    pub(super) by: &'r ContactId,
    pub(super) verdict: &'r Verdict,
}

impl Said<'_> {
    pub(super) fn reading(&self) -> Reading {
        self.verdict.reading
    }
}

impl Turn<'_> {
    /// A contact's reply (R29). Automatic replies are filed, never read as answers (R28).
    pub(super) fn reply(&mut self, by: &ContactId, verdict: &Verdict, aim: Aim) {
        let said = Said { by, verdict };
        if said.reading() == Reading::Automatic {
            return;
        }
        if self.state.is_closed() {
            return self.set_aside(by.as_str(), AsideReason::Closed);
        }
        if said.reading().is_clinicians() {
            return self.set_aside(by.as_str(), AsideReason::DoesNotFit);
        }
        self.overdue_before_a_reply();
        let target = match self.state.answered_by(by, said.reading(), aim) {
            Some(Target::Look(asked)) => {
                Some(Target::Look(self.recheck_instead(asked, said.reading())))
            }
            other => other,
        };
        if self.state.is_stopped() {
            return self.reply_while_stopped(&said, target);
        }
        if said.reading() == Reading::Started && self.starts(&said, target) {
            return;
        }
        match target {
            Some(Target::Announcement(sitting)) => self.said_to_announcement(&said, sitting),
            Some(Target::Look(look)) => self.said_to_look(&said, look),
            None => self.said_unasked(&said),
        }
    }

    /// R2: what is said to the announcement of a sitting.
    fn said_to_announcement(&mut self, said: &Said<'_>, sitting: SittingNumber) {
        match said.reading() {
            Reading::NoSitting => self.no_sitting(sitting),
            Reading::Started => self.starts_nothing(said, sitting),
            Reading::Faded | Reading::Marked | Reading::Persisting | Reading::Alarming => {
                let newest_asked = self.newest_look_asked_of(sitting);
                match newest_asked {
                    Some(look) => self.said_to_look(said, look),
                    None => self.unasked_look(said, LookKind::First, Some(sitting)),
                }
            }
            // Nobody was asked to look yet.
            _ => self.set_aside(said.by.as_str(), AsideReason::DoesNotFit),
        }
    }

    /// R2: a start that begins, moves and takes up nothing is told, since somebody is sitting and
    /// nobody was asked to look; where looks of the sitting were answered or missed, what was said
    /// is also set aside.
    fn starts_nothing(&mut self, said: &Said<'_>, number: SittingNumber) {
        let sitting = self.sitting(number);
        let touched = |look: &Look| look.found.is_some() || look.status == LookStatus::Missed;
        let runs = sitting.course == Course::Ran && !sitting.stopped;
        if runs && sitting.looks.iter().any(|id| touched(self.look(*id))) {
            self.set_aside(said.by.as_str(), AsideReason::DoesNotFit);
        }
        self.tell(TellReason::Unclear, TellDetail::Announcement { sitting: number });
    }

    /// The newest look asked of a sitting; once its announcement is closed, a mark said to it
    /// answers that look (R2, fine print). After an unasked mark this is the recheck: a lasting
    /// mark must not start a fresh wait by the mail that it answers.
    fn newest_look_asked_of(&self, sitting: SittingNumber) -> Option<LookId> {
        if self.sitting(sitting).announced {
            return None;
        }
        let looks = self.sitting(sitting).looks.iter().map(|id| self.look(*id));
        looks
            .filter_map(|look| look.requests.first().map(|request| (request.order, look.id)))
            .max()
            .map(|(_, id)| id)
    }

    /// What is said to a look, whatever it says and whenever it comes.
    pub(super) fn said_to_look(&mut self, said: &Said<'_>, asked: LookId) {
        let id = self.recheck_instead(asked, said.reading());
        if said.reading().finding().is_some() {
            if self.is_of_an_earlier_day(id, said) {
                return self.unasked_as_in_r29(said);
            }
            return self.finding_said(said, id);
        }
        self.answered(said, id);
        let look = self.look(id);
        match (said.reading(), look.kind, look.sitting) {
            (Reading::NotLooked, _, _) => {}
            (Reading::NoSitting, LookKind::First, Some(sitting)) => self.no_sitting(sitting),
            (Reading::Started, LookKind::First, Some(_)) => {
                self.tell(TellReason::Unclear, TellDetail::Look { look: id });
            }
            // A reading that does not fit what it answers is unclear (R17); a start that starts
            // nothing is told at once, since somebody is sitting and nobody was asked to look.
            (Reading::Started, _, _) => self.unclear(said, id, true),
            _ => self.unclear(said, id, false),
        }
    }

    /// R10: a `faded` before its recheck is asked answers the recheck; from then on, and once the
    /// recheck was asked, what is said to the look is said to its recheck.
    fn recheck_instead(&self, asked: LookId, reading: Reading) -> LookId {
        let look = self.look(asked);
        let Some(recheck) = look.recheck.map(|id| self.look(id)) else {
            return asked;
        };
        let gone_early = reading == Reading::Faded && recheck.status == LookStatus::Planned;
        if gone_early || recheck.clock.is_some() || recheck.found.is_some() {
            recheck.id
        } else {
            asked
        }
    }

    /// R18: whether a mark or worse is said to a look that was settled on an earlier local day,
    /// with its recheck settled too, so that it is a new mark and no correction.
    fn is_of_an_earlier_day(&self, id: LookId, said: &Said<'_>) -> bool {
        let look = self.look(id);
        if said.reading() == Reading::Clear || look.is_unsettled() || self.is_same_fade(look, said)
        {
            return false;
        }
        if look.recheck.is_some_and(|recheck| self.look(recheck).is_unsettled()) {
            return false;
        }
        let settled_at = look.found.as_ref().map_or(look.settled_at, |found| Some(found.said_at));
        let zone = &self.state.terms.zone;
        settled_at.is_some_and(|at| zone.date(at) < zone.date(self.now))
    }

    fn is_same_fade(&self, look: &Look, said: &Said<'_>) -> bool {
        said.reading() == Reading::Faded
            && look.found.as_ref().is_some_and(|found| {
                found.finding == crate::care::Finding::Faded
                    && said.verdict.minutes.is_none_or(|minutes| found.fade == Some(minutes))
            })
    }

    /// R29: a reply of somebody who was not asked. A mark or worse is never set aside.
    fn said_unasked(&mut self, said: &Said<'_>) {
        match said.reading() {
            Reading::Marked | Reading::Persisting | Reading::Alarming => {
                if let Some(sitting) = self.announced_sitting() {
                    return self.unasked_look(said, LookKind::First, Some(sitting));
                }
                match self.state.newest_look_asked() {
                    Some(look) => self.said_to_look(said, look),
                    None => self.unasked_look(said, LookKind::Routine, None),
                }
            }
            _ => self.nothing_asked(said),
        }
    }

    /// R29: nobody asked this person. A start is told all the same (R2, fine print).
    fn nothing_asked(&mut self, said: &Said<'_>) {
        self.set_aside(said.by.as_str(), AsideReason::NotAsked);
        if said.reading() == Reading::Started {
            self.tell(TellReason::Unclear, TellDetail::Nothing);
        }
    }

    /// R18: a new mark said to a look of an earlier day is an unasked look of the sitting that is
    /// announced, else an unasked routine look.
    fn unasked_as_in_r29(&mut self, said: &Said<'_>) {
        match self.announced_sitting() {
            Some(sitting) => self.unasked_look(said, LookKind::First, Some(sitting)),
            None => self.unasked_look(said, LookKind::Routine, None),
        }
    }

    /// The sitting whose first look is still to come: its announcement is open.
    fn announced_sitting(&self) -> Option<SittingNumber> {
        self.state.recent_sittings.iter().rev().find(|sitting| sitting.announced).map(|s| s.number)
    }

    fn unasked_look(&mut self, said: &Said<'_>, kind: LookKind, sitting: Option<SittingNumber>) {
        let look = self.state.next_look();
        self.emit(Event::Unasked { look, kind, sitting, by: said.by.clone() });
        self.finding_said(said, look);
    }

    /// The record that a contact replied to a look.
    pub(super) fn answered(&mut self, said: &Said<'_>, id: LookId) {
        let look = self.look(id);
        let (kind, sitting) = (look.kind, look.sitting);
        self.emit(Event::Answered {
            look: id,
            kind,
            sitting,
            by: said.by.clone(),
            reading: said.reading(),
            sites: said.verdict.sites.clone(),
            minutes: said.verdict.minutes,
        });
    }

    /// R17: words that cannot be read safely are asked again at once while the look is open; the
    /// clinic is told from the second time on, and at once where the look is no longer open.
    fn unclear(&mut self, said: &Said<'_>, id: LookId, tell_at_once: bool) {
        self.emit(Event::NotUnderstood { look: id });
        let look = self.look(id);
        let open = look.status == LookStatus::Open;
        let repeated = look.unclear > 1;
        if open {
            let (kind, sitting) = (look.kind, look.sitting);
            let again = look.times_sent_to(said.by);
            self.emit(Event::Asked {
                look: id,
                kind,
                sitting,
                to: said.by.clone(),
                again,
                clock: RequestClock::Unchanged,
            });
        }
        if !open || repeated || tell_at_once {
            self.tell(TellReason::Unclear, TellDetail::Look { look: id });
        }
    }

    /// R17: the sitting did not take place.
    fn no_sitting(&mut self, number: SittingNumber) {
        let sitting = self.sitting(number);
        let looks = || sitting.looks.iter().map(|id| self.look(*id));
        let detail = TellDetail::Announcement { sitting: number };
        if looks().any(|look| look.found.is_some()) {
            return self.tell(TellReason::Correction, detail);
        }
        let missed = looks().any(|look| look.status == LookStatus::Missed);
        if missed || sitting.course != Course::Ran {
            return self.tell(TellReason::LateReport, detail);
        }
        let unsettled: Vec<LookId> =
            looks().filter(|look| look.is_unsettled()).map(|look| look.id).collect();
        for look in unsettled {
            self.emit(Event::LookWithdrawn { look, why: WithdrawReason::NoSitting });
        }
        self.emit(Event::NoCredit { sitting: number, why: NoCreditReason::NoSitting, fade: None });
    }

    /// R18: while stopped, every reply to anything that was asked is told, and lifts nothing.
    fn reply_while_stopped(&mut self, said: &Said<'_>, target: Option<Target>) {
        let worrying = said.reading().finding() >= Some(crate::care::Finding::Marked);
        let marked = said.reading().finding() >= Some(crate::care::Finding::Faded);
        let (asked, kind, sitting) = match target {
            Some(Target::Announcement(sitting)) if marked => {
                (self.newest_look_asked_of(sitting), LookKind::First, Some(sitting))
            }
            Some(Target::Announcement(sitting)) => {
                return self.tell(TellReason::LateReport, TellDetail::Announcement { sitting });
            }
            Some(Target::Look(asked)) => (Some(asked), LookKind::Routine, None),
            None if worrying => (self.state.newest_look_asked(), LookKind::Routine, None),
            None => return self.nothing_asked(said),
        };
        let asked = asked.map(|asked| self.recheck_instead(asked, said.reading()));
        let look = asked.unwrap_or_else(|| {
            let look = self.state.next_look();
            self.emit(Event::Unasked { look, kind, sitting, by: said.by.clone() });
            look
        });
        self.answered(said, look);
        if asked.is_none() {
            self.emit(Event::LookWithdrawn { look, why: WithdrawReason::Stop });
        }
        if let Some(sitting) = self.look(look).sitting.filter(|_| marked)
            && !said.verdict.sites.is_empty()
        {
            self.emit(Event::SitesNamed { sitting, sites: said.verdict.sites.clone() });
        }
        self.tell(TellReason::LateReport, TellDetail::Look { look });
        self.alarming_again(said);
    }
}
