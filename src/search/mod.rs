//! Whole drops: the recipe for one cup that comes nearest to a tone, and how near it is to the best there is.
//!
//! # How a recipe is found
//!
//! `relaxed` finds real-valued amounts (damped Gauss–Newton in their logarithms), growing sets of pigments one at a
//! time and keeping the best five of each size. `answer` rounds them, with let-down drops where a drop moves the
//! colour by more than 0.5 ΔE00, and improves the best few of each size drop by drop (`neighbours`). Then `proof`
//! finds what was missed, and shows that nothing else is: branch and bound over boxes of doses, all ways to dose a
//! pigment being one dimension (`doses`), so that a let-down adds none. Below 0.05 ΔE00 apart floors count as equal
//! and the smaller box goes first: where much is reachable, that leads to recipes at once.
//!
//! # What is allowed beside the best
//!
//! Half of [`Limits::within`] ends the proof early, the other half goes to simplicity: among the recipes known to be that near to the
//! best (and within 0.1 ΔE00), the one of fewest pigments, then of fewest drops, comes first. A let-down's own clear
//! base may bring it a thousandth nearer than the bottle's drops that hold the same, so those are tried at the end. 0
//! gives the best itself. `gap` is how far any recipe told may be from the best of its rank.
//!
//! # Why the number of threads does not show
//!
//! Boxes are taken in batches of 192 whatever the number of threads, and what a batch finds counts from the next on.
//! Sums over wavelengths are eight partial sums and products are never fused, so every instruction set
//! (`instructions`, where all `unsafe` is) gives the same bits, too. Only time shows: out of it, the best so far is
//! told with its gap.

mod answer;
mod candidate;
mod doses;
mod neighbours;
mod pool;
mod proof;
mod question;
mod relaxed;

pub(crate) use answer::{Answer, Recipe};
pub(crate) use candidate::Bench;
pub(crate) use proof::instructions::Instructions;
pub(crate) use proof::kernel::Kernel;
pub(crate) use question::{Contrast, CupLimits, Placement, Question};
pub use question::{Limits, Stop};
