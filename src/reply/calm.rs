//! What segments claim beside marks: calm, a look made or not made, a sitting, a doubt.
//!
//! Never here: which claim wins.
//! Promises: 'she is fine' is no calm skin; what stands after 'but' or beside a site and cannot be
//! understood is a doubt.

use super::claim::{Claim, Kind, Maker, excepts};
use super::clause::{Item, Joint, Segment, Stance, Value};
use super::concept::Concept as C;
use super::stance::SIGNS;

/// 'No' and 'sitting' belong together when they stand this near.
const DENIED_SITTING_ITEMS_MAX: usize = 4;

impl Maker<'_> {
    /// Claims that nothing is there.
    pub(super) fn calm(&mut self) {
        let segment = self.segment();
        let hearsay = segment.says(C::Reported) && !self.sentence_says(C::Look);
        let hedged = segment.says_any(&[C::Maybe, C::Think])
            || hearsay
            || segment.queried
            || (0..segment.items.len()).any(|i| {
                segment.items[i].is_any(&[C::Clear, C::Normal]) && segment.has_slip_beside(i)
            });
        if self.unclear_gone() {
            return;
        }
        let calming = [C::Clear, C::Normal, C::ClearOfMarks];
        let short_of =
            segment.items.iter().position(|item| item.is_any(&calming)).is_some_and(|at| {
                segment.items[..at].iter().any(|item| item.is_any(&[C::NotVery, C::Partly]))
            });
        if short_of {
            // 'Nearly clear', 'not so good'.
            return self.push(Kind::NotCalm);
        }
        if segment.joint == Joint::Except && segment.says_any(&calming) {
            return self.push(Kind::Doubt);
        }
        let planned = segment
            .items
            .iter()
            .any(|item| item.is_any(&calming) && item.stance == Stance::Supposed);
        if planned && segment.says(C::Will) {
            self.push(Kind::Doubt);
        }
        if segment.means(C::Clear, Stance::Plain) {
            self.push(if hedged { Kind::Doubt } else { Kind::Calm });
        }
        if segment.means(C::ClearOfMarks, Stance::Plain) {
            self.push(if hedged { Kind::Doubt } else { Kind::Calm });
        }
        if segment.means(C::Clear, Stance::Denied) {
            self.push(Kind::NotCalm);
        }
        if segment.means(C::Clear, Stance::Doubtful) {
            self.push(Kind::Doubt);
        }
        self.normal(hedged);
        self.nothing(hedged);
        if segment.means(C::Whole, Stance::Plain) {
            self.push(Kind::HalfCalm);
        }
        if segment.means(C::Whole, Stance::Denied) || segment.means(C::Whole, Stance::Ended) {
            self.push(Kind::Alarm);
        }
    }

    /// Whether the segment already says that it cannot be told.
    fn unclear_gone(&self) -> bool {
        self.out.iter().any(|claim| claim.segment == self.at && claim.kind == Kind::Doubt)
    }

    fn normal(&mut self, hedged: bool) {
        let segment = self.segment();
        let okay_skin = segment.means(C::Okay, Stance::Plain)
            && segment.items.len() > 1
            && (segment.has_place() || segment.says_any(&[C::Skin, C::All, C::There]));
        // 'Left hip not red right not ok'.
        let of_site = segment.has_place() || segment.says_any(&[C::Left, C::Right]);
        let ill_at_site = of_site && segment.means(C::Okay, Stance::Denied);
        if !segment.says(C::Normal) && !okay_skin && !ill_at_site {
            return;
        }
        if segment.means(C::Normal, Stance::Denied) || segment.means(C::Okay, Stance::Denied) {
            return self.push(Kind::NotCalm);
        }
        if !segment.means(C::Normal, Stance::Plain) && !okay_skin {
            return;
        }
        let headed = segment.joint == Joint::Colon
            && self.at.checked_sub(1).is_some_and(|head| {
                let head = &self.segments[head];
                head.sentence == segment.sentence && head.items.iter().all(names_place)
            });
        let of_skin = segment.has_place()
            || headed
            || segment.says_any(&[C::Skin, C::All, C::Look, C::See, C::There, C::It, C::Same]);
        let of_person = segment.says_any(&[C::Person, C::Feels]);
        let alone = segment.items.iter().all(|item| item.is_any(&[C::Normal, C::Yes, C::Now]));
        // 'Looked at ten past four, absolutely fine'.
        let looked = (self.looked_just_before() || self.looks_just_after())
            && segment.items.iter().all(|item| {
                item.is_any(&[C::Normal, C::Yes, C::Now, C::All])
                    || item.known && item.set.is_empty()
            });
        let doubtful = segment.queried || segment.says_any(&[C::Maybe, C::Reported]);
        self.push(if doubtful {
            Kind::Doubt
        } else if hedged {
            Kind::HalfCalm
        } else if of_skin && !(of_person && segment.says(C::Feels))
            || alone && is_sure(segment)
            || looked
        {
            Kind::Calm
        } else {
            Kind::HalfCalm
        });
    }

    /// Whether the segment before tells of a look that was made, and of nothing else.
    fn looked_just_before(&self) -> bool {
        let before = self.at.checked_sub(1);
        let told = |claim: &&Claim| Some(claim.segment) == before && claim.kind != Kind::Timed;
        let mut claims = self.out.iter().filter(told);
        claims.next().is_some_and(|claim| claim.kind == Kind::Looked) && claims.next().is_none()
    }

    /// 'Fine. I looked properly this time': whether a look that was made is told just after.
    fn looks_just_after(&self) -> bool {
        let open = [C::Will, C::If, C::Not, C::No, C::Maybe, C::PlanLook, C::NotLooked];
        self.segments.get(self.at + 1).is_some_and(|next| {
            let by_person = next.says_any(&[C::Person, C::Subject]);
            by_person && next.means(C::Look, Stance::Plain) && !next.says_any(&open)
        })
    }

    fn nothing(&mut self, hedged: bool) {
        let segment = self.segment();
        let see_denied = segment.means(C::See, Stance::Denied);
        let no_view = self.sentence_says(C::NoView);
        if segment.says(C::ClearOfMarks) {
            return;
        }
        if see_denied && segment.says(C::Partly) {
            // 'One can hardly see it': it is there.
            return self.push(Kind::Fading);
        }
        if see_denied {
            let any = segment.says_any(&[C::Anything, C::Nothing]);
            let signs = segment.says_any(SIGNS);
            let object = segment.items.iter().any(|item| {
                item.stance == Stance::Denied
                    && (item.place.is_some() || item.is_any(&[C::Skin, C::Person]))
            });
            match (any || signs, no_view) {
                (true, false) if any => self.push(if hedged { Kind::Doubt } else { Kind::Calm }),
                (true, false) => {}
                (_, true) => self.push(Kind::NotLooked),
                (false, false) if object => self.push(Kind::NotLooked),
                (false, false) if segment.says(C::It) || self.tells_of_going() => {
                    self.push(Kind::Gone);
                }
                (false, false) => self.push(Kind::NotLooked),
            }
            return;
        }
        // 'There isn't anything on her', 'neither time was there anything'.
        let any_denied = segment.means(C::Anything, Stance::Denied)
            && segment.says(C::Exists)
            && !segment.says_any(&[C::Thing, C::Will, C::If, C::LookFor]);
        if any_denied && !segment.says_any(SIGNS) {
            return self.push(if hedged { Kind::Doubt } else { Kind::Calm });
        }
        let bare = segment.means(C::Nothing, Stance::Plain)
            && !segment.says_any(&[C::Sit, C::Feels, C::LookFor, C::Change, C::Will]);
        let not_nothing = segment
            .items
            .windows(2)
            .any(|pair| pair[0].is(C::Not) && !pair[0].is(C::Or) && pair[1].is(C::Nothing));
        if bare && !segment.says_any(SIGNS) {
            self.push(if hedged || not_nothing { Kind::Doubt } else { Kind::Calm });
        }
    }

    /// Whether the statement before says that a mark has gone: 'that's evened out, can't see it'.
    fn tells_of_going(&self) -> bool {
        self.before_in_sentence().is_some()
            && self.out.iter().any(|c| c.segment + 1 == self.at && c.kind == Kind::Gone)
    }

    pub(super) fn sentence_says(&self, concept: C) -> bool {
        let sentence = self.segment().sentence;
        self.segments.iter().any(|s| s.sentence == sentence && s.says(concept))
    }

    /// Claims about the look itself.
    pub(super) fn look(&mut self) {
        let segment = self.segment();
        if segment.says(C::NotLooked) && !segment.means(C::NotLooked, Stance::Denied) {
            return self.push(Kind::NotLooked);
        }
        if segment.says(C::PlanLook) {
            self.push(Kind::NotLooked);
        }
        if segment.says(C::PartLook) {
            self.push(Kind::PartLook);
        }
        let Some(look) = segment.items.iter().position(|item| item.is(C::Look)) else {
            let claimed = self.out.iter().any(|claim| claim.segment == self.at);
            let seated = segment.means(C::OffSeat, Stance::Denied);
            // 'Till red' may be 'still red'; 'will have gone by tonight' tells of no look.
            let of_sign =
                segment.items.len() <= 2 && segment.says_any(SIGNS) || segment.says(C::Doubt);
            if (segment.says(C::NotNow) || seated) && !claimed && !of_sign {
                self.push(Kind::Busy);
            }
            return;
        };
        let copula = segment
            .items
            .get(look + 1)
            .is_some_and(|next| next.is_any(SIGNS) || next.is_any(&[C::Normal, C::Clear, C::Same]));
        let item = &segment.items[look];
        let planned = segment.items[..look].iter().any(|item| item.is(C::Will));
        // 'No redness seen on inspection': what is denied stands before the look.
        let denies_sign = segment.items[..look].iter().any(|item| {
            item.stance == Stance::Denied && item.is_any(SIGNS) || item.is(C::ClearOfMarks)
        });
        let not_made = item.stance == Stance::Denied && !denies_sign;
        if copula {
        } else if not_made || planned {
            self.push(Kind::NotLooked);
        } else if segment.says(C::NotNow) {
            self.push(Kind::Busy);
        } else if item.stance == Stance::Plain || denies_sign {
            self.push(Kind::Looked);
        }
    }

    /// Claims about the sitting.
    pub(super) fn sitting(&mut self) {
        let segment = self.segment();
        let items = &segment.items;
        let none = items.iter().position(|item| item.is(C::NoSitting));
        // 'Not sitting until the cushion comes' is none now; 'if not sitting' is not.
        if none.is_some_and(|n| !items[..n].iter().any(|item| item.is(C::If))) {
            return self.push(Kind::NoSitting);
        }
        let denied_sitting = items.iter().enumerate().any(|(i, item)| {
            item.is_any(&[C::Sit, C::InSeat])
                && item.stance == Stance::Denied
                && items[i.saturating_sub(DENIED_SITTING_ITEMS_MAX)..i]
                    .iter()
                    .any(|before| before.is_any(&[C::Not, C::No]))
        });
        let other = segment.says_any(SIGNS) || segment.says_any(&[C::See, C::Press]);
        if denied_sitting && !other {
            return self.push(Kind::NoSitting);
        }
        let planned = segment.says_any(&[C::Will, C::If, C::Maybe]);
        let begun = |item: &Item| {
            item.stance == Stance::Plain && item.is_any(&[C::InSeat, C::Begin, C::Sit])
        };
        let item = items.iter().find(|item| begun(item));
        if item.is_some() && !planned && !segment.says_any(&[C::OffSeat, C::NotAtTime, C::Nothing])
        {
            let sure = items.iter().any(|item| begun(item) && item.is_any(&[C::InSeat, C::Begin]));
            // 'Sat 10.05'.
            let timed = items.iter().any(|item| matches!(item.value, Value::Clock(_)));
            if sure || timed {
                self.push(Kind::Started);
            }
        }
        if segment.means(C::Undone, Stance::Plain) {
            let of_look = segment.says(C::Look);
            let of_sitting = segment.says_any(&[C::Sit, C::InSeat]);
            self.push(match (of_look, of_sitting) {
                (true, _) => Kind::NotLooked,
                (false, true) => Kind::NoSitting,
                (false, false) => Kind::Undone,
            });
        }
        let broken = segment.says(C::OutOfOrder) && segment.says(C::Thing);
        if segment.says(C::NoSitReason) || broken {
            self.push(Kind::Reason);
        }
    }

    /// A clock time that is not planned, denied or asked about.
    pub(super) fn timed(&mut self) {
        let segment = self.segment();
        let untimely = [C::Not, C::No, C::Will, C::If, C::Maybe, C::Doubt, C::NotAtTime, C::NotNow];
        let told = segment.items.iter().any(|item| matches!(item.value, Value::Clock(_)));
        if told && !segment.queried && !segment.says_any(&untimely) {
            self.push(Kind::Timed);
        }
    }

    /// Claims that it cannot be told.
    pub(super) fn doubt(&mut self) {
        let segment = self.segment();
        if segment.says(C::Doubt) && !segment.says(C::Wonder) {
            self.push(Kind::Doubt);
        }
        // 'Could be pink, could be the sunset'.
        let maybes = |s: &Segment| s.items.iter().filter(|item| item.is(C::Maybe)).count();
        let before = self.before_in_sentence().map_or(0, maybes);
        if maybes(segment) > 0 && maybes(segment) + before > 1 {
            self.push(Kind::Doubt);
        }
        // 'Gone, I think'.
        let afterthought = [C::Think, C::Maybe, C::Pleasantry];
        if segment.items.iter().all(|item| item.is_any(&afterthought))
            && segment.says_any(&[C::Think, C::Maybe])
        {
            self.push(Kind::Doubt);
        }
        let marked = self.out.iter().any(|claim| claim.kind == Kind::Mark);
        if segment.says(C::Stain) && marked {
            self.push(Kind::Doubt);
        }
    }

    /// 'His heel is another story': something is said of a place, and nobody can tell what.
    fn says_of_place(&self) -> bool {
        let segment = self.segment();
        let besides =
            [C::Thing, C::Sit, C::InSeat, C::OffSeat, C::Will, C::If, C::Look, C::LookFor];
        let place = segment.items.iter().position(|item| item.place.is_some());
        let verb = place.is_some_and(|p| segment.items[p..].iter().any(|item| item.is(C::Present)));
        verb && !segment.question && !segment.says_any(&besides)
    }

    /// What is left without a claim: after 'except' a place alone is marked, after 'but' or beside
    /// a site an unknown word is a doubt.
    pub(super) fn unaccounted(&mut self, before: usize) {
        let segment = self.segment();
        let claimed = self.out[before..].iter().any(|claim| claim.kind != Kind::Looked);
        if claimed || segment.says(C::Usual) {
            return;
        }
        let small = |item: &Item| item.is_any(&[C::Partly, C::Article]);
        let small_only = segment.items.iter().all(|item| small(item) || item.is(C::Yes));
        if small_only && segment.says(C::Partly) {
            return self.push(Kind::NotCalm);
        }
        let unknown = segment.items.iter().any(|item| !item.known && item.raw.chars().count() > 2);
        // 'I found crumbs from his toast'.
        let see = segment.items.iter().position(|item| item.is(C::See)).unwrap_or(0);
        let of_thing = segment.items[see..].iter().any(|item| item.is(C::Thing)) && !unknown;
        if segment.means(C::See, Stance::Plain) && !segment.question && !of_thing {
            self.push(Kind::SeenIt);
        }
        let denied = segment.says_any(&[C::Not, C::No]);
        // 'I'd hoped it would have gone, but no'.
        let denies = segment.items.iter().all(|item| item.is_any(&[C::Not, C::No]));
        let hoped = self
            .before_in_sentence()
            .is_some_and(|b| b.says_any(&[C::Believed, C::Awaited]) && b.says(C::Gone));
        if segment.joint == Joint::But && denies && hoped {
            return self.push(Kind::Lasting);
        }
        // 'First time it went white, now it doesn't'.
        let small = [C::Now, C::It, C::Subject, C::Not, C::Ask, C::Look, C::Today, C::Within];
        let bare = segment.items.iter().all(|item| item.is_any(&small) || item.set.is_empty());
        let later = segment.says_any(&[C::Now, C::Today, C::Look]);
        if denied && bare && later && self.paled() {
            return self.push(Kind::Alarm);
        }
        // 'Not away yet', whatever it is that is not yet so.
        if segment.says(C::Yet) && denied {
            return self.push(Kind::NotCalm);
        }
        let spoken_of = segment.has_place() || segment.says_any(&[C::Skin, C::Mark, C::It]);
        let slip = segment.items.iter().any(|item| !item.exact && item.set.is_empty());
        // 'The one on the sacrum hant moved': the slip may be a 'not'.
        let beside_change = (0..segment.items.len())
            .any(|i| segment.items[i].is(C::Change) && segment.has_slip_beside(i));
        if (slip && denied || beside_change) && spoken_of {
            self.push(Kind::Doubt);
        }
        let last = segment.items.last().filter(|_| !segment.says_any(&[C::If, C::Nothing]));
        let ends = |concepts: &[C]| last.is_some_and(|item| item.is_any(concepts));
        let where_else = segment.has_place() || segment.says_any(&[C::Left, C::Right, C::Other]);
        if ends(&[C::Not, C::No]) && where_else || ends(&[C::Exists]) && !denied {
            self.push(Kind::NotCalm);
        }
        let spoken = segment.says(C::It) || segment.items.len() == 1 || excepts(segment);
        if segment.means(C::There, Stance::Plain)
            && spoken
            && !segment.says_any(&[C::Person, C::Past])
        {
            self.push(Kind::SeenIt);
        }
        // '… but anyway I did look at his bottom': tells of the look, where nothing was said before.
        let told = [Kind::Calm, Kind::HalfCalm, Kind::Gone];
        let looks = segment.means(C::Look, Stance::Plain)
            && segment.says_any(&[C::Person, C::Subject])
            && !unknown
            && !self.out.iter().any(|claim| told.contains(&claim.kind));
        if segment.joint == Joint::Except && segment.has_place() {
            self.push(Kind::Mark);
        } else if segment.joint == Joint::Except {
            self.push(Kind::NotCalm);
        } else if excepts(segment)
            && !looks
            && (unknown && !segment.says(C::Thing)
                || segment.has_place()
                || segment.says(C::Skin)
                || segment.says(C::Exists) && !denied && !segment.says_any(&[C::Thing, C::Person]))
            || unknown && (segment.has_place() || segment.says(C::Skin))
            || self.says_of_place()
        {
            self.push(Kind::Doubt);
        }
    }
}

/// 'Bottom - …', 'left heel: …'.
fn names_place(item: &Item) -> bool {
    item.place.is_some() || item.is_any(&[C::Left, C::Right, C::Both, C::Definite, C::Skin])
}

/// 'Normal' alone says enough; 'fine' alone may be the person.
fn is_sure(segment: &Segment) -> bool {
    segment.says(C::Skin) || segment.says(C::Clear)
}
