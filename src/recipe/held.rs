//! The search where castings have shown the physics to miss.
//!
//! A search asks the physics alone. What that misses, near the answer, is held while it searches: as much is taken off the aims.
//! It begins at what is missed of the best found at once, goes on to what is missed there, and so on until that stands still;
//! then comes the search with its proof, and once more where its answer comes out farther off than by what was held. What is told of each
//! recipe is what comes out of it in the end.
//!
//! # What is proven then?
//!
//! That no recipe is nearer by more than what the answer itself misses its aim by, since none misses by less than nothing. The
//! proof bounds the physics; what that misses changes from recipe to recipe, by more than any recipe is worth, and no bound at
//! hand covers it. So a recipe that lands on its aim is proven, and one that doesn't is not.

use crate::colour::{Lab, delta_e_2000};
use crate::error::Result;
use crate::forecast::Aim;
use crate::materials::Casting;
use crate::search::{Answer, Question, Recipe};

/// How often what is held follows the best found at once, and how often the whole search.
const AT_ONCE: usize = 5;
const WHOLE: usize = 2;

/// What comes out of a recipe is what the search took it for if it lies no farther off by more, ΔE00. Our own choice, no source.
const NOT_SEEN: f64 = 0.1;

/// What passes whatever the tone: less than the tolerance of the lightest skin, ΔE00.
const PASSES: f64 = 0.5;

/// What is held stands still when no L*, a* or b* moves by more: half of what is not seen.
const STILL: f64 = 0.05;

/// The answer of `search` to `question`, whose recipes are cast by `cast`.
///
/// # Errors
/// As `search` and `cast`.
pub(super) fn search_held<'shelf, 'cast>(
    mut question: Question<'shelf>,
    cast: impl Fn(&Recipe) -> Result<Casting<'cast>>,
    search: impl Fn(&Question<'shelf>) -> Result<Answer>,
) -> Result<Answer> {
    if question.shelf.left_over.is_none() {
        return search(&question);
    }
    let aims = question.aims.clone();
    question = at_once(question, &cast)?;
    let mut best: Option<Answer> = None;
    for _ in 0..WHOLE {
        let answer = search(&question)?;
        let first = cast(&answer.recipes[0])?;
        if first.carried().is_none() && aims_are_still(&aims, &question.aims) {
            return Ok(answer);
        }
        let held = held(&aims, &first);
        let promised = answer.recipes[0].delta_e;
        let answer = told(answer, &aims, &cast, question.limits.within)?;
        let comes_out = answer.recipes[0].delta_e;
        let serves = comes_out <= promised + NOT_SEEN && comes_out <= PASSES;
        let is_better = |best: &Answer| answer.recipes[0].delta_e < best.recipes[0].delta_e;
        if best.as_ref().is_none_or(is_better) {
            best = Some(answer);
        }
        if serves || aims_are_still(&held, &question.aims) {
            break;
        }
        question.aims = held;
    }
    Ok(best.expect("there was a search"))
}

/// `question` with its aims less what the physics misses of the best recipe that is found at once, as far as that stands still.
fn at_once<'shelf, 'cast>(
    question: Question<'shelf>,
    cast: &impl Fn(&Recipe) -> Result<Casting<'cast>>,
) -> Result<Question<'shelf>> {
    let window = question.contrast.as_ref().map(|contrast| contrast.window);
    let (aims, let_downs) = (question.aims.clone(), question.let_downs);
    let mut look = question.look()?;
    for _ in 0..AT_ONCE {
        let Some(recipe) = look.nearest(window, let_downs)? else {
            break;
        };
        let next = held(&aims, &cast(&recipe)?);
        if aims_are_still(look.aims(), &next) {
            break;
        }
        look = look.aimed_at(next)?;
    }
    Ok(look.begun())
}

/// `aims` less what the physics misses of `casting`.
fn held(aims: &[Aim], casting: &Casting<'_>) -> Vec<Aim> {
    let (made, physics) = (casting.reading(), casting.by_physics());
    let less = |aim: &Aim| {
        let [made, physics] = [&made, &physics].map(|spectrum| aim.weights.lab(spectrum));
        Aim {
            lab: Lab::new(
                aim.lab.l - (made.l - physics.l),
                aim.lab.a - (made.a - physics.a),
                aim.lab.b - (made.b - physics.b),
            ),
            ..aim.clone()
        }
    };
    aims.iter().map(less).collect()
}

fn aims_are_still(one: &[Aim], other: &[Aim]) -> bool {
    one.iter().zip(other).all(|(one, other)| {
        let off = [
            one.lab.l - other.lab.l,
            one.lab.a - other.lab.a,
            one.lab.b - other.lab.b,
        ];
        off.iter().all(|axis| axis.abs() <= STILL)
    })
}

/// `answer` with what comes out of its recipes, beside `aims`.
fn told<'cast>(
    answer: Answer,
    aims: &[Aim],
    cast: &impl Fn(&Recipe) -> Result<Casting<'cast>>,
    within: f64,
) -> Result<Answer> {
    let told = |recipe: Recipe| {
        let made = cast(&recipe)?.reading();
        let apart = |aim: &Aim| delta_e_2000(aim.lab, aim.weights.lab(&made));
        let sum: f64 = aims.iter().map(apart).sum();
        Ok(Recipe {
            delta_e: sum / aims.len() as f64,
            ..recipe
        })
    };
    let recipes = answer.recipes.into_iter().map(told);
    let mut recipes = recipes.collect::<Result<Vec<_>>>()?;
    // The handiest stays in front.
    let ranked = usize::from(answer.effort_gap.is_some());
    recipes[ranked..].sort_by(|one, other| one.delta_e.total_cmp(&other.delta_e));
    let all = recipes.iter().map(|recipe| recipe.delta_e);
    let gap = all.clone().fold(0.0, f64::max);
    Ok(Answer {
        gap,
        proven: gap <= within,
        nearest_delta_e: all.fold(f64::INFINITY, f64::min),
        recipes,
        ..answer
    })
}
