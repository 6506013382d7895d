//! Small symmetric matrices: what least squares over a handful of columns needs, and no more.
//!
//! Written here because a library of linear algebra brings a dozen crates to everybody's build for what are, at
//! the sizes of this module (at most some twenty rows), one decomposition and two sums.

#![expect(
    clippy::indexing_slicing,
    reason = "rows and columns run below the size that the matrix was made with"
)]

/// Below this share of what the diagonal was, a pivot is nothing but rounding: the columns depend on each other.
const PIVOT_MIN: f64 = 1e-12;

/// A symmetric matrix.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Symmetric {
    size: usize,
    cells: Vec<f64>,
}

impl Symmetric {
    /// All zeros.
    pub(super) fn zeros(size: usize) -> Self {
        Self { size, cells: vec![0.0; size * size] }
    }

    /// The matrix with these cells; only `row >= column` is asked for.
    pub(super) fn of(size: usize, mut cell: impl FnMut(usize, usize) -> f64) -> Self {
        let mut made = Self::zeros(size);
        for row in 0..size {
            for column in 0..=row {
                made.set(row, column, cell(row, column));
            }
        }
        made
    }

    fn set(&mut self, row: usize, column: usize, value: f64) {
        self.cells[row * self.size + column] = value;
        self.cells[column * self.size + row] = value;
    }

    /// How many rows there are.
    pub(super) const fn size(&self) -> usize {
        self.size
    }

    /// One cell.
    pub(super) fn at(&self, row: usize, column: usize) -> f64 {
        self.cells[row * self.size + column]
    }

    /// The diagonal.
    pub(super) fn diagonal(&self) -> Vec<f64> {
        (0..self.size).map(|at| self.at(at, at)).collect()
    }

    /// Adds `weight` times the product of a column with itself.
    pub(super) fn add_outer(&mut self, weight: f64, column: &[f64]) {
        for (row, left) in column.iter().enumerate() {
            for (at, right) in column.iter().enumerate() {
                self.cells[row * self.size + at] += weight * left * right;
            }
        }
    }

    /// The matrix times a column.
    pub(super) fn times(&self, column: &[f64]) -> Vec<f64> {
        self.cells
            .chunks(self.size.max(1))
            .map(|row| row.iter().zip(column).map(|(left, right)| left * right).sum())
            .collect()
    }

    /// x'Mx.
    pub(super) fn quadratic(&self, column: &[f64]) -> f64 {
        self.times(column).iter().zip(column).map(|(left, right)| left * right).sum()
    }

    /// The inverse and the logarithm of the determinant; `None` unless the matrix is positive definite.
    ///
    /// By Cholesky's decomposition of the matrix scaled to a diagonal of ones, so that columns in hours and columns
    /// of ones are told apart by how they depend on each other, not by their units.
    pub(super) fn inverse(&self) -> Option<(Self, f64)> {
        let scales: Vec<f64> = self.diagonal().into_iter().map(f64::sqrt).collect();
        if !scales.iter().all(|scale| scale.is_normal()) {
            return None;
        }
        let unit = Self::of(self.size, |row, column| {
            self.at(row, column) / (scales[row] * scales[column])
        });
        let lower = unit.cholesky()?;
        let ln_determinant =
            (0..self.size).map(|at| 2.0 * (lower[at * self.size + at] * scales[at]).ln()).sum();
        let columns: Vec<Vec<f64>> =
            (0..self.size).map(|at| unit_solved(&lower, self.size, at)).collect();
        let inverse = Self::of(self.size, |row, column| {
            let product: f64 =
                columns[row].iter().zip(&columns[column]).map(|(left, right)| left * right).sum();
            product / (scales[row] * scales[column])
        });
        inverse.cells.iter().all(|cell| cell.is_finite()).then_some((inverse, ln_determinant))
    }

    /// The lower triangle L with LL' = M, for a matrix with ones on its diagonal.
    fn cholesky(&self) -> Option<Vec<f64>> {
        let size = self.size;
        let mut lower = vec![0.0; size * size];
        for row in 0..size {
            for column in 0..=row {
                let known: f64 =
                    (0..column).map(|at| lower[row * size + at] * lower[column * size + at]).sum();
                let left = self.at(row, column) - known;
                lower[row * size + column] = if row == column {
                    if left.is_nan() || left < PIVOT_MIN {
                        return None;
                    }
                    left.sqrt()
                } else {
                    left / lower[column * size + column]
                };
            }
        }
        Some(lower)
    }
}

/// The column of L⁻¹ for the unit at `unit`: the inverse of LL' is the products of these columns.
fn unit_solved(lower: &[f64], size: usize, unit: usize) -> Vec<f64> {
    let mut solved = vec![0.0; size];
    for row in unit..size {
        let known: f64 = (unit..row).map(|at| lower[row * size + at] * solved[at]).sum();
        let wanted = if row == unit { 1.0 } else { 0.0 };
        solved[row] = (wanted - known) / lower[row * size + row];
    }
    solved
}

#[cfg(test)]
mod tests {
    use super::*;

    // [[4, 2], [2, 3]]: determinant 8, inverse [[3, -2], [-2, 4]] / 8, by hand.
    #[test]
    fn two_rows_by_hand() {
        let matrix = Symmetric::of(2, |row, column| match (row, column) {
            (0, 0) => 4.0,
            (1, 1) => 3.0,
            _ => 2.0,
        });
        let (inverse, ln_determinant) = matrix.inverse().expect("positive definite");
        let expected = Symmetric::of(2, |row, column| match (row, column) {
            (0, 0) => 0.375,
            (1, 1) => 0.5,
            _ => -0.25,
        });
        for (found, wanted) in inverse.cells.iter().zip(&expected.cells) {
            assert!((found - wanted).abs() < 1e-15, "{inverse:?}");
        }
        assert!((ln_determinant - 8.0_f64.ln()).abs() < 1e-15);
        assert!((matrix.quadratic(&[1.0, -1.0]) - 3.0).abs() < 1e-15);
    }

    #[test]
    fn columns_that_depend_on_each_other_have_no_inverse() {
        let mut matrix = Symmetric::zeros(2);
        matrix.add_outer(1.0, &[1.0, 1000.0]);
        assert_eq!(matrix.inverse(), None);
        matrix.add_outer(1.0, &[2.0, 2000.0]);
        assert_eq!(matrix.inverse(), None);
        matrix.add_outer(1.0, &[1.0, 1001.0]);
        assert!(matrix.inverse().is_some());
        assert_eq!(Symmetric::of(1, |_, _| f64::NAN).inverse(), None);
    }
}
