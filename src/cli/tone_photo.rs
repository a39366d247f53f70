//! The photograph that a part's tones are looked for in.

use crate::error::Result;
use crate::tone::ToneMap;

/// Which photograph, and where in it; none where photographs can't be read.
#[derive(Debug, clap::Args)]
pub(super) struct TonePhoto {
    /// A photograph of the reference: the picture then shows where each of its tones lies, to airbrush by
    #[cfg(feature = "photo")]
    #[arg(long, value_name = "FILE")]
    photo: Option<std::path::PathBuf>,
    /// Where the skin is: pixels from the top left of the upright photograph [default: the whole]
    #[cfg(feature = "photo")]
    #[arg(
        long,
        value_name = "X,Y,W,H",
        requires = "photo",
        allow_hyphen_values = true
    )]
    region: Option<crate::tone::Region>,
}

impl TonePhoto {
    /// Where the tones lie, with what the photograph is called; `None` where none is named.
    #[cfg(feature = "photo")]
    pub(super) fn read(&self) -> Result<Option<(String, ToneMap)>> {
        let Some(photo) = &self.photo else {
            return Ok(None);
        };
        let map = ToneMap::of_photo(photo, self.region, crate::tone::DEFAULT_TONES)?;
        let name = photo.file_name().unwrap_or(photo.as_os_str()).display();
        Ok(Some(match self.region {
            Some(_) => (name.to_string(), map),
            None => (
                format!("{name} (background and all: name the region of the skin)"),
                map,
            ),
        }))
    }

    #[cfg(not(feature = "photo"))]
    #[expect(
        clippy::unused_self,
        clippy::unnecessary_wraps,
        reason = "as where photographs are read"
    )]
    pub(super) fn read(&self) -> Result<Option<(String, ToneMap)>> {
        Ok(None)
    }
}
