//! Compare: the tone and what came out, side by side; what to add to this cup, what the next one takes; into the log.

use axum::extract::{Form, Path, Query, State};
use jiff::civil::Date;
use maud::{Markup, html};
use serde::Deserialize;
use serde_json::json;

use super::answer::{Answer, Fault, document, screen};
use super::clocks::skin_since_min;
use super::fields::Fields;
use super::frame::{Screen, framed, revision_field, touching};
use super::state::Shared;
use super::steps::{added, bench, list};
use super::tone::lab_fields;
use super::words::{naming, part_path, today};
use crate::book::{Book, PhotographedChip};
use crate::colour::{Lab, delta_e_2000};
use crate::error::{Error, Result};
use crate::jobs::correcting::{self, Corrected, Keeping, Logging, Replacing, Request};
use crate::jobs::logging::{self, CupOf, OfPart};
use crate::jobs::part_cups::PartCup;
use crate::materials::{Build, Colorant, Geometry, Grams, Millimetres, Swatch};
use crate::recipe::{Evidence, Looks, Part, Stage, Well};
use crate::report::RemedyReport;
use crate::report::pieces::{
    capital, hex, hides, in_plain_words, in_words, remedy_notes, remedy_says, steps,
};
use crate::tone::ToneRole;

/// What the eye may say, axis by axis: the words of [`Looks`].
const AXES: [(&str, &str, &str, &str); 3] = [
    ("look_l", "Lightness", "darker", "lighter"),
    ("look_a", "Red", "less red", "redder"),
    ("look_b", "Yellow", "less yellow", "yellower"),
];

/// What a reading off a photograph brings along: what the camera gave, how it was read, and as what.
pub(super) const CARRIED: [&str; 3] = ["camera", "specular", "camera_lab"];

/// How far the work has come, as the form says it.
pub(super) const STAGES: [(&str, &str); 3] = [
    ("test", "a small test piece, cured; the rest waits"),
    ("part-b", "tinted part B, before part A goes in"),
    ("part", "the casting itself"),
];

pub(super) async fn ask(State(shared): State<Shared>, Path(name): Path<String>) -> Answer {
    let page = shared.with_book(move |book| {
        let part = book.part_to_pour(&name)?;
        Ok(form(book, &part, &Fields::default(), &html! {})?)
    });
    screen(page.await?)
}

/// The form for what came out of `part`, where some of it is `given` already, with what was `seen` above it.
// Longer than eighty lines: markup, in the order of the screen.
pub(super) fn form(book: &Book, part: &Part, given: &Fields, seen: &Markup) -> Result<Markup> {
    let since = running(book, part)?;
    let path = part_path(&part.name, "compare");
    let aim = part.target.lab;
    let read = given.lab()?;
    let stage = given.given("stage").unwrap_or("test");
    let main = html! {
        h1 { (part.title) }
        (touching(aim, read.unwrap_or(aim), "left the tone, right the reading that stands below"))
        p #beside .verdict aria-live="polite" {
            @match read {
                Some(lab) => (beside_words(aim, lab)),
                None => { "Left: the tone, " (in_plain_words(aim)) ". Right: what you type." }
            }
        }
        (seen)
        form method="post" action=(path) data-beside=(part_path(&part.name, "beside")) data-waits="Learning from it: some seconds" {
            (revision_field(book))
            @for name in CARRIED {
                @if let Some(value) = given.given(name) { input type="hidden" name=(name) value=(value); }
            }
            fieldset {
                legend { @if read.is_some() { "Read off the photograph" } @else { "Read by an instrument" } }
                (lab_fields("", false, given))
                @if cfg!(feature = "photo") {
                    p.doors { a.button.plain href=(part_path(&part.name, "photo")) {
                        @if read.is_some() { "Another photograph" } @else { "Off a photograph instead" }
                    } }
                }
            }
            details {
                summary { "By eye instead" }
                p { "Beside the tone, in the light where it will be seen, it is:" }
                @for (name, what, less, more) in AXES {
                    fieldset {
                        legend { (what) }
                        div.choices {
                            @for (value, words) in looks(less, more) {
                                label { input type="radio" name=(name) value=(value) checked[value.is_empty()]; (words) }
                            }
                        }
                    }
                }
            }
            fieldset {
                legend { "What was looked at" }
                div.choices {
                    @for (value, words) in STAGES {
                        label { input type="radio" name="stage" value=(value) checked[value == stage]; (words) }
                    }
                }
            }
            details {
                summary { "More about it" }
                div.two {
                    label { "Its thickness, mm" small { "measured where it was read; as ordered where empty" }
                        input name="thickness_mm" value=[given.given("thickness_mm")] inputmode="decimal" autocomplete="off"; }
                    label { "The test piece took, g" small { "of mixed skin" }
                        input name="drawn_g" inputmode="decimal" autocomplete="off"; }
                    label { "Minutes since part A went in"
                        small {
                            @match since {
                                Some(since) => { "by its clock " (format!("{since:.0}")) ", where this stays empty" }
                                None => { "empty where it is not in, or not known" }
                            }
                        }
                        input name="since_min" inputmode="decimal" autocomplete="off"; }
                }
            }
            button.first { "What now?" }
            p.doors { button.plain name="only" value="log" { "Only log the reading" } }
            @if !part.recipe.paints.is_empty() {
                fieldset {
                    legend { "Only to log: it was read" }
                    div.choices {
                        label { input type="radio" name="tone" value="" checked; "unpainted" }
                        @for (role, _) in &part.recipe.paints {
                            label { input type="radio" name="tone" value=(role); "under the " (role) " paint" }
                        }
                    }
                }
            }
        }
        @if !part.castings.is_empty() { p.quiet { "Logged before: " (part.castings.join(", ")) "." } }
    };
    Ok(framed(
        book,
        Screen::Compare,
        &part.title,
        Some(&part.name),
        &main,
    ))
}

/// The minutes since the skin of `part` was last mixed, by its clock, as long as they are within twice its pot life: after that the
/// cup is no matter any more.
fn running(book: &Book, part: &Part) -> Result<Option<f64>> {
    let base = book.shelf().base(&part.recipe.skin.poured.base)?;
    let since = skin_since_min(&book.clocks()?, &part.name);
    Ok(since
        .zip(base.pot_life_min)
        .and_then(|(since, life)| (since <= 2.0 * life).then_some(since)))
}

fn looks<'a>(less: &'a str, more: &'a str) -> [(String, String); 7] {
    let word = |words: String| (words.clone(), words);
    [
        word(format!("much {less}")),
        word(less.to_owned()),
        word(format!("a little {less}")),
        (String::new(), "the same".to_owned()),
        word(format!("a little {more}")),
        word(more.to_owned()),
        word(format!("much {more}")),
    ]
}

/// A colour that is typed, beside the tone of the part.
#[derive(Debug, Deserialize)]
pub(super) struct Typed {
    l: f64,
    a: f64,
    b: f64,
}

pub(super) async fn beside(
    State(shared): State<Shared>,
    Path(name): Path<String>,
    Query(Typed { l, a, b }): Query<Typed>,
) -> Answer {
    let told = shared.with_book(move |book| {
        let aim = book.part(&name)?.target.lab;
        let in_range = (0.0..=100.0).contains(&l) && a.abs() <= 128.0 && b.abs() <= 128.0;
        if !in_range {
            return Err(Error::input("no colour of a surface")
                .mend("L* is from 0 to 100, a* and b* from -128 to 128")
                .into());
        }
        let lab = Lab::new(l, a, b);
        Ok(json!({ "colour": hex(lab), "words": beside_words(aim, lab) }))
    });
    document(&told.await?)
}

/// How `lab` looks beside the tone `aim`.
fn beside_words(aim: Lab, lab: Lab) -> String {
    let words = in_words(steps(aim, lab));
    let delta_e = delta_e_2000(aim, lab);
    format!("{}: ΔE00 {delta_e:.1} from the tone", capital(&words))
}

/// Answers what was seen, and logs it.
pub(super) async fn answer(
    State(shared): State<Shared>,
    Path(name): Path<String>,
    Form(fields): Form<Fields>,
) -> Answer {
    let path = part_path(&name, "compare");
    let page = shared.with_form(fields, path, move |book, fields| {
        if fields.text("only") == "log" {
            return log(book, &name, fields, today());
        }
        let is_replaced = fields.text("replace") == "yes";
        let (part, corrected) = correct(book, &name, fields, is_replaced, today())?;
        Ok(remedy(book, &part, &corrected, fields))
    });
    screen(page.await?)
}

pub(super) fn of_part<'a>(name: &'a str, fields: &Fields) -> Result<OfPart<'a>> {
    Ok(OfPart {
        name,
        tone: None,
        thickness: fields.read("thickness_mm", "the thickness")?,
        cup: CupOf::Bench,
    })
}

/// What tells of how it came out: a reading, or else the eye; with what the camera gave, where it was a photograph.
fn evidence(fields: &Fields) -> Result<(Evidence, Option<PhotographedChip>)> {
    if let Some((lab, geometry, photographed)) = reading(fields)? {
        return Ok((Evidence::Reading { lab, geometry }, photographed));
    }
    let said: Vec<&str> = AXES
        .iter()
        .filter_map(|(name, ..)| fields.given(name))
        .collect();
    if said.is_empty() {
        return Err(Error::input("nothing tells how it came out")
            .mend("type a reading, or say by eye how it looks beside the tone"));
    }
    let looks = said.join(", ").parse::<Looks>()?;
    Ok((Evidence::Looks(looks), None))
}

/// The reading that was typed, or came off a photograph and was left as it came.
fn reading(fields: &Fields) -> Result<Option<(Lab, Geometry, Option<PhotographedChip>)>> {
    let Some(lab) = fields.lab()? else {
        return Ok(None);
    };
    let camera = fields.given("camera");
    let Some(camera) = camera.filter(|_| fields.text("camera_lab") == lab_words(lab)) else {
        return Ok(Some((lab, Geometry::default(), None)));
    };
    let geometry = Geometry {
        specular: fields.given("specular").map(str::parse).transpose()?,
        aperture_mm: None,
    };
    Ok(Some((
        lab,
        geometry,
        Some(PhotographedChip::from_text(camera)?),
    )))
}

/// `lab` as a form carries it, to tell whether it was typed over.
pub(super) fn lab_words(lab: Lab) -> String {
    format!("{},{},{}", lab.l, lab.a, lab.b)
}

/// How far the work on `build` has come, as a form says it; part B is as deep as `thickness`, where that is said.
pub(super) fn stage(
    fields: &Fields,
    build: &Build,
    thickness: Option<Millimetres>,
    drawn: Grams,
) -> Stage {
    match fields.text("stage") {
        "part-b" => {
            let mut well = Well::like(build);
            if let Some(depth) = thickness {
                well.depth = depth;
            }
            Stage::PartB(well)
        }
        "part" => Stage::Part,
        _ => Stage::TestPiece { drawn },
    }
}

fn correct(
    book: &mut Book,
    name: &str,
    fields: &Fields,
    is_replaced: bool,
    day: Date,
) -> Result<(Part, Corrected)> {
    let mut kept = PartCup::of(book, of_part(name, fields)?, day)?;
    let (evidence, photographed) = evidence(fields)?;
    let drawn = fields
        .read("drawn_g", "what the test piece took")?
        .unwrap_or(Grams(0.0));
    let mut build = kept.build.clone();
    let stage = stage(fields, &build, kept.read_thickness, drawn);
    let told = correcting::told_by(&evidence, &stage, &build.skin.mix);
    build.skin = kept.as_told(book, &evidence, &told, day)?.skin;
    let typed = fields.number("since_min", "the minutes since part A went in")?;
    let mut request = Request::of(build, stage, evidence, day);
    request.photographed = photographed;
    // Into part B alone no part A went.
    if !matches!(request.stage, Stage::PartB(_)) {
        let since = typed.map_or_else(|| running(book, &kept.part), |typed| Ok(Some(typed)));
        request.mixed_since_min = since?.map(|since| since.max(0.0));
    }
    let replacing = match is_replaced {
        true => Replacing::Yes,
        false => Replacing::No,
    };
    kept.settle(&mut request, replacing);
    let target = kept.part.target.clone();
    let corrected = correcting::run(book, &target, &request, &mut |_| {})?;
    Ok((book.part(name)?, corrected))
}

/// Logs a reading of a casting, and says so.
fn log(
    book: &mut Book,
    name: &str,
    fields: &Fields,
    day: Date,
) -> std::result::Result<Markup, Fault> {
    let (lab, geometry, photographed) = reading(fields)?
        .ok_or_else(|| Error::input("no reading was typed").mend("fill in L*, a* and b*"))?;
    let of = OfPart {
        tone: fields
            .given("tone")
            .map(str::parse::<ToneRole>)
            .transpose()?,
        ..of_part(name, fields)?
    };
    let photo = photographed.as_ref().map(|chip| chip.photo.clone());
    let swatch = Swatch {
        geometry,
        photo: photo.unwrap_or_default(),
        ..Swatch::of(of.build(book, day)?, lab, day)
    };
    let doubtful = logging::run(book, &swatch, photographed.as_ref(), Some(of))?;
    let part = book.part(name)?;
    let logged = part.castings.last().map_or("", String::as_str);
    let main = html! {
        h1 { (part.title) }
        p.verdict role="status" { "Logged as " (logged) "." }
        @for doubt in &doubtful { p.note { (capital(&doubt.worded(naming))) "." } }
        (touching(part.target.lab, lab, "left the tone, right the reading"))
        p { (capital(&in_words(steps(part.target.lab, lab)))) ": ΔE00 " (format!("{:.1}", delta_e_2000(part.target.lab, lab))) " from the tone." }
        p.doors { a.button href="/" { "Today" } a.button.plain href=(part_path(&part.name, "compare")) { "Another reading" } }
    };
    Ok(framed(
        book,
        Screen::Compare,
        &part.title,
        Some(&part.name),
        &main,
    ))
}

fn remedy(book: &Book, part: &Part, corrected: &Corrected, fields: &Fields) -> Markup {
    let report = RemedyReport {
        corrected,
        take_commands: Vec::new(),
        naming,
    };
    let next = corrected.remedy.next.best();
    let path = part_path(&part.name, "compare");
    let is_replaced = corrected
        .noted
        .as_ref()
        .is_some_and(|noted| noted.keeping == Keeping::Replaced);
    let main = html! {
        div #pour data-part=(part.name) data-title=(part.title) data-kept="yes" {
            h1 { (part.title) }
            (touching(corrected.aim, corrected.remedy.now, "left the tone, right what is known of the casting"))
            p.verdict role="status" { (remedy_says(&report)) }
            @for note in remedy_notes(&report) { p.note { (capital(&note)) "." } }
            @if let Some(words) = logged_words(&corrected.logged) { p { (words) } }
            @if corrected.stage != Stage::Part { (this_cup(&report)) }
            h2 { "The next cup" }
            (counts(&next.drops))
            p.quiet { "aimed at ΔE00 " (format!("{:.2}", next.delta_e)) "; " (hides(next.prediction.translucency.contrast_ratio)) }
            @if is_replaced {
                p.note { "The part is poured by this from now on; the old recipe stands in its history." }
                p.doors { a.button href=(part_path(&part.name, "pour")) { "Pour the next cup" } }
            } @else if book.folder().is_some() {
                form method="post" action=(path) data-waits="Writing it down: some seconds" {
                    (fields.again(&["revision", "replace"]))
                    (revision_field(book))
                    input type="hidden" name="replace" value="yes";
                    button { "Pour by this from now on" }
                }
            }
            p.doors { a.button.plain href=(path) { "Another look" } a.button.plain href="/" { "Today" } }
            (bench())
        }
    };
    framed(book, Screen::Compare, &part.title, Some(&part.name), &main)
}

/// What this cup takes, while it takes anything, drop by drop.
fn this_cup(report: &RemedyReport<'_>) -> Markup {
    let corrected = report.corrected;
    let add = corrected.add();
    let left = match (
        &corrected.stage,
        corrected.left_min(),
        corrected.pot_life_min,
    ) {
        (Stage::PartB(_), ..) => {
            "No clock runs until part A goes in: stir, scrape sides and bottom, read again."
                .to_owned()
        }
        (_, Some(left), _) if left > 0.0 => {
            format!("{left:.1} minutes are left: stir at once, scrape sides and bottom.")
        }
        (_, Some(_), _) => "Its pot life is over: it takes no more drops.".to_owned(),
        (_, None, Some(whole)) => format!(
            "Into part B that waits. With part A in, only within {whole} minutes from mixing: a cup that thickens or warms takes no more drops."
        ),
        (_, None, None) => {
            "Only while it is liquid: a cup that thickens or warms takes no more drops.".to_owned()
        }
    };
    let (after, seen) = report.after();
    html! {
        h2 { "This cup" }
        @if add.is_empty() {
            p { "It is left as it is: nothing that is added now brings it nearer." }
        } @else {
            p.doors { button type="button" #begin .first hidden { "Save this cup, drop by drop" } }
            (list(&added("Into this cup", add.iter().map(|(colorant, count)| (colorant.to_string(), *count)))))
            p.quiet { "then ΔE00 " (format!("{after:.2}")) "; " (hides(seen.contrast_ratio)) }
        }
        p.note { (left) }
    }
}

fn counts(drops: &[(Colorant, u32)]) -> Markup {
    html! {
        ul.rows { @for (colorant, count) in drops {
            li { b { (count) } @if *count == 1 { " drop " } @else { " drops " } (colorant) }
        } }
    }
}

fn logged_words(logged: &Logging) -> Option<String> {
    match logged {
        Logging::Now(name) => Some(format!("Logged as {name}.")),
        Logging::Before(name) => Some(format!("It stands in the log as {name}.")),
        Logging::Demo => Some("Not logged: the demo book is never written to.".to_owned()),
        Logging::NotAsked | Logging::NoCasting => None,
    }
}
