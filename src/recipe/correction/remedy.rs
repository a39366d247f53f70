//! Both answers to a miss: what to add to this cup, and what to mix next.

use std::time::Instant;

use super::additions::Additions;
use super::cup::{leave, with_drops};
use super::evidence::Evidence;
use super::learnt::Learnt;
use super::request::Correction;
use super::stage::Stage;
use crate::colour::{Lab, Translucency, TristimulusWeights, delta_e_2000};
use crate::error::{Error, Mend, Result, Setting};
use crate::materials::{Casting, Colorant, Geometry, Grams, Shelf};
use crate::recipe::part::CupRecipe;
use crate::tone::Target;

/// The two answers to a miss.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Remedy {
    /// The casting's colour as far as it is known, under the book's viewing and read as the book reads: the reading, or what
    /// is to be expected of the finished cup by what was seen of it.
    pub now: Lab,
    /// ΔE00 from the target to that.
    pub delta_e_now: f64,
    /// Whether that passes.
    pub passes: bool,
    /// What the casting shows of black and white beneath it, as far as the model tells.
    pub seen_now: Translucency,
    /// Drops to add to the cup on the bench; none where nothing that is added helps.
    pub add: Vec<(Colorant, u32)>,
    /// ΔE00 predicted of a casting from the cup with those drops.
    pub delta_e_after: f64,
    /// What that casting would show of black and white beneath it.
    pub seen_after: Translucency,
    /// How far those drops may be from the best there are, ΔE00.
    pub gap: f64,
    /// Whether the cup is better poured away: nothing that is added brings it to the target.
    pub start_again: bool,
    /// The recipe for the next cup.
    pub next: CupRecipe,
    /// Between what the contrast ratios of both were held; `None` where they were let go.
    pub window: Option<(f64, f64)>,
    /// What drops to this cup would come to with the contrast ratio let go, where none within the window bring it to the target
    /// and that would bring it nearer.
    pub unheld_after: Option<Unheld>,
    /// The same of the next cup.
    pub unheld_next: Option<Unheld>,
    /// How many strengths of pigments were passed over for either cup, since there are more ways to dose them than can be looked
    /// at.
    pub strengths_left_out: usize,
}

/// What a cup would come to with its contrast ratio let go.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unheld {
    /// ΔE00 from the target.
    pub delta_e: f64,
    /// Its contrast ratio.
    pub contrast_ratio: f64,
}

/// What an addition must gain, ΔE00, to be worth a stir within the pot life; and a contrast ratio let go, to be spoken of.
const WORTH_ADDING: f64 = 0.1;

impl Correction<'_> {
    /// Refuses what no correction can be made of.
    ///
    /// # Errors
    /// A target under another viewing than the book's; a painted casting; a reading that no colour can have; a foam over a
    /// foam; a let-down of a pigment that is not on the shelf or only weighed; a well of part B where there is none, or judged
    /// by eye; a test piece that took the whole cup; a tolerance or bounds that are no numbers or exclude each other.
    pub fn check(&self, target: &Target) -> Result<()> {
        if self.build.paint.is_some() {
            return Err(
                Error::input("a painted casting tells of its skin through the paint").mend(
                    Mend::from("read the skin before it is painted, and leave ")
                        .set(Setting::Paint)
                        .and(" out"),
                ),
            );
        }
        if let Evidence::Reading { lab, .. } = self.evidence {
            // A colour that none can be is refused as for a target.
            Target::from_lab(lab, self.shelf.settings.viewing)?;
        }
        match &self.stage {
            Stage::PartB(_) if matches!(self.evidence, Evidence::Looks(_)) => {
                return Err(Error::input(
                    "part B is stronger than the cup will be, and no eye sees through that",
                )
                .mend("read it with an instrument, or look at a cured test piece"));
            }
            // A slip of the hand needs no part B to be read.
            Stage::PartB(_) if self.evidence != Evidence::Poured => {
                self.observed()?;
            }
            Stage::TestPiece { drawn } => self.check_drawn(*drawn)?,
            Stage::PartB(_) | Stage::Part => {}
        }
        for let_down in &self.let_downs {
            self.shelf.pigment(&let_down.pigment)?.check_drops()?;
        }
        self.order_of_next(self.shelf, self.limits.contrast_ratio)?
            .check(target)
    }

    fn check_drawn(&self, drawn: Grams) -> Result<()> {
        let whole = self.build.skin.base_mass;
        if drawn.0 >= 0.0 && drawn.0 < whole.0 {
            return Ok(());
        }
        let finding = format!("a test piece of {drawn} leaves nothing of a cup of {whole}");
        Err(Error::input(finding).mend("write the mass of mixed base that the test piece took"))
    }

    /// Finds both answers for `target`.
    ///
    /// What was seen is first taken for what it tells of all that was in doubt: the curves, and also how many grams the drops
    /// came to and how thick the film was, each moved as far as it is unsure, so that the prediction meets what was seen. What
    /// was learnt of curves goes into both answers; what was learnt of the drops, into the cup on the bench alone; what was
    /// learnt of the thickness, into neither. Then whole drops are searched as for a new recipe.
    ///
    /// # Errors
    /// As [`check`](Self::check); names that are not on the shelf; no recipe that keeps to what is asked of the next cup.
    pub fn remedy(&self, target: &Target) -> Result<Remedy> {
        self.check(target)?;
        let tolerance = self.tolerance_for(target);
        let weights = self.shelf.settings.viewing.weights();
        let learnt = self.learnt(target, &weights)?;
        let shelf = match &learnt {
            Some(learnt) if !self.taught => learnt.shelf(self.shelf),
            Some(_) | None => self.shelf.clone(),
        };
        // One limit for all: what a search leaves of its third, those after it have too.
        let [bench_by, same_by, any_by] =
            [1.0 / 3.0, 2.0 / 3.0, 1.0].map(|share| self.limits.deadline_of(share));
        let on_the_bench = self.on_the_bench(&shelf, learnt.as_ref())?;
        let now = self.now(learnt.as_ref(), &on_the_bench, &weights);
        let delta_e_now = delta_e_2000(target.lab, now);
        let seen_now = on_the_bench.translucency(&weights);
        let window = self.window(seen_now.contrast_ratio);
        // The cup on the bench can't wait.
        let found = self.additions(&on_the_bench, target, &weights, window, bench_by)?;
        let helps = |found: &Additions| {
            let passes = |delta_e: f64| delta_e <= tolerance;
            found.delta_e_after < delta_e_now - WORTH_ADDING
                || (passes(found.delta_e_after) && !passes(delta_e_now))
        };
        let gap = found.as_ref().map_or(0.0, |found| found.gap);
        let strengths_left_out = (found.as_ref()).map_or(0, |found| found.strengths_left_out);
        let additions = found.filter(helps).unwrap_or(Additions {
            add: Vec::new(),
            delta_e_after: delta_e_now,
            gap,
            strengths_left_out,
        });
        let after = with_drops(&on_the_bench, &additions.add)?;
        let next = self
            .next(&shelf, target, window, [same_by, any_by])
            .map_err(|error| self.or_let_go(error))?;
        let mut unheld_after = None;
        let mut unheld_next = None;
        if window.is_some() {
            // How far the window costs good recipes tell as well as proven ones.
            let at_once = Some(Instant::now());
            if additions.delta_e_after > tolerance {
                let free = self.additions(&on_the_bench, target, &weights, None, at_once)?;
                if let Some(free) = free {
                    let casting = with_drops(&on_the_bench, &free.add)?;
                    let seen = casting.translucency(&weights);
                    unheld_after = nearer(free.delta_e_after, seen, additions.delta_e_after);
                }
            }
            let held = next.best().delta_e;
            if held > tolerance {
                let free = self.next(&shelf, target, None, [at_once; 2])?;
                let best = free.best();
                unheld_next = nearer(best.delta_e, best.prediction.translucency, held);
            }
        }
        Ok(Remedy {
            now,
            delta_e_now,
            passes: delta_e_now <= tolerance,
            seen_now,
            start_again: delta_e_now > tolerance && additions.delta_e_after > tolerance,
            add: additions.add,
            delta_e_after: additions.delta_e_after,
            seen_after: after.translucency(&weights),
            // What was passed over may bring it nearer.
            gap: match self.passed_over.is_empty() && strengths_left_out == 0 {
                true => additions.gap,
                false => f64::INFINITY,
            },
            strengths_left_out: strengths_left_out.max(next.strengths_left_out),
            next,
            window,
            unheld_after,
            unheld_next,
        })
    }

    /// What was seen, for what it tells; `None` where nothing was.
    fn learnt(&self, target: &Target, weights: &TristimulusWeights) -> Result<Option<Learnt<'_>>> {
        let Some(seen) = self.evidence.seen(target.lab) else {
            return Ok(None);
        };
        let observed = Casting::new(self.shelf, &self.observed()?)?;
        let observed = observed.read_by(self.evidence.geometry());
        Ok(Some(Learnt::from(&observed, seen, weights)))
    }

    /// The casting of what is left of the cup on the bench by `shelf`, with the drops as they seem to have come out.
    fn on_the_bench<'learnt>(
        &self,
        shelf: &'learnt Shelf,
        learnt: Option<&Learnt<'_>>,
    ) -> Result<Casting<'learnt>> {
        let mut casting = Casting::new(shelf, &self.build)?;
        if let Some(learnt) = learnt {
            learnt.weigh(&mut casting);
        }
        if let Stage::TestPiece { drawn } = self.stage {
            leave(&mut casting, 1.0 - drawn.0 / self.build.skin.base_mass.0);
        }
        Ok(casting)
    }

    /// The colour of the casting as far as it is known, read as the book reads.
    fn now(
        &self,
        learnt: Option<&Learnt<'_>>,
        on_the_bench: &Casting<'_>,
        weights: &TristimulusWeights,
    ) -> Lab {
        let of = |casting: &Casting<'_>| weights.lab(&casting.reading());
        let learnt = match (&self.stage, learnt) {
            (Stage::TestPiece { .. } | Stage::Part, Some(learnt)) => learnt.casting(),
            // What will be cast has not been seen.
            (Stage::PartB(_), _) | (_, None) => return of(on_the_bench),
        };
        let by_the_book = of(&learnt.clone().read_by(Geometry {
            specular: Some(self.shelf.settings.surface.specular()),
            aperture_mm: None,
        }));
        match self.evidence {
            Evidence::Reading { lab, .. } => {
                let as_read = of(learnt);
                Lab::new(
                    lab.l + (by_the_book.l - as_read.l),
                    lab.a + (by_the_book.a - as_read.a),
                    lab.b + (by_the_book.b - as_read.b),
                )
            }
            // The eye's word and the book's, each as far as it is sure.
            Evidence::Looks(_) | Evidence::Poured => by_the_book,
        }
    }

    /// Between what the contrast ratio is held, of a casting that has this one.
    fn window(&self, contrast_ratio: f64) -> Option<(f64, f64)> {
        let held = || {
            let least = (contrast_ratio - Self::HELD_CONTRAST).max(0.0);
            (least, contrast_ratio + Self::HELD_CONTRAST)
        };
        let wished = || {
            let (window, planned) = self.wished_contrast?;
            let holds = |ratio: f64| (window.0..=window.1).contains(&ratio);
            (holds(planned) || holds(contrast_ratio)).then_some(window)
        };
        let asked = self.limits.contrast_ratio;
        asked.or_else(|| (!self.is_contrast_free).then(|| wished().unwrap_or_else(held)))
    }

    /// `error`, with how to let go of a contrast ratio that nobody asked to be held.
    fn or_let_go(&self, error: Error) -> Error {
        if !error.is_out_of_reach() || self.is_contrast_free || self.limits.contrast_ratio.is_some()
        {
            return error;
        }
        error.mend(
            Mend::from(
                "the contrast ratio is held near that of what was poured; let go of it with ",
            )
            .set(Setting::FreeContrast),
        )
    }
}

/// What is gained with the contrast ratio let go, if anything.
fn nearer(delta_e: f64, seen: Translucency, held: f64) -> Option<Unheld> {
    (delta_e < held - WORTH_ADDING).then_some(Unheld {
        delta_e,
        contrast_ratio: seen.contrast_ratio,
    })
}
