//! A chart of patches in the shot: far more of what light and camera did than a card can tell.
//!
//! [`grid`] finds and reads the patches, [`values`] knows what they look like, [`fit`] works out from both what
//! the light and the camera did. Three ways are tried: a plain 3 × 3 matrix, one for which patches near skin
//! weigh most, and an estimate of lamp and camera with skin's own spectrum seen through them. The one that
//! predicts a patch left out best, near skin, is taken, and by how much it misses is reported.
//!
//! In trials with measured cameras, charts and skins the third way leaves a mean of 1.1 ΔE00 over daylight,
//! tungsten, fluorescent lamps and LEDs, where a plain matrix leaves 2.5. No matrix can undo how blood and a
//! lamp's lines go together, unless it knows that it looks at skin.

mod curve;
mod fit;
mod grid;
mod sensors;
mod standard;
mod values;

use nalgebra::{DMatrix, Matrix3, SymmetricEigen, Vector3};

use self::curve::Curve;
use self::fit::{Fit, Light, Method, Observation, Surface};
pub(super) use self::grid::Seen;
use self::sensors::{Sensors, Weights};
use self::values::FEWEST_PATCHES;
use super::Region;
use super::chart_report::{ChartReport, PatchLeftOut};
use super::connection::ConnectionSpace;
use super::linear::{LinearField, LinearPatch};
use super::picture::Picture;
use super::smooth::Family;
use crate::colour::{Spectrum, delta_e_2000};
use crate::error::{Error, Mend, Result, Setting};

pub use self::grid::Corners;
pub use self::values::{ChartPatch, ChartValues};

/// Mean ΔE00 of patches left out above which corners or values are taken for wrong.
const NO_CHART: f64 = 12.0;
/// How much nearer a matrix must bring patches left out to be taken: patches are paint, and do not show what a
/// matrix makes of blood.
const MATRIX_HANDICAP: f64 = 1.5;
/// How much nearer a tone curve must bring patches left out to be taken.
const CURVE_HANDICAP: f64 = 1.2;
/// How often a curve is moved to where the patches agree best, each time from where it was moved to before.
const CURVE_TURNS: usize = 2;
/// How much worse the given order of the corners must be than another, to be taken for wrong.
const TURNED: f64 = 2.0;

/// Least doubt of a chart's answer, standard deviation of L*, a*, b*: skin does not get just the light that the
/// chart gets (about 3 % of it), and its spectrum is a guess. From trials of this project, no published source.
const LEAST_SD: [f64; 3] = [0.8, 0.6, 0.8];
/// Which share of the ΔE00 of patches left out, near skin, is taken for a standard deviation of each axis.
const LEFT_OUT_PART: [f64; 3] = [0.2, 0.4, 0.5];
/// Which share of what knowing skin moves the answer by, over a matrix alone, is in doubt: the patches' spectra are
/// guessed, and charts of smooth or odd ones mislead the estimate of the lamp without a patch that tells.
const GUESS_PART: f64 = 0.3;
/// How far from the chart's middle the slope of its light is carried on, widths of the chart.
const FARTHEST: f64 = 2.0;

/// A chart in a picture.
#[derive(Clone, Debug, PartialEq)]
pub struct Chart {
    /// Where its patches lie; it is looked for where `None`.
    pub corners: Option<Corners>,
    /// What they look like.
    pub values: ChartValues,
}

/// A chart whose place is known.
pub(super) struct Placed {
    pub(super) corners: Corners,
    pub(super) values: ChartValues,
}

/// What a chart tells of the light and the camera.
pub(super) struct ChartReading {
    corners: Corners,
    pub(super) fit: ChartFit,
    /// The patches that served.
    pub(super) patches: Vec<LinearPatch>,
    pub(super) report: ChartReport,
}

/// What the patches of a chart tell of the light and the camera, wherever they came from.
#[derive(Debug)]
pub(super) struct ChartFit {
    curve: Curve,
    fit: Fit,
}

/// A field as the surface that it can be.
pub(super) struct Told {
    /// 0–1.
    pub(super) reflectance: Spectrum,
    /// Standard deviation of its L*, a*, b*.
    pub(super) sd: [f64; 3],
    /// What these are off by where its curve is off by each way of its family.
    pub(super) misses: Vec<[f64; 3]>,
}

/// What undoes light and camera at one place of a picture.
pub(super) struct ChartCorrection {
    /// The camera's own tone curve.
    curve: Curve,
    /// From X, Y, Z without that curve to X, Y, Z as they are.
    matrix: Matrix3<f64>,
    /// Standard deviation of L*, a*, b* of what comes out.
    pub(super) sd: [f64; 3],
}

impl ChartCorrection {
    /// X, Y, Z as they are, of X, Y, Z as seen.
    pub(super) fn apply(&self, xyz: [f64; 3]) -> [f64; 3] {
        (self.matrix * Vector3::from(self.curve.undone(xyz))).into()
    }
}

impl ChartReading {
    /// Reads `chart` in `picture`.
    ///
    /// # Errors
    ///
    /// An input error with the mend where the corners lie outside, cross, or are turned; where too few patches
    /// can be used; where the colours seen are not those of the values.
    pub(super) fn read(picture: &Picture, chart: &Placed, space: &ConnectionSpace) -> Result<Self> {
        chart.corners.check(picture.size(), "chart")?;
        let chart = &laid_out(picture, chart, space)?;
        let seen = look(picture, chart, chart.corners, space)?;
        check_turn(picture, chart, &seen, space)?;
        let (patches, left_out) = observations(chart, &seen);
        if patches.len() < FEWEST_PATCHES {
            return Err(too_few(&patches, &left_out));
        }
        let chart_fit = ChartFit::to(&patches, space)?;
        let ChartFit { curve, fit } = &chart_fit;
        let report = ChartReport {
            method: match fit.method {
                Method::Spectral => "spectral",
                Method::SkinMatrix => "skin matrix",
                Method::Matrix => "matrix",
            }
            .to_owned(),
            leave_one_out_delta_e: fit.near_skin,
            leave_one_out_all: fit.mean,
            patches_used: patches.len(),
            left_out,
            light_slope: fit.slope,
            tone_exponent: curve.exponent(),
            tone_bend: curve.bend(),
            found: None,
        };
        Ok(Self {
            corners: chart.corners,
            fit: chart_fit,
            patches,
            report,
        })
    }

    /// What the camera gave of a field that is `seen`.
    pub(super) fn linear(&self, seen: &Seen) -> LinearField {
        LinearField {
            xyz: seen.xyz,
            doubt: seen.doubt,
            offset: self.offset(seen.middle),
        }
    }

    /// Where a place lies from the chart's middle, widths of the chart; no farther than its light is carried on.
    fn offset(&self, place: [f64; 2]) -> [f64; 2] {
        let offset = self.corners.offset(place);
        offset.map(|widths| widths.clamp(-FARTHEST, FARTHEST))
    }

    /// What undoes light and camera for colours about the one that is seen as `seen` in `region`.
    pub(super) fn correction(
        &self,
        seen: [f64; 3],
        region: Region,
        space: &ConnectionSpace,
    ) -> Option<ChartCorrection> {
        let middle = [
            f64::from(region.left) + 0.5 * f64::from(region.width),
            f64::from(region.top) + 0.5 * f64::from(region.height),
        ];
        let offset = self.offset(middle);
        let ChartFit { curve, fit } = &self.fit;
        let estimate = fit.tell(self.fit.seen(seen), offset, space)?;
        let slopes = lab_slopes(estimate.xyz, space);
        let covariance = slopes * estimate.covariance * slopes.transpose();
        let missed = self.report.leave_one_out_delta_e;
        let (one, other) = (space.lab(estimate.xyz), space.lab(estimate.by_matrix));
        let moved = [one.l - other.l, one.a - other.a, one.b - other.b];
        let sd = std::array::from_fn(|i| {
            let estimated = covariance[(i, i)].max(0.0).sqrt();
            LEAST_SD[i]
                .hypot(estimated)
                .hypot(LEFT_OUT_PART[i] * missed)
                .hypot(GUESS_PART * moved[i])
        });
        Some(ChartCorrection {
            curve: *curve,
            matrix: estimate.matrix,
            sd,
        })
    }
}

impl ChartFit {
    /// The fit to `patches`.
    ///
    /// # Errors
    ///
    /// An input error where they all have one colour, or other colours than they are known by.
    pub(super) fn to(patches: &[LinearPatch], space: &ConnectionSpace) -> Result<Self> {
        let observed = |patch: &LinearPatch| Observation {
            seen: Light::straight(patch.field.xyz),
            doubt: patch.field.doubt,
            known: known(&patch.reflectance),
            reflectance: patch.reflectance,
            measured: patch.measured,
            offset: patch.field.offset,
        };
        let patches: Vec<Observation> = patches.iter().map(observed).collect();
        let (curve, fit) = best_fit(&patches, space).ok_or_else(|| {
            Error::input("the chart's patches all have one colour in this picture")
                .mend("check the corners, and that the picture is in colour")
        })?;
        if fit.mean > NO_CHART {
            return Err(Error::input(format!(
                "the chart's colours are not those of its values: a patch lies {:.0} ΔE00 from what the others tell \
                 of it, in the mean",
                fit.mean
            ))
            .mend("check the corners, and that the values are those of this chart"));
        }
        Ok(Self { curve, fit })
    }

    /// X, Y, Z as a picture has them, without the camera's own tone curve.
    fn seen(&self, xyz: [f64; 3]) -> Light {
        straightened(self.curve, xyz)
    }

    /// A field as a surface of the curves of `family`, as far as it can be; `None` where no surface looks so.
    pub(super) fn surface(
        &self,
        field: &LinearField,
        family: &Family,
        space: &ConnectionSpace,
    ) -> Option<Told> {
        let seen = self.seen(field.xyz);
        let (reflectance, covariance, misses) = self.fit.tell_as(seen, field.offset, family)?;
        let xyz = known(&reflectance);
        let slopes = lab_slopes(xyz, space);
        let misses: Vec<[f64; 3]> = misses
            .into_iter()
            .map(|miss| (slopes * Vector3::from(miss)).into())
            .collect();
        // The field's own noise is a share of its light.
        let noise = Vector3::from(xyz) * field.doubt;
        let covariance = slopes * (covariance + noise * noise.transpose()) * slopes.transpose();
        let missed = self.fit.near_skin;
        let sd = std::array::from_fn(|i| {
            let estimated = covariance[(i, i)].max(0.0).sqrt();
            let by_curve = misses.iter().map(|miss| miss[i]).fold(0.0, f64::hypot);
            LEAST_SD[i]
                .hypot(estimated)
                .hypot(by_curve)
                .hypot(LEFT_OUT_PART[i] * missed)
        });
        Some(Told {
            reflectance,
            sd,
            misses,
        })
    }

    /// What L*, a*, b* of each of `fields`, of these reflectances, are off by with each thing that all of them are off by
    /// together, taken at one standard deviation: the things are independent, the gravest first, and as many for each field.
    /// `by_curves` has a column for each thing that is unknown of what they are made of: what their L*, a*, b*, three rows a
    /// field, are off by with it.
    pub(super) fn common_errors(
        &self,
        fields: &[(LinearField, Spectrum)],
        by_curves: &DMatrix<f64>,
        space: &ConnectionSpace,
    ) -> Vec<Vec<[f64; 3]>> {
        let surfaces: Vec<Surface> = fields
            .iter()
            .map(|(field, reflectance)| Surface {
                seen: self.seen(field.xyz),
                xyz: known(reflectance),
                reflectance: *reflectance,
                offset: field.offset,
            })
            .collect();
        let mut slopes = DMatrix::zeros(3 * fields.len(), 3 * fields.len());
        for (index, surface) in surfaces.iter().enumerate() {
            let own = lab_slopes(surface.xyz, space);
            let mut block = slopes.fixed_view_mut::<3, 3>(3 * index, 3 * index);
            block.copy_from(&own);
        }
        let covariance = &slopes * self.fit.joint_covariance(&surfaces) * slopes.transpose()
            + by_curves * by_curves.transpose();
        let SymmetricEigen {
            eigenvectors,
            eigenvalues,
        } = covariance.symmetric_eigen();
        let mut order: Vec<usize> = (0..eigenvalues.len()).collect();
        order.sort_by(|one, other| eigenvalues[*other].total_cmp(&eigenvalues[*one]));
        // What moves the readings by less, in the mean of squares, is lost in what each is off by alone.
        let least = (3 * fields.len()) as f64 * LEAST_COMMON.powi(2);
        order.truncate(MOST_COMMON);
        order.retain(|index| eigenvalues[*index] > least);
        let of = |field: usize| {
            let error = |index: &usize| {
                let sd = eigenvalues[*index].sqrt();
                std::array::from_fn(|axis| sd * eigenvectors[(3 * field + axis, *index)])
            };
            order.iter().map(error).collect()
        };
        (0..fields.len()).map(of).collect()
    }
}

/// Most things that readings of one photograph are taken to be off by together, and the least that one moves them by, in
/// the mean of squares over L*, a*, b*.
const MOST_COMMON: usize = 16;
const LEAST_COMMON: f64 = 0.05;

/// The patches that can be used, as they are known and seen, and those left out with the reason.
fn observations(chart: &Placed, seen: &[Seen]) -> (Vec<LinearPatch>, Vec<PatchLeftOut>) {
    let mut left_out = Vec::new();
    let mut patches = Vec::new();
    for (patch, seen) in chart.values.patches.iter().zip(seen) {
        if let Some(because) = seen.fault {
            left_out.push(PatchLeftOut {
                row: patch.row,
                column: patch.column,
                because: because.to_owned(),
            });
            continue;
        }
        patches.push(LinearPatch {
            field: LinearField {
                xyz: seen.xyz,
                doubt: seen.doubt,
                offset: chart.corners.offset(seen.middle),
            },
            reflectance: patch.reflectance,
            measured: patch.measured,
        });
    }
    (patches, left_out)
}

/// Of all tone curves and methods, those that tell patches left out best near skin; what is simpler than lamp and camera
/// estimated behind a straight curve has a handicap. `None` where no fit tells three colours apart.
fn best_fit(patches: &[Observation], space: &ConnectionSpace) -> Option<(Curve, Fit)> {
    let features = fit::features(patches);
    let matrices = [Method::SkinMatrix, Method::Matrix].map(|method| (Curve::STRAIGHT, method));
    let ways = Curve::tried()
        .map(|curve| (curve, Method::Spectral))
        .chain(matrices);
    let fitted = |curve, method, matrix: Option<&Matrix3<f64>>| {
        let straightened: Vec<Observation> = patches
            .iter()
            .map(|patch| Observation {
                seen: straightened(curve, patch.seen.xyz),
                ..patch.clone()
            })
            .collect();
        Fit::new(&straightened, method, matrix, &features, space)
    };
    let fits = ways.filter_map(|(curve, method)| Some((curve, fitted(curve, method, None)?)));
    let worth = |(curve, fit): &(Curve, Fit)| {
        let method = match fit.method {
            Method::Spectral => 1.0,
            Method::SkinMatrix | Method::Matrix => MATRIX_HANDICAP,
        };
        let curve = if *curve == Curve::STRAIGHT {
            1.0
        } else {
            CURVE_HANDICAP
        };
        fit.near_skin * method * curve
    };
    let (mut curve, mut fit) = fits.min_by(|one, other| worth(one).total_cmp(&worth(other)))?;
    if curve != Curve::STRAIGHT {
        for _ in 0..CURVE_TURNS {
            fit = fitted(curve, fit.method, Some(&fit.matrix))?;
            curve = curve.moved(fit.curve_off);
        }
        fit = fitted(curve, fit.method, Some(&fit.matrix))?;
    }
    Some((curve, fit))
}

/// X, Y, Z as a picture has them, without `curve`.
fn straightened(curve: Curve, xyz: [f64; 3]) -> Light {
    Light {
        xyz: curve.undone(xyz),
        bent: curve.in_doubt(xyz),
    }
}

/// X, Y, Z of a reflectance in the connection space.
fn known(reflectance: &Spectrum) -> [f64; 3] {
    let observer: &Weights = &Sensors::known().observer;
    let values = nalgebra::SVector::from(*reflectance.values());
    (observer * values).into()
}

fn look(
    picture: &Picture,
    chart: &Placed,
    corners: Corners,
    space: &ConnectionSpace,
) -> Result<Vec<Seen>> {
    let grid = [chart.values.rows, chart.values.columns];
    let patches = chart.values.patches.iter();
    patches
        .map(|patch| corners.see(picture, space, [patch.row, patch.column], grid))
        .collect()
}

/// The chart with its rows where they are, which its values need not say.
fn laid_out(picture: &Picture, chart: &Placed, space: &ConnectionSpace) -> Result<Placed> {
    let mut ways = Vec::new();
    for values in chart.values.layouts() {
        let way = Placed {
            values,
            corners: chart.corners,
        };
        let mut best = f64::INFINITY;
        for corners in chart.corners.turns() {
            if let Ok(seen) = look(picture, &way, corners, space) {
                best = best.min(mismatch(&way, &seen, space));
            }
        }
        ways.push((best, way));
    }
    ways.sort_by(|one, other| one.0.total_cmp(&other.0));
    // Where neither fits, what follows says so.
    if ways.len() > 1 && ways[0].0 < NO_CHART && ways[1].0 < TURNED * ways[0].0 {
        return Err(Error::input(
            "the chart's values name their patches A1, A2, … B1, and its colours do not tell whether a letter is a row or a column",
        )
        .mend("add fields ROW and COLUMN to the file of chart values"));
    }
    Ok(ways.swap_remove(0).1)
}

/// Refuses corners that begin at another corner than the values do, and offers the right ones.
fn check_turn(
    picture: &Picture,
    chart: &Placed,
    seen: &[Seen],
    space: &ConnectionSpace,
) -> Result<()> {
    let given = mismatch(chart, seen, space);
    let mut best = (given, chart.corners);
    for corners in chart.corners.arrangements().into_iter().skip(1) {
        // An order in which the patches would be too small is none.
        if let Ok(seen) = look(picture, chart, corners, space) {
            let other = mismatch(chart, &seen, space);
            if other < best.0 {
                best = (other, corners);
            }
        }
    }
    if best.1 == chart.corners || given < TURNED * best.0 {
        return Ok(());
    }
    Err(
        Error::input("the chart lies turned: its colours fit its values from another corner").mend(
            Mend::from("give the corners from the patch in row 1, column 1: ")
                .set(Setting::Chart)
                .and(format!(" {}", best.1)),
        ),
    )
}

/// Mean ΔE00 between the patches as known and as a matrix fitted to them makes them.
fn mismatch(chart: &Placed, seen: &[Seen], space: &ConnectionSpace) -> f64 {
    let pairs: Vec<Pair> = chart
        .values
        .patches
        .iter()
        .zip(seen)
        .filter(|(_, seen)| seen.fault != Some("clipped"))
        .map(|(patch, seen)| {
            let known = Vector3::from(known(&patch.reflectance));
            (known, Vector3::from(seen.xyz))
        })
        .collect();
    let misses = misses(&pairs, space);
    misses.iter().sum::<f64>() / pairs.len() as f64
}

/// X, Y, Z of a patch as known, and as seen.
type Pair = (Vector3<f64>, Vector3<f64>);

/// ΔE00 between each patch as known and as a matrix fitted to all makes it.
fn misses(pairs: &[Pair], space: &ConnectionSpace) -> Vec<f64> {
    let (mut known_seen, mut seen_seen) = (Matrix3::zeros(), Matrix3::zeros());
    for (known, seen) in pairs {
        let weight = 1.0 / (known[1] + 0.05).powi(2);
        known_seen += known * seen.transpose() * weight;
        seen_seen += seen * seen.transpose() * weight;
    }
    let Some(inverse) = seen_seen.try_inverse() else {
        return vec![f64::INFINITY; pairs.len()];
    };
    let matrix = known_seen * inverse;
    let miss = |(known, seen): &Pair| {
        let [known, seen] = [*known, matrix * seen].map(|xyz| space.lab(xyz.into()));
        delta_e_2000(known, seen)
    };
    pairs.iter().map(miss).collect()
}

/// X, Y, Z of a chart's patches as they are known, in the order of its values.
pub(super) struct PatchColours(Vec<Vector3<f64>>);

impl PatchColours {
    /// Mean ΔE00 by which colours `seen` miss these behind one matrix, when the share `hidden` of them that misses most is
    /// left out.
    pub(super) fn miss(&self, seen: &[[f64; 3]], hidden: f64, space: &ConnectionSpace) -> f64 {
        let mut pairs: Vec<Pair> = self
            .0
            .iter()
            .zip(seen)
            .map(|(known, seen)| (*known, Vector3::from(*seen)))
            .collect();
        let mut own = misses(&pairs, space);
        // A patch with a thumb on it pulls the matrix, so the worst go one by one.
        let least = (1.0 - hidden) * pairs.len() as f64;
        while pairs.len() as f64 - 1.0 >= least {
            let worst = (0..own.len()).max_by(|one, other| own[*one].total_cmp(&own[*other]));
            pairs.remove(worst.unwrap_or(0));
            own = misses(&pairs, space);
        }
        own.iter().sum::<f64>() / own.len() as f64
    }
}

impl ChartValues {
    /// The colours of its patches.
    pub(super) fn colours(&self) -> PatchColours {
        let patches = self.patches.iter();
        PatchColours(
            patches
                .map(|patch| known(&patch.reflectance).into())
                .collect(),
        )
    }
}

/// Slopes of L*, a*, b* with X, Y, Z.
fn lab_slopes(xyz: [f64; 3], space: &ConnectionSpace) -> Matrix3<f64> {
    const STEP: f64 = 1e-5;
    let moved = |axis: usize, step: f64| {
        let mut xyz = xyz;
        xyz[axis] += step;
        let lab = space.lab(xyz);
        Vector3::new(lab.l, lab.a, lab.b)
    };
    Matrix3::from_columns(
        &[0, 1, 2].map(|axis| (moved(axis, STEP) - moved(axis, -STEP)) / (2.0 * STEP)),
    )
}

fn too_few(patches: &[LinearPatch], left_out: &[PatchLeftOut]) -> Error {
    let count = |because: &str| {
        left_out
            .iter()
            .filter(|patch| patch.because == because)
            .count()
    };
    let (clipped, uneven) = (count("clipped"), count("uneven"));
    Error::input(format!(
        "only {} of the chart's {} patches can be used ({clipped} clipped, {uneven} uneven); at least \
         {FEWEST_PATCHES} are wanted",
        patches.len(),
        patches.len() + left_out.len()
    ))
    .mend(if clipped >= uneven {
        "shoot again with less exposure, or more where the patches are black"
    } else {
        "check the corners, and that no shadow or shine lies on the chart"
    })
}
