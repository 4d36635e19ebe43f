//! How a message is built: whether its parts can be read whole.
//!
//! Never here: what the parts say.
//! Promises: a message nested or parted beyond all use is told apart, whatever stands in it.

use mail_parser::{Message, PartType};

/// Deepest nesting of parts that is read. Common practice, no source: mail programs nest three or
/// four deep, and gateways add one or two.
const DEPTH_MAX: usize = 16;

/// Most parts that are read.
const PARTS_MAX: usize = 500;

/// Whether all parts of a message can be read.
pub(super) fn is_readable(message: &Message<'_>) -> bool {
    message.parts.len() <= PARTS_MAX && is_shallow(message, DEPTH_MAX)
}

fn is_shallow(message: &Message<'_>, depth: usize) -> bool {
    let Some(depth) = depth.checked_sub(1) else { return false };
    let mut level = vec![0usize];
    let mut seen = 0;
    for _ in 0..=depth {
        let mut next: Vec<usize> = Vec::new();
        for part in level.iter().filter_map(|id| message.parts.get(*id)) {
            match &part.body {
                PartType::Multipart(inner) => {
                    next.extend(inner.iter().filter_map(|id| usize::try_from(*id).ok()));
                }
                PartType::Message(inner) if !is_shallow(inner, depth) => return false,
                PartType::Message(_)
                | PartType::Text(_)
                | PartType::Html(_)
                | PartType::Binary(_)
                | PartType::InlineBinary(_) => {}
            }
        }
        seen += next.len();
        if next.is_empty() {
            return true;
        }
        if seen > PARTS_MAX {
            return false;
        }
        level = next;
    }
    false
}
