//! What chips tell of materials: swatches in, K and S with what remains unknown out; and which chip to cast next.
//!
//! [`calibrate`] fits the curves of all materials to all readings at once. Unknown are the logarithms of K and S at every
//! wavelength, smooth departures from a first guess whose width is the material's spread, and of each foam the logarithms
//! of its absorption gain and of the scattering of its cell walls; each chip's thickness and loads, and how far its foam
//! rose, may be off by what hands and scales err; and a reading that fits nothing else counts for less and is named.
//! Derivatives are taken through whatever layer model the shelf's settings name. What remains unknown is kept twice: as
//! standard deviations at each wavelength, and as a few dozen [`JointDirection`]s of all materials together, which make the spread of
//! a predicted colour right.
//!
//! Source of the method: A. Tarantola (2005), Inverse Problem Theory, chapter 3 (least squares with a Gaussian prior).
//!
//! Cost: one factorisation of a matrix of 72 rows a material for each step, and a few microseconds a reading.

mod calibrate;
mod calibration;
mod change;
mod chip;
mod fit;
mod foam_pair;
mod judge;
mod knowledge;
mod lots;
mod noise;
mod normal;
mod plan;
mod problem;
mod relevance;
mod suspicion;
mod tint;
mod unknowns;

pub use calibrate::calibrate;
pub use calibration::{Calibration, Curves, FoamFound, Judged, LEAST_VARIANCE_REMOVED, Lot};
pub use foam_pair::{FoamPair, foam_pairs};
pub use plan::{Advice, CHIP_THICKNESS, Wish, plan};
pub use suspicion::Suspicion;
