//! A white or grey card in the shot: what the light and the camera did to a colour that is known.
//!
//! The card's mean is brought to the card's known colour by one factor for each of three cone-like
//! responses, and so is every pixel (a von Kries adaptation). The responses are Bradford's: sharpened, as a
//! camera's own channels are, in which a camera balances too; and they hang on no profile, so that one
//! picture saved in two colour spaces gives one answer. A factor for each channel can undo the light's
//! colour and the exposure. It can't undo a lamp's uneven spectrum or a camera's tone curve; that takes a
//! chart.
//!
//! What is left, mean ΔE00 over 60 measured skins (C. C. Cooksey, D. W. Allen, B. K. Tsai 2017, Journal of
//! Research of NIST 122:26) seen by a camera with the 2° observer's own sensitivities and a flawless tone
//! curve, to D50: LED-V2 1.0, LED-B1 1.4, LED-B3 1.4, FL11 2.0, A 3.0, FL2 5.6. Factors for sRGB's own
//! channels leave 1.6, 5.4, 3.8, 3.8, 3.3 and 7.7: the responses matter.
//!
//! Source of the responses: ICC.1:2022, annex E.

use std::fmt;
use std::str::FromStr;

use nalgebra::{Matrix3, Vector3};

use super::blocks::{Blocks, FEWEST_PIXELS};
use super::connection::ConnectionSpace;
use super::picture::Pixel;
use crate::colour::Lab;
use crate::error::{Error, Result};

/// Bradford's cone-like responses to X, Y, Z (ICC.1:2022, annex E).
const BRADFORD: Matrix3<f64> = Matrix3::new(
    0.8951, 0.2664, -0.1614, -0.7502, 1.7135, 0.0367, 0.0389, -0.0685, 1.0296,
);

/// Largest share of a card's pixels that may be clipped.
const MOST_CLIPPED: f64 = 0.01;
/// Least L* of a card as it was shot: below that the noise and the black level of a camera tell.
const LEAST_LIGHTNESS: f64 = 12.0;
/// Largest standard deviation of L* over a card: a slope of about 10 L* from edge to edge, or an edge.
const MOST_UNEVEN: f64 = 3.0;

/// A card of known colour.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Card {
    lab: Lab,
    spread: [f64; 3],
}

impl Card {
    /// A photographer's grey card: 18 % reflectance, L* 49.5 (common practice, no source), give or take 1 in
    /// L* and half of that in a* and b*.
    pub const GREY: Self = Self {
        // 116 × 0.18^(1/3) − 16.
        lab: Lab::new(49.496, 0.0, 0.0),
        spread: [1.0, 0.5, 0.5],
    };

    /// A white card or plain white paper: L* 96 (common practice, no source), give or take 2, and 2 in b*
    /// for the blue of brighteners.
    pub const WHITE: Self = Self {
        lab: Lab::new(96.0, 0.0, 0.0),
        spread: [2.0, 1.0, 2.0],
    };

    /// A card whose colour was measured or is printed on it: Lab under D50 for the 2° observer, as printed
    /// values usually are. Taken as exact.
    ///
    /// # Errors
    ///
    /// An input error where L* is not from 20 to 100, or a* or b* not from −30 to 30: such a card can't
    /// balance a picture.
    pub fn from_lab(lab: Lab) -> Result<Self> {
        let near_neutral = -30.0..=30.0;
        if (20.0..=100.0).contains(&lab.l)
            && near_neutral.contains(&lab.a)
            && near_neutral.contains(&lab.b)
        {
            let spread = [0.0; 3];
            return Ok(Self { lab, spread });
        }
        Err(Error::input(format!(
            "the card's L*,a*,b* is {},{},{}; expected L* from 20 to 100, a* and b* from -30 to 30",
            lab.l, lab.a, lab.b
        ))
        .mend("a card is white or grey; its values are printed on it or its sleeve"))
    }

    /// The card's Lab under D50 for the 2° observer.
    pub fn lab(&self) -> Lab {
        self.lab
    }

    /// How well that is known: standard deviation of L*, a*, b*.
    pub fn spread(&self) -> [f64; 3] {
        self.spread
    }
}

impl fmt::Display for Card {
    /// `grey`, `white` or `L,a,b`: as it is read.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { lab, .. } = *self;
        match *self {
            card if card == Self::GREY => f.write_str("grey"),
            card if card == Self::WHITE => f.write_str("white"),
            _ => write!(f, "{},{},{}", lab.l, lab.a, lab.b),
        }
    }
}

impl FromStr for Card {
    type Err = Error;

    /// Takes `grey` (or `gray`), `white`, in any case, or `L,a,b`.
    fn from_str(text: &str) -> Result<Self> {
        match text.trim().to_lowercase().as_str() {
            "grey" | "gray" => return Ok(Self::GREY),
            "white" => return Ok(Self::WHITE),
            _ => {}
        }
        let numbers: Option<Vec<f64>> = text
            .split(',')
            .map(|field| field.trim().parse().ok())
            .collect();
        match numbers.as_deref() {
            Some(&[l, a, b]) => Self::from_lab(Lab::new(l, a, b)),
            _ => Err(Error::input(format!(
                "the card is \"{}\"; expected grey, white or L,a,b",
                text.escape_debug()
            ))
            .mend("such as 49.5,0,0, with points, for D50 and the 2° observer")),
        }
    }
}

/// What brings a picture's colours to those under the light for which the card's colour is known.
pub(super) struct Balance {
    matrix: Matrix3<f64>,
    /// How large the correction is: root of the sum of squared logarithms of the factors of the long and the
    /// short response, each over the middle one's. 0 where the camera had balanced the picture itself.
    pub(super) correction: f64,
}

impl Balance {
    /// From the pixels of a card.
    ///
    /// # Errors
    ///
    /// An input error that names the mend where the card is clipped, black or uneven, or where too little of
    /// it is opaque.
    pub(super) fn from_card(card: Card, blocks: &Blocks, space: &ConnectionSpace) -> Result<Self> {
        let opaque: Vec<&Pixel> = blocks
            .pixels()
            .iter()
            .filter(|pixel| pixel.opaque)
            .collect();
        if opaque.len() < FEWEST_PIXELS {
            return Err(Error::input(format!(
                "the card's region holds {} opaque pixels; at least {FEWEST_PIXELS} are wanted",
                opaque.len()
            ))
            .mend("draw it larger, within the card"));
        }
        let count = opaque.len() as f64;
        let clipped = opaque.iter().filter(|pixel| pixel.clipped).count() as f64 / count;
        let mean: [f64; 3] =
            std::array::from_fn(|i| opaque.iter().map(|pixel| pixel.xyz[i]).sum::<f64>() / count);
        let lightness = space.lab(mean).l;
        if lightness < LEAST_LIGHTNESS {
            return Err(Error::input(format!(
                "the card is black in this picture (L* {lightness:.0}): nothing can be told from it"
            ))
            .mend("check the card's region, or shoot again with more light on the card"));
        }
        if clipped > MOST_CLIPPED {
            return Err(Error::input(format!(
                "the card is clipped: {:.0} % of its pixels have a channel at the limit",
                clipped * 100.0
            ))
            .mend("shoot again with less exposure, or use a grey card"));
        }
        // Of blocks, in which the noise of single pixels is no unevenness.
        let variances: Vec<f64> = blocks
            .means(|pixel| pixel.opaque)
            .into_iter()
            .flatten()
            .map(|xyz| (space.lab(xyz).l - lightness).powi(2))
            .collect();
        let unevenness = (variances.iter().sum::<f64>() / variances.len().max(1) as f64).sqrt();
        if unevenness > MOST_UNEVEN {
            return Err(Error::input(format!(
                "the card is uneven: its L* varies by {unevenness:.1} (standard deviation), at most \
                 {MOST_UNEVEN} is taken"
            ))
            .mend("draw its region within the card, clear of edges, print, shadow and shine"));
        }
        let seen = BRADFORD * Vector3::from(mean);
        let known = BRADFORD * Vector3::from(space.xyz(card.lab));
        if seen.min() <= 0.0 {
            return Err(
                Error::input("the card has no neutral colour in this picture")
                    .mend("check the card's region, or shoot again under a whiter light"),
            );
        }
        let factors = known.component_div(&seen);
        let back = BRADFORD
            .try_inverse()
            .expect("the matrix is a constant, and regular");
        Ok(Self {
            matrix: back * Matrix3::from_diagonal(&factors) * BRADFORD,
            correction: (factors[0] / factors[1])
                .ln()
                .hypot((factors[2] / factors[1]).ln()),
        })
    }

    /// The balanced X, Y, Z.
    pub(super) fn apply(&self, xyz: [f64; 3]) -> [f64; 3] {
        (self.matrix * Vector3::from(xyz)).into()
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;
    use crate::colour::Viewing;

    /// A card of one colour, 10 × 10 pixels.
    fn card_pixels(xyz: [f64; 3]) -> Vec<Pixel> {
        let pixel = Pixel {
            xyz,
            opaque: true,
            clipped: false,
            at_bottom: false,
        };
        vec![pixel; 100]
    }

    fn blocks(pixels: &[Pixel]) -> Blocks {
        Blocks::of(pixels.to_vec(), 2, 5)
    }

    #[test]
    fn the_grey_card_reflects_18_percent() {
        let space = ConnectionSpace::new(Viewing::D65_10);
        assert_abs_diff_eq!(space.xyz(Card::GREY.lab())[1], 0.18, epsilon = 1e-5);
    }

    #[test]
    fn the_card_itself_comes_out_as_it_is_known() {
        let space = ConnectionSpace::new(Viewing::D65_10);
        let warm = [0.30, 0.27, 0.12];
        let balance = Balance::from_card(Card::GREY, &blocks(&card_pixels(warm)), &space)
            .expect("a sound card");
        let lab = space.lab(balance.apply(warm));
        assert_abs_diff_eq!(lab.l, Card::GREY.lab().l, epsilon = 1e-9);
        assert_abs_diff_eq!(lab.a, 0.0, epsilon = 1e-9);
        assert_abs_diff_eq!(lab.b, 0.0, epsilon = 1e-9);
    }

    #[test]
    fn pixels_that_are_not_opaque_do_not_count() {
        let space = ConnectionSpace::new(Viewing::D65_10);
        let warm = [0.30, 0.27, 0.12];
        let mut pixels = card_pixels(warm);
        for pixel in &mut pixels[..30] {
            pixel.opaque = false;
            pixel.clipped = true;
            pixel.xyz = [0.9642, 1.0, 0.8249];
        }
        let balance = Balance::from_card(Card::GREY, &blocks(&pixels), &space).expect("sound");
        assert_abs_diff_eq!(space.lab(balance.apply(warm)).a, 0.0, epsilon = 1e-9);
    }

    #[test]
    fn the_correction_is_as_large_as_the_cast() {
        let space = ConnectionSpace::new(Viewing::D65_10);
        let correction = |xyz: [f64; 3]| {
            let pixels = card_pixels(xyz);
            Balance::from_card(Card::GREY, &blocks(&pixels), &space)
                .expect("sound")
                .correction
        };
        let grey = space.xyz(Lab::new(40.0, 0.0, 0.0));
        assert_abs_diff_eq!(correction(grey), 0.0, epsilon = 1e-9);
        let [x, y, z] = grey;
        assert!(
            correction([x, y, 0.5 * z]) > correction([x, y, 0.8 * z]),
            "a warmer cast"
        );
    }

    #[test]
    fn a_card_that_tells_nothing_is_refused_with_the_mend() {
        let space = ConnectionSpace::new(Viewing::D65_10);
        let refused = |pixels: &[Pixel]| {
            let result = Balance::from_card(Card::WHITE, &blocks(pixels), &space);
            result
                .err()
                .map_or(String::new(), |error| error.to_string())
        };
        let white = [0.96, 1.0, 0.82];
        let mut clipped = card_pixels(white);
        for pixel in &mut clipped[..5] {
            pixel.clipped = true;
        }
        let clipped = refused(&clipped);
        assert!(
            clipped.contains("clipped") && clipped.contains("less exposure"),
            "{clipped}"
        );
        let black = refused(&card_pixels([0.005, 0.005, 0.004]));
        assert!(black.contains("black"), "{black}");
        let mut uneven = card_pixels([0.4, 0.4, 0.3]);
        uneven.extend(card_pixels([0.8, 0.8, 0.6]));
        let uneven = refused(&uneven);
        assert!(uneven.contains("uneven"), "{uneven}");
        let mut transparent = card_pixels(white);
        for pixel in &mut transparent[..80] {
            pixel.opaque = false;
        }
        let transparent = refused(&transparent);
        assert!(transparent.contains("20 opaque pixels"), "{transparent}");
    }

    #[test]
    fn a_card_is_named_or_given_by_its_values() {
        assert_eq!("grey".parse::<Card>().ok(), Some(Card::GREY), "grey");
        assert_eq!("white".parse::<Card>().ok(), Some(Card::WHITE), "white");
        let measured: Card = "51.2, -0.3,0.8".parse().expect("three numbers");
        assert_eq!(measured.lab(), Lab::new(51.2, -0.3, 0.8), "measured");
        for text in ["black", "1,2", "5,0,0", "50,60,0"] {
            let error = text.parse::<Card>().expect_err(text);
            assert!(error.is_input(), "{error}");
        }
    }
}
