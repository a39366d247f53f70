//! A correction as a face tells of it: what it adds, and what the cup on the bench still takes.
//!
//! Only the face knows when the cup was mixed, so whether its pot life is over is worked out here. A cup that is over takes
//! no drops, whatever the search found, and is then predicted to stay as it was read.

use crate::colour::Translucency;
use crate::error::Naming;
use crate::jobs::correcting::Corrected;
use crate::materials::Colorant;
use crate::recipe::{Remedy, Stage};

/// A correction, and what the face that tells of it adds.
#[derive(Clone, Debug)]
pub struct RemedyReport<'a> {
    /// Both answers.
    pub corrected: &'a Corrected,
    /// Minutes since the cup on the bench was mixed, where known.
    pub since_min: Option<f64>,
    /// What takes the let-downs that are added off the book.
    pub take_commands: Vec<String>,
    /// How the face names settings.
    pub naming: Naming,
}

/// What a correction comes down to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Verdict {
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
    pub(super) fn verdict(&self) -> Verdict {
        let remedy = &self.corrected.remedy;
        if remedy.passes {
            Verdict::Passes
        } else if self.is_over() && self.corrected.max_add > 0 {
            Verdict::PotLifeOver
        } else if self.add().is_empty() {
            Verdict::NextCup
        } else if remedy.start_again {
            Verdict::AddNearer
        } else {
            Verdict::Add
        }
    }

    /// Whether the cup is better poured away: further drops do not bring it to the tone, and its time runs. Where none runs yet,
    /// it is read again and takes more.
    pub(super) fn starts_again(&self) -> bool {
        let is_running = !matches!(self.corrected.stage, Stage::PartB(_));
        self.corrected.remedy.start_again && (is_running || self.add().is_empty())
    }

    /// Minutes of pot life that are left; below zero where it is over, `None` where pot life or time of mixing is unknown.
    pub(super) fn left_min(&self) -> Option<f64> {
        Some(self.corrected.pot_life_min? - self.since_min?)
    }

    /// Whether the pot life is over. Where that is not known it counts as not over, and text says until when drops may go in.
    pub(super) fn is_over(&self) -> bool {
        self.left_min().is_some_and(|left| left <= 0.0)
    }

    /// Whole drops to add to the cup on the bench; empty once its pot life is over, or where nothing that is
    /// added helps.
    pub(super) fn add(&self) -> &[(Colorant, u32)] {
        if self.is_over() {
            &[]
        } else {
            &self.corrected.remedy.add
        }
    }

    /// What the cup on the bench is predicted to give then: ΔE00 from the target, and what it shows of black and white.
    ///
    /// Where nothing is added, it is what the casting gives as it is.
    pub(super) fn after(&self) -> (f64, Translucency) {
        let Remedy {
            delta_e_now,
            seen_now,
            delta_e_after,
            seen_after,
            ..
        } = &self.corrected.remedy;
        if self.add().is_empty() {
            (*delta_e_now, *seen_now)
        } else {
            (*delta_e_after, *seen_after)
        }
    }
}
