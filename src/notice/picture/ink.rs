//! The colours of pictures, as pairs of ink and ground.
//!
//! Never here: meaning by colour alone: each sign has a shape or pattern of its own.
//! Promises: text has a contrast of at least 4.5 to 1 on its ground, every other sign 3 to 1
//! (WCAG 2.2, success criteria 1.4.3 and 1.4.11), so all of it holds in greyscale too.

pub(super) use super::super::colours::Pair;

/// The paper of every picture.
pub(super) const PAPER: &str = "#ffffff";
/// Lines that only guide the eye.
pub(super) const GRID: &str = "#e0e0e8";
/// The body in the map of places.
pub(super) const SKIN: &str = "#f0e8e0";

/// Text and the darkest signs.
pub(super) const TEXT: Pair = Pair { ink: "#182028", ground: PAPER };
/// Numbers on axes, captions.
pub(super) const SMALL: Pair = Pair { ink: "#485860", ground: PAPER };
/// Text in a dark sign.
pub(super) const INVERSE: Pair = Pair { ink: PAPER, ground: "#182028" };
/// Bars of sittings.
pub(super) const BAR: Pair = Pair { ink: "#205880", ground: PAPER };
/// The limit and everything that went over it.
pub(super) const LIMIT: Pair = Pair { ink: "#881818", ground: PAPER };
/// The line from which a mark fades slowly, axes.
pub(super) const AXIS: Pair = Pair { ink: "#687880", ground: PAPER };
/// The outline of the body, and bones under the skin.
pub(super) const BONE: Pair = Pair { ink: "#706858", ground: SKIN };

/// The edge of the seat, and its ground.
pub(super) const SEAT: Pair = Pair { ink: "#486880", ground: "#e0e8f0" };

/// Pairs with text in them.
#[cfg(test)]
pub(super) const TEXTS: [Pair; 4] = [TEXT, SMALL, INVERSE, LIMIT];
/// Pairs of other signs.
#[cfg(test)]
pub(super) const SIGNS: [Pair; 4] = [BAR, AXIS, BONE, SEAT];

#[cfg(test)]
mod tests {
    use super::super::super::colours::contrast;
    use super::*;

    #[test]
    fn text_and_signs_stand_out_from_their_ground_even_without_colour() {
        let enough = |pair: Pair, least: f64| {
            let found = contrast(pair.ink, pair.ground).expect("OK because both are #rrggbb");
            assert!(found >= least, "{} on {} has {found:.2}", pair.ink, pair.ground);
        };
        TEXTS.into_iter().for_each(|pair| enough(pair, 4.5));
        SIGNS.into_iter().for_each(|pair| enough(pair, 3.0));
        // Marks and the lines that lead to them stand on the body and on the seat as well.
        for ink in [TEXT.ink, LIMIT.ink, SEAT.ink] {
            for ground in [SKIN, SEAT.ground] {
                enough(Pair { ink, ground }, 3.0);
            }
        }
    }
}
