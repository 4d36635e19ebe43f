//! One review guide for each kind of mistake, and the whole message.

use fadewatch::config::parse_review_guide;

use crate::said;

const GUIDE: &str = r#"lines_most = 6

[[line]]
id = "first"
when = { place = ["sacrum"], bearing = ["off-loaded"] }
source = "common practice"
text = { en = "Look here.", es = "Mire aquí." }

[[line]]
id = "second"
source = "a published source"
text = { en = "Look there.", es = "Mire allí." }
"#;

macro_rules! told {
    ($part:literal => $to:literal) => {
        assert!(GUIDE.contains($part), "the text to change is not there");
        insta::assert_snapshot!(said(parse_review_guide(
            "review-guide.toml",
            &GUIDE.replacen($part, $to, 1)
        )))
    };
}

#[test]
fn a_right_guide_is_taken_without_a_word() {
    assert!(parse_review_guide("g.toml", GUIDE).unwrap().warnings.is_empty());
}

#[test]
fn a_condition_that_would_never_hold_is_answered_with_what_was_meant() {
    told!("bearing = [\"off-loaded\"]" => "bearing = [\"off-loadd\"]");
    told!("bearing = [\"off-loaded\"]" => "bearing = []");
    told!("bearing = [\"off-loaded\"]" => "baering = [\"off-loaded\"]");
}

#[test]
fn a_line_that_could_never_be_proposed_is_refused() {
    told!("bearing = [\"off-loaded\"]" => "sides = [\"one\"]");
    told!("place = [\"sacrum\"]" => "fitting = [\"none-on-file\"]");
}

#[test]
fn a_line_without_what_it_rests_on_is_refused() {
    told!("source = \"common practice\"\n" => "");
}

#[test]
fn a_line_without_english_is_refused() {
    told!("text = { en = \"Look here.\", es = \"Mire aquí.\" }" => "text = { es = \"Mire aquí.\" }");
}

#[test]
fn a_language_that_one_line_lacks_is_doubted() {
    told!("text = { en = \"Look here.\", es = \"Mire aquí.\" }" => "text = { en = \"Look here.\" }");
}

#[test]
fn two_lines_of_one_id_are_refused() {
    told!("id = \"second\"" => "id = \"first\"");
}
