//! The inner loop of the search: from drops to reflectance, to a colour and its difference.
//!
//! All 36 wavelengths go side by side, padded to 40 lanes; nothing is allocated. The code is plain loops over lanes,
//! compiled for several [`Instructions`].

use super::instructions::{Instructions, Task};
use super::lanes::{LANES, Lanes, add_scaled, cells, cube_root, dot, ln_lanes, positions};
use super::response::{Response, SIXTHS, weights};
use crate::colour::{Lab, SAMPLES, Spectrum, TristimulusWeights, delta_e_2000};
use crate::forecast::Aim;
use crate::optics::Coefficients;

/// K and S, each plus its offset, times grams; and the grams themselves in the lane [`MASS`] of K.
#[derive(Clone, Debug)]
pub(crate) struct Form {
    /// (K + K₀) m, mm⁻¹ g; the last lanes are padding.
    pub(crate) k: Lanes,
    /// (S + S₀) m, likewise, without the mass.
    pub(crate) s: Lanes,
}

/// The first lane that no wavelength takes.
pub(crate) const MASS: usize = SAMPLES;

impl Form {
    /// Of `mass_g` grams of `coefficients` (mm⁻¹). `padding` fills the lanes of no wavelength: 1 for a content, whose
    /// logarithm must be finite there, and 0 for what is added to it.
    fn new(coefficients: &Coefficients, response: &Response, mass_g: f64, padding: f64) -> Self {
        let mut form = Self {
            k: [padding; LANES],
            s: [padding; LANES],
        };
        for lane in 0..SAMPLES {
            form.k[lane] = (coefficients.k[lane] + response.u.offset[lane]) * mass_g;
            form.s[lane] = (coefficients.s[lane] + response.v.offset[lane]) * mass_g;
        }
        form.k[MASS] = mass_g;
        form
    }

    /// Adds so many grams of each addition, where that is more than none.
    #[inline(always)]
    pub(crate) fn add(&mut self, additions: &[Self], grams: impl Fn(usize) -> f64) {
        // Eight lanes at a time, which stay in registers while all additions are added.
        const BLOCK: usize = 8;
        const SOME: usize = 16;
        for first in (0..additions.len()).step_by(SOME) {
            let (mut some, mut count) = ([(0, 0.0); SOME], 0);
            for index in first..additions.len().min(first + SOME) {
                let grams = grams(index);
                some[count] = (index, grams);
                count += usize::from(grams > 0.0);
            }
            for block in (0..LANES).step_by(BLOCK) {
                let (mut k, mut s) = ([0.0; BLOCK], [0.0; BLOCK]);
                k.copy_from_slice(&self.k[block..block + BLOCK]);
                s.copy_from_slice(&self.s[block..block + BLOCK]);
                for (index, grams) in &some[..count] {
                    let addition = &additions[*index];
                    let (by_k, by_s) = (&addition.k[block..], &addition.s[block..]);
                    for lane in 0..BLOCK {
                        k[lane] += grams * by_k[lane];
                        s[lane] += grams * by_s[lane];
                    }
                }
                self.k[block..block + BLOCK].copy_from_slice(&k);
                self.s[block..block + BLOCK].copy_from_slice(&s);
            }
        }
    }
}

/// The weights of X, Y and Z relative to white, and their positive and negative shares.
#[derive(Clone, Debug)]
pub(crate) struct Light {
    /// Rows of X, Y and Z: their scalar product with a reflectance (0–1) is 1 for a perfect white.
    pub(crate) all: [Lanes; 3],
    /// Of all three together.
    pub(crate) sum: Lanes,
    /// The weights above 0, else 0: what the greatest reflectances count with in an upper bound.
    pub(crate) positive: [Lanes; 3],
    /// The weights below 0, which some tables have, else 0.
    pub(crate) negative: [Lanes; 3],
    /// What X, Y and Z may be off by for the spline's error.
    error: [f64; 3],
}

/// The root of CIELAB and its slope.
///
/// Source: ISO/CIE 11664-4:2019.
#[inline(always)]
pub(crate) fn root(ratio: f64) -> (f64, f64) {
    /// Below this share of white, the root is a straight line.
    const LINEAR_BELOW: f64 = 216.0 / 24389.0;
    if ratio > LINEAR_BELOW {
        let root = cube_root(ratio);
        (root, 1.0 / (3.0 * root * root))
    } else {
        (ratio * (841.0 / 108.0) + 4.0 / 29.0, 841.0 / 108.0)
    }
}

/// CIELAB of the roots of X, Y and Z relative to white.
///
/// Source: ISO/CIE 11664-4:2019.
fn lab_of_roots([x, y, z]: [f64; 3]) -> Lab {
    Lab::new(116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z))
}

impl Light {
    /// The light of `weights`, and what a spline that may be off by `error` in each reflectance does to X, Y and Z at
    /// worst, with all errors on the side that adds up.
    fn new(weights: &TristimulusWeights, error: &Lanes) -> Self {
        let white = weights.white();
        let mut all = [[0.0; LANES]; 3];
        for ((row, factors), white) in all
            .iter_mut()
            .zip(weights.factors())
            .zip([white.x, white.y, white.z])
        {
            for (to, factor) in row.iter_mut().zip(factors) {
                *to = factor / white;
            }
        }
        let error = all.map(|row| dot(&row.map(f64::abs), error));
        let mut sum = [0.0; LANES];
        for row in &all {
            add_scaled(&mut sum, 1.0, row);
        }
        Self {
            error,
            sum,
            positive: all.map(|row| row.map(|weight| weight.max(0.0))),
            negative: all.map(|row| row.map(|weight| weight.min(0.0))),
            all,
        }
    }
}

/// What a cup is made of, ready for the inner loop: its content, and grams of each addition that may be added.
#[derive(Clone, Debug)]
pub(crate) struct Kernel {
    /// The layer model of the cup in its placement, sampled.
    pub(crate) response: Response,
    /// What is in the cup before any drop.
    content: Form,
    /// A gram of each: of the dispersion of each pigment, and of the clear base last, where any may be added.
    pub(crate) additions: Vec<Form>,
    /// Those of the aims, in their order; over a card, the one of the contrast ratio.
    pub(crate) lights: Vec<Light>,
    /// The widest set that the machine has.
    pub(crate) instructions: Instructions,
}

/// A reading of a kernel with grams of each of its additions.
struct Read<'a>(&'a Kernel, &'a [f64]);

impl Task for Read<'_> {
    type Output = Lanes;

    #[inline(always)]
    fn run(self) -> Lanes {
        self.0.read_any(self.1)
    }
}

/// The mean ΔE00 from aims, one for each of a kernel's lights, with grams of each addition.
struct Difference<'a>(&'a Kernel, &'a [Aim], &'a [f64]);

impl Task for Difference<'_> {
    type Output = f64;

    #[inline(always)]
    fn run(self) -> f64 {
        let Self(kernel, aims, grams) = self;
        let read = kernel.read_any(grams);
        let mut sum = 0.0;
        for (light, aim) in aims.iter().enumerate() {
            sum += delta_e_2000(aim.lab, kernel.lab(light, &read));
        }
        sum / aims.len() as f64
    }
}

impl Kernel {
    /// A cup whose content sets to `content` and weighs `content_g`, to which grams of `additions` may be added.
    pub(crate) fn new<'a>(
        response: Response,
        (content, content_g): (&Coefficients, f64),
        additions: impl Iterator<Item = &'a Coefficients>,
        lights: impl Iterator<Item = &'a TristimulusWeights>,
    ) -> Self {
        let instructions = Instructions::at_hand().pop();
        Self {
            content: Form::new(content, &response, content_g, 1.0),
            additions: additions
                .map(|addition| Form::new(addition, &response, 1.0, 0.0))
                .collect(),
            lights: lights
                .map(|light| Light::new(light, &response.error))
                .collect(),
            instructions: instructions.unwrap_or(Instructions::PORTABLE),
            response,
        }
    }

    /// What the reflectance may be off by.
    #[cfg(test)]
    pub(crate) fn error_at(&self, lane: usize) -> f64 {
        self.response.error[lane]
    }

    /// Reflectance with `grams` of each addition, to within [`Response::error`].
    pub(crate) fn reflectance(&self, grams: &[f64]) -> Spectrum {
        let lanes = self.read(grams);
        Spectrum::from_fn(|band| lanes[band])
    }

    /// Mean ΔE00 from `aims`, one for each light, with `grams` of each addition.
    pub(crate) fn delta_e(&self, aims: &[Aim], grams: &[f64]) -> f64 {
        self.instructions.run(Difference(self, aims, grams))
    }

    /// CIELAB under the light at `light` of what [`read`](Self::read) gave.
    #[inline(always)]
    pub(crate) fn lab(&self, light: usize, reflectance: &Lanes) -> Lab {
        let [x, y, z] = self.ratios(light, reflectance);
        lab_of_roots([root(x).0, root(y).0, root(z).0])
    }

    /// The same, and how far it may lie from the model's for the spline's error.
    pub(crate) fn lab_and_error(&self, light: usize, reflectance: &Lanes) -> (Lab, f64) {
        let ratios = self.ratios(light, reflectance);
        let error = &self.lights[light].error;
        let [x, y, z] = [0, 1, 2].map(|row| {
            // The root is steepest where the value is least.
            error[row] * root(ratios[row] - error[row]).1
        });
        let [l, a, b] = [116.0 * y, 500.0 * (x + y), 200.0 * (y + z)];
        (self.lab(light, reflectance), (l * l + a * a + b * b).sqrt())
    }

    /// X, Y and Z relative to white.
    #[inline(always)]
    fn ratios(&self, light: usize, reflectance: &Lanes) -> [f64; 3] {
        let [x, y, z] = &self.lights[light].all;
        [
            dot(x, reflectance),
            dot(y, reflectance),
            dot(z, reflectance),
        ]
    }

    /// Y of `reflectance` under the first light; 1 for a perfect white.
    pub(crate) fn luminance(&self, reflectance: &Lanes) -> f64 {
        dot(&self.lights[0].all[1], reflectance)
    }

    /// Reflectance with `grams` of each addition: one number a lane.
    pub(crate) fn read(&self, grams: &[f64]) -> Lanes {
        self.instructions.run(Read(self, grams))
    }

    /// The form of the content with `grams` of each addition; grams of more than there are count for nothing.
    #[inline(always)]
    pub(crate) fn form(&self, grams: &[f64]) -> Form {
        let mut form = self.content.clone();
        let known = self.additions.len().min(grams.len());
        form.add(&self.additions[..known], |index| grams[index]);
        form
    }

    /// [`read`](Self::read) in whatever instructions the caller is compiled for. K and S off the grid are brought to
    /// its rim.
    #[inline(always)]
    fn read_any(&self, grams: &[f64]) -> Lanes {
        let Response { u, v, .. } = &self.response;
        let form = self.form(grams);
        let (ln_k, ln_s) = (ln_lanes(&form.k), ln_lanes(&form.s));
        let (rows, across) = cells(
            &positions(&ln_k, ln_k[MASS], &u.start, &u.per_step),
            u.cells,
        );
        let (columns, along) = cells(
            &positions(&ln_s, ln_k[MASS], &v.start, &v.per_step),
            v.cells,
        );
        let (by_u, by_v) = (on_lanes(&across, weights), on_lanes(&along, weights));
        let mut read = [0.0; LANES];
        for lane in 0..SAMPLES {
            let patch = self.response.patch(lane, rows[lane], columns[lane]);
            let mut sums = [0.0; 4];
            for (row, by_u) in patch.into_iter().zip(&by_u) {
                for (sum, control) in sums.iter_mut().zip(row) {
                    *sum += by_u[lane] * f64::from(*control);
                }
            }
            read[lane] = (sums[0] * by_v[0][lane] + sums[1] * by_v[1][lane])
                + (sums[2] * by_v[2][lane] + sums[3] * by_v[3][lane]);
        }
        for read in &mut read {
            *read *= 1.0 / (SIXTHS * SIXTHS);
        }
        read
    }
}

/// The four values of `of` for the share of a cell in each lane.
#[inline(always)]
pub(crate) fn on_lanes(shares: &Lanes, of: impl Fn(f64) -> [f64; 4]) -> [Lanes; 4] {
    let mut lanes = [[0.0; LANES]; 4];
    for lane in 0..LANES {
        let [first, second, third, fourth] = of(shares[lane]);
        lanes[0][lane] = first;
        lanes[1][lane] = second;
        lanes[2][lane] = third;
        lanes[3][lane] = fourth;
    }
    lanes
}
