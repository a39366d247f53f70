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
//! # The handiest
//!
//! A recipe is for a person with wet gloves and four minutes, so what is sought in the end is the one of least `effort`
//! among those that are near enough, and of equal ones the nearest. How near that is the caller says, once the nearest
//! is known. The same proof serves: boxes whose recipes ask too much of the hands are as good as boxes that are too far
//! off. Recipes of one dose are looked through, then of two, and so on: a small effort leaves so few pigments and doses
//! that each round takes a fraction of what the nearest took. `gap` is how far the nearest known may be from the
//! best of its rank, whatever is mixed in the end.
//!
//! # A long shelf
//!
//! Of more than sixteen bottles `short_list` keeps those that can matter for the tone, and says which were passed over; nothing
//! is then proven over the whole shelf. Nor does a proof hold more boxes than fit in 128 MB: it ends with its gap.
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
mod effort;
mod in_parallel;
mod look;
mod neighbours;
mod pool;
mod proof;
mod question;
mod real_valued;
mod relaxed;
mod settled;
mod short_list;
mod sought;
mod start;
mod watch;

pub(crate) use answer::{Answer, Recipe};
pub(crate) use candidate::Bench;
pub(crate) use in_parallel::in_parallel;
pub(crate) use look::Look;
pub(crate) use proof::instructions::Instructions;
pub(crate) use proof::kernel::Kernel;
pub use question::Limits;
pub(crate) use question::{Contrast, CupLimits, Placement, Question};
pub(crate) use short_list::KEPT;
pub use watch::{Watch, Watcher};
