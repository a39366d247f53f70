//! Today: what stands where, which jars to use first, and where to begin.

use axum::extract::State;
use axum::response::{IntoResponse as _, Response};
use jiff::civil::Date;
use maud::{Markup, html};

use super::answer::{Answer, screen};
use super::frame::{Screen, framed, patch};
use super::state::Shared;
use super::words::{part_path, today};
use crate::book::Book;
use crate::error::Result;
use crate::jobs::parts::{self, Listed};
use crate::jobs::let_downs;
use crate::materials::LetDown;

/// The state of the book, by which an open screen sees that it has changed.
pub(super) async fn revision(State(shared): State<Shared>) -> Response {
    match shared.with_book(|book| Ok(book.revision())).await {
        Ok(revision) => revision.into_response(),
        Err(fault) => fault.into_response(),
    }
}

pub(super) async fn show(State(shared): State<Shared>) -> Answer {
    let page = shared.with_book(|book| Ok(page(book, today())?)).await?;
    screen(page)
}

/// How far the work on a part has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Stage {
    /// Its cups are worked out.
    ToPour,
    /// A cup of it was corrected, and its casting is not logged yet.
    OnTheBench,
    /// A casting of it was read.
    Read,
}

impl Stage {
    const ALL: [Self; 3] = [Self::OnTheBench, Self::ToPour, Self::Read];

    fn of(listed: &Listed) -> Self {
        if listed.part.corrected_cup().is_some() {
            Self::OnTheBench
        } else if listed.last_casting.is_some() {
            Self::Read
        } else {
            Self::ToPour
        }
    }

    fn words(self) -> &'static str {
        match self {
            Self::ToPour => "Ready to pour",
            Self::OnTheBench => "On the bench: corrected, not read yet",
            Self::Read => "Cast and read",
        }
    }
}

fn page(book: &Book, day: Date) -> Result<Markup> {
    let listed = parts::list(book)?;
    let jars = let_downs::list(book, false);
    let main = html! {
        h1 { "Today" }
        a.button.first href="/tone" { "New part" }
        @if listed.is_empty() {
            p { "No part is kept yet. Begin with a tone: off a photograph, or typed as a reading." }
        }
        @for stage in Stage::ALL {
            @let of_it: Vec<&Listed> = listed.iter().filter(|listed| Stage::of(listed) == stage).collect();
            @if !of_it.is_empty() {
                section {
                    h2 { (stage.words()) }
                    ul.cards { @for listed in of_it { li { (card(listed, stage)) } } }
                }
            }
        }
        @if !jars.is_empty() {
            section {
                h2 { "Jars" }
                ul.rows { @for jar in &jars { li { (jar_row(jar, day)) } } }
            }
        }
        section {
            h2 { "What to cast next" }
            p { "Which chips would teach this book most takes some seconds to work out." }
            a.button href="/next" { "Work it out" }
        }
    };
    Ok(framed(book, Screen::Today, "Today", None, &main))
}

/// A part: its tone, and where to go on with it.
fn card(listed: &Listed, stage: Stage) -> Markup {
    let part = &listed.part;
    let next = match stage {
        Stage::ToPour | Stage::Read => ("pour", "Pour"),
        Stage::OnTheBench => ("compare", "Compare"),
    };
    html! {
        article.card {
            (patch(part.target.lab, "tone"))
            div {
                h3 { (part.title) }
                p { (part.recipe.skin.poured.base_mass) " " (part.recipe.skin.poured.base)
                    @if part.recipe.skin.pots > 1 { " in " (part.recipe.skin.pots) " pots" }
                }
                @if let Some((swatch, day)) = &listed.last_casting {
                    p.quiet { "last casting " (swatch) @if let Some(day) = day { ", " (day) } }
                }
                p.doors {
                    a.button href=(part_path(&part.name, next.0)) { (next.1) span.heard { " " (part.title) } }
                    a.button.plain href=(part_path(&part.name, "compare")) { "Compare" span.heard { " " (part.title) } }
                }
            }
        }
    }
}

fn jar_row(jar: &LetDown, day: Date) -> Markup {
    let left = (jar.keeps_until - day).get_days();
    let words = match left {
        ..0 => "past its time: make it anew".to_owned(),
        0 => "today is its last day".to_owned(),
        1 => "good until tomorrow".to_owned(),
        days => format!("good for {days} days"),
    };
    html! {
        b { (jar.colorant) } " for " (jar.base) ": " (format!("{:.1}", jar.mass.0)) " g left, "
        span.past[left < 2] { (words) }
    }
}
