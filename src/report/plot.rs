//! A part as a picture, one SVG file: where its tone and castings lie, what a drop more or less does, what is in doubt, what
//! thickness does, and where its tones lie in a photograph.
//!
//! Nothing is told by colour alone: points have shapes and names, patches have numbers, shares of doubt have letters.
//!
//! Four pictures stand one below the other, in one file, since they answer one question after the other: is it there, what would a
//! drop do, why is it not sure, and where does the brush matter. Lengths are in the picture's own units, of which a window shows
//! as many as it likes; text is text, so that it can be searched and read aloud.

use maud::{Markup, html};

use super::budget::{name as source_of_doubt, worth_a_word};
use super::colours::hex;
use super::tone_map;
pub(crate) use super::tone_map::blank;
use crate::colour::{Lab, delta_e_2000};
use crate::jobs::plotting::{Ladder, Plot};

/// Width of the picture and of what stands in it, in its own units.
const WIDTH: f64 = 760.0;
/// Room on either side.
const MARGIN: f64 = 40.0;

/// The picture, as the text of an SVG file: a title for whoever hears it, the mark by which a later one may take its place, and the
/// four parts from top to bottom. How high it is hangs on how many pigments are dropped, and on how many doubts are worth a word.
pub fn picture(plot: &Plot) -> String {
    let ladder_y = 430.0;
    let doubt_y = ladder_y + 50.0 + 44.0 * plot.ladder.len().max(1) as f64;
    let doubts = worth_a_word(&plot.matched.skin.recipe.best().budget);
    let thickness_y = doubt_y + 90.0 + 16.0 * doubts.len() as f64;
    let map_y = thickness_y + 240.0;
    let high = map_y
        + plot
            .tone_map
            .as_ref()
            .map_or(0.0, |(_, map)| 40.0 + tone_map::height(map));
    html! {
        svg xmlns="http://www.w3.org/2000/svg" viewBox=(format!("0 0 {WIDTH} {high}")) font-family="system-ui, sans-serif" font-size="12" role="img" {
            title { (plot.part.title) }
            metadata { "generator: dropwise" }
            rect x="0" y="0" width=(WIDTH) height=(high) fill="#fff" {}
            text x=(MARGIN) y="24" font-size="16" font-weight="600" { (plot.part.title) }
            (map(plot))
            (heading(ladder_y, "A drop more or less of each, in the skin; ΔE00 to the tone"))
            @for (index, ladder) in plot.ladder.iter().enumerate() { (rungs(ladder, ladder_y + 16.0 + 44.0 * index as f64)) }
            @if plot.ladder.is_empty() { text x=(MARGIN) y=(ladder_y + 34.0) { "nothing is dropped into it" } }
            (doubt(plot, doubt_y))
            (thickness(plot, thickness_y))
            @if let Some((photo, map)) = &plot.tone_map {
                (heading(map_y, &format!("Where each tone lies in {photo}, to airbrush by")))
                (tone_map::drawn(map, &plot.matched, [MARGIN, map_y + 14.0]))
            }
        }
    }
    .into_string()
}

/// The ladder alone, for a sheet, within whose HTML it needs no namespace.
pub(super) fn ladder_picture(ladder: &[Ladder]) -> Markup {
    let high = 44.0 * ladder.len() as f64;
    html! {
        svg viewBox=(format!("0 0 {WIDTH} {high}")) font-size="13" role="img" {
            title { "What a drop more or less of each does" }
            @for (index, ladder) in ladder.iter().enumerate() { (rungs(ladder, 4.0 + 44.0 * index as f64)) }
        }
    }
}

/// What a part of the picture shows, at the height `y`.
fn heading(y: f64, words: &str) -> Markup {
    html! { text x=(MARGIN) y=(y) font-size="13" font-weight="600" { (words) } }
}

/// A square of the a*b* plane around the aim, with the tolerance's outline, and a strip of L* beside it.
struct Map {
    aim: Lab,
    /// From the middle to an edge, in units of a*, b* and L*.
    reach: f64,
}

impl Map {
    /// The left edge of the square.
    const LEFT: f64 = 80.0;
    /// The top of square and strip.
    const TOP: f64 = 60.0;
    /// How wide and high the square is, and how high the strip.
    const SIDE: f64 = 300.0;
    /// The left edge of the strip of L*.
    const STRIP: f64 = 480.0;
    /// How wide the strip is.
    const STRIP_WIDTH: f64 = 40.0;

    /// Wide enough for all of `points` and the `tolerance`.
    fn of(aim: Lab, tolerance: f64, points: impl Iterator<Item = Lab>) -> Self {
        let away = |lab: Lab| {
            let apart = [lab.l - aim.l, lab.a - aim.a, lab.b - aim.b];
            apart
                .into_iter()
                .fold(0.0, |most: f64, apart| most.max(apart.abs()))
        };
        let most = points.map(away).fold(2.5 * tolerance, f64::max);
        Self {
            aim,
            reach: (1.15 * most).max(2.0),
        }
    }

    /// How far from the left a colour of this a* stands.
    fn x(&self, a: f64) -> f64 {
        Self::LEFT + Self::SIDE * (0.5 + (a - self.aim.a) / (2.0 * self.reach))
    }

    /// How far from the top a colour of this b* stands.
    fn y(&self, b: f64) -> f64 {
        Self::TOP + Self::SIDE * (0.5 - (b - self.aim.b) / (2.0 * self.reach))
    }

    /// How far from the top a colour of this L* stands on the strip.
    fn strip_y(&self, l: f64) -> f64 {
        Self::TOP + Self::SIDE * (0.5 - (l - self.aim.l) / (2.0 * self.reach))
    }

    /// Where, at the aim's lightness, ΔE00 reaches `tolerance`, as the points of a polygon.
    fn outline(&self, tolerance: f64) -> String {
        let corner = |index: u32| {
            let (sin, cos) = (f64::from(index) * std::f64::consts::TAU / 72.0).sin_cos();
            let at = |distance: f64| {
                Lab::new(
                    self.aim.l,
                    self.aim.a + distance * cos,
                    self.aim.b + distance * sin,
                )
            };
            // ΔE00 grows along a ray: halved until it is narrower than a line.
            let (mut near, mut far) = (0.0, 2.0 * self.reach);
            for _ in 0..40 {
                let middle = 0.5 * (near + far);
                if delta_e_2000(self.aim, at(middle)) < tolerance {
                    near = middle;
                } else {
                    far = middle;
                }
            }
            let on_it = at(near);
            format!("{:.1},{:.1}", self.x(on_it.a), self.y(on_it.b))
        };
        (0..72).map(corner).collect::<Vec<_>>().join(" ")
    }
}

/// Where tone, forecast and castings lie: a* to the right, b* upwards, as colour charts have them, and L* on a strip beside, lighter
/// above. The dashed line is where ΔE00 from the tone is the tolerance, for colours as light as the tone; one that is lighter or
/// darker uses up some of it.
fn map(plot: &Plot) -> Markup {
    let aim = plot.matched.target.lab;
    let tolerance = plot.matched.tolerance;
    let made = plot.matched.skin.recipe.best().prediction.lab;
    let castings = plot.castings.iter().map(|(_, lab)| *lab);
    let map = Map::of(aim, tolerance, castings.chain([made]));
    let (right, bottom) = (Map::LEFT + Map::SIDE, Map::TOP + Map::SIDE);
    let at = |lab: Lab| (map.x(lab.a), map.y(lab.b));
    html! {
        rect x=(Map::LEFT) y=(Map::TOP) width=(Map::SIDE) height=(Map::SIDE) fill="#fff" stroke="#000" {}
        polygon points=(map.outline(tolerance)) fill=(hex(aim)) fill-opacity="0.35" stroke="#000" stroke-dasharray="4 3" {}
        text x=(Map::LEFT) y=(bottom + 16.0) { (format!("a* {:.1}", aim.a - map.reach)) }
        text x=(right) y=(bottom + 16.0) text-anchor="end" { (format!("redder: a* {:.1}", aim.a + map.reach)) }
        text x=(Map::LEFT - 6.0) y=(Map::TOP + 10.0) text-anchor="end" { (format!("{:.1}", aim.b + map.reach)) }
        text x=(Map::LEFT - 6.0) y=(Map::TOP + 26.0) text-anchor="end" { "yellower" }
        text x=(Map::LEFT - 6.0) y=(bottom) text-anchor="end" { (format!("b* {:.1}", aim.b - map.reach)) }
        rect x=(Map::STRIP) y=(Map::TOP) width=(Map::STRIP_WIDTH) height=(Map::SIDE) fill="#fff" stroke="#000" {}
        text x=(Map::STRIP) y=(Map::TOP - 8.0) { (format!("lighter: L* {:.1}", aim.l + map.reach)) }
        text x=(Map::STRIP) y=(bottom + 16.0) { (format!("L* {:.1}", aim.l - map.reach)) }
        (point(at(aim), map.strip_y(aim.l), &Shape::Aim, "the tone"))
        (point(at(made), map.strip_y(made.l), &Shape::Made, "comes out"))
        @for (name, lab) in &plot.castings {
            (point(at(*lab), map.strip_y(lab.l), &Shape::Casting, name))
        }
        text x=(Map::LEFT) y=(bottom + 34.0) { "dashed: within the tolerance, ΔE00 " (format!("{tolerance:.2}")) ", at the tone's lightness" }
    }
}

/// How a point is drawn.
enum Shape {
    /// A ring.
    Aim,
    /// A cross.
    Made,
    /// A square.
    Casting,
}

/// A point on the map and on the strip, with its name beside both.
///
/// Shapes tell what is aimed at, what is expected and what was read, so that a print in black and white does too. Of castings as
/// many are drawn as the log has of the part.
fn point((x, y): (f64, f64), strip_y: f64, shape: &Shape, name: &str) -> Markup {
    let middle = Map::STRIP + Map::STRIP_WIDTH / 2.0;
    // What comes out is near the tone, as a rule: its name stands lower.
    let (beside, apart) = match shape {
        Shape::Made => (14.0, 8.0),
        Shape::Aim => (-6.0, -3.0),
        Shape::Casting => (-6.0, 0.0),
    };
    let drawn = |x: f64, y: f64| -> Markup {
        match shape {
            Shape::Aim => {
                html! { circle cx=(x) cy=(y) r="6" fill="none" stroke="#000" stroke-width="2" {} }
            }
            Shape::Made => html! {
                path d=(format!("M{} {}l12 12m0 -12l-12 12", x - 6.0, y - 6.0)) stroke="#000" stroke-width="2" fill="none" {}
            },
            Shape::Casting => html! {
                rect x=(x - 5.0) y=(y - 5.0) width="10" height="10" fill="#fff" stroke="#000" stroke-width="1.5" {}
            },
        }
    };
    html! {
        (drawn(x, y))
        text x=(x + 9.0) y=(y + beside) font-size="11" { (name) }
        (drawn(middle, strip_y))
        text x=(Map::STRIP + Map::STRIP_WIDTH + 8.0) y=(strip_y + 4.0 + apart) font-size="11" { (name) }
    }
}

/// The rungs of one pigment, the fewest drops on the left: what comes out as a patch, the recipe's own framed, with drops and ΔE00
/// to the tone below each.
fn rungs(ladder: &Ladder, y: f64) -> Markup {
    /// Room for the name.
    const NAME: f64 = 190.0;
    /// From one rung to the next.
    const RUNG: f64 = 100.0;
    html! {
        text x=(MARGIN) y=(y + 20.0) { (ladder.colorant) }
        @for (index, rung) in ladder.rungs.iter().enumerate() {
            @let x = MARGIN + NAME + RUNG * index as f64;
            rect x=(x) y=(y) width=(RUNG - 6.0) height="22" fill=(hex(rung.lab)) stroke="#000"
                stroke-width=(if rung.is_the_recipe { 3.0 } else { 0.5 }) {}
            text x=(x) y=(y + 36.0) font-size="11" {
                (rung.drops) @if rung.drops == 1 { " drop: " } @else { " drops: " } (format!("{:.1}", rung.delta_e))
            }
        }
    }
}

/// What is in doubt, as one bar of its shares; each is lettered, and named below with its own ΔE00.
///
/// Shares are those of the variance, so that they fill the bar: spreads themselves add by their squares.
fn doubt(plot: &Plot, y: f64) -> Markup {
    let budget = &plot.matched.skin.recipe.best().budget;
    let lines = worth_a_word(budget);
    let wide = WIDTH - 2.0 * MARGIN;
    // Spreads add by their squares.
    let whole: f64 = lines.iter().map(|line| line.delta_e.powi(2)).sum();
    let letters = || ('A'..='Z').zip(&lines);
    let mut x = MARGIN;
    let shares: Vec<(char, f64, f64)> = letters()
        .map(|(letter, line)| {
            let share = wide * line.delta_e.powi(2) / whole;
            let left = x;
            x += share;
            (letter, left, share)
        })
        .collect();
    html! {
        (heading(y, &format!("What is in doubt: ΔE00 {:.1} in all, one standard deviation", budget.delta_e)))
        @for (letter, left, share) in &shares {
            rect x=(left) y=(y + 10.0) width=(share) height="24" fill="#fff" stroke="#000" {}
            @if *share > 14.0 { text x=(left + share / 2.0) y=(y + 27.0) text-anchor="middle" { (letter) } }
        }
        @for (index, (letter, line)) in letters().enumerate() {
            text x=(MARGIN) y=(y + 54.0 + 16.0 * index as f64) { (letter) "  " (source_of_doubt(line.source)) ", ΔE00 " (format!("{:.1}", line.delta_e)) }
        }
    }
}

/// How far a thinner or thicker skin looks from the ordered one, in ΔE00 over the thickness in mm. Each point is a patch of what comes
/// out; a flat line is a skin that forgives the brush.
fn thickness(plot: &Plot, y: f64) -> Markup {
    /// How high the curve may rise.
    const HIGH: f64 = 150.0;
    let at = &plot.matched.prospects.at_thicknesses;
    let thickest = at.iter().map(|at| at.thickness.0).fold(1.0, f64::max);
    let tolerance = plot.matched.tolerance;
    let most = at
        .iter()
        .map(|at| at.delta_e)
        .fold(1.5 * tolerance, f64::max);
    let (left, wide, bottom) = (MARGIN + 30.0, WIDTH - 2.0 * MARGIN - 60.0, y + 20.0 + HIGH);
    let x = |mm: f64| left + wide * mm / thickest;
    let up = |delta_e: f64| bottom - HIGH * delta_e / most;
    let line: Vec<String> = at
        .iter()
        .map(|at| format!("{:.1},{:.1}", x(at.thickness.0), up(at.delta_e)))
        .collect();
    html! {
        (heading(y, "Thinner or thicker skin: ΔE00 to the skin as thick as ordered (dashed: the tolerance)"))
        line x1=(left) x2=(left + wide) y1=(bottom) y2=(bottom) stroke="#000" {}
        line x1=(left) x2=(left) y1=(bottom - HIGH) y2=(bottom) stroke="#000" {}
        line x1=(left) x2=(left + wide) y1=(up(tolerance)) y2=(up(tolerance)) stroke="#000" stroke-dasharray="4 3" {}
        polyline points=(line.join(" ")) fill="none" stroke="#000" stroke-width="1.5" {}
        @for at in at {
            rect x=(x(at.thickness.0) - 8.0) y=(up(at.delta_e) - 8.0) width="16" height="16" fill=(hex(at.lab)) stroke="#000" {}
            text x=(x(at.thickness.0)) y=(up(at.delta_e) - 12.0) text-anchor="middle" font-size="11" { (format!("{:.1}", at.delta_e)) }
            text x=(x(at.thickness.0)) y=(bottom + 16.0) text-anchor="middle" font-size="11" { (at.thickness.0) }
        }
        text x=(left + wide + 24.0) y=(bottom + 16.0) font-size="11" { "mm" }
    }
}
