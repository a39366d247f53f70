//! A chart of 24 patches, four rows of six, as a paper of 1976 gives its colours.
//!
//! L*, a*, b* under D50 for the 2° observer, row by row from the brown skin patch; the last row holds the
//! greys from white to black. A real chart differs from these by 1 ΔE00 and more; the values that come with it serve
//! better.
//!
//! Source: C. S. McCamy, H. Marcus, J. G. Davidson (1976), A color-rendition chart, Journal of Applied
//! Photographic Engineering 2(3), 95–99: x, y, Y under illuminant C for the 2° observer, brought here to D50 by
//! way of the smoothest spectrum of each (S. A. Burns 2020).

/// The name under which the set is asked for.
pub(super) const NAME: &str = "published 1976";

/// Columns of the chart; its rows are four.
pub(super) const COLUMNS: u32 = 6;

/// The set.
pub(super) const PUBLISHED_1976: [[f64; 3]; 24] = [
    [38.31, 14.62, 15.0],
    [66.81, 16.27, 17.6],
    [50.69, -4.3, -22.33],
    [43.23, -14.88, 21.18],
    [56.11, 8.48, -25.15],
    [71.2, -32.57, -0.29],
    [62.67, 33.63, 59.07],
    [40.56, 8.53, -43.19],
    [52.57, 46.49, 17.08],
    [30.82, 22.7, -22.31],
    [72.63, -23.62, 57.49],
    [72.38, 18.9, 66.77],
    [28.85, 15.88, -51.45],
    [55.38, -39.29, 31.71],
    [42.52, 55.13, 28.55],
    [82.0, 2.87, 78.01],
    [52.26, 48.67, -13.34],
    [50.8, -29.36, -28.16],
    [96.0, 0.0, 0.0],
    [81.35, 0.0, 0.0],
    [66.67, 0.0, 0.0],
    [51.58, 0.0, 0.0],
    [35.98, 0.0, 0.0],
    [20.56, 0.0, 0.0],
];
