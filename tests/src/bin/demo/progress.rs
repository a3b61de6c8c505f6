//! Progress on stderr: one line that renews itself on a terminal, a few lines elsewhere.

use std::io::{IsTerminal, Write};

/// Lines in a log, where a line cannot renew itself.
const LOG_LINES: u32 = 4;

/// Progress of a song that plays.
#[derive(Debug)]
pub struct Progress {
    length_s: f64,
    is_terminal: bool,
    shown: u32,
}

impl Progress {
    /// Of a song of `length_s` seconds.
    pub fn new(length_s: f64) -> Self {
        Self { length_s, is_terminal: std::io::stderr().is_terminal(), shown: 0 }
    }

    /// The song is at `position_s`.
    pub fn at(&mut self, position_s: f64) {
        if !self.is_due(position_s) {
            return;
        }
        let line = format!(
            "Playing it through the plugin: {} of {}",
            clock(position_s),
            clock(self.length_s)
        );
        let mut stderr = std::io::stderr().lock();
        // Progress that cannot be shown is no reason to stop.
        let _ =
            if self.is_terminal { write!(stderr, "\r{line} ") } else { writeln!(stderr, "{line}") };
    }

    /// Whether `position_s` is far enough beyond what was shown last.
    fn is_due(&mut self, position_s: f64) -> bool {
        let steps = if self.is_terminal { 100 } else { LOG_LINES };
        let due_s = |step: u32| f64::from(step) / f64::from(steps) * self.length_s;
        let before = self.shown;
        while self.shown < steps && position_s >= due_s(self.shown + 1) {
            self.shown += 1;
        }
        self.shown > before
    }

    /// The song has ended.
    pub fn finish(&self) {
        if self.is_terminal {
            eprintln!();
        }
    }
}

/// Minutes and seconds.
pub fn clock(seconds: f64) -> String {
    let minutes = (seconds / 60.0).floor();
    format!("{minutes:.0}:{:04.1}", seconds - 60.0 * minutes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_log_gets_a_few_lines_whatever_the_block_size() {
        for block_s in [0.001, 0.01, 1.0] {
            let mut progress = Progress { length_s: 92.5, is_terminal: false, shown: 0 };
            let blocks = std::iter::successors(Some(0.0), |at_s| Some(at_s + block_s));
            let lines = blocks
                .take_while(|at_s| *at_s < 92.5 + block_s)
                .filter(|at_s| progress.is_due(*at_s))
                .count();
            assert_eq!(lines, 4);
        }
    }

    #[test]
    fn the_clock_reads_minutes_and_seconds() {
        assert_eq!(clock(0.0), "0:00.0");
        assert_eq!(clock(92.5), "1:32.5");
    }
}
