//! What is asked of a match: where to look for recipes, and how far.

use std::str::FromStr;
use std::time::Duration;

use super::contrast_arguments::ContrastArguments;
use super::lights::Lights;
use super::typed::{count_to, not_negative, time_limit};
use crate::error::{Error, Result};
use crate::jobs::matching::Request;
use crate::materials::Colorant;
use crate::search::{Limits, Watch};

/// Where to look for recipes, and how far.
#[derive(Debug, clap::Args)]
#[command(next_help_heading = "The search")]
pub(super) struct SearchArguments {
    /// Only these pigments, let-downs as `name 1:10` [default: all that are dropped, of more than 16 those that can matter, and a
    /// let-down of those of which one drop is too much]
    #[arg(long, value_name = "NAME,…", value_delimiter = ',')]
    pigments: Option<Vec<Colorant>>,
    /// Pigments that must be in the skin's cup; with a count, `name=3` or `name 1:10=3`, just so many drops of it
    #[arg(long, value_name = "NAME[=N],…", value_delimiter = ',')]
    with: Vec<With>,
    /// Pigments to leave out
    #[arg(
        long,
        value_name = "NAME,…",
        value_delimiter = ',',
        conflicts_with = "pigments"
    )]
    without: Vec<String>,
    #[command(flatten)]
    contrast: ContrastArguments,
    /// Most drops of one pigment in a cup [default: 40, and more in a cup above 600 g or in a foam]
    #[arg(long, value_name = "N", value_parser = count_to::<u32>(Limits::MOST_DROPS))]
    max_drops: Option<u32>,
    /// Most drops in a cup [default: 60, and more in a cup above 600 g or in a foam]
    #[arg(long, value_name = "N", value_parser = count_to::<u32>(Limits::MOST_DROPS))]
    max_total_drops: Option<u32>,
    /// Most different pigments in a cup [default: 4]
    #[arg(long, value_name = "N", value_parser = count_to::<usize>(1000))]
    max_pigments: Option<usize>,
    #[command(flatten)]
    lights: Lights,
    /// How many recipes to give for each cup
    #[arg(
        long,
        value_name = "N",
        value_parser = count_to::<usize>(1000),
        default_value_t = 1)]
    top: usize,
    /// The nearest recipe, however many bottles, jars and drops it takes [default: the handiest of those that lose nothing that
    /// is seen or known]
    #[arg(long, conflicts_with = "within")]
    exact: bool,
    /// The nearest recipe, proven when no other can be nearer by more than this ΔE00; with --top the nearest of those that
    /// differ in what pigment they hold, however it is let down
    #[arg(long, value_name = "GAP", value_parser = not_negative)]
    within: Option<f64>,
    /// Give the best found after this many seconds, and how far it may be from the best there is; so does Ctrl-C [default: 2]
    #[arg(long, value_name = "S", value_parser = time_limit)]
    time_limit: Option<Duration>,
    /// ΔE00 up to which the skin passes [default: by lightness, 0.59 for light skin to 1.75 for dark]
    #[arg(long, value_name = "ΔE00", value_parser = not_negative)]
    tolerance: Option<f64>,
}

/// A pigment that must be in, and how many drops of it if that is settled.
#[derive(Clone, Debug)]
pub(super) struct With {
    colorant: Colorant,
    drops: Option<u32>,
}

impl FromStr for With {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self> {
        let Some((name, count)) = text.split_once('=') else {
            // A ratio has no meaning without a count: the search looks for its own.
            return Ok(Self {
                colorant: Colorant::neat(text.trim()),
                drops: None,
            });
        };
        let drops = count_to::<u32>(Limits::MOST_DROPS)(count)
            .map_err(|error| error.within(format_args!("the drops of `{text}`")))?;
        Ok(Self {
            colorant: name.parse()?,
            drops: Some(drops),
        })
    }
}

impl SearchArguments {
    /// Puts what was typed into `request`, which has what is kept or usual; `watch` sees its searches.
    pub(super) fn ask(&self, request: &mut Request, watch: Watch) -> Result<()> {
        let lights = self.lights.read()?;
        if !lights.is_empty() {
            request.lights = lights;
        }
        if self.pigments.is_some() {
            request.pigments.clone_from(&self.pigments);
            request.without.clear();
        }
        if !self.with.is_empty() {
            let with = self.with.iter();
            request.with = with
                .map(|with| (with.colorant.clone(), with.drops))
                .collect();
        }
        if !self.without.is_empty() {
            request.without.clone_from(&self.without);
            request.pigments = None;
        }
        request.tolerance = self.tolerance.or(request.tolerance);
        let asked = request.limits;
        request.limits = Limits {
            max_drops: self.max_drops.or(asked.max_drops),
            max_total_drops: self.max_total_drops.or(asked.max_total_drops),
            max_pigments: self.max_pigments.unwrap_or(asked.max_pigments),
            top: self.top,
            within: (self.within).or(self.exact.then_some(0.0)).or(asked.within),
            time_limit: self.time_limit.or(asked.time_limit),
            contrast_ratio: self.contrast.window().or(asked.contrast_ratio),
            watch,
            ..asked
        };
        Ok(())
    }
}
