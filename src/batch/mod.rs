//! From a recipe to what hands do: masses of A and B, drops or grams, pots, and the clock.

use serde::{Serialize, Serializer};

use crate::error::Error;
use crate::materials::{Amount, Base, Colorant, Cup, Grams, Portion, Settings, check_range};
use crate::recipe::{dose, whole_number};

/// Most drops that a hand counts without losing count; more are weighed. Common practice, no source.
const MOST_DROPS: f64 = 20.0;

/// The handiest way to measure is taken if it is this near to what the scaled recipe wants (relative).
const NEAR_ENOUGH: f64 = 0.02;

/// Parts of the let-down that is offered where whole drops are too coarse and the recipe names none.
const LET_DOWN_PARTS: f64 = 10.0;

/// Smallest pot, g.
const LEAST_POT_G: f64 = 1.0;

/// One cup, ready to be mixed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Pour {
    /// Name of the base.
    pub base: String,
    /// Word for the kind of base: `skin`, `foam` or `paint`.
    pub kind: &'static str,
    /// How many pots of this size, one after the other.
    pub pots: u32,
    /// Mass of the mixed base in one pot, g.
    pub base_g: f64,
    /// Part A in one pot, g.
    pub part_a_g: f64,
    /// Part B in one pot, g; 0 for a base of one part.
    pub part_b_g: f64,
    /// The part that the pigment is stirred into before A and B meet.
    pub pigment_goes_into: Part,
    /// What goes into one pot besides the base.
    pub doses: Vec<Dose>,
    /// When to do what, from the moment A meets B.
    pub timeline: Vec<Moment>,
}

/// A part of a base.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub enum Part {
    /// Part B: the side without isocyanate, which bears the moisture that a dispersion may bring along. Common
    /// practice, no source.
    B,
    /// The only part of a base that comes as one.
    Only,
}

/// One colorant in a pot.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Dose {
    /// The pigment, with the ratio of a let-down.
    #[serde(serialize_with = "written")]
    pub colorant: Colorant,
    /// How much, in the way it is measured.
    #[serde(flatten)]
    pub measure: Measure,
    /// By how much what is measured is off what the recipe wants, relative.
    pub rounding: f64,
}

fn written<S: Serializer>(colorant: &Colorant, to: S) -> Result<S::Ok, S::Error> {
    to.collect_str(colorant)
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
#[derive(Clone, Debug, PartialEq, Serialize)]
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

impl Scale {
    /// The cup as it is, in one pot.
    pub const ONE: Self = Self {
        factor: 1.0,
        largest_pot: None,
    };
}

/// Works out the pots for `cup`, scaled.
///
/// # Errors
/// A factor that is not above zero; a batch of less or more than a cup can be; pots below a gram.
pub fn pour(cup: &Cup<'_>, scale: Scale, settings: &Settings) -> crate::Result<Pour> {
    if !(scale.factor > 0.0 && scale.factor.is_finite()) {
        return Err(Error::input(format!(
            "a batch of {} times the recipe; expected more than none",
            scale.factor
        )));
    }
    let total = cup.base_mass * scale.factor;
    check_range("the mass of the batch", total.0, Cup::BASE_MASS_G, "g")?;
    let pots = match scale.largest_pot {
        Some(largest) if largest.0 < LEAST_POT_G => {
            return Err(Error::input(format!(
                "pots of {largest}; expected at least {LEAST_POT_G} g"
            )));
        }
        // The slack keeps ten pots of 60 g from becoming eleven by rounding.
        Some(largest) => (total.0 / largest.0 - 1e-9).ceil().max(1.0),
        None => 1.0,
    };
    let in_one = scale.factor / pots;
    let base_mass = cup.base_mass * in_one;
    let (part_a, part_b) = cup.base.ratio.split(base_mass);
    let step = settings.scale_resolution;
    Ok(Pour {
        base: cup.base.name.clone(),
        kind: cup.base.kind.word(),
        pots: whole_number(pots),
        base_g: base_mass.rounded_to(step).0,
        part_a_g: part_a.rounded_to(step).0,
        part_b_g: part_b.rounded_to(step).0,
        pigment_goes_into: if cup.base.ratio.part_b > 0.0 {
            Part::B
        } else {
            Part::Only
        },
        doses: doses(cup, in_one, step),
        timeline: timeline(cup.base),
    })
}

/// What goes into one pot of `factor` times the cup.
///
/// Each pigment's drops, neat and let down, are taken together and counted anew; what the recipe weighs is
/// weighed, or counted in drops where it is too little for the scale.
fn doses(cup: &Cup<'_>, factor: f64, step: Grams) -> Vec<Dose> {
    let mut doses = Vec::new();
    let mut done: Vec<&str> = Vec::new();
    for portion in cup.portions.iter().filter(|portion| portion.mass.0 > 0.0) {
        let name = portion.pigment.name.as_str();
        match (portion.amount, portion.pigment.drop_mass) {
            (Amount::Drops(_), Some(_)) if done.contains(&name) => {}
            (Amount::Drops(_), Some(drop)) => {
                done.push(name);
                let of_it: Vec<&Portion<'_>> = cup
                    .portions
                    .iter()
                    .filter(|other| {
                        other.pigment.name == name && matches!(other.amount, Amount::Drops(_))
                    })
                    .collect();
                doses.extend(dropped(&of_it, drop, factor, step));
            }
            (_, drop) => {
                let weighed = weighed(portion.colorant(), portion.mass * factor, step);
                match drop {
                    Some(drop) if weighed.rounding.abs() > NEAR_ENOUGH => {
                        doses.extend(dropped(&[portion], drop, factor, step));
                    }
                    _ => doses.push(weighed),
                }
            }
        }
    }
    doses
}

fn weighed(colorant: Colorant, wanted: Grams, step: Grams) -> Dose {
    let mass = wanted.rounded_to(step);
    Dose {
        colorant,
        measure: Measure::MassG(mass.0),
        rounding: mass.0 / wanted.0 - 1.0,
    }
}

/// The handiest way to measure `factor` times the drops of one pigment: the recipe's own counts, whole drops,
/// drops and let-down drops, or the scale.
fn dropped(portions: &[&Portion<'_>], drop: Grams, factor: f64, step: Grams) -> Vec<Dose> {
    let neat = portions[0].pigment.name.as_str();
    let wanted = portions
        .iter()
        .map(|portion| portion.dispersion_mass())
        .sum::<Grams>()
        * factor;
    let wanted_drops = wanted.0 / drop.0;
    let parts = portions
        .iter()
        .map(|portion| portion.let_down)
        .fold(1.0, f64::max);
    let parts = if parts > 1.0 { parts } else { LET_DOWN_PARTS };

    let counted = |counts: Vec<(f64, f64)>| -> Option<Vec<Dose>> {
        let given: f64 = counts.iter().map(|(parts, count)| count / parts).sum();
        let rounding = given / wanted_drops - 1.0;
        counts
            .iter()
            .all(|(_, count)| *count <= MOST_DROPS && count.fract() == 0.0)
            .then(|| {
                let kinds = counts.iter().filter(|(_, count)| *count > 0.0);
                kinds
                    .map(|(parts, count)| Dose {
                        colorant: Colorant {
                            pigment: neat.to_owned(),
                            let_down: *parts,
                        },
                        measure: Measure::Drops(whole_number(*count)),
                        rounding,
                    })
                    .collect()
            })
    };
    let as_written = portions.iter().map(|portion| match portion.amount {
        Amount::Drops(count) => (portion.let_down, count * factor),
        Amount::Mass(_) => (portion.let_down, f64::NAN),
    });
    let (whole, rest) = dose(wanted_drops, parts);
    let ways = [
        counted(as_written.collect()),
        counted(vec![(1.0, wanted_drops.round())]),
        counted(vec![(1.0, f64::from(whole)), (parts, f64::from(rest))]),
        Some(vec![weighed(Colorant::neat(neat), wanted, step)]),
    ];
    // A way in which nothing goes in would hide that something is wanted.
    let ways: Vec<Vec<Dose>> = ways
        .into_iter()
        .flatten()
        .filter(|way| !way.is_empty())
        .collect();
    let off = |way: &Vec<Dose>| way[0].rounding.abs();
    let handiest = ways.iter().find(|way| off(way) <= NEAR_ENOUGH);
    let nearest = ways
        .iter()
        .min_by(|one, other| off(one).total_cmp(&off(other)));
    handiest.or(nearest).cloned().unwrap_or_default()
}

/// What the clock says after A meets B.
fn timeline(base: &Base) -> Vec<Moment> {
    [
        (base.pot_life_min, "pot life ends: it must be in the mould"),
        (base.gel_min, "it gels: don't touch it"),
        (base.demold_min, "it may leave the mould"),
    ]
    .into_iter()
    .filter_map(|(minutes, what)| minutes.map(|minutes| Moment { minutes, what }))
    .collect()
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;
    use crate::colour::Viewing;
    use crate::materials::{
        BaseKind, CoefficientSpread, Millimetres, MixRatio, Pigment, RatioBy, Shelf,
    };
    use crate::optics::{Coefficients, Specular, Surface};

    fn shelf(part_a: f64, part_b: f64) -> Shelf {
        let pigment = |name: &str, drop_mass| Pigment {
            name: name.to_owned(),
            drop_mass,
            max_fraction: 0.1,
            lot: String::new(),
            like: String::new(),
            coefficients: Coefficients::CLEAR,
            spread: CoefficientSpread::NONE,
        };
        Shelf {
            settings: Settings {
                name: String::new(),
                viewing: Viewing::D65_10,
                surface: Surface::new(1.5, Specular::Included).expect("in range"),
                drop_sd: 0.08,
                thickness_sd: Millimetres(0.1),
                scale_resolution: Grams(0.01),
            },
            bases: vec![Base {
                name: "clear skin".to_owned(),
                kind: BaseKind::Skin,
                density_g_ml: 1.05,
                ratio: MixRatio {
                    part_a,
                    part_b,
                    by: RatioBy::Mass,
                },
                pot_life_min: Some(4.0),
                gel_min: None,
                demold_min: Some(60.0),
                coefficients: Coefficients::CLEAR,
                spread: CoefficientSpread::NONE,
            }],
            pigments: vec![pigment("red", Some(Grams(0.03))), pigment("fibre", None)],
            backings: Vec::new(),
        }
    }

    fn poured(parts: (f64, f64), mass: f64, mix: &str, scale: Scale) -> Pour {
        let shelf = shelf(parts.0, parts.1);
        let mix = mix.parse().expect(mix);
        let cup = Cup::pour(&shelf, "clear skin", Grams(mass), &mix).expect("a sound cup");
        pour(&cup, scale, &shelf.settings).expect("a sound batch")
    }

    fn doses_of(mass: f64, mix: &str, factor: f64) -> Vec<(String, Measure)> {
        let scale = Scale {
            factor,
            largest_pot: None,
        };
        let pour = poured((1.0, 1.0), mass, mix, scale);
        pour.doses
            .into_iter()
            .map(|dose| (dose.colorant.to_string(), dose.measure))
            .collect()
    }

    #[test]
    fn the_common_ratios_split_as_by_hand() {
        // Common practice, no source: skins go 1:1, foams 100 B to 50 A, both by mass.
        let skin = poured((1.0, 1.0), 227.0, "", Scale::ONE);
        assert_eq!((skin.part_a_g, skin.part_b_g), (113.5, 113.5), "1:1");
        let foam = poured((50.0, 100.0), 300.0, "", Scale::ONE);
        assert_eq!(
            (foam.part_a_g, foam.part_b_g),
            (100.0, 200.0),
            "50 A to 100 B, 2:1"
        );
    }

    #[test]
    fn ten_times_the_batch_counts_let_downs_as_drops_and_weighs_the_rest() {
        let ten = doses_of(600.0, "red 1:10 7; fibre 12.5 g", 10.0);
        assert_eq!(
            ten[0],
            ("red".to_owned(), Measure::Drops(7)),
            "seventy tenths are seven drops"
        );
        assert_eq!(
            ten[1],
            ("fibre".to_owned(), Measure::MassG(125.0)),
            "weighed"
        );
        let many = doses_of(600.0, "red 3", 10.0);
        assert_eq!(
            many[0],
            ("red".to_owned(), Measure::MassG(0.9)),
            "thirty drops are weighed"
        );
    }

    #[test]
    fn a_small_batch_falls_back_on_a_let_down() {
        let patch = doses_of(600.0, "red 3", 0.1);
        assert_eq!(
            patch,
            [("red 1:10".to_owned(), Measure::Drops(3))],
            "three tenths of a drop"
        );
    }

    #[test]
    fn what_is_too_little_for_the_scale_is_counted_and_nothing_is_not_listed() {
        let patch = doses_of(600.0, "red 2 g; fibre 0 g", 0.006);
        assert_eq!(
            patch,
            [("red 1:10".to_owned(), Measure::Drops(4))],
            "12 mg, on a scale of 10 mg: four tenths of a drop of 30 mg"
        );
        assert_eq!(
            doses_of(600.0, "red 1", 0.001),
            [("red".to_owned(), Measure::MassG(0.0))],
            "listed, though it comes to nothing"
        );
        let whole = doses_of(600.0, "red 2 g", 1.0);
        assert_eq!(
            whole,
            [("red".to_owned(), Measure::MassG(2.0))],
            "weighed as written"
        );
    }

    #[test]
    fn a_cup_as_it_is_keeps_the_counts_of_its_recipe() {
        let same = doses_of(600.0, "red 1; red 1:10 13", 1.0);
        assert_eq!(
            same[1],
            ("red 1:10".to_owned(), Measure::Drops(13)),
            "not counted anew"
        );
    }

    #[test]
    fn pots_are_alike_and_none_is_too_large() {
        let scale = Scale {
            factor: 10.0,
            largest_pot: Some(Grams(250.0)),
        };
        let pour = poured((1.0, 1.0), 60.0, "red 1", scale);
        assert_eq!(pour.pots, 3, "600 g in pots of at most 250 g");
        assert_abs_diff_eq!(pour.base_g, 200.0, epsilon = 1e-9);
    }

    #[test]
    fn nonsense_is_refused() {
        let shelf = shelf(1.0, 1.0);
        let cup = Cup::pour(
            &shelf,
            "clear skin",
            Grams(60.0),
            &"".parse().expect("empty"),
        )
        .expect("sound");
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
