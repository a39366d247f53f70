//! The colour of a casting, and how sure it is.

use crate::colour::{Illuminant, Lab, Spectrum, TristimulusWeights};
use crate::error::Result;
use crate::materials::{
    Amount, BaseKind, Belief, Build, Contact, Cup, Grams, Portion, Poured, Settings, Shelf,
    Underlay, best_known,
};
use crate::optics::Layer;

/// A build whose names have been looked up: cups, thicknesses, and what lies beneath.
#[derive(Clone, Debug)]
pub struct Casting<'shelf> {
    shelf: &'shelf Shelf,
    films: Vec<CastFilm<'shelf>>,
    beneath: Beneath<'shelf>,
}

/// One film of a casting.
#[derive(Clone, Debug)]
struct CastFilm<'shelf> {
    cup: Cup<'shelf>,
    thickness_mm: f64,
    thickness_sd_mm: f64,
}

#[expect(
    clippy::large_enum_variant,
    reason = "there is one in a casting, and it is not moved about"
)]
#[derive(Clone, Debug)]
enum Beneath<'shelf> {
    Backing(Spectrum),
    Foam(Cup<'shelf>),
}

/// What comes out of the mould, by the model.
#[derive(Clone, Debug, PartialEq)]
pub struct Prediction {
    /// Reflectance as the book's instrument would read it, 0–1.
    pub reflectance: Spectrum,
    /// CIELAB under the book's viewing.
    pub lab: Lab,
    /// Standard deviations of L*, a* and b*.
    pub spread: [f64; 3],
    /// Y over the black card by Y over the white card, 0–1; 1 hides all.
    pub contrast_ratio: f64,
}

/// Which doubts the spread of a prediction holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Doubts {
    /// What the book does not know of its materials, and what hands do: drops, weighing, thickness.
    All,
    /// What the book does not know of its materials.
    Calibration,
}

/// Relative standard deviation of a drop's mean mass, on top of the scatter from drop to drop: the bottle is
/// fuller, warmer or held otherwise than when its drops were weighed. Common practice, no source.
const DROP_MASS_SD: f64 = 0.05;

impl<'shelf> Casting<'shelf> {
    /// Looks up `build` on `shelf`.
    ///
    /// # Errors
    /// Names that are not on the shelf, a base of the wrong kind for its place, a load above its limit, a mass
    /// or a thickness out of range.
    pub fn new(shelf: &'shelf Shelf, build: &Build) -> Result<Self> {
        build.check_thicknesses()?;
        let pour = |poured: &Poured| Cup::pour(shelf, &poured.base, poured.base_mass, &poured.mix);
        let mut films = Vec::with_capacity(2);
        if let Some(coat) = &build.paint {
            let cup = pour(&coat.paint)?;
            if !matches!(cup.base.kind, BaseKind::Paint { .. }) {
                return Err(cup.base.not_a("paint"));
            }
            let dry = coat.dry_thickness.0;
            films.push(CastFilm {
                cup,
                thickness_mm: dry,
                thickness_sd_mm: COAT_SD * dry,
            });
        }
        films.push(CastFilm {
            cup: pour(&build.skin)?,
            thickness_mm: build.thickness.0,
            thickness_sd_mm: shelf.settings.thickness_sd.0,
        });
        let beneath = match &build.beneath {
            Underlay::Foam(poured) => foamed(pour(poured)?)?,
            Underlay::Backing { name, contact } => {
                let card = shelf.backing(name)?.reflectance;
                Beneath::Backing(match contact {
                    Contact::Bonded => card,
                    Contact::Dry => card.map(|r| shelf.settings.surface.over_air_gap(r)),
                })
            }
        };
        Ok(Self {
            shelf,
            films,
            beneath,
        })
    }

    /// Foam alone, too thick to see through.
    ///
    /// # Errors
    /// As [`new`](Self::new).
    pub fn bare_foam(shelf: &'shelf Shelf, poured: &Poured) -> Result<Self> {
        let cup = Cup::pour(shelf, &poured.base, poured.base_mass, &poured.mix)?;
        Ok(Self {
            shelf,
            films: Vec::new(),
            beneath: foamed(cup)?,
        })
    }

    /// Predicts the reading of the casting; `weights` are those of the book's viewing.
    pub fn predict(&self, weights: &TristimulusWeights, doubts: Doubts) -> Prediction {
        let reflectance = self.reading(&best_known);
        let lab = weights.lab(&reflectance);
        let spread = self.spread(lab, weights, doubts);
        Prediction {
            reflectance,
            lab,
            spread,
            contrast_ratio: self.contrast_ratio(weights),
        }
    }

    /// CIELAB of bare foam before it has risen, in a cup as deep: the dark colour that nobody should panic at.
    /// `None` for a casting that is more than bare foam.
    pub fn bare_before_rise(&self, weights: &TristimulusWeights) -> Option<Lab> {
        match (&self.beneath, self.films.as_slice()) {
            (Beneath::Foam(cup), []) => {
                let Settings { surface, .. } = &self.shelf.settings;
                let model = self.shelf.settings.model();
                let liquid = model.thick(&cup.before_rise());
                Some(weights.lab(&model.reading(&[], &liquid, surface)))
            }
            _ => None,
        }
    }

    /// The diffuse reflectance of what lies under the films, met from within.
    pub fn backing(&self) -> Spectrum {
        self.backing_with(&best_known)
    }

    /// The films, top first.
    pub fn layers(&self) -> Vec<Layer> {
        self.layers_with(&best_known)
    }

    fn layers_with(&self, belief: Belief<'_>) -> Vec<Layer> {
        let layer = |film: &CastFilm<'_>| Layer {
            coefficients: film.cup.coefficients_with(belief),
            thickness_mm: film.thickness_mm,
        };
        self.films.iter().map(layer).collect()
    }

    fn backing_with(&self, belief: Belief<'_>) -> Spectrum {
        match &self.beneath {
            Beneath::Backing(reflectance) => *reflectance,
            Beneath::Foam(cup) => self
                .shelf
                .settings
                .model()
                .thick(&cup.coefficients_with(belief)),
        }
    }

    fn reading(&self, belief: Belief<'_>) -> Spectrum {
        let Settings { surface, .. } = &self.shelf.settings;
        self.shelf.settings.model().reading(
            &self.layers_with(belief),
            &self.backing_with(belief),
            surface,
        )
    }

    /// Y over the black card by Y over the white card.
    ///
    /// Source: the definition of the contrast ratio in ISO 6504-3:2019, over this book's cards.
    fn contrast_ratio(&self, weights: &TristimulusWeights) -> f64 {
        if self.films.is_empty() {
            return 1.0;
        }
        let layers = self.layers();
        let luminance = |card: &Spectrum| {
            weights
                .xyz(&self.shelf.settings.model().reading(
                    &layers,
                    card,
                    &self.shelf.settings.surface,
                ))
                .y
        };
        luminance(&self.shelf.black_card()) / luminance(&self.shelf.white_card())
    }

    /// Standard deviations of L*, a*, b*, to first order: each doubt in turn moves the colour by its own
    /// standard deviation, and the moves add in quadrature.
    fn spread(&self, lab: Lab, weights: &TristimulusWeights, doubts: Doubts) -> [f64; 3] {
        let mut variance = [0.0; 3];
        let mut doubt = |reflectance: Spectrum| {
            let moved = weights.lab(&reflectance);
            for (sum, step) in
                variance
                    .iter_mut()
                    .zip([moved.l - lab.l, moved.a - lab.a, moved.b - lab.b])
            {
                *sum += step * step;
            }
        };
        for material in self.materials() {
            for (k_sds, s_sds) in [(1.0, 0.0), (0.0, 1.0)] {
                doubt(self.reading(&|name, coefficients, spread| {
                    if name == material {
                        spread.shift(coefficients, k_sds, s_sds)
                    } else {
                        *coefficients
                    }
                }));
            }
        }
        if doubts == Doubts::All {
            for slip in self.slips() {
                doubt(slip.reading(&best_known));
            }
        }
        variance.map(f64::sqrt)
    }

    /// The castings that come out when, of all that hands do, one thing at a time is off by one standard
    /// deviation.
    fn slips(&self) -> Vec<Self> {
        let mut slips = Vec::new();
        let portions: Vec<usize> = self.cups().map(|cup| cup.portions.len()).collect();
        for (cup, count) in portions.into_iter().enumerate() {
            for portion in 0..count {
                let mut slip = self.clone();
                let portion = &mut slip.cups_mut().swap_remove(cup).portions[portion];
                portion.mass = portion.mass + mass_sd(portion, &self.shelf.settings);
                slips.push(slip);
            }
        }
        for film in 0..self.films.len() {
            let mut slip = self.clone();
            slip.films[film].thickness_mm += self.films[film].thickness_sd_mm;
            slips.push(slip);
        }
        slips
    }

    fn cups(&self) -> impl Iterator<Item = &Cup<'shelf>> {
        let foam = match &self.beneath {
            Beneath::Foam(cup) => Some(cup),
            Beneath::Backing(_) => None,
        };
        self.films.iter().map(|film| &film.cup).chain(foam)
    }

    fn cups_mut(&mut self) -> Vec<&mut Cup<'shelf>> {
        let foam = match &mut self.beneath {
            Beneath::Foam(cup) => Some(cup),
            Beneath::Backing(_) => None,
        };
        self.films
            .iter_mut()
            .map(|film| &mut film.cup)
            .chain(foam)
            .collect()
    }

    /// Names of every base and pigment in it, once each.
    fn materials(&self) -> Vec<&'shelf str> {
        let mut names: Vec<&str> = self
            .cups()
            .flat_map(|cup| {
                let pigments = cup
                    .portions
                    .iter()
                    .map(|portion| portion.pigment.name.as_str());
                std::iter::once(cup.base.name.as_str()).chain(pigments)
            })
            .collect();
        names.sort_unstable();
        names.dedup();
        names
    }
}

/// Relative standard deviation of the thickness of a sprayed coat. Common practice, no source.
const COAT_SD: f64 = 0.25;

/// Standard deviation of the mass of one portion.
fn mass_sd(portion: &Portion<'_>, settings: &Settings) -> Grams {
    match portion.amount {
        Amount::Drops(0.0) => Grams(0.0),
        Amount::Drops(count) => {
            portion.mass * (settings.drop_sd.powi(2) / count + DROP_MASS_SD.powi(2)).sqrt()
        }
        // A scale that shows steps of d rounds with a standard deviation of d / √12.
        Amount::Mass(_) => settings.scale_resolution * (1.0 / 12.0_f64.sqrt()),
    }
}

fn foamed(cup: Cup<'_>) -> Result<Beneath<'_>> {
    match cup.base.kind {
        BaseKind::Foam(_) => Ok(Beneath::Foam(cup)),
        BaseKind::Skin | BaseKind::Paint { .. } => Err(cup.base.not_a("foam")),
    }
}

impl Prediction {
    /// CIELAB of the casting under another light, for the same observer.
    pub fn under(&self, weights: &TristimulusWeights, light: Illuminant) -> Lab {
        weights
            .viewing()
            .under(light)
            .weights()
            .lab(&self.reflectance)
    }
}
