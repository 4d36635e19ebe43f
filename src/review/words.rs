//! The words about a fitting in one language, from `fitting.toml` in its language folder.
//!
//! Never here: which word is said when; names of sites (those are in the wording of notices).
//! Promises: words that load are complete; each text has exactly the slots that are filled; all
//! problems of a file are told at once.

use std::collections::BTreeMap;

use crate::care::fitting::{Check, Clearance};

/// The name of the file within the folder of its language.
const FILE: &str = "fitting.toml";
/// The language that serves where another is not at hand.
const FALLBACK: &str = "en";

const SHIPPED: [(&str, &str); 4] = [
    ("de", include_str!("../../config/languages/de/fitting.toml")),
    ("en", include_str!("../../config/languages/en/fitting.toml")),
    ("es", include_str!("../../config/languages/es/fitting.toml")),
    ("fr", include_str!("../../config/languages/fr/fitting.toml")),
];

/// Every text with its slots, beside those of each check.
const CATALOGUE: &[(&str, &[&str])] = &[
    ("decimal", &[]),
    ("side.left", &[]),
    ("side.right", &[]),
    ("side.both", &[]),
    ("result.ok", &[]),
    ("result.not-ok", &[]),
    ("result.not-checked", &[]),
    ("imprint.none", &[]),
    ("imprint.faint", &[]),
    ("imprint.deep", &[]),
    ("legs.spread", &[]),
    ("legs.together", &[]),
    ("legs.windswept", &[]),
    ("thigh_supports.none", &[]),
    ("thigh_supports.inner", &[]),
    ("thigh_supports.outer", &[]),
    ("thigh_supports.inner-and-outer", &[]),
    ("comfort_fill.used", &[]),
    ("comfort_fill.not-used", &[]),
    ("pelvis.not-checked", &[]),
    ("pelvis.level", &[]),
    ("pelvis.flexible-levelled", &["side"]),
    ("pelvis.flexible-not-levelled", &["side"]),
    ("pelvis.fixed-levelled", &["side"]),
    ("pelvis.fixed-not-levelled", &["side"]),
    ("clearance.not-found", &[]),
    ("clearance.by-hand", &["left", "right"]),
    ("clearance.by-feeler", &["left", "right", "imprint_left", "imprint_right"]),
    ("build_up", &["left", "right", "most"]),
    ("verdict.ready", &[]),
    ("verdict.not-ready", &[]),
    ("shortfall.not-checked", &["check"]),
    ("shortfall.not-ok", &["check"]),
    ("shortfall.pelvis-not-checked", &[]),
    ("shortfall.fixed-obliquity", &["side"]),
    ("shortfall.not-levelled", &["side"]),
    ("shortfall.clearance-under", &["side", "found", "least"]),
    ("shortfall.clearance-over", &["side", "found", "most"]),
    ("shortfall.imprint", &["side", "imprint", "most", "thickness"]),
    ("shortfall.build-up", &["pairs", "one_side"]),
    ("shortfall.comfort-fill", &["risk"]),
    ("shortfall.comfort-fill-unknown", &[]),
    ("next.check", &["check"]),
    ("next.check-pelvis", &[]),
    ("next.add-piece", &["side"]),
    ("next.add-pair", &[]),
    ("next.take-piece-out", &["side"]),
    ("next.measure-again", &["side"]),
    ("next.comfort-fill", &[]),
    ("next.other-size", &[]),
    ("next.seat-for-client", &["reason"]),
    ("reason.fixed-obliquity", &[]),
    ("reason.does-not-level", &[]),
    ("reason.no-piece-left", &[]),
    ("reason.build-up", &[]),
    ("line.fitted", &["date", "seat", "version"]),
    ("line.doubts", &["checks"]),
    ("line.in_spite_of", &[]),
    ("line.fit", &["clearance", "build_up", "comfort_fill"]),
    ("line.posture", &["pelvis", "legs", "supports"]),
    ("line.sites", &["off_loads", "loads"]),
    ("guide.source", &["text", "source"]),
    ("page.title", &[]),
    ("page.client", &[]),
    ("page.date", &[]),
    ("page.fitter", &[]),
    ("page.seat", &[]),
    ("page.version", &[]),
    ("page.risk", &[]),
    ("page.not-given", &[]),
    ("page.verdict", &[]),
    ("page.why", &[]),
    ("page.next", &[]),
    ("page.checks", &[]),
    ("page.check", &[]),
    ("page.result", &[]),
    ("page.note", &[]),
    ("page.record", &[]),
    ("page.clearance", &[]),
    ("page.build_up", &[]),
    ("page.pelvis", &[]),
    ("page.legs", &[]),
    ("page.thigh_supports", &[]),
    ("page.comfort_fill", &[]),
    ("page.off_loads", &[]),
    ("page.loads", &[]),
    ("page.values", &[]),
    ("page.values_clearance", &["least", "most"]),
    ("page.values_imprint", &["most", "thickness"]),
    ("page.values_build_up", &["pairs", "one_side"]),
    ("page.values_comfort_fill", &["levels"]),
    ("page.values_recheck", &[]),
    ("page.values_source", &[]),
    ("page.signature", &[]),
    ("page.caution", &[]),
];

/// The words about fittings in one language.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Words {
    code: String,
    texts: BTreeMap<String, String>,
}

/// The words about fittings in all languages at hand.
#[derive(Clone, Debug)]
pub struct FittingWords(BTreeMap<String, Words>);

/// What is wrong with a file of words.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum FittingWordsError {
    /// Not TOML, or something in it is no text.
    #[error("{file} cannot be read: {what}")]
    Malformed {
        /// The file.
        file: String,
        /// Why.
        what: String,
    },
    /// A text is missing or empty.
    #[error("{file}: `{key}` is missing or empty")]
    Missing {
        /// The file.
        file: String,
        /// The text's key.
        key: String,
    },
    /// A text that nothing uses.
    #[error("{file}: `{key}` is not used")]
    Unknown {
        /// The file.
        file: String,
        /// The text's key.
        key: String,
    },
    /// A slot is missing, or one too many.
    #[error("{file}: `{key}` must have exactly these slots: {slots}")]
    Slots {
        /// The file.
        file: String,
        /// The text's key.
        key: String,
        /// The slots, as they are written.
        slots: String,
    },
}

impl FittingWords {
    /// The shipped languages.
    pub fn shipped() -> Self {
        let words = SHIPPED.into_iter().map(|(code, text)| {
            let words = Words::parse(code, FILE, text)
                .expect("OK because a test reads every shipped file of words");
            (code.to_owned(), words)
        });
        Self(words.collect())
    }

    /// The words for a language tag: the tag's own, else its language without the region, else
    /// English.
    pub fn of(&self, tag: &str) -> &Words {
        let language = tag.split_once('-').map_or(tag, |(language, _)| language);
        [tag, language, FALLBACK]
            .into_iter()
            .find_map(|code| self.0.get(code))
            .expect("OK because English ships and is never removed")
    }
}

impl Words {
    /// Reads the words of a language. `file` is the name that problems carry.
    ///
    /// # Errors
    /// All problems of the file.
    pub fn parse(code: &str, file: &str, text: &str) -> Result<Self, Vec<FittingWordsError>> {
        let malformed =
            |what: String| vec![FittingWordsError::Malformed { file: file.to_owned(), what }];
        let table: toml::Table =
            text.parse().map_err(|error: toml::de::Error| malformed(error.to_string()))?;
        let mut texts = BTreeMap::new();
        flatten("", table, &mut texts).map_err(malformed)?;
        let mut problems = Vec::new();
        let wanted = wanted();
        for (key, slots) in &wanted {
            let (file, key) = (file.to_owned(), key.clone());
            match texts.get(&key).map(String::as_str) {
                None | Some("") => problems.push(FittingWordsError::Missing { file, key }),
                Some(text) if !has_slots(text, slots) => {
                    let slots: Vec<String> =
                        slots.iter().map(|slot| format!("{{{slot}}}")).collect();
                    let slots = if slots.is_empty() { "none".to_owned() } else { slots.join(", ") };
                    problems.push(FittingWordsError::Slots { file, key, slots });
                }
                Some(_) => {}
            }
        }
        for key in texts.keys().filter(|key| !wanted.contains_key(*key)) {
            problems.push(FittingWordsError::Unknown { file: file.to_owned(), key: key.clone() });
        }
        if problems.is_empty() { Ok(Self { code: code.to_owned(), texts }) } else { Err(problems) }
    }

    /// Every text that a file of words must have, with its slots, for a schema of the file.
    pub fn keys() -> impl Iterator<Item = (String, &'static [&'static str])> {
        wanted().into_iter()
    }

    /// The language's tag.
    pub fn code(&self) -> &str {
        &self.code
    }

    /// A line of the guide with the published source that it rests on. Common practice has none:
    /// the note under the lines says so once, for all of them.
    pub fn with_source(&self, text: &str, source: Option<&str>) -> String {
        match source {
            Some(source) => self.fill("guide.source", &[("text", text), ("source", source)]),
            None => text.to_owned(),
        }
    }

    /// A length as people of this language write it, such as `15,875 mm`.
    pub(super) fn length(&self, length: Clearance) -> String {
        length.for_people().replace('.', self.say("decimal"))
    }

    /// A text without slots.
    pub(super) fn say(&self, key: &str) -> &str {
        self.texts.get(key).expect("OK because words that load are complete")
    }

    /// A text with its slots filled. What fills a slot is never searched for slots itself.
    pub(super) fn fill(&self, key: &str, slots: &[(&str, &str)]) -> String {
        let mut out = String::new();
        let mut rest = self.say(key);
        while let Some((before, tail)) = rest.split_once('{') {
            let (name, after) = tail.split_once('}').unwrap_or((tail, ""));
            let filled = slots.iter().find(|(slot, _)| *slot == name);
            let (_, value) = filled.expect("OK because words that load have the catalogue's slots");
            out.push_str(before);
            out.push_str(value);
            rest = after;
        }
        out.push_str(rest);
        out
    }
}

/// Every key with its slots.
fn wanted() -> BTreeMap<String, &'static [&'static str]> {
    let catalogue = CATALOGUE.iter().map(|(key, slots)| ((*key).to_owned(), *slots));
    let checks = Check::ALL.into_iter().flat_map(|check| {
        [format!("check.{check}"), format!("put_right.{check}")].map(|key| (key, &[][..]))
    });
    catalogue.chain(checks).collect()
}

/// Tables within tables become keys with dots.
fn flatten(
    prefix: &str,
    table: toml::Table,
    texts: &mut BTreeMap<String, String>,
) -> Result<(), String> {
    for (name, value) in table {
        let key = format!("{prefix}{name}");
        match value {
            toml::Value::String(text) => {
                texts.insert(key, text);
            }
            toml::Value::Table(inner) => flatten(&format!("{key}."), inner, texts)?,
            _ => return Err(format!("`{key}` must be a text")),
        }
    }
    Ok(())
}

fn has_slots(text: &str, slots: &[&str]) -> bool {
    let mut found: Vec<&str> = Vec::new();
    let mut rest = text;
    while let Some((_, tail)) = rest.split_once('{') {
        let Some((name, after)) = tail.split_once('}') else { return false };
        found.push(name);
        rest = after;
    }
    slots.iter().all(|slot| found.contains(slot)) && found.iter().all(|name| slots.contains(name))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_shipped_language_has_all_words_about_fittings() {
        for (code, text) in SHIPPED {
            assert_eq!(Words::parse(code, FILE, text).map(|words| words.code), Ok(code.to_owned()));
        }
        assert_eq!(FittingWords::shipped().of("es-MX").code(), "es");
        assert_eq!(FittingWords::shipped().of("xx").code(), "en");
    }

    #[test]
    fn a_missing_text_a_wrong_slot_and_a_spare_text_are_all_told_at_once() {
        let (_, english) = SHIPPED[1];
        let text = english
            .replace("{side}", "{sdie}")
            .replace("[verdict]\nready = ", "[verdict]\nreday = ");
        let problems = Words::parse("en", "x.toml", &text).expect_err("it is spoilt");
        let told: Vec<String> = problems.iter().map(ToString::to_string).collect();
        assert!(told.contains(&"x.toml: `verdict.ready` is missing or empty".to_owned()));
        assert!(told.contains(&"x.toml: `verdict.reday` is not used".to_owned()));
        let slots = "x.toml: `next.add-piece` must have exactly these slots: {side}";
        assert!(told.contains(&slots.to_owned()), "{told:?}");
    }

    #[test]
    fn words_in_a_slot_are_never_taken_for_slots() {
        let words = FittingWords::shipped();
        let slots = [("date", "2026-03-05"), ("seat", "a {version} seat"), ("version", "abc")];
        assert!(words.of("en").fill("line.fitted", &slots).contains("a {version} seat"));
    }
}
