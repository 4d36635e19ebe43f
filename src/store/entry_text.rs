//! The text of an entry in the journal, which its hash covers: the entry as JSON, without what is said
//! already. That is its time, where the row has it in a column of its own, and every member that is null.
//! Journals of earlier versions have both, and keep them.
//!
//! Never here: what an entry means; the hash.
//! Promises: an entry reads as it was written, from either form; nothing is left out that its row and
//! what is left do not say.

use serde::{Deserialize, Serialize};

use super::ids::{from_ms, to_ms};
use crate::follow_up::{Entry, Event, Instant};

#[derive(Serialize)]
struct Written<'a> {
    #[serde(skip_serializing_if = "Option::is_none")]
    at: Option<Instant>,
    #[serde(flatten)]
    event: &'a Event,
}

#[derive(Deserialize)]
struct Kept {
    at: Option<Instant>,
    #[serde(flatten)]
    event: Event,
}

/// The text of an entry that is to be written.
pub(super) fn write(entry: &Entry) -> Vec<u8> {
    let stands_in_its_row = from_ms(to_ms(entry.at)).is_ok_and(|at| at == entry.at);
    let at = (!stands_in_its_row).then_some(entry.at);
    let text = serde_json::to_string(&Written { at, event: &entry.event });
    without_nulls(&text.expect("OK because an entry always prints as JSON")).into_bytes()
}

/// The entry that a text and the time in its row say.
pub(super) fn read(text: &[u8], at: Instant) -> serde_json::Result<Entry> {
    let kept: Kept = serde_json::from_slice(text)?;
    Ok(Entry { at: kept.at.unwrap_or(at), event: kept.event })
}

/// What ends a member that is null, from the end of its name.
const NULL: &str = "\":null";

/// A JSON text, written without blanks, without the members of its objects that are null. Names of
/// members are words, so that a quotation mark in one need not be thought of.
fn without_nulls(text: &str) -> String {
    let mut kept = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(at) = rest.find(NULL) {
        let (before, after) = (&rest[..at], &rest[at + NULL.len()..]);
        // An escaped quotation mark ends no name: a text quotes this very thing.
        let Some(name) = before.rfind('"').filter(|_| !before.ends_with('\\')) else {
            kept.push_str(&rest[..at + NULL.len()]);
            rest = after;
            continue;
        };
        kept.push_str(&before[..name]);
        // One comma goes with the member: the one before it, or where it is the first, the one after.
        rest = match kept.strip_suffix(',').map(str::len) {
            Some(length) => {
                kept.truncate(length);
                after
            }
            None => after.strip_prefix(',').unwrap_or(after),
        };
    }
    kept.push_str(rest);
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn members_that_are_null_are_left_out_wherever_they_stand_and_nothing_else() {
        for (whole, kept) in [
            (r#"{"a":1,"b":null,"c":2}"#, r#"{"a":1,"c":2}"#),
            (r#"{"a":null,"b":1}"#, r#"{"b":1}"#),
            (r#"{"a":null,"b":null}"#, "{}"),
            (r#"{"a":1,"b":null,"c":null}"#, r#"{"a":1}"#),
            (r#"{"a":{"b":null},"c":[null,1]}"#, r#"{"a":{},"c":[null,1]}"#),
            (r#"{"a":"x\":null,","b":null}"#, r#"{"a":"x\":null,"}"#),
            (r#"{"a":"null","b":"é"}"#, r#"{"a":"null","b":"é"}"#),
        ] {
            assert_eq!(without_nulls(whole), kept);
        }
    }

    #[test]
    fn an_entry_reads_as_it_was_written_and_as_earlier_versions_wrote_it() {
        let at: Instant = "2026-03-06T10:00:00.123Z".parse().expect("OK: a literal");
        let finer: Instant = "2026-03-06T10:00:00.123456Z".parse().expect("OK: a literal");
        let event: Event =
            serde_json::from_str(r#"{"what":"set-aside","by":"a\":null, \\","why":"not-asked"}"#)
                .expect("OK: a literal");
        let look: Event =
            serde_json::from_str(r#"{"what":"missed","look":3,"kind":"routine","sitting":null}"#)
                .expect("OK: a literal");
        for event in [event, look] {
            for (at, says_it) in [(at, false), (finer, true)] {
                let entry = Entry { at, event: event.clone() };
                let text = write(&entry);
                let in_its_row = from_ms(to_ms(at)).expect("OK because it is in this century");
                assert_eq!(read(&text, in_its_row).expect("OK"), entry);
                let text = String::from_utf8(text).expect("OK because JSON is text");
                assert_eq!(text.contains("\"at\""), says_it, "{text}");
                let earlier = serde_json::to_vec(&entry).expect("OK because an entry prints");
                assert_eq!(read(&earlier, in_its_row).expect("OK"), entry);
            }
        }
    }
}
