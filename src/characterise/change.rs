//! How the reading of a chip changes with each unknown, by differences through whatever layer model the shelf names.

use std::ops::Range;

use super::chip::{Chip, NuisanceOf, Setup, Supposed};
use super::unknowns::{OF_A_FOAM, OF_A_MATERIAL};
use crate::colour::{Lab, SAMPLES, Spectrum, TristimulusWeights};
use crate::materials::Settings;
use crate::optics::{Coefficients, Foam, Medium};

/// The reading of a chip, and its changes.
#[derive(Clone, Debug)]
pub(super) struct Change {
    pub(super) reflectance: Spectrum,
    /// dR / d ln K and dR / d ln S of each of the chip's materials.
    pub(super) by_material: Vec<[Spectrum; 2]>,
    /// dR / d of the unknowns of each of the chip's foams.
    pub(super) by_foam: Vec<[Spectrum; OF_A_FOAM]>,
    /// dR / d of each nuisance.
    pub(super) by_nuisance: Vec<Spectrum>,
}

impl Chip {
    /// The reading by `setup` with these materials and nuisances, and how it changes.
    pub(super) fn change(
        &self,
        supposed: &Supposed,
        nuisances: &[f64],
        setup: &Setup,
        settings: &Settings,
    ) -> Change {
        // One long pass over the cups, since all changes of a cup share its few nudged readings, which are what costs.
        const NUDGE: f64 = 1e-4;
        let cups = self.poured(supposed, nuisances);
        let read = |cups: &[Medium]| {
            let (layers, beneath) = self.stacked(cups, nuisances, &setup.beneath);
            settings.model.reading(&layers, &beneath, &setup.surface)
        };
        let reflectance = read(&cups);
        let slope = |nudged: &[Medium]| {
            let there = read(nudged);
            Spectrum::from_fn(|band| (there[band] - reflectance[band]) / NUDGE)
        };
        let mut by_material = vec![[Spectrum::constant(0.0); 2]; self.materials.len()];
        let mut by_foam = vec![[Spectrum::constant(0.0); OF_A_FOAM]; self.foams.len()];
        let mut by_nuisance = vec![Spectrum::constant(0.0); self.nuisances.len()];
        for (index, cup) in self.cups.iter().enumerate() {
            let Coefficients { k: all_k, s: all_s } = cups[index].coefficients;
            let mut nudged = cups.clone();
            nudged[index].coefficients.k = all_k.map(|k| k * (1.0 + NUDGE));
            let by_k = slope(&nudged);
            nudged[index].coefficients = Coefficients {
                k: all_k,
                s: all_s.map(|s| s * (1.0 + NUDGE)),
            };
            let by_s = slope(&nudged);
            let foam = self.risen(index, supposed, nuisances);
            let (k_share, s_share) = foam.map_or((1.0, 1.0), |foam| foam.shares());
            for (ingredient, (material, share)) in cup.ingredients.iter().enumerate() {
                let load = self.load(index, ingredient, nuisances);
                let of = |by: &Spectrum, stays: f64, own: &Spectrum, all: &Spectrum| {
                    let share = share * load * stays;
                    Spectrum::from_fn(|band| by[band] * share * own[band] / all[band])
                };
                let own = &supposed.curves[*material];
                let [k, s] = [
                    of(&by_k, k_share, &own.k, &all_k),
                    of(&by_s, s_share, &own.s, &all_s),
                ];
                by_material[*material][0].add_scaled(1.0, &k);
                by_material[*material][1].add_scaled(1.0, &s);
                if let Some(nuisance) = self.nuisance(NuisanceOf::Load {
                    cup: index,
                    ingredient,
                }) {
                    by_nuisance[nuisance].add_scaled(1.0, &k);
                    by_nuisance[nuisance].add_scaled(1.0, &s);
                }
            }
            if let Some(foam) = foam {
                let solid = self.before_rise(index, supposed, nuisances);
                let by = |other: Foam| {
                    let mut nudged = cups.clone();
                    nudged[index] = other.medium(other.of(&solid));
                    slope(&nudged)
                };
                let at = cup.foam.map(|(_, at)| at);
                let own = self.foams.iter().position(|first| Some(*first) == at);
                if let Some(own) = own {
                    let others: [Foam; OF_A_FOAM] = [
                        foam.shifted(NUDGE, 0.0, 0.0),
                        foam.shifted(0.0, NUDGE, 0.0),
                        foam.shifted(0.0, 0.0, NUDGE),
                    ];
                    for (sum, other) in by_foam[own].iter_mut().zip(others) {
                        sum.add_scaled(1.0, &by(other));
                    }
                }
                if let Some(nuisance) = self.nuisance(NuisanceOf::Rise(index)) {
                    by_nuisance[nuisance].add_scaled(1.0, &by(foam.risen_further(NUDGE)));
                }
            }
            // A film twice as thick is one of twice the K and twice the S.
            if let Some(nuisance) = self.nuisance(NuisanceOf::Thickness(index)) {
                by_nuisance[nuisance].add_scaled(1.0, &by_k);
                by_nuisance[nuisance].add_scaled(1.0, &by_s);
            }
        }
        Change {
            reflectance,
            by_material,
            by_foam,
            by_nuisance,
        }
    }
}

/// Where a chip's own unknowns stand among all: for each of its materials ln K, then ln S, then those of its foams, and of the
/// photographs that it was read off.
pub(super) fn indices(chip: &Chip) -> impl Iterator<Item = usize> {
    let of = |material: &usize| {
        let at = OF_A_MATERIAL * material;
        at..at + OF_A_MATERIAL
    };
    let foams = chip.foams.iter().flat_map(|at| *at..at + OF_A_FOAM);
    let photos = chip.photos.iter().flat_map(Range::clone);
    chip.materials
        .iter()
        .flat_map(of)
        .chain(foams)
        .chain(photos)
}

/// The index within a chip's own unknowns of the first of the photograph whose unknowns begin at `at` among all.
pub(super) fn photo_index(chip: &Chip, at: usize) -> usize {
    let others = chip.photos.iter().take_while(|known| known.start < at);
    OF_A_MATERIAL * chip.materials.len()
        + OF_A_FOAM * chip.foams.len()
        + others.map(Range::len).sum::<usize>()
}

/// The unknowns of a chip's foams, by their index within its own, each with what the reflectance changes by with it.
fn of_foams(change: &Change) -> impl Iterator<Item = (usize, &Spectrum)> {
    let first = OF_A_MATERIAL * change.by_material.len();
    (first..).zip(change.by_foam.iter().flatten())
}

/// What a whitened reflectance at one wavelength is changed by: indices within the chip's own unknowns, and nuisances.
pub(super) fn at_wavelength(
    change: &Change,
    band: usize,
    sd: f64,
) -> (Vec<(usize, f64)>, Vec<f64>) {
    let materials = change.by_material.iter().enumerate();
    let entries = materials.flat_map(|(index, [k, s])| {
        let at = OF_A_MATERIAL * index;
        [
            (at + band, k[band] / sd),
            (at + SAMPLES + band, s[band] / sd),
        ]
    });
    let entries = entries.chain(of_foams(change).map(|(at, by)| (at, by[band] / sd)));
    let by_nuisance = change
        .by_nuisance
        .iter()
        .map(|nuisance| nuisance[band] / sd);
    (entries.collect(), by_nuisance.collect())
}

/// What a coordinate of colour, which changes with reflectance by `axis`, is changed by.
pub(super) fn along_axis(change: &Change, axis: &Spectrum) -> (Vec<(usize, f64)>, Vec<f64>) {
    let mut entries = Vec::with_capacity(OF_A_MATERIAL * change.by_material.len());
    for (index, [k, s]) in change.by_material.iter().enumerate() {
        let at = OF_A_MATERIAL * index;
        entries.extend((0..SAMPLES).map(|band| (at + band, axis[band] * k[band])));
        entries.extend((0..SAMPLES).map(|band| (at + SAMPLES + band, axis[band] * s[band])));
    }
    let along = |by: &Spectrum| (0..SAMPLES).map(|band| axis[band] * by[band]).sum();
    entries.extend(of_foams(change).map(|(at, by)| (at, along(by))));
    (entries, change.by_nuisance.iter().map(along).collect())
}

/// How L*, a* and b* change with the reflectance at each wavelength, and the colour itself.
pub(super) fn colour_change(
    reflectance: &Spectrum,
    weights: &TristimulusWeights,
) -> (Lab, [Spectrum; 3]) {
    const NUDGE: f64 = 1e-5;
    let xyz = weights.xyz(reflectance);
    let here = weights.lab_of_xyz(xyz);
    let white = weights.white();
    // By X, by Y, by Z.
    let by_stimulus = [0, 1, 2].map(|axis| {
        let mut other = xyz;
        let step = NUDGE * white.y;
        match axis {
            0 => other.x += step,
            1 => other.y += step,
            _ => other.z += step,
        }
        let there = weights.lab_of_xyz(other);
        [there.l - here.l, there.a - here.a, there.b - here.b].map(|change| change / step)
    });
    let factors = weights.factors();
    let change = [0, 1, 2].map(|axis| {
        Spectrum::from_fn(|band| {
            (0..3)
                .map(|of| by_stimulus[of][axis] * factors[of][band])
                .sum()
        })
    });
    debug_assert_eq!(factors[0].len(), SAMPLES, "one factor a sample");
    (here, change)
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use nalgebra::DVector;

    use super::super::chip::materials_of;
    use super::super::unknowns::Unknowns;
    use super::*;
    use crate::materials::{
        BaseKind, Build, Casting, Contact, Grams, Millimetres, Poured, Shelf, Underlay, fixtures,
    };
    use crate::optics::Model;

    /// A slice of foam that absorbs more than its share, on a card; or skin over as much of it as hides all.
    fn builds() -> [Build; 2] {
        let poured = |base: &str, mix: &str| Poured {
            base: base.to_owned(),
            base_mass: Grams(100.0),
            mix: mix.parse().expect("a mix"),
        };
        let card = Underlay::Backing {
            name: Shelf::WHITE_CARD.to_owned(),
            contact: Contact::Bonded,
        };
        [
            Build {
                skin: poured("foam", "red 1; white 1"),
                thickness: Millimetres(3.0),
                beneath: card,
                paint: None,
            },
            Build {
                skin: poured("skin", "red 1"),
                thickness: Millimetres(1.0),
                beneath: Underlay::Foam(poured("foam", "red 2")),
                paint: None,
            },
        ]
    }

    #[test]
    fn a_foam_chip_changes_as_its_derivatives_say() {
        const STEP: f64 = 1e-3;
        // In a reflectance of 0–1, for a whole step of a logarithm.
        const EPSILON: f64 = 5e-4;
        let mut shelf = fixtures::shelf();
        for base in &mut shelf.bases {
            if let BaseKind::Foam(foam) = &mut base.kind {
                foam.absorption_gain = 1.5;
            }
        }
        // Two fluxes know no wet share.
        let each = [Model::KubelkaMunk, Model::Transport]
            .into_iter()
            .flat_map(|model| builds().map(|build| (model, build)));
        for (model, build) in each {
            shelf.settings.model = model;
            let casting = Casting::new(&shelf, &build).expect("a casting");
            let unknowns = Unknowns::new(&shelf, casting.cups().flat_map(materials_of));
            let (chip, setup) = (Chip::new(&casting, &unknowns), Setup::of(&casting));
            let nuisances = vec![0.0; chip.nuisances.len()];
            let supposed = |offsets: &DVector<f64>| chip.supposed(&unknowns, offsets);
            let here = DVector::zeros(unknowns.count());
            let change = chip.change(&supposed(&here), &nuisances, &setup, &shelf.settings);
            let band = 10;
            assert_abs_diff_eq!(
                change.reflectance[band],
                casting.reading()[band],
                epsilon = 1e-12
            );
            let read = |offsets: &DVector<f64>, nuisances: &[f64]| {
                chip.reading(&supposed(offsets), nuisances, &setup, &shelf.settings)[band]
            };
            let own: Vec<usize> = indices(&chip).collect();
            assert_eq!(own.len(), OF_A_MATERIAL * chip.materials.len() + OF_A_FOAM);
            let curves = change.by_material.iter().enumerate();
            let curves = curves.flat_map(|(index, [k, s])| {
                let at = OF_A_MATERIAL * index;
                [(at + band, k[band]), (at + SAMPLES + band, s[band])]
            });
            let first = OF_A_MATERIAL * change.by_material.len();
            let foam = (first..).zip(change.by_foam[0].iter().map(|by| by[band]));
            for (at, by) in curves.chain(foam) {
                let [up, down] = [STEP, -STEP].map(|step| {
                    let mut offsets = here.clone();
                    offsets[own[at]] = step;
                    read(&offsets, &nuisances)
                });
                assert_abs_diff_eq!(by, (up - down) / (2.0 * STEP), epsilon = EPSILON);
            }
            for (nuisance, by) in change.by_nuisance.iter().enumerate() {
                let [up, down] = [STEP, -STEP].map(|step| {
                    let mut nuisances = nuisances.clone();
                    nuisances[nuisance] = step;
                    read(&here, &nuisances)
                });
                assert_abs_diff_eq!(by[band], (up - down) / (2.0 * STEP), epsilon = EPSILON);
            }
        }
    }
}
