//! The keys of `[fitting]`.
//!
//! Never here: reading them.
//! Promises: descriptions only.

use super::shape::{Key, Kind, Shape};

const RESULTS: &[&str] = &["ok", "not-ok", "not-checked"];

/// A file that holds a fitting only.
pub(super) static FITTING_FILE: Shape = Shape {
    name: "the fitting file",
    keys: &[Key::required(
        "fitting",
        Kind::Table(&FITTING),
        "[fitting]",
        "how the seat was fitted; the shipped client file shows all of it",
    )],
};

/// `[fitting]`.
pub(super) static FITTING: Shape = Shape {
    name: "[fitting]",
    keys: &[
        Key::required("date", Kind::Date, "2026-03-05", "the day of the fitting"),
        Key::required("fitter", Kind::Text, "\"A. Example\"", "who fitted the seat"),
        Key::required(
            "seat",
            Kind::Text,
            "\"foam seat with a relief, 43 cm wide\"",
            "the seat, in your own words",
        ),
        Key::required(
            "off_loads",
            Kind::Texts,
            "[\"ischium\", \"sacrum\", \"coccyx\"]",
            "the sites that the seat takes load away from",
        ),
        Key::required(
            "loads",
            Kind::Texts,
            "[\"thigh\", \"trochanter\"]",
            "the sites that the seat loads in their place",
        ),
        Key::required(
            "checks",
            Kind::Table(&CHECKS),
            "[fitting.checks]",
            "the checks of the fit, in working order",
        ),
        Key::optional(
            "clearance",
            Kind::Table(&CLEARANCE),
            "[fitting.clearance]",
            "the room found under each sit bone",
        ),
        Key::required(
            "build_up",
            Kind::Table(&BUILD_UP),
            "[fitting.build_up]",
            "the build-up pieces in use",
        ),
        Key::required(
            "pelvis",
            Kind::Table(&PELVIS),
            "[fitting.pelvis]",
            "whether one side of the pelvis is lower",
        ),
        Key::required(
            "legs",
            Kind::Word(&["spread", "together", "windswept"]),
            "\"together\"",
            "how the legs lie",
        ),
        Key::required(
            "thigh_supports",
            Kind::Word(&["none", "inner", "outer", "inner-and-outer"]),
            "\"none\"",
            "thigh supports in use: between the thighs, outside them, or both",
        ),
        Key::required(
            "comfort_fill",
            Kind::YesNo,
            "false",
            "whether comfort fill is used; it gives back a little of the off-loading",
        ),
    ],
};

static CHECKS: Shape = Shape {
    name: "[fitting.checks]",
    keys: &[
        check("seat_on_chair", "whether the seat is placed right on the chair"),
        check("foot_support", "whether the feet are supported"),
        check("back_support", "whether the back is supported"),
        check("position", "whether the client sits in the right place, by the trochanters"),
        check("sacrum_free", "whether sacrum and coccyx touch nothing"),
        check("perineum_room", "whether there is room at the perineum"),
        check("clearance_left", "whether there is room under the left sit bone"),
        check("clearance_right", "whether there is room under the right sit bone"),
    ],
};

const fn check(name: &'static str, purpose: &'static str) -> Key {
    Key::required(name, Kind::WordOrTable(RESULTS, &CHECK), "\"ok\"", purpose)
}

static CHECK: Shape = Shape {
    name: "a check",
    keys: &[
        Key::required("is", Kind::Word(RESULTS), "\"not-ok\"", "what the check gave"),
        Key::optional("note", Kind::Text, "\"heels hang\"", "what was seen"),
    ],
};

static CLEARANCE: Shape = Shape {
    name: "[fitting.clearance]",
    keys: &[
        Key::required(
            "found_by",
            Kind::Word(&["hand", "feeler"]),
            "\"hand\"",
            "by hand, or by a feeler left under the site during a sitting",
        ),
        Key::required("left", Kind::Clearance, "\"16mm\"", "the room under the left sit bone"),
        Key::required("right", Kind::Clearance, "\"5/8in\"", "the room under the right sit bone"),
        imprint("imprint_left"),
        imprint("imprint_right"),
    ],
};

const fn imprint(name: &'static str) -> Key {
    Key::optional(
        name,
        Kind::Word(&["none", "faint", "deep"]),
        "\"none\"",
        "the imprint that the feeler shows",
    )
}

static BUILD_UP: Shape = Shape {
    name: "[fitting.build_up]",
    keys: &[
        Key::required("left", Kind::Count(0, 20), "0", "pieces in use on the left"),
        Key::required("right", Kind::Count(0, 20), "0", "pieces in use on the right"),
        Key::required("seat_takes", Kind::Count(0, 20), "2", "the most that one side takes"),
    ],
};

static PELVIS: Shape = Shape {
    name: "[fitting.pelvis]",
    keys: &[
        Key::required(
            "low_side",
            Kind::Word(&["none", "left", "right", "not-checked"]),
            "\"none\"",
            "which side of the pelvis is lower",
        ),
        Key::optional(
            "obliquity",
            Kind::Word(&["flexible", "fixed"]),
            "\"flexible\"",
            "whether the low side can be raised by hand",
        ),
        Key::optional(
            "levelled",
            Kind::YesNo,
            "true",
            "whether both sides are at one height in the seat",
        ),
    ],
};
