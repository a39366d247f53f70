//! A mix poured into a base: masses, and from them K and S.

use std::borrow::Cow;

use super::{Amount, Base, Colorant, Grams, Pigment, Poured, Settings, Shelf, check_range};
use crate::error::{Error, Result};
use crate::optics::{Coefficients, Medium};

/// Relative standard deviation of a mass weighed on a scale finer than the book's. Common practice, no source.
const FINER_SCALE_SD: f64 = 0.01;

/// One cup: a base and what was put into it.
#[derive(Clone, Debug)]
pub struct Cup<'shelf> {
    /// The base: the shelf's, or what one supposes it to be.
    pub base: Cow<'shelf, Base>,
    /// Mass of the mixed base (A + B) before pigment.
    pub base_mass: Grams,
    /// What was put in, in the mix's order.
    pub portions: Vec<Portion<'shelf>>,
}

/// One colorant in a cup.
#[derive(Clone, Debug)]
pub struct Portion<'shelf> {
    /// The pigment: the shelf's, or what one supposes it to be.
    pub pigment: Cow<'shelf, Pigment>,
    /// Parts by mass that hold one part of dispersion; 1 for the bottle itself.
    pub let_down: f64,
    /// As the mix has it.
    pub amount: Amount,
    /// Mass of what goes into the cup, the clear part of a let-down included.
    pub mass: Grams,
}

impl<'shelf> Portion<'shelf> {
    /// `amount` of `colorant`, which `shelf` must hold.
    ///
    /// # Errors
    /// A pigment that is not on the shelf; drops of what is only weighed.
    pub fn new(shelf: &'shelf Shelf, colorant: &Colorant, amount: Amount) -> Result<Self> {
        let pigment = shelf.pigment(&colorant.pigment)?;
        let mass = match (amount, pigment.drop_mass) {
            (Amount::Mass(mass), _) => mass,
            (Amount::Drops(count), Some(drop)) => drop * count,
            (Amount::Drops(count), None) => {
                return Err(Error::input(format!("`{} {count}` counts drops", pigment.name)).mend(format!(
                    "`{0}` has no drop mass and is weighed: write `{0} {count} g`, or enter drop_g",
                    pigment.name
                )));
            }
        };
        Ok(Self {
            pigment: Cow::Borrowed(pigment),
            let_down: colorant.let_down,
            amount,
            mass,
        })
    }

    /// Relative standard deviation of its mass: see [`Amount::mass_sd`].
    pub fn mass_sd(&self, settings: &Settings) -> f64 {
        self.amount.mass_sd(settings)
    }

    /// Mass of the dispersion alone.
    pub fn dispersion_mass(&self) -> Grams {
        self.mass * (1.0 / self.let_down)
    }

    /// Mass of the clear base that a let-down brings along.
    pub fn clear_mass(&self) -> Grams {
        self.mass * (1.0 - 1.0 / self.let_down)
    }

    /// The colorant's name, with the ratio of a let-down.
    pub fn colorant(&self) -> Colorant {
        Colorant {
            pigment: self.pigment.name.clone(),
            let_down: self.let_down,
        }
    }
}

impl Amount {
    /// Relative standard deviation of its mass: the scatter of its drops, or the rounding of the scale. A mass that the book's
    /// scale cannot show was weighed on a finer one.
    pub fn mass_sd(self, settings: &Settings) -> f64 {
        match self {
            Self::Drops(count) if count > 0.0 => settings.drop_sd / count.sqrt(),
            Self::Mass(mass) if mass.0 > 0.0 => {
                let steps = mass.0 / settings.scale_resolution.0;
                if (steps - steps.round()).abs() < 1e-6 {
                    // A scale that shows steps of d rounds with a standard deviation of d / √12.
                    1.0 / 12.0_f64.sqrt() / steps
                } else {
                    FINER_SCALE_SD
                }
            }
            Self::Drops(_) | Self::Mass(_) => 0.0,
        }
    }
}

impl<'shelf> Cup<'shelf> {
    /// Least and greatest mass of the mixed base, g.
    pub const BASE_MASS_G: (f64, f64) = (0.01, 1_000_000.0);

    /// What `poured` says, looked up on `shelf`. Loads are not checked: see [`check_loads`](Self::check_loads).
    ///
    /// # Errors
    /// Names that are not on the shelf; a base mass out of range; drops of what is only weighed.
    pub fn pour(shelf: &'shelf Shelf, poured: &Poured) -> Result<Self> {
        let base = shelf.base(&poured.base)?;
        let what = format!("the mass of {}", base.name);
        check_range(&what, poured.base_mass.0, Self::BASE_MASS_G, "g")?;
        let portions = poured.mix.entries().iter();
        let portions = portions.map(|(colorant, amount)| Portion::new(shelf, colorant, *amount));
        Ok(Self {
            base: Cow::Borrowed(base),
            base_mass: poured.base_mass,
            portions: portions.collect::<Result<_>>()?,
        })
    }

    /// Mass of all that is in the cup.
    pub fn mass(&self) -> Grams {
        self.base_mass + self.portions.iter().map(|portion| portion.mass).sum()
    }

    /// The share of `pigment`'s dispersion in the cup's mass, let-downs counted by what they hold.
    pub fn fraction(&self, pigment: &str) -> f64 {
        let of_it = self
            .portions
            .iter()
            .filter(|portion| portion.pigment.name == pigment);
        of_it.map(Portion::dispersion_mass).sum::<Grams>().0 / self.mass().0
    }

    /// The share of what is called `name` in the cup's mass, what stocks hold of it included.
    pub(crate) fn fraction_in_all(&self, name: &str) -> f64 {
        let held = self.portions.iter().map(|portion| {
            let in_it = portion.pigment.ingredients.iter();
            let shares = in_it
                .filter(|each| each.pigment.name == name)
                .map(|each| each.share);
            portion.dispersion_mass().0 * shares.sum::<f64>()
        });
        self.fraction(name) + held.sum::<f64>() / self.mass().0
    }

    /// Refuses a cup that holds more of a pigment than cures well: it is not to be mixed, though what was cast
    /// of it can be told.
    ///
    /// # Errors
    /// The first pigment above its largest fraction.
    pub fn check_loads(&self) -> Result<()> {
        /// By what share sums of masses may be off.
        const ROUNDING: f64 = 1e-12;
        let is_neat = |portion: &Portion<'_>| portion.pigment.ingredients.is_empty();
        let neat = self.portions.iter().filter(|portion| is_neat(portion));
        let neat = neat.map(|portion| &*portion.pigment);
        let in_stocks = self
            .portions
            .iter()
            .flat_map(|portion| &portion.pigment.ingredients);
        for pigment in neat.chain(in_stocks.map(|each| &each.pigment)) {
            let fraction = self.fraction_in_all(&pigment.name);
            if fraction > pigment.max_fraction * (1.0 + ROUNDING) {
                return Err(Error::input(format!(
                    "`{}` would be {:.2} % of the cup; more than {} % weakens or stops the cure",
                    pigment.name,
                    100.0 * fraction,
                    100.0 * pigment.max_fraction
                ))
                .mend("use less of it, or raise its max_fraction in the book if its maker allows more"));
            }
        }
        Ok(())
    }

    /// K and S (mm⁻¹) of what the cup sets to, risen if its base is a foam.
    pub fn coefficients(&self) -> Coefficients {
        self.base.risen(&self.before_rise())
    }

    /// What the cup is when it has set.
    pub fn medium(&self) -> Medium {
        self.base.medium(self.coefficients())
    }

    /// K and S (mm⁻¹) of the cup without any foaming: each part's, weighted by its share of the mass that
    /// stays. What evaporates from a paint is taken from its base alone.
    ///
    /// Source: additivity of K and S over mass, D. R. Duncan (1940), Proceedings of the Physical Society 52,
    /// 390–401.
    pub fn before_rise(&self) -> Coefficients {
        let clear = self.staying_clear_mass();
        let mut sum = self.base.coefficients.scaled(clear.0);
        let mut mass = clear;
        for portion in &self.portions {
            sum.add_scaled(portion.dispersion_mass().0, &portion.pigment.coefficients);
            mass = mass + portion.dispersion_mass();
        }
        sum.scaled(1.0 / mass.0)
    }

    /// The share of the base, and that of each portion's dispersion, in the mass that stays when the cup has set; they
    /// sum to 1.
    pub fn staying_shares(&self) -> (f64, Vec<f64>) {
        let clear = self.staying_clear_mass().0;
        let dispersions = self
            .portions
            .iter()
            .map(|portion| portion.dispersion_mass().0);
        let all = clear + dispersions.clone().sum::<f64>();
        (clear / all, dispersions.map(|mass| mass / all).collect())
    }

    /// Mass of all that stays when the cup has set or dried.
    pub fn staying_mass(&self) -> Grams {
        let dispersions = self.portions.iter().map(Portion::dispersion_mass);
        self.staying_clear_mass() + dispersions.sum()
    }

    /// Mass of the base, let-downs' share of it included, that stays when it has set or dried.
    fn staying_clear_mass(&self) -> Grams {
        let clear = self.base_mass + self.portions.iter().map(Portion::clear_mass).sum();
        clear * self.base.solids()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::materials::fixtures;

    /// Half of the last digit that the guide gives.
    const HALF_A_DIGIT: f64 = 0.005;

    /// JCGM 100:2008 (GUM), 4.3.7, example 1 (from memory): what lies anywhere within ±0.40 alike has a standard
    /// uncertainty of 0.23. A scale that shows steps of 0.80 g rounds by up to 0.40 g either way.
    #[test]
    fn a_weighed_mass_has_the_doubt_of_a_rectangle_as_wide_as_a_step_of_the_scale() {
        let mut settings = fixtures::shelf().settings;
        settings.scale_resolution = Grams(0.80);
        for steps in [1.0, 21.0, 500.0] {
            let mass = Grams(0.80 * steps);
            let doubt_g = mass.0 * Amount::Mass(mass).mass_sd(&settings);
            approx::assert_abs_diff_eq!(doubt_g, 0.23, epsilon = HALF_A_DIGIT);
        }
    }
}
