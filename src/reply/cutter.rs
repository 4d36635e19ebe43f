//! Where one thing said ends and the next begins: items → segments.
//!
//! Never here: what words stand for, negation.
//! Promises: no item is lost but a joint; a segment is never empty; every segment of a sentence
//! knows whether the sentence asks.

use super::clause::{Item, Joint, SEGMENT_ITEMS_MAX, Segment};
use super::concept::{Concept, Concepts};

/// A longer sentence before a question mark states more than it asks.
const QUERY_ITEMS_MAX: usize = 4;

/// Collects items, and cuts them where a joint stands or a new thing begins.
pub(super) struct Cutter<'a> {
    out: Vec<Segment<'a>>,
    items: Vec<Item<'a>>,
    joint: Joint,
    /// The last joint was an 'only', which a comma behind it makes no exception.
    only: bool,
    sentence: usize,
}

impl Default for Cutter<'_> {
    fn default() -> Self {
        Self { out: Vec::new(), items: Vec::new(), joint: Joint::Opening, only: false, sentence: 0 }
    }
}

impl<'a> Cutter<'a> {
    /// All segments.
    pub(super) fn cut(mut self) -> Vec<Segment<'a>> {
        self.end_sentence(false);
        self.out
    }

    /// Takes an item; `of_time` tells that it leads to a time, as 'since' in 'since four'.
    pub(super) fn take(&mut self, item: Item<'a>, of_time: bool) {
        if self.items.len() >= SEGMENT_ITEMS_MAX {
            self.join(Joint::Comma);
        }
        let denies_before = || {
            let denials = [
                Concept::No,
                Concept::Not,
                Concept::Nothing,
                Concept::Clear,
                Concept::Normal,
                Concept::ClearOfMarks,
            ];
            self.items.iter().any(|i| i.is_any(&denials))
        };
        let joint = if item.is(Concept::Except) {
            Some(Joint::Except)
        } else if item.is(Concept::But) || item.is(Concept::Only) && denies_before() {
            Some(Joint::But)
        } else if item.is(Concept::Or) {
            Some(Joint::Or)
        } else if item.is(Concept::And) {
            Some(Joint::And)
        } else if item.is(Concept::Because) && !self.opens_what_is_meant(&item) && !of_time {
            Some(Joint::Because)
        } else {
            None
        };
        match joint {
            None if self.begins_anew(&item) || self.is_aside(&item) => {
                self.join(Joint::Comma);
                self.items.push(item);
            }
            None => self.items.push(item),
            Some(joint) => {
                self.join(joint);
                self.only = joint == Joint::But && item.is(Concept::Only);
                // 'Nor' denies, 'if' supposes, 'since' tells a time: they stay as items.
                let kept = [
                    Concept::Not,
                    Concept::No,
                    Concept::If,
                    Concept::AtTime,
                    Concept::When,
                    Concept::Wh,
                    Concept::Stop,
                ];
                if item.is_any(&kept) {
                    self.items.push(item);
                }
            }
        }
    }

    /// A line that ends there may have been wrapped by a program, or be the writer's own. Unless
    /// its last words ask for more, what follows is a new statement: nothing reaches over.
    pub(super) fn wrap(&mut self) {
        let open = [
            Concept::Not,
            Concept::No,
            Concept::Article,
            Concept::Definite,
            Concept::Preposition,
            Concept::Present,
            Concept::Will,
            Concept::If,
            Concept::Left,
            Concept::Right,
            Concept::Both,
            Concept::Still,
            Concept::AtTime,
            Concept::Within,
        ];
        // 'On her' ends there, 'on the' does not.
        let closed = [Concept::Person, Concept::It];
        let asks_for_more = |last: &Item| last.is_any(&open) && !last.is_any(&closed);
        if self.items.last().is_some_and(|last| !asks_for_more(last)) {
            self.join(Joint::Colon);
        }
    }

    /// 'I think that …', 'creí que …': what follows is what is thought, said or hoped, in one
    /// breath with it.
    fn opens_what_is_meant(&self, item: &Item) -> bool {
        let verbs =
            [Concept::Believed, Concept::Awaited, Concept::Think, Concept::Maybe, Concept::Will];
        let free = [Concept::When, Concept::Wh, Concept::AtTime, Concept::And];
        self.items.last().is_some_and(|last| last.is_any(&verbs)) && !item.is_any(&free)
    }

    /// 'Hips ok left knee red': after a place and what is said of it, a new place opens anew.
    fn begins_anew(&self, item: &Item) -> bool {
        let said = [Concept::Okay, Concept::Normal, Concept::Clear, Concept::Colour, Concept::Gone];
        let opens = item.place.is_some() || item.is_any(&[Concept::Left, Concept::Right]);
        let sides = [Concept::Left, Concept::Right];
        let placed = self.items.iter().any(|i| i.place.is_some() || i.is_any(&sides));
        opens && placed && self.items.last().is_some_and(|last| last.is_any(&said))
    }

    /// 'It isn't, thanks' with or without the comma.
    fn is_aside(&self, item: &Item) -> bool {
        let said_of = [Concept::Skin, Concept::All, Concept::Present];
        let answers = item.is(Concept::Okay)
            && self.items.last().is_some_and(|i| i.place.is_some() || i.is_any(&said_of));
        item.is(Concept::Pleasantry) && !answers
    }

    pub(super) fn join(&mut self, joint: Joint) {
        if self.items.is_empty() {
            // 'Normal skin only, I checked it all': nothing is excepted.
            if self.only && joint == Joint::Comma {
                self.joint = Joint::Comma;
            }
            if self.joint != Joint::Opening || matches!(joint, Joint::Except | Joint::But) {
                self.joint = stronger(self.joint, joint);
            }
            return;
        }
        self.close();
        self.joint = joint;
    }

    fn close(&mut self) {
        if self.items.is_empty() {
            return;
        }
        let items = std::mem::take(&mut self.items);
        self.out.push(Segment {
            joint: self.joint,
            sentence: self.sentence,
            question: false,
            queried: false,
            marked: false,
            all: items.iter().fold(Concepts::default(), |all, item| all.with(item.set)),
            items,
        });
    }

    pub(super) fn end_sentence(&mut self, question_mark: bool) {
        if self.items.is_empty() && self.joint == Joint::Except {
            // 'Clear apart from …', and nothing more: the exception is not named, but there.
            self.items.push(Item::unsaid());
        }
        self.close();
        let sentence = self.sentence;
        let from = self.out.iter().rposition(|s| s.sentence != sentence).map_or(0, |last| last + 1);
        let segments = &mut self.out[from..];
        let asks = segments.first().is_some_and(|first| is_question(&first.items, question_mark));
        let asks_later = question_mark
            && segments.iter().any(|s| s.items.first().is_some_and(|i| i.is(Concept::Wh)));
        let last = segments.len().saturating_sub(1);
        for (n, segment) in segments.iter_mut().enumerate() {
            let short = n == last && segment.items.len() <= QUERY_ITEMS_MAX;
            segment.question = asks;
            segment.queried = question_mark && (short || asks_later);
            segment.marked = question_mark;
        }
        self.sentence += 1;
        self.joint = Joint::Opening;
    }
}

/// With two joints in a row the later one says more, except that a comma adds nothing.
fn stronger(before: Joint, after: Joint) -> Joint {
    // 'No marks on his heels either, skin split in the groin'.
    if before == Joint::Or && after == Joint::Comma {
        return after;
    }
    if matches!(after, Joint::Comma | Joint::Colon) || before == Joint::Except {
        before
    } else {
        after
    }
}

/// A sentence asks when it opens like a question; a question mark alone may also only be doubt.
fn is_question(items: &[Item], question_mark: bool) -> bool {
    let opens = |concept| items.iter().take(2).any(|item| item.is(concept));
    // 'What the footplate left has gone', 'where he sits is red'.
    let one_word = items.first().is_some_and(|first| !first.raw.contains(' '));
    let named = items.get(1).is_some_and(|item| item.is(Concept::Definite));
    // 'What I am seeing is a tan patch'.
    let told = items.get(1).is_some_and(|item| item.is(Concept::Person))
        && items.iter().skip(2).any(|item| item.is(Concept::Present));
    let tells = !question_mark && one_word && (named || told);
    items.first().is_some_and(|i| i.is(Concept::Wh)) && !tells
        || question_mark && opens(Concept::Ask)
}
