//! The report as plain text.
//!
//! Never here: wording. Promises: everything that the printed report says is here too, the
//! pictures in words.

use super::letter::{List, Sheet};

/// The text of a report.
pub(super) fn rendered(sheet: &Sheet) -> String {
    let mut parts = vec![underlined(&sheet.title, '=')];
    parts.push(
        sheet
            .facts
            .iter()
            .map(|(name, fact)| format!("{name}: {fact}"))
            .collect::<Vec<_>>()
            .join("\n"),
    );
    let (heading, lines) = &sheet.fitting;
    parts.push(underlined(heading, '-'));
    parts.push(lines.join("\n"));
    parts.push(underlined(&sheet.course.0, '-'));
    parts.push(sheet.course.1.described.clone());
    list(&mut parts, &sheet.findings);
    parts.push(underlined(&sheet.places.0, '-'));
    let places = sheet.places.1.as_ref();
    parts.push(places.map_or(&sheet.no_marks, |drawing| &drawing.described).clone());
    list(&mut parts, &sheet.decisions);
    parts.extend(sheet.cautions.iter().cloned());
    parts.push(format!("{}: ____________________", sheet.signature));
    let mut text = parts.join("\n\n");
    text.push('\n');
    text
}

fn list(parts: &mut Vec<String>, list: &List) {
    parts.push(underlined(&list.heading, '-'));
    if !list.rows.is_empty() {
        let lines = std::iter::once(&list.head).chain(&list.rows);
        parts.push(lines.map(|cells| cells.join(" · ")).collect::<Vec<_>>().join("\n"));
    }
    parts.extend(list.notes.iter().cloned());
}

fn underlined(text: &str, with: char) -> String {
    format!("{text}\n{}", with.to_string().repeat(text.chars().count()))
}
