//! Draws the demo's reference photograph: a forearm on a workbench beside a grey card.
//!
//! ```text
//! cargo run --release --example reference_photo -- swatches/reference-photo.jpg
//! ```
//!
//! Everything in it is invented: no person, no measurement and no photograph stands behind it. The skin
//! is a set of made-up reflectance spectra, the lamp is the CIE's LED-B3, and the camera is the 1931
//! observer without a white balance, so that the picture is as warm as an uncorrected photograph and the
//! card is needed. Since the spectra are known, so is the answer: the program prints the true CIELAB of
//! skin, flush and card beside the rectangles in which to look for them.
//!
//! What a balance by the card cannot undo stays in: the lamp's spectrum is not daylight's, the arm is
//! round, and its gloss adds white. The same machine draws the same bytes each time, on any number of
//! threads.

mod camera;
mod noise;
mod scene;
mod shape;
mod skin;

use std::error::Error;
use std::path::{Path, PathBuf};
use std::{env, fs, thread};

use camera::{Camera, Paints, Rgb};
use dropwise::colour::{Lab, Spectrum, Viewing};
use image::codecs::jpeg::JpegEncoder;
use image::{ExtendedColorType, ImageEncoder};
use scene::{Scene, Thing};
use skin::Skin;

const WIDTH: usize = 1600;
const HEIGHT: usize = 1200;
/// Rays a pixel, each way.
const RAYS: usize = 2;
/// Standard deviation of the sensor's noise in its linear values, at none and at full light.
const NOISE: [f64; 2] = [0.0008, 0.0040];
const JPEG_QUALITY: u8 = 88;

/// Left, top, width and height in pixels, as the command line takes them.
type Rectangle = [usize; 4];

/// Wholly on the arm: base tone, flush and shade.
const REGION: Rectangle = [640, 690, 760, 120];
/// Wholly on the card.
const CARD: Rectangle = [310, 240, 330, 160];

fn main() -> Result<(), Box<dyn Error>> {
    let path = env::args_os().nth(1).map(PathBuf::from);
    let path = path.ok_or("expected the file to write, such as swatches/reference-photo.jpg")?;

    // Found out now, not after a minute of drawing.
    let folder = path.parent().filter(|folder| *folder != Path::new(""));
    if let Some(folder) = folder.filter(|folder| !folder.is_dir()) {
        return Err(format!("{}: no such folder; create it first", folder.display()).into());
    }

    let scene = Scene::new(Paints::new(&Camera::new()));
    let picture = expose(&scene);
    for (rectangle, thing) in [(REGION, Thing::Arm), (CARD, Thing::Card)] {
        if !inside(rectangle).all(|at| picture[at].0 == Some(thing)) {
            return Err(format!("rectangle {rectangle:?} is not wholly on the {thing:?}").into());
        }
    }
    let mut bytes = Vec::with_capacity(3 * WIDTH * HEIGHT);
    for (place, (_, light)) in picture.iter().enumerate() {
        bytes.extend(camera::develop(light + grain(place, light)));
    }
    let mut file = Vec::new();
    let (width, height) = (u32::try_from(WIDTH)?, u32::try_from(HEIGHT)?);
    JpegEncoder::new_with_quality(&mut file, JPEG_QUALITY).write_image(
        &bytes,
        width,
        height,
        ExtendedColorType::Rgb8,
    )?;
    fs::write(&path, &file).map_err(|cause| format!("{}: {cause}", path.display()))?;

    report(&picture, file.len());
    Ok(())
}

/// What each pixel shows, where it shows but one thing, and its light.
type Pixel = (Option<Thing>, Rgb);

/// All pixels, row by row from the top.
fn expose(scene: &Scene) -> Vec<Pixel> {
    let mut picture = vec![(None, Rgb::zeros()); WIDTH * HEIGHT];
    let threads = thread::available_parallelism().map_or(1, usize::from);
    // Every thread takes every so many rows, since rows with the arm cost most.
    let mut shares: Vec<Vec<(usize, &mut [Pixel])>> = Vec::new();
    shares.resize_with(threads, Vec::new);
    for (row, pixels) in picture.chunks_mut(WIDTH).enumerate() {
        shares[row % threads].push((row, pixels));
    }
    thread::scope(|scope| {
        for share in shares {
            scope.spawn(move || {
                for (row, pixels) in share {
                    for (column, pixel) in pixels.iter_mut().enumerate() {
                        *pixel = expose_pixel(scene, column, row);
                    }
                }
            });
        }
    });
    picture
}

fn expose_pixel(scene: &Scene, column: usize, row: usize) -> Pixel {
    let place = |pixel: usize, ray: usize| pixel as f64 + (ray as f64 + 0.5) / RAYS as f64;
    let mut light = Rgb::zeros();
    let mut things = Vec::with_capacity(RAYS * RAYS);
    for ray in 0..RAYS * RAYS {
        let x = (place(column, ray % RAYS) - WIDTH as f64 / 2.0) / WIDTH as f64;
        let y = (HEIGHT as f64 / 2.0 - place(row, ray / RAYS)) / WIDTH as f64;
        let (thing, part) = scene.look(x, y);
        things.push(thing);
        // A sensor cell that is full takes no more.
        light += part.map(|value| value.min(1.3)) / (RAYS * RAYS) as f64;
    }
    let first = things[0];
    (
        things.iter().all(|thing| *thing == first).then_some(first),
        light,
    )
}

/// The sensor's noise at a pixel: the more light, the more noise.
fn grain(place: usize, light: &Rgb) -> Rgb {
    let place = i32::try_from(place).unwrap_or(i32::MAX);
    let channel = |channel: u32, value: f64| {
        // The sum of four even draws is nearly normal, with a deviation of √(1/3).
        let sum: f64 = (0..4)
            .map(|draw| noise::lattice(place, draw, 0, 900 + channel))
            .sum();
        let deviation = NOISE[0] + (NOISE[1] - NOISE[0]) * value.clamp(0.0, 1.0).sqrt();
        (sum - 2.0) * 3.0_f64.sqrt() * deviation
    };
    Rgb::new(
        channel(0, light.x),
        channel(1, light.y),
        channel(2, light.z),
    )
}

/// The pixels of a rectangle, as places in the picture.
fn inside([left, top, width, height]: Rectangle) -> impl Iterator<Item = usize> {
    (top..top + height)
        .flat_map(move |row| (left..left + width).map(move |column| row * WIDTH + column))
}

#[expect(clippy::print_stdout, reason = "the program's answer")]
fn report(picture: &[Pixel], file_bytes: usize) {
    let daylight = Viewing::D65_10.weights();
    println!(
        "invented picture, seed {}, {} kB",
        noise::SEED,
        file_bytes / 1000
    );
    println!("--region {}", typed(REGION));
    println!("--card {}", typed(CARD));
    println!("true colour, {}, without gloss:", Viewing::D65_10);
    let line =
        |name: &str, spectrum: &Spectrum| println!("  {name:<6}{}", shown(daylight.lab(spectrum)));
    line("base", &Skin::BASE.reflectance());
    line("flush", &Skin::FLUSH.reflectance());
    line("card", &skin::grey_card());

    let full = inside(REGION)
        .filter(|at| picture[*at].1.max() >= 1.0)
        .count();
    let pixels = REGION[2] * REGION[3];
    println!("clipped in the region: {full} of {pixels} pixels");
}

fn typed([left, top, width, height]: Rectangle) -> String {
    format!("{left},{top},{width},{height}")
}

fn shown(lab: Lab) -> String {
    // Adding 0 takes the sign off a rounded −0.
    let [l, a, b] = [lab.l, lab.a, lab.b].map(|value| (10.0 * value).round() / 10.0 + 0.0);
    format!("L* {l:.1}  a* {a:.1}  b* {b:.1}")
}
