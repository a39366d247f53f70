//! The mix sheet: one HTML file, with nothing outside it, that prints on A5 paper.
//!
//! It is read at a bench with gloves on: what to do stands in tickets with boxes to tick, and what to know before or after it
//! stands apart. It needs no network and no script.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::batch::all_pots;
use super::cautions::{Caution, cautions};
use super::colours::steps;
use super::let_downs::{self, LetDowns};
use super::numbers::{signed, tenths};
use super::part::remarks;
use super::part_report::{PartReport, aims_at, applied};
use super::prospects::{THICKNESS_HEADS, THICKNESS_RULE, thickness_row};
use super::reach::verdict;
use super::{budget, one_tint};
use crate::batch::{Dose, Measure, Parts, Pour};
use crate::colour::{Lab, to_srgb};
use crate::forecast::Pair;
use crate::jobs::matching::FilledCup;
use crate::recipe::{OneTint, Prospects};
use crate::tone::ToneRole;

/// Looks of the sheet: A5 paper, black on white, legible at an arm's length.
const STYLE: &str = include_str!("sheet.css");

/// The sheet for a part: what to make and to know before the clock starts, a ticket for each cup, what to do after, how
/// sure all that is, and the cautions.
pub fn part(report: &PartReport<'_>) -> String {
    let dangers = cautions(report.matched.cups().map(|cup| &cup.pour));
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (report.title) " – mix sheet" }
                style { (PreEscaped(STYLE)) }
            }
            body {
                header {
                    h1 { (report.title) }
                    p { (report.matched.day) " · " (report.matched.book) }
                }
                p.care {
                    b { "Gloves, goggles, fresh air. " }
                    "Each material's safety sheet and your local code come first; see the last page for "
                    @for (place, caution) in dangers.iter().skip(1).enumerate() {
                        @if place > 0 { ", " } (caution.danger)
                    }
                    "."
                }
                (target(report))
                @if let Some(one_tint) = &report.matched.one_tint { (stirred(one_tint)) }
                (called_for(report))
                (thicknesses(&report.matched.prospects))
                @for (place, (cup, said)) in remarks(report).into_iter().enumerate() {
                    (ticket(place + 1, cup, &said))
                }
                (after(report))
                (sure(report))
                (care(&dangers))
            }
        }
    }
    .into_string()
}

/// What is done when the casting is out of the mould: reading it, and the commands that log it.
fn after(report: &PartReport<'_>) -> Markup {
    html! {
        section.after {
            h2 { "Out of the mould" }
            p {
                "Lay it beside the reference in the light where it will be seen, and look. Then read it and "
                "log it: what was measured teaches the next cup."
            }
            p.blanks {
                span { "thickness " (blank()) " mm" }
                @for axis in ["L*", "a*", "b*"] { span { (axis) " " (blank()) } }
                span.wide { "looks " (blank()) }
            }
            pre { (report.commands.log) }
            @if !report.commands.take.is_empty() {
                p { (let_downs::TAKEN) }
                @for command in &report.commands.take { pre { (command) } }
            }
            @if !report.commands.repeat.is_empty() {
                p { (one_tint::AT_ANOTHER_SIZE) }
                @for command in &report.commands.repeat { pre { (command) } }
            }
        }
    }
}

/// How sure every cup is, and what the numbers and patches of the sheet are good for.
fn sure(report: &PartReport<'_>) -> Markup {
    html! {
        section.sure {
            h2 { "How sure it is" }
            @for cup in report.matched.cups() { (how_sure(cup)) }
            p.figures {
                "Colours on paper and screen only hint at the real ones. ± is one standard deviation. "
                "Predicted with the curves in this book; a generic curve is a guess until a swatch was cast."
            }
        }
    }
}

/// The cautions in full, each with what is usually done; they end the sheet, and its head points here.
fn care(dangers: &[Caution]) -> Markup {
    html! {
        section.cautions {
            h2 { "Care" }
            dl {
                @for caution in dangers {
                    div {
                        dt { (caution.danger) }
                        dd { (caution.usual) }
                    }
                }
            }
        }
    }
}

/// The target, and how the part stands against its tolerance.
fn target(report: &PartReport<'_>) -> Markup {
    let target = &report.matched.target;
    let standing = if report.matched.passes() { "" } else { "fails" };
    html! {
        section.target {
            (swatch(target.lab, "target"))
            div {
                p {
                    b { "Target " } (numbers(target.lab)) ", " (target.viewing)
                    @if target.spread != [0.0; 3] { " (" (spread(target.spread)) ")" }
                    @if let Some(angle) = target.skin_angle() {
                        "; skin-tone angle " (format!("{:.0}", angle.degrees())) "°, " (angle.class())
                    }
                    @if let Some(flush) = target.tone(ToneRole::Flush) {
                        "; flush " (numbers(flush.lab))
                    }
                }
                p class=(standing) { (verdict(report)) }
                @for note in report.notes() { p.note { (note) } }
            }
        }
    }
}

/// The stock that tints skin and foam, and what it costs.
fn stirred(one_tint: &OneTint) -> Markup {
    let (lines, rule) = one_tint::stirred(one_tint);
    html! {
        section.ticket {
            h2 { "Before you start: " (one_tint.stock.name) }
            p.stir { b { (one_tint::what_for(one_tint)) } }
            ul.stir { @for line in &lines { li { "☐ " (line) } } }
            p.figures { (rule) }
            @for cost in one_tint::costs(one_tint) { p.figures { (sentence(&cost)) } }
        }
    }
}

/// What is made before the clock starts; nothing where no cup calls for it.
fn called_for(report: &PartReport<'_>) -> Markup {
    let of_cups: Vec<LetDowns> = report
        .matched
        .cups()
        .filter_map(|cup| LetDowns::of_pour(&cup.layer.to_string(), &cup.pour))
        .collect();
    html! {
        @if !of_cups.is_empty() {
            section.ticket {
                h2 { "Before you start: let-downs" }
                @for of_cup in &of_cups {
                    p.stir { b { "For the " (of_cup.stirred_into) } }
                    ul.stir { @for line in of_cup.lines() { li { "☐ " (line) } } }
                }
                p.figures { (let_downs::rule(&of_cups)) }
            }
        }
    }
}

/// What is done at the bench for one cup, and nothing else: the `step`th ticket, with what is `said` of the cup besides, a sentence
/// each without capital and full stop. Its last line is written on by hand.
fn ticket(step: usize, cup: &FilledCup, said: &[String]) -> Markup {
    let FilledCup {
        layer,
        recipe,
        pour,
        application,
    } = cup;
    let best = recipe.best();
    let made = &best.prediction;
    html! {
        section.ticket {
            div.head {
                div {
                    h2 { (step) ". " (layer.to_string()) ": " (pour.base) }
                    p.apply { (applied(*application)) }
                    @if pour.pots > 1 { p.apply { (pour.pots) " pots of this, one after the other: a box for each" } }
                }
                div.colours {
                    (swatch(recipe.aim, "aim"))
                    (swatch(made.lab, "comes out"))
                    @if let Some(liquid) = best.before_rise { (swatch(liquid, "in the cup")) }
                }
            }
            table.doses { (rows(pour)) }
            @for warning in &pour.warnings { p.fails { (warning) } }
            @if !pour.timeline.is_empty() {
                ul.clock {
                    @for moment in &pour.timeline { li { b { (moment.minutes) " min " } (moment.what) } }
                }
            }
            p.figures {
                "Comes out " (numbers(made.lab)) " (" (spread(made.spread())) "), ΔE00 " (format!("{:.2}", best.delta_e))
                " off its aim."
                @if let Some(in_all) = &pour.in_all { " " (sentence(&all_pots(in_all))) }
            }
            @for one in said { p.figures { (sentence(one)) } }
            p.blanks {
                @for pot in 1..=pour.pots {
                    span { @if pour.pots > 1 { "pot " (pot) " " } "begun " (blank()) }
                }
                span { "room " (blank()) " °C" }
                span.wide { "lots " (blank()) }
            }
        }
    }
}

/// What is expected of one cup, and how sure that is: to be read before or after, not at the bench.
fn how_sure(cup: &FilledCup) -> Markup {
    let FilledCup { layer, recipe, .. } = cup;
    let best = recipe.best();
    let made = &best.prediction;
    let [dl, da, db] = steps(recipe.aim, made.lab);
    html! {
        h3 { (layer.to_string()) }
        p.figures {
            "Aimed at " (aims_at(*layer)) ": ΔL* " (signed(dl)) ", Δa* " (signed(da)) ", Δb* " (signed(db))
            "; contrast ratio " (format!("{:.2}", made.contrast_ratio)) ", TP "
            (format!("{:.1} (ΔE*ab)", made.translucency.tp_ab)) "."
            @if best.under.len() > 1 {
                @for pair in &best.under {
                    " Under " (pair.light) ": ΔE00 " (format!("{:.2}", pair.delta_e)) "."
                }
                @if let Some(worst) = Pair::worst(&best.under) {
                    " Look at it under " (worst.light) " above all."
                }
            }
        }
        p.figures { (sentence(&budget::in_doubt(&best.budget))) }
        @if let Some(next_step) = budget::best_next_step(&best.budget) { p.figures { b { (sentence(&next_step)) } } }
    }
}

/// The skin at other thicknesses.
fn thicknesses(prospects: &Prospects) -> Markup {
    html! {
        section.ticket {
            h2 { "Thicker or thinner" }
            table.thickness {
                tr { @for head in THICKNESS_HEADS { th { (head) } } }
                @for at in &prospects.at_thicknesses {
                    tr { @for cell in thickness_row(at) { td { (cell) } } }
                }
            }
            p.figures { (THICKNESS_RULE) }
        }
    }
}

/// `text` with a capital and a full stop.
fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(char::to_uppercase);
    let text: String = first.into_iter().flatten().chain(letters).collect();
    text + "."
}

/// Everything that goes into one pot, in the order that it goes in, each with its boxes to tick; part A stands last, since it
/// starts the clock.
fn rows(pour: &Pour) -> Markup {
    let amount = |amount: f64, unit: &str, what: &str| {
        html! { tr { (boxes(pour.pots)) td.mass { (amount) " " (unit) } td { (what) } } }
    };
    let doses = html! { @for dose in &pour.doses { (dose_row(dose, pour.pots)) } };
    let part_b = "part B, first";
    let part_a = "part A, last: the clock starts";
    match pour.parts {
        Parts::Single {} => html! { (amount(pour.base_g, "g", &pour.base)) (doses) },
        Parts::Weighed { part_a_g, part_b_g } => html! {
            (amount(part_b_g, "g", part_b)) (doses) (amount(part_a_g, "g", part_a))
        },
        Parts::ByVolume {
            part_a_ml,
            part_b_ml,
        } => html! {
            (amount(part_b_ml, "ml", part_b)) (doses) (amount(part_a_ml, "ml", part_a))
        },
    }
}

/// A row with a box to tick for each drop of a single pot, and for each of several pots.
fn dose_row(dose: &Dose, pots: u32) -> Markup {
    let Dose {
        colorant,
        measure,
        weighs_g,
        rounding,
    } = dose;
    html! {
        tr {
            @match measure {
                Measure::Drops(count) => {
                    (boxes(if pots > 1 { pots } else { *count }))
                    td.mass { (count) @if *count == 1 { " drop" } @else { " drops" } }
                }
                Measure::MassG(mass) => {
                    (boxes(pots))
                    td.mass { (mass) " g" }
                }
            }
            td {
                (colorant)
                @if let Measure::Drops(_) = measure { small { " ≈ " (format!("{weighs_g:.2}")) " g" } }
                @if rounding.abs() >= 0.005 { small { " (" (format!("{:+.0}", 100.0 * rounding)) " % by rounding)" } }
            }
        }
    }
}

/// `count` boxes to tick, five to a group, in a cell of their own.
fn boxes(count: u32) -> Markup {
    html! {
        td.tally { @for group in groups(count) { span { @for _ in 0..group { "☐" } } " " } }
    }
}

/// 13 as 5, 5, 3: a hand tallies in fives. None where `count` is 0.
fn groups(count: u32) -> impl Iterator<Item = u32> {
    (0..count.div_ceil(5)).map(move |group| (count - 5 * group).min(5))
}

/// A patch of colour over its `name`: the nearest sRGB, which paper and screen only hint at.
fn swatch(lab: Lab, name: &str) -> Markup {
    let [red, green, blue] = to_srgb(lab);
    html! {
        figure {
            div.patch style=(format!("background:#{red:02x}{green:02x}{blue:02x}")) {}
            figcaption { (name) }
        }
    }
}

/// `L* 66.2, a* 12.3, b* 16.8`
fn numbers(lab: Lab) -> String {
    let [l, a, b] = [lab.l, lab.a, lab.b].map(tenths);
    format!("L* {l:.1}, a* {a:.1}, b* {b:.1}")
}

/// `± 0.8, 0.4, 0.5`: one standard deviation of L*, a*, b*.
fn spread([l, a, b]: [f64; 3]) -> String {
    format!("± {l:.1}, {a:.1}, {b:.1}")
}

/// A line to write on.
fn blank() -> Markup {
    html! { span.blank {} }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn drops_are_tallied_in_fives() {
        assert_eq!(groups(13).collect::<Vec<_>>(), [5, 5, 3], "thirteen");
        assert_eq!(groups(0).count(), 0, "none");
    }
}
