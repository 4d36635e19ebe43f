//! Days, times of day and durations as people write them, and what they probably meant.
//!
//! Never here: zones, instants, the current time.
//! Promises: a time of day is a whole minute; a day lies between 1970 and 2199.

use chrono::{DateTime, Datelike, NaiveDate, NaiveDateTime, NaiveTime, Timelike};

use super::value::SaidAt;
use crate::care::Minutes;

/// Why a text is not a day or a time, and what was probably meant.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Refused {
    pub(super) why: &'static str,
    pub(super) meant: Option<String>,
}

/// Years that a follow-up can lie in; a year outside is a slip of the finger.
const YEARS: std::ops::RangeInclusive<i32> = 1970..=2199;

/// A day: `2026-03-06`.
pub(super) fn date(text: &str) -> Result<NaiveDate, Refused> {
    let Ok(date) = NaiveDate::parse_from_str(text, "%Y-%m-%d") else {
        let why = if moment(text).is_ok() {
            "a day alone is wanted, without a time"
        } else if text.len() == 10 {
            "there is no such day"
        } else {
            "not a day written as year-month-day"
        };
        return Err(Refused { why, meant: None });
    };
    if !YEARS.contains(&date.year()) {
        return Err(Refused { why: "the year must lie between 1970 and 2199", meant: None });
    }
    if text.len() != 10 {
        let meant = Some(date.to_string());
        return Err(Refused { why: "month and day have two digits each", meant });
    }
    Ok(date)
}

/// A time of day: `09:30`. Seconds may stand if they are zero.
pub(super) fn time(text: &str) -> Result<NaiveTime, Refused> {
    let parsed = exact_time(text);
    match parsed {
        Some(time) if time.second() == 0 && time.nanosecond() == 0 => Ok(time),
        Some(_) => Err(Refused { why: "times of day are whole minutes", meant: None }),
        None if text.starts_with("24:") => {
            Err(Refused { why: "a day ends before 24:00", meant: Some("00:00".to_owned()) })
        }
        None => Err(Refused {
            why: "not a time of day with two digits each, `HH:MM`",
            meant: time_meant(text),
        }),
    }
}

/// A day and a time: `2026-03-06T10:21`, with seconds or without, with an offset or without.
pub(super) fn moment(text: &str) -> Result<SaidAt, Refused> {
    let refused =
        Refused { why: "not a day and a time written as `2026-03-06T10:21`", meant: None };
    let Some((day, rest)) = text.split_at_checked(10) else { return Err(refused) };
    let Some(clock) = rest.strip_prefix(['T', 't', ' ']) else { return Err(refused) };
    let day = date(day)?;
    let offset_at = clock.find(['Z', 'z', '+', '-']).unwrap_or(clock.len());
    let (clock, offset) = clock.split_at(offset_at);
    let Some(time) = exact_time(clock) else { return Err(refused) };
    let wall = NaiveDateTime::new(day, time);
    if offset.is_empty() {
        return Ok(SaidAt::Wall(wall));
    }
    let whole = format!("{}{}", wall.format("%Y-%m-%dT%H:%M:%S%.f"), offset.to_uppercase());
    DateTime::parse_from_rfc3339(&whole).map(SaidAt::Exact).map_err(|_| refused)
}

/// The duration that was probably meant, as it should be written.
pub(super) fn duration_meant(text: &str) -> Option<String> {
    let plain = text.trim().to_lowercase().replace([' ', ','], "");
    if plain.len() > 40 {
        return None;
    }
    let mut spelled = plain;
    for (units, unit) in [
        (["minutes", "minute", "mins"].as_slice(), "min"),
        (&["hours", "hour", "hrs", "hr"], "h"),
        (&["days", "day"], "d"),
    ] {
        for written in units {
            spelled = spelled.replace(written, unit);
        }
    }
    let m_alone = spelled.strip_suffix('m').map(|rest| format!("{rest}min"));
    let bare = spelled.bytes().all(|b| b.is_ascii_digit()).then(|| format!("{spelled}min"));
    [Some(spelled), m_alone, bare]
        .into_iter()
        .flatten()
        .find_map(|guess| guess.parse::<Minutes>().ok())
        .map(|minutes| minutes.to_string())
}

/// A time of day in the strict form, seconds and their fractions too.
fn exact_time(text: &str) -> Option<NaiveTime> {
    let colons_right = text.len() >= 5
        && text.is_ascii()
        && text.as_bytes()[2] == b':'
        && text.len() != 6
        && text.as_bytes().get(5).is_none_or(|b| *b == b':');
    if !colons_right {
        return None;
    }
    let digits = |part: &str| part.bytes().all(|b| b.is_ascii_digit());
    let (hours, minutes) = (&text[..2], &text[3..5]);
    if !digits(hours) || !digits(minutes) {
        return None;
    }
    if text.len() == 5 {
        return NaiveTime::from_hms_opt(hours.parse().ok()?, minutes.parse().ok()?, 0);
    }
    if text.len() < 8 || !digits(&text[6..8]) {
        return None;
    }
    NaiveTime::parse_from_str(text, "%H:%M:%S%.f").ok().filter(|t| t.nanosecond() < 1_000_000_000)
}

/// The time of day that was probably meant.
fn time_meant(text: &str) -> Option<String> {
    let lower = text.trim().to_lowercase().replace(' ', "");
    let (clock, noon) = match (lower.strip_suffix("am"), lower.strip_suffix("pm")) {
        (Some(clock), _) => (clock, Some(0)),
        (_, Some(clock)) => (clock, Some(12)),
        (None, None) => (lower.strip_suffix('h').unwrap_or(&lower), None),
    };
    let parts: Vec<&str> = clock.split([':', '.', 'h']).collect();
    let (hour, minute): (u32, u32) = match parts.as_slice() {
        [hour] if hour.len() <= 2 => (hour.parse().ok()?, 0),
        [both] if both.len() == 4 => (both.get(..2)?.parse().ok()?, both.get(2..)?.parse().ok()?),
        [hour, minute] if minute.len() == 2 => (hour.parse().ok()?, minute.parse().ok()?),
        _ => return None,
    };
    let hour = match noon {
        Some(_) if hour == 0 || hour > 12 => return None,
        Some(noon) => hour % 12 + noon,
        None => hour,
    };
    NaiveTime::from_hms_opt(hour, minute, 0).map(|time| time.format("%H:%M").to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_time_of_day_is_two_digits_each_and_a_slip_gets_a_suggestion() {
        assert_eq!(time("09:30").map(|t| t.to_string()), Ok("09:30:00".to_owned()));
        assert!(time("09:30:00").is_ok());
        for (written, meant) in [
            ("9:30", "09:30"),
            ("9.30", "09:30"),
            ("0930", "09:30"),
            ("9:30 pm", "21:30"),
            ("12am", "00:00"),
            ("24:00", "00:00"),
        ] {
            assert_eq!(time(written).unwrap_err().meant.as_deref(), Some(meant), "{written}");
        }
        for nonsense in ["", "25:00", "soon", "09:30:15", "١٢:٠٠", "09:3", "09:30:"] {
            assert_eq!(time(nonsense).unwrap_err().meant, None, "{nonsense}");
        }
    }

    #[test]
    fn a_day_has_a_year_of_our_time_and_two_digits_each() {
        assert_eq!(date("2026-03-06").map(|day| day.to_string()), Ok("2026-03-06".to_owned()));
        assert_eq!(date("2026-3-6").unwrap_err().meant.as_deref(), Some("2026-03-06"));
        for nonsense in ["20226-03-06", "0026-03-06", "2026-13-01", "06.03.2026", ""] {
            assert!(date(nonsense).is_err_and(|refused| refused.meant.is_none()), "{nonsense}");
        }
    }

    #[test]
    fn a_moment_is_on_the_wall_or_carries_its_offset() {
        for wall in ["2026-03-06T10:21", "2026-03-06 10:21", "2026-03-06T10:21:00"] {
            assert!(matches!(moment(wall), Ok(SaidAt::Wall(_))), "{wall}");
        }
        for exact in ["2026-03-06T10:21Z", "2026-03-06T10:21:30-07:00", "2026-03-06T10:21+05:30"] {
            assert!(matches!(moment(exact), Ok(SaidAt::Exact(_))), "{exact}");
        }
        for nonsense in ["2026-03-06", "2026-02-30T10:00", "10:21", "2026-03-06T10", "é026-03-06T"]
        {
            assert!(moment(nonsense).is_err(), "{nonsense}");
        }
    }

    #[test]
    fn a_duration_in_other_words_gets_a_suggestion() {
        for (written, meant) in [
            ("30", "30min"),
            ("30m", "30min"),
            ("1 hour 30 minutes", "1h30min"),
            ("7 days", "7d"),
            ("2 hrs", "2h"),
        ] {
            assert_eq!(duration_meant(written).as_deref(), Some(meant), "{written}");
        }
        assert_eq!(duration_meant("soon"), None);
    }
}
