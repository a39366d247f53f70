//! What chips tell of materials: swatches in, K and S with what remains unknown out; and which chip to cast next.
//!
//! [`calibrate`] fits the curves of all materials to all readings at once. Unknown are the logarithms of K and S at every
//! wavelength, smooth departures from a first guess whose width is the material's spread, and of each foam the logarithms
//! of its absorption gain and of the scattering of its cell walls; each chip's thickness and loads, and how far its foam
//! rose, may be off by what hands and scales err; and a reading that fits nothing else counts for less and is named.
//! Derivatives are taken through whatever layer model the shelf's settings name. What remains unknown is kept twice: as
//! standard deviations at each wavelength, and as a few dozen [`JointDirection`]s of all materials together, which make the spread of
//! a predicted colour right.
//!
//! Source of the method: A. Tarantola (2005), Inverse Problem Theory, chapter 3 (least squares with a Gaussian prior).
//!
//! Cost: one factorisation of a matrix of 72 rows a material for each step, and a few microseconds a reading.

mod chip;
mod fit;
mod foam_pair;
mod lots;
mod plan;
mod relevance;
mod suspicion;
mod tint;
mod unknowns;

use nalgebra::{DMatrix, DVector, SymmetricEigen};

pub use foam_pair::{FoamPair, foam_pairs};
pub use lots::Lot;
pub use plan::{Advice, CHIP_THICKNESS, Wish, plan};
pub use suspicion::Suspicion;

use crate::colour::{SAMPLES, Spectrum, TristimulusWeights};
use crate::error::{Error, Result};
use crate::materials::{
    BaseKind, Casting, CoefficientSpread, JointDirection, Material, Settings, Shelf, Swatch,
};
use crate::optics::{Coefficients, Foam, Specular};
use chip::Chip;
use fit::{Fit, State};
use unknowns::{GAIN_LN_SD, OF_A_MATERIAL, Unknowns};

/// What a calibration found.
#[derive(Clone, Debug)]
pub struct Calibration {
    /// The curves of each material that a chip holds, in the order of bases, then pigments, by name.
    pub curves: Vec<Curves>,
    /// What remains unknown of them together.
    pub joint_directions: Vec<JointDirection>,
    /// What it makes of each swatch, in their order; `None` for one that was not read.
    pub judged: Vec<Judged>,
    /// Materials of the shelf that no chip holds: they stay as they were.
    pub without_chip: Vec<Material>,
    /// By what factor readings scatter more than an instrument does; 1 where they don't.
    pub noise: f64,
    /// New lots of known pigments, set beside the old ones, in the shelf's order.
    pub lots: Vec<Lot>,
    /// Lots that no one can set beside the old one, since no chip tells of that: they are learnt as any other pigment.
    pub lots_alone: Vec<String>,
    /// The specular convention of the readings where they belie that of the settings.
    pub specular: Option<Specular>,
}

/// The curves of one material.
#[derive(Clone, Debug, PartialEq)]
pub struct Curves {
    /// The material.
    pub material: Material,
    /// K and S, mm⁻¹, of a pigment per unit mass fraction.
    pub coefficients: Coefficients,
    /// Standard deviations of ln K and ln S at each wavelength.
    pub spread: CoefficientSpread,
    /// The share (0–1) of the prior variance of the material's strength that the chips have removed.
    pub variance_removed: f64,
    /// Its strength over that of its first guess: of whichever of K and S is better known now.
    pub strength: f64,
    /// Its cells and absorption gain, if it is the base of a foam.
    pub foam: Option<FoamFound>,
}

/// What chips tell of a foam.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FoamFound {
    /// The first guess.
    pub first: Foam,
    /// The foam by the chips; its [`cell_ln_sd`](Foam::cell_ln_sd) is what remains unknown of its cells.
    pub foam: Foam,
    /// Standard deviation of the logarithm of its absorption gain.
    pub gain_ln_sd: f64,
    /// The share (0–1) of the prior variance of its cells that the chips have removed.
    pub cell_variance_removed: f64,
    /// The same of its absorption gain.
    pub gain_variance_removed: f64,
}

/// What a calibration makes of one reading.
#[derive(Clone, Debug, PartialEq)]
pub struct Judged {
    /// ΔE00 from the reading to the prediction by the first guesses.
    pub before: f64,
    /// ΔE00 from the reading to the prediction by the fitted curves.
    pub after: f64,
    /// What the reading counted for, 0–1.
    pub trust: f64,
    /// What may be wrong, where it disagrees with the other chips.
    pub suspicion: Option<Suspicion>,
}

/// Share of the prior variance of a material's strength below which chips have removed nothing worth mention.
pub const LEAST_VARIANCE_REMOVED: f64 = 0.3;

/// Fits the curves of all materials in `swatches`; those of `shelf` are the first guesses, and their spreads say how far off
/// they may be. `progress` is called with the share (0–1) that is done.
///
/// A pigment that is another lot of one that chips have told of begins at the old lot's fitted curves; it is fitted from the
/// chips that hold it, all other materials being held, and so do these chips tell of nothing else.
///
/// The result depends on nothing but its arguments: the same chips give the same curves, to the last digit.
///
/// # Errors
/// No swatch with a reading; a swatch that names what is not on the shelf.
pub fn calibrate(
    shelf: &Shelf,
    swatches: &[Swatch],
    progress: &mut dyn FnMut(f64),
) -> Result<Calibration> {
    let specular = belied(&shelf.settings, swatches);
    let mut as_read = shelf.clone();
    if let Some(specular) = specular {
        as_read.settings.surface = shelf.settings.surface.read_with(specular);
    }
    let shelf = &as_read;
    let split = lots::LotSplit::new(shelf, swatches)?;
    let mut found = together(shelf, &split.known(swatches), progress)?;
    if !split.lots.is_empty() {
        found = lots::follow(shelf, found, swatches, &split, progress)?;
    }
    found.specular = specular;
    found.lots_alone = split.alone(shelf);
    Ok(found)
}

/// The joint fit of all materials in `swatches`.
fn together(
    shelf: &Shelf,
    swatches: &[Swatch],
    progress: &mut dyn FnMut(f64),
) -> Result<Calibration> {
    let known = Knowledge::of(shelf, swatches, progress)?;
    if known.chips.is_empty() {
        return Err(Error::input("no swatch has a reading to learn from").mend(
            "cast a chip and log it with `dropwise swatch add`; `dropwise plan` says which",
        ));
    }
    let covariance = known.covariance();
    let curves = known.curves(&covariance);
    let fitted = with_curves(shelf, &curves);
    Ok(Calibration {
        judged: judge(shelf, &fitted, swatches, &known)?,
        joint_directions: known.joint_directions(&fitted, &covariance),
        without_chip: without_chip(shelf, &known.unknowns),
        noise: known.state.noise,
        lots: Vec::new(),
        lots_alone: Vec::new(),
        specular: None,
        curves,
    })
}

/// The convention of readings that cannot have that of `settings`: no body reads darker than what its surface alone
/// mirrors, if that is counted. A few such readings are slips; many are a convention.
fn belied(settings: &Settings, swatches: &[Swatch]) -> Option<Specular> {
    /// Below this share of what the surface mirrors, it is no noise.
    const TOO_DARK: f64 = 0.8;
    const MANY: (usize, usize) = (3, 20);
    if settings.surface.specular() == Specular::Excluded {
        return None;
    }
    let weights = settings.viewing.weights();
    let darkest = |swatch: &Swatch| match (&swatch.reflectance, swatch.lab) {
        (Some(reflectance), _) => reflectance.min(),
        (None, Some(lab)) => weights.xyz_of_lab(lab).y / weights.white().y,
        (None, None) => 1.0,
    };
    let least = TOO_DARK * settings.surface.k1();
    // Those that state their convention are taken by their word.
    let silent = || {
        swatches
            .iter()
            .filter(|swatch| swatch.geometry.specular.is_none())
    };
    let too_dark = silent().filter(|swatch| darkest(swatch) < least).count();
    let (at_least, one_in) = MANY;
    (too_dark >= at_least && one_in * too_dark >= silent().count()).then_some(Specular::Excluded)
}

impl Calibration {
    /// `shelf` with what was found in index of what it had.
    #[must_use]
    pub fn shelf(&self, shelf: &Shelf) -> Shelf {
        let mut fitted = Shelf {
            joint_directions: self.joint_directions.clone(),
            ..with_curves(shelf, &self.curves)
        };
        if let Some(specular) = self.specular {
            fitted.settings.surface = fitted.settings.surface.read_with(specular);
        }
        fitted
    }
}

/// `shelf` with the curves of a calibration in index of its own.
fn with_curves(shelf: &Shelf, curves: &[Curves]) -> Shelf {
    let mut fitted = shelf.clone();
    fitted.joint_directions.clear();
    for Curves {
        material,
        coefficients,
        spread,
        foam,
        ..
    } in curves
    {
        match material {
            Material::Base(name) => {
                for base in fitted.bases.iter_mut().filter(|base| base.name == *name) {
                    (base.coefficients, base.spread) = (*coefficients, *spread);
                    if let Some(FoamFound { foam, .. }) = foam {
                        base.kind = BaseKind::Foam(*foam);
                    }
                }
            }
            Material::Pigment(name) => {
                for pigment in fitted
                    .pigments
                    .iter_mut()
                    .filter(|pigment| pigment.name == *name)
                {
                    (pigment.coefficients, pigment.spread) = (*coefficients, *spread);
                }
            }
        }
    }
    fitted
}

fn without_chip(shelf: &Shelf, unknowns: &Unknowns) -> Vec<Material> {
    let bases = shelf
        .bases
        .iter()
        .map(|base| Material::Base(base.name.clone()));
    let pigments = shelf
        .pigments
        .iter()
        .map(|pigment| Material::Pigment(pigment.name.clone()));
    bases
        .chain(pigments)
        .filter(|material| unknowns.index(material).is_none())
        .collect()
}

/// How well the strength of a material is known.
struct Strength {
    variance_removed: f64,
    factor: f64,
}

/// Strength is the mean logarithm over the spectrum, of K or of S, whichever the chips have told more of.
fn strength(
    unknown: &unknowns::Unknown,
    index: usize,
    offsets: &[f64],
    covariance: &DMatrix<f64>,
    widened: f64,
) -> Strength {
    let before = unknown.covariance() * widened;
    let at = OF_A_MATERIAL * index;
    let of = |first: usize| {
        let mean_variance = |matrix: &DMatrix<f64>, first: usize| {
            matrix.view((first, first), (SAMPLES, SAMPLES)).sum() / (SAMPLES * SAMPLES) as f64
        };
        let left = mean_variance(covariance, at + first) / mean_variance(&before, first);
        let own = &offsets[at + first..at + first + SAMPLES];
        Strength {
            variance_removed: (1.0 - left).clamp(0.0, 1.0),
            factor: (own.iter().sum::<f64>() / SAMPLES as f64).exp(),
        }
    };
    let (k, s) = (of(0), of(SAMPLES));
    if k.variance_removed >= s.variance_removed {
        k
    } else {
        s
    }
}

fn judge(
    first: &Shelf,
    fitted: &Shelf,
    swatches: &[Swatch],
    known: &Knowledge,
) -> Result<Vec<Judged>> {
    let weights = &known.weights;
    let mut judged = Vec::with_capacity(swatches.len());
    for swatch in swatches {
        judged.push(Judged {
            before: suspicion::miss(first, swatch, weights)?,
            after: suspicion::miss(fitted, swatch, weights)?,
            trust: 1.0,
            suspicion: None,
        });
    }
    for (chip, trust) in known.chips.iter().zip(&known.state.trust) {
        for (reading, trust) in chip.readings.iter().zip(trust) {
            judged[reading.swatch].trust = *trust;
        }
    }
    let mut misses: Vec<f64> = judged.iter().map(|judged| judged.after).collect();
    misses.sort_by(f64::total_cmp);
    let usual = misses.get(misses.len() / 2).copied().unwrap_or_default();
    for (swatch, judged) in swatches.iter().zip(&mut judged) {
        if suspicion::stands_out(judged, usual) {
            judged.suspicion = Some(suspicion::of(fitted, swatch, weights, judged.after)?);
        }
    }
    Ok(judged)
}

/// What chips have told so far.
#[derive(Debug)]
struct Knowledge {
    weights: TristimulusWeights,
    unknowns: Unknowns,
    chips: Vec<Chip>,
    state: State,
    precision: DMatrix<f64>,
}

impl Knowledge {
    /// What `swatches` tell of the materials that they hold.
    fn of(shelf: &Shelf, swatches: &[Swatch], progress: &mut dyn FnMut(f64)) -> Result<Self> {
        let mut materials = Vec::new();
        for swatch in swatches {
            let casting = Casting::of_swatch(shelf, swatch)?;
            materials.extend(casting.cups().flat_map(chip::materials_of));
        }
        Self::of_materials(shelf, swatches, Unknowns::new(shelf, materials), progress)
    }

    fn of_materials(
        shelf: &Shelf,
        swatches: &[Swatch],
        unknowns: Unknowns,
        progress: &mut dyn FnMut(f64),
    ) -> Result<Self> {
        let chips = Chip::all(shelf, swatches, &unknowns)?;
        let weights = shelf.settings.viewing.weights();
        let mut fit = Fit::new(&shelf.settings, &weights, &unknowns, &chips);
        let state = fit.solve(progress);
        let precision = fit.precision(&state);
        Ok(Self {
            state,
            precision,
            unknowns,
            chips,
            weights,
        })
    }

    /// The fitted curves, with what `covariance` leaves unknown of them.
    fn curves(&self, covariance: &DMatrix<f64>) -> Vec<Curves> {
        let sd = |at: usize| covariance[(at, at)].max(0.0).sqrt();
        (0..self.unknowns.materials.len())
            .map(|index| self.curves_of(index, covariance, sd))
            .collect()
    }

    /// The fitted curves of the material at `index`, and its foam; `sd` is what is left unknown of each unknown.
    fn curves_of(
        &self,
        index: usize,
        covariance: &DMatrix<f64>,
        sd: impl Fn(usize) -> f64,
    ) -> Curves {
        let offsets = self.state.offsets.as_slice();
        let unknown = &self.unknowns.materials[index];
        let Strength {
            variance_removed,
            factor,
        } = strength(
            unknown,
            index,
            offsets,
            covariance,
            self.state.widened[index],
        );
        let at = OF_A_MATERIAL * index;
        let foam = self.unknowns.foam_of(index).map(|(at, first)| {
            let [gain, walls] = [at.start, at.start + 1];
            let removed =
                |at: usize, before: f64| (1.0 - (sd(at) / before).powi(2)).clamp(0.0, 1.0);
            FoamFound {
                first,
                foam: Foam {
                    cell_ln_sd: sd(walls),
                    ..first.shifted(offsets[gain], offsets[walls])
                },
                gain_ln_sd: sd(gain),
                cell_variance_removed: removed(walls, first.cell_ln_sd),
                gain_variance_removed: removed(gain, GAIN_LN_SD),
            }
        });
        Curves {
            material: unknown.material.clone(),
            coefficients: self.unknowns.curves(index, offsets),
            spread: CoefficientSpread {
                k_sd: Spectrum::from_fn(|band| sd(at + band)),
                s_sd: Spectrum::from_fn(|band| sd(at + SAMPLES + band)),
            },
            variance_removed,
            strength: factor,
            foam,
        }
    }

    fn covariance(&self) -> DMatrix<f64> {
        let factor = self.precision.clone().cholesky();
        // The precision of the first guesses is in it: it is positive definite.
        factor.map_or_else(
            || DMatrix::identity(self.precision.nrows(), self.precision.nrows()),
            |factor| factor.inverse(),
        )
    }

    /// What remains unknown, as few independent joint directions as make the spread of colours right.
    ///
    /// Of all directions in which the unknowns may be off, those count that change the colour of castings. With J the
    /// change of many castings' colours and Σ the covariance, J Σ Jᵀ = U Λ Uᵀ, and the joint directions are the columns of
    /// Σ Jᵀ U Λ^(−½): they give those castings their exact spread, and others like them nearly.
    fn joint_directions(&self, fitted: &Shelf, covariance: &DMatrix<f64>) -> Vec<JointDirection> {
        const CASTINGS: u32 = 120;
        const MOST: usize = 48;
        const LEFT_OUT: f64 = 1e-3;
        // What is known to this (in L*, a*, b*) need not be known better.
        const GOOD_ENOUGH: f64 = 0.05;
        let count = self.unknowns.count();
        let mut rows: Vec<DMatrix<f64>> = Vec::new();
        for point in 0..CASTINGS {
            let build = relevance::casting(fitted, &self.unknowns, point);
            let unread = build.and_then(|build| relevance::unread(fitted, &self.unknowns, &build));
            let Some((chip, setup)) = unread else {
                continue;
            };
            let supposed = chip.supposed(&self.unknowns, &self.state.offsets);
            let sight = relevance::sight(&chip, &supposed, &setup, fitted, &self.weights, count);
            let spread = (&sight.rows * covariance * sight.rows.transpose()).trace() / 3.0;
            rows.push(sight.rows / (spread.sqrt() + GOOD_ENOUGH));
        }
        let Some(columns) = rows.first().map(DMatrix::ncols) else {
            return Vec::new();
        };
        let all = DMatrix::from_fn(3 * rows.len(), columns, |row, column| {
            rows[row / 3][(row % 3, column)]
        });
        let by_castings = covariance * all.transpose();
        let SymmetricEigen {
            eigenvectors,
            eigenvalues,
        } = (&all * &by_castings).symmetric_eigen();
        let mut order: Vec<usize> = (0..eigenvalues.len()).collect();
        order.sort_by(|one, other| eigenvalues[*other].total_cmp(&eigenvalues[*one]));
        let whole: f64 = eigenvalues.iter().map(|value| value.max(0.0)).sum();
        let mut left = whole;
        let mut joint_directions = Vec::new();
        for index in order.into_iter().take(MOST) {
            let variance = eigenvalues[index];
            if variance <= 0.0 || left <= LEFT_OUT * whole {
                break;
            }
            left -= variance;
            let column: DVector<f64> = &by_castings * eigenvectors.column(index) / variance.sqrt();
            let steps = 0..self.unknowns.materials.len();
            joint_directions.push(JointDirection {
                steps: steps
                    .map(|index| self.unknowns.step(index, &column))
                    .collect(),
            });
        }
        joint_directions
    }
}
