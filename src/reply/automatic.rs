//! Replies that no person wrote, told by their words alone.
//!
//! Never here: headers of a message (`letter`).
//! Promises: a reply that names a sign at a place of the body is never taken for a machine's.

use super::clause::{Segment, Stance};
use super::concept::Concept as C;

/// The segments with the words of a machine, if the reply is one.
pub(crate) fn automatic(segments: &[Segment]) -> Option<Vec<usize>> {
    let of = |concept| -> Vec<usize> {
        (0..segments.len()).filter(|i| segments[*i].says(concept)).collect()
    };
    let (sure, perhaps) = (of(C::Automatic), of(C::PerhapsAutomatic));
    let finding = segments.iter().any(|segment| {
        segment.has_place()
            && segment
                .items
                .iter()
                .any(|item| item.stance == Stance::Plain && item.is_any(super::stance::SIGNS))
    });
    let enough = !sure.is_empty() || perhaps.len() >= 2;
    (enough && !finding).then_some(if sure.is_empty() { perhaps } else { sure })
}
