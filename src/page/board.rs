//! A board of chips off one photograph, each into the log.

use axum::extract::{Multipart, State};
use maud::{Markup, html};

use super::answer::{Answer, screen};
use super::frame::{Screen, framed};
use super::photo::{CHART, Drawn, Laid, Sent, chart_fields, photo_form};
use super::state::Shared;
use super::words::today;
use crate::book::{Book, read_board_chips};
use crate::colour::{Lab, delta_e_2000};
use crate::error::{Error, Result};
use crate::jobs::boards::{self, BoardRead, Request};
use crate::jobs::comparing::{self, Logged};
use crate::report::pieces::{board_says, hex};
use crate::tone::marked;

pub(super) async fn ask(State(shared): State<Shared>) -> Answer {
    let page = shared.with_book(|book| {
        let drawn = [
            Drawn {
                field: "grid",
                over: "the board",
                is_corners: true,
                empty: "empty: the board is looked for by its chips",
            },
            CHART,
        ];
        let asked = html! {
            label { "Which chip lies where"
                small { "A CSV with row, column, swatch, base, base_g, mix, thickness_mm and backing, one row a field" }
                input type="file" name="chips" accept=".csv,text/csv" required; }
            (chart_fields())
        };
        let hint = "The whole board and a colour chart in one light, no flash.";
        let main = html! {
            h1 { "A board of chips" }
            p { "All chips off one photograph, into the log in one go." }
            (photo_form(("/board/photo", hint), &html! {}, &drawn, &asked, "Read and log the chips"))
        };
        Ok(framed(book, Screen::Today, "A board of chips", None, &main))
    });
    screen(page.await?)
}

/// Reads a board and logs its chips; a photograph that was read before is refused, so that nothing is logged twice.
pub(super) async fn read(State(shared): State<Shared>, form: Multipart) -> Answer {
    let sent = Sent::read(form).await?;
    let house = Shared::clone(&shared);
    let page = shared.with_book(move |book| {
        book.check_own()?;
        let (read, picture) = sent.laid_out(|laid| board(book, laid))?;
        let address = house.pictures.keep(picture)?;
        // Last, once nothing else can fail: it can't be sent twice.
        let first = read.log(book)?;
        let logged = comparing::logged(book, first)?;
        let main = shown(&read, &logged, &address);
        Ok(framed(book, Screen::Today, "A board of chips", None, &main))
    });
    screen(page.await?)
}

/// The board that was read, and its photograph with what was read of it outlined.
fn board(book: &Book, laid: &Laid<'_>) -> Result<(BoardRead, Vec<u8>)> {
    let list = laid.file("chips").ok_or_else(|| {
        Error::input("no list of chips came along")
            .mend("choose the file that says which lies where")
    })?;
    let chips = read_board_chips(list, book.shelf())?;
    let chart = laid.chart()?;
    let request = Request {
        photo: &laid.photo,
        chart: &chart,
        corners: laid.corners("grid", "the board's corners")?,
        chips: &chips,
        specular: laid.specular()?,
        day: today(),
    };
    let read = boards::run(book, &request)?;
    let marks = read.marks(&chart.values, &chips);
    Ok((read, marked(&laid.photo, &marks)?))
}

fn shown(read: &BoardRead, logged: &[Logged<'_>], picture: &str) -> Markup {
    let number = |lab: Lab| format!("{:.1} {:.1} {:.1}", lab.l, lab.a, lab.b);
    html! {
        h1 { "A board of chips" }
        p.verdict role="status" { (board_says(read, logged)) "." }
        @for chip in &read.left_out {
            p.note { "Left out: " b { (chip.swatch) } ", row " (chip.row) " column " (chip.column) ", " (chip.because) "." }
        }
        figure {
            img.seen src=(picture) alt="The photograph, with the board, its chips and the chart outlined";
            figcaption { "What was read is outlined. If a line lies askew, take these readings out of the log and show the corners." }
        }
        div.wide tabindex="0" role="region" aria-label="The chips that were read" {
            table {
                thead { tr { th scope="col" { "chip" } th scope="col" { "over" } th scope="col" { "looks" } th scope="col" { "L* a* b*" } th scope="col" { "± at most" } th scope="col" { "ΔE00 from its prediction" } } }
                tbody { @for (row, sd) in logged.iter().zip(&read.spreads) {
                    tr {
                        th scope="row" { (row.swatch.id) }
                        td { (row.swatch.build.beneath.name()) }
                        td { svg.chip viewBox="0 0 4 2" preserveAspectRatio="none" aria-hidden="true" { rect width="4" height="2" fill=(hex(row.measured)) {} } }
                        td { (number(row.measured)) }
                        td { (format!("{:.1}", sd.iter().copied().fold(0.0, f64::max))) }
                        td { (format!("{:.1}", delta_e_2000(row.measured, row.predicted))) }
                    }
                } }
            }
        }
        p.doors { a.button href="/" { "Today" } a.button.plain href="/board/photo" { "Another board" } }
    }
}
