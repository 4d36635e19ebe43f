//! Commands about fittings: is it ready, begin on it, fit again.

use std::fs;

use super::world::World;

const FITTING: &str = include_str!("../review/right/fitting.toml");
const UNDER: (&str, &str) = ("left = \"16mm\"", "left = \"12mm\"");
const AS_IT_IS: (&str, &str) = ("left = \"16mm\"", "left = \"16mm\"");

/// Writes a fitting of today's with one part changed, and returns its file name.
fn fitting(world: &World, name: &str, (part, to): (&str, &str)) -> String {
    assert!(FITTING.contains(part));
    let text = FITTING.replacen(part, to, 1).replace("2026-03-05", &world.today.to_string());
    fs::write(world.path(name), text).unwrap();
    name.to_owned()
}

/// Writes a client's file with a fitting in it.
fn client(world: &World, reference: &str, change: (&str, &str)) -> String {
    let file = fitting(world, "of-client.toml", change);
    let path = world.client_file(reference);
    let text = fs::read_to_string(&path).unwrap() + &fs::read_to_string(world.path(&file)).unwrap();
    fs::write(&path, text).unwrap();
    path.display().to_string()
}

#[test]
fn a_fit_is_told_ready_or_not_in_words_in_json_and_by_exit_code() {
    let world = World::empty();
    let ready = fitting(&world, "ready.toml", AS_IT_IS);
    let ran = world.run(&["fit", &ready]);
    assert_eq!((ran.code, ran.out.as_str()), (0, "Ready to begin.\n"), "{}", ran.err);
    let under = fitting(&world, "under.toml", UNDER);
    let ran = world.run(&["fit", &under, "--json"]);
    assert_eq!(ran.code, 5, "{}", ran.err);
    let told: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!((&told["ready"], &told["seat_for_client"]), (&false.into(), &false.into()));
    assert_eq!(told["missing"].as_array().unwrap().len(), 1);
    assert!(told["next"].as_str().unwrap().contains("Raise the left side: add one build-up piece"));
    assert_eq!(told["values"]["clearance_least"], "1/2in");
}

#[test]
fn the_clinics_own_values_decide_and_without_a_clinic_file_common_practice_does() {
    let world = World::empty();
    let under = fitting(&world, "under.toml", UNDER);
    let clinic = fs::read_to_string(world.path("clinic.toml")).unwrap();
    fs::write(world.path("clinic.toml"), clinic + "\n[fit]\nclearance_least = \"12mm\"\n").unwrap();
    assert_eq!(world.run(&["fit", &under]).code, 0);
    fs::remove_file(world.path("clinic.toml")).unwrap();
    let ran = world.run(&["fit", &under]);
    assert_eq!(ran.code, 5);
    assert!(ran.err.contains("held to common practice"), "{}", ran.err);
}

#[test]
fn the_record_is_written_as_a_page_and_answers_in_spanish() {
    let world = World::empty();
    let under = fitting(&world, "under.toml", UNDER);
    let ran = world.run(&["fit", &under, "--page", "page.html", "--language", "es"]);
    assert_eq!(ran.code, 5, "{}", ran.err);
    assert!(ran.out.starts_with("No está listo"), "{}", ran.out);
    let page = fs::read_to_string(world.path("page.html")).unwrap();
    assert!(page.contains("<html lang=\"es\">") && page.contains("12 mm"));
}

#[test]
fn a_language_without_words_and_a_page_that_cannot_be_written_are_told_with_a_way_out() {
    let world = World::empty();
    let ready = fitting(&world, "ready.toml", AS_IT_IS);
    let ran = world.run(&["fit", &ready, "--language", "xx"]);
    assert_eq!(ran.code, 2, "{}", ran.out);
    assert!(
        ran.err.contains("in the language `xx`\nhint: use one of de, en, es, fr"),
        "{}",
        ran.err
    );
    assert_eq!(
        world.run(&["fit", &ready, "--language", "de-AT"]).out,
        "Es kann begonnen werden.\n"
    );
    let ran = world.run(&["fit", &ready, "--page", "no-such-folder/page.html"]);
    assert_eq!(ran.code, 1, "{}", ran.out);
    assert!(ran.err.contains("cannot write no-such-folder/page.html"), "{}", ran.err);
    let file = client(&world, "E5", AS_IT_IS);
    assert_eq!(world.run(&["enroll", &file, "--by", "desk"]).code, 0);
    let ran = world.run(&["letter", "E5", "--language", "xx"]);
    assert_eq!(ran.code, 2, "{}", ran.out);
    let ran = world.run(&["letter", "E5", "--out", "no-such-folder/e5.html"]);
    assert!(ran.err.contains("cannot write no-such-folder/e5.html"), "{}", ran.err);
}

#[test]
fn the_answer_is_the_same_in_millimetres_and_in_inches() {
    let world = World::empty();
    for (change, code) in [
        (("left = \"16mm\"", "left = \"12.7mm\""), 0),
        (("left = \"16mm\"", "left = \"1/2in\""), 0),
        (("left = \"16mm\"", "left = \"12.6mm\""), 5),
        (("left = \"16mm\"", "left = \"7/16in\""), 5),
        (("left = \"16mm\"", "left = \"3/4in\""), 0),
        (("left = \"16mm\"", "left = \"19.1mm\""), 5),
        (("left = \"16mm\"", "left = \"16\""), 2),
    ] {
        let file = fitting(&world, "fit.toml", change);
        assert_eq!(world.run(&["fit", &file]).code, code, "{change:?}");
    }
}

#[test]
fn a_fixed_obliquity_and_a_low_side_without_a_piece_left_justify_a_seat_for_the_client() {
    let world = World::empty();
    for change in [
        ("obliquity = \"flexible\"\nlevelled = true", "obliquity = \"fixed\"\nlevelled = false"),
        ("seat_takes = 2", "seat_takes = 1"),
    ] {
        let name = fitting(&world, "fit.toml", change);
        let text = fs::read_to_string(world.path(&name)).unwrap();
        let text = text.replacen("levelled = true", "levelled = false", 1);
        fs::write(world.path(&name), text).unwrap();
        let ran = world.run(&["fit", &name, "--json"]);
        assert_eq!(ran.code, 5, "{change:?}: {}", ran.err);
        let told: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
        assert_eq!(told["seat_for_client"], true, "{change:?}");
        let next = told["next"].as_str().unwrap();
        assert!(next.contains("A seat shaped to the client is justified"), "{next}");
    }
}

#[test]
fn nobody_begins_on_a_fit_that_is_not_ready_but_by_a_clinicians_decision() {
    let world = World::empty();
    let file = client(&world, "E5", UNDER);
    let ran = world.run(&["enroll", &file, "--by", "desk"]);
    assert_eq!(ran.code, 4, "{}{}", ran.out, ran.err);
    assert!(ran.err.contains("the fit is not ready to begin"), "{}", ran.err);
    let decided = |by: &str| {
        let reason = "measured in a thick pad";
        world.run(&["enroll", &file, "--in-spite-of", reason, "--by", by])
    };
    assert_eq!(decided("desk").code, 4);
    let bare = world.client_file("F6").display().to_string();
    let nothing = world.run(&["enroll", &bare, "--in-spite-of", "haste", "--by", "seating"]);
    assert_eq!(nothing.code, 2, "{}", nothing.err);
    let begun = decided("seating");
    assert_eq!(begun.code, 0, "{}", begun.err);
    let journal = world.run(&["journal", "E5"]).out;
    assert!(journal.contains("not ready, begun by decision of seating"), "{journal}");
    assert!(!journal.contains("thick pad"), "{journal}");
}

#[test]
fn a_client_fitted_again_shows_the_version_that_is_tested() {
    let world = World::empty();
    let file = client(&world, "E5", AS_IT_IS);
    assert_eq!(world.run(&["enroll", &file, "--by", "desk"]).code, 0);
    let first = world.json(&["show", "E5", "--json"])["fitting"].clone();
    let changed = fitting(&world, "again.toml", ("left = \"16mm\"", "left = \"17mm\""));
    let ran = world.run(&["refit", "E5", &changed, "--by", "desk"]);
    assert_eq!(ran.code, 0, "{}{}", ran.out, ran.err);
    let second = world.json(&["show", "E5", "--json"])["fitting"].clone();
    assert_ne!(first, second);
    assert!(world.run(&["show", "E5"]).out.contains("tests version"));
    let same = world.run(&["refit", "E5", &changed, "--by", "desk"]);
    assert_eq!(same.code, 4, "{}", same.err);
    let others = client(&world, "F6", ("left = \"16mm\"", "left = \"18mm\""));
    let wrong = world.run(&["refit", "E5", &others, "--by", "desk"]);
    assert_eq!(wrong.code, 2, "{}", wrong.err);
    assert!(wrong.err.contains("the file of client `F6`"), "{}", wrong.err);
}
