//! Unpigmented bases and the cards behind a chip: smooth stand-ins until the user's own are read.

use crate::dispersion::Curves;
use crate::grid;

/// An unpigmented base: k falls from violet to a floor, s rises gently to violet.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Base {
    pub(crate) file: &'static str,
    /// k at 380 nm above the floor, 1/mm, the floor, 1/mm, and how fast the one falls to the
    /// other, nm.
    violet_k: f64,
    floor_k: f64,
    decay_nm: f64,
    /// s at 550 nm, 1/mm; it goes with 1/wavelength.
    s_at_550: f64,
    pub(crate) note: &'static str,
}

/// Standard deviations of ln k and ln s of a base nobody has measured.
const K_SD: f64 = 0.5;
const S_SD: f64 = 0.6;

impl Base {
    /// The base's own k and s, 1/mm.
    pub(crate) fn curves(&self) -> Curves {
        Curves {
            k: grid::sample(|nm| {
                self.floor_k + self.violet_k * ((380.0 - nm) / self.decay_nm).exp()
            }),
            s: grid::sample(|nm| self.s_at_550 * 550.0 / nm),
            k_sd: [K_SD; grid::COUNT],
            s_sd: [S_SD; grid::COUNT],
        }
    }
}

/// The bases of the starter book, and the carrier of its dispersions.
pub(crate) const BASES: [Base; 4] = [
    Base {
        file: "base-clear-skin",
        violet_k: 0.028,
        floor_k: 0.002,
        decay_nm: 35.0,
        s_at_550: 0.010,
        note: "clear urethane elastomer, slightly yellow. Invented stand-in: read a clear chip.",
    },
    Base {
        file: "base-flexible-foam",
        violet_k: 0.045,
        floor_k: 0.004,
        decay_nm: 40.0,
        s_at_550: 0.020,
        note: "the foam's resin before it rises, without its cells. Invented stand-in: cast a foam \
               swatch.",
    },
    Base {
        file: "base-clear-paint",
        violet_k: 0.015,
        floor_k: 0.001,
        decay_nm: 35.0,
        s_at_550: 0.010,
        note: "clear paint, dry. Invented stand-in; a coat is so thin that it hardly matters.",
    },
    Base {
        file: "base-clear-carrier",
        violet_k: 0.020,
        floor_k: 0.002,
        decay_nm: 35.0,
        s_at_550: 0.010,
        note: "the clear vehicle that dispersions come in, per unit mass fraction. Invented stand-in; a cup holds so \
               little that it hardly matters.",
    },
];

/// A card to lay or cast a chip on.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Card {
    pub(crate) file: &'static str,
    /// Reflectance of the card, 0 to 1, against wavelength in nm.
    pub(crate) reflectance: fn(f64) -> f64,
    pub(crate) note: &'static str,
}

/// The two cards of the starter book.
pub(crate) const CARDS: [Card; 2] = [
    Card {
        file: "white-card",
        reflectance: |nm| 0.88 - 0.05 * ((380.0 - nm) / 20.0).exp(),
        note: "invented white: 0.88, falling a little below 420 nm. Read your own card.",
    },
    Card {
        file: "black-card",
        reflectance: |nm| 0.045 + 0.002 * (nm - 550.0) / 350.0,
        note: "invented black: about 0.045. Read your own card.",
    },
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clear_base_is_clear_at_the_thickness_of_a_skin() {
        for base in BASES {
            let curves = base.curves();
            let thickness_mm = 2.0;
            assert!(
                curves.k[17] * thickness_mm < 0.02,
                "{} absorbs green",
                base.file
            );
            assert!(curves.k[0] > curves.k[35], "{} is not yellowish", base.file);
        }
    }

    #[test]
    fn cards_reflect_between_nought_and_one() {
        for card in CARDS {
            for r in grid::sample(card.reflectance) {
                assert!((0.0..1.0).contains(&r), "{}: {r}", card.file);
            }
        }
    }
}
