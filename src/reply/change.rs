//! What segments claim of a mark's course: gone, going, still there, back, grown; pale or not when
//! pressed.
//!
//! Never here: which claim wins.
//! Promises: 'goes away when I press' is no mark gone; 'gone pink' is a mark; what has not gone has
//! lasted.

use super::claim::{Claim, Kind, Maker};
use super::clause::{Item, Segment, Stance, Value};
use super::concept::Concept as C;
use super::sign::{Sign, sign_at};
use super::stance::SIGNS;

impl Maker<'_> {
    /// Claims that a mark went, stayed, grew or came back. Tells whether the segment's own signs
    /// are spoken for by that.
    pub(super) fn changes(&mut self) -> bool {
        let pressed = self.pressed();
        let segment = self.segment();
        let gone =
            segment.items.iter().position(|item| item.is(C::Gone) && is_of_mark(segment, item));
        let change_denied = segment.means(C::Change, Stance::Denied);
        let pale_denied =
            segment.means(C::Pale, Stance::Denied) || segment.means(C::Pale, Stance::Ended);
        let gone_denied = gone.is_some_and(|i| segment.items[i].stance == Stance::Denied);
        // 'Everything the same brown as always, I pressed all the bony bits'.
        let as_ever = segment.says_any(&[C::Normal, C::Usual]) && segment.says(C::All);
        let lasts_pale = segment.says(C::Lasts) && segment.says(C::Pale);
        let stays = segment.says_any(&[C::Lasts, C::Still]);
        let unblanching = pale_denied
            || lasts_pale
            || pressed && !self.paled() && (change_denied || gone_denied || stays)
            || pressed && segment.says(C::Same) && !as_ever;
        if unblanching && !(pale_denied && denies_term(segment)) {
            self.push(Kind::Alarm);
            return true;
        }
        if pressed && (gone.is_some() || segment.says_any(&[C::Pale, C::Returned])) {
            self.push(Kind::Mark);
            return true;
        }
        if segment.says(C::Pale) {
            self.push(Kind::HalfCalm);
        }
        if let Some(i) = gone.filter(|_| !segment.means(C::Lasts, Stance::Plain)) {
            return self.gone(i);
        }
        self.lasting(change_denied)
    }

    /// 'Goes white when I push it but it's still there': whether the sentence, or the one before,
    /// tells that it paled.
    pub(super) fn paled(&self) -> bool {
        let here = self.segment().sentence;
        self.segments[..self.at]
            .iter()
            .any(|s| here - s.sentence <= 1 && s.means(C::Pale, Stance::Plain))
    }

    fn gone(&mut self, i: usize) -> bool {
        let segment = self.segment();
        let item = &segment.items[i];
        // 'Fine again' where no mark was told of says what the skin is.
        let of_mark = |claim: &Claim| matches!(claim.kind, Kind::Mark | Kind::Fading);
        let told = self.out.iter().any(of_mark) && !segment.says(C::Today);
        if item.is(C::Normal) && !told {
            let unsure = [C::Partly, C::NotVery, C::Maybe, C::Think, C::Reported, C::If, C::Will];
            let sure = !segment.queried && !segment.says_any(&unsure);
            if sure && item.stance == Stance::Plain && !segment.has_slip_beside(i) {
                self.push(Kind::FineAgain);
            }
            return self.lasting(false);
        }
        // 'Gone pink', 'gone from red to pink': a colour after it is what it became.
        let became = (i + 1..segment.items.len())
            .filter(|k| segment.items[*k].is(C::Colour))
            .any(|k| sign_at(segment, k) == Some((Sign::Mark, Stance::Plain)));
        let partly =
            segment.says_any(&[C::Partly, C::Fading]) || became || is_share(&segment.items[..i]);
        let alarm = self.alarm_before(i);
        // 'Gone is not the word'.
        let after = &segment.items[i + 1..];
        let taken_back = after.first().is_some_and(|item| item.is(C::Present))
            && after.get(1).is_some_and(|item| item.is(C::Not));
        let hearsay = segment.says(C::Reported) && !self.sentence_says(C::Look);
        let unsure = segment.says_any(&[C::Maybe, C::Think])
            || hearsay
            || segment.has_slip_beside(i)
            || segment.queried
            || taken_back;
        let ends_denied = segment.items.last().is_some_and(|last| last.is_any(&[C::Not, C::No]));
        let kind = match item.stance {
            Stance::Denied => Kind::Lasting,
            Stance::Plain if became_something(segment, i) => Kind::Mark,
            Stance::Plain if became_unknown(segment, i) => Kind::Doubt,
            Stance::Plain if ends_denied => Kind::Lasting,
            Stance::Doubtful | Stance::Sought => Kind::Doubt,
            Stance::Supposed => Kind::Doubt,
            _ if partly => Kind::Fading,
            _ if alarm => Kind::PerhapsAlarm,
            _ if unsure => Kind::Doubt,
            Stance::Plain | Stance::Ended => Kind::Gone,
        };
        // 'Had a fever last week but that has gone now'.
        if kind == Kind::Gone && self.sentence_says(C::LongAgo) {
            return false;
        }
        self.push(kind);
        !matches!(kind, Kind::Doubt)
    }

    fn alarm_before(&self, i: usize) -> bool {
        let segment = self.segment();
        (0..i)
            .filter_map(|k| sign_at(segment, k))
            .any(|(sign, stance)| sign == Sign::Alarm && stance == Stance::Plain)
    }

    fn lasting(&mut self, change_denied: bool) -> bool {
        let segment = self.segment();
        let any = |c: C| segment.says(c);
        if self.is_no_longer() {
            self.push(Kind::Gone);
            return true;
        }
        if self.has_stayed() || self.has_grown(change_denied) {
            self.push(Kind::Lasting);
            return true;
        }
        let of_mark = segment.says_any(&[C::Mark, C::Colour, C::It]) || segment.has_place();
        if segment.means(C::Returned, Stance::Denied) && of_mark {
            // 'Yesterday's redness has not come back'.
            self.push(Kind::Calm);
            return true;
        }
        let of_person = any(C::Person) && !of_mark;
        if any(C::Fading) && !of_person && !segment.means(C::Fading, Stance::Supposed) {
            self.push(Kind::Fading);
            return true;
        }
        if any(C::Same) && !any(C::Normal) && !any(C::Usual) {
            self.push(if self.worst(Sign::Mark) { Kind::Lasting } else { Kind::Same });
        }
        if self.now_not() {
            self.push(Kind::Gone);
            return true;
        }
        if segment.means(C::There, Stance::Plain)
            && any(C::Past)
            && !segment.says_any(&[C::Person, C::Nothing, C::Not, C::No])
        {
            self.push(Kind::Mark);
        }
        if self.is_new() {
            self.push(Kind::Mark);
            return true;
        }
        if self.is_not_there() {
            self.push(Kind::Gone);
            return true;
        }
        false
    }

    /// 'No longer red', 'not there any more'.
    fn is_no_longer(&self) -> bool {
        let segment = self.segment();
        let ended = segment.items.iter().any(|item| {
            item.stance == Stance::Ended
                && item.is_any(&[C::Mark, C::Colour, C::There, C::See, C::Warm, C::It])
        });
        let no_more = segment.says(C::NoMore)
            && segment.items.iter().any(|item| {
                item.stance == Stance::Denied
                    && item.is_any(&[C::Mark, C::Colour, C::There, C::See])
            });
        ended || no_more
    }

    /// 'Still there', 'still a bit pink', 'has not budged', 'red for an hour now'.
    fn has_stayed(&self) -> bool {
        let segment = self.segment();
        let elsewhere = [C::Sit, C::InSeat, C::NotNow, C::NotLooked, C::PlanLook];
        let calm = [C::Clear, C::Normal, C::ClearOfMarks, C::Not, C::No, C::Nothing];
        let seen = segment.says_any(&[C::There, C::See, C::Vague]) || segment.items.len() <= 2;
        let still_there = segment.says(C::Still)
            && !segment.says_any(&calm)
            && (self.worst(Sign::Mark)
                || (seen || self.still_where() || self.still_for())
                    && !segment.says_any(&elsewhere));
        let lasts = segment.means(C::Lasts, Stance::Plain)
            || segment.says(C::Lasts) && !segment.means(C::Lasts, Stance::Supposed);
        let for_long = segment.says(C::Lasted)
            && !segment.says(C::Past)
            && segment.items.iter().any(|item| matches!(item.value, Value::Minutes(_)));
        let of_mark = self.worst(Sign::Mark) || segment.says(C::It);
        let seated = [C::Sit, C::InSeat, C::NoSitting];
        let since = segment.says(C::Since)
            && of_mark
            && !segment.says_any(&calm)
            && !segment.says_any(&seated);
        // 'Pink over the sacrum and it has been like that 40 minutes'.
        let told = self.out.iter().any(|claim| {
            claim.kind == Kind::Mark && self.segments[claim.segment].sentence == segment.sentence
        });
        let of_told = told && segment.says(C::It) && !segment.says_any(&seated);
        // 'Red patch on the heel, third day running'.
        let since = since
            || told
                && segment.says(C::Since)
                && segment.items.iter().all(|item| item.is(C::Since) || item.set.is_empty());
        still_there || lasts || since || for_long && (self.worst(Sign::Mark) || of_told)
    }

    /// 'Still, 35 minutes later': it has stayed for so long.
    fn still_for(&self) -> bool {
        let planned = [C::NotNow, C::PlanLook, C::Neutral];
        self.segment()
            .items
            .iter()
            .any(|item| matches!(item.value, Value::Minutes(_)) && !item.is_any(&planned))
    }

    /// 'Gone on the left, still on the right heel': what has stayed is not said, but where.
    fn still_where(&self) -> bool {
        let items = &self.segment().items;
        let still = items.iter().position(|item| item.is(C::Still)).unwrap_or(items.len());
        let leads = |item: &&Item| item.is_any(&[C::Preposition, C::Definite]);
        let next = items.iter().skip(still + 1).find(|item| !leads(item));
        let side = |item: &Item| item.is_any(&[C::Left, C::Right, C::Both, C::Other]);
        let person = self.segment().says_any(&[C::Person, C::Subject]);
        next.is_some_and(|item| item.place.is_some() || side(item) && !person)
    }

    /// 'Came back', 'bigger', 'has not changed'; but not 'she came back'.
    fn has_grown(&self, change_denied: bool) -> bool {
        let segment = self.segment();
        let came = segment.items.iter().position(|item| item.is(C::Returned));
        let by_person = came.is_some_and(|r| {
            let who = [C::Person, C::Helper, C::NotNow];
            segment.items[..r].iter().rev().take(2).any(|item| item.is_any(&who))
                || segment.items[r].is(C::NotNow)
        });
        // 'Not there at three, back at four'.
        let told = self.out.iter().any(|claim| {
            let of_mark = matches!(claim.kind, Kind::Gone | Kind::Calm | Kind::Mark | Kind::Fading);
            of_mark && self.segments[claim.segment].sentence == segment.sentence
        });
        let by_person = by_person && (!told || segment.says_any(&[C::Person, C::Helper]));
        let returned =
            segment.means(C::Returned, Stance::Plain) && (!by_person || self.worst(Sign::Mark));
        let unmoved = change_denied && segment.says_any(&[C::Mark, C::Colour, C::It]);
        // 'Left worse than right' compares the sides.
        let versus = segment.items.iter().position(|item| item.is(C::Versus));
        let sides = versus.is_some_and(|v| {
            let side = [C::Left, C::Right, C::Other];
            segment.items[v + 1..].iter().any(|item| item.is_any(&side))
        });
        returned || segment.says(C::Worse) && !sides || unmoved
    }

    /// 'It is not there', 'not visible'; but not 'no marks there', which is nothing seen.
    fn is_not_there(&self) -> bool {
        let segment = self.segment();
        segment.means(C::There, Stance::Denied)
            && !segment.says_any(&[C::Person, C::Look, C::Anything, C::Nothing, C::ClearOfMarks])
            && !segment.items.iter().any(|item| item.stance == Stance::Denied && item.is_any(SIGNS))
    }

    /// 'A shadow that was not there this morning', 'it was not there yesterday': it is new.
    fn is_new(&self) -> bool {
        let items = &self.segment().items;
        let there = items.iter().position(|i| i.is(C::There) && i.stance == Stance::Denied);
        there.is_some_and(|at| {
            let was = items[..at].iter().any(|item| item.is(C::Past));
            let before = |item: &Item| item.is_any(&[C::Past, C::Today]);
            was && items[at + 1..].iter().any(before) && !items.iter().any(|i| i.is(C::Look))
        })
    }

    /// 'Was red, now not'.
    fn now_not(&self) -> bool {
        let items = &self.segment().items;
        let ends = items.last().is_some_and(|item| item.is_any(&[C::Not, C::No]));
        ends && items.iter().rev().nth(1).is_some_and(|item| item.is(C::Now))
    }
}

/// '50 % gone' is not gone.
fn is_share(before: &[Item]) -> bool {
    matches!(before, [.., number, unit]
        if unit.is(C::OtherUnit) && matches!(number.value, Value::Number(n) if n < 100))
}

/// 'Gone a funny colour': a new noun after it is what it became, not how long it took.
fn became_something(segment: &Segment, gone: usize) -> bool {
    let timed = |item: &Item| !matches!(item.value, Value::None) || item.is_any(&[C::Now, C::Past]);
    let after = &segment.items[gone + 1..];
    after.first().is_some_and(|item| item.is(C::Article) && !item.is(C::Partly))
        && !after.iter().take(3).any(timed)
}

/// 'Gone coppery': a word after it that nobody knows.
fn became_unknown(segment: &Segment, gone: usize) -> bool {
    let next = segment.items.get(gone + 1);
    next.is_some_and(|item| !item.known && item.raw.chars().count() > 2)
}

/// A mark is meant by 'gone' unless a person or a thing went.
fn is_of_mark(segment: &Segment, gone: &Item) -> bool {
    // 'I could not find it' is one phrase, whoever looked.
    if gone.is(C::It) {
        return true;
    }
    let at = segment.items.iter().position(|item| std::ptr::eq(item, gone)).unwrap_or(0);
    // 'I looked again gone': who looked is not what went.
    let before = segment.items[..at].iter().rev();
    let noun = before.take_while(|item| !item.is(C::Look)).find(|item| {
        item.place.is_some()
            || item.is_any(&[C::Mark, C::Colour, C::It, C::Person, C::Thing, C::Says, C::Skin])
            || item.is_any(&[C::Fever, C::Ill, C::Helper])
    });
    // 'Went in the chair'.
    let next = segment.items.get(at + 1);
    if next.is_some_and(|item| item.is_any(&[C::InSeat, C::Thing])) {
        return false;
    }
    // 'The fire alarm went': a noun that says nothing of skin.
    let plain = |item: &Item| item.known && item.set.is_empty() && item.place.is_none();
    let of_other = noun.is_none()
        && gone.text == gone.raw.to_lowercase()
        && segment.items[..at].last().is_some_and(plain)
        && segment.items[..at].iter().any(|item| item.is(C::Definite));
    if of_other {
        return false;
    }
    let others = [C::Person, C::Thing, C::Fever, C::Ill, C::Helper];
    noun.is_none_or(|item| item.is(C::It) || !item.is_any(&others))
}

/// 'No blanching or non-blanching erythema' denies a mark, not the paling.
fn denies_term(segment: &Segment) -> bool {
    segment.items.iter().any(|item| item.stance == Stance::Denied && item.is(C::Mark))
}
