//! A board of chips that was read off a photograph.
//!
//! How surely the chart and the board were found comes before any reading, since a reading is worth no more than that; what was
//! left out is named by its row and column, as it lies there, so that a hand finds it without the list.

use std::fmt::{self, Write as _};

use serde::Serialize;

use super::document::{document, triple};
use super::swatches::write_swatches;
use super::text::{counted, never, write_wrapped};
use crate::colour::delta_e_2000;
use crate::jobs::boards::BoardRead;
use crate::jobs::comparing::Logged;
use crate::tone::ChartReport;

/// What was read and logged, each beside its prediction, then what was left out.
pub fn text(read: &BoardRead, logged: &[Logged<'_>]) -> String {
    let mut text = String::new();
    write(&mut text, read, logged).unwrap_or_else(never);
    text
}

/// How many readings were logged, how sure they are, and how well the chart served, in a sentence without its full stop.
pub fn board_says(read: &BoardRead, logged: &[Logged<'_>]) -> String {
    let widest = read.spreads.iter().flatten().copied().fold(0.0, f64::max);
    format!(
        "{} off {}, each as what its own mix can make, to ±{widest:.1} in L*, a*, b* at most (one standard deviation); the \
         chart tells a patch that it was not shown to ΔE00 {:.1}",
        counted(logged.len(), "reading"),
        read.photo,
        read.board.chart.leave_one_out_all
    )
}

/// How well the chart served, where chart and board were found, what was left out and why, then every reading.
fn write(out: &mut String, read: &BoardRead, logged: &[Logged<'_>]) -> fmt::Result {
    let chart = &read.board.chart;
    write_wrapped(out, "", &board_says(read, logged))?;
    let all = chart.patches_used + chart.left_out.len();
    if let Some(found) = &chart.found {
        write_wrapped(out, "", &format!("chart: {}", found.sentence(all)))?;
    }
    if let Some(found) = &read.board.found {
        let chips = read.board.fields.len();
        write_wrapped(out, "", &format!("board: {}", found.sentence(chips)))?;
    }
    for chip in &read.left_out {
        let line = format!(
            "left out: {}, row {} column {}, {}",
            chip.swatch, chip.row, chip.column, chip.because
        );
        write_wrapped(out, "", &line)?;
    }
    out.write_char('\n')?;
    write_swatches(out, logged)
}

/// The answer of `swatch read`.
pub fn json(read: &BoardRead, logged: &[Logged<'_>]) -> String {
    /// The keys of the answer.
    #[derive(Serialize)]
    struct Document<'a> {
        /// The photograph's name in the log.
        photo: &'a str,
        /// The readings that were logged.
        readings: Vec<Row<'a>>,
        /// Chips that were not read.
        left_out: Vec<Left<'a>>,
        /// How the chart served.
        chart: &'a ChartReport,
    }
    /// A reading, in the order of the board's list.
    #[derive(Serialize)]
    struct Row<'a> {
        /// The chip.
        swatch: &'a str,
        /// What it lay on.
        over: &'a str,
        /// L*, a*, b* as it was read.
        measured: [f64; 3],
        /// One standard deviation of each.
        sd: [f64; 3],
        /// L*, a*, b* as the book predicted them.
        predicted: [f64; 3],
        /// ΔE00 between the two.
        delta_e: f64,
    }
    /// A chip that was not read.
    #[derive(Serialize)]
    struct Left<'a> {
        /// The chip.
        swatch: &'a str,
        /// Where it lies, from 1 at the top.
        row: u32,
        /// Where it lies, from 1 at the left.
        column: u32,
        /// Why, in words: clipped, cut, uneven or in shadow.
        because: &'a str,
    }
    let readings = logged.iter().zip(&read.spreads).map(|(logged, sd)| Row {
        swatch: &logged.swatch.id,
        over: logged.swatch.build.beneath.name(),
        measured: triple(logged.measured),
        sd: *sd,
        predicted: triple(logged.predicted),
        delta_e: delta_e_2000(logged.measured, logged.predicted),
    });
    let left_out = read.left_out.iter().map(|chip| Left {
        swatch: &chip.swatch,
        row: chip.row,
        column: chip.column,
        because: chip.because,
    });
    document(&Document {
        photo: &read.photo,
        readings: readings.collect(),
        left_out: left_out.collect(),
        chart: &read.board.chart,
    })
}
