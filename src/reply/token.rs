//! A reply cut into words, numbers, signs and breaks, before any language is known.
//!
//! Never here: words of any language.
//! Promises: every letter of the text is in exactly one token; at most `TOKENS_MAX` tokens.

use std::borrow::Cow;

use super::fold::{Folded, fold, fold_char};

/// Most tokens that are read: far more than any answer has. A reply with more is never read calm.
pub(crate) const TOKENS_MAX: usize = 3_000;

/// A wrapped line and the word that did not fit are together at least this long; after a shorter
/// line a break ends the statement.
const WRAPPED_LINE_CHARS_MIN: usize = 64;

/// No program wraps at more than this; after a longer line the break is the writer's own.
const WRAPPED_LINE_CHARS_MAX: usize = 80;

/// One token.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Token<'a> {
    /// As written.
    pub raw: Cow<'a, str>,
    /// Folded.
    pub text: Cow<'a, str>,
    /// What it is.
    pub kind: TokenKind,
    /// Written directly after the token before, without a space.
    pub glued: bool,
    /// The first on a line that a program wrapped, or that looks like it.
    pub wrapped: bool,
}

impl Token<'_> {
    /// The same without what it was cut from.
    pub(crate) fn into_owned(self) -> Token<'static> {
        let owned = |text: Cow<'_, str>| Cow::Owned(text.into_owned());
        let Self { raw, text, kind, glued, wrapped } = self;
        Token { raw: owned(raw), text: owned(text), kind, glued, wrapped }
    }
}

/// What a token is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum TokenKind {
    /// Letters.
    Word,
    /// Digits, perhaps with one separator between (`13:30`, `3.40`, `16h20`).
    Number,
    /// A pictograph.
    Picture,
    /// A pause inside a sentence.
    Comma,
    /// A colon or a dash: what follows answers what stands before.
    Colon,
    /// A slash between words.
    Slash,
    /// The end of a sentence.
    Stop,
    /// A question mark.
    Question,
}

/// Cuts a text into tokens.
pub(crate) fn tokens(text: &str) -> Vec<Token<'_>> {
    let is_seen = |c: char| c.is_ascii() || fold_char(c) != Folded::None;
    if text.chars().all(is_seen) {
        return cut(text);
    }
    let seen: String = text.chars().filter(|c| is_seen(*c)).collect();
    cut(&seen).into_iter().map(Token::into_owned).collect()
}

/// Cuts a text without invisible characters.
fn cut(text: &str) -> Vec<Token<'_>> {
    let chars: Vec<char> = text.chars().collect();
    let mut cutter = Cutter {
        text,
        byte: 0,
        chars: &chars,
        at: 0,
        glued: false,
        wrapped: false,
        out: Vec::with_capacity((text.len() / 4).min(TOKENS_MAX)),
    };
    while cutter.at < chars.len() && cutter.out.len() < TOKENS_MAX {
        cutter.step();
    }
    cutter.out
}

/// A piece of a text, folded; as it is, where folding changes nothing.
fn folded(raw: &str) -> Cow<'_, str> {
    let is_plain = |b: u8| b.is_ascii() && !b.is_ascii_uppercase() && b != b'`' && b != b'\t';
    if raw.bytes().all(is_plain) { Cow::Borrowed(raw) } else { Cow::Owned(fold(raw)) }
}

struct Cutter<'a, 'c> {
    /// What is not cut yet begins at this byte.
    text: &'a str,
    byte: usize,
    chars: &'c [char],
    at: usize,
    glued: bool,
    wrapped: bool,
    out: Vec<Token<'a>>,
}

impl<'a> Cutter<'a, '_> {
    fn peek(&self, ahead: usize) -> char {
        self.chars.get(self.at + ahead).copied().unwrap_or('\n')
    }

    fn before(&self) -> char {
        self.at.checked_sub(1).and_then(|i| self.chars.get(i)).copied().unwrap_or('\n')
    }

    /// Goes on by so many characters, and gives them.
    fn pass(&mut self, length: usize) -> &'a str {
        let passed = &self.chars[self.at..(self.at + length).min(self.chars.len())];
        let from = self.byte;
        self.byte += passed.iter().map(|c| c.len_utf8()).sum::<usize>();
        self.at += length;
        &self.text[from..self.byte]
    }

    fn push(&mut self, kind: TokenKind, length: usize) {
        let raw = self.pass(length);
        let wrapped = std::mem::take(&mut self.wrapped);
        let text = folded(raw);
        self.out.push(Token { raw: Cow::Borrowed(raw), text, kind, glued: self.glued, wrapped });
        self.glued = true;
    }

    fn skip(&mut self) {
        self.pass(1);
        self.glued = false;
    }

    fn step(&mut self) {
        let c = self.peek(0);
        if c == '\n' {
            self.line_break();
        } else if c.is_whitespace() || c == '\r' {
            self.skip();
        } else if matches!(c, '½' | '¼' | '¾') {
            self.push(TokenKind::Word, 1);
        } else if c.is_ascii_digit() {
            self.number();
        } else if c.is_alphanumeric() {
            self.word();
        } else {
            self.sign(c);
        }
    }

    /// A line break ends a statement, unless it only wraps a long line.
    fn line_break(&mut self) {
        let line_chars = self.chars[..self.at].iter().rev().take_while(|c| **c != '\n').count();
        let mut next = self.at;
        let mut breaks = 0;
        while let Some(c) = self.chars.get(next).filter(|c| c.is_whitespace()) {
            breaks += usize::from(*c == '\n');
            next += 1;
        }
        let word = |from: usize| {
            self.chars[from.min(self.chars.len())..]
                .iter()
                .take_while(|c| !c.is_whitespace())
                .count()
        };
        // A program wraps a line because the next word no longer fits.
        let wrapped = breaks == 1
            && line_chars + 1 + word(next) >= WRAPPED_LINE_CHARS_MIN
            && line_chars <= WRAPPED_LINE_CHARS_MAX
            && self.chars.get(next).is_some_and(|c| c.is_lowercase() || c.is_ascii_digit());
        if !wrapped && self.out.last().is_some_and(|t| t.kind != TokenKind::Stop) {
            self.push(TokenKind::Stop, 1);
        }
        self.pass(next.saturating_sub(self.at));
        self.glued = false;
        self.wrapped = wrapped;
    }

    fn number(&mut self) {
        let digits_from = |start: usize| {
            self.chars[start.min(self.chars.len())..]
                .iter()
                .take_while(|c| c.is_ascii_digit())
                .count()
        };
        let first = digits_from(self.at);
        let separator = self.peek(first);
        let second = digits_from(self.at + first + 1);
        let fraction = [('1', '2'), ('1', '4'), ('3', '4')];
        if first == 1
            && separator == '/'
            && second == 1
            && fraction.contains(&(self.peek(0), self.peek(2)))
        {
            return self.push(TokenKind::Word, 3);
        }
        if separator == '/'
            && self.peek(first + 1) == '6'
            && self.peek(first + 2) == '0'
            && second == 2
        {
            // '10/60' is how clinicians write ten minutes.
            self.push(TokenKind::Number, first);
            let token = Token {
                raw: Cow::Borrowed("/60"),
                text: Cow::Borrowed("min"),
                kind: TokenKind::Word,
                glued: true,
                wrapped: false,
            };
            self.out.push(token);
            self.pass(3);
            return;
        }
        if first <= 2 && second > 0 && matches!(separator, ':' | '.' | ',' | 'h' | 'H') {
            return self.push(TokenKind::Number, first + 1 + second);
        }
        self.push(TokenKind::Number, first);
    }

    fn word(&mut self) {
        // 'p.m.', 'a.m.': letters with dots are one word.
        if self.peek(1) == '.' && self.peek(2).is_alphabetic() && self.peek(3) == '.' {
            let raw: String = [self.peek(0), self.peek(2)].iter().collect();
            let text = Cow::Owned(fold(&raw));
            let wrapped = std::mem::take(&mut self.wrapped);
            let (raw, kind) = (Cow::Owned(raw), TokenKind::Word);
            self.out.push(Token { raw, text, kind, glued: self.glued, wrapped });
            self.pass(4);
            self.glued = false;
            return;
        }
        let mut length = 0;
        loop {
            let c = self.peek(length);
            let inside = || {
                matches!(fold_char(c), Folded::One('\''))
                    && length > 0
                    && self.peek(length + 1).is_alphabetic()
            };
            if !(c.is_alphabetic() || inside()) {
                break;
            }
            length += 1;
        }
        // Digits in other scripts are alphanumeric but neither letters nor ASCII digits.
        self.push(TokenKind::Word, length.max(1));
    }

    fn sign(&mut self, c: char) {
        let spaced = self.before().is_whitespace();
        match fold_char(c) {
            // '?restart' supposes.
            Folded::One('?') if spaced && self.peek(1).is_alphanumeric() => {
                self.push(TokenKind::Word, 1);
            }
            Folded::One('?') | Folded::One('¿') => self.push(TokenKind::Question, 1),
            Folded::One('.' | '!' | '…' | ';' | '•' | '¡') => self.full_stop(),
            Folded::One(',' | '(' | ')' | '[' | ']' | '|') => self.push(TokenKind::Comma, 1),
            Folded::One('+' | '&' | '%' | '°' | '£' | '$' | '€') => {
                self.push(TokenKind::Word, 1)
            }
            Folded::One(':' | '=' | '\u{2013}') => self.push(TokenKind::Colon, 1),
            Folded::One('-') if spaced || self.peek(1).is_whitespace() => {
                self.push(TokenKind::Colon, 1);
            }
            Folded::One('/') if spaced => self.push(TokenKind::Stop, 1),
            Folded::One('/') => self.push(TokenKind::Slash, 1),
            _ if c as u32 >= 0x2190 => self.push(TokenKind::Picture, 1),
            _ => self.skip(),
        }
    }

    /// A dot after a lone letter ('L. heel') abbreviates; any other ends the sentence.
    fn full_stop(&mut self) {
        let lone_letter = self.peek(0) == '.'
            && self.out.last().is_some_and(|t| {
                self.glued && t.kind == TokenKind::Word && t.text.chars().count() == 1
            })
            && self.peek(1) == ' '
            && self.peek(2).is_lowercase();
        if lone_letter {
            self.skip();
        } else {
            self.push(TokenKind::Stop, 1);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(text: &str) -> Vec<String> {
        tokens(text).into_iter().map(|t| t.text.into_owned()).collect()
    }

    #[test]
    fn numbers_keep_one_separator_and_leave_their_unit() {
        assert_eq!(
            words("13:30 3.40pm 16h20 20mins"),
            ["13:30", "3.40", "pm", "16h20", "20", "mins"]
        );
        assert_eq!(words("38.6 at 5 p.m."), ["38.6", "at", "5", "pm"]);
    }

    #[test]
    fn hyphens_part_words_and_dashes_pause() {
        assert_eq!(words("non-blanching - left"), ["non", "blanching", "-", "left"]);
    }

    #[test]
    fn a_wrapped_line_goes_on_and_a_short_line_ends() {
        let wrapped = "Small pink spot on the left sit bone, as wide as my thumb. Goes white\n\
                       when I press";
        assert!(!words(wrapped).contains(&"\n".to_owned()));
        assert!(words("heels ok\nbum red").contains(&"\n".to_owned()));
    }

    #[test]
    fn a_question_mark_before_a_word_is_a_suspicion_not_a_question() {
        assert!(tokens("?cat 2").iter().all(|t| t.kind != TokenKind::Question));
    }
}
