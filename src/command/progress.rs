//! That long work goes on, for whoever waits for it.
//!
//! Never here: what is found; standard output.
//! Promises: shown on a terminal only, on standard error, and gone when the work is done: what is
//! piped or logged holds none of it.

use std::time::Duration;

use indicatif::{ProgressBar, ProgressStyle};

/// How often it is drawn.
const DRAWN_EVERY: Duration = Duration::from_millis(200);

/// Work that is shown to go on until this is dropped.
pub(super) struct Progress(ProgressBar);

impl Progress {
    /// Work that nobody knows the length of, such as `checking the journal`.
    pub(super) fn of(doing: &'static str) -> Self {
        Self::styled(ProgressBar::new_spinner(), "{spinner} {prefix} ({elapsed})", doing)
    }

    /// Work of so many like parts.
    pub(super) fn of_parts(doing: &'static str, parts: u64) -> Self {
        let template = "{prefix} [{bar:30}] {pos} of {len}, {eta} to go {msg}";
        Self::styled(ProgressBar::new(parts), template, doing)
    }

    /// One part is done.
    pub(super) fn part_done(&self) {
        self.0.inc(1);
    }

    /// Says more about where it stands.
    pub(super) fn say(&self, so_far: String) {
        self.0.set_message(so_far);
    }

    fn styled(bar: ProgressBar, template: &str, doing: &'static str) -> Self {
        let style = ProgressStyle::with_template(template)
            .expect("OK because the templates above are well-formed");
        bar.set_style(style.progress_chars("=> ").tick_chars("-\\|/ "));
        bar.set_prefix(doing);
        bar.enable_steady_tick(DRAWN_EVERY);
        Self(bar)
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.0.finish_and_clear();
    }
}
