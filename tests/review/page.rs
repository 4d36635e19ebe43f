//! The record as a page to print, and the three lines of an alert.

use fadewatch::care::fitting::FitPractice;
use fadewatch::care::{ClientRef, RiskLevel, Site};
use fadewatch::config::{fitting_canonical, fitting_version};
use fadewatch::notice::Languages;
use fadewatch::review::{FittingWords, PageOf, Tested, fitting_lines, fitting_page, readiness};

use crate::fitting;

const CANNOT: &[(&str, &str)] = &[
    ("left = \"16mm\"", "left = \"12mm\""),
    ("left = 1", "left = 2"),
    ("fitter = \"A. Example\"", "fitter = \"A. <Example> & Co\""),
];

fn page(language: &str) -> String {
    let fitting = fitting(CANNOT);
    let risk = RiskLevel::new("high").unwrap();
    let (practice, words, languages) =
        (FitPractice::common(), FittingWords::shipped(), Languages::shipped());
    let readiness = readiness(&fitting, Some(&risk), &practice);
    let of = PageOf {
        fitting: &fitting,
        version: &fitting_version(&fitting),
        client: Some(&ClientRef::new("A7").unwrap()),
        risk: Some(&risk),
        readiness: &readiness,
        practice: &practice,
    };
    let wording = languages.wording(language);
    fitting_page(of, words.of(language), &|sites: &[Site]| wording.sites(sites))
}

fn lines(language: &str, changes: &[(&str, &str)], in_spite_of: bool) -> String {
    let fitting = fitting(changes);
    let (words, languages) = (FittingWords::shipped(), Languages::shipped());
    let wording = languages.wording(language);
    let version = fitting_version(&fitting);
    let tested = Tested { fitting: &fitting, version: &version, in_spite_of };
    let lines = fitting_lines(tested, words.of(language), &|sites: &[Site]| wording.sites(sites));
    assert_eq!(lines.len(), 3);
    lines.join("\n")
}

#[test]
fn the_page_holds_the_whole_record_and_the_justification() {
    for language in ["de", "en", "es", "fr"] {
        insta::assert_snapshot!(format!("page-{language}"), page(language));
    }
}

#[test]
fn the_page_prints_to_one_sheet_in_every_language() {
    for language in ["de", "en", "es", "fr"] {
        assert_eq!(crate::print::sheets(&page(language)).len(), 1, "{language}");
    }
}

#[test]
fn what_people_wrote_cannot_break_out_of_the_page() {
    let page = page("en");
    assert!(page.contains("A. &lt;Example&gt; &amp; Co") && !page.contains("<Example>"));
    assert!(!page.contains("<script") && !page.contains("http"));
}

#[test]
fn an_alert_has_the_fitting_in_three_lines_with_its_doubts() {
    let doubtful: &[(&str, &str)] = &[
        ("back_support = \"ok\"", "back_support = \"not-checked\""),
        ("found_by = \"feeler\"", "found_by = \"hand\""),
        ("imprint_left = \"none\"\n", ""),
        ("imprint_right = \"faint\"\n", ""),
    ];
    let all = [
        lines("en", &[], false),
        lines("en", doubtful, true),
        lines("es", &[], false),
        lines("es", doubtful, true),
        lines("de", doubtful, true),
        lines("fr", doubtful, true),
    ];
    insta::assert_snapshot!(all.join("\n\n"));
}

#[test]
fn equal_records_have_equal_versions_whatever_the_comments_and_any_change_has_another() {
    let version = |changes: &[(&str, &str)]| fitting_version(&fitting(changes));
    let commented = ("[fitting.build_up]", "# counted twice\n[fitting.build_up]");
    assert_eq!(version(&[]), version(&[commented]));
    for change in [
        ("date = 2026-03-05", "date = 2026-03-04"),
        ("raised by 1 cm", "raised by 2 cm"),
        ("left = \"16mm\"", "left = \"17mm\""),
        ("imprint_left = \"none\"", "imprint_left = \"faint\""),
        ("levelled = true", "levelled = false"),
        ("comfort_fill = false", "comfort_fill = true"),
        ("thigh_supports = \"none\"", "thigh_supports = \"inner\""),
        ("loads = [\"thigh\", \"trochanter\"]", "loads = [\"thigh\"]"),
    ] {
        assert_ne!(version(&[]), version(&[change]), "{change:?}");
    }
    insta::assert_snapshot!(fitting_canonical(&fitting(&[])));
}
