//! Whole minutes, the unit of every duration in a plan and of every fade time.
//!
//! Never here: wall-clock times, instants.
//! Promises: parsing and printing agree (`90min`, `1h30min`, `2h`, `7d`).

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

/// Minutes in one hour.
const PER_HOUR: u32 = 60;
/// Minutes in one elapsed day of 24 hours.
const PER_DAY: u32 = 24 * PER_HOUR;
/// The longest duration that a plan may name: ten years, so that no sum of two can overflow.
const LONGEST: u32 = 3653 * PER_DAY;

/// A duration in whole minutes, 0 to ten years.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Minutes(u32);

impl Minutes {
    /// No time at all.
    pub const ZERO: Self = Self(0);

    /// So many minutes; more than ten years is cut to ten years.
    pub fn new(minutes: u32) -> Self {
        Self(minutes.min(LONGEST))
    }

    /// The number of minutes.
    pub fn count(self) -> u32 {
        self.0
    }

    /// The same duration for sums with instants.
    pub fn elapsed(self) -> chrono::TimeDelta {
        chrono::TimeDelta::minutes(i64::from(self.0))
    }
}

/// Why a text is not a duration.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum DurationError {
    /// A bare number: the unit is missing.
    #[error("a duration needs its unit, such as \"{0}min\"")]
    NoUnit(String),
    /// A unit that is not `min`, `h` or `d`.
    #[error("unknown unit `{0}` in a duration; the units are `min`, `h` and `d`")]
    UnknownUnit(String),
    /// A unit named twice or out of order.
    #[error("the units of a duration go from large to small, each once: `1d2h30min`")]
    Order,
    /// Nothing that could be read as a number with a unit.
    #[error("not a duration; write it like \"90min\", \"1h30min\", \"2h\" or \"7d\"")]
    Malformed,
    /// More than ten years.
    #[error("a duration of more than ten years")]
    TooLong,
}

impl FromStr for Minutes {
    type Err = DurationError;

    fn from_str(text: &str) -> Result<Self, DurationError> {
        if !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit()) {
            return Err(DurationError::NoUnit(text.to_owned()));
        }
        let mut total: u32 = 0;
        let mut last_factor = u32::MAX;
        let mut rest = text;
        while !rest.is_empty() {
            let digits = rest.bytes().take_while(u8::is_ascii_digit).count();
            let (number, tail) = rest.split_at(digits);
            if number.is_empty() {
                return Err(DurationError::Malformed);
            }
            let letters = tail.bytes().take_while(|b| !b.is_ascii_digit()).count();
            let (unit, tail) = tail.split_at(letters);
            let factor = match unit {
                "d" => PER_DAY,
                "h" => PER_HOUR,
                "min" => 1,
                "" => return Err(DurationError::Malformed),
                other => return Err(DurationError::UnknownUnit(other.to_owned())),
            };
            if factor >= last_factor {
                return Err(DurationError::Order);
            }
            last_factor = factor;
            total = number
                .parse::<u32>()
                .ok()
                .and_then(|n| n.checked_mul(factor))
                .and_then(|n| total.checked_add(n))
                .filter(|n| *n <= LONGEST)
                .ok_or(DurationError::TooLong)?;
            rest = tail;
        }
        if last_factor == u32::MAX {
            return Err(DurationError::Malformed);
        }
        Ok(Self(total))
    }
}

impl fmt::Display for Minutes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (days, hours, minutes) =
            (self.0 / PER_DAY, self.0 % PER_DAY / PER_HOUR, self.0 % PER_HOUR);
        if days > 0 {
            write!(f, "{days}d")?;
        }
        if hours > 0 {
            write!(f, "{hours}h")?;
        }
        if minutes > 0 || self.0 == 0 {
            write!(f, "{minutes}min")?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn durations_print_as_they_are_written() {
        for text in ["0min", "15min", "1h30min", "2h", "7d", "1d1h1min"] {
            assert_eq!(text.parse::<Minutes>().map(|m| m.to_string()), Ok(text.to_owned()));
        }
        assert_eq!("90min".parse::<Minutes>().map(|m| m.to_string()), Ok("1h30min".to_owned()));
    }

    #[test]
    fn a_duration_without_a_known_unit_is_refused_with_the_reason() {
        assert_eq!("30".parse::<Minutes>(), Err(DurationError::NoUnit("30".to_owned())));
        assert_eq!("30m".parse::<Minutes>(), Err(DurationError::UnknownUnit("m".to_owned())));
        assert_eq!("30min1h".parse::<Minutes>(), Err(DurationError::Order));
        assert_eq!("-5min".parse::<Minutes>(), Err(DurationError::Malformed));
        assert_eq!("".parse::<Minutes>(), Err(DurationError::Malformed));
        assert_eq!("99999999d".parse::<Minutes>(), Err(DurationError::TooLong));
    }
}
