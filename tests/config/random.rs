//! Plans and scenarios made at random: whatever the rules allow is taken as it stands, and what the
//! rules refuse (R2, R24) is found by a second, slower reckoning.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use fadewatch::config::{parse_plan, parse_scenario, settings};
use proptest::prelude::*;

use crate::cases;

const DAY: u32 = 24 * 60;

/// One step as it is written: sit, sittings a day, credits, looks inside.
#[derive(Clone, Debug)]
struct Step {
    sit: u32,
    a_day: u32,
    credits: u32,
    look_every: Option<u32>,
}

/// What a plan says, as plain numbers.
#[derive(Clone, Debug)]
struct Numbers {
    limits: [u32; 8],
    repeat: Option<(u32, u32)>,
    stop: [u32; 4],
    look_at: BTreeSet<u32>,
    steps: Vec<Step>,
    routine: Option<(BTreeSet<u32>, BTreeSet<u32>)>,
}

fn step() -> impl Strategy<Value = Step> {
    (1..=300_u32, 1..=3_u32, 1..=6_u32, prop::option::of(1..=120_u32))
        .prop_map(|(sit, a_day, credits, look_every)| Step { sit, a_day, credits, look_every })
}

fn numbers() -> impl Strategy<Value = Numbers> {
    let limits = [1..=120_u32, 0..=120, 1..=90, 0..=4, 1..=300, 1..=180, 1..=4, 0..=600];
    let stop = [1..=120_u32, 1..=240, 0..=DAY - 1, 0..=3];
    (
        limits,
        prop::option::of((1..=5_u32, 1..=8_u32)),
        stop,
        prop::collection::btree_set(0..DAY, 0..3),
        prop::collection::vec(step(), 1..6),
        prop::option::of((
            prop::collection::btree_set(0..DAY, 0..3),
            prop::collection::btree_set(1..=120_u32, 0..4),
        )),
    )
        .prop_map(|(limits, repeat, stop, look_at, steps, routine)| Numbers {
            limits,
            repeat,
            stop,
            look_at,
            steps,
            routine,
        })
}

fn clock(minute: u32) -> String {
    format!("{:02}:{:02}", minute / 60, minute % 60)
}

fn clocks<'m>(minutes: impl IntoIterator<Item = &'m u32>) -> String {
    let quoted: Vec<String> =
        minutes.into_iter().map(|minute| format!("\"{}\"", clock(*minute))).collect();
    format!("[{}]", quoted.join(", "))
}

/// Hours and minutes where there are both, so that both spellings are read.
fn duration(minutes: u32) -> String {
    if minutes >= 60 && !minutes.is_multiple_of(60) {
        format!("\"{}h{}min\"", minutes / 60, minutes % 60)
    } else {
        format!("\"{minutes}min\"")
    }
}

impl Numbers {
    fn toml(&self, table: &str) -> String {
        let mut text = String::from("id = \"random\"\ntitle = \"Made at random\"\n");
        writeln!(text, "[{table}looks]").unwrap();
        let names = [
            "fade_limit",
            "slow_fade",
            "answer_within",
            "ask_again",
            "tell_clinic_after",
            "recheck_within",
            "missed_to_suspend",
            "rest_after_mark",
        ];
        for (name, number) in names.into_iter().zip(self.limits) {
            let counted = matches!(name, "ask_again" | "missed_to_suspend");
            let value = if counted { number.to_string() } else { duration(number) };
            writeln!(text, "{name} = {value}").unwrap();
        }
        if let Some((count, of_last)) = self.repeat {
            writeln!(text, "[{table}watch.repeat_marks]").unwrap();
            writeln!(text, "count = {count}\nof_last = {of_last}").unwrap();
        }
        let [repeat, pass_on, back_at, step_back] = self.stop;
        writeln!(text, "[{table}stop]\nrepeat_alert = {}", duration(repeat)).unwrap();
        writeln!(text, "pass_on_after = {}", duration(pass_on)).unwrap();
        writeln!(text, "bring_back_at = {}:00\nstep_back = {step_back}", clock(back_at)).unwrap();
        writeln!(text, "[{table}risk.some]\nlook_at = {}", clocks(&self.look_at)).unwrap();
        for Step { sit, a_day, credits, look_every } in &self.steps {
            writeln!(text, "[[{table}risk.some.step]]\nsit = {}", duration(*sit)).unwrap();
            writeln!(text, "sittings_per_day = {a_day}\nclear_to_advance = {credits}").unwrap();
            if let Some(every) = look_every {
                writeln!(text, "look_every = {}", duration(*every)).unwrap();
            }
        }
        if let Some((look_at, days)) = &self.routine {
            let days: Vec<String> = days.iter().map(u32::to_string).collect();
            writeln!(text, "[{table}risk.some.routine]\nlook_at = {}", clocks(look_at)).unwrap();
            writeln!(text, "review_after_days = [{}]", days.join(", ")).unwrap();
        }
        text
    }

    /// What `settings` should list, leaving the names out.
    fn values(&self) -> Vec<String> {
        let mut values = vec!["\"random\"".to_owned(), "\"Made at random\"".to_owned()];
        values.extend(self.limits.map(|number| number.to_string()));
        values
            .extend(self.repeat.iter().flat_map(|(count, last)| [count, last].map(u32::to_string)));
        let [repeat, pass_on, back_at, step_back] = self.stop;
        values.extend([repeat.to_string(), pass_on.to_string(), clock(back_at)]);
        values.push(step_back.to_string());
        let bare = |minutes: &BTreeSet<u32>| clocks(minutes).replace(['"', '[', ']'], "");
        values.extend((!self.look_at.is_empty()).then(|| bare(&self.look_at)));
        for Step { sit, a_day, credits, look_every } in &self.steps {
            values.extend([sit, a_day, credits].into_iter().chain(look_every).map(u32::to_string));
        }
        if let Some((look_at, days)) = &self.routine {
            let days: Vec<String> = days.iter().map(u32::to_string).collect();
            values.extend([bare(look_at), days.join(", ")]);
        }
        values
    }

    /// R2 and R24 the slow way: every minute that a client is asked or sat down in.
    fn fits(&self, sittings: &[u32], quiet: Option<(u32, u32)>) -> bool {
        let is_quiet = |minute: u32| {
            let Some((from, to)) = quiet else { return false };
            let mut at = from;
            while at != to {
                if at == minute % DAY {
                    return true;
                }
                at = (at + 1) % DAY;
            }
            false
        };
        let mut sittings = sittings.to_vec();
        sittings.sort_unstable();
        let enough = self.steps.iter().all(|step| step.a_day as usize <= sittings.len());
        let loud_sittings = self.steps.iter().all(|step| {
            sittings.iter().take(step.a_day as usize).all(|begin| {
                let every = step.look_every.unwrap_or(step.sit);
                let looks = (1..step.sit).filter(|minute| minute % every == 0);
                looks.chain([0, step.sit]).all(|minute| !is_quiet(begin + minute))
            })
        });
        let routine = self.routine.iter().flat_map(|(look_at, _)| look_at);
        enough && loud_sittings && self.look_at.iter().chain(routine).all(|time| !is_quiet(*time))
    }
}

proptest! {
    #![proptest_config(cases(300))]

    #[test]
    fn a_plan_made_at_random_is_read_number_by_number(plan in numbers()) {
        let text = format!("{}\n", plan.toml(""));
        if let Ok(checked) = parse_plan("plan.toml", &text) {
            let read: Vec<String> =
                settings(&checked.value).into_iter().map(|(_, value)| value).collect();
            prop_assert_eq!(read, plan.values());
        } else {
            let [limit, slow, ..] = plan.limits;
            let out_of_reach = plan.repeat.is_some_and(|(count, of_last)| count > of_last);
            prop_assert!(slow > limit || out_of_reach, "refused without need:\n{}", text);
        }
    }

    #[test]
    fn a_scenario_is_refused_where_r2_or_r24_refuse_it_and_nowhere_else(
        plan in numbers(),
        sittings in prop::collection::vec(0..DAY, 1..4),
        quiet in prop::option::of((0..DAY, 0..DAY)),
        inline in any::<bool>(),
    ) {
        let mut text = String::new();
        if !inline {
            text.push_str("plan = \"p.toml\"\n");
        }
        text.push_str("begins = 2026-03-06\ndays = 3\n[[contact]]\nid = \"a\"\n");
        text.push_str("[[cover]]\nid = \"b\"\n[client]\nref = \"A7\"\nrisk = \"some\"\n");
        text.push_str("time_zone = \"Asia/Kathmandu\"\n");
        writeln!(text, "sittings_at = {}", clocks(&sittings)).unwrap();
        if let Some((from, to)) = quiet {
            writeln!(text, "quiet = {}", clocks([&from, &to])).unwrap();
        }
        if inline {
            write!(text, "[plan]\n{}", plan.toml("plan.")).unwrap();
        }
        let outcome = parse_scenario("s.toml", &text, |_| Ok(("p.toml".into(), plan.toml(""))));
        let told = outcome.as_ref().map_or_else(ToString::to_string, |_| String::new());
        prop_assert_eq!(outcome.is_ok(), plan.fits(&sittings, quiet), "{}\n{}", text, told);
    }
}
