//! Requests to look at the skin: first looks, rechecks, routine looks, and their repeats.
//!
//! Never here: whom to ask and when (that is the core's).
//! Promises: every request carries the answer 'not looked yet', so that nobody has to guess; the
//! repeat after words that could not be read spells out what each answer means (R17).

use super::draft::{Answer, Draft, Joinable, Urgency};
use super::page::Page;
use super::round::RoundKind;
use crate::care::{ContactId, Minutes};
use crate::follow_up::event::{LookKind, RequestClock};
use crate::follow_up::state::Look;

/// A request that goes out.
pub(super) struct Ask<'a> {
    pub(super) look: &'a Look,
    pub(super) to: &'a ContactId,
    pub(super) again: u32,
    pub(super) clock: &'a RequestClock,
}

/// The request.
pub(super) fn request(page: &Page<'_>, ask: &Ask<'_>) -> Draft {
    let is_unclear = matches!(ask.clock, RequestClock::Unchanged);
    let mut draft = page.draft(Urgency::Request, &subject(page, ask));
    let question = question(page, ask.look);
    if ask.look.kind != LookKind::Recheck {
        let mut lines = vec![question.clone()];
        let kind = if is_unclear { RoundKind::Unclear } else { RoundKind::Looks };
        if !is_unclear {
            lines.extend(history(page, ask));
        }
        draft.joinable = Some(Joinable { kind, lines });
    }
    if is_unclear {
        draft.lead(page.w.ask_unclear());
        if let Some(said) = &page.scene.backdrop.said {
            draft.line(page.w.ask_you_wrote());
            draft.quote(page.w, said.words);
        }
        draft.line(question);
    } else {
        draft.lead(question);
        for line in history(page, ask) {
            draft.line(line);
        }
    }
    let mut answers = choices(page, ask.look.kind);
    if !is_unclear {
        answers.iter_mut().for_each(|answer| answer.meaning = None);
    }
    page.answers(&mut draft, answers, &example(page, ask.look.kind));
    // A reminder to somebody who has the first request says only what is new.
    if !is_unclear && (ask.again == 0 || ask.look.kind == LookKind::Recheck) {
        draft.line(how(page, ask.look));
    }
    page.pictures(&mut draft);
    page.contact_cautions(&mut draft);
    draft
}

fn subject(page: &Page<'_>, ask: &Ask<'_>) -> String {
    let (w, due) = (page.w, page.clock(ask.look.due));
    match (ask.clock, ask.look.kind) {
        (RequestClock::Unchanged, _) => w.ask_subject_unclear(),
        (RequestClock::Again { .. }, _) if ask.again > 0 => w.ask_subject_again(&due),
        (_, LookKind::First) => w.ask_subject(&due),
        (_, LookKind::Recheck) => w.ask_subject_recheck(&due),
        (_, LookKind::Routine) => w.ask_subject_routine(&due),
    }
}

/// The request in one sentence.
fn question(page: &Page<'_>, look: &Look) -> String {
    let (w, client, state) = (page.w, page.client(), page.scene.state);
    match look.kind {
        LookKind::First => match look.sitting.map(|number| state.sitting(number)) {
            Some(sitting) if look.due < sitting.start + sitting.sit.elapsed() => {
                let so_far = (look.due - sitting.start).num_minutes();
                let so_far = Minutes::new(u32::try_from(so_far).unwrap_or(0));
                w.ask_during(&client, &page.duration(so_far), &page.duration(sitting.sit))
            }
            Some(sitting) => w.ask_end(&client, &page.duration(sitting.sit)),
            None => w.ask_routine(&client, &page.when(look.due)),
        },
        LookKind::Recheck => {
            let mark = look.of.map(|of| state.look(of)).and_then(|of| of.found.as_ref());
            let place = mark.map_or_else(String::new, |mark| page.place(&mark.sites));
            let seen_at = mark.map_or(look.due, |mark| mark.looked_at);
            w.ask_recheck(&client, &place, &page.when(seen_at))
        }
        LookKind::Routine => w.ask_routine(&client, &page.when(look.due)),
    }
}

/// That it was asked before, and of whom.
fn history(page: &Page<'_>, ask: &Ask<'_>) -> Vec<String> {
    let (w, now) = (page.w, page.scene.at);
    let earlier = || ask.look.requests.iter().filter(|request| request.at < now);
    if ask.again > 0 {
        let first = earlier().find(|request| request.to == *ask.to);
        return first.map(|request| w.ask_again(&page.when(request.at))).into_iter().collect();
    }
    let mut silent = Vec::new();
    let mut unreachable = Vec::new();
    for request in ask.look.requests.iter().filter(|request| request.to != *ask.to) {
        let name = page.contact(&request.to);
        let is_unreachable = page.scene.state.unreachable.contains(&request.to);
        let names = if is_unreachable { &mut unreachable } else { &mut silent };
        if !names.contains(&name) {
            names.push(name);
        }
    }
    let mut lines = Vec::new();
    if let (false, Some(first)) = (silent.is_empty(), earlier().next()) {
        lines.push(w.ask_next(&w.list(silent), &page.when(first.at)));
    }
    if !unreachable.is_empty() {
        lines.push(w.ask_next_unreachable(&w.list(unreachable)));
    }
    lines
}

/// The answers, each with what it means.
fn choices(page: &Page<'_>, kind: LookKind) -> Vec<Answer> {
    let w = page.w;
    let choice = |label, body, meaning| Answer { label, body, meaning: Some(meaning) };
    let alarming = choice(w.label_alarming(), w.tap_alarming(), w.meaning_alarming());
    let not_looked = choice(w.label_not_looked(), w.tap_not_looked(), w.meaning_not_looked());
    let mut choices = match kind {
        LookKind::First | LookKind::Routine => vec![
            choice(w.label_clear(), w.tap_clear(), w.meaning_clear()),
            choice(w.label_marked(), w.tap_marked(), w.meaning_marked()),
        ],
        LookKind::Recheck => vec![
            choice(w.label_faded(), w.tap_faded(), w.meaning_faded()),
            choice(w.label_persisting(), w.tap_persisting(), w.meaning_persisting()),
        ],
    };
    choices.extend([alarming, not_looked]);
    if kind == LookKind::First {
        choices.push(choice(w.label_no_sitting(), w.tap_no_sitting(), w.meaning_no_sitting()));
    }
    choices
}

fn example(page: &Page<'_>, kind: LookKind) -> String {
    match kind {
        LookKind::First | LookKind::Routine => page.w.example_look(),
        LookKind::Recheck => page.w.example_recheck(),
    }
}

/// How to look, and what then.
fn how(page: &Page<'_>, look: &Look) -> String {
    let w = page.w;
    if look.kind == LookKind::Recheck {
        return w.ask_how_recheck();
    }
    let end = look
        .sitting
        .map(|number| page.scene.state.sitting(number))
        .map(|sitting| sitting.start + sitting.sit.elapsed())
        .filter(|end| look.due < *end);
    match end {
        Some(end) => format!("{} {}", w.ask_how(), w.ask_how_during(&page.when(end))),
        None => w.ask_how(),
    }
}
