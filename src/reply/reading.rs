//! A reply's words → verdict: in the contact's language first, then in the others.
//!
//! Never here: mail, quotes, files.
//! Promises: the same words always give the same verdict; every verdict has its reasons; a reply
//! that was cut, or that another language reads worse, is never calm.

use super::Answering;
use super::automatic::automatic;
use super::caregiver::{self, Judgement};
use super::claim::{Claim, Kind, claims};
use super::clause::{Item, Joint, SEGMENT_ITEMS_MAX, Segment, Stance, Value, segments};
use super::clinician;
use super::concept::{Concept as C, Concepts};
use super::heard::Heard;
use super::languages::Languages;
use super::lexicons::Lexicons;
use super::second_language::worse_sentence;
use super::spelling::normal_words;
use super::stance::settle;
use super::tap_answer::{Spoken, tapped};
use super::times;
use super::token::{TOKENS_MAX, tokens};
use super::whereabouts;
use crate::care::{Reading, Site, Verdict};

/// Longest text that is read, in bytes; more is no answer, and what is cut makes it `unclear`.
pub const TEXT_BYTES_MAX: usize = 64 * 1024;

/// Most segments that are weighed; a reply of more is no answer and is never read calm.
const SEGMENTS_MAX: usize = 400;

/// Signs that nobody writes which may stand in a reply that is still read.
const DEBRIS_MAX: usize = 2;

/// A reply in which more than one of so many signs is one that nobody writes is not read.
const DEBRIS_SHARE: usize = 10;

/// A reply in which more than one of so many signs is one that nobody writes has no words.
const WRECK_SHARE: usize = 3;

/// Most reasons that are given.
const REASONS_MAX: usize = 12;

/// Another language is asked too when it knows at least this share of the words that the best one
/// knows, in percent.
const NEAR_SHARE_PERCENT: usize = 88;

/// A language that knows every word, in percent.
pub(super) const ALL_PERCENT: usize = 100;

/// The contact's own language is heard where another knows more words but understands nothing,
/// if it knows at least one word for so many of those.
const OWN_SHARE: usize = 3;

/// What a reply was read as, and why.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Read {
    /// The reading with what the reply states.
    pub verdict: Verdict,
    /// The words that led to it, in the order of the reply. Never empty.
    pub because: Vec<String>,
}

/// Reads a reply.
pub fn read(lexicons: &Lexicons, first_language: &str, answering: Answering, text: &str) -> Read {
    let (text, cut) = within_limit(text);
    let tokens = tokens(text);
    let cut = cut || tokens.len() >= TOKENS_MAX;
    let spoken = Spoken::new(&tokens);
    for lexicon in lexicons.in_order(first_language) {
        if let Some(tapped) = tapped(lexicon, answering, &tokens, &spoken) {
            let around = self::tokens(tapped.rest());
            let languages = Languages::new(lexicons, first_language, &around);
            let (rest, sites) = (read_untapped(&languages, answering), named_sites(&languages));
            return tapped.joined(rest, sites);
        }
    }
    let read = read_untapped(&Languages::new(lexicons, first_language, &tokens), answering);
    if cut && is_calm(read.verdict.reading) {
        return unclear("the reply is too long to be read to its end");
    }
    let believed = match state_of(text) {
        Writing::Sound => true,
        Writing::Mangled => read.verdict.reading.is_worrying(),
        // A mark read out of it would be called gone by the next answer, and earn credit.
        Writing::Wreck => matches!(read.verdict.reading, Reading::Persisting | Reading::Alarming),
    };
    if believed { read } else { unclear("too much of it arrived as signs that nobody writes") }
}

/// How much of a text is writing.
enum Writing {
    /// Nearly all of it. One or two broken signs, as a wrong character set makes of an accent, leave
    /// the rest readable.
    Sound,
    /// Bytes stand in it that are no writing: among them even plain letters say nothing calm.
    Mangled,
    /// So many that what looks like a word may be chance.
    Wreck,
}

fn state_of(text: &str) -> Writing {
    let is_debris =
        |c: &char| *c == char::REPLACEMENT_CHARACTER || c.is_control() && !c.is_whitespace();
    let debris = text.chars().filter(is_debris).count();
    let all = text.chars().count();
    if debris <= DEBRIS_MAX || debris * DEBRIS_SHARE < all {
        Writing::Sound
    } else if debris * WRECK_SHARE < all {
        Writing::Mangled
    } else {
        Writing::Wreck
    }
}

/// Reads a reply in the language that knows most of its words, and hears the others where they
/// know nearly as many.
fn read_untapped(languages: &Languages, answering: Answering) -> Read {
    if let Some(first) = languages.in_order().next() {
        // Where the first language has every word, the others are asked only of what is calm.
        let heard = languages.heard(first);
        if heard.share_known() == ALL_PERCENT {
            let read = read_in(&heard, answering);
            return if is_calm(read.verdict.reading) {
                hear_others(languages, answering, read, &languages.ranked())
            } else {
                read
            };
        }
    }
    let ranked = languages.ranked();
    let Some((best_share, best)) = ranked.first().copied() else {
        return unclear("no language was given to read it in");
    };
    let mut read = read_in(&languages.heard(best), answering);
    let own = ranked.iter().find(|(_, language)| Some(*language) == languages.own);
    if read.verdict.reading == Reading::Unclear
        && let Some((share, own)) = own.filter(|(share, _)| share * OWN_SHARE >= best_share)
        && *own != best
        && *share > 0
    {
        // 'Hello, sin marcas, kind regards': the greeting is in another language than the answer.
        let in_own = read_in(&languages.heard(*own), answering);
        if in_own.verdict.reading != Reading::Unclear {
            read = in_own;
        }
    }
    hear_others(languages, answering, read, &ranked)
}

/// What was read in the best language, or what another hears worse.
fn hear_others(
    languages: &Languages,
    answering: Answering,
    mut read: Read,
    ranked: &[(usize, usize)],
) -> Read {
    let [(best_share, best), others @ ..] = ranked else { return read };
    for (share, language) in others {
        if *share > 0
            && share * 100 >= best_share * NEAR_SHARE_PERCENT
            && is_calm(read.verdict.reading)
        {
            let other = read_in(&languages.heard(*language), answering);
            if is_worse(other.verdict.reading, read.verdict.reading) {
                read = other;
            }
        }
    }
    if is_calm(read.verdict.reading)
        && let Some(worse) = worse_sentence(languages, languages.heard(*best), answering)
    {
        return worse;
    }
    read
}

/// All sites that a text names.
fn named_sites(languages: &Languages) -> Vec<Site> {
    let Some((_, best)) = languages.ranked().first().copied() else { return Vec::new() };
    let heard = languages.heard(best);
    let words = normal_words(&heard);
    drop_vaguer(whereabouts::sites(&segments(heard.lexicon, &words, Concepts::default())).concat())
}

fn within_limit(text: &str) -> (&str, bool) {
    if text.len() <= TEXT_BYTES_MAX {
        return (text, false);
    }
    let end = (0..=TEXT_BYTES_MAX).rev().find(|i| text.is_char_boundary(*i)).unwrap_or(0);
    (&text[..end], true)
}

/// What is given as the reason where no word led to anything.
pub(super) const NOTHING_SAID: &str = "nothing in it says what was seen or done";

pub(super) fn unclear(why: &str) -> Read {
    Read { verdict: Verdict::bare(Reading::Unclear), because: vec![why.to_owned()] }
}

/// Whether the reading lets things go on as they are, so that a mark missed behind it would harm.
fn is_calm(reading: Reading) -> bool {
    matches!(
        reading,
        Reading::Clear
            | Reading::Faded
            | Reading::Started
            | Reading::NoSitting
            | Reading::NotLooked
            | Reading::Resume
            | Reading::Close
    )
}

pub(super) fn is_worse(other: Reading, calm: Reading) -> bool {
    matches!(
        other,
        Reading::Alarming | Reading::Persisting | Reading::Marked | Reading::KeepStopped
    ) && is_calm(calm)
}

pub(super) fn read_in(heard: &Heard, answering: Answering) -> Read {
    let lexicon = heard.lexicon;
    let words = normal_words(heard);
    let mut segments = segments(lexicon, &words, unsaid(answering));
    let breathless = segments.iter().any(|s| s.items.len() >= SEGMENT_ITEMS_MAX);
    let cut = segments.len() > SEGMENTS_MAX || breathless;
    segments.truncate(SEGMENTS_MAX);
    settle(&mut segments);
    if let Some(led) = automatic(&segments) {
        return because(Verdict::bare(Reading::Automatic), &segments, &led);
    }
    if answering == Answering::Alert {
        let read = read_clinician(&segments);
        let calm = cut && is_calm(read.verdict.reading);
        return if calm { unclear("the reply is too long to be weighed") } else { read };
    }
    let (claims, sites) = claims(&segments);
    let mut judgement = caregiver::judge(answering, &segments, &claims);
    if is_calm(judgement.reading) && (cut || lists_options(&segments)) {
        judgement.reading = Reading::Unclear;
    }
    let mut led: Vec<usize> = judgement.led.iter().map(|i| claims[*i].segment).collect();
    led.sort_unstable();
    led.dedup();
    let mut verdict = Verdict::bare(judgement.reading);
    if judgement.reading.finding().is_some_and(|f| f != crate::care::Finding::Clear) {
        verdict.sites = found_sites(&claims, &sites, &segments);
        if verdict.sites.is_empty() && judgement.reading == Reading::Faded {
            // 'No redness over the sacrum' at a recheck says where the mark was.
            let told = led.iter().flat_map(|s| {
                // 'Sacrum: no redness'.
                let headed = segments[*s].joint == Joint::Colon && *s > 0;
                let head = if headed { sites[*s - 1].clone() } else { Vec::new() };
                [head, sites[*s].clone()].concat()
            });
            verdict.sites = drop_vaguer(told.collect());
        }
        verdict.minutes = times::minutes(&segments, &led, judgement.reading);
    }
    let timed = judgement.reading.finding().is_some() || judgement.reading == Reading::Started;
    if timed {
        verdict.stated_at = times::stated_at(lexicon, &words, &segments, &led, answering);
    }
    because(verdict, &segments, &led)
}

/// What those who answer such a message never say: a caregiver gives no clinician's orders, a
/// clinician makes no excuses for a look. Their phrases must not take each other's words.
fn unsaid(answering: Answering) -> Concepts {
    Concepts::all_of(match answering {
        Answering::Start | Answering::Look | Answering::Recheck => {
            &[C::Stop, C::Close, C::FollowUp, C::CloseAll, C::Resume, C::Seen, C::Act]
        }
        Answering::Alert => &[
            C::NotLooked,
            C::PlanLook,
            C::NotNow,
            C::NoView,
            C::PartLook,
            C::NoSitReason,
            C::NoSitting,
            C::Undone,
        ],
    })
}

fn read_clinician(segments: &[Segment]) -> Read {
    let Judgement { reading, led } = clinician::judge(segments);
    let mut verdict = Verdict::bare(reading);
    if reading.is_clinicians() {
        let (claims, sites) = claims(segments);
        verdict.sites = found_sites(&claims, &sites, segments);
        let gone: Vec<usize> = claims
            .iter()
            .filter(|c| {
                matches!(c.kind, Kind::Gone | Kind::Lasting)
                    && segments[c.segment].says_any(&[C::Gone, C::Lasts])
            })
            .map(|c| c.segment)
            .collect();
        verdict.minutes =
            gone.iter().find_map(|s| times::minutes(&segments[*s..=*s], &[0], reading));
        if reading == Reading::Resume {
            verdict.step = times::step(segments, &led);
        }
    }
    because(verdict, segments, &led)
}

/// '1 no marks 2 red 3 broken skin': the choices themselves, copied.
fn lists_options(segments: &[Segment]) -> bool {
    let mut wanted = 1;
    for item in segments.iter().flat_map(|segment| &segment.items) {
        if item.value == Value::Number(wanted) {
            wanted += 1;
        }
    }
    wanted > 3
}

/// Sites named with a finding: all but those that only a calm claim names.
fn found_sites(claims: &[Claim], sites: &[Vec<Site>], segments: &[Segment]) -> Vec<Site> {
    let mut out: Vec<Site> = Vec::new();
    let found = |kind: Kind| {
        matches!(
            kind,
            Kind::Alarm
                | Kind::PerhapsAlarm
                | Kind::Mark
                | Kind::Lasting
                | Kind::Fading
                | Kind::Gone
                | Kind::Fever
                | Kind::Ill
                | Kind::Same
        )
    };
    let any_found = claims.iter().any(|c| found(c.kind));
    for (i, named) in sites.iter().enumerate() {
        let own: Vec<Kind> = claims.iter().filter(|c| c.segment == i).map(|c| c.kind).collect();
        // 'L heel: nothing'.
        let headed = segments.get(i + 1).is_some_and(|next| {
            next.joint == Joint::Colon && next.sentence == segments[i].sentence && own.is_empty()
        });
        let calmed = |k: &Kind| matches!(k, Kind::Calm | Kind::HalfCalm);
        let calm_below = headed
            && claims.iter().any(|c| c.segment == i + 1)
            && claims.iter().filter(|c| c.segment == i + 1).all(|c| calmed(&c.kind));
        let calm = calm_below
            || own.iter().any(|k| matches!(k, Kind::Calm)) && !own.iter().any(|k| found(*k));
        let loose = own.iter().all(|k| !found(*k))
            && !calm
            && any_found
            && !segments[i].says(C::OffSeat)
            && !lists_calm(claims, segments, i)
            && !is_said_well(&segments[i])
            && !segments[i].items.iter().any(|p| p.place.is_some() && p.stance == Stance::Denied);
        if own.iter().any(|k| found(*k)) || loose {
            for site in named {
                if !out.contains(site) {
                    out.push(*site);
                }
            }
        }
    }
    drop_vaguer(out)
}

/// 'The right one is fine': nothing was found where something is called good.
fn is_said_well(segment: &Segment) -> bool {
    let where_at = |item: &Item| item.place.is_some() || item.is_any(&[C::Left, C::Right, C::Both]);
    let Some(at) = segment.items.iter().position(where_at) else { return false };
    segment.items[at..].iter().any(|item| item.is(C::Okay) && item.stance == Stance::Plain)
}

/// 'No marks on hips, bottom or heels': places that go on a list of what is calm.
fn lists_calm(claims: &[Claim], segments: &[Segment], i: usize) -> bool {
    let joined = |k: usize| {
        matches!(segments[k].joint, Joint::Comma | Joint::Or | Joint::And)
            && segments[k].sentence == segments[i].sentence
    };
    let mut k = i;
    while k > 0 && joined(k) {
        k -= 1;
        let mut own = claims.iter().filter(|c| c.segment == k).peekable();
        if own.peek().is_some() {
            let goes_on = segments[k].items.last().is_some_and(|item| item.place.is_some());
            return goes_on
                && own.all(|c| matches!(c.kind, Kind::Calm | Kind::HalfCalm | Kind::Looked));
        }
    }
    false
}

/// 'Sit bone … the left one': a site without a side is dropped beside the same with one.
fn drop_vaguer(sites: Vec<Site>) -> Vec<Site> {
    let sided = |site: &Site| {
        sites.iter().any(|other| other.place() == site.place() && other.side().is_some())
    };
    let mut kept: Vec<Site> =
        sites.iter().copied().filter(|s| s.side().is_some() || !sided(s)).collect();
    kept.sort();
    kept
}

fn because(verdict: Verdict, segments: &[Segment], led: &[usize]) -> Read {
    let mut because: Vec<String> = led
        .iter()
        .map(|i| segments[*i].raw())
        .filter(|words| !words.is_empty())
        .take(REASONS_MAX)
        .collect();
    if because.is_empty() {
        because.push(NOTHING_SAID.to_owned());
    }
    Read { verdict, because }
}
