//! From the words of a clinician's answer to one reading: seen, resume, keep stopped or close.
//!
//! Never here: findings on the skin.
//! Promises: `resume` and `close` need the clinician's own unconditional words; beside a stop, a
//! question, a condition or a doubt they are `unclear` or the stop.

use super::caregiver::Judgement;
use super::clause::{Item, Joint, Segment, Stance, Value};
use super::concept::Concept as C;
use crate::care::Reading;

/// What one segment tells us to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Act {
    Seen,
    Resume,
    Stop,
    Close,
    /// An act under a condition, asked, or in doubt.
    Unsure,
}

/// The reading, and the segments it rests on.
pub(crate) fn judge(segments: &[Segment]) -> Judgement {
    let acts: Vec<(usize, Act)> = (0..segments.len())
        .flat_map(|i| acts(segments, i).into_iter().map(move |act| (i, act)))
        .collect();
    let of = |act: Act| -> Vec<usize> {
        acts.iter().filter(|(_, a)| *a == act).map(|(i, _)| *i).collect()
    };
    let (resume, stop, close) = (of(Act::Resume), of(Act::Stop), of(Act::Close));
    let (unsure, seen) = (of(Act::Unsure), of(Act::Seen));
    let verdict = |reading, led| Judgement { reading, led };
    let acts_named = usize::from(!resume.is_empty()) + usize::from(!close.is_empty());
    if !stop.is_empty() {
        let contradicted = acts_named > 0;
        let reading = if contradicted { Reading::Unclear } else { Reading::KeepStopped };
        return verdict(reading, [stop, resume, close].concat());
    }
    if acts_named > 0 {
        if !unsure.is_empty() || acts_named > 1 {
            return verdict(Reading::Unclear, [unsure, resume, close].concat());
        }
        return if close.is_empty() {
            verdict(Reading::Resume, resume)
        } else {
            verdict(Reading::Close, close)
        };
    }
    if !unsure.is_empty() {
        return verdict(Reading::Unclear, unsure);
    }
    let reading = if seen.is_empty() { Reading::Unclear } else { Reading::Seen };
    verdict(reading, seen)
}

fn acts(segments: &[Segment], i: usize) -> Vec<Act> {
    let segment = &segments[i];
    let mut out = Vec::new();
    let conditional = is_conditional(segments, i);
    let asked = segment.question || segment.marked || is_inverted(segment);
    let doubtful = asked || segment.says(C::Maybe) || in_doubt(segments, i);
    let past = segment.says_any(&[C::Past, C::Believed]) || is_quoted(segments, i);
    let acts_first = segment.items.iter().position(|item| item.is_any(&[C::Will, C::Act]));
    let resumes_at = segment.items.iter().position(|item| item.is_any(&[C::Resume, C::Allow]));
    // 'I will speak to the family before we restart' permits nothing.
    let planned = acts_first.is_some_and(|a| resumes_at.is_none_or(|r| a < r));
    if stops(segment) {
        let stop_at = segment.items.iter().position(|item| item.is(C::Stop));
        let supposed = segment.items[..stop_at.unwrap_or(0)].iter().any(|item| item.is(C::If));
        out.push(if doubtful || supposed { Act::Unsure } else { Act::Stop });
    }
    let denied_later = resumes_at
        .is_some_and(|r| segment.items[r + 1..].iter().any(|item| item.is_any(&[C::Not, C::No])));
    // 'Resume but check with the nurse'; 'resume but only 15 minutes' is one order.
    let but_not =
        segments[i + 1..].iter().take(2).any(|s| s.joint == Joint::But && !names_amount(s));
    let told_of = resumes_at.is_some_and(|at| is_told_of(segment, at));
    let doubtful = doubtful || denied_later || but_not || has_unknown(segment);
    if resumes(segment) {
        // 'I will tell you when to restart' and 'stay off until I restart' permit nothing.
        let led_by_stop = segments[..i].iter().any(stops);
        out.push(match (conditional || doubtful || past || told_of, led_by_stop || planned) {
            (_, true) if conditional || planned || segment.joint == Joint::Because => {
                return with_seen(out, segment);
            }
            (true, _) => Act::Unsure,
            (false, _) => Act::Resume,
        });
    }
    // 'Mr Evans has passed away'; but 'her husband died'.
    let died = segment.items.iter().position(|item| item.is(C::Died));
    if let Some(died) = died {
        let of_relative = segment.items[..died].iter().any(|item| item.is(C::Relative));
        let unsure = conditional || asked || segment.says(C::Maybe) || is_quoted(segments, i);
        if !of_relative {
            out.push(if unsure { Act::Unsure } else { Act::Close });
        }
    } else if closes(segment) {
        let close_at = segment.items.iter().position(|i| i.is_any(&[C::Close, C::CloseAll]));
        let told_of = close_at.is_some_and(|at| is_told_of(segment, at));
        let unsure = conditional || doubtful || past || planned || told_of;
        out.push(if unsure { Act::Unsure } else { Act::Close });
    }
    with_seen(out, segment)
}

fn with_seen(mut out: Vec<Act>, segment: &Segment) -> Vec<Act> {
    let seen = segment.means(C::Seen, Stance::Plain) || segment.says(C::Act);
    if seen && !segment.question {
        out.push(Act::Seen);
    }
    out
}

/// 'Defer restart', 'discuss closing': beside another deed the order is not given but spoken of,
/// unless it is allowed in so many words.
fn is_told_of(segment: &Segment, at: usize) -> bool {
    let before = segment.items[..at].iter().rev();
    !segment.items[at].is(C::Allow)
        && before.take_while(|item| !item.is(C::Allow)).any(is_plain_word)
}

/// A word of the language that says nothing here: most likely a deed.
fn is_plain_word(item: &Item) -> bool {
    let is_name = !item.known && item.raw.chars().next().is_some_and(char::is_uppercase);
    item.set.is_empty() && item.place.is_none() && item.value == Value::None && !is_name
}

/// Whether it names a step or how long, and nothing that takes the order back.
fn names_amount(segment: &Segment) -> bool {
    let amount = |item: &Item| item.value != Value::None || item.is(C::StepWord);
    segment.items.iter().any(amount) && !segment.says_any(&[C::Not, C::No, C::NoSitting])
}

/// 'Is it ok to go back to 20 mins': asked, with or without the mark. 'Can you …' is a polite order.
fn is_inverted(segment: &Segment) -> bool {
    let [first, second, ..] = segment.items.as_slice() else { return false };
    let asks = first.is(C::Ask) && !first.is_any(&[C::Allow, C::Will, C::Definite]);
    segment.joint == Joint::Opening && asks && second.is_any(&[C::Subject, C::It, C::Okay])
}

/// Whether a condition governs the segment: in it, or in the segment beside it.
fn is_conditional(segments: &[Segment], i: usize) -> bool {
    let sentence = segments[i].sentence;
    let governs =
        |k: usize| segments.get(k).is_some_and(|s| s.sentence == sentence && s.says(C::If));
    let when = |k: usize, joint: Joint| {
        segments.get(k).is_some_and(|s| {
            s.sentence == sentence
                && s.joint == joint
                && s.items.first().is_some_and(|item| item.is(C::When))
                && !s.says(C::Past)
        })
    };
    // 'When the skin has healed restart'.
    let opens = segments[i].items.first().is_some_and(|item| item.is(C::When))
        && !segments[i].says(C::Past);
    opens
        || when(i + 1, Joint::Because)
        || when(i.wrapping_sub(1), Joint::Opening)
        || (0..=i + 2).any(governs)
}

/// 'Mum says …', 'the family asked: …': somebody else's words.
fn is_quoted(segments: &[Segment], i: usize) -> bool {
    let said = [C::Says, C::Reported];
    let before = i.checked_sub(1).map(|b| &segments[b]);
    segments[i].says_any(&said)
        || before.is_some_and(|b| {
            b.sentence == segments[i].sentence
                && segments[i].joint == Joint::Colon
                && b.says_any(&said)
        })
}

/// 'Not sure we should close this or resume'.
fn in_doubt(segments: &[Segment], i: usize) -> bool {
    let near = |s: &Segment| s.sentence.abs_diff(segments[i].sentence) <= 1;
    segments.iter().any(|s| near(s) && s.says(C::Doubt))
}

/// A word that nobody knows, and that is no name, may turn a permission into its contrary.
fn has_unknown(segment: &Segment) -> bool {
    segment.items.iter().any(|item| {
        !item.known
            && item.raw.chars().count() > 3
            && item.raw.chars().next().is_some_and(char::is_lowercase)
    })
}

fn resumes(segment: &Segment) -> bool {
    // 'Not happy to restart': a stop before it takes the resuming in.
    let stopped = segment.items.iter().position(|item| item.is(C::Stop));
    let resume = segment.items.iter().enumerate().any(|(i, item)| {
        item.is(C::Resume)
            && (item.is(C::Stop) || stopped.is_none_or(|s| i < s))
            && !matches!(item.stance, Stance::Denied | Stance::Doubtful | Stance::Ended)
    });
    let allow =
        segment.items.iter().position(|item| item.is(C::Allow) && item.stance == Stance::Plain);
    let sits = allow.is_some_and(|a| {
        segment.items.iter().enumerate().skip(a + 1).any(|(i, item)| {
            item.is_any(&[C::Sit, C::InSeat, C::Begin])
                && item.stance != Stance::Denied
                && !begins_other(segment, i)
        }) && stopped.is_none_or(|s| s < a)
    });
    resume || sits
}

/// 'Start antibiotics', 'use the hoist': what is begun or used is not the sitting.
fn begins_other(segment: &Segment, at: usize) -> bool {
    let leads = |item: &&Item| item.is_any(&[C::Article, C::Definite, C::Preposition]);
    let object = segment.items[at + 1..].iter().find(|item| !leads(item));
    object.is_some_and(|item| is_plain_word(item) || item.is_any(&[C::Thing, C::Neutral]))
}

fn stops(segment: &Segment) -> bool {
    let stop = segment.means(C::Stop, Stance::Plain) || segment.means(C::Stop, Stance::Supposed);
    let denied = segment.items.iter().any(|item| {
        item.stance == Stance::Denied
            && item.is_any(&[C::Resume, C::Sit, C::InSeat, C::Allow, C::Begin])
    });
    stop || denied && !segment.means(C::Stop, Stance::Denied)
}

fn closes(segment: &Segment) -> bool {
    segment.means(C::CloseAll, Stance::Plain)
        || segment.means(C::Close, Stance::Plain)
            && (closes_follow_up(segment) || segment.items.len() <= 2 && is_bare_close(segment))
}

/// 'Close this follow-up', 'the case can be closed'; but not 'closing date for the referral'.
fn closes_follow_up(segment: &Segment) -> bool {
    let at = |concept| segment.items.iter().position(|item| item.is(concept));
    let (Some(close), Some(what)) = (at(C::Close), at(C::FollowUp)) else { return false };
    let between = close.min(what)..close.max(what);
    let leads = [
        C::Definite,
        C::Preposition,
        C::Article,
        C::It,
        C::Allow,
        C::Pleasantry,
        C::Now,
        C::Person,
        C::Skin,
        C::Look,
        C::Present,
        C::Close,
        C::FollowUp,
        C::Sit,
    ];
    segment.items[between].iter().all(|item| item.is_any(&leads) && !item.is(C::Neutral))
}

/// 'Close', 'close please', but not 'wound closed' or 'clinic closed'.
fn is_bare_close(segment: &Segment) -> bool {
    let besides = [C::Close, C::Pleasantry, C::Allow, C::Yes, C::Okay, C::Now];
    segment.items.iter().all(|item| item.is_any(&besides))
}
