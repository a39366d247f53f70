//! The inner loop of the search: from drops to reflectance, and from ranges of drops to bounds of it.
//!
//! All 36 wavelengths go side by side, padded to 40 lanes; nothing is allocated. The code is written once, as plain
//! loops over lanes, and compiled for several instruction sets, of which the best that the machine has is taken when
//! the program runs. Sums over wavelengths are kept in eight partial sums and products are never fused, so every
//! instruction set gives the same bits.

use super::lanes::{
    LANES, LN_ERROR, Lanes, add_scaled, cells, cube_root, dot, exchange, greater, ln_lanes, places,
    sum,
};
use super::response::{Axis, Hull, Response, SIXTHS, slopes, weights};
use crate::colour::{Lab, SAMPLES, Spectrum, TristimulusWeights};
use crate::optics::Coefficients;

/// K and S, each plus its offset, times grams; and the grams themselves in the lane [`MASS`] of K.
#[derive(Clone, Debug)]
struct Form {
    k: Lanes,
    s: Lanes,
}

/// The first lane that no wavelength takes.
const MASS: usize = SAMPLES;

impl Form {
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
}

/// The weights of X, Y and Z relative to white, and their positive and negative parts.
#[derive(Clone, Debug)]
struct Light {
    all: [Lanes; 3],
    /// Of all three together.
    sum: Lanes,
    positive: [Lanes; 3],
    negative: [Lanes; 3],
    /// What X, Y and Z may be off by for the spline's error.
    error: [f64; 3],
}

/// The root of CIELAB and its slope.
///
/// Source: ISO/CIE 11664-4:2019.
pub(super) fn root(ratio: f64) -> (f64, f64) {
    /// Below this share of white, the root is a straight line.
    const LINEAR_BELOW: f64 = 216.0 / 24389.0;
    if ratio > LINEAR_BELOW {
        let root = cube_root(ratio);
        (root, 1.0 / (3.0 * root * root))
    } else {
        (ratio * (841.0 / 108.0) + 4.0 / 29.0, 841.0 / 108.0)
    }
}

fn lab_of_roots([x, y, z]: [f64; 3]) -> Lab {
    Lab::new(116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z))
}

impl Light {
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

/// What a cup is made of, ready for the inner loop: its content, and grams of each part that may be added.
#[derive(Clone, Debug)]
pub(super) struct Kernel {
    response: Response,
    content: Form,
    parts: Vec<Form>,
    lights: Vec<Light>,
    pub(super) instructions: Instructions,
}

/// Instruction sets that the inner loop is compiled for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Instructions {
    /// Those that every machine of the target has.
    Portable,
    /// 256 bits wide.
    #[cfg(target_arch = "x86_64")]
    Avx2,
    /// 512 bits wide.
    #[cfg(target_arch = "x86_64")]
    Avx512,
}

impl Instructions {
    /// All that this machine has, the plainest first.
    pub(super) fn at_hand() -> Vec<Self> {
        #[cfg_attr(
            not(target_arch = "x86_64"),
            expect(unused_mut, reason = "only x86-64 has others")
        )]
        let mut all = vec![Self::Portable];
        #[cfg(target_arch = "x86_64")]
        {
            if std::is_x86_feature_detected!("avx2") {
                all.push(Self::Avx2);
            }
            if std::is_x86_feature_detected!("avx512f") && std::is_x86_feature_detected!("avx512dq")
            {
                all.push(Self::Avx512);
            }
        }
        all
    }

    /// Runs `task` in code that is compiled for these instructions.
    pub(super) fn run<T: Task>(self, task: T) -> T::Output {
        #[cfg(target_arch = "x86_64")]
        #[target_feature(enable = "avx2")]
        fn avx2<T: Task>(task: T) -> T::Output {
            task.run()
        }
        #[cfg(target_arch = "x86_64")]
        #[target_feature(enable = "avx512f,avx512dq")]
        fn avx512<T: Task>(task: T) -> T::Output {
            task.run()
        }
        match self {
            Self::Portable => task.run(),
            #[cfg(target_arch = "x86_64")]
            #[expect(unsafe_code, reason = "calls code compiled for an instruction set")]
            // SAFETY: `at_hand` found that this machine has these instructions.
            Self::Avx2 => unsafe { avx2(task) },
            #[cfg(target_arch = "x86_64")]
            #[expect(unsafe_code, reason = "calls code compiled for an instruction set")]
            // SAFETY: `at_hand` found that this machine has these instructions.
            Self::Avx512 => unsafe { avx512(task) },
        }
    }
}

/// What is compiled once for each instruction set: its `run` and all that it calls must be inlined, which closures
/// can't be told.
pub(super) trait Task {
    type Output;

    fn run(self) -> Self::Output;
}

struct Read<'a>(&'a Kernel, &'a [f64]);

impl Task for Read<'_> {
    type Output = Lanes;

    #[inline(always)]
    fn run(self) -> Lanes {
        self.0.read_any(self.1)
    }
}

struct Bound<'a> {
    kernel: &'a Kernel,
    low: &'a [f64],
    high: &'a [f64],
    open: &'a Open,
    planes: &'a mut Planes,
}

impl Task for Bound<'_> {
    type Output = ();

    #[inline(always)]
    fn run(self) {
        (self.kernel).bound_any(self.low, self.high, self.open, self.planes);
    }
}

/// Parts of which only some may be in: each pigment that a box has from no drop up, where the cup may hold fewer.
#[derive(Clone, Debug, Default)]
pub(super) struct Open {
    /// Which parts they are.
    pub(super) parts: Vec<bool>,
    /// How many of them there are.
    pub(super) count: usize,
    /// How many of them may be in.
    pub(super) at_most: usize,
}

impl Open {
    /// Whether there are more than may be in.
    pub(super) fn is_bound(&self) -> bool {
        self.count > self.at_most
    }
}

/// One light's X, Y or Z relative to white, over ranges of the parts: a plane's value where all parts are least, and
/// what it lies within at any rate.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Plane {
    pub(super) least: f64,
    pub(super) range: (f64, f64),
}

/// The planes of every light, with their slopes by each part, per gram.
#[derive(Clone, Debug)]
pub(super) struct Planes {
    pub(super) xyz: Vec<[Plane; 3]>,
    pub(super) slopes: Vec<Vec<[f64; 3]>>,
    /// What each reflectance may differ from its plane by, up and down.
    pub(super) spread: Lanes,
    /// How much each part bends the planes: by the squared share of K and of S that it moves over its range.
    pub(super) bends: Vec<f64>,
    /// Memory that is used again and again.
    greatest: Vec<Form>,
}

impl Default for Planes {
    fn default() -> Self {
        Self {
            xyz: Vec::new(),
            slopes: Vec::new(),
            spread: [0.0; LANES],
            bends: Vec::new(),
            greatest: Vec::new(),
        }
    }
}

impl Kernel {
    /// A cup whose content sets to `content` and weighs `content_g`, to which grams of `parts` may be added.
    pub(super) fn new<'a>(
        response: Response,
        (content, content_g): (&Coefficients, f64),
        parts: impl Iterator<Item = &'a Coefficients>,
        lights: impl Iterator<Item = &'a TristimulusWeights>,
    ) -> Self {
        let instructions = Instructions::at_hand().pop();
        Self {
            content: Form::new(content, &response, content_g, 1.0),
            parts: parts
                .map(|part| Form::new(part, &response, 1.0, 0.0))
                .collect(),
            lights: lights
                .map(|light| Light::new(light, &response.error))
                .collect(),
            instructions: instructions.unwrap_or(Instructions::Portable),
            response,
        }
    }

    /// What the reflectance may be off by.
    #[cfg(test)]
    pub(super) fn error_at(&self, lane: usize) -> f64 {
        self.response.error[lane]
    }

    /// Number of parts that may be added.
    pub(super) fn parts(&self) -> usize {
        self.parts.len()
    }

    /// Reflectance with `grams` of each part, to within [`Response::error`].
    pub(super) fn reflectance(&self, grams: &[f64]) -> Spectrum {
        let lanes = self.read(grams);
        Spectrum::from_fn(|place| lanes[place])
    }

    /// CIELAB under the light at `light` of what [`read`](Self::read) gave.
    pub(super) fn lab(&self, light: usize, reflectance: &Lanes) -> Lab {
        lab_of_roots(self.ratios(light, reflectance).map(|ratio| root(ratio).0))
    }

    /// The same, and how far it may lie from the model's for the spline's error.
    pub(super) fn lab_and_error(&self, light: usize, reflectance: &Lanes) -> (Lab, f64) {
        let ratios = self.ratios(light, reflectance);
        let error = &self.lights[light].error;
        let [x, y, z] = [0, 1, 2].map(|row| {
            // The root is steepest where the value is least.
            error[row] * root(ratios[row] - error[row]).1
        });
        let [l, a, b] = [116.0 * y, 500.0 * (x + y), 200.0 * (y + z)];
        let lab = lab_of_roots(ratios.map(|ratio| root(ratio).0));
        (lab, (l * l + a * a + b * b).sqrt())
    }

    /// X, Y and Z relative to white.
    fn ratios(&self, light: usize, reflectance: &Lanes) -> [f64; 3] {
        self.lights[light]
            .all
            .each_ref()
            .map(|row| dot(row, reflectance))
    }

    /// Reflectance with `grams` of each part: one number a lane.
    pub(super) fn read(&self, grams: &[f64]) -> Lanes {
        self.instructions.run(Read(self, grams))
    }

    /// Bounds for all amounts between `low` and `high` grams of each part, of which so many of the `open` ones are in.
    pub(super) fn bound(&self, low: &[f64], high: &[f64], open: &Open, planes: &mut Planes) {
        self.instructions.run(Bound {
            kernel: self,
            low,
            high,
            open,
            planes,
        });
    }

    #[inline(always)]
    fn form(&self, grams: &[f64]) -> Form {
        let mut form = self.content.clone();
        for (part, grams) in self.parts.iter().zip(grams) {
            if *grams > 0.0 {
                add_scaled(&mut form.k, *grams, &part.k);
                add_scaled(&mut form.s, *grams, &part.s);
            }
        }
        form
    }

    /// The greatest form between `low`, whose form is given, and `high`: at each wavelength that of those open parts
    /// that give most there.
    #[inline(always)]
    fn greatest(
        &self,
        form_low: &Form,
        low: &[f64],
        high: &[f64],
        open: &Open,
        greatest: &mut Vec<Form>,
    ) -> Form {
        let mut form = form_low.clone();
        greatest.clear();
        if open.is_bound() {
            let nothing = Form {
                k: [0.0; LANES],
                s: [0.0; LANES],
            };
            greatest.resize(open.at_most, nothing);
        }
        for (place, part) in self.parts.iter().enumerate() {
            let grams = high[place] - low[place];
            if grams > 0.0 && open.is_bound() && open.parts[place] {
                let mut next = part.clone();
                for lane in 0..LANES {
                    next.k[lane] *= grams;
                    next.s[lane] *= grams;
                }
                for known in greatest.iter_mut() {
                    exchange(&mut known.k, &mut next.k);
                    exchange(&mut known.s, &mut next.s);
                }
            } else if grams > 0.0 {
                add_scaled(&mut form.k, grams, &part.k);
                add_scaled(&mut form.s, grams, &part.s);
            }
        }
        for known in greatest.iter() {
            add_scaled(&mut form.k, 1.0, &known.k);
            add_scaled(&mut form.s, 1.0, &known.s);
        }
        form
    }

    #[inline(always)]
    fn read_any(&self, grams: &[f64]) -> Lanes {
        let Response { u, v, .. } = &self.response;
        let form = self.form(grams);
        let (ln_k, ln_s) = (ln_lanes(&form.k), ln_lanes(&form.s));
        let (rows, across) = cells(&places(&ln_k, ln_k[MASS], &u.start, &u.per_step), u.cells);
        let (columns, along) = cells(&places(&ln_s, ln_k[MASS], &v.start, &v.per_step), v.cells);
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

    /// With u = ln K and v = ln S (offsets and masses understood), each reflectance is a plane in u and v at the
    /// middle, plus what the hulls of its second derivatives allow; u and v are planes in the grams, plus what
    /// the logarithm bends. Where that is looser than the hull of the reflectance itself, the plane is level.
    #[inline(always)]
    fn bound_any(&self, low: &[f64], high: &[f64], open: &Open, planes: &mut Planes) {
        let Response { u, v, error, .. } = &self.response;
        let form_low = self.form(low);
        let form_high = self.greatest(&form_low, low, high, open, &mut planes.greatest);
        let k = Stretch::new(&form_low.k, &form_high.k);
        let s = Stretch::new(&form_low.s, &form_high.s);
        let [ln_low_g, ln_middle_g, ln_high_g] =
            [&k.ln_low, &k.ln_middle, &k.ln_high].map(|ln| ln[MASS]);
        let (middle_g, bend_of_mass) = (k.middle[MASS], k.bend[MASS]);

        let u_at = places(&k.ln_middle, ln_middle_g, &u.start, &u.per_step);
        let v_at = places(&s.ln_middle, ln_middle_g, &v.start, &v.per_step);
        let ((rows, across), (columns, along)) = (cells(&u_at, u.cells), cells(&v_at, v.cells));
        let (across, by_across) = (on_lanes(&across, weights), on_lanes(&across, slopes));
        let (along, by_along) = (on_lanes(&along, weights), on_lanes(&along, slopes));
        let ends = |form: &Lanes, ln_g, axis: &Axis| {
            cells(&places(form, ln_g, &axis.start, &axis.per_step), axis.cells).0
        };
        let (u_low, u_high) = (ends(&k.ln_low, ln_high_g, u), ends(&k.ln_high, ln_low_g, u));
        let (v_low, v_high) = (ends(&s.ln_low, ln_high_g, v), ends(&s.ln_high, ln_low_g, v));

        let mut reading = [0.0; LANES];
        let mut by_u = [0.0; LANES];
        let mut by_v = [0.0; LANES];
        let mut of_lanes = [[0.0_f32; 8]; LANES];
        for lane in 0..SAMPLES {
            let patch = self.response.patch(lane, rows[lane], columns[lane]);
            let (mut values, mut slopes) = ([0.0; 4], [0.0; 4]);
            for (r, row) in patch.into_iter().enumerate() {
                for c in 0..4 {
                    let control = f64::from(row[c]);
                    values[c] += across[r][lane] * control;
                    slopes[c] += by_across[r][lane] * control;
                }
            }
            let dot4 = |one: &[f64; 4], other: &[Lanes; 4]| {
                (one[0] * other[0][lane] + one[1] * other[1][lane])
                    + (one[2] * other[2][lane] + one[3] * other[3][lane])
            };
            reading[lane] = dot4(&values, &along);
            by_u[lane] = dot4(&slopes, &along);
            by_v[lane] = dot4(&values, &by_along);
            let hull = self.hull(
                lane,
                (u_low[lane] as usize, u_high[lane] as usize),
                (v_low[lane] as usize, v_high[lane] as usize),
            );
            of_lanes[lane] = hull.0;
        }
        let mut hulls = [[0.0; LANES]; 8];
        for (which, lanes) in hulls.iter_mut().enumerate() {
            for lane in 0..LANES {
                lanes[lane] = f64::from(of_lanes[lane][which]);
            }
        }

        // What reflectance differs from its plane by, what it lies within, and the plane's slopes by K and S.
        let [
            r_min,
            uu_min,
            vv_min,
            uv_min,
            r_less,
            uu_less,
            vv_less,
            uv_less,
        ] = &hulls;
        let (u_end, v_end) = (u.cells as f64, v.cells as f64);
        let mut range_low = [0.0; LANES];
        let mut range_high = [0.0; LANES];
        let mut by_k = [0.0; LANES];
        let mut by_s = [0.0; LANES];
        let mut by_mass = [0.0; LANES];
        let mut per_k = [0.0; LANES];
        let mut per_s = [0.0; LANES];
        let spread = &mut planes.spread;
        for lane in 0..LANES {
            let wide_u = greater(
                k.ln_high[lane] - k.ln_middle[lane] - ln_low_g + ln_middle_g,
                k.ln_middle[lane] - k.ln_low[lane] - ln_middle_g + ln_high_g,
            ) + 4.0 * LN_ERROR;
            let wide_v = greater(
                s.ln_high[lane] - s.ln_middle[lane] - ln_low_g + ln_middle_g,
                s.ln_middle[lane] - s.ln_low[lane] - ln_middle_g + ln_high_g,
            ) + 4.0 * LN_ERROR;
            let (uu, vv, uv) = (
                0.5 * wide_u * wide_u,
                0.5 * wide_v * wide_v,
                wide_u * wide_v,
            );
            let cross = greater(-uv_less[lane], -uv_min[lane]) * uv;
            let by_place = 1.0 / (SIXTHS * SIXTHS);
            let by_u = by_u[lane] * (by_place * u.per_step[lane]);
            let by_v = by_v[lane] * (by_place * v.per_step[lane]);
            // Each logarithm bends below its tangent; that of the mass is taken away.
            let bent = |slope: f64, bend: f64| {
                let (fall, rise) = (-slope * bend, slope * bend_of_mass);
                (-greater(-fall, -rise), greater(fall, rise))
            };
            let (u_fall, u_rise) = bent(by_u, k.bend[lane]);
            let (v_fall, v_rise) = bent(by_v, s.bend[lane]);
            let below =
                -greater(-uu_min[lane], 0.0) * uu - greater(-vv_min[lane], 0.0) * vv - cross
                    + u_fall
                    + v_fall;
            let above = greater(-uu_less[lane], 0.0) * uu
                + greater(-vv_less[lane], 0.0) * vv
                + cross
                + u_rise
                + v_rise;
            let on_the_grid = (u_at[lane] >= 0.0)
                & (u_at[lane] <= u_end)
                & (v_at[lane] >= 0.0)
                & (v_at[lane] <= v_end);
            let (half, middle) = (
                0.5 * (-r_less[lane] - r_min[lane]),
                0.5 * (r_min[lane] - r_less[lane]),
            );
            let (bent_half, bent_middle) = (
                0.5 * (above - below),
                reading[lane] * by_place + 0.5 * (above + below),
            );
            let keep = (bent_half < half) & on_the_grid;
            spread[lane] = error[lane] + if keep { bent_half } else { half };
            reading[lane] = if keep { bent_middle } else { middle };
            range_low[lane] = r_min[lane] - error[lane];
            range_high[lane] = -r_less[lane] + error[lane];
            per_k[lane] = 1.0 / k.middle[lane];
            per_s[lane] = 1.0 / s.middle[lane];
            by_k[lane] = if keep { by_u * per_k[lane] } else { 0.0 };
            by_s[lane] = if keep { by_v * per_s[lane] } else { 0.0 };
            by_mass[lane] = if keep { (by_u + by_v) / middle_g } else { 0.0 };
            // From the middle to where all parts are least.
            reading[lane] -= by_k[lane] * (k.middle[lane] - form_low.k[lane])
                + by_s[lane] * (s.middle[lane] - form_low.s[lane])
                - by_mass[lane] * (middle_g - form_low.k[MASS]);
        }

        planes.bends.clear();
        let mut visible = [0.0; LANES];
        for lane in 0..LANES {
            visible[lane] = self.lights[0].sum[lane] * range_high[lane];
        }
        for ((part, low), high) in self.parts.iter().zip(low).zip(high) {
            let half = (high - low) / 2.0;
            let mut bend = [0.0; LANES];
            if half > 0.0 {
                for lane in 0..LANES {
                    let by_k = part.k[lane] * per_k[lane];
                    let by_s = part.s[lane] * per_s[lane];
                    bend[lane] = by_k * by_k + by_s * by_s;
                }
            }
            planes.bends.push(half * half * dot(&visible, &bend));
        }
        planes.xyz.resize(self.lights.len(), Default::default());
        planes.slopes.resize(self.lights.len(), Vec::new());
        for ((light, xyz), slopes) in self
            .lights
            .iter()
            .zip(&mut planes.xyz)
            .zip(&mut planes.slopes)
        {
            slopes.clear();
            slopes.resize(self.parts.len(), [0.0; 3]);
            for row in 0..3 {
                let (all, up, down) = (&light.all[row], &light.positive[row], &light.negative[row]);
                xyz[row] = Plane {
                    least: dot(all, &reading),
                    range: (
                        dot(up, &range_low) + dot(down, &range_high),
                        dot(up, &range_high) + dot(down, &range_low),
                    ),
                };
                let (mut of_k, mut of_s) = ([0.0; LANES], [0.0; LANES]);
                for lane in 0..LANES {
                    of_k[lane] = all[lane] * by_k[lane];
                    of_s[lane] = all[lane] * by_s[lane];
                }
                let by_mass = dot(all, &by_mass);
                for (place, part) in self.parts.iter().enumerate() {
                    if high[place] > low[place] {
                        let mut both = [0.0; LANES];
                        for lane in 0..LANES {
                            both[lane] = of_k[lane] * part.k[lane] + of_s[lane] * part.s[lane];
                        }
                        slopes[place][row] = sum(&both) - by_mass;
                    }
                }
            }
        }
    }

    /// Along each of `directions` in X, Y and Z of the light at `light`, how far reflectances that differ by up to
    /// `spread` reach.
    #[inline(always)]
    pub(super) fn reaches(
        &self,
        light: usize,
        spread: &Lanes,
        directions: &[[f64; 3]],
        to: &mut [f64],
    ) {
        let [x, y, z] = &self.lights[light].all;
        for ([by_x, by_y, by_z], to) in directions.iter().zip(to) {
            let mut reach = [0.0; LANES];
            for lane in 0..LANES {
                let seen = by_x * x[lane] + by_y * y[lane] + by_z * z[lane];
                reach[lane] = spread[lane] * seen.abs();
            }
            *to = sum(&reach);
        }
    }

    /// X, Y and Z of the differences up to `spread` that reach farthest along a direction.
    #[inline(always)]
    pub(super) fn farthest(&self, light: usize, spread: &Lanes, direction: [f64; 3]) -> [f64; 3] {
        let [x, y, z] = &self.lights[light].all;
        let [by_x, by_y, by_z] = direction;
        let mut at = [0.0; LANES];
        for lane in 0..LANES {
            let seen = by_x * x[lane] + by_y * y[lane] + by_z * z[lane];
            at[lane] = spread[lane].copysign(seen);
        }
        [x, y, z].map(|row| dot(row, &at))
    }

    /// The hull over cells from one row to another and from one column to another, both included.
    #[inline(always)]
    fn hull(&self, lane: usize, rows: (usize, usize), columns: (usize, usize)) -> Hull {
        let level = |(low, high): (usize, usize)| match high - low {
            0 | 1 => 0,
            more => (usize::BITS - (more - 1).leading_zeros()) as usize,
        };
        let (a, b) = (level(rows), level(columns));
        let (first, width) = self.response.blocks[a][b];
        let first = first + lane * self.response.hulls_a_wavelength;
        let at = |row: usize, column: usize| {
            &self.response.hulls[first + (row >> a) * width + (column >> b)]
        };
        let one = at(rows.0, columns.0).with(at(rows.1, columns.0));
        let other = at(rows.0, columns.1).with(at(rows.1, columns.1));
        one.with(&other)
    }
}

/// The four values of `of` for the share of a cell in each lane.
#[inline(always)]
fn on_lanes(shares: &Lanes, of: impl Fn(f64) -> [f64; 4]) -> [Lanes; 4] {
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

/// A linear form over a range: its middle, logarithms, and how far its logarithm bends below its tangent.
struct Stretch {
    middle: Lanes,
    ln_low: Lanes,
    ln_middle: Lanes,
    ln_high: Lanes,
    bend: Lanes,
}

impl Stretch {
    #[inline(always)]
    fn new(low: &Lanes, high: &Lanes) -> Self {
        let mut middle = [0.0; LANES];
        for lane in 0..LANES {
            middle[lane] = 0.5 * (low[lane] + high[lane]);
        }
        let (ln_low, ln_middle, ln_high) = (ln_lanes(low), ln_lanes(&middle), ln_lanes(high));
        let mut bend = [0.0; LANES];
        for lane in 0..LANES {
            // It bends most at the low end.
            let share = low[lane] / middle[lane];
            let bent = share - 1.0 - (ln_low[lane] - ln_middle[lane]);
            bend[lane] = greater(bent, 0.0) + 2.0 * LN_ERROR;
        }
        Self {
            middle,
            ln_low,
            ln_middle,
            ln_high,
            bend,
        }
    }
}
