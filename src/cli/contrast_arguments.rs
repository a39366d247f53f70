//! How much a skin may show of what is behind it.

use super::typed::contrast_ratio;

/// How much a skin may show of what is behind it.
#[derive(Clone, Copy, Debug, clap::Args)]
pub(super) struct ContrastArguments {
    /// Least contrast ratio of the skin, 0 (clear) to 1 (hides all)
    #[arg(long, value_name = "RATIO", value_parser = contrast_ratio)]
    min_contrast: Option<f64>,
    /// Greatest contrast ratio of the skin
    #[arg(long, value_name = "RATIO", value_parser = contrast_ratio)]
    max_contrast: Option<f64>,
}

impl ContrastArguments {
    /// Least and greatest; `None` where neither is asked for.
    pub(super) fn window(self) -> Option<(f64, f64)> {
        let window = (
            self.min_contrast.unwrap_or(0.0),
            self.max_contrast.unwrap_or(f64::INFINITY),
        );
        (self.min_contrast.is_some() || self.max_contrast.is_some()).then_some(window)
    }
}
