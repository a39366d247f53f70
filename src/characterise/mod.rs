//! What chips tell of materials: swatches in, K and S with what remains unknown out; and which chip to cast next.
//!
//! [`calibrate`] fits the curves of all materials to all readings at once. Unknown are ln K and ln S of every material at
//! all 36 wavelengths, and two numbers of each foam. A chip's thickness, its loads and the rise of its foam are nuisances,
//! off by what hands and scales err. Derivatives go through whatever layer model the shelf's settings name.
//!
//! Source of the method: A. Tarantola (2005), Inverse Problem Theory, chapter 3 (least squares with a Gaussian prior).
//!
//! Cost: one factorisation of a matrix of 72 rows a material for each step, and a few microseconds a reading.
//!
//! # How are materials learnt?
//!
//! By damped Gauss–Newton from what is supposed beforehand: a smooth departure from the first guess, as wide as the first
//! guess's spread. Readings stand on a scale where each step is one standard deviation, part of it a share of the light.
//! Five things made it hold:
//!
//! - *Annealing.* The fit begins as if readings were as noisy as they are off, and tightens from round to round. Without it,
//!   paints that start a thousandfold off end in false valleys.
//! - *Noise that readings show.* The median miss says how noisy a book's readings are. One that misses by far more counts for
//!   less (Huber) and is named, with the one slip that would explain it.
//! - *Widths that follow.* A material that lies farther from its first guess than supposed gets a wider spread, nuisances the
//!   scatter that they show (MacKay's evidence). Stated intervals then hold: before, 78 to 88 % of truths lay within ±1.96
//!   standard deviations from Lab readings, since 90 to 99 %.
//! - *Joint directions.* What remains unknown is kept as a few dozen
//!   [`JointDirection`](crate::materials::JointDirection)s of all materials, those of the posterior that change the colour of
//!   castings. Spreads of single curves are ten times too wide or too narrow, since chips tell sums.
//! - *The first guess stays.* `first_guess` in a book names the curve that a material had before its first calibration. Every
//!   calibration begins there, so that the same swatches always give the same curves.
//!
//! # What do chips tell of a foam?
//!
//! Two numbers beside the curves of its base: ln of its absorption gain (first guess ± 0.2, our own choice) and ln of its
//! walls' scattering, as wide as the cell size is unsure. They are unknowns of the joint fit, after those of all materials
//! (`unknowns`). A thick bed tells only K by S, which is gain over walls; a slice through which a card shows tells them apart.
//! Of readings predicted for cells of 0.28 mm and a gain of 1.25 (guessed 0.4 and 1), a light tint in a slice of 2 or 4 mm
//! brings back 0.282 and 1.22. A strong one in 8 mm, which hides the card, brings only 0.376 and 0.99, and says ± 19 %.
//!
//! That the two hang together is kept by the joint directions, whose steps hold both. A quarter of the castings that these
//! are made from have foam behind skin, and a quarter are foam alone, where any is known. Unfoamed means the same pigments in
//! clear skin: a foam's own base is nearly clear, so no way to log it unrisen was made. A face of foam is given the surface of
//! the book's castings, which a moulded one is nearer to than a cut one.
//!
//! # How does one chip tell of a new lot?
//!
//! A bottle with `lot_of` is a pigment of its own whose first guess is the old lot's fitted curve, with a spread of 15 % in K
//! and S at each wavelength, of which a good half is strength. `lots` fits it in a second round from the chips that hold it,
//! every material that other chips have told of being held. What is wrong of those makes the lot wrong in the opposite sense:
//! so each old joint direction gains a step of the lot, and what is unknown of the lot alone adds directions of its own.
//! Strength and hue are told apart by a white reduction to L* 65 (`tint`).
//!
//! Against radiative transfer, lots differed by 12 % in strength, by a slope and by a bump. By one spectrum the mean ΔE00 of
//! 40 unseen parts falls from 0.69 to 0.24 (red), 0.67 to 0.25 (yellow) and 0.38 to 0.23 (white); without any lot the same
//! book errs by about 0.22.
//!
//! # What is left over?
//!
//! No layer model is the paint. What the fitted curves miss of the readings, in L*, a* and b*, is taken for a Gaussian process over
//! what was cast ([`LeftOver`](crate::materials::LeftOver)), its law by the greatest marginal likelihood of up to 150 readings
//! in groups of fifteen near ones: what lies far apart doesn't tell how fast alikeness falls. It is kept only where that explains the readings better than noise does by more than Schwarz's
//! criterion asks of its five parameters: so where the physics is exact, nothing is left over and nothing changes. Readings off
//! photographs, which err together, and those that one slip would explain tell nothing.
//!
//! # How does `plan` choose?
//!
//! Greedily: the chip whose readings would take most from the summed variance of L*, a*, b* over 64 castings of the tones to
//! come. Drops and thickness of the chip are unsure themselves, so ten drops of a let-down beat one drop. By that measure a
//! book of ten chips is often best served by an eleventh like one it has, which a maker takes for a slip. So chips that differ
//! by less than a third in every pigment count as one; a second one is planned, and said to be one, only where all others are
//! cast. For none more than one let-down has to be made, and of two that tell as much the one with less work is cast. What
//! is left unknown after each says how parts would scatter, and so how many would land. A foam is not valued this way, but asked for by its pair until it has been read.

mod calibrate;
mod calibration;
mod change;
mod chip;
mod drift;
mod fit;
mod foam_pair;
mod hand_mixes;
mod judge;
mod knowledge;
mod left_over;
mod lots;
mod noise;
mod normal;
mod photographs;
mod plan;
mod problem;
mod relevance;
mod suspicion;
mod tint;
mod unknowns;

pub use calibrate::{calibrate, calibrate_in_turns};
pub use calibration::{Calibration, Curves, FoamFound, Judged, LEAST_VARIANCE_REMOVED, Lot};
pub use drift::{Difference, Drift, drift};
pub use fit::Progress;
pub use foam_pair::{FoamPair, foam_pairs};
pub use hand_mixes::CHIP_THICKNESS;
pub use left_over::LeftOverFound;
pub use plan::{Advice, CHIP_BASE, Outlook, Plan, Wish, plan};
pub use suspicion::Suspicion;
