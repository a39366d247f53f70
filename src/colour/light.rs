//! A light that things are seen under: one of the CIE's, or a lamp by its own spectrum.

use std::fmt;
use std::sync::Arc;

use super::observer::POWERS;
use super::{Illuminant, Observer, Spectrum, TristimulusWeights};

/// Widest step of a lamp's table within 400–700 nm: between wider ones a narrow line would hide.
const WIDEST_STEP_NM: f64 = 10.0;

/// A light to see a colour under.
///
/// What is stored says its light by an [`Illuminant`], which every reader knows; a lamp of the venue is only looked
/// under.
///
/// ```
/// use dropwise::colour::{Illuminant, Light, Observer, Spectrum};
///
/// let bulb = Light::from(Illuminant::A);
/// // A gel that lets half the blue pass and all the rest.
/// let gel = Spectrum::from_fn(|band| if band < 12 { 0.5 } else { 1.0 });
/// let through = bulb.through(&gel, "A*amber");
/// let [without, with] = [bulb, through].map(|light| light.weights(Observer::Cie1964).white());
/// assert!(with.z / with.y < without.z / without.y, "yellower");
/// ```
#[derive(Clone, Debug, PartialEq)]
pub enum Light {
    /// One of the CIE's.
    Cie(Illuminant),
    /// A lamp by its own spectrum.
    Lamp(Arc<Lamp>),
}

/// A lamp by its own spectrum, with any filters before it.
#[derive(Clone, Debug, PartialEq)]
pub struct Lamp {
    name: String,
    power: [f64; POWERS],
}

impl Lamp {
    /// The lamp called `name` whose table is `pairs` of wavelength (nm, strictly rising) and relative power.
    ///
    /// Each nanometre takes the mean of the straight lines between the pairs over its own width, so that nothing of
    /// a narrow line is lost however fine the table is; below the first and above the last pair the power is held.
    /// Returns `None` where the pairs leave out some of 400–700 nm, lie more than 10 nm apart in it, don't rise, hold
    /// a value that is not finite or is below zero, or give no light there.
    pub fn new(name: impl Into<String>, pairs: &[(f64, f64)]) -> Option<Self> {
        let rises = pairs.windows(2).all(|two| two[0].0 < two[1].0);
        let sound = pairs
            .iter()
            .all(|(nm, power)| nm.is_finite() && power.is_finite() && *power >= 0.0);
        let covers = pairs.first()?.0 <= 400.0 && pairs.last()?.0 >= 700.0;
        let dense = pairs.windows(2).all(|two| {
            two[1].0 <= 400.0 || two[0].0 >= 700.0 || two[1].0 - two[0].0 <= WIDEST_STEP_NM
        });
        if !(rises && sound && covers && dense) {
            return None;
        }
        let mut below = 0.0;
        let sums: Vec<f64> = std::iter::once(0.0)
            .chain(pairs.windows(2).map(|two| {
                below += (two[1].0 - two[0].0) * f64::midpoint(two[0].1, two[1].1);
                below
            }))
            .collect();
        let power: [f64; POWERS] = std::array::from_fn(|index| {
            let nm = Observer::FIRST_NM + index as f64;
            (area_below(pairs, &sums, nm + 0.5) - area_below(pairs, &sums, nm - 0.5)).max(0.0)
        });
        let seen = power[40..=340].iter().any(|power| *power > 0.0);
        seen.then(|| Self {
            name: name.into(),
            power,
        })
    }

    /// What it is called.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Relative power at 360, 361, … 830 nm.
    pub(super) fn power(&self) -> &[f64; POWERS] {
        &self.power
    }
}

/// The area under the straight lines between `pairs`, whose sums up to each pair are `sums`, below `nm`; its ends
/// held.
fn area_below(pairs: &[(f64, f64)], sums: &[f64], nm: f64) -> f64 {
    match pairs.partition_point(|pair| pair.0 < nm) {
        0 => (nm - pairs[0].0) * pairs[0].1,
        after if after == pairs.len() => {
            let (last_nm, last) = pairs[after - 1];
            sums[after - 1] + (nm - last_nm) * last
        }
        after => {
            let ((low_nm, low), (high_nm, high)) = (pairs[after - 1], pairs[after]);
            let here = low + (high - low) * (nm - low_nm) / (high_nm - low_nm);
            sums[after - 1] + (nm - low_nm) * f64::midpoint(low, here)
        }
    }
}

impl Light {
    /// The CIE's name, or what the lamp is called.
    pub fn name(&self) -> &str {
        match self {
            Self::Cie(illuminant) => illuminant.name(),
            Self::Lamp(lamp) => lamp.name(),
        }
    }

    /// The light that is left behind a filter of this `transmittance` (0–1), called `name`.
    #[must_use]
    pub fn through(&self, transmittance: &Spectrum, name: impl Into<String>) -> Self {
        let mut power = self.power();
        for (index, power) in power.iter_mut().enumerate() {
            *power *= transmittance.at_nm(Observer::FIRST_NM + index as f64);
        }
        Self::Lamp(Arc::new(Lamp {
            name: name.into(),
            power,
        }))
    }

    /// The weights of this light for `observer`.
    pub fn weights(&self, observer: Observer) -> TristimulusWeights {
        TristimulusWeights::of(&self.power(), observer)
    }

    /// Relative power at 360, 361, … 830 nm.
    fn power(&self) -> [f64; POWERS] {
        match self {
            Self::Cie(illuminant) => illuminant.power_by_nm(),
            Self::Lamp(lamp) => *lamp.power(),
        }
    }
}

impl From<Illuminant> for Light {
    fn from(illuminant: Illuminant) -> Self {
        Self::Cie(illuminant)
    }
}

impl From<&Self> for Light {
    fn from(light: &Self) -> Self {
        light.clone()
    }
}

impl From<Lamp> for Light {
    fn from(lamp: Lamp) -> Self {
        Self::Lamp(Arc::new(lamp))
    }
}

impl PartialEq<Illuminant> for Light {
    fn eq(&self, other: &Illuminant) -> bool {
        matches!(self, Self::Cie(illuminant) if illuminant == other)
    }
}

impl fmt::Display for Light {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::{Lab, delta_e_2000};

    fn red() -> Spectrum {
        Spectrum::from_fn(|band| if band < 22 { 0.08 } else { 0.6 })
    }

    fn colour(light: &Light) -> Lab {
        light.weights(Observer::Cie1964).lab(&red())
    }

    /// The table of `illuminant` at 380–780 nm by 5.
    fn table(illuminant: Illuminant) -> Vec<(f64, f64)> {
        let power = illuminant.power_by_nm();
        let wavelengths = (380..=780).step_by(5);
        wavelengths
            .map(|nm| {
                (
                    f64::from(nm),
                    power[usize::try_from(nm - 360).expect("360 up")],
                )
            })
            .collect()
    }

    /// Largest ΔE00 that the mean over a nanometre shifts a vivid red by, in a light of narrow lines tabled by 5 nm.
    const MEAN_OVER_A_NANOMETRE: f64 = 0.005;

    #[test]
    fn a_lamp_with_an_illuminants_table_is_that_illuminant() {
        for illuminant in Illuminant::ALL {
            let lamp = Lamp::new("mine", &table(*illuminant)).expect("a whole table");
            let [own, cie] =
                [Light::from(lamp), Light::from(*illuminant)].map(|light| colour(&light));
            let apart = delta_e_2000(own, cie);
            assert!(apart < MEAN_OVER_A_NANOMETRE, "{illuminant}: {apart}");
        }
    }

    #[test]
    fn a_line_between_the_nanometres_keeps_all_its_light() {
        // Triangles 0.2 nm wide and 10 high, area 1, over a faint even ground.
        let line = |nm: f64| [(nm - 0.1, 0.0), (nm, 10.0), (nm + 0.1, 0.0)];
        let mut pairs: Vec<(f64, f64)> =
            (38..=78).map(|ten| (f64::from(ten) * 10.0, 0.0)).collect();
        for centre in [435.83, 546.07, 611.3] {
            pairs.extend(line(centre));
        }
        pairs.sort_by(|one, other| one.0.total_cmp(&other.0));
        let lamp = Lamp::new("lines", &pairs).expect("a whole table");
        approx::assert_abs_diff_eq!(lamp.power().iter().sum::<f64>(), 3.0, epsilon = 1e-9);
        approx::assert_abs_diff_eq!(lamp.power()[186], 1.0, epsilon = 1e-9);
    }

    #[test]
    fn a_grey_filter_changes_nothing_and_two_filters_are_one_of_their_product() {
        let lamp = Light::from(Illuminant::LedB3);
        let grey = lamp.through(&Spectrum::constant(0.3), "dimmed");
        approx::assert_abs_diff_eq!(
            delta_e_2000(colour(&grey), colour(&lamp)),
            0.0,
            epsilon = 1e-6
        );
        let amber = Spectrum::from_fn(|band| (band as f64 / 35.0).sqrt());
        let twice = lamp.through(&amber, "one").through(&amber, "two");
        let product = lamp.through(&amber.map(|t| t * t), "product");
        // Between its samples a product of straight lines is not the straight line between products.
        approx::assert_abs_diff_eq!(
            delta_e_2000(colour(&twice), colour(&product)),
            0.0,
            epsilon = 0.02
        );
        assert_eq!(twice.name(), "two", "its own name");
    }

    #[test]
    fn a_lamp_with_gaps_or_without_light_is_refused() {
        let whole = table(Illuminant::A);
        assert!(Lamp::new("whole", &whole).is_some(), "whole");
        assert!(Lamp::new("short", &whole[..60]).is_none(), "ends at 675");
        assert!(Lamp::new("late", &whole[5..]).is_none(), "begins at 405");
        let mut gap = whole.clone();
        gap.drain(30..32);
        assert!(Lamp::new("gap", &gap).is_none(), "a gap of 15 nm");
        let mut falls = whole.clone();
        falls.swap(3, 4);
        assert!(Lamp::new("falls", &falls).is_none(), "must rise");
        for odd in [-0.1, f64::NAN, f64::INFINITY] {
            let mut pairs = whole.clone();
            pairs[9].1 = odd;
            assert!(Lamp::new("odd", &pairs).is_none(), "{odd}");
        }
        let dark: Vec<(f64, f64)> = whole.iter().map(|(nm, _)| (*nm, 0.0)).collect();
        assert!(Lamp::new("dark", &dark).is_none(), "no light");
        assert!(Lamp::new("nothing", &[]).is_none(), "nothing");
    }
}
