//! A correction as a face tells of it: what it adds, and what the cup on the bench still takes.
//!
//! A cup whose pot life is over takes no drops, whatever the search found, and is then predicted to stay as it was read.

use crate::colour::Translucency;
use crate::error::Naming;
use crate::jobs::correcting::Corrected;
use crate::recipe::Remedy;

/// A correction, and what the face that tells of it adds.
#[derive(Clone, Debug)]
pub struct RemedyReport<'a> {
    /// Both answers.
    pub corrected: &'a Corrected,
    /// What takes the let-downs that are added off the book.
    pub take_commands: Vec<String>,
    /// How the face names settings.
    pub naming: Naming,
}

/// What a correction comes down to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Verdict {
    /// It passes as it is.
    Passes,
    /// Drops bring it within tolerance.
    Add,
    /// Drops bring it nearer, and not within tolerance.
    AddNearer,
    /// Nothing can be added, so that the next cup is the answer.
    NextCup,
    /// Its time is over, so that it takes none.
    PotLifeOver,
}

impl Verdict {
    /// What programs know it by.
    pub(super) fn key(self) -> &'static str {
        match self {
            Self::Passes => "passes",
            Self::Add => "add",
            Self::AddNearer => "add nearer",
            Self::NextCup => "next cup",
            Self::PotLifeOver => "pot life over",
        }
    }
}

impl RemedyReport<'_> {
    /// What it comes down to.
    pub(crate) fn verdict(&self) -> Verdict {
        let remedy = &self.corrected.remedy;
        if remedy.passes {
            Verdict::Passes
        } else if self.corrected.is_over() && self.corrected.max_add > 0 {
            Verdict::PotLifeOver
        } else if self.corrected.add().is_empty() {
            Verdict::NextCup
        } else if remedy.start_again {
            Verdict::AddNearer
        } else {
            Verdict::Add
        }
    }

    /// What the cup on the bench is predicted to give then: ΔE00 from the target, and what it shows of black and white.
    ///
    /// Where nothing is added, it is what the casting gives as it is.
    pub(crate) fn after(&self) -> (f64, Translucency) {
        let Remedy {
            delta_e_now,
            seen_now,
            delta_e_after,
            seen_after,
            ..
        } = &self.corrected.remedy;
        if self.corrected.add().is_empty() {
            (*delta_e_now, *seen_now)
        } else {
            (*delta_e_after, *seen_after)
        }
    }
}
