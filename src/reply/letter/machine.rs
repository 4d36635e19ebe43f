//! Whether a person wrote a message, told by its headers and structure.
//!
//! Never here: its words (`automatic`).
//! Promises: a reply of a person that came over a list, with its thread kept, stays a person's.

use mail_parser::{Message, MimeHeaders};

use super::report::reports;
use super::{Automatic, Kind, Letter, raw_headers};

/// How the subjects of absence notices begin.
const ABSENCE_SUBJECTS: [&str; 20] = [
    "automatic reply",
    "auto reply",
    "auto-reply",
    "autoreply",
    "auto:",
    "auto response",
    "autoresponse",
    "out of office",
    "out of the office",
    "away from",
    "automatische antwort",
    "abwesenheit",
    "abwesend",
    "respuesta automática",
    "fuera de la oficina",
    "ausencia",
    "réponse automatique",
    "absence du bureau",
    "risposta automatica",
    "automatisch antwoord",
];

/// How the subjects of read receipts begin.
const RECEIPT_SUBJECTS: [&str; 8] =
    ["read:", "not read:", "gelesen:", "leído:", "lu :", "lu:", "letto:", "read receipt"];

/// How the subjects of calendar answers begin.
const CALENDAR_SUBJECTS: [&str; 10] = [
    "accepted:",
    "declined:",
    "tentative:",
    "tentatively accepted:",
    "angenommen:",
    "zugesagt:",
    "abgelehnt:",
    "aceptada:",
    "aceptado:",
    "accepté :",
];

/// How the local parts of addresses read that machines write from.
const MACHINES: [&str; 6] =
    ["mailer-daemon", "postmaster", "noreply", "no-reply", "donotreply", "do-not-reply"];

/// What wrote the message.
pub(super) fn kind(message: &Message<'_>, letter: &Letter) -> Kind {
    if let Some(reports) = reports(message) {
        return if reports.is_empty() {
            Kind::Automatic(Automatic::MailServer)
        } else {
            Kind::DeliveryReport(reports)
        };
    }
    automatic(message, letter).map_or(Kind::Person, Kind::Automatic)
}

fn automatic(message: &Message<'_>, letter: &Letter) -> Option<Automatic> {
    let has = |name: &str| !raw_headers(message, name).is_empty();
    let subject = letter.subject.as_deref().unwrap_or_default().trim().to_lowercase();
    let begins = |starts: &[&str]| starts.iter().any(|start| subject.starts_with(start));
    if is_report(message, "disposition-notification") || begins(&RECEIPT_SUBJECTS) {
        return Some(Automatic::ReadReceipt);
    }
    // Where somebody wrote into it, that is read.
    let silent = letter.words.trim().is_empty();
    if silent && (is_calendar_answer(message) || begins(&CALENDAR_SUBJECTS)) {
        return Some(Automatic::CalendarAnswer);
    }
    if begins(&ABSENCE_SUBJECTS) {
        return Some(Automatic::Absence);
    }
    if is_auto_submitted(message) {
        return Some(Automatic::AutoSubmitted);
    }
    let local = letter.from.as_deref().and_then(|from| from.split('@').next()).unwrap_or_default();
    let returns_nowhere = raw_headers(message, "Return-Path").iter().any(|path| path == "<>");
    if returns_nowhere || MACHINES.contains(&local) {
        return Some(Automatic::MailServer);
    }
    let precedence = raw_headers(message, "Precedence").join(" ").to_lowercase();
    let answers = !letter.in_reply_to.is_empty() || !letter.references.is_empty();
    let listed = has("List-Id") || has("List-Unsubscribe") || precedence.contains("list");
    let bulk = precedence.contains("bulk") || precedence.contains("junk");
    (bulk || listed && !answers).then_some(Automatic::Bulk)
}

/// Auto-Submitted other than `no` (RFC 3834, section 5), or an older header of that meaning.
fn is_auto_submitted(message: &Message<'_>) -> bool {
    let submitted = raw_headers(message, "Auto-Submitted");
    let says = submitted.iter().any(|value| {
        let first = value.split([' ', ';', '(']).next().unwrap_or_default();
        !first.is_empty() && !first.eq_ignore_ascii_case("no")
    });
    let older = ["X-Autoreply", "X-Autorespond", "X-Autoresponse", "X-Auto-Reply"];
    says || older.iter().any(|name| {
        raw_headers(message, name).iter().any(|value| !value.eq_ignore_ascii_case("no"))
    })
}

fn is_report(message: &Message<'_>, report: &str) -> bool {
    message
        .content_type()
        .and_then(|kind| kind.attribute("report-type"))
        .is_some_and(|kind| kind.eq_ignore_ascii_case(report))
        || message.parts.iter().any(|part| {
            part.content_type().is_some_and(|kind| {
                kind.ctype().eq_ignore_ascii_case("message")
                    && kind.subtype().is_some_and(|s| s.eq_ignore_ascii_case(report))
            })
        })
}

/// A `text/calendar` part that answers (RFC 5546, section 3.2.3).
fn is_calendar_answer(message: &Message<'_>) -> bool {
    message.parts.iter().any(|part| {
        let Some(kind) = part.content_type() else { return false };
        let calendar = kind.subtype().is_some_and(|s| s.eq_ignore_ascii_case("calendar"));
        let method = kind.attribute("method").unwrap_or_default().to_ascii_uppercase();
        let says_reply = || String::from_utf8_lossy(part.contents()).contains("METHOD:REPLY");
        calendar
            && (["REPLY", "COUNTER", "DECLINECOUNTER"].contains(&method.as_str()) || says_reply())
    })
}
