//! What simulated people write: sentences that can mean one thing only.
//!
//! Never here: reading them (that is what is tested), who writes when.
//! Promises: every sentence is invented; each reads as it is meant, which a test holds against
//! the shipped lexicons.

use super::dice::Dice;
use crate::care::Reading;

/// Sentences of one reading in one language. `{m}` stands for minutes, `{t}` for a time of day.
struct Said {
    language: &'static str,
    reading: Reading,
    sentences: &'static [&'static str],
}

const SAID: &[Said] = &[
    Said {
        language: "en",
        reading: Reading::Clear,
        sentences: &[
            "No marks, I checked everywhere.",
            "All clear, nothing to see.",
            "I looked at both sides, no marks at all.",
        ],
    },
    Said {
        language: "en",
        reading: Reading::Marked,
        sentences: &[
            "There is a red patch on the left sit bone.",
            "I can see a darker patch on the left heel.",
            "Yes, a pink mark on the tailbone.",
        ],
    },
    Said {
        language: "en",
        reading: Reading::Faded,
        sentences: &[
            "There was a mark on the left sit bone, it was gone after {m} minutes.",
            "Red mark on the right sit bone, faded after {m} minutes.",
        ],
    },
    Said {
        language: "en",
        reading: Reading::Persisting,
        sentences: &[
            "The mark is still there.",
            "Still red on the left sit bone.",
            "It has not faded.",
            "The redness hasn't gone away.",
            "It is bigger than before.",
        ],
    },
    Said {
        language: "en",
        reading: Reading::Alarming,
        sentences: &[
            "There is a blister on the left heel.",
            "The skin is broken over the tailbone.",
            "It has gone purple and hard on the left sit bone.",
        ],
    },
    Said {
        language: "en",
        reading: Reading::NotLooked,
        sentences: &[
            "I have not looked yet.",
            "Haven't had a chance to check yet, will do it later.",
        ],
    },
    Said {
        language: "en",
        reading: Reading::NoSitting,
        sentences: &["He did not sit today.", "No sitting this time, she stayed in bed."],
    },
    Said {
        language: "en",
        reading: Reading::Started,
        sentences: &["We have started.", "Sitting started at {t}."],
    },
    Said {
        language: "en",
        reading: Reading::Unclear,
        sentences: &["Can you call me?", "What do you mean by that?"],
    },
    Said {
        language: "en",
        reading: Reading::Seen,
        sentences: &["Seen, thank you.", "Got it, I will look into this."],
    },
    Said {
        language: "en",
        reading: Reading::Resume,
        sentences: &["Resume sitting.", "Resume at step 1.", "Sitting may start again."],
    },
    Said {
        language: "en",
        reading: Reading::KeepStopped,
        sentences: &["Keep stopped.", "Keep her off the seat."],
    },
    Said {
        language: "en",
        reading: Reading::Close,
        sentences: &["Close the follow-up.", "Please close this follow-up."],
    },
    Said {
        language: "es",
        reading: Reading::Clear,
        sentences: &["Sin marcas, he mirado todo.", "Todo bien, no hay ninguna marca."],
    },
    Said {
        language: "es",
        reading: Reading::Marked,
        sentences: &["Hay una marca roja en el talón izquierdo."],
    },
    Said {
        language: "es",
        reading: Reading::Faded,
        sentences: &["La marca desapareció a los {m} minutos."],
    },
    Said { language: "es", reading: Reading::Persisting, sentences: &["La marca sigue ahí."] },
    Said {
        language: "es",
        reading: Reading::Alarming,
        sentences: &["Hay una ampolla en el talón izquierdo."],
    },
    Said { language: "es", reading: Reading::NotLooked, sentences: &["Todavía no he mirado."] },
    Said { language: "es", reading: Reading::NoSitting, sentences: &["Hoy no se ha sentado."] },
    Said { language: "es", reading: Reading::Started, sentences: &["Hemos empezado."] },
    Said { language: "es", reading: Reading::Unclear, sentences: &["¿Me puede llamar?"] },
];

/// Replies that say two things; each is to be taken for the worse one.
const CONTRADICTIONS: &[(Reading, &str)] = &[
    (Reading::Alarming, "No marks at first, but now there is a blister on the left heel."),
    (Reading::Marked, "Clear on the right, but there is a red patch on the left sit bone."),
];

/// Words around an answer that change nothing, by language.
const PLEASANTRIES: &[(&str, &str, &str)] = &[
    ("en", "", ""),
    ("en", "", ""),
    ("en", "Hello,\n\n", "\n\nKind regards"),
    ("en", "", "\n\nThanks"),
    ("en", "Good morning. ", ""),
    ("es", "", ""),
    ("es", "Hola,\n\n", "\n\nSaludos"),
    ("es", "", "\n\nGracias"),
];

/// A sentence with a meaning.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Words {
    /// What is meant.
    pub means: Reading,
    /// The minutes that it states.
    pub minutes: Option<u32>,
    /// The words themselves.
    pub text: String,
}

/// The numbers that a sentence may state.
#[derive(Clone, Copy, Debug)]
pub struct Numbers<'a> {
    /// Minutes until a mark was gone.
    pub minutes: u32,
    /// A time of day.
    pub time: &'a str,
}

/// Puts a reading into words, in a language that has a sentence for it, else in English.
///
/// # Panics
/// When not even English has one, which a test excludes for every reading that people write.
pub fn words(dice: &mut Dice, language: &str, reading: Reading, numbers: Numbers<'_>) -> Words {
    let of = |language: &str| {
        SAID.iter().find(|said| said.language == language && said.reading == reading)
    };
    let said = of(language).or_else(|| of("en"));
    let said = said.expect("OK because English has words for every reading that people write");
    let template = *dice.pick(said.sentences);
    let minutes = template.contains("{m}").then_some(numbers.minutes);
    let bare = template.replace("{m}", &numbers.minutes.to_string()).replace("{t}", numbers.time);
    let around: Vec<_> =
        PLEASANTRIES.iter().filter(|(language, ..)| *language == said.language).collect();
    let (_, before, after) = **dice.pick(&around);
    Words { means: reading, minutes, text: format!("{before}{bare}{after}") }
}

/// A reply that says two things, with the worse of them.
pub fn contradiction(dice: &mut Dice) -> Words {
    let (means, text) = *dice.pick(CONTRADICTIONS);
    Words { means, minutes: None, text: text.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reply::{Answering, Lexicons, read};

    fn answering(reading: Reading) -> Answering {
        match reading {
            Reading::Started => Answering::Start,
            Reading::Persisting => Answering::Recheck,
            reading if reading.is_clinicians() => Answering::Alert,
            _ => Answering::Look,
        }
    }

    #[test]
    fn every_sentence_reads_as_it_is_meant_whatever_stands_around_it() {
        let lexicons = Lexicons::shipped();
        let known = |language: &str| lexicons.get(language).is_some();
        for said in SAID.iter().filter(|said| known(said.language)) {
            for sentence in said.sentences {
                for (_, before, after) in
                    PLEASANTRIES.iter().filter(|(language, ..)| *language == said.language)
                {
                    let text = sentence.replace("{m}", "12").replace("{t}", "09:05");
                    let text = format!("{before}{text}{after}");
                    let found = read(&lexicons, said.language, answering(said.reading), &text);
                    assert_eq!(found.verdict.reading, said.reading, "{text}");
                }
            }
        }
        for (means, text) in CONTRADICTIONS {
            let found = read(&lexicons, "en", Answering::Look, text);
            assert_eq!(found.verdict.reading, *means, "{text}");
        }
    }

    #[test]
    fn english_has_words_for_every_reading_that_people_write() {
        let mut dice = Dice::new(1, 1);
        let numbers = Numbers { minutes: 5, time: "09:00" };
        for reading in Reading::ALL.into_iter().filter(|reading| *reading != Reading::Automatic) {
            assert_eq!(words(&mut dice, "fr", reading, numbers).means, reading);
        }
    }
}
