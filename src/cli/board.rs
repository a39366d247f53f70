//! `dropwise swatch read`: a board of chips off one photograph.

use std::path::PathBuf;

use jiff::civil::Date;

use super::chart_arguments::ChartArguments;
use super::day_of::{day, today};
use super::forced::Forced;
use super::photo::Sought;
use super::progress::Progress;
use super::{Everywhere, Outcome};
use crate::book::{Book, read_board_chips};
use crate::error::Result;
use crate::jobs::{boards, comparing};
use crate::report::board;
use crate::tone::{Corners, marked};

/// Arguments of `swatch read`.
#[derive(Debug, clap::Args)]
pub(super) struct Read {
    /// The photograph: JPEG, PNG, TIFF or WebP
    #[arg(value_name = "PHOTO")]
    photo: PathBuf,
    #[command(flatten)]
    chart: ChartArguments,
    /// Where the board of chips lies in the shot: its outer corners, from the top left clockwise; find looks for it by what its
    /// chips should look like
    #[arg(long, value_name = "X,Y,X,Y,X,Y,X,Y|find", allow_hyphen_values = true)]
    grid: Sought<Corners>,
    /// Which chip lies where: a CSV of row,column,swatch,base,base_g,mix,thickness_mm,backing, one row a field
    #[arg(long, value_name = "FILE")]
    chips: PathBuf,
    /// The day of the readings [default: today]
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = day)]
    date: Option<Date>,
    /// Write the photograph to this file, a PNG, with what was read of it outlined
    #[arg(long, value_name = "FILE")]
    check: Option<PathBuf>,
    #[command(flatten)]
    forced: Forced,
}

impl Read {
    pub(super) fn run(&self, book: &mut Book, everywhere: &Everywhere) -> Result<Outcome> {
        let chart = self.chart.chart()?;
        let chips = read_board_chips(&self.chips, book.shelf())?;
        let doing = format!("reading {}", self.photo.display());
        let progress = Progress::begin(move || doing.clone());
        let request = boards::Request {
            photo: &self.photo,
            chart: &chart,
            corners: self.grid.0,
            chips: &chips,
            specular: self.chart.specular,
            day: self.date.unwrap_or_else(today),
        };
        let read = boards::run(book, &request)?;
        drop(progress);
        if let Some(file) = &self.check {
            let marks = read.marks(&chart.values, &chips);
            self.forced.write(file, marked(&self.photo, &marks)?)?;
        }
        // Last, once nothing else can fail: no photograph is read twice.
        let first = read.log(book)?;
        let logged = comparing::logged(book, first)?;
        Ok(Outcome::done(if everywhere.json {
            board::json(&read, &logged)
        } else {
            board::text(&read, &logged)
        }))
    }
}
