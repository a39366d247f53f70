//! A cup that nothing more may be dropped into: what is in it already is the one recipe.

use super::answer::{Answer, Recipe, none_keeps_to_it};
use super::candidate::Bench;
use super::question::Question;
use crate::error::{Error, Result};

impl Question<'_> {
    /// What the cup is as it stands, where no colorant is left to choose from.
    ///
    /// # Errors
    /// A cup that no drop went into: what is to be searched for was forgotten. One that doesn't keep to what is asked of it.
    pub(super) fn settled(&self) -> Result<Recipe> {
        let mut portions = self.cup.portions.iter();
        if !portions.any(|portion| portion.pigment.drop_mass.is_some()) {
            return Err(
                Error::input("no pigment to choose from").mend("name at least one that is dropped")
            );
        }
        let bench = Bench::new(self, &[])?;
        let coefficients = bench.coefficients(std::iter::empty());
        if !(bench.allows(&[], self) && self.contrasts(&coefficients)) {
            return Err(none_keeps_to_it(true));
        }
        Ok(Recipe {
            drops: Vec::new(),
            weighed: Vec::new(),
            delta_e: self.delta_e_of(&bench, &[]),
        })
    }
}

impl Answer {
    /// The one recipe there is; where the handiest was asked for, none is handier.
    pub(super) fn settled(recipe: Recipe, is_handiest: bool) -> Self {
        Self {
            gap: 0.0,
            proven: true,
            nearest_delta_e: recipe.delta_e,
            effort: 0.0,
            effort_gap: is_handiest.then_some(0.0),
            strengths_left_out: 0,
            recipes: vec![recipe],
        }
    }
}
