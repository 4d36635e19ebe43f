//! Segments that lean on what was said before: '… but it isn't', 'was red, now not', '… but there
//! is one'.
//!
//! Never here: segments that say what they mean themselves.
//! Promises: what was gone and is denied has lasted, what was calm and is denied is not calm; where
//! it cannot be told what is meant, it is a doubt.

use super::claim::{Kind, Maker};
use super::clause::{Item, Joint, Stance, Value};
use super::concept::Concept as C;
use super::stance::SIGNS;

impl Maker<'_> {
    /// '… but it isn't', 'was red, now not': denies what was said before.
    pub(super) fn leans_back(&mut self) -> bool {
        let segment = self.segment();
        let Some(last) = segment.items.last() else { return false };
        // 'No redness on the sacrum nor heels' goes on a list, '10.40 not 10' corrects a number.
        let digits = |item: &Item| item.raw.contains(|c: char| c.is_ascii_digit());
        let numbered = segment.items.iter().any(|item| item.value != Value::None && digits(item));
        if segment.joint == Joint::Or || numbered {
            return false;
        }
        let aside = |item: &Item| item.is_any(&[C::Okay, C::Pleasantry]);
        let bare_no =
            segment.items[0].is_any(&[C::No, C::Not]) && segment.items[1..].iter().all(aside);
        if bare_no && segment.joint == Joint::But {
            return self.but_no();
        }
        let besides = [
            C::Thing,
            C::Person,
            C::Normal,
            C::Clear,
            C::Not,
            C::No,
            C::Sit,
            C::Gone,
            C::Okay,
            C::Skin,
            C::Complexion,
            C::Wh,
        ];
        if segment.says(C::Exists)
            && segment.says(C::It)
            && !segment.says_any(SIGNS)
            && !segment.says_any(&besides)
        {
            return self.affirmed();
        }
        let there_denied = segment.means(C::There, Stance::Denied);
        let ends_denied = segment.says_any(&[C::Not, C::No]) && !there_denied;
        if segment.says(C::Nothing) {
            return false;
        }
        // 'But she is now', with no word besides.
        let spare = segment.items.iter().all(|item| !item.set.is_empty());
        let denies = segment.says_any(&[C::Not, C::No]);
        let empty = |item: &Item| {
            denies
                && (item.is_any(&[C::Other, C::Left, C::Right, C::Definite, C::Article])
                    || item.place.is_some())
                || item.place.is_none()
                    && (item.set.is_empty()
                        || item.is_any(&[
                            C::It,
                            C::Subject,
                            C::Present,
                            C::Now,
                            C::Not,
                            C::No,
                            C::Past,
                            C::There,
                            C::Exists,
                            C::Yes,
                            C::Mean,
                        ]))
                    && !item.is_any(&[C::Sit, C::Look, C::See])
                    && (!item.is(C::Person) || item.is(C::Subject) && spare)
        };
        let whole =
            last.is_any(&[C::It, C::Subject]) && last.is_any(&[C::Past, C::Present, C::Exists]);
        if segment.items.len() < 2 && !whole || !segment.items.iter().all(empty) {
            return false;
        }
        if there_denied {
            return false;
        }
        if !ends_denied {
            return self.affirmed();
        }
        let said = self
            .out
            .iter()
            .rev()
            .map(|claim| claim.kind)
            .find(|kind| matches!(kind, Kind::Gone | Kind::Calm | Kind::Mark | Kind::Lasting));
        let believed = self
            .at
            .checked_sub(1)
            .map(|b| &self.segments[b])
            .filter(|before| before.sentence == segment.sentence && before.says(C::Believed));
        let believed_gone = believed.is_some_and(|b| b.says_any(&[C::Gone, C::Clear, C::Normal]));
        // 'We were expecting a mark because it had slipped, but there is none'.
        let awaited = self.segments[..self.at].iter().any(|before| {
            before.sentence == segment.sentence
                && before.says_any(&[C::Awaited, C::Believed])
                && before.says_any(SIGNS)
        });
        match said {
            _ if believed_gone => self.push(Kind::Lasting),
            Some(Kind::Gone) => self.push(Kind::Lasting),
            Some(Kind::Calm) => self.push(Kind::NotCalm),
            None if awaited && segment.joint == Joint::But && segment.says(C::Exists) => {
                self.push(Kind::Calm);
            }
            Some(Kind::Mark) if segment.says(C::Now) => self.push(Kind::Gone),
            // 'Left heel is red, right one is not'.
            Some(Kind::Mark | Kind::Lasting)
                if segment.says_any(&[C::Left, C::Right, C::Other]) =>
            {
                self.push(Kind::Calm);
            }
            _ => self.push(Kind::Doubt),
        }
        true
    }

    /// 'I thought it had gone but no'.
    fn but_no(&mut self) -> bool {
        let sentence = self.segment().sentence;
        let before = self.segments[self.at.saturating_sub(2)..self.at].iter();
        let gone = before
            .filter(|s| s.sentence == sentence)
            .any(|s| s.says_any(&[C::Gone, C::Clear, C::Normal]));
        if gone {
            self.push(Kind::Lasting);
        }
        gone
    }

    /// '… but it was', '… but there is one': what was denied just before is there.
    fn affirmed(&mut self) -> bool {
        let segment = self.segment();
        let exists =
            segment.says_any(&[C::Present, C::Past]) && segment.says_any(&[C::It, C::Subject]);
        let contrasts =
            segment.joint == Joint::But || segment.items.len() >= 2 && segment.says(C::Exists);
        let only_past = segment.says(C::Past) && !segment.says(C::Now);
        let denied = self.out.last().map(|claim| claim.kind);
        match denied {
            Some(Kind::HalfCalm) if exists && contrasts => self.push(Kind::Alarm),
            Some(Kind::Calm) if only_past => {}
            Some(Kind::Calm | Kind::Gone | Kind::Doubt) if exists && contrasts => {
                self.push(Kind::Mark);
            }
            None if segment.says(C::Exists) && segment.says(C::It) => self.push(Kind::Mark),
            _ => return false,
        }
        true
    }
}
