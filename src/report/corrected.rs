//! All that there is to say of a correction, as data.

use super::let_downs::LetDowns;
use crate::colour::{Lab, Translucency};
use crate::materials::Colorant;
use crate::recipe::Remedy;

/// How long a cup can still be worked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PotLife {
    /// Its base's pot life, minutes; `None` where unknown or without end.
    pub whole_min: Option<f64>,
    /// Minutes since it was mixed, where told.
    pub since_min: Option<f64>,
}

/// What became of the reading.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Logging {
    /// It was logged under this name.
    Now(String),
    /// It stood in the log under this name.
    Before(String),
    /// The demo is never written to.
    Demo,
    /// It was not to be logged.
    NotAsked,
}

/// All that there is to say of a correction.
#[derive(Clone, Debug)]
pub struct Corrected<'a> {
    /// Both answers.
    pub remedy: &'a Remedy,
    /// How long the cup on the bench can still be worked.
    pub time: PotLife,
    /// Most drops that were to be added to it.
    pub max_add: u32,
    /// How the casting read.
    pub measured: Lab,
    /// What the book predicted of it before it was read.
    pub predicted: Lab,
    /// Whether the contrast ratio was to keep within a window.
    pub is_contrast_held: bool,
    /// The let-downs among what is added to the cup on the bench.
    pub bench: Option<LetDowns>,
    /// What takes these off the book.
    pub take_commands: Vec<String>,
    /// The let-downs of the next cup.
    pub next: Option<LetDowns>,
    /// What became of the reading.
    pub logged: Logging,
}

impl Logging {
    /// The name in the log, where it stands there.
    pub(super) fn name(&self) -> Option<&str> {
        match self {
            Self::Now(name) | Self::Before(name) => Some(name),
            Self::Demo | Self::NotAsked => None,
        }
    }
}

impl PotLife {
    /// Minutes that are left; below zero where it is over.
    pub(super) fn left_min(&self) -> Option<f64> {
        Some(self.whole_min? - self.since_min?)
    }

    /// Whether it is over, as far as that is known.
    pub(super) fn is_over(&self) -> bool {
        self.left_min().is_some_and(|left| left <= 0.0)
    }
}

impl Corrected<'_> {
    /// What is added to the cup on the bench, while it takes anything.
    pub(super) fn add(&self) -> &[(Colorant, u32)] {
        if self.time.is_over() {
            &[]
        } else {
            &self.remedy.add
        }
    }

    /// What the cup on the bench is predicted to give then: ΔE00 from the target, and what it shows of black and white.
    pub(super) fn after(&self) -> (f64, Translucency) {
        let Remedy {
            delta_e_now,
            seen_now,
            delta_e_after,
            seen_after,
            ..
        } = self.remedy;
        if self.add().is_empty() {
            (*delta_e_now, *seen_now)
        } else {
            (*delta_e_after, *seen_after)
        }
    }
}
