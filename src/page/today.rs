//! Today: what stands where, which jars to use first, and where to begin.

use axum::extract::State;
use axum::response::{IntoResponse as _, Response};
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use maud::{Markup, html};

use super::answer::{Answer, screen};
use super::frame::{Screen, framed, patch};
use super::state::Shared;
use super::words::{part_path, today};
use crate::batch::timeline;
use crate::book::{Book, Clock};
use crate::error::Result;
use crate::jobs::let_downs;
use crate::jobs::parts::{self, Listed};
use crate::materials::LetDown;
use crate::recipe::Part;

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
    /// A cup of it was mixed, and sets.
    Setting,
    /// A cup of it has set, or was corrected, and its casting is not logged yet.
    ToRead,
    /// Its cups are worked out.
    ToPour,
    /// A casting of it was read.
    Read,
}

impl Stage {
    const ALL: [Self; 4] = [Self::Setting, Self::ToRead, Self::ToPour, Self::Read];

    /// That of the part that is `listed`, whose `clocks` among others are those of the book.
    fn of(listed: &Listed, book: &Book, clocks: &[Clock], now: Timestamp) -> Self {
        let part = &listed.part;
        let of_it = clocks.iter().filter(|clock| clock.part == part.name);
        let Some(latest) = of_it.max_by_key(|clock| clock.begun) else {
            return match (part.corrected_cup(), &listed.last_casting) {
                (Some(_), _) => Self::ToRead,
                (None, Some(_)) => Self::Read,
                (None, None) => Self::ToPour,
            };
        };
        let since_min = now.duration_since(latest.begun).as_secs_f64() / 60.0;
        if since_min < whole_min(book, part, &latest.cup) {
            return Self::Setting;
        }
        let mixed_on = latest.begun.to_zoned(TimeZone::system()).date();
        match listed.last_casting {
            Some((_, Some(read_on))) if read_on >= mixed_on && part.corrected_cup().is_none() => {
                Self::Read
            }
            _ => Self::ToRead,
        }
    }

    fn words(self) -> &'static str {
        match self {
            Self::Setting => "In the mould: the clock runs",
            Self::ToRead => "To be read",
            Self::ToPour => "Ready to pour",
            Self::Read => "Cast and read",
        }
    }
}

/// Minutes until the mould of `cup` may be opened, where the book says.
fn whole_min(book: &Book, part: &Part, cup: &str) -> f64 {
    let mut cups = part.recipe.cups();
    let found = cups.find(|(layer, _)| cup.starts_with(&layer.to_string()));
    let base = found.and_then(|(_, cup)| book.shelf().base(&cup.poured.base).ok());
    let moments = base.map(timeline).unwrap_or_default();
    moments
        .iter()
        .map(|moment| moment.minutes)
        .fold(0.0, f64::max)
}

fn page(book: &Book, day: Date) -> Result<Markup> {
    let listed = parts::list(book)?;
    let jars = let_downs::list(book, false);
    let (clocks, now) = (book.clocks()?, Timestamp::now());
    let staged: Vec<(Stage, &Listed)> = (listed.iter())
        .map(|listed| (Stage::of(listed, book, &clocks, now), listed))
        .collect();
    let main = html! {
        h1 { "Today" }
        a.button.first href="/tone" { "New part" }
        @if listed.is_empty() {
            p { "No part is kept yet. Begin with a tone: off a photograph, or typed as a reading." }
        }
        @for stage in Stage::ALL {
            @let of_it: Vec<&Listed> = staged.iter().filter(|(of, _)| *of == stage).map(|(_, listed)| *listed).collect();
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
            p.doors {
                a.button href="/next" { "Work it out" }
                @if cfg!(feature = "photo") { a.button.plain href="/board/photo" { "Read a board of chips" } }
            }
        }
    };
    Ok(framed(book, Screen::Today, "Today", None, &main))
}

/// A part: its tone, and where to go on with it.
fn card(listed: &Listed, stage: Stage) -> Markup {
    let part = &listed.part;
    let mut ways = [("pour", "Pour"), ("compare", "Compare")];
    if matches!(stage, Stage::Setting | Stage::ToRead) {
        ways.reverse();
    }
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
                    @for (index, (path, words)) in ways.into_iter().enumerate() {
                        a.button.plain[index > 0] href=(part_path(&part.name, path)) { (words) span.heard { " " (part.title) } }
                    }
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
