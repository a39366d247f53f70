//! The inner loop of the search: from drops to reflectance, and from ranges of drops to bounds of it.
//!
//! All 36 wavelengths go side by side, padded to 40 lanes; nothing is allocated. The code is written once, as plain
//! loops over lanes, and compiled for several instruction sets, of which the best that the machine has is taken when
//! the program runs. Sums over wavelengths are kept in eight partial sums and products are never fused, so every
//! instruction set gives the same bits.

use super::lanes::{LANES, Lanes, add_scaled, cell, dot, dot4, ln, ln_lanes, places};
use super::response::{Hull, Response, slopes, weights};
use crate::colour::{Lab, SAMPLES, Spectrum, TristimulusWeights, Xyz};
use crate::optics::Coefficients;

/// K and S, each plus its offset, times grams.
#[derive(Clone, Debug)]
struct Form {
    k: Lanes,
    s: Lanes,
}

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
    weights: TristimulusWeights,
}

/// Below this share of white, CIELAB's root is a straight line.
const LINEAR_BELOW: f64 = 216.0 / 24389.0;

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
            weights: weights.clone(),
        }
    }
}

/// What a cup is made of, ready for the inner loop: its content, and grams of each part that may be added.
#[derive(Clone, Debug)]
pub(super) struct Kernel {
    response: Response,
    content: Form,
    content_g: f64,
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
}

/// One light's X, Y or Z relative to white, over ranges of the parts: a plane through the middle, what the value may
/// differ from it by, and what it lies within at any rate.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Plane {
    pub(super) middle: f64,
    pub(super) slack: (f64, f64),
    pub(super) range: (f64, f64),
}

/// The planes of every light, with their slopes by each part, per gram.
#[derive(Clone, Debug, Default)]
pub(super) struct Planes {
    pub(super) xyz: Vec<[Plane; 3]>,
    pub(super) slopes: Vec<Vec<[f64; 3]>>,
    /// How much each part bends the planes: by the squared share of K and of S that it moves over its range.
    pub(super) bends: Vec<f64>,
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
            content_g,
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
        let light = &self.lights[light];
        let white = light.weights.white();
        let [x, y, z] = [0, 1, 2].map(|row| dot(&light.all[row], reflectance));
        light
            .weights
            .lab_of_xyz(Xyz::new(x * white.x, y * white.y, z * white.z))
    }

    /// How far `lab`, under the light at `light`, may lie from the model's for the spline's error.
    pub(super) fn lab_error(&self, light: usize, lab: Lab) -> f64 {
        let light = &self.lights[light];
        let xyz = light.weights.xyz_of_lab(lab);
        let white = light.weights.white();
        let ratios = [xyz.x / white.x, xyz.y / white.y, xyz.z / white.z];
        let [x, y, z] = [0, 1, 2].map(|row| {
            // The root is steepest where the value is least.
            let least = (ratios[row] - light.error[row]).max(LINEAR_BELOW);
            light.error[row] / (3.0 * least.cbrt() * least.cbrt())
        });
        let [l, a, b] = [116.0 * y, 500.0 * (x + y), 200.0 * (y + z)];
        (l * l + a * a + b * b).sqrt()
    }

    /// Reflectance with `grams` of each part: one number a lane.
    pub(super) fn read(&self, grams: &[f64]) -> Lanes {
        match self.instructions {
            Instructions::Portable => self.read_any(grams),
            #[cfg(target_arch = "x86_64")]
            #[expect(unsafe_code, reason = "calls code compiled for an instruction set")]
            // SAFETY: `Instructions::at_hand` found that this machine has these instructions.
            Instructions::Avx2 => unsafe { self.read_avx2(grams) },
            #[cfg(target_arch = "x86_64")]
            #[expect(unsafe_code, reason = "calls code compiled for an instruction set")]
            // SAFETY: `Instructions::at_hand` found that this machine has these instructions.
            Instructions::Avx512 => unsafe { self.read_avx512(grams) },
        }
    }

    /// Bounds for all amounts between `low` and `high` grams of each part.
    pub(super) fn bound(&self, low: &[f64], high: &[f64], planes: &mut Planes) {
        match self.instructions {
            Instructions::Portable => self.bound_any(low, high, planes),
            #[cfg(target_arch = "x86_64")]
            #[expect(unsafe_code, reason = "calls code compiled for an instruction set")]
            // SAFETY: `Instructions::at_hand` found that this machine has these instructions.
            Instructions::Avx2 => unsafe { self.bound_avx2(low, high, planes) },
            #[cfg(target_arch = "x86_64")]
            #[expect(unsafe_code, reason = "calls code compiled for an instruction set")]
            // SAFETY: `Instructions::at_hand` found that this machine has these instructions.
            Instructions::Avx512 => unsafe { self.bound_avx512(low, high, planes) },
        }
    }

    #[cfg(target_arch = "x86_64")]
    #[target_feature(enable = "avx2")]
    fn read_avx2(&self, grams: &[f64]) -> Lanes {
        self.read_any(grams)
    }

    #[cfg(target_arch = "x86_64")]
    #[target_feature(enable = "avx512f,avx512dq")]
    fn read_avx512(&self, grams: &[f64]) -> Lanes {
        self.read_any(grams)
    }

    #[cfg(target_arch = "x86_64")]
    #[target_feature(enable = "avx2")]
    fn bound_avx2(&self, low: &[f64], high: &[f64], planes: &mut Planes) {
        self.bound_any(low, high, planes);
    }

    #[cfg(target_arch = "x86_64")]
    #[target_feature(enable = "avx512f,avx512dq")]
    fn bound_avx512(&self, low: &[f64], high: &[f64], planes: &mut Planes) {
        self.bound_any(low, high, planes);
    }

    #[inline(always)]
    fn form(&self, grams: &[f64]) -> (Form, f64) {
        let mut form = self.content.clone();
        let mut mass_g = self.content_g;
        for (part, grams) in self.parts.iter().zip(grams) {
            if *grams > 0.0 {
                add_scaled(&mut form.k, *grams, &part.k);
                add_scaled(&mut form.s, *grams, &part.s);
                mass_g += grams;
            }
        }
        (form, mass_g)
    }

    #[inline(always)]
    fn read_any(&self, grams: &[f64]) -> Lanes {
        let Response { u, v, controls, .. } = &self.response;
        let (form, mass_g) = self.form(grams);
        let log_mass = ln(mass_g);
        let u_places = places(&ln_lanes(&form.k), log_mass, &u.start, &u.per_step);
        let v_places = places(&ln_lanes(&form.s), log_mass, &v.start, &v.per_step);
        let mut read = [0.0; LANES];
        let width = v.controls();
        for lane in 0..SAMPLES {
            let (row, t) = cell(u_places[lane], u.cells);
            let (column, s) = cell(v_places[lane], v.cells);
            let (by_u, by_v) = (weights(t), weights(s));
            let first = self.response.control(lane, row, column);
            let mut along = [0.0; 4];
            for (r, weight) in by_u.into_iter().enumerate() {
                let row = &controls[first + r * width..first + r * width + 4];
                for (sum, control) in along.iter_mut().zip(row) {
                    *sum += weight * f64::from(*control);
                }
            }
            read[lane] = (along[0] * by_v[0] + along[1] * by_v[1])
                + (along[2] * by_v[2] + along[3] * by_v[3]);
        }
        read
    }

    /// With u = ln K and v = ln S (offsets and masses understood), each reflectance is a plane in u and v at the
    /// middle, plus what the hulls of its second derivatives allow; u and v are planes in the grams, plus what
    /// the logarithm bends. Where that is looser than the hull of the reflectance itself, the plane is level.
    #[inline(always)]
    fn bound_any(&self, low: &[f64], high: &[f64], planes: &mut Planes) {
        let Response {
            u,
            v,
            controls,
            error,
            ..
        } = &self.response;
        let (form_low, low_g) = self.form(low);
        let (form_high, high_g) = self.form(high);
        let middle_g = (low_g + high_g) / 2.0;
        let (ln_low_g, ln_high_g, ln_middle_g) = (ln(low_g), ln(high_g), ln(middle_g));
        let bend_of_mass = (low_g / middle_g - 1.0 - (ln_low_g - ln_middle_g)).max(0.0);
        let k = Stretch::new(&form_low.k, &form_high.k);
        let s = Stretch::new(&form_low.s, &form_high.s);

        let mut reading = [0.0; LANES];
        let mut by_u = [0.0; LANES];
        let mut by_v = [0.0; LANES];
        let mut hulls = [[0.0; LANES]; 8];
        let mut off_the_grid = [0.0; LANES];
        let u_at = places(&k.ln_middle, ln_middle_g, &u.start, &u.per_step);
        let v_at = places(&s.ln_middle, ln_middle_g, &v.start, &v.per_step);
        let u_low = places(&k.ln_low, ln_high_g, &u.start, &u.per_step);
        let u_high = places(&k.ln_high, ln_low_g, &u.start, &u.per_step);
        let v_low = places(&s.ln_low, ln_high_g, &v.start, &v.per_step);
        let v_high = places(&s.ln_high, ln_low_g, &v.start, &v.per_step);
        let width = v.controls();
        let (u_end, v_end) = (u.cells as f64, v.cells as f64);
        for lane in 0..SAMPLES {
            let (row, t) = cell(u_at[lane], u.cells);
            let (column, s) = cell(v_at[lane], v.cells);
            if !(u_at[lane] >= 0.0
                && u_at[lane] <= u_end
                && v_at[lane] >= 0.0
                && v_at[lane] <= v_end)
            {
                off_the_grid[lane] = 1.0;
            }
            let (across, across_slopes) = (weights(t), slopes(t));
            let (along, along_slopes) = (weights(s), slopes(s));
            let first = self.response.control(lane, row, column);
            let (mut value, mut slope) = ([0.0; 4], [0.0; 4]);
            for r in 0..4 {
                let row = &controls[first + r * width..first + r * width + 4];
                for c in 0..4 {
                    let control = f64::from(row[c]);
                    value[c] += across[r] * control;
                    slope[c] += across_slopes[r] * control;
                }
            }
            reading[lane] = dot4(&value, &along);
            by_u[lane] = dot4(&slope, &along) * u.per_step[lane];
            by_v[lane] = dot4(&value, &along_slopes) * v.per_step[lane];

            let (row_low, _) = cell(u_low[lane], u.cells);
            let (row_high, _) = cell(u_high[lane], u.cells);
            let (column_low, _) = cell(v_low[lane], v.cells);
            let (column_high, _) = cell(v_high[lane], v.cells);
            let hull = self.hull(lane, (row_low, row_high), (column_low, column_high));
            for (lanes, bound) in hulls.iter_mut().zip(hull.0) {
                lanes[lane] = f64::from(bound);
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
        let mut slack_low = [0.0; LANES];
        let mut slack_high = [0.0; LANES];
        let mut range_low = [0.0; LANES];
        let mut range_high = [0.0; LANES];
        let mut by_k = [0.0; LANES];
        let mut by_s = [0.0; LANES];
        let mut by_mass = [0.0; LANES];
        for lane in 0..LANES {
            let wide_u = (k.ln_high[lane] - k.ln_middle[lane] - ln_low_g + ln_middle_g)
                .max(k.ln_middle[lane] - k.ln_low[lane] - ln_middle_g + ln_high_g);
            let wide_v = (s.ln_high[lane] - s.ln_middle[lane] - ln_low_g + ln_middle_g)
                .max(s.ln_middle[lane] - s.ln_low[lane] - ln_middle_g + ln_high_g);
            let (uu, vv, uv) = (
                0.5 * wide_u * wide_u,
                0.5 * wide_v * wide_v,
                wide_u * wide_v,
            );
            let cross = (-uv_less[lane]).max(-uv_min[lane]) * uv;
            let bent = |slope: f64, bend: f64| {
                let (fall, rise) = (-slope * bend, slope * bend_of_mass);
                (fall.min(rise), fall.max(rise))
            };
            let (u_fall, u_rise) = bent(by_u[lane], k.bend[lane]);
            let (v_fall, v_rise) = bent(by_v[lane], s.bend[lane]);
            let below =
                uu_min[lane].min(0.0) * uu + vv_min[lane].min(0.0) * vv - cross + u_fall + v_fall;
            let above = (-uu_less[lane]).max(0.0) * uu
                + (-vv_less[lane]).max(0.0) * vv
                + cross
                + u_rise
                + v_rise;
            let level = above - below >= -r_less[lane] - r_min[lane] || off_the_grid[lane] > 0.0;
            let half = 0.5 * (-r_less[lane] - r_min[lane]);
            let at = if level {
                r_min[lane] + half
            } else {
                reading[lane]
            };
            let keep = if level { 0.0 } else { 1.0 };
            slack_low[lane] = if level { -half } else { below } - error[lane];
            slack_high[lane] = if level { half } else { above } + error[lane];
            range_low[lane] = r_min[lane] - error[lane];
            range_high[lane] = -r_less[lane] + error[lane];
            reading[lane] = at;
            by_k[lane] = keep * by_u[lane] / k.middle[lane];
            by_s[lane] = keep * by_v[lane] / s.middle[lane];
            by_mass[lane] = keep * (by_u[lane] + by_v[lane]) / middle_g;
        }

        planes.bends.clear();
        for ((part, low), high) in self.parts.iter().zip(low).zip(high) {
            let half = (high - low) / 2.0;
            let mut bend = [0.0; LANES];
            if half > 0.0 {
                for lane in 0..LANES {
                    let by_k = half * part.k[lane] / k.middle[lane];
                    let by_s = half * part.s[lane] / s.middle[lane];
                    bend[lane] = (by_k * by_k + by_s * by_s) * range_high[lane];
                }
            }
            planes.bends.push(dot(&self.lights[0].sum, &bend));
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
                    middle: dot(all, &reading),
                    slack: (
                        dot(up, &slack_low) + dot(down, &slack_high),
                        dot(up, &slack_high) + dot(down, &slack_low),
                    ),
                    range: (
                        dot(up, &range_low) + dot(down, &range_high),
                        dot(up, &range_high) + dot(down, &range_low),
                    ),
                };
                let weighted = |by: &Lanes| {
                    let mut product = [0.0; LANES];
                    for lane in 0..LANES {
                        product[lane] = all[lane] * by[lane];
                    }
                    product
                };
                let (by_k, by_s) = (weighted(&by_k), weighted(&by_s));
                let by_mass = dot(all, &by_mass);
                for (place, part) in self.parts.iter().enumerate() {
                    if high[place] > low[place] {
                        slopes[place][row] = dot(&by_k, &part.k) + dot(&by_s, &part.s) - by_mass;
                    }
                }
            }
        }
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
            bend[lane] = (share - 1.0 - (ln_low[lane] - ln_middle[lane])).max(0.0) + 1e-13;
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
