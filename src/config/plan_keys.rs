//! The tables and keys of a plan, described.
//!
//! Never here: reading them.
//! Promises: a key is required unless the plan's format marks it optional; nothing has a default.

use super::shape::{Key, Kind, Shape};

/// Counts in a plan above this are slips of the finger.
const COUNT_MAX: u32 = 1000;
/// The most sittings that fit into a day with a look after each.
const SITTINGS_MAX: u32 = 48;
/// The latest review: ten years after the routine phase began.
const REVIEW_DAY_MAX: u32 = 3650;

/// The outermost table of a plan.
pub(super) static PLAN: Shape = Shape {
    name: "the plan",
    keys: &[
        Key::required(
            "id",
            Kind::Id,
            "\"two-week\"",
            "the short name by which files refer to the plan",
        ),
        Key::required(
            "title",
            Kind::Text,
            "\"Building up sitting time\"",
            "one line that says to people what the plan is for",
        ),
        Key::optional(
            "approved_by",
            Kind::MaybeText,
            "\"\"",
            "who in the clinic approved the plan; without it, it can be rehearsed, not served",
        ),
        Key::optional("approved_on", Kind::Date, "2026-03-02", "the day on which it was approved"),
        Key::required("looks", Kind::Table(&LOOKS), "[looks]", "the limits that every step shares"),
        Key::optional("watch", Kind::Table(&WATCH), "[watch]", "what the clinic is told of early"),
        Key::required("stop", Kind::Table(&STOP), "[stop]", "what follows when sitting is stopped"),
        Key::required(
            "risk",
            Kind::Named(&LEVEL),
            "[[risk.high.step]]",
            "the ladder of sitting times for each risk level",
        ),
    ],
};

static LOOKS: Shape = Shape {
    name: "[looks]",
    keys: &[
        Key::required(
            "fade_limit",
            Kind::Wait,
            "\"30min\"",
            "the longest that a mark may last once the client is off the seat (R6, R10)",
        ),
        Key::required(
            "slow_fade",
            Kind::Duration,
            "\"15min\"",
            "the longest that a mark may last and the sitting still earn credit (R5)",
        ),
        Key::required(
            "answer_within",
            Kind::Wait,
            "\"20min\"",
            "how long a question waits before it is asked again (R14)",
        ),
        Key::required(
            "ask_again",
            Kind::Count(0, COUNT_MAX),
            "2",
            "how often each contact is asked again before the next is asked (R14)",
        ),
        Key::required(
            "tell_clinic_after",
            Kind::Wait,
            "\"2h\"",
            "how long an unanswered look waits until the clinic is told (R15)",
        ),
        Key::required(
            "recheck_within",
            Kind::Wait,
            "\"1h\"",
            "how long an unanswered recheck waits until sitting is stopped (R12)",
        ),
        Key::required(
            "missed_to_suspend",
            Kind::Count(1, COUNT_MAX),
            "2",
            "how many sittings in a row with a missed look suspend sitting (R16)",
        ),
        Key::required(
            "rest_after_mark",
            Kind::Duration,
            "\"2h\"",
            "how long after a mark has gone no sitting begins (R4)",
        ),
    ],
};

static WATCH: Shape = Shape {
    name: "[watch]",
    keys: &[Key::optional(
        "repeat_marks",
        Kind::Table(&REPEAT_MARKS),
        "{ count = 3, of_last = 5 }",
        "marks at the same site in several sittings (R13)",
    )],
};

static REPEAT_MARKS: Shape = Shape {
    name: "repeat_marks",
    keys: &[
        Key::required(
            "count",
            Kind::Count(1, COUNT_MAX),
            "3",
            "in how many sittings the same site must be named until the clinic is told (R13)",
        ),
        Key::required(
            "of_last",
            Kind::Count(1, COUNT_MAX),
            "5",
            "among how many of the last sittings these are counted (R13)",
        ),
    ],
};

static STOP: Shape = Shape {
    name: "[stop]",
    keys: &[
        Key::required(
            "repeat_alert",
            Kind::Wait,
            "\"30min\"",
            "how often an alert is sent again until somebody acknowledges it (R22)",
        ),
        Key::required(
            "pass_on_after",
            Kind::Wait,
            "\"1h\"",
            "how long an alert waits until it passes to the next clinician on cover (R22)",
        ),
        Key::required(
            "bring_back_at",
            Kind::Time,
            "\"08:00\"",
            "when an alert without a decision is brought back each day (R22)",
        ),
        Key::required(
            "step_back",
            Kind::Count(0, COUNT_MAX),
            "2",
            "how many steps lower sitting resumes after a stop (R23)",
        ),
    ],
};

static LEVEL: Shape = Shape {
    name: "a risk level",
    keys: &[
        Key::optional(
            "look_at",
            Kind::Times,
            "[\"08:00\"]",
            "times of looks on every day of the build-up (R3)",
        ),
        Key::required(
            "step",
            Kind::Tables(&STEP),
            "[[risk.high.step]]",
            "the steps of the ladder, from the first on (R1)",
        ),
        Key::optional(
            "routine",
            Kind::Table(&ROUTINE),
            "[risk.high.routine]",
            "what follows the last step (R8)",
        ),
    ],
};

static STEP: Shape = Shape {
    name: "a step",
    keys: &[
        Key::required("sit", Kind::Wait, "\"15min\"", "how long one sitting lasts (R1)"),
        Key::required(
            "sittings_per_day",
            Kind::Count(1, SITTINGS_MAX),
            "2",
            "how many sittings there are a day (R1)",
        ),
        Key::required(
            "clear_to_advance",
            Kind::Count(1, COUNT_MAX),
            "4",
            "how many credits in a row lead to the next step (R7)",
        ),
        Key::optional(
            "look_every",
            Kind::Wait,
            "\"1h\"",
            "how far apart the looks inside a sitting are (R3)",
        ),
    ],
};

static ROUTINE: Shape = Shape {
    name: "a routine",
    keys: &[
        Key::required(
            "look_at",
            Kind::Times,
            "[\"08:00\", \"20:00\"]",
            "times of the looks on every day of the routine phase (R8)",
        ),
        Key::required(
            "review_after_days",
            Kind::Counts(1, REVIEW_DAY_MAX),
            "[7, 30, 90]",
            "how many days into the routine phase the clinic reviews (R8)",
        ),
    ],
};
