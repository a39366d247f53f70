//! Mixes of chips that a hand can measure.

use super::relevance::{self, Even};
use crate::materials::{Amount, Colorant, Grams, Millimetres, Mix, Pigment, Shelf};

/// Thickness of a planned chip.
pub const CHIP_THICKNESS: Millimetres = Millimetres(2.0);

/// One drop alone scatters too much for its mass to be known. This project's choice.
const FEWEST_DROPS: f64 = 2.0;
/// A let-down is made for at least so many.
const FEWEST_OF_A_JAR: f64 = 4.0;
/// More drops than this are miscounted.
const MOST_DROPS: f64 = 30.0;
/// So many parts of a let-down hold one of the bottle: those that the bench knows.
const RATIOS: [f64; 2] = [10.0, 20.0];

type Entry = (Colorant, Amount);

/// The let-downs that go into `mix`.
pub(super) fn jars_of(mix: &Mix) -> impl Iterator<Item = Colorant> {
    let entries = mix.entries().iter();
    entries
        .filter(|(colorant, _)| colorant.let_down > 1.0)
        .map(|(colorant, _)| colorant.clone())
}

/// The work of a chip: one for each dose, a twentieth for each drop beyond ten, two for each jar that has to be made. This
/// project's choice.
pub(super) fn work(mix: &Mix, new_jars: usize) -> f64 {
    let doses = mix.entries().iter().map(|(_, amount)| match amount {
        Amount::Drops(count) => 1.0 + 0.05 * (count - 10.0).max(0.0),
        Amount::Mass(_) => 1.0,
    });
    doses.sum::<f64>() + 2.0 * new_jars as f64
}

/// Mixes that a hand can measure into `base_mass`: the base alone; each pigment in a few strengths, alone and with white; and
/// tints of several, by the bottle, with one of them let down, and with two.
pub(super) fn mixes(shelf: &Shelf, base_mass: Grams) -> Vec<Mix> {
    /// Optical depths of a pigment in a chip.
    const DEPTHS: [f64; 4] = [0.1, 0.4, 1.0, 2.5];
    /// Those of white beside it.
    const WHITES: [f64; 2] = [0.6, 2.0];
    const TINTS: u32 = 48;
    let white =
        (shelf.pigments.iter()).find(|pigment| pigment.is_white() && pigment.drop_mass.is_some());
    let mut mixes = vec![Vec::new()];
    for pigment in &shelf.pigments {
        for depth in DEPTHS {
            let Some(own) = measured(shelf, pigment, depth, base_mass) else {
                continue;
            };
            mixes.push(vec![own.clone()]);
            let Some(white) = white.filter(|white| white.name != pigment.name) else {
                continue;
            };
            let whites = WHITES
                .into_iter()
                .filter_map(|depth| bottled(white, depth, base_mass));
            mixes.extend(whites.map(|white| vec![own.clone(), white]));
        }
    }
    for point in 0..TINTS {
        let mut even = Even::new(point);
        let mut neat = Vec::new();
        let mut in_jars = Vec::new();
        for pigment in &shelf.pigments {
            let (taken, strength) = (even.next() < 0.5, even.next());
            let depth = relevance::depth(strength);
            if !taken {
                continue;
            }
            let by_bottle = if pigment.drop_mass.is_some() {
                bottled(pigment, depth, base_mass)
            } else {
                weighed(shelf, pigment, depth, base_mass)
            };
            match by_bottle {
                Some(entry) => neat.push(entry),
                None => in_jars.extend(let_down(pigment, depth, base_mass)),
            }
        }
        mixes.push(neat.clone());
        for (index, jar) in in_jars.iter().enumerate() {
            let with = |more: &[&Entry]| {
                let more = more.iter().map(|entry| (*entry).clone());
                neat.iter().cloned().chain(more).collect()
            };
            mixes.push(with(&[jar]));
            mixes.extend(in_jars[..index].iter().map(|other| with(&[other, jar])));
        }
    }
    let mut sound: Vec<Mix> = Vec::new();
    for mix in mixes
        .into_iter()
        .filter_map(|entries| Mix::new(entries).ok())
    {
        if !sound.contains(&mix) {
            sound.push(mix);
        }
    }
    sound
}

/// As much of `pigment` as makes a chip of this optical depth: in drops that can be counted, let down where the bottle's are
/// too coarse, or by the scale; `None` where neither can, or it would not cure.
pub(super) fn measured(
    shelf: &Shelf,
    pigment: &Pigment,
    depth: f64,
    base_mass: Grams,
) -> Option<Entry> {
    if pigment.drop_mass.is_none() {
        return weighed(shelf, pigment, depth, base_mass);
    }
    bottled(pigment, depth, base_mass).or_else(|| let_down(pigment, depth, base_mass))
}

/// In drops of its bottle.
fn bottled(pigment: &Pigment, depth: f64, base_mass: Grams) -> Option<Entry> {
    let drops = (mass(pigment, depth, base_mass)? / pigment.drop_mass?.0).round();
    (FEWEST_DROPS..=MOST_DROPS)
        .contains(&drops)
        .then(|| (Colorant::neat(&pigment.name), Amount::Drops(drops)))
}

/// In drops of a let-down.
fn let_down(pigment: &Pigment, depth: f64, base_mass: Grams) -> Option<Entry> {
    let neat = mass(pigment, depth, base_mass)? / pigment.drop_mass?.0;
    RATIOS.into_iter().find_map(|let_down| {
        let drops = (neat * let_down).round();
        (FEWEST_OF_A_JAR..=MOST_DROPS).contains(&drops).then(|| {
            let colorant = Colorant {
                pigment: pigment.name.clone(),
                let_down,
            };
            (colorant, Amount::Drops(drops))
        })
    })
}

/// On the scale.
fn weighed(shelf: &Shelf, pigment: &Pigment, depth: f64, base_mass: Grams) -> Option<Entry> {
    let resolution = shelf.settings.scale_resolution;
    let mass = Grams(mass(pigment, depth, base_mass)?).rounded_to(resolution);
    let is_weighed_well = mass.0 >= 5.0 * resolution.0;
    is_weighed_well.then(|| (Colorant::neat(&pigment.name), Amount::Mass(mass)))
}

/// The mass of `pigment`, g, for this optical depth; `None` where so much would not cure.
fn mass(pigment: &Pigment, depth: f64, base_mass: Grams) -> Option<f64> {
    let fraction = relevance::fraction(pigment, depth, CHIP_THICKNESS.0);
    let cures = fraction <= pigment.max_fraction;
    cures.then(|| fraction * base_mass.0 / (1.0 - fraction))
}
