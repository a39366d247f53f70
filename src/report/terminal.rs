//! Plain text for a terminal, with colour patches where it has colour.
//!
//! The text carries ANSI colours; whoever prints it strips them where they are not wanted.

use std::fmt::{self, Write as _};

use anstyle::{RgbColor, Style};

use super::part::{let_down_advice, signed, steps, tenths};
use super::{Logged, PartReport, PouredRecipe, cautions};
use crate::batch::{Dose, Measure, Part, Pour};
use crate::colour::{Illuminant, Lab, TristimulusWeights, delta_e_2000, to_srgb};
use crate::recipe::Prediction;
use crate::target::{Target, ToneRole};

/// A heading.
const HEADING: Style = Style::new().bold();

/// A patch of colour, six columns wide.
struct Patch(Lab);

impl fmt::Display for Patch {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [red, green, blue] = to_srgb(self.0);
        let style = Style::new().bg_color(Some(RgbColor(red, green, blue).into()));
        write!(f, "{style}      {style:#}")
    }
}

/// `L* 66.2  a* 12.3  b* 16.8`
struct Numbers(Lab);

impl fmt::Display for Numbers {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [l, a, b] = [self.0.l, self.0.a, self.0.b].map(tenths);
        write!(f, "L* {l:5.1}  a* {a:5.1}  b* {b:5.1}")
    }
}

/// `ΔL* +0.4  Δa* -1.2  Δb* +0.0`
struct Steps([f64; 3]);

impl fmt::Display for Steps {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [l, a, b] = self.0.map(signed);
        write!(f, "ΔL* {l}  Δa* {a}  Δb* {b}")
    }
}

/// A target and its tones.
pub fn target(target: &Target, lights: &[Illuminant]) -> String {
    let mut text = String::new();
    write_target(&mut text, target, lights).unwrap_or_else(never);
    text
}

fn write_target(out: &mut String, target: &Target, lights: &[Illuminant]) -> fmt::Result {
    let [l_sd, a_sd, b_sd] = target.spread;
    writeln!(
        out,
        "{HEADING}Target{HEADING:#}   {}  {}",
        Numbers(target.lab),
        Patch(target.lab)
    )?;
    if target.spread != [0.0; 3] {
        writeln!(out, "  ± one sd {l_sd:5.1}     {a_sd:5.1}     {b_sd:5.1}")?;
    }
    write!(out, "  {}", target.viewing)?;
    if let Some(angle) = target.skin_angle() {
        write!(
            out,
            ", skin-tone angle {:.0}° ({})",
            angle.degrees(),
            angle.class()
        )?;
    }
    writeln!(out)?;
    for tone in target.tones.iter().filter(|_| target.tones.len() > 1) {
        let role = match tone.role {
            ToneRole::Base => "base",
            ToneRole::Flush => "flush",
            ToneRole::Shadow => "shadow",
            ToneRole::Other => "other",
        };
        let share = if tone.share > 0.0 {
            format!("{:.0} %", 100.0 * tone.share)
        } else {
            "by hand".to_owned()
        };
        writeln!(
            out,
            "  {role:<7}{}  {}  {share:>5}",
            Numbers(tone.lab),
            Patch(tone.lab)
        )?;
    }
    for light in lights
        .iter()
        .filter(|light| **light != target.viewing.illuminant)
    {
        let lab = target.under(*light);
        writeln!(out, "  under {light:<8} {}  {}", Numbers(lab), Patch(lab))?;
    }
    write_notes(out, &target.notes)
}

fn write_notes(out: &mut String, notes: &[String]) -> fmt::Result {
    notes
        .iter()
        .try_for_each(|note| writeln!(out, "  note: {note}"))
}

/// A matched part: its target, every cup, what to expect, and what to do next.
pub fn part(report: &PartReport<'_>) -> String {
    let mut text = String::new();
    write_part(&mut text, report).unwrap_or_else(never);
    text
}

fn write_part(out: &mut String, report: &PartReport<'_>) -> fmt::Result {
    write_target(out, report.target, &[])?;
    for (place, cup) in report.cups().enumerate() {
        writeln!(out)?;
        write_cup(out, place + 1, cup)?;
    }
    writeln!(out)?;
    let delta_e = report.skin.recipe.best().delta_e;
    let verdict = if report.passes() { "within" } else { "outside" };
    writeln!(
        out,
        "The skin is {verdict} tolerance: ΔE00 {delta_e:.2}, limit {:.2}.",
        report.tolerance
    )?;
    if let Some(advice) = let_down_advice(report.cups().map(|cup| &cup.pour)) {
        writeln!(out, "  {advice}")?;
    }
    write_notes(out, &report.notes)?;
    write_care(out, report.cups().map(|cup| cup.pour.kind))?;
    writeln!(
        out,
        "\nWhen it is out of the mould, read it and log it:\n  {}",
        report.log_command
    )
}

fn write_cup(out: &mut String, step: usize, cup: &PouredRecipe) -> fmt::Result {
    let PouredRecipe {
        recipe,
        pour,
        aims_at,
    } = cup;
    let best = recipe.best();
    writeln!(
        out,
        "{HEADING}{step} {}{HEADING:#}   {}, aimed at {aims_at}",
        capital(pour.kind),
        pour.base
    )?;
    write_pour(out, pour)?;
    if let Some(liquid) = best.before_rise {
        writeln!(
            out,
            "  before it rises {}  {}  (it lightens)",
            Numbers(liquid),
            Patch(liquid)
        )?;
    }
    write_prediction(out, &best.prediction, recipe.aim, best.delta_e)?;
    for other in &recipe.choices[1..] {
        writeln!(out, "  or ΔE00 {:.2}: {}", other.delta_e, other.poured.mix)?;
    }
    let proven = match recipe.proven {
        true => format!(
            "proven within {:.2} ΔE00 of the best whole-drop recipe",
            recipe.gap
        ),
        false => format!(
            "the best found; not proven best (a better one would gain {:.2} ΔE00 at most)",
            recipe.gap
        ),
    };
    writeln!(out, "  {proven}")
}

fn write_prediction(
    out: &mut String,
    prediction: &Prediction,
    aim: Lab,
    delta_e: f64,
) -> fmt::Result {
    let Prediction {
        lab,
        spread: [l_sd, a_sd, b_sd],
        contrast_ratio,
        ..
    } = prediction;
    writeln!(
        out,
        "  aim             {}  {}\n  comes out       {}  {}",
        Numbers(aim),
        Patch(aim),
        Numbers(*lab),
        Patch(*lab)
    )?;
    writeln!(
        out,
        "  ± one sd           {l_sd:5.1}     {a_sd:5.1}     {b_sd:5.1}"
    )?;
    writeln!(
        out,
        "  ΔE00 {delta_e:.2}   {}   contrast ratio {contrast_ratio:.2}",
        Steps(steps(aim, *lab))
    )
}

/// One cup, scaled.
pub fn batch(pour: &Pour) -> String {
    let mut text = String::new();
    write_batch(&mut text, pour).unwrap_or_else(never);
    text
}

fn write_batch(out: &mut String, pour: &Pour) -> fmt::Result {
    writeln!(
        out,
        "{HEADING}{}{HEADING:#}   {}",
        capital(pour.kind),
        pour.base
    )?;
    write_pour(out, pour)?;
    for moment in &pour.timeline {
        writeln!(out, "  {:>6} min  {}", moment.minutes, moment.what)?;
    }
    if let Some(advice) = let_down_advice([pour]) {
        writeln!(out, "  {advice}")?;
    }
    write_care(out, [pour.kind])
}

fn write_care(out: &mut String, kinds: impl IntoIterator<Item = &'static str>) -> fmt::Result {
    let dangers: Vec<&str> = cautions(kinds)
        .iter()
        .map(|caution| caution.danger)
        .collect();
    writeln!(
        out,
        "  care: {}; a mix sheet says more, each material's safety sheet has the last word",
        dangers.join(", ")
    )
}

fn write_pour(out: &mut String, pour: &Pour) -> fmt::Result {
    if pour.pots > 1 {
        writeln!(out, "  {} pots, one after the other, each:", pour.pots)?;
    }
    let two_parts = pour.pigment_goes_into == Part::B;
    if two_parts {
        writeln!(out, "  {:>9} g  part B, first", pour.part_b_g)?;
    } else {
        writeln!(out, "  {:>9} g  {}", pour.base_g, pour.base)?;
    }
    for Dose {
        colorant,
        measure,
        rounding,
    } in &pour.doses
    {
        let off = if rounding.abs() < 0.005 {
            String::new()
        } else {
            format!("  ({:+.0} % by rounding)", 100.0 * rounding)
        };
        match measure {
            Measure::Drops(1) => writeln!(out, "  {:>9}    {colorant}{off}", "1 drop")?,
            Measure::Drops(count) => {
                writeln!(out, "  {:>9}    {colorant}{off}", format!("{count} drops"))?
            }
            Measure::MassG(mass) => writeln!(out, "  {mass:>9} g  {colorant}{off}")?,
        }
    }
    if two_parts {
        writeln!(
            out,
            "  {:>9} g  part A, last: the clock starts",
            pour.part_a_g
        )?;
    }
    Ok(())
}

/// Predicted builds.
pub fn predictions(
    builds: &[(String, Prediction)],
    weights: &TristimulusWeights,
    lights: &[Illuminant],
) -> String {
    let mut text = String::new();
    write_predictions(&mut text, builds, weights, lights).unwrap_or_else(never);
    text
}

fn write_predictions(
    out: &mut String,
    builds: &[(String, Prediction)],
    weights: &TristimulusWeights,
    lights: &[Illuminant],
) -> fmt::Result {
    for (build, prediction) in builds {
        let Prediction {
            lab,
            spread: [l_sd, a_sd, b_sd],
            contrast_ratio,
            ..
        } = prediction;
        writeln!(out, "{HEADING}{build}{HEADING:#}")?;
        writeln!(out, "  comes out       {}  {}", Numbers(*lab), Patch(*lab))?;
        writeln!(
            out,
            "  ± one sd           {l_sd:5.1}     {a_sd:5.1}     {b_sd:5.1}"
        )?;
        writeln!(out, "  contrast ratio  {contrast_ratio:.2}")?;
        for light in lights
            .iter()
            .filter(|light| **light != weights.viewing().illuminant)
        {
            let lab = prediction.under(weights, *light);
            writeln!(out, "  under {light:<8}  {}  {}", Numbers(lab), Patch(lab))?;
        }
    }
    Ok(())
}

/// Logged swatches beside their predictions.
pub fn swatches(logged: &[Logged<'_>]) -> String {
    let mut text = String::new();
    write_swatches(&mut text, logged).unwrap_or_else(never);
    text
}

fn write_swatches(out: &mut String, logged: &[Logged<'_>]) -> fmt::Result {
    if logged.is_empty() {
        return writeln!(out, "no swatch is logged yet");
    }
    for Logged {
        swatch,
        measured,
        predicted,
    } in logged
    {
        let steps = steps(*predicted, *measured);
        let delta_e = delta_e_2000(*measured, *predicted);
        let mix = &swatch.build.skin.mix;
        let mix = if mix.is_empty() {
            "unpigmented".to_owned()
        } else {
            mix.to_string()
        };
        writeln!(
            out,
            "{HEADING}{}{HEADING:#}  {}  {}  {mix}",
            swatch.id, swatch.date, swatch.build.skin.base
        )?;
        writeln!(
            out,
            "  read       {}  {}",
            Numbers(*measured),
            Patch(*measured)
        )?;
        writeln!(
            out,
            "  predicted  {}  {}",
            Numbers(*predicted),
            Patch(*predicted)
        )?;
        writeln!(
            out,
            "  the reading is off by ΔE00 {delta_e:.2}: {}   {}",
            in_words(steps),
            Steps(steps)
        )?;
    }
    Ok(())
}

/// The direction of a step in a maker's words; steps under half a unit go unsaid.
fn in_words([dl, da, db]: [f64; 3]) -> String {
    let said: Vec<&str> = [
        (dl, "lighter", "darker"),
        (da, "redder", "less red"),
        (db, "yellower", "less yellow"),
    ]
    .into_iter()
    .filter(|(step, ..)| step.abs() >= 0.5)
    .map(|(step, more, less)| if step > 0.0 { more } else { less })
    .collect();
    if said.is_empty() {
        "about the same".to_owned()
    } else {
        said.join(", ")
    }
}

fn capital(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// Writing to a `String` does not fail.
fn never(error: fmt::Error) {
    unreachable!("a string takes any text: {error}")
}
