//! A casting: the cups it was poured from, how thick, on what; and what an instrument reads of it.

use std::collections::BTreeSet;

use super::makeup::Beneath as Underneath;
use super::{
    BaseKind, Build, Carried, Coat, Contact, Cup, Geometry, Kind, Makeup, Material, Millimetres,
    Poured, Settings, Shelf, Strengths, Swatch, Underlay,
};
use crate::colour::{Lab, Spectrum, Translucency, TristimulusWeights};
use crate::error::Result;
use crate::optics::{Beneath, Foam, Layer, Medium, Surface};

/// A build whose names have been looked up.
#[derive(Clone, Debug)]
pub struct Casting<'shelf> {
    pub(crate) shelf: &'shelf Shelf,
    white_card: Spectrum,
    black_card: Spectrum,
    /// The films, top first.
    pub(crate) films: Vec<CastFilm<'shelf>>,
    pub(crate) underlay: CastUnderlay<'shelf>,
    /// As it is read.
    surface: Surface,
}

/// One film of a casting.
#[derive(Clone, Debug)]
pub(crate) struct CastFilm<'shelf> {
    pub(crate) cup: Cup<'shelf>,
    pub(crate) thickness: Millimetres,
    pub(crate) thickness_sd: Millimetres,
}

#[expect(
    clippy::large_enum_variant,
    reason = "there is one in a casting, and it is not moved about"
)]
#[derive(Clone, Debug)]
pub(crate) enum CastUnderlay<'shelf> {
    Backing(Spectrum, Contact),
    Foam(Cup<'shelf>),
}

/// Relative standard deviation of the thickness of a sprayed coat. Common practice, no source.
const COAT_SD: f64 = 0.25;

impl<'shelf> Casting<'shelf> {
    /// Looks up `build` on `shelf`.
    ///
    /// Loads are not checked here, since what was cast was cast: see [`check_loads`](Self::check_loads).
    ///
    /// # Errors
    /// Names that are not on the shelf, a base of the wrong kind for its place, a mass or a thickness out of
    /// range.
    pub fn new(shelf: &'shelf Shelf, build: &Build) -> Result<Self> {
        let pour = |poured: &Poured| Cup::pour(shelf, poured);
        let skin = pour(&build.skin)?;
        build.check_thicknesses(skin.base.kind.kind())?;
        let mut films = Vec::with_capacity(2);
        if let Some(coat) = &build.paint {
            films.push(CastFilm::coat(shelf, coat)?);
        }
        films.push(match skin.base.kind {
            BaseKind::Paint { .. } => CastFilm::sprayed(skin, build.thickness),
            BaseKind::Skin | BaseKind::Foam(_) => CastFilm {
                cup: skin,
                thickness: build.thickness,
                thickness_sd: shelf.settings.thickness_sd,
            },
        });
        let underlay = match &build.beneath {
            Underlay::Foam(poured) => foam(pour(poured)?)?,
            Underlay::Backing { name, contact } => {
                CastUnderlay::Backing(shelf.backing(name)?.reflectance, *contact)
            }
        };
        Ok(Self::of(shelf, films, underlay))
    }

    /// What `swatch` was cast as, read as it was.
    ///
    /// # Errors
    /// As [`new`](Self::new), with the swatch's name.
    pub fn of_swatch(shelf: &'shelf Shelf, swatch: &Swatch) -> Result<Self> {
        let casting = Self::new(shelf, &swatch.build)
            .map_err(|error| error.within(format_args!("swatch `{}`", swatch.id)))?;
        Ok(casting.read_by(swatch.geometry))
    }

    /// The casting under an instrument of this geometry; the book's where it does not say.
    #[must_use]
    pub fn read_by(mut self, geometry: Geometry) -> Self {
        if let Some(specular) = geometry.specular {
            self.surface = self.surface.read_with(specular);
        }
        self
    }

    /// Paint alone, `coat` of it, on the white card: where a spray is tried first.
    ///
    /// # Errors
    /// As [`new`](Self::new).
    pub fn sprayed_card(shelf: &'shelf Shelf, coat: &Coat) -> Result<Self> {
        coat.check_thickness()?;
        let film = CastFilm::coat(shelf, coat)?;
        let card = CastUnderlay::Backing(shelf.white_card(), Contact::Bonded);
        Ok(Self::of(shelf, vec![film], card))
    }

    /// Foam alone, too thick to see through.
    ///
    /// # Errors
    /// As [`new`](Self::new).
    pub fn bare_foam(shelf: &'shelf Shelf, poured: &Poured) -> Result<Self> {
        Ok(Self::of(
            shelf,
            Vec::new(),
            foam(Cup::pour(shelf, poured)?)?,
        ))
    }

    fn of(
        shelf: &'shelf Shelf,
        films: Vec<CastFilm<'shelf>>,
        underlay: CastUnderlay<'shelf>,
    ) -> Self {
        let (white_card, black_card) = (shelf.white_card(), shelf.black_card());
        Self {
            shelf,
            white_card,
            black_card,
            films,
            underlay,
            surface: shelf.settings.surface,
        }
    }

    /// Refuses a casting of which a cup holds more of a pigment than cures well.
    ///
    /// # Errors
    /// The first pigment above its largest fraction.
    pub fn check_loads(&self) -> Result<()> {
        self.cups().try_for_each(Cup::check_loads)
    }

    /// CIELAB of bare foam before it has risen, in a cup as deep: the dark colour that nobody should panic at.
    /// `None` for a casting that is more than bare foam.
    pub fn bare_before_rise(&self, weights: &TristimulusWeights) -> Option<Lab> {
        match (&self.underlay, self.films.as_slice()) {
            (CastUnderlay::Foam(cup), []) => {
                let liquid = Beneath::Bed(Medium::solid(cup.before_rise()));
                let model = self.shelf.settings.model;
                Some(weights.lab(&model.reading(&[], &liquid, &self.surface)))
            }
            _ => None,
        }
    }

    /// The films as optics takes them, top first.
    pub fn layers(&self) -> Vec<Layer> {
        let layer = |film: &CastFilm<'_>| Layer {
            medium: film.cup.medium(),
            thickness_mm: film.thickness.0,
        };
        self.films.iter().map(layer).collect()
    }

    /// What lies under the films.
    pub fn beneath(&self) -> Beneath {
        match &self.underlay {
            CastUnderlay::Backing(card, Contact::Bonded) => Beneath::Backing(*card),
            CastUnderlay::Backing(card, Contact::Dry) => Beneath::Laid(*card),
            CastUnderlay::Foam(cup) => Beneath::Bed(cup.medium()),
        }
    }

    /// Standard deviations of L*, a* and b* that are the layer model's own.
    pub fn model_spread(&self) -> [f64; 3] {
        let model = self.shelf.settings.model;
        model.own_spread(&self.layers(), &self.beneath())
    }

    /// Its surface, as it is read.
    pub fn surface(&self) -> Surface {
        self.surface
    }

    /// What the instrument reads of it, 0–1: the book's, or that of [`read_by`](Self::read_by). What castings like it have shown
    /// the physics to miss is in it.
    pub fn reading(&self) -> Spectrum {
        let physics = self.by_physics();
        let left_over = self.shelf.left_over.as_deref();
        let told = left_over.and_then(|left| Some((left, self.makeup(left.strengths())?)));
        told.map_or(physics, |(left, makeup)| left.added_to(&physics, &makeup))
    }

    /// What castings like it have shown the physics to miss; `None` where nothing tells.
    pub fn carried(&self) -> Option<Carried> {
        let left_over = self.shelf.left_over.as_deref()?;
        left_over.carried(&self.makeup(left_over.strengths())?)
    }

    /// The reading as the curves and the layer model have it, and nothing else.
    pub(crate) fn by_physics(&self) -> Spectrum {
        let model = self.shelf.settings.model;
        model.reading(&self.layers(), &self.beneath(), &self.surface)
    }

    /// What its upper layer is made of, and what that lies on; `None` of a base that is not among those of `strengths`.
    pub(crate) fn makeup(&self, strengths: &Strengths) -> Option<Makeup> {
        let cup = self.cups().next()?;
        let over = self.films.first().map(|film| {
            let (reflectance, is_dry) = match (&self.underlay, self.films.len()) {
                (CastUnderlay::Backing(card, contact), 1) => (*card, *contact == Contact::Dry),
                _ => {
                    let under = self.layers().split_off(1);
                    let model = self.shelf.settings.model;
                    let reading = model.reading(&under, &self.beneath(), &self.surface);
                    (reading, false)
                }
            };
            let lab = strengths.colour(&reflectance);
            (film.thickness, Underneath { lab, is_dry })
        });
        let (clear, shares) = cup.staying_shares();
        let dispersions = cup.portions.iter().map(|portion| &*portion.pigment);
        let dispersions = dispersions.zip(shares);
        Makeup::new(strengths, &cup.base, clear, dispersions, over)
    }

    /// What it shows of black and white, over this book's cards in place of what lies beneath it.
    pub fn translucency(&self, weights: &TristimulusWeights) -> Translucency {
        if self.films.is_empty() {
            return Translucency::OPAQUE;
        }
        let Settings { model, .. } = &self.shelf.settings;
        let layers = self.layers();
        let [black, white] = [self.black_card, self.white_card].map(|card| {
            weights.lab(&model.reading(&layers, &Beneath::Backing(card), &self.surface))
        });
        Translucency::of(black, white, weights)
    }

    /// The pigments in it, each once.
    pub(crate) fn pigments(&self) -> BTreeSet<String> {
        let portions = self.cups().flat_map(|cup| &cup.portions);
        portions
            .map(|portion| portion.pigment.name.clone())
            .collect()
    }

    /// The materials in it, each once.
    pub(crate) fn materials(&self) -> BTreeSet<Material> {
        let bases = self.cups().map(|cup| Material::Base(cup.base.name.clone()));
        bases
            .chain(self.pigments().into_iter().map(Material::Pigment))
            .collect()
    }

    /// What the curves of `material`, which is in it, are made of: itself, or the ingredients of a stock.
    pub(crate) fn curves_of(&self, material: &Material) -> Vec<Material> {
        let mut portions = self.cups().flat_map(|cup| &cup.portions);
        let stock = portions.find(|portion| {
            let is_it =
                matches!(material, Material::Pigment(name) if *name == portion.pigment.name);
            is_it && !portion.pigment.curves_of().is_empty()
        });
        stock.map_or_else(
            || vec![material.clone()],
            |stock| {
                let made_of = stock.pigment.curves_of().iter();
                made_of
                    .map(|each| Material::Pigment(each.pigment.name.clone()))
                    .collect()
            },
        )
    }

    /// The foam in it, if there is any, by its name.
    pub(crate) fn foam(&self) -> Option<(String, Foam)> {
        self.cups().find_map(|cup| match cup.base.kind {
            BaseKind::Foam(foam) => Some((cup.base.name.clone(), foam)),
            BaseKind::Skin | BaseKind::Paint { .. } => None,
        })
    }

    pub(crate) fn cups(&self) -> impl Iterator<Item = &Cup<'shelf>> {
        let foam = match &self.underlay {
            CastUnderlay::Foam(cup) => Some(cup),
            CastUnderlay::Backing(..) => None,
        };
        self.films.iter().map(|film| &film.cup).chain(foam)
    }

    pub(crate) fn cups_mut(&mut self) -> impl Iterator<Item = &mut Cup<'shelf>> {
        let foam = match &mut self.underlay {
            CastUnderlay::Foam(cup) => Some(cup),
            CastUnderlay::Backing(..) => None,
        };
        self.films.iter_mut().map(|film| &mut film.cup).chain(foam)
    }
}

impl<'shelf> CastFilm<'shelf> {
    /// Whether it is a coat of paint.
    pub(crate) fn is_sprayed(&self) -> bool {
        matches!(self.cup.base.kind, BaseKind::Paint { .. })
    }

    /// Paint, dried.
    fn coat(shelf: &'shelf Shelf, coat: &Coat) -> Result<Self> {
        let cup = Cup::pour(shelf, &coat.paint)?;
        if !matches!(cup.base.kind, BaseKind::Paint { .. }) {
            return Err(cup.base.not_a(Kind::Paint));
        }
        Ok(Self::sprayed(cup, coat.dry_thickness))
    }

    fn sprayed(cup: Cup<'shelf>, dry_thickness: Millimetres) -> Self {
        Self {
            cup,
            thickness: dry_thickness,
            thickness_sd: Millimetres(COAT_SD * dry_thickness.0),
        }
    }
}

fn foam(cup: Cup<'_>) -> Result<CastUnderlay<'_>> {
    match cup.base.kind {
        BaseKind::Foam(_) => Ok(CastUnderlay::Foam(cup)),
        BaseKind::Skin | BaseKind::Paint { .. } => Err(cup.base.not_a(Kind::Foam)),
    }
}
