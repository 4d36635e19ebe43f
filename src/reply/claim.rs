//! What the segments of a reply claim about the skin, the look and the sitting.
//!
//! Never here: which claim wins.
//! Promises: claims keep the order of the reply; each holds the words that led to it.

use super::clause::{Joint, Segment, Stance, Value};
use super::concept::Concept as C;
use super::sign::{Sign, sign_at};
use super::whereabouts;
use crate::care::Site;

/// A sentence that only tells of pressing has at most so many items.
const PRESSED_ITEMS_MAX: usize = 4;

/// What is claimed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    /// An alarming sign is or was there.
    Alarm,
    /// An alarming sign is spoken of, but not clearly there.
    PerhapsAlarm,
    /// Fever, or the person feels ill.
    Fever,
    /// A whole-body sign that is alarming in itself.
    Ill,
    /// An alarming sign was there long ago.
    OldAlarm,
    /// A mark is or was there.
    Mark,
    /// A mark has lasted, come back or grown.
    Lasting,
    /// It is as before, whatever that was.
    Same,
    /// A mark is going.
    Fading,
    /// A mark has gone.
    Gone,
    /// It is fine again: a mark has gone, where one was asked about.
    FineAgain,
    /// Nothing is there.
    Calm,
    /// Nothing alarming is there, or the person is well: says nothing of marks.
    HalfCalm,
    /// Something is not as it should be: not normal, not clear.
    NotCalm,
    /// It was seen, whatever it is.
    SeenIt,
    /// What is meant cannot be told.
    Doubt,
    /// A look was made.
    Looked,
    /// No look was made.
    NotLooked,
    /// A reason why no look was made, which says so only where nothing was found.
    Busy,
    /// Only a part was looked at, or nothing could be made out.
    PartLook,
    /// No sitting took place.
    NoSitting,
    /// A reason not to sit, which alone says that there was no sitting.
    Reason,
    /// What was asked about was left undone.
    Undone,
    /// A clock time is said, and nothing that would make it another than that of the start.
    Timed,
    /// A sitting began.
    Started,
}

/// One claim.
#[derive(Clone, Debug)]
pub(crate) struct Claim {
    /// What.
    pub kind: Kind,
    /// In which segment.
    pub segment: usize,
    /// It is said of an earlier time.
    pub past: bool,
    /// It is said of the present outright ('there is', 'still').
    pub present: bool,
    /// It is said of now, in contrast to before.
    pub now: bool,
    /// A clock time or a duration is said with it.
    pub timed: bool,
    /// It is of a look that is planned, not of one that was not made.
    pub planned: bool,
    /// It is hedged: might be, somebody wrote.
    pub hedged: bool,
    /// It is of warmth, not of a colour.
    pub warm: bool,
    /// Where.
    pub sites: Vec<Site>,
}

/// All claims of a reply, and the sites of each segment.
pub(crate) fn claims(segments: &[Segment]) -> (Vec<Claim>, Vec<Vec<Site>>) {
    let sites = whereabouts::sites(segments);
    let mut maker = Maker { segments, sites: &sites, out: Vec::new(), at: 0 };
    for at in 0..segments.len() {
        maker.at = at;
        maker.claim_segment();
    }
    (maker.out, sites)
}

pub(super) struct Maker<'a> {
    pub(super) segments: &'a [Segment<'a>],
    sites: &'a [Vec<Site>],
    pub(super) out: Vec<Claim>,
    pub(super) at: usize,
}

impl<'a> Maker<'a> {
    pub(super) fn segment(&self) -> &'a Segment<'a> {
        &self.segments[self.at]
    }

    /// What stands before it in the same sentence.
    pub(super) fn before_in_sentence(&self) -> Option<&'a Segment<'a>> {
        let before = &self.segments[self.at.checked_sub(1)?];
        (before.sentence == self.segment().sentence).then_some(before)
    }

    pub(super) fn push(&mut self, kind: Kind) {
        let segment = self.segment();
        let timed = segment
            .items
            .iter()
            .any(|item| matches!(item.value, Value::Clock(_) | Value::Minutes(_)))
            || segment
                .items
                .windows(2)
                .any(|pair| pair[0].is(C::Within) && matches!(pair[1].value, Value::Number(_)));
        let claim = Claim {
            kind,
            segment: self.at,
            past: segment.says(C::Past),
            present: (segment.says_any(&[C::Present, C::Still, C::Lasts]) || kind == Kind::Fading)
                && !segment.says(C::Past),
            now: segment.says(C::Now) || timed || self.looked_again(),
            timed,
            planned: segment.says(C::PlanLook) && !segment.has_place(),
            hedged: segment.says_any(&[C::Maybe, C::Says]),
            warm: segment.says(C::Warm) && !segment.says_any(&[C::Mark, C::Colour]),
            sites: self.sites[self.at].clone(),
        };
        if !self.out.iter().any(|c| c.segment == self.at && c.kind == kind) {
            self.out.push(claim);
        }
    }

    /// 'Nothing when I looked again': the side clause tells that it is of the later look.
    fn looked_again(&self) -> bool {
        let segment = self.segment();
        let looks_again = |side: &Segment| side.says_any(&[C::Look, C::See]) && side.says(C::Now);
        let after = self
            .segments
            .get(self.at + 1)
            .filter(|next| next.sentence == segment.sentence && next.joint == Joint::Because);
        // 'Looked again before his nap and no stripe'.
        let goes_on = matches!(segment.joint, Joint::And | Joint::Comma);
        let before = self.before_in_sentence().filter(|_| goes_on);
        after.is_some_and(looks_again) || before.is_some_and(looks_again)
    }

    /// Whether pressing on the skin is spoken of: in the sentence, before or just behind, or in a
    /// short one before ('Pressed it. Went white.').
    pub(super) fn pressed(&self) -> bool {
        let sentence = self.segment().sentence;
        let near = |i: usize, s: &Segment| {
            let before = i < self.at && s.items.len() <= PRESSED_ITEMS_MAX;
            let far = i.abs_diff(self.at) > 2;
            let within = s.sentence == sentence && (!far || i < self.at);
            within || before && !far
        };
        self.segments.iter().enumerate().any(|(i, s)| near(i, s) && s.says(C::Press))
    }

    fn claim_segment(&mut self) {
        let before = self.out.len();
        if self.segment().question {
            return self.question();
        }
        if self.leans_back() {
            return;
        }
        if self.segment().says_any(&[C::Believed, C::Awaited]) && self.believed() {
            return;
        }
        let gone = self.changes();
        self.signs(gone);
        self.calm();
        self.look();
        self.sitting();
        self.doubt();
        self.unaccounted(before);
        self.timed();
    }

    /// A question states nothing, but 'is this blister bad?' has a blister.
    fn question(&mut self) {
        let segment = self.segment();
        let pointed = segment.has_place() || segment.says_any(&[C::It, C::Definite, C::Article]);
        let found = (0..segment.items.len())
            .filter_map(|i| sign_at(segment, i))
            .filter(|(_, stance)| *stance != Stance::Denied)
            .max_by_key(|(sign, _)| *sign);
        match found {
            Some((Sign::Alarm, _)) if pointed => self.push(Kind::Alarm),
            Some((Sign::Alarm, _)) => self.push(Kind::PerhapsAlarm),
            // 'Is it normal for it to be a bit pink?': it is.
            Some((Sign::Mark, Stance::Plain)) if segment.says(C::Wonder) => self.push(Kind::Mark),
            Some(_) => self.push(Kind::Doubt),
            None if segment.says(C::PlanLook) => self.push(Kind::NotLooked),
            None => {}
        }
    }

    /// 'I thought it had gone': what was believed is not claimed; 'I thought I would find a mark'
    /// neither. 'I thought it looked red' is.
    fn believed(&mut self) -> bool {
        let segment = self.segment();
        let (alarm, mark) = (self.worst(Sign::Alarm), self.worst(Sign::Mark));
        // 'We thought the seam might have marked her, but no'.
        let denied = segment.says(C::Maybe)
            && self.segments.get(self.at + 1).is_some_and(|next| {
                next.joint == Joint::But && next.says_any(&[C::Not, C::No, C::Nothing])
            });
        let expected = segment.says_any(&[C::Will, C::Awaited]) || !(alarm || mark) || denied;
        if !expected {
            return false;
        }
        if alarm {
            self.push(Kind::PerhapsAlarm);
        }
        true
    }

    pub(super) fn worst(&self, level: Sign) -> bool {
        let segment = self.segment();
        (0..segment.items.len())
            .filter_map(|i| sign_at(segment, i))
            .any(|(sign, stance)| sign == level && matches!(stance, Stance::Plain))
    }

    /// 'He did have a sore there two years ago': history, and nothing of today beside it.
    fn is_long_ago(&self) -> bool {
        let segment = self.segment();
        let goes_on = [C::Now, C::Still, C::Since, C::Lasts, C::Lasted, C::Returned, C::Same];
        segment.says(C::LongAgo) && segment.says(C::Past) && !segment.says_any(&goes_on)
    }

    /// What a fever or another whole-body sign claims: nothing where it was long ago or has gone,
    /// perhaps an alarm where it is said of earlier today.
    fn illness(&self, sign: Sign, i: usize) -> Option<Kind> {
        let segment = self.segment();
        let gone = segment.items[i + 1..].iter().any(|item| item.is_any(&[C::Gone, C::NoMore]));
        if segment.says(C::LongAgo) || gone {
            return None;
        }
        let goes_on = [C::Now, C::Present, C::Still, C::Since, C::Lasted];
        if segment.says(C::Past) && !segment.says_any(&goes_on) && !self.sentence_says(C::NoSitting)
        {
            return Some(Kind::PerhapsAlarm);
        }
        Some(if sign == Sign::Ill { Kind::Ill } else { Kind::Fever })
    }

    /// Signs that are there, denied or in doubt.
    fn signs(&mut self, spoken_for: bool) {
        let segment = self.segment();
        let mut kinds: Vec<Kind> = Vec::new();
        for i in 0..segment.items.len() {
            let Some((sign, stance)) = sign_at(segment, i) else { continue };
            let kind = match (sign, stance) {
                (Sign::Alarm, Stance::Plain)
                    if self.is_long_ago() && !segment.items[i].is(C::NonBlanching) =>
                {
                    Kind::OldAlarm
                }
                (Sign::Alarm, Stance::Plain) => Kind::Alarm,
                (Sign::Alarm, Stance::Denied) => Kind::HalfCalm,
                (Sign::Alarm, Stance::Doubtful) => Kind::PerhapsAlarm,
                (Sign::Alarm, Stance::Ended) => Kind::PerhapsAlarm,
                (Sign::Alarm, Stance::Sought | Stance::Supposed) => continue,
                (Sign::Fever | Sign::Ill, Stance::Plain) => match self.illness(sign, i) {
                    Some(kind) => kind,
                    None => continue,
                },
                (Sign::Fever | Sign::Ill, Stance::Doubtful) => Kind::PerhapsAlarm,
                (Sign::Fever | Sign::Ill, _) => continue,
                (Sign::Mark, Stance::Plain) if spoken_for => continue,
                (Sign::Mark, Stance::Plain) => Kind::Mark,
                (Sign::Mark, Stance::Denied)
                    if segment.says_any(&[C::Maybe, C::Think])
                        || segment.says(C::Reported) && !self.sentence_says(C::Look) =>
                {
                    Kind::Doubt
                }
                (Sign::Mark, Stance::Denied)
                    if segment.items[..i].iter().any(|w| w.is(C::Will)) =>
                {
                    continue;
                }
                (Sign::Mark, Stance::Denied) if segment.items[i].guessed || segment.queried => {
                    Kind::Doubt
                }
                (Sign::Mark, Stance::Denied) => Kind::Calm,
                (Sign::Mark, Stance::Ended) => Kind::Gone,
                (Sign::Mark, Stance::Doubtful) => Kind::Doubt,
                (Sign::Mark, Stance::Sought) => continue,
                (Sign::Mark, Stance::Supposed) => continue,
                (Sign::Vague, Stance::Plain) if segment.has_place() || segment.says(C::Colour) => {
                    Kind::Mark
                }
                (Sign::Vague, Stance::Plain) => Kind::Doubt,
                // 'Not really changed' is no calm where there was a mark.
                (Sign::Vague, Stance::Denied)
                    if segment.items[i].is(C::Change) && !segment.says(C::Skin) =>
                {
                    Kind::Same
                }
                (Sign::Vague, Stance::Denied) => Kind::Calm,
                (Sign::Vague, Stance::Doubtful) => Kind::Doubt,
                (Sign::Vague, _) => continue,
            };
            kinds.push(kind);
        }
        for kind in kinds {
            self.push(kind);
        }
    }
}

/// Whether a segment goes on a thought that excepts something.
pub(crate) fn excepts(segment: &Segment) -> bool {
    matches!(segment.joint, Joint::But | Joint::Except)
}
