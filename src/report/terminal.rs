//! Plain text for a terminal, with colour patches where it has colour.
//!
//! The text carries ANSI colours; whoever prints it strips them where they are not wanted.

use std::fmt::{self, Write as _};
use std::path::Path;

use anstyle::{RgbColor, Style};

use super::beside::{name_width, write_pairs, write_published, write_reader};
use super::let_downs::{LetDowns, taken_text, write_let_downs};
use super::one_tint::{AT_ANOTHER_SIZE, write_one_tint};
use super::part::{PartReport, aims_at, applied};
use super::part::{all_pots, in_words, signed, slip, steps, tenths};
use super::prospects::{THICKNESS_HEADS, THICKNESS_RULE, thickness_row};
use super::{budget, cautions};
use crate::batch::{Dose, Measure, Parts, Pour};
use crate::colour::{Lab, Light, Translucency, Viewing, delta_e_2000, to_srgb};
use crate::error::Error;
use crate::forecast::Prediction;
use crate::jobs::comparing::Logged;
use crate::jobs::matching::FilledCup;
use crate::materials::{Build, Mix};
use crate::recipe::Prospects;
use crate::tone::{BesidePublished, Target};

/// A heading.
pub(super) const HEADING: Style = Style::new().bold();

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

/// `contrast ratio 0.29, TP 31.2 ab`: the contrast ratio, and the translucency parameter as ΔE*ab
pub(super) struct Seen(pub(super) Translucency);

impl fmt::Display for Seen {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Translucency {
            contrast_ratio,
            tp_ab,
            ..
        } = self.0;
        write!(f, "contrast ratio {contrast_ratio:.2}, TP {tp_ab:.1} ab")
    }
}

/// A target and its tones, with `published` colours of skin beside it, if any.
pub fn target(target: &Target, lights: &[Light], published: &[BesidePublished]) -> String {
    let mut text = String::new();
    write_target(&mut text, target, lights)
        .and_then(|()| write_published(&mut text, published))
        .unwrap_or_else(never);
    text
}

fn write_target(out: &mut String, target: &Target, lights: &[Light]) -> fmt::Result {
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
    write_reader(out, &target.instrument)?;
    if let Some(seen) = target.translucency {
        writeln!(out, "  over black and white: {}", Seen(seen))?;
    }
    for tone in target.tones.iter().filter(|_| target.tones.len() > 1) {
        let share = if tone.share > 0.0 {
            format!("{:.0} %", 100.0 * tone.share)
        } else {
            "by hand".to_owned()
        };
        writeln!(
            out,
            "  {:<7}{}  {}  {share:>5}",
            tone.role,
            Numbers(tone.lab),
            Patch(tone.lab)
        )?;
    }
    let width = name_width(lights);
    for light in lights
        .iter()
        .filter(|light| **light != target.viewing.illuminant)
    {
        let lab = target.under(light);
        writeln!(
            out,
            "  under {light:<width$} {}  {}",
            Numbers(lab),
            Patch(lab)
        )?;
    }
    write_notes(out, &target.notes)
}

/// `  note: …`, wrapped.
fn write_notes<'a>(out: &mut String, notes: impl IntoIterator<Item = &'a String>) -> fmt::Result {
    notes
        .into_iter()
        .try_for_each(|note| write_wrapped(out, "  note: ", note))
}

/// `text` after `begin`, wrapped to the width of an old terminal, its lines under each other.
pub(super) fn write_wrapped(out: &mut String, begin: &str, text: &str) -> fmt::Result {
    let under = " ".repeat(begin.chars().count());
    let shape = textwrap::Options::new(WIDTH)
        .initial_indent(begin)
        .subsequent_indent(&under);
    writeln!(out, "{}", textwrap::fill(text, shape))
}

/// `mix` behind `begin`, wrapped between its entries and never within one.
pub(super) fn write_mix(out: &mut String, begin: &str, mix: &Mix) -> fmt::Result {
    const HELD: &str = "\u{a0}";
    if mix.is_empty() {
        return writeln!(out, "{begin}unpigmented");
    }
    let entries = mix.to_string().replace(' ', HELD);
    let mut wrapped = String::new();
    write_wrapped(
        &mut wrapped,
        begin,
        &entries.replace(&format!(";{HELD}"), "; "),
    )?;
    write!(out, "{}", wrapped.replace(HELD, " "))
}

/// `1 reading`, `2 readings`.
pub(super) fn counted(count: usize, one: &str) -> String {
    let plural = if count == 1 { "" } else { "s" };
    format!("{count} {one}{plural}")
}

/// `text` in from the edge, and further in where it wraps.
pub(super) fn write_hanging(out: &mut String, text: &str) -> fmt::Result {
    write_hanging_at(out, "  ", text)
}

/// `text` in from the edge by `indent`, and further in where it wraps.
pub(super) fn write_hanging_at(out: &mut String, indent: &str, text: &str) -> fmt::Result {
    let under = format!("{indent}  ");
    let shape = textwrap::Options::new(WIDTH)
        .initial_indent(indent)
        .subsequent_indent(&under);
    writeln!(out, "{}", textwrap::fill(text, shape))
}

/// The skin at other thicknesses.
fn write_thicknesses(out: &mut String, prospects: &Prospects) -> fmt::Result {
    writeln!(
        out,
        "{HEADING}Thicker or thinner{HEADING:#}   the same skin"
    )?;
    let mut row = |cells: [&str; 8]| {
        cells
            .iter()
            .try_for_each(|cell| write!(out, "{cell:>9}"))
            .and_then(|()| writeln!(out))
    };
    row(THICKNESS_HEADS)?;
    for at in &prospects.at_thicknesses {
        row(thickness_row(at).each_ref().map(String::as_str))?;
    }
    write_wrapped(out, "  ", THICKNESS_RULE)?;
    writeln!(out)
}

/// Columns of running text.
const WIDTH: usize = 80;

/// A matched part: its target, every cup, what to expect, and what to do next.
pub fn part(report: &PartReport<'_>) -> String {
    let mut text = String::new();
    write_part(&mut text, report).unwrap_or_else(never);
    text
}

fn write_part(out: &mut String, report: &PartReport<'_>) -> fmt::Result {
    let matched = report.matched;
    write_target(out, &matched.target, &[])?;
    writeln!(out)?;
    if let Some(one_tint) = &matched.one_tint {
        write_one_tint(out, one_tint)?;
    }
    write_let_downs(
        out,
        matched
            .cups()
            .filter_map(|cup| LetDowns::of_pour(&cup.layer.to_string(), &cup.pour)),
    )?;
    for (index, (cup, said)) in report.told().into_iter().enumerate() {
        write_cup(out, index + 1, cup, &said)?;
        writeln!(out)?;
    }
    write_thicknesses(out, &matched.prospects)?;
    write_wrapped(out, "", &report.verdict())?;
    write_notes(out, &report.notes())?;
    write_care(out, matched.cups().map(|cup| &cup.pour))?;
    out.write_str(&taken_text(&report.commands.take))?;
    writeln!(
        out,
        "\nWhen it is out of the mould, read it and log it:\n  {}",
        report.commands.log
    )?;
    if !report.commands.repeat.is_empty() {
        writeln!(out)?;
        write_wrapped(out, "", AT_ANOTHER_SIZE)?;
    }
    (report.commands.repeat.iter()).try_for_each(|command| writeln!(out, "  {command}"))
}

fn write_cup(out: &mut String, step: usize, cup: &FilledCup, said: &[String]) -> fmt::Result {
    let FilledCup {
        layer,
        recipe,
        pour,
        application,
    } = cup;
    let best = recipe.best();
    let name = capital(&layer.to_string());
    let apply = applied(*application);
    writeln!(
        out,
        "{HEADING}{step} {name}{HEADING:#}   {}: {apply}",
        pour.base
    )?;
    write_pour(out, pour)?;
    if let Some(liquid) = best.before_rise {
        let (numbers, patch) = (Numbers(liquid), Patch(liquid));
        writeln!(out, "  before it rises {numbers}  {patch}  (it lightens)")?;
    }
    write_prediction(out, &best.prediction, recipe.aim, best.delta_e)?;
    write_wrapped(out, "  ", &format!("aimed at {}", aims_at(*layer)))?;
    said.iter().try_for_each(|one| write_hanging(out, one))?;
    write_hanging(out, &budget::in_doubt(&best.budget))?;
    if let Some(lever) = budget::lever(&best.budget) {
        write_hanging(out, &lever)?;
    }
    write_pairs(out, &best.under)?;
    for other in &recipe.choices[1..] {
        let mix = &other.poured.mix;
        let mix = if mix.is_empty() {
            "no pigment".to_owned()
        } else {
            mix.to_string()
        };
        writeln!(out, "  or ΔE00 {:.2}: {mix}", other.delta_e)?;
    }
    if recipe.proven {
        writeln!(
            out,
            "  proven within {:.2} ΔE00 of the best whole-drop recipe",
            recipe.gap
        )
    } else {
        writeln!(
            out,
            "  the best recipe found; none can be nearer by more than ΔE00 {:.2}",
            recipe.gap
        )
    }
}

fn write_prediction(
    out: &mut String,
    prediction: &Prediction,
    aim: Lab,
    delta_e: f64,
) -> fmt::Result {
    let Prediction {
        lab, translucency, ..
    } = prediction;
    writeln!(out, "  aim             {}  {}", Numbers(aim), Patch(aim))?;
    write_made(out, prediction)?;
    writeln!(
        out,
        "  ΔE00 {delta_e:.2}   {}   {}",
        Steps(steps(aim, *lab)),
        Seen(*translucency)
    )
}

/// What comes out, and how sure that is.
fn write_made(out: &mut String, prediction: &Prediction) -> fmt::Result {
    let lab = prediction.lab;
    let [l_sd, a_sd, b_sd] = prediction.spread();
    writeln!(out, "  comes out       {}  {}", Numbers(lab), Patch(lab))?;
    writeln!(
        out,
        "  ± one sd           {l_sd:5.1}     {a_sd:5.1}     {b_sd:5.1}"
    )
}

/// One cup, scaled.
pub fn batch(pour: &Pour) -> String {
    let mut text = String::new();
    write_batch(&mut text, pour).unwrap_or_else(never);
    text
}

fn write_batch(out: &mut String, pour: &Pour) -> fmt::Result {
    let kind = pour.kind.to_string();
    write_let_downs(out, LetDowns::of_pour(&kind, pour))?;
    let kind = capital(&kind);
    writeln!(out, "{HEADING}{kind}{HEADING:#}   {}", pour.base)?;
    write_pour(out, pour)?;
    for moment in &pour.timeline {
        writeln!(out, "  {:>6} min  {}", moment.minutes, moment.what)?;
    }
    write_care(out, [pour])
}

fn write_care<'a>(out: &mut String, pours: impl IntoIterator<Item = &'a Pour>) -> fmt::Result {
    let dangers: Vec<&str> = cautions(pours)
        .iter()
        .map(|caution| caution.danger)
        .collect();
    let care = format!(
        "{}; a mix sheet says more, each material's safety sheet has the last word",
        dangers.join(", ")
    );
    write_wrapped(out, "  care: ", &care)
}

fn write_pour(out: &mut String, pour: &Pour) -> fmt::Result {
    if pour.pots > 1 {
        writeln!(out, "  {} pots, one after the other, each:", pour.pots)?;
    }
    let (first, last) = match pour.parts {
        Parts::Single {} => ((pour.base_g, "g ", pour.base.as_str()), None),
        Parts::Weighed { part_a_g, part_b_g } => ((part_b_g, "g ", PART_B), Some((part_a_g, "g "))),
        Parts::ByVolume {
            part_a_ml,
            part_b_ml,
        } => ((part_b_ml, "ml", PART_B), Some((part_a_ml, "ml"))),
    };
    let (amount, unit, what) = first;
    writeln!(out, "  {amount:>9} {unit} {what}")?;
    for Dose {
        colorant,
        measure,
        rounding,
        ..
    } in &pour.doses
    {
        let off = match rounding.abs() {
            small if small < 0.005 => String::new(),
            _ => format!("  ({:+.0} % by rounding)", 100.0 * rounding),
        };
        match measure {
            Measure::Drops(1) => writeln!(out, "  {:>9}    {colorant}{off}", "1 drop")?,
            Measure::Drops(count) => {
                writeln!(out, "  {:>9}    {colorant}{off}", format!("{count} drops"))?;
            }
            Measure::MassG(mass) => writeln!(out, "  {mass:>9} g  {colorant}{off}")?,
        }
    }
    if let Some((amount, unit)) = last {
        writeln!(out, "  {amount:>9} {unit} part A, last: the clock starts")?;
    }
    if let Some(in_all) = &pour.in_all {
        write_hanging(out, &all_pots(in_all))?;
    }
    write_notes(out, &pour.warnings)
}

const PART_B: &str = "part B, first";

/// Predicted builds.
pub fn predictions(builds: &[(String, Prediction)], viewing: Viewing, lights: &[Light]) -> String {
    let mut text = String::new();
    write_predictions(&mut text, builds, viewing, lights).unwrap_or_else(never);
    text
}

fn write_predictions(
    out: &mut String,
    builds: &[(String, Prediction)],
    viewing: Viewing,
    lights: &[Light],
) -> fmt::Result {
    let width = name_width(lights);
    for (build, prediction) in builds {
        writeln!(out, "{HEADING}{build}{HEADING:#}")?;
        write_made(out, prediction)?;
        writeln!(out, "  {}", Seen(prediction.translucency))?;
        for light in lights.iter().filter(|light| **light != viewing.illuminant) {
            let lab = prediction.under(light, viewing.observer);
            writeln!(
                out,
                "  under {light:<width$}  {}  {}",
                Numbers(lab),
                Patch(lab)
            )?;
        }
    }
    Ok(())
}

/// What `swatch export` has done.
pub fn exported(file: &Path, readings: usize) -> String {
    let stand = if readings == 1 { "stands" } else { "stand" };
    format!(
        "{} {stand} in {}\n",
        counted(readings, "reading"),
        file.display()
    )
}

/// Logged swatches beside their predictions, then rows of the log that are `doubtful`.
pub fn swatches(logged: &[Logged<'_>], doubtful: &[Error]) -> String {
    let mut text = String::new();
    write_swatches(&mut text, logged).unwrap_or_else(never);
    write_doubtful(&mut text, doubtful).unwrap_or_else(never);
    text
}

/// Rows of the log that can be read and are not to be trusted.
pub(super) fn write_doubtful(out: &mut String, doubtful: &[Error]) -> fmt::Result {
    doubtful
        .iter()
        .try_for_each(|doubt| write_wrapped(out, "  note: ", &doubt.to_string()))
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
        let Build {
            skin,
            thickness,
            beneath,
            paint,
        } = &swatch.build;
        let under = beneath.name();
        let painted = if paint.is_some() { ", painted" } else { "" };
        writeln!(
            out,
            "{HEADING}{}{HEADING:#}  {}  {}, {thickness} over {under}{painted}",
            swatch.id, swatch.date, skin.base
        )?;
        write_mix(out, "  ", &skin.mix)?;
        writeln!(
            out,
            "  read       {}  {}",
            Numbers(*measured),
            Patch(*measured)
        )?;
        if !swatch.geometry.is_unknown() {
            writeln!(out, "  taken with {}", swatch.geometry)?;
        }
        writeln!(
            out,
            "  predicted  {}  {}",
            Numbers(*predicted),
            Patch(*predicted)
        )?;
        let steps = steps(*predicted, *measured);
        writeln!(
            out,
            "  off by ΔE00 {:.2}   {}: it reads {}",
            delta_e_2000(*measured, *predicted),
            Steps(steps),
            in_words(steps)
        )?;
        if let Some(check) = slip(*measured, *predicted) {
            let check = format!("{check}, and mend the row in swatches.csv");
            write_wrapped(out, "  note: ", &check)?;
        }
        if swatch.loses_light_at_the_edge() {
            write_wrapped(out, "  note: ", EDGE_LOSS)?;
        }
    }
    Ok(())
}

/// What a small aperture does to a translucent casting.
pub(super) const EDGE_LOSS: &str = "an aperture of less than three thicknesses loses light that leaves a translucent \
    casting beside it: it reads darker than it looks, most where it lets most light through (red); read it through a wider one";

pub(super) fn capital(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// Writing to a `String` does not fail.
pub(super) fn never(error: fmt::Error) {
    unreachable!("a string takes any text: {error}")
}
