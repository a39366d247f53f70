//! What foaming does to a material's K and S.

use super::Coefficients;

/// How far a foam rises and how coarse its cells are.
///
/// A first guess, which one chip of the same tint foamed and unfoamed should replace; it has been compared
/// with no measured foam.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Foam {
    /// Volume of the foam over volume of the liquid, at least 1.
    pub expansion: f64,
    /// Mean diameter of a cell, mm, positive.
    pub cell_mm: f64,
}

impl Foam {
    /// K and S (mm⁻¹) of the foam whose unfoamed mix has `solid`.
    ///
    /// The material's own K and S are thinned by the expansion. The cell walls add a grey scattering of
    /// transport length l* = D (0.14 E + 1.5), which is S = ¾ / l*; they are the foam's white. Below E = 3, the
    /// wettest foam of the source, walls come in evenly from none at E = 1.
    ///
    /// Source: that l* is linear in cell size and in the inverse solid fraction, M. U. Vera, A. Saint-Jalmes,
    /// D. J. Durian (2001), Applied Optics 40, 4210–4214, on aqueous foam of index 1.33; the two numbers are
    /// from memory. That a foam absorbs about by its solid fraction, A. S. Gittings, R. Bandyopadhyay,
    /// D. J. Durian (2004), Europhysics Letters 65, 414–419; they find somewhat more at middle densities, which
    /// is left out here.
    pub fn of(&self, solid: &Coefficients) -> Coefficients {
        let transport_length_mm = self.cell_mm * (0.14 * self.expansion + 1.5);
        let walls = 0.75 / transport_length_mm * ((self.expansion - 1.0) / 2.0).clamp(0.0, 1.0);
        let mut foamed = solid.scaled(1.0 / self.expansion);
        foamed.s = foamed.s.map(|s| s + walls);
        foamed
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
            let foamed = Foam {
                expansion: 5.0,
                cell_mm,
            }
            .of(&solid);
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
        let unrisen = Foam {
            expansion: 1.0,
            cell_mm: 0.4,
        }
        .of(&solid);
        assert_eq!(unrisen, solid, "no cells yet");
    }
}
