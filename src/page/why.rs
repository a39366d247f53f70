//! Why: what is in doubt, other thicknesses, other lights, what became of the part, and a drop more or less.

use axum::extract::{Path, Query, State};
use maud::{Markup, html};
use serde::Deserialize;
use serde_json::json;

use super::answer::{Answer, Fault, document, screen};
use super::fields::Fields;
use super::frame::{Screen, framed, pair, touching};
use super::pour::{care, report};
use super::state::Shared;
use super::words::{part_path, today};
use crate::book::Book;
use crate::colour::{Illuminant, Light};
use crate::error::{Error, Result};
use crate::jobs::batching::Size;
use crate::jobs::matching::{Matched, Note};
use crate::jobs::nudging::{self, Nudge, Nudged};
use crate::jobs::parts;
use crate::materials::{Amount, Millimetres};
use crate::recipe::Part;
use crate::report::pieces::{
    best_next_step, capital, hex, hides, in_words, says, source_of_doubt, steps, worth_a_word,
};
use crate::search::Limits;

/// The screen; the lights of the venue are the names of the fields that are ticked, those that the part was matched under where
/// none is.
pub(super) async fn show(
    State(shared): State<Shared>,
    Path(name): Path<String>,
    Query(ticked): Query<Fields>,
) -> Answer {
    let page = shared.with_book(move |book| {
        let (part, matched) = parts::to_pour(
            book,
            &name,
            Size::Times(1.0),
            parts::Pots::default(),
            today(),
        )?;
        let kept = nudging::run(book, &name, Nudge::default(), today())?;
        let seen = under_lights(book, &part, &ticked)?;
        let seen = seen.as_ref().unwrap_or(&matched);
        Ok::<_, Fault>(page(book, &part, (&matched, seen), &kept))
    });
    screen(page.await?)
}

/// The part as it would be told under the lights that are `ticked`; `None` where none is.
fn under_lights(book: &Book, part: &Part, ticked: &Fields) -> Result<Option<Matched>> {
    let is_ticked = |light: &&Illuminant| ticked.given(light.name()).is_some();
    let lights = Illuminant::ALL.iter().filter(is_ticked);
    let lights: Vec<Light> = lights.map(|light| Light::from(*light)).collect();
    if lights.is_empty() {
        return Ok(None);
    }
    let mut part = part.clone();
    part.request.lights = lights;
    let size = Size::Times(1.0);
    parts::told(book, &part, size, parts::Pots::default(), today()).map(Some)
}

/// What is told of `part` as it is kept, and as it is seen under the lights of the venue.
fn page(book: &Book, part: &Part, (matched, seen): (&Matched, &Matched), kept: &Nudged) -> Markup {
    let report = report(&part.title, matched);
    let budget = &matched.skin.recipe.best().budget;
    let main = html! {
        h1 { (part.title) }
        p.verdict { (says(matched)) }
        @if let Some(next) = best_next_step(budget) { p.note { (capital(&next)) "." } }
        (nudge(part, kept))
        h2 { "What is in doubt" }
        p.quiet { "As ΔE00, one standard deviation each; together " (format!("{:.1}", budget.delta_e)) "." }
        @let lines = worth_a_word(budget);
        @let most = lines.first().map_or(1.0, |line| line.delta_e);
        @for line in &lines {
            div.bar {
                span { (source_of_doubt(line.source)) }
                svg viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true" {
                    rect width=(format!("{:.1}", 100.0 * line.delta_e / most)) height="10" {}
                }
                b { (format!("{:.1}", line.delta_e)) }
            }
        }
        (thicknesses(matched))
        (lights(part, seen))
        @let notes = report.notes();
        @if !notes.is_empty() {
            h2 { "Worth knowing" }
            @for note in notes { p { (capital(&note)) "." } }
        }
        (history(part))
        (care(matched))
    };
    framed(book, Screen::Why, &part.title, Some(&part.name), &main)
}

fn thicknesses(matched: &Matched) -> Markup {
    html! {
        h2 { "Thicker or thinner" }
        p.quiet { "The same skin. ΔE00 is to the skin as thick as ordered." }
        div.wide tabindex="0" role="region" aria-label="Other thicknesses" {
            table {
                thead { tr { th scope="col" { "mm" } th scope="col" { "looks" } th scope="col" { "ΔE00" } th scope="col" { "hides" } } }
                tbody {
                    @for at in &matched.prospects.at_thicknesses {
                        tr {
                            th scope="row" { (at.thickness.0) }
                            td { svg.chip viewBox="0 0 4 2" preserveAspectRatio="none" aria-hidden="true" { rect width="4" height="2" fill=(hex(at.lab)) {} } }
                            td { (format!("{:.1}", at.delta_e)) }
                            td { (format!("{:.0} %", 100.0 * at.translucency.contrast_ratio)) }
                        }
                    }
                }
            }
        }
    }
}

/// The tone and what comes out of the skin under each light, and the choice of lights.
fn lights(part: &Part, seen: &Matched) -> Markup {
    let under = &seen.skin.recipe.best().under;
    let is_shown = |light: Illuminant| under.iter().any(|pair| pair.light == light);
    let told = report(&part.title, seen);
    html! {
        h2 #lights { "Under the lights of the venue" }
        p.quiet { "Left the tone, right what comes out of the skin, as an eye sees them that is used to that light." }
        div.lights { @for of in under {
            figure {
                (pair(of.aim, of.made))
                figcaption {
                    b { (seen_words(&of.light)) } ": " (in_words(steps(of.aim, of.made))) ", ΔE00 " (format!("{:.1}", of.delta_e))
                }
            }
        } }
        @for note in seen.notes.iter().filter(|note| matches!(note, Note::GuessedSpectrum(_))) {
            p.note { (capital(&told.worded(note))) "." }
        }
        form method="get" action=(format!("{}#lights", part_path(&part.name, "why"))) {
            details {
                summary { "Choose the lights" }
                div.choices { @for light in Illuminant::ALL {
                    label { input type="checkbox" name=(light.name()) value="on" checked[is_shown(*light)]; (light_words(*light)) }
                } }
                button { "Look under these" }
            }
        }
    }
}

/// What `light` is called: a lamp of the user's own by the name that it has.
fn seen_words(light: &Light) -> String {
    match light {
        Light::Cie(illuminant) => light_words(*illuminant),
        lamp => lamp.name().to_owned(),
    }
}

/// What a light of the CIE stands for, in plain words with its name.
fn light_words(light: Illuminant) -> String {
    let words = match light {
        Illuminant::A => "filament and halogen lamps",
        Illuminant::D50 => "daylight, as printers take it",
        Illuminant::D65 => "daylight, overcast",
        Illuminant::Fl2 => "cool white tubes",
        Illuminant::Fl7 => "daylight tubes",
        Illuminant::Fl11 => "three-band tubes",
        Illuminant::LedB1 => "LED, warm, 2700 K",
        Illuminant::LedB2 => "LED, warm, 3000 K",
        Illuminant::LedB3 => "LED, neutral, 4100 K",
        Illuminant::LedB4 => "LED, cool, 5100 K",
        Illuminant::LedB5 => "LED, cool, 6600 K",
        Illuminant::LedBh1 => "LED with a red one, 2850 K",
        Illuminant::LedRgb1 => "red, green and blue LEDs",
        Illuminant::LedV1 => "LED on violet, 2700 K",
        Illuminant::LedV2 => "LED on violet, 4100 K",
    };
    format!("{words} ({})", light.name())
}

fn history(part: &Part) -> Markup {
    html! {
        @if !part.history.is_empty() {
            details {
                summary { "What became of it" }
                ul.rows { @for event in part.history.iter().rev() {
                    li { (event.date) ": " (event.what)
                        @if let Some(swatch) = &event.swatch { " " (swatch) }
                        @if !event.note.is_empty() { " – " (event.note) }
                    }
                } }
            }
        }
    }
}

/// A drop more or less of each pigment that the skin's recipe counts, with the colour beside it.
fn nudge(part: &Part, kept: &Nudged) -> Markup {
    let entries = kept.poured.mix.entries().iter();
    let counted: Vec<(String, u32)> = entries
        .filter_map(|(colorant, amount)| match amount {
            Amount::Drops(count) => {
                Some((colorant.to_string(), crate::materials::whole_number(*count)))
            }
            Amount::Mass(_) => None,
        })
        .collect();
    html! {
        section #nudge data-path=(part_path(&part.name, "nudge")) {
            h2 { "A drop more or less" }
            (touching(kept.aim, kept.lab, "left the tone, right what comes out of the skin"))
            p #nudged aria-live="polite" { (told(kept)) }
            @for (what, count) in &counted {
                div.nudge role="group" aria-label=(what) {
                    span { (what) }
                    button type="button" .plain data-by="-1" aria-label=(format!("one drop of {what} less")) { "−" }
                    output data-count=(count) { (count) }
                    button type="button" .plain data-by="1" aria-label=(format!("one drop of {what} more")) { "+" }
                }
            }
            p.field { label for="nudge-range" { "Thickness: " } output #nudge-thickness for="nudge-range" { (kept.thickness) } }
            input #nudge-range type="range" name="thickness_mm" min="0.5" max="4" step="0.1" value=(kept.thickness.0);
            p.quiet { "Nothing is kept of this: it shows what a slip of the hand does, or what a correction would do." }
        }
    }
}

fn told(nudged: &Nudged) -> String {
    let way = in_words(steps(nudged.aim, nudged.lab));
    format!(
        "{} than the tone: ΔE00 {:.2}; {}",
        capital(&way),
        nudged.delta_e,
        hides(nudged.contrast_ratio)
    )
    .replace("About the same than", "About the same as")
}

/// The counts, in the order of the recipe, as in `3,2,13`, and how thick the skin is.
#[derive(Debug, Deserialize)]
pub(super) struct Asked {
    drops: String,
    #[serde(default)]
    thickness_mm: Option<f64>,
}

pub(super) async fn nudged(
    State(shared): State<Shared>,
    Path(name): Path<String>,
    Query(Asked {
        drops,
        thickness_mm,
    }): Query<Asked>,
) -> Answer {
    let counts = drops.split(',').map(|count| {
        count
            .trim()
            .parse()
            .ok()
            .filter(|count| *count <= Limits::MOST_DROPS)
    });
    let counts: Option<Vec<u32>> = counts.collect();
    let counts = counts.ok_or_else(|| {
        Error::input("no counts of drops").mend("write whole numbers, such as 3,2,13")
    })?;
    let told = shared.with_book(move |book| {
        let nudge = Nudge {
            drops: Some(&counts),
            thickness: thickness_mm.map(Millimetres),
        };
        let nudged = nudging::run(book, &name, nudge, today())?;
        Ok(json!({ "colour": hex(nudged.lab), "words": told(&nudged) }))
    });
    document(&told.await?)
}
