//! A whole part from one target: foam first, then skin over that foam, then paint over that skin.

use super::candidate::whole_number;
use super::casting::{Casting, Doubts, Prediction};
use super::question::{Aim, Limits, Place, Question};
use super::search::Answer;
use super::tolerance::tolerance;
use crate::colour::{Illuminant, Lab};
use crate::error::{Error, Result};
use crate::materials::{
    BaseKind, Build, Coat, Colorant, Contact, Cup, Grams, Millimetres, Mix, Pigment, Poured, Shelf,
    Underlay,
};
use crate::optics::Foam;
use crate::target::{Target, ToneRole};

/// What a maker asks for: which bases, how much of each, and what for.
#[derive(Clone, Debug)]
pub struct Order<'shelf> {
    /// Where names are looked up, and how colours are read.
    pub shelf: &'shelf Shelf,
    /// The skin.
    pub skin: OrderedCup,
    /// The skin's thickness.
    pub thickness: Millimetres,
    /// What the skin lies on.
    pub beneath: OrderedUnderlay,
    /// Paint over all, and how thick its coats dry together.
    pub paint: Option<(OrderedCup, Millimetres)>,
    /// What goes into the skin's cup whatever the search finds, such as weighed fibre.
    pub in_the_skin: Mix,
    /// What may be dropped in; every pigment that is dropped where `None`, with let-downs of those whose drop is
    /// too coarse.
    pub colorants: Option<Vec<Colorant>>,
    /// The lights to match under, the book's own among them or not; at least one.
    pub lights: Vec<Illuminant>,
    /// Bounds of each cup's search.
    pub limits: Limits,
}

/// A base, and how much of it is mixed.
#[derive(Clone, Debug, PartialEq)]
pub struct OrderedCup {
    /// Name of the base.
    pub base: String,
    /// Mass of the mixed base before pigment.
    pub base_mass: Grams,
}

/// What the skin lies on.
#[derive(Clone, Debug, PartialEq)]
pub enum OrderedUnderlay {
    /// Foam, to be tinted.
    Foam(OrderedCup),
    /// A card or another backing of the shelf.
    Backing {
        /// Its name.
        name: String,
        /// How the skin lies on it.
        contact: Contact,
    },
}

/// The recipes for a whole part.
#[derive(Clone, Debug, PartialEq)]
pub struct WholeRecipe {
    /// The foam, if ordered, aimed at the base tone as it is seen bare, or at a lighter one.
    pub foam: Option<CupRecipe>,
    /// The skin over it, aimed at the base tone.
    pub skin: CupRecipe,
    /// The paint over both, aimed at the flush tone; `None` if not ordered, or the target has no flush.
    pub paint: Option<CupRecipe>,
    /// The part with the best of each, unpainted.
    pub build: Build,
    /// The same with its paint, if there is any.
    pub painted: Option<Build>,
}

/// The recipes for one cup, and what they give.
#[derive(Clone, Debug, PartialEq)]
pub struct CupRecipe {
    /// The colour aimed at, under the book's viewing.
    pub aim: Lab,
    /// Recipes, the best first; at least one.
    pub choices: Vec<Choice>,
    /// How far the best may be from the best there is, in ΔE00.
    pub gap: f64,
    /// Whether that gap is at most what was asked for.
    pub proven: bool,
}

/// One recipe for a cup.
#[derive(Clone, Debug, PartialEq)]
pub struct Choice {
    /// What goes into the cup.
    pub poured: Poured,
    /// Its drops, none of them zero.
    pub drops: Vec<(Colorant, u32)>,
    /// Mean ΔE00 from the aim under the lights asked for.
    pub delta_e: f64,
    /// What comes out.
    pub prediction: Prediction,
    /// CIELAB of a foam before it has risen.
    pub before_rise: Option<Lab>,
}

impl CupRecipe {
    /// The recipe to mix.
    pub fn best(&self) -> &Choice {
        &self.choices[0]
    }
}

/// How much lighter than the base tone the foam is made, in L*, until a skin over it passes: it leaves room for
/// pigment in the skin, where the same pigment gives more chroma than in foam.
const FOAM_LIGHTER: [f64; 4] = [0.0, 4.0, 8.0, 12.0];

impl Order<'_> {
    /// Finds the recipes for `target`.
    ///
    /// The foam is tinted to the base tone, as it is seen bare, and the skin over that foam; where no such skin
    /// passes, over a lighter foam.
    ///
    /// # Errors
    /// A target under another viewing than the book's; names that are not on the shelf; a base of the wrong
    /// kind; what is in the skin's cup already above its limit.
    pub fn search(&self, target: &Target) -> Result<WholeRecipe> {
        let viewing = self.shelf.settings.viewing;
        if target.viewing != viewing {
            let finding = format!(
                "the target is given for {}, this book for {viewing}",
                target.viewing
            );
            return Err(Error::input(finding).mend("read the target again with this book"));
        }
        let (foam, build, skin) = self.skin_over_its_underlay(target)?;
        let flush = target.tone(ToneRole::Flush).map(|tone| tone.lab);
        let (paint, painted) = match (&self.paint, flush) {
            (Some((cup, dry_thickness)), Some(flush)) => {
                let paint = self.paint(cup, *dry_thickness, &build, flush)?;
                let coat = Coat {
                    paint: paint.best().poured.clone(),
                    dry_thickness: *dry_thickness,
                };
                (
                    Some(paint),
                    Some(Build {
                        paint: Some(coat),
                        ..build.clone()
                    }),
                )
            }
            _ => (None, None),
        };
        Ok(WholeRecipe {
            foam,
            skin,
            paint,
            build,
            painted,
        })
    }

    fn skin_over_its_underlay(
        &self,
        target: &Target,
    ) -> Result<(Option<CupRecipe>, Build, CupRecipe)> {
        let over = |beneath: Underlay| -> Result<(Build, CupRecipe)> {
            let unfilled = Build {
                skin: self.skin.with(self.in_the_skin.clone()),
                thickness: self.thickness,
                beneath,
                paint: None,
            };
            let skin = self.skin(&unfilled, target)?;
            Ok((
                Build {
                    skin: skin.best().poured.clone(),
                    ..unfilled
                },
                skin,
            ))
        };
        let cup = match &self.beneath {
            OrderedUnderlay::Foam(cup) => cup,
            OrderedUnderlay::Backing { name, contact } => {
                let (build, skin) = over(Underlay::Backing {
                    name: name.clone(),
                    contact: *contact,
                })?;
                return Ok((None, build, skin));
            }
        };
        let mut best: Option<(CupRecipe, Build, CupRecipe)> = None;
        for lighter in FOAM_LIGHTER {
            let foam = self.foam(cup, target, lighter)?;
            let (build, skin) = over(Underlay::Foam(foam.best().poured.clone()))?;
            let passes = skin.best().delta_e <= tolerance(target.lab);
            if best
                .as_ref()
                .is_none_or(|(.., best)| skin.best().delta_e < best.best().delta_e)
            {
                best = Some((foam, build, skin));
            }
            if passes {
                break;
            }
        }
        best.map(|(foam, build, skin)| (Some(foam), build, skin))
            .ok_or_else(|| Error::out_of_reach("no foam gives a skin a colour"))
    }

    /// Foam as light as the base tone and `lighter`, without white pigment: its cells are the white. As it
    /// rises it takes as many times the drops of a skin.
    fn foam(&self, cup: &OrderedCup, target: &Target, lighter: f64) -> Result<CupRecipe> {
        let base = self.shelf.base(&cup.base)?;
        let BaseKind::Foam(Foam { expansion, .. }) = base.kind else {
            return Err(base.not_a("foam"));
        };
        let mut colorants = self.colorants();
        if self.colorants.is_none() {
            let white = |name: &str| self.shelf.pigment(name).is_ok_and(Pigment::is_white);
            colorants.retain(|colorant| !white(&colorant.pigment));
        }
        let mut aims = self.aims(target);
        for aim in &mut aims {
            aim.lab.l = (aim.lab.l + lighter).min(100.0);
        }
        let risen = |drops: u32| whole_number(f64::from(drops) * expansion);
        let limits = Limits {
            max_drops: risen(self.limits.max_drops),
            max_total_drops: risen(self.limits.max_total_drops),
            ..self.limits
        };
        let seen = Lab {
            l: (target.lab.l + lighter).min(100.0),
            ..target.lab
        };
        let answer = self.ask(cup, &Mix::default(), Place::Thick, colorants, aims, limits)?;
        self.recipe(cup, &Mix::default(), seen, answer, |poured| {
            Casting::bare_foam(self.shelf, poured)
        })
    }

    fn skin(&self, unfilled: &Build, target: &Target) -> Result<CupRecipe> {
        let place = Place::Film {
            thickness_mm: self.thickness.0,
            beneath: Vec::new(),
            backing: Casting::new(self.shelf, unfilled)?.backing(),
        };
        let (fixed, aims) = (&self.in_the_skin, self.aims(target));
        let answer = self.ask(
            &self.skin,
            fixed,
            place,
            self.colorants(),
            aims,
            self.limits,
        )?;
        self.recipe(&self.skin, fixed, target.lab, answer, |poured| {
            Casting::new(
                self.shelf,
                &Build {
                    skin: poured.clone(),
                    ..unfilled.clone()
                },
            )
        })
    }

    /// Paint that takes the finished part to the flush tone, which is known under the book's light alone.
    fn paint(
        &self,
        cup: &OrderedCup,
        dry_thickness: Millimetres,
        build: &Build,
        flush: Lab,
    ) -> Result<CupRecipe> {
        let painted = |paint: &Poured| {
            let coat = Coat {
                paint: paint.clone(),
                dry_thickness,
            };
            let build = Build {
                paint: Some(coat),
                ..build.clone()
            };
            Casting::new(self.shelf, &build)
        };
        // What can't be painted is refused before the search.
        painted(&cup.with(Mix::default()))?;
        let part = Casting::new(self.shelf, build)?;
        let place = Place::Film {
            thickness_mm: dry_thickness.0,
            beneath: part.layers(),
            backing: part.backing(),
        };
        let aims = vec![Aim {
            weights: self.shelf.settings.viewing.weights(),
            lab: flush,
        }];
        let answer = self.ask(
            cup,
            &Mix::default(),
            place,
            self.colorants(),
            aims,
            self.limits,
        )?;
        self.recipe(cup, &Mix::default(), flush, answer, painted)
    }

    fn colorants(&self) -> Vec<Colorant> {
        let dropped = self
            .shelf
            .pigments
            .iter()
            .filter(|pigment| pigment.drop_mass.is_some());
        self.colorants.clone().unwrap_or_else(|| {
            dropped
                .map(|pigment| Colorant::neat(&pigment.name))
                .collect()
        })
    }

    fn aims(&self, target: &Target) -> Vec<Aim> {
        let viewing = target.viewing;
        let aim = |light: &Illuminant| Aim {
            weights: viewing.under(*light).weights(),
            lab: if *light == viewing.illuminant {
                target.lab
            } else {
                target.under(*light)
            },
        };
        self.lights.iter().map(aim).collect()
    }

    fn ask(
        &self,
        cup: &OrderedCup,
        fixed: &Mix,
        place: Place,
        colorants: Vec<Colorant>,
        aims: Vec<Aim>,
        limits: Limits,
    ) -> Result<Answer> {
        let unfilled = Cup::pour(self.shelf, &cup.base, cup.base_mass, fixed)?;
        let question = Question {
            shelf: self.shelf,
            base: unfilled.base,
            base_mass: cup.base_mass,
            fixed: unfilled.portions,
            place,
            aims,
            colorants,
            let_downs: self.colorants.is_none(),
            limits,
        };
        question.search()
    }

    fn recipe<'a>(
        &'a self,
        cup: &OrderedCup,
        fixed: &Mix,
        aim: Lab,
        answer: Answer,
        cast: impl Fn(&Poured) -> Result<Casting<'a>>,
    ) -> Result<CupRecipe> {
        let weights = self.shelf.settings.viewing.weights();
        let choices = answer.recipes.into_iter().map(|recipe| {
            let poured = cup.with(recipe.mix(fixed)?);
            let casting = cast(&poured)?;
            Ok(Choice {
                drops: recipe.drops,
                delta_e: recipe.delta_e,
                prediction: casting.predict(&weights, Doubts::All),
                before_rise: casting.bare_before_rise(&weights),
                poured,
            })
        });
        let choices = choices.collect::<Result<_>>()?;
        Ok(CupRecipe {
            aim,
            choices,
            gap: answer.gap,
            proven: answer.proven,
        })
    }
}

impl OrderedCup {
    fn with(&self, mix: Mix) -> Poured {
        Poured {
            base: self.base.clone(),
            base_mass: self.base_mass,
            mix,
        }
    }
}
