//! One plain form for every way to write the same letters: lower case, no accents, straight
//! quotes, no invisible characters.
//!
//! Never here: words, languages.
//! Promises: folding twice changes nothing.

/// The folded form of one character: nothing, one character, or two for a ligature.
pub(crate) fn fold_char(c: char) -> Folded {
    match c {
        '\u{300}'..='\u{36f}'
        | '\u{200b}'..='\u{200f}'
        | '\u{202a}'..='\u{202e}'
        | '\u{2060}'..='\u{2064}'
        | '\u{ad}'
        | '\u{feff}'
        | '\u{fe00}'..='\u{fe0f}'
        | '\u{1f3fb}'..='\u{1f3ff}'
        | '\u{20e3}' => Folded::None,
        '\u{2018}' | '\u{2019}' | '\u{201b}' | '\u{2032}' | '\u{b4}' | '`' => Folded::One('\''),
        '\u{201c}'..='\u{201f}' | '\u{ab}' | '\u{bb}' | '\u{2039}' | '\u{203a}' => Folded::One('"'),
        '\u{2010}' | '\u{2011}' => Folded::One('-'),
        '\u{2012}'..='\u{2015}' | '\u{2212}' => Folded::One('\u{2013}'),
        '\u{a0}' | '\u{2000}'..='\u{200a}' | '\u{202f}' | '\u{205f}' | '\u{3000}' | '\t' => {
            Folded::One(' ')
        }
        'ß' => Folded::Two('s', 's'),
        'æ' | 'Æ' => Folded::Two('a', 'e'),
        'œ' | 'Œ' => Folded::Two('o', 'e'),
        'ﬁ' => Folded::Two('f', 'i'),
        'ﬂ' => Folded::Two('f', 'l'),
        _ if c.is_ascii() => Folded::One(c.to_ascii_lowercase()),
        _ => Folded::One(without_accent(c.to_lowercase().next().unwrap_or(c))),
    }
}

/// What a character folds to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Folded {
    /// It is invisible.
    None,
    /// One character.
    One(char),
    /// Two characters.
    Two(char, char),
}

/// A whole text, folded.
pub(crate) fn fold(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match fold_char(c) {
            Folded::None => {}
            Folded::One(a) => out.push(a),
            Folded::Two(a, b) => {
                out.push(a);
                out.push(b);
            }
        }
    }
    out
}

fn without_accent(c: char) -> char {
    match c {
        'à'..='å' | 'ā' | 'ă' | 'ą' => 'a',
        'ç' | 'ć' | 'č' => 'c',
        'è'..='ë' | 'ē' | 'ę' | 'ě' => 'e',
        'ì'..='ï' | 'ī' | 'į' => 'i',
        'ñ' | 'ń' | 'ň' => 'n',
        'ò'..='ö' | 'ø' | 'ō' | 'ő' => 'o',
        'ù'..='ü' | 'ū' | 'ů' | 'ű' => 'u',
        'ý' | 'ÿ' => 'y',
        'ś' | 'š' => 's',
        'ź' | 'ž' | 'ż' => 'z',
        'ł' => 'l',
        'đ' | 'ď' => 'd',
        'ť' => 't',
        'ř' => 'r',
        _ => c,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn accents_quotes_and_skin_tones_fold_away() {
        assert_eq!(fold("Cóccix, it’s ÑOÑO\u{a0}ß"), "coccix, it's nono ss");
        assert_eq!(fold("👍🏽"), "👍");
        assert_eq!(fold("cafe\u{301}"), "cafe");
    }

    #[test]
    fn folding_twice_changes_nothing() {
        for text in ["É’tait – là", "ŒUF “x”", "Straße"] {
            assert_eq!(fold(&fold(text)), fold(text));
        }
    }
}
