//! What comes out of the mould: the colour of a casting, its spread, and the chance that it passes.
//!
//! # What is in a spread, and what is a chance?
//!
//! A casting lists its doubts: K and S of every material, a foam's cells and rise, the mean drop of every pigment, the scatter
//! of every portion, every thickness. Each is applied at plus and minus one standard deviation, and half the difference is its
//! [`Contribution`] to L*, a*, b*. Contributions are independent and add in quadrature, with the layer model's own. K and S are
//! off at all wavelengths together: what is unknown of a generic pigment is first of all its strength. A calibration brings
//! joint directions with shape.
//!
//! Differences are central, because one-sided ones were 10 % too wide at the spreads of generic curves (against 3,000 random
//! draws: L* 3.34; central 3.20, one-sided 3.59). The chance counts how many of 4,096 evenly spread points of that normal law,
//! widened by the target's own spread, fall within tolerance.
//!
//! # When is a chance drawn and not taken from the normal law?
//!
//! Each contribution has a curvature: how far the middle of plus and minus lies from the colour itself. Where curvatures make
//! up more than a tenth of the spread, chances are 4,096 draws, seeded, from the surface of second order, which takes no more
//! readings than first order. A calibration's joint directions are straight, being tangents by their meaning. Along a straight
//! line of logarithms the very chip that was read would leave its reading, and a book of one chip would think little of its
//! recipe. `tests/landing.rs` casts 200 builds twenty times each in a workshop of its own: said 0.18, 0.61 and 0.945 by class
//! of chance, landed 0.20, 0.62 and 0.945.
//!
//! # What is the best next step?
//!
//! The [`Act`] that helps most, with its number. Weighing takes away what drops scatter and adds what the scale rounds. A
//! steadier hand, two more chips, a foam chip or a better reading are *taken* to halve a doubt, and say so. Of the four acts
//! that leave least in doubt the one with the best chance is named. Nothing halves what a layer model errs by, or how a tone
//! differs from place to place.
//!
//! # Why does a foam know how sure its cells are?
//!
//! The doubt of the whole foam law is put into the logarithm of the cell size: 0.3 where cells were measured, a factor of two
//! where nobody did. A book without `cell_mm` then shows a range by itself. Where chips have told of the foam, its joint
//! directions hold that doubt in place of one of its own.
//!
//! # Why is the thinnest skin measured against the ordered one and not against hiding all?
//!
//! A translucent skin never hides all, and over a foam of its own tone it need not. What is seen on a part is a thin spot
//! beside the rest.

mod budget;
mod chance;
mod coats;
mod doubt;
mod pair;
mod prediction;
mod thickness;
mod tolerance;

pub(crate) use budget::Bullseye;
pub use budget::{Act, Budget, BudgetLine, NextStep};
pub use chance::SEED;
pub use coats::{MoreCoats, Spraying, wet_g_per_100_cm2};
pub(crate) use doubt::Doubt;
pub use doubt::DoubtSource;
pub(crate) use pair::Aim;
pub use pair::Pair;
pub use prediction::{Contribution, Doubts, Prediction, chance_of_scatter};
pub use thickness::{AtThickness, SHOWN_MM, Thinnest};
pub(crate) use tolerance::WORTH_IT;
pub use tolerance::{acceptable_ab, tolerance};
