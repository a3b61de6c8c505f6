//! A line on a terminal that says how far it is, for what takes longer than a moment.

use std::io::{IsTerminal, Write};
use std::sync::Mutex;
use std::time::{Duration, Instant};

/// Nothing is shown before this.
const PATIENCE: Duration = Duration::from_millis(500);
/// Nor more often than this.
const PAUSE: Duration = Duration::from_millis(100);

/// Cells of the bar.
const CELLS: usize = 30;

/// The line.
pub struct Progress {
    state: Option<Mutex<State>>,
}

struct State {
    start: Instant,
    shown: Option<Instant>,
    shares: Vec<f64>,
}

impl Progress {
    /// For `files` files; shows nothing unless the errors go to a terminal.
    #[must_use]
    pub fn new(files: usize, is_wanted: bool) -> Self {
        let state = State { start: Instant::now(), shown: None, shares: vec![0.0; files] };
        let is_shown = is_wanted && std::io::stderr().is_terminal();
        Self { state: is_shown.then(|| Mutex::new(state)) }
    }

    /// So much of a file is done.
    pub fn tell(&self, file: usize, share: f64) {
        let Some(Ok(mut state)) = self.state.as_ref().map(Mutex::lock) else {
            return;
        };
        if let Some(of_file) = state.shares.get_mut(file) {
            *of_file = share;
        }
        let now = Instant::now();
        let is_soon = state.shown.is_some_and(|shown| now - shown < PAUSE);
        if is_soon || now - state.start < PATIENCE {
            return;
        }
        state.shown = Some(now);
        let files = u32::try_from(state.shares.len()).unwrap_or(u32::MAX).max(1);
        let share = state.shares.iter().sum::<f64>() / f64::from(files);
        // A terminal that is gone is no reason to stop.
        let _ = write!(std::io::stderr(), "\r{}", bar(share));
    }

    /// Wipes the line.
    pub fn end(&self) {
        let Some(Ok(state)) = self.state.as_ref().map(Mutex::lock) else {
            return;
        };
        if state.shown.is_some() {
            let _ = write!(std::io::stderr(), "\r\x1b[K");
        }
    }
}

/// The bar at `share`, 0 to 1.
fn bar(share: f64) -> String {
    let share = share.clamp(0.0, 1.0);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 30")]
    let full = (share * 30.0) as usize;
    format!("measuring {}{} {:3.0} %", "▪".repeat(full), "·".repeat(CELLS - full), share * 100.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bar_has_the_same_length_at_every_share() {
        for share in [-1.0, 0.0, 0.333, 0.999, 1.0, 2.0, f64::NAN] {
            assert_eq!(bar(share).chars().count(), bar(0.5).chars().count(), "{share}");
        }
        assert!(bar(0.5).contains("50 %"));
    }
}
