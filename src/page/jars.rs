//! What a pour leaves of the jars and stocks that it drew on: one touch after the last cup keeps the book right.

use axum::extract::{Form, Path, State};
use maud::{Markup, html};

use super::answer::{Answer, onward};
use super::fields::Fields;
use super::frame::revision_field;
use super::how::How;
use super::state::Shared;
use super::words::{part_path, today};
use crate::batch::JarUse;
use crate::book::Book;
use crate::jobs::matching::Matched;
use crate::jobs::pouring;

/// The button for it, where the cups of `matched`, of the part called `name`, draw on anything that the book keeps, or could.
pub(super) fn form(book: &Book, name: &str, matched: &Matched, how: &How) -> Markup {
    let jars = JarUse::to_stir(matched.cups().map(|cup| &cup.pour));
    let is_drawn_on = !jars.is_empty() || !matched.stocks.is_empty();
    html! {
        @if is_drawn_on && book.folder().is_some() {
            form method="post" action=(part_path(name, "poured")) {
                (revision_field(book))
                (how.hidden())
                p { "Once these cups are poured, the book can keep what is left of their jars and stocks." }
                button.plain { "They are poured: note what is left" }
            }
        }
    }
}

/// Takes what was used off the jars and stocks that stand ready, and keeps what is left of those that were stirred.
pub(super) async fn poured(
    State(shared): State<Shared>,
    Path(name): Path<String>,
    Form(fields): Form<Fields>,
) -> Answer {
    let path = part_path(&name, "poured");
    let noted = shared.with_form(fields, path, move |book, fields| {
        let how = How::of(fields);
        let poured = pouring::Request {
            part: &name,
            size: how.size()?,
            pot_by_pot: how.is_pot_by_pot(),
            all_fresh: true,
            left_part_b: None,
            day: today(),
        };
        pouring::run(book, &poured)?;
        Ok(())
    });
    noted.await?;
    onward("/")
}
