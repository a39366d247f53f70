//! Where the spread of a prediction comes from, and the one act that would narrow it most.

use super::chance::Chances;
use super::doubt::{Doubt, DoubtSource};
use super::prediction::{Contribution, Prediction};
use crate::colour::{Lab, TristimulusWeights, delta_e_2000};
use crate::materials::Casting;
use crate::materials::{Amount, Grams, Material, Millimetres, Portion};
use crate::optics::Foam;
use crate::tone::{InstrumentKind, Target};

/// The share of one source in what is not known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BudgetLine {
    /// The source.
    pub source: DoubtSource,
    /// Standard deviations of L*, a* and b* by it alone.
    pub spread: [f64; 3],
    /// By how much it alone moves the colour: ΔE00, root mean square.
    pub delta_e: f64,
    /// The chance (0–1) of landing within tolerance if this source were known for certain.
    pub chance_without: f64,
}

/// The spread of a casting, taken apart.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Budget {
    /// The sources that move anything, in the order of [`DoubtSource::ALL`]; their variances add up to that of the whole.
    pub lines: Vec<BudgetLine>,
    /// By how much all of them together move the colour: ΔE00, root mean square.
    pub delta_e: f64,
    /// The chance (0–1) to land within tolerance, as it is.
    pub chance: f64,
    /// The act that helps most; `None` where none helps.
    pub best_next_step: Option<NextStep>,
}

/// An act, and what it would make of the chance to land.
#[derive(Clone, Debug, PartialEq)]
pub struct NextStep {
    /// What to do.
    pub act: Act,
    /// The chance (0–1) that would follow.
    pub chance: f64,
    /// What would be left of the budget's ΔE00.
    pub delta_e: f64,
}

/// Something a maker can do about a doubt.
#[derive(Clone, Debug, PartialEq)]
pub enum Act {
    /// Weigh a pigment, let down or not, that is now dropped, on a scale that shows `step`.
    Weigh {
        /// The pigment.
        pigment: String,
        /// The scale's step.
        step: Grams,
    },
    /// Keep the thickness of the film at this index, the top one first, to half of its scatter.
    HoldThickness {
        /// Whether it is a sprayed coat.
        sprayed: bool,
        /// Its thickness.
        thickness: Millimetres,
        /// The standard deviation to keep to.
        to: Millimetres,
    },
    /// Cast two chips of a material; they are taken to halve what is not known of it.
    CastChips {
        /// The material.
        material: Material,
        /// Whether some were cast already.
        more: bool,
    },
    /// Cast one tint of this foam both foamed and unfoamed; that is taken to halve the doubt of its cells.
    CastFoamChip {
        /// The foam.
        foam: String,
    },
    /// Keep the rise of this foam to half of its scatter, from weighing and stirring it alike each time.
    HoldRise {
        /// The foam.
        foam: String,
        /// The expansion to keep to, and its standard deviation.
        to: (f64, f64),
    },
    /// Read the tone once more and better; that is taken to halve its doubt.
    ReadTone {
        /// What read it so far.
        read_by: Option<InstrumentKind>,
    },
}

/// Steps of scales that are to be had, g.
const SCALE_STEPS_G: [f64; 3] = [0.1, 0.01, 0.001];

/// What an act that is only taken to help leaves of a doubt. Our own choice, no source.
const HALVED: f64 = 0.5;

/// What a casting must gain in chance for an act to be chosen by its chance; below that it is chosen by what it
/// leaves of ΔE00.
const WORTH_A_CHANCE: f64 = 0.01;

/// Of how many acts, those that leave least in doubt, the chances are told before one is chosen.
const WEIGHED_UP: usize = 4;

/// What is aimed at, and how near counts.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Bullseye<'a> {
    pub(crate) aim: Lab,
    pub(crate) tolerance: f64,
    pub(crate) target: &'a Target,
}

impl Prediction {
    /// The budget of this prediction without any best_next_step: chances of landing within `tolerance` (ΔE00) of `aim`,
    /// which is itself known to `aim_spread` (standard deviations).
    pub fn budget(&self, tolerance: f64, aim: Lab, aim_spread: [f64; 3]) -> Budget {
        self.budget_by(&Chances::of(self), tolerance, aim, aim_spread)
    }

    fn budget_by(
        &self,
        chances: &Chances,
        tolerance: f64,
        aim: Lab,
        aim_spread: [f64; 3],
    ) -> Budget {
        // Scaled to nothing and not taken out, so that drawn chances are of the same draws.
        let without = |source_left_out: DoubtSource| {
            let contributions = self.contributions.iter().map(|contribution| {
                let factor = if contribution.source == source_left_out {
                    0.0
                } else {
                    1.0
                };
                contribution.scaled(factor)
            });
            Self {
                contributions: contributions.collect(),
                ..self.clone()
            }
        };
        let line = |source| {
            let (spread, kept) = if source == DoubtSource::Target {
                (aim_spread, [0.0; 3])
            } else {
                (self.spread_of(source), aim_spread)
            };
            // Asked before its chance, which may cost thousands of draws.
            let moves = spread != [0.0; 3];
            moves.then(|| BudgetLine {
                source,
                spread,
                delta_e: match source {
                    DoubtSource::Target => self.delta_e_of(&[], aim_spread),
                    source => self.delta_e_of(&self.only(source), [0.0; 3]),
                },
                chance_without: chances.within(&without(source), tolerance, aim, kept),
            })
        };
        Budget {
            lines: DoubtSource::ALL.into_iter().filter_map(line).collect(),
            delta_e: self.in_doubt(aim_spread),
            chance: chances.within(self, tolerance, aim, aim_spread),
            best_next_step: None,
        }
    }

    /// By how much all that is in doubt moves the colour: ΔE00, root mean square; the aim is known to `aim_spread`, standard
    /// deviations.
    pub(crate) fn in_doubt(&self, aim_spread: [f64; 3]) -> f64 {
        self.delta_e_of(&self.contributions, aim_spread)
    }

    fn only(&self, source: DoubtSource) -> Vec<Contribution> {
        let of_it = self
            .contributions
            .iter()
            .filter(|contribution| contribution.source == source);
        of_it.copied().collect()
    }

    fn spread_of(&self, source: DoubtSource) -> [f64; 3] {
        std::array::from_fn(|axis| {
            let squares = self.only(source).into_iter();
            squares
                .map(|contribution| contribution.by[axis].powi(2))
                .sum::<f64>()
                .sqrt()
        })
    }

    /// ΔE00 by which independent contributions and a spread of the aim change the colour, root mean square, to first order.
    fn delta_e_of(&self, contributions: &[Contribution], aim_spread: [f64; 3]) -> f64 {
        let [l, a, b] = aim_spread;
        let of_the_aim = [[l, 0.0, 0.0], [0.0, a, 0.0], [0.0, 0.0, b]];
        let steps = contributions
            .iter()
            .map(|contribution| contribution.by)
            .chain(of_the_aim);
        let apart = |[l, a, b]: [f64; 3]| {
            let Lab {
                l: l0,
                a: a0,
                b: b0,
                ..
            } = self.lab;
            delta_e_2000(self.lab, Lab::new(l0 + l, a0 + a, b0 + b))
        };
        steps.map(|step| apart(step).powi(2)).sum::<f64>().sqrt()
    }
}

impl Casting<'_> {
    /// The budget of `prediction`, which is this casting's with all doubts; its next_step too where `with_next_step`.
    pub(crate) fn budget(
        &self,
        prediction: &Prediction,
        weights: &TristimulusWeights,
        bullseye: &Bullseye<'_>,
        with_next_step: bool,
    ) -> Budget {
        let Bullseye {
            aim,
            tolerance,
            target,
        } = *bullseye;
        let chances = Chances::of(prediction);
        let mut budget = prediction.budget_by(&chances, tolerance, aim, target.spread);
        if !with_next_step {
            return budget;
        }
        let acts = self.acts(prediction, weights, target).into_iter();
        let mut acts: Vec<(Act, Prediction, [f64; 3], f64)> = acts
            .map(
                |(
                    act,
                    After {
                        contributions,
                        aim_spread,
                    },
                )| {
                    let then = Prediction {
                        contributions,
                        ..prediction.clone()
                    };
                    let delta_e = then.delta_e_of(&then.contributions, aim_spread);
                    (act, then, aim_spread, delta_e)
                },
            )
            .filter(|(.., delta_e)| *delta_e < budget.delta_e)
            .collect();
        acts.sort_by(|(.., one), (.., other)| one.total_cmp(other));
        acts.truncate(WEIGHED_UP);
        let next_steps: Vec<NextStep> = acts
            .into_iter()
            .map(|(act, then, aim_spread, delta_e)| NextStep {
                act,
                chance: chances.within(&then, tolerance, aim, aim_spread),
                delta_e,
            })
            .collect();
        let gains = |next_step: &&NextStep| next_step.chance >= budget.chance + WORTH_A_CHANCE;
        let by_chance = next_steps.iter().filter(gains);
        budget.best_next_step = by_chance
            .max_by(|one, other| one.chance.total_cmp(&other.chance))
            .or(next_steps.first())
            .cloned();
        budget
    }

    /// All that could be done, and what would be left in doubt.
    fn acts(
        &self,
        prediction: &Prediction,
        weights: &TristimulusWeights,
        target: &Target,
    ) -> Vec<(Act, After)> {
        let doubts = self.doubts();
        let as_it_is = After {
            contributions: prediction.contributions.clone(),
            aim_spread: target.spread,
        };
        // The contributions to a prediction stand in the order of its doubts, the model's own behind them.
        let scaled = |factor: &dyn Fn(&Doubt) -> f64| {
            let mut after = as_it_is.clone();
            for (doubt, contribution) in doubts.iter().zip(&mut after.contributions) {
                *contribution = contribution.scaled(factor(doubt));
            }
            after
        };
        let halved = |which: &dyn Fn(&Doubt) -> bool| {
            scaled(&|doubt| if which(doubt) { HALVED } else { 1.0 })
        };
        let mut acts = Vec::new();
        for pigment in self.pigments() {
            acts.extend(self.weighing(&pigment, scaled));
        }
        for (index, film) in self.films.iter().enumerate() {
            let act = Act::HoldThickness {
                sprayed: film.is_sprayed(),
                thickness: film.thickness,
                to: Millimetres(HALVED * film.thickness_sd.0),
            };
            acts.push((act, halved(&|doubt| *doubt == Doubt::Thickness(index))));
        }
        for material in self.materials() {
            // A chip of a stock tells of what it is made of.
            let told = self.curves_of(&material);
            let is_told = |doubt: &Doubt| told.iter().any(|one| doubt.is_of_curves_of(one));
            let mut after = halved(&is_told);
            for (doubt, contribution) in doubts.iter().zip(&mut after.contributions) {
                if let Doubt::JointDirection(index) = doubt {
                    for one in &told {
                        let own =
                            self.central_differences(weights, prediction.lab, |casting, sds| {
                                Doubt::taken(casting, *index, Some(one), sds)
                            });
                        let kept = 1.0 - HALVED;
                        contribution.by =
                            std::array::from_fn(|axis| contribution.by[axis] - kept * own.0[axis]);
                    }
                }
            }
            let more = self.shelf.is_calibrated(&material);
            acts.push((Act::CastChips { material, more }, after));
        }
        if let Some((name, foam)) = self.foam() {
            let cells = Doubt::Cells(name.clone());
            if doubts.contains(&cells) {
                acts.push((
                    Act::CastFoamChip { foam: name.clone() },
                    halved(&|doubt| *doubt == cells),
                ));
            }
            let rise = Doubt::Rise(name.clone());
            let to = (foam.expansion, HALVED * Foam::RISE_LN_SD * foam.expansion);
            acts.push((
                Act::HoldRise { foam: name, to },
                halved(&|doubt| *doubt == rise),
            ));
        }
        // A reader that was laid on in several places tells how a tone differs, which no better reading narrows.
        if target.instrument.kind != Some(InstrumentKind::Contact) {
            let mut after = as_it_is.clone();
            after.aim_spread = after.aim_spread.map(|sd| HALVED * sd);
            let read_by = target.instrument.kind;
            acts.push((Act::ReadTone { read_by }, after));
        }
        acts
    }

    /// Weighing `pigment` wherever it is dropped, on the coarsest scale that tells its mass twice as well as drops do.
    fn weighing(
        &self,
        pigment: &str,
        scaled: impl Fn(&dyn Fn(&Doubt) -> f64) -> After,
    ) -> Option<(Act, After)> {
        let dropped = |portion: &&Portion<'_>| {
            portion.pigment.name == pigment && matches!(portion.amount, Amount::Drops(_))
        };
        let settings = &self.shelf.settings;
        let by_drop =
            |portion: &Portion<'_>| portion.mass_sd(settings).hypot(super::doubt::DROP_MASS_SD);
        let on_a_scale = |portion: &Portion<'_>, step: f64| step / 12.0_f64.sqrt() / portion.mass.0;
        let portions: Vec<&Portion<'_>> = self
            .cups()
            .flat_map(|cup| &cup.portions)
            .filter(dropped)
            .collect();
        let tells = |step: &f64| {
            portions
                .iter()
                .all(|portion| on_a_scale(portion, *step) <= HALVED * by_drop(portion))
        };
        let own = settings.scale_resolution.0;
        let mut steps =
            std::iter::once(own).chain(SCALE_STEPS_G.into_iter().filter(|step| *step < own));
        let step = steps.find(tells).filter(|_| !portions.is_empty())?;
        let factor = |doubt: &Doubt| match doubt {
            Doubt::DropMass(name) if name == pigment => 0.0,
            Doubt::Portion { cup, portion } => {
                let cup = self.cups().nth(*cup);
                let cup = cup.expect("doubts are listed from the casting's own cups");
                let poured = &cup.portions[*portion];
                if dropped(&poured) && poured.mass_sd(settings) > 0.0 {
                    on_a_scale(poured, step) / poured.mass_sd(settings)
                } else {
                    1.0
                }
            }
            _ => 1.0,
        };
        let act = Act::Weigh {
            pigment: pigment.to_owned(),
            step: Grams(step),
        };
        Some((act, scaled(&factor)))
    }
}

/// What an act leaves in doubt.
#[derive(Clone, Debug)]
struct After {
    contributions: Vec<Contribution>,
    aim_spread: [f64; 3],
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;
    use crate::colour::{Spectrum, Viewing};
    use crate::forecast::Doubts;
    use crate::materials::fixtures::{chip, shelf};
    use crate::materials::{CoefficientSpread, JointDirection, Shelf, Step};

    /// A shelf that knows its curves for certain, and a hand that brushes alike.
    fn certain() -> Shelf {
        let mut shelf = shelf();
        for pigment in &mut shelf.pigments {
            pigment.spread = CoefficientSpread::NONE;
        }
        shelf.settings.thickness_sd = Millimetres(0.001);
        shelf
    }

    fn budget_of(shelf: &Shelf, mix: &str) -> Budget {
        let weights = shelf.settings.viewing.weights();
        let casting = Casting::new(shelf, &chip(mix)).expect("sound");
        let predicted = casting.predict(&weights, Doubts::All);
        let target = Target::from_lab(Lab::new(65.0, 12.0, 15.0), Viewing::D65_10).expect("skin");
        let bullseye = Bullseye {
            aim: predicted.lab,
            tolerance: 1.0,
            target: &target,
        };
        casting.budget(&predicted, &weights, &bullseye, true)
    }

    #[test]
    fn where_drops_are_in_doubt_the_one_that_matters_is_weighed() {
        let budget = budget_of(&certain(), "red 2; white 30");
        let next_step = budget.best_next_step.expect("a next step");
        // Red, at 0.06 g of which a drop scatters by 8 % / √2 and today's mean by 5 %, on a scale that shows 0.01 g rounds
        // by 0.01 / √12 / 0.06 = 4.8 %, more than half of 7.5 %; 0.001 g does.
        assert_eq!(
            next_step.act,
            Act::Weigh {
                pigment: "red".to_owned(),
                step: Grams(0.001)
            },
            "red moves more than white"
        );
        assert!(next_step.chance > budget.chance, "more of them land");
    }

    #[test]
    fn where_a_calibration_left_something_more_chips_of_that_are_cast() {
        let mut shelf = certain();
        shelf.joint_directions = vec![JointDirection {
            steps: vec![Step {
                material: Material::Pigment("white".to_owned()),
                ln_k: Spectrum::constant(0.0),
                ln_s: Spectrum::constant(0.6),
                foam: None,
            }],
        }];
        let budget = budget_of(&shelf, "red 2; white 30");
        let next_step = budget.best_next_step.expect("a next step");
        assert_eq!(
            next_step.act,
            Act::CastChips {
                material: Material::Pigment("white".to_owned()),
                more: true
            },
            "the white's strength"
        );
    }

    #[test]
    fn without_any_part_a_chance_is_no_smaller_and_parts_add_up() {
        let budget = budget_of(&shelf(), "red 2; white 30; fibre 2 g");
        let squares: f64 = budget.lines.iter().map(|line| line.delta_e.powi(2)).sum();
        assert_abs_diff_eq!(squares.sqrt(), budget.delta_e, epsilon = 1e-9);
        for line in &budget.lines {
            assert!(line.chance_without >= budget.chance - 0.01, "{line:?}");
        }
    }

    #[test]
    fn independent_spreads_add_by_their_squares() {
        // The variance of a sum of independent things is the sum of theirs.
        let shelf = shelf();
        let weights = shelf.settings.viewing.weights();
        let mix = "red 2; white 30; fibre 2 g";
        let casting = Casting::new(&shelf, &chip(mix)).expect("sound");
        let whole = casting.predict(&weights, Doubts::All).spread();
        let lines = budget_of(&shelf, mix).lines;
        for (axis, whole) in whole.into_iter().enumerate() {
            let squares: f64 = lines.iter().map(|line| line.spread[axis].powi(2)).sum();
            assert_abs_diff_eq!(squares.sqrt(), whole, epsilon = 1e-9);
        }
    }

    #[test]
    fn a_budget_is_what_castings_of_so_much_more_are_off_by() {
        // Of all that hands do, the mean mass of a drop alone is in doubt, by 5 %: as if 5 % more drops had been poured.
        let mut shelf = certain();
        shelf.settings.model = crate::optics::Model::Transport;
        shelf.settings.drop_sd = 0.0;
        shelf.settings.thickness_sd = Millimetres(0.0);
        let weights = shelf.settings.viewing.weights();
        let lab_of = |mix: &str| {
            let casting = Casting::new(&shelf, &chip(mix)).expect("sound");
            weights.lab(&casting.reading())
        };
        let poured = lab_of("red 4; white 3");
        let casting = Casting::new(&shelf, &chip("red 4")).expect("sound");
        let [l, a, b] = casting.model_spread();
        let Lab {
            l: l0,
            a: a0,
            b: b0,
            ..
        } = poured;
        // More and less differ a little.
        let mean = |[one, other]: [Lab; 2]| {
            f64::midpoint(delta_e_2000(poured, one), delta_e_2000(poured, other))
        };
        let off = [
            mean(["red 4.2; white 3", "red 3.8; white 3"].map(lab_of)),
            mean(["red 4; white 3.15", "red 4; white 2.85"].map(lab_of)),
            mean([Lab::new(l0 + l, a0, b0), Lab::new(l0 - l, a0, b0)]),
            mean([Lab::new(l0, a0 + a, b0), Lab::new(l0, a0 - a, b0)]),
            mean([Lab::new(l0, a0, b0 + b), Lab::new(l0, a0, b0 - b)]),
        ];
        let squares = off.map(|delta_e| delta_e.powi(2));
        let budget = budget_of(&shelf, "red 4; white 3");
        let expected = squares.iter().sum::<f64>().sqrt();
        assert_abs_diff_eq!(budget.delta_e, expected, epsilon = 0.01 * expected);
    }

    #[test]
    fn a_contribution_moves_the_colour_by_the_difference_of_the_published_pair_that_it_spans() {
        // Pairs 25 and 34 of G. Sharma, W. Wu, E. N. Dalal (2005), Color Research and Application 30, 21–30, table 1.
        let pairs = [
            (
                [60.2574, -34.0099, 36.2677],
                [60.4626, -34.1751, 39.4387],
                1.2644,
            ),
            (
                [2.0776, 0.0795, -1.1350],
                [0.9033, -0.0636, -0.5514],
                0.9082,
            ),
        ];
        let shelf = shelf();
        let weights = shelf.settings.viewing.weights();
        let casting = Casting::new(&shelf, &chip("red 2; white 30")).expect("sound");
        for ([l, a, b], to, delta_e) in pairs {
            let mut predicted = casting.predict(&weights, Doubts::All);
            predicted.lab = Lab::new(l, a, b);
            let contribution = Contribution {
                by: [to[0] - l, to[1] - a, to[2] - b],
                ..predicted.contributions[0]
            };
            let found = predicted.delta_e_of(&[contribution], [0.0; 3]);
            assert_abs_diff_eq!(found, delta_e, epsilon = 5e-5);
        }
    }

    #[test]
    fn where_nothing_is_in_doubt_that_could_be_mended_no_step_is_next() {
        let mut shelf = certain();
        for base in &mut shelf.bases {
            base.spread = CoefficientSpread::NONE;
        }
        shelf.settings.thickness_sd = Millimetres(0.0);
        let budget = budget_of(&shelf, "red 0.2 g; white 2 g");
        assert_eq!(budget.best_next_step, None, "{:?}", budget.lines);
    }

    #[test]
    fn chips_of_one_material_halve_its_own_share_of_what_a_calibration_left() {
        let step = |name: &str| Step {
            material: Material::Pigment(name.to_owned()),
            ln_k: Spectrum::constant(0.0),
            ln_s: Spectrum::constant(0.1),
            foam: None,
        };
        // L* by the first joint direction of those that `steps` make, and what is left of it by chips of white.
        let of = |steps: Vec<Step>| {
            let mut shelf = certain();
            shelf.joint_directions = vec![JointDirection { steps }];
            let weights = shelf.settings.viewing.weights();
            let casting = Casting::new(&shelf, &chip("red 2; white 3")).expect("sound");
            let predicted = casting.predict(&weights, Doubts::All);
            let target =
                Target::from_lab(Lab::new(65.0, 12.0, 15.0), Viewing::D65_10).expect("skin");
            let index = (casting.doubts().iter())
                .position(|doubt| matches!(doubt, Doubt::JointDirection(0)))
                .expect("it is in doubt");
            let white = Material::Pigment("white".to_owned());
            let acts = casting.acts(&predicted, &weights, &target).into_iter();
            let after = acts
                .filter(
                    |(act, _)| matches!(act, Act::CastChips { material, .. } if *material == white),
                )
                .map(|(_, after)| after.contributions[index].by[0])
                .next()
                .expect("white can be cast");
            (predicted.contributions[index].by[0], after)
        };
        let (white, _) = of(vec![step("white")]);
        let (both, left) = of(vec![step("red"), step("white")]);
        assert!(white.abs() > 0.1, "white's own share: {white}");
        assert!(
            (both - white).abs() > 0.01,
            "red has some, too: {both} {white}"
        );
        assert_abs_diff_eq!(left, both - white / 2.0, epsilon = 0.02 * white.abs());
    }
}
