//! Arithmetic on all wavelengths at once: plain loops over lanes, which a compiler turns into wide instructions.

/// Wavelengths, padded: 36 from 380 to 730 nm by 10, and four lanes more, to five registers of 512 bits;
/// the first of those four may carry a mass.
pub(crate) const LANES: usize = 40;
/// A number for each.
pub(crate) type Lanes = [f64; LANES];

/// Positions on a grid, counted in cells from its first node, of forms whose logarithms are `ln`: ln(K + K₀) is that of the
/// form less that of the mass.
#[inline(always)]
pub(crate) fn positions(ln: &Lanes, ln_mass: f64, start: &Lanes, per_step: &Lanes) -> Lanes {
    let mut positions = [0.0; LANES];
    for lane in 0..LANES {
        positions[lane] = (ln[lane] - ln_mass - start[lane]) * per_step[lane];
    }
    positions
}

/// For each position, brought onto a grid of so many cells, a cell that it lies in, and its share of that cell.
#[inline(always)]
pub(crate) fn cells(positions: &Lanes, cells: usize) -> ([u32; LANES], Lanes) {
    // Beside this number doubles are whole, and their last bits count.
    const WHOLE: f64 = 6_755_399_441_055_744.0;
    let (end, last) = (cells as f64, cells as f64 - 1.0);
    let (mut at, mut shares) = ([0; LANES], [0.0; LANES]);
    for lane in 0..LANES {
        let position = if positions[lane] > 0.0 {
            positions[lane]
        } else {
            0.0
        };
        let position = if position < end { position } else { end };
        // A position between two cells is in both.
        let cell = (position - 0.5 + WHOLE) - WHOLE;
        let cell = if cell < last { cell } else { last };
        shares[lane] = position - cell;
        #[expect(
            clippy::cast_possible_truncation,
            reason = "the last bits are the number"
        )]
        let bits = (cell + WHOLE).to_bits() as u32;
        at[lane] = bits;
    }
    (at, shares)
}

/// Adds `factor` times `other`, as a product and a sum that are rounded apart.
#[inline(always)]
pub(crate) fn add_scaled(sum: &mut Lanes, factor: f64, other: &Lanes) {
    for lane in 0..LANES {
        sum[lane] += factor * other[lane];
    }
}

/// The greater of two numbers, neither of which is undefined: `f64::max` asks about that in every lane.
#[inline(always)]
pub(crate) fn greater(one: f64, other: f64) -> f64 {
    if one > other { one } else { other }
}

/// Leaves the greater number of each lane in `one`, and the lesser in `other`.
#[inline(always)]
pub(crate) fn exchange<const MANY: usize>(one: &mut [f64; MANY], other: &mut [f64; MANY]) {
    let (here, there) = (*one, *other);
    for lane in 0..MANY {
        one[lane] = greater(here[lane], there[lane]);
        other[lane] = -greater(-here[lane], -there[lane]);
    }
}

/// The sum of all lanes, padding included, in the order of [`dot`].
#[inline(always)]
pub(crate) fn sum(lanes: &Lanes) -> f64 {
    dot(lanes, &[1.0; LANES])
}

/// The scalar product over all lanes, padding included: eight partial sums of five terms each, joined in a fixed order,
/// so that registers of any width give the same bits.
#[inline(always)]
pub(crate) fn dot(one: &Lanes, other: &Lanes) -> f64 {
    const SUMS: usize = 8;
    let mut sums = [0.0; SUMS];
    for chunk in 0..LANES / SUMS {
        for (lane, sum) in sums.iter_mut().enumerate() {
            *sum += one[chunk * SUMS + lane] * other[chunk * SUMS + lane];
        }
    }
    ((sums[0] + sums[4]) + (sums[1] + sums[5])) + ((sums[2] + sums[6]) + (sums[3] + sums[7]))
}

/// [`ln`] of each lane; none may be 0 or less.
#[inline(always)]
pub(crate) fn ln_lanes(values: &Lanes) -> Lanes {
    let mut logs = [0.0; LANES];
    for lane in 0..LANES {
        logs[lane] = ln(values[lane]);
    }
    logs
}

/// What [`ln`] may be off by.
pub(crate) const LN_ERROR: f64 = 2e-11;

/// ln of a positive normal number, to [`LN_ERROR`]: the exponent apart, then the series of artanh on [1/√2, √2].
///
/// Here because the standard library's has no form for many lanes at once.
#[inline(always)]
pub(crate) fn ln(value: f64) -> f64 {
    const MANTISSA: u64 = (1 << 52) - 1;
    let bits = value.to_bits();
    // 2^52 + the exponent, exactly.
    let exponent = f64::from_bits((bits >> 52) | 0x4330_0000_0000_0000) - 4_503_599_627_370_496.0;
    let mantissa = f64::from_bits((bits & MANTISSA) | 1.0_f64.to_bits());
    let large = mantissa > std::f64::consts::SQRT_2;
    let mantissa = if large { 0.5 * mantissa } else { mantissa };
    let exponent = exponent - if large { 1022.0 } else { 1023.0 };
    let s = (mantissa - 1.0) / (mantissa + 1.0);
    let z = s * s;
    let mut series = 1.0 / 11.0;
    for odd in [9.0, 7.0, 5.0, 3.0] {
        series = series * z + 1.0 / odd;
    }
    exponent * std::f64::consts::LN_2 + 2.0 * s * (1.0 + z * series)
}

/// The cube root of a positive normal number, to 1e-13 of it: a third of the exponent, then two of Halley's steps.
///
/// Here because the standard library's takes as long as a dozen wavelengths.
#[inline(always)]
pub(crate) fn cube_root(value: f64) -> f64 {
    let mut root = f64::from_bits(value.to_bits() / 3 + 0x2a9f_7893_782d_a1ce);
    for _ in 0..2 {
        let cube = root * root * root;
        root = root * (cube + 2.0 * value) / (2.0 * cube + value);
    }
    root
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_logarithm_is_that_of_the_standard_library() {
        for step in 0..100_000 {
            let value = (-20.0 + 40.0 * f64::from(step) / 100_000.0).exp();
            approx::assert_abs_diff_eq!(ln(value), value.ln(), epsilon = LN_ERROR);
        }
    }
    #[test]
    fn the_cube_root_is_that_of_the_standard_library() {
        for step in 0..100_000 {
            let value = (-10.0 + 12.0 * f64::from(step) / 100_000.0).exp();
            approx::assert_relative_eq!(cube_root(value), value.cbrt(), max_relative = 1e-13);
        }
    }

    #[test]
    fn a_place_lies_in_its_cell() {
        for step in 0..=1200 {
            let position = f64::from(step) / 100.0 - 1.0;
            let (cell, share) = cells(&[position; LANES], 10);
            let there = f64::from(cell[0]) + share[0];
            approx::assert_abs_diff_eq!(there, position.clamp(0.0, 10.0), epsilon = 1e-12);
            assert!(
                cell[0] < 10 && (0.0..=1.0).contains(&share[0]),
                "{position}: {share:?} of {cell:?}"
            );
        }
    }
}
