//! What to cast next: the chips that would teach this book most.

use axum::extract::State;
use maud::html;

use super::answer::{Answer, screen};
use super::frame::{Screen, framed};
use super::state::Shared;
use super::words::today;
use crate::jobs::planning::{self, Request};
use crate::report::pieces::{capital, landing, tells};

/// How many chips are named: what is cast in one go.
const CHIPS: usize = 3;

pub(super) async fn show(State(shared): State<Shared>) -> Answer {
    let page = shared.with_book(|book| {
        let request = Request {
            count: CHIPS,
            tone: None,
            base: None,
            base_mass: None,
            day: today(),
        };
        let planned = planning::run(book, &request, &mut |_| {})?;
        let main = html! {
            h1 { "What to cast next" }
            p { "Each in one piece; measure its thickness where it is read, wet it to the card, read it over each, and log every reading." }
            ol.cards { @for (index, chip) in planned.chips.iter().enumerate() {
                li.card { div {
                    h2 { (index + 1) ". " (chip.poured.base_mass) " of " (chip.poured.base) }
                    p { (chip.thickness) " thick, read over " (chip.backings.join(" and ")) }
                    ul.rows { @for (colorant, amount) in chip.poured.mix.entries() { li { (colorant) ": " (amount_words(*amount)) } } }
                    p.quiet { (capital(&tells(chip))) }
                } }
            } }
            p { (landing(&planned)) }
            p.doors { a.button href="/" { "Today" } }
        };
        Ok(framed(book, Screen::Today, "What to cast next", None, &main))
    });
    screen(page.await?)
}

fn amount_words(amount: crate::materials::Amount) -> String {
    use crate::materials::Amount;
    match amount {
        Amount::Drops(1.0) => "1 drop".to_owned(),
        Amount::Drops(count) => format!("{count} drops"),
        Amount::Mass(mass) => mass.to_string(),
    }
}
