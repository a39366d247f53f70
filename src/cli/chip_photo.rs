//! One chip in a photograph, in place of a reading that is typed.

use std::path::PathBuf;

use super::photo::Sought;
use crate::book::{Book, read_chart_values};
use crate::error::Result;
use crate::jobs::boards::{ChipInPhoto, ChipRead};
use crate::materials::Build;
use crate::optics::Specular;
use crate::tone::{Chart, Corners, Region};

/// Where a chip lies in a photograph, and the chart beside it.
#[derive(Clone, Debug, clap::Args)]
pub(super) struct ChipPhoto {
    /// A photograph to read it off, beside a colour chart: it is read as what it is made of
    #[arg(id = "chip_photo", long = "photo", value_name = "PHOTO", requires_all = ["chip_at", "chip_chart", "chip_chart_values"])]
    photo: Option<PathBuf>,
    /// Where it lies in the photograph: pixels from the top left of the upright picture, within it
    #[arg(
        id = "chip_at",
        long = "at",
        value_name = "X,Y,W,H",
        requires = "chip_photo"
    )]
    at: Option<Region>,
    /// Where the chart lies: the corners of its patches, from the top left clockwise; find looks for it
    #[arg(
        id = "chip_chart",
        long = "chart",
        value_name = "X,Y,X,Y,X,Y,X,Y|find",
        allow_hyphen_values = true,
        requires = "chip_photo"
    )]
    chart: Option<Sought<Corners>>,
    /// What the chart's patches are: the file that came with it, CGATS or a CSV of row,column,L,a,b, or "published 1976"
    #[arg(
        id = "chip_chart_values",
        long = "chart-values",
        value_name = "FILE|NAME",
        requires = "chip_photo"
    )]
    chart_values: Option<String>,
}

impl ChipPhoto {
    /// What the photograph shows of `build`, beside chart values that were read by `specular` (45/0 where nobody says);
    /// `None` where no photograph is named.
    pub(super) fn read(
        &self,
        book: &Book,
        build: &Build,
        specular: Option<Specular>,
    ) -> Result<Option<ChipRead>> {
        let (Some(photo), Some(region), Some(Sought(corners)), Some(values)) =
            (&self.photo, self.at, self.chart, &self.chart_values)
        else {
            return Ok(None);
        };
        let chart = Chart {
            corners,
            values: read_chart_values(values)?,
        };
        let asked = ChipInPhoto {
            photo,
            region,
            chart: &chart,
            specular: specular.unwrap_or(Specular::FortyFive),
        };
        asked.read(book.shelf(), build).map(Some)
    }
}
