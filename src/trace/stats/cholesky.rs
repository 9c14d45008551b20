//! The Cholesky factor of a symmetric positive definite matrix, and what is solved with it.

/// The lower factor L of A = L·Lᵀ, row by row.
pub(crate) struct Cholesky {
    rows: Vec<Vec<f64>>,
}

impl Cholesky {
    /// Of the matrix whose lower half is given by row and column; `None` where it is not positive definite.
    pub fn of(size: usize, at: impl Fn(usize, usize) -> f64) -> Option<Cholesky> {
        let mut rows: Vec<Vec<f64>> = Vec::with_capacity(size);
        for i in 0..size {
            let mut row: Vec<f64> = Vec::with_capacity(i + 1);
            for j in 0..=i {
                let above = if j == i { &row } else { &rows[j] };
                let done: f64 = row.iter().zip(&above[..j]).map(|(a, b)| a * b).sum();
                let left = at(i, j) - done;
                row.push(match j == i {
                    true if left > 0.0 => left.sqrt(),
                    true => return None,
                    false => left / rows[j][j],
                });
            }
            rows.push(row);
        }
        Some(Cholesky { rows })
    }

    /// L⁻¹·b.
    pub fn half_solved(&self, b: &[f64]) -> Vec<f64> {
        let mut x: Vec<f64> = Vec::with_capacity(b.len());
        for (row, b) in self.rows.iter().zip(b) {
            let done: f64 = row.iter().zip(&x).map(|(l, x)| l * x).sum();
            x.push((b - done) / row[row.len() - 1]);
        }
        x
    }

    /// The logarithm of the determinant of A.
    pub fn ln_determinant(&self) -> f64 {
        let last = |row: &Vec<f64>| row[row.len() - 1].ln();
        2.0 * self.rows.iter().map(last).sum::<f64>()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A = [[4, 2, 2], [2, 5, 3], [2, 3, 6]] has L = [[2], [1, 2], [1, 1, 2]] and the determinant 64, by hand.
    #[test]
    fn the_factor_solves_and_tells_the_determinant() {
        let matrix = [[4.0, 2.0, 2.0], [2.0, 5.0, 3.0], [2.0, 3.0, 6.0]];
        let factor = Cholesky::of(3, |i, j| matrix[i][j]).unwrap();
        assert_eq!(factor.half_solved(&[2.0, 3.0, 4.0]), [1.0, 1.0, 1.0]);
        assert!((factor.ln_determinant() - 64f64.ln()).abs() < 1e-12);
        assert!(Cholesky::of(2, |_, _| 1.0).is_none(), "singular");
    }
}
