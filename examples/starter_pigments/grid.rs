//! The wavelengths of every file: 380 to 730 nm by 10.

/// Number of wavelengths.
pub(crate) const COUNT: usize = 36;
/// First wavelength, nm.
const FIRST_NM: f64 = 380.0;
/// Distance of two wavelengths, nm.
const STEP_NM: f64 = 10.0;

/// One value per wavelength.
pub(crate) type Samples = [f64; COUNT];

/// The wavelengths themselves, nm.
pub(crate) fn wavelengths_nm() -> Samples {
    let mut nm = FIRST_NM - STEP_NM;
    std::array::from_fn(|_| {
        nm += STEP_NM;
        nm
    })
}

/// A value at each wavelength.
pub(crate) fn sample(curve: impl Fn(f64) -> f64) -> Samples {
    wavelengths_nm().map(curve)
}

/// The value at any wavelength in nm, on the straight line between its two neighbours; beyond
/// either end the end's own value.
pub(crate) fn interpolate(samples: &Samples, wavelength_nm: f64) -> f64 {
    let mut below = (FIRST_NM, samples[0]);
    for (nm, value) in wavelengths_nm().into_iter().zip(*samples) {
        if nm >= wavelength_nm {
            let part = ((wavelength_nm - below.0) / STEP_NM).max(0.0);
            return below.1 + part * (value - below.1);
        }
        below = (nm, value);
    }
    below.1
}

/// Each value replaced by a quarter of both neighbours and half of itself; the ends stay.
pub(crate) fn smooth(samples: &Samples) -> Samples {
    let mut smoothed = *samples;
    for (value, around) in smoothed[1..].iter_mut().zip(samples.windows(3)) {
        *value = (around[0] + 2.0 * around[1] + around[2]) / 4.0;
    }
    smoothed
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn a_straight_line_survives_interpolation_and_smoothing() {
        let line = sample(|nm| 3.0 + 0.01 * nm);
        assert_relative_eq!(interpolate(&line, 503.7), 8.037, epsilon = 1e-12);
        assert_relative_eq!(interpolate(&line, 300.0), line[0], epsilon = 1e-12);
        assert_relative_eq!(interpolate(&line, 800.0), line[COUNT - 1], epsilon = 1e-12);
        for (smoothed, value) in smooth(&line).into_iter().zip(line) {
            assert_relative_eq!(smoothed, value, epsilon = 1e-12);
        }
    }
}
