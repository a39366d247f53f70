//! One cup of a part: what is asked of the search for it, and what comes out of each recipe found.

use std::cell::{OnceCell, RefCell};
use std::collections::HashSet;
use std::time::Instant;

use super::goal::{Found, Goal};
use super::held::search_held;
use super::order::{Order, OrderedCup};
use super::part::CupRecipe;
use crate::colour::Lab;
use crate::error::Result;
use crate::forecast::Doubts;
use crate::materials::Casting;
use crate::materials::whole_number;
use crate::materials::{
    Amount, BaseKind, Build, Colorant, Cup, Grams, Millimetres, Mix, Poured, Underlay,
};
use crate::optics::Foam;
use crate::search::{Answer, Recipe};
use crate::search::{Contrast, CupLimits, Limits, Look, Placement, Question};
use crate::tone::Target;

/// A cup to be filled: what for, and how.
pub(super) struct Task<'a> {
    cup: &'a OrderedCup,
    /// What is in it whatever the search finds.
    fixed: &'a Mix,
    placement: Placement,
    goal: Goal,
    colorants: Vec<Colorant>,
    must: &'a [String],
    contrast: Option<(f64, f64)>,
    /// Let-downs in its base that an earlier cup of the part asks for.
    opened: Vec<Colorant>,
    /// Whether a cup without any drop is no answer.
    is_tinted: bool,
    /// How near is near enough.
    near_enough: NearEnough,
}

/// How near to its aim a cup must come.
#[derive(Clone, Copy)]
enum NearEnough {
    /// As near as can be seen and known.
    AsFarAsIsKnown,
    /// To within tolerance, where any recipe is: what lies over it makes up for the rest.
    WithinTolerance,
}

/// What the recipe to mix may be farther from its aim than the nearest, at least, ΔE00: it is not seen.
pub(super) const NOT_SEEN: f64 = 0.1;

/// And by this share of what is in doubt: with what adds in squares, the expected miss grows by 5 %.
const OF_THE_DOUBT: f64 = 0.32;

/// But by no more than this share of the tolerance, ours to give away.
pub(super) const OF_THE_TOLERANCE: f64 = 0.5;

/// Looks at the skin over one underlay, without a proof.
pub(super) struct SkinLook<'shelf> {
    question: Question<'shelf>,
    /// Set out when a skin is first asked for.
    set_out: OnceCell<Look<'shelf>>,
    /// What was asked for, and what came of it.
    seen: RefCell<Vec<(Window, bool, f64)>>,
}

/// Least and greatest contrast ratio, if they matter.
type Window = Option<(f64, f64)>;

impl SkinLook<'_> {
    /// ΔE00 of the best skin that is found at once with its contrast ratio in `window`; with new let-downs where it wants
    /// them, or without. Infinite where there is none.
    pub(super) fn delta_e(&self, window: Window, let_downs: bool) -> Result<f64> {
        let is_it = |(seen, with, _): &&(Window, bool, f64)| *seen == window && *with == let_downs;
        let known = self
            .seen
            .borrow()
            .iter()
            .find(is_it)
            .map(|(.., delta_e)| *delta_e);
        if let Some(delta_e) = known {
            return Ok(delta_e);
        }
        let look = match self.set_out.get() {
            Some(look) => look,
            None => {
                let look = self.question.clone().look()?;
                self.set_out.get_or_init(|| look)
            }
        };
        let found = look.nearest(window, let_downs)?;
        let delta_e = found.map_or(f64::INFINITY, |found| found.delta_e);
        self.seen.borrow_mut().push((window, let_downs, delta_e));
        Ok(delta_e)
    }
}

impl NearEnough {
    /// Up to which ΔE00 a recipe serves where the nearest misses by `nearest` and `doubt`, ΔE00, is not known.
    fn limit(self, nearest: f64, doubt: f64, tolerance: f64) -> f64 {
        let allowed =
            nearest + NOT_SEEN.max((OF_THE_DOUBT * doubt).min(OF_THE_TOLERANCE * tolerance));
        match self {
            Self::AsFarAsIsKnown if nearest > tolerance => allowed,
            Self::AsFarAsIsKnown => allowed.min(tolerance),
            Self::WithinTolerance if nearest <= tolerance => tolerance,
            // Of one that is out of tolerance anyway the last tenths matter no more.
            Self::WithinTolerance => nearest + OF_THE_TOLERANCE * tolerance,
        }
    }
}

/// Distance from the nearest, ΔE00, at which it counts as proven where the handiest is asked for.
const WELL_PROVEN: f64 = 0.05;

/// The coarsest scale, g, by which single doses are weighed instead of dropped or let down.
const FINE_SCALE: Grams = Grams(0.01);

/// The largest cup of skin for which drops are still counted by hand, g. Common practice, no source.
const USUAL_SKIN_G: f64 = 600.0;

impl<'shelf> Order<'shelf> {
    /// Foam as light as the base tone and `lighter`.
    pub(super) fn fill_foam(
        &self,
        cup: &OrderedCup,
        target: &Target,
        lighter: f64,
        deadline: Option<Instant>,
    ) -> Result<CupRecipe> {
        let task = Task {
            cup,
            fixed: &Mix::default(),
            placement: Placement::Bed,
            goal: self.goal(target, lighter),
            colorants: self.colorants_for(&cup.base),
            must: &[],
            contrast: None,
            opened: Vec::new(),
            is_tinted: false,
            near_enough: NearEnough::WithinTolerance,
        };
        self.fill(task, target, deadline, |poured| {
            Casting::bare_foam(self.shelf, poured)
        })
    }

    /// Skin whose contrast ratio lies in `contrast`, if a window is given.
    pub(super) fn fill_skin(
        &self,
        unfilled: &Build,
        target: &Target,
        contrast: Option<(f64, f64)>,
        deadline: Option<Instant>,
    ) -> Result<CupRecipe> {
        self.fill(
            self.skin_task(unfilled, target, contrast)?,
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

    pub(super) fn skin_task(
        &self,
        unfilled: &Build,
        target: &Target,
        contrast: Option<(f64, f64)>,
    ) -> Result<Task<'_>> {
        let mut colorants = self.colorants_for(&self.skin.base);
        colorants.retain(|open| {
            (held_drops(&self.in_the_skin)).all(|(held, _)| held.pigment != open.pigment)
        });
        Ok(Task {
            cup: &self.skin,
            fixed: &self.in_the_skin,
            placement: Placement::Film {
                thickness_mm: self.thickness.0,
                over: Vec::new(),
                beneath: Casting::new(self.shelf, unfilled)?.beneath(),
            },
            goal: self.goal(target, 0.0),
            colorants,
            must: &self.must,
            contrast,
            opened: Vec::new(),
            is_tinted: held_drops(&self.in_the_skin).next().is_none(),
            near_enough: NearEnough::AsFarAsIsKnown,
        })
    }

    /// Looks at skins over `beneath`, without a proof.
    pub(super) fn look_at_skins(
        &self,
        target: &Target,
        beneath: Underlay,
    ) -> Result<SkinLook<'shelf>> {
        let task = self.skin_task(&self.unfilled(beneath), target, None)?;
        Ok(SkinLook {
            question: self.question(task, None)?,
            set_out: OnceCell::new(),
            seen: RefCell::default(),
        })
    }

    /// Paint that takes the finished part to `tone`, which is known under the book's light alone; paints before it ask for
    /// jars of `opened`.
    pub(super) fn fill_paint(
        &self,
        (cup, dry_thickness): (&OrderedCup, Millimetres),
        build: &Build,
        target: &Target,
        tone: Lab,
        opened: Vec<Colorant>,
        deadline: Option<Instant>,
    ) -> Result<CupRecipe> {
        let painted =
            |paint: &Poured| Casting::new(self.shelf, &build.painted(paint.clone(), dry_thickness));
        // What can't be painted is refused before the search.
        painted(&cup.with(Mix::default()))?;
        let part = Casting::new(self.shelf, build)?;
        let task = Task {
            cup,
            fixed: &Mix::default(),
            placement: Placement::Film {
                thickness_mm: dry_thickness.0,
                over: part.layers(),
                beneath: part.beneath(),
            },
            goal: self.goal_of_paint(tone),
            colorants: self.colorants_for(&cup.base),
            must: &[],
            contrast: None,
            opened,
            is_tinted: false,
            near_enough: NearEnough::AsFarAsIsKnown,
        };
        self.fill(task, target, deadline, painted)
    }

    /// Searches the drops for `task` and tells what comes out of each recipe found.
    fn fill<'a>(
        &'a self,
        task: Task<'_>,
        target: &Target,
        deadline: Option<Instant>,
        cast: impl Fn(&Poured) -> Result<Casting<'a>>,
    ) -> Result<CupRecipe> {
        let (cup, fixed, near_enough) = (task.cup, task.fixed, task.near_enough);
        let goal = task.goal.clone();
        let question = self.question(task, deadline)?;
        let weights = self.shelf.settings.viewing.weights();
        let limit_for = |nearest: &Recipe| {
            let casting = cast(&cup.with(nearest.mix(fixed)?))?;
            let doubt = casting
                .predict(&weights, Doubts::All)
                .in_doubt(target.spread);
            Ok(near_enough.limit(nearest.delta_e, doubt, self.tolerance_for(target)))
        };
        let Answer {
            recipes,
            gap,
            proven,
            nearest_delta_e,
            effort,
            effort_gap,
            strengths_left_out,
        } = search_held(
            question,
            |recipe| cast(&cup.with(recipe.mix(fixed)?)),
            |question| match self.limits.within {
                Some(_) => question.search(),
                None => question.handiest(limit_for),
            },
        )?;
        let choices = recipes.into_iter().enumerate().map(|(rank, recipe)| {
            let poured = cup.with(recipe.mix(fixed)?);
            let casting = cast(&poured)?;
            let prediction = casting.predict(&weights, Doubts::All);
            let found = Found {
                drops: recipe.drops.into_iter().chain(held_drops(fixed)).collect(),
                delta_e: recipe.delta_e,
                poured,
            };
            Ok(self.choice(found, (&casting, prediction), &goal, target, rank == 0))
        });
        let choices = choices.collect::<Result<_>>()?;
        let is_whole = self.passed_over.is_empty() && strengths_left_out == 0;
        // What was passed over may be nearer, or ask less, by nobody knows how much.
        let over_all = |gap: f64| if is_whole { gap } else { f64::INFINITY };
        Ok(CupRecipe {
            aim: goal.aim,
            choices,
            gap: over_all(gap),
            proven: proven && is_whole,
            nearest_delta_e,
            effort,
            effort_gap: effort_gap.map(over_all),
            strengths_left_out,
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
            placement,
            goal,
            colorants,
            must,
            contrast,
            opened,
            is_tinted,
            ..
        } = task;
        let unfilled = Cup::pour(self.shelf, &cup.with(fixed.clone()))?;
        unfilled.check_loads()?;
        let mut limits = self.limits_of(&unfilled);
        let held: Vec<(Colorant, u32)> = held_drops(fixed).collect();
        let held_in_all = held.iter().map(|(_, count)| count).sum();
        limits.max_total_drops = limits.max_total_drops.saturating_sub(held_in_all);
        let pigments: HashSet<&str> = (held.iter())
            .map(|(colorant, _)| colorant.pigment.as_str())
            .collect();
        limits.max_pigments = limits.max_pigments.saturating_sub(pigments.len());
        Ok(Question {
            shelf: self.shelf,
            cup: unfilled,
            placement,
            aims: goal.aims,
            colorants,
            must: must.to_vec(),
            contrast: contrast.map(|window| Contrast::over_cards(window, self.shelf)),
            let_downs: self.colorants.is_none(),
            opened,
            is_tinted,
            scale_step: Some(self.shelf.settings.scale_resolution)
                .filter(|step| *step <= FINE_SCALE && self.limits.within.is_none()),
            nearby: Vec::new(),
            limits,
            deadline,
        })
    }

    /// The bounds of one cup. Those that were not set grow with a cup above that of a usual skin, and with what
    /// a foam will be thinned by.
    pub(super) fn limits_of(&self, cup: &Cup<'_>) -> CupLimits {
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
            within: self.limits.within.unwrap_or(WELL_PROVEN),
            threads: self.limits.threads,
            watch: self.limits.watch,
        }
    }
}

/// The drops that are in a cup whatever the search finds.
pub(super) fn held_drops(fixed: &Mix) -> impl Iterator<Item = (Colorant, u32)> {
    fixed
        .entries()
        .iter()
        .filter_map(|(colorant, amount)| match amount {
            Amount::Drops(count) => Some((colorant.clone(), whole_number(*count))),
            Amount::Mass(_) => None,
        })
}
