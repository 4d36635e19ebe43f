//! How often somebody may try something: so many times within a span, counted by whom.
//!
//! Never here: what is tried.
//! Promises: the memory that it takes is bounded, whoever knocks; addresses are kept as hashes.

use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

use sha2::{Digest as _, Sha256};

/// Keys that are counted at once. Beyond that everybody waits: better than forgetting who tried.
const KEYS_MAX: usize = 20_000;

/// A limit on how often something is tried.
pub(super) struct Pace {
    tries_max: usize,
    within: Duration,
    tried: Mutex<HashMap<[u8; 32], Vec<Instant>>>,
}

impl Pace {
    /// At most so many tries within a span, by each who tries.
    pub(super) fn new(tries_max: usize, within: Duration) -> Self {
        Self { tries_max, within, tried: Mutex::default() }
    }

    /// Counts a try.
    ///
    /// # Errors
    /// When it is one too many; after how long the next may be tried. It is not counted then.
    pub(super) fn try_by(&self, whom: &str, now: Instant) -> Result<(), Duration> {
        let mut tried = self.tried.lock().unwrap_or_else(PoisonError::into_inner);
        let key: [u8; 32] = Sha256::digest(whom.as_bytes()).into();
        if tried.len() >= KEYS_MAX && !tried.contains_key(&key) {
            tried.retain(|_, at| at.last().is_some_and(|last| now - *last < self.within));
            if tried.len() >= KEYS_MAX {
                return Err(self.within);
            }
        }
        let at = tried.entry(key).or_default();
        at.retain(|at| now - *at < self.within);
        if let Some(first) = at.first().filter(|_| at.len() >= self.tries_max) {
            return Err((*first + self.within) - now);
        }
        at.push(now);
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_has_their_own_tries_and_gets_them_back_with_time() {
        let (pace, now) = (Pace::new(2, Duration::from_secs(60)), Instant::now());
        let at = |seconds| now + Duration::from_secs(seconds);
        assert_eq!(pace.try_by("a", at(0)), Ok(()));
        assert_eq!(pace.try_by("a", at(10)), Ok(()));
        assert_eq!(pace.try_by("a", at(20)), Err(Duration::from_secs(40)));
        assert_eq!(pace.try_by("b", at(20)), Ok(()));
        assert_eq!(pace.try_by("a", at(60)), Ok(()));
        assert_eq!(pace.try_by("a", at(61)), Err(Duration::from_secs(9)));
    }
}
