//! Draws the picture of the README: the demo's photograph, the cups that it becomes, and what would come out of the mould.
//!
//! `cargo run --release --example readme_picture -- examples/readme_picture/picture.svg`, at the top of the repository. What
//! is drawn is the answer of the README's first command; the photograph is rendered and the scene invented.

use std::ffi::OsString;
use std::fmt::Write as _;
use std::io::Cursor;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use dropwise::colour::{Lab, to_srgb};
use image::ImageFormat;
use image::imageops::FilterType;
use serde_json::Value;

const PHOTO: &str = "swatches/reference-photo.jpg";
const REGION: [f64; 4] = [640.0, 690.0, 760.0, 120.0];
const CARD: [f64; 4] = [310.0, 240.0, 330.0, 160.0];
/// The picture's height, and the width and height of the photograph in it, in pixels.
const HEIGHT: u32 = 300;
const PHOTO_SIZE: (u32, u32) = (373, 280);

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let file = std::env::args_os().nth(1).ok_or("name the file to write")?;
    let photo = image::open(PHOTO)?;
    let share = f64::from(PHOTO_SIZE.0) / f64::from(photo.width());
    let (width, height) = PHOTO_SIZE;
    let mut jpeg = Cursor::new(Vec::new());
    let small = photo.resize_exact(width, height, FilterType::Lanczos3);
    small.write_to(&mut jpeg, ImageFormat::Jpeg)?;
    let answer = answer()?;

    let mut svg = format!(
        r##"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1000 {HEIGHT}" font-family="sans-serif" font-size="14">
<title>A photograph with a grey card, the cups that its skin tone becomes, and aim and predicted casting side by side</title>
<rect width="1000" height="{HEIGHT}" fill="#fff"/>
<image x="10" y="10" width="{width}" height="{height}" href="data:image/jpeg;base64,{}"/>
"##,
        STANDARD.encode(jpeg.into_inner()),
    );
    for ([x, y, width, height], name) in [(REGION, "skin"), (CARD, "grey card")] {
        let [x, y, width, height] = [
            10.0 + x * share,
            10.0 + y * share,
            width * share,
            height * share,
        ];
        let above = y - 5.0;
        writeln!(
            svg,
            r##"<rect x="{x:.0}" y="{y:.0}" width="{width:.0}" height="{height:.0}" fill="none" stroke="#fff" stroke-width="3"/><rect x="{x:.0}" y="{y:.0}" width="{width:.0}" height="{height:.0}" fill="none" stroke="#000"/><text x="{x:.0}" y="{above:.0}" fill="#fff" stroke="#000" stroke-width="3" paint-order="stroke">{name}</text>"##
        )?;
    }
    cups(&answer, &mut svg)?;
    patches(&answer, &mut svg)?;
    svg.push_str("</svg>\n");
    std::fs::write(file, svg)?;
    Ok(())
}

/// The JSON answer of the README's first command, without a time limit in the way.
fn answer() -> Result<Value, Box<dyn std::error::Error>> {
    let rectangle = |sides: [f64; 4]| sides.map(|side| side.to_string()).join(",");
    let (region, card) = (rectangle(REGION), rectangle(CARD));
    let line = [
        "dropwise",
        "match",
        "--photo",
        PHOTO,
        "--region",
        &region,
        "--card",
        &card,
        "--card-lab",
        "grey",
        "--base-g",
        "600",
        "--fibre-g",
        "12",
        "--foam-g",
        "300",
        "--time-limit",
        "60",
        "--json",
    ];
    let mut out = Vec::new();
    dropwise::cli::run(line.map(OsString::from), &mut out, &mut std::io::stderr());
    Ok(serde_json::from_slice(&out)?)
}

/// The cups, in the order in which they are poured.
fn cups(answer: &Value, svg: &mut String) -> std::fmt::Result {
    let mut y = 30;
    let mut line = |svg: &mut String, indent: u32, weight: &str, text: &str| {
        let x = 405 + indent;
        y += if weight == "bold" { 10 } else { 0 };
        let written = writeln!(
            svg,
            r#"<text x="{x}" y="{y}" font-weight="{weight}">{text}</text>"#
        );
        y += 21;
        written
    };
    for cup in answer["cups"].as_array().into_iter().flatten() {
        let grams = |key: &str| cup[key].as_f64().unwrap_or_default();
        let heading = format!("{}, {} g of part B", text(&cup["base"]), grams("part_b_g"));
        line(svg, 0, "bold", &heading)?;
        for dose in cup["doses"].as_array().into_iter().flatten() {
            let ratio = dose["ratio"].as_u64().filter(|ratio| *ratio > 1);
            let ratio = ratio.map_or(String::new(), |ratio| format!(" 1:{ratio}"));
            let drops = dose["drops"].as_u64().unwrap_or_default();
            let noun = if drops == 1 { "drop" } else { "drops" };
            line(
                svg,
                12,
                "normal",
                &format!("{drops} {noun} {}{ratio}", text(&dose["pigment"])),
            )?;
        }
        if grams("fibre_g") > 0.0 {
            line(svg, 12, "normal", &format!("{} g fibre", grams("fibre_g")))?;
        }
        line(
            svg,
            12,
            "normal",
            &format!("{} g of part A, last", grams("part_a_g")),
        )?;
    }
    Ok(())
}

/// What was aimed at and what is predicted, touching.
fn patches(answer: &Value, svg: &mut String) -> std::fmt::Result {
    let recipe = &answer["recipes"][0];
    let number = |value: &Value| value.as_f64().unwrap_or_default();
    let aim = [0, 1, 2].map(|axis| number(&answer["aim"][axis]));
    let made = ["L", "a", "b"].map(|axis| number(&recipe[axis]));
    for ([l, a, b], x, name) in [(aim, 660, "the tone"), (made, 825, "out of the mould")] {
        let [red, green, blue] = to_srgb(Lab::new(l, a, b));
        writeln!(
            svg,
            r##"<rect x="{x}" y="40" width="165" height="180" fill="#{red:02x}{green:02x}{blue:02x}"/><text x="{x}" y="30">{name}</text><text x="{x}" y="240">L* {l:.0}  a* {a:.0}  b* {b:.0}</text>"##
        )?;
    }
    let apart = number(&recipe["delta_e"]);
    writeln!(
        svg,
        r#"<text x="660" y="268">predicted: ΔE00 {apart:.1} apart</text>"#
    )
}

fn text(value: &Value) -> &str {
    value.as_str().unwrap_or_default()
}
