//! The editor's few conversions between number types, each with the range that makes it safe.

/// `f64` to `f32` for places on screen, where 24 bits are far finer than a pixel.
#[expect(clippy::cast_possible_truncation, reason = "screen coordinates need no more")]
pub fn single(value: f64) -> f32 {
    value as f32
}

/// A count as `f64`.
#[expect(clippy::cast_precision_loss, reason = "counts on screen stay far below 2^52")]
pub fn count(value: usize) -> f64 {
    value as f64
}

/// A size on screen as a count; negative and NaN give 0.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a float saturates when it is cast, and sizes are small"
)]
pub fn index(value: f32) -> usize {
    value as usize
}

/// A whole number of hops, seconds or bars; saturates.
#[expect(clippy::cast_possible_truncation, reason = "a float saturates when it is cast")]
pub fn whole(value: f64) -> i64 {
    value.round() as i64
}

/// A whole number as `f64`.
#[expect(clippy::cast_precision_loss, reason = "whole numbers on screen stay far below 2^52")]
pub fn float(value: i64) -> f64 {
    value as f64
}
