//! How the client sits: pelvis, legs, thigh supports.
//!
//! Never here: what to do about it (`review`).
//! Promises: an obliquity always says its low side, whether it is fixed and whether it is levelled.

use serde::{Deserialize, Serialize};

use crate::care::Side;

/// The pelvis, seen from behind.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Pelvis {
    /// Nobody looked.
    NotChecked,
    /// Both sides at one height without build-up for it.
    Level,
    /// One side lower than the other.
    Oblique(Obliquity),
}

/// One side of the pelvis lower than the other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Obliquity {
    /// The lower side.
    pub low_side: Side,
    /// Whether it can be moved.
    pub kind: ObliquityKind,
    /// Whether it is levelled in the seat.
    pub levelled: Levelled,
}

/// Whether an obliquity can be moved.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ObliquityKind {
    /// It can be corrected by hand.
    Flexible,
    /// It cannot.
    Fixed,
}

/// Whether an obliquity is levelled in the seat.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Levelled {
    /// Both sides are at one height in the seat.
    Yes,
    /// They are not.
    No,
}

/// How the legs lie.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Legs {
    /// Spread.
    Spread,
    /// Together.
    Together,
    /// Both turned to one side.
    Windswept,
}

/// Thigh supports in use.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ThighSupports {
    /// None.
    None,
    /// Between the thighs.
    Inner,
    /// Outside the thighs.
    Outer,
    /// Between and outside.
    InnerAndOuter,
}

/// Whether the relief is filled up a little for comfort.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ComfortFill {
    /// It is; this gives back a little of the off-loading.
    Used,
    /// It is not.
    NotUsed,
}

macro_rules! words {
    ($name:ident: $($variant:ident = $word:literal),+) => {
        impl $name {
            /// The words in settings, each with what it says.
            pub const WORDS: &[(&'static str, Self)] = &[$(($word, Self::$variant)),+];

            /// The word in settings.
            pub fn id(self) -> &'static str {
                match self { $(Self::$variant => $word),+ }
            }
        }
    };
}

words!(ObliquityKind: Flexible = "flexible", Fixed = "fixed");
words!(Legs: Spread = "spread", Together = "together", Windswept = "windswept");
words!(ThighSupports: None = "none", Inner = "inner", Outer = "outer",
       InnerAndOuter = "inner-and-outer");
