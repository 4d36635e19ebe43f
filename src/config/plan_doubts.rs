//! Settings of a plan that can be read but hardly meant.
//!
//! Never here: settings that cannot be read.
//! Promises: a doubt never changes a value, save that a list is put in order.

use std::ops::Range;

use super::problem::Report;
use super::table::At;
use crate::care::Minutes;

/// R5 and R6 leave no slow fades where a slow fade is longer than the limit.
pub(super) fn slow_fade_above_limit(report: &Report, slow: &At<Minutes>, limit: &At<Minutes>) {
    if slow.value > limit.value {
        report
            .doubt(slow.span.clone(), "`slow_fade` is longer than `fade_limit`".to_owned())
            .label(format!("{} is more than {}", slow.value, limit.value))
            .beside(limit.span.clone(), "the limit")
            .why("a mark that lasts longer than the limit is a stop, so none could be a slow fade")
            .help("make `slow_fade` at most as long as `fade_limit`");
    }
}

/// R14 and R15: whether a look is missed before anybody but the first contact hears of it.
pub(super) fn second_contact_never_asked(
    report: &Report,
    wait: &At<Minutes>,
    again: &At<u32>,
    end: &At<Minutes>,
) {
    let first_contact = u64::from(wait.value.count()) * (u64::from(again.value) + 1);
    if first_contact >= u64::from(end.value.count()) {
        let what = "a look is missed before the second contact is asked".to_owned();
        report
            .warning(end.span.clone(), what)
            .label(format!("the look is missed after {}", end.value))
            .beside(wait.span.clone(), "the first contact is waited for this long …")
            .beside(again.span.clone(), "… this many times and once more")
            .why(format!("the first contact alone is waited for {first_contact} minutes"))
            .help("make `tell_clinic_after` longer, or ask the first contact less often");
    }
}

/// R13 could never tell.
pub(super) fn repeat_marks_out_of_reach(report: &Report, count: &At<u32>, of_last: &At<u32>) {
    if count.value > of_last.value {
        report
            .doubt(count.span.clone(), "`count` is more than `of_last`".to_owned())
            .label("can never be reached")
            .beside(of_last.span.clone(), "only so many sittings are looked at")
            .why("the clinic would never be told of marks that keep coming back")
            .help(format!("write a number up to {}", of_last.value));
    }
}

/// R3: a look every so often that never comes inside the sitting.
pub(super) fn look_every_without_effect(report: &Report, every: &At<Minutes>, sit: &At<Minutes>) {
    report
        .warning(every.span.clone(), "`look_every` has no effect on this step".to_owned())
        .label(format!("not shorter than the sitting of {}", sit.value))
        .beside(sit.span.clone(), "the sitting")
        .why("the look at the end of the sitting comes first")
        .help("take it out, or make it shorter than `sit`");
}

/// R8: a routine phase in which nobody looks.
pub(super) fn routine_without_looks(report: &Report, span: Range<usize>) {
    report
        .warning(span, "the routine phase has no looks".to_owned())
        .label("an empty list")
        .why("after the last step nobody would be asked to look at the skin any more")
        .help("name at least one time of day, such as `look_at = [\"08:00\", \"20:00\"]`");
}

/// The values in order, each once; says so where that changes anything.
pub(super) fn sorted<T: Ord + Clone>(
    report: &Report,
    values: Vec<At<T>>,
    what: &str,
    print: impl Fn(&T) -> String,
) -> Vec<T> {
    for pair in values.windows(2) {
        let [before, after] = pair else { continue };
        if after.value > before.value {
            continue;
        }
        let twice = values.iter().filter(|other| other.value == after.value).count() > 1;
        let problem = if twice { "the same twice" } else { "out of order" };
        report
            .warning(after.span.clone(), format!("{what} are not in order, each once"))
            .label(problem)
            .beside(before.span.clone(), "comes before it")
            .help(format!("they are taken in order: {}", in_order(&values, &print)));
    }
    let mut sorted: Vec<T> = values.into_iter().map(|at| at.value).collect();
    sorted.sort();
    sorted.dedup();
    sorted
}

fn in_order<T: Ord + Clone>(values: &[At<T>], print: impl Fn(&T) -> String) -> String {
    let mut values: Vec<&T> = values.iter().map(|at| &at.value).collect();
    values.sort();
    values.dedup();
    values.into_iter().map(print).collect::<Vec<_>>().join(", ")
}
