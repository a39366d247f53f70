//! Several pots tinted at once: part B of all of them takes all pigment by the scale, is read and put right while no clock runs,
//! and is divided before any of it meets part A. So all pots are of one colour, and nothing is counted. Common practice, no
//! source.

use jiff::civil::Date;

use super::let_downs::{self, CalledFor};
use super::measure::{Dose, in_bulk};
use crate::materials::{Cup, Grams, LET_DOWN_PARTS, Pigment, RatioBy, Shelf};

/// Part B of all pots, tinted together.
#[derive(Clone, Debug, PartialEq)]
pub struct AtOnce {
    /// Part B of all pots, g.
    pub part_b_g: f64,
    /// What is stirred into it, each pigment from its bottle, or let down where that measures it better; fibre goes in pot by pot.
    pub doses: Vec<Dose>,
    /// The let-downs among these.
    pub let_downs: Vec<CalledFor>,
    /// What is taken of that for one pot, g.
    pub share_g: f64,
    /// Part A of one pot, g.
    pub part_a_g: f64,
}

impl AtOnce {
    /// That of so many `pots`, each of `base_mass` and of `in_one` times what `cup` holds, where the let-downs of `shelf` stand
    /// on the `day`; `None` where there is one pot, or no part B by the gram, or a pigment so little that even for all pots
    /// nothing measures it.
    pub(super) fn of(
        cup: &Cup<'_>,
        in_one: f64,
        (pots, base_mass): (u32, Grams),
        shelf: &Shelf,
        day: Date,
    ) -> Option<Self> {
        let ratio = &cup.base.ratio;
        if pots < 2 || ratio.is_single() || ratio.by != RatioBy::Mass {
            return None;
        }
        let times = in_one * f64::from(pots);
        let stirred = || cup.portions.iter().filter(|each| !each.pigment.is_fibre());
        let mut names: Vec<&Pigment> = Vec::new();
        for portion in stirred() {
            if !names.iter().any(|known| known.name == portion.pigment.name) {
                names.push(&portion.pigment);
            }
        }
        let of_it = |pigment: &Pigment| {
            let portions = stirred().filter(|portion| portion.pigment.name == pigment.name);
            let mass: Grams = portions.map(|portion| portion.dispersion_mass()).sum();
            mass * times
        };
        // A let-down that the recipe names is at hand.
        let parts = |pigment: &Pigment| {
            let named = stirred().filter(|portion| portion.pigment.name == pigment.name);
            let named = named.map(|portion| portion.let_down).fold(1.0, f64::max);
            if named > 1.0 { named } else { LET_DOWN_PARTS }
        };
        let settings = &shelf.settings;
        let doses: Vec<Dose> = (names.into_iter())
            .filter(|pigment| of_it(pigment).0 > 0.0)
            .map(|pigment| in_bulk(pigment, parts(pigment), of_it(pigment), settings))
            .collect::<Option<Vec<_>>>()?
            .concat();
        // What let-downs would bring of clear base is poured as part B.
        let clear: Grams = stirred().map(|portion| portion.clear_mass()).sum();
        let step = settings.scale_resolution;
        let sets = base_mass + clear * in_one;
        let part_a = (sets * ratio.share_a()).rounded_to(step);
        let brought: Grams = doses.iter().map(Dose::clear_mass).sum();
        let part_b = (sets.0 - part_a.0) * f64::from(pots) - brought.0;
        let part_b = Grams(part_b.max(0.0)).rounded_to(step);
        let tinted = part_b.0 + doses.iter().map(|dose| dose.weighs_g).sum::<f64>();
        Some(Self {
            part_b_g: part_b.0,
            share_g: Grams(tinted / f64::from(pots)).rounded_to(step).0,
            part_a_g: part_a.0,
            let_downs: let_downs::of(
                doses
                    .iter()
                    .map(|dose| (dose.colorant.clone(), Grams(dose.weighs_g))),
                &cup.base,
                shelf,
                day,
            ),
            doses,
        })
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::super::{Scale, pour};
    use super::*;
    use crate::materials::fixtures::shelf;
    use crate::materials::{Amount, Poured};

    /// By hand: ten cups of 100 g in five pots hold ten times the drops; part A is a share of what sets, and what is divided is
    /// all the rest.
    #[test]
    fn what_is_divided_is_all_that_is_not_part_a() {
        let shelf = shelf();
        let skin = shelf.bases.iter().find(|base| !base.ratio.is_single());
        let skin = skin.expect("a base of two parts").name.clone();
        let poured = Poured {
            base: skin,
            base_mass: Grams(100.0),
            mix: "red 30; white 20; fibre 2 g".parse().expect("a mix"),
        };
        let cup = Cup::pour(&shelf, &poured).expect("a cup");
        let scale = Scale {
            factor: 10.0,
            largest_pot: Some(Grams(200.0)),
        };
        let pour = pour(&cup, scale, &shelf, jiff::civil::date(2026, 3, 1)).expect("poured");
        let at_once = pour.at_once.as_ref().expect("five pots");
        for dose in &at_once.doses {
            let Amount::Drops(drops) = cup
                .portions
                .iter()
                .find(|portion| portion.pigment.name == dose.colorant.pigment)
                .expect("it was in the cup")
                .amount
            else {
                panic!("drops: {dose:?}");
            };
            let pigment = shelf.pigment(&dose.colorant.pigment).expect("a pigment");
            let wanted = 10.0 * drops * pigment.drop_mass.expect("of drops").0;
            assert_abs_diff_eq!(dose.weighs_g, wanted, epsilon = 0.02 * wanted + 1e-9);
        }
        assert_eq!(
            at_once.doses.len(),
            2,
            "fibre goes in pot by pot: {at_once:?}"
        );
        let pigment_g: f64 = at_once.doses.iter().map(|dose| dose.weighs_g).sum();
        let in_all = 5.0 * at_once.part_a_g + at_once.part_b_g;
        assert_abs_diff_eq!(in_all, 1000.0, epsilon = 0.1);
        assert_abs_diff_eq!(
            5.0 * at_once.share_g,
            at_once.part_b_g + pigment_g,
            epsilon = 0.3
        );
    }
}
