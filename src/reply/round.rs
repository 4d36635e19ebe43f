//! One reply to several requests: what it says of each client.
//!
//! Each client's words are those that are theirs by name, and with them every word that is nobody's in
//! particular: a mark that is not said of whom is heard of everybody.
//!
//! Never here: who may answer, what a reading leads to.
//! Promises: a client is calm only by name, or where everybody is and nobody is named for any other
//! reason than that they are not; what worries is never lost; what is in doubt is `unclear`.

mod parting;
mod roll;
mod runs;
mod words;

pub use roll::{Called, Roll, label};
pub(crate) use words::{RoundTable, RoundWords};

use self::parting::{Piece, Whose, parted};
use super::letter::{Letter, read_letter};
use super::reading::{Read, unclear};
use super::{Answering, Lexicons};
use crate::care::{Finding, Reading};

/// What is heard of one client.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Heard {
    /// What was read.
    pub read: Read,
    /// The words that were heard of this client, without those about others.
    pub words: String,
    /// Whether the client is named; else it is said of everybody, or not of whom.
    pub is_named: bool,
}

/// Reads a reply to a round, client by client in the order of the roll; none of whom nothing is said.
/// `answering` is what each was asked.
///
/// # Panics
/// When there are not as many kinds of request as clients.
pub fn read_round(
    lexicons: &Lexicons,
    first_language: &str,
    (roll, answering): (&Roll, &[Answering]),
    letter: &Letter,
) -> Vec<Option<Heard>> {
    assert_eq!(roll.len(), answering.len(), "one kind of request for each client");
    let pieces = parted(&letter.words, roll, lexicons.round());
    let round = Round {
        loose: joined(&pieces, |whose| *whose == Whose::Nobody),
        pieces,
        lexicons,
        first_language,
        letter,
    };
    let named: Vec<Option<Heard>> =
        (0..roll.len()).map(|who| round.named(who, answering[who])).collect();
    let all = named.iter().zip(answering);
    all.map(|(heard, answering)| heard.clone().or_else(|| round.unnamed(*answering, &named)))
        .collect()
}

struct Round<'a> {
    pieces: Vec<Piece>,
    /// The words that are nobody's in particular.
    loose: String,
    lexicons: &'a Lexicons,
    first_language: &'a str,
    letter: &'a Letter,
}

impl Round<'_> {
    /// What is said of a client by name; none where the client is not named.
    fn named(&self, who: usize, answering: Answering) -> Option<Heard> {
        let is_theirs = |whose: &Whose| match whose {
            Whose::Named(all) | Whose::Excepted { who: all, .. } => all.contains(&who),
            Whose::Everyone(_) | Whose::Rest | Whose::Nobody => false,
        };
        let own: Vec<&Piece> = self.pieces.iter().filter(|piece| is_theirs(&piece.whose)).collect();
        if own.is_empty() {
            return None;
        }
        let said = |with_exception: bool| {
            let words = own.iter().map(|piece| match &piece.whose {
                Whose::Excepted { from, .. } if with_exception => format!("{from} {}", piece.words),
                _ => piece.words.clone(),
            });
            words.filter(|words| !words.trim().is_empty()).collect::<Vec<_>>().join("\n")
        };
        let alone = said(false);
        let mut read = match alone.is_empty() {
            true => unclear("the client is named, and nothing is said"),
            false => self.weighed(&alone, answering),
        };
        // 'Left hip' says nothing, 'all clear except left hip' does.
        let whole = said(true);
        if read.verdict.reading == Reading::Unclear && whole != alone {
            read = self.weighed(&whole, answering);
        }
        let is_excepted = own.iter().any(|piece| matches!(piece.whose, Whose::Excepted { .. }));
        let is_tangled = own.iter().any(|piece| piece.is_tangled);
        let is_calm = matches!(read.verdict.reading, Reading::Clear | Reading::Faded);
        let read = if is_excepted && read.verdict.reading == Reading::Clear {
            unclear("the client is an exception from what is calm")
        } else if is_tangled && is_calm {
            unclear("it cannot be told which words are whose")
        } else {
            read
        };
        Some(Heard { read, words: self.with_loose(&whole), is_named: true })
    }

    /// What is said of a client who is not named.
    fn unnamed(&self, answering: Answering, named: &[Option<Heard>]) -> Option<Heard> {
        let is_general = |piece: &&Piece| matches!(piece.whose, Whose::Everyone(_) | Whose::Rest);
        let general: Vec<&Piece> = self.pieces.iter().filter(is_general).collect();
        if general.is_empty() {
            let read = self.read(&self.loose, answering);
            let words = self.loose.clone();
            return if read.verdict.reading.is_worrying() {
                Some(Heard { read, words, is_named: false })
            } else if named.iter().all(Option::is_none) {
                Some(Heard { read: unclear("it is not said of whom"), words, is_named: false })
            } else {
                None
            };
        }
        let words: Vec<&str> = general.iter().map(|piece| piece.words.as_str()).collect();
        let words = words.join("\n");
        let mut read = self.weighed(&words, answering);
        if !read.verdict.reading.is_worrying() && !self.holds_for_unnamed(&general, named) {
            read = unclear("it is not certain that it is said of everybody");
        }
        Some(Heard { read, words: self.with_loose(&words), is_named: false })
    }

    fn with_loose(&self, words: &str) -> String {
        format!("{words}\n{}", self.loose).trim().to_owned()
    }

    /// Whether what is said of everybody, or of the rest, holds for those who are not named.
    fn holds_for_unnamed(&self, general: &[&Piece], named: &[Option<Heard>]) -> bool {
        let readings = || named.iter().flatten().map(|heard| heard.read.verdict.reading);
        let unnamed = named.iter().filter(|heard| heard.is_none()).count();
        let is_of_rest = general.iter().any(|piece| piece.whose == Whose::Rest);
        // Who is named beside 'all clear' is named because it is not so; else the name may be what
        // the words are about.
        let is_other = |reading| match reading {
            Reading::Unclear => false,
            Reading::Clear => is_of_rest,
            _ => true,
        };
        let is_counted = |piece: &&Piece| match piece.whose {
            Whose::Everyone(Some(count)) => count as usize == unnamed,
            _ => true,
        };
        // 'All clear' behind a name may be said of that one.
        let first_name =
            self.pieces.iter().position(|piece| matches!(piece.whose, Whose::Named(_)));
        let last_of_all =
            self.pieces.iter().rposition(|piece| matches!(piece.whose, Whose::Everyone(_)));
        let comes_first = match (first_name, last_of_all) {
            (Some(name), Some(all)) => all < name,
            _ => true,
        };
        let is_tangled = self.pieces.iter().any(|piece| piece.is_tangled);
        readings().all(is_other)
            && general.iter().all(is_counted)
            && comes_first
            && !is_tangled
            && !self.has_nameless_words(named)
    }

    /// Whether a client is named of whom nothing is said.
    fn has_nameless_words(&self, named: &[Option<Heard>]) -> bool {
        let is_empty =
            |piece: &Piece| matches!(piece.whose, Whose::Named(_)) && piece.words.trim().is_empty();
        named.iter().any(Option::is_some) && self.pieces.iter().any(is_empty)
    }

    /// The worse of what words say alone and together with those that are nobody's.
    fn weighed(&self, words: &str, answering: Answering) -> Read {
        let alone = self.read(words, answering);
        if self.loose.trim().is_empty() {
            return alone;
        }
        let together = self.read(&self.with_loose(words), answering);
        let finding =
            |read: &Read| read.verdict.reading.finding().filter(|f| *f >= Finding::Marked);
        if finding(&alone).is_some() || finding(&together).is_some() {
            return if finding(&together) > finding(&alone) { together } else { alone };
        }
        let is_calm = |read: &Read| read.verdict.reading.finding().is_some();
        match (is_calm(&alone), is_calm(&together)) {
            _ if alone.verdict.reading == together.verdict.reading => together,
            (true, true) => unclear("the words that are nobody's change what is said"),
            (true, false) => together,
            (false, _) => alone,
        }
    }

    fn read(&self, words: &str, answering: Answering) -> Read {
        let letter = Letter { words: words.to_owned(), ..self.letter.clone() };
        read_letter(self.lexicons, self.first_language, answering, &letter, None)
    }
}

fn joined(pieces: &[Piece], is_wanted: impl Fn(&Whose) -> bool) -> String {
    let wanted = pieces.iter().filter(|piece| is_wanted(&piece.whose));
    wanted.map(|piece| piece.words.as_str()).collect::<Vec<_>>().join("\n")
}
