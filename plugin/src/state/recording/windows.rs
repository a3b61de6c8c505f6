//! Sums and extremes of windows that slide, in time that does not depend on the window, and
//! without subtracting, so that a loud past leaves nothing in a quiet window.

/// `join` over each `window` adjacent values; empty with fewer values than that.
///
/// Values are cut into blocks of one window. Each window is the end of one block and the start of
/// the next, and both are known from one walk back and one forth.
pub(super) fn slide<T: Copy>(values: &[T], window: usize, join: impl Fn(T, T) -> T) -> Vec<T> {
    if window == 0 || values.len() < window {
        return Vec::new();
    }
    let mut ends = values.to_vec();
    for block in ends.chunks_mut(window) {
        let mut rest = block.iter_mut().rev();
        let mut last = rest.next().map(|value| *value);
        for value in rest {
            let joined = last.map_or(*value, |last| join(*value, last));
            *value = joined;
            last = Some(joined);
        }
    }
    let mut starts = values.to_vec();
    for block in starts.chunks_mut(window) {
        let mut rest = block.iter_mut();
        let mut last = rest.next().map(|value| *value);
        for value in rest {
            let joined = last.map_or(*value, |last| join(last, *value));
            *value = joined;
            last = Some(joined);
        }
    }
    let both = ends.iter().zip(starts.iter().skip(window - 1)).enumerate();
    both.map(|(at, (&end, &start))| if at % window == 0 { end } else { join(end, start) }).collect()
}

/// `join` over all windows of `windows`, one result of [`slide`] with `window`, that hold each
/// value: as many results as there were values.
pub(super) fn of_those_that_hold<T: Copy>(
    windows: &[T],
    window: usize,
    none: T,
    join: impl Fn(T, T) -> T,
) -> Vec<T> {
    let beside = vec![none; window.saturating_sub(1)];
    slide(&[&beside, windows, &beside].concat(), window, join)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn windows_are_those_of_plain_loops() {
        let values: Vec<u64> = (0..97).map(|n| (n * 7_919) % 1_013).collect();
        for window in [1, 2, 7, 40, 97] {
            let plain: Vec<u64> = values.windows(window).map(|w| w.iter().sum()).collect();
            assert_eq!(slide(&values, window, |a, b| a + b), plain, "{window}");
            let lowest = of_those_that_hold(&plain, window, u64::MAX, u64::min);
            assert_eq!(lowest.len(), values.len());
            for (at, lowest) in lowest.iter().enumerate() {
                let first = at.saturating_sub(window - 1);
                let last = at.min(plain.len() - 1);
                assert_eq!(plain[first..=last].iter().min(), Some(lowest), "{window} {at}");
            }
        }
        assert!(slide(&values, 98, u64::max).is_empty());
    }
}
