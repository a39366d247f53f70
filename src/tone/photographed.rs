//! How a photograph was read, in the words in which that is asked for: kept with the tone, so that nobody has to write them again.

use serde::{Deserialize, Serialize};

/// A photograph that a tone was read off, or a region of one, and what undid its light.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Photographed {
    /// The file's name, without its folder.
    pub file: String,
    /// Where the skin is, `X,Y,W,H`, pixels from the top left of the upright picture; all of it where `None`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub region: Option<String>,
    /// Where its card lies, likewise; `None` where there is none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub card: Option<String>,
    /// Which card it is: `grey`, `white`, or its own `L,a,b` under D50/2°.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub card_lab: Option<String>,
    /// The corners of its chart's patches, `X,Y,X,Y,X,Y,X,Y`, from the top left clockwise; `None` where there is none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub chart: Option<String>,
    /// What the chart's patches are: a file, or the name of a published chart; `None` where that was not kept.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub chart_values: Option<String>,
}
