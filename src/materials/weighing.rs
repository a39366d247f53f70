//! Drops on a scale: what one weighs, and how that differs from run to run.

use std::str::FromStr;

use super::{Grams, check_range};
use crate::error::{Error, Result};

/// One run: so many drops of a pigment, weighed together.
#[derive(Clone, Debug, PartialEq)]
pub struct Weighing {
    /// The pigment's name.
    pub pigment: String,
    /// How many drops, 1 to 1000.
    pub drops: u32,
    /// What they weigh together.
    pub mass: Grams,
}

impl Weighing {
    /// Smallest and largest mass of a drop that is taken, g. A drop of water weighs 0.05 g; many times that, or a small
    /// part, is a slip of the point.
    pub const DROP_RANGE_G: (f64, f64) = (0.002, 0.3);

    /// Mass of one drop.
    pub fn drop_mass(&self) -> Grams {
        Grams(self.mass.0 / f64::from(self.drops))
    }
}

/// As in `iron oxide red 20 drops 0.61 g`.
impl FromStr for Weighing {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self> {
        let shape = || {
            Error::input(format!(
                "\"{}\" is no run of drops",
                text.escape_debug()
            ))
            .mend("write the pigment, how many drops, and what they weigh, as in \"iron oxide red 20 drops 0.61 g\"")
        };
        let parts = text
            .rsplit_once(" drops ")
            .or_else(|| text.rsplit_once(" drop "));
        let (counted, mass) = parts.ok_or_else(shape)?;
        let (pigment, count) = counted.trim().rsplit_once(' ').ok_or_else(shape)?;
        let mass: Grams = mass.trim().parse()?;
        let drops = count.parse().ok();
        let drops = drops.filter(|drops| (1..=1000).contains(drops));
        let weighing = Self {
            pigment: pigment.trim().to_owned(),
            drops: drops.ok_or_else(|| {
                let found = count.escape_debug();
                let finding = format!("{found} drops; expected a whole number from 1 to 1000");
                Error::input(finding).mend("twenty are customary")
            })?,
            mass,
        };
        let what = format!("a drop of {}", weighing.pigment);
        // To the digits that a scale can show; a quotient has more.
        let one = (weighing.drop_mass().0 * 1e6).round() / 1e6;
        check_range(&what, one, Self::DROP_RANGE_G, "g").map_err(|error| {
            error.mend("check the point, the count, and that the scale stood at 0 under the empty cup; one of water weighs 0.05 g")
        })?;
        Ok(weighing)
    }
}

/// What the runs of one bottle tell of its drops.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DropMass {
    /// Mean over the runs of the mean drop of each.
    pub mean: Grams,
    /// Standard deviation between runs; `None` of fewer than [`ENOUGH_RUNS`](Self::ENOUGH_RUNS).
    pub sd: Option<Grams>,
    /// How many runs.
    pub runs: usize,
    /// By which share of the mean the run farthest from it is off.
    pub farthest: f64,
}

impl DropMass {
    /// Runs from which a spread is taken: a standard deviation of two says nothing.
    ///
    /// Source: the European Pharmacopoeia, 2.1.1, which asks for three runs of twenty drops (from memory).
    pub const ENOUGH_RUNS: usize = 3;

    /// The mass of a drop of a standard dropper: twenty drops of water weigh 1000 ± 50 mg.
    ///
    /// Source: the European Pharmacopoeia, 2.1.1 (from memory).
    pub const STANDARD: Grams = Grams(0.05);

    /// The share of their mean within which three runs of a standard dropper stay.
    ///
    /// Source: the European Pharmacopoeia, 2.1.1 (from memory).
    pub const STANDARD_SCATTER: f64 = 0.05;

    /// What `runs` on a scale of steps `resolution` tell; `None` of no runs.
    ///
    /// The spread is never less than what the scale's step hides: d / √12 for a step of d.
    pub fn of(runs: &[Weighing], resolution: Grams) -> Option<Self> {
        let count = runs.len() as f64;
        let masses = || runs.iter().map(|run| run.drop_mass().0);
        let mean = masses().sum::<f64>() / count;
        let hidden = runs
            .iter()
            .map(|run| resolution.0 / 12.0_f64.sqrt() / f64::from(run.drops))
            .reduce(f64::max)?;
        let squares: f64 = masses().map(|mass| (mass - mean).powi(2)).sum();
        let enough = runs.len() >= Self::ENOUGH_RUNS;
        Some(Self {
            mean: Grams(mean),
            sd: enough.then(|| Grams((squares / (count - 1.0)).sqrt().max(hidden))),
            runs: runs.len(),
            farthest: masses()
                .map(|mass| (mass / mean - 1.0).abs())
                .fold(0.0, f64::max),
        })
    }
}

/// What weighing did to a pigment of a book.
#[derive(Clone, Debug, PartialEq)]
pub struct Weighed {
    /// The pigment.
    pub pigment: String,
    /// Its lot, by which its runs are told from those of earlier bottles; may be empty.
    pub lot: String,
    /// Mass of a drop that stood in the book before.
    pub before: Option<Grams>,
    /// What all runs of this lot tell.
    pub now: DropMass,
    /// Logged readings whose mixes count its drops.
    pub readings: usize,
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    fn run(text: &str) -> Weighing {
        text.parse()
            .unwrap_or_else(|error| panic!("{text}: {error}"))
    }

    #[test]
    fn a_run_is_read_as_a_hand_writes_it() {
        let expected = Weighing {
            pigment: "iron oxide red".to_owned(),
            drops: 20,
            mass: Grams(0.61),
        };
        for text in [
            "iron oxide red 20 drops 0.61 g",
            "iron oxide red 20 drops 0.61g",
            " iron oxide red  20 drops 0.61 ",
        ] {
            assert_eq!(run(text), expected, "{text}");
        }
    }

    #[test]
    fn what_is_no_run_is_refused_with_its_mend() {
        for (text, words) in [
            (
                "iron oxide red 0.61 g",
                "as in \"iron oxide red 20 drops 0.61 g\"",
            ),
            (
                "iron oxide red 0 drops 0.61 g",
                "a whole number from 1 to 1000",
            ),
            (
                "iron oxide red 2.5 drops 0.61 g",
                "a whole number from 1 to 1000",
            ),
            ("iron oxide red 20 drops 61 g", "a drop of iron oxide red"),
            ("iron oxide red 20 drops NaN g", "NaN"),
        ] {
            let error = text.parse::<Weighing>().expect_err(text).to_string();
            assert!(error.contains(words), "{text}: {error}");
        }
    }

    /// Source: the European Pharmacopoeia, 2.1.1 (from memory): 1000 ± 50 mg for twenty drops of water, three runs
    /// within 5 % of their mean. The masses are worked by hand: mean 0.05 g, deviations +0.002, −0.002 and 0.
    #[test]
    fn three_runs_of_a_standard_dropper_have_their_mean_and_spread() {
        let runs = [
            "water 20 drops 1.04 g",
            "water 20 drops 0.96 g",
            "water 20 drops 1.00 g",
        ]
        .map(run);
        let drop = DropMass::of(&runs, Grams(0.01)).expect("three runs");
        assert_abs_diff_eq!(drop.mean.0, DropMass::STANDARD.0, epsilon = 1e-12);
        assert_abs_diff_eq!(drop.sd.expect("of three").0, 0.002, epsilon = 1e-12);
        assert_abs_diff_eq!(drop.farthest, 0.04, epsilon = 1e-12);
        assert!(drop.farthest <= DropMass::STANDARD_SCATTER, "it passes");
    }

    #[test]
    fn a_spread_needs_three_runs_and_is_no_less_than_the_scale_hides() {
        let alike = || vec![run("red 20 drops 0.6 g"); 3];
        assert_eq!(
            DropMass::of(&alike()[..2], Grams(0.1)).expect("two").sd,
            None,
            "of two"
        );
        let drop = DropMass::of(&alike(), Grams(0.1)).expect("three");
        // 0.1 / √12 / 20.
        assert_abs_diff_eq!(drop.sd.expect("of three").0, 0.001_443_4, epsilon = 1e-7);
        assert_eq!(DropMass::of(&[], Grams(0.1)), None, "of none");
    }
}
