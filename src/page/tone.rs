//! Tone: off a photograph or typed as a reading; then what is to be cast of it, and its cups.

#[cfg(feature = "photo")]
use axum::extract::Multipart;
use axum::extract::{Form, State};
use jiff::civil::Date;
use maud::{Markup, html};

use super::answer::{Answer, onward, screen};
use super::fields::Fields;
use super::frame::{Screen, framed, patch, revision_field};
#[cfg(feature = "photo")]
use super::photo::{CHART, Drawn, Laid, Sent, chart_fields, photo_form};
use super::pour;
use super::state::Shared;
use super::words::{part_path, today};
use crate::book::Book;
use crate::error::{Error, Result};
use crate::jobs::matching::{self, Beneath, Request, WantedCup};
use crate::jobs::parts;
#[cfg(feature = "photo")]
use crate::materials::Geometry;
use crate::materials::{Grams, Kind, Millimetres};
use crate::report::pieces::{capital, in_plain_words};
use crate::report::target;
#[cfg(feature = "photo")]
use crate::tone::{ChartValues, Mark, PhotoRequest, corrected, read_marks};
use crate::tone::{Target, TargetDocument, ToneRole};

pub(super) async fn ask(State(shared): State<Shared>) -> Answer {
    let page = shared.with_book(|book| {
        let main = html! {
            h1 { "New part: its tone" }
            (photo_section())
            (reading_form())
        };
        Ok(framed(book, Screen::Tone, "New part", None, &main))
    });
    screen(page.await?)
}

#[cfg(feature = "photo")]
fn photo_section() -> Markup {
    const BESIDE: [(&str, &str); 4] = [
        ("grey", "a grey card, 18 %"),
        ("white", "a white card"),
        ("chart", "a chart of colours"),
        ("none", "neither"),
    ];
    let drawn = [
        Drawn {
            field: "skin",
            over: "the skin",
            is_corners: false,
            empty: "empty: the whole picture",
        },
        Drawn {
            field: "card",
            over: "the card",
            is_corners: false,
            empty: "empty: the card is looked for",
        },
        CHART,
    ];
    let before = html! {
        fieldset {
            legend { "Beside the skin is" }
            div.choices {
                @for (value, words) in BESIDE {
                    label { input type="radio" name="beside" value=(value) checked[value == "grey"]; (words) }
                }
            }
        }
    };
    let hint = "Even light, no flash, a card or a chart beside the skin.";
    html! {
        section {
            h2 { "Off a photograph" }
            (photo_form(("/tone/photo", hint), &before, &drawn, &chart_fields(), "Read the tone"))
        }
    }
}

/// Nothing, where photographs can't be read.
#[cfg(not(feature = "photo"))]
fn photo_section() -> Markup {
    html! {}
}

fn reading_form() -> Markup {
    html! {
        section {
            h2 { "Typed, as an instrument read it" }
            form method="post" action="/tone/typed" {
                (lab_fields("", true, &Fields::default()))
                details {
                    summary { "A redder tone too, for the paint" }
                    (lab_fields("flush_", false, &Fields::default()))
                }
                button.first { "Take this tone" }
            }
        }
    }
}

/// Three fields of a colour, with what is `given` of it, and the place of the keys for them.
pub(super) fn lab_fields(prefix: &str, is_needed: bool, given: &Fields) -> Markup {
    html! {
        div.three data-keys="lab" {
            @for (name, what, hint) in [("l", "L*", "light"), ("a", "a*", "red"), ("b", "b*", "yellow")] {
                @let name = format!("{prefix}{name}");
                label { (what) small { "how " (hint) }
                    input name=(name) value=[given.given(&name)] inputmode="decimal" autocomplete="off" required[is_needed]; }
            }
        }
    }
}

/// A tone that was typed.
pub(super) async fn typed(State(shared): State<Shared>, Form(fields): Form<Fields>) -> Answer {
    let page = shared.with_book(move |book| {
        let viewing = book.shelf().settings.viewing;
        let Some(lab) = fields.lab()? else {
            return Err(Error::input("no colour was typed")
                .mend("fill in L*, a* and b*")
                .into());
        };
        let mut target = Target::from_lab(lab, viewing)?;
        let mut flush = Fields::default();
        for name in ["l", "a", "b"] {
            flush.set(name, fields.text(&format!("flush_{name}")).to_owned());
        }
        if let Some(lab) = flush
            .lab()
            .map_err(|error| error.within("the redder tone"))?
        {
            target = target.with_flush(lab)?;
        }
        Ok(found(book, &target, "typed", &html! {}))
    });
    screen(page.await?)
}

/// A tone off a photograph, which is kept nowhere; the picture of what was read of it only for a while.
#[cfg(feature = "photo")]
pub(super) async fn photo(State(shared): State<Shared>, form: Multipart) -> Answer {
    let sent = Sent::read(form).await?;
    let house = Shared::clone(&shared);
    let page = shared.with_book(move |book| {
        let (target, picture) = sent.laid_out(|laid| read_photo(book, laid))?;
        let address = house.pictures.keep(picture)?;
        let how = match sent.fields.text("beside") {
            "none" => "as it was taken",
            "chart" => "as the chart corrects it",
            _ => "as the card corrects it",
        };
        let seen = html! {
            figure {
                img.seen src=(address) alt="The photograph, with what was read of it outlined";
                figcaption { "The photograph " (how) ", with what was read of it outlined." }
            }
        };
        let from = format!("photograph {}", sent.called());
        Ok(found(book, &target, &from, &seen))
    });
    screen(page.await?)
}

/// The target that a photograph shows, and the photograph as it is corrected.
#[cfg(feature = "photo")]
fn read_photo(book: &Book, laid: &Laid<'_>) -> Result<(Target, Vec<u8>)> {
    let settings = &book.shelf().settings;
    let fields = laid.fields;
    let card = match fields.text("beside") {
        kind @ ("grey" | "white") => {
            Some((fields.read("card", "the box over the card")?, kind.parse()?))
        }
        _ => None,
    };
    let chart = (fields.text("beside") == "chart").then(|| laid.chart());
    let chart = chart.transpose()?;
    let geometry = Geometry {
        specular: chart.as_ref().map(|_| laid.specular()).transpose()?,
        aperture_mm: None,
    };
    let mut request = PhotoRequest {
        region: fields.read("skin", "the box over the skin")?,
        card,
        chart,
        ..PhotoRequest::new(&laid.photo)
    };
    let read = Target::from_photo(&request, settings.viewing)?;
    let marks = read_marks(std::slice::from_ref(&request), &read)?;
    // What was looked for is found.
    for mark in &marks {
        match (mark, &mut request) {
            (
                Mark::Chart(corners, _),
                PhotoRequest {
                    chart: Some(chart), ..
                },
            ) => {
                chart.corners = Some(*corners);
            }
            (
                Mark::Region(region),
                PhotoRequest {
                    card: Some((place, _)),
                    ..
                },
            ) => {
                *place = Some(*region);
            }
            _ => {}
        }
    }
    let picture = corrected(&request, &marks)?;
    let mut target = read.brought_to_book(geometry, settings)?;
    for note in &mut target.notes {
        *note = laid.scrubbed(note);
    }
    if request.chart.is_some() && laid.file("chart_values").is_none() {
        for photographed in &mut target.photographs {
            photographed.chart_values = Some(ChartValues::PUBLISHED.to_owned());
        }
    }
    Ok((target, picture))
}

/// The tone that was found, with what was `seen` of it, and the form for what is to be cast of it.
fn found(book: &Book, target: &Target, from: &str, seen: &Markup) -> Markup {
    let [l, a, b] = [target.lab.l, target.lab.a, target.lab.b];
    let document = target::json(&TargetDocument::new(target, &[]));
    let main = html! {
        h1 { "The tone" }
        div.standing {
            div.patches {
                @for tone in &target.tones {
                    (patch(tone.lab, &match tone.share {
                        0.0 => tone.role.to_string(),
                        share => format!("{}: {:.0} %", tone.role, 100.0 * share),
                    }))
                }
            }
            div.verdict {
                p { (capital(&in_plain_words(target.lab))) ": L* " (format!("{l:.1}")) ", a* " (format!("{a:.1}")) ", b* " (format!("{b:.1}")) }
                p.quiet { (capital(&how_sure(target.spread))) "." }
            }
        }
        @for note in &target.notes { p.note { (capital(note)) "." } }
        (seen)
        (part_form(book, &document, from, target))
    };
    framed(book, Screen::Tone, "The tone", None, &main)
}

/// How well a tone is known, in plain words: steps of our own choice.
fn how_sure([l, a, b]: [f64; 3]) -> String {
    match l.max(a).max(b) {
        0.0 => "taken as exact".to_owned(),
        most if most < 1.0 => format!("well read: give or take {most:.1}"),
        most if most < 4.0 => format!("give or take {most:.0}: an instrument would tell more"),
        most => format!(
            "a rough guess, give or take {most:.0}: a card or a chart in the shot tells more, and an instrument most"
        ),
    }
}

fn bases(book: &Book, kind: Kind) -> Vec<&str> {
    let bases = book.shelf().bases.iter();
    let of_kind = bases.filter(|base| base.kind.kind() == kind);
    of_kind.map(|base| base.name.as_str()).collect()
}

fn select(name: &str, what: &str, of: &[&str]) -> Markup {
    html! { label { (what) select name=(name) { @for each in of { option value=(each) { (each) } } } } }
}

fn part_form(book: &Book, document: &str, from: &str, target: &Target) -> Markup {
    let [skins, foams, paints] =
        [Kind::Skin, Kind::Foam, Kind::Paint].map(|kind| bases(book, kind));
    let backings: Vec<&str> = book
        .shelf()
        .backings
        .iter()
        .map(|backing| backing.name.as_str())
        .collect();
    let number = |name: &str, what: &str, value: &str, is_needed: bool| {
        html! { label { (what) input name=(name) value=(value) inputmode="decimal" autocomplete="off" required[is_needed]; } }
    };
    html! {
        h2 { "What is cast of it" }
        form method="post" action="/parts" data-waits="Working out the cups: some seconds" {
            (revision_field(book))
            input type="hidden" name="target" value=(document);
            input type="hidden" name="from" value=(from);
            label { "Name of the part" small { "as on the shelf label: left arm" }
                input name="name" required maxlength="60" autocomplete="off"; }
            fieldset {
                legend { "Skin" }
                div.two {
                    (select("base", "Base", &skins))
                    (number("base_g", "Mixed skin in all, A and B, g", "", true))
                    (number("thickness_mm", "Thickness, mm", "2", true))
                    (number("fibre_g", "Fibre, g", "0", false))
                    (number("largest_pot", "Largest pot you use up in time, g (empty: all in one)", "", false))
                }
            }
            fieldset {
                legend { "Behind it" }
                div.choices {
                    @if !foams.is_empty() { label { input type="radio" name="beneath" value="foam" checked; "foam, tinted too" } }
                    label { input type="radio" name="beneath" value="backing" checked[foams.is_empty()]; "a card or backing" }
                }
                @if !foams.is_empty() {
                    div.two.if-foam {
                        (select("foam", "Foam", &foams))
                        (number("foam_g", "Mixed foam in all, g", "", false))
                    }
                }
                div.if-backing { (select("backing", "Backing", &backings)) }
            }
            @if !paints.is_empty() && target.tones.len() > 1 {
                fieldset {
                    legend { "Paint for flush and shadow" }
                    div.two {
                        (select("paint", "Paint", &paints))
                        (number("paint_g", "Clear paint in each cup, g (empty: none)", "", false))
                    }
                }
            }
            button.first { "Work out the cups" }
        }
    }
}

/// Matches a new part and keeps it; in the demo, which keeps nothing, it is shown.
pub(super) async fn make(State(shared): State<Shared>, Form(fields): Form<Fields>) -> Answer {
    enum Made {
        Kept(String),
        Shown(Markup),
    }
    let path = "/parts".to_owned();
    let made = shared.with_form(fields, path, move |book, fields| {
        let name = fields.text("name").to_owned();
        let is_demo = book.folder().is_none();
        if !is_demo {
            if name.is_empty() {
                return Err(Error::input("the part has no name")
                    .mend("write what its shelf label says")
                    .into());
            }
            parts::before_match(book, &name, true, false)?;
        }
        let target =
            Target::from_json(fields.text("target")).map_err(|error| error.within("the tone"))?;
        let request = request(fields, today())?;
        let matched = matching::run(book, &target, &request)?;
        if is_demo {
            let title = if name.is_empty() { "Part" } else { &name };
            return Ok(Made::Shown(pour::page(book, title, None, &matched)));
        }
        let found = parts::Found {
            name: &name,
            title: &name,
            from: fields.given("from").unwrap_or("typed"),
            request: &request,
            matched: &matched,
        };
        parts::to_keep(book, None, found, false).write(book)?;
        Ok(Made::Kept(name))
    });
    match made.await? {
        Made::Kept(name) => onward(&part_path(&name, "pour")),
        Made::Shown(page) => screen(page),
    }
}

/// What the form asks for.
fn request(fields: &Fields, day: Date) -> Result<Request> {
    /// How thick paint dries unless it is said, mm; as from the command line.
    const PAINT_MM: Millimetres = Millimetres(0.03);
    let cup = |base: &str, mass: &str, what: &str| -> Result<Option<WantedCup>> {
        let mass = fields.read::<Grams>(mass, what)?;
        Ok(mass.map(|base_mass| WantedCup {
            base: fields.given(base).map(str::to_owned),
            base_mass,
        }))
    };
    let skin = cup("base", "base_g", "the mass of skin")?.ok_or_else(|| {
        Error::input("no mass of skin").mend("write how much is mixed in all, A and B, in g")
    })?;
    let beneath = match fields.text("beneath") {
        "foam" => {
            let cup = cup("foam", "foam_g", "the mass of foam")?.ok_or_else(|| {
                Error::input("no mass of foam").mend("write how much is mixed, or choose a backing")
            })?;
            Beneath::Foam {
                cup,
                at_the_tone: false,
            }
        }
        _ => Beneath::Backing(fields.text("backing").to_owned()),
    };
    let mut request = Request::new(skin, beneath, day);
    if let Some(thickness) = fields.read("thickness_mm", "the thickness")? {
        request.thickness = thickness;
    }
    request.fibre = fields
        .read("fibre_g", "the mass of fibre")?
        .unwrap_or_default();
    request.largest_pots.any = fields.read("largest_pot", "the largest pot")?;
    request.paint = cup("paint", "paint_g", "the mass of paint")?.map(|cup| (cup, PAINT_MM));
    request.paint_tones = vec![ToneRole::Flush, ToneRole::Shadow];
    Ok(request)
}
