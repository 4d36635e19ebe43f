//! A timetable on paper: plain text that fits a page (A4, upright) and that a clinic can discuss.
//!
//! Never here: what the timetable says.
//! Promises: no line is wider than `CHARS_MAX` but for words that are; the same timetable gives the
//! same bytes.

use std::fmt::Write as _;

use super::paper_post::PaperMail;
use super::phrases::duration;
use super::remark::Weight;
use super::run::AskedAbout;
use super::timetable::{Day, Row, Tally, Timetable};
use super::wrap::wrapped;
use crate::care::{Minutes, Verdict};
use crate::config::Scenario;

/// The width of a page in a common fixed-width type, in characters.
const CHARS_MAX: usize = 98;
/// The widths of the columns: what happens, and which mail follows.
const WHAT_CHARS: usize = 53;
const MAIL_CHARS: usize = 31;

/// What is shown of the mails.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ShowMail {
    /// To whom, and the subject.
    Subjects,
    /// The plain text too.
    Texts,
}

/// Runs a scenario and writes its timetable.
pub fn timetable(
    scenario: &Scenario,
    read: impl Fn(&str, AskedAbout) -> Verdict,
    show: ShowMail,
) -> String {
    let timetable = Timetable::of(scenario, read);
    let mut sheet = Sheet { text: String::new(), show };
    sheet.head(scenario);
    for (number, day) in timetable.days.iter().enumerate() {
        sheet.day(number + 1, day);
    }
    sheet.summary(scenario, &timetable.tally);
    sheet.text
}

struct Sheet {
    text: String,
    show: ShowMail,
}

impl Sheet {
    fn line(&mut self, line: &str) {
        let written = writeln!(self.text, "{}", line.trim_end());
        written.expect("OK because a String takes all that is written");
    }

    fn paragraph(&mut self, text: &str) {
        for line in wrapped(text, CHARS_MAX) {
            self.line(&line);
        }
    }

    fn head(&mut self, scenario: &Scenario) {
        let (plan, client) = (&scenario.plan, &scenario.client);
        let listed = |items: Vec<String>| items.join(", ");
        self.paragraph(&format!("Rehearsal of the plan '{}': {}", plan.id, plan.title));
        self.paragraph(&match &plan.approval {
            Some(approval) => format!("Approved by {} on {}", approval.by, approval.on),
            None => "Not approved: it can be rehearsed, and nothing else.".to_owned(),
        });
        let times =
            listed(client.sittings_at.iter().map(|t| t.format("%H:%M").to_string()).collect());
        let quiet = client.quiet.map_or_else(String::new, |quiet| {
            format!("; quiet from {} to {}", quiet.from.format("%H:%M"), quiet.to.format("%H:%M"))
        });
        self.paragraph(&format!(
            "Client {}, risk level {}, {}; sits at {times}{quiet}.",
            client.reference,
            client.risk,
            client.time_zone.as_str()
        ));
        self.paragraph(&format!(
            "Asked: {}. On cover: {}.",
            listed(scenario.contacts.iter().map(ToString::to_string).collect()),
            listed(scenario.cover.iter().map(ToString::to_string).collect())
        ));
        self.paragraph(
            "On paper only: nothing is sent, nothing is stored. Not a medical device and no \
             substitute for clinical judgement. R and a number name the rule behind a line.",
        );
    }

    fn day(&mut self, number: usize, day: &Day) {
        let date = day.date.format("%A %-d %B %Y");
        self.line("");
        self.line(&format!("Day {number} · {date} · {}", day.standing));
        self.line(&"-".repeat(CHARS_MAX));
        if day.rows.is_empty() {
            self.line("        nothing");
        }
        let mut last = None;
        for row in &day.rows {
            let is_new = last.replace(row.time) != Some(row.time);
            self.row(row, is_new);
        }
    }

    fn row(&mut self, row: &Row, with_time: bool) {
        let time = if with_time { row.time.format("%H:%M").to_string() } else { String::new() };
        let mark = match row.remark.weight {
            Weight::Plain => ' ',
            Weight::Forward => '+',
            Weight::Grave => '!',
        };
        let what = wrapped(&row.remark.text, WHAT_CHARS);
        let mails: Vec<String> =
            row.mails.iter().flat_map(|mail| wrapped(&in_short(mail), MAIL_CHARS)).collect();
        for number in 0..what.len().max(mails.len()) {
            let first = number == 0;
            let (time, mark, rule) =
                if first { (time.as_str(), mark, row.remark.rule) } else { ("", ' ', "") };
            let what = what.get(number).map_or("", String::as_str);
            let mail = mails.get(number).map_or("", String::as_str);
            self.line(&format!("{time:<5} {mark} {what:<WHAT_CHARS$} {rule:<4} {mail}"));
        }
        if self.show == ShowMail::Texts {
            for mail in &row.mails {
                self.mail(mail);
            }
        }
    }

    fn mail(&mut self, mail: &PaperMail) {
        const INDENT: &str = "        | ";
        self.line("");
        for line in wrapped(&format!("To {}: {}", mail.to, mail.notice.subject), CHARS_MAX - 10) {
            self.line(&format!("{INDENT}{line}"));
        }
        self.line(INDENT);
        for paragraph in mail.notice.text.lines() {
            for line in wrapped(paragraph, CHARS_MAX - 10) {
                self.line(&format!("{INDENT}{line}"));
            }
        }
        self.line("");
    }

    fn summary(&mut self, scenario: &Scenario, tally: &Tally) {
        self.line("");
        self.line("Summary");
        self.line(&"-".repeat(CHARS_MAX));
        let begins = scenario.begins.format("%A %-d %B %Y");
        self.line(&format!("Days               {} from {begins}", scenario.days));
        let longest = duration(Minutes::new(tally.longest));
        let sittings = match tally.sittings {
            0 => "none".to_owned(),
            sittings => {
                format!("{sittings}, of these {} counted; the longest {longest}", tally.counted)
            }
        };
        self.line(&format!("Sittings           {sittings}"));
        let steps: Vec<String> = tally
            .steps
            .iter()
            .map(|(date, what)| format!("{} {what}", date.format("%-d %B")))
            .collect();
        let steps = if steps.is_empty() { "no change".to_owned() } else { steps.join("; ") };
        for (number, line) in wrapped(&steps, CHARS_MAX - 19).iter().enumerate() {
            let label = if number == 0 { "Steps" } else { "" };
            self.line(&format!("{label:<19}{line}"));
        }
        self.line(&format!("Stops              {}", tally.stops));
        self.line(&format!("Suspensions        {}", tally.suspensions));
        self.line(&format!("Looks missed       {}", tally.missed));
        let contacts = scenario.contacts.iter().map(ToString::to_string);
        let people = contacts.chain(scenario.cover.iter().map(ToString::to_string));
        for person in people {
            let by_day = tally.mails.get(&person);
            let all: u32 = by_day.map_or(0, |days| days.values().sum());
            // The first of the busiest days.
            let busiest =
                by_day.and_then(|days| days.iter().rev().max_by_key(|(_, count)| **count));
            let most = busiest.map_or_else(String::new, |(date, count)| {
                format!(", at most {count} on one day ({})", date.format("%-d %B"))
            });
            self.line(&format!("Mails to {person:<10}{all}{most}"));
        }
    }
}

/// A mail in one line: to whom, and its subject without the part that all subjects share, and
/// without the time where that stands at the end.
fn in_short(mail: &PaperMail) -> String {
    let subject = mail.notice.subject.split(" · ").next().unwrap_or_default();
    let subject = match subject.rsplit_once(" (") {
        Some((before, time)) if time.starts_with(|c: char| c.is_ascii_digit()) => before,
        _ => subject,
    };
    format!("{}: {subject}", mail.to)
}
