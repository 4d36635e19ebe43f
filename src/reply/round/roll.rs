//! Who is in a round, and by which names each can be told from the others.
//!
//! Never here: dividing a reply.
//! Promises: two clients are never known by the same name; a name that says something about skin in
//! any language (`Mark`) is nobody's name.

use super::runs::folded_runs;
use crate::reply::Lexicons;
use crate::reply::lexicon::Gravity;

/// How one client is called, as the clinic has it.
#[derive(Clone, Copy, Debug)]
pub struct Called<'a> {
    /// The clinic's reference.
    pub reference: &'a str,
    /// What contacts call the client; may be empty.
    pub call_name: &'a str,
}

/// The clients of a round, in order.
#[derive(Debug)]
pub struct Roll {
    names: Vec<Vec<Name>>,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Name {
    /// Its folded runs.
    pub(super) runs: Vec<String>,
    /// It is a word of a language too, so it is a name only before a colon or a dash.
    pub(super) wants_mark: bool,
}

impl Roll {
    /// Calls the roll.
    ///
    /// # Errors
    /// With the places of the clients who have no name by which they can be told from the others: with
    /// them no round can be made.
    pub fn of(clients: &[Called<'_>], lexicons: &Lexicons) -> Result<Self, Vec<usize>> {
        let mut names: Vec<Vec<Name>> = clients
            .iter()
            .map(|called| {
                let both = [called.call_name, called.reference];
                let mut names: Vec<Name> =
                    both.into_iter().filter_map(|name| usable(name, lexicons)).collect();
                names.dedup();
                names
            })
            .collect();
        let all: Vec<(usize, Name)> = names
            .iter()
            .enumerate()
            .flat_map(|(at, own)| own.iter().map(move |name| (at, name.clone())))
            .collect();
        for (at, own) in names.iter_mut().enumerate() {
            let is_shared = |name: &Name| {
                all.iter().any(|(other, theirs)| *other != at && one_holds_the_other(name, theirs))
            };
            own.retain(|name| !is_shared(name));
        }
        let has_none = |own: &Vec<Name>| own.iter().all(|name| name.wants_mark);
        let nameless: Vec<usize> =
            names.iter().enumerate().filter(|(_, own)| has_none(own)).map(|(at, _)| at).collect();
        if nameless.is_empty() { Ok(Self { names }) } else { Err(nameless) }
    }

    /// How an answer may name a client: by call name where that serves, else by reference.
    pub fn name_of<'a>(&self, at: usize, called: Called<'a>) -> &'a str {
        let serves = |name: &str| {
            let runs = folded_runs(name);
            self.names[at].iter().any(|known| known.runs == runs)
        };
        if serves(called.call_name) { called.call_name } else { called.reference }
    }

    /// How many clients there are.
    pub fn len(&self) -> usize {
        self.names.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.names.is_empty()
    }

    /// The client whose name begins at the first of the words, and of how many words the name is;
    /// `is_set_off` tells whether a colon or a dash follows after so many.
    pub(super) fn met(
        &self,
        words: &[&str],
        is_set_off: impl Fn(usize) -> bool,
    ) -> Option<(usize, usize)> {
        let all = self.names.iter().enumerate();
        all.flat_map(|(at, own)| own.iter().map(move |name| (at, name)))
            .filter_map(|(at, name)| {
                let length = name.begins(words)?;
                (!name.wants_mark || is_set_off(length)).then_some((at, length))
            })
            .max_by_key(|(_, length)| *length)
    }
}

impl Name {
    /// Of how many words it is where it begins at the first: `D-12` may be written `D 12` and `D12`.
    fn begins(&self, words: &[&str]) -> Option<usize> {
        let is_parted = self.runs.len() <= words.len()
            && self.runs.iter().zip(words).all(|(run, word)| run == word);
        if is_parted {
            return Some(self.runs.len());
        }
        let has_digit = self.runs.iter().any(|run| run.contains(|c: char| c.is_ascii_digit()));
        words.first().filter(|word| has_digit && **word == self.runs.concat()).map(|_| 1)
    }
}

/// A name as it can be known in a reply; none where it could be something else.
fn usable(name: &str, lexicons: &Lexicons) -> Option<Name> {
    // `A-17` is one name; how its parts are joined does not matter.
    let runs = folded_runs(name);
    let letters: usize = runs.iter().map(|run| run.chars().count()).sum();
    let has_letter = runs.iter().any(|run| run.chars().any(char::is_alphabetic));
    if letters < 2 || !has_letter || runs.iter().all(|run| lexicons.round().knows(run)) {
        return None;
    }
    let gravest = |run: &String| {
        lexicons
            .all()
            .filter(|lexicon| lexicon.knows(run))
            .map(|lexicon| lexicon.gravity(run))
            .collect::<Vec<_>>()
    };
    let all: Vec<Vec<Gravity>> = runs.iter().map(gravest).collect();
    if all.iter().any(Vec::is_empty) {
        return Some(Name { runs, wants_mark: false });
    }
    let is_plain = all.iter().flatten().all(|gravity| *gravity == Gravity::Plain);
    is_plain.then_some(Name { runs, wants_mark: true })
}

fn one_holds_the_other(one: &Name, other: &Name) -> bool {
    let (short, long) =
        if one.runs.len() <= other.runs.len() { (one, other) } else { (other, one) };
    long.runs.windows(short.runs.len()).any(|part| part == short.runs.as_slice())
        || one.runs.concat() == other.runs.concat()
}

/// How a client is named to a reader: by call name and reference.
pub fn label(called: Called<'_>) -> String {
    let name = called.call_name.trim();
    if name.is_empty() || folded_runs(name) == folded_runs(called.reference) {
        called.reference.to_owned()
    } else {
        format!("{name} ({})", called.reference)
    }
}
