//! A chip as a calibration sees it: what its reading would be, and how that changes with each unknown.

use nalgebra::DVector;

use super::unknowns::{OF_A_FOAM, Unknowns};
use crate::colour::{Lab, SAMPLES, Spectrum, TristimulusWeights};
use crate::error::Result;
use crate::materials::{BaseKind, Casting, Cup, Material, Settings, Shelf, Swatch};
use crate::optics::{Beneath, Coefficients, Foam, Layer, Surface};

/// All readings of one chip.
#[derive(Clone, Debug)]
pub(super) struct Chip {
    /// Cups it was poured from: films, the top one first, then foam.
    cups: Vec<CupLink>,
    /// Thickness of each film, mm.
    thickness_mm: Vec<f64>,
    /// What may be off of this chip alone.
    pub(super) nuisances: Vec<Nuisance>,
    /// The materials in it, by their index among the unknowns, in order.
    pub(super) materials: Vec<usize>,
    /// Where the unknowns of each foam in it begin among all, in order.
    pub(super) foams: Vec<usize>,
    pub(super) readings: Vec<Reading>,
}

/// How a cup's K and S come of its materials.
#[derive(Clone, Debug)]
struct CupLink {
    /// Place among the chip's materials, and share of the mass that stays.
    ingredients: Vec<(usize, f64)>,
    /// The foam that it rises to, by the first guess, and where its unknowns begin among all; `None` there for one of
    /// which nothing is asked.
    foam: Option<(Foam, Option<usize>)>,
}

/// What a chip's materials are supposed to be.
#[derive(Clone, Debug)]
pub(super) struct Supposed {
    /// Curves of the chip's materials.
    curves: Vec<Coefficients>,
    /// The foam that each cup rises to.
    foams: Vec<Option<Foam>>,
}

/// Something that may be off of one chip, by a standard deviation of its logarithm.
#[derive(Clone, Copy, Debug)]
pub(super) struct Nuisance {
    of: NuisanceOf,
    pub(super) sd: f64,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum NuisanceOf {
    /// The thickness of a film.
    Thickness(usize),
    /// The mass of an ingredient of a cup.
    Load { cup: usize, ingredient: usize },
    /// How far a cup of foam rose.
    Rise(usize),
}

/// One reading of a chip.
#[derive(Clone, Debug)]
pub(super) struct Reading {
    /// Its index among the swatches.
    pub(super) swatch: usize,
    pub(super) setup: Setup,
    pub(super) measured: Measured,
}

/// How a chip was read.
#[derive(Clone, Debug)]
pub(super) struct Setup {
    /// What lay under the films; the foam's own cup where there is one.
    beneath: Beneath,
    /// The surface by the reading's own specular convention.
    surface: Surface,
}

impl Setup {
    pub(super) fn of(casting: &Casting<'_>) -> Self {
        Self {
            beneath: casting.beneath(),
            surface: casting.surface(),
        }
    }
}

/// What was read.
#[expect(
    clippy::large_enum_variant,
    reason = "most are spectra, and they are few"
)]
#[derive(Clone, Copy, Debug)]
pub(super) enum Measured {
    Reflectance(Spectrum),
    Lab(Lab),
}

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

/// Standard deviation of a chip's measured thickness, mm: callipers on a soft film. Common practice, no source.
const THICKNESS_READ_SD_MM: f64 = 0.03;

/// Relative standard deviation of a load however well it was weighed: what stays in the cup and on the stick. Common
/// practice, no source.
const LOAD_LEAST_SD: f64 = 0.005;

impl Chip {
    /// The chip of `casting` without any reading.
    pub(super) fn new(casting: &Casting<'_>, unknowns: &Unknowns) -> Self {
        let mut materials: Vec<usize> = casting
            .cups()
            .flat_map(materials_of)
            .filter_map(|material| unknowns.index(&material))
            .collect();
        materials.sort_unstable();
        materials.dedup();
        let index = |material: Material| {
            let index = unknowns.index(&material);
            index.and_then(|index| materials.iter().position(|known| *known == index))
        };
        let mut foams: Vec<usize> = materials
            .iter()
            .filter_map(|index| unknowns.foam_of(*index).map(|(at, _)| at.start))
            .collect();
        foams.sort_unstable();
        let mut nuisances = Vec::new();
        let mut cups = Vec::new();
        for (cup, poured) in casting.cups().enumerate() {
            let (clear, dispersions) = poured.staying_shares();
            let base = index(Material::Base(poured.base.name.clone())).map(|index| (index, clear));
            let mut ingredients: Vec<(usize, f64)> = base.into_iter().collect();
            for (portion, share) in poured.portions.iter().zip(dispersions) {
                let Some(index) = index(Material::Pigment(portion.pigment.name.clone())) else {
                    continue;
                };
                nuisances.push(Nuisance {
                    of: NuisanceOf::Load {
                        cup,
                        ingredient: ingredients.len(),
                    },
                    sd: portion
                        .mass_sd(&casting.shelf.settings)
                        .hypot(LOAD_LEAST_SD),
                });
                ingredients.push((index, share));
            }
            let foam = match poured.base.kind {
                BaseKind::Foam(foam) => {
                    nuisances.push(Nuisance {
                        of: NuisanceOf::Rise(cup),
                        sd: Foam::RISE_LN_SD,
                    });
                    let base = unknowns.index(&Material::Base(poured.base.name.clone()));
                    let asked = base.and_then(|index| unknowns.foam_of(index));
                    Some((foam, asked.map(|(at, _)| at.start)))
                }
                BaseKind::Skin | BaseKind::Paint { .. } => None,
            };
            cups.push(CupLink { ingredients, foam });
        }
        let thickness_mm: Vec<f64> = casting.films.iter().map(|film| film.thickness.0).collect();
        nuisances.extend(
            thickness_mm
                .iter()
                .enumerate()
                .map(|(film, thickness_mm)| Nuisance {
                    of: NuisanceOf::Thickness(film),
                    sd: THICKNESS_READ_SD_MM / thickness_mm.max(THICKNESS_READ_SD_MM),
                }),
        );
        Self {
            cups,
            thickness_mm,
            nuisances,
            materials,
            foams,
            readings: Vec::new(),
        }
    }

    /// What its materials are if all of `unknowns` are off by `offsets`.
    pub(super) fn supposed(&self, unknowns: &Unknowns, offsets: &DVector<f64>) -> Supposed {
        let foam = |cup: &CupLink| {
            let (first, at) = cup.foam?;
            Some(at.map_or(first, |at| first.shifted(offsets[at], offsets[at + 1])))
        };
        let materials = self.materials.iter();
        Supposed {
            curves: materials
                .map(|index| unknowns.curves(*index, offsets.as_slice()))
                .collect(),
            foams: self.cups.iter().map(foam).collect(),
        }
    }

    /// The chips of `swatches`, each with all its readings.
    ///
    /// # Errors
    /// A name that is not on the shelf, with the swatch's.
    pub(super) fn all(
        shelf: &Shelf,
        swatches: &[Swatch],
        unknowns: &Unknowns,
    ) -> Result<Vec<Self>> {
        let mut chips: Vec<(&str, Self)> = Vec::new();
        for (index, swatch) in swatches.iter().enumerate() {
            let casting = Casting::of_swatch(shelf, swatch)?;
            let measured = match (swatch.reflectance, swatch.lab) {
                (Some(reflectance), _) => Measured::Reflectance(reflectance),
                (None, Some(lab)) => Measured::Lab(lab),
                (None, None) => continue,
            };
            let reading = Reading {
                swatch: index,
                setup: Setup::of(&casting),
                measured,
            };
            match chips.iter_mut().find(|(id, _)| *id == swatch.id) {
                Some((_, chip)) => chip.readings.push(reading),
                None => {
                    let mut chip = Self::new(&casting, unknowns);
                    chip.readings.push(reading);
                    chips.push((&swatch.id, chip));
                }
            }
        }
        Ok(chips.into_iter().map(|(_, chip)| chip).collect())
    }

    /// The reading by `setup` with these materials and nuisances.
    pub(super) fn reading(
        &self,
        supposed: &Supposed,
        nuisances: &[f64],
        setup: &Setup,
        settings: &Settings,
    ) -> Spectrum {
        let cups = self.poured(supposed, nuisances);
        let (layers, beneath) = self.stacked(&cups, nuisances, &setup.beneath);
        settings.model.reading(&layers, &beneath, &setup.surface)
    }

    /// The same, and how it changes.
    pub(super) fn change(
        &self,
        supposed: &Supposed,
        nuisances: &[f64],
        setup: &Setup,
        settings: &Settings,
    ) -> Change {
        const NUDGE: f64 = 1e-4;
        let cups = self.poured(supposed, nuisances);
        let read = |cups: &[Coefficients]| {
            let (layers, beneath) = self.stacked(cups, nuisances, &setup.beneath);
            settings.model.reading(&layers, &beneath, &setup.surface)
        };
        let reflectance = read(&cups);
        let slope = |nudged: &[Coefficients]| {
            let there = read(nudged);
            Spectrum::from_fn(|band| (there[band] - reflectance[band]) / NUDGE)
        };
        let mut by_material = vec![[Spectrum::constant(0.0); 2]; self.materials.len()];
        let mut by_foam = vec![[Spectrum::constant(0.0); OF_A_FOAM]; self.foams.len()];
        let mut by_nuisance = vec![Spectrum::constant(0.0); self.nuisances.len()];
        for (index, cup) in self.cups.iter().enumerate() {
            let mut nudged = cups.clone();
            nudged[index].k = nudged[index].k.map(|k| k * (1.0 + NUDGE));
            let by_k = slope(&nudged);
            nudged[index] = Coefficients {
                k: cups[index].k,
                s: cups[index].s.map(|s| s * (1.0 + NUDGE)),
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
                    of(&by_k, k_share, &own.k, &cups[index].k),
                    of(&by_s, s_share, &own.s, &cups[index].s),
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
                    nudged[index] = other.of(&solid);
                    slope(&nudged)
                };
                let at = cup.foam.and_then(|(_, at)| at);
                let own = self.foams.iter().position(|first| Some(*first) == at);
                if let Some(own) = own {
                    for (sum, other) in by_foam[own]
                        .iter_mut()
                        .zip([foam.shifted(NUDGE, 0.0), foam.shifted(0.0, NUDGE)])
                    {
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

    /// The index of the nuisance of this, if it can nuisance.
    fn nuisance(&self, of: NuisanceOf) -> Option<usize> {
        self.nuisances.iter().position(|nuisance| nuisance.of == of)
    }

    fn load(&self, cup: usize, ingredient: usize, nuisances: &[f64]) -> f64 {
        let nuisance = self.nuisance(NuisanceOf::Load { cup, ingredient });
        nuisance.map_or(1.0, |nuisance| nuisances[nuisance].exp())
    }

    /// K and S of each cup when it has set.
    fn poured(&self, supposed: &Supposed, nuisances: &[f64]) -> Vec<Coefficients> {
        let cup = |index: usize| {
            let solid = self.before_rise(index, supposed, nuisances);
            let foam = self.risen(index, supposed, nuisances);
            foam.map_or(solid, |foam| foam.of(&solid))
        };
        (0..self.cups.len()).map(cup).collect()
    }

    /// K and S of the cup at `index` without any foaming.
    fn before_rise(&self, index: usize, supposed: &Supposed, nuisances: &[f64]) -> Coefficients {
        let mut sum = Coefficients::CLEAR;
        for (ingredient, (material, share)) in self.cups[index].ingredients.iter().enumerate() {
            let load = self.load(index, ingredient, nuisances);
            sum.add_scaled(share * load, &supposed.curves[*material]);
        }
        sum
    }

    /// The foam of the cup at `index`, risen as far as it did.
    fn risen(&self, index: usize, supposed: &Supposed, nuisances: &[f64]) -> Option<Foam> {
        let foam = supposed.foams[index]?;
        let nuisance = self.nuisance(NuisanceOf::Rise(index));
        Some(nuisance.map_or(foam, |nuisance| foam.risen_further(nuisances[nuisance])))
    }

    fn stacked(
        &self,
        cups: &[Coefficients],
        nuisances: &[f64],
        beneath: &Beneath,
    ) -> (Vec<Layer>, Beneath) {
        let films = self
            .thickness_mm
            .iter()
            .enumerate()
            .map(|(film, thickness_mm)| {
                let nuisance = self.nuisance(NuisanceOf::Thickness(film));
                Layer {
                    coefficients: cups[film],
                    thickness_mm: thickness_mm
                        * nuisance.map_or(1.0, |nuisance| nuisances[nuisance].exp()),
                }
            });
        let beneath = match (beneath, cups.get(self.thickness_mm.len())) {
            (Beneath::Bed(_), Some(foam)) => Beneath::Bed(*foam),
            (beneath, _) => *beneath,
        };
        (films.collect(), beneath)
    }
}

/// The materials of `cup`.
pub(super) fn materials_of(cup: &Cup<'_>) -> impl Iterator<Item = Material> {
    let pigments = cup
        .portions
        .iter()
        .map(|portion| Material::Pigment(portion.pigment.name.clone()));
    std::iter::once(Material::Base(cup.base.name.clone())).chain(pigments)
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

    use super::super::fit::indices;
    use super::super::unknowns::OF_A_MATERIAL;
    use super::*;
    use crate::materials::{Build, Contact, Grams, Millimetres, Poured, Underlay, fixtures};

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
        for build in builds() {
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
