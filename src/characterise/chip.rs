//! A chip as a calibration sees it: what its reading would be, and how that changes with each unknown.

use super::unknowns::Unknowns;
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
    pub(super) slips: Vec<Slip>,
    /// The materials in it, by their place among the unknowns, in order.
    pub(super) materials: Vec<usize>,
    pub(super) readings: Vec<Reading>,
}

/// How a cup's K and S come of its materials.
#[derive(Clone, Debug)]
struct CupLink {
    /// Place among the chip's materials, and share of the mass that stays.
    parts: Vec<(usize, f64)>,
    foam: Option<Foam>,
}

/// Something that may be off of one chip, by a standard deviation of its logarithm.
#[derive(Clone, Copy, Debug)]
pub(super) struct Slip {
    of: SlipOf,
    pub(super) sd: f64,
}

#[derive(Clone, Copy, Debug)]
enum SlipOf {
    /// The thickness of a film.
    Thickness(usize),
    /// The mass of a part of a cup.
    Load { cup: usize, part: usize },
}

/// One reading of a chip.
#[derive(Clone, Debug)]
pub(super) struct Reading {
    /// Its place among the swatches.
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
    /// dR / d of each slip.
    pub(super) by_slip: Vec<Spectrum>,
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
            .filter_map(|material| unknowns.place(&material))
            .collect();
        materials.sort_unstable();
        materials.dedup();
        let place = |material: Material| {
            let place = unknowns.place(&material);
            place.and_then(|place| materials.iter().position(|known| *known == place))
        };
        let mut slips = Vec::new();
        let mut cups = Vec::new();
        for (cup, poured) in casting.cups().enumerate() {
            let (clear, dispersions) = poured.staying_shares();
            let base = place(Material::Base(poured.base.name.clone())).map(|place| (place, clear));
            let mut parts: Vec<(usize, f64)> = base.into_iter().collect();
            for (portion, share) in poured.portions.iter().zip(dispersions) {
                let Some(place) = place(Material::Pigment(portion.pigment.name.clone())) else {
                    continue;
                };
                slips.push(Slip {
                    of: SlipOf::Load {
                        cup,
                        part: parts.len(),
                    },
                    sd: portion
                        .mass_sd(&casting.shelf.settings)
                        .hypot(LOAD_LEAST_SD),
                });
                parts.push((place, share));
            }
            cups.push(CupLink {
                parts,
                foam: match poured.base.kind {
                    BaseKind::Foam(foam) => Some(foam),
                    BaseKind::Skin | BaseKind::Paint { .. } => None,
                },
            });
        }
        let thickness_mm: Vec<f64> = casting.films.iter().map(|film| film.thickness.0).collect();
        slips.extend(
            thickness_mm
                .iter()
                .enumerate()
                .map(|(film, thickness_mm)| Slip {
                    of: SlipOf::Thickness(film),
                    sd: THICKNESS_READ_SD_MM / thickness_mm.max(THICKNESS_READ_SD_MM),
                }),
        );
        Self {
            cups,
            thickness_mm,
            slips,
            materials,
            readings: Vec::new(),
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
        for (place, swatch) in swatches.iter().enumerate() {
            let casting = Casting::of_swatch(shelf, swatch)?;
            let measured = match (swatch.reflectance, swatch.lab) {
                (Some(reflectance), _) => Measured::Reflectance(reflectance),
                (None, Some(lab)) => Measured::Lab(lab),
                (None, None) => continue,
            };
            let reading = Reading {
                swatch: place,
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

    /// The reading by `setup` with the materials' curves and these slips.
    pub(super) fn reading(
        &self,
        curves: &[Coefficients],
        slips: &[f64],
        setup: &Setup,
        settings: &Settings,
    ) -> Spectrum {
        let cups = self.poured(curves, slips);
        let (layers, beneath) = self.stacked(&cups, slips, &setup.beneath);
        settings.model.reading(&layers, &beneath, &setup.surface)
    }

    /// The same, and how it changes.
    pub(super) fn change(
        &self,
        curves: &[Coefficients],
        slips: &[f64],
        setup: &Setup,
        settings: &Settings,
    ) -> Change {
        const NUDGE: f64 = 1e-4;
        let cups = self.poured(curves, slips);
        let read = |cups: &[Coefficients]| {
            let (layers, beneath) = self.stacked(cups, slips, &setup.beneath);
            settings.model.reading(&layers, &beneath, &setup.surface)
        };
        let reflectance = read(&cups);
        let slope = |nudged: &[Coefficients]| {
            let there = read(nudged);
            Spectrum::from_fn(|nm| (there[nm] - reflectance[nm]) / NUDGE)
        };
        let mut by_material = vec![[Spectrum::constant(0.0); 2]; self.materials.len()];
        let mut by_slip = vec![Spectrum::constant(0.0); self.slips.len()];
        for (place, cup) in self.cups.iter().enumerate() {
            let mut nudged = cups.clone();
            nudged[place].k = nudged[place].k.map(|k| k * (1.0 + NUDGE));
            let by_k = slope(&nudged);
            nudged[place] = Coefficients {
                k: cups[place].k,
                s: cups[place].s.map(|s| s * (1.0 + NUDGE)),
            };
            let by_s = slope(&nudged);
            let thinned = cup.foam.map_or(1.0, |foam| 1.0 / foam.expansion);
            for (part, (material, share)) in cup.parts.iter().enumerate() {
                let load = self.load(place, part, slips);
                let share = share * thinned * load;
                let of = |by: &Spectrum, own: &Spectrum, all: &Spectrum| {
                    Spectrum::from_fn(|nm| by[nm] * share * own[nm] / all[nm])
                };
                let own = &curves[*material];
                let [k, s] = [
                    of(&by_k, &own.k, &cups[place].k),
                    of(&by_s, &own.s, &cups[place].s),
                ];
                by_material[*material][0].add_scaled(1.0, &k);
                by_material[*material][1].add_scaled(1.0, &s);
                let is_it = |of: SlipOf| matches!(of, SlipOf::Load { cup, part: other } if cup == place && other == part);
                if let Some(slip) = self.slips.iter().position(|slip| is_it(slip.of)) {
                    by_slip[slip].add_scaled(1.0, &k);
                    by_slip[slip].add_scaled(1.0, &s);
                }
            }
            // A film twice as thick is one of twice the K and twice the S.
            let is_it = |of: SlipOf| matches!(of, SlipOf::Thickness(film) if film == place);
            if let Some(slip) = self.slips.iter().position(|slip| is_it(slip.of)) {
                by_slip[slip].add_scaled(1.0, &by_k);
                by_slip[slip].add_scaled(1.0, &by_s);
            }
        }
        Change {
            reflectance,
            by_material,
            by_slip,
        }
    }

    fn load(&self, cup: usize, part: usize, slips: &[f64]) -> f64 {
        let is_it = |of: SlipOf| matches!(of, SlipOf::Load { cup: in_cup, part: of_it } if in_cup == cup && of_it == part);
        let slip = self.slips.iter().position(|slip| is_it(slip.of));
        slip.map_or(1.0, |slip| slips[slip].exp())
    }

    /// K and S of each cup when it has set.
    fn poured(&self, curves: &[Coefficients], slips: &[f64]) -> Vec<Coefficients> {
        let cups = self.cups.iter().enumerate().map(|(place, cup)| {
            let mut sum = Coefficients::CLEAR;
            for (part, (material, share)) in cup.parts.iter().enumerate() {
                sum.add_scaled(share * self.load(place, part, slips), &curves[*material]);
            }
            cup.foam.map_or(sum, |foam| foam.of(&sum))
        });
        cups.collect()
    }

    fn stacked(
        &self,
        cups: &[Coefficients],
        slips: &[f64],
        beneath: &Beneath,
    ) -> (Vec<Layer>, Beneath) {
        let films = self
            .thickness_mm
            .iter()
            .enumerate()
            .map(|(film, thickness_mm)| {
                let is_it = |of: SlipOf| matches!(of, SlipOf::Thickness(other) if other == film);
                let slip = self.slips.iter().position(|slip| is_it(slip.of));
                Layer {
                    coefficients: cups[film],
                    thickness_mm: thickness_mm * slip.map_or(1.0, |slip| slips[slip].exp()),
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
        Spectrum::from_fn(|nm| {
            (0..3)
                .map(|of| by_stimulus[of][axis] * factors[of][nm])
                .sum()
        })
    });
    debug_assert_eq!(factors[0].len(), SAMPLES, "one factor a sample");
    (here, change)
}
