//! What comes out of the mould, and how likely it is to pass.

use std::f64::consts::TAU;
use std::sync::OnceLock;

use super::doubt::{Doubt, DoubtSource};
use crate::colour::{
    Lab, Light, Observer, Spectrum, Translucency, TristimulusWeights, delta_e_2000,
};
use crate::materials::{Carried, Casting, JointDirection, Material};

/// What comes out of the mould, by the model.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Prediction {
    /// Reflectance as the book's instrument would read it, 0–1.
    pub reflectance: Spectrum,
    /// CIELAB under the book's viewing.
    pub lab: Lab,
    /// Y over the black card by Y over the white card, 0–1; 1 hides all.
    pub contrast_ratio: f64,
    /// What it shows of black and white beneath it; its contrast ratio once more.
    pub translucency: Translucency,
    /// How L*, a* and b* move when one thing that is not known is off by its standard deviation: one for each thing,
    /// all independent.
    pub contributions: Vec<Contribution>,
    /// What castings like it have shown the physics to miss, which is in its colour; `None` where nothing tells.
    pub carried: Option<Carried>,
}

/// How a colour moves when one thing that is not known is off.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Contribution {
    /// What the thing belongs to.
    pub source: DoubtSource,
    /// Half the way of L*, a* and b* between one standard deviation less and one more.
    pub by: [f64; 3],
    /// How far the middle of that way lies from the colour itself: what first order does not see.
    pub curvature: [f64; 3],
}

impl Contribution {
    /// The same with its standard deviation times `factor`.
    pub(crate) fn scaled(&self, factor: f64) -> Self {
        Self {
            source: self.source,
            by: self.by.map(|step| factor * step),
            curvature: self.curvature.map(|step| factor * factor * step),
        }
    }
}

/// Which doubts the spread of a prediction holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Doubts {
    /// What the book does not know of its materials, and what hands do: drops, weighing, thickness, rise.
    All,
    /// What the book does not know of its materials.
    Calibration,
}

impl Casting<'_> {
    /// Predicts the reading of the casting; `weights` are those of the book's viewing.
    pub fn predict(&self, weights: &TristimulusWeights, doubts: Doubts) -> Prediction {
        let reflectance = self.reading();
        let lab = weights.lab(&reflectance);
        let contributions = self.doubts().into_iter();
        let contributions =
            contributions.filter(|doubt| doubts == Doubts::All || doubt.is_of_calibration());
        let contributions = contributions.map(|doubt| {
            let (by, curvature) =
                self.central_differences(weights, lab, |casting, sds| doubt.applied(casting, sds));
            let source = doubt.source(self);
            let curvature = if doubt.has_curvature() {
                curvature
            } else {
                [0.0; 3]
            };
            Contribution {
                source,
                by,
                curvature,
            }
        });
        let of_axes = |source, [l, a, b]: [f64; 3]| {
            [[l, 0.0, 0.0], [0.0, a, 0.0], [0.0, 0.0, b]].map(|by| Contribution {
                source,
                by,
                curvature: [0.0; 3],
            })
        };
        let own = of_axes(DoubtSource::Model, self.model_spread());
        let carried = self.carried();
        let left_over = carried.map(|carried| of_axes(DoubtSource::LeftOver, carried.sd));
        let translucency = self.translucency(weights);
        Prediction {
            reflectance,
            lab,
            contrast_ratio: translucency.contrast_ratio,
            translucency,
            contributions: (contributions.chain(own))
                .chain(left_over.into_iter().flatten())
                .collect(),
            carried,
        }
    }

    /// Standard deviations of L*, a* and b* that no doubt stands for: the layer model's own, and what is left over.
    pub(crate) fn own_spread(&self) -> [f64; 3] {
        let left_over = self.carried().map_or([0.0; 3], |carried| carried.sd);
        let own = self.model_spread();
        std::array::from_fn(|axis| own[axis].hypot(left_over[axis]))
    }

    /// Half the way of L*, a* and b* between this casting `applied` at minus and at plus one, and how far the middle of
    /// that way lies from `here`, its own colour.
    pub(crate) fn central_differences(
        &self,
        weights: &TristimulusWeights,
        here: Lab,
        applied: impl Fn(&Self, f64) -> Self,
    ) -> ([f64; 3], [f64; 3]) {
        let seen = |casting: &Self| {
            let Lab { l, a, b, .. } = weights.lab(&casting.reading());
            [l, a, b]
        };
        // Central differences: twice the work of one-sided ones, and right to a few per cent where those err by
        // ten, since a doubt of half its value is common.
        let [up, down] = [1.0, -1.0].map(|sds| seen(&applied(self, sds)));
        let here = [here.l, here.a, here.b];
        (
            std::array::from_fn(|axis| (up[axis] - down[axis]) / 2.0),
            std::array::from_fn(|axis| (up[axis] + down[axis]) / 2.0 - here[axis]),
        )
    }

    /// All that is not known of the casting, one independent thing at a time.
    pub(crate) fn doubts(&self) -> Vec<Doubt> {
        let mut doubts = Vec::new();
        let mut materials = Vec::new();
        for (index, cup) in self.cups().enumerate() {
            let base = Material::Base(cup.base.name.clone());
            doubts.extend(Doubt::of_base(&cup.base, self.shelf));
            materials.push(base);
            for (portion, poured) in cup.portions.iter().enumerate() {
                let pigment = Material::Pigment(poured.pigment.name.clone());
                let made_of = poured.pigment.curves_of();
                // A stock is as unknown as what it is made of.
                let calibrated = self.shelf.is_calibrated(&pigment) || !made_of.is_empty();
                doubts.extend(Doubt::of_pigment(
                    &poured.pigment,
                    poured.amount,
                    calibrated,
                ));
                materials.push(pigment);
                for ingredient in made_of.iter().map(|each| &each.pigment) {
                    let material = Material::Pigment(ingredient.name.clone());
                    if !self.shelf.is_calibrated(&material) {
                        doubts.extend(Doubt::of_curves(ingredient));
                    }
                    materials.push(material);
                }
                doubts.push(Doubt::Portion {
                    cup: index,
                    portion,
                });
            }
        }
        let touched = |each: &JointDirection| {
            each.steps
                .iter()
                .any(|step| materials.contains(&step.material))
        };
        let directions = self.shelf.joint_directions.iter().enumerate();
        let directions = directions.filter(|(_, each)| touched(each));
        doubts.extend(directions.map(|(index, _)| Doubt::JointDirection(index)));
        // A material in two cups is one doubt.
        doubts.sort();
        doubts.dedup();
        doubts.extend((0..self.films.len()).map(Doubt::Thickness));
        doubts
    }
}

/// Points at which a chance is sampled; its own error is then well under one per cent.
const SAMPLES: u32 = 4096;

impl Prediction {
    /// How far L*, a* or b* of the mean casting may lie from those of the colour itself and not be worth telling. Our own
    /// choice, no source.
    pub const MEAN_APART: f64 = 0.2;

    /// Standard deviations of L*, a* and b*, to first order.
    pub fn spread(&self) -> [f64; 3] {
        std::array::from_fn(|axis| {
            self.contributions
                .iter()
                .map(|contribution| contribution.by[axis].powi(2))
                .sum::<f64>()
                .sqrt()
        })
    }

    /// Mean L*, a* and b* of all castings that may come of it, to second order, where one of the three differs from
    /// [`lab`](Self::lab) by more than [`MEAN_APART`](Self::MEAN_APART); `None` where the colour itself says it.
    ///
    /// The mean of f(z) for a normal deviate z is f(0) + ½ f″, and the curvatures of independent deviates add up.
    pub fn mean_apart(&self) -> Option<Lab> {
        let by: [f64; 3] = std::array::from_fn(|axis| {
            let curvatures = self.contributions.iter();
            curvatures
                .map(|contribution| contribution.curvature[axis])
                .sum()
        });
        let is_apart = by.iter().any(|by| by.abs() > Self::MEAN_APART);
        let Lab { l, a, b, .. } = self.lab;
        is_apart.then(|| Lab::new(l + by[0], a + by[1], b + by[2]))
    }

    /// CIELAB of the casting under another light, for `observer`.
    pub fn under(&self, light: &Light, observer: Observer) -> Lab {
        light.weights(observer).lab(&self.reflectance)
    }

    /// [`chance_within`](Self::chance_within) to first order, and normal: the share of a fixed, evenly spread set of points
    /// in three dimensions that land there.
    ///
    /// Source of the points: the additive recurrence of the plastic number's kin, M. Roberts (2018), "The
    /// unreasonable effectiveness of quasirandom sequences" (a note, not a paper); of the normal deviates,
    /// G. E. P. Box and M. E. Muller (1958), Annals of Mathematical Statistics 29, 610–611.
    pub(crate) fn normal_chance(&self, tolerance: f64, aim: Lab, aim_spread: [f64; 3]) -> f64 {
        chance_of_scatter(self.lab, self.covariance(aim_spread), tolerance, aim)
    }

    fn covariance(&self, aim_spread: [f64; 3]) -> [[f64; 3]; 3] {
        std::array::from_fn(|row| {
            std::array::from_fn(|column| {
                let own = if row == column {
                    aim_spread[row].powi(2)
                } else {
                    0.0
                };
                self.contributions
                    .iter()
                    .map(|contribution| contribution.by[row] * contribution.by[column])
                    .sum::<f64>()
                    + own
            })
        })
    }
}

/// The chance (0–1) that what scatters normally about `lab`, by this covariance of L*, a*, b*, lies within `tolerance` (ΔE00)
/// of `aim`.
pub fn chance_of_scatter(lab: Lab, covariance: [[f64; 3]; 3], tolerance: f64, aim: Lab) -> f64 {
    let factor = cholesky(covariance);
    // The same points for every chance: made once.
    static POINTS: OnceLock<Vec<[f64; 3]>> = OnceLock::new();
    let points = POINTS.get_or_init(|| (1..=SAMPLES).map(f64::from).map(normal).collect());
    let landed = points.iter().filter(|[x, y, z]| {
        let [l, a, b] = [
            factor[0][0] * x,
            factor[1][0] * x + factor[1][1] * y,
            factor[2][0] * x + factor[2][1] * y + factor[2][2] * z,
        ];
        let made = Lab::new(lab.l + l, lab.a + a, lab.b + b);
        delta_e_2000(aim, made) <= tolerance
    });
    landed.count() as f64 / f64::from(SAMPLES)
}

/// The lower triangle whose product with its transpose is `matrix`; a direction without spread stays zero.
fn cholesky(matrix: [[f64; 3]; 3]) -> [[f64; 3]; 3] {
    let mut factor = [[0.0; 3]; 3];
    for row in 0..3 {
        for column in 0..=row {
            let known: f64 = (0..column)
                .map(|k| factor[row][k] * factor[column][k])
                .sum();
            let rest = matrix[row][column] - known;
            factor[row][column] = if row == column {
                rest.max(0.0).sqrt()
            } else if factor[column][column] > 0.0 {
                rest / factor[column][column]
            } else {
                0.0
            };
        }
    }
    factor
}

/// Three normal deviates, the `point`-th of an even set.
fn normal(point: f64) -> [f64; 3] {
    // The positive root of x⁵ = x + 1, for four dimensions.
    const ROOT: f64 = 1.167_303_978_261_418_7;
    let [first, second, third, fourth] =
        [1, 2, 3, 4].map(|power| (0.5 + point * ROOT.powi(-power)).fract());
    let radius = |even: f64| (-2.0 * (1.0 - even).ln()).sqrt();
    let (sin, cos) = (TAU * second).sin_cos();
    [
        radius(first) * cos,
        radius(first) * sin,
        radius(third) * (TAU * fourth).cos(),
    ]
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;
    use crate::materials::fixtures::{chip, shelf};
    use crate::materials::{Build, Millimetres};

    #[test]
    fn a_curvature_is_how_far_the_middle_of_two_castings_lies_from_the_one_between() {
        let mut shelf = shelf();
        shelf.settings.thickness_sd = Millimetres(0.5);
        let weights = shelf.settings.viewing.weights();
        let of_thickness = |mm: f64| {
            let build = Build {
                thickness: Millimetres(mm),
                ..chip("red 1")
            };
            Casting::new(&shelf, &build)
                .expect("sound")
                .predict(&weights, Doubts::All)
        };
        // The three castings differ in thickness alone; no other doubt is of that source.
        let [thin, here, thick] = [1.5, 2.0, 2.5].map(of_thickness);
        let mut contributions = here.contributions.iter();
        let found = contributions.find(|each| each.source == DoubtSource::Thickness);
        let found = found.expect("a thickness is in doubt");
        let axes = |lab: Lab| [lab.l, lab.a, lab.b];
        let [thin, here, thick] = [thin.lab, here.lab, thick.lab].map(axes);
        for axis in 0..3 {
            let middle = (thick[axis] + thin[axis]) / 2.0;
            assert_abs_diff_eq!(found.curvature[axis], middle - here[axis], epsilon = 1e-9);
            let half = (thick[axis] - thin[axis]) / 2.0;
            assert_abs_diff_eq!(found.by[axis], half, epsilon = 1e-9);
        }
        assert!(
            found.curvature[0].abs() > 0.05,
            "it is to be seen: {found:?}"
        );
    }

    fn prediction(contributions: Vec<[f64; 3]>) -> Prediction {
        let contributions = contributions.into_iter().map(|by| Contribution {
            source: DoubtSource::Curves,
            by,
            curvature: [0.0; 3],
        });
        Prediction {
            reflectance: Spectrum::constant(0.3),
            lab: Lab::new(60.0, 12.0, 15.0),
            contrast_ratio: 1.0,
            translucency: Translucency::OPAQUE,
            contributions: contributions.collect(),
            carried: None,
        }
    }

    #[test]
    fn the_mean_is_told_where_what_is_not_known_curves_the_colour() {
        // By hand: the square of a normal deviate has mean 1, so the curvatures add up as they are.
        let mut curved = prediction(vec![[3.0, 0.0, 0.0], [1.0, 0.0, 0.0]]);
        assert_eq!(curved.mean_apart(), None, "straight");
        curved.contributions[0].curvature = [-0.15, 0.1, 0.0];
        assert_eq!(curved.mean_apart(), None, "hardly");
        curved.contributions[1].curvature = [-0.15, 0.0, 0.0];
        let mean = curved.mean_apart().expect("0.3 darker");
        assert_abs_diff_eq!(mean.l, 59.7, epsilon = 1e-12);
        assert_abs_diff_eq!(mean.a, 12.1, epsilon = 1e-12);
        assert_abs_diff_eq!(mean.b, 15.0, epsilon = 1e-12);
    }

    #[test]
    fn what_is_certain_passes_or_fails_for_certain() {
        let certain = prediction(Vec::new());
        let near = Lab::new(60.3, 12.0, 15.0);
        assert_eq!(certain.chance_within(0.59, near, [0.0; 3]), 1.0, "within");
        assert_eq!(certain.chance_within(0.1, near, [0.0; 3]), 0.0, "outside");
    }

    #[test]
    fn a_chance_in_lightness_alone_is_that_of_the_normal_law() {
        // Along L* at 60, ΔE00 is |ΔL*| over S_L. Half of a normal law lies within 0.6745 standard deviations
        // (any table of it).
        let lightness = prediction(vec![[3.0, 0.0, 0.0]]);
        let limit = 0.6745 * 3.0;
        let tolerance = delta_e_2000(lightness.lab, Lab::new(60.0 + limit, 12.0, 15.0));
        let chance = lightness.chance_within(tolerance, lightness.lab, [0.0; 3]);
        // S_L differs a little above and below.
        assert_abs_diff_eq!(chance, 0.5, epsilon = 0.01);
        let unsure_aim = lightness.chance_within(tolerance, lightness.lab, [4.0, 0.0, 0.0]);
        // 0.6745 × 3 / 5 = 0.4047 standard deviations: 0.3143.
        assert_abs_diff_eq!(unsure_aim, 0.3143, epsilon = 0.01);
    }

    #[test]
    fn the_deviates_are_normal_and_independent() {
        let sums = (1..=SAMPLES).fold([0.0; 7], |mut sums, point| {
            let [x, y, z] = normal(f64::from(point));
            for (sum, term) in
                sums.iter_mut()
                    .zip([x, x * x, y * y, z * z, x * y, y * z, x.powi(4)])
            {
                *sum += term / f64::from(SAMPLES);
            }
            sums
        });
        // Mean, variances, covariances; and the fourth moment, to which rare points far out give most.
        let expected = [
            (0.0, 0.01),
            (1.0, 0.01),
            (1.0, 0.01),
            (1.0, 0.01),
            (0.0, 0.01),
            (0.0, 0.01),
        ];
        for (moment, (expected, tolerance)) in sums
            .into_iter()
            .zip(expected.into_iter().chain([(3.0, 0.1)]))
        {
            assert_abs_diff_eq!(moment, expected, epsilon = tolerance);
        }
    }

    #[test]
    fn the_factor_of_a_flat_spread_has_no_holes() {
        let flat = prediction(vec![[1.0, 1.0, 0.0], [2.0, 2.0, 0.0]]);
        let chance = flat.chance_within(100.0, flat.lab, [0.0; 3]);
        assert_eq!(chance, 1.0, "no NaN where two axes move as one");
    }

    #[test]
    fn a_chance_along_a_slant_is_that_of_the_normal_law() {
        // Half of a normal law lies within 0.6745 standard deviations (any table of it), whichever way it runs.
        let slant = [1.5, 3.0, 0.0];
        let along = prediction(vec![slant]);
        let end = |sign: f64| {
            let [l, a, b] = slant.map(|by| sign * 0.6745 * by);
            delta_e_2000(along.lab, Lab::new(60.0 + l, 12.0 + a, 15.0 + b))
        };
        let tolerance = (end(1.0) + end(-1.0)) / 2.0;
        let chance = along.chance_within(tolerance, along.lab, [0.0; 3]);
        assert_abs_diff_eq!(chance, 0.5, epsilon = 0.01);
    }
}
