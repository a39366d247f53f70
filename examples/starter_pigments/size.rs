//! Particle sizes: a log-normal spread of diameters, as grinding and precipitation leave it.

/// Steps of the sum over sizes, and how many geometric standard deviations it reaches each way.
/// The trapezium rule on a bell curve is right to better than 1e-6 with these.
const STEPS: u16 = 40;
const REACH: f64 = 4.5;

/// A log-normal distribution of diameters.
#[derive(Clone, Copy, Debug)]
pub(crate) struct LogNormal {
    /// Half of the particles, by number, are smaller than this, µm.
    pub(crate) median_um: f64,
    /// Geometric standard deviation, above 1: two thirds of the particles lie between the median
    /// divided by it and the median multiplied by it.
    pub(crate) geometric_sd: f64,
}

impl LogNormal {
    /// Diameters in µm, each with its share of the pigment's *volume*; the shares add up to 1.
    ///
    /// The volume's median is larger than the number's by exp(3 ln² sd).
    /// Source: Hatch and Choate, J. Franklin Inst. 207, 369–387 (1929).
    pub(crate) fn volume_shares(&self) -> Vec<(f64, f64)> {
        let spread = self.geometric_sd.ln();
        let volume_median_um = self.median_um * (3.0 * spread * spread).exp();
        let mut shares: Vec<(f64, f64)> = (0..=STEPS)
            .map(|step| REACH * (2.0 * f64::from(step) / f64::from(STEPS) - 1.0))
            .map(|t| (volume_median_um * (spread * t).exp(), (-t * t / 2.0).exp()))
            .collect();
        let total: f64 = shares.iter().map(|(_, share)| share).sum();
        for (_, share) in &mut shares {
            *share /= total;
        }
        shares
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// Mean of 1/d over the volume shares is the surface-weighted mean of Hatch and Choate 1929:
    /// 1 / (median exp(2.5 ln² sd)).
    #[test]
    fn the_surface_of_a_gram_agrees_with_hatch_and_choate_1929() {
        let sizes = LogNormal {
            median_um: 0.2,
            geometric_sd: 1.5,
        };
        let mean_inverse: f64 = sizes
            .volume_shares()
            .iter()
            .map(|(d, share)| share / d)
            .sum();
        let expected = 1.0 / (0.2 * (2.5 * 1.5_f64.ln().powi(2)).exp());
        assert_relative_eq!(mean_inverse, expected, max_relative = 1e-4);
    }
}
