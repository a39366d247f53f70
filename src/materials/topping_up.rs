//! A cup that something was taken out of, or dropped into, after it was poured.

use super::{Amount, Colorant, Grams, Mix, Portion, Poured, Shelf, check_range};
use crate::error::Result;

impl Poured {
    /// What is left once so much mixed base is `drawn` from it, with the drops that are then added; drops of what was weighed
    /// into it go to that by their mass on `shelf`.
    ///
    /// # Errors
    /// More drawn than there is; names that are not on the shelf; drops of what has none.
    pub fn drawn_and_added(
        &self,
        drawn: Grams,
        add: &[(Colorant, u32)],
        shelf: &Shelf,
    ) -> Result<Self> {
        /// A thousandth of a drop or a gram is not measured by anyone.
        const STEPS: f64 = 1e3;
        let Grams(base_g) = self.base_mass;
        let left = 1.0 - drawn.0 / base_g;
        let some = (f64::MIN_POSITIVE, 1.0);
        check_range("what is left of the cup", left, some, "of it")?;
        let rest = |amount: f64| match drawn.0 {
            0.0 => amount,
            _ => (amount * left * STEPS).round() / STEPS,
        };
        let entries = self.mix.entries().iter().map(|(colorant, amount)| {
            let amount = match amount {
                Amount::Drops(drops) => Amount::Drops(rest(*drops)),
                Amount::Mass(mass) => Amount::Mass(Grams(rest(mass.0))),
            };
            (colorant.clone(), amount)
        });
        let mut entries: Vec<(Colorant, Amount)> = entries.collect();
        for (colorant, count) in add {
            let drops = Amount::Drops((*count).into());
            match entries.iter_mut().find(|(known, _)| known == colorant) {
                Some((_, Amount::Drops(there))) => *there += f64::from(*count),
                Some((_, Amount::Mass(there))) => {
                    *there = *there + Portion::new(shelf, colorant, drops)?.mass;
                }
                None => entries.push((colorant.clone(), drops)),
            }
        }
        Ok(Self {
            base: self.base.clone(),
            base_mass: Grams(base_g - drawn.0),
            mix: Mix::new(entries)?,
        })
    }
}
