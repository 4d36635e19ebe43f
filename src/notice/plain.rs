//! The plain-text part of a notice.
//!
//! Never here: wording. Promises: paragraphs are single lines for the mail program to fold, so they
//! fit every screen; a table is one line a row, readable in any typeface.

use super::draft::{Answer, Block, Draft};

/// The text of a draft.
pub(super) fn rendered(draft: &Draft) -> String {
    let paragraphs: Vec<String> = draft.blocks.iter().map(paragraph).collect();
    let mut text = paragraphs.join("\n\n");
    text.push('\n');
    text
}

fn paragraph(block: &Block) -> String {
    match block {
        Block::Lead(text)
        | Block::Line(text)
        | Block::Heading(text)
        | Block::Urgent(text)
        | Block::Small(text) => text.clone(),
        Block::Answers(group) => {
            let mut lines = vec![group.write.clone()];
            lines.extend(group.answers.iter().map(answer));
            lines.join("\n")
        }
        Block::Part(part) => {
            let mut lines = vec![part.heading.clone()];
            lines.extend(part.lines.iter().cloned());
            lines.extend(part.answers.iter().map(answer));
            lines.join("\n")
        }
        Block::Table { head, rows } => {
            let lines = std::iter::once(head).chain(rows).map(|cells| cells.join(" · "));
            lines.collect::<Vec<_>>().join("\n")
        }
        Block::Ordered(items) => {
            let lines = items.iter().zip(1..).map(|(item, n)| format!("{n}. {item}"));
            lines.collect::<Vec<_>>().join("\n")
        }
        Block::Unordered(items) => {
            items.iter().map(|item| format!("- {item}")).collect::<Vec<_>>().join("\n")
        }
        Block::Quote { line, .. } | Block::Picture { line, .. } => line.clone(),
    }
}

/// An answer as it may be written, line by line.
fn answer(answer: &Answer) -> String {
    let mut text = String::new();
    for line in answer.body.trim_end().lines() {
        let line = line.trim_end();
        text.push_str(if text.is_empty() { "- " } else { "\n- " });
        text.push_str(line);
    }
    match &answer.meaning {
        Some(meaning) => format!("{text}\n  ({meaning})"),
        None => text,
    }
}
