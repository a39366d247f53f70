//! A chip in a photograph, beside a chart: read as what it is made of, in place of an instrument's reading.

use axum::extract::{Multipart, Path, State};
use maud::html;

use super::answer::{Answer, screen};
use super::compare::{STAGES, form, lab_words, of_part, stage};
use super::frame::{Screen, framed};
use super::photo::{CHART, Drawn, Laid, Sent, chart_fields, photo_form};
use super::state::Shared;
use super::words::{part_path, today};
use crate::book::Book;
use crate::error::{Error, Result};
use crate::jobs::boards::{ChipInPhoto, ChipRead};
use crate::jobs::part_cups::PartCup;
use crate::materials::Grams;
use crate::recipe::Evidence;
use crate::tone::{Corners, Mark, Region, marked};

pub(super) async fn ask(State(shared): State<Shared>, Path(name): Path<String>) -> Answer {
    let page = shared.with_book(move |book| {
        let part = book.part_to_pour(&name)?;
        let drawn = [
            Drawn {
                field: "chip",
                over: "the chip",
                is_corners: false,
                empty: "within it, clear of edges and shine",
            },
            CHART,
        ];
        let asked = html! {
            fieldset {
                legend { "What the chip is" }
                div.choices {
                    @for (value, words) in STAGES {
                        label { input type="radio" name="stage" value=(value) checked[value == "test"]; (words) }
                    }
                }
            }
            label { "Its thickness, mm" small { "measured where it lies; as ordered where empty" }
                input name="thickness_mm" inputmode="decimal" autocomplete="off"; }
            (chart_fields())
        };
        let path = part_path(&part.name, "photo");
        let hint = "The chip and a colour chart side by side in one light, no flash.";
        let main = html! {
            h1 { (part.title) ": a photograph of the chip" }
            (photo_form((&path, hint), &html! {}, &drawn, &asked, "Read the chip"))
            p.doors { a.button.plain href=(part_path(&part.name, "compare")) { "Type a reading instead" } }
        };
        let (title, name) = (&part.title, Some(part.name.as_str()));
        Ok(framed(book, Screen::Compare, title, name, &main))
    });
    screen(page.await?)
}

/// Reads the chip, and gives the form for what came out with its reading; nothing is written yet.
pub(super) async fn read(
    State(shared): State<Shared>,
    Path(name): Path<String>,
    form_sent: Multipart,
) -> Answer {
    let sent = Sent::read(form_sent).await?;
    let house = Shared::clone(&shared);
    let page = shared.with_book(move |book| {
        let (read, picture) = sent.laid_out(|laid| chip(book, &name, laid))?;
        let mut given = sent.fields.clone();
        for (field, value) in [("l", read.lab.l), ("a", read.lab.a), ("b", read.lab.b)] {
            given.set(field, value.to_string());
        }
        given.set("camera", read.photographed.to_text());
        given.set("camera_lab", lab_words(read.lab));
        let widest = read.sd.iter().copied().fold(0.0, f64::max);
        let chart = read.chart.leave_one_out_all;
        let address = house.pictures.keep(picture)?;
        let seen = html! {
            p.note {
                (format!("Read to give or take {widest:.1}. The chart tells a patch that it was not shown to ΔE00 {chart:.1}."))
                " Nothing is logged yet."
            }
            figure {
                img.seen src=(address) alt="The photograph, with the chip and the chart outlined";
                figcaption { "What was read is outlined: the filled corner is that of the chart's first patch." }
            }
        };
        let part = book.part_to_pour(&name)?;
        Ok(form(book, &part, &given, &seen)?)
    });
    screen(page.await?)
}

/// The chip of the part called `name`, and the photograph with what was read of it outlined.
fn chip(book: &Book, name: &str, laid: &Laid<'_>) -> Result<(ChipRead, Vec<u8>)> {
    let fields = laid.fields;
    let region: Option<Region> = fields.read("chip", "the box over the chip")?;
    let region = region.ok_or_else(|| {
        Error::input("no chip was shown in the photograph")
            .mend("draw a box within it, clear of edges and shine")
    })?;
    let chart = laid.chart()?;
    let asked = ChipInPhoto {
        photo: &laid.photo,
        region,
        chart: &chart,
        specular: laid.specular()?,
    };
    let mut kept = PartCup::of(book, of_part(name, fields)?, today())?;
    // A cup that was corrected is read as what it has become.
    let build = kept.as_told(book, &Evidence::Poured, "", today())?;
    let (shelf, thickness) = (book.shelf(), kept.read_thickness);
    let stage = stage(fields, &build, thickness, Grams(0.0));
    let read = asked.read(shelf, &stage.observed(shelf, &build, thickness)?)?;
    let corners = (read.chart.found.as_ref()).map(|found| Corners::new(found.corners));
    let chart_mark = (chart.corners.or(corners)).map(|at| Mark::Chart(at, chart.values.clone()));
    let marks: Vec<Mark> = chart_mark
        .into_iter()
        .chain([Mark::Region(region)])
        .collect();
    Ok((read, marked(&laid.photo, &marks)?))
}
