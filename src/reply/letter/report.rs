//! Delivery reports (RFC 3464): what became of a notice, for each recipient.
//!
//! Never here: what follows from a failure.
//! Promises: a report says what its Action field says, whatever its subject or text.

use mail_parser::{Message, MessageParser, MimeHeaders, PartType};

/// What became of a message for one recipient.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RecipientReport {
    /// The address we sent to: the original recipient where it is named, else the final one, in
    /// lower case.
    pub address: String,
    /// What happened.
    pub action: Delivery,
    /// The status code, such as `5.1.1`.
    pub status: Option<String>,
    /// The Message-ID of the message that is reported on, without brackets.
    pub original_message_id: Option<String>,
}

/// The Action field.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Delivery {
    /// Given up.
    Failed,
    /// Still tried.
    Delayed,
    /// Delivered.
    Delivered,
    /// Handed to a system that reports nothing.
    Relayed,
    /// Delivered to a list or alias and sent on from there.
    Expanded,
}

/// Most recipients that one report is read for.
const RECIPIENTS_MAX: usize = 100;

/// The reports in a message; none if it is no delivery report.
pub(super) fn reports(message: &Message<'_>) -> Option<Vec<RecipientReport>> {
    let status = message.parts.iter().find(|part| {
        let subtype = part.content_type().and_then(|kind| kind.subtype()).unwrap_or_default();
        ["delivery-status", "global-delivery-status"]
            .iter()
            .any(|s| subtype.eq_ignore_ascii_case(s))
    })?;
    let original = original_message_id(message);
    let text = String::from_utf8_lossy(status.contents()).replace("\r\n", "\n");
    let blocks = text.split("\n\n").filter(|block| !block.trim().is_empty());
    Some(
        blocks
            .filter_map(|block| recipient(block, original.clone()))
            .take(RECIPIENTS_MAX)
            .collect(),
    )
}

fn recipient(block: &str, original_message_id: Option<String>) -> Option<RecipientReport> {
    let fields = fields(block);
    let field = |name: &str| {
        fields.iter().find(|(known, _)| known.eq_ignore_ascii_case(name)).map(|(_, v)| v.as_str())
    };
    let action = match field("Action")?.split_whitespace().next()?.to_ascii_lowercase().as_str() {
        "failed" => Delivery::Failed,
        "delayed" => Delivery::Delayed,
        "delivered" => Delivery::Delivered,
        "relayed" => Delivery::Relayed,
        "expanded" => Delivery::Expanded,
        _ => return None,
    };
    let address = field("Original-Recipient")
        .and_then(address)
        .or_else(|| field("Final-Recipient").and_then(address))?;
    let status = field("Status").and_then(|s| s.split_whitespace().next()).map(str::to_owned);
    Some(RecipientReport { address, action, status, original_message_id })
}

/// `rfc822; someone@example.test` → the address.
fn address(value: &str) -> Option<String> {
    let bare = value.split_once(';').map_or(value, |(_, address)| address);
    let bare = bare.trim().trim_matches(['<', '>']).to_lowercase();
    (bare.contains('@') && bare.len() <= 320).then_some(bare)
}

/// The fields of a block, unfolded.
fn fields(block: &str) -> Vec<(String, String)> {
    let mut out: Vec<(String, String)> = Vec::new();
    for line in block.lines() {
        if line.starts_with([' ', '\t']) {
            if let Some((_, value)) = out.last_mut() {
                value.push(' ');
                value.push_str(line.trim());
            }
        } else if let Some((name, value)) = line.split_once(':') {
            out.push((name.trim().to_owned(), value.trim().to_owned()));
        }
    }
    out
}

/// The Message-ID of the returned message or of its returned headers.
fn original_message_id(message: &Message<'_>) -> Option<String> {
    message.parts.iter().find_map(|part| match &part.body {
        PartType::Message(inner) => inner.message_id().map(str::to_owned),
        PartType::Text(_) | PartType::Binary(_) | PartType::InlineBinary(_) => {
            let subtype = part.content_type().and_then(|kind| kind.subtype()).unwrap_or_default();
            let headers = ["rfc822-headers", "global-headers", "rfc822", "global"];
            let returned = headers.iter().any(|s| subtype.eq_ignore_ascii_case(s));
            returned
                .then(|| MessageParser::default().parse(part.contents()))
                .flatten()
                .and_then(|inner| inner.message_id().map(str::to_owned))
        }
        PartType::Html(_) | PartType::Multipart(_) => None,
    })
}
