//! Who mixes what when: a table for the wall, and a picture of bars.
//!
//! The table is read from top to bottom by whoever calls the steps; the picture shows at a look who waits and which mould stands
//! empty. Times begin with the first mixing, at 0:00, and are told to the minute: nobody mixes by the second.

use std::fmt::{self, Write as _};

#[cfg(feature = "page")]
use maud::{Markup, html};
use serde_json::Value;

use super::document::document;
use super::text::{HEADING, counted, never, write_wrapped};
use crate::batch::{Schedule, Step, Task};
use crate::jobs::scheduling::Scheduled;

/// The table, for a terminal: a line a step, in the order in which they begin.
pub fn text(scheduled: &Scheduled) -> String {
    let mut text = String::new();
    write_table(&mut text, scheduled).unwrap_or_else(never);
    text
}

/// The same, for other programs.
///
/// - `part`: what is made.
/// - `pieces`, `moulds`, `people`: how many of each.
/// - `ends_min`: when all is done, minutes from the beginning.
/// - `room_c`, `slowness`: the room, and by what the minutes of the book are multiplied there.
/// - `tasks`: what is done, in the order in which it begins.
/// - `tasks[].piece`, `tasks[].mould`, `tasks[].person`: of which, on which, by whom, each from 1.
/// - `tasks[].step`: `skin`, `foam`, `second foam`, `demould` or `paint`.
/// - `tasks[].from_min`, `tasks[].to_min`: when it begins and is done, minutes from the beginning of all.
pub fn json(scheduled: &Scheduled) -> String {
    let Scheduled { part, schedule, .. } = scheduled;
    let shift = &schedule.shift;
    let tasks = schedule.tasks.iter().map(|task| {
        serde_json::json!({
            "piece": task.piece,
            "mould": task.mould,
            "person": task.person,
            "step": task.step.to_string(),
            "from_min": task.minutes.0,
            "to_min": task.minutes.1,
        })
    });
    document(&serde_json::json!({
        "part": part.name,
        "pieces": shift.pieces,
        "moulds": shift.moulds,
        "people": shift.people,
        "ends_min": schedule.ends_min(),
        "room_c": shift.room_c,
        "slowness": shift.slowness(),
        "tasks": tasks.collect::<Vec<Value>>(),
    }))
}

/// What is made and when it is done; then a line a step; then what the clock does not know.
fn write_table(out: &mut String, scheduled: &Scheduled) -> fmt::Result {
    let Scheduled { part, schedule, .. } = scheduled;
    let shift = &schedule.shift;
    writeln!(
        out,
        "{HEADING}{}{HEADING:#}   {} on {} by {}: done after {}",
        part.title.escape_debug(),
        counted(shift.pieces as usize, "piece"),
        counted(shift.moulds as usize, "mould"),
        people(shift.people),
        clock(schedule.ends_min())
    )?;
    writeln!(out, "  begin  by    who  piece  mould")?;
    for task in &schedule.tasks {
        let Task {
            piece,
            mould,
            person,
            step,
            minutes: (begin, end),
        } = *task;
        writeln!(
            out,
            "  {:>5}  {:<5} {person:^4} {piece:^6} {mould:^6}  {}",
            clock(begin),
            clock(end),
            what(step)
        )?;
    }
    for note in notes(schedule) {
        write_wrapped(out, "", &note)?;
    }
    Ok(())
}

/// What else whoever reads the table should know.
fn notes(schedule: &Schedule) -> Vec<String> {
    let shift = &schedule.shift;
    let slowness = shift.slowness();
    let warmth = (slowness != 1.0).then(|| {
        format!(
            "At {} °C the book's minutes count {slowness:.2} times: a rule of thumb (ten degrees warmer, half as long); the \
             maker's sheet comes first.",
            shift.room_c
        )
    });
    let usual = "Tint part B beforehand; no clock runs for it. A large pot and a warm room set faster than the sheet says: watch the \
                 cup, not the clock. Gloves, fresh air; safety sheets come first.";
    warmth.into_iter().chain([usual.to_owned()]).collect()
}

/// `1 person`, `2 people`.
fn people(count: u32) -> String {
    match count {
        1 => "1 person".to_owned(),
        more => format!("{more} people"),
    }
}

/// Minutes as hours and minutes, `1:05`; to the minute.
fn clock(minutes: f64) -> String {
    let minutes = minutes.round();
    format!("{}:{:02}", (minutes / 60.0).floor(), minutes % 60.0)
}

/// What hands do in a step, as it is called out.
fn what(step: Step) -> &'static str {
    match step {
        Step::Skin => "mix skin, brush it in",
        Step::Foam => "mix foam, pour it behind the gelled skin",
        Step::SecondFoam => "a little more foam into thin spots",
        Step::Demould => "out of the mould; make it ready again",
        Step::Paint => "paint, soon, while it bonds",
    }
}

/// Sizes of the picture, in its own units: a row a person, an hour this wide.
#[cfg(feature = "page")]
mod size {
    /// Room for names on the left.
    pub(super) const LEFT: f64 = 90.0;
    /// Room for the title and the hours above.
    pub(super) const TOP: f64 = 40.0;
    /// From one row to the next.
    pub(super) const ROW: f64 = 34.0;
    /// How high a bar is.
    pub(super) const BAR: f64 = 24.0;
    /// How wide the whole day is.
    pub(super) const WIDTH: f64 = 900.0;
}

/// The bars, as an SVG file of its own, as wide as the day is long and as high as there are people and moulds: a row for each person, a bar for each step with its letter and its piece, and below a row
/// for each mould, filled while a piece is in it.
#[cfg(feature = "page")]
pub fn picture(scheduled: &Scheduled) -> String {
    use size::{BAR, LEFT, ROW, TOP, WIDTH};
    let Scheduled { part, schedule, .. } = scheduled;
    let shift = &schedule.shift;
    let ends = schedule.ends_min();
    let x = |minutes: f64| LEFT + minutes / ends * WIDTH;
    let row = |index: u32| TOP + f64::from(index) * ROW;
    let rows = shift.people + shift.moulds;
    let (wide, high) = (LEFT + WIDTH + 20.0, row(rows) + 50.0);
    let hour = tick(ends);
    let ticks = (0..).map(|index| f64::from(index) * hour);
    let bar = |row_index: u32, (from, to): (f64, f64), label: &str, fill: &str| -> Markup {
        let y = row(row_index);
        let width = (x(to) - x(from)).max(1.0);
        // Of a narrow one there is room for the letter alone.
        let label: String = label
            .chars()
            .take(if width < 18.0 { 1 } else { usize::MAX })
            .collect();
        html! {
            rect x=(x(from)) y=(y) width=(width) height=(BAR) fill=(fill) stroke="#000" stroke-width="0.8" {}
            text x=((x(from) + x(to)) / 2.0) y=(y + BAR / 2.0 + 4.0) text-anchor="middle" font-size="11" { (label) }
        }
    };
    let name = |index: u32, words: String| -> Markup {
        html! { text x=(LEFT - 8.0) y=(row(index) + BAR / 2.0 + 4.0) text-anchor="end" { (words) } }
    };
    html! {
        svg xmlns="http://www.w3.org/2000/svg" viewBox=(format!("0 0 {wide} {high}")) font-family="system-ui, sans-serif" font-size="13" role="img" {
            title { (part.title) ": who mixes what when" }
            metadata { "generator: dropwise" }
            rect x="0" y="0" width=(wide) height=(high) fill="#fff" {}
            text x=(LEFT) y="16" font-weight="600" {
                (part.title) ": " (counted(shift.pieces as usize, "piece")) ", " (counted(shift.moulds as usize, "mould")) ", "
                (people(shift.people)) ", done after " (clock(ends))
            }
            @for at in ticks.take_while(|at| *at <= ends) {
                line x1=(x(at)) x2=(x(at)) y1=(TOP - 6.0) y2=(row(rows)) stroke="#999" stroke-width="0.6" {}
                text x=(x(at)) y=(TOP - 10.0) text-anchor="middle" font-size="11" { (clock(at)) }
            }
            @for person in 1..=shift.people { (name(person - 1, format!("person {person}"))) }
            @for mould in 1..=shift.moulds { (name(shift.people + mould - 1, format!("mould {mould}"))) }
            @for task in &schedule.tasks {
                (bar(task.person - 1, task.minutes, &format!("{}{}", letter(task.step), task.piece), fill(task.step)))
            }
            @for (piece, mould, span) in in_the_moulds(schedule) {
                (bar(shift.people + mould - 1, span, &format!("piece {piece}"), "#fff"))
            }
            text x=(LEFT) y=(row(rows) + 24.0) font-size="12" {
                "s skin, f foam, + second foam, d demould, p paint; the number is the piece. Below, what is in each mould."
            }
        }
    }
    .into_string()
}

/// Minutes between two lines of the picture, so that there are at most about ten.
#[cfg(feature = "page")]
fn tick(ends: f64) -> f64 {
    let mut steps = [5.0, 15.0, 30.0, 60.0, 120.0, 240.0, 480.0].into_iter();
    steps.find(|step| ends / step <= 10.0).unwrap_or(1440.0)
}

/// Of each piece the mould, and from when until when it is in there.
#[cfg(feature = "page")]
fn in_the_moulds(schedule: &Schedule) -> Vec<(u32, u32, (f64, f64))> {
    let tasks = schedule.tasks.iter();
    let skins = tasks.filter(|task| task.step == Step::Skin);
    skins
        .filter_map(|skin| {
            let mut tasks = schedule.tasks.iter();
            let out = tasks.find(|task| task.piece == skin.piece && task.step == Step::Demould)?;
            Some((skin.piece, skin.mould, (skin.minutes.0, out.minutes.1)))
        })
        .collect()
}

/// By what a step is known on its bar.
#[cfg(feature = "page")]
fn letter(step: Step) -> char {
    match step {
        Step::Skin => 's',
        Step::Foam => 'f',
        Step::SecondFoam => '+',
        Step::Demould => 'd',
        Step::Paint => 'p',
    }
}

/// Greys that a print in black and white keeps apart; the letter says which step it is.
#[cfg(feature = "page")]
fn fill(step: Step) -> &'static str {
    match step {
        Step::Skin => "#f3c9b0",
        Step::Foam | Step::SecondFoam => "#e9e2c8",
        Step::Demould => "#ffffff",
        Step::Paint => "#c9d7e6",
    }
}
