//! An address as a picture, for the camera of a telephone.

use anstyle::{Color, RgbColor, Style};
use qrcode::QrCode;
use qrcode::render::unicode::Dense1x2;

use crate::error::{Error, Result};

/// Black on white whatever the terminal's own colours are: not every camera reads a picture inside out.
const INK: Style = Style::new()
    .fg_color(Some(Color::Rgb(RgbColor(0, 0, 0))))
    .bg_color(Some(Color::Rgb(RgbColor(255, 255, 255))));

/// `address` as a QR code (ISO/IEC 18004) in half blocks, with its quiet zone, each line ended by a line feed.
///
/// # Errors
/// An address that is too long for one.
pub fn picture(address: &str) -> Result<String> {
    let code = QrCode::new(address.as_bytes())
        .map_err(|cause| Error::input(format!("no picture of this address: {cause}")))?;
    let blocks = code.render::<Dense1x2>().quiet_zone(true).build();
    let lines = blocks.lines();
    Ok(lines.map(|line| format!("{INK}{line}{INK:#}\n")).collect())
}
