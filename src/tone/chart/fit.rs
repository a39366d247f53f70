//! What the light and the camera did, inferred from the patches.
//!
//! For a patch of reflectance r and known X, Y, Z = F r (F the observer under D50), seen as c:
//!
//! B c = (1 + g·p) F r + D r + noise
//!
//! B is a free 3 × 3 matrix, g the slope of the light over places p, and D the departure of this camera under
//! this lamp, whose prior is the sample of [`Sensors`]. Where the camera had a tone curve, c moves with its two
//! numbers, which are unknowns too, B c taken as linear in them. All is linear and normal, so B, g and D come in one
//! step of generalised least squares with a covariance to every answer (universal kriging; the same as the
//! best linear unbiased prediction). Noise is the picture's, and that of the reflectances where they are only
//! guessed from the colour. Leaving each patch out in turn has a closed form, which is what the methods are
//! compared by.
//!
//! Source: G. K. Robinson (1991), That BLUP is a good thing, Statistical Science 6(1), 15–32; the closed form
//! for leaving out: O. Dubrule (1983), Mathematical Geology 15(6), 687–699.

use nalgebra::{DMatrix, DVector, Matrix3, SMatrix, Vector3};

use super::curve::Bent;
use super::sensors::{Sensors, Weights};
use crate::colour::{Lab, SAMPLES, Spectrum, delta_e_2000};
use crate::tone::connection::ConnectionSpace;
use crate::tone::skin;
use crate::tone::smooth::{Family, meeting};

/// Standard deviation of the light's slope over one width of the chart, as a share of the light.
const SLOPE_SD: f64 = 0.1;
/// What a patch may be off by beside all else (print, gloss, coding): a share of its light and of this light.
const PATCH_SD: f64 = 0.004;
const DARK_LIGHT: f64 = 0.03;
/// What a plain matrix is taken to leave at each patch, as a share of its light.
const MATRIX_SD: f64 = 0.03;
/// How doubtful the spectrum of a grey is, beside that of a colour; the chroma at which doubt is full; and the
/// most of it.
const GREY_DOUBT: f64 = 0.1;
const COLOUR_REACH: f64 = 40.0;
const MOST_DOUBT: f64 = 2.5;
/// A skin in the middle of the measured ones under D50/2°, about which patches weigh more, and how fast their
/// weight falls with ΔE00. From trials of this project, no published source.
const SKIN: Lab = Lab::new(62.0, 12.0, 16.0);
const SKIN_REACH: f64 = 20.0;
/// Least weight of a patch far from skin.
const LEAST_WEIGHT: f64 = 0.02;

/// How a chart is made into a correction.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Method {
    /// A 3 × 3 matrix for all patches alike.
    Matrix,
    /// A 3 × 3 matrix for which patches near skin weigh most.
    SkinMatrix,
    /// The lamp and the camera estimated, and skin's own spectrum seen through them.
    Spectral,
}

/// A colour as it is seen, without the camera's own tone curve.
#[derive(Clone, Copy, Debug)]
pub(super) struct Light {
    /// X, Y, Z, white at Y = 1.
    pub(super) xyz: [f64; 3],
    /// What these move by with what is in doubt of the curve.
    pub(super) bent: Bent,
}

impl Light {
    /// Of a camera that has no curve.
    pub(super) fn straight(xyz: [f64; 3]) -> Self {
        Self {
            xyz,
            bent: [[0.0; 3]; 2],
        }
    }
}

/// One patch as it is known and as it is seen.
#[derive(Clone, Debug)]
pub(super) struct Observation {
    /// X, Y, Z seen.
    pub(super) seen: Light,
    /// Standard deviation of that, as a share of it.
    pub(super) doubt: f64,
    /// X, Y, Z known.
    pub(super) known: [f64; 3],
    /// The patch's reflectance.
    pub(super) reflectance: Spectrum,
    /// Whether the reflectance was measured.
    pub(super) measured: bool,
    /// Where the patch lies from the middle of the chart, in widths of it.
    pub(super) offset: [f64; 2],
}

/// What the light and the camera did.
#[derive(Debug)]
pub(super) struct Fit {
    pub(super) method: Method,
    /// B.
    pub(super) matrix: Matrix3<f64>,
    /// F + D.
    weights: Weights,
    /// g.
    pub(super) slope: [f64; 2],
    /// How far the curve's two numbers lie from those it was straightened by, standard deviations.
    pub(super) curve_off: [f64; 2],
    /// The matrix by which the curve's doubt is brought to X, Y, Z as they are; none where it is in no doubt.
    bending: Matrix3<f64>,
    /// Mean ΔE00 of the patches as the others tell them: near skin, and of all.
    pub(super) near_skin: f64,
    pub(super) mean: f64,
    /// How much larger the residuals are than the model expects, squared; at least 1.
    misfit: f64,
    /// For the covariance of an answer.
    features: DMatrix<f64>,
    shared: DMatrix<f64>,
    seen: DMatrix<f64>,
    inverse: DMatrix<f64>,
    matrix_covariance: DMatrix<f64>,
}

/// A colour as the fit tells it.
pub(super) struct Estimate {
    /// X, Y, Z under D50/2°, white at Y = 1.
    pub(super) xyz: [f64; 3],
    /// Covariance of these.
    pub(super) covariance: Matrix3<f64>,
    /// X, Y, Z as the matrix alone would have them, without what is known of skin.
    pub(super) by_matrix: [f64; 3],
    /// The matrix from X, Y, Z as seen to X, Y, Z as they are, for colours near this one.
    pub(super) matrix: Matrix3<f64>,
}

impl Fit {
    /// The fit to `patches`, at least four, whose [`features`] come along; `None` where they do not tell three colours apart.
    /// `matrix` is B as far as it is known, where the curve is in doubt.
    pub(super) fn new(
        patches: &[Observation],
        method: Method,
        matrix: Option<&Matrix3<f64>>,
        features: &DMatrix<f64>,
        space: &ConnectionSpace,
    ) -> Option<Self> {
        let sensors = Sensors::known();
        let rows = 3 * patches.len();
        let features = match method {
            Method::Spectral => features.clone(),
            Method::Matrix | Method::SkinMatrix => DMatrix::zeros(rows, 0),
        };
        let count = features.ncols().max(1) as f64;
        let bending = matrix.copied().unwrap_or_else(Matrix3::zeros);
        let shared = stacked(
            patches
                .iter()
                .map(|patch| moves(patch.known, patch.offset, &patch.seen, &bending)),
        );
        let mut covariance =
            &features * features.transpose() / count + &shared * shared.transpose();
        for (index, patch) in patches.iter().enumerate() {
            let noise = noise(patch, method, sensors, space);
            let mut block = covariance.fixed_view_mut::<3, 3>(3 * index, 3 * index);
            block += noise;
        }
        // B row by row: nine unknowns.
        let seen = DMatrix::from_fn(rows, 9, |row, unknown| {
            if unknown / 3 == row % 3 {
                patches[row / 3].seen.xyz[unknown % 3]
            } else {
                0.0
            }
        });
        let known = DVector::from_fn(rows, |row, _| patches[row / 3].known[row % 3]);
        let inverse = covariance.cholesky()?.inverse();
        let weighted = &inverse * &seen;
        let matrix_covariance = (seen.transpose() * &weighted).cholesky()?.inverse();
        let unknowns = &matrix_covariance * (weighted.transpose() * &known);
        let residual = &seen * &unknowns - &known;
        let pulls = &inverse * &residual;
        let matrix = Matrix3::from_row_slice(unknowns.as_slice());
        let mut weights = sensors.observer;
        for (pull, departure) in (features.transpose() * &pulls)
            .iter()
            .zip(&sensors.departures)
        {
            weights += departure * (*pull / count);
        }
        let off = shared.transpose() * &pulls;
        let freedom = (rows as f64 - 9.0).max(1.0);
        let left_out = left_out(
            patches,
            &inverse,
            &weighted,
            &matrix_covariance,
            &known,
            space,
        )?;
        Some(Self {
            method,
            matrix,
            weights,
            slope: [off[0], off[1]].map(|sds| sds * SLOPE_SD),
            curve_off: [off[2], off[3]],
            bending,
            near_skin: mean_near_skin(patches, &left_out, space),
            mean: left_out.iter().sum::<f64>() / left_out.len() as f64,
            misfit: (residual.dot(&pulls) / freedom).max(1.0),
            features,
            shared,
            seen,
            inverse,
            matrix_covariance,
        })
    }

    /// What a surface is that is seen as `seen` at `offset` from the chart's middle, in widths of the chart.
    ///
    /// `None` where the matrix can't be turned round.
    pub(super) fn tell(
        &self,
        seen: Light,
        offset: [f64; 2],
        space: &ConnectionSpace,
    ) -> Option<Estimate> {
        let light = 1.0 + self.slope[0] * offset[0] + self.slope[1] * offset[1];
        let own = self.matrix * Vector3::from(seen.xyz) / light.max(0.2);
        let (xyz, reflectance, local) = match self.method {
            // Reflectance has no effect.
            Method::Matrix | Method::SkinMatrix => {
                (own.into(), Spectrum::constant(0.5), Matrix3::identity())
            }
            Method::Spectral => {
                let (xyz, reflectance) = self.surface(own, space)?;
                (xyz, reflectance, self.local_matrix(own, space)?)
            }
        };
        let covariance = self.covariance(Surface {
            seen,
            xyz,
            reflectance,
            offset,
        });
        Some(Estimate {
            xyz,
            covariance,
            by_matrix: own.into(),
            matrix: local * self.matrix / light.max(0.2),
        })
    }

    /// The reflectance of a surface that is seen as `seen` at `offset`, the one that departs least from `family`. With it the
    /// covariance of its X, Y, Z by what is in doubt of lamp and camera, and what these are off by where the true curve is off
    /// by each way of the family. `None` where no surface looks so.
    pub(super) fn tell_as(
        &self,
        seen: Light,
        offset: [f64; 2],
        family: &Family,
    ) -> Option<(Spectrum, Matrix3<f64>, Vec<[f64; 3]>)> {
        let light = 1.0 + self.slope[0] * offset[0] + self.slope[1] * offset[1];
        let own = self.matrix * Vector3::from(seen.xyz) / light.max(0.2);
        let rows =
            std::array::from_fn(|row| std::array::from_fn(|index| self.weights[(row, index)]));
        let met = meeting(own.into(), rows, family)?;
        let reflectance = met.reflectance();
        let observed = |curve| (Sensors::known().observer * samples(curve)).into();
        let xyz = observed(&reflectance);
        let covariance = self.covariance(Surface {
            seen,
            xyz,
            reflectance,
            offset,
        });
        let misses = met.misses(&family.ways);
        Some((
            reflectance,
            covariance,
            misses.iter().map(observed).collect(),
        ))
    }

    /// X, Y, Z of the surface that gives `own` = (F + D) r, and its reflectance: of those that give it, the one
    /// that departs least from skin, or from grey where it can't be skin.
    fn surface(&self, own: Vector3<f64>, space: &ConnectionSpace) -> Option<([f64; 3], Spectrum)> {
        let observer = &Sensors::known().observer;
        let rows =
            std::array::from_fn(|row| std::array::from_fn(|index| self.weights[(row, index)]));
        let mut xyz: [f64; 3] = own.into();
        let mut found = None;
        // Twice, since how far the colour can be skin's is known better once the departure is undone.
        for _ in 0..2 {
            let family = skin::family(skin::likeness(space.lab(xyz)));
            let reflectance = meeting(own.into(), rows, &family)?.reflectance();
            xyz = (observer * samples(&reflectance)).into();
            found = Some((xyz, reflectance));
        }
        found
    }

    /// From (F + D) r to F r, for colours about `own`: a matrix fitted to that colour and its neighbours, so
    /// that shadows, flushes and noise are corrected as the skin about them is.
    fn local_matrix(&self, own: Vector3<f64>, space: &ConnectionSpace) -> Option<Matrix3<f64>> {
        /// The neighbours, as shares of X, Y, Z: in less and in more light, redder, greener, bluer, yellower.
        const NEIGHBOURS: [[f64; 3]; 6] = [
            [0.6, 0.6, 0.6],
            [1.2, 1.2, 1.2],
            [1.05, 1.0, 1.0],
            [0.95, 1.0, 1.0],
            [1.0, 1.0, 1.15],
            [1.0, 1.0, 0.85],
        ];
        /// How much the colour itself weighs beside them.
        const MIDDLE_WEIGHT: f64 = 30.0;
        let (mut known_own, mut own_own) = (Matrix3::zeros(), Matrix3::zeros());
        for (index, shares) in [[1.0; 3]].iter().chain(&NEIGHBOURS).enumerate() {
            let own = own.component_mul(&Vector3::from(*shares));
            let Some((known, _)) = self.surface(own, space) else {
                continue;
            };
            let weight = if index == 0 { MIDDLE_WEIGHT } else { 1.0 } / own[1].powi(2);
            known_own += Vector3::from(known) * own.transpose() * weight;
            own_own += own * own.transpose() * weight;
        }
        Some(known_own * own_own.try_inverse()?)
    }

    /// Covariance of X, Y, Z estimated of several surfaces together, three rows a surface in their order: one lamp and one
    /// camera serve all of them, so most of what they are off by is common to them.
    pub(super) fn joint_covariance(&self, surfaces: &[Surface]) -> DMatrix<f64> {
        let sensors = Sensors::known();
        let rows = 3 * surfaces.len();
        let count = self.features.ncols().max(1) as f64;
        let own = match self.method {
            Method::Spectral => {
                let features: Vec<Vec<[f64; 3]>> = surfaces
                    .iter()
                    .map(|surface| sensors.features(&surface.reflectance))
                    .collect();
                DMatrix::from_fn(rows, self.features.ncols(), |row, index| {
                    features[row / 3][index][row % 3]
                })
            }
            Method::Matrix | Method::SkinMatrix => DMatrix::zeros(rows, 0),
        };
        let moved = stacked(
            surfaces
                .iter()
                .map(|surface| moves(surface.xyz, surface.offset, &surface.seen, &self.bending)),
        );
        let shared = &own * self.features.transpose() / count + &moved * self.shared.transpose();
        let alone = &own * own.transpose() / count + &moved * moved.transpose();
        let unknowns = DMatrix::from_fn(rows, 9, |row, unknown| {
            if unknown / 3 == row % 3 {
                surfaces[row / 3].seen.xyz[unknown % 3]
            } else {
                0.0
            }
        });
        let explained = &shared * &self.inverse;
        let rest = unknowns - &explained * &self.seen;
        let covariance = alone - &explained * shared.transpose()
            + &rest * &self.matrix_covariance * rest.transpose();
        covariance * self.misfit
    }

    /// Covariance of X, Y, Z estimated of a surface.
    fn covariance(&self, surface: Surface) -> Matrix3<f64> {
        let covariance = self.joint_covariance(&[surface]);
        Matrix3::from_fn(|row, column| covariance[(row, column)])
    }
}

/// A surface as it was seen and estimated.
#[derive(Clone, Debug)]
pub(super) struct Surface {
    /// X, Y, Z seen.
    pub(super) seen: Light,
    /// X, Y, Z estimated.
    pub(super) xyz: [f64; 3],
    /// Its reflectance.
    pub(super) reflectance: Spectrum,
    /// Where it lies from the middle of the chart, in widths of it.
    pub(super) offset: [f64; 2],
}

/// How many things move all colours of a picture together, beside lamp and camera: the light's slope over two axes, and the
/// two numbers of a curve.
const SHARED: usize = 4;

/// What X, Y, Z of a colour, seen as `seen` at `offset`, are moved by with each of them, at one standard deviation each.
fn moves(
    xyz: [f64; 3],
    offset: [f64; 2],
    seen: &Light,
    bending: &Matrix3<f64>,
) -> [[f64; 3]; SHARED] {
    let [right, down] = offset.map(|widths| xyz.map(|light| light * widths * SLOPE_SD));
    let [exponent, bend] = seen
        .bent
        .map(|bent| (-bending * Vector3::from(bent)).into());
    [right, down, exponent, bend]
}

/// These of several colours, three rows a colour in their order.
fn stacked(moves: impl ExactSizeIterator<Item = [[f64; 3]; SHARED]>) -> DMatrix<f64> {
    let mut all = DMatrix::zeros(3 * moves.len(), SHARED);
    for (index, moves) in moves.enumerate() {
        for (column, moved) in moves.into_iter().enumerate() {
            for (axis, by) in moved.into_iter().enumerate() {
                all[(3 * index + axis, column)] = by;
            }
        }
    }
    all
}

fn samples(reflectance: &Spectrum) -> SMatrix<f64, SAMPLES, 1> {
    SMatrix::from(*reflectance.values())
}

/// What every departure makes of every patch: a row for each of a patch's X, Y, Z.
pub(super) fn features(patches: &[Observation]) -> DMatrix<f64> {
    let sensors = Sensors::known();
    let mut all = DMatrix::zeros(3 * patches.len(), sensors.departures.len());
    for (index, patch) in patches.iter().enumerate() {
        for (column, feature) in sensors.features(&patch.reflectance).into_iter().enumerate() {
            for (row, value) in feature.into_iter().enumerate() {
                all[(3 * index + row, column)] = value;
            }
        }
    }
    all
}

/// Covariance of what a patch is off by of its own.
fn noise(
    patch: &Observation,
    method: Method,
    sensors: &Sensors,
    space: &ConnectionSpace,
) -> Matrix3<f64> {
    let own = |share: f64| {
        let light = Vector3::from(patch.known);
        let sd = light.map(|light| share.hypot(patch.doubt) * light.max(0.0) + share * DARK_LIGHT);
        Matrix3::from_diagonal(&sd.component_mul(&sd))
    };
    match method {
        Method::Matrix => own(MATRIX_SD),
        Method::SkinMatrix => {
            let apart = delta_e_2000(space.lab(patch.known), SKIN) / SKIN_REACH;
            own(MATRIX_SD) / (-0.5 * apart * apart).exp().max(LEAST_WEIGHT)
        }
        Method::Spectral if patch.measured => own(PATCH_SD),
        Method::Spectral => {
            let lab = space.lab(patch.known);
            // A grey's spectrum is flat or nearly so; a strong colour may have many.
            let colour = (GREY_DOUBT + lab.a.hypot(lab.b) / COLOUR_REACH).min(MOST_DOUBT);
            let light = (2.0 * patch.known[1]).clamp(0.05, 1.0);
            own(PATCH_SD) + sensors.guess * (light * colour * colour)
        }
    }
}

/// The mean of what the patches `left_out` miss by, ΔE00, those near skin weighing most.
fn mean_near_skin(patches: &[Observation], left_out: &[f64], space: &ConnectionSpace) -> f64 {
    let near = |lab: Lab| {
        let apart = delta_e_2000(lab, SKIN) / SKIN_REACH;
        (-0.5 * apart * apart).exp().max(LEAST_WEIGHT)
    };
    let nearness: Vec<f64> = patches
        .iter()
        .map(|patch| near(space.lab(patch.known)))
        .collect();
    let weighted_sum: f64 = nearness
        .iter()
        .zip(left_out)
        .map(|(w, miss)| w * miss)
        .sum();
    weighted_sum / nearness.iter().sum::<f64>()
}

/// ΔE00 between each patch as it is known and as all the others tell it.
fn left_out(
    patches: &[Observation],
    inverse: &DMatrix<f64>,
    weighted: &DMatrix<f64>,
    matrix_covariance: &DMatrix<f64>,
    known: &DVector<f64>,
    space: &ConnectionSpace,
) -> Option<Vec<f64>> {
    let precision = inverse - weighted * matrix_covariance * weighted.transpose();
    let pulls = &precision * known;
    let miss = |(index, patch): (usize, &Observation)| {
        let block: Matrix3<f64> = precision.fixed_view::<3, 3>(3 * index, 3 * index).into();
        let pull: Vector3<f64> = pulls.fixed_rows::<3>(3 * index).into();
        let known = Vector3::from(patch.known);
        let estimate = known - block.try_inverse()? * pull;
        Some(delta_e_2000(
            space.lab(estimate.into()),
            space.lab(known.into()),
        ))
    };
    patches.iter().enumerate().map(miss).collect()
}
