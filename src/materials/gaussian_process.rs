//! A Gaussian process of zero mean, given noisy values at some points: what it says elsewhere, and how likely the values were.
//!
//! Source: C. E. Rasmussen, C. K. I. Williams (2006), Gaussian Processes for Machine Learning, MIT Press, algorithm 2.1.

use nalgebra::{Cholesky, DMatrix, DVector, Dyn, RowDVector};

use super::cholesky::factored;

/// The process, given values of several quantities at the same points; all have one covariance.
#[derive(Clone, Debug)]
pub(crate) struct GaussianProcess {
    /// Of the covariance of the values, noise included.
    factor: Cholesky<f64, Dyn>,
    /// The inverse covariance times the values, a column a quantity.
    weights: DMatrix<f64>,
}

impl GaussianProcess {
    /// Given `values`, a row a point and a column a quantity, whose `covariance` holds their noise as well; `None` where that
    /// is not positive definite.
    pub(crate) fn new(covariance: DMatrix<f64>, values: &DMatrix<f64>) -> Option<Self> {
        let factor = factored(covariance)?;
        let weights = factor.solve(values);
        Some(Self { factor, weights })
    }

    /// The mean of each quantity at a point with these covariances with all values.
    pub(crate) fn mean(&self, covariances: &DVector<f64>) -> RowDVector<f64> {
        covariances.transpose() * &self.weights
    }

    /// What is left at that point of the variance `own` that it has beforehand.
    pub(crate) fn variance(&self, own: f64, covariances: &DVector<f64>) -> f64 {
        let mut told = covariances.clone();
        let lower = self.factor.l_dirty();
        lower.solve_lower_triangular_unchecked_mut(&mut told);
        (own - told.norm_squared()).max(0.0)
    }

    /// Of each quantity the `values` times the inverse covariance times them.
    pub(crate) fn misfits(&self, values: &DMatrix<f64>) -> RowDVector<f64> {
        values.component_mul(&self.weights).row_sum()
    }

    /// The logarithm of the determinant of the covariance.
    pub(crate) fn ln_determinant(&self) -> f64 {
        let diagonal = self.factor.l_dirty().diagonal();
        2.0 * diagonal.iter().map(|root| root.ln()).sum::<f64>()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn one_value_is_carried_by_its_share_of_signal() {
        // By hand: of variance 4 and noise 1, a value of 2.5 says 4 / 5 of it where it was read, and leaves 4 / 5.
        let values = DMatrix::from_element(1, 1, 2.5);
        let process = GaussianProcess::new(DMatrix::from_element(1, 1, 5.0), &values);
        let process = process.expect("positive");
        assert_abs_diff_eq!(
            process.mean(&DVector::from_vec(vec![4.0]))[0],
            2.0,
            epsilon = 1e-12
        );
        assert_abs_diff_eq!(
            process.variance(4.0, &DVector::from_vec(vec![4.0])),
            0.8,
            epsilon = 1e-12
        );
        // Far away it knows nothing.
        assert_eq!(
            process.mean(&DVector::from_vec(vec![0.0]))[0],
            0.0,
            "the mean"
        );
        assert_eq!(
            process.variance(4.0, &DVector::from_vec(vec![0.0])),
            4.0,
            "the variance"
        );
    }

    /// Source: scikit-learn 1.9.1, `GaussianProcessRegressor` (which cites algorithm 2.1) with the kernel `Matern(length_scale=1.3,
    /// nu=0.5)`, `alpha=0.2`, no optimizer; the five points and values are made up.
    #[test]
    fn means_variances_and_likelihood_are_those_of_a_general_library() {
        const DIGITS: f64 = 1e-11;
        let points = [
            [0.0, 0.0],
            [1.0, 0.0],
            [0.0, 2.0],
            [3.0, 1.0],
            [1.5, 1.5_f64],
        ];
        let alike = |one: [f64; 2], other: [f64; 2]| {
            (-(one[0] - other[0]).hypot(one[1] - other[1]) / 1.3_f64).exp()
        };
        let values = DMatrix::from_vec(5, 1, vec![0.5, -1.2, 0.8, 2.0, 0.3]);
        let covariance = DMatrix::from_fn(5, 5, |row, column| {
            let noise = if row == column { 0.2 } else { 0.0 };
            alike(points[row], points[column]) + noise
        });
        let process = GaussianProcess::new(covariance, &values).expect("positive");
        for (at, mean, variance) in [
            ([0.5, 0.5], -0.067318022098, 0.556560468962),
            ([2.0, 1.0], 0.500414035258, 0.604025877376),
            ([10.0, 10.0], 0.000272227990, 0.999999976219),
        ] {
            let covariances = DVector::from_fn(5, |row, _| alike(points[row], at));
            assert_abs_diff_eq!(process.mean(&covariances)[0], mean, epsilon = DIGITS);
            assert_abs_diff_eq!(
                process.variance(1.0, &covariances),
                variance,
                epsilon = DIGITS
            );
        }
        let ln_likelihood = -0.5 * process.misfits(&values)[0]
            - 0.5 * process.ln_determinant()
            - 2.5 * std::f64::consts::TAU.ln();
        assert_abs_diff_eq!(ln_likelihood, -8.140488531190, epsilon = DIGITS);
    }
}
