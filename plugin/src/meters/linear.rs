//! Small systems of linear equations, solved when the meters are built.

/// Solves A·x = b by elimination with the largest pivot; a row of `equations` is a row of A and
/// its entry of b. A singular system gives values that are not finite.
#[must_use]
#[allow(clippy::indexing_slicing, reason = "both sizes are fixed by the type")]
pub(super) fn solve<const N: usize>(mut equations: [([f64; N], f64); N]) -> [f64; N] {
    for column in 0..N {
        let mut pivot = column;
        for row in column + 1..N {
            if equations[row].0[column].abs() > equations[pivot].0[column].abs() {
                pivot = row;
            }
        }
        equations.swap(column, pivot);
        let (pivot_row, pivot_value) = equations[column];
        for (row, (factors, value)) in equations.iter_mut().enumerate() {
            if row != column {
                let scale = factors[column] / pivot_row[column];
                for (factor, subtracted) in factors.iter_mut().zip(pivot_row) {
                    *factor -= scale * subtracted;
                }
                *value -= scale * pivot_value;
            }
        }
    }
    let mut solution = [0.0; N];
    for (i, (factors, value)) in equations.iter().enumerate() {
        solution[i] = value / factors[i];
    }
    solution
}

#[cfg(test)]
mod tests {
    use super::solve;

    #[test]
    fn a_system_that_needs_a_pivot_is_solved() {
        // 2y + z = 7, x − y = −1, x + z = 4: x = 1, y = 2, z = 3.
        let solution =
            solve([([0.0, 2.0, 1.0], 7.0), ([1.0, -1.0, 0.0], -1.0), ([1.0, 0.0, 1.0], 4.0)]);
        for (found, expected) in solution.iter().zip([1.0, 2.0, 3.0]) {
            assert!((found - expected).abs() < 1e-12, "{solution:?}");
        }
    }
}
