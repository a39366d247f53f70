//! What a calibration knows of its materials together.

use super::CoefficientSpread;
use crate::colour::Spectrum;
use crate::optics::{Coefficients, Foam};

/// A material of the shelf, by its name.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Material {
    /// The base so called.
    Base(String),
    /// The pigment so called.
    Pigment(String),
}

impl Material {
    /// Its name on the shelf.
    pub fn name(&self) -> &str {
        match self {
            Self::Base(name) | Self::Pigment(name) => name,
        }
    }
}

/// One thing that calibrated materials may be off by together, taken at one standard deviation; the joint directions of a
/// shelf are independent of each other.
///
/// Chips tell sums of materials better than each alone: what is wrong of the white is made up for by what is wrong of the
/// base. Spreads of single curves cannot say so; joint directions can.
#[derive(Clone, Debug, PartialEq)]
pub struct JointDirection {
    /// What happens to each material.
    pub steps: Vec<Step>,
}

/// What a [`JointDirection`] does to one material.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// The material.
    pub material: Material,
    /// What is added to ln K at each wavelength.
    pub ln_k: Spectrum,
    /// What is added to ln S at each wavelength.
    pub ln_s: Spectrum,
    /// What it does to the foam, where the material is the base of one whose cells and gain chips have told of.
    pub foam: Option<FoamStep>,
}

/// What a [`JointDirection`] does to a foam.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FoamStep {
    /// What is added to the logarithm of its absorption gain.
    pub ln_gain: f64,
    /// What is added to the logarithm of the scattering of its cell walls.
    pub ln_walls: f64,
    /// What is added to the logarithm of the odds of its wet share.
    pub ln_wet: f64,
}

impl FoamStep {
    /// `foam` after `times` this step.
    #[must_use]
    pub fn taken(&self, foam: &Foam, times: f64) -> Foam {
        foam.shifted(
            times * self.ln_gain,
            times * self.ln_walls,
            times * self.ln_wet,
        )
    }
}

impl JointDirection {
    /// Takes `step` into the joint direction, on top of what happens to its material already.
    pub fn add(&mut self, step: Step) {
        match (self.steps.iter_mut()).find(|known| known.material == step.material) {
            Some(known) => {
                known.ln_k.add_scaled(1.0, &step.ln_k);
                known.ln_s.add_scaled(1.0, &step.ln_s);
            }
            None => self.steps.push(step),
        }
    }
}

impl Step {
    /// `coefficients` after `times` this step.
    #[must_use]
    pub fn taken(&self, coefficients: &Coefficients, times: f64) -> Coefficients {
        let as_spread = CoefficientSpread {
            k_sd: self.ln_k,
            s_sd: self.ln_s,
        };
        as_spread.shift(coefficients, times, times)
    }
}
