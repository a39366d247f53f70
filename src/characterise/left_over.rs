//! What fitted curves leave over of the readings that they were fitted to, and by what law it is alike from casting to casting.

use std::collections::HashMap;

use nalgebra::DMatrix;

use crate::colour::{Lab, TristimulusWeights};
use crate::error::{Error, Result};
use crate::materials::{
    Amount, Apart, Build, Casting, Coat, Cup, GaussianProcess, LeftOver, LeftOverCasting,
    LeftOverLaw, Makeup, Mix, Poured, Scales, Shelf, Strengths, Swatch, Underlay,
};

/// What a calibration leaves over.
#[derive(Clone, Debug, PartialEq)]
pub struct LeftOverFound {
    /// By what law it is alike.
    pub law: LeftOverLaw,
    /// The readings that tell of it, at most [`LeftOver::MOST`].
    pub castings: Vec<LeftOverCasting>,
    /// How many readings told of it before they were thinned to as many.
    pub readings: usize,
}

/// Fewer readings tell nothing of how they are alike. Our own choice, no source.
const FEWEST: usize = 8;

/// Less than this of L*, a* and b*, root mean square, is nothing left over: it is not seen. Our own choice, no source.
const NOT_SEEN: f64 = 0.1;

/// How many readings the law is learnt from, which costs the third power; and in groups of how many that lie near each other,
/// since what lies far apart doesn't tell how fast alikeness falls. Our own choice, no source.
const LEARNT_FROM: usize = 150;
const IN_A_GROUP: usize = 15;

/// What the curves of `fitted` leave over of `swatches`; `None` where it is no more alike from casting to casting than noise is.
///
/// Readings off photographs are left out, since what they are off by belongs to the photograph; and those at the indices of
/// which `is_slip` says that they disagree with all others by what one slip explains.
///
/// # Errors
/// As [`Casting::of_swatch`].
pub(super) fn left_over(
    fitted: &Shelf,
    swatches: &[Swatch],
    is_slip: impl Fn(usize) -> bool,
    weights: &TristimulusWeights,
) -> Result<Option<LeftOverFound>> {
    let strengths = Strengths::of(&fitted.bases, &fitted.pigments, fitted.settings.viewing);
    let mut told = Vec::new();
    for (index, swatch) in swatches.iter().enumerate() {
        let Some(measured) = swatch.measured(weights) else {
            continue;
        };
        if !swatch.photo.is_empty() || is_slip(index) {
            continue;
        }
        let as_read = weights.lab(&Casting::of_swatch(fitted, swatch)?.by_physics());
        let build = weighed(fitted, &swatch.build)?;
        // Not as it was read: the book's instrument may be another.
        let casting = Casting::new(fitted, &build)?;
        let (physics, makeup) = (casting.by_physics(), casting.makeup(&strengths));
        let casting = LeftOverCasting {
            swatch: swatch.id.clone(),
            physics: weights.lab(&physics),
            build,
            by: difference(measured, as_read),
        };
        told.extend(makeup.map(|makeup| Told { casting, makeup }));
    }
    if told.len() < FEWEST || is_not_seen(&told) {
        return Ok(None);
    }
    let readings = told.len();
    let kept = spread_out(&told, LeftOver::MOST, 1);
    let told: Vec<&Told> = kept.into_iter().map(|index| &told[index]).collect();
    Ok(law(&told).map(|law| LeftOverFound {
        law,
        castings: told.into_iter().map(|each| each.casting.clone()).collect(),
        readings,
    }))
}

/// A reading that tells of what is left over.
#[derive(Clone, Debug)]
struct Told {
    casting: LeftOverCasting,
    makeup: Makeup,
}

fn difference(one: Lab, other: Lab) -> [f64; 3] {
    [one.l - other.l, one.a - other.a, one.b - other.b]
}

fn is_not_seen(told: &[Told]) -> bool {
    (0..3).all(|axis| {
        let squares = told.iter().map(|each| each.casting.by[axis].powi(2));
        squares.sum::<f64>() <= NOT_SEEN.powi(2) * told.len() as f64
    })
}

/// `build` with its drops as grams: what a drop weighs may be learnt anew, and these were cast.
fn weighed(shelf: &Shelf, build: &Build) -> Result<Build> {
    let in_grams = |poured: &Poured| -> Result<Poured> {
        let cup = Cup::pour(shelf, poured)?;
        let entries = cup.portions.iter();
        let entries = entries.map(|portion| (portion.colorant(), Amount::Mass(portion.mass)));
        Ok(Poured {
            mix: Mix::new(entries.collect())?,
            ..poured.clone()
        })
    };
    Ok(Build {
        skin: in_grams(&build.skin)?,
        thickness: build.thickness,
        beneath: match &build.beneath {
            Underlay::Foam(foam) => Underlay::Foam(in_grams(foam)?),
            Underlay::Backing { .. } => build.beneath.clone(),
        },
        paint: (build.paint.as_ref())
            .map(|coat| {
                Ok::<_, Error>(Coat {
                    paint: in_grams(&coat.paint)?,
                    dry_thickness: coat.dry_thickness,
                })
            })
            .transpose()?,
    })
}

/// Indices, ascending, of at most `most` of `told` that are spread over all: the first, then again and again the one that lies
/// farthest from those that are in, each with those that lie nearest to it until there are `together`.
fn spread_out(told: &[Told], most: usize, together: usize) -> Vec<usize> {
    if told.len() <= most {
        return (0..told.len()).collect();
    }
    // Scales that are usual; castings that tell nothing of each other are farther apart than any others.
    let usual = LeftOverLaw {
        sd: [1.0; 3],
        noise: 1.0,
        of_chip: 0.0,
        scales: USUAL,
    };
    let distance = |one: usize, other: usize| {
        let apart = told[one].makeup.apart(&told[other].makeup);
        1.0 - usual.alike(apart.as_ref())
    };
    let mut nearest = vec![f64::INFINITY; told.len()];
    let mut is_in = vec![false; told.len()];
    let mut count = 0;
    let mut next = 0;
    while count < most {
        let from_next: Vec<f64> = (0..told.len()).map(|index| distance(next, index)).collect();
        let mut group: Vec<usize> = (0..told.len()).filter(|index| !is_in[*index]).collect();
        if together < group.len() {
            group.select_nth_unstable_by(together - 1, |one, other| {
                let by_distance = from_next[*one].total_cmp(&from_next[*other]);
                by_distance.then(one.cmp(other))
            });
        }
        for index in group.into_iter().take(together.min(most - count)) {
            is_in[index] = true;
            count += 1;
        }
        let mut farthest = (0, f64::NEG_INFINITY);
        for index in 0..told.len() {
            nearest[index] = nearest[index].min(from_next[index]);
            if !is_in[index] && nearest[index] > farthest.1 {
                farthest = (index, nearest[index]);
            }
        }
        next = farthest.0;
    }
    (0..told.len()).filter(|index| is_in[*index]).collect()
}

/// How far castings may lie apart before any reading tells. Our own choice, no source.
const USUAL: Scales = Scales {
    shares: 0.5,
    load: 1.5,
    thickness: 1.0,
    beneath: 0.5,
};

/// The law of what is left over, by the greatest marginal likelihood; `None` where noise alone is the likelier explanation.
///
/// The three standard deviations are those that are likeliest for each set of the rest. Two explanations of different numbers of
/// parameters are compared by Schwarz's criterion.
///
/// Source: C. E. Rasmussen, C. K. I. Williams (2006), Gaussian Processes for Machine Learning, MIT Press, section 5.4.1;
/// G. Schwarz (1978), Estimating the dimension of a model, Annals of Statistics 6, 461–464.
fn law(told: &[&Told]) -> Option<LeftOverLaw> {
    let owned: Vec<Told> = told.iter().map(|each| (*each).clone()).collect();
    let some = spread_out(&owned, LEARNT_FROM, IN_A_GROUP);
    let readings = Readings::new(some.into_iter().map(|index| &owned[index]));
    let noise_alone = (0..=4).map(|quarters| readings.of_noise(f64::from(quarters) * 0.24));
    let noise_alone = noise_alone.fold(f64::NEG_INFINITY, f64::max);
    let (best, of_best) = readings.likeliest();
    let free = 5.0;
    let worth = free / 2.0 * (3.0 * readings.count() as f64).ln();
    let found = readings.at(&best)?;
    (of_best - noise_alone > worth).then_some(found.1)
}

/// Readings whose law is sought.
struct Readings {
    /// Of each two, in the lower triangle by rows.
    apart: Vec<Option<Apart>>,
    chips: Vec<usize>,
    values: DMatrix<f64>,
}

/// The parameters of a law but its standard deviations, as they are sought: logarithms of the four scales and of the noise, and
/// the share that is a chip's.
type Sought = [f64; 6];

impl Readings {
    fn new<'a>(told: impl Iterator<Item = &'a Told>) -> Self {
        let told: Vec<&Told> = told.collect();
        let mut numbers: HashMap<&str, usize> = HashMap::new();
        let chips = told.iter().map(|each| {
            let next = numbers.len();
            *numbers.entry(&each.casting.swatch).or_insert(next)
        });
        let chips = chips.collect();
        let pairs = (0..told.len()).flat_map(|row| (0..=row).map(move |column| (row, column)));
        let apart = pairs.map(|(row, column)| told[row].makeup.apart(&told[column].makeup));
        Self {
            apart: apart.collect(),
            chips,
            values: DMatrix::from_fn(told.len(), 3, |row, axis| told[row].casting.by[axis]),
        }
    }

    fn count(&self) -> usize {
        self.values.nrows()
    }

    /// The log marginal likelihood, but for a constant, of all values by a `covariance` that is right but for a factor a
    /// quantity, and the likeliest of these factors.
    fn of(&self, covariance: DMatrix<f64>) -> Option<(f64, [f64; 3])> {
        let count = self.count() as f64;
        let process = GaussianProcess::new(covariance, &self.values)?;
        let misfits = process.misfits(&self.values);
        // What reads exactly as the physics says is as good as read to this.
        let variances: [f64; 3] = std::array::from_fn(|axis| (misfits[axis] / count).max(1e-6));
        let ln_variances: f64 = variances.iter().map(|variance| variance.ln()).sum();
        let ln_likelihood = -0.5 * count * ln_variances - 1.5 * process.ln_determinant();
        Some((ln_likelihood, variances.map(f64::sqrt)))
    }

    /// A matrix by what two readings have in common.
    fn matrix(&self, of: impl Fn(Option<&Apart>, bool, bool) -> f64) -> DMatrix<f64> {
        let count = self.count();
        let mut matrix = DMatrix::zeros(count, count);
        let mut pair = 0;
        for row in 0..count {
            for column in 0..=row {
                let is_same_chip = self.chips[row] == self.chips[column];
                let value = of(self.apart[pair].as_ref(), row == column, is_same_chip);
                matrix[(row, column)] = value;
                matrix[(column, row)] = value;
                pair += 1;
            }
        }
        matrix
    }

    /// The log marginal likelihood where all is noise, of which chips have the share `of_chip` in common.
    fn of_noise(&self, of_chip: f64) -> f64 {
        let noise = LeftOverLaw {
            sd: [1.0; 3],
            noise: 1.0,
            of_chip,
            scales: USUAL,
        };
        let covariance = self.matrix(|_, is_same_reading, is_same_chip| {
            noise.noise_of(is_same_reading, is_same_chip)
        });
        self.of(covariance).map_or(f64::NEG_INFINITY, |(of, _)| of)
    }

    /// The log marginal likelihood of what is `sought`, and its law.
    fn at(&self, sought: &Sought) -> Option<(f64, LeftOverLaw)> {
        let [shares, load, thickness, beneath, noise, of_chip] = *sought;
        let mut law = LeftOverLaw {
            sd: [1.0; 3],
            noise: noise.exp(),
            of_chip,
            scales: Scales {
                shares: shares.exp(),
                load: load.exp(),
                thickness: thickness.exp(),
                beneath: beneath.exp(),
            },
        };
        let covariance = self.matrix(|apart, is_same_reading, is_same_chip| {
            law.alike(apart) + law.noise_of(is_same_reading, is_same_chip)
        });
        let (of, sd) = self.of(covariance)?;
        law.sd = sd;
        Some((of, law))
    }

    /// The likeliest of all, by steps along each parameter that are halved where none helps; and its log marginal likelihood.
    fn likeliest(&self) -> (Sought, f64) {
        /// Of the logarithms; the share that is a chip's takes steps of a quarter of it.
        const FIRST_STEP: f64 = 1.0;
        const LAST_STEP: f64 = 0.25;
        /// What is gained below that is not worth a step.
        const WORTH: f64 = 0.05;
        const MOST: usize = 120;
        const AROUND: f64 = 2.3;
        let begin: Sought = [
            USUAL.shares.ln(),
            USUAL.load.ln(),
            USUAL.thickness.ln(),
            USUAL.beneath.ln(),
            0.3_f64.ln(),
            0.5,
        ];
        let may_be = |sought: &Sought| {
            let scales = (0..4).all(|index| (sought[index] - begin[index]).abs() <= AROUND);
            scales && sought[4].abs() <= 3.0 * AROUND && (0.0..=0.95).contains(&sought[5])
        };
        let ln_likelihood =
            |sought: &Sought| self.at(sought).map_or(f64::NEG_INFINITY, |(of, _)| of);
        let mut best = (begin, ln_likelihood(&begin));
        let mut asked = 1;
        let mut step = FIRST_STEP;
        while step >= LAST_STEP && asked < MOST {
            let before = best.1;
            for index in 0..begin.len() {
                for sign in [1.0, -1.0] {
                    let mut sought = best.0;
                    sought[index] += sign * if index == 5 { step / 4.0 } else { step };
                    if !may_be(&sought) {
                        continue;
                    }
                    let of = ln_likelihood(&sought);
                    asked += 1;
                    if of > best.1 + WORTH {
                        best = (sought, of);
                        break;
                    }
                }
            }
            if best.1 <= before {
                step /= 2.0;
            }
        }
        best
    }
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;
    use crate::colour::delta_e_2000;
    use crate::materials::fixtures::{chip, shelf};

    /// Cups of red and white, of many strengths and shares.
    fn mixes() -> Vec<String> {
        let drops = |of: usize| 1.0 + (of * of) as f64 / 2.0;
        let pairs = (0..6).flat_map(|red| (0..6).map(move |white| (red, white)));
        pairs
            .map(|(red, white)| format!("red {}; white {}", drops(red), 3.0 * drops(white)))
            .collect()
    }

    /// Swatches that read as the physics says and by `missed` otherwise.
    fn swatches(mixes: &[String], missed: impl Fn(usize) -> [f64; 3]) -> Vec<Swatch> {
        let shelf = shelf();
        let weights = shelf.settings.viewing.weights();
        let read = |(index, mix): (usize, &String)| {
            let build = chip(mix);
            let casting = Casting::new(&shelf, &build).expect("sound");
            let physics = weights.lab(&casting.reading());
            let [l, a, b] = missed(index);
            let lab = Lab::new(physics.l + l, physics.a + a, physics.b + b);
            Swatch {
                id: index.to_string(),
                ..Swatch::of(build, lab, date(2026, 3, 9))
            }
        };
        mixes.iter().enumerate().map(read).collect()
    }

    fn found(missed: impl Fn(usize) -> [f64; 3]) -> Option<LeftOverFound> {
        let shelf = shelf();
        let swatches = swatches(&mixes(), missed);
        let weights = shelf.settings.viewing.weights();
        left_over(&shelf, &swatches, |_| false, &weights).expect("on the shelf")
    }

    /// A slope over what was mixed.
    fn slope(index: usize) -> [f64; 3] {
        let [red, white] = [index / 6, index % 6].map(|step| step as f64);
        [0.6 * (red - 2.5), 0.4 * (white - 2.5), 0.3 * (red - white)]
    }

    #[test]
    fn what_is_exact_or_noise_alone_leaves_nothing_over() {
        assert_eq!(found(|_| [0.0; 3]), None, "exact");
        assert_eq!(found(|_| [0.05, -0.08, 0.02]), None, "not seen");
        // Noise is taken for a law about as often as Schwarz's criterion says: next to never.
        for seed in 0..20 {
            let mut random = fastrand::Rng::with_seed(seed);
            let noise: Vec<[f64; 3]> = (0..36)
                .map(|_| std::array::from_fn(|_| (0..12).map(|_| random.f64()).sum::<f64>() - 6.0))
                .collect();
            assert_eq!(found(|index| noise[index]), None, "seed {seed}");
        }
    }

    #[test]
    fn what_slopes_over_the_mixes_is_found_and_told_of_unseen_ones() {
        let left = found(slope).expect("a law");
        assert_eq!((left.readings, left.castings.len()), (36, 36), "all tell");
        let mut shelf = shelf();
        let told = LeftOver::of(&shelf, left.law, &left.castings).expect("on the shelf");
        shelf.left_over = Some(std::sync::Arc::new(told));
        // Between the second and third of both: by the slope half way.
        let between = Casting::new(&shelf, &chip("red 2.1; white 6.2")).expect("sound");
        let carried = between.carried().expect("told");
        let expected: [f64; 3] =
            std::array::from_fn(|axis| (slope(7)[axis] + slope(14)[axis]) / 2.0);
        for axis in 0..3 {
            let off = (carried.by[axis] - expected[axis]).abs();
            assert!(
                off < 0.5 && off < 3.0 * carried.sd[axis],
                "{carried:?} for {expected:?}"
            );
        }
        let weights = shelf.settings.viewing.weights();
        let [made, physics] = [between.reading(), between.by_physics()].map(|r| weights.lab(&r));
        assert!(delta_e_2000(made, physics) > 0.3, "it is to be seen");
    }

    #[test]
    fn too_many_readings_are_thinned_to_those_that_are_spread_out_and_always_the_same() {
        let shelf = shelf();
        let strengths = Strengths::of(&shelf.bases, &shelf.pigments, shelf.settings.viewing);
        let told: Vec<Told> = (0..40)
            .map(|index| {
                // Thirty of one mix and ten of others.
                let white = if index < 30 {
                    5.0
                } else {
                    6.0 * 1.5_f64.powi(index - 29)
                };
                let build = chip(&format!("red 1; white {white}"));
                let casting = Casting::new(&shelf, &build).expect("sound");
                Told {
                    makeup: casting.makeup(&strengths).expect("of the shelf"),
                    casting: LeftOverCasting {
                        swatch: index.to_string(),
                        physics: Lab::new(50.0, 0.0, 0.0),
                        build,
                        by: [0.0; 3],
                    },
                }
            })
            .collect();
        let mut expected = vec![0];
        expected.extend(30..40);
        assert_eq!(spread_out(&told, 11, 1), expected, "each mix once");
        let grouped = spread_out(&told, 12, 3);
        assert_eq!(grouped.len(), 12, "{grouped:?}");
        assert_eq!(grouped, spread_out(&told, 12, 3), "again");
        assert_eq!(spread_out(&told, 40, 1), (0..40).collect::<Vec<_>>(), "all");
    }
}
