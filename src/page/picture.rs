//! An address as a picture, for the camera of a telephone.

use qrcode::QrCode;
use qrcode::render::unicode::Dense1x2;

use crate::error::{Error, Result};

/// `address` as a QR code (ISO/IEC 18004) in half blocks, dark on light whatever the terminal's colours, with its quiet zone.
///
/// # Errors
/// An address that is too long for one.
pub fn picture(address: &str) -> Result<String> {
    let code = QrCode::new(address.as_bytes())
        .map_err(|cause| Error::input(format!("no picture of this address: {cause}")))?;
    // Terminals are mostly dark: blocks are drawn where the code is light.
    Ok(code
        .render::<Dense1x2>()
        .dark_color(Dense1x2::Dark)
        .light_color(Dense1x2::Light)
        .quiet_zone(true)
        .build())
}
