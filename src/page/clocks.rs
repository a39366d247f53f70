//! Clocks of cups that are setting: kept by the book, so that another screen, or this machine after it was off, counts on.

use axum::extract::{Form, Path, State};
use jiff::Timestamp;
use serde::Deserialize;
use serde_json::json;

use super::answer::{Answer, Fault, document};
use super::state::Shared;
use super::steps::stages;
use crate::batch::timeline;
use crate::book::{Book, Clock};
use crate::error::Error;
use crate::recipe::Part;

/// What is said of a clock.
#[derive(Debug, Deserialize)]
pub(super) struct Said {
    /// Which pot of which cup, as in `skin 1`.
    cup: String,
    /// When part A went in, milliseconds since 1970; empty where the clock is to be forgotten.
    #[serde(default)]
    begun: String,
}

/// All that are kept, for the script.
pub(super) async fn list(State(shared): State<Shared>) -> Answer {
    let clocks = shared.with_book(|book| {
        let clocks = book.clocks()?;
        let told = clocks.iter().map(|clock| {
            // A clock outlives its part.
            let part = book.part(&clock.part).ok();
            json!({
                "part": clock.part,
                "title": part.as_ref().map_or(&clock.part, |part| &part.title),
                "cup": clock.cup,
                "begun": clock.begun.as_millisecond(),
                "stages": part.and_then(|part| stages_of(book, &part, &clock.cup)).unwrap_or_default(),
            })
        });
        Ok(json!(told.collect::<Vec<_>>()))
    });
    document(&clocks.await?)
}

/// Keeps a clock, or forgets it.
pub(super) async fn set(
    State(shared): State<Shared>,
    Path(name): Path<String>,
    Form(said): Form<Said>,
) -> Answer {
    let begun = match said.begun.trim() {
        "" => None,
        typed => {
            let since_1970 = typed.parse::<i64>().ok();
            let begun = since_1970.and_then(|since| Timestamp::from_millisecond(since).ok());
            let known = begun
                .filter(|begun| *begun <= Timestamp::now() + jiff::SignedDuration::from_mins(10));
            Some(known.ok_or_else(|| Error::input("this is no time at which a cup was mixed"))?)
        }
    };
    let kept = shared.with_book(move |book| {
        let part = book.part(&name)?;
        let is_known = cups(&part).any(|(cup, _)| cup == said.cup);
        if !is_known {
            return Err(Fault::Job(Error::unknown_name(
                "cup of this part",
                &said.cup,
                cups(&part)
                    .map(|(cup, _)| cup)
                    .collect::<Vec<_>>()
                    .iter()
                    .map(String::as_str),
            )));
        }
        Ok(book.set_clock(&part.name, &said.cup, begun)?)
    });
    kept.await?;
    document(&json!({ "kept": true }))
}

/// The pots of `part`, each as its clock is called, with its base. A batch may have more pots than the recipe.
fn cups(part: &Part) -> impl Iterator<Item = (String, &str)> {
    /// Pots of a batch whose clocks are kept.
    const POTS: u32 = 50;
    part.recipe.cups().flat_map(|(layer, cup)| {
        (1..=POTS.max(cup.pots))
            .map(move |pot| (format!("{layer} {pot}"), cup.poured.base.as_str()))
    })
}

fn stages_of(book: &Book, part: &Part, cup: &str) -> Option<String> {
    let (_, base) = cups(part).find(|(known, _)| known == cup)?;
    Some(stages(&timeline(book.shelf().base(base).ok()?)))
}

/// Minutes since the skin of the part called `name` was last mixed, by its clock.
pub(super) fn skin_since_min(clocks: &[Clock], name: &str) -> Option<f64> {
    let of_skin = |clock: &&Clock| clock.part == name && clock.cup.starts_with("skin ");
    let latest = clocks.iter().rfind(of_skin)?;
    let since = Timestamp::now().duration_since(latest.begun);
    Some(since.as_secs_f64() / 60.0).filter(|minutes| *minutes >= 0.0)
}
