//! The report as a page to print.
//!
//! Never here: wording, scripts, anything remote.
//! Promises: one file; everything that people wrote or are called is escaped; the second page
//! says whose it is and begins with the findings; no row is torn between pages; prints in black on white.

use super::html::escaped;
use super::letter::{List, Sheet};

/// The page of a report.
pub(super) fn rendered(sheet: &Sheet) -> String {
    let (language, title) = (escaped(&sheet.language), escaped(&sheet.title));
    let facts: String = sheet
        .facts
        .iter()
        .map(|(name, fact)| format!("<dt>{}</dt><dd>{}</dd>\n", escaped(name), escaped(fact)))
        .collect();
    let (fitting, lines) = &sheet.fitting;
    let lines: String = lines.iter().map(|line| format!("<p>{}</p>\n", escaped(line))).collect();
    let (course, drawing) = &sheet.course;
    let (places, map) = &sheet.places;
    let map = match map {
        Some(drawing) => drawing.svg.clone(),
        None => format!("<p>{}</p>\n", escaped(&sheet.no_marks)),
    };
    let cautions: String = sheet
        .cautions
        .iter()
        .map(|line| format!("<p class=\"small\">{}</p>\n", escaped(line)))
        .collect();
    format!(
        "<!doctype html>\n<html lang=\"{language}\" dir=\"{direction}\">\n<head>\n\
         <meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <title>{title}</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n\
         <section class=\"sheet\">\n<h1>{title}</h1>\n<div class=\"beside\">\n<div>\n<dl>\n{facts}</dl>\n\
         <h2>{fitting}</h2>\n{lines}</div>\n\
         <div>\n<h2 class=\"first\">{places}</h2>\n<figure>\n{map}</figure>\n</div>\n</div>\n\
         <h2>{course}</h2>\n<figure class=\"course\">\n{chart}</figure>\n</section>\n\
         <section class=\"second\">\n<p class=\"small\">{title} · {whom}</p>\n\
         {findings}{decisions}{cautions}\
         <p class=\"sign\">{signature}</p>\n</section>\n</body>\n</html>\n",
        direction = sheet.direction,
        fitting = escaped(fitting),
        course = escaped(course),
        chart = drawing.svg,
        whom = sheet.facts.first().map_or_else(Default::default, |(_, whom)| escaped(whom)),
        findings = list(&sheet.findings),
        places = escaped(places),
        decisions = list(&sheet.decisions),
        signature = escaped(&sheet.signature),
    )
}

fn list(list: &List) -> String {
    let cells = |tag: &str, cells: &[String]| -> String {
        cells.iter().map(|cell| format!("<{tag}>{}</{tag}>", escaped(cell))).collect()
    };
    let mut out = format!("<h2>{}</h2>\n", escaped(&list.heading));
    if !list.rows.is_empty() {
        let rows: String =
            list.rows.iter().map(|row| format!("<tr>{}</tr>\n", cells("td", row))).collect();
        let head = cells("th scope=\"col\"", &list.head).replace("</th scope=\"col\">", "</th>");
        out.push_str(&format!(
            "<table>\n<thead><tr>{head}</tr></thead>\n<tbody>\n{rows}</tbody>\n</table>\n"
        ));
    }
    for note in &list.notes {
        out.push_str(&format!("<p class=\"small\">{}</p>\n", escaped(note)));
    }
    out
}

/// Sizes are such that a report with all its rows fits two pages (checked in print). On the first,
/// the chart gives way where the text above it is long.
const STYLE: &str = "\
  @page { size: A4; margin: 14mm 15mm; }
  body { margin: 0 auto; max-width: 180mm; padding: 6mm; background: #fff; color: #1a2027;
    font: 10pt/1.35 'Noto Sans', Arial, sans-serif; }
  h1 { font-size: 16pt; margin: 0 0 3mm; }
  h2 { font-size: 11.5pt; margin: 4mm 0 1.5mm; break-after: avoid; }
  h2.first { margin-top: 0; }
  p { margin: 0 0 1.2mm; }
  dl { display: grid; grid-template-columns: max-content 1fr; gap: .6mm 4mm; margin: 0; }
  dt { color: #4a545f; } dd { margin: 0; }
  figure { margin: 0; break-inside: avoid; }
  figure svg { display: block; width: 100%; height: auto; }
  .beside { display: grid; grid-template-columns: 1fr 72mm; gap: 5mm; font-size: 9pt; }
  table { border-collapse: collapse; width: 100%; font-size: 8.5pt; line-height: 1.25; }
  th, td { text-align: start; vertical-align: top; padding: .5mm 1.6mm;
    border-bottom: .2mm solid #9aa4af; }
  th { background: #e9edf1; }
  td:first-child { white-space: nowrap; } td:last-child { min-width: 21mm; }
  tr { break-inside: avoid; }
  .small { font-size: 8.5pt; color: #4a545f; margin-top: 1mm; }
  .sign { margin-top: 12mm; border-top: .3mm solid #1a2027; width: 80mm; padding-top: 1mm;
    font-size: 8.5pt; break-inside: avoid; }
  @media print { body { max-width: none; padding: 0; } .second { break-before: page; }
    .sheet { height: 267mm; display: flex; flex-direction: column; }
    .course { flex: 0 1 auto; min-height: 60mm; } .course svg { height: 100%; } }
  @media screen and (max-width: 600px) { .beside { display: block; } }
";
