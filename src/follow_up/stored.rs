//! How instants are written where no person reads them: as two numbers. chrono writes them as text
//! everywhere, which takes three times the room and ten times the time, for every look that a
//! state remembers.
//!
//! Never here: what a person reads, such as the journal: that stays text (RFC 3339).
//! Promises: what is read is what was written, to the nanosecond.

use chrono::DateTime;
use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

use super::calendar::Instant;

/// An instant in the form that it is kept in.
#[derive(Clone, Copy)]
struct Kept(Instant);

impl Serialize for Kept {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let Self(at) = self;
        if serializer.is_human_readable() {
            return at.serialize(serializer);
        }
        (at.timestamp(), at.timestamp_subsec_nanos()).serialize(serializer)
    }
}

impl<'de> Deserialize<'de> for Kept {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        if deserializer.is_human_readable() {
            return Instant::deserialize(deserializer).map(Self);
        }
        let (seconds, nanos) = <(i64, u32)>::deserialize(deserializer)?;
        let at = DateTime::from_timestamp(seconds, nanos);
        at.map(Self).ok_or_else(|| de::Error::custom("an instant out of range"))
    }
}

/// An instant, for `#[serde(with)]`.
pub(super) mod instant {
    use super::*;

    pub(crate) fn serialize<S: Serializer>(at: &Instant, serializer: S) -> Result<S::Ok, S::Error> {
        Kept(*at).serialize(serializer)
    }

    pub(crate) fn deserialize<'de, D: Deserializer<'de>>(
        deserializer: D,
    ) -> Result<Instant, D::Error> {
        Kept::deserialize(deserializer).map(|Kept(at)| at)
    }
}

/// An instant that may be missing, for `#[serde(with)]`.
pub(super) mod maybe_instant {
    use super::*;

    pub(crate) fn serialize<S: Serializer>(
        at: &Option<Instant>,
        serializer: S,
    ) -> Result<S::Ok, S::Error> {
        at.map(Kept).serialize(serializer)
    }

    pub(crate) fn deserialize<'de, D: Deserializer<'de>>(
        deserializer: D,
    ) -> Result<Option<Instant>, D::Error> {
        Ok(Option::<Kept>::deserialize(deserializer)?.map(|Kept(at)| at))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Debug, PartialEq, Serialize, Deserialize)]
    struct Times {
        #[serde(with = "instant")]
        at: Instant,
        #[serde(with = "maybe_instant")]
        until: Option<Instant>,
    }

    #[test]
    fn a_person_reads_text_and_a_machine_reads_numbers_that_mean_the_same() {
        let at: Instant = "2026-03-06T10:00:00.123456789Z".parse().expect("OK: a literal");
        for until in [None, Some(chrono::DateTime::UNIX_EPOCH)] {
            let times = Times { at, until };
            let text = serde_json::to_string(&times).expect("OK because times print");
            assert!(text.contains("\"2026-03-06T10:00:00.123456789Z\""), "{text}");
            assert_eq!(serde_json::from_str::<Times>(&text).expect("OK"), times);
            let bytes = postcard::to_allocvec(&times).expect("OK because times have a form");
            assert!(bytes.len() < 20, "{bytes:?}");
            assert_eq!(postcard::from_bytes::<Times>(&bytes).expect("OK"), times);
        }
    }
}
