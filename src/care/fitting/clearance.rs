//! The room left under a bony site, as somebody measured it: millimetres or inches.
//!
//! Never here: which clearance is enough (that is practice, and the clinic's to set).
//! Promises: the written unit is kept; two clearances are compared exactly, without rounding,
//! whatever their units.

use std::cmp::Ordering;
use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

/// A tenth of a millimetre, counted in tenths of a micrometre.
const TENTH_OF_MILLIMETRE: u32 = 1_000;
/// A sixteenth of an inch, counted in tenths of a micrometre: an inch is exactly 25.4 mm
/// (international yard and pound agreement, 1959).
const SIXTEENTH_OF_INCH: u32 = 15_875;
/// The largest clearance: 200 mm. More is no room under a site but a slip of the pen.
const LARGEST: u32 = 2_000 * TENTH_OF_MILLIMETRE;

/// A clearance in the unit in which it was written: 0 to 200 mm.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Clearance {
    count: u32,
    unit: Unit,
}

/// The finest mark that a unit is read to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Unit {
    TenthOfMillimetre,
    SixteenthOfInch,
}

impl Clearance {
    /// So many tenths of a millimetre; none above 200 mm.
    pub fn from_tenths_of_mm(count: u32) -> Option<Self> {
        Self::checked(count, Unit::TenthOfMillimetre)
    }

    /// So many sixteenths of an inch; none above 200 mm.
    pub fn from_sixteenths_of_inch(count: u32) -> Option<Self> {
        Self::checked(count, Unit::SixteenthOfInch)
    }

    fn checked(count: u32, unit: Unit) -> Option<Self> {
        let exact = count.checked_mul(unit.size())?;
        (exact <= LARGEST).then_some(Self { count, unit })
    }

    /// The length in tenths of a micrometre, in which both units are whole numbers.
    fn exact(self) -> u32 {
        self.count * self.unit.size()
    }

    /// The length in millimetres, exactly, such as `15.875`.
    pub fn in_mm(self) -> String {
        let (whole, rest) = (self.exact() / 10_000, self.exact() % 10_000);
        if rest == 0 {
            return whole.to_string();
        }
        format!("{whole}.{rest:04}").trim_end_matches('0').to_owned()
    }

    /// As written; inches with the millimetres beside them, such as `5/8 in (15.875 mm)`.
    pub fn for_people(self) -> String {
        match self.unit {
            Unit::TenthOfMillimetre => format!("{} mm", self.in_mm()),
            Unit::SixteenthOfInch => format!("{} in ({} mm)", self.inches(), self.in_mm()),
        }
    }

    fn inches(self) -> String {
        let (whole, mut rest, mut of) = (self.count / 16, self.count % 16, 16);
        while rest > 0 && rest.is_multiple_of(2) {
            (rest, of) = (rest / 2, of / 2);
        }
        match (whole, rest) {
            (whole, 0) => whole.to_string(),
            (0, rest) => format!("{rest}/{of}"),
            (whole, rest) => format!("{whole} {rest}/{of}"),
        }
    }
}

impl Unit {
    fn size(self) -> u32 {
        match self {
            Self::TenthOfMillimetre => TENTH_OF_MILLIMETRE,
            Self::SixteenthOfInch => SIXTEENTH_OF_INCH,
        }
    }
}

/// Equal lengths are equal, whatever their units: half an inch is 12.7 mm.
impl PartialEq for Clearance {
    fn eq(&self, other: &Self) -> bool {
        self.exact() == other.exact()
    }
}

impl Eq for Clearance {}

impl PartialOrd for Clearance {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Clearance {
    fn cmp(&self, other: &Self) -> Ordering {
        self.exact().cmp(&other.exact())
    }
}

/// As in a settings file: `16mm`, `12.7mm`, `5/8in`, `1 1/4in`.
impl fmt::Display for Clearance {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.unit {
            Unit::TenthOfMillimetre => write!(f, "{}mm", self.in_mm()),
            Unit::SixteenthOfInch => write!(f, "{}in", self.inches()),
        }
    }
}

/// Why a text is not a clearance.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ClearanceError {
    /// A bare number.
    #[error("a clearance needs its unit: \"16mm\", or inches as a fraction: \"5/8in\"")]
    NoUnit,
    /// Finer than anybody measures, or a fraction that is not of sixteenths.
    #[error(
        "write millimetres with at most one decimal (\"12.7mm\"), inches as halves, quarters, \
             eighths or sixteenths (\"5/8in\")"
    )]
    Malformed,
    /// More than 200 mm.
    #[error("more than 200 mm is no clearance under a site")]
    TooLarge,
}

impl FromStr for Clearance {
    type Err = ClearanceError;

    fn from_str(text: &str) -> Result<Self, ClearanceError> {
        let text = text.trim();
        if let Some(number) = text.strip_suffix("mm") {
            let tenths = tenths(number.trim_end()).ok_or(ClearanceError::Malformed)?;
            return Self::from_tenths_of_mm(tenths).ok_or(ClearanceError::TooLarge);
        }
        if let Some(number) = text.strip_suffix("in").or_else(|| text.strip_suffix('"')) {
            let sixteenths = sixteenths(number.trim_end()).ok_or(ClearanceError::Malformed)?;
            return Self::from_sixteenths_of_inch(sixteenths).ok_or(ClearanceError::TooLarge);
        }
        Err(ClearanceError::NoUnit)
    }
}

/// `16` or `12.7` in tenths.
fn tenths(text: &str) -> Option<u32> {
    let (whole, decimal) = text.split_once('.').unwrap_or((text, "0"));
    let decimal = (decimal.len() == 1).then(|| number(decimal)).flatten()?;
    number(whole)?.checked_mul(10)?.checked_add(decimal)
}

/// `2`, `5/8` or `1 1/4` in sixteenths.
fn sixteenths(text: &str) -> Option<u32> {
    let (whole, fraction) = match text.split_once(char::is_whitespace) {
        Some((whole, fraction)) => (number(whole)?, Some(fraction.trim())),
        None if text.contains('/') => (0, Some(text)),
        None => (number(text)?, None),
    };
    let part = match fraction.map(|fraction| fraction.split_once('/')) {
        None => 0,
        Some(None) => return None,
        Some(Some((above, below))) => {
            let below = number(below).filter(|below| matches!(below, 2 | 4 | 8 | 16))?;
            number(above).filter(|above| *above < below)? * (16 / below)
        }
    };
    whole.checked_mul(16)?.checked_add(part)
}

fn number(digits: &str) -> Option<u32> {
    let plain = !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit());
    plain.then(|| digits.parse().ok()).flatten()
}

impl TryFrom<String> for Clearance {
    type Error = ClearanceError;

    fn try_from(text: String) -> Result<Self, ClearanceError> {
        text.parse()
    }
}

impl From<Clearance> for String {
    fn from(clearance: Clearance) -> Self {
        clearance.to_string()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Clearance {
        text.parse().expect("OK because the test writes clearances")
    }

    #[test]
    fn inches_are_exactly_the_millimetres_that_the_inch_is_defined_by() {
        for (inches, mm) in [
            ("1/16in", "1.5875"),
            ("1/2in", "12.7"),
            ("5/8in", "15.875"),
            ("3/4in", "19.05"),
            ("1in", "25.4"),
            ("1 1/4in", "31.75"),
        ] {
            assert_eq!(read(inches).in_mm(), mm);
        }
        assert_eq!(read("1/2in"), read("12.7mm"));
        assert!(read("3/4in") > read("19mm") && read("3/4in") < read("19.1mm"));
    }

    #[test]
    fn every_sixteenth_up_to_the_largest_agrees_with_whole_number_arithmetic() {
        for count in 0..=125_u32 {
            let clearance = Clearance::from_sixteenths_of_inch(count).expect("OK below 200 mm");
            let (mm, rest) = (count * 254 / 160, count * 254 % 160);
            let floor = Clearance::from_tenths_of_mm(mm * 10).expect("OK below 200 mm");
            assert!(if rest == 0 { clearance == floor } else { clearance > floor });
        }
        assert!(Clearance::from_sixteenths_of_inch(126).is_none());
    }

    #[test]
    fn a_clearance_prints_in_the_unit_in_which_it_was_written() {
        for text in ["0mm", "16mm", "12.7mm", "5/8in", "1/2in", "1in", "1 1/4in", "200mm"] {
            assert_eq!(read(text).to_string(), text);
        }
        assert_eq!(read("10/16in").to_string(), "5/8in");
        assert_eq!(read("5/8in").for_people(), "5/8 in (15.875 mm)");
        assert_eq!(read("16 mm").for_people(), "16 mm");
    }

    #[test]
    fn what_is_no_measure_is_refused_with_the_reason() {
        assert_eq!("16".parse::<Clearance>(), Err(ClearanceError::NoUnit));
        assert_eq!("2cm".parse::<Clearance>(), Err(ClearanceError::NoUnit));
        for text in ["0.625in", "5/7in", "16/8in", "12.75mm", "-1mm", "1/in", "mm", "1 5in"] {
            assert_eq!(text.parse::<Clearance>(), Err(ClearanceError::Malformed), "{text}");
        }
        assert_eq!("200.1mm".parse::<Clearance>(), Err(ClearanceError::TooLarge));
        assert_eq!("99999999in".parse::<Clearance>(), Err(ClearanceError::TooLarge));
    }
}
