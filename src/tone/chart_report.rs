//! How a chart in the shot served, as it is reported and kept.

use serde::{Deserialize, Serialize};

/// How a chart served.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ChartReport {
    /// `spectral`, `skin matrix` or `matrix`: how the colours were corrected.
    pub method: String,
    /// Mean ΔE00 between patches and what the other patches tell of them, those near skin weighing most.
    pub leave_one_out_delta_e: f64,
    /// The same of all patches alike.
    pub leave_one_out_all: f64,
    /// Patches that were used.
    pub patches_used: usize,
    /// Patches that were not, with the reason.
    pub left_out: Vec<PatchLeftOut>,
    /// By how much the light rises over a chart's width to the right, and as far down, as a share of it.
    pub light_slope: [f64; 2],
    /// The power that undoes the camera's own tone curve; 1 where it has none worth undoing.
    pub tone_exponent: f64,
    /// By how much that curve bends the written tones besides, light ones lighter and dark ones darker: 0 not at all, 1 as far
    /// as t to t² (3 − 2 t).
    #[serde(default)]
    pub tone_bend: f64,
    /// Where it was found, if nobody said where it lies.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub found: Option<ChartFound>,
}

/// Where a chart was found, and how surely.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ChartFound {
    /// Corners of its patches, pixels, `[x, y]` each, from that of row 1 and column 1 clockwise.
    pub corners: [[f64; 2]; 4],
    /// Mean ΔE00 between its values and the colours seen there.
    pub delta_e: f64,
    /// The same for the next best place, turn or offset; `None` where nothing else is like it at all.
    pub next_delta_e: Option<f64>,
    /// Patches that were seen as flat fields of their own.
    pub fields: usize,
}

#[cfg(feature = "photo")]
impl ChartFound {
    /// The same in words, of a chart of so many patches.
    pub(crate) fn sentence(&self, patches: usize) -> String {
        let corners: Vec<String> = self.corners.iter().flatten().map(f64::to_string).collect();
        let next = match self.next_delta_e {
            Some(next) => format!("the next best place by {next:.1}"),
            None => "no other place is like it".to_owned(),
        };
        format!(
            "it was found at {}: {} of {patches} patches stand out, and the colours there fit by {:.1} ΔE00, {next}",
            corners.join(","),
            self.fields,
            self.delta_e
        )
    }
}

/// A patch of a chart that was left out.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PatchLeftOut {
    /// Row, from 1 at the top.
    pub row: u32,
    /// Column, from 1 at the left.
    pub column: u32,
    /// `clipped`, `uneven` or `not opaque`.
    pub because: String,
}
