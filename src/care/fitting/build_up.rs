//! Build-up pieces under the thighs, which raise one side or both.
//!
//! Never here: when to add one (`review`).
//! Promises: never more pieces on a side than the seat takes.

use serde::{Deserialize, Serialize};

use crate::care::Side;

/// The pieces in use, and the most that the seat takes on one side.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct BuildUp {
    left: u32,
    right: u32,
    seat_takes: u32,
}

/// Why numbers of pieces cannot be.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("more pieces on one side than the seat takes")]
pub struct TooManyPieces;

impl BuildUp {
    /// Pieces per side, and the most that the seat takes on one side.
    ///
    /// # Errors
    /// When a side has more pieces than the seat takes.
    pub fn new(left: u32, right: u32, seat_takes: u32) -> Result<Self, TooManyPieces> {
        let fits = left.max(right) <= seat_takes;
        if fits { Ok(Self { left, right, seat_takes }) } else { Err(TooManyPieces) }
    }

    /// Pieces in use on a side.
    pub fn pieces(self, side: Side) -> u32 {
        match side {
            Side::Left => self.left,
            Side::Right => self.right,
        }
    }

    /// The most that the seat takes on one side.
    pub fn seat_takes(self) -> u32 {
        self.seat_takes
    }

    /// With one more piece on each of some sides; none where the seat takes no more.
    pub fn raised(self, sides: &[Side]) -> Option<Self> {
        let more = |side: Side| self.pieces(side) + u32::from(sides.contains(&side));
        Self::new(more(Side::Left), more(Side::Right), self.seat_takes).ok()
    }
}
