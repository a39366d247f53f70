//! The mix sheet: one HTML file, with nothing outside it, that prints on A5 paper.
//!
//! It is read at a bench with gloves on: what to do stands in tickets with boxes to tick, and what to know before or after it
//! stands apart. It needs no network and no script.
//!
//! The skin's cup is on page 1, since its clock is the one that is missed. Amounts come before boxes and boxes are hidden from
//! screen readers; colours have names beside their patches, for a print in black and white. A box stands for a drop of one pot,
//! five to a group, so that a hand that was called away knows where it stopped. Lines are left for what no program knows: what a
//! jar weighs, the bag of fibre before and after, the reading.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::batch::{all_pots, off_the_recipe};
use super::cautions::{Caution, cautions};
use super::colours::{hides, in_plain_words, steps};
use super::numbers::{signed, tenths};
use super::part::remarks;
use super::part_report::{PartReport, applied};
use super::plot::ladder_picture;
use super::poured::is_fibre;
use super::reach::verdict;
use super::screen::missed;
use super::standing::says;
use super::text::capital;
use super::{budget, one_tint};
use crate::batch::{Dose, JarUse, Measure, Parts, Pour};
use crate::colour::{Lab, to_srgb};
use crate::error::Setting;
use crate::forecast::Pair;
use crate::jobs::matching::{FilledCup, Layer, Note};
use crate::jobs::plotting::Ladder;
use crate::materials::LetDown;
use crate::recipe::OneTint;
use crate::tone::ToneRole;

/// Looks of the sheet: A5 paper, black on white, legible at an arm's length.
const STYLE: &str = include_str!("sheet.css");

/// The sheet for a part: how it stands, what to stir first, a ticket for each cup, what to do after, how sure all that is,
/// and the cautions. Title, day and number stand on every page.
pub fn part(report: &PartReport<'_>, ladder: &[Ladder]) -> String {
    let dangers = cautions(report.matched.cups().map(|cup| &cup.pour));
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="generator" content="dropwise";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (report.title) " – mix sheet" }
                style { (PreEscaped(STYLE)) (PreEscaped(margins(report))) }
            }
            body {
                header {
                    h1 { (report.title) }
                    p { (report.matched.day) " · " (report.matched.book) }
                }
                main {
                    p.care {
                        b { "Gloves, goggles, fresh air. " }
                        "Each material's safety sheet and your local code come first; see the last page for "
                        @for (index, caution) in dangers.iter().skip(1).enumerate() {
                            @if index > 0 { ", " } (caution.danger)
                        }
                        "."
                    }
                    (target(report))
                    @if let Some(one_tint) = &report.matched.one_tint { (stirred(one_tint)) }
                    (called_for(report))
                    @for (index, (cup, said)) in remarks(report).into_iter().enumerate() {
                        (ticket(report, index + 1, cup, &said))
                    }
                    (drop_ladder(ladder))
                    (after(report))
                    (sure(report))
                    (care(&dangers))
                }
            }
        }
    }
    .into_string()
}

/// The margins of every printed page: title and day above, the page's number below.
fn margins(report: &PartReport<'_>) -> String {
    let head = css_string(&format!("{} · {}", report.title, report.matched.day));
    format!(
        "@page {{ @top-left {{ content: {head}; }} @bottom-right {{ content: \"page \" counter(page) \" of \" counter(pages); }} }}"
    )
}

/// `text` as a string of a style sheet: all but letters, digits and blanks by their numbers, so that nothing ends it.
fn css_string(text: &str) -> String {
    let escaped: String = (text.chars())
        .map(|letter| {
            if letter.is_alphanumeric() || letter == ' ' {
                letter.to_string()
            } else {
                format!("\\{:x} ", u32::from(letter))
            }
        })
        .collect();
    format!("\"{escaped}\"")
}

/// What comes out where a drop more or less went in: who slipped, or is asked for a little redder, sees by how much.
fn drop_ladder(ladder: &[Ladder]) -> Markup {
    html! {
        @if !ladder.is_empty() {
            section.ladder {
                h2 { "A drop more or less in the skin" }
                p.figures { "Framed: as it is written. Below each: drops in one pot, and ΔE00 to the aim." }
                (ladder_picture(ladder))
            }
        }
    }
}

/// What is done when the casting is out of the mould: reading it, and what logs it, if that is short.
fn after(report: &PartReport<'_>) -> Markup {
    /// More than this is not typed off paper.
    const SHORT: usize = 80;
    let log = &report.commands.log;
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
            @if log.chars().count() <= SHORT {
                pre { (log) }
            } @else {
                p.figures { "The command that logs it stands in the answer with its reasons (" ((report.naming)(Setting::Why)) ")." }
            }
            @if !report.commands.take.is_empty() {
                p.figures { "So do those that take what was used of the book's jars off it." }
            }
            @if !report.commands.repeat.is_empty() {
                p.figures { "And those that make it at another size." }
            }
        }
    }
}

/// How sure every cup is, and what the numbers and patches of the sheet are good for.
fn sure(report: &PartReport<'_>) -> Markup {
    html! {
        section.sure {
            h2 { "How sure it is" }
            @if !report.matched.passes() { p.figures { (verdict(report)) } }
            // That the materials are invented stands at the head.
            @for note in report.matched.notes.iter().filter(|note| **note != Note::Demo) {
                p.figures { (sentence(&report.worded(note))) }
            }
            @for (cup, said) in remarks(report) { (how_sure(cup, parted(report, cup, &said).1)) }
            @if let Some(next_step) = budget::best_next_step(&report.matched.skin.recipe.best().budget) {
                p.figures { b { (sentence(&next_step)) } }
            }
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
                p class=(standing) { (says(report.matched)) }
                @if report.matched.notes.contains(&Note::Demo) { p.note { "From the built-in demo book, whose materials are invented." } }
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
            ul.stir { @for line in &lines { li { span aria-hidden="true" { "☐ " } (line) } } }
            p.figures { (rule) }
            @for cost in one_tint::costs(one_tint) { p.figures { (sentence(&cost)) } }
        }
    }
}

/// What is stirred, or taken off the shelf, before the clock starts, each jar once, with lines for what it weighs and how
/// long it is good; nothing where no cup calls for it.
fn called_for(report: &PartReport<'_>) -> Markup {
    let matched = report.matched;
    let jars = JarUse::to_stir(matched.cups().map(|cup| &cup.pour));
    let last = LetDown::usual_end(matched.day);
    html! {
        @if !jars.is_empty() {
            section.ticket {
                h2 { "Before you start: jars of thinned pigment" }
                table.jars {
                    caption {
                        "1:20 is one part of the pigment in twenty, the rest clear base: stir it into part B, never into part A, "
                        "which sets with the damp of the air. Shake it, and drop it with the pigment's own dropper."
                    }
                    thead { tr { th scope="col" { "jar" } th scope="col" { "pigment + clear" } th scope="col" { "weighed" } th scope="col" { "good until about" } } }
                    tbody {
                        @for jar in &jars {
                            tr {
                                th scope="row" { (jar.pigment) " 1:" (jar.ratio) small { " " (jar.base) } }
                                @if jar.new {
                                    td { (jar.pigment_g) " + " (jar.base_g) " g" }
                                    td { (short_blank()) " + " (short_blank()) " g" }
                                    td { (last) }
                                } @else {
                                    td { "stands ready" }
                                    td { (short_blank()) " g left" }
                                    td { @if let Some(day) = jar.keeps_until { (day) } }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// What is done at the bench for one cup, and nothing else: the `step`th ticket, with what is `said` of the cup besides, a sentence
/// each without capital and full stop. Its last line is written on by hand.
fn ticket(report: &PartReport<'_>, step: usize, cup: &FilledCup, said: &[String]) -> Markup {
    let FilledCup {
        recipe,
        pour,
        application,
        ..
    } = cup;
    let (at_the_bench, _) = parted(report, cup, said);
    let best = recipe.best();
    let made = &best.prediction;
    html! {
        section.ticket {
            div.head {
                div {
                    h2 { (step) ". " (cup.name()) ": " (pour.base) }
                    p.apply { (applied(*application)) }
                    @if !report.matched.is_reached(cup) { p.fails { (capital(&missed(cup))) } }
                    @if pour.at_once.is_some() {
                        p.apply { "Tint part B of all " (pour.pots) " pots at once. No clock runs: read it and put it right, then divide it." }
                    } @else if let Some(unlike) = &cup.unlike {
                        p.apply {
                            (unlike.pots.len()) " pots, one after the other, not all of one size: at most ΔE00 "
                            (format!("{:.1}", unlike.apart)) " apart"
                        }
                    } @else if pour.pots > 1 {
                        p.apply { (pour.pots) " pots of this, one after the other" }
                    }
                }
                div.colours {
                    (swatch(recipe.aim, "aim"))
                    (swatch(made.lab, "comes out"))
                    @if let Some(liquid) = best.before_rise { (swatch(liquid, "in the cup")) }
                }
            }
            @match &cup.unlike {
                Some(unlike) => {
                    @for (index, pot) in unlike.pots.iter().enumerate() {
                        p.apply { "Pot " (index + 1) ", " (pot.poured.base_mass) }
                        table.doses {
                            caption.heard { "Pot " (index + 1) ", from top to bottom" }
                            (pot_rows((pot.parts, &pot.doses), (pot.poured.base_mass.0, &pour.base), 1))
                        }
                    }
                }
                None => {
                    table.doses {
                        caption.heard { "One pot, from top to bottom" }
                        (rows(pour))
                    }
                }
            }
            @if cup.layer == Layer::Skin && pour.parts != (Parts::Single {}) {
                p.figures { "Keep a tenth of the tinted part B back, closed: a bare spot within the hour gets the same colour." }
            }
            @if let Some(off) = off_the_recipe(cup.off_recipe).filter(|_| cup.unlike.is_none()) { p.figures { (sentence(&off)) } }
            @for warning in &pour.warnings { p.fails { (warning) } }
            @if !pour.timeline.is_empty() {
                ul.clock {
                    @for moment in &pour.timeline { li { b { (moment.minutes) " min " } (moment.what) } }
                }
            }
            @if let Some(in_all) = pour.in_all.as_ref().filter(|_| pour.at_once.is_none() && cup.unlike.is_none()) { p.figures { (sentence(&all_pots(in_all))) } }
            @if !at_the_bench.is_empty() {
                p.figures { @for one in at_the_bench { (sentence(one)) " " } }
            }
            p.blanks {
                @let pots = cup.unlike.as_ref().map_or(pour.pots as usize, |unlike| unlike.pots.len());
                @for pot in 1..=pots {
                    span { @if pots > 1 { "pot " (pot) " " } "begun " (blank()) }
                }
                span { "room " (blank()) " °C" }
                span.wide { "lots " (blank()) }
            }
        }
    }
}

/// What is expected of one cup, what is `said` of it that is of no use at the bench, and how sure all that is.
fn how_sure(cup: &FilledCup, said: &[String]) -> Markup {
    let recipe = &cup.recipe;
    let best = recipe.best();
    let made = &best.prediction;
    let [dl, da, db] = steps(recipe.aim, made.lab);
    html! {
        p.figures {
            b { (capital(&cup.name())) ": " }
            "comes out " (numbers(made.lab)) " (" (spread(made.spread())) "), ΔE00 " (format!("{:.2}", best.delta_e))
            " off its aim (ΔL* " (signed(dl)) ", Δa* " (signed(da)) ", Δb* " (signed(db)) "), "
            (hides(made.contrast_ratio)) "."
            @if best.under.len() > 1 {
                @for pair in &best.under {
                    " Under " (pair.light) ": ΔE00 " (format!("{:.2}", pair.delta_e)) "."
                }
                @if let Some(worst) = Pair::worst(&best.under) {
                    " Look at it under " (worst.light) " above all."
                }
            }
            @for one in said { " " (sentence(one)) }
            " " (sentence(&budget::in_doubt(&best.budget)))
        }
    }
}

/// What is `said` of a cup besides, parted in what is done at the bench (how thin a skin may be, in how many coats a paint goes
/// on) and what is not (how a paint misses, which is said first; what foaming does).
fn parted<'a>(
    report: &PartReport<'_>,
    cup: &FilledCup,
    said: &'a [String],
) -> (&'a [String], &'a [String]) {
    let besides = match cup.layer {
        Layer::Skin => 0,
        Layer::Foam { .. } => said.len(),
        Layer::Paint(_) => usize::from(!report.matched.is_reached(cup)),
    };
    let (besides, at_the_bench) = said.split_at(besides);
    (at_the_bench, besides)
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
    let amount = |amount: f64, unit: &str, what: &str| amount_row((amount, unit), what, pour.pots);
    if let Some(at_once) = &pour.at_once {
        let fibre = pour.doses.iter().filter(|dose| is_fibre(dose));
        return html! {
            (amount_row((at_once.part_b_g, "g"), "part B of all pots, first", 1))
            @for dose in &at_once.doses { (dose_row(dose, 1)) }
            (amount(at_once.share_g, "g", "of that for each pot"))
            @for dose in fibre { (dose_row(dose, pour.pots)) }
            (amount(at_once.part_a_g, "g", "part A, last: the clock starts"))
        };
    }
    pot_rows(
        (pour.parts, &pour.doses),
        (pour.base_g, &pour.base),
        pour.pots,
    )
}

/// What goes into a pot of these parts of its base and these doses, tinted for itself, with boxes for each of so many `pots`.
fn pot_rows((parts, doses): (Parts, &[Dose]), (base_g, base): (f64, &str), pots: u32) -> Markup {
    let amount = |amount: f64, unit: &str, what: &str| amount_row((amount, unit), what, pots);
    let doses = html! { @for dose in doses { (dose_row(dose, pots)) } };
    let part_b = "part B, first";
    let part_a = "part A, last: the clock starts";
    match parts {
        Parts::Single {} => html! { (amount(base_g, "g", base)) (doses) },
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

/// So much of what is poured, with a box to tick for each of `pots`.
fn amount_row((amount, unit): (f64, &str), what: &str, pots: u32) -> Markup {
    html! { tr { td.mass { (amount) " " (unit) } th scope="row" { (what) } (boxes(pots, 1)) } }
}

/// A row with a box to tick for each drop of each pot.
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
                Measure::Drops(count) => td.mass { (count) @if *count == 1 { " drop" } @else { " drops" } },
                Measure::MassG(mass) => td.mass { (mass) " g" },
            }
            th scope="row" {
                (colorant)
                @if let Measure::Drops(_) = measure { small { " ≈ " (format!("{weighs_g:.2}")) " g" } }
                @if rounding.abs() >= 0.005 { small { " (" (format!("{:+.0}", 100.0 * rounding)) " % by rounding)" } }
            }
            (boxes(pots, match measure { Measure::Drops(count) => *count, Measure::MassG(_) => 1 }))
        }
    }
}

/// A line for each of `pots`, with `count` boxes to tick, five to a group, in a cell of their own. They are for a pen: who
/// listens to the sheet hears the amount before them.
fn boxes(pots: u32, count: u32) -> Markup {
    html! {
        td.tally aria-hidden="true" {
            @for _ in 0..pots {
                div { @for group in groups(count) { span { @for _ in 0..group { "☐" } } " " } }
            }
        }
    }
}

/// 13 as 5, 5, 3: a hand tallies in fives. None where `count` is 0.
fn groups(count: u32) -> impl Iterator<Item = u32> {
    (0..count.div_ceil(5)).map(move |group| (count - 5 * group).min(5))
}

/// A patch of colour over its `name` and the colour in words: the nearest sRGB, which paper and screen only hint at.
fn swatch(lab: Lab, name: &str) -> Markup {
    let [red, green, blue] = to_srgb(lab);
    html! {
        figure {
            div.patch style=(format!("background:#{red:02x}{green:02x}{blue:02x}")) {}
            figcaption { (name) ": " (in_plain_words(lab)) }
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

/// A short one.
fn short_blank() -> Markup {
    html! { span.blank.short {} }
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
