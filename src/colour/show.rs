//! A colour on a screen.

use palette::convert::FromColorUnclamped;
use palette::{Srgb, white_point};

use super::Lab;

/// The 8-bit sRGB that shows `lab` on a screen, clipped to what a screen has.
///
/// The numbers L*, a*, b* are taken over to the screen's own white, as an eye that is used to its light
/// does; this is for looking at, not for measuring.
pub fn to_srgb(lab: Lab) -> [u8; 3] {
    let on_screen = palette::Lab::<white_point::D65, f64>::new(lab.l, lab.a, lab.b);
    let linear = Srgb::<f64>::from_color_unclamped(on_screen);
    linear.into_format::<u8>().into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn white_black_and_a_colour_beyond_the_screen() {
        assert_eq!(to_srgb(Lab::new(100.0, 0.0, 0.0)), [255, 255, 255], "white");
        assert_eq!(to_srgb(Lab::new(0.0, 0.0, 0.0)), [0, 0, 0], "black");
        let [red, ..] = to_srgb(Lab::new(60.0, 120.0, 80.0));
        assert_eq!(red, 255, "clipped, not wrapped");
    }
}
