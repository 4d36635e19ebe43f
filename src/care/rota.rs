//! Who of the clinic is on cover on which days, where it differs from the usual order.
//!
//! Never here: the usual order (the clinic file has it), clocks, zones, who may change it.
//! Promises: of two shifts on one day the one that was said later counts; a day without a shift has
//! the usual order.

use chrono::{Days, NaiveDate};
use serde::{Deserialize, Serialize};

use super::person::ClinicianId;

/// Days on which somebody else is on cover.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Shift {
    /// The first day, by the clinic's clock.
    pub from: NaiveDate,
    /// The last day; not before the first.
    pub until: NaiveDate,
    /// Who is on, in calling order; nobody means the usual order again.
    pub cover: Vec<ClinicianId>,
}

/// All shifts, in the order in which they were said.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Rota {
    shifts: Vec<Shift>,
}

impl Shift {
    /// Whether it is about a day.
    pub fn is_on(&self, day: NaiveDate) -> bool {
        (self.from..=self.until).contains(&day)
    }
}

impl Rota {
    /// Who is on cover on a day; none where it is the usual order.
    pub fn on(&self, day: NaiveDate) -> Option<&[ClinicianId]> {
        let shift = self.shifts.iter().rev().find(|shift| shift.is_on(day))?;
        (!shift.cover.is_empty()).then_some(&shift.cover)
    }

    /// The next day after one on which somebody else is on cover than the day before.
    pub fn next_change(&self, after: NaiveDate) -> Option<NaiveDate> {
        self.edges().filter(|day| *day > after).find(|day| self.differs_from_day_before(*day))
    }

    /// The days ahead in stretches of one cover each, from a day on: first and last day, and who is
    /// on. Days of the usual order in between are left out.
    pub fn ahead(&self, from: NaiveDate) -> Vec<Shift> {
        let mut stretches = Vec::new();
        let mut day = from;
        loop {
            let next = self.next_change(day);
            if let Some(cover) = self.on(day) {
                let until = next.and_then(|next| next.checked_sub_days(Days::new(1)));
                // A shift has a last day, so a cover that is not the usual one ends.
                let until = until.unwrap_or(day);
                stretches.push(Shift { from: day, until, cover: cover.to_vec() });
            }
            match next {
                Some(next) => day = next,
                None => return stretches,
            }
        }
    }

    /// Adds a shift; those that ended before `today` are dropped, since they say nothing any more.
    pub fn set(&mut self, shift: Shift, today: NaiveDate) {
        self.shifts.retain(|earlier| earlier.until >= today);
        // A shift that lies wholly under the new one can never count again.
        self.shifts.retain(|under| !(shift.is_on(under.from) && shift.is_on(under.until)));
        self.shifts.push(shift);
    }

    fn differs_from_day_before(&self, day: NaiveDate) -> bool {
        let before = day.checked_sub_days(Days::new(1));
        before.is_none_or(|before| self.on(before) != self.on(day))
    }

    /// The days on which a shift begins, and those after one ended; in order.
    fn edges(&self) -> impl Iterator<Item = NaiveDate> {
        let ends = self.shifts.iter().filter_map(|s| s.until.checked_add_days(Days::new(1)));
        let mut days: Vec<NaiveDate> = self.shifts.iter().map(|s| s.from).chain(ends).collect();
        days.sort_unstable();
        days.dedup();
        days.into_iter()
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn day(number: u32) -> NaiveDate {
        NaiveDate::from_ymd_opt(2026, 3, 1).unwrap() + Days::new(u64::from(number))
    }

    fn shift(from: u32, until: u32, cover: &[&str]) -> Shift {
        let cover = cover.iter().map(|id| ClinicianId::new(id).unwrap()).collect();
        Shift { from: day(from), until: day(until), cover }
    }

    fn rota(shifts: &[Shift]) -> Rota {
        let mut rota = Rota::default();
        shifts.iter().for_each(|shift| rota.set(shift.clone(), day(0)));
        rota
    }

    #[test]
    fn of_two_shifts_on_one_day_the_later_said_counts() {
        let rota = rota(&[shift(2, 9, &["a"]), shift(4, 5, &["b", "c"]), shift(8, 8, &[])]);
        let on = |number| rota.on(day(number)).map(|cover| cover[0].as_str());
        assert_eq!((on(1), on(2), on(4), on(6)), (None, Some("a"), Some("b"), Some("a")));
        assert_eq!((on(8), on(9), on(10)), (None, Some("a"), None));
    }

    #[test]
    fn the_days_ahead_are_told_in_stretches() {
        let rota = rota(&[shift(2, 9, &["a"]), shift(4, 5, &["b"])]);
        let ahead = rota.ahead(day(3));
        assert_eq!(ahead, [shift(3, 3, &["a"]), shift(4, 5, &["b"]), shift(6, 9, &["a"])]);
        assert_eq!(rota.ahead(day(10)), []);
    }

    #[test]
    fn what_is_over_is_dropped_and_changes_nothing_ahead() {
        let mut rota = rota(&[shift(1, 2, &["a"]), shift(5, 9, &["b"])]);
        rota.set(shift(20, 21, &["c"]), day(4));
        assert_eq!(rota.on(day(2)), None);
        assert_eq!(rota.ahead(day(4)), [shift(5, 9, &["b"]), shift(20, 21, &["c"])]);
    }

    proptest! {
        #[test]
        fn a_change_is_named_exactly_where_the_cover_of_two_days_differs(
            shifts in prop::collection::vec((0_u32..30, 0_u32..10, 0_usize..3), 0..6)
        ) {
            let names: [&[&str]; 3] = [&[], &["a"], &["b", "a"]];
            let shifts: Vec<Shift> = shifts
                .into_iter()
                .map(|(from, days, who)| shift(from, from + days, names[who]))
                .collect();
            let rota = rota(&shifts);
            for number in 0..45 {
                let next = (number + 1..60).find(|n| rota.on(day(*n)) != rota.on(day(n - 1)));
                prop_assert_eq!(rota.next_change(day(number)), next.map(day));
                let said = shifts.iter().rev().find(|s| s.is_on(day(number)));
                let said = said.map(|s| s.cover.as_slice()).filter(|cover| !cover.is_empty());
                prop_assert_eq!(rota.on(day(number)), said);
            }
        }
    }
}
