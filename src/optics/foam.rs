//! What foaming does to a material's K and S.

use super::{Coefficients, Medium};

/// How far a foam rises and how coarse its cells are.
///
/// A first guess, which `characterise` replaces by what chips of the foam tell; the law itself has been compared with no
/// measured foam.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Foam {
    /// Volume of the foam over volume of the liquid, at least 1.
    pub expansion: f64,
    /// Mean diameter of a cell, mm, positive.
    pub cell_mm: f64,
    /// Standard deviation of the logarithm of the cell size, in which the doubt of the whole law of the cells is put.
    pub cell_ln_sd: f64,
    /// How much more a foam absorbs than its share of solid would, positive.
    pub absorption_gain: f64,
    /// The share of its face that is solid, 0–1: of a wall, a mould's or a skin's, that it wets; behind the rest is gas.
    pub wet_share: f64,
    /// Standard deviation of the logarithm of that share's odds (wet by dry).
    pub wet_ln_sd: f64,
}

impl Foam {
    /// Finest and coarsest cells, mm.
    pub const CELL_MM: (f64, f64) = (0.01, 10.0);
    /// Least and greatest absorption gain.
    pub const ABSORPTION_GAIN: (f64, f64) = (0.3, 3.0);
    /// Least and greatest wet share of a wall.
    pub const WET_SHARE: (f64, f64) = (0.01, 1.0);
    /// [`wet_ln_sd`](Self::wet_ln_sd) of a foam of which nobody has read how it looks through a skin: cells that lean on the
    /// wall wet it more than a plane cut does, and a foam's own skin more than either. Our own choice, no source.
    pub const WET_LN_SD: f64 = 0.8;
    /// Standard deviation of the logarithm of a foam's expansion from pour to pour. Our own choice, no source.
    pub const RISE_LN_SD: f64 = 0.1;
    /// [`cell_ln_sd`](Self::cell_ln_sd) of a foam whose cells were measured: no measured foam has checked the law, which was read
    /// in water, and what is carried over from there is a factor e^0.4. Our own choice, no source.
    const MEASURED_LN_SD: f64 = 0.4;
    /// Of one whose cells nobody has measured: that, and from half of the guess to its double, at one standard deviation (ln 2
    /// and 0.4 in quadrature). Our own choice, no source.
    const UNMEASURED_LN_SD: f64 = 0.8;
    /// The cell size of a foam of which nobody has measured it, mm. Our own choice, no source.
    const UNMEASURED_MM: f64 = 0.4;
    /// The expansion from which a foam is one, the wettest of the source: below it, walls come in evenly from none.
    const WETTEST: f64 = 3.0;
    /// What a gas bubble far wider than a wavelength scatters sideways and back, as a share of the light that meets it, in the
    /// water of the law of walls (n = 1.33) and in urethane (n = 1.5): 1 − g of geometric optics.
    ///
    /// Source: H. C. van de Hulst (1957), Light Scattering by Small Particles, chapter 12; the numbers are worked out in the
    /// tests of this file.
    const BUBBLE_IN_WATER: f64 = 0.308;
    const BUBBLE_IN_URETHANE: f64 = 0.456;
    /// Refractive index of urethane.
    const URETHANE: f64 = 1.5;

    /// A foam that rises to `expansion` times its volume, with cells of `cell_mm` where these were measured.
    pub fn new(expansion: f64, cell_mm: Option<f64>) -> Self {
        let cell_ln_sd = match cell_mm {
            Some(_) => Self::MEASURED_LN_SD,
            None => Self::UNMEASURED_LN_SD,
        };
        Self {
            expansion,
            cell_mm: cell_mm.unwrap_or(Self::UNMEASURED_MM),
            cell_ln_sd,
            absorption_gain: Self::mixed_gain(expansion),
            wet_share: Self::cut_share(expansion),
            wet_ln_sd: Self::WET_LN_SD,
        }
    }

    /// The gain of a foam of this expansion in which light is wholly mixed between solid and gas: then it is n² times as
    /// dense in the solid as in the gas, and of its way the share φ n² / (φ n² + 1 − φ) lies there, not φ. Two decimals, since it
    /// is a first guess.
    ///
    /// Source: that radiance over n² is kept where light passes from one index to another, F. E. Nicodemus (1963),
    /// American Journal of Physics 31, 368–377 (from memory). That a foam mixes light so well is our own choice: in water it
    /// would have foams of middle densities absorb half as much again, which is what the source of [`of`](Self::of) finds; the
    /// driest, which rise further than a maker's, it finds to absorb by their solid alone.
    fn mixed_gain(expansion: f64) -> f64 {
        let n_squared = Self::URETHANE.powi(2);
        let gain = expansion * n_squared / (n_squared + expansion - 1.0);
        (gain * 100.0).round() / 100.0
    }

    /// The share of solid in a plane cut through a foam of this expansion, which is that in its volume: the first guess of
    /// how much of a wall is wet. That a wall cuts a foam as a plane does is our own choice, no source;
    /// `tests/foam_trace.rs` has what it is worth.
    ///
    /// Source: A. Delesse (1847), Comptes rendus de l'Académie des sciences 25, 544–545 (from memory).
    fn cut_share(expansion: f64) -> f64 {
        let (least, most) = Self::WET_SHARE;
        (1.0 / expansion).clamp(least, most)
    }

    /// The foam of a mix; `risen` is its K and S as [`of`](Self::of) has them.
    pub fn medium(&self, risen: Coefficients) -> Medium {
        Medium {
            coefficients: risen,
            wet_share: self.wet_share,
        }
    }

    /// Whether nobody has measured its cells.
    pub fn is_unmeasured(&self) -> bool {
        self.cell_ln_sd >= Self::UNMEASURED_LN_SD
    }

    /// Transport length of light among the cell walls, mm: l* = D (0.14 E + 1.5), times 0.68.
    ///
    /// Source: that it is linear in cell size and in the inverse solid fraction, M. U. Vera, A. Saint-Jalmes,
    /// D. J. Durian (2001), Applied Optics 40, 4210–4214, on aqueous foam of index 1.33; the two numbers are from
    /// memory. That walls of urethane scatter as much more as a gas bubble does there than in water is our own choice, no
    /// source.
    pub fn transport_length_mm(&self) -> f64 {
        let in_water = self.cell_mm * (0.14 * self.expansion + 1.5);
        in_water * Self::BUBBLE_IN_WATER / Self::BUBBLE_IN_URETHANE
    }

    /// K and S (mm⁻¹) of the foam whose unfoamed mix has `solid`.
    ///
    /// The material's own K and S are thinned by the expansion. The cell walls add a grey scattering of
    /// transport length l*, which is S = ¾ / l*; they are the foam's white. Below E = 3, the wettest foam of the
    /// source, walls come in evenly from none at E = 1, and the absorption gain with them.
    ///
    /// Source: that a foam absorbs about by its solid fraction, A. S. Gittings, R. Bandyopadhyay, D. J. Durian (2004),
    /// Europhysics Letters 65, 414–419; they find somewhat more at middle densities, which is what the gain is for.
    pub fn of(&self, solid: &Coefficients) -> Coefficients {
        let (k_share, s_share) = self.shares();
        let walls = self.walls();
        Coefficients {
            k: solid.k.map(|k| k * k_share),
            s: solid.s.map(|s| s * s_share + walls),
        }
    }

    /// What share of its unfoamed mix's K, and of its S, the foam has.
    pub fn shares(&self) -> (f64, f64) {
        (self.gain() / self.expansion, 1.0 / self.expansion)
    }

    /// The foam whose absorption gain is e^`ln_gain` times, the scattering of whose walls e^`ln_walls` times, and the odds of
    /// whose wet share e^`ln_wet` times as much; cells, gain and wet share stay within their ranges.
    #[must_use]
    pub fn shifted(&self, ln_gain: f64, ln_walls: f64, ln_wet: f64) -> Self {
        let within = |value: f64, (least, most): (f64, f64)| value.clamp(least, most);
        let wet = self.wet_share * ln_wet.exp();
        let wet_share = wet / (wet + 1.0 - self.wet_share);
        Self {
            // Walls scatter by the inverse of their cells' width.
            cell_mm: within(self.cell_mm * (-ln_walls).exp(), Self::CELL_MM),
            absorption_gain: within(self.absorption_gain * ln_gain.exp(), Self::ABSORPTION_GAIN),
            wet_share: within(wet_share, Self::WET_SHARE),
            ..*self
        }
    }

    /// Standard deviation of the wet share itself, roughly.
    pub fn wet_sd(&self) -> f64 {
        self.wet_share * (1.0 - self.wet_share) * self.wet_ln_sd
    }

    /// The foam that rises e^`ln_rise` times as far, and never sinks below its liquid.
    #[must_use]
    pub fn risen_further(&self, ln_rise: f64) -> Self {
        Self {
            expansion: (self.expansion * ln_rise.exp()).max(1.0),
            ..*self
        }
    }

    /// How many times as much pigment a mix needs to keep its K by S, and with it its colour, when it foams; `solid_s`
    /// (mm⁻¹) is the scattering of the unfoamed mix.
    ///
    /// Its K is to grow as its S by the walls: M = (1 + E S_walls / S) / gain. White and fibre in the mix are left as
    /// they are.
    pub fn pigment_multiplier(&self, solid_s: f64) -> f64 {
        (1.0 + self.expansion * self.walls() / solid_s) / self.gain()
    }

    /// The absorption gain, which comes in with the rise.
    fn gain(&self) -> f64 {
        1.0 + (self.absorption_gain - 1.0) * self.risen_share()
    }

    /// Scattering of the cell walls, mm⁻¹.
    fn walls(&self) -> f64 {
        0.75 / self.transport_length_mm() * self.risen_share()
    }

    /// How much of a foam it is, 0–1.
    fn risen_share(&self) -> f64 {
        ((self.expansion - 1.0) / (Self::WETTEST - 1.0)).clamp(0.0, 1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::Spectrum;
    use crate::optics::thick_reflectance;

    #[test]
    fn a_foam_is_lighter_than_its_solid_and_finer_cells_are_lighter_still() {
        let solid = Coefficients {
            k: Spectrum::constant(0.5),
            s: Spectrum::constant(0.2),
        };
        let light = |cell_mm| {
            let foamed = Foam::new(5.0, Some(cell_mm)).of(&solid);
            thick_reflectance(foamed.k[0], foamed.s[0])
        };
        assert!(light(0.8) > thick_reflectance(0.5, 0.2), "rising lightens");
        assert!(light(0.3) > light(0.8), "fine cells scatter more");
    }

    #[test]
    fn foam_that_has_not_risen_is_its_solid() {
        let solid = Coefficients {
            k: Spectrum::constant(0.5),
            s: Spectrum::constant(0.2),
        };
        let unrisen = Foam::new(1.0, Some(0.4)).of(&solid);
        assert_eq!(unrisen, solid, "no cells yet");
    }

    #[test]
    fn light_goes_further_in_coarse_and_in_dry_foam() {
        // Published trends of Vera, Saint-Jalmes, Durian (2001): l* is proportional to the cell size and linear in the
        // inverse solid fraction, which is the expansion.
        let length = |expansion, cell_mm| Foam::new(expansion, Some(cell_mm)).transport_length_mm();
        approx::assert_abs_diff_eq!(length(8.0, 0.6), 2.0 * length(8.0, 0.3), epsilon = 1e-12);
        let rise = [4.0, 8.0, 12.0].map(|expansion| length(expansion, 0.4));
        approx::assert_abs_diff_eq!(rise[2] - rise[1], rise[1] - rise[0], epsilon = 1e-12);
        assert!(rise[1] > rise[0], "further in dry foam");
    }

    #[test]
    fn a_gas_bubble_in_urethane_scatters_half_as_much_again_as_in_water() {
        // Geometric optics of a gas sphere in a medium of index n (van de Hulst 1957, chapter 12): at the angle of incidence i a
        // share R is mirrored, by π − 2i; what passed is turned by 2(i − t), and by π − 2t more each time it is mirrored
        // inside. By Mie's theory for large bubbles 0.304 and 0.452, worked out elsewhere with a general library.
        let turned = |n: f64| {
            let rays = 20_000;
            let cosines = (0..rays).map(|ray| {
                let sine = ((f64::from(ray) + 0.5) / f64::from(rays)).sqrt();
                let (i, beyond) = (sine.asin(), n * sine);
                if beyond >= 1.0 {
                    return -(2.0 * i).cos();
                }
                let t = beyond.asin();
                let (ci, ct) = (i.cos(), t.cos());
                let ways = [
                    ((n * ci - ct) / (n * ci + ct)).powi(2),
                    ((n * ct - ci) / (n * ct + ci)).powi(2),
                ];
                let of = |mirrored: f64| {
                    let inside = (0..40).map(|times| {
                        let turn =
                            2.0 * (i - t) + f64::from(times) * (std::f64::consts::PI - 2.0 * t);
                        (1.0 - mirrored).powi(2) * mirrored.powi(times) * turn.cos()
                    });
                    inside.sum::<f64>() - mirrored * (2.0 * i).cos()
                };
                f64::midpoint(of(ways[0]), of(ways[1]))
            });
            1.0 - cosines.sum::<f64>() / f64::from(rays)
        };
        approx::assert_abs_diff_eq!(turned(1.33), Foam::BUBBLE_IN_WATER, epsilon = 5e-4);
        approx::assert_abs_diff_eq!(turned(1.5), Foam::BUBBLE_IN_URETHANE, epsilon = 5e-4);
    }

    #[test]
    fn a_foam_absorbs_by_its_solid_fraction_and_its_gain() {
        // Gittings, Bandyopadhyay, Durian (2004): in dry foam the absorption is that of the liquid by its fraction; at
        // middle densities it is more.
        let solid = Coefficients {
            k: Spectrum::constant(0.6),
            s: Spectrum::constant(0.2),
        };
        let mut foam = Foam::new(6.0, Some(0.4));
        foam.absorption_gain = 1.0;
        approx::assert_abs_diff_eq!(foam.of(&solid).k[10], 0.1, epsilon = 1e-12);
        foam.absorption_gain = 1.5;
        approx::assert_abs_diff_eq!(foam.of(&solid).k[10], 0.15, epsilon = 1e-12);
        foam.expansion = 1.0;
        assert_eq!(foam.of(&solid), solid, "no foam, no gain");
    }

    #[test]
    fn a_shift_multiplies_gain_and_walls_and_stays_a_foam() {
        // By hand: walls go by 1 / D, so twice as much scattering is half the width.
        let foam = Foam::new(6.0, Some(0.4));
        let shifted = foam.shifted(0.5_f64.ln(), 2.0_f64.ln(), 3.0_f64.ln());
        approx::assert_abs_diff_eq!(shifted.cell_mm, 0.2, epsilon = 1e-12);
        approx::assert_abs_diff_eq!(shifted.absorption_gain, 0.93, epsilon = 1e-12);
        approx::assert_abs_diff_eq!(shifted.walls(), 2.0 * foam.walls(), epsilon = 1e-12);
        // Odds of 1 to 5, three times as much, are 3 to 5.
        approx::assert_abs_diff_eq!(shifted.wet_share, 0.375, epsilon = 1e-12);
        let far = foam.shifted(9.0, -9.0, 99.0);
        assert_eq!(
            (far.absorption_gain, far.cell_mm, far.wet_share),
            (3.0, 10.0, 1.0),
            "at the ends"
        );
    }

    #[test]
    fn pigment_times_the_multiplier_keeps_the_ratio_of_absorption_to_scattering() {
        // By hand: E = 6, D = 0.4 mm: l* = 0.4 (0.84 + 1.5) 0.308 / 0.456 = 0.632211 mm, walls 0.75 / 0.632211 = 1.186314 mm⁻¹;
        // with a scattering of 2 mm⁻¹ and a gain of 1.86 M = (1 + 6 · 1.186314 / 2) / 1.86 = 2.451044.
        let foam = Foam::new(6.0, Some(0.4));
        let multiplier = foam.pigment_multiplier(2.0);
        approx::assert_abs_diff_eq!(multiplier, 2.451_044, epsilon = 1e-6);
        let solid = |times: f64| Coefficients {
            k: Spectrum::constant(0.5 * times),
            s: Spectrum::constant(2.0),
        };
        let foamed = foam.of(&solid(multiplier));
        approx::assert_abs_diff_eq!(foamed.k[10] / foamed.s[10], 0.25, epsilon = 1e-12);
    }
}
