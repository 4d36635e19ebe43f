//! The chart of a course: planned minutes above, times until marks had gone below, signs between.
//!
//! Never here: where things stand (`layout`), shapes (`key`), rules.
//! Promises: every column carries its data; the limit line is drawn over the whole width.

use std::collections::BTreeSet;

use chrono::Datelike;

use super::super::ink::{AXIS, GRID, LIMIT, PAPER, SMALL, TEXT};
use super::super::svg::{Anchor, Stroke, Svg, text_width};
use super::fade::Fade;
use super::history::{Column, Expected, History, Sat, What};
use super::key::{self, Key};
use super::layout::{Layout, SMALL_TEXT, TITLE_TEXT};
use crate::follow_up::{Calendar, StepNumber};
use crate::notice::wording::Wording;

/// Draws the chart without its legend; returns the signs that it uses.
pub(super) fn draw(
    svg: &mut Svg,
    (history, shown): (&History, &[Column]),
    layout: &Layout,
    w: &Wording,
    zone: &Calendar,
) -> BTreeSet<Key> {
    let mut keys = BTreeSet::new();
    svg.text((8.0, 18.0), TITLE_TEXT, TEXT, Anchor::Start, &w.picture_sat());
    svg.text((8.0, Layout::FADE_TITLE), TITLE_TEXT, TEXT, Anchor::Start, &w.picture_gone());
    minutes_axis(svg, (history, shown), layout);
    limits(svg, history, layout, w);
    steps(svg, shown, layout, w);
    days(svg, shown, layout, w, zone);
    for (column, (x, wide)) in shown.iter().zip(&layout.columns) {
        match &column.what {
            What::Sitting(sat) => sitting(svg, column, sat, layout, (*x, *wide), &mut keys),
            What::Routine { fade, missed } => {
                svg.open(&[
                    ("routine-look", column.at.to_rfc3339()),
                    ("fade", fade.map_or("none", Fade::name).to_owned()),
                ]);
                Key::RoutineLook.draw(svg, (*x, Layout::SAT_FOOT - 6.0));
                keys.insert(Key::RoutineLook);
                look(svg, (*fade, *missed), layout, *x, &mut keys);
                svg.close();
            }
            What::Sign(sign) => {
                svg.open(&[("sign", sign.name().to_owned()), ("at", column.at.to_rfc3339())]);
                let stroke = Stroke::solid(TEXT.ink, 1.0);
                svg.line((*x, Layout::SAT_TOP), (*x, Layout::SIGNS - 10.0), stroke);
                svg.line((*x, Layout::FADE_TOP), (*x, Layout::FADE_FOOT), stroke);
                Key::Sign(*sign).draw(svg, (*x, Layout::SIGNS));
                svg.close();
                keys.insert(Key::Sign(*sign));
            }
        }
    }
    if let Some(expected) = history.expected {
        projection(svg, expected, (history, layout), w);
        keys.insert(Key::Expected);
    }
    keys
}

/// The minutes of the steps shown, where they do not stand too close.
fn minutes_axis(svg: &mut Svg, (history, shown): (&History, &[Column]), layout: &Layout) {
    let next = history.expected.map(|expected| expected.sit.count());
    let planned: BTreeSet<u32> = shown
        .iter()
        .filter_map(|column| match &column.what {
            What::Sitting(sat) => Some(sat.planned.count()),
            What::Routine { .. } | What::Sign(_) => None,
        })
        .chain(next)
        .collect();
    let foot = Layout::SAT_FOOT;
    let mut free_from = f64::NEG_INFINITY;
    for minutes in planned.into_iter().rev() {
        let y = foot - layout.sat(f64::from(minutes));
        if y - free_from >= SMALL_TEXT + 1.0 && foot - y >= SMALL_TEXT {
            free_from = y;
            svg.line((layout.left, y), (layout.right, y), Stroke::solid(GRID, 1.0));
            let at = (layout.left - 5.0, y + 4.0);
            svg.text(at, SMALL_TEXT, SMALL, Anchor::End, &minutes.to_string());
        }
    }
    let zero = (layout.left - 5.0, foot + 4.0);
    svg.text(zero, SMALL_TEXT, SMALL, Anchor::End, "0");
    svg.line((layout.left, foot), (layout.right, foot), Stroke::solid(AXIS.ink, 1.0));
}

/// The limit, and the time from which a fade is slow.
fn limits(svg: &mut Svg, history: &History, layout: &Layout, w: &Wording) {
    let (limit, slow) = (history.limit.count(), history.slow.count());
    svg.open(&[("limit", limit.to_string()), ("slow", slow.to_string())]);
    let foot = Layout::FADE_FOOT;
    svg.text((layout.left - 5.0, foot + 4.0), SMALL_TEXT, SMALL, Anchor::End, "0");
    svg.line((layout.left, foot), (layout.right, foot), Stroke::solid(AXIS.ink, 1.0));
    let at_limit = layout.fade(f64::from(limit));
    let at_slow = layout.fade(f64::from(slow));
    if at_slow - at_limit >= SMALL_TEXT + 1.0 && foot - at_slow >= SMALL_TEXT {
        let stroke = Stroke::dashed(AXIS.ink, 1.4, "5 3");
        svg.line((layout.left, at_slow), (layout.right, at_slow), stroke);
        let tick = (layout.left - 5.0, at_slow + 4.0);
        svg.text(tick, SMALL_TEXT, SMALL, Anchor::End, &slow.to_string());
        let label = (layout.right + 4.0, at_slow + 4.0);
        svg.text(label, SMALL_TEXT, SMALL, Anchor::Start, &w.picture_slow());
    }
    let stroke = Stroke::solid(LIMIT.ink, 2.2);
    svg.line((layout.left, at_limit), (layout.right, at_limit), stroke);
    let tick = (layout.left - 5.0, at_limit + 4.0);
    svg.text(tick, SMALL_TEXT, LIMIT, Anchor::End, &limit.to_string());
    let label = (layout.right + 4.0, at_limit + 4.0);
    svg.text(label, SMALL_TEXT, LIMIT, Anchor::Start, &w.picture_limit());
    svg.close();
}

/// A step's name over its sittings, and a line where it begins.
fn steps(svg: &mut Svg, shown: &[Column], layout: &Layout, w: &Wording) {
    let mut runs: Vec<(StepNumber, f64, f64)> = Vec::new();
    for (column, (x, wide)) in shown.iter().zip(&layout.columns) {
        let (from, to) = (x - wide / 2.0, x + wide / 2.0);
        match (&column.what, runs.last_mut()) {
            (What::Sitting(sat), Some(run)) if run.0 == sat.step => run.2 = to,
            (What::Sitting(sat), _) => runs.push((sat.step, from, to)),
            (What::Routine { .. } | What::Sign(_), _) => {}
        }
    }
    for (step, from, to) in runs {
        let number = step.to_string();
        let named = w.picture_step(&number);
        let fits = |text: &str| text_width(text, SMALL_TEXT) <= to - from - 2.0;
        let label = [named, number].into_iter().find(|label| fits(label));
        if let Some(label) = label {
            svg.text((from + 3.0, Layout::STEPS), SMALL_TEXT, SMALL, Anchor::Start, &label);
        }
        let stroke = Stroke::solid(AXIS.ink, 1.0);
        svg.line((from, Layout::STEPS - 9.0), (from, Layout::SAT_FOOT), stroke);
    }
}

/// Days under the chart, months under the days.
fn days(svg: &mut Svg, shown: &[Column], layout: &Layout, w: &Wording, zone: &Calendar) {
    let mut last_date = None;
    let mut last_month = None;
    let mut free_from = f64::NEG_INFINITY;
    for (column, (x, _)) in shown.iter().zip(&layout.columns) {
        let date = zone.date(column.at);
        if matches!(column.what, What::Sign(_)) || last_date == Some(date) {
            continue;
        }
        last_date = Some(date);
        let foot = Layout::FADE_FOOT;
        svg.line((*x, foot), (*x, foot + 4.0), Stroke::solid(AXIS.ink, 1.0));
        let day = date.day().to_string();
        let half = text_width(&day, SMALL_TEXT) / 2.0;
        if *x - half >= free_from {
            svg.text((*x, Layout::DAYS), SMALL_TEXT, SMALL, Anchor::Middle, &day);
            free_from = *x + half + 4.0;
        }
        if last_month != Some(date.month()) {
            last_month = Some(date.month());
            let month = &w.language.months[date.month0() as usize];
            let is_cut = *x + text_width(month, SMALL_TEXT) > layout.width;
            let (anchor, aside) = if is_cut { (Anchor::End, 8.0) } else { (Anchor::Start, -4.0) };
            svg.text((*x + aside, Layout::MONTHS), SMALL_TEXT, SMALL, anchor, month);
        }
    }
}

fn sitting(
    svg: &mut Svg,
    column: &Column,
    sat: &Sat,
    layout: &Layout,
    (x, wide): (f64, f64),
    keys: &mut BTreeSet<Key>,
) {
    let (from, to) = match sat.fade.and_then(Fade::bounds) {
        None => (String::new(), String::new()),
        Some((from, None)) => (from.count().to_string(), "open".to_owned()),
        Some((from, Some(to))) => (from.count().to_string(), to.count().to_string()),
    };
    svg.open(&[
        ("sitting", sat.number.to_string()),
        ("at", column.at.to_rfc3339()),
        ("step", sat.step.to_string()),
        ("minutes", sat.planned.count().to_string()),
        ("sat", sat.sat.count().to_string()),
        ("came-to", sat.came_to.name().to_owned()),
        ("fade", sat.fade.map_or("none", Fade::name).to_owned()),
        ("from", from),
        ("to", to),
        ("counts-as", sat.counts_as.map_or_else(String::new, |fade| fade.count().to_string())),
        ("missed", sat.missed.to_string()),
    ]);
    let planned = layout.sat(f64::from(sat.planned.count()));
    let so_far = layout.sat(f64::from(sat.sat.count()));
    let bar = (wide * 0.72).min(20.0);
    let place = (x - bar / 2.0, Layout::SAT_FOOT);
    key::bar(svg, place, (bar, planned, so_far), sat.came_to);
    keys.insert(Key::Sitting(sat.came_to));
    look(svg, (sat.fade, sat.missed > 0), layout, x, keys);
    svg.close();
}

/// What was seen, in the lower part.
fn look(
    svg: &mut Svg,
    (fade, missed): (Option<Fade>, bool),
    layout: &Layout,
    x: f64,
    keys: &mut BTreeSet<Key>,
) {
    let at = |minutes: crate::care::Minutes| layout.fade(f64::from(minutes.count()));
    let (top, foot) = (Layout::FADE_TOP, Layout::FADE_FOOT);
    match fade {
        None => {}
        Some(Fade::Clear) => Key::Clear.draw(svg, (x, foot - 5.0)),
        Some(Fade::Stated(gone)) => key::stated(svg, x, (foot, at(gone))),
        Some(Fade::Within(gone)) => key::within(svg, x, (foot, at(gone))),
        Some(Fade::NotKnown(seen)) => key::not_known(svg, x, (foot, at(seen), top)),
        Some(Fade::Lasted(_)) => key::lasted(svg, x, (foot, top)),
        Some(Fade::Alarming) => Key::Alarming.draw(svg, (x, top + 9.0)),
    }
    keys.extend(fade.map(Key::from));
    if missed {
        Key::Missed.draw(svg, (x, foot - 8.0));
        keys.insert(Key::Missed);
    }
}

/// The fade time to expect at the next step (R19), apart from what was seen.
fn projection(
    svg: &mut Svg,
    expected: Expected,
    (history, layout): (&History, &Layout),
    w: &Wording,
) {
    let Expected { step, sit, tenths } = expected;
    let limit = f64::from(history.limit.count());
    svg.open(&[
        ("expected-tenths", tenths.to_string()),
        ("step", step.to_string()),
        ("minutes", sit.count().to_string()),
    ]);
    let x = layout.expected;
    let height = layout.sat(f64::from(sit.count()));
    let dashed = Stroke::dashed(TEXT.ink, 1.4, "3 2.5");
    svg.rect((x - 6.0, Layout::SAT_FOOT - height), (12.0, height), PAPER, Some(dashed));
    svg.text((x, Layout::STEPS), SMALL_TEXT, SMALL, Anchor::Middle, &step.to_string());
    #[allow(clippy::cast_precision_loss, reason = "fade times are small numbers")]
    let y = layout.fade(tenths as f64 / 10.0).min(Layout::FADE_FOOT - 7.0);
    svg.line((x, Layout::FADE_FOOT), (x, y + 6.0), dashed);
    Key::Expected.draw(svg, (x, y));
    let number = format!("≈ {}", expected_minutes(tenths, w));
    // Over its sign, or under it where the limit line or the top of the chart is in the way.
    let at_limit = layout.fade(limit);
    let is_free = y - 26.0 > Layout::FADE_TOP && !(y - 24.0..y - 4.0).contains(&at_limit);
    let label = if is_free { y - 11.0 } else { y + 20.0 };
    let wide = text_width(&number, SMALL_TEXT);
    svg.rect((x - wide / 2.0, label - 10.0), (wide, 13.0), PAPER, None);
    svg.text((x, label), SMALL_TEXT, TEXT, Anchor::Middle, &number);
    svg.close();
}

/// An expected fade time; below zero the line through the past means nothing, so it is zero.
pub(super) fn expected_minutes(tenths: i64, w: &Wording) -> String {
    let tenths = tenths.max(0);
    if tenths % 10 == 0 { (tenths / 10).to_string() } else { w.decimal(tenths, 1) }
}
