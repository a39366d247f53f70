//! Where base, flush and shadow lie, to airbrush by: the photograph in cells, each zone outlined, hatched and numbered, with what goes
//! on it below.
//!
//! It is looked at while the other hand holds the airbrush, so that a zone is told three ways: by its outline, by its own hatching
//! and by a number, the same in the legend. The photograph is drawn in coarse cells, since a coat is no finer than that, and
//! no more of a stranger's face than the work needs goes into a file that is passed around. The first zone is the base: it is
//! the skin as it is cast, which no paint covers, so that it alone has no hatching. A zone without a paint of its own says so,
//! rather than being left out: the maker decides whether it is worth a cup. What is no tone is blank, and how much that is stands below.

use maud::{Markup, html};

use super::colours::hex;
use super::text::capital;
use crate::jobs::matching::{Layer, Matched};
use crate::tone::{ToneMap, ToneRole};

/// Widest and highest that the photograph is drawn, in the picture's own units.
const MOST: [f64; 2] = [680.0, 460.0];
/// Room for a line of the legend.
const LINE: f64 = 30.0;

/// How wide and high the photograph of `map` is drawn, in the picture's own units: as large as fits, and of its own shape, since
/// a face that is drawn too wide is hard to airbrush by.
fn size(map: &ToneMap) -> [f64; 2] {
    let [wide, high] = MOST;
    let width = wide.min(high * map.aspect);
    [width, width / map.aspect]
}

/// How high all of it is, with the legend, in the same units: what the picture that holds it must leave room for.
pub(super) fn height(map: &ToneMap) -> f64 {
    let [_, high] = size(map);
    let lines = map.zones.len() + usize::from(blank(map).is_some());
    high + 24.0 + LINE * lines as f64
}

/// That some of the photograph lies in no zone, where that is worth a word.
pub(crate) fn blank(map: &ToneMap) -> Option<String> {
    let percent = 100.0 * map.blank();
    (percent >= 0.5).then(|| {
        format!(
            "{percent:.0} % of the photograph is none of these tones, or too bright or dark to tell: left blank"
        )
    })
}

/// The map and its legend, with the top left corner at `x` and `y`; the coats are those of `matched`.
pub(super) fn drawn(map: &ToneMap, matched: &Matched, [x, y]: [f64; 2]) -> Markup {
    let [width, high] = size(map);
    let cell = [width / map.columns as f64, high / map.rows().max(1) as f64];
    let at = |column: usize, row: usize| (x + cell[0] * column as f64, y + cell[1] * row as f64);
    html! {
        defs { @for zone in 1..map.zones.len() { (hatch(zone)) } }
        // Cells overlap by a hair: between two that only touch a screen shows what is behind.
        @for (column, row, count, colour) in runs(map) {
            @let (x, y) = at(column, row);
            rect x=(tenths(x)) y=(tenths(y)) width=(tenths(cell[0] * count as f64 + 0.3)) height=(tenths(cell[1] + 0.3)) fill=(colour) {}
        }
        @for zone in 1..map.zones.len() {
            path d=(filled(map, zone, at, cell)) fill=(format!("url(#zone{zone})")) {}
        }
        @let outline = outline(map, at, cell);
        path d=(outline) fill="none" stroke="#fff" stroke-width="3.4" {}
        path d=(outline) fill="none" stroke="#000" stroke-width="1.4" {}
        rect x=(tenths(x)) y=(tenths(y)) width=(tenths(width)) height=(tenths(high)) fill="none" stroke="#000" {}
        @for (zone, [column, row]) in map.labels() {
            @let (left, top) = at(column, row);
            (number(zone, [left + cell[0] / 2.0, top + cell[1] / 2.0]))
        }
        @for (zone, role) in map.zones.iter().enumerate() {
            @let top = y + high + 12.0 + LINE * zone as f64;
            rect x=(tenths(x)) y=(tenths(top)) width="46" height="22" fill="#fff" stroke="#000" {}
            @if zone > 0 { rect x=(tenths(x)) y=(tenths(top)) width="46" height="22" fill=(format!("url(#zone{zone})")) {} }
            (number(zone, [x + 23.0, top + 11.0]))
            text x=(tenths(x + 58.0)) y=(tenths(top + 15.0)) { (coats(*role, matched)) }
        }
        @if let Some(blank) = blank(map) {
            @let top = y + high + 12.0 + LINE * map.zones.len() as f64;
            text x=(tenths(x)) y=(tenths(top + 15.0)) { (blank) }
        }
    }
}

/// What goes on a zone of `role`.
fn coats(role: ToneRole, matched: &Matched) -> String {
    if role == ToneRole::Base {
        return "Base: the skin as it is cast, no paint".to_owned();
    }
    let mut paints = matched.paints.iter().zip(&matched.prospects.spraying);
    let paint = paints.find(|(paint, _)| paint.layer == Layer::Paint(role));
    match paint {
        Some((paint, spraying)) => {
            let enough = spraying.reaches_at.unwrap_or(spraying.coats.len());
            let (name, dry) = (capital(&paint.name()), spraying.one_coat);
            match enough {
                1 => format!("{name}, 1 thin coat, {dry} dry; fade the edge"),
                _ => format!(
                    "{name}, {enough} thin coats, {dry} dry each: let each dry, fade the edge"
                ),
            }
        }
        None if role == ToneRole::Other => {
            "Another tone of the photograph: nothing of this part is aimed at it".to_owned()
        }
        None => format!(
            "{}: this part has no paint for it",
            capital(&role.to_string())
        ),
    }
}

/// A zone's number, white on black.
fn number(zone: usize, [x, y]: [f64; 2]) -> Markup {
    html! {
        circle cx=(tenths(x)) cy=(tenths(y)) r="9" fill="#000" stroke="#fff" stroke-width="1.5" {}
        text x=(tenths(x)) y=(tenths(y + 4.0)) text-anchor="middle" fill="#fff" font-weight="600" { (zone + 1) }
    }
}

/// What fills a zone: strokes that lean more from zone to zone, the base has none.
fn hatch(zone: usize) -> Markup {
    let lean = [45, 135, 90, 0][(zone - 1) % 4];
    let apart = 10 + 3 * ((zone - 1) / 4);
    html! {
        pattern id=(format!("zone{zone}")) width=(apart) height=(apart) patternUnits="userSpaceOnUse" patternTransform=(format!("rotate({lean})")) {
            path d=(format!("M0 0v{apart}")) stroke="#fff" stroke-width="2.6" {}
            path d=(format!("M0 0v{apart}")) stroke="#000" stroke-width="1.2" {}
        }
    }
}

/// Cells of one row beside each other that look alike: the column and row of the first, how many, their colour, which is white
/// where they lie in no zone.
fn runs(map: &ToneMap) -> Vec<(usize, usize, usize, String)> {
    let mut runs: Vec<(usize, usize, usize, String)> = Vec::new();
    for (index, lab) in map.colours.iter().enumerate() {
        let (column, row) = (index % map.columns, index / map.columns);
        let zoned = lab.filter(|_| map.zone(column, row).is_some());
        let colour = zoned.map_or_else(|| "#fff".to_owned(), hex);
        match runs.last_mut() {
            Some((_, of, count, same)) if *of == row && *same == colour => *count += 1,
            _ => runs.push((column, row, 1, colour)),
        }
    }
    runs
}

/// The cells of `zone`, as a path to be filled.
fn filled(
    map: &ToneMap,
    zone: usize,
    at: impl Fn(usize, usize) -> (f64, f64),
    cell: [f64; 2],
) -> String {
    let mut path = String::new();
    for row in 0..map.rows() {
        let mut column = 0;
        while column < map.columns {
            let begin = column;
            while map.zone(column, row) == Some(zone) {
                column += 1;
            }
            if column > begin {
                let (x, y) = at(begin, row);
                let width = cell[0] * (column - begin) as f64;
                path += &format!("M{x:.1} {y:.1}h{width:.1}v{:.1}h-{width:.1}z", cell[1]);
            }
            column += 1;
        }
    }
    path
}

/// Where zones meet, as a path to be drawn: along each row and each column, what is between neighbours of two zones.
fn outline(map: &ToneMap, at: impl Fn(usize, usize) -> (f64, f64), cell: [f64; 2]) -> String {
    let mut path = String::new();
    for row in 0..map.rows() {
        for column in 0..map.columns {
            let own = map.zone(column, row);
            let (x, y) = at(column, row);
            if column > 0 && map.zone(column - 1, row) != own {
                path += &format!("M{x:.1} {y:.1}v{:.1}", cell[1]);
            }
            if row > 0 && map.zone(column, row - 1) != own {
                path += &format!("M{x:.1} {y:.1}h{:.1}", cell[0]);
            }
        }
    }
    path
}

/// A length as the picture writes it: finer than a tenth of its units nobody sees, and the file stays small.
fn tenths(length: f64) -> String {
    format!("{length:.1}")
}
