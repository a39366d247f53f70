//! Tone: off a photograph or typed as a reading; then what is to be cast of it, and its cups.

#[cfg(feature = "photo")]
use axum::extract::Multipart;
use axum::extract::{Form, State};
use jiff::civil::Date;
use maud::{Markup, html};

#[cfg(feature = "photo")]
use super::answer::Fault;
use super::answer::{Answer, onward, screen};
use super::fields::Fields;
use super::frame::{Screen, framed, patch, revision_field};
use super::pour;
use super::state::Shared;
use super::words::{part_path, today};
use crate::book::Book;
use crate::error::{Error, Result};
use crate::jobs::matching::{self, Beneath, Request, WantedCup};
use crate::jobs::parts;
use crate::materials::{Grams, Kind, Millimetres};
use crate::report::pieces::{capital, in_plain_words};
use crate::report::target;
use crate::tone::{Target, TargetDocument, ToneRole};

pub(super) async fn ask(State(shared): State<Shared>) -> Answer {
    let page = shared.with_book(|book| {
        let main = html! {
            h1 { "New part: its tone" }
            @if cfg!(feature = "photo") { (photo_form()) }
            (reading_form())
        };
        Ok(framed(book, Screen::Tone, "New part", None, &main))
    });
    screen(page.await?)
}

fn photo_form() -> Markup {
    html! {
        section {
            h2 { "Off a photograph" }
            form #photo-form method="post" action="/tone/photo" enctype="multipart/form-data" {
                label { "Photograph"
                    small { "JPEG, PNG, TIFF or WebP. Even light, no flash, a grey or white card beside the skin." }
                    input #photo-file type="file" name="photo" accept="image/jpeg,image/png,image/tiff,image/webp" required;
                }
                div #photo-boxes hidden {
                    fieldset {
                        legend { "Draw a box over" }
                        div.choices {
                            label { input type="radio" name="draws" value="skin" checked; "the skin" }
                            label { input type="radio" name="draws" value="card"; "the card" }
                        }
                    }
                    div.photo { canvas #photo-canvas role="img" aria-label="The photograph: drag a box with a finger, or type it below" {} }
                }
                details #photo-typed {
                    summary { "Type the boxes" }
                    label { "Box over the skin" small { "left, top, width, height in pixels; the whole picture where empty" }
                        input name="skin" inputmode="numeric" autocomplete="off"; }
                    label { "Box over the card" small { "likewise; without a card the light stays unknown" }
                        input name="card" inputmode="numeric" autocomplete="off"; }
                }
                fieldset {
                    legend { "The card is" }
                    div.choices {
                        label { input type="radio" name="card_is" value="grey" checked; "grey, 18 %" }
                        label { input type="radio" name="card_is" value="white"; "white" }
                    }
                }
                button.first { "Read the tone" }
            }
        }
    }
}

fn reading_form() -> Markup {
    html! {
        section {
            h2 { "Typed, as an instrument read it" }
            form method="post" action="/tone/typed" {
                (lab_fields("", true))
                details {
                    summary { "A redder tone too, for the paint" }
                    (lab_fields("flush_", false))
                }
                button.first { "Take this tone" }
            }
        }
    }
}

/// Three fields of a colour, and the place of the keys for them.
pub(super) fn lab_fields(prefix: &str, is_needed: bool) -> Markup {
    html! {
        div.three data-keys="lab" {
            @for (name, what, hint) in [("l", "L*", "light"), ("a", "a*", "red"), ("b", "b*", "yellow")] {
                label { (what) small { "how " (hint) }
                    input name=(format!("{prefix}{name}")) inputmode="decimal" autocomplete="off" required[is_needed]; }
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
        Ok(found(book, &target, "typed"))
    });
    screen(page.await?)
}

/// A tone off a photograph: it is read from a file of its own that is gone afterwards, and kept nowhere.
#[cfg(feature = "photo")]
pub(super) async fn photo(State(shared): State<Shared>, mut form: Multipart) -> Answer {
    use axum::http::StatusCode;

    let broken = |cause: axum::extract::multipart::MultipartError| {
        Fault::new(
            StatusCode::BAD_REQUEST,
            format!("This form can't be read: {cause}."),
        )
    };
    let mut fields = Fields::default();
    let mut picture = None;
    while let Some(field) = form.next_field().await.map_err(broken)? {
        let name = field.name().unwrap_or_default().to_owned();
        if name == "photo" {
            let called = plain_name(field.file_name().unwrap_or_default());
            picture = Some((called, field.bytes().await.map_err(broken)?));
        } else {
            fields.set(&name, field.text().await.map_err(broken)?);
        }
    }
    let page = shared.with_book(move |book| {
        let Some((called, bytes)) = picture.filter(|(_, bytes)| !bytes.is_empty()) else {
            return Err(Error::input("no photograph came along")
                .mend("choose one first")
                .into());
        };
        let target = read_photo(book, &called, &bytes, &fields)?;
        Ok(found(book, &target, &format!("photograph {called}")))
    });
    screen(page.await?)
}

/// The last step of a file's path, in signs that no message trips over.
#[cfg(feature = "photo")]
fn plain_name(given: &str) -> String {
    let last = given.rsplit(['/', '\\']).next().unwrap_or_default();
    let plain: String = (last.chars())
        .filter(|sign| sign.is_alphanumeric() || " .-_()".contains(*sign))
        .take(60)
        .collect();
    match plain.trim_matches(['.', ' ']) {
        "" => "photograph".to_owned(),
        plain => plain.to_owned(),
    }
}

#[cfg(feature = "photo")]
fn read_photo(
    book: &Book,
    called: &str,
    bytes: &[u8],
    fields: &Fields,
) -> std::result::Result<Target, Fault> {
    use axum::http::StatusCode;

    use crate::materials::Geometry;
    use crate::tone::PhotoRequest;

    let settings = &book.shelf().settings;
    let machine = |cause| Error::machine("keep", std::path::Path::new("the photograph"), cause);
    let folder = tempfile::tempdir().map_err(machine)?;
    let path = folder.path().join(called);
    std::fs::write(&path, bytes).map_err(machine)?;
    let card = fields.read("card", "the box over the card")?;
    let request = PhotoRequest {
        region: fields.read("skin", "the box over the skin")?,
        card: match card {
            Some(region) => Some((Some(region), fields.text("card_is").parse()?)),
            None => None,
        },
        ..PhotoRequest::new(&path)
    };
    let read = Target::from_photo(&request, settings.viewing)
        .and_then(|target| target.brought_to_book(Geometry::default(), settings));
    let within = format!("{}/", folder.path().display());
    read.map(|mut target| {
        for note in &mut target.notes {
            *note = note.replace(&within, "");
        }
        target
    })
    .map_err(|error| {
        // Where it lay for a moment is nobody's business.
        let words = error.worded(super::words::naming).replace(&within, "");
        Fault::new(StatusCode::UNPROCESSABLE_ENTITY, words)
    })
}

/// The tone that was found, and the form for what is to be cast of it.
fn found(book: &Book, target: &Target, from: &str) -> Markup {
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
        let kept = parts::keep_or_compare(book, None, found, false)?;
        Ok(Made::Kept(kept.part.name))
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
