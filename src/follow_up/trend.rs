//! Looking ahead: the Theil–Sen line through fade times (R19) and the exact Mann–Kendall test for
//! a rising trend (R20).
//!
//! Sources: the line is the median of pairwise slopes (Theil 1950, Sen 1968), the statistic S and
//! its exact distribution are Mann's (1945) and Kendall's (1975); references from memory, values
//! checked against SciPy and pymannkendall by `tests/trend.rs`.
//!
//! Never here: sittings, limits, decisions.
//! Promises: exact arithmetic; the answer depends on the numbers and their order alone.

use num_bigint::BigUint;
use num_rational::Ratio;

/// Points that a projection needs at least (R19).
const POINTS_MIN: usize = 5;
/// Points that a projection looks back on at most (R19).
const POINTS_MAX: usize = 10;

/// An exact number of minutes.
pub type ExactMinutes = Ratio<i128>;

/// One sitting's point: its planned minutes and its fade time in minutes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Point {
    /// Planned minutes of the sitting.
    pub sat: u32,
    /// Fade time in minutes; 0 where nothing was seen.
    pub fade: u32,
}

/// The fade time to expect at a sitting time, by the Theil–Sen line through the last ten points.
/// None with fewer than five of them, or where all have the same sitting time.
pub fn expected_fade(points: &[Point], at_sat: u32) -> Option<ExactMinutes> {
    let points = &points[points.len().saturating_sub(POINTS_MAX)..];
    if points.len() < POINTS_MIN {
        return None;
    }
    let mut slopes = Vec::new();
    for (index, left) in points.iter().enumerate() {
        for right in &points[index + 1..] {
            if left.sat != right.sat {
                let rise = i128::from(right.fade) - i128::from(left.fade);
                let over = i128::from(right.sat) - i128::from(left.sat);
                slopes.push(Ratio::new(rise, over));
            }
        }
    }
    if slopes.is_empty() {
        return None;
    }
    let whole = |n: u32| Ratio::from_integer(i128::from(n));
    let slope = median(slopes);
    let sat = median(points.iter().map(|point| whole(point.sat)).collect());
    let fade = median(points.iter().map(|point| whole(point.fade)).collect());
    Some(fade - slope * sat + slope * whole(at_sat))
}

/// An exact number in tenths, rounded as floating-point printing with one decimal rounds it.
pub fn tenths(exact: ExactMinutes) -> i64 {
    #[allow(clippy::cast_precision_loss, reason = "fade times are small numbers")]
    let float = *exact.numer() as f64 / *exact.denom() as f64;
    format!("{float:.1}").replace('.', "").parse().unwrap_or(i64::MAX)
}

fn median(mut values: Vec<ExactMinutes>) -> ExactMinutes {
    values.sort_unstable();
    let middle = values.len() / 2;
    if values.len() % 2 == 1 {
        values[middle]
    } else {
        (values[middle - 1] + values[middle]) / Ratio::from_integer(2)
    }
}

/// A trend that rises beyond chance.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rising {
    /// Mann–Kendall's S: pairs that rise less pairs that fall.
    pub s: i64,
    /// The one-sided p-value in millionths, rounded up.
    pub p_millionths: u32,
}

/// The trend, where the values rise with one-sided p < 0.05, exact over all orders of the values,
/// ties as they are.
pub fn rising(values: &[u32]) -> Option<Rising> {
    let s = kendall_s(values);
    if s <= 0 {
        // Half of all orders or more are at least as high: p is not below one half.
        return None;
    }
    let (tail, total) = orders_at_least(values, s);
    let significant = &tail * 20u32 < total;
    significant.then(|| {
        let millionths = (&tail * 1_000_000u32 + &total - 1u32) / &total;
        Rising { s, p_millionths: u32::try_from(millionths).unwrap_or(u32::MAX) }
    })
}

/// Mann–Kendall's S: over all pairs in order, those that rise less those that fall.
pub fn kendall_s(values: &[u32]) -> i64 {
    let mut s = 0;
    for (index, early) in values.iter().enumerate() {
        for late in &values[index + 1..] {
            s += match late.cmp(early) {
                std::cmp::Ordering::Greater => 1,
                std::cmp::Ordering::Equal => 0,
                std::cmp::Ordering::Less => -1,
            };
        }
    }
    s
}

/// How many orders of the values have an S of at least `s`, and how many orders there are.
///
/// S is the number of untied pairs less twice the number of falling ones, and the falling pairs
/// over all orders of a multiset are distributed as the coefficients of a Gaussian multinomial,
/// the product over groups of equal values of `∏ (1 − q^(m+j)) / (1 − q^j)`, `m` being the values
/// before the group. Only coefficients up to the wanted number of falling pairs are kept.
pub fn orders_at_least(values: &[u32], s: i64) -> (BigUint, BigUint) {
    let mut sorted = values.to_vec();
    sorted.sort_unstable();
    let groups: Vec<usize> = sorted.chunk_by(|a, b| a == b).map(<[u32]>::len).collect();
    let pairs = |n: usize| i64::try_from(n * n.saturating_sub(1) / 2).unwrap_or(i64::MAX);
    let untied = pairs(values.len()) - groups.iter().map(|size| pairs(*size)).sum::<i64>();
    let falling_max = (untied - s).div_euclid(2);
    let mut total = BigUint::from(1u32);
    let mut before = 0;
    let degree = usize::try_from(falling_max).ok();
    let mut counts = vec![BigUint::ZERO; degree.map_or(0, |degree| degree + 1)];
    if let Some(one) = counts.first_mut() {
        *one = BigUint::from(1u32);
    }
    for size in groups {
        for j in 1..=size {
            total = total * (before + j) / j;
            // Divided first, so that no coefficient is ever negative.
            for index in j..counts.len() {
                let (low, high) = counts.split_at_mut(index);
                high[0] += &low[index - j];
            }
            for index in (before + j..counts.len()).rev() {
                let (low, high) = counts.split_at_mut(index);
                high[0] -= &low[index - before - j];
            }
        }
        before += size;
    }
    (counts.into_iter().sum(), total)
}
