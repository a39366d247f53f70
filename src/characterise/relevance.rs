//! Castings that a maker may come to make, and how their colour hangs on the unknowns.

use nalgebra::DMatrix;

use super::change::{along_axis, colour_change, indices};
use super::chip::{Chip, Setup, Supposed};
use super::unknowns::Unknowns;
use crate::colour::{Lab, Spectrum, TristimulusWeights};
use crate::materials::{
    Amount, Base, BaseKind, Build, Casting, Colorant, Contact, Grams, Kind, Material, Millimetres,
    Mix, Pigment, Poured, Shelf, Underlay,
};
use crate::optics::Coefficients;

/// Evenly spread numbers from 0 to 1 in as many dimensions as are asked for, the same at every run.
///
/// Source: the additive recurrence on square roots of primes, R. D. Richtmyer (1951), Los Alamos report LA-1342
/// (report number from memory).
pub(super) struct Even {
    point: f64,
    dimension: usize,
}

impl Even {
    /// The `point`-th of the set.
    pub(super) fn new(point: u32) -> Self {
        Self {
            point: f64::from(point) + 1.0,
            dimension: 0,
        }
    }

    /// The number along the next dimension.
    pub(super) fn next(&mut self) -> f64 {
        const PRIMES: [f64; 40] = [
            2.0, 3.0, 5.0, 7.0, 11.0, 13.0, 17.0, 19.0, 23.0, 29.0, 31.0, 37.0, 41.0, 43.0, 47.0,
            53.0, 59.0, 61.0, 67.0, 71.0, 73.0, 79.0, 83.0, 89.0, 97.0, 101.0, 103.0, 107.0, 109.0,
            113.0, 127.0, 131.0, 137.0, 139.0, 149.0, 151.0, 157.0, 163.0, 167.0, 173.0,
        ];
        let prime = PRIMES[self.dimension % PRIMES.len()];
        self.dimension += 1;
        (self.point * prime.sqrt()).fract()
    }

    /// A index among `count` by the next dimension.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a share of a count is from 0 up to it"
    )]
    fn of(&mut self, count: usize) -> usize {
        (self.next() * count as f64) as usize
    }

    /// The number along the next dimension, from `low` to `high`.
    pub(super) fn within(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.next()
    }
}

/// A casting's colour, and how it changes with each unknown: three rows.
pub(super) struct Sight {
    pub(super) lab: Lab,
    pub(super) rows: DMatrix<f64>,
    /// How it changes with each nuisance of the casting's own.
    pub(super) by_nuisance: DMatrix<f64>,
}

/// Foam of this thickness hides what it lies on.
const OPAQUE_FOAM: Millimetres = Millimetres(30.0);

/// A mass of base that makes fractions plain, g.
const BASE_G: f64 = 1000.0;

/// The `point`-th of an even set of castings on `shelf`: films of any strength from barely tinted to nearly opaque, of a few
/// of the pigments, over light, dark and skin-coloured backings. Where foams are known, a quarter of them over tinted foam, and
/// a quarter tinted foam alone.
pub(super) fn casting(shelf: &Shelf, unknowns: &Unknowns, point: u32) -> Option<Build> {
    let mut even = Even::new(point);
    let known = shelf
        .bases
        .iter()
        .filter(|base| unknowns.index(&Material::Base(base.name.clone())).is_some());
    let (foams, bases): (Vec<&Base>, Vec<&Base>) =
        known.partition(|base| base.kind.kind() == Kind::Foam);
    let index = point as usize;
    let film = |even: &mut Even| {
        let base = bases.get(index % bases.len().max(1))?;
        tint(shelf, base, unknowns, even)
    };
    let foam = |even: &mut Even| {
        let base = foams.get(index / 4 % foams.len().max(1))?;
        tint(shelf, base, unknowns, even)
    };
    match index % 4 {
        1 if !foams.is_empty() => Some(Build {
            beneath: Underlay::Foam(foam(&mut even)?.skin),
            ..film(&mut even)?
        }),
        3 if !foams.is_empty() => Some(Build {
            thickness: OPAQUE_FOAM,
            ..foam(&mut even)?
        }),
        _ => film(&mut even),
    }
}

/// A film of `base` with a few of the pigments in it, as `even` has it.
pub(super) fn tint(
    shelf: &Shelf,
    base: &Base,
    unknowns: &Unknowns,
    even: &mut Even,
) -> Option<Build> {
    let thickness_mm = match base.kind {
        BaseKind::Paint { .. } => even.within(0.02, 0.15),
        BaseKind::Skin | BaseKind::Foam(_) => even.within(0.8, 3.5),
    };
    let backing = &shelf.backings[even.of(shelf.backings.len())];
    let mut entries = Vec::new();
    for pigment in &shelf.pigments {
        let (taken, strength) = (even.next() < 0.5, even.next());
        let known = unknowns
            .index(&Material::Pigment(pigment.name.clone()))
            .is_some();
        if known && taken {
            let fraction =
                fraction(pigment, depth(strength), thickness_mm).min(pigment.max_fraction);
            let mass = Grams(fraction * BASE_G / (1.0 - fraction));
            entries.push((Colorant::neat(&pigment.name), Amount::Mass(mass)));
        }
    }
    Some(Build {
        skin: Poured {
            base: base.name.clone(),
            base_mass: Grams(BASE_G),
            mix: Mix::new(entries).expect("each pigment of the shelf is there once"),
        },
        thickness: Millimetres(thickness_mm),
        beneath: Underlay::Backing {
            name: backing.name.clone(),
            contact: Contact::Bonded,
        },
        paint: None,
    })
}

/// An optical depth from barely to be seen to nearly opaque, for a strength from 0 to 1.
pub(super) fn depth(strength: f64) -> f64 {
    0.03 * 60.0_f64.powf(strength)
}

/// The fraction of `pigment` that gives a film this thick (mm) the optical depth; of one that scatters rather than absorbs,
/// four times as deep is as strong.
pub(super) fn fraction(pigment: &Pigment, depth: f64, thickness_mm: f64) -> f64 {
    let Coefficients { k, s } = &pigment.coefficients;
    depth / (mean(k).max(mean(s) / 4.0) * thickness_mm)
}

fn mean(curve: &Spectrum) -> f64 {
    let values = curve.values();
    values.iter().sum::<f64>() / values.len() as f64
}

/// How the colour of `chip` by `setup` hangs on the unknowns, its materials being as `supposed`.
pub(super) fn sight(
    chip: &Chip,
    supposed: &Supposed,
    setup: &Setup,
    shelf: &Shelf,
    weights: &TristimulusWeights,
    count: usize,
) -> Sight {
    let change = chip.change(
        supposed,
        &vec![0.0; chip.nuisances.len()],
        setup,
        &shelf.settings,
    );
    let (lab, axes) = colour_change(&change.reflectance, weights);
    let mut rows = DMatrix::zeros(3, count);
    let indices: Vec<usize> = indices(chip).collect();
    let mut by_nuisance = DMatrix::zeros(3, chip.nuisances.len());
    for (row, axis) in axes.iter().enumerate() {
        let (entries, nuisances) = along_axis(&change, axis);
        for (own, by) in entries {
            rows[(row, indices[own])] += by;
        }
        for (nuisance, by) in nuisances.into_iter().enumerate() {
            by_nuisance[(row, nuisance)] = by;
        }
    }
    Sight {
        lab,
        rows,
        by_nuisance,
    }
}

/// The chip of `build` without any reading, and how it would be read.
pub(super) fn unread(shelf: &Shelf, unknowns: &Unknowns, build: &Build) -> Option<(Chip, Setup)> {
    let casting = Casting::new(shelf, build).ok()?;
    Some((Chip::new(&casting, unknowns), Setup::of(&casting)))
}
