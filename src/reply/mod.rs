//! What people write back: words → reading, with the reasons.
//!
//! A reply becomes tokens (`token`), normal words of one language (`spelling`), items and segments
//! (`clause`), each with its stance — so, not so, no longer, if — (`stance`), then claims (`claim`,
//! `calm`) and one verdict, the worst claim that stands (`caregiver`, `clinician`).
//!
//! Never here: clocks, disk, network, wording for people; what a reading leads to.
//! Promises: what cannot be placed next to a danger word is `unclear`, never calm; every verdict
//! carries the words that led to it; no language is in the code.

mod answering;
mod automatic;
mod calm;
mod caregiver;
mod change;
mod claim;
mod clause;
mod clinician;
mod clock;
mod concept;
mod cutter;
mod duration;
mod ellipsis;
mod fold;
mod heard;
mod languages;
pub mod letter;
mod lexicon;
mod lexicon_file;
mod lexicons;
mod numeral;
mod pattern;
mod phrase;
mod reading;
pub mod round;
mod second_language;
mod sign;
mod spelling;
mod stance;
mod tap_answer;
mod taps;
mod times;
mod token;
mod vocabulary;
mod whereabouts;

pub use answering::{Answering, UnknownAnswering};
pub use lexicon::{Lexicon, LexiconError};
pub use lexicons::{Lexicons, SHIPPED};
pub use reading::{Read, TEXT_BYTES_MAX, read};
pub use taps::Tap;
