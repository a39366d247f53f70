//! A chip as a calibration sees it: what its reading would be, and how that changes with each unknown.

use std::ops::Range;

use nalgebra::DVector;

use super::unknowns::Unknowns;
use crate::colour::{Lab, Spectrum};
use crate::error::Result;
use crate::materials::{BaseKind, Casting, Cup, Material, Settings, Shelf, Swatch};
use crate::optics::{Beneath, Coefficients, Foam, Layer, Medium, Surface};

/// All readings of one chip.
#[derive(Clone, Debug)]
pub(super) struct Chip {
    /// Cups it was poured from: films, the top one first, then foam.
    pub(super) cups: Vec<CupLink>,
    /// Thickness of each film, mm.
    pub(super) thickness_mm: Vec<f64>,
    /// What may be off of this chip alone.
    pub(super) nuisances: Vec<Nuisance>,
    /// The materials in it, by their index among the unknowns, in order.
    pub(super) materials: Vec<usize>,
    /// Where the unknowns of each foam in it begin among all, in order.
    pub(super) foams: Vec<usize>,
    /// Where the unknowns of each photograph that it was read off stand among all, in order.
    pub(super) photos: Vec<Range<usize>>,
    pub(super) readings: Vec<Reading>,
}

/// How a cup's K and S come of its materials.
#[derive(Clone, Debug)]
pub(super) struct CupLink {
    /// Place among the chip's materials, and share of the mass that stays.
    pub(super) ingredients: Vec<(usize, f64)>,
    /// The foam that it rises to, by the first guess, and where its unknowns begin among all.
    pub(super) foam: Option<(Foam, usize)>,
}

/// What a chip's materials are supposed to be.
#[derive(Clone, Debug)]
pub(super) struct Supposed {
    /// Curves of the chip's materials.
    pub(super) curves: Vec<Coefficients>,
    /// The foam that each cup rises to.
    pub(super) foams: Vec<Option<Foam>>,
}

/// Something that may be off of one chip, by a standard deviation of its logarithm.
#[derive(Clone, Copy, Debug)]
pub(super) struct Nuisance {
    pub(super) of: NuisanceOf,
    pub(super) sd: f64,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum NuisanceOf {
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
    /// Where the unknowns of the photograph that it came off stand among all, if they are asked, and what it is off by with
    /// each of those behind the offsets.
    pub(super) photo: Option<(Range<usize>, Vec<[f64; 3]>)>,
}

/// How a chip was read.
#[derive(Clone, Debug)]
pub(super) struct Setup {
    /// What lay under the films; the foam's own cup where there is one.
    pub(super) beneath: Beneath,
    /// The surface by the reading's own specular convention.
    pub(super) surface: Surface,
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
    /// Off a photograph.
    Photographed(Lab),
}

/// Standard deviation of a chip's measured thickness, mm: callipers on a soft film. Common practice, no source.
const THICKNESS_READ_SD_MM: f64 = 0.03;

/// Relative standard deviation of a load however well it was weighed: what stays in the cup and on the stick. Common
/// practice, no source.
const LOAD_LEAST_SD: f64 = 0.005;

/// Why all of a chip is known to a calibration.
const ASKED: &str = "a calibration asks of all materials of its castings";

impl Chip {
    /// The chip of `casting` without any reading.
    pub(super) fn new(casting: &Casting<'_>, unknowns: &Unknowns) -> Self {
        let mut materials: Vec<usize> = casting
            .cups()
            .flat_map(materials_of)
            .map(|material| unknowns.index(&material).expect(ASKED))
            .collect();
        materials.sort_unstable();
        materials.dedup();
        let index = |material: Material| {
            let index = unknowns.index(&material);
            let own = materials.iter().position(|known| Some(*known) == index);
            own.expect(ASKED)
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
            let base = Material::Base(poured.base.name.clone());
            let mut ingredients = vec![(index(base.clone()), clear)];
            for (portion, share) in poured.portions.iter().zip(dispersions) {
                let pigment = Material::Pigment(portion.pigment.name.clone());
                nuisances.push(Nuisance {
                    of: NuisanceOf::Load {
                        cup,
                        ingredient: ingredients.len(),
                    },
                    sd: portion
                        .mass_sd(&casting.shelf.settings)
                        .hypot(LOAD_LEAST_SD),
                });
                ingredients.push((index(pigment), share));
            }
            let foam = match poured.base.kind {
                BaseKind::Foam(foam) => {
                    nuisances.push(Nuisance {
                        of: NuisanceOf::Rise(cup),
                        sd: Foam::RISE_LN_SD,
                    });
                    let index = unknowns.index(&base).expect(ASKED);
                    let (at, _) = unknowns.foam_of(index).expect(ASKED);
                    Some((foam, at.start))
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
            photos: Vec::new(),
            readings: Vec::new(),
        }
    }

    /// What its materials are if all of `unknowns` are off by `offsets`.
    pub(super) fn supposed(&self, unknowns: &Unknowns, offsets: &DVector<f64>) -> Supposed {
        let foam = |cup: &CupLink| {
            let (first, at) = cup.foam?;
            Some(first.shifted(offsets[at], offsets[at + 1], offsets[at + 2]))
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
                (None, Some(lab)) if swatch.photo.is_empty() => Measured::Lab(lab),
                (None, Some(lab)) => Measured::Photographed(lab),
                (None, None) => continue,
            };
            let photo = match measured {
                Measured::Photographed(_) => unknowns.photo_at(&swatch.photo),
                Measured::Reflectance(_) | Measured::Lab(_) => None,
            };
            let reading = Reading {
                swatch: index,
                setup: Setup::of(&casting),
                measured,
                photo: photo.map(|at| (at, swatch.common_errors.clone())),
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
        let with_photos = |(_, mut chip): (&str, Self)| {
            let photos = chip
                .readings
                .iter()
                .filter_map(|reading| reading.photo.as_ref());
            chip.photos = photos.map(|(at, _)| at.clone()).collect();
            chip.photos.sort_unstable_by_key(|at| at.start);
            chip.photos.dedup();
            chip
        };
        Ok(chips.into_iter().map(with_photos).collect())
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

    /// The index of the nuisance of this, if it can nuisance.
    pub(super) fn nuisance(&self, of: NuisanceOf) -> Option<usize> {
        self.nuisances.iter().position(|nuisance| nuisance.of == of)
    }

    pub(super) fn load(&self, cup: usize, ingredient: usize, nuisances: &[f64]) -> f64 {
        let nuisance = self.nuisance(NuisanceOf::Load { cup, ingredient });
        nuisance.map_or(1.0, |nuisance| nuisances[nuisance].exp())
    }

    /// What each cup is when it has set.
    pub(super) fn poured(&self, supposed: &Supposed, nuisances: &[f64]) -> Vec<Medium> {
        let cup = |index: usize| {
            let solid = self.before_rise(index, supposed, nuisances);
            let foam = self.risen(index, supposed, nuisances);
            foam.map_or(Medium::solid(solid), |foam| foam.medium(foam.of(&solid)))
        };
        (0..self.cups.len()).map(cup).collect()
    }

    /// K and S of the cup at `index` without any foaming.
    pub(super) fn before_rise(
        &self,
        index: usize,
        supposed: &Supposed,
        nuisances: &[f64],
    ) -> Coefficients {
        let mut sum = Coefficients::CLEAR;
        for (ingredient, (material, share)) in self.cups[index].ingredients.iter().enumerate() {
            let load = self.load(index, ingredient, nuisances);
            sum.add_scaled(share * load, &supposed.curves[*material]);
        }
        sum
    }

    /// The foam of the cup at `index`, risen as far as it did.
    pub(super) fn risen(
        &self,
        index: usize,
        supposed: &Supposed,
        nuisances: &[f64],
    ) -> Option<Foam> {
        let foam = supposed.foams[index]?;
        let nuisance = self.nuisance(NuisanceOf::Rise(index));
        Some(nuisance.map_or(foam, |nuisance| foam.risen_further(nuisances[nuisance])))
    }

    pub(super) fn stacked(
        &self,
        cups: &[Medium],
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
                    medium: cups[film],
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
