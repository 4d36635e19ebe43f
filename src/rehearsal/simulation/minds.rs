//! What simulated people mean: what is on the skin, who answers what and when.
//!
//! Never here: words; what the service makes of them.
//! Promises: contacts tell what they saw; the truth of a sitting is drawn once and stays.

use chrono::TimeDelta;

use super::cast::Habit;
use super::dice::Dice;
use super::ledger::{Cause, Ledger};
use crate::care::Reading;
use crate::follow_up::LookId;
use crate::follow_up::event::LookKind;
use crate::store::RequestTarget;

/// What is on the skin.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Skin {
    Clear,
    /// A mark that is gone after so many minutes.
    Fades(u32),
    Lasts,
    Alarming,
}

/// Something that somebody is going to say.
#[derive(Clone, Copy, Debug)]
pub(super) struct Saying {
    pub(super) means: Reading,
    /// The minutes that it states, where it states any.
    pub(super) minutes: u32,
    pub(super) after: TimeDelta,
}

/// Somebody with a mail in hand.
pub(super) struct Mind<'w> {
    pub(super) seed: u64,
    /// How often in a thousand sittings skin is marked.
    pub(super) marks_per_mille: u64,
    pub(super) ledger: &'w Ledger,
    pub(super) dice: &'w mut Dice,
}

impl Mind<'_> {
    /// What a contact answers to a mail with this cause, about this.
    pub(super) fn contact_says(
        &mut self,
        client: usize,
        (cause, target): (Cause, RequestTarget),
        habit: Habit,
    ) -> Vec<Saying> {
        match (cause, target) {
            (Cause::Announced, RequestTarget::Announcement(_)) => self.on_announcement(habit),
            (
                Cause::AskedFirst(_) | Cause::AskedAgain(_) | Cause::AskedAnew,
                RequestTarget::Look(look),
            ) => self.on_look(client, look, habit),
            (Cause::ToldToStop | Cause::Else, _) if self.dice.per_mille(15) => {
                let means = *self.dice.pick(&[Reading::Unclear, Reading::Alarming]);
                vec![Saying { means, minutes: 0, after: TimeDelta::minutes(9) }]
            }
            _ => Vec::new(),
        }
    }

    fn on_announcement(&mut self, habit: Habit) -> Vec<Saying> {
        let dice = &mut *self.dice;
        let after = TimeDelta::minutes(dice.between(1, 12));
        let means = match (habit, dice.below(100)) {
            (Habit::Silent, _) => return Vec::new(),
            (_, 0..35) => Reading::Started,
            (_, 35..40) => Reading::NoSitting,
            (_, 40..42) => Reading::Marked,
            (_, 42..43) => Reading::Alarming,
            _ => return Vec::new(),
        };
        vec![Saying { means, minutes: 0, after }]
    }

    fn on_look(&mut self, client: usize, id: LookId, habit: Habit) -> Vec<Saying> {
        let Some(after) = self.answers_after(habit) else { return Vec::new() };
        let skin = self.skin(client, id);
        let kind = self.ledger.clients[client].look(id).map(|look| look.kind);
        let at_recheck = kind == Some(LookKind::Recheck);
        let dice = &mut *self.dice;
        let says = |means, minutes, after| Saying { means, minutes, after };
        let (means, minutes, after) = match skin {
            Skin::Clear => (Reading::Clear, 0, after),
            Skin::Fades(minutes) if at_recheck => {
                let means = *dice.pick(&[Reading::Faded, Reading::Faded, Reading::Clear]);
                (means, minutes, after)
            }
            Skin::Fades(minutes) if dice.per_mille(500) => {
                (Reading::Faded, minutes, after.max(TimeDelta::minutes(i64::from(minutes))))
            }
            Skin::Fades(_) => (Reading::Marked, 0, after),
            Skin::Lasts if at_recheck => {
                (*dice.pick(&[Reading::Persisting, Reading::Persisting, Reading::Marked]), 0, after)
            }
            Skin::Lasts => (Reading::Marked, 0, after),
            Skin::Alarming => (Reading::Alarming, 0, after),
        };
        let answer = says(means, minutes, after);
        match dice.below(100) {
            0..4 => {
                let later = after + TimeDelta::minutes(dice.between(5, 90));
                vec![says(Reading::NotLooked, 0, after), says(means, minutes, later)]
            }
            4..7 => vec![says(Reading::Unclear, 0, after)],
            // On second thoughts it was worse.
            7..10 => {
                let later = after + TimeDelta::minutes(dice.between(2, 60));
                let worse = *dice.pick(&[Reading::Marked, Reading::Alarming]);
                vec![answer, says(worse, 0, later)]
            }
            _ => vec![answer],
        }
    }

    fn answers_after(&mut self, habit: Habit) -> Option<TimeDelta> {
        let dice = &mut *self.dice;
        let minutes = match habit {
            Habit::Prompt => dice.between(1, 9),
            Habit::Slow => dice.between(5, 70),
            Habit::Forgetful if dice.per_mille(450) => return None,
            Habit::Forgetful => dice.between(1, 100),
            Habit::Silent if dice.per_mille(970) => return None,
            Habit::Silent => 30,
        };
        Some(TimeDelta::minutes(minutes))
    }

    /// What a clinician answers to an alert.
    pub(super) fn clinician_says(&mut self, client: usize, habit: Habit) -> Vec<Saying> {
        let dice = &mut *self.dice;
        let says = |means, after| Saying { means, minutes: 0, after };
        let after = match habit {
            Habit::Prompt => TimeDelta::minutes(dice.between(2, 20)),
            Habit::Slow => TimeDelta::minutes(dice.between(20, 240)),
            Habit::Forgetful if dice.per_mille(500) => return Vec::new(),
            Habit::Forgetful => TimeDelta::minutes(dice.between(2, 400)),
            Habit::Silent if dice.per_mille(800) => return Vec::new(),
            Habit::Silent => TimeDelta::hours(5),
        };
        let decision = match dice.below(100) {
            0..75 => Some(Reading::Resume),
            75..88 => Some(Reading::KeepStopped),
            88..90 => Some(Reading::Close),
            _ => None,
        };
        let acknowledged = self.ledger.clients[client].owed.is_some_and(|owed| owed.acknowledged);
        let dice = &mut *self.dice;
        let later = after + TimeDelta::minutes(dice.between(30, 2000));
        match decision {
            Some(decision) if acknowledged || dice.per_mille(250) => vec![says(decision, after)],
            Some(decision) if dice.per_mille(600) => {
                vec![says(Reading::Seen, after), says(decision, later)]
            }
            _ => vec![says(Reading::Seen, after)],
        }
    }

    /// The truth about the skin at a look: that of its sitting, or of the mark that a recheck is
    /// about.
    fn skin(&self, client: usize, id: LookId) -> Skin {
        let facts = &self.ledger.clients[client];
        let first = facts.look(id).and_then(|look| look.of).unwrap_or(id);
        let sitting = facts.look(first).and_then(|look| look.sitting);
        let key = match sitting {
            Some(number) => u64::from(number.count()),
            None => 100_000 + u64::from(first.count()),
        };
        let mut dice = Dice::new(self.seed, 1_000_000 * (client as u64 + 1) + key);
        if !dice.per_mille(self.marks_per_mille) {
            return Skin::Clear;
        }
        let limit = i64::from(facts.plan().looks.fade_limit.count());
        match dice.below(10) {
            0..7 => Skin::Fades(u32::try_from(dice.between(3, limit)).unwrap_or(3)),
            7..9 => Skin::Lasts,
            _ => Skin::Alarming,
        }
    }
}
