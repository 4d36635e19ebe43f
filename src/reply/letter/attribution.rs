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

/// How many lines the attribution that begins here takes; none if there is none.
pub(super) fn length(lines: &[&str]) -> Option<usize> {
    let first = lines.first()?.trim();
    if first.is_empty() {
        return None;
    }
    let mut joined = String::new();
    for (n, line) in lines.iter().take(LINES_MAX).enumerate() {
        let line = line.trim().trim_start_matches('>').trim();
        if line.is_empty() {
            return None;
        }
        if n > 0 {
            joined.push(' ');
        }
        joined.push_str(line);
        if joined.chars().count() > CHARS_MAX {
            return None;
        }
        if is_attribution(&joined) {
            return Some(n + 1);
        }
    }
    None
}

fn is_attribution(line: &str) -> bool {
    let plain = line.to_lowercase().replace(['\u{202f}', '\u{a0}'], " ");
    let plain = plain.trim_end_matches(['*', ' ']);
    let ends = plain.ends_with(':') || plain.ends_with(": >");
    let wrote = WROTE.iter().any(|word| plain.contains(word));
    let dated = plain.chars().filter(char::is_ascii_digit).count() >= 3
        && plain.contains([':', '.', '/', ',', '-']);
    let addressed = plain.contains('@');
    ends && wrote && (dated || addressed)
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
    fn words_of_a_person_are_no_attribution() {
        assert_eq!(length(&["The carer on nights wrote: gone"]), None);
        assert_eq!(length(&["My sister wrote:"]), None);
    }
}
