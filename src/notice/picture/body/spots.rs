//! Where each place of the body is on the drawing.
//!
//! Never here: the outline, words.
//! Promises: every place but 'elsewhere' has a spot; sides mirror each other.

use crate::care::{Place, Side, Site};

/// The spot of a place: how far from the midline and how far down. None for a place that the
/// drawing does not show.
fn spot(place: Place) -> Option<(f64, f64)> {
    Some(match place {
        Place::Ischium => (20.0, 198.0),
        Place::Buttock => (38.0, 176.0),
        Place::Sacrum => (0.0, 158.0),
        Place::Coccyx => (0.0, 180.0),
        Place::Trochanter => (57.0, 192.0),
        Place::Perineum => (0.0, 219.0),
        Place::Thigh => (30.0, 246.0),
        Place::Heel => (22.0, 384.0),
        Place::Ankle => (29.0, 362.0),
        Place::Foot => (41.0, 388.0),
        Place::Knee => (25.0, 300.0),
        Place::Spine => (0.0, 92.0),
        Place::ShoulderBlade => (23.0, 50.0),
        Place::Elbow => (68.0, 104.0),
        Place::Elsewhere => return None,
    })
}

/// The spots of a site: both sides where a paired place was named without its side.
pub(super) fn spots(site: Site) -> Vec<(f64, f64)> {
    let Some((across, down)) = spot(site.place()) else { return Vec::new() };
    site.both_if_unsided()
        .into_iter()
        .map(|site| match site.side() {
            Some(Side::Left) => (-across, down),
            Some(Side::Right) | None => (across, down),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_place_but_elsewhere_has_a_spot_of_its_own() {
        let mut all: Vec<(f64, f64)> = Vec::new();
        for place in Place::ALL {
            let found = spots(Site::unsided(place));
            assert_eq!(found.is_empty(), place == Place::Elsewhere, "{}", place.id());
            assert_eq!(found.len() == 2, place.is_paired(), "{}", place.id());
            all.extend(found);
        }
        for (index, one) in all.iter().enumerate() {
            for other in &all[index + 1..] {
                let apart = (one.0 - other.0).hypot(one.1 - other.1);
                assert!(apart > 17.0, "{one:?} and {other:?} are {apart:.1} apart");
            }
        }
    }

    #[test]
    fn the_clients_left_is_on_the_left() {
        let left = spots(Site::sided(Place::Ischium, Side::Left));
        assert!(left.len() == 1 && left[0].0 < 0.0);
    }
}
