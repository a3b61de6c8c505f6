//! What the K-filter's memory of the sound before a seam can do, derived from the printed tables
//! alone: the filter of a run that starts in mid song is at rest, and what it lacks is the tail of
//! its own impulse response.

use plimsoll_tests::oracle::k_filter;
use std::sync::LazyLock;

const TABLE_RATE_HZ: u32 = 48_000;

/// Σ |h(n)| from frame n on, h being the impulse response of both tables of BS.1770-5 at 48 kHz.
static TAILS: LazyLock<Vec<f64>> = LazyLock::new(|| {
    let mut impulse = vec![0.0_f32; TABLE_RATE_HZ as usize];
    impulse[0] = 1.0;
    let mut tail = 0.0;
    let response = k_filter::weigh(TABLE_RATE_HZ, &impulse);
    let mut tails: Vec<f64> = response
        .iter()
        .rev()
        .map(|h| {
            tail += h.abs();
            tail
        })
        .collect();
    tails.reverse();
    tails
});

/// How far the K-weighted sound of one channel, whose samples are at most 1, can be off `time_s`
/// after a seam, for want of what stood before it.
///
/// At other rates the response is the same within 0.03 dB, and so, with one part in fifty to
/// spare, is its tail.
#[must_use]
pub fn largest_error(time_s: f64) -> f64 {
    let frame = (time_s * f64::from(TABLE_RATE_HZ)).max(0.0) as usize;
    1.02 * TAILS.get(frame).copied().unwrap_or(0.0)
}

#[test]
fn the_memory_fades_below_a_millionth_long_before_half_a_second() {
    // DEVELOPERS: below 1e-6 within 0.5 s.
    assert!(largest_error(0.5) < 1e-6);
    assert!(largest_error(0.1) < 1e-6);
    // Not by being nothing at all: the first 10 ms are the filter's.
    assert!(largest_error(0.0) > 1.0 && largest_error(0.01) > 0.01);
}
