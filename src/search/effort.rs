//! What a recipe asks of the hands.
//!
//! The weights are this project's own choice: a dose is a bottle to open and to name, drops beyond ten are counted twice
//! over, a weighing of few steps is done twice to be sure, and a new jar is pigment to weigh, to stir and to label before the
//! part is begun.

use std::ops::{Add, Sub};

/// What a recipe asks of the hands, in whole twentieths of one dose: sums of it are exact, and efforts that are equal compare
/// as equal.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Effort(u32);

impl Effort {
    /// Of nothing.
    pub(crate) const NONE: Self = Self(0);
    /// More than of any recipe.
    pub(crate) const MOST: Self = Self(u32::MAX);
    /// Of one dose, however it is measured out.
    pub(crate) const DOSE: Self = Self(20);
    /// Of each drop of a dose beyond [`EASY_DROPS`](Self::EASY_DROPS).
    const DROP_BEYOND: u32 = 1;
    /// Of a let-down that is to be made first.
    const NEW_JAR: Self = Self(40);
    /// So many drops are counted without a thought.
    const EASY_DROPS: u32 = 10;
    /// Of a weighing of fewer steps of the scale than [`SURE_STEPS`](Self::SURE_STEPS), beside the dose itself.
    const UNSURE_WEIGHING: Self = Self(20);
    /// Of so many steps a scale is sure.
    const SURE_STEPS: u32 = 10;

    /// Of one dose of `drops`; of a jar that is new where `is_new`. No drop is no dose.
    pub(crate) fn of_drops(drops: u32, is_new: bool) -> Self {
        if drops == 0 {
            return Self::NONE;
        }
        let beyond = Self(drops.saturating_sub(Self::EASY_DROPS) * Self::DROP_BEYOND);
        let jar = if is_new { Self::NEW_JAR } else { Self::NONE };
        Self::DOSE + beyond + jar
    }

    /// Of one dose weighed to so many `steps` of the scale. No step is no dose.
    pub(crate) fn of_steps(steps: u32) -> Self {
        match steps {
            0 => Self::NONE,
            1..Self::SURE_STEPS => Self::DOSE + Self::UNSURE_WEIGHING,
            _ => Self::DOSE,
        }
    }

    /// Of this many doses.
    pub(crate) fn doses(count: u32) -> Self {
        Self(Self::DOSE.0.saturating_mul(count))
    }

    /// How many doses it has room for.
    pub(crate) fn in_doses(self) -> u32 {
        self.0 / Self::DOSE.0
    }

    /// In doses.
    pub(crate) fn value(self) -> f64 {
        f64::from(self.0) / f64::from(Self::DOSE.0)
    }
}

impl Add for Effort {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}

impl Sub for Effort {
    type Output = Self;

    /// What is left, which is nothing where more is taken than there is.
    fn sub(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }
}

impl std::iter::Sum for Effort {
    fn sum<I: Iterator<Item = Self>>(all: I) -> Self {
        all.fold(Self::NONE, Add::add)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_dose_is_one_its_drops_beyond_ten_a_twentieth_each_and_a_new_jar_two() {
        let of = |drops, is_new| Effort::of_drops(drops, is_new).value();
        assert_eq!(of(0, true), 0.0, "what isn't used needn't be made");
        assert_eq!(of(1, false), 1.0, "one drop");
        assert_eq!(of(10, false), 1.0, "ten drops");
        assert_eq!(of(12, false), 1.1, "two beyond ten");
        assert_eq!(of(12, true), 3.1, "of a jar to be made");
    }

    #[test]
    fn a_weighing_is_one_dose_and_one_more_below_ten_steps_of_the_scale() {
        let of = |steps| Effort::of_steps(steps).value();
        assert_eq!(
            [0, 1, 9, 10, 60].map(of),
            [0.0, 2.0, 2.0, 1.0, 1.0],
            "by hand"
        );
    }

    #[test]
    fn there_is_room_for_as_many_whole_doses_as_an_effort_is_worth() {
        for count in 0..6 {
            assert_eq!(Effort::doses(count).in_doses(), count, "{count} doses");
        }
        assert_eq!(Effort::of_drops(29, false).in_doses(), 1, "1.95 doses");
        assert_eq!(Effort::of_drops(12, true).in_doses(), 3, "3.1 doses");
    }
}
