//! Clock times as people write them: `13:30`, `1330`, `3.40pm`, `16h20`, `quarter past 12`,
//! `half 7`, `ten to eleven`, `5 o'clock this afternoon`.
//!
//! Never here: dates, time zones, what happened then.
//! Promises: a time read is a time of day; a bare number is one only after a word like 'at'.

use chrono::NaiveTime;

use super::concept::Concept;
use super::lexicon::Lexicon;
use super::numeral::numeral;
use super::pattern::{Element, expand};
use super::phrase::phrase_concepts;
use super::spelling::Word;
use super::token::TokenKind;

/// Hours before this one that are said without a half of the day are after noon: nobody looks at
/// skin at three in the morning without saying so.
const LATEST_AFTERNOON_HOUR: u32 = 6;

/// A number and how many words it takes.
type Head = Option<(u32, usize)>;

/// A way to say a time in words.
#[derive(Clone, Debug)]
pub(crate) struct ClockSaying {
    elements: Vec<Element>,
    minute: MinuteOf,
}

#[derive(Clone, Copy, Debug)]
enum MinuteOf {
    /// So many minutes after the hour said (before it where negative).
    Fixed(i32),
    /// The minutes said.
    After,
    /// The minutes said, before the hour.
    Before,
    /// No hour is said: noon or midnight.
    Whole(u32),
    /// The hour is left out: so many minutes after the one that was spoken of.
    Open(u32),
}

impl ClockSaying {
    /// Reads the ways that one entry of a language file stands for.
    ///
    /// # Errors
    /// In words, when the entry is not one.
    pub(crate) fn parse(say: &str, minute: &str) -> Result<Vec<Self>, String> {
        let minute_of = match minute {
            "m" => MinuteOf::After,
            "-m" => MinuteOf::Before,
            _ => match (minute.strip_prefix('@'), minute.strip_prefix('+')) {
                (Some(hour), _) => MinuteOf::Whole(hour.parse().map_err(|_| bad(minute))?),
                (_, Some(minutes)) => MinuteOf::Open(minutes.parse().map_err(|_| bad(minute))?),
                _ => MinuteOf::Fixed(minute.parse().map_err(|_| bad(minute))?),
            },
        };
        let elements = expand(say)?;
        Ok(elements.into_iter().map(|elements| Self { elements, minute: minute_of }).collect())
    }

    /// The words in it.
    pub(crate) fn words(&self) -> impl Iterator<Item = &str> {
        self.elements.iter().filter_map(|element| match element {
            Element::Word(word) if !word.starts_with('{') => Some(word.as_str()),
            _ => None,
        })
    }

    /// The word that it opens with, unless that is a number.
    pub(crate) fn opener(&self) -> Option<&str> {
        match self.elements.first() {
            Some(Element::Word(word)) if !word.starts_with('{') => Some(word.as_str()),
            _ => None,
        }
    }

    /// `head` is the number that the words begin with: dozens of sayings ask for it.
    fn at(&self, lexicon: &Lexicon, words: &[Word], head: Head) -> Option<(Said, usize)> {
        let (mut hour, mut spoken, mut used) = (None, None, 0);
        let number = |used: usize, rest| if used == 0 { head } else { numeral(lexicon, rest) };
        for element in &self.elements {
            let rest = words.get(used..)?;
            match element {
                Element::Word(slot) if slot == "{h}" => {
                    let (value, length) = number(used, rest).filter(|(h, _)| *h <= 24)?;
                    hour = Some(value);
                    used += length;
                }
                Element::Word(slot) if slot == "{m}" => {
                    let (value, length) = number(used, rest).filter(|(m, _)| *m < 60)?;
                    spoken = Some(value);
                    used += length;
                }
                Element::Word(word) => {
                    rest.first().filter(|w| w.text == *word)?;
                    used += 1;
                }
                Element::Gap | Element::Number | Element::End => return None,
            }
        }
        let minutes = i32::try_from(spoken.unwrap_or(0)).ok()?;
        let (hour, offset) = match self.minute {
            MinuteOf::Fixed(offset) => (hour?, offset),
            MinuteOf::After => (hour?, minutes),
            MinuteOf::Before => (hour?, -minutes),
            MinuteOf::Whole(hour) => {
                return Some((Said { hour, minute: 0, sure: true, open: false }, used));
            }
            MinuteOf::Open(minute) => {
                return Some((Said { hour: 0, minute, sure: true, open: true }, used));
            }
        };
        let total = (i32::try_from(hour).ok()? * 60 + offset).rem_euclid(24 * 60);
        let (h, m) = (u32::try_from(total / 60).ok()?, u32::try_from(total % 60).ok()?);
        let hour_unsure = (1..=12).contains(&hour);
        // 'Ten to one' is 12:50, not 00:50.
        let h = if hour_unsure && h == 0 { 12 } else { h };
        Some((Said { hour: h, minute: m, sure: !hour_unsure, open: false }, used))
    }
}

fn bad(minute: &str) -> String {
    format!(
        "`minute = \"{minute}\"` is not a number, `m`, `-m`, `@` with an hour or `+` with minutes"
    )
}

/// A time as it was said; `sure` when the half of the day is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Said {
    hour: u32,
    minute: u32,
    sure: bool,
    /// The hour was left out: 'at half past'.
    open: bool,
}

impl Said {
    /// With the hour of the time spoken of before, where it was left out: the next such minute
    /// after it. None where it was left out and no time was spoken of.
    pub(crate) fn after(self, before: Option<Self>) -> Option<Self> {
        if !self.open {
            return Some(self);
        }
        let before = before?;
        let hour = before.hour + u32::from(self.minute <= before.minute);
        Some(Self { hour, minute: self.minute, ..before })
    }

    /// Whether the hour is said.
    pub(crate) fn is_whole(self) -> bool {
        !self.open
    }

    /// The time of day, helped by the words around it: whether they speak of the afternoon or of
    /// the morning.
    pub(crate) fn resolved(self, afternoon: bool, forenoon: bool) -> Option<NaiveTime> {
        let hour = match self.hour {
            12 if forenoon && !afternoon => 0,
            h if h < 12 && afternoon && !forenoon => h + 12,
            h @ 1..=LATEST_AFTERNOON_HOUR if !self.sure && !forenoon => h + 12,
            h => h,
        };
        NaiveTime::from_hms_opt(hour % 24, self.minute, 0)
    }
}

/// A clock time and how many words it takes.
pub(crate) fn clock(lexicon: &Lexicon, words: &[Word], after_at: bool) -> Option<(Said, usize)> {
    let head = numeral(lexicon, words);
    // 'At half past', 'at fifteen twenty': what only 'at' makes a time.
    let open = |saying: &&ClockSaying| {
        matches!(saying.minute, MinuteOf::Open(_)) || saying.words().next().is_none()
    };
    let sayings = lexicon.clock.iter().filter(|saying| after_at || !open(saying));
    let said = sayings.filter_map(|saying| saying.at(lexicon, words, head));
    if let Some(best) = said.max_by_key(|(_, used)| *used).filter(|(_, used)| *used > 1 || after_at)
        && !counts(lexicon, words.get(best.1))
    {
        return Some(best);
    }
    if words.first()?.kind == TokenKind::Word {
        return lexicon
            .clock
            .iter()
            .filter(|saying| matches!(saying.minute, MinuteOf::Whole(_)))
            .find_map(|saying| saying.at(lexicon, words, head))
            .or_else(|| bare_hour(lexicon, words, after_at));
    }
    digits(lexicon, words, after_at).or_else(|| bare_hour(lexicon, words, after_at))
}

/// Whether a word is a unit, so that the number before it counts something.
fn counts(lexicon: &Lexicon, word: Option<&Word>) -> bool {
    word.is_some_and(|w| {
        phrase_concepts(lexicon, std::slice::from_ref(w)).any(&[
            Concept::MinuteUnit,
            Concept::HourUnit,
            Concept::OtherUnit,
        ])
    })
}

fn is_half_of_day(lexicon: &Lexicon, word: Option<&Word>) -> bool {
    word.is_some_and(|w| lexicon.afternoon.contains(&w.text) || lexicon.forenoon.contains(&w.text))
}

fn digits(lexicon: &Lexicon, words: &[Word], after_at: bool) -> Option<(Said, usize)> {
    let first = words.first().filter(|w| w.kind == TokenKind::Number)?;
    let half = is_half_of_day(lexicon, words.get(1));
    if let Some((hour, minute)) = first.text.split_once([':', '.', 'h', ',']) {
        // '10.05hrs' is a time, '1.5hrs' how long.
        let of_day = hour.len() == 2 && is_hours(lexicon, words.get(1));
        let certain = first.text.contains([':', 'h']) || of_day;
        if minute.len() != 2 || !certain && counts(lexicon, words.get(1)) && !half {
            return None;
        }
        if first.text.contains(',') && !after_at {
            return None;
        }
        return said(hour, minute, hour.starts_with('0')).map(|said| (said, 1));
    }
    if first.text.len() == 4 {
        let (hour, minute) = first.text.split_at(2);
        let year = matches!(hour, "19" | "20") && !after_at && !half;
        if year || counts(lexicon, words.get(1)) && !is_hours(lexicon, words.get(1)) {
            return None;
        }
        return said(hour, minute, true).map(|said| (said, 1));
    }
    if half {
        return said(&first.text, "0", false).map(|said| (said, 1));
    }
    // '11-05 am'.
    let second = words.get(1).filter(|w| w.kind == TokenKind::Number && w.text.len() == 2)?;
    let of_day = first.text.len() <= 2 && is_half_of_day(lexicon, words.get(2));
    of_day.then(|| said(&first.text, &second.text, false)).flatten().map(|said| (said, 2))
}

fn is_hours(lexicon: &Lexicon, word: Option<&Word>) -> bool {
    word.is_some_and(|w| phrase_concepts(lexicon, std::slice::from_ref(w)).has(Concept::HourUnit))
}

fn said(hour: &str, minute: &str, sure: bool) -> Option<Said> {
    let (hour, minute) = (hour.parse::<u32>().ok()?, minute.parse::<u32>().ok()?);
    (hour < 24 && minute < 60).then_some(Said {
        hour,
        minute,
        sure: sure || hour > 12,
        open: false,
    })
}

/// `at 4`, `by three`: an hour of twelve, nothing counted by it.
fn bare_hour(lexicon: &Lexicon, words: &[Word], after_at: bool) -> Option<(Said, usize)> {
    let (hour, used) = numeral(lexicon, words).filter(|(h, _)| (1..=12).contains(h))?;
    // 'Nine a.m.'.
    if !after_at && !is_half_of_day(lexicon, words.get(used)) {
        return None;
    }
    // 'From one side': 'one' is rarely an hour without more.
    let one = hour == 1 && words.first().is_some_and(|w| w.kind == TokenKind::Word);
    // 'At 4ish' is an hour, 'at 4x' is not.
    let glued_on = words.get(used).is_some_and(|w| {
        let nearly = phrase_concepts(lexicon, std::slice::from_ref(w)).has(Concept::Partly);
        w.glued && w.kind == TokenKind::Word && !nearly
    });
    if one || counts(lexicon, words.get(used)) || glued_on {
        return None;
    }
    Some((Said { hour, minute: 0, sure: false, open: false }, used))
}
