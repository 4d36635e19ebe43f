//! Looking ahead, held against other people's programs and published examples (R9, R19, R20).
//!
//! `trend/reference.json` holds what SciPy and pymannkendall say about 320 generated series;
//! `trend/make_reference.py` made it.

#![allow(clippy::unwrap_used, reason = "a test ends where what it rests on is missing")]

use std::fs;
use std::path::Path;

use fadewatch::follow_up::trend::{
    ExactMinutes, Point, expected_fade, kendall_s, orders_at_least, rising,
};
use serde_json::Value;

/// Far below what could move a projection across a whole minute, far above floating-point noise.
const CLOSE: f64 = 1e-9;

#[test]
fn the_projection_agrees_with_scipy_theilslopes() {
    let series = reference("lines");
    assert!(series.len() >= 100);
    for one in &series {
        let points = points(&numbers(&one["sat"]), &numbers(&one["fade"]));
        let at = u32::try_from(one["at"].as_u64().unwrap()).unwrap();
        let expected = one["expected"].as_f64().unwrap();
        let ours = float(expected_fade(&points, at).unwrap());
        assert!((ours - expected).abs() < CLOSE, "{one}: {ours}");
    }
}

#[test]
fn the_exact_p_agrees_with_scipy_kendalltau_on_series_without_ties() {
    let series = reference("tie_free");
    assert!(series.len() >= 100);
    let mut told = 0;
    for one in &series {
        let values = numbers(&one["values"]);
        let expected = one["p"].as_f64().unwrap();
        assert_eq!(kendall_s(&values), one["s"].as_i64().unwrap(), "{one}");
        assert!((p(&values) - expected).abs() < CLOSE, "{one}: {}", p(&values));
        assert_eq!(rising(&values).is_some(), expected < 0.05, "{one}");
        told += u32::from(expected < 0.05);
    }
    assert!(told >= 20, "only {told} series rise: the reference tests too little");
}

#[test]
fn the_exact_p_with_ties_is_the_share_of_all_orders_that_rise_as_much() {
    let series = reference("tied");
    assert!(series.len() >= 60);
    for one in &series {
        let values = numbers(&one["values"]);
        let (tail, orders) = (one["tail"].as_u64().unwrap(), one["orders"].as_u64().unwrap());
        assert_eq!(kendall_s(&values), one["s"].as_i64().unwrap(), "{one}");
        let (ours, total) = orders_at_least(&values, kendall_s(&values));
        // We count distinct orders, the reference counts every permutation.
        assert_eq!(ours * orders, total * tail, "{one}");
        assert_eq!(rising(&values).is_some(), tail * 20 < orders, "{one}");
    }
}

/// The same, from nothing but the definition: every order of every series of up to seven values
/// out of three, counted here.
#[test]
fn every_short_series_with_ties_has_the_p_of_its_own_orders() {
    for length in 2..=6_u32 {
        for code in 0..3_u32.pow(length) {
            let values: Vec<u32> = (0..length).map(|i| code / 3_u32.pow(i) % 3).collect();
            let s = kendall_s(&values);
            let mut all = Vec::new();
            orders_of(&mut values.clone(), 0, &mut all);
            let tail = all.iter().filter(|order| kendall_s(order) >= s).count();
            let (ours, total) = orders_at_least(&values, s);
            assert_eq!(ours * all.len(), total * tail, "{values:?}");
        }
    }
}

/// Exactly 0.05 is not below 0.05 (R20).
#[test]
fn a_trend_with_p_of_exactly_one_in_twenty_is_not_told() {
    for values in [vec![0, 0, 0, 5, 5, 5], vec![0, 0, 0, 5, 9], vec![0, 4, 4, 8, 8, 4, 8]] {
        let (tail, orders) = orders_at_least(&values, kendall_s(&values));
        assert_eq!(tail * 20_u32, orders, "{values:?}");
        assert_eq!(rising(&values), None, "{values:?}");
    }
    // One more point on the same rise is enough.
    assert!(rising(&[0, 0, 0, 5, 5, 5, 5]).is_some());
}

/// Three points can never be beyond chance: even three that rise are one order out of six.
#[test]
fn a_rise_needs_at_least_four_points() {
    assert_eq!(rising(&[1, 2, 3]), None);
    let four = rising(&[1, 2, 3, 4]).unwrap();
    // One order out of 24, rounded up.
    assert_eq!((four.s, four.p_millionths), (6, 41_667));
}

#[test]
fn a_trend_that_falls_or_stays_level_is_never_told() {
    assert_eq!(rising(&[9, 8, 7, 6, 5, 4, 3]), None);
    assert_eq!(rising(&[5; 12]), None);
    assert_eq!(rising(&[]), None);
}

/// Upper tails of Kendall's S, as tabled (Kendall 1975; Gilbert 1987, table A18). The figures are
/// from memory of those tables, to the digits given there.
#[test]
fn the_exact_p_agrees_with_the_published_table() {
    let table = [
        (4, 4, 0.167),
        (4, 6, 0.042),
        (5, 6, 0.117),
        (5, 8, 0.042),
        (5, 10, 0.0083),
        (8, 14, 0.054),
        (8, 16, 0.031),
        (9, 18, 0.038),
        (6, 9, 0.068),
        (6, 11, 0.028),
        (7, 13, 0.035),
        (10, 21, 0.036),
    ];
    for (n, s, published) in table {
        let values: Vec<u32> = (0..n).collect();
        let (tail, orders) = orders_at_least(&values, s);
        let p = ratio(&tail, &orders);
        assert!((p - published).abs() < 0.0006, "n = {n}, S = {s}: {p} against {published}");
    }
}

/// Hollander & Wolfe (1973), p. 187: nine lots of tuna, panel score against lightness; exact
/// one-sided p = 0.05972, as the manual page of R's `cor.test` prints it. Ordered by lightness,
/// the scores (times ten) are a series.
#[test]
fn the_tuna_example_of_hollander_and_wolfe_has_its_published_p() {
    let scores = [25, 40, 26, 36, 28, 31, 52, 50, 38];
    assert!((p(&scores) - 0.05972).abs() < 0.000_005, "{}", p(&scores));
    assert_eq!(rising(&scores), None);
}

/// EPA QA/G-9S (2006), p. 109: eleven values with ties of four and of two, S = 22; the normal
/// approximation printed there is Z = 1.685, p = 0.046. The exact p has to lie near it.
#[test]
fn the_tied_example_of_epa_qa_g9s_has_its_published_s() {
    let values = [10, 10, 10, 5, 10, 20, 18, 17, 15, 24, 15];
    assert_eq!(kendall_s(&values), 22);
    assert!((p(&values) - 0.046).abs() < 0.005, "{}", p(&values));
    assert!(rising(&values).is_some());
}

/// Sen (1968), the numerical example: seven points, slope 4 (from memory of the paper; the median
/// of the 21 slopes can be followed by hand). The intercept is median y − 4 × median x = 4.
#[test]
fn the_example_of_sen_has_its_published_slope() {
    let points = points(&[1, 2, 3, 4, 10, 12, 18], &[9, 15, 19, 20, 45, 55, 78]);
    let line = |at| expected_fade(&points, at).unwrap();
    assert_eq!(line(0), ExactMinutes::from_integer(4));
    assert_eq!(line(20) - line(10), ExactMinutes::from_integer(40));
}

/// R19: five points, on two sitting times, among the last ten.
#[test]
fn a_projection_needs_five_points_on_two_sitting_times_and_looks_back_on_ten() {
    assert_eq!(expected_fade(&points(&[15, 15, 30, 30], &[3, 4, 8, 9]), 45), None);
    assert_eq!(expected_fade(&points(&[15; 6], &[1, 2, 3, 4, 5, 6]), 30), None);
    assert!(expected_fade(&points(&[15, 15, 15, 30, 30], &[3, 4, 3, 8, 9]), 45).is_some());
    // The eleventh point from the end, the only one on another sitting time, is not looked at.
    let mut sat = vec![15];
    sat.extend([30; 10]);
    assert_eq!(expected_fade(&points(&sat, &[1; 11]), 45), None);
}

fn reference(set: &str) -> Vec<Value> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/trend/reference.json");
    let all: Value = serde_json::from_str(&fs::read_to_string(path).unwrap()).unwrap();
    all[set].as_array().unwrap().clone()
}

fn numbers(value: &Value) -> Vec<u32> {
    serde_json::from_value(value.clone()).unwrap()
}

fn points(sat: &[u32], fade: &[u32]) -> Vec<Point> {
    sat.iter().zip(fade).map(|(&sat, &fade)| Point { sat, fade }).collect()
}

fn p(values: &[u32]) -> f64 {
    let (tail, orders) = orders_at_least(values, kendall_s(values));
    ratio(&tail, &orders)
}

/// A ratio of two counts of orders, small enough to be exact as floating-point numbers.
fn ratio(part: &impl ToString, whole: &impl ToString) -> f64 {
    let number = |n: &dyn Fn() -> String| n().parse::<f64>().unwrap();
    number(&|| part.to_string()) / number(&|| whole.to_string())
}

fn float(exact: ExactMinutes) -> f64 {
    #[allow(clippy::cast_precision_loss, reason = "small numbers")]
    let (numerator, denominator) = (*exact.numer() as f64, *exact.denom() as f64);
    numerator / denominator
}

fn orders_of(values: &mut Vec<u32>, fixed: usize, all: &mut Vec<Vec<u32>>) {
    if fixed == values.len() {
        all.push(values.clone());
        return;
    }
    for next in fixed..values.len() {
        values.swap(fixed, next);
        orders_of(values, fixed + 1, all);
        values.swap(fixed, next);
    }
}
