//! Castings that a maker may come to make, and how their colour hangs on the unknowns.

use nalgebra::DMatrix;

use super::chip::{Chip, Setup, colour_change};
use super::fit::{along_axis, places};
use super::unknowns::Unknowns;
use crate::colour::{Lab, Spectrum, TristimulusWeights};
use crate::materials::{
    Amount, BaseKind, Build, Casting, Colorant, Contact, Grams, Kind, Material, Millimetres, Mix,
    Poured, Shelf, Underlay,
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

    /// The number along the next dimension, from `low` to `high`.
    pub(super) fn within(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.next()
    }
}

/// A casting's colour, and how it changes with each unknown: three rows.
pub(super) struct Sight {
    pub(super) lab: Lab,
    pub(super) rows: DMatrix<f64>,
}

/// A mass of base that makes fractions plain, g.
const BASE_G: f64 = 1000.0;

/// The `point`-th of an even set of castings on `shelf`: films of any strength from barely tinted to nearly opaque, of a few
/// of the pigments, over light, dark and skin-coloured backings.
pub(super) fn casting(shelf: &Shelf, unknowns: &Unknowns, point: u32) -> Option<Build> {
    let mut even = Even::new(point);
    let bases: Vec<_> = shelf
        .bases
        .iter()
        .filter(|base| base.kind.kind() != Kind::Foam)
        .filter(|base| unknowns.place(&Material::Base(base.name.clone())).is_some())
        .collect();
    let base = bases.get(point as usize % bases.len().max(1))?;
    let thickness_mm = match base.kind {
        BaseKind::Paint { .. } => even.within(0.02, 0.15),
        BaseKind::Skin | BaseKind::Foam(_) => even.within(0.8, 3.5),
    };
    let mut entries = Vec::new();
    for pigment in &shelf.pigments {
        let (taken, strength) = (even.next() < 0.5, even.next());
        let known = unknowns
            .place(&Material::Pigment(pigment.name.clone()))
            .is_some();
        if known && taken {
            let Coefficients { k, s } = &pigment.coefficients;
            let unit = mean(k).max(mean(s) / 4.0);
            // From a twentieth of an optical depth to three.
            let depth = 0.05 * 60.0_f64.powf(strength);
            let fraction = (depth / (unit * thickness_mm)).min(pigment.max_fraction);
            let mass = Grams(fraction * BASE_G / (1.0 - fraction));
            entries.push((Colorant::neat(&pigment.name), Amount::Mass(mass)));
        }
    }
    let backing = &shelf.backings[point as usize / bases.len() % shelf.backings.len()];
    Some(Build {
        skin: Poured {
            base: base.name.clone(),
            base_mass: Grams(BASE_G),
            mix: Mix::new(entries).ok()?,
        },
        thickness: Millimetres(thickness_mm),
        beneath: Underlay::Backing {
            name: backing.name.clone(),
            contact: Contact::Bonded,
        },
        paint: None,
    })
}

fn mean(curve: &Spectrum) -> f64 {
    let values = curve.values();
    values.iter().sum::<f64>() / values.len() as f64
}

/// How the colour of `chip` by `setup` hangs on the unknowns, at `curves` of its own materials.
pub(super) fn sight(
    chip: &Chip,
    curves: &[Coefficients],
    setup: &Setup,
    shelf: &Shelf,
    weights: &TristimulusWeights,
    count: usize,
) -> Sight {
    let change = chip.change(curves, &vec![0.0; chip.slips.len()], setup, &shelf.settings);
    let (lab, axes) = colour_change(&change.reflectance, weights);
    let mut rows = DMatrix::zeros(3, count);
    let places: Vec<usize> = places(chip).collect();
    for (row, axis) in axes.iter().enumerate() {
        for (own, by) in along_axis(&change, axis).0 {
            rows[(row, places[own])] += by;
        }
    }
    Sight { lab, rows }
}

/// The chip of `build` without any reading, and how it would be read.
pub(super) fn unread(shelf: &Shelf, unknowns: &Unknowns, build: &Build) -> Option<(Chip, Setup)> {
    let casting = Casting::new(shelf, build).ok()?;
    Some((Chip::new(&casting, unknowns), Setup::of(&casting)))
}
