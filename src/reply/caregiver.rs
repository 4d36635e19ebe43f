//! From the claims of a caregiver's reply to one reading: the worst claim that stands.
//!
//! Never here: words.
//! Promises: a mark is set aside only by a later claim, about the same site, that it has gone; a
//! doubt turns calm into `unclear`, never a mark into calm.

use super::Answering;
use super::claim::{Claim, Kind};
use super::clause::{Joint, Segment, Value};
use super::concept::Concept as C;
use crate::care::{Reading, Site};

/// A reading with the claims it rests on, by index.
#[derive(Clone, Debug)]
pub(crate) struct Judgement {
    /// The reading.
    pub reading: Reading,
    /// The claims that led to it.
    pub led: Vec<usize>,
}

/// The reading of a caregiver's claims.
pub(crate) fn judge(answering: Answering, segments: &[Segment], claims: &[Claim]) -> Judgement {
    let case = Case { answering, segments, claims };
    let verdict = |reading, led| Judgement { reading, led };
    let mut alarms = case.of(&[Kind::Alarm, Kind::Ill]);
    let told = [Kind::Calm, Kind::Gone, Kind::Mark, Kind::Lasting, Kind::Fading];
    if case.of(&told).is_empty() {
        // A sore of years ago is history beside what was seen today, and nowhere else.
        alarms.extend(case.of(&[Kind::OldAlarm]));
    }
    if !alarms.is_empty() {
        return verdict(Reading::Alarming, alarms);
    }
    let mut standing = case.standing_marks();
    let mut lasting = case.standing_lasting();
    let same = case.of(&[Kind::Same]);
    match answering {
        Answering::Recheck => {
            lasting.extend(same.into_iter().filter(|i| !case.is_as_ever(*i)));
            lasting.extend(case.of(&[Kind::NotCalm, Kind::SeenIt]));
        }
        _ if !standing.is_empty() => standing.extend(same),
        _ => {}
    }
    let perhaps = case.of(&[Kind::PerhapsAlarm, Kind::Fever]);
    let seen = !standing.is_empty() || !lasting.is_empty();
    if seen && !perhaps.is_empty() {
        return verdict(Reading::Alarming, [perhaps, standing, lasting].concat());
    }
    if !lasting.is_empty() {
        return verdict(Reading::Persisting, [lasting, standing].concat());
    }
    let mut doubts = case.of(&[Kind::Doubt, Kind::NotCalm, Kind::SeenIt]);
    doubts.retain(|i| !case.is_overtaken(*i));
    if !standing.is_empty() {
        let hedged = standing.iter().all(|i| claims[*i].hedged && !claims[*i].present);
        if hedged && !doubts.is_empty() {
            return verdict(Reading::Unclear, doubts);
        }
        let reading = case.mark_reading();
        return verdict(reading, standing);
    }
    case.without_marks(doubts)
}

struct Case<'a> {
    answering: Answering,
    segments: &'a [Segment<'a>],
    claims: &'a [Claim],
}

impl Case<'_> {
    fn of(&self, kinds: &[Kind]) -> Vec<usize> {
        (0..self.claims.len()).filter(|i| kinds.contains(&self.claims[*i].kind)).collect()
    }

    fn mark_reading(&self) -> Reading {
        match self.answering {
            Answering::Recheck => Reading::Persisting,
            Answering::Start | Answering::Look | Answering::Alert => Reading::Marked,
        }
    }

    /// 'It looks the same as always, no marks': as the skin is, not as the mark was; calm in the
    /// same breath, of no one site.
    fn is_as_ever(&self, same: usize) -> bool {
        let said = &self.segments[self.claims[same].segment];
        let sentence = said.sentence;
        // 'No colour change' at a second look is said of the mark.
        if said.items.iter().any(|item| item.is(C::Same) && item.is(C::ClearOfMarks)) {
            return false;
        }
        let of_skin = [C::Usual, C::Skin, C::All, C::Normal, C::Clear, C::ClearOfMarks];
        let other = self
            .claims
            .iter()
            .any(|claim| claim.segment == self.claims[same].segment && claim.kind == Kind::Calm);
        (other || said.says_any(&of_skin))
            && self.claims.iter().any(|claim| {
                let segment = &self.segments[claim.segment];
                claim.kind == Kind::Calm
                    && segment.sentence == sentence
                    && claim.sites.is_empty()
                    && !segment.says(C::Other)
            })
    }

    /// 'It looked odd last week, today it is fine'.
    fn is_overtaken(&self, doubt: usize) -> bool {
        // 'All clear. I checked twice because yesterday I was not sure'.
        let why = self.segments[self.claims[doubt].segment].joint == Joint::Because
            && self.claims[..doubt].iter().any(|before| before.kind == Kind::Calm && !before.past);
        let later_calm = self.claims[doubt + 1..].iter().any(|later| {
            matches!(later.kind, Kind::Calm | Kind::Gone)
                && self.segments[later.segment].says(C::Now)
        });
        self.claims[doubt].past && (why || later_calm)
    }

    /// Marks, and marks that are going, that no later claim settles.
    fn standing_marks(&self) -> Vec<usize> {
        let mut marks = self.of(&[Kind::Mark, Kind::Fading]);
        marks.retain(|i| !self.is_settled(*i));
        marks
    }

    fn standing_lasting(&self) -> Vec<usize> {
        let mut lasting = self.of(&[Kind::Lasting]);
        lasting.retain(|i| !self.is_outlasted(*i));
        lasting
    }

    /// 'Still there at ten minutes but had cleared by twenty-five': a lasting that was timed, and
    /// a later 'gone' in the same breath that is timed too.
    fn is_outlasted(&self, i: usize) -> bool {
        let lasting = &self.claims[i];
        let sentence = self.segments[lasting.segment].sentence;
        lasting.now
            && self.claims[i + 1..].iter().any(|later| {
                later.kind == Kind::Gone
                    && later.now
                    && self.segments[later.segment].sentence == sentence
                    && covers(later, lasting)
                    && !self.segments[later.segment].says_any(&[C::Other, C::Left, C::Right])
            })
    }

    fn is_settled(&self, i: usize) -> bool {
        let mark = &self.claims[i];
        let settles = |other: &Claim, later: bool| {
            // 'Feels warm, no colour left': the warmth stays.
            if mark.warm && !other.warm && !self.segments[other.segment].says(C::Warm) {
                return false;
            }
            let elsewhere = self.segments[other.segment].says(C::Other);
            let gone = match other.kind {
                Kind::Gone => {
                    later && !mark.present
                        || later && other.now && mark.segment + 1 == other.segment
                        || mark.past
                }
                // 'Was red at two, clear at three'; 'red on transfer, clear now'.
                Kind::Calm => {
                    // 'Pink on the hip, nothing today' and 'no marks after the sitting' settle
                    // nothing: there must have been a moment after.
                    let said = &self.segments[other.segment];
                    let said_now =
                        said.says(C::Now) && !said.says_any(&[C::Today, C::Sit, C::InSeat]);
                    // 'Pink at first glance, nothing after 20 min'; 'clear after 45 min sitting' is no later look.
                    let lasted =
                        said.items.iter().any(|item| matches!(item.value, Value::Minutes(_)));
                    let timed = lasted && !other.past && !said.says_any(&[C::Sit, C::InSeat]);
                    let contrast = mark.past && other.now
                        || !mark.present && (said_now || timed || mark.timed && other.timed);
                    later && other.segment != mark.segment && contrast
                }
                _ => false,
            };
            gone && !elsewhere && covers(other, mark)
        };
        self.claims.iter().enumerate().any(|(k, other)| settles(other, k > i))
    }

    fn without_marks(&self, doubts: Vec<usize>) -> Judgement {
        let verdict = |reading, led| Judgement { reading, led };
        let gone = match self.answering {
            Answering::Recheck => self.of(&[Kind::Gone, Kind::FineAgain]),
            Answering::Start | Answering::Look | Answering::Alert => self.of(&[Kind::Gone]),
        };
        let calm = self.of(&[Kind::Calm]);
        let fever = self.of(&[Kind::Fever]);
        // 'In bed with a fever' tells why there was no sitting; else a fever needs review.
        if !fever.is_empty() && self.of(&[Kind::NoSitting]).is_empty() {
            return verdict(Reading::Alarming, fever);
        }
        let mut part = self.of(&[Kind::PartLook, Kind::PerhapsAlarm]);
        if !self.of(&[Kind::Calm, Kind::Gone]).is_empty() {
            part.extend(fever);
        }
        let mut not_looked = self.of(&[Kind::NotLooked]);
        let mut no_sitting = self.of(&[Kind::NoSitting]);
        let undone = self.of(&[Kind::Undone]);
        match self.answering {
            Answering::Recheck => not_looked.extend(undone),
            _ if not_looked.is_empty() && self.of(&[Kind::Calm, Kind::Gone]).is_empty() => {
                no_sitting.extend(undone);
            }
            _ => {}
        }
        // 'Can't, the chair has a puncture' before a sitting tells of no look; 'not yet' does.
        let yet = not_looked.iter().any(|i| self.segments[self.claims[*i].segment].says(C::Yet));
        let told: &[Kind] = if self.answering == Answering::Start && !yet {
            &[Kind::Started, Kind::Calm, Kind::Gone, Kind::NoSitting]
        } else {
            &[Kind::NotLooked, Kind::Undone, Kind::Started, Kind::Calm, Kind::Gone, Kind::NoSitting]
        };
        // Beside a word about the skin, a reason not to sit may be anything.
        let of_body = |s: &Segment| s.has_place() || s.says(C::Skin);
        if self.of(told).is_empty() && no_sitting.is_empty() && !self.segments.iter().any(of_body) {
            no_sitting = self.of(&[Kind::Reason]);
        }
        let started = self.of(&[Kind::Started]);
        let found = [gone.clone(), calm.clone()].concat();
        if found.is_empty() {
            not_looked.extend(self.of(&[Kind::Busy]));
        } else {
            // 'No marks, will look again tonight': the look was made.
            not_looked.retain(|i| !self.claims[*i].planned);
        }
        let because = not_looked.iter().any(|i| {
            let segment = &self.segments[self.claims[*i].segment];
            segment.joint == Joint::Because && *i > 0
        });
        if because && gone.is_empty() && part.is_empty() {
            return verdict(Reading::NotLooked, not_looked);
        }
        if !part.is_empty() {
            return verdict(Reading::Unclear, part);
        }
        if !found.is_empty() && !doubts.is_empty() {
            return verdict(Reading::Unclear, doubts);
        }
        let only_of_sitting = self.answering == Answering::Start || found.is_empty();
        if only_of_sitting
            && let Some(judgement) = self.about_sitting(&started, &no_sitting, &not_looked, &doubts)
        {
            return judgement;
        }
        if !no_sitting.is_empty() && gone.is_empty() {
            return verdict(Reading::NoSitting, no_sitting);
        }
        if self.looked_after(&not_looked, &found) {
            let was = !self.of(&[Kind::Mark, Kind::Fading, Kind::Lasting]).is_empty();
            return match (self.answering, gone.is_empty() && !was) {
                (Answering::Recheck, _) | (_, false) => {
                    verdict(Reading::Faded, self.marks_and(found))
                }
                _ => verdict(Reading::Clear, calm),
            };
        }
        if !found.is_empty() {
            return verdict(Reading::Unclear, [found, not_looked].concat());
        }
        verdict(Reading::Unclear, doubts)
    }

    /// The claims that a mark has gone, with the marks that were.
    fn marks_and(&self, found: Vec<usize>) -> Vec<usize> {
        let mut all = self.of(&[Kind::Mark, Kind::Fading, Kind::Lasting]);
        all.extend(found);
        all
    }

    /// What a reply without any finding says of the sitting or of the look.
    fn about_sitting(
        &self,
        started: &[usize],
        no_sitting: &[usize],
        not_looked: &[usize],
        doubts: &[usize],
    ) -> Option<Judgement> {
        let verdict = |reading, led: &[usize]| Some(Judgement { reading, led: led.to_vec() });
        let only_planned = not_looked.iter().all(|i| self.claims[*i].planned);
        if !doubts.is_empty() && only_planned && no_sitting.is_empty() {
            return None;
        }
        match self.answering {
            Answering::Start if !no_sitting.is_empty() && !started.is_empty() => {
                verdict(Reading::Unclear, &[no_sitting, started].concat())
            }
            _ if !no_sitting.is_empty() => verdict(Reading::NoSitting, no_sitting),
            Answering::Start if started.is_empty() && self.is_not_done(not_looked) => {
                verdict(Reading::NoSitting, not_looked)
            }
            Answering::Start if !started.is_empty() => verdict(Reading::Started, started),
            // 'Hoisted 13.10': before a sitting a time that stands alone is when it began.
            Answering::Start if not_looked.is_empty() && self.speaks_of_nothing_else() => {
                let timed = self.of(&[Kind::Timed]);
                (!timed.is_empty()).then_some(Judgement { reading: Reading::Started, led: timed })
            }
            Answering::Start => None,
            // Bare 'not yet' at a second look: not looked, or not gone?
            Answering::Recheck if not_looked.iter().all(|i| self.is_bare_yet(*i)) => None,
            _ if !not_looked.is_empty() => verdict(Reading::NotLooked, not_looked),
            _ => None,
        }
    }

    /// Whether no body, no denial, no plan and no question is in the reply.
    fn speaks_of_nothing_else(&self) -> bool {
        let other =
            [C::Not, C::No, C::Nothing, C::Will, C::If, C::Maybe, C::Doubt, C::Skin, C::Look];
        self.segments.iter().all(|s| {
            !s.question && !s.queried && !s.marked && !s.has_place() && !s.says_any(&other)
        })
    }

    fn is_bare_yet(&self, claim: usize) -> bool {
        let bare = [C::Yet, C::No, C::Not, C::Pleasantry, C::Okay, C::Yes];
        let segment = &self.segments[self.claims[claim].segment];
        segment.says(C::Yet) && segment.items.iter().all(|item| item.is_any(&bare))
    }

    /// 'Didn't do it', said of a sitting that was about to begin.
    fn is_not_done(&self, not_looked: &[usize]) -> bool {
        let of_look = [C::Yet, C::NotNow, C::PlanLook, C::Will, C::Look, C::See, C::Skin, C::Mark];
        !not_looked.is_empty()
            && not_looked.iter().all(|i| {
                let segment = &self.segments[self.claims[*i].segment];
                !segment.says_any(&of_look) && !segment.has_place()
            })
    }

    /// A finding stands beside 'not looked' only when the look came after: 'forgot at first, just
    /// looked now'.
    fn looked_after(&self, not_looked: &[usize], found: &[usize]) -> bool {
        let (Some(first), true) = (found.first(), !found.is_empty()) else { return false };
        not_looked.iter().all(|i| i < first)
            && (not_looked.is_empty()
                || self.claims[..=*first].iter().any(|c| c.kind == Kind::Looked || c.now))
    }
}

/// Whether a claim that something has gone is about the sites of the mark.
fn covers(gone: &Claim, mark: &Claim) -> bool {
    let same = |a: &Site, b: &Site| {
        a.place() == b.place() && (a.side().is_none() || b.side().is_none() || a.side() == b.side())
    };
    gone.sites.is_empty()
        || !mark.sites.is_empty()
            && mark.sites.iter().all(|m| gone.sites.iter().any(|g| same(g, m)))
}
