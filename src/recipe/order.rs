//! A part from one target: skin over a backing, or over foam that is tinted first; then paint over that skin.

use std::time::Instant;

use super::budget::{Budget, Bullseye};
use super::pair::Pair;
use super::prediction::Prediction;
use super::question::{Aim, Contrast, CupLimits, Limits, Place, Question};
use super::search::Answer;
use super::whole_number;
use super::{Casting, Doubts};
use crate::colour::{Lab, Light};
use crate::error::{Error, Result};
use crate::materials::{
    Amount, BaseKind, Build, Coat, Colorant, Contact, Cup, Grams, Millimetres, Mix, Pigment,
    Poured, Shelf, Underlay,
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
    /// The tones that paint is tinted to, a cup for each that the target has.
    pub paint_tones: Vec<ToneRole>,
    /// What goes into the skin's cup whatever the search finds, such as weighed fibre. Of a pigment that is dropped here,
    /// the skin gets just these drops, and they count as drops of the cup.
    pub in_the_skin: Mix,
    /// What may be dropped in; every pigment that is dropped where `None`, with let-downs of those whose drop is
    /// too coarse.
    pub colorants: Option<Vec<Colorant>>,
    /// Pigments of which some must be dropped into the skin.
    pub must: Vec<String>,
    /// Pigments that must not be used, where `colorants` doesn't say.
    pub banned: Vec<String>,
    /// The lights to match under, the book's own among them or not; at least one.
    pub lights: Vec<Light>,
    /// ΔE00 up to which the skin passes.
    pub tolerance: f64,
    /// Bounds of the search.
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
    /// Foam, to be tinted to the base tone, or to a lighter one where that gains room for the skin.
    Foam(OrderedCup),
    /// Foam, to be tinted to the base tone whatever that means for the skin.
    FoamAtTheTone(OrderedCup),
    /// Foam as it is already.
    PouredFoam(Poured),
    /// A card or another backing of the shelf.
    Backing {
        /// Its name.
        name: String,
        /// How the skin lies on it.
        contact: Contact,
    },
}

/// The recipes for a part.
#[derive(Clone, Debug, PartialEq)]
pub struct PartRecipe {
    /// The skin, aimed at the base tone.
    pub skin: CupRecipe,
    /// The foam behind it, if one was to be tinted, aimed at the base tone as it is seen bare, or at a lighter one.
    pub foam: Option<CupRecipe>,
    /// The paints over both, each aimed at one of the target's tones; none if not ordered, or the target has no such tone.
    pub paints: Vec<(ToneRole, CupRecipe)>,
    /// The part with the best of each, unpainted.
    pub build: Build,
}

/// The recipes for one cup, and what they give.
#[derive(Clone, Debug, PartialEq)]
pub struct CupRecipe {
    /// The colour aimed at, under the book's viewing.
    pub aim: Lab,
    /// Recipes, the best first; at least one.
    pub choices: Vec<Choice>,
    /// How far each may be from the best of its rank, in ΔE00.
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
    /// Mean ΔE00 from the aims.
    pub delta_e: f64,
    /// The aim and what comes out, under each light that was matched under.
    pub under: Vec<Pair>,
    /// What comes out.
    pub prediction: Prediction,
    /// The chance (0–1) that what comes out lies within the tolerance of the true tone, as far as drops, scale,
    /// thickness, curves, foam, model and target are known.
    pub chance: f64,
    /// CIELAB of a foam before it has risen.
    pub before_rise: Option<Lab>,
    /// Where the spread comes from, and what would narrow it.
    pub budget: Budget,
}

impl CupRecipe {
    /// The recipe to mix.
    pub fn best(&self) -> &Choice {
        &self.choices[0]
    }
}

/// How much lighter than the base tone the foam is made, in L*, until a skin over it passes: it leaves room for
/// pigment in the skin, where the same pigment gives more chroma than in foam. In this project's trials on skin
/// tones of L* 45 to 78, twelve was enough wherever any was.
const FOAM_LIGHTER: [f64; 4] = [0.0, 4.0, 8.0, 12.0];

/// What a lighter foam must gain for the skin, in ΔE00, to be taken: under a skin that hides it, it gains nothing.
const WORTH_A_LIGHTER_FOAM: f64 = 0.05;

/// A cup to be filled: what for, and how.
pub(super) struct Task<'a> {
    cup: &'a OrderedCup,
    /// What is in it whatever the search finds.
    fixed: &'a Mix,
    place: Place,
    aims: Vec<Aim>,
    /// The lights of the aims, in their order.
    lights: Vec<Light>,
    /// The tone aimed at, under the book's viewing.
    aim: Lab,
    colorants: Vec<Colorant>,
    must: &'a [String],
    contrast: Option<(f64, f64)>,
}

impl<'shelf> Order<'shelf> {
    /// Finds the recipes for `target`.
    ///
    /// The foam is tinted to the base tone, as it is seen bare, and the skin over that foam; where no such skin
    /// passes, over a lighter foam.
    ///
    /// # Errors
    /// A target under another viewing than the book's; names that are not on the shelf; a foam or a paint of
    /// another kind; no light, no colorant; a mass or a thickness out of range; what is in the skin's cup already
    /// above its limit.
    pub fn search(&self, target: &Target) -> Result<PartRecipe> {
        self.check(target)?;
        let deadline = self.deadline();
        let (foam, build, skin) = self.skin_over_its_underlay(target, deadline)?;
        Ok(PartRecipe {
            skin,
            foam,
            paints: self.paints(&build, target, deadline)?,
            build,
        })
    }

    /// When to give the best found so far, if now is when the search begins. A moment beyond what the clock can tell never
    /// comes.
    pub(super) fn deadline(&self) -> Option<Instant> {
        (self.limits.time_limit).and_then(|limit| Instant::now().checked_add(limit))
    }

    /// The paints over `build`, for those of the ordered tones that the target has.
    pub(super) fn paints(
        &self,
        build: &Build,
        target: &Target,
        deadline: Option<Instant>,
    ) -> Result<Vec<(ToneRole, CupRecipe)>> {
        let Some((cup, dry)) = &self.paint else {
            return Ok(Vec::new());
        };
        let tones = self.paint_tones.iter();
        let paints = tones.filter_map(|role| target.tone(*role)).map(|tone| {
            let recipe = self.paint(cup, *dry, build, target, tone.lab, deadline)?;
            Ok((tone.role, recipe))
        });
        paints.collect()
    }

    fn check(&self, target: &Target) -> Result<()> {
        let viewing = self.shelf.settings.viewing;
        if target.viewing != viewing {
            let finding = format!(
                "the target is given for {}, this book for {viewing}",
                target.viewing
            );
            return Err(Error::input(finding).mend("read the target again with this book"));
        }
        if self.lights.is_empty() {
            return Err(Error::input("no light to match under").mend("name one, such as D65"));
        }
        if !(self.tolerance >= 0.0 && self.tolerance.is_finite()) {
            let finding = format!("a tolerance of ΔE00 {}", self.tolerance);
            return Err(Error::input(finding).mend("expected a number from 0 up"));
        }
        Ok(())
    }

    fn skin_over_its_underlay(
        &self,
        target: &Target,
        deadline: Option<Instant>,
    ) -> Result<(Option<CupRecipe>, Build, CupRecipe)> {
        let over = |beneath: Underlay, deadline| -> Result<(Build, CupRecipe)> {
            let unfilled = self.unfilled(beneath);
            let skin = self.skin(&unfilled, target, deadline)?;
            Ok((
                Build {
                    skin: skin.best().poured.clone(),
                    ..unfilled
                },
                skin,
            ))
        };
        let (cup, lighter): (_, &[f64]) = match &self.beneath {
            OrderedUnderlay::Foam(cup) => (cup, &FOAM_LIGHTER),
            OrderedUnderlay::FoamAtTheTone(cup) => (cup, &[0.0]),
            OrderedUnderlay::PouredFoam(_) | OrderedUnderlay::Backing { .. } => {
                let (build, skin) = over(self.beneath.untinted(), deadline)?;
                return Ok((None, build, skin));
            }
        };
        let over_foam = |lighter, deadline| -> Result<(CupRecipe, Build, CupRecipe)> {
            let foam = self.foam(cup, target, lighter, deadline)?;
            let beneath = Underlay::Foam(foam.best().poured.clone());
            let (build, skin) = over(beneath, deadline)?;
            Ok((foam, build, skin))
        };
        // How light a foam is wanted good recipes tell as well as proven ones, and much sooner.
        let no_proof = Some(Instant::now());
        let mut best = (f64::INFINITY, 0.0);
        for &lighter in lighter {
            let (.., skin) = over_foam(lighter, no_proof)?;
            let delta_e = skin.best().delta_e;
            if delta_e < best.0 - WORTH_A_LIGHTER_FOAM {
                best = (delta_e, lighter);
            }
            if delta_e <= self.tolerance {
                break;
            }
        }
        let (foam, build, skin) = over_foam(best.1, deadline)?;
        Ok((Some(foam), build, skin))
    }

    /// Foam as light as the base tone and `lighter`, without white pigment: its cells are the white.
    fn foam(
        &self,
        cup: &OrderedCup,
        target: &Target,
        lighter: f64,
        deadline: Option<Instant>,
    ) -> Result<CupRecipe> {
        let mut colorants = self.colorants();
        if self.colorants.is_none() {
            let white = |name: &str| self.shelf.pigment(name).is_ok_and(Pigment::is_white);
            colorants.retain(|colorant| !white(&colorant.pigment));
        }
        let lightened = |lab: Lab| Lab {
            l: (lab.l + lighter).min(100.0),
            ..lab
        };
        let mut aims = self.aims(target);
        aims.iter_mut().for_each(|aim| aim.lab = lightened(aim.lab));
        let task = Task {
            cup,
            fixed: &Mix::default(),
            place: Place::Bed,
            aims,
            lights: self.lights.clone(),
            aim: lightened(target.lab),
            colorants,
            must: &[],
            contrast: None,
        };
        self.fill(task, target, deadline, |poured| {
            Casting::bare_foam(self.shelf, poured)
        })
    }

    fn skin(
        &self,
        unfilled: &Build,
        target: &Target,
        deadline: Option<Instant>,
    ) -> Result<CupRecipe> {
        self.fill(
            self.skin_task(unfilled, target)?,
            target,
            deadline,
            |poured| {
                let build = Build {
                    skin: poured.clone(),
                    ..unfilled.clone()
                };
                Casting::new(self.shelf, &build)
            },
        )
    }

    pub(super) fn skin_task(&self, unfilled: &Build, target: &Target) -> Result<Task<'_>> {
        let mut colorants = self.colorants();
        colorants.retain(|open| {
            (held_drops(&self.in_the_skin)).all(|(held, _)| held.pigment != open.pigment)
        });
        Ok(Task {
            cup: &self.skin,
            fixed: &self.in_the_skin,
            place: Place::Film {
                thickness_mm: self.thickness.0,
                over: Vec::new(),
                beneath: Casting::new(self.shelf, unfilled)?.beneath(),
            },
            aims: self.aims(target),
            lights: self.lights.clone(),
            aim: target.lab,
            colorants,
            must: &self.must,
            contrast: self.limits.contrast_ratio,
        })
    }

    /// Asks `ask` what is asked of the search for the skin: over foam, over untinted foam.
    pub(super) fn with_skin_question<T>(
        &self,
        target: &Target,
        ask: impl FnOnce(&Question<'_>) -> Result<T>,
    ) -> Result<T> {
        self.check(target)?;
        let unfilled = self.unfilled(self.beneath.untinted());
        ask(&self.question(self.skin_task(&unfilled, target)?, None)?)
    }

    /// The skin's recipe over what lies beneath it already.
    ///
    /// # Errors
    /// As [`search`](Self::search).
    pub(super) fn skin_over(&self, target: &Target, beneath: Underlay) -> Result<CupRecipe> {
        self.check(target)?;
        self.skin(&self.unfilled(beneath), target, self.deadline())
    }

    /// The part without its drops.
    pub(super) fn unfilled(&self, beneath: Underlay) -> Build {
        Build {
            skin: self.skin.with(self.in_the_skin.clone()),
            thickness: self.thickness,
            beneath,
            paint: None,
        }
    }

    /// Paint that takes the finished part to `tone`, which is known under the book's light alone.
    fn paint(
        &self,
        cup: &OrderedCup,
        dry_thickness: Millimetres,
        build: &Build,
        target: &Target,
        tone: Lab,
        deadline: Option<Instant>,
    ) -> Result<CupRecipe> {
        let painted = |paint: &Poured| {
            let coat = Coat {
                paint: paint.clone(),
                dry_thickness,
            };
            Casting::new(
                self.shelf,
                &Build {
                    paint: Some(coat),
                    ..build.clone()
                },
            )
        };
        // What can't be painted is refused before the search.
        painted(&cup.with(Mix::default()))?;
        let part = Casting::new(self.shelf, build)?;
        let task = Task {
            cup,
            fixed: &Mix::default(),
            place: Place::Film {
                thickness_mm: dry_thickness.0,
                over: part.layers(),
                beneath: part.beneath(),
            },
            aims: vec![Aim {
                weights: self.shelf.settings.viewing.weights(),
                lab: tone,
            }],
            lights: vec![self.shelf.settings.viewing.illuminant.into()],
            aim: tone,
            colorants: self.colorants(),
            must: &[],
            contrast: None,
        };
        self.fill(task, target, deadline, painted)
    }

    pub(super) fn colorants(&self) -> Vec<Colorant> {
        let dropped =
            self.shelf.pigments.iter().filter(|pigment| {
                pigment.drop_mass.is_some() && !self.banned.contains(&pigment.name)
            });
        self.colorants.clone().unwrap_or_else(|| {
            dropped
                .map(|pigment| Colorant::neat(&pigment.name))
                .collect()
        })
    }

    fn aims(&self, target: &Target) -> Vec<Aim> {
        let viewing = target.viewing;
        let aim = |light: &Light| Aim {
            weights: light.weights(viewing.observer),
            lab: if *light == viewing.illuminant {
                target.lab
            } else {
                target.under(light)
            },
        };
        self.lights.iter().map(aim).collect()
    }

    /// Searches the drops for `task` and tells what comes out of each recipe found.
    fn fill<'a>(
        &'a self,
        task: Task<'_>,
        target: &Target,
        deadline: Option<Instant>,
        cast: impl Fn(&Poured) -> Result<Casting<'a>>,
    ) -> Result<CupRecipe> {
        let (cup, fixed, aim) = (task.cup, task.fixed, task.aim);
        let lights = task.lights.clone();
        let question = self.question(task, deadline)?;
        let Answer {
            recipes,
            gap,
            proven,
        } = question.search()?;
        let weights = self.shelf.settings.viewing.weights();
        let at_home = Aim {
            weights: weights.clone(),
            lab: aim,
        };
        let choices = recipes.into_iter().enumerate().map(|(place, recipe)| {
            let poured = cup.with(recipe.mix(fixed)?);
            let casting = cast(&poured)?;
            let prediction = casting.predict(&weights, Doubts::All);
            let bullseye = Bullseye {
                aim,
                tolerance: self.tolerance,
                target,
            };
            let budget = casting.budget(&prediction, &weights, &bullseye, place == 0);
            let under = lights
                .iter()
                .zip(&question.aims)
                .map(|(light, aim)| Pair::new(light, aim, &at_home, &prediction.reflectance));
            Ok(Choice {
                drops: recipe.drops.into_iter().chain(held_drops(fixed)).collect(),
                delta_e: recipe.delta_e,
                under: under.collect(),
                chance: budget.chance,
                before_rise: casting.bare_before_rise(&weights),
                budget,
                prediction,
                poured,
            })
        });
        let choices = choices.collect::<Result<_>>()?;
        Ok(CupRecipe {
            aim,
            choices,
            gap,
            proven,
        })
    }

    /// What `task` asks of the search.
    pub(super) fn question(
        &self,
        task: Task<'_>,
        deadline: Option<Instant>,
    ) -> Result<Question<'shelf>> {
        let Task {
            cup,
            fixed,
            place,
            aims,
            colorants,
            must,
            contrast,
            ..
        } = task;
        let unfilled = Cup::pour(self.shelf, &cup.with(fixed.clone()))?;
        unfilled.check_loads()?;
        let mut limits = self.limits_of(&unfilled);
        let held: Vec<(Colorant, u32)> = held_drops(fixed).collect();
        let held_in_all = held.iter().map(|(_, count)| count).sum();
        limits.max_total_drops = limits.max_total_drops.saturating_sub(held_in_all);
        limits.max_pigments = limits.max_pigments.saturating_sub(held.len());
        // The cups that follow want their share of the time.
        let deadline = deadline.map(|deadline| {
            let now = Instant::now();
            now + deadline.saturating_duration_since(now) / 2
        });
        Ok(Question {
            shelf: self.shelf,
            cup: unfilled,
            place,
            aims,
            colorants,
            must: must.to_vec(),
            contrast: contrast.map(|window| Contrast {
                window,
                cards: [self.shelf.black_card(), self.shelf.white_card()],
                weights: self.shelf.settings.viewing.weights(),
            }),
            let_downs: self.colorants.is_none(),
            limits,
            deadline,
        })
    }

    /// The bounds of one cup. Those that were not set grow with a cup above that of a usual skin, and with what
    /// a foam will be thinned by.
    fn limits_of(&self, cup: &Cup<'_>) -> CupLimits {
        let expansion = match cup.base.kind {
            BaseKind::Foam(Foam { expansion, .. }) => expansion,
            BaseKind::Skin | BaseKind::Paint { .. } => 1.0,
        };
        let more = (cup.base_mass.0 / USUAL_SKIN_G).max(1.0) * expansion;
        let grown = |count: u32| whole_number((f64::from(count) * more).round());
        CupLimits {
            max_drops: self.limits.max_drops.unwrap_or(grown(Limits::MAX_DROPS)),
            max_total_drops: self
                .limits
                .max_total_drops
                .unwrap_or(grown(Limits::MAX_TOTAL_DROPS)),
            max_pigments: self.limits.max_pigments,
            top: self.limits.top,
            within: self.limits.within,
            threads: self.limits.threads,
            stop: self.limits.stop,
        }
    }
}

/// The drops that are in a cup whatever the search finds.
fn held_drops(fixed: &Mix) -> impl Iterator<Item = (Colorant, u32)> {
    fixed
        .entries()
        .iter()
        .filter_map(|(colorant, amount)| match amount {
            Amount::Drops(count) => Some((colorant.clone(), whole_number(*count))),
            Amount::Mass(_) => None,
        })
}

/// The largest cup of skin for which drops are still counted by hand, g. Common practice, no source.
const USUAL_SKIN_G: f64 = 600.0;

impl OrderedUnderlay {
    /// What lies beneath before the search has tinted anything.
    fn untinted(&self) -> Underlay {
        match self {
            Self::Foam(cup) | Self::FoamAtTheTone(cup) => Underlay::Foam(cup.with(Mix::default())),
            Self::PouredFoam(poured) => Underlay::Foam(poured.clone()),
            Self::Backing { name, contact } => Underlay::Backing {
                name: name.clone(),
                contact: *contact,
            },
        }
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
