//! Colours and their differences: as patches, in numbers, in a maker's words, and as JSON.
//!
//! Differences are always what comes out less what was aimed at, so that a positive ΔL* is too light. Words go by L*, a* and
//! b* and not by hue and chroma: 'redder' and 'yellower' are what a hand does with a bottle of red or of yellow.

use std::fmt;

use anstyle::{RgbColor, Style};
use serde::Serialize;

use super::numbers::{signed, tenths};
use crate::colour::{Lab, Translucency, to_srgb};

/// A patch of colour, six columns wide: the nearest sRGB that a screen has, which only hints at the real one.
pub(super) struct Patch(pub(super) Lab);

impl fmt::Display for Patch {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [red, green, blue] = to_srgb(self.0);
        let style = Style::new().bg_color(Some(RgbColor(red, green, blue).into()));
        write!(f, "{style}      {style:#}")
    }
}

/// `L* 66.2  a* 12.3  b* 16.8`, in columns of fixed width, so that colours on lines above each other can be compared.
pub(super) struct Numbers(pub(super) Lab);

impl fmt::Display for Numbers {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [l, a, b] = [self.0.l, self.0.a, self.0.b].map(tenths);
        write!(f, "L* {l:5.1}  a* {a:5.1}  b* {b:5.1}")
    }
}

/// `ΔL* +0.4  Δa* -1.2  Δb* +0.0`: always with a sign, what comes out less the aim.
pub(super) struct Steps(pub(super) [f64; 3]);

impl fmt::Display for Steps {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [l, a, b] = self.0.map(signed);
        write!(f, "ΔL* {l}  Δa* {a}  Δb* {b}")
    }
}

/// `hides 29 % (contrast ratio 0.29), see-through 31.2 (TP, ΔE*ab)`: the contrast ratio, and the translucency parameter. Its
/// scale is named, since the parameter as ΔE00 is another number.
pub(super) struct Seen(pub(super) Translucency);

impl fmt::Display for Seen {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Translucency {
            contrast_ratio,
            tp_ab,
            ..
        } = self.0;
        write!(
            f,
            "{} (contrast ratio {contrast_ratio:.2}), see-through {tp_ab:.1} (TP, ΔE*ab)",
            hides(contrast_ratio)
        )
    }
}

/// `hides 29 %`: a contrast ratio in plain words.
pub(crate) fn hides(contrast_ratio: f64) -> String {
    format!("hides {:.0} %", 100.0 * contrast_ratio)
}

/// What a film shows of black and white beneath it.
#[derive(Serialize)]
pub(super) struct SeenJson {
    /// Y over black by Y over white, 0 (clear) to 1 (hides).
    contrast_ratio: f64,
    /// Translucency parameter, ΔE*ab over black to over white; 0 hides.
    tp_ab: f64,
    /// The same as ΔE00, as later papers give it. The two are on different scales and don't compare.
    tp_00: f64,
}

impl From<Translucency> for SeenJson {
    /// The three numbers by which translucency is told, each by its own name: a contrast ratio says how much of a card is hidden,
    /// the others how far apart the cards look through it.
    fn from(seen: Translucency) -> Self {
        let Translucency {
            contrast_ratio,
            tp_ab,
            tp_00,
        } = seen;
        Self {
            contrast_ratio,
            tp_ab,
            tp_00,
        }
    }
}

/// A colour in words, for a print in black and white: `light reddish brown`. Lightness comes first, then hue, by steps of our
/// own choice.
#[cfg(feature = "page")]
pub(crate) fn in_plain_words(lab: Lab) -> String {
    let lightness = match lab.l {
        l if l >= 80.0 => "very light",
        l if l >= 62.0 => "light",
        l if l >= 48.0 => "medium",
        l if l >= 32.0 => "dark",
        _ => "very dark",
    };
    let chroma = lab.a.hypot(lab.b);
    let hue = lab.b.atan2(lab.a).to_degrees().rem_euclid(360.0);
    let is_strong = chroma > 35.0;
    let hue = match hue {
        _ if chroma < 3.0 => "grey",
        hue if (20.0..45.0).contains(&hue) => {
            if is_strong {
                "red"
            } else {
                "reddish brown"
            }
        }
        hue if (45.0..70.0).contains(&hue) => {
            if is_strong {
                "orange"
            } else {
                "brown"
            }
        }
        hue if (70.0..100.0).contains(&hue) => {
            if is_strong {
                "yellow"
            } else {
                "yellowish brown"
            }
        }
        hue if (100.0..165.0).contains(&hue) => "green",
        hue if (165.0..285.0).contains(&hue) => "blue",
        hue if (285.0..345.0).contains(&hue) => "violet",
        _ => {
            if is_strong {
                "red"
            } else {
                "pink"
            }
        }
    };
    format!("{lightness} {hue}")
}

/// The signed steps from the aim to what comes out: ΔL*, Δa*, Δb*.
pub(crate) fn steps(aim: Lab, made: Lab) -> [f64; 3] {
    [made.l - aim.l, made.a - aim.a, made.b - aim.b]
}

/// The direction of a step (ΔL*, Δa*, Δb*) in a maker's words, `lighter, less red`; steps under half a unit go unsaid.
pub(crate) fn in_words([dl, da, db]: [f64; 3]) -> String {
    let said: Vec<&str> = [
        (dl, "lighter", "darker"),
        (da, "redder", "less red"),
        (db, "yellower", "less yellow"),
    ]
    .into_iter()
    .filter(|(step, ..)| step.abs() >= 0.5)
    .map(|(step, more, less)| if step > 0.0 { more } else { less })
    .collect();
    if said.is_empty() {
        "about the same".to_owned()
    } else {
        said.join(", ")
    }
}

/// How what comes out misses its aim, in a maker's words, what is missed by most first: `not red enough, too dark`. Steps
/// under half a unit go unsaid.
pub(crate) fn miss(aim: Lab, made: Lab) -> String {
    let [dl, da, db] = steps(aim, made);
    let words = [
        (dl, "too light", "too dark"),
        (
            da,
            "too red",
            if aim.a > 0.0 {
                "not red enough"
            } else {
                "too green"
            },
        ),
        (
            db,
            "too yellow",
            if aim.b > 0.0 {
                "not yellow enough"
            } else {
                "too blue"
            },
        ),
    ];
    let mut said: Vec<(f64, &str)> = (words.into_iter())
        .filter(|(step, ..)| step.abs() >= 0.5)
        .map(|(step, more, less)| (step.abs(), if step > 0.0 { more } else { less }))
        .collect();
    // What is missed by most comes first.
    said.sort_by(|one, other| other.0.total_cmp(&one.0));
    let said: Vec<&str> = said.into_iter().map(|(_, word)| word).collect();
    if said.is_empty() {
        "hardly off in any one direction".to_owned()
    } else {
        said.join(", ")
    }
}

/// `#d7ae90`: the nearest sRGB.
#[cfg(feature = "page")]
pub(crate) fn hex(lab: Lab) -> String {
    let [red, green, blue] = to_srgb(lab);
    format!("#{red:02x}{green:02x}{blue:02x}")
}
