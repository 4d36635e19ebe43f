//! The line that mail programs put above a quotation: 'On … wrote:', 'Am … schrieb …:'.
//!
//! Never here: quotations themselves.
//! Promises: a line of words without a date or an address is never taken for one.

/// 'Wrote' in the languages of common mail programs.
const WROTE: [&str; 24] = [
    "wrote",
    "writes",
    "schrieb",
    "hat geschrieben",
    "geschrieben",
    "a écrit",
    "écrit",
    "escribió",
    "escribio",
    "ha escrito",
    "ha scritto",
    "scritto",
    "schreef",
    "skrev",
    "escreveu",
    "napisał",
    "napisal",
    "kirjoitti",
    "написал",
    "пише",
    "írta",
    "yazdı",
    "scrisse",
    "va escriure",
];

/// An attribution may be wrapped over so many lines.
const LINES_MAX: usize = 4;

/// Longest attribution, in characters.
const CHARS_MAX: usize = 300;

/// A date has at least so many digits, with its year; a time of day alone has fewer.
const DATE_DIGITS_MIN: usize = 5;

/// How many lines the attribution that begins here takes; none if there is none.
pub(super) fn length(lines: &[&str]) -> Option<usize> {
    let first = lines.first()?.trim();
    if first.is_empty() {
        return None;
    }
    if !lines.iter().take(LINES_MAX).any(|line| may_end(line.trim_end())) {
        return None;
    }
    let (mut joined, mut chars) = (String::new(), 0);
    for (n, line) in lines.iter().take(LINES_MAX).enumerate() {
        let line = line.trim().trim_start_matches('>').trim();
        if line.is_empty() {
            return None;
        }
        chars += line.chars().count() + usize::from(n > 0);
        if chars > CHARS_MAX {
            return None;
        }
        if !may_end(line) {
            continue;
        }
        joined.clear();
        for (k, line) in lines[..=n].iter().enumerate() {
            joined.push_str(if k > 0 { " " } else { "" });
            joined.push_str(line.trim().trim_start_matches('>').trim());
        }
        if is_attribution(&joined) {
            return (n == 0 || is_wrapped(&lines[..=n])).then_some(n + 1);
        }
    }
    None
}

/// Whether an attribution may end with a line: hardly any line of words does, so that few are looked
/// at letter by letter.
fn may_end(line: &str) -> bool {
    if line.ends_with(|c: char| c.is_ascii_alphanumeric() || c == '.') {
        return false;
    }
    let end = line.trim_end_matches(['*', ' ', '\u{202f}', '\u{a0}']);
    end.is_empty() || end.ends_with([':', '>'])
}

/// Whether lines that together are an attribution are one wrapped line, and not an answer with an
/// attribution directly below it: 'Hello' + '> On 22 Aug 2015, at 19:21, X wrote:'.
fn is_wrapped(lines: &[&str]) -> bool {
    let quoted = |line: &str| line.trim_start().starts_with('>');
    let level = lines.iter().all(|line| quoted(line) == quoted(lines[0]));
    let own_below = (1..lines.len()).any(|from| {
        let below = lines[from..].join(" ");
        is_attribution(&below) && is_dated(&below)
    });
    let first = lines[0].trim_start_matches(['>', ' ']);
    let digits = first.chars().filter(char::is_ascii_digit).count();
    level && !own_below && (digits >= DATE_DIGITS_MIN || first.contains('@'))
}

fn is_dated(line: &str) -> bool {
    line.chars().filter(char::is_ascii_digit).count() >= 3
        && line.contains([':', '.', '/', ',', '-'])
}

fn is_attribution(line: &str) -> bool {
    let (dated, addressed) = (is_dated(line), line.contains('@'));
    if !(dated || addressed) || !may_end(line) {
        return false;
    }
    let plain = line.to_lowercase().replace(['\u{202f}', '\u{a0}'], " ");
    let plain = plain.trim_end_matches(['*', ' ']);
    let ends = plain.ends_with(':') || plain.ends_with(": >");
    let wrote = || WROTE.iter().any(|word| plain.contains(word));
    // Some programs leave out 'wrote': a date, a name and an address.
    ends && (dated && addressed && plain.contains('<') || wrote())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn attributions_of_many_programs_are_known() {
        for lines in [
            &["On Tue, 4 Mar 2025 at 10:02, Skin checks <c@f.example> wrote:"][..],
            &["On Mon, 24 Mar 2025 at 17:00, Skin checks ", "<c@f.example> wrote:"],
            &["Skin checks a écrit le 10/03/2025 à 12:15 :"],
            &["El sáb, 8 mar 2025 a las 18:00, X (<c@f.example>) escribió:"],
            &["Am 06.03.2025 um 16:58 schrieb Hautkontrolle:"],
            &["> On 11 Mar 2025, at 11:05, Skin checks <c@f.example> wrote:"],
        ] {
            assert_eq!(length(lines), Some(lines.len()), "{lines:?}");
        }
    }

    #[test]
    fn an_answer_directly_above_an_attribution_stays() {
        let wrote = "> On 22 Aug 2015, at 19:21, Ann <a@b.example> wrote:";
        assert_eq!(length(&["Hello", wrote]), None);
        assert_eq!(length(&["blister at 10:15, left heel", wrote]), None);
        let below = "02.04.2012 14:20, \"Ann\" <a@b.example>:";
        assert_eq!(length(&["red at 10:15", below]), None);
        assert_eq!(length(&[below]), Some(1));
    }

    #[test]
    fn words_of_a_person_are_no_attribution() {
        assert_eq!(length(&["The carer on nights wrote: gone"]), None);
        assert_eq!(length(&["My sister wrote:"]), None);
    }
}
