//! The photograph that a part's tones are looked for in.

#[cfg(feature = "photo")]
use std::path::PathBuf;

#[cfg(feature = "photo")]
use super::photo::Sought;
#[cfg(feature = "photo")]
use crate::book::read_chart_values;
#[cfg(feature = "photo")]
use crate::error::Error;
use crate::error::Result;
#[cfg(feature = "photo")]
use crate::tone::{Card, Chart, Corners, PhotoRequest, Photographed, Region};
use crate::tone::{Target, ToneMap};

/// Which photograph, where in it, and what undoes its light; none where photographs can't be read.
#[derive(Debug, clap::Args)]
pub(super) struct TonePhoto {
    /// A photograph of the reference: the picture then shows where each of its tones lies, to airbrush by. The one that the tone
    /// was read off is read as it was then
    #[cfg(feature = "photo")]
    #[arg(long, value_name = "FILE")]
    photo: Option<PathBuf>,
    /// Where to look: pixels from the top left of the upright photograph [default: the whole]
    #[cfg(feature = "photo")]
    #[arg(
        long,
        value_name = "X,Y,W,H",
        requires = "photo",
        allow_hyphen_values = true
    )]
    region: Option<Region>,
    /// Where a white or grey card lies in it; find looks for it
    #[cfg(feature = "photo")]
    #[arg(
        long,
        value_name = "X,Y,W,H|find",
        allow_hyphen_values = true,
        requires_all = ["photo", "card_lab"]
    )]
    card: Option<Sought<Region>>,
    /// Which card it is: grey (18 %), white, or its own L*,a*,b* under D50/2°
    #[cfg(feature = "photo")]
    #[arg(long, value_name = "grey|white|L,a,b", requires = "card")]
    card_lab: Option<Card>,
    /// Where a colour chart lies in it: the corners of its patches, from the top left clockwise; find looks for it
    #[cfg(feature = "photo")]
    #[arg(
        long,
        value_name = "X,Y,X,Y,X,Y,X,Y|find",
        allow_hyphen_values = true,
        requires_all = ["photo", "chart_values"],
        conflicts_with = "card"
    )]
    chart: Option<Sought<Corners>>,
    /// What the chart's patches are: the file that came with it, or "published 1976"
    #[cfg(feature = "photo")]
    #[arg(long, value_name = "FILE|NAME", requires = "chart")]
    chart_values: Option<String>,
}

#[cfg(feature = "photo")]
impl TonePhoto {
    /// Where the tones of `target` lie, with what the photograph is called; `None` where none is named.
    pub(super) fn read(&self, target: &Target) -> Result<Option<(String, ToneMap)>> {
        let Some(photo) = &self.photo else {
            return Ok(None);
        };
        let name = photo.file_name().unwrap_or(photo.as_os_str());
        let name = name.to_string_lossy();
        let kept = target.photographs.iter().find(|kept| kept.file == name);
        let is_told = self.card.is_some() || self.chart.is_some();
        let mut request = PhotoRequest {
            region: self.region,
            ..PhotoRequest::new(photo)
        };
        match kept {
            Some(kept) if !is_told => as_kept(&mut request, kept)?,
            _ => {
                request.card = self
                    .card
                    .zip(self.card_lab)
                    .map(|(Sought(at), card)| (at, card));
                if let (Some(Sought(corners)), Some(values)) = (self.chart, &self.chart_values) {
                    let values = read_chart_values(values)?;
                    request.chart = Some(Chart { corners, values });
                }
            }
        }
        // Only what is read as the part's tones were can be held against them.
        let is_like = kept.is_some() || is_told;
        let map = ToneMap::of_photo(&request, self.region, is_like.then_some(target))?;
        let besides = match (is_like, self.region) {
            (true, _) => "",
            (false, Some(_)) => " (as it is: no card or chart is named)",
            (false, None) => " (as it is, background and all)",
        };
        Ok(Some((format!("{name}{besides}"), map)))
    }
}

/// Has `request` read its photograph as the tone was read off it, by what is `kept`.
#[cfg(feature = "photo")]
fn as_kept(request: &mut PhotoRequest, kept: &Photographed) -> Result<()> {
    let mut read = || -> Result<()> {
        request.region = kept.region.as_deref().map(str::parse).transpose()?;
        let card: Option<Card> = kept.card_lab.as_deref().map(str::parse).transpose()?;
        let at: Option<Region> = kept.card.as_deref().map(str::parse).transpose()?;
        request.card = card.map(|card| (at, card));
        let corners: Option<Corners> = kept.chart.as_deref().map(str::parse).transpose()?;
        let Some(corners) = corners else {
            return Ok(());
        };
        let values = kept.chart_values.as_deref().ok_or_else(|| {
            Error::input("what its chart's patches are was not kept")
                .mend("give --chart and --chart-values")
        })?;
        request.chart = Some(Chart {
            corners: Some(corners),
            values: read_chart_values(values)?,
        });
        Ok(())
    };
    read().map_err(|error| error.within(format_args!("how the tone was read off {}", kept.file)))
}

#[cfg(not(feature = "photo"))]
impl TonePhoto {
    #[expect(
        clippy::unused_self,
        clippy::unnecessary_wraps,
        reason = "as where photographs are read"
    )]
    pub(super) fn read(&self, _: &Target) -> Result<Option<(String, ToneMap)>> {
        Ok(None)
    }
}
