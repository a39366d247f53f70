//! A pour as steps of one dose each, in the order of the hands: what is read on one screen at arm's length.

use maud::{Markup, html};

use crate::batch::{AtOnce, Dose, JarUse, Measure, Moment, Parts, Pour, Stage};
use crate::jobs::matching::{FilledCup, Matched};
use crate::report::pieces::{capital, is_fibre, put_on, stirred, what_for};

/// What the hands do.
#[derive(Clone, Debug, PartialEq)]
enum Act {
    /// What is counted, drop by drop.
    Count(u32),
    /// What is weighed or measured, with its unit.
    Measure(f64, &'static str),
    /// Part A, which starts a clock of this name with these moments.
    Start(f64, &'static str, String, Vec<Moment>),
    /// Anything else: it is said in words.
    Do,
}

/// One step.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Step {
    /// The cup and pot that it is of.
    of: String,
    act: Act,
    /// What is counted, weighed or done.
    what: String,
    /// What is good to know at that moment.
    besides: Vec<String>,
}

/// The steps of `matched`, all pots one after the other.
pub(super) fn steps(matched: &Matched) -> Vec<Step> {
    let mut steps = Vec::new();
    let step = |of: &str, act, what: String, besides| Step {
        of: of.to_owned(),
        act,
        what,
        besides,
    };
    if let Some(tint) = &matched.one_tint {
        let (lines, rule) = stirred(tint);
        let besides = lines.into_iter().chain([rule]).collect();
        let what = format!("{}: {}", capital(&tint.stock.name), what_for(tint));
        steps.push(step("Before the clock", Act::Do, what, besides));
    }
    let mut is_ruled = false;
    for jar in JarUse::to_stir(matched.cups().map(|cup| &cup.pour)) {
        let (ratio, base) = (jar.ratio, &jar.base);
        let (what, besides) = if jar.new {
            let what = format!(
                "{} 1:{ratio}: stir {} g of it into {} g clear",
                jar.pigment, jar.pigment_g, jar.base_g
            );
            let rule = "Clear is part B, never part A, which sets with the damp of the air. Shake it before you drop it.";
            // It is read once, before the first of them.
            let rule = (!std::mem::replace(&mut is_ruled, true)).then(|| rule.to_owned());
            (
                what,
                std::iter::once(format!("For {base}."))
                    .chain(rule)
                    .collect(),
            )
        } else {
            let what = format!("Take the jar of {} 1:{ratio} off the shelf", jar.pigment);
            (what, vec![format!("For {base}. Shake it.")])
        };
        steps.push(step("Before the clock", Act::Do, what, besides));
    }
    for cup in matched.cups() {
        if let Some(at_once) = &cup.pour.at_once {
            tint_at_once(&mut steps, cup, at_once);
        }
        match &cup.unlike {
            Some(unlike) => {
                let pots = unlike.pots.len();
                for (index, pot) in unlike.pots.iter().enumerate() {
                    let numbered = (index + 1, pots);
                    pot_steps(&mut steps, cup, numbered, (pot.parts, &pot.doses));
                }
            }
            None => {
                let pots = cup.pour.pots as usize;
                for pot in 1..=pots {
                    let holds = (cup.pour.parts, &*cup.pour.doses);
                    pot_steps(&mut steps, cup, (pot, pots), holds);
                }
            }
        }
    }
    steps
}

/// Part B of all pots of `cup`, tinted together while no clock runs.
fn tint_at_once(steps: &mut Vec<Step>, cup: &FilledCup, at_once: &AtOnce) {
    let (layer, pots) = (capital(&cup.layer.to_string()), cup.pour.pots);
    let mut add = |act, what: String, besides: Option<String>| {
        steps.push(Step {
            of: format!("{layer}, part B of all {pots} pots"),
            act,
            what,
            besides: besides.into_iter().collect(),
        });
    };
    let part_b = format!("part B of {}", cup.pour.base);
    let no_hurry = "All pots at once. No clock runs.";
    let no_hurry = Some(no_hurry.to_owned());
    add(Act::Measure(at_once.part_b_g, "g"), part_b, no_hurry);
    for dose in &at_once.doses {
        add(measured(dose), dose.colorant.to_string(), weighs(dose));
    }
    let stir = "Stir until no streak is left; scrape sides and bottom".to_owned();
    let read = "Read it and put it right before any of it meets part A. Stir again before each share is taken.";
    add(Act::Do, stir, Some(read.to_owned()));
}

/// How `dose` is measured out.
fn measured(dose: &Dose) -> Act {
    match dose.measure {
        Measure::Drops(count) => Act::Count(count),
        Measure::MassG(mass) => Act::Measure(mass, "g"),
    }
}

/// What counted drops weigh.
fn weighs(dose: &Dose) -> Option<String> {
    matches!(dose.measure, Measure::Drops(_)).then(|| format!("about {:.2} g", dose.weighs_g))
}

/// The steps of drops to be added to a cup on the bench.
pub(super) fn added(of: &str, doses: impl IntoIterator<Item = (String, u32)>) -> Vec<Step> {
    let doses = doses.into_iter();
    doses
        .map(|(what, count)| Step {
            of: of.to_owned(),
            act: Act::Count(count),
            what,
            besides: Vec::new(),
        })
        .collect()
}

/// One pot of `cup`, of so many, which holds these parts of its base and these doses.
fn pot_steps(
    steps: &mut Vec<Step>,
    cup: &FilledCup,
    (pot, pots): (usize, usize),
    (parts, doses): (Parts, &[Dose]),
) {
    let pour: &Pour = &cup.pour;
    let layer = capital(&cup.layer.to_string());
    let of = match pots {
        1 => layer,
        pots => format!("{layer}, pot {pot} of {pots}"),
    };
    let clock = format!("{} {pot}", cup.layer);
    let mut add = |act, what: String, besides| {
        steps.push(Step {
            of: of.clone(),
            act,
            what,
            besides,
        });
    };
    let part_b = format!("part B of {}", pour.base);
    match (&pour.at_once, parts) {
        (Some(at_once), _) => add(
            Act::Measure(at_once.share_g, "g"),
            format!("the tinted {part_b}"),
            Vec::new(),
        ),
        (None, Parts::Single {}) => add(
            Act::Measure(pour.base_g, "g"),
            pour.base.clone(),
            Vec::new(),
        ),
        (None, Parts::Weighed { part_b_g, .. }) => {
            add(Act::Measure(part_b_g, "g"), part_b, Vec::new());
        }
        (None, Parts::ByVolume { part_b_ml, .. }) => {
            add(Act::Measure(part_b_ml, "ml"), part_b, Vec::new());
        }
    }
    // Fibre goes in last of what is stirred into part B.
    let (fibre, doses): (Vec<&Dose>, Vec<&Dose>) = doses.iter().partition(|dose| is_fibre(dose));
    // Of pots that were tinted at once the share holds all but the fibre.
    let doses = doses.into_iter().filter(|_| pour.at_once.is_none());
    for dose in doses.chain(fibre) {
        let besides = weighs(dose).into_iter().collect();
        add(measured(dose), dose.colorant.to_string(), besides);
    }
    let stir = "Stir until no streak is left; scrape sides and bottom.".to_owned();
    let then = format!("Then: {}.", put_on(cup));
    let part_a = |mass, unit| Act::Start(mass, unit, clock.clone(), pour.timeline.clone());
    let first = "Stir part B before; the clock starts when part A goes in.".to_owned();
    match parts {
        Parts::Single {} if pour.timeline.is_empty() => {
            add(Act::Do, "Stir".to_owned(), vec![stir, then]);
        }
        Parts::Single {} => {
            let act = Act::Start(0.0, "", clock.clone(), pour.timeline.clone());
            add(act, "Stir".to_owned(), vec![stir, then]);
        }
        Parts::Weighed { part_a_g, .. } => {
            let part_a_g = (pour.at_once.as_ref()).map_or(part_a_g, |at_once| at_once.part_a_g);
            add(
                part_a(part_a_g, "g"),
                "part A, last".to_owned(),
                vec![first, stir, then],
            );
        }
        Parts::ByVolume { part_a_ml, .. } => {
            add(
                part_a(part_a_ml, "ml"),
                "part A, last".to_owned(),
                vec![first, stir, then],
            );
        }
    }
    for warning in &pour.warnings {
        if let Some(last) = steps.last_mut() {
            last.besides.push(format!("{}.", capital(warning)));
        }
    }
}

/// What is to be done by so many minutes, in few words.
pub(super) fn stage_words(stage: Stage) -> &'static str {
    match stage {
        Stage::UsedUp => "use it up",
        Stage::Gelled => "it gels",
        Stage::Open => "open the mould",
    }
}

/// `8|use it up;240|open the mould`: a clock's stages as the script reads them.
pub(super) fn stages(timeline: &[Moment]) -> String {
    let stages = timeline.iter();
    let stages: Vec<String> = stages
        .map(|moment| format!("{}|{}", moment.minutes, stage_words(moment.stage)))
        .collect();
    stages.join(";")
}

/// Steps as a list, which the script shows one by one.
pub(super) fn list(steps: &[Step]) -> Markup {
    let mut of = "";
    let rows: Vec<(bool, &Step)> = (steps.iter())
        .map(|step| {
            let is_first = step.of != of;
            of = &step.of;
            (is_first, step)
        })
        .collect();
    html! {
        ol.steps #steps {
            @for (index, (is_first, step)) in rows.into_iter().enumerate() {
                @match &step.act {
                    Act::Count(count) => {
                        li.step.head[is_first] data-step=(index) data-act="count" data-count=(count) { (within(step)) }
                    }
                    Act::Start(_, _, clock, timeline) => {
                        li.step.head[is_first] data-step=(index) data-act="start" data-clock=(clock) data-stages=(stages(timeline)) { (within(step)) }
                    }
                    Act::Measure(..) => { li.step.head[is_first] data-step=(index) data-act="measure" { (within(step)) } }
                    Act::Do => { li.step.head[is_first] data-step=(index) data-act="do" { (within(step)) } }
                }
            }
        }
    }
}

fn within(step: &Step) -> Markup {
    let amount = match &step.act {
        Act::Count(1) => Some(("1".to_owned(), "drop")),
        Act::Count(count) => Some((count.to_string(), "drops")),
        Act::Measure(amount, unit) => Some((amount.to_string(), *unit)),
        Act::Start(amount, unit, ..) if *amount > 0.0 => Some((amount.to_string(), *unit)),
        Act::Start(..) | Act::Do => None,
    };
    html! {
        p.of { (step.of) }
        @if let Some((amount, unit)) = amount { p.amount { b { (amount) } " " (unit) } }
        p.what { (step.what) }
        @for one in &step.besides { p.besides { (one) } }
        @if let Act::Start(_, _, _, timeline) = &step.act {
            @for moment in timeline { p.besides { b { (moment.minutes) " min" } " " (moment.what) } }
        }
    }
}

/// The bench: one step over the whole screen, with the pad that counts. The script fills it; without one the list is read.
pub(super) fn bench() -> Markup {
    html! {
        section #bench .bench hidden aria-label="One step at a time" {
            div.bench-top {
                button type="button" #bench-list .plain { "All steps" }
                p #bench-at {}
            }
            div #bench-step .bench-step tabindex="0" role="group" aria-label="This step" {}
            div #bench-pips .pips aria-hidden="true" {}
            div.bench-hand {
                button type="button" #bench-pad .pad {}
                button type="button" #bench-undo .plain { "Take one back" }
                button type="button" #bench-back .plain { "Back" }
                button type="button" #bench-next { "Next" }
            }
        }
    }
}
