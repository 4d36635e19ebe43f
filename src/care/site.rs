//! Body sites that bear load in a seat or get marked near it.
//!
//! Never here: wording for people (that is in the language folders).
//! Promises: an id printed is an id that parses; places without two sides never carry a side.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

/// A place on the body.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Place {
    /// Sit bone (ischial tuberosity).
    Ischium,
    /// Buttock, away from the bone.
    Buttock,
    /// Base of the spine.
    Sacrum,
    /// Tailbone.
    Coccyx,
    /// Bony side of the hip.
    Trochanter,
    /// Groin, between the legs.
    Perineum,
    /// Back of the thigh.
    Thigh,
    /// Heel.
    Heel,
    /// Ankle.
    Ankle,
    /// Foot, toes too.
    Foot,
    /// Knee.
    Knee,
    /// Backbone above the sacrum.
    Spine,
    /// Shoulder blade.
    ShoulderBlade,
    /// Elbow.
    Elbow,
    /// Anywhere else.
    Elsewhere,
}

/// Which side of the body.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Side {
    /// The client's left.
    Left,
    /// The client's right.
    Right,
}

impl Side {
    /// Both sides.
    pub const BOTH: [Self; 2] = [Self::Left, Self::Right];

    /// The word in settings.
    pub fn id(self) -> &'static str {
        match self {
            Self::Left => "left",
            Self::Right => "right",
        }
    }
}

impl Place {
    /// All places, in the order of the body from seat to elsewhere.
    pub const ALL: [Self; 15] = [
        Self::Ischium,
        Self::Buttock,
        Self::Sacrum,
        Self::Coccyx,
        Self::Trochanter,
        Self::Perineum,
        Self::Thigh,
        Self::Heel,
        Self::Ankle,
        Self::Foot,
        Self::Knee,
        Self::Spine,
        Self::ShoulderBlade,
        Self::Elbow,
        Self::Elsewhere,
    ];

    /// The place's id.
    pub fn id(self) -> &'static str {
        match self {
            Self::Ischium => "ischium",
            Self::Buttock => "buttock",
            Self::Sacrum => "sacrum",
            Self::Coccyx => "coccyx",
            Self::Trochanter => "trochanter",
            Self::Perineum => "perineum",
            Self::Thigh => "thigh",
            Self::Heel => "heel",
            Self::Ankle => "ankle",
            Self::Foot => "foot",
            Self::Knee => "knee",
            Self::Spine => "spine",
            Self::ShoulderBlade => "shoulder-blade",
            Self::Elbow => "elbow",
            Self::Elsewhere => "elsewhere",
        }
    }

    /// Whether the body has this place on both sides.
    pub fn is_paired(self) -> bool {
        !matches!(
            self,
            Self::Sacrum | Self::Coccyx | Self::Perineum | Self::Spine | Self::Elsewhere
        )
    }
}

/// A place with the side where it was said.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Site {
    place: Place,
    side: Option<Side>,
}

impl Site {
    /// A site whose side was not said or that has none.
    pub fn unsided(place: Place) -> Self {
        Self { place, side: None }
    }

    /// A site on one side; the side is dropped where the place has none.
    pub fn sided(place: Place, side: Side) -> Self {
        Self { place, side: place.is_paired().then_some(side) }
    }

    /// The place.
    pub fn place(self) -> Place {
        self.place
    }

    /// The side, where it was said and the place has one.
    pub fn side(self) -> Option<Side> {
        self.side
    }

    /// The sites that this one counts for: itself, or both sides of a paired place whose side was
    /// not said (R13).
    pub fn both_if_unsided(self) -> Vec<Self> {
        match self.side {
            None if self.place.is_paired() => {
                vec![Self::sided(self.place, Side::Left), Self::sided(self.place, Side::Right)]
            }
            _ => vec![self],
        }
    }
}

impl fmt::Display for Site {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.place.id())?;
        match self.side {
            Some(Side::Left) => f.write_str("-left"),
            Some(Side::Right) => f.write_str("-right"),
            None => Ok(()),
        }
    }
}

/// A text that is not the id of a site.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("unknown site `{0}`")]
pub struct UnknownSite(pub String);

impl FromStr for Site {
    type Err = UnknownSite;

    fn from_str(text: &str) -> Result<Self, UnknownSite> {
        let (name, side) = match (text.strip_suffix("-left"), text.strip_suffix("-right")) {
            (Some(name), _) => (name, Some(Side::Left)),
            (_, Some(name)) => (name, Some(Side::Right)),
            (None, None) => (text, None),
        };
        Place::ALL
            .into_iter()
            .find(|place| place.id() == name && (side.is_none() || place.is_paired()))
            .map(|place| Self { place, side })
            .ok_or_else(|| UnknownSite(text.to_owned()))
    }
}

impl TryFrom<String> for Site {
    type Error = UnknownSite;

    fn try_from(text: String) -> Result<Self, UnknownSite> {
        text.parse()
    }
}

impl From<Site> for String {
    fn from(site: Site) -> Self {
        site.to_string()
    }
}

/// Every id a site can have.
pub fn all_sites() -> Vec<Site> {
    let mut all = Vec::new();
    for place in Place::ALL {
        all.push(Site::unsided(place));
        if place.is_paired() {
            all.push(Site::sided(place, Side::Left));
            all.push(Site::sided(place, Side::Right));
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_site_id_parses_back_to_its_site() {
        for site in all_sites() {
            assert_eq!(site.to_string().parse(), Ok(site));
        }
        assert!("sacrum-left".parse::<Site>().is_err());
        assert!("hip".parse::<Site>().is_err());
    }
}
