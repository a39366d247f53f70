//! A chart beside what is read off a photograph.

use super::photo::Sought;
use crate::book::read_chart_values;
use crate::error::Result;
use crate::optics::Specular;
use crate::tone::{Chart, Corners};

/// Where the chart lies, and what it looks like.
#[derive(Clone, Debug, clap::Args)]
pub(super) struct ChartArguments {
    /// Where the colour chart lies in the shot: the corners of its patches, from the top left clockwise; find looks for it
    #[arg(long, value_name = "X,Y,X,Y,X,Y,X,Y|find", allow_hyphen_values = true)]
    chart: Sought<Corners>,
    /// What the chart's patches are: the file that came with it, CGATS or a CSV of row,column,L,a,b, or "published 1976"
    #[arg(long, value_name = "FILE|NAME")]
    chart_values: String,
    /// How the chart's values were read, and so what is read beside it
    #[arg(
        id = "photo_specular",
        long = "specular",
        value_name = "included|excluded|45/0",
        default_value = "45/0"
    )]
    pub(super) specular: Specular,
}

impl ChartArguments {
    /// The chart.
    pub(super) fn chart(&self) -> Result<Chart> {
        Ok(Chart {
            corners: self.chart.0,
            values: read_chart_values(&self.chart_values)?,
        })
    }
}
