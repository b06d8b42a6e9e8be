//! Small dense linear systems: LU with partial pivoting, row-major, in place, without allocation.

/// Factors the `n`×`n` matrix `a` in place; `pivots[k]` is the row swapped with row `k`.
/// Returns false if a pivot is 0 or not finite.
pub(super) fn factor(a: &mut [f64], pivots: &mut [usize], n: usize) -> bool {
    for k in 0..n {
        let (mut best, mut row) = (a[k * n + k].abs(), k);
        for i in k + 1..n {
            if a[i * n + k].abs() > best {
                (best, row) = (a[i * n + k].abs(), i);
            }
        }
        pivots[k] = row;
        if !(best > 0.0 && best.is_finite()) {
            return false;
        }
        if row != k {
            for j in 0..n {
                a.swap(k * n + j, row * n + j);
            }
        }
        let (upper, lower) = a.split_at_mut((k + 1) * n);
        let pivot_row = &upper[k * n..];
        let inverse = 1.0 / pivot_row[k];
        for r in lower.chunks_exact_mut(n) {
            if r[k] == 0.0 {
                continue;
            }
            let factor = r[k] * inverse;
            r[k] = factor;
            for j in k + 1..n {
                r[j] -= factor * pivot_row[j];
            }
        }
    }
    true
}

/// Solves for one right-hand side with the factors of [`factor`].
pub(super) fn solve(lu: &[f64], pivots: &[usize], n: usize, b: &mut [f64]) {
    for (k, row) in pivots.iter().enumerate().take(n) {
        b.swap(k, *row);
    }
    for i in 1..n {
        let (done, rest) = b.split_at_mut(i);
        rest[0] -= dot(&lu[i * n..i * n + i], done);
    }
    for i in (0..n).rev() {
        let (head, tail) = b.split_at_mut(i + 1);
        head[i] = (head[i] - dot(&lu[i * n + i + 1..(i + 1) * n], tail)) / lu[i * n + i];
    }
}

/// Lower Cholesky factor of the symmetric `n`×`n` matrix `a`, in place; false if it is not positive
/// definite. With `semidefinite`, a pivot that is 0 up to rounding gives a column of zeros.
pub(super) fn cholesky(a: &mut [f64], n: usize, semidefinite: bool) -> bool {
    let scale = (0..n).map(|i| a[i * n + i].abs()).fold(0.0, f64::max);
    for j in 0..n {
        let pivot = a[j * n + j] - a[j * n..j * n + j].iter().map(|x| x * x).sum::<f64>();
        let zero = semidefinite && pivot <= scale * 1e-13;
        let positive = pivot > 0.0 && pivot.is_finite();
        if !(zero || positive) {
            return false;
        }
        let inverse = if zero { 0.0 } else { 1.0 / pivot.sqrt() };
        a[j * n + j] = if zero { 0.0 } else { pivot.sqrt() };
        for i in j + 1..n {
            let mut sum = a[i * n + j];
            for k in 0..j {
                sum -= a[i * n + k] * a[j * n + k];
            }
            a[i * n + j] = sum * inverse;
        }
        for k in j + 1..n {
            a[j * n + k] = 0.0;
        }
    }
    true
}

/// Sum of products.
#[inline]
pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn solves_a_system_that_needs_pivoting() {
        let a = [0.0, 2.0, 1.0, 1.0, -1.0, 3.0, 4.0, 0.5, 0.0];
        let x = [1.5, -2.0, 0.25];
        let mut b: Vec<f64> = (0..3).map(|i| dot(&a[i * 3..i * 3 + 3], &x)).collect();
        let (mut lu, mut pivots) = (a, [0; 3]);
        assert!(factor(&mut lu, &mut pivots, 3));
        solve(&lu, &pivots, 3, &mut b);
        for i in 0..3 {
            assert!((b[i] - x[i]).abs() < 1e-14, "{b:?}");
        }
    }

    #[test]
    fn a_singular_matrix_is_told() {
        let (mut a, mut pivots) = ([1.0, 2.0, 2.0, 4.0], [0; 2]);
        assert!(!factor(&mut a, &mut pivots, 2));
    }

    #[test]
    fn cholesky_tells_definite_from_indefinite() {
        let mut a = [4.0, 2.0, 2.0, 3.0];
        assert!(cholesky(&mut a, 2, false));
        assert!((a[0] - 2.0).abs() < 1e-15 && (a[3] - 2f64.sqrt()).abs() < 1e-15);
        assert!(!cholesky(&mut [1.0, 2.0, 2.0, 1.0], 2, false));
        assert!(cholesky(&mut [1.0, 1.0, 1.0, 1.0], 2, true));
    }
}
