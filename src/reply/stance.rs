//! How far 'not', 'no', 'if', 'will' and 'looked for' reach: the stance of every item.
//!
//! Never here: readings.
//! Promises: a negation never reaches past 'but', the end of its sentence, or a new statement;
//! where its reach is open to two readings the item is doubtful, never denied.

use super::clause::{Item, Joint, Segment, Stance};
use super::concept::Concept as C;

/// Concepts that a negation is about.
pub(crate) const SIGNS: &[C] = &[
    C::Mark,
    C::Colour,
    C::Warm,
    C::Alarm,
    C::AlarmOfSkin,
    C::Pain,
    C::Fever,
    C::Ill,
    C::NonBlanching,
    C::Vague,
];

/// Concepts that show a segment to be more than a bare list of nouns.
const STATEMENT: &[C] = &[
    C::Subject,
    C::Person,
    C::Present,
    C::Past,
    C::Still,
    C::Lasts,
    C::Gone,
    C::Returned,
    C::Normal,
    C::Look,
    C::Now,
    C::Will,
    C::If,
    C::Article,
    C::NotVery,
    C::Not,
    C::No,
    C::Nothing,
    C::Left,
    C::Right,
    C::Both,
    C::Fading,
    C::Worse,
    C::Feels,
    C::There,
];

/// Sets the stance of every item.
pub(crate) fn settle(segments: &mut [Segment]) {
    for i in 0..segments.len() {
        let carried = if i > 0 { carried(segments, i) } else { None };
        settle_segment(&mut segments[i], carried);
        if i > 0 {
            answer_before(segments, i);
        }
    }
}

/// The stance that the segment before hands on.
fn carried(segments: &[Segment], i: usize) -> Option<Stance> {
    let (before, here) = (&segments[i - 1], &segments[i]);
    if before.sentence != here.sentence {
        return None;
    }
    // 'No new or old marks'.
    let opens = before.items.first().is_some_and(|item| item.is(C::No) && !item.is(C::Or));
    let open = opens && !before.says_any(SIGNS) && before.items.len() <= OPEN_DENIAL_ITEMS_MAX;
    if open && here.joint == Joint::Or && is_bare_noun(here) {
        return Some(Stance::Denied);
    }
    let last = before.items.iter().rev().find(|item| item.is_any(SIGNS))?.stance;
    let listed = continues_list(segments, i - 1, &[Joint::Comma, Joint::Or]);
    match (last, here.joint) {
        // 'Not sure if it is a mark or a shadow'; but a blister is said aloud.
        (Stance::Supposed, Joint::Or)
            if before.says(C::Doubt)
                && here.says(C::Article)
                && !here.says_any(&[C::Present, C::Past, C::Exists, C::There])
                && !here.says_any(&[C::Alarm, C::AlarmOfSkin, C::NonBlanching, C::Pain]) =>
        {
            Some(Stance::Doubtful)
        }
        (Stance::Sought | Stance::Supposed, Joint::And | Joint::Or | Joint::Comma) => {
            is_bare(here, true).then_some(last)
        }
        (Stance::Denied | Stance::Doubtful, Joint::Or) => {
            let statement = [C::Subject, C::Present, C::Still, C::Gone, C::Past];
            (!here.says_any(&statement)).then_some(last)
        }
        (Stance::Denied, Joint::Comma | Joint::And)
            if is_bare(here, false) && here.says(C::Colour) && !before.says(C::Colour) =>
        {
            // 'No blisters, pink': a colour does not go on a list of nouns.
            Some(Stance::Doubtful)
        }
        (Stance::Denied, Joint::Comma) if is_bare(here, false) => Some(list_stance(segments, i)),
        // 'No red, no warmth and blister': where each has its own 'no', what has none is open.
        (Stance::Denied, Joint::And) if is_bare(here, false) => {
            let each = before.says_any(&[C::No, C::Not]);
            Some(if listed && !each { Stance::Denied } else { Stance::Doubtful })
        }
        _ => None,
    }
}

/// Whether a segment goes on a list of signs that began before it; 'Hello, no redness' does not.
fn continues_list(segments: &[Segment], i: usize, joints: &[Joint]) -> bool {
    let before = i.checked_sub(1).map(|b| &segments[b]);
    joints.contains(&segments[i].joint)
        && before.is_some_and(|b| b.sentence == segments[i].sentence && b.says_any(SIGNS))
}

/// 'No redness, swelling or heat' denies all three; 'no redness, heat' can be read both ways.
fn list_stance(segments: &[Segment], i: usize) -> Stance {
    let sentence = segments[i].sentence;
    let mut length = usize::from(continues_list(segments, i - 1, &[Joint::Comma]));
    for segment in segments[i..].iter().take_while(|s| s.sentence == sentence) {
        if segment.joint == Joint::Or && segment.says_any(SIGNS) {
            return Stance::Denied;
        }
        // 'No redness, swollen and hot': a list that is denied ends with 'or'.
        if segment.joint == Joint::And && is_bare(segment, false) {
            return Stance::Doubtful;
        }
        if !matches!(segment.joint, Joint::Comma | Joint::And) || !is_bare(segment, false) {
            break;
        }
        length += 1;
    }
    if length >= 2 { Stance::Denied } else { Stance::Doubtful }
}

/// A denial that has not come to its noun yet has at most so many items: 'no new'.
const OPEN_DENIAL_ITEMS_MAX: usize = 2;

/// 'Old marks': a sign with a word or two before it, and no statement.
fn is_bare_noun(segment: &Segment) -> bool {
    let lead = segment.items.iter().take_while(|item| !item.is_any(SIGNS));
    lead.clone().count() < segment.items.len()
        && lead.clone().count() <= OPEN_DENIAL_ITEMS_MAX
        && lead.clone().all(|item| item.set.is_empty() || item.is_any(&[C::Usual, C::Article]))
}

/// A segment of signs alone, without an article, a place or a verb.
fn is_bare(segment: &Segment, place_allowed: bool) -> bool {
    // 'Not great' denies itself, and goes on no list.
    if segment.says_any(&[C::Vague, C::Change]) {
        return false;
    }
    let noun = |item: &Item| {
        item.set.is_empty() || item.is_any(SIGNS) || item.is_any(&[C::Anything, C::Skin, C::Other])
    };
    let placed = |item: &Item| place_allowed && (item.place.is_some() || item.is(C::Preposition));
    segment
        .items
        .iter()
        .all(|item| noun(item) || placed(item) || place_allowed && item.is(C::Definite))
        && segment.says_any(SIGNS)
        && !segment.says_any(STATEMENT)
        && (place_allowed || !segment.has_place())
        && segment.items.len() <= 4
}

fn settle_segment(segment: &mut Segment, carried: Option<Stance>) {
    let supposed_all = segment.items.first().is_some_and(|item| item.is(C::If));
    let mut reach = Reach {
        stance: carried,
        by_will: false,
        by_nothing: false,
        signs: 0,
        places: 0,
        sited: false,
    };
    for i in 0..segment.items.len() {
        let (head, tail) = segment.items.split_at_mut(i + 1);
        let item = &mut head[i];
        if opens_answer(item, tail) {
            continue;
        }
        if item.is_any(&[
            C::If,
            C::Will,
            C::LookFor,
            C::Doubt,
            C::Not,
            C::No,
            C::Nothing,
            C::NoMore,
            C::ClearOfMarks,
        ]) {
            reach.open(item);
            continue;
        }
        reach.pass(item);
        if let Some(stance) = reach.stance {
            item.stance = stance;
        }
        if supposed_all && item.stance == Stance::Plain {
            item.stance = Stance::Supposed;
        }
        reach.count(item);
    }
    deny_backwards(segment);
}

/// How far the last opener reaches.
struct Reach {
    stance: Option<Stance>,
    by_will: bool,
    by_nothing: bool,
    signs: usize,
    places: usize,
    sited: bool,
}

impl Reach {
    fn open(&mut self, item: &mut Item) {
        let stance = if item.is(C::If) || item.is(C::Will) {
            Stance::Supposed
        } else if item.is(C::LookFor) {
            Stance::Sought
        } else if item.is(C::Doubt) {
            Stance::Doubtful
        } else if item.is(C::NoMore) {
            Stance::Ended
        } else {
            Stance::Denied
        };
        // 'If not gone' stays a supposition; 'will not sit' is a denial.
        let keeps = matches!(self.stance, Some(Stance::Supposed | Stance::Doubtful))
            && !self.by_will
            && stance == Stance::Denied
            && self.signs == 0;
        if let (true, Some(before)) = (keeps, self.stance) {
            item.stance = before;
            return;
        }
        *self = Self {
            stance: Some(stance),
            by_will: item.is(C::Will),
            by_nothing: item.is(C::Nothing),
            signs: 0,
            places: 0,
            sited: false,
        };
    }

    /// Ends where a new statement begins.
    fn pass(&mut self, item: &Item) {
        let Some(stance) = self.stance else { return };
        // 'It is not his bottom, it is the hip'.
        // 'Nothing standing out, still a mark' with or without the comma.
        if self.sited && item.is(C::Subject) || self.by_nothing && item.is(C::Still) {
            self.stance = None;
        }
        if stance == Stance::Supposed || self.signs == 0 {
            return;
        }
        if item.is_any(&[
            C::Subject,
            C::Still,
            C::Lasts,
            C::Article,
            C::NotVery,
            C::Gone,
            C::Returned,
            C::Whole,
            C::All,
        ]) {
            self.stance = None;
        } else if self.places > 0 && item.is_any(SIGNS) {
            self.stance = Some(Stance::Doubtful);
        }
    }

    fn count(&mut self, item: &Item) {
        self.signs += usize::from(item.is_any(SIGNS) || item.is_any(&[C::Normal, C::Clear]));
        self.sited |= item.place.is_some();
        self.places += usize::from(self.signs > 0 && item.place.is_some());
    }
}

/// 'No, …' and 'no it is still red': an answer, not a negation.
fn opens_answer(item: &Item, later: &[Item]) -> bool {
    item.is(C::No)
        && !item.is_any(&[C::Nothing, C::NoMore])
        && later.first().is_none_or(|next| {
            next.is_any(&[
                C::Subject,
                C::Person,
                C::Reported,
                C::Still,
                C::Lasts,
                C::Present,
                C::It,
            ]) || next.is_any(&[C::No, C::Not, C::Nothing, C::Clear, C::ClearOfMarks])
                || next.is_any(&[C::NotLooked, C::NoSitting, C::NotNow])
                || next.is(C::Definite)
        })
}

/// 'Redness none', 'marks: nil', 'blisters no'.
fn deny_backwards(segment: &mut Segment) {
    let Some((last, before)) = segment.items.split_last_mut() else { return };
    let told = |item: &Item| !item.known || item.is_any(&[C::Now, C::Past]);
    if !last.is_any(&[C::No, C::Nothing]) || before.iter().any(told) {
        return;
    }
    for item in before.iter_mut().filter(|i| i.is_any(SIGNS) && i.stance == Stance::Plain) {
        // 'Ify 0': a slip that only looks like a sign says nothing for certain.
        item.stance = if item.exact { Stance::Denied } else { Stance::Doubtful };
    }
}

/// 'Redness: none' over the colon, 'any marks? no', 'gone? no' over the question mark.
fn answer_before(segments: &mut [Segment], i: usize) {
    let (head, tail) = segments.split_at_mut(i);
    let (before, here) = (&mut head[i - 1], &tail[0]);
    let answers = here.items.len() == 1 && here.items[0].is_any(&[C::No, C::Nothing]);
    let asked = before.question || before.queried;
    let form = here.joint == Joint::Colon || asked && before.sentence + 1 == here.sentence;
    if here.items.len() == 1 && here.items[0].is(C::Yes) && asked {
        (before.question, before.queried) = (false, false);
    }
    if !answers || !form || before.says_any(STATEMENT) && !asked {
        return;
    }
    let about = |item: &Item| {
        item.is_any(SIGNS)
            || item.is_any(&[C::Gone, C::Normal, C::Clear, C::Resume, C::Allow, C::Sit, C::InSeat])
    };
    for item in before.items.iter_mut().filter(|item| about(item)) {
        item.stance = Stance::Denied;
    }
    (before.question, before.queried) = (false, false);
}
