//! Cholesky factors of large covariances, and their inverses, in blocks.
//!
//! Column by column most time goes into waiting for memory, so whole blocks of columns are taken from the next at once.
//!
//! Source: G. H. Golub, C. F. Van Loan (2013), Matrix Computations, 4th edition, section 4.2 (from memory).

use nalgebra::{Cholesky, DMatrix, Dyn};

/// So many columns of a thousand points, and as many rows of them, lie in a core's own cache.
const BLOCK: usize = 48;

/// The Cholesky factor of `matrix`, of which the lower triangle counts; `None` where that is not positive definite.
pub(crate) fn factored(mut matrix: DMatrix<f64>) -> Option<Cholesky<f64, Dyn>> {
    let count = matrix.nrows();
    for start in (0..count).step_by(BLOCK) {
        let (width, end) = (BLOCK.min(count - start), count.min(start + BLOCK));
        if start > 0 {
            let (before, mut own) = matrix.columns_range_pair_mut(..start, start..end);
            let before = before.rows(start, count - start);
            let across = before.rows(0, width).transpose();
            own.rows_mut(start, count - start)
                .gemm(-1.0, &before, &across, 1.0);
        }
        let corner = matrix.view((start, start), (width, width)).clone_owned();
        let corner = corner.cholesky()?.unpack_dirty();
        let mut below = matrix.view((end, start), (count - end, width)).transpose();
        corner.solve_lower_triangular_unchecked_mut(&mut below);
        let mut own = matrix.view_mut((end, start), (count - end, width));
        own.tr_copy_from(&below);
        (matrix.view_mut((start, start), (width, width))).copy_from(&corner);
    }
    Some(Cholesky::pack_dirty(matrix))
}

/// The inverse of the matrix whose `factor` this is: that of the factor, times itself turned round.
pub(crate) fn inverted(factor: &Cholesky<f64, Dyn>) -> DMatrix<f64> {
    let lower = factor.l_dirty();
    let count = lower.nrows();
    let mut inverse = DMatrix::zeros(count, count);
    for start in (0..count).step_by(BLOCK) {
        let (width, end) = (BLOCK.min(count - start), count.min(start + BLOCK));
        // These rows of the identity, less what the rows above make of it; to the right of them it stays zero.
        let mut rows = DMatrix::zeros(width, end);
        rows.view_mut((0, start), (width, width)).fill_diagonal(1.0);
        if start > 0 {
            let before = lower.view((start, 0), (width, start));
            let above = inverse.view((0, 0), (start, start));
            rows.columns_mut(0, start).gemm(-1.0, &before, &above, 1.0);
        }
        let corner = lower.view((start, start), (width, width));
        corner.solve_lower_triangular_unchecked_mut(&mut rows);
        inverse.view_mut((start, 0), (width, end)).copy_from(&rows);
    }
    let mut all = DMatrix::zeros(count, count);
    all.gemm(1.0, &inverse.transpose(), &inverse, 0.0);
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By definition L Lᵀ is the matrix, whatever blocks it was taken in; and one that is not positive definite has no factor.
    #[test]
    fn a_factor_times_itself_is_the_matrix_and_the_inverse_undoes_it_however_many_blocks_it_takes()
    {
        for count in [1, 47, 48, 49, 130] {
            let alike = |row: usize, column: usize| {
                let apart = row.abs_diff(column) as f64 / 20.0;
                (-apart).exp() + if row == column { 0.1 } else { 0.0 }
            };
            let matrix = DMatrix::from_fn(count, count, alike);
            let lower = factored(matrix.clone()).expect("positive").l();
            let apart = (&lower * lower.transpose() - &matrix).amax();
            assert!(apart < 1e-12, "{count}: {apart}");
            let identity = inverted(&factored(matrix.clone()).expect("positive")) * &matrix;
            let apart = (identity - DMatrix::identity(count, count)).amax();
            assert!(apart < 1e-11, "{count}: {apart}");
            let mut other = matrix;
            other[(count - 1, count - 1)] = -1.0;
            assert!(
                factored(other).is_none(),
                "{count}: no variance is below zero"
            );
        }
    }
}
