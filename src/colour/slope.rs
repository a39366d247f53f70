//! A plane under ΔE00: tight where two colours are far apart.

use super::Lab;
use super::difference::delta_e_2000;

/// A plane that no colour of a box has its ΔE00 below.
///
/// ΔE00 is followed over the box in interval arithmetic, with its slopes by L*, a* and b*. By the mean value theorem
/// it is at least its value at the middle, plus the middle slope times the step, less what the slopes spread times
/// the box's half widths. [`DifferenceFloor`](super::DifferenceFloor) loses a share of the difference, so this one is
/// tighter where the difference is large; it doesn't hold near grey and near the target, and then there is none.
///
/// Source: the formula is that of ISO/CIE 11664-6:2014; the mean value form, R. E. Moore (1966), Interval Analysis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DifferenceSlope {
    /// ΔE00 at least, at the middle.
    pub at_middle: f64,
    /// The middle of the box.
    pub middle: [f64; 3],
    /// The plane's slopes by L*, a*, b*.
    pub slope: [f64; 3],
}

impl DifferenceSlope {
    /// The plane under ΔE00 from `target` to the colours between the corners `low` and `high`; `None` where the
    /// formula isn't smooth on the box.
    pub fn new(target: Lab, low: Lab, high: Lab) -> Option<Self> {
        let ends = [(low.l, high.l), (low.a, high.a), (low.b, high.b)];
        let slopes = slopes(target, ends)?;
        let middle = ends.map(|(low, high)| (low + high) / 2.0);
        let [l, a, b] = middle;
        let mut at_middle = delta_e_2000(target, Lab::new(l, a, b)) - ROUNDING;
        for (slope, (low, high)) in slopes.iter().zip(ends) {
            at_middle -= (slope.high - slope.low) / 2.0 * (high - low) / 2.0;
        }
        at_middle.is_finite().then_some(Self {
            at_middle,
            middle,
            slope: slopes.map(|slope| (slope.low + slope.high) / 2.0),
        })
    }
}

/// For the rounding of interval ends, which are not rounded outwards.
const ROUNDING: f64 = 1e-6;

/// Numbers from one to another.
#[derive(Clone, Copy)]
struct Interval {
    low: f64,
    high: f64,
}

impl Interval {
    fn point(value: f64) -> Self {
        Self {
            low: value,
            high: value,
        }
    }

    fn times(self, other: Self) -> Self {
        let products = [
            self.low * other.low,
            self.low * other.high,
            self.high * other.low,
            self.high * other.high,
        ];
        Self {
            low: products.into_iter().fold(f64::INFINITY, f64::min),
            high: products.into_iter().fold(f64::NEG_INFINITY, f64::max),
        }
    }

    fn plus(self, other: Self) -> Self {
        Self {
            low: self.low + other.low,
            high: self.high + other.high,
        }
    }

    /// That of a function that rises over the interval.
    fn rising(self, function: impl Fn(f64) -> f64) -> Self {
        Self {
            low: function(self.low),
            high: function(self.high),
        }
    }

    /// That of a function that falls over the interval.
    fn falling(self, function: impl Fn(f64) -> f64) -> Self {
        Self {
            low: function(self.high),
            high: function(self.low),
        }
    }

    /// That of a cosine with its argument in radians: its slope is at most 1.
    fn cosine(self, turn: f64, order: f64) -> Self {
        let middle = (order * (self.low + self.high) / 2.0 + turn).cos();
        let reach = order * (self.high - self.low) / 2.0;
        Self {
            low: (middle - reach).max(-1.0),
            high: (middle + reach).min(1.0),
        }
    }
}

/// A quantity with its slopes by L*, a* and b*.
#[derive(Clone, Copy)]
struct Jet {
    value: Interval,
    slopes: [Interval; 3],
}

impl Jet {
    fn constant(value: f64) -> Self {
        Self {
            value: Interval::point(value),
            slopes: [Interval::point(0.0); 3],
        }
    }

    fn axis(axis: usize, (low, high): (f64, f64)) -> Self {
        let mut jet = Self::constant(0.0);
        jet.value = Interval { low, high };
        jet.slopes[axis] = Interval::point(1.0);
        jet
    }

    /// A function of this quantity, from its values and slopes.
    fn through(self, value: Interval, slope: Interval) -> Self {
        Self {
            value,
            slopes: self.slopes.map(|own| own.times(slope)),
        }
    }

    fn plus(self, other: Self) -> Self {
        Self {
            value: self.value.plus(other.value),
            slopes: std::array::from_fn(|axis| self.slopes[axis].plus(other.slopes[axis])),
        }
    }

    fn scaled(self, factor: f64) -> Self {
        self.through(
            self.value.times(Interval::point(factor)),
            Interval::point(factor),
        )
    }

    fn minus(self, other: Self) -> Self {
        self.plus(other.scaled(-1.0))
    }

    fn raised(self, by: f64) -> Self {
        self.plus(Self::constant(by))
    }

    fn times(self, other: Self) -> Self {
        Self {
            value: self.value.times(other.value),
            slopes: std::array::from_fn(|axis| {
                (self.slopes[axis].times(other.value)).plus(other.slopes[axis].times(self.value))
            }),
        }
    }

    fn squared(self) -> Self {
        let Interval { low, high } = self.value;
        let nearest = low.max(-high).max(0.0);
        let farthest = high.max(-low);
        self.through(
            Interval {
                low: nearest * nearest,
                high: farthest * farthest,
            },
            self.value.times(Interval::point(2.0)),
        )
    }

    /// Of a quantity above zero.
    fn root(self) -> Option<Self> {
        (self.value.low > 0.0).then(|| {
            let value = self.value.rising(f64::sqrt);
            self.through(value, value.falling(|root| 0.5 / root))
        })
    }

    /// One by a quantity above zero.
    fn inverse(self) -> Option<Self> {
        (self.value.low > 0.0).then(|| {
            let value = self.value.falling(|value| 1.0 / value);
            self.through(value, value.falling(|inverse| -inverse * inverse))
        })
    }

    /// cos(order · this + turn), the turn in degrees.
    fn cosine(self, order: f64, turn: f64) -> Self {
        let turn = turn.to_radians();
        let quarter = std::f64::consts::FRAC_PI_2;
        // −sin x = cos(x + π/2).
        let slope = self.value.cosine(turn + quarter, order);
        let slope = slope.times(Interval::point(order));
        self.through(self.value.cosine(turn, order), slope)
    }
}

/// The slopes of ΔE00 over the box.
fn slopes(target: Lab, ends: [(f64, f64); 3]) -> Option<[Interval; 3]> {
    let [l, a, b] = [0, 1, 2].map(|axis| Jet::axis(axis, ends[axis]));
    let target_chroma = target.a.hypot(target.b);
    if target_chroma < 1.0 {
        return None;
    }
    let chroma = a.squared().plus(b.squared()).root()?;
    let stretch = saturation(chroma.raised(target_chroma).scaled(0.5))?;
    let stretch = stretch.scaled(-0.5).raised(1.5);
    let (target_a, a) = (stretch.scaled(target.a), stretch.times(a));
    let target_b = Jet::constant(target.b);
    let target_chroma = target_a.squared().plus(target_b.squared()).root()?;
    let chroma = a.squared().plus(b.squared()).root()?;
    let mean_chroma = chroma.plus(target_chroma).scaled(0.5);

    // 2 √(C₁C₂) sin(Δh/2) = C₁C₂ sin Δh / √((C₁C₂ + C₁C₂ cos Δh) / 2).
    let cosine = target_a.times(a).plus(target_b.times(b));
    let sine = target_a.times(b).minus(target_b.times(a));
    let half = chroma
        .times(target_chroma)
        .plus(cosine)
        .scaled(0.5)
        .root()?;
    let hue_step = sine.times(half.inverse()?);

    let hue = mean_hue((target_a, target_b), (a, b))?;
    let by_hue = Jet::constant(1.0)
        .plus(hue.cosine(1.0, -30.0).scaled(-0.17))
        .plus(hue.cosine(2.0, 0.0).scaled(0.24))
        .plus(hue.cosine(3.0, 6.0).scaled(0.32))
        .plus(hue.cosine(4.0, -63.0).scaled(-0.20));
    let from_middle = l.raised(target.l).scaled(0.5).raised(-50.0).squared();
    let weight_l = from_middle
        .times(from_middle.raised(20.0).root()?.inverse()?)
        .scaled(0.015)
        .raised(1.0);
    let weight_c = mean_chroma.scaled(0.045).raised(1.0);
    let weight_h = mean_chroma.times(by_hue).scaled(0.015).raised(1.0);
    let lightness = l.raised(-target.l).times(weight_l.inverse()?);
    let chroma = chroma.minus(target_chroma).times(weight_c.inverse()?);
    let hue_part = hue_step.times(weight_h.inverse()?);

    let rotation = rotation(hue, mean_chroma)?;
    let square = (lightness.squared())
        .plus(chroma.squared())
        .plus(hue_part.squared())
        .plus(rotation.times(chroma).times(hue_part));
    Some(square.root()?.slopes)
}

/// R_T; the formula counts hues from 0° to 360° and so jumps where they begin, which no plane may cross.
fn rotation(hue: Jet, mean_chroma: Jet) -> Option<Jet> {
    let degrees = hue.scaled(1.0_f64.to_degrees());
    let middle = (degrees.value.low + degrees.value.high) / 2.0;
    let degrees = degrees.raised(middle.rem_euclid(360.0) - middle);
    if degrees.value.low < 0.0 || degrees.value.high > 360.0 {
        return None;
    }
    let square = degrees.raised(-275.0).scaled(1.0 / 25.0).squared();
    let exponent = square.scaled(-1.0);
    let fade = exponent.value.rising(f64::exp);
    let turn = exponent.through(fade, fade).scaled(60.0_f64.to_radians());
    // A turn from 0° to 60°.
    let sine = turn.through(turn.value.rising(f64::sin), turn.value.falling(f64::cos));
    Some(saturation(mean_chroma)?.times(sine).scaled(-2.0))
}

/// √(C⁷ / (C⁷ + 25⁷)), of a chroma above zero.
fn saturation(chroma: Jet) -> Option<Jet> {
    let seventh = chroma.value.rising(|chroma| chroma.powi(7));
    let slope = chroma.value.rising(|chroma| 7.0 * chroma.powi(6));
    let seventh = chroma.through(seventh, slope);
    // C⁷ / (C⁷ + 25⁷) = 1 / (1 + 25⁷/C⁷).
    let inverse = seventh.inverse()?.scaled(25.0_f64.powi(7));
    inverse.raised(1.0).inverse()?.root()
}

/// The hue between those of two points, on the shorter way, in radians, up to whole turns.
fn mean_hue(one: (Jet, Jet), other: (Jet, Jet)) -> Option<Jet> {
    let (one, other) = (hue(one)?, hue(other)?);
    let step = (other.value.low + other.value.high - one.value.low - one.value.high) / 2.0;
    let turns = (step / std::f64::consts::TAU).round() * std::f64::consts::TAU;
    let other = other.raised(-turns);
    let widest = (other.value.high - one.value.low).max(one.value.high - other.value.low);
    // Beyond, the shorter way may be the other way round.
    (widest < 3.0).then(|| one.plus(other).scaled(0.5))
}

/// The hue of a point away from the origin, in radians.
fn hue((a, b): (Jet, Jet)) -> Option<Jet> {
    let middle = |jet: Jet| (jet.value.low + jet.value.high) / 2.0;
    let half = |jet: Jet| (jet.value.high - jet.value.low) / 2.0;
    let (reach, distance) = (half(a).hypot(half(b)), middle(a).hypot(middle(b)));
    if reach >= 0.9 * distance {
        return None;
    }
    let (at, spread) = (middle(b).atan2(middle(a)), (reach / distance).asin());
    let square = a.squared().plus(b.squared()).inverse()?.value;
    let (by_a, by_b) = (
        b.value.times(square).times(Interval::point(-1.0)),
        a.value.times(square),
    );
    Some(Jet {
        value: Interval {
            low: at - spread,
            high: at + spread,
        },
        slopes: std::array::from_fn(|axis| {
            (a.slopes[axis].times(by_a)).plus(b.slopes[axis].times(by_b))
        }),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Evenly spread numbers from 0 to 1, by a fixed recurrence.
    fn even(seed: u64) -> impl FnMut() -> f64 {
        let mut state = seed;
        move || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (state >> 11) as f64 / (1_u64 << 53) as f64
        }
    }

    #[test]
    fn no_colour_of_a_box_lies_below_its_plane_and_small_boxes_lie_on_it() {
        let mut next = even(13);
        let (mut planes, mut small) = (0, 0);
        for _ in 0..8000 {
            let [target, middle] =
                [(); 2].map(|()| [100.0 * next(), 100.0 * next() - 50.0, 100.0 * next() - 50.0]);
            let size = 12.0 * next().powi(3);
            let half: [f64; 3] = std::array::from_fn(|_| size * next());
            let target = Lab::new(target[0], target[1], target[2]);
            let corner = |sign: f64| {
                let [l, a, b] = std::array::from_fn(|axis| middle[axis] + sign * half[axis]);
                Lab::new(l, a, b)
            };
            let (low, high) = (corner(-1.0), corner(1.0));
            let Some(plane) = DifferenceSlope::new(target, low, high) else {
                continue;
            };
            planes += 1;
            for _ in 0..20 {
                let at: [f64; 3] =
                    std::array::from_fn(|axis| middle[axis] + half[axis] * (2.0 * next() - 1.0));
                let colour = Lab::new(at[0], at[1], at[2]);
                let height: f64 = (0..3)
                    .map(|axis| plane.slope[axis] * (at[axis] - plane.middle[axis]))
                    .sum();
                let difference = delta_e_2000(target, colour);
                let plane = plane.at_middle + height;
                assert!(
                    plane <= difference,
                    "{target:?} to {colour:?} in {low:?}..{high:?}: {plane} above {difference}"
                );
                if size < 0.01 {
                    small += 1;
                    approx::assert_abs_diff_eq!(plane, difference, epsilon = 0.01);
                }
            }
        }
        assert!(
            planes > 2000 && small > 2000,
            "{planes} planes, {small} colours of small boxes"
        );
    }
}
