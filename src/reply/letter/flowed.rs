//! `format=flowed` (RFC 3676): lines that end in a space go on in the next.
//!
//! Never here: quotes as such; their marks are only kept.
//! Promises: a signature line `-- ` never flows.

/// The paragraphs of a flowed text, one a line.
pub(super) fn unflowed(text: &str, deletes_space: bool) -> String {
    let mut out = String::with_capacity(text.len());
    let mut open: Option<usize> = None;
    for line in text.split('\n') {
        let depth = line.bytes().take_while(|b| *b == b'>').count();
        let content = &line[depth..];
        let content = content.strip_prefix(' ').unwrap_or(content);
        let signature = content == "-- ";
        if open == Some(depth) && !signature {
            out.push_str(content);
        } else {
            if !out.is_empty() || open.is_some() {
                out.push('\n');
            }
            if depth > 0 {
                out.push_str(&">".repeat(depth));
                out.push(' ');
            }
            out.push_str(content);
        }
        let flows = content.ends_with(' ') && !signature;
        if flows && deletes_space {
            out.pop();
        }
        open = flows.then_some(depth);
        if !flows && out.is_empty() {
            // The first line is empty: the next begins a line of its own.
            out.push('\n');
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_that_ends_in_a_space_goes_on() {
        assert_eq!(unflowed("red on the \nheel\n-- \nMe", false), "red on the heel\n-- \nMe");
        assert_eq!(unflowed("> no \n> marks\nyes", false), "> no marks\nyes");
        assert_eq!(unflowed("un \nclear", true), "unclear");
    }
}
