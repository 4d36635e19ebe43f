//! Dice that fall the same way for the same seed, on every machine and in every version.
//!
//! Never here: the machine's own randomness, what is drawn.
//! Promises: the algorithm is fixed, so a seed in a report stays a replay.

/// SplitMix64 (Steele, Lea and Flood 2014; the constants of their paper).
#[derive(Clone, Debug)]
pub struct Dice(u64);

impl Dice {
    /// Dice for one purpose within a run: those of another purpose fall independently, so that
    /// taking one kind of trouble away leaves the rest of the story as it was.
    pub fn new(seed: u64, purpose: u64) -> Self {
        let mut dice = Self(seed ^ purpose.wrapping_mul(0xD6E8_FEB8_6659_FD93));
        dice.next();
        dice
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// A number from 0 up to, not including, `bound`; 0 for a bound of 0.
    pub fn below(&mut self, bound: u64) -> u64 {
        // The bias of a remainder is far below what a simulation could notice.
        self.next() % bound.max(1)
    }

    /// A number between two, both included.
    pub fn between(&mut self, least: i64, most: i64) -> i64 {
        let span = u64::try_from(most - least).unwrap_or(0) + 1;
        least + i64::try_from(self.below(span)).unwrap_or(0)
    }

    /// Whether something happens that happens so often in a thousand times.
    pub fn per_mille(&mut self, often: u64) -> bool {
        self.below(1000) < often
    }

    /// One of several.
    ///
    /// # Panics
    /// When there is none to pick from.
    pub fn pick<'a, T>(&mut self, of: &'a [T]) -> &'a T {
        let index = usize::try_from(self.below(of.len() as u64)).unwrap_or(0);
        &of[index]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_seed_falls_the_same_way_for_ever() {
        let mut dice = Dice::new(7, 1);
        let fell: Vec<u64> = (0..4).map(|_| dice.below(1000)).collect();
        assert_eq!(fell, [531, 261, 559, 601]);
    }
}
