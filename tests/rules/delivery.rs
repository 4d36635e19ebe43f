//! Who may answer what (R29), and the lines as they are printed.

use crate::story::Story;

/// One sitting a day at 10:00, its look asked at 10:15.
fn one_sitting() -> Story {
    Story::new().sittings_at("10:00").steps(&["15min 1 9"])
}

/// R29.
#[test]
fn calm_words_of_somebody_who_was_not_asked_are_set_aside() {
    for words in ["clear", "faded", "not-looked", "unclear", "no-sitting"] {
        one_sitting()
            .says("06 10:16", "second", words)
            .says("06 10:17", "first", "clear")
            .gives_from(
                "06 10:16",
                "06 10:16 set-aside second not-asked
             06 10:17 answered first 1 by first: clear
             06 10:17 credit 1 run 1",
            );
    }
}

/// R29: a mark or worse never is; here it answers the newest look asked of anyone.
#[test]
fn a_mark_from_somebody_not_asked_answers_the_look_asked_last() {
    one_sitting()
        .says("06 10:16", "second", "marked sacrum")
        .says("06 10:47", "second", "faded 9min")
        .gives_from(
            "06 10:16",
            "06 10:16 answered first 1 by second: marked sacrum
             06 10:46 asked recheck 1 → second
             06 10:47 answered recheck 1 by second: faded 9min
             06 10:47 credit 1 run 1",
        );
}

/// R29: while the first look is still to come it is an unasked first look of the sitting; with
/// nothing asked of anyone, an unasked routine look. What the person says next is said to it.
#[test]
fn what_is_said_next_after_an_unasked_look_is_said_to_it() {
    one_sitting()
        .says("06 10:05", "second", "marked sacrum")
        .says("06 10:09", "second", "faded")
        .gives(
            "06 10:00 sitting 1 step 1 15min
             06 10:05 answered first 1 by second: marked sacrum
             06 10:09 answered recheck 1 by second: faded
             06 10:09 no-credit 1 cut-short",
        );
    one_sitting()
        .says("06 08:00", "second", "marked sacrum")
        .says("06 08:09", "second", "faded")
        .gives(
            "06 08:00 answered routine by second: marked sacrum
             06 08:09 answered recheck by second: faded
             06 10:00 dropped resting",
        );
}

/// R29, R11: an alarming sign from anybody on file stops, whenever it comes.
#[test]
fn an_alarming_sign_from_somebody_not_asked_stops() {
    one_sitting()
        .says("06 08:00", "second", "alarming sacrum")
        .says("06 08:01", "clinic", "seen")
        .gives(
            "06 08:00 answered routine by second: alarming sacrum
         06 08:00 stopped alarming sacrum
         06 08:00 told-to-stop first
         06 08:00 told-to-stop second
         06 08:00 alerted clinic
         06 08:01 acknowledged clinic",
        );
}

/// The rehearsal format, with its worked lines.
#[test]
fn the_lines_are_those_of_the_rehearsal_format() {
    let story = Story::new().zone("America/Denver").sittings_at("10:00 15:30").says(
        "06 10:21",
        "first",
        "marked ischium-left",
    );
    assert_eq!(
        story.json()[..4],
        [
            r#"{"at":"2026-03-06T10:00:00-07:00","what":"sitting","sitting":1,"step":1,"minutes":15}"#,
            r#"{"at":"2026-03-06T10:15:00-07:00","what":"asked","look":"first","sitting":1,"to":"first","again":0}"#,
            r#"{"at":"2026-03-06T10:21:00-07:00","what":"answered","look":"first","sitting":1,"by":"first","reading":"marked","sites":["ischium-left"],"minutes":null}"#,
            r#"{"at":"2026-03-06T10:51:00-07:00","what":"asked","look":"recheck","sitting":1,"to":"first","again":0}"#,
        ]
    );
    // UTC is printed as an offset like any other.
    assert!(Story::new().json()[0].contains("10:00:00+00:00"));
}
