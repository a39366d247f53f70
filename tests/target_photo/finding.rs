//! Charts that are looked for: photographs made here, of a chart turned, oblique, dim and among clutter.
//!
//! A scene is drawn from a seed: the chart's turn, tilt, size, frame, lamp, camera, exposure and fall of light; behind it
//! boxes, tiles, printed stripes and another grid of painted squares. Where the chart is, is known from drawing it.

use std::f64::consts::{PI, TAU};
use std::path::Path;

use dropwise::colour::{Spectrum, Viewing, delta_e_2000};
use dropwise::tone::{Chart, ChartValues, Corners, PhotoRequest, Target};
use nalgebra::{Matrix3, Vector3};

use super::cards::skins;
use super::scene::{Shot, homography, patches, values_file};
use super::studio::{Painting, Studio};

const SIZE: [u32; 2] = [1200, 900];
/// Where the skin lies, to be read: left, top and side.
const SKIN: [u32; 3] = [1090, 790, 90];

/// A flat thing in the scene: a grid of cells with a frame about each, or one colour.
struct Thing {
    to_square: Matrix3<f64>,
    across: usize,
    down: usize,
    /// Share of a cell's width that the frame takes on each side.
    frame: f64,
    /// The frame's surface, and those of the cells, row by row.
    frame_surface: usize,
    cells: Vec<usize>,
}

impl Thing {
    fn surface(&self, x: f64, y: f64) -> Option<usize> {
        let seen = self.to_square * Vector3::new(x, y, 1.0);
        // A margin of the frame's own about the grid.
        let margin = 0.3;
        let (u, v) = (
            self.across as f64 * seen[0] / seen[2],
            self.down as f64 * seen[1] / seen[2],
        );
        let inside = |place: f64, count: usize, margin: f64| {
            (-margin..count as f64 + margin).contains(&place)
        };
        if seen[2] <= 0.0 || !inside(u, self.across, margin) || !inside(v, self.down, margin) {
            return None;
        }
        let is_frame = |place: f64| (place.rem_euclid(1.0) - 0.5).abs() > 0.5 - self.frame;
        let outside = !inside(u, self.across, 0.0) || !inside(v, self.down, 0.0);
        if outside || is_frame(u) || is_frame(v) {
            return Some(self.frame_surface);
        }
        Some(self.cells[v as usize * self.across + u as usize])
    }
}

/// Corners of a flat rectangle in space as a pinhole shows it: about `middle`, `width` pixels wide, turned in the picture,
/// tilted about an axis in it. Degrees.
fn seen_corners(
    middle: [f64; 2],
    width: f64,
    height: f64,
    turn: f64,
    tilt: f64,
    axis: f64,
) -> [[f64; 2]; 4] {
    let [turn, tilt, axis] = [turn, tilt, axis].map(|degrees| degrees * PI / 180.0);
    let distance = 1600.0;
    [[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]].map(|[x, y]| {
        let (x, y) = (x * width, y * height);
        let (x, y) = (
            x * turn.cos() - y * turn.sin(),
            x * turn.sin() + y * turn.cos(),
        );
        // In the frame of the axis: along it, and across it, where it sinks.
        let along = x * axis.cos() + y * axis.sin();
        let across = -x * axis.sin() + y * axis.cos();
        let (across, depth) = (across * tilt.cos(), across * tilt.sin());
        let x = along * axis.cos() - across * axis.sin();
        let y = along * axis.sin() + across * axis.cos();
        let near = distance / (distance + depth);
        [middle[0] + x * near, middle[1] + y * near]
    })
}

/// A scene, and where its chart is, if it has one.
struct Scene {
    photo: Painting,
    corners: Option<[[f64; 2]; 4]>,
    told: String,
}

/// Draws between two bounds.
type Draw<'a> = dyn FnMut(f64, f64) -> f64 + 'a;

/// The surfaces of a scene, the chart's patches first, and where among them the others stand.
struct Palette {
    all: Vec<Spectrum>,
    skin: usize,
    black: usize,
    white: usize,
    /// Four shades of a floor.
    floor: usize,
    /// Thirty paints that no chart has.
    paints: usize,
}

impl Palette {
    fn of(seed: u64, between: &mut Draw<'_>) -> Self {
        let mut all = patches();
        let skin = all.len();
        all.push(skins()[seed as usize % 60].1);
        all.extend([Spectrum::constant(0.03), Spectrum::constant(0.85)]);
        let floor = all.len();
        for index in 0..4 {
            let grey = 0.12 + 0.09 * f64::from(index) + between(0.0, 0.06);
            let warm = between(0.0, 0.5);
            all.push(Spectrum::from_fn(|band| {
                grey * (1.0 + warm * (band as f64 - 17.0) / 35.0)
            }));
        }
        let paints = all.len();
        for _ in 0..30 {
            let (base, middle) = (between(0.03, 0.3), between(0.0, 35.0));
            let (width, high) = (between(3.0, 12.0), between(0.0, 0.6));
            all.push(Spectrum::from_fn(|band| {
                base + high * (-((band as f64 - middle) / width).powi(2)).exp()
            }));
        }
        Self {
            all,
            skin,
            black: skin + 1,
            white: skin + 2,
            floor,
            paints,
        }
    }
}

/// The chart, where it lies, and how in words.
fn chart(seed: u64, palette: &Palette, between: &mut Draw<'_>) -> (Thing, [[f64; 2]; 4], String) {
    let width = between(300.0, 620.0);
    let (turn, tilt) = (between(0.0, 360.0), between(0.0, 50.0));
    let reach = 0.62 * width;
    let middle = [
        between(reach, 1200.0 - reach).min(1050.0 - reach),
        between(reach.min(440.0), 900.0 - reach.min(440.0)),
    ];
    let axis = between(0.0, 360.0);
    let corners = seen_corners(middle, width, width * 4.0 / 6.0, turn, tilt, axis);
    let frame = [0.04, 0.07, 0.1][seed as usize % 3];
    let thing = Thing {
        to_square: homography(corners),
        across: 6,
        down: 4,
        frame,
        frame_surface: if seed % 4 == 3 {
            palette.white
        } else {
            palette.black
        },
        cells: (0..24).collect(),
    };
    let told = format!(", {width:.0} px wide, turned {turn:.0}°, tilted {tilt:.0}°, frame {frame}");
    (thing, corners, told)
}

/// Another grid of the chart's size, of other paints.
fn paint_box(palette: &Palette, between: &mut Draw<'_>) -> Thing {
    let corners = seen_corners(
        [between(150.0, 1000.0), between(150.0, 750.0)],
        between(240.0, 420.0),
        between(160.0, 300.0),
        between(0.0, 360.0),
        between(0.0, 40.0),
        30.0,
    );
    Thing {
        to_square: homography(corners),
        across: 6,
        down: 4,
        frame: 0.08,
        frame_surface: palette.black,
        cells: (0..24).map(|cell| palette.paints + cell).collect(),
    }
}

/// A box or a striped print.
fn clutter(palette: &Palette, between: &mut Draw<'_>) -> Thing {
    let corners = seen_corners(
        [between(0.0, 1200.0), between(0.0, 900.0)],
        between(30.0, 260.0),
        between(30.0, 260.0),
        between(0.0, 360.0),
        between(0.0, 50.0),
        between(0.0, 360.0),
    );
    let striped = between(0.0, 1.0) > 0.6;
    let mut paint = || palette.paints + (between(0.0, 30.0) as usize).min(29);
    let (one, other) = (paint(), paint());
    Thing {
        to_square: homography(corners),
        across: if striped { 9 } else { 1 },
        down: 1,
        frame: 0.02,
        frame_surface: other,
        cells: (0..9)
            .map(|cell| if cell % 2 == 0 { one } else { other })
            .collect(),
    }
}

/// Which shade of the floor lies at a place along it: tiles of this size with joints, or grain as of wood.
fn shade(u: f64, v: f64, tile: Option<f64>) -> usize {
    let Some(tile) = tile else {
        return (v / 23.0 + 0.6 * (u / 140.0).sin()).floor().rem_euclid(4.0) as usize;
    };
    let joint = |place: f64| (place / tile).rem_euclid(1.0) < 0.06;
    if joint(u) || joint(v) {
        return 0;
    }
    let (column, row) = ((u / tile).floor(), (v / tile).floor());
    1 + (column * 7.0 + row * 3.0).rem_euclid(3.0) as usize
}

fn scene(seed: u64, with_chart: bool) -> Scene {
    let mut random = fastrand::Rng::with_seed(seed);
    let between: &mut Draw<'_> = &mut |low, high| low + (high - low) * random.f64();
    let camera = ["reflex", "layers", "lopsided"][seed as usize % 3];
    let lamp = ["D65", "A", "LED-B3", "FL2"][(seed as usize / 3) % 4];
    let mut shot = Shot::new(camera, lamp, seed);
    shot.exposure = between(0.18, 0.9);
    shot.noise = between(0.005, 0.02);
    shot.slope = [between(-0.25, 0.25), between(-0.25, 0.25)];
    let palette = Palette::of(seed, between);
    let mut things = Vec::new();
    let mut told = format!("{camera} under {lamp}, exposure {:.2}", shot.exposure);
    let mut corners = None;
    if with_chart {
        let (thing, own, how) = chart(seed, &palette, between);
        things.push(thing);
        corners = Some(own);
        told += &how;
    }
    if seed.is_multiple_of(2) {
        things.push(paint_box(&palette, between));
        told += ", a paint box";
    }
    for _ in 0..(seed as usize * 5) % 17 {
        things.push(clutter(&palette, between));
    }
    told += &format!(", {} things", things.len());
    let tile = between(40.0, 90.0);
    let angle = between(0.0, TAU);
    let tile = (seed % 5 == 1).then_some(tile);
    if tile.is_some() {
        told += ", on tiles";
    }
    let photo = shot.take(SIZE, &palette.all, |x, y| {
        let [left, top, side] = SKIN;
        if (left..left + side).contains(&x) && (top..top + side).contains(&y) {
            return palette.skin;
        }
        let (x, y) = (f64::from(x) + 0.5, f64::from(y) + 0.5);
        let thing = things.iter().find_map(|thing| thing.surface(x, y));
        thing.unwrap_or_else(|| {
            let along = x * angle.cos() + y * angle.sin();
            palette.floor + shade(along, y * angle.cos() - x * angle.sin(), tile)
        })
    });
    Scene {
        photo,
        corners,
        told,
    }
}

fn request(path: &Path, values: &Path, corners: Option<Corners>) -> PhotoRequest {
    let [left, top, side] = SKIN;
    let region = format!("{},{},{},{}", left + 10, top + 10, side - 20, side - 20);
    PhotoRequest {
        region: Some(region.parse().expect("a region")),
        chart: Some(Chart {
            corners,
            values: ChartValues::read(values).expect("values"),
        }),
        tones: 1,
        ..PhotoRequest::new(path)
    }
}

/// What became of a scene.
enum Outcome {
    /// Found where it is; ΔE00 between skins read with the corners found and with those given, and what was told.
    Right(f64, String),
    Wrong(String),
    Refused(String),
}

fn outcome(studio: &Studio, values: &Path, seed: u64, with_chart: bool) -> (String, Outcome) {
    let scene = scene(seed, with_chart);
    let path = if seed.is_multiple_of(2) {
        studio.png(&format!("{seed}.png"), &scene.photo, None)
    } else {
        studio.jpeg(&format!("{seed}.jpg"), &scene.photo, None)
    };
    if let Ok(folder) = std::env::var("DROPWISE_SCENES") {
        let name = format!(
            "{folder}/{seed}-{with_chart}.{}",
            if seed.is_multiple_of(2) { "png" } else { "jpg" }
        );
        std::fs::copy(values, format!("{folder}/chart.csv")).expect("kept");
        std::fs::copy(&path, name).expect("kept");
    }
    let found = match Target::from_photo(&request(&path, values, None), Viewing::D65_10) {
        Ok(found) => found,
        Err(error) => return (scene.told, Outcome::Refused(error.to_string())),
    };
    let told = found.charts[0].found.clone().expect("it was looked for");
    let Some(truth) = scene.corners else {
        return (scene.told, Outcome::Wrong(format!("found {told:?}")));
    };
    let patch = (truth[0][0] - truth[1][0]).hypot(truth[0][1] - truth[1][1]) / 6.0;
    let off = |i: usize| (truth[i][0] - told.corners[i][0]).hypot(truth[i][1] - told.corners[i][1]);
    let off = (0..4).map(off).fold(0.0, f64::max) / patch;
    let given = Target::from_photo(
        &request(&path, values, Some(Corners::new(truth))),
        Viewing::D65_10,
    );
    let given = given.expect("the chart is there");
    let apart = delta_e_2000(given.lab, found.lab);
    let sure = format!(
        "corners off by {off:.2} patches, {} fields, fit {:.1}, next {:.1}",
        told.fields,
        told.delta_e,
        told.next_delta_e.unwrap_or(f64::NAN)
    );
    let outcome = if off < 0.5 && apart < 0.5 {
        Outcome::Right(apart, sure)
    } else {
        Outcome::Wrong(format!("ΔE00 {apart:.2}: {sure}"))
    };
    (scene.told, outcome)
}

/// Prints what became of scenes; returns how many were found, and how many wrongly.
fn count(seeds: std::ops::Range<u64>, with_chart: bool) -> (usize, usize) {
    let studio = Studio::new();
    let values = values_file(&studio);
    let (mut right, mut wrong) = (0, 0);
    let seeds: Vec<u64> = seeds.collect();
    let (one, other) = seeds.split_at(seeds.len() / 2);
    let all = |seeds: &[u64]| -> Vec<(String, Outcome)> {
        let seeds = seeds.iter();
        seeds
            .map(|seed| outcome(&studio, &values, *seed, with_chart))
            .collect()
    };
    let outcomes = std::thread::scope(|scope| {
        let first = scope.spawn(|| all(one));
        let last = all(other);
        let mut outcomes = first.join().expect("no panic");
        outcomes.extend(last);
        outcomes
    });
    for (seed, (scene, outcome)) in seeds.iter().zip(outcomes) {
        let outcome = match outcome {
            Outcome::Right(apart, sure) => {
                right += 1;
                format!("found, ΔE00 {apart:.2}: {sure}")
            }
            Outcome::Wrong(how) => {
                wrong += 1;
                format!("WRONG, {how}")
            }
            Outcome::Refused(line) => format!("refused: {line}"),
        };
        println!("{seed:3}  {scene}\n     {outcome}");
    }
    (right, wrong)
}

#[test]
fn a_chart_is_found_or_refused_and_never_found_wrong() {
    let (right, wrong) = count(0..20, true);
    assert_eq!(wrong, 0, "found wrong");
    assert!(right >= 18, "{right} of 20 found");
    let (_, wrong) = count(20..26, false);
    assert_eq!(wrong, 0, "found where there is none");
}

#[test]
#[ignore = "takes minutes; a wider count for the books"]
fn two_hundred_scenes() {
    let (right, wrong) = count(100..300, true);
    println!("{right} of 200 found, {wrong} wrong");
    let (_, without) = count(300..360, false);
    println!("of 60 without a chart {without} found");
    assert_eq!((wrong, without), (0, 0), "found wrong");
}

/// What `dropwise` answers, and by which code it ends.
pub(crate) fn dropwise(words: &[&str]) -> (i32, String) {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let words = ["dropwise"].iter().chain(words).map(Into::into);
    let code = dropwise::cli::run(words, &mut out, &mut err);
    let text = [out, err].concat();
    (code.into(), String::from_utf8(text).expect("text"))
}

#[test]
fn the_command_finds_shows_and_refuses() {
    let studio = Studio::new();
    let values = values_file(&studio);
    let scene = scene(7, true);
    let corners = scene.corners.expect("a chart");
    let photo = studio.png("scene.png", &scene.photo, None);
    let check = studio.0.path().join("check.png");
    let [photo, values, check] =
        [&photo, &values, &check].map(|path| path.to_str().expect("a plain name"));
    let region = "1100,800,70,70";
    let words = [
        "target",
        photo,
        "--region",
        region,
        "--chart",
        "find",
        "--chart-values",
        values,
        "--tones",
        "1",
        "--check",
        check,
    ];
    let (code, output) = dropwise(&words);
    assert_eq!(code, 0, "{output}");
    let output = output.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        output.contains("it was found at") && output.contains("patches stand out"),
        "{output}"
    );
    let json: Vec<&str> = words.into_iter().chain(["--json"]).collect();
    // Once more, over its own earlier picture.
    let json: serde_json::Value = serde_json::from_str(&dropwise(&json).1).expect("JSON");
    let found = &json["charts"][0]["found"];
    for (index, corner) in corners.iter().enumerate() {
        for axis in 0..2 {
            let off = found["corners"][index][axis].as_f64().expect("a number") - corner[axis];
            assert!(off.abs() < 3.0, "corner {index} is off by {off} px");
        }
    }
    assert!(
        found["delta_e"].as_f64().is_some_and(|miss| miss < 6.0),
        "{found}"
    );
    // The outlines are where the chart and the skin are.
    let shown = image::open(check).expect("a picture").to_rgb8();
    assert_eq!(
        shown.dimensions(),
        (SIZE[0], SIZE[1]),
        "no larger than 1600 across, so as it was"
    );
    let white_near = |[x, y]: [f64; 2]| {
        (-3..=3).any(|dx| {
            (-3..=3).any(|dy| {
                let place = (x as i32 + dx, y as i32 + dy);
                shown.get_pixel(place.0 as u32, place.1 as u32).0 == [255; 3]
            })
        })
    };
    assert!(corners.into_iter().all(white_near), "the chart's corners");
    assert!(
        white_near([1100.0, 800.0]) && white_near([1170.0, 870.0]),
        "the region's"
    );
    // Nothing of the user's gives way.
    let own = studio.file("own.png", b"mine");
    let own = own.to_str().expect("a plain name");
    let mut others = words;
    others[11] = own;
    let (code, line) = dropwise(&others);
    assert_eq!(code, 2, "{line}");
    assert!(
        line.contains("something else stands") && line.contains("--force"),
        "{line}"
    );
    // Cut off, the chart is refused, and so is a picture that holds none.
    let (left, top) = (corners[0][0].min(corners[2][0]).max(0.0), 0);
    let cut = image::open(photo).expect("a picture").crop_imm(
        left as u32 + 60,
        top,
        SIZE[0] - left as u32 - 60,
        SIZE[1],
    );
    let cut_path = studio.0.path().join("cut.png");
    cut.save(&cut_path).expect("written");
    let (code, line) = dropwise(&[
        "target",
        cut_path.to_str().expect("a plain name"),
        "--chart",
        "find",
        "--chart-values",
        values,
    ]);
    assert_eq!(code, 2, "{line}");
    assert!(
        line.contains("not found") && line.contains("--chart X,Y"),
        "{line}"
    );
    let (code, line) = dropwise(&["target", photo, photo, "--check", check]);
    assert_eq!(code, 2, "{line}");
    assert!(line.contains("shows one photograph"), "{line}");
}

#[test]
fn patches_that_touch_each_other_and_the_rim_are_found() {
    let studio = Studio::new();
    let values = values_file(&studio);
    let shot = Shot::new("reflex", "D65", 3);
    let mut surfaces = patches();
    surfaces.push(skins()[3].1);
    let painting = shot.take([600, 400], &surfaces, |x, y| match (x / 50, y / 50) {
        (column @ 0..6, row @ 0..4) => row as usize * 6 + column as usize,
        _ => 24,
    });
    let photo = studio.png("touching.png", &painting, None);
    let request = PhotoRequest {
        region: Some("400,250,100,100".parse().expect("a region")),
        ..request(&photo, &values, None)
    };
    let target = Target::from_photo(&request, Viewing::D65_10).expect("found");
    let found = target.charts[0].found.clone().expect("looked for");
    let truth = [[0.0, 0.0], [300.0, 0.0], [300.0, 200.0], [0.0, 200.0]];
    for (found, truth) in found.corners.iter().zip(truth) {
        let off = (found[0] - truth[0]).hypot(found[1] - truth[1]);
        assert!(off < 5.0, "{found:?} for {truth:?}");
    }
}

#[test]
fn the_one_card_is_found_and_of_two_none() {
    let studio = Studio::new();
    let photo = |name: &str, cards: &[[u32; 2]]| {
        let cards = cards.to_vec();
        let painting = Painting::new(600, 400, move |x, y| {
            let is_card = |[left, top]: &[u32; 2]| {
                (*left..left + 120).contains(&x) && (*top..top + 80).contains(&y)
            };
            if cards.iter().any(is_card) {
                return [0.46; 3];
            }
            if (330..520).contains(&x) && (200..360).contains(&y) {
                return [0.78, 0.6, 0.5];
            }
            // Grain.
            let grain = f64::from((x * 7 + y * 13) % 29) / 100.0;
            [0.3 + grain, 0.2 + grain, 0.1]
        });
        studio.png(name, &painting, None)
    };
    let ask = |photo: &Path, card: &str| {
        let photo = photo.to_str().expect("a plain name");
        dropwise(&[
            "target",
            photo,
            "--region",
            "350,220,150,120",
            "--card",
            card,
            "--card-lab",
            "grey",
            "--tones",
            "1",
            "--json",
        ])
    };
    let lab = |(code, text): (i32, String)| -> [f64; 3] {
        assert_eq!(code, 0, "{text}");
        let json: serde_json::Value = serde_json::from_str(&text).expect("JSON");
        ["L", "a", "b"].map(|axis| json[axis].as_f64().expect("a number"))
    };
    let one = photo("one.png", &[[60, 50]]);
    let (found, given) = (lab(ask(&one, "find")), lab(ask(&one, "80,60,80,60")));
    for (found, given) in found.iter().zip(given) {
        assert!((found - given).abs() < 0.1, "{found} and {given}");
    }
    let (code, line) = ask(&photo("two.png", &[[60, 50], [60, 250]]), "find");
    assert_eq!(code, 2, "{line}");
    assert!(
        line.contains("2 fields in the picture may be the card"),
        "{line}"
    );
    let (code, line) = ask(&photo("none.png", &[]), "find");
    assert_eq!(code, 2, "{line}");
    assert!(line.contains("no card was found"), "{line}");
}
