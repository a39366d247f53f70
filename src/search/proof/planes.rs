//! From ranges of drops to bounds of reflectance: planes in the grams of each addition, and what they may be off by.

use super::axis::Axis;
use super::instructions::Task;
use super::kernel::{Form, Kernel, MASS, on_lanes};
use super::lanes::{
    LANES, LN_ERROR, Lanes, cells, dot, exchange, greater, ln_lanes, positions, sum,
};
use super::open::Open;
use super::response::{Response, SIXTHS, slopes, weights};
use crate::colour::SAMPLES;

/// One light's X, Y or Z relative to white, over ranges of the additions: a plane, and what it lies within
/// at any rate.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Plane {
    /// The value where all additions are least.
    pub(crate) least: f64,
    /// Least and greatest, by the hull of the reflectances alone.
    pub(crate) range: (f64, f64),
}

/// The planes of every light, with their slopes by each addition, per gram.
#[derive(Clone, Debug)]
pub(crate) struct Planes {
    /// Of each light: of X, of Y and of Z.
    pub(crate) xyz: Vec<[Plane; 3]>,
    /// Of each light, by addition: of X, Y and Z; 0 where an addition is of one amount alone.
    pub(crate) slopes: Vec<Vec<[f64; 3]>>,
    /// What each reflectance may differ from its plane by, up and down.
    pub(crate) spread: Lanes,
    /// How much each addition bends the planes: by the squared share of K and of S that it moves over its range.
    pub(crate) curvatures: Vec<f64>,
    /// Memory that is used again and again.
    greatest: Vec<Form>,
}

impl Default for Planes {
    fn default() -> Self {
        Self {
            xyz: Vec::new(),
            slopes: Vec::new(),
            spread: [0.0; LANES],
            curvatures: Vec::new(),
            greatest: Vec::new(),
        }
    }
}

/// [`Kernel::bound`] as what is compiled for each instruction set.
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

impl Kernel {
    /// Bounds for all amounts between `low` and `high` grams of each addition, of which so many of the `open` ones are in.
    pub(crate) fn bound(&self, low: &[f64], high: &[f64], open: &Open, planes: &mut Planes) {
        self.instructions.run(Bound {
            kernel: self,
            low,
            high,
            open,
            planes,
        });
    }

    /// The greatest form between `low`, whose form is given, and `high`: at each wavelength that of those open additions
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
        let counts = |index: usize| open.is_bound() && open.is_open[index];
        for (index, addition) in self.additions.iter().enumerate() {
            let grams = high[index] - low[index];
            if grams > 0.0 && counts(index) {
                let mut next = addition.clone();
                for lane in 0..LANES {
                    next.k[lane] *= grams;
                    next.s[lane] *= grams;
                }
                for known in greatest.iter_mut() {
                    exchange(&mut known.k, &mut next.k);
                    exchange(&mut known.s, &mut next.s);
                }
            }
        }
        form.add(&self.additions, |index| {
            if counts(index) {
                0.0
            } else {
                high[index] - low[index]
            }
        });
        form.add(greatest, |_| 1.0);
        form
    }

    /// Planes of all reflectances over the box, in the grams of each addition.
    ///
    /// With u = ln((K + K₀) m) − ln m and v likewise, at the middle (u₀, v₀) of their ranges, which are u₀ ± w and v₀ ± x:
    ///
    /// ```text
    /// R(u, v) ∈ R₀ + R_u (u − u₀) + R_v (v − v₀)
    ///           + ½ w² [min R_uu, max R_uu] + ½ x² [min R_vv, max R_vv] ± w x max |R_uv|
    /// ln k    ∈ ln k₀ + (k − k₀) / k₀ − [0, c(k)]       for k any of the forms (K + K₀) m, (S + S₀) m and m
    /// c(k)    = k_low / k₀ − 1 − ln(k_low / k₀)         the logarithm's fall below its tangent, most at the low end
    /// ```
    ///
    /// The extremes of the second derivatives are hulls over the range (each with 0), so R lies within a plane in the
    /// forms, which are linear in the grams, plus the spline's error. Where that is looser than the hull of the
    /// reflectance itself, or the middle is off the grid, the plane is level.
    #[inline(always)]
    fn bound_any(&self, low: &[f64], high: &[f64], open: &Open, planes: &mut Planes) {
        let form_low = self.form(low);
        let form_high = self.greatest(&form_low, low, high, open, &mut planes.greatest);
        let k = Stretch::new(&form_low.k, &form_high.k);
        let s = Stretch::new(&form_low.s, &form_high.s);
        let middle = self.at_the_middle(&k, &s);
        let hulls = self.hulls_between(&k, &s);
        let tilted = self.tilt(&form_low, (&k, &s), &middle, &hulls, &mut planes.spread);
        self.curvatures(&tilted, (low, high), &mut planes.curvatures);
        self.see(&tilted, (low, high), planes);
    }

    /// The spline and its slopes where both forms are at their middle.
    #[inline(always)]
    fn at_the_middle(&self, k: &Stretch, s: &Stretch) -> Middle {
        let Response { u, v, .. } = &self.response;
        let ln_middle_g = k.ln_middle[MASS];
        let u_at = positions(&k.ln_middle, ln_middle_g, &u.start, &u.per_step);
        let v_at = positions(&s.ln_middle, ln_middle_g, &v.start, &v.per_step);
        let ((rows, across), (columns, along)) = (cells(&u_at, u.cells), cells(&v_at, v.cells));
        let (across, by_across) = (on_lanes(&across, weights), on_lanes(&across, slopes));
        let (along, by_along) = (on_lanes(&along, weights), on_lanes(&along, slopes));
        let mut middle = Middle {
            reading: [0.0; LANES],
            by_u: [0.0; LANES],
            by_v: [0.0; LANES],
            u_at,
            v_at,
        };
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
            middle.reading[lane] = dot4(&values, &along);
            middle.by_u[lane] = dot4(&slopes, &along);
            middle.by_v[lane] = dot4(&values, &by_along);
        }
        middle
    }

    /// The eight numbers of the hulls over the whole ranges, each on all lanes.
    #[inline(always)]
    fn hulls_between(&self, k: &Stretch, s: &Stretch) -> [Lanes; 8] {
        let Response { u, v, .. } = &self.response;
        let all = self.response.hulls();
        let (ln_low_g, ln_high_g) = (k.ln_low[MASS], k.ln_high[MASS]);
        let ends = |form: &Lanes, ln_g, axis: &Axis| {
            let at = positions(form, ln_g, &axis.start, &axis.per_step);
            cells(&at, axis.cells).0
        };
        let (u_low, u_high) = (ends(&k.ln_low, ln_high_g, u), ends(&k.ln_high, ln_low_g, u));
        let (v_low, v_high) = (ends(&s.ln_low, ln_high_g, v), ends(&s.ln_high, ln_low_g, v));
        let mut of_lanes = [[0.0_f32; 8]; LANES];
        for lane in 0..SAMPLES {
            let rows = (u_low[lane] as usize, u_high[lane] as usize);
            let columns = (v_low[lane] as usize, v_high[lane] as usize);
            of_lanes[lane] = all.over(lane, rows, columns).0;
        }
        let mut hulls = [[0.0; LANES]; 8];
        for (which, lanes) in hulls.iter_mut().enumerate() {
            for lane in 0..LANES {
                lanes[lane] = f64::from(of_lanes[lane][which]);
            }
        }
        hulls
    }

    /// What reflectance differs from its plane by, what it lies within, and the plane's slopes by K and S.
    // Over eighty lines: one formula for each lane, whose terms would be arrays if it were cut.
    #[inline(always)]
    fn tilt(
        &self,
        form_low: &Form,
        (k, s): (&Stretch, &Stretch),
        at: &Middle,
        hulls: &[Lanes; 8],
        spread: &mut Lanes,
    ) -> Tilted {
        let Response { u, v, error, .. } = &self.response;
        let [ln_low_g, ln_middle_g, ln_high_g] =
            [&k.ln_low, &k.ln_middle, &k.ln_high].map(|ln| ln[MASS]);
        let (middle_g, mass_curvature) = (k.middle[MASS], k.curvature[MASS]);
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
        let mut to = Tilted {
            reading: at.reading,
            range: ([0.0; LANES], [0.0; LANES]),
            by_k: [0.0; LANES],
            by_s: [0.0; LANES],
            by_mass: [0.0; LANES],
            per_k: [0.0; LANES],
            per_s: [0.0; LANES],
        };
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
            let per_36 = 1.0 / (SIXTHS * SIXTHS);
            let by_u = at.by_u[lane] * (per_36 * u.per_step[lane]);
            let by_v = at.by_v[lane] * (per_36 * v.per_step[lane]);
            // Each logarithm bends below its tangent; that of the mass is taken away.
            let bent = |slope: f64, curvature: f64| {
                let (fall, rise) = (-slope * curvature, slope * mass_curvature);
                (-greater(-fall, -rise), greater(fall, rise))
            };
            let (u_fall, u_rise) = bent(by_u, k.curvature[lane]);
            let (v_fall, v_rise) = bent(by_v, s.curvature[lane]);
            let below =
                -greater(-uu_min[lane], 0.0) * uu - greater(-vv_min[lane], 0.0) * vv - cross
                    + u_fall
                    + v_fall;
            let above = greater(-uu_less[lane], 0.0) * uu
                + greater(-vv_less[lane], 0.0) * vv
                + cross
                + u_rise
                + v_rise;
            let on_the_grid = (at.u_at[lane] >= 0.0)
                & (at.u_at[lane] <= u_end)
                & (at.v_at[lane] >= 0.0)
                & (at.v_at[lane] <= v_end);
            let (half, middle) = (
                0.5 * (-r_less[lane] - r_min[lane]),
                0.5 * (r_min[lane] - r_less[lane]),
            );
            let (bent_half, bent_middle) = (
                0.5 * (above - below),
                to.reading[lane] * per_36 + 0.5 * (above + below),
            );
            let keep = (bent_half < half) & on_the_grid;
            spread[lane] = error[lane] + if keep { bent_half } else { half };
            to.reading[lane] = if keep { bent_middle } else { middle };
            to.range.0[lane] = r_min[lane] - error[lane];
            to.range.1[lane] = -r_less[lane] + error[lane];
            to.per_k[lane] = 1.0 / k.middle[lane];
            to.per_s[lane] = 1.0 / s.middle[lane];
            to.by_k[lane] = if keep { by_u * to.per_k[lane] } else { 0.0 };
            to.by_s[lane] = if keep { by_v * to.per_s[lane] } else { 0.0 };
            to.by_mass[lane] = if keep { (by_u + by_v) / middle_g } else { 0.0 };
            // From the middle to where all additions are least.
            to.reading[lane] -= to.by_k[lane] * (k.middle[lane] - form_low.k[lane])
                + to.by_s[lane] * (s.middle[lane] - form_low.s[lane])
                - to.by_mass[lane] * (middle_g - form_low.k[MASS]);
        }

        to
    }

    /// How much each addition curves the planes: what tells by which a box is best split.
    #[inline(always)]
    fn curvatures(
        &self,
        tilted: &Tilted,
        (low, high): (&[f64], &[f64]),
        curvatures: &mut Vec<f64>,
    ) {
        curvatures.clear();
        let mut visible = [0.0; LANES];
        let sums = self.lights[0].sum.iter().zip(&tilted.range.1);
        for (visible, (sum, width)) in visible.iter_mut().zip(sums) {
            *visible = sum * width;
        }
        for ((addition, low), high) in self.additions.iter().zip(low).zip(high) {
            let half = (high - low) / 2.0;
            let mut curvature = [0.0; LANES];
            if half > 0.0 {
                for (lane, curvature) in curvature.iter_mut().enumerate() {
                    let by_k = addition.k[lane] * tilted.per_k[lane];
                    let by_s = addition.s[lane] * tilted.per_s[lane];
                    *curvature = by_k * by_k + by_s * by_s;
                }
            }
            curvatures.push(half * half * dot(&visible, &curvature));
        }
    }

    /// The planes of X, Y and Z under each light, and their slopes by the grams of each addition.
    #[inline(always)]
    fn see(&self, tilted: &Tilted, (low, high): (&[f64], &[f64]), planes: &mut Planes) {
        let Tilted {
            reading,
            range: (range_low, range_high),
            by_k,
            by_s,
            by_mass,
            ..
        } = tilted;
        planes.xyz.resize(self.lights.len(), Default::default());
        planes.slopes.resize(self.lights.len(), Vec::new());
        for ((light, xyz), slopes) in self
            .lights
            .iter()
            .zip(&mut planes.xyz)
            .zip(&mut planes.slopes)
        {
            slopes.clear();
            slopes.resize(self.additions.len(), [0.0; 3]);
            for row in 0..3 {
                let (all, up, down) = (&light.all[row], &light.positive[row], &light.negative[row]);
                xyz[row] = Plane {
                    least: dot(all, reading),
                    range: (
                        dot(up, range_low) + dot(down, range_high),
                        dot(up, range_high) + dot(down, range_low),
                    ),
                };
                let (mut of_k, mut of_s) = ([0.0; LANES], [0.0; LANES]);
                for lane in 0..LANES {
                    of_k[lane] = all[lane] * by_k[lane];
                    of_s[lane] = all[lane] * by_s[lane];
                }
                let by_mass = dot(all, by_mass);
                for (index, addition) in self.additions.iter().enumerate() {
                    if high[index] > low[index] {
                        let mut both = [0.0; LANES];
                        for lane in 0..LANES {
                            both[lane] =
                                of_k[lane] * addition.k[lane] + of_s[lane] * addition.s[lane];
                        }
                        slopes[index][row] = sum(&both) - by_mass;
                    }
                }
            }
        }
    }

    /// Along each of `directions` in X, Y and Z of the light at `light`, how far reflectances that differ by up to
    /// `spread` reach.
    #[inline(always)]
    pub(crate) fn reaches(
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
    pub(crate) fn farthest(&self, light: usize, spread: &Lanes, direction: [f64; 3]) -> [f64; 3] {
        let [x, y, z] = &self.lights[light].all;
        let [by_x, by_y, by_z] = direction;
        let mut at = [0.0; LANES];
        for lane in 0..LANES {
            let seen = by_x * x[lane] + by_y * y[lane] + by_z * z[lane];
            at[lane] = spread[lane].copysign(seen);
        }
        [dot(x, &at), dot(y, &at), dot(z, &at)]
    }
}

/// The spline where both forms are at their middle.
struct Middle {
    /// Reflectance, times 36.
    reading: Lanes,
    /// Its slope in u, per cell, times 36.
    by_u: Lanes,
    /// Its slope in v, likewise.
    by_v: Lanes,
    /// Where that is on the grid along u, in cells; off it, the spline is taken at the rim.
    u_at: Lanes,
    /// Where along v, likewise.
    v_at: Lanes,
}

/// Reflectance as a plane in the forms.
struct Tilted {
    /// Where all additions are least.
    reading: Lanes,
    /// What reflectance lies within at any rate.
    range: (Lanes, Lanes),
    /// Slope by (K + K₀) m, per mm⁻¹ g; 0 where the plane is level.
    by_k: Lanes,
    /// Slope by (S + S₀) m, likewise.
    by_s: Lanes,
    /// Slope by −m, per gram: more mass thins both.
    by_mass: Lanes,
    /// One over (K + K₀) m at its middle.
    per_k: Lanes,
    /// One over (S + S₀) m, likewise.
    per_s: Lanes,
}

/// A linear form over a range.
struct Stretch {
    /// Halfway between its least and its greatest.
    middle: Lanes,
    /// ln of its least, to [`LN_ERROR`].
    ln_low: Lanes,
    /// ln of its middle, where the tangent is laid.
    ln_middle: Lanes,
    /// ln of its greatest.
    ln_high: Lanes,
    /// How far its logarithm falls below the tangent at the middle, at most.
    curvature: Lanes,
}

impl Stretch {
    /// The form from `low` to `high`, both above 0 in every lane; the fall has a margin for the errors of two
    /// logarithms.
    #[inline(always)]
    fn new(low: &Lanes, high: &Lanes) -> Self {
        let mut middle = [0.0; LANES];
        for lane in 0..LANES {
            middle[lane] = 0.5 * (low[lane] + high[lane]);
        }
        let (ln_low, ln_middle, ln_high) = (ln_lanes(low), ln_lanes(&middle), ln_lanes(high));
        let mut curvature = [0.0; LANES];
        for lane in 0..LANES {
            // It bends most at the low end.
            let share = low[lane] / middle[lane];
            let bent = share - 1.0 - (ln_low[lane] - ln_middle[lane]);
            curvature[lane] = greater(bent, 0.0) + 2.0 * LN_ERROR;
        }
        Self {
            middle,
            ln_low,
            ln_middle,
            ln_high,
            curvature,
        }
    }
}
