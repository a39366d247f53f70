//! What the physics leaves over: by how much castings that were read lay off its colour, carried to castings like them.
//!
//! # What is carried, and how far?
//!
//! ΔL*, Δa* and Δb* of each reading from what the calibrated curves say of it, as three Gaussian processes with one exponential
//! covariance (Matérn, ν = ½). What makes two castings alike is their upper layer: the shares of its materials in what stops
//! light, how strongly it stops light, its thickness, and the colour of what it lies on. Layers of different bases tell nothing
//! of each other. Far from any casting nothing is carried and all that is usual may be left over, which is a doubt of its own.
//!
//! A casting's spectrum is shifted to the colour that comes of it, so that every face, light and search sees the same.
//!
//! Readings of one chip share what its hands did wrong: so their noise is partly in common, and a chip that is read again
//! counts for little more than once.
//!
//! Source: C. E. Rasmussen, C. K. I. Williams (2006), Gaussian Processes for Machine Learning, MIT Press, algorithm 2.1 and
//! section 4.2.1.

use std::sync::OnceLock;

use nalgebra::{DMatrix, DVector};

use super::gaussian_process::GaussianProcess;
use super::makeup::{Apart, Makeup, Strengths};
use crate::colour::Spectrum;

/// By what law what is left over is alike.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LeftOverLaw {
    /// Standard deviation of what is left over of L*, a* and b* where no casting is near.
    pub sd: [f64; 3],
    /// Variance of what a reading is off by itself over the variance of what is left over, above 0.
    pub noise: f64,
    /// The share (0–1) of that noise that all readings of one chip have in common.
    pub of_chip: f64,
    /// How far castings may lie apart and still be alike.
    pub scales: Scales,
}

/// How far castings may lie apart, each above 0, until what they leave over is alike by 1 / e.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scales {
    /// Of the shares of materials in what stops light, as the root of the summed squares.
    pub shares: f64,
    /// Of the natural logarithm of how strongly the layer stops light, mm⁻¹.
    pub load: f64,
    /// Of the natural logarithm of its thickness.
    pub thickness: f64,
    /// Of the colour of what lies beneath, in hundreds of L*, a*, b*; air between counts as 1.
    pub beneath: f64,
}

impl LeftOverLaw {
    /// How much alike (0–1) what is left over is of two castings; 0 where one tells nothing of the other.
    pub(crate) fn alike(&self, apart: Option<&Apart>) -> f64 {
        apart.map_or(0.0, |apart| {
            let Scales {
                shares,
                load,
                thickness,
                beneath,
            } = self.scales;
            let squares = apart.shares / shares.powi(2)
                + apart.load / load.powi(2)
                + apart.thickness / thickness.powi(2)
                + apart.beneath / beneath.powi(2);
            (-squares.sqrt()).exp()
        })
    }

    /// The noise that readings of two chips have in common, in the variance of what is left over.
    pub(crate) fn noise_of(&self, is_same_reading: bool, is_same_chip: bool) -> f64 {
        self.noise
            * match (is_same_reading, is_same_chip) {
                (true, _) => 1.0,
                (false, true) => self.of_chip,
                (false, false) => 0.0,
            }
    }
}

/// What is left over at castings that were read, and by what law it is carried on.
#[derive(Clone, Debug)]
pub struct LeftOver {
    law: LeftOverLaw,
    strengths: Strengths,
    points: Vec<LeftOverPoint>,
    /// How many castings that the book keeps are not among them, since the physics says something else of them by now.
    stale: usize,
    /// Worked out when it is first asked for.
    solved: OnceLock<Option<GaussianProcess>>,
}

/// What is left over at one reading.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct LeftOverPoint {
    /// The chip.
    pub(crate) chip: String,
    pub(crate) makeup: Makeup,
    /// ΔL*, Δa* and Δb* from the physics to what was read.
    pub(crate) by: [f64; 3],
}

/// What is carried to a casting.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Carried {
    /// ΔL*, Δa* and Δb* from what the physics says to what comes out.
    pub by: [f64; 3],
    /// Their standard deviations: what is left over that nothing tells of.
    pub sd: [f64; 3],
}

impl PartialEq for LeftOver {
    /// What is worked out follows from the rest.
    fn eq(&self, other: &Self) -> bool {
        (self.law, self.stale) == (other.law, other.stale)
            && self.strengths == other.strengths
            && self.points == other.points
    }
}

impl LeftOver {
    /// The most castings that a book keeps; a prediction costs as much as there are.
    pub const MOST: usize = 1000;

    pub(crate) fn new(
        strengths: Strengths,
        law: LeftOverLaw,
        points: Vec<LeftOverPoint>,
        stale: usize,
    ) -> Self {
        Self {
            law,
            strengths,
            points,
            stale,
            solved: OnceLock::new(),
        }
    }

    /// How many readings tell of it.
    pub fn readings(&self) -> usize {
        self.points.len()
    }

    /// How many readings that are kept no longer do: curves, cards or settings have changed since.
    pub fn stale(&self) -> usize {
        self.stale
    }

    pub(crate) fn strengths(&self) -> &Strengths {
        &self.strengths
    }

    /// What is carried to a casting of this `makeup`; `None` where no reading tells of any like it.
    pub(crate) fn carried(&self, makeup: &Makeup) -> Option<Carried> {
        let (process, alike) = self.told_of(makeup)?;
        let left = process.variance(1.0, &alike).sqrt();
        Some(Carried {
            by: mean(process, &alike),
            sd: self.law.sd.map(|sd| sd * left),
        })
    }

    /// `physics`, the spectrum (0–1) that the physics has of a casting of this `makeup`, with what is carried to it.
    pub(crate) fn added_to(&self, physics: &Spectrum, makeup: &Makeup) -> Spectrum {
        self.told_of(makeup).map_or(*physics, |(process, alike)| {
            self.strengths.shifted(physics, mean(process, &alike))
        })
    }

    /// How much alike each point is.
    fn told_of(&self, makeup: &Makeup) -> Option<(&GaussianProcess, DVector<f64>)> {
        let mut is_told = false;
        let alike = self.points.iter().map(|point| {
            let apart = point.makeup.apart(makeup);
            is_told |= apart.is_some();
            self.law.alike(apart.as_ref())
        });
        let alike = DVector::from_iterator(self.points.len(), alike);
        if !is_told {
            return None;
        }
        let process = self.solved.get_or_init(|| self.solve()).as_ref()?;
        Some((process, alike))
    }

    fn solve(&self) -> Option<GaussianProcess> {
        let count = self.points.len();
        let mut covariance = DMatrix::zeros(count, count);
        for (row, one) in self.points.iter().enumerate() {
            for (column, other) in self.points[..=row].iter().enumerate() {
                let apart = one.makeup.apart(&other.makeup);
                let noise = self.law.noise_of(row == column, one.chip == other.chip);
                covariance[(row, column)] = self.law.alike(apart.as_ref()) + noise;
            }
        }
        covariance.fill_upper_triangle_with_lower_triangle();
        let values = DMatrix::from_fn(count, 3, |row, axis| self.points[row].by[axis]);
        GaussianProcess::new(covariance, &values)
    }
}

/// ΔL*, Δa* and Δb* that `process` says of a casting that is so much `alike` each point.
fn mean(process: &GaussianProcess, alike: &DVector<f64>) -> [f64; 3] {
    let mean = process.mean(alike);
    std::array::from_fn(|axis| mean[axis])
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use approx::assert_abs_diff_eq;

    use super::*;
    use crate::materials::fixtures::{chip, shelf};
    use crate::materials::{Build, Casting, LeftOverCasting, Shelf};

    const LAW: LeftOverLaw = LeftOverLaw {
        sd: [1.0, 2.0, 3.0],
        noise: 0.25,
        of_chip: 0.8,
        scales: Scales {
            shares: 0.5,
            load: 1.0,
            thickness: 1.0,
            beneath: 0.5,
        },
    };

    fn read(shelf: &Shelf, swatch: &str, build: &Build) -> LeftOverCasting {
        let weights = shelf.settings.viewing.weights();
        let casting = Casting::new(shelf, build).expect("sound");
        LeftOverCasting {
            swatch: swatch.to_owned(),
            build: build.clone(),
            physics: weights.lab(&casting.by_physics()),
            by: [2.0, -1.0, 0.5],
        }
    }

    fn knowing(castings: &[LeftOverCasting]) -> Shelf {
        let mut shelf = shelf();
        let left_over = LeftOver::of(&shelf, LAW, castings).expect("on the shelf");
        shelf.left_over = Some(Arc::new(left_over));
        shelf
    }

    fn carried(shelf: &Shelf, build: &Build) -> Option<Carried> {
        Casting::new(shelf, build).expect("sound").carried()
    }

    #[test]
    fn what_was_missed_is_carried_to_its_like_and_fades_with_what_differs() {
        let red = chip("red 2; white 2");
        let shelf = knowing(&[read(&shelf(), "one", &red)]);
        let here = carried(&shelf, &red).expect("the same again");
        // By hand: of variance 1 and noise 0.25, four fifths are carried, and a fifth is left.
        assert_abs_diff_eq!(here.by[0], 1.6, epsilon = 1e-12);
        assert_abs_diff_eq!(here.by[1], -0.8, epsilon = 1e-12);
        assert_abs_diff_eq!(here.sd[1], 2.0 * 0.2_f64.sqrt(), epsilon = 1e-12);
        let casting = Casting::new(&shelf, &red).expect("sound");
        let weights = shelf.settings.viewing.weights();
        let [made, physics] = [casting.reading(), casting.by_physics()].map(|r| weights.lab(&r));
        assert_abs_diff_eq!(made.l - physics.l, 1.6, epsilon = 1e-6);
        assert_abs_diff_eq!(made.b - physics.b, 0.4, epsilon = 1e-6);

        let thicker = Build {
            thickness: crate::materials::Millimetres(2.0 * 1.5_f64.exp()),
            ..red.clone()
        };
        // One scale and a half off, in thickness alone.
        let faded = carried(&shelf, &thicker).expect("of the same base");
        assert_abs_diff_eq!(faded.by[0], 1.6 * (-1.5_f64).exp(), epsilon = 1e-9);
        let far = carried(&shelf, &chip("fibre 30 g")).expect("of the same base");
        assert!(far.by[0].abs() < 0.2 && far.sd[0] > 0.9, "{far:?}");
        let mut other = red;
        other.skin.base = "paint".to_owned();
        other.thickness = crate::materials::Millimetres(0.05);
        assert_eq!(carried(&shelf, &other), None, "another base");
    }

    #[test]
    fn a_chip_that_is_read_again_is_no_second_chip() {
        let red = chip("red 2; white 2");
        let by =
            |castings: &[LeftOverCasting]| carried(&knowing(castings), &red).expect("alike").by[0];
        let one = read(&shelf(), "one", &red);
        let other = read(&shelf(), "other", &red);
        // By hand: two equal values that share 1 + 0.25 · 0.8, or 1, of 1.25.
        let again = by(&[one.clone(), one.clone()]);
        assert_abs_diff_eq!(again, 2.0 * 2.0 / (1.25 + 1.2), epsilon = 1e-12);
        assert_abs_diff_eq!(by(&[one, other]), 2.0 * 2.0 / 2.25, epsilon = 1e-12);
    }

    #[test]
    fn readings_of_which_the_physics_says_something_else_by_now_are_left_out() {
        let (red, white) = (chip("red 2; white 2"), chip("white 3"));
        let castings = ["red", "white"].into_iter().zip([&red, &white]);
        let castings: Vec<_> = castings
            .map(|(id, build)| read(&shelf(), id, build))
            .collect();
        let mut changed = shelf();
        let pigment = &mut changed.pigments[0].coefficients;
        *pigment = pigment.scaled(1.1);
        let left_over = LeftOver::of(&changed, LAW, &castings).expect("on the shelf");
        assert_eq!(
            (left_over.readings(), left_over.stale()),
            (1, 1),
            "the white alone"
        );
    }
}
