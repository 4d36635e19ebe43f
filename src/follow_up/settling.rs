//! Credit: what a sitting comes to once every look of it is settled (R5, R6, R16, R19, R20).
//!
//! Never here: the steps of the ladder (`ladder`), the arithmetic of trends (`trend`).
//! Promises: no credit without an answer to every look, in time.

use super::event::{Event, LookKind, NoCreditReason, TellDetail, TellReason};
use super::ids::SittingNumber;
use super::state::{Course, Look, LookStatus, Sitting, Standing};
use super::trend;
use super::turn::Turn;
use crate::care::Minutes;

impl Turn<'_> {
    /// Settles every sitting whose looks are all settled.
    pub(super) fn settle_sittings(&mut self) {
        let ready: Vec<SittingNumber> = self
            .state
            .recent_sittings
            .iter()
            .filter(|sitting| self.is_ready_to_settle(sitting))
            .map(|sitting| sitting.number)
            .collect();
        for number in ready {
            self.settle(number);
        }
    }

    fn is_ready_to_settle(&self, sitting: &Sitting) -> bool {
        !sitting.settled
            && !sitting.stopped
            && sitting.looks.iter().all(|id| !self.look(*id).is_unsettled())
    }

    fn settle(&mut self, number: SittingNumber) {
        let fade = self.point_of(number);
        let counted_before = self.sitting(number).counted;
        match self.reason_against_credit(number) {
            None => {
                let run = self.state.run;
                let of_broken_run =
                    self.sitting(number).counts_in.is_some_and(|earned| earned != run.generation);
                let run = run.credits + u32::from(!of_broken_run);
                self.emit(Event::Credit { sitting: number, run, fade });
            }
            Some(why) => self.emit(Event::NoCredit { sitting: number, why, fade }),
        }
        let row = self.state.missed_in_a_row;
        let missed = self.looks_of(number).any(|look| look.status == LookStatus::Missed);
        let open = self.state.standing == Standing::Open;
        if missed && !counted_before && open && row >= self.limits().missed_to_suspend {
            self.emit(Event::Suspended);
            self.tell(TellReason::Suspended, TellDetail::Announcement { sitting: number });
        }
        if fade.is_some() {
            self.watch_trend(number);
        }
    }

    fn looks_of(&self, number: SittingNumber) -> impl Iterator<Item = &Look> {
        self.sitting(number).looks.iter().map(|id| self.look(*id))
    }

    /// R5, R6, R16: why a sitting earns no credit, the first reason that applies.
    fn reason_against_credit(&self, number: SittingNumber) -> Option<NoCreditReason> {
        if self.sitting(number).course == Course::Cancelled {
            return Some(NoCreditReason::NoSitting);
        }
        let slow_fade = self.limits().slow_fade;
        let firsts = || self.looks_of(number).filter(|look| look.kind == LookKind::First);
        if firsts().any(|look| look.status == LookStatus::Missed) {
            Some(NoCreditReason::Missed)
        } else if firsts().filter_map(|l| l.fade_of_mark(self.state)).any(|f| f > slow_fade) {
            Some(NoCreditReason::SlowFade)
        } else if self.sitting(number).cut_short {
            Some(NoCreditReason::CutShort)
        } else {
            None
        }
    }

    /// R19: the sitting's point: the longest fade time of its marks, 0 where all was clear; none
    /// where a look was missed or the sitting was cut short and no mark was seen.
    fn point_of(&self, number: SittingNumber) -> Option<Minutes> {
        let firsts = || self.looks_of(number).filter(|look| look.kind == LookKind::First);
        let longest = firsts().filter_map(|look| look.fade_of_mark(self.state)).max();
        let missed = firsts().any(|look| look.status == LookStatus::Missed);
        let any_finding = firsts().any(|look| look.found.is_some());
        match longest {
            _ if self.sitting(number).course == Course::Cancelled => None,
            Some(fade) => Some(fade),
            None if missed || self.sitting(number).cut_short || !any_finding => None,
            None => Some(Minutes::ZERO),
        }
    }

    /// R20: a rising trend over all points of the sitting's step is told.
    fn watch_trend(&mut self, number: SittingNumber) {
        let step = self.sitting(number).step;
        let fades: Vec<u32> = self
            .state
            .points()
            .filter(|(of, _)| *of == step)
            .map(|(_, point)| point.fade)
            .collect();
        if let Some(rising) = trend::rising(&fades) {
            let detail = TellDetail::Trend {
                points: u32::try_from(fades.len()).unwrap_or(u32::MAX),
                s: rising.s,
                p_millionths: rising.p_millionths,
            };
            self.tell(TellReason::Rising, detail);
        }
    }
}
