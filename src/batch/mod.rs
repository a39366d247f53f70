//! From a recipe to what hands do: masses of A and B, drops or grams, pots, and the clock.

mod measure;

use serde::Serialize;

use crate::error::{Error, Result};
use crate::materials::{
    Amount, Base, Colorant, Cup, Grams, Kind, Mix, Pigment, Portion, RatioBy, Settings, check_range,
};
use measure::{dropped, weighed};

/// Smallest pot, g.
const LEAST_POT_G: f64 = 1.0;

/// Most pots of one batch.
const MOST_POTS: f64 = 1000.0;

/// A pot above this mass of a base with a pot life is warned of, g: it is hard to mix and spread in time, and its
/// heat has nowhere to go. Common practice, no source.
const LARGE_POT_G: f64 = 1000.0;

/// One cup, ready to be mixed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Pour {
    /// Name of the base.
    pub base: String,
    /// What it is for.
    pub kind: Kind,
    /// How many pots of this size, one after the other.
    pub pots: u32,
    /// Mass of the mixed base in one pot, g.
    pub base_g: f64,
    /// The parts of the base in one pot.
    #[serde(flatten)]
    pub parts: Parts,
    /// What goes into one pot besides the base.
    pub doses: Vec<Dose>,
    /// When to do what, from the moment A meets B.
    pub timeline: Vec<Moment>,
    /// What to think of before mixing this, a sentence each.
    pub warnings: Vec<String>,
}

/// The parts of a base, as they are measured.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Parts {
    /// Two parts, weighed, g.
    Weighed {
        /// Part A.
        part_a_g: f64,
        /// Part B.
        part_b_g: f64,
    },
    /// Two parts, measured by volume, ml.
    ByVolume {
        /// Part A.
        part_a_ml: f64,
        /// Part B.
        part_b_ml: f64,
    },
    /// One part, weighed: the whole base.
    Single {},
}

/// One colorant in a pot.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Dose {
    /// The pigment, with the ratio of a let-down.
    pub colorant: Colorant,
    /// How much, in the way it is measured.
    #[serde(flatten)]
    pub measure: Measure,
    /// What that weighs, g.
    pub weighs_g: f64,
    /// By how much what is measured is off what the recipe wants, relative.
    pub rounding: f64,
}

/// Counted or weighed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Measure {
    /// Whole drops.
    Drops(u32),
    /// Grams, to the step of the scale.
    MassG(f64),
}

/// A moment on the clock.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Moment {
    /// Minutes since A met B.
    pub minutes: f64,
    /// What is then.
    pub what: &'static str,
}

/// How a cup is scaled.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scale {
    /// The new mass of the mixed base over the old.
    pub factor: f64,
    /// The largest pot that can be used up within its pot life; all in one where `None`.
    pub largest_pot: Option<Grams>,
}

/// Works out the pots for `cup`, scaled.
///
/// # Errors
/// A batch out of the range of a cup's mass; pots below a gram, or more than a thousand; a portion that neither drop nor
/// let-down nor scale can measure.
pub fn pour(cup: &Cup<'_>, scale: Scale, settings: &Settings) -> Result<Pour> {
    let total = cup.base_mass * scale.factor;
    check_range("the mass of the batch", total.0, Cup::BASE_MASS_G, "g").map_err(|error| {
        error.mend("check the mass of the recipe, and how much of it is wanted")
    })?;
    let pots = pots(total, scale.largest_pot)?;
    let in_one = scale.factor / pots;
    let base_mass = cup.base_mass * in_one;
    let step = settings.scale_resolution;
    Ok(Pour {
        base: cup.base.name.clone(),
        kind: cup.base.kind.kind(),
        pots: crate::recipe::whole_number(pots),
        base_g: base_mass.rounded_to(step).0,
        parts: parts(&cup.base, base_mass, step),
        doses: doses(cup, in_one, step)?,
        timeline: timeline(&cup.base),
        warnings: warnings(cup, base_mass),
    })
}

impl Pour {
    /// What goes into one pot as a mix: what was measured out, not what the recipe wanted.
    ///
    /// # Errors
    /// A colorant that was measured out twice, of a recipe that both counts and weighs it.
    pub fn mix(&self) -> Result<Mix> {
        let entries = self.doses.iter().map(|dose| {
            let amount = match dose.measure {
                Measure::Drops(count) => Amount::Drops(count.into()),
                Measure::MassG(mass) => Amount::Mass(Grams(mass)),
            };
            (dose.colorant.clone(), amount)
        });
        Mix::new(entries.collect())
    }
}

/// How many pots alike `total` makes.
fn pots(total: Grams, largest: Option<Grams>) -> Result<f64> {
    let Some(largest) = largest else {
        return Ok(1.0);
    };
    if largest.0 < LEAST_POT_G {
        let finding = format!("pots of {largest}; expected at least {LEAST_POT_G} g");
        return Err(Error::input(finding));
    }
    // The slack keeps ten pots of 60 g from becoming eleven by rounding.
    let pots = (total.0 / largest.0 - 1e-9).ceil().max(1.0);
    if pots > MOST_POTS {
        let finding = format!("{pots} pots of {largest}; expected at most {MOST_POTS}");
        return Err(Error::input(finding).mend("allow a larger pot"));
    }
    Ok(pots)
}

/// The parts of `base_mass` of the base. A ratio by volume is measured by volume, with the density of the mix, since
/// that of A and of B alone is not known.
fn parts(base: &Base, base_mass: Grams, step: Grams) -> Parts {
    if base.ratio.is_single() {
        return Parts::Single {};
    }
    match base.ratio.by {
        RatioBy::Mass => {
            let part_a = (base_mass * base.ratio.share_a()).rounded_to(step);
            // The rest, so that the two make up the whole to the scale's step.
            let part_b = Grams(base_mass.rounded_to(step).0 - part_a.0).rounded_to(step);
            Parts::Weighed {
                part_a_g: part_a.0,
                part_b_g: part_b.0,
            }
        }
        RatioBy::Volume => {
            let total_ml = base_mass.0 / base.density_g_ml;
            let part_a_ml = (total_ml * base.ratio.share_a() * 2.0).round() / 2.0;
            let part_b_ml = (total_ml * (1.0 - base.ratio.share_a()) * 2.0).round() / 2.0;
            Parts::ByVolume {
                part_a_ml,
                part_b_ml,
            }
        }
    }
}

/// What goes into one pot of `factor` times the cup.
///
/// Each pigment's drops, neat and let down, are taken together and counted anew; what the recipe weighs is
/// weighed, or counted where it is too little for the scale. What is not wanted is not listed.
fn doses(cup: &Cup<'_>, factor: f64, step: Grams) -> Result<Vec<Dose>> {
    let is_dropped = |portion: &Portion<'_>| matches!(portion.amount, Amount::Drops(_));
    let mut doses = Vec::new();
    let mut done: Vec<&str> = Vec::new();
    for portion in cup.portions.iter().filter(|portion| portion.mass.0 > 0.0) {
        let Pigment {
            name, drop_mass, ..
        } = &*portion.pigment;
        match drop_mass.filter(|_| is_dropped(portion)) {
            None => {
                let wanted = portion.mass * factor;
                match (weighed(portion.colorant(), wanted, step), *drop_mass) {
                    (Ok(dose), Some(_)) if dose.is_well_weighed() => doses.push(dose),
                    // Too little for the scale, but a hand can count it.
                    (_, Some(drop)) => doses.extend(dropped(&[portion], drop, factor, step)?),
                    (dose, None) => doses.push(dose?),
                }
            }
            Some(_) if done.contains(&name.as_str()) => {}
            Some(drop) => {
                done.push(name);
                let of_it = cup.portions.iter();
                let of_it = of_it.filter(|other| other.pigment.name == *name && is_dropped(other));
                doses.extend(dropped(&of_it.collect::<Vec<_>>(), drop, factor, step)?);
            }
        }
    }
    Ok(doses)
}

/// What the clock says after A meets B.
fn timeline(base: &Base) -> Vec<Moment> {
    let [pot_life, gel, demold] = match base.kind.kind() {
        Kind::Skin => [
            "pot life ends: all of it must be in the mould",
            "it gels: what goes behind it may go on now",
            "it may leave the mould, with what is behind it set too",
        ],
        Kind::Foam => [
            "pot life ends: it must be poured before it rises",
            "it gels: leave it alone",
            "it may leave the mould",
        ],
        Kind::Paint => [
            "pot life ends: clean the airbrush before",
            "it no longer levels",
            "it may be handled",
        ],
    };
    [
        (base.pot_life_min, pot_life),
        (base.gel_min, gel),
        (base.demold_min, demold),
    ]
    .into_iter()
    .filter_map(|(minutes, what)| minutes.map(|minutes| Moment { minutes, what }))
    .collect()
}

fn warnings(cup: &Cup<'_>, base_mass: Grams) -> Vec<String> {
    let mut warnings = Vec::new();
    if let Some(minutes) = cup.base.pot_life_min
        && base_mass.0 > LARGE_POT_G
    {
        warnings.push(format!(
            "{base_mass:.0} of {} in one pot is hard to use up in {minutes} min and may overheat: split it with \
             --largest-pot",
            cup.base.name
        ));
    }
    // Each limit is for that pigment alone; of several together each uses up its share.
    let mut pigments: Vec<&Pigment> = cup
        .portions
        .iter()
        .map(|portion| &*portion.pigment)
        .collect();
    pigments.retain(|pigment| pigment.drop_mass.is_some());
    pigments.sort_by(|one, other| one.name.cmp(&other.name));
    pigments.dedup_by(|one, other| one.name == other.name);
    let fraction = |pigment: &&Pigment| cup.fraction(&pigment.name);
    let used_up: f64 = pigments
        .iter()
        .map(|pigment| fraction(pigment) / pigment.max_fraction)
        .sum();
    if used_up > 1.0 {
        let together: f64 = pigments.iter().map(fraction).sum();
        warnings.push(format!(
            "the dispersions together are {:.1} % of {}, more than their limits allow in sum: try whether it cures",
            100.0 * together,
            cup.base.name
        ));
    }
    warnings
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;
    use crate::materials::fixtures::shelf;
    use crate::materials::{Poured, Shelf};

    fn cup<'a>(shelf: &'a Shelf, base: &str, mass: f64, mix: &str) -> Cup<'a> {
        let mix = mix.parse().expect(mix);
        let poured = Poured {
            base: base.to_owned(),
            base_mass: Grams(mass),
            mix,
        };
        Cup::pour(shelf, &poured).expect("a sound cup")
    }

    fn scaled(base: &str, mass: f64, mix: &str, factor: f64) -> Result<Pour> {
        let shelf = shelf();
        let scale = Scale {
            factor,
            largest_pot: None,
        };
        pour(&cup(&shelf, base, mass, mix), scale, &shelf.settings)
    }

    fn doses_of(mass: f64, mix: &str, factor: f64) -> String {
        scaled("skin", mass, mix, factor)
            .and_then(|pour| pour.mix())
            .expect("a batch")
            .to_string()
    }

    #[test]
    fn the_common_ratios_split_as_by_hand() {
        // Common practice, no source: skins go 1:1, foams 100 B to 50 A, both by mass.
        let skin = scaled("skin", 227.0, "", 1.0).expect("a batch").parts;
        assert_eq!(
            skin,
            Parts::Weighed {
                part_a_g: 113.5,
                part_b_g: 113.5
            },
            "1:1"
        );
        let foam = scaled("foam", 300.0, "", 1.0).expect("a batch").parts;
        assert_eq!(
            foam,
            Parts::Weighed {
                part_a_g: 100.0,
                part_b_g: 200.0
            },
            "2:1"
        );
        let paint = scaled("paint", 60.0, "", 1.0).expect("a batch").parts;
        assert_eq!(paint, Parts::Single {}, "one part");
    }

    #[test]
    fn a_ratio_by_volume_is_measured_by_volume() {
        let mut shelf = shelf();
        shelf.bases[0].ratio = crate::materials::MixRatio {
            part_a: 1.0,
            part_b: 2.0,
            by: RatioBy::Volume,
        };
        shelf.bases[0].density_g_ml = 1.25;
        let pour = pour(
            &cup(&shelf, "skin", 375.0, ""),
            Scale {
                factor: 1.0,
                largest_pot: None,
            },
            &shelf.settings,
        );
        let parts = pour.expect("a batch").parts;
        assert_eq!(
            parts,
            Parts::ByVolume {
                part_a_ml: 100.0,
                part_b_ml: 200.0
            },
            "300 ml in all"
        );
    }

    #[test]
    fn ten_times_the_batch_counts_let_downs_as_drops_and_weighs_the_rest() {
        let ten = doses_of(600.0, "red 1:10 7; fibre 12.5 g", 10.0);
        assert_eq!(ten, "red 7; fibre 125 g", "seventy tenths are seven drops");
        assert_eq!(
            doses_of(600.0, "red 3", 10.0),
            "red 0.9 g",
            "thirty drops are weighed"
        );
    }

    #[test]
    fn a_small_batch_falls_back_on_let_downs_and_never_on_nothing() {
        assert_eq!(
            doses_of(600.0, "red 3", 0.1),
            "red 1:10 3",
            "three tenths of a drop"
        );
        assert_eq!(
            doses_of(600.0, "red 1", 1.0 / 30.0),
            "red 1:100 3",
            "a thirtieth of a drop"
        );
        let nothing = scaled("skin", 600.0, "red 1", 1e-4).expect_err("a ten-thousandth of a drop");
        assert!(
            nothing.to_string().contains("can't be measured"),
            "{nothing}"
        );
        let dust =
            scaled("skin", 600.0, "fibre 1 g", 1e-3).expect_err("a milligram on a 10 mg scale");
        assert!(dust.to_string().contains("can't be weighed"), "{dust}");
    }

    #[test]
    fn a_let_down_keeps_its_ratio_where_whole_drops_of_it_are_near_enough() {
        assert_eq!(doses_of(600.0, "red 1:5 3", 2.0), "red 1:5 6", "twice");
        assert_eq!(
            doses_of(600.0, "red 1:20 7", 10.0),
            "red 3; red 1:20 10",
            "three and a half drops"
        );
        assert_eq!(
            doses_of(600.0, "red 3; red 1:5 3", 0.5),
            "red 1; red 1:5 4",
            "nine fifths of a drop"
        );
    }

    #[test]
    fn what_is_too_little_for_the_scale_is_counted_and_nothing_is_not_listed() {
        // 12 mg, on a scale of 10 mg: four tenths of a drop of 30 mg.
        assert_eq!(
            doses_of(600.0, "red 2 g; fibre 0 g", 0.006),
            "red 1:10 4",
            "counted"
        );
        assert_eq!(
            doses_of(600.0, "red 2 g", 1.0),
            "red 2 g",
            "weighed as written"
        );
    }

    #[test]
    fn a_cup_as_it_is_keeps_the_counts_of_its_recipe() {
        let mix = "red 1; red 1:10 13";
        assert_eq!(doses_of(600.0, mix, 1.0), mix, "not counted anew");
        // 21 drops are 0.63 g, which the scale of 0.01 g shows; of 0.1 g it would be off by 5 %.
        assert_eq!(
            doses_of(600.0, "red 21", 1.0),
            "red 0.63 g",
            "weighed where the scale is fine"
        );
        let mut shelf = shelf();
        shelf.settings.scale_resolution = Grams(0.1);
        let scale = Scale {
            factor: 1.0,
            largest_pot: None,
        };
        let coarse = pour(
            &cup(&shelf, "skin", 600.0, "red 21"),
            scale,
            &shelf.settings,
        );
        let coarse = coarse
            .and_then(|pour| pour.mix())
            .expect("a batch")
            .to_string();
        assert_eq!(coarse, "red 21", "counted where it is coarse");
    }

    #[test]
    fn pots_are_alike_and_none_is_too_large() {
        let shelf = shelf();
        let cup = cup(&shelf, "skin", 60.0, "red 1");
        let scale = |factor, largest| Scale {
            factor,
            largest_pot: Some(Grams(largest)),
        };
        let three = pour(&cup, scale(10.0, 250.0), &shelf.settings).expect("a batch");
        assert_eq!(three.pots, 3, "600 g in pots of at most 250 g");
        assert_abs_diff_eq!(three.base_g, 200.0, epsilon = 1e-9);
        let ten = pour(&cup, scale(10.0, 60.0), &shelf.settings).expect("a batch");
        assert_eq!(ten.pots, 10, "no eleventh by rounding");
        assert!(
            pour(&cup, scale(1e6, 60.0), &shelf.settings).is_err(),
            "a million pots"
        );
    }

    #[test]
    fn a_large_pot_and_a_heavy_load_are_warned_of() {
        let large = scaled("skin", 600.0, "", 5.0).expect("a batch").warnings;
        assert!(large[0].contains("may overheat"), "{large:?}");
        let loaded = scaled("skin", 60.0, "red 120; white 90", 1.0)
            .expect("a batch")
            .warnings;
        assert!(loaded[0].contains("dispersions together"), "{loaded:?}");
        let usual = scaled("skin", 600.0, "red 3", 1.0)
            .expect("a batch")
            .warnings;
        assert!(usual.is_empty(), "{usual:?}");
    }

    #[test]
    fn nonsense_is_refused() {
        let shelf = shelf();
        let cup = cup(&shelf, "skin", 60.0, "");
        for scale in [
            Scale {
                factor: 0.0,
                largest_pot: None,
            },
            Scale {
                factor: f64::NAN,
                largest_pot: None,
            },
            Scale {
                factor: 1.0,
                largest_pot: Some(Grams(0.0)),
            },
        ] {
            assert!(pour(&cup, scale, &shelf.settings).is_err(), "{scale:?}");
        }
    }
}
