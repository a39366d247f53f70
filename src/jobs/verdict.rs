//! How a matched part stands: whether it is within tolerance on paper, and whether its casting is likely to be.

use serde::Serialize;

use super::matching::{FilledCup, Matched};

/// How a recipe stands against its tolerance.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub enum Verdict {
    /// Within tolerance, and more likely than not its casting too.
    #[serde(rename = "lands")]
    Lands,
    /// Within tolerance on paper; too little is known to say it of the casting.
    #[serde(rename = "not known")]
    NotKnown,
    /// Beyond the tolerance, up to twice of it.
    #[serde(rename = "near")]
    Near,
    /// Further off.
    #[serde(rename = "out of reach")]
    OutOfReach,
}

impl Verdict {
    /// Chance from which a casting is said to land. Our own choice, no source.
    const LIKELY: f64 = 0.5;

    /// Of a recipe `delta_e` (ΔE00) off its aim, where `tolerance` passes, whose casting lands by `chance` (0–1).
    pub fn of(delta_e: f64, tolerance: f64, chance: f64) -> Self {
        if delta_e <= tolerance {
            if chance >= Self::LIKELY {
                Self::Lands
            } else {
                Self::NotKnown
            }
        } else if delta_e <= 2.0 * tolerance {
            Self::Near
        } else {
            Self::OutOfReach
        }
    }
}

impl Matched {
    /// How the part stands, which is how its skin does.
    pub fn verdict(&self) -> Verdict {
        self.verdict_on(&self.skin)
    }

    /// How the best recipe of `cup` stands.
    pub fn verdict_on(&self, cup: &FilledCup) -> Verdict {
        let best = cup.recipe.best();
        Verdict::of(best.delta_e, self.tolerance, best.chance)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_border_belongs_to_the_better_side() {
        let verdicts = [
            (1.0, 0.5, Verdict::Lands),
            (1.0, 0.49, Verdict::NotKnown),
            (1.01, 0.9, Verdict::Near),
            (2.0, 0.0, Verdict::Near),
            (2.01, 0.9, Verdict::OutOfReach),
        ];
        for (delta_e, chance, expected) in verdicts {
            let found = Verdict::of(delta_e, 1.0, chance);
            assert_eq!(found, expected, "ΔE00 {delta_e}, chance {chance}");
        }
    }
}
