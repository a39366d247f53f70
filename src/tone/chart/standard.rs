//! The common chart of 24 patches, four rows of six: its published colours by the time it was made.
//!
//! L*, a*, b* under D50 for the 2° observer, row by row from the brown skin patch; the last row holds the
//! greys from white to black. A real chart differs from these by about 1 ΔE00, an old or worn one by more;
//! its own measured values serve better.
//!
//! Source: C. S. McCamy, H. Marcus, J. G. Davidson (1976), A color-rendition chart, Journal of Applied
//! Photographic Engineering 2(3), 95–99: x, y, Y under illuminant C for the 2° observer, brought here to D50 by
//! way of the smoothest spectrum of each (S. A. Burns 2020). The two later sets are the maker's own, as the
//! Python package colour-science 0.4.7 (BSD-3-Clause) tabulates them.

/// The names under which the sets are asked for, and the sets.
pub(super) const SETS: [(&str, &[[f64; 3]; 24]); 3] = [
    ("24-patch 1976", &DESIGNED_1976),
    ("24-patch before November 2014", &MADE_BEFORE_NOVEMBER_2014),
    ("24-patch from November 2014", &MADE_FROM_NOVEMBER_2014),
];

/// Columns of the chart; its rows are four.
pub(super) const COLUMNS: u32 = 6;

/// As designed.
const DESIGNED_1976: [[f64; 3]; 24] = [
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

/// As made before November 2014.
const MADE_BEFORE_NOVEMBER_2014: [[f64; 3]; 24] = [
    [37.986, 13.555, 14.059],
    [65.711, 18.13, 17.81],
    [49.927, -4.88, -21.905],
    [43.139, -13.095, 21.905],
    [55.112, 8.844, -25.399],
    [70.719, -33.397, -0.199],
    [62.661, 36.067, 57.096],
    [40.02, 10.41, -45.964],
    [51.124, 48.239, 16.248],
    [30.325, 22.976, -21.587],
    [72.532, -23.709, 57.255],
    [71.941, 19.363, 67.857],
    [28.778, 14.179, -50.297],
    [55.261, -38.342, 31.37],
    [42.101, 53.378, 28.19],
    [81.733, 4.039, 79.819],
    [51.935, 49.986, -14.574],
    [51.038, -28.631, -28.638],
    [96.539, -0.425, 1.186],
    [81.257, -0.638, -0.335],
    [66.766, -0.734, -0.504],
    [50.867, -0.153, -0.27],
    [35.656, -0.421, -1.231],
    [20.461, -0.079, -0.973],
];

/// As made from November 2014 on.
const MADE_FROM_NOVEMBER_2014: [[f64; 3]; 24] = [
    [37.54, 14.37, 14.92],
    [64.66, 19.27, 17.5],
    [49.32, -3.82, -22.54],
    [43.46, -12.74, 22.72],
    [54.94, 9.61, -24.79],
    [70.48, -32.26, -0.37],
    [62.73, 35.83, 56.5],
    [39.43, 10.75, -45.17],
    [50.57, 48.64, 16.67],
    [30.1, 22.54, -20.87],
    [71.77, -24.13, 58.19],
    [71.51, 18.24, 67.37],
    [28.37, 15.42, -49.8],
    [54.38, -39.72, 32.27],
    [42.43, 51.05, 28.62],
    [81.8, 2.67, 80.41],
    [50.63, 51.28, -14.12],
    [49.57, -29.71, -28.32],
    [95.19, -1.03, 2.93],
    [81.29, -0.57, 0.44],
    [66.89, -0.75, -0.06],
    [50.76, -0.13, 0.14],
    [35.63, -0.46, -0.48],
    [20.64, 0.07, -0.46],
];
