//! The hours in which a contact is asked: read from what people write, and said in plain words.
//!
//! Never here: instants; who is asked first (`follow_up::shifts`).
//! Promises: a slip is refused with what was probably meant; hours that leave a look without
//! anybody on shift are doubted, never refused: the first contact is asked then.

use std::ops::Range;

use chrono::{NaiveTime, TimeDelta, Weekday, WeekdaySet};

use super::problem::Report;
use super::shape::{Key, Kind};
use super::table::Table;
use super::when;
use crate::care::Ladder;
use crate::care::hours::{AskedHours, Gap, Moments, Stretch, gaps, in_runs};

/// The key of a contact's hours, in client files and scenarios.
pub(super) const ASKED: Key = Key::optional(
    "asked",
    Kind::Hours,
    "[\"Mon-Fri 07:00-15:00\"]",
    "the hours in which they are asked before others; without it, any hour (R14)",
);

/// Hours as somebody types them in one go: stretches on lines of their own, or with `;` between
/// them. Nothing at all means at any hour.
///
/// # Errors
/// The first stretch that cannot be read, why, and what was probably meant.
pub fn typed_hours(text: &str) -> Result<AskedHours, String> {
    let stretches = text.split(['\n', ';']).map(str::trim).filter(|stretch| !stretch.is_empty());
    let read = stretches.map(|written| {
        written.parse::<Stretch>().map_err(|why| match stretch_meant(written) {
            Some(meant) => format!("`{written}`: {why}; did you mean `{meant}`?"),
            None => format!("`{written}`: {why}"),
        })
    });
    read.collect::<Result<_, _>>().map(AskedHours::new)
}

/// `at any hour`; `Monday to Friday 07:00 to 15:00; Saturday all day`.
pub fn hours_in_words(hours: &AskedHours) -> String {
    if hours.is_any() {
        return "at any hour".to_owned();
    }
    let told = hours.stretches().iter().map(|stretch| {
        let days = days_in_words(stretch.days());
        if stretch.is_whole_day() {
            return format!("{days} all day");
        }
        let to = match stretch.to() {
            NaiveTime::MIN => "24:00".to_owned(),
            to => hm(to),
        };
        format!("{days} {} to {to}", hm(stretch.from()))
    });
    told.collect::<Vec<_>>().join("; ")
}

/// The gaps that hours leave, each in one sentence.
pub fn gaps_in_words<'h>(
    hours: impl IntoIterator<Item = &'h AskedHours>,
    ladder: &Ladder,
    sittings_at: &[NaiveTime],
) -> Vec<String> {
    gaps(hours, &Moments::of(ladder, sittings_at)).iter().map(gap_in_words).collect()
}

/// `Monday to Friday between 15:00 and 17:00 nobody is on; the first contact is asked`.
fn gap_in_words(gap: &Gap) -> String {
    let lasts = TimeDelta::minutes(i64::try_from(gap.lasts).unwrap_or(0));
    let (to, crossed_s) = gap.from.overflowing_add_signed(lasts);
    let when = if lasts < TimeDelta::days(1) {
        let day = if crossed_s > 0 && to > NaiveTime::MIN { " of the next day" } else { "" };
        format!("{} between {} and {}{day}", days_in_words(gap.days), hm(gap.from), hm(to))
    } else {
        let midnight = gap.from.signed_duration_since(NaiveTime::MIN);
        let days_on = (midnight + lasts).num_days();
        let stretches = gap.days.iter(Weekday::Mon).map(|day| {
            let last = (0..days_on).fold(day, |day, _| day.succ());
            format!("from {} {} to {} {}", name(day), hm(gap.from), name(last), hm(to))
        });
        stretches.collect::<Vec<_>>().join(" and ")
    };
    format!("{when} nobody is on; the first contact is asked (such as at {})", hm(gap.asked_at))
}

/// The hours of one contact of a file.
pub(super) fn asked_hours(table: &Table<'_>) -> Option<AskedHours> {
    if !table.has("asked") {
        return Some(AskedHours::ANY);
    }
    let written = table.texts("asked")?;
    if written.is_empty() {
        table
            .report
            .error(table.value_span("asked"), "`asked` names no hours".to_owned())
            .label("nothing is written here")
            .why("it could mean at any hour, or never")
            .help("take `asked` out: without it the contact is asked at any hour");
        return None;
    }
    let mut stretches = Vec::new();
    for text in &written {
        match text.value.parse::<Stretch>() {
            Ok(stretch) => stretches.push(stretch),
            Err(why) => {
                let help = stretch_meant(text.value).map_or_else(
                    || "write it like \"Mon-Fri 07:00-15:00\" or \"22:00-06:00\"".to_owned(),
                    |meant| format!("did you mean \"{meant}\"?"),
                );
                table
                    .report
                    .error(text.span.clone(), format!("`asked` cannot hold \"{}\"", text.value))
                    .label(why.to_string())
                    .why("in these hours, by the client's clock, the contact is asked first (R14)")
                    .help(help);
            }
        }
    }
    (stretches.len() == written.len()).then(|| AskedHours::new(stretches))
}

/// Doubts hours that leave looks to nobody on shift.
pub(super) fn doubt_gaps<'h>(
    report: &Report,
    at: Option<Range<usize>>,
    hours: impl IntoIterator<Item = &'h AskedHours>,
    (ladder, sittings_at): (&Ladder, &[NaiveTime]),
) {
    for gap in gaps_in_words(hours, ladder, sittings_at) {
        report
            .warning(at.clone(), gap)
            .label("these hours and those of the others leave it open")
            .why("looks fall there, and silence is never read as all clear (R14)")
            .help("let somebody's hours reach over it, or leave it to the calling order");
    }
}

/// Where the first contact with hours says them.
pub(super) fn first_said(contacts: &[Table<'_>]) -> Option<Range<usize>> {
    contacts.iter().find(|table| table.has("asked")).map(|table| table.value_span("asked"))
}

/// The stretch that was probably meant, as it should be written.
fn stretch_meant(text: &str) -> Option<String> {
    if text.len() > 80 {
        return None;
    }
    let plain = text
        .to_lowercase()
        .replace(['–', '—'], "-")
        .replace(" to ", "-")
        .replace(" until ", "-")
        .replace(" and ", ",")
        .replace("- ", "-")
        .replace(" -", "-")
        .replace(", ", ",");
    let first_digit = plain.find(|c: char| c.is_ascii_digit())?;
    let (days, hours) = plain.split_at(first_digit);
    let days = match days.trim().trim_end_matches([':', ',']) {
        "" | "daily" | "every day" => String::new(),
        days => format!("{} ", days_meant(days)?),
    };
    let (from, to) = hours.split_once('-')?;
    let time = |text: &str| match when::time(text.trim()) {
        Ok(time) => Some(hm(time)),
        Err(_) if text.trim() == "24:00" || text.trim() == "24" => Some("24:00".to_owned()),
        Err(refused) => refused.meant,
    };
    let meant = format!("{days}{}-{}", time(from)?, time(to)?);
    meant.parse::<Stretch>().ok().map(|stretch| stretch.to_string())
}

/// Days by the first two letters of each, with what stands between them.
fn days_meant(days: &str) -> Option<String> {
    let mut meant = String::new();
    for part in days.split_inclusive(['-', ',', ' ', '/']) {
        let word = part.trim_end_matches(['-', ',', ' ', '/', '.']);
        let day = ALL.iter().find(|day| {
            let whole = name(**day).to_lowercase();
            word.len() >= 2 && (whole.starts_with(word) || format!("{whole}s") == word)
        })?;
        meant.push_str(name(*day).get(..3)?);
        match part.get(word.len()..)?.trim() {
            _ if part.len() == word.len() => {}
            "-" => meant.push('-'),
            _ => meant.push(','),
        }
    }
    Some(meant)
}

const ALL: [Weekday; 7] = [
    Weekday::Mon,
    Weekday::Tue,
    Weekday::Wed,
    Weekday::Thu,
    Weekday::Fri,
    Weekday::Sat,
    Weekday::Sun,
];

fn name(day: Weekday) -> &'static str {
    match day {
        Weekday::Mon => "Monday",
        Weekday::Tue => "Tuesday",
        Weekday::Wed => "Wednesday",
        Weekday::Thu => "Thursday",
        Weekday::Fri => "Friday",
        Weekday::Sat => "Saturday",
        Weekday::Sun => "Sunday",
    }
}

fn days_in_words(days: WeekdaySet) -> String {
    if days == WeekdaySet::ALL {
        "every day".to_owned()
    } else {
        in_runs(days, name, [" to ", ", "])
    }
}

fn hm(time: NaiveTime) -> String {
    time.format("%H:%M").to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_in_hours_gets_a_suggestion() {
        for (written, meant) in [
            ("Mo-Fr 07:00-15:00", "Mon-Fri 07:00-15:00"),
            ("monday to friday 7:00 - 15:00", "Mon-Fri 07:00-15:00"),
            ("Sat and Sun 9am to 5pm", "Sat-Sun 09:00-17:00"),
            ("Mondays 7-15", "Mon 07:00-15:00"),
            ("Mon, Wed, Fri 07:00–12:00", "Mon,Wed,Fri 07:00-12:00"),
            ("daily 22:00-6:00", "22:00-06:00"),
            ("Sa/So 07:00-24:00", ""),
            ("Tu 18:00-24", "Tue 18:00-24:00"),
            ("nights", ""),
            ("07:00-07:00", ""),
        ] {
            assert_eq!(stretch_meant(written).unwrap_or_default(), meant, "{written}");
        }
    }

    #[test]
    fn hours_are_said_in_plain_words() {
        let typed = "Mon-Fri 07:00-15:00; Sat,Sun 00:00-24:00\n22:00-06:00";
        let hours = typed_hours(typed).unwrap();
        assert_eq!(
            hours_in_words(&hours),
            "Monday to Friday 07:00 to 15:00; Saturday to Sunday all day; every day 22:00 to 06:00"
        );
        assert_eq!(hours_in_words(&typed_hours(" \n").unwrap()), "at any hour");
        assert_eq!(
            typed_hours("Mo 7-15").unwrap_err(),
            "`Mo 7-15`: days are Mon, Tue, Wed, Thu, Fri, Sat and Sun; did you mean `Mon 07:00-15:00`?"
        );
    }

    #[test]
    fn a_gap_is_said_with_its_days_and_hours() {
        let gap = |days: &[Weekday], from: &str, lasts| Gap {
            days: days.iter().copied().collect(),
            from: when::time(from).unwrap(),
            lasts,
            asked_at: when::time("16:00").unwrap(),
        };
        for (gap, when) in [
            (gap(&ALL[..5], "15:00", 120), "Monday to Friday between 15:00 and 17:00"),
            (gap(&ALL, "23:00", 480), "every day between 23:00 and 07:00 of the next day"),
            (gap(&ALL[4..5], "15:00", 3840), "from Friday 15:00 to Monday 07:00"),
        ] {
            let told = gap_in_words(&gap);
            let rest = " nobody is on; the first contact is asked (such as at 16:00)";
            assert_eq!(told, format!("{when}{rest}"));
        }
    }
}
