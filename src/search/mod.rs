//! Whole drops: the recipe for one cup that comes nearest to a tone, and how near it is to the best there is.

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
