//! A small scenario, told in few words, and what came of it, in few words.
//!
//! The client sits at 10:00 and 15:00 in UTC from 6 March 2026 on; the plan has two steps. A test
//! changes only what it is about.

use std::fmt::Write as _;

use fadewatch::care::Verdict;
use fadewatch::config::{Scenario, parse_scenario};
use fadewatch::rehearsal::{Rehearsal, json_line, rehearse};
use serde_json::Value;

/// A scenario in the making.
#[derive(Clone)]
pub struct Story {
    begins: String,
    days: u32,
    zone: String,
    sittings_at: String,
    quiet: Option<(String, String)>,
    contacts: Vec<&'static str>,
    asked: Vec<(&'static str, Vec<&'static str>)>,
    cover: Vec<&'static str>,
    habit: Option<(String, String)>,
    looks: Vec<(String, String)>,
    stop: Vec<(String, String)>,
    repeat_marks: Option<(u32, u32)>,
    look_at: Vec<String>,
    steps: Vec<String>,
    routine: Option<(Vec<String>, Vec<u32>)>,
    says: Vec<String>,
}

impl Story {
    pub fn new() -> Self {
        let pairs = |pairs: &[(&str, &str)]| {
            pairs.iter().map(|(key, value)| ((*key).to_owned(), (*value).to_owned())).collect()
        };
        Self {
            begins: "2026-03-06".into(),
            days: 1,
            zone: "UTC".into(),
            sittings_at: "10:00 15:00".into(),
            quiet: Some(("21:00".into(), "07:00".into())),
            contacts: vec!["first", "second"],
            asked: Vec::new(),
            cover: vec!["clinic"],
            habit: None,
            looks: pairs(&[
                ("fade_limit", "\"30min\""),
                ("slow_fade", "\"15min\""),
                ("answer_within", "\"20min\""),
                ("ask_again", "1"),
                ("tell_clinic_after", "\"2h\""),
                ("recheck_within", "\"1h\""),
                ("missed_to_suspend", "2"),
                ("rest_after_mark", "\"2h\""),
            ]),
            stop: pairs(&[
                ("repeat_alert", "\"30min\""),
                ("pass_on_after", "\"1h\""),
                ("bring_back_at", "\"08:00\""),
                ("step_back", "1"),
            ]),
            repeat_marks: None,
            look_at: Vec::new(),
            steps: vec!["15min 2 3".into(), "30min 2 3".into()],
            routine: None,
            says: Vec::new(),
        }
    }

    pub fn begins(mut self, date: &str) -> Self {
        self.begins = date.into();
        self
    }

    pub fn days(mut self, days: u32) -> Self {
        self.days = days;
        self
    }

    pub fn zone(mut self, zone: &str) -> Self {
        self.zone = zone.into();
        self
    }

    /// The client's times, with blanks between them.
    pub fn sittings_at(mut self, times: &str) -> Self {
        self.sittings_at = times.into();
        self
    }

    pub fn quiet(mut self, from: &str, to: &str) -> Self {
        self.quiet = Some((from.into(), to.into()));
        self
    }

    pub fn no_quiet(mut self) -> Self {
        self.quiet = None;
        self
    }

    pub fn contacts(mut self, contacts: &[&'static str]) -> Self {
        self.contacts = contacts.to_vec();
        self
    }

    /// The hours of a contact.
    pub fn asked(mut self, contact: &'static str, hours: &[&'static str]) -> Self {
        self.asked.push((contact, hours.to_vec()));
        self
    }

    pub fn cover(mut self, cover: &[&'static str]) -> Self {
        self.cover = cover.to_vec();
        self
    }

    pub fn habit(mut self, reading: &str, after: &str) -> Self {
        self.habit = Some((reading.into(), after.into()));
        self
    }

    /// A setting of `[looks]` or `[stop]`, as TOML.
    pub fn set(mut self, key: &str, value: &str) -> Self {
        let mut settings = self.looks.iter_mut().chain(self.stop.iter_mut());
        settings.find(|(name, _)| name == key).expect("a known setting").1 = value.into();
        self
    }

    pub fn repeat_marks(mut self, count: u32, of_last: u32) -> Self {
        self.repeat_marks = Some((count, of_last));
        self
    }

    /// Routine looks during the build-up.
    pub fn look_at(mut self, times: &[&str]) -> Self {
        self.look_at = times.iter().map(|time| (*time).to_owned()).collect();
        self
    }

    /// Steps as `sit sittings_per_day clear_to_advance [look_every]`.
    pub fn steps(mut self, steps: &[&str]) -> Self {
        self.steps = steps.iter().map(|step| (*step).to_owned()).collect();
        self
    }

    pub fn routine(mut self, times: &[&str], review_after_days: &[u32]) -> Self {
        let times = times.iter().map(|time| (*time).to_owned()).collect();
        self.routine = Some((times, review_after_days.to_vec()));
        self
    }

    /// A reply. `when` is a day of the month and a time; `what` is a reading and, in any order, the
    /// minutes (`12min`), the time stated (`@10:18`), `step=2`, `sit=30min`, what it answers
    /// (`to:look`) and sites.
    pub fn says(mut self, when: &str, who: &str, what: &str) -> Self {
        let (day, time) = when.split_once(' ').expect("a day and a time");
        let month = &self.begins[..8];
        let mut text = format!("[[says]]\nat = \"{month}{day:0>2}T{time}\"\nwho = \"{who}\"\n");
        let mut words = what.split(' ');
        let reading = words.next().expect("a reading");
        writeln!(text, "reading = \"{reading}\"").unwrap();
        let mut sites = Vec::new();
        for word in words {
            if let Some(time) = word.strip_prefix('@') {
                let key = if reading == "started" { "started_at" } else { "look_at" };
                writeln!(text, "{key} = \"{time}\"").unwrap();
            } else if let Some(step) = word.strip_prefix("step=") {
                writeln!(text, "step = {step}").unwrap();
            } else if let Some(sit) = word.strip_prefix("sit=") {
                writeln!(text, "sit = \"{sit}\"").unwrap();
            } else if let Some(kind) = word.strip_prefix("to:") {
                writeln!(text, "answers = \"{kind}\"").unwrap();
            } else if let Some(minutes) = word.strip_suffix("min") {
                writeln!(text, "minutes = {minutes}").unwrap();
            } else {
                sites.push(word);
            }
        }
        if !sites.is_empty() {
            writeln!(text, "sites = {sites:?}").unwrap();
        }
        self.says.push(text);
        self
    }

    /// Checks everything that happened.
    #[track_caller]
    pub fn gives(&self, expected: &str) {
        assert_lines(&self.lines(), expected);
    }

    /// Checks everything that happened from an instant on.
    #[track_caller]
    pub fn gives_from(&self, when: &str, expected: &str) {
        let (day, time) = when.split_once(' ').expect("a day and a time");
        let when = format!("{day:0>2} {time}");
        let mut lines = self.lines();
        lines.retain(|line| line[..8] >= when[..8]);
        assert_lines(&lines, expected);
    }

    /// Checks what happened of some kinds alone.
    #[track_caller]
    pub fn gives_of(&self, kinds: &[&str], expected: &str) {
        let mut lines = self.lines();
        lines.retain(|line| kinds.contains(&line.split(' ').nth(2).unwrap()));
        assert_lines(&lines, expected);
    }

    /// What happened, as `fadewatch rehearse --json` prints it.
    pub fn json(&self) -> Vec<String> {
        let Rehearsal { calendar, entries, .. } = rehearse(&self.scenario(), |_, _| unread());
        entries.iter().filter_map(|entry| json_line(&calendar, entry)).collect()
    }

    fn lines(&self) -> Vec<String> {
        self.json().iter().map(|line| compact(line)).collect()
    }

    pub fn scenario(&self) -> Scenario {
        let text = self.toml();
        let scenario = parse_scenario("story.toml", &text, |name| Err(name.to_owned()));
        scenario.unwrap_or_else(|problems| panic!("{problems:?}\n{text}")).value
    }

    /// The scenario as a file.
    pub fn toml(&self) -> String {
        let list =
            |times: &mut dyn Iterator<Item = &str>| format!("{:?}", times.collect::<Vec<_>>());
        let mut text = format!("begins = {}\ndays = {}\n", self.begins, self.days);
        text += "[client]\nref = \"A7\"\nrisk = \"high\"\n";
        writeln!(text, "time_zone = \"{}\"", self.zone).unwrap();
        writeln!(text, "sittings_at = {}", list(&mut self.sittings_at.split(' '))).unwrap();
        if let Some((from, to)) = &self.quiet {
            writeln!(text, "quiet = [\"{from}\", \"{to}\"]").unwrap();
        }
        for contact in &self.contacts {
            writeln!(text, "[[contact]]\nid = \"{contact}\"").unwrap();
            for (_, hours) in self.asked.iter().filter(|(whose, _)| whose == contact) {
                writeln!(text, "asked = {hours:?}").unwrap();
            }
        }
        for clinician in &self.cover {
            writeln!(text, "[[cover]]\nid = \"{clinician}\"").unwrap();
        }
        if let Some((reading, after)) = &self.habit {
            writeln!(text, "[habit]\nreading = \"{reading}\"\nafter = \"{after}\"").unwrap();
        }
        text += "[plan]\nid = \"story\"\ntitle = \"Invented for a test\"\n";
        for (table, settings) in [("looks", &self.looks), ("stop", &self.stop)] {
            writeln!(text, "[plan.{table}]").unwrap();
            settings.iter().for_each(|(key, value)| writeln!(text, "{key} = {value}").unwrap());
        }
        if let Some((count, of_last)) = self.repeat_marks {
            let marks = format!("{{ count = {count}, of_last = {of_last} }}");
            writeln!(text, "[plan.watch]\nrepeat_marks = {marks}").unwrap();
        }
        if !self.look_at.is_empty() {
            writeln!(text, "[plan.risk.high]\nlook_at = {:?}", self.look_at).unwrap();
        }
        for step in &self.steps {
            let mut parts = step.split(' ');
            text += "[[plan.risk.high.step]]\n";
            writeln!(text, "sit = \"{}\"", parts.next().unwrap()).unwrap();
            writeln!(text, "sittings_per_day = {}", parts.next().unwrap()).unwrap();
            writeln!(text, "clear_to_advance = {}", parts.next().unwrap()).unwrap();
            parts.for_each(|every| writeln!(text, "look_every = \"{every}\"").unwrap());
        }
        if let Some((times, days)) = &self.routine {
            writeln!(text, "[plan.risk.high.routine]\nlook_at = {times:?}").unwrap();
            writeln!(text, "review_after_days = {days:?}").unwrap();
        }
        text + &self.says.concat()
    }
}

#[track_caller]
pub fn assert_lines(lines: &[String], expected: &str) {
    let expected: Vec<&str> =
        expected.lines().map(str::trim).filter(|line| !line.is_empty()).collect();
    assert_eq!(lines, expected, "\n--- happened ---\n{}\n", lines.join("\n"));
}

/// A line of `--json` in few words: day and time, then what happened. The second is shown only
/// where it is not 0.
pub fn compact(json: &str) -> String {
    let line: Value = serde_json::from_str(json).unwrap();
    let text = |key: &str| line[key].as_str().unwrap().to_owned();
    let at = text("at");
    let time = if &at[17..19] == "00" { &at[11..16] } else { &at[11..19] };
    let what = text("what");
    let rest = match what.as_str() {
        "sitting" => format!("{} step {} {}min", line["sitting"], line["step"], line["minutes"]),
        "started" => format!("{} at {}", line["sitting"], &text("start")[11..16]),
        "dropped" => text("why"),
        "asked" => {
            let again = match line["again"].as_u64().unwrap() {
                0 => String::new(),
                again => format!(" again {again}"),
            };
            format!("{}{} → {}{again}", text("look"), sitting(&line), text("to"))
        }
        "answered" => {
            let reading = [text("reading"), sites(&line), minutes(&line)].concat();
            format!("{}{} by {}: {reading}", text("look"), sitting(&line), text("by"))
        }
        "credit" => format!("{} run {}", line["sitting"], line["run"]),
        "no-credit" => format!("{} {}", line["sitting"], text("why")),
        "missed" => format!("{}{}", text("look"), sitting(&line)),
        "advanced" => format!("step {}", line["step"]),
        "held" => format!("step {} expects {}", line["step"], line["expect_minutes"]),
        "review" => format!("day {}", line["day"]),
        "stopped" => [text("why"), sites(&line)].concat(),
        "told-to-stop" => text("to"),
        "alerted" => match line["again"].as_u64().unwrap() {
            0 => text("to"),
            again => format!("{} again {again}", text("to")),
        },
        "acknowledged" | "kept-stopped" | "closed" => text("by"),
        "resumed" => format!("{} step {}", text("by"), line["step"]),
        "clinic-told" => text("why"),
        "set-aside" => format!("{} {}", text("by"), text("why")),
        _ => String::new(),
    };
    format!("{} {time} {what} {rest}", &at[8..10]).trim_end().to_owned()
}

fn sitting(line: &Value) -> String {
    line["sitting"].as_u64().map_or_else(String::new, |number| format!(" {number}"))
}

fn sites(line: &Value) -> String {
    let sites = line["sites"].as_array().unwrap();
    sites.iter().map(|site| format!(" {}", site.as_str().unwrap())).collect()
}

fn minutes(line: &Value) -> String {
    line["minutes"].as_u64().map_or_else(String::new, |minutes| format!(" {minutes}min"))
}

/// No story has words to read.
fn unread() -> Verdict {
    unreachable!("stories have readings, not words")
}
