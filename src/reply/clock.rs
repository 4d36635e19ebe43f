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
use super::phrase::concepts_alone;
use super::spelling::Word;
use super::token::TokenKind;
use super::vocabulary::{Vocabulary, WordId};

/// Hours before this one that are said without a half of the day are after noon: nobody looks at
/// skin at three in the morning without saying so.
const LATEST_AFTERNOON_HOUR: u32 = 6;

/// A number and how many words it takes.
type Head = Option<(u32, usize)>;

/// A way to say a time in words.
#[derive(Clone, Debug)]
pub(crate) struct ClockSaying {
    parts: Vec<Part>,
    minute: MinuteOf,
}

/// One element of a way to say a time.
#[derive(Clone, Copy, Debug)]
enum Part {
    Hour,
    Minute,
    Word(WordId),
    /// An element that no time is said with.
    Never,
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
    pub(crate) fn parse(
        say: &str,
        minute: &str,
        vocabulary: &mut Vocabulary,
    ) -> Result<Vec<Self>, String> {
        let minute_of = match minute {
            "m" => MinuteOf::After,
            "-m" => MinuteOf::Before,
            _ => match (minute.strip_prefix('@'), minute.strip_prefix('+')) {
                (Some(hour), _) => MinuteOf::Whole(hour.parse().map_err(|_| bad(minute))?),
                (_, Some(minutes)) => MinuteOf::Open(minutes.parse().map_err(|_| bad(minute))?),
                _ => MinuteOf::Fixed(minute.parse().map_err(|_| bad(minute))?),
            },
        };
        let mut part = |element: &Element| match element {
            Element::Word(word) if word == "{h}" => Part::Hour,
            Element::Word(word) if word == "{m}" => Part::Minute,
            Element::Word(word) => Part::Word(vocabulary.id(word)),
            Element::Gap | Element::Number | Element::End => Part::Never,
        };
        let sayings = expand(say)?.into_iter().map(|elements| Self {
            parts: elements.iter().map(&mut part).collect(),
            minute: minute_of,
        });
        Ok(sayings.collect())
    }

    /// The words in it.
    pub(crate) fn words(&self) -> impl Iterator<Item = WordId> {
        self.parts.iter().filter_map(|part| match part {
            Part::Word(word) => Some(*word),
            Part::Hour | Part::Minute | Part::Never => None,
        })
    }

    /// The word that it opens with, unless that is a number.
    pub(crate) fn opener(&self) -> Option<WordId> {
        self.word(0)
    }

    /// The word after the opening, unless that is a number or nothing.
    pub(crate) fn second(&self) -> Option<WordId> {
        self.word(1)
    }

    fn word(&self, at: usize) -> Option<WordId> {
        match self.parts.get(at) {
            Some(Part::Word(word)) => Some(*word),
            _ => None,
        }
    }

    /// `head` is the number that the words begin with: dozens of sayings ask for it.
    fn at(&self, words: &[Word], head: Head) -> Option<(Said, usize)> {
        let (mut hour, mut spoken, mut used) = (None, None, 0);
        let number = |used: usize, rest| if used == 0 { head } else { numeral(rest) };
        for part in &self.parts {
            let rest = words.get(used..)?;
            match part {
                Part::Hour => {
                    let (value, length) = number(used, rest).filter(|(h, _)| *h <= 24)?;
                    hour = Some(value);
                    used += length;
                }
                Part::Minute => {
                    let (value, length) = number(used, rest).filter(|(m, _)| *m < 60)?;
                    spoken = Some(value);
                    used += length;
                }
                Part::Word(word) => {
                    rest.first().filter(|w| w.entry.id == *word)?;
                    used += 1;
                }
                Part::Never => return None,
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
    let first = words.first()?;
    let head = numeral(words);
    // Dozens are known, of which few may stand here.
    let after = |(_, length): (u32, usize)| words.get(length).map(|word| word.entry.id);
    let next = head.and_then(after);
    let of_number = |second| head.and_then(|_| lexicon.sayings_of_number.get(second));
    let named = next.as_ref().and_then(|_| of_number(&next));
    let fitting = [Some(&first.entry.sayings), of_number(&None), named];
    let said = || {
        fitting.into_iter().flatten().flatten().filter_map(|at| {
            let saying = &lexicon.clock[*at];
            saying.at(words, head).map(|(said, used)| (*at, saying.minute, said, used))
        })
    };
    // 'At half past', 'at fifteen twenty': what only 'at' makes a time.
    let open = |at: usize, minute: &MinuteOf| {
        matches!(minute, MinuteOf::Open(_)) || lexicon.clock[at].words().next().is_none()
    };
    let best = said().filter(|(at, minute, ..)| after_at || !open(*at, minute));
    // Of equally long ones the last in the file.
    let best = best.max_by_key(|(at, _, _, used)| (*used, *at));
    if let Some((_, _, said, used)) = best.filter(|(.., used)| *used > 1 || after_at)
        && !counts(lexicon, words.get(used))
    {
        return Some((said, used));
    }
    if first.kind == TokenKind::Word {
        let whole = said().filter(|(_, minute, ..)| matches!(minute, MinuteOf::Whole(_)));
        return whole
            .min_by_key(|(at, ..)| *at)
            .map(|(_, _, said, used)| (said, used))
            .or_else(|| bare_hour(lexicon, words, after_at));
    }
    digits(lexicon, words, after_at).or_else(|| bare_hour(lexicon, words, after_at))
}

/// Whether a word is a unit, so that the number before it counts something.
fn counts(lexicon: &Lexicon, word: Option<&Word>) -> bool {
    word.is_some_and(|w| {
        concepts_alone(lexicon, w).any(&[
            Concept::MinuteUnit,
            Concept::HourUnit,
            Concept::OtherUnit,
        ])
    })
}

fn is_half_of_day(word: Option<&Word>) -> bool {
    word.is_some_and(|w| w.entry.is_half_of_day)
}

fn digits(lexicon: &Lexicon, words: &[Word], after_at: bool) -> Option<(Said, usize)> {
    let first = words.first().filter(|w| w.kind == TokenKind::Number)?;
    let half = is_half_of_day(words.get(1));
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
    let of_day = first.text.len() <= 2 && is_half_of_day(words.get(2));
    of_day.then(|| said(&first.text, &second.text, false)).flatten().map(|said| (said, 2))
}

fn is_hours(lexicon: &Lexicon, word: Option<&Word>) -> bool {
    word.is_some_and(|w| concepts_alone(lexicon, w).has(Concept::HourUnit))
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
    let (hour, used) = numeral(words).filter(|(h, _)| (1..=12).contains(h))?;
    // 'Nine a.m.'.
    if !after_at && !is_half_of_day(words.get(used)) {
        return None;
    }
    // 'From one side': 'one' is rarely an hour without more.
    let one = hour == 1 && words.first().is_some_and(|w| w.kind == TokenKind::Word);
    // 'At 4ish' is an hour, 'at 4x' is not.
    let glued_on = words.get(used).is_some_and(|w| {
        let nearly = concepts_alone(lexicon, w).has(Concept::Partly);
        w.glued && w.kind == TokenKind::Word && !nearly
    });
    if one || counts(lexicon, words.get(used)) || glued_on {
        return None;
    }
    Some((Said { hour, minute: 0, sure: false, open: false }, used))
}
