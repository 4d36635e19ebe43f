//! Breaks text into lines that fit a width.
//!
//! Never here: what the text says.
//! Promises: no line is longer than the width, unless one word alone is; no word is lost.

/// The text in lines of at most `width` characters; at least one line.
pub(super) fn wrapped(text: &str, width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    let mut used = 0;
    for word in text.split_whitespace() {
        let chars = word.chars().count();
        if used > 0 && used + 1 + chars > width {
            lines.push(String::new());
            used = 0;
        }
        let line = lines.last_mut().expect("OK because there is always a line");
        if used > 0 {
            line.push(' ');
            used += 1;
        }
        line.push_str(word);
        used += chars;
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_fit_and_no_word_is_lost() {
        assert_eq!(wrapped("one two three", 7), ["one two", "three"]);
        assert_eq!(wrapped("überlang x", 3), ["überlang", "x"]);
        assert_eq!(wrapped("", 5), [""]);
    }
}
