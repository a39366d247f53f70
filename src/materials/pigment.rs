//! A pigment dispersion, or the fibre, as the maker owns it.

use super::Grams;
use crate::colour::Spectrum;
use crate::error::{Error, Result};
use crate::optics::Coefficients;

/// A pigment dispersion as it leaves the bottle; the fibre thickener is one too, weighed and white.
#[derive(Clone, Debug, PartialEq)]
pub struct Pigment {
    /// Its name on the shelf.
    pub name: String,
    /// Mean mass of one drop; `None` for what is weighed only.
    pub drop_mass: Option<Grams>,
    /// Standard deviation of that mean from one run of drops to the next; `None` where too few runs were weighed.
    pub drop_mass_sd: Option<Grams>,
    /// The largest share of the whole cup's mass that still cures well, above 0, up to 1.
    pub max_fraction: f64,
    /// The lot it came from; empty where unknown.
    pub lot: String,
    /// The pigment that this one is another lot of; empty for one that stands for itself.
    pub lot_of: String,
    /// The pigment whose curves stand in until this one is calibrated; empty where none does.
    pub like: String,
    /// Where its curves come from.
    pub curve_source: CurveSource,
    /// What a stock was weighed together from; empty for all else.
    pub ingredients: Vec<Ingredient>,
    /// K and S per unit mass fraction, mm⁻¹.
    pub coefficients: Coefficients,
    /// How sure those are.
    pub spread: CoefficientSpread,
}

/// One of the dispersions in a stock, or the carrier that thins them.
#[derive(Clone, Debug, PartialEq)]
pub struct Ingredient {
    /// Its share of the stock's mass, above 0, up to 1.
    pub share: f64,
    /// As it stands on the shelf.
    pub pigment: Pigment,
}

/// Where a pigment's curves come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CurveSource {
    /// A file of its own.
    Read,
    /// A pigment that it is like, or another lot of it.
    Like,
    /// What it was weighed together from.
    Ingredients,
    /// Nothing: they are those of any dispersion.
    Nothing,
}

/// Standard deviations of ln K and of ln S at each wavelength.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CoefficientSpread {
    /// Of ln K.
    pub k_sd: Spectrum,
    /// Of ln S.
    pub s_sd: Spectrum,
}

impl CoefficientSpread {
    /// Nothing left unknown.
    pub const NONE: Self = Self {
        k_sd: Spectrum::constant(0.0),
        s_sd: Spectrum::constant(0.0),
    };

    /// How far one lot of a dispersion lies from the next: about a tenth in strength, and somewhat less in the shape of its
    /// curves. Makers of dispersions hold their strength to some 5 %; small ones weigh less well. Common practice, no
    /// source; the width is our own choice.
    pub const LOT_TO_LOT: Self = Self {
        k_sd: Spectrum::constant(0.15),
        s_sd: Spectrum::constant(0.15),
    };

    /// How far the strength of a bottle of unknown make lies from that of its kind: within a factor of one and a half, two
    /// times in three. The kinds of the starter set are loaded with 10 to 50 %, a factor of two either way; bottles of one
    /// kind are taken to differ less. Common practice, no source; the width is our own choice.
    const BOTTLE_TO_BOTTLE: Self = Self {
        k_sd: Spectrum::constant(0.4),
        s_sd: Spectrum::constant(0.4),
    };

    /// How sure a pigment's curves are whose spread is this: wider where no more is known than its kind, since what was read of
    /// its own bottle, or of the lot before it, is known better.
    #[must_use]
    pub fn of_a_bottle(&self) -> Self {
        let Self { k_sd, s_sd } = Self::LOT_TO_LOT;
        let is_wider = |own: &Spectrum, lot: &Spectrum| {
            own.values()
                .iter()
                .zip(lot.values())
                .all(|(own, lot)| own > lot)
        };
        if is_wider(&self.k_sd, &k_sd) && is_wider(&self.s_sd, &s_sd) {
            self.and(&Self::BOTTLE_TO_BOTTLE)
        } else {
            *self
        }
    }

    /// The spread of what may be off by this and, independently, by `other`.
    #[must_use]
    pub fn and(&self, other: &Self) -> Self {
        let both = |one: &Spectrum, other: &Spectrum| {
            Spectrum::from_fn(|band| one[band].hypot(other[band]))
        };
        Self {
            k_sd: both(&self.k_sd, &other.k_sd),
            s_sd: both(&self.s_sd, &other.s_sd),
        }
    }

    /// `coefficients` with K moved by `k_sds` and S by `s_sds` of their standard deviations, at all
    /// wavelengths together: what is unknown of a pigment is first of all its strength.
    pub fn shift(&self, coefficients: &Coefficients, k_sds: f64, s_sds: f64) -> Coefficients {
        let shifted = |values: &Spectrum, sd: &Spectrum, sds: f64| {
            Spectrum::from_fn(|band| values[band] * (sds * sd[band]).exp())
        };
        Coefficients {
            k: shifted(&coefficients.k, &self.k_sd, k_sds),
            s: shifted(&coefficients.s, &self.s_sd, s_sds),
        }
    }
}

impl Pigment {
    /// What a recipe calls the stock that is premixed for one part.
    pub const STOCK: &str = "flesh stock";

    /// What the shelf calls the fibre, which thickens and whitens a skin.
    pub const FIBRE: &str = "fibre";

    /// Takes the curves of `old`, of which it is another lot, for its own first guess.
    pub fn begin_as_lot_of(&mut self, old: &Self) {
        self.coefficients = old.coefficients;
        self.spread = old.spread.and(&CoefficientSpread::LOT_TO_LOT);
        self.curve_source = match old.curve_source {
            CurveSource::Nothing => CurveSource::Nothing,
            CurveSource::Read | CurveSource::Like | CurveSource::Ingredients => CurveSource::Like,
        };
    }

    /// Whether it is the fibre, or another that is like it.
    pub fn is_fibre(&self) -> bool {
        [&self.name, &self.like]
            .into_iter()
            .any(|name| name == Self::FIBRE)
    }

    /// Whether nothing tells of its curves, or of those of something that it was weighed together from.
    pub fn is_unread(&self) -> bool {
        match self.curve_source {
            CurveSource::Read | CurveSource::Like => false,
            CurveSource::Ingredients => {
                self.ingredients.iter().any(|each| each.pigment.is_unread())
            }
            CurveSource::Nothing => true,
        }
    }

    /// Refuses what is only weighed, where drops of it are spoken of.
    ///
    /// # Errors
    /// It has no drop mass.
    pub fn check_drops(&self) -> Result<()> {
        match self.drop_mass {
            Some(_) => Ok(()),
            None => {
                let finding = format!("`{}` has no drop mass: it goes in by the gram", self.name);
                Err(Error::input(finding).mend(
                    "if it does come in drops, weigh twenty of them with `dropwise calibrate`, or enter drop_g in pigments.csv",
                ))
            }
        }
    }

    /// Refuses what no dropper lets go, where drops are weighed: the fibre, and what is like it.
    ///
    /// # Errors
    /// It is a fibre.
    pub fn check_weighable(&self) -> Result<()> {
        if self.drop_mass.is_some() || !self.is_fibre() {
            return Ok(());
        }
        let finding = format!("`{}` has no drop mass: it goes in by the gram", self.name);
        Err(Error::input(finding)
            .mend("if it does come in drops, enter a first drop_g in pigments.csv, such as 0.03, and weigh them again"))
    }

    /// Whether it is a white: from 430 nm on it scatters at least twenty times what it absorbs.
    pub fn is_white(&self) -> bool {
        let Coefficients { k, s } = &self.coefficients;
        (5..crate::colour::SAMPLES).all(|band| s[band] >= 20.0 * k[band])
    }
}
