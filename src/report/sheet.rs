//! The mix sheet: one HTML file, with nothing outside it, that prints on A5 paper.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::part::{let_down_advice, signed, steps, tenths};
use super::{PartReport, PouredRecipe, cautions};
use crate::batch::{Dose, Measure, Part};
use crate::colour::{Lab, to_srgb};
use crate::recipe::Prediction;
use crate::target::ToneRole;

const STYLE: &str = include_str!("sheet.css");

/// The sheet for a part: its target, a ticket for each cup, and the cautions.
pub fn part(report: &PartReport<'_>) -> String {
    let target = report.target;
    let kinds = report.cups().map(|cup| cup.pour.kind);
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
                    p { (report.date) " · " (report.book) }
                }
                section.target {
                    (swatch(target.lab, "target"))
                    div {
                        p {
                            b { "Target " } (numbers(target.lab)) ", " (target.viewing)
                            @if target.spread != [0.0; 3] {
                                @let [l, a, b] = target.spread;
                                " (± " (one(l)) ", " (one(a)) ", " (one(b)) ")"
                            }
                        }
                        @if let Some(angle) = target.skin_angle() {
                            p { "Skin-tone angle " (format!("{:.0}", angle.degrees())) "°, " (angle.class()) }
                        }
                        @if let Some(flush) = target.tone(ToneRole::Flush) {
                            p { "Flush " (numbers(flush.lab)) }
                        }
                        @for note in &target.notes { p.note { (note) } }
                    }
                }
                @for (place, cup) in report.cups().enumerate() { (ticket(place + 1, cup)) }
                @if let Some(advice) = let_down_advice(report.cups().map(|cup| &cup.pour)) { p { (advice) } }
                @for note in &report.notes { p.note { (note) } }
                section.after {
                    h2 { "Out of the mould" }
                    p {
                        "Lay it beside the reference in the light where it will be seen, and look. Then read it and "
                        "log it: what was measured teaches the next cup."
                    }
                    p.blanks {
                        "thickness " (blank()) " mm  L* " (blank()) "  a* " (blank()) "  b* " (blank())
                        "  looks " (blank())
                    }
                    pre { (report.log_command) }
                }
                section.cautions {
                    h2 { "Care" }
                    dl {
                        @for caution in cautions(kinds) {
                            dt { (caution.danger) }
                            dd { (caution.usual) }
                        }
                    }
                }
                footer {
                    "Colours on paper and screen only hint at the real ones. ± is one standard deviation. "
                    "Predicted with the curves in this book; a generic curve is a guess until a swatch was cast."
                }
            }
        }
    }
    .into_string()
}

fn ticket(step: usize, cup: &PouredRecipe) -> Markup {
    let PouredRecipe {
        recipe,
        pour,
        aims_at,
    } = cup;
    let best = recipe.best();
    let Prediction {
        lab,
        spread: [l, a, b],
        contrast_ratio,
        ..
    } = &best.prediction;
    let [dl, da, db] = steps(recipe.aim, *lab);
    html! {
        section.ticket {
            h2 { (step) ". " (pour.kind) ": " (pour.base) }
            @if pour.pots > 1 { p.pots { (pour.pots) " pots of this, one after the other" } }
            div.columns {
                table {
                    @if pour.pigment_goes_into == Part::B {
                        (weigh_row(pour.part_b_g, "part B, first"))
                    } @else {
                        (weigh_row(pour.base_g, &pour.base))
                    }
                    @for dose in &pour.doses { (dose_row(dose)) }
                    @if pour.pigment_goes_into == Part::B {
                        (weigh_row(pour.part_a_g, "part A, last: the clock starts"))
                    }
                }
                div.colours {
                    (swatch(recipe.aim, "aim"))
                    (swatch(*lab, "comes out"))
                    @if let Some(liquid) = best.before_rise { (swatch(liquid, "before it rises")) }
                }
            }
            p {
                "Aimed at " (aims_at) ". Comes out " (numbers(*lab)) " (± " (one(*l)) ", " (one(*a)) ", " (one(*b))
                "), ΔE00 " b { (format!("{:.2}", best.delta_e)) } ": ΔL* " (signed(dl)) ", Δa* " (signed(da))
                ", Δb* " (signed(db)) "; contrast ratio " (format!("{contrast_ratio:.2}")) "."
            }
            @if !pour.timeline.is_empty() {
                p.clock {
                    @for moment in &pour.timeline {
                        span { b { (moment.minutes) " min " } (moment.what) }
                    }
                }
            }
            p.blanks { "begun " (blank()) " room " (blank()) " °C  lots " (blank()) " " (blank()) }
        }
    }
}

fn weigh_row(mass_g: f64, what: &str) -> Markup {
    html! { tr { td.box { "☐" } td.mass { (mass_g) " g" } td { (what) } } }
}

/// A row with a box to tick for each drop, five to a group.
fn dose_row(dose: &Dose) -> Markup {
    let Dose {
        colorant,
        measure,
        rounding,
    } = dose;
    html! {
        tr {
            @match measure {
                Measure::Drops(count) => {
                    td.tally {
                        @for group in groups(*count) { span { @for _ in 0..group { "☐" } } " " }
                    }
                    td.mass { (count) @if *count == 1 { " drop" } @else { " drops" } }
                }
                Measure::MassG(mass) => {
                    td.box { "☐" }
                    td.mass { (mass) " g" }
                }
            }
            td {
                (colorant)
                @if rounding.abs() >= 0.005 { small { " (" (format!("{:+.0}", 100.0 * rounding)) " % by rounding)" } }
            }
        }
    }
}

fn groups(count: u32) -> impl Iterator<Item = u32> {
    (0..count.div_ceil(5)).map(move |group| (count - 5 * group).min(5))
}

fn swatch(lab: Lab, name: &str) -> Markup {
    let [red, green, blue] = to_srgb(lab);
    html! {
        figure {
            div.patch style=(format!("background:#{red:02x}{green:02x}{blue:02x}")) {}
            figcaption { (name) }
        }
    }
}

fn numbers(lab: Lab) -> String {
    let [l, a, b] = [lab.l, lab.a, lab.b].map(tenths);
    format!("L* {l:.1}, a* {a:.1}, b* {b:.1}")
}

fn one(value: f64) -> String {
    format!("{value:.1}")
}

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
