//! Tokens: which request a reply answers, told by something that nobody can guess.
//!
//! A token is written into the address that a reply goes to. Its first half finds the row, its
//! second half is the secret, of which only a hash is kept. The first half begins with the time,
//! so that rows are added at the end of the table however many there are.
//!
//! Never here: mail addresses, what a reply means.
//! Promises: 80 random bits guard each request; a guess is compared without telling by its time
//! how near it came; case does not matter, as mail servers may change it.

use std::fmt;
use std::str::FromStr;

use super::chain::Digest;
use super::database::{self, Row, params};
use super::error::{Doing, StoreError};
use super::ids::{FollowUpId, OutboxId, from_ms, to_ms};
use super::people::PersonRef;
use super::view::{Tx, View};
use crate::follow_up::{AlertId, Instant, LookId, SittingNumber};

/// Letters and digits that a token is written in; none looks like another (`0o1l` are left out).
const LETTERS: &[u8; 32] = b"23456789abcdefghijkmnpqrstuvwxyz";
const BITS_PER_LETTER: u32 = 5;

/// Letters of the first half: 63 bits.
const KEY_LETTERS: usize = 13;
/// Letters of the second half: 80 bits.
const SECRET_LETTERS: usize = 16;
/// Random bits at the end of the first half, so that few tokens made at once share it.
const KEY_RANDOM_BITS: u32 = 22;

/// A token as it stands in an address: 29 lower-case letters and digits.
#[derive(Clone, PartialEq, Eq)]
pub struct Token {
    key: i64,
    secret: String,
}

/// What a request asks about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum RequestTarget {
    /// A sitting's announcement.
    Announcement(SittingNumber),
    /// A look.
    Look(LookId),
    /// An alert.
    Alert(AlertId),
    /// Anything else that is sent: a notice that asks for nothing.
    Other,
}

/// What a token stands for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TokenMeaning {
    /// The follow-up, where it is about one.
    pub follow_up: Option<FollowUpId>,
    /// Who was asked.
    pub person: PersonRef,
    /// What was asked.
    pub target: RequestTarget,
    /// The mail that carried it, where it was mail.
    pub outbox: Option<OutboxId>,
    /// When it was made.
    pub made_at: Instant,
}

/// A text that is not a token.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("not a token")]
pub struct NotAToken;

impl Token {
    /// Makes a new token.
    ///
    /// # Errors
    /// When the machine gives no random numbers.
    pub fn new(now: Instant) -> Result<Self, StoreError> {
        let mut random = [0; 16];
        getrandom::fill(&mut random).map_err(|_| StoreError::NoRandomness)?;
        Ok(Self::from_random(now, random))
    }

    /// Makes the token that an instant and 128 random bits stand for, for runs that must repeat.
    pub fn from_random(now: Instant, random: [u8; 16]) -> Self {
        let random = u128::from_be_bytes(random);
        let tail = (random >> 100) as i64 & ((1 << KEY_RANDOM_BITS) - 1);
        let time = to_ms(now) & (i64::MAX >> KEY_RANDOM_BITS);
        Self { key: time << KEY_RANDOM_BITS | tail, secret: written(random, SECRET_LETTERS) }
    }

    fn secret_hash(&self) -> Digest {
        Digest::of(self.secret.as_bytes())
    }
}

impl fmt::Display for Token {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&written(self.key as u128, KEY_LETTERS))?;
        f.write_str(&self.secret)
    }
}

/// Does not tell the secret.
impl fmt::Debug for Token {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Token({}…)", written(self.key as u128, KEY_LETTERS))
    }
}

impl FromStr for Token {
    type Err = NotAToken;

    fn from_str(text: &str) -> Result<Self, NotAToken> {
        let text = text.to_ascii_lowercase();
        let fits = text.len() == KEY_LETTERS + SECRET_LETTERS
            && text.bytes().all(|letter| LETTERS.contains(&letter));
        if !fits {
            return Err(NotAToken);
        }
        let (key, secret) = text.split_at(KEY_LETTERS);
        let key = key.bytes().fold(0_u128, |sum, letter| {
            let value = LETTERS.iter().position(|known| *known == letter);
            sum << BITS_PER_LETTER | value.map_or(0, |value| value as u128)
        });
        Ok(Self { key: i64::try_from(key).map_err(|_| NotAToken)?, secret: secret.to_owned() })
    }
}

/// The lowest bits of a number in letters.
fn written(number: u128, letters: usize) -> String {
    (0..letters as u32)
        .rev()
        .map(|place| {
            let value = (number >> (place * BITS_PER_LETTER)) as usize % LETTERS.len();
            char::from(LETTERS[value])
        })
        .collect()
}

impl RequestTarget {
    pub(super) fn name(self) -> &'static str {
        match self {
            Self::Announcement(_) => "announcement",
            Self::Look(_) => "look",
            Self::Alert(_) => "alert",
            Self::Other => "other",
        }
    }

    pub(super) fn number(self) -> Option<u32> {
        match self {
            Self::Announcement(sitting) => Some(sitting.count()),
            Self::Look(look) => Some(look.count()),
            Self::Alert(alert) => Some(alert.count()),
            Self::Other => None,
        }
    }

    /// Reads what `name` and `number` wrote.
    pub(super) fn kept(name: &str, number: Option<u32>) -> Result<Self, StoreError> {
        match (name, number) {
            ("announcement", Some(count)) => Ok(Self::Announcement(SittingNumber::new(count))),
            ("look", Some(count)) => Ok(Self::Look(LookId::new(count))),
            ("alert", Some(count)) => Ok(Self::Alert(AlertId::new(count))),
            ("other", None) => Ok(Self::Other),
            _ => Err(StoreError::unreadable("a request about", name)),
        }
    }
}

impl Tx<'_> {
    /// Keeps what a token stands for.
    ///
    /// # Errors
    /// `TokenShown` when another mail about the follow-up has the same first half, and so the same
    /// Message-ID: try with another token. When the database refuses.
    pub fn put_token(&mut self, token: &Token, meaning: &TokenMeaning) -> Result<(), StoreError> {
        if meaning.outbox.is_some() && self.was_shown(token, meaning.follow_up)? {
            return Err(StoreError::TokenShown);
        }
        self.connection
            .prepare_cached(
                "INSERT INTO token (key, secret_hash, follow_up, person_kind, person_ref, target,
                   target_number, outbox, made_at_utc_ms)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
            )
            .and_then(|mut insert| {
                insert.execute(params![
                    token.key,
                    token.secret_hash().bytes(),
                    meaning.follow_up.map(FollowUpId::number),
                    meaning.person.kind(),
                    meaning.person.reference(),
                    meaning.target.name(),
                    meaning.target.number(),
                    meaning.outbox.map(OutboxId::number),
                    to_ms(meaning.made_at),
                ])
            })
            .map(|_| ())
            .doing("keeping a token")
    }

    /// Whether a mail about the follow-up has shown the first half of a token, in its Message-ID.
    fn was_shown(&self, token: &Token, follow_up: Option<FollowUpId>) -> Result<bool, StoreError> {
        self.connection
            .prepare_cached(
                "SELECT EXISTS (SELECT 1 FROM token WHERE key = ?1 AND outbox IS NOT NULL
                   AND follow_up IS NOT DISTINCT FROM ?2)",
            )
            .and_then(|mut select| {
                select.query_one(params![token.key, follow_up.map(FollowUpId::number)], |row| {
                    row.get(0)
                })
            })
            .doing("keeping a token")
    }
}

impl View<'_> {
    /// What a token stands for; none for a token that was never given out.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn token(&self, token: &Token) -> Result<Option<TokenMeaning>, StoreError> {
        let candidates = self
            .connection
            .prepare_cached(
                "SELECT secret_hash, follow_up, person_kind, person_ref, target, target_number,
                   outbox, made_at_utc_ms
                 FROM token WHERE key = ?1",
            )
            .and_then(|mut select| select.query_all([token.key], Kept::of))
            .doing("looking a token up")?;
        let hash = token.secret_hash();
        candidates
            .into_iter()
            .find(|kept| is_same(&kept.secret_hash, hash.bytes()))
            .map(Kept::meaning)
            .transpose()
    }
}

/// Compares all bytes, whatever the first ones are.
fn is_same(one: &[u8; 32], other: &[u8; 32]) -> bool {
    one.iter().zip(other).fold(0, |difference, (a, b)| difference | (a ^ b)) == 0
}

struct Kept {
    secret_hash: [u8; 32],
    follow_up: Option<i64>,
    person: (String, Option<String>),
    target: (String, Option<u32>),
    outbox: Option<i64>,
    made_at_ms: i64,
}

impl Kept {
    fn of(row: &Row<'_>) -> database::Result<Self> {
        Ok(Self {
            secret_hash: row.get(0)?,
            follow_up: row.get(1)?,
            person: (row.get(2)?, row.get(3)?),
            target: (row.get(4)?, row.get(5)?),
            outbox: row.get(6)?,
            made_at_ms: row.get(7)?,
        })
    }

    fn meaning(self) -> Result<TokenMeaning, StoreError> {
        Ok(TokenMeaning {
            follow_up: self.follow_up.map(FollowUpId::from_number),
            person: PersonRef::kept(&self.person.0, self.person.1.as_deref())?,
            target: RequestTarget::kept(&self.target.0, self.target.1)?,
            outbox: self.outbox.map(OutboxId::from_number),
            made_at: from_ms(self.made_at_ms)?,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(ms: i64) -> Instant {
        from_ms(ms).expect("OK because it is in this century")
    }

    #[test]
    fn a_token_reads_as_it_is_written_whatever_the_case() {
        let token = Token::from_random(at(1_800_000_000_123), *b"sixteen bytes ok");
        let text = token.to_string();
        assert_eq!(text.len(), 29);
        assert_eq!(text.to_uppercase().parse(), Ok(token));
        assert_eq!(text[1..].parse::<Token>(), Err(NotAToken));
        assert_eq!(format!("0{}", &text[1..]).parse::<Token>(), Err(NotAToken));
    }

    #[test]
    fn later_tokens_have_larger_keys_and_debug_hides_the_secret() {
        let early = Token::from_random(at(1_800_000_000_000), [255; 16]);
        let late = Token::from_random(at(1_800_000_000_001), [0; 16]);
        assert!(early.key < late.key);
        assert!(!format!("{early:?}").contains(&early.secret));
    }
}
