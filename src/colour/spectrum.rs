//! A spectrum: 36 samples from 380 to 730 nm, one every 10 nm.

use std::ops::Index;

use serde::{Deserialize, Serialize};

/// Number of samples in a [`Spectrum`].
pub const SAMPLES: usize = 36;

/// Values at 380, 390, … 730 nm: reflectance (0–1), or absorption or scattering (mm⁻¹).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Vec<f64>", into = "Vec<f64>")]
pub struct Spectrum([f64; SAMPLES]);

impl Spectrum {
    /// Wavelength of the first sample, nm.
    pub const FIRST_NM: f64 = 380.0;
    /// Wavelength of the last sample, nm.
    pub const LAST_NM: f64 = 730.0;
    /// Distance between samples, nm.
    pub const STEP_NM: f64 = 10.0;

    /// A spectrum of `values`, in the order of wavelength.
    pub const fn new(values: [f64; SAMPLES]) -> Self {
        Self(values)
    }

    /// The same value at every wavelength.
    pub const fn constant(value: f64) -> Self {
        Self([value; SAMPLES])
    }

    /// The spectrum whose sample at each band `0..36` is `value(band)`.
    pub fn from_fn(value: impl FnMut(usize) -> f64) -> Self {
        Self(std::array::from_fn(value))
    }

    /// Wavelength of the sample at `band`, nm.
    pub fn wavelength_nm(band: usize) -> f64 {
        // At most 36, so the conversion is exact.
        Self::FIRST_NM + Self::STEP_NM * band as f64
    }

    /// All wavelengths in order, nm.
    pub fn wavelengths_nm() -> impl Iterator<Item = f64> {
        (0..SAMPLES).map(Self::wavelength_nm)
    }

    /// Resamples `(wavelength_nm, value)` pairs, in strictly rising order of wavelength.
    ///
    /// Between two pairs the value is interpolated linearly; below the first and above the last pair it is
    /// held. Returns `None` where the pairs leave out some of 400–700 nm, lie more than 20 nm apart in it,
    /// don't rise, or hold a value that is not finite: nothing is invented where most of the colour is.
    pub fn resample(pairs: &[(f64, f64)]) -> Option<Self> {
        let rises = pairs.windows(2).all(|two| two[0].0 < two[1].0);
        let finite = pairs
            .iter()
            .all(|(nm, value)| nm.is_finite() && value.is_finite());
        let covers = pairs.first()?.0 <= 400.0 && pairs.last()?.0 >= 700.0;
        let dense = pairs
            .windows(2)
            .all(|two| two[1].0 <= 400.0 || two[0].0 >= 700.0 || two[1].0 - two[0].0 <= 20.0);
        (rises && finite && covers && dense).then(|| {
            Self::from_fn(|band| {
                let nm = Self::wavelength_nm(band);
                match pairs.partition_point(|pair| pair.0 < nm) {
                    0 => pairs[0].1,
                    after if after == pairs.len() => pairs[after - 1].1,
                    // As it stands, to the last digit.
                    after if pairs[after].0 == nm => pairs[after].1,
                    after => {
                        let (low, high) = (pairs[after - 1], pairs[after]);
                        low.1 + (high.1 - low.1) * (nm - low.0) / (high.0 - low.0)
                    }
                }
            })
        })
    }

    /// The value at `nm` on the straight line between the samples beside it, held beyond the first and last.
    pub fn at_nm(&self, nm: f64) -> f64 {
        let band = ((nm - Self::FIRST_NM) / Self::STEP_NM).clamp(0.0, (SAMPLES - 1) as f64);
        let above = (0..SAMPLES - 1).find(|low| band < (low + 1) as f64);
        let low = above.unwrap_or(SAMPLES - 2);
        self.0[low] + (self.0[low + 1] - self.0[low]) * (band - low as f64)
    }

    /// The samples, in the order of wavelength.
    pub const fn values(&self) -> &[f64; SAMPLES] {
        &self.0
    }

    /// The spectrum of `change(sample)`.
    #[must_use]
    pub fn map(&self, change: impl FnMut(f64) -> f64) -> Self {
        Self(self.0.map(change))
    }

    /// Adds `factor` times `other`, sample by sample.
    pub fn add_scaled(&mut self, factor: f64, other: &Self) {
        for (sum, value) in self.0.iter_mut().zip(other.0) {
            *sum += factor * value;
        }
    }

    /// Smallest sample.
    pub fn min(&self) -> f64 {
        self.0.iter().copied().fold(f64::INFINITY, f64::min)
    }

    /// Largest sample.
    pub fn max(&self) -> f64 {
        self.0.iter().copied().fold(f64::NEG_INFINITY, f64::max)
    }
}

impl Index<usize> for Spectrum {
    type Output = f64;

    fn index(&self, band: usize) -> &f64 {
        &self.0[band]
    }
}

impl From<Spectrum> for Vec<f64> {
    fn from(spectrum: Spectrum) -> Self {
        spectrum.0.to_vec()
    }
}

impl TryFrom<Vec<f64>> for Spectrum {
    type Error = String;

    fn try_from(values: Vec<f64>) -> Result<Self, String> {
        let count = values.len();
        values.try_into().map(Self).map_err(|_| {
            format!("a spectrum has {SAMPLES} samples, 380 to 730 nm by 10; found {count}")
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn resampling_a_straight_line_is_exact_and_its_ends_are_held() {
        let pairs: Vec<(f64, f64)> = (0..61)
            .map(|i| 400.0 + 5.0 * f64::from(i))
            .map(|nm| (nm, nm / 1000.0))
            .collect();
        let spectrum = Spectrum::resample(&pairs).expect("covers 400-700");
        for (band, nm) in Spectrum::wavelengths_nm().enumerate() {
            let expected = nm.clamp(400.0, 700.0) / 1000.0;
            approx::assert_abs_diff_eq!(spectrum[band], expected, epsilon = 1e-12);
        }
    }

    #[test]
    fn gaps_and_nonsense_are_refused() {
        let good: Vec<(f64, f64)> = (0..16)
            .map(|i| (400.0 + 20.0 * f64::from(i), 0.5))
            .collect();
        assert!(Spectrum::resample(&good).is_some(), "20 nm steps will do");
        assert!(Spectrum::resample(&good[..15]).is_none(), "ends at 680");
        assert!(Spectrum::resample(&good[1..]).is_none(), "begins at 420");
        let mut gap = good.clone();
        gap.remove(7);
        assert!(Spectrum::resample(&gap).is_none(), "a gap of 40 nm");
        let mut falls = good.clone();
        falls.swap(3, 4);
        assert!(
            Spectrum::resample(&falls).is_none(),
            "wavelengths must rise"
        );
        let mut odd = good;
        odd[5].1 = f64::NAN;
        assert!(Spectrum::resample(&odd).is_none(), "not a number");
        assert!(Spectrum::resample(&[]).is_none(), "nothing");
    }

    #[test]
    fn a_wavelength_that_is_given_twice_is_refused() {
        let mut pairs: Vec<(f64, f64)> = Spectrum::wavelengths_nm().map(|nm| (nm, 0.5)).collect();
        pairs.insert(10, (pairs[10].0, 0.7));
        assert!(Spectrum::resample(&pairs).is_none(), "which of the two?");
    }
}
