//! A small writer of SVG: elements with attributes, and text, all escaped.
//!
//! Never here: what is drawn, colours.
//! Promises: what it writes is well-formed whatever the texts hold; numbers have at most one
//! decimal and no exponent, so that the same drawing is always the same bytes.

use std::fmt::Write as _;

use super::ink::Pair;

/// A drawing on a canvas of a given width, growing downward.
#[derive(Clone, Debug, Default)]
pub(super) struct Svg {
    body: String,
}

/// Where a text is held.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

/// A line's look.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stroke {
    pub(super) ink: &'static str,
    pub(super) width: f64,
    /// An SVG dash pattern; empty for a solid line.
    pub(super) dash: &'static str,
}

impl Stroke {
    pub(super) const fn solid(ink: &'static str, width: f64) -> Self {
        Self { ink, width, dash: "" }
    }

    pub(super) const fn dashed(ink: &'static str, width: f64, dash: &'static str) -> Self {
        Self { ink, width, dash }
    }

    fn attributes(self) -> String {
        let Self { ink, width, dash } = self;
        let dash =
            if dash.is_empty() { dash.to_owned() } else { format!(" stroke-dasharray=\"{dash}\"") };
        format!(" stroke=\"{ink}\" stroke-width=\"{}\"{dash}", number(width))
    }
}

impl Svg {
    /// Opens a group that carries data about what it shows. Close it with [`Svg::close`].
    pub(super) fn open(&mut self, data: &[(&str, String)]) {
        self.body.push_str("<g");
        for (name, value) in data {
            let _ = write!(self.body, " data-{name}=\"{}\"", escaped(value));
        }
        self.body.push_str(">\n");
    }

    pub(super) fn close(&mut self) {
        self.body.push_str("</g>\n");
    }

    pub(super) fn line(&mut self, from: (f64, f64), to: (f64, f64), stroke: Stroke) {
        let _ = writeln!(
            self.body,
            "<line x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\"{}/>",
            number(from.0),
            number(from.1),
            number(to.0),
            number(to.1),
            stroke.attributes()
        );
    }

    /// A rectangle from its upper left corner.
    pub(super) fn rect(
        &mut self,
        at: (f64, f64),
        size: (f64, f64),
        fill: &str,
        stroke: Option<Stroke>,
    ) {
        let _ = writeln!(
            self.body,
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"{fill}\"{}/>",
            number(at.0),
            number(at.1),
            number(size.0),
            number(size.1),
            stroke.map_or_else(String::new, Stroke::attributes)
        );
    }

    pub(super) fn circle(
        &mut self,
        centre: (f64, f64),
        radius: f64,
        fill: &str,
        stroke: Option<Stroke>,
    ) {
        let _ = writeln!(
            self.body,
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" fill=\"{fill}\"{}/>",
            number(centre.0),
            number(centre.1),
            number(radius),
            stroke.map_or_else(String::new, Stroke::attributes)
        );
    }

    pub(super) fn polygon(&mut self, points: &[(f64, f64)], fill: &str, stroke: Option<Stroke>) {
        let points: Vec<String> =
            points.iter().map(|(x, y)| format!("{},{}", number(*x), number(*y))).collect();
        let _ = writeln!(
            self.body,
            "<polygon points=\"{}\" fill=\"{fill}\" stroke-linejoin=\"round\"{}/>",
            points.join(" "),
            stroke.map_or_else(String::new, Stroke::attributes)
        );
    }

    pub(super) fn path(&mut self, path: &str, fill: &str, stroke: Option<Stroke>) {
        let _ = writeln!(
            self.body,
            "<path d=\"{path}\" fill=\"{fill}\" stroke-linejoin=\"round\"{}/>",
            stroke.map_or_else(String::new, Stroke::attributes)
        );
    }

    /// A text on its baseline.
    pub(super) fn text(
        &mut self,
        at: (f64, f64),
        size: f64,
        pair: Pair,
        anchor: Anchor,
        text: &str,
    ) {
        let anchor = match anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        let _ = writeln!(
            self.body,
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\" fill=\"{}\" text-anchor=\"{anchor}\">\
             {}</text>",
            number(at.0),
            number(at.1),
            number(size),
            pair.ink,
            escaped(text)
        );
    }

    /// The finished drawing. `described` is what it shows, for those who do not see it.
    pub(super) fn finished(
        self,
        (width, height): (f64, f64),
        ground: &str,
        described: &str,
        defs: &str,
    ) -> String {
        let (width, height) = (number(width), number(height));
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" \
             viewBox=\"0 0 {width} {height}\" role=\"img\" font-family=\"{FAMILY}, sans-serif\">\n\
             <title>{}</title>\n{defs}\
             <rect x=\"0\" y=\"0\" width=\"{width}\" height=\"{height}\" fill=\"{ground}\"/>\n\
             {}</svg>\n",
            escaped(described),
            self.body
        )
    }
}

/// The family of the font that goes with the program.
pub(super) const FAMILY: &str = "DejaVu Sans";

/// About how wide a text is in the font that goes with the program; rather more than less. Its
/// letters are between a quarter and one em wide.
pub(super) fn text_width(text: &str, size: f64) -> f64 {
    let em = |c: char| match c {
        'i' | 'j' | 'l' | 'I' | '.' | ',' | ':' | ';' | '\'' | '|' | '’' => 0.32,
        ' ' | '\u{A0}' | 'f' | 't' | 'r' | '(' | ')' | '-' | '/' => 0.41,
        'm' | 'w' | 'M' | 'W' | '–' | '…' | '%' => 0.99,
        'A'..='Z' => 0.73,
        c if c.is_ascii() => 0.64,
        // Other scripts vary more.
        c if c.is_lowercase() => 0.68,
        _ => 0.9,
    };
    text.chars().map(em).sum::<f64>() * size
}

/// A text in lines no wider than `width`, broken at spaces; a longer word stays whole.
pub(super) fn wrapped(text: &str, size: f64, width: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split(' ').filter(|word| !word.is_empty()) {
        match lines.last_mut() {
            Some(line) if text_width(&format!("{line} {word}"), size) <= width => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

/// A number with at most one decimal.
pub(super) fn number(value: f64) -> String {
    let tenths = (value * 10.0).round() / 10.0;
    // `-0` would be another text for the same place.
    format!("{}", if tenths == 0.0 { 0.0 } else { tenths })
}

fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            // XML has no place for these, escaped or not.
            c if c.is_control() || matches!(c, '\u{FFFE}' | '\u{FFFF}') => out.push(' '),
            other => out.push(other),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short_and_never_minus_nothing() {
        let texts: Vec<String> = [1.0, 1.25, -0.01, 10.04, 1e7].map(number).into();
        assert_eq!(texts, ["1", "1.3", "0", "10", "10000000"]);
    }

    #[test]
    fn a_hostile_text_cannot_leave_its_place() {
        let mut svg = Svg::default();
        svg.open(&[("note", "\"><script>".to_owned())]);
        svg.text((0.0, 0.0), 12.0, super::super::ink::TEXT, Anchor::Start, "</text>&\u{1}'");
        svg.close();
        let whole = svg.finished((10.0, 10.0), "#ffffff", "<b>", "");
        assert!(!whole.contains("<script>") && !whole.contains("<b>") && !whole.contains('\u{1}'));
        assert_eq!(whole.matches("</text>").count(), 1);
    }

    #[test]
    fn lines_break_at_spaces_and_keep_every_word() {
        let lines = wrapped("side of the left hip", 12.0, 70.0);
        assert!(lines.len() > 1 && lines.iter().all(|line| text_width(line, 12.0) <= 70.0));
        assert_eq!(lines.join(" "), "side of the left hip");
    }
}
