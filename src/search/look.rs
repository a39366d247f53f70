//! Good recipes without a proof, for one cup and one window of its contrast ratio after another.
//!
//! How a part is laid out takes many such looks over the same underlay. What is dear, the sampled layer model and the best
//! real-valued recipes, depends on no window: it is set out once.

use std::cell::OnceCell;

use super::answer::{Recipe, recipe_of};
use super::candidate::Bench;
use super::proof::kernel::Kernel;
use super::proof::response::Grid;
use super::question::{Contrast, Question};
use super::real_valued::Relaxed;
use super::relaxed::relax_from;
use super::start::Start;
use crate::error::Result;
use crate::forecast::Aim;
use crate::materials::Colorant;

/// A question that is set out for looks at it.
#[derive(Clone, Debug)]
pub(crate) struct Look<'shelf> {
    /// Its window and its let-downs are those of each look.
    question: Question<'shelf>,
    /// What is set out; `None` where the cup is as it stands.
    set_out: Option<SetOut>,
}

#[derive(Clone, Debug)]
struct SetOut {
    kernel: Kernel,
    relaxed: Vec<Relaxed>,
    /// The colorants, and the let-downs that join them.
    thinned: Vec<Colorant>,
    /// The film over the black card and over the white one; sampled when a window is first asked for.
    over_cards: OnceCell<[Kernel; 2]>,
}

impl<'shelf> Question<'shelf> {
    /// Sets the question out for looks at it.
    ///
    /// # Errors
    /// As [`search`](Self::search).
    pub(crate) fn look(self) -> Result<Look<'shelf>> {
        let set_out = if self.colorants.is_empty() {
            None
        } else {
            let neat = Bench::new(&self, &self.colorants)?;
            let kernel = self.kernel_of(&neat, Grid::OF_A_LOOK);
            let relaxed = self.relaxed(&neat, &kernel);
            let thinned = if self.let_downs {
                self.with_let_downs(&neat, &kernel, &relaxed)
            } else {
                self.colorants.clone()
            };
            Some(SetOut {
                kernel,
                relaxed,
                thinned,
                over_cards: OnceCell::new(),
            })
        };
        Ok(Look {
            question: self,
            set_out,
        })
    }

    /// The nearest recipe that is found without a proof, if any keeps to what is asked: see [`Look::nearest`].
    ///
    /// # Errors
    /// As [`search`](Self::search).
    pub(crate) fn nearest_at_once(&self) -> Result<Option<Recipe>> {
        let window = self.contrast.as_ref().map(|contrast| contrast.window);
        self.clone().look()?.nearest(window, self.let_downs)
    }
}

impl<'shelf> Look<'shelf> {
    /// What is aimed at.
    pub(crate) fn aims(&self) -> &[Aim] {
        &self.question.aims
    }

    /// The question, that a search for the same aims need not begin from nothing.
    pub(crate) fn begun(self) -> Question<'shelf> {
        Question {
            nearby: self.set_out.map_or(Vec::new(), |set_out| set_out.relaxed),
            ..self.question
        }
    }

    /// The same for other `aims` near those, under the same lights.
    ///
    /// # Errors
    /// As [`Question::search`].
    pub(crate) fn aimed_at(mut self, aims: Vec<Aim>) -> Result<Self> {
        self.question.aims = aims;
        if let Some(set_out) = &mut self.set_out {
            let neat = Bench::new(&self.question, &self.question.colorants)?;
            set_out.relaxed = relax_from(&set_out.relaxed, &self.question, &neat, &set_out.kernel);
        }
        Ok(self)
    }

    /// The nearest recipe that is found without a proof, if any keeps to what is asked, its contrast ratio in `window` among
    /// that; with the let-downs that join the colorants, or without.
    ///
    /// Where few drops are allowed and the tone is far out of reach it may miss the best by a unit of ΔE00. No deadline ends
    /// it, so the answer is the same on any machine.
    ///
    /// # Errors
    /// As [`Question::search`].
    pub(crate) fn nearest(
        &self,
        window: Option<(f64, f64)>,
        let_downs: bool,
    ) -> Result<Option<Recipe>> {
        let question = Question {
            contrast: window.map(|window| Contrast::over_cards(window, self.question.shelf)),
            let_downs: let_downs && self.question.let_downs,
            ..self.question.clone()
        };
        let Some(set_out) = &self.set_out else {
            return match question.settled() {
                Err(error) if error.is_out_of_reach() => Ok(None),
                settled => settled.map(Some),
            };
        };
        let colorants = if question.let_downs {
            &set_out.thinned
        } else {
            &question.colorants
        };
        let bench = Bench::new(&question, colorants)?;
        let start = Start {
            question: &question,
            bench: &bench,
            kernel: &set_out.kernel,
            over_cards: set_out.over_cards(&question)?,
            relaxed: &set_out.relaxed,
        };
        let pool = start.warm_pool(1);
        Ok(pool.best().first().map(|kept| recipe_of(&bench, kept)))
    }
}

impl SetOut {
    /// The film of `question` over the black card and over the white one, where its contrast ratio matters. Sampled for the
    /// drops of every look, so that all share it.
    fn over_cards(&self, question: &Question<'_>) -> Result<Option<&[Kernel; 2]>> {
        if question.contrast.is_none() {
            return Ok(None);
        }
        if self.over_cards.get().is_none() {
            let bench = Bench::new(question, &self.thinned)?;
            if let Some(sampled) = question.contrast_kernels(&bench, Grid::OF_A_LOOK) {
                return Ok(Some(self.over_cards.get_or_init(|| sampled)));
            }
        }
        Ok(self.over_cards.get())
    }
}
