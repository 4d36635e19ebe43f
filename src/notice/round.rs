//! A round: what several notices to one person say of several clients, in one mail.
//!
//! Never here: who may be in a round, the order of the mail.
//! Promises: each client's one-tap answers go to that client's own request, so that a tap is never
//! taken for another client; the answer for all names every client, and fills none in.

use super::draft::{Answer, Answers, Block, Draft, Part, Urgency};
use super::languages::Languages;
use super::wording::Wording;

/// What the parts of a round have in common.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum RoundKind {
    /// Requests to look at the skin.
    Looks,
    /// Requests to answer once more.
    Unclear,
    /// Confirmations.
    Noted,
}

/// One client's part of a round.
#[derive(Clone, Copy, Debug)]
pub struct RoundPart<'a> {
    /// The notice about this client. It may be a part of a round.
    pub draft: &'a Draft,
    /// The client's reference.
    pub reference: &'a str,
    /// How the client is shown.
    pub label: &'a str,
    /// How an answer may name the client.
    pub name: &'a str,
    /// Where its answers go.
    pub answer_to: &'a str,
}

/// Clients that a subject names.
const SUBJECT_CLIENTS_MAX: usize = 4;

/// Joins notices of one kind and one language. None where there are none, or one of them goes by
/// itself.
pub fn round(languages: &Languages, parts: &[RoundPart<'_>]) -> Option<Draft> {
    let first = parts.first()?.draft;
    let kind = first.round_kind()?;
    let w = languages.wording(&first.language);
    let clients = w.list(parts.iter().map(|part| part.label));
    let references = references(w, parts);
    let looks = w.counted("count.looks", u32::try_from(parts.len()).unwrap_or(u32::MAX));
    let what = match kind {
        RoundKind::Looks => w.round_subject(&looks),
        RoundKind::Unclear => w.ask_subject_unclear(),
        RoundKind::Noted => w.noted_subject(),
    };
    let subject = w.frame_subject(&what, &references);
    let mut draft = Draft::new(w, Urgency::Request, subject, w.frame_reply_subject(&references));
    draft.lead(match kind {
        RoundKind::Looks => w.round_ask(&looks, &clients),
        RoundKind::Unclear => w.round_unclear(&clients),
        RoundKind::Noted => w.round_noted(&clients),
    });
    if kind == RoundKind::Unclear {
        let quotes = first.blocks.iter().filter(|block| matches!(block, Block::Quote { .. }));
        draft.blocks.extend(quotes.cloned());
    }
    if kind != RoundKind::Noted {
        draft.line(w.round_together());
    }
    for part in parts {
        draft.push(Block::Part(of_client(part)?));
    }
    if kind != RoundKind::Noted {
        together(&mut draft, w, parts);
    }
    if kind == RoundKind::Looks {
        draft.line(w.ask_how());
    }
    shared(&mut draft, parts);
    Some(draft)
}

fn references(w: &Wording, parts: &[RoundPart<'_>]) -> String {
    let shown: Vec<&str> =
        parts.iter().take(SUBJECT_CLIENTS_MAX).map(|part| part.reference).collect();
    let shown = shown.join(", ");
    match parts.len().checked_sub(SUBJECT_CLIENTS_MAX) {
        None | Some(0) => shown,
        Some(more) => w.round_clients(&shown, &more),
    }
}

fn of_client(part: &RoundPart<'_>) -> Option<Part> {
    let lines = part.draft.joinable.as_ref()?.lines.clone();
    let answers = part.draft.answers().map(|answer| Answer { meaning: None, ..answer.clone() });
    Some(Part {
        heading: part.label.to_owned(),
        lines,
        answers: answers.collect(),
        answer_to: part.answer_to.to_owned(),
        reply_subject: part.draft.reply_subject.clone(),
    })
}

/// One answer for all clients, with a line for each to be filled in.
fn together(draft: &mut Draft, w: &Wording, parts: &[RoundPart<'_>]) {
    let body: String = parts.iter().map(|part| format!("{}: \n", part.name)).collect();
    let answers = vec![Answer::new(w.round_label(), body)];
    draft.push(Block::Answers(Answers { tap: w.round_write(), write: w.round_write(), answers }));
    if let [one, other, ..] = parts {
        let example = w.round_example(&one.name, &other.name);
        draft.line(w.frame_own_words(&example));
    }
}

/// What several notices say alike is said once: pictures, where all have the same, and cautions.
fn shared(draft: &mut Draft, parts: &[RoundPart<'_>]) {
    let ids = |draft: &Draft| -> Vec<String> {
        draft.pictures().map(|picture| picture.content_id.clone()).collect()
    };
    let first = ids(parts[0].draft);
    let are_alike = parts.iter().all(|part| ids(part.draft) == first);
    let cautions = || {
        parts.iter().flat_map(|part| &part.draft.blocks).filter_map(|block| match block {
            Block::Urgent(text) | Block::Small(text) => Some(text),
            _ => None,
        })
    };
    let mut said: Vec<String> = Vec::new();
    for block in parts.iter().flat_map(|part| &part.draft.blocks) {
        match block {
            Block::Picture { picture, .. }
                if are_alike
                    && draft.pictures().all(|known| known.content_id != picture.content_id) =>
            {
                draft.push(block.clone());
            }
            Block::Urgent(text) | Block::Small(text)
                if !said.contains(text)
                    && cautions().all(|other| other == text || !other.contains(text)) =>
            {
                said.push(text.clone());
                draft.push(block.clone());
            }
            _ => {}
        }
    }
}
