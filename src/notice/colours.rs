//! The colours of mails and pages, as pairs of text and ground.
//!
//! Never here: meaning by colour alone.
//! Promises: every pair has a contrast of at least 4.5 to 1 (WCAG 2.2, success criterion 1.4.3).

/// Text and the ground that it stands on, as `#rrggbb`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pair {
    /// The text.
    pub ink: &'static str,
    /// The ground.
    pub ground: &'static str,
}

/// Running text.
pub const TEXT: Pair = Pair { ink: "#1a2027", ground: "#ffffff" };
/// Cautions and captions.
pub const SMALL: Pair = Pair { ink: "#4a545f", ground: "#ffffff" };
/// One-tap answers; the ink is their border too.
pub const BUTTON: Pair = Pair { ink: "#0f3d66", ground: "#eef4fa" };
/// Words that somebody wrote.
pub const QUOTE: Pair = Pair { ink: "#1a2027", ground: "#f3f1ec" };
/// The bar over a stop or an alert.
pub const ALERT: Pair = Pair { ink: "#ffffff", ground: "#8a1c1c" };
/// Column heads.
pub const HEAD: Pair = Pair { ink: "#1a2027", ground: "#e9edf1" };

/// Every pair in use.
pub const ALL: [Pair; 6] = [TEXT, SMALL, BUTTON, QUOTE, ALERT, HEAD];

/// The contrast of two colours by WCAG 2.2, 1 to 21; none where one is not `#rrggbb`.
pub fn contrast(one: &str, other: &str) -> Option<f64> {
    let (a, b) = (luminance(one)?, luminance(other)?);
    Some((a.max(b) + 0.05) / (a.min(b) + 0.05))
}

/// Relative luminance, as WCAG 2.2 defines it.
fn luminance(colour: &str) -> Option<f64> {
    let digits =
        colour.strip_prefix('#').filter(|digits| digits.len() == 6 && digits.is_ascii())?;
    let channel = |at: usize| {
        let value = f64::from(u8::from_str_radix(&digits[at..at + 2], 16).ok()?) / 255.0;
        Some(if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) })
    };
    Some(0.2126 * channel(0)? + 0.7152 * channel(2)? + 0.0722 * channel(4)?)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_pair_of_colours_has_enough_contrast() {
        for Pair { ink, ground } in ALL {
            let contrast = contrast(ink, ground).expect("OK because both are #rrggbb");
            assert!(contrast >= 4.5, "{ink} on {ground} has {contrast:.2}");
        }
    }

    #[test]
    fn contrast_agrees_with_known_values() {
        let near = |a: &str, b: &str, wanted: f64| {
            let found = contrast(a, b).expect("OK because both are #rrggbb");
            assert!((found - wanted).abs() < 0.005, "{a} on {b}: {found}");
        };
        near("#000000", "#ffffff", 21.0);
        near("#777777", "#ffffff", 4.48);
        near("#ff0000", "#ffffff", 4.00);
        assert_eq!(contrast("red", "#ffffff"), None);
    }
}
