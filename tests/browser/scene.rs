//! A bench, photographed: a chart, a board of chips, one more chip and a piece of skin, in an even light, by a camera that sees as the
//! eye does. The chips' colours are what the book predicts of them; chart and mixes are invented.

use std::fs;
use std::path::{Path, PathBuf};

use dropwise::book::{Book, read_board_chips};
use dropwise::colour::{Illuminant, Lab, Observer, Viewing, to_srgb};
use dropwise::materials::{Casting, Geometry};
use dropwise::optics::Specular;

/// Width and height of the picture.
const SIZE: [u32; 2] = [1200, 800];
/// Left, top, width and height of what lies in it.
pub(crate) const CHART: [u32; 4] = [40, 40, 480, 320];
pub(crate) const BOARD: [u32; 4] = [620, 40, 520, 260];
pub(crate) const CHIP: [u32; 4] = [640, 400, 200, 160];
pub(crate) const SKIN: [u32; 4] = [100, 440, 360, 300];
/// The colours of the last two under D50/2°.
pub(crate) const CHIP_LAB: Lab = Lab::new(63.0, 12.0, 16.0);
pub(crate) const SKIN_LAB: Lab = Lab::new(66.0, 11.0, 17.0);

const CHART_SIZE: [u32; 2] = [4, 6];
const BOARD_SIZE: [u32; 2] = [2, 4];

/// Four mixes, each over the white and the black card.
const MIXES: [&str; 4] = [
    "titanium white 12; iron oxide red 2; iron oxide yellow 4",
    "titanium white 6; iron oxide red 4; iron oxide yellow 6; umber 1",
    "titanium white 20; iron oxide red 1; iron oxide yellow 2",
    "titanium white 4; iron oxide red 3; umber 3",
];

/// The files of a bench.
pub(crate) struct Scene {
    /// The photograph.
    pub(crate) photo: PathBuf,
    /// What the chart's patches are.
    pub(crate) values: PathBuf,
    /// Which chip lies where.
    pub(crate) chips: PathBuf,
}

impl Scene {
    /// Draws it into `folder`, with chips of what stands in `book`; `places.json` there says what lies where.
    pub(crate) fn of(book: &Book, folder: &Path) -> Self {
        let at = |name: &str| folder.join(name);
        let scene = Self {
            photo: at("bench.png"),
            values: at("chart.csv"),
            chips: at("chips.csv"),
        };
        let patches = patches();
        let mut values = "row,column,L,a,b\n".to_owned();
        for (index, lab) in (0..).zip(&patches) {
            let (row, column) = (index / CHART_SIZE[1] + 1, index % CHART_SIZE[1] + 1);
            values += &format!("{row},{column},{:.2},{:.2},{:.2}\n", lab.l, lab.a, lab.b);
        }
        fs::write(&scene.values, values).expect("written");
        fs::write(&scene.chips, list()).expect("written");
        let chips = chip_colours(book, &scene.chips);
        let picture = image::RgbImage::from_fn(SIZE[0], SIZE[1], |x, y| {
            let lab = if let Some(patch) = field([x, y], CHART, CHART_SIZE) {
                patch.map_or(Lab::new(12.0, 0.0, 0.0), |patch| patches[patch])
            } else if let Some(chip) = field([x, y], BOARD, BOARD_SIZE) {
                chip.map_or(Lab::new(90.0, 0.0, 2.0), |chip| chips[chip])
            } else if field([x, y], CHIP, [1, 1]).is_some() {
                CHIP_LAB
            } else if field([x, y], SKIN, [1, 1]).is_some() {
                SKIN_LAB
            } else {
                Lab::new(45.0, 0.0, 0.0)
            };
            // A camera's grain, the same on every run.
            let grain = (x * 7 + y * 13) % 3;
            image::Rgb(to_srgb(lab).map(|value| value.saturating_add(u8::from(grain == 0))))
        });
        picture.save(&scene.photo).expect("written");
        let places =
            serde_json::json!({ "chart": CHART, "board": BOARD, "chip": CHIP, "skin": SKIN });
        fs::write(at("places.json"), places.to_string()).expect("written");
        scene
    }
}

/// Greys, and colours all around, those of skin among them.
fn patches() -> Vec<Lab> {
    let greys = [94.0, 78.0, 62.0, 47.0, 33.0, 20.0].map(|l| Lab::new(l, 0.0, 0.0));
    let colours = (0..18_u32).map(|index| {
        let turn = f64::from(index) * 20.0_f64.to_radians();
        let l = [40.0, 55.0, 68.0][index as usize % 3];
        Lab::new(l, 26.0 * turn.cos(), 26.0 * turn.sin())
    });
    colours.chain(greys).collect()
}

fn list() -> String {
    let mut text = "row,column,swatch,base,base_g,mix,thickness_mm,backing\n".to_owned();
    for index in 0..8 {
        let (row, column) = (index / 4 + 1, index % 4 + 1);
        let card = ["white card", "black card"][index % 2];
        let (chip, mix) = (index / 2 + 1, MIXES[index / 2]);
        text += &format!("{row},{column},B{chip},clear skin,100,{mix},2,{card}\n");
    }
    text
}

/// What the chips look like under D50/2°, without what a surface mirrors.
fn chip_colours(book: &Book, list: &Path) -> Vec<Lab> {
    let weights = Viewing {
        illuminant: Illuminant::D50,
        observer: Observer::Cie1931,
    }
    .weights();
    let geometry = Geometry {
        specular: Some(Specular::FortyFive),
        aperture_mm: None,
    };
    let chips = read_board_chips(list, book.shelf()).expect("a sound list");
    let looks = chips.iter().map(|chip| {
        let casting = Casting::new(book.shelf(), &chip.build).expect("sound");
        weights.lab(&casting.read_by(geometry).reading())
    });
    looks.collect()
}

/// Which field of `[rows, columns]` in the rectangle a place lies in, `None` within on what is between them; `None` outside.
fn field(
    [x, y]: [u32; 2],
    [left, top, width, height]: [u32; 4],
    [rows, columns]: [u32; 2],
) -> Option<Option<usize>> {
    let (x, y) = (x.checked_sub(left)?, y.checked_sub(top)?);
    if x >= width || y >= height {
        return None;
    }
    let (wide, high) = (width / columns, height / rows);
    let edge = |place: u32, side: u32| {
        let place = place % side;
        rows * columns > 1 && (place < side / 12 || place >= side - side / 12)
    };
    let index = (y / high) * columns + x / wide;
    Some((!edge(x, wide) && !edge(y, high)).then_some(index as usize))
}
