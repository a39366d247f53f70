//! How much a skin may show of what is behind it.

use super::typed::contrast_ratio;
use crate::recipe::VEIL;

/// How much a skin may show of what is behind it.
#[derive(Clone, Copy, Debug, clap::Args)]
pub(super) struct ContrastArguments {
    /// Least contrast ratio of the skin, 0 (clear) to 1 (hides all)
    #[arg(long, value_name = "RATIO", value_parser = contrast_ratio)]
    min_contrast: Option<f64>,
    /// Greatest contrast ratio of the skin
    #[arg(long, value_name = "RATIO", value_parser = contrast_ratio)]
    max_contrast: Option<f64>,
    /// The same in a word: glassy (hides up to a quarter), veiled (a quarter to a half; over foam the default) or dense (more
    /// than a half)
    #[arg(long, value_name = "WORD", conflicts_with_all = ["min_contrast", "max_contrast"])]
    see_through: Option<SeeThrough>,
}

/// How see-through a skin is, in plain words. Our own choice, no source.
#[derive(Clone, Copy, Debug, clap::ValueEnum)]
enum SeeThrough {
    Glassy,
    Veiled,
    Dense,
}

impl SeeThrough {
    /// Least and greatest contrast ratio.
    fn window(self) -> (f64, f64) {
        let (least, most) = VEIL;
        match self {
            Self::Glassy => (0.0, least),
            Self::Veiled => VEIL,
            Self::Dense => (most, 1.0),
        }
    }
}

impl ContrastArguments {
    /// Least and greatest; `None` where nothing is asked for.
    pub(super) fn window(self) -> Option<(f64, f64)> {
        if let Some(word) = self.see_through {
            return Some(word.window());
        }
        let window = (
            self.min_contrast.unwrap_or(0.0),
            self.max_contrast.unwrap_or(f64::INFINITY),
        );
        (self.min_contrast.is_some() || self.max_contrast.is_some()).then_some(window)
    }
}
