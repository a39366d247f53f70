//! Arithmetic on all wavelengths at once: plain loops over lanes, which a compiler turns into wide instructions.

/// Wavelengths, padded.
pub(super) const LANES: usize = 40;
/// A number for each.
pub(super) type Lanes = [f64; LANES];

/// Fractional grid places.
#[inline(always)]
pub(super) fn places(ln: &Lanes, ln_mass: f64, start: &Lanes, per_step: &Lanes) -> Lanes {
    let mut places = [0.0; LANES];
    for lane in 0..LANES {
        places[lane] = (ln[lane] - ln_mass - start[lane]) * per_step[lane];
    }
    places
}

/// The cell of a place, which is brought onto the grid, and the share of the cell below it.
#[inline(always)]
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a place on the grid, at most some dozens"
)]
pub(super) fn cell(place: f64, cells: usize) -> (usize, f64) {
    let place = place.max(0.0).min(cells as f64);
    let cell = (place as u32 as usize).min(cells - 1);
    (cell, place - f64::from(cell as u32))
}

#[inline(always)]
pub(super) fn add_scaled(sum: &mut Lanes, factor: f64, other: &Lanes) {
    for lane in 0..LANES {
        sum[lane] += factor * other[lane];
    }
}

#[inline(always)]
pub(super) fn dot(one: &Lanes, other: &Lanes) -> f64 {
    const SUMS: usize = 8;
    let mut sums = [0.0; SUMS];
    for chunk in 0..LANES / SUMS {
        for (lane, sum) in sums.iter_mut().enumerate() {
            *sum += one[chunk * SUMS + lane] * other[chunk * SUMS + lane];
        }
    }
    ((sums[0] + sums[4]) + (sums[1] + sums[5])) + ((sums[2] + sums[6]) + (sums[3] + sums[7]))
}

#[inline(always)]
pub(super) fn dot4(one: &[f64; 4], other: &[f64; 4]) -> f64 {
    (one[0] * other[0] + one[1] * other[1]) + (one[2] * other[2] + one[3] * other[3])
}

#[inline(always)]
pub(super) fn ln_lanes(values: &Lanes) -> Lanes {
    let mut logs = [0.0; LANES];
    for lane in 0..LANES {
        logs[lane] = ln(values[lane]);
    }
    logs
}

/// ln of a positive normal number, to 1e-14: the exponent apart, then the series of artanh on [1/√2, √2].
///
/// Here because the standard library's has no form for many lanes at once.
#[inline(always)]
pub(super) fn ln(value: f64) -> f64 {
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
    let mut series = 1.0 / 19.0;
    for odd in [17.0, 15.0, 13.0, 11.0, 9.0, 7.0, 5.0, 3.0] {
        series = series * z + 1.0 / odd;
    }
    exponent * std::f64::consts::LN_2 + 2.0 * s * (1.0 + z * series)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_logarithm_is_that_of_the_standard_library() {
        for step in 0..100_000 {
            let value = (-20.0 + 40.0 * f64::from(step) / 100_000.0).exp();
            approx::assert_abs_diff_eq!(ln(value), value.ln(), epsilon = 1e-14 * 20.0);
        }
    }
}
