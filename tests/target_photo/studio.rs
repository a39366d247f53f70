//! Pictures made in memory and written in every format.

use std::fs;
use std::path::PathBuf;

use image::codecs::jpeg::JpegEncoder;
use image::codecs::png::PngEncoder;
use image::codecs::webp::WebPEncoder;
use image::{ExtendedColorType, ImageEncoder};
use tempfile::TempDir;

/// A picture in memory: 8-bit or 16-bit samples are made from encoded values, 0–1.
pub(crate) struct Painting {
    pub(crate) width: u32,
    pub(crate) height: u32,
    pub(crate) pixels: Vec<[f64; 3]>,
}

impl Painting {
    pub(crate) fn new(width: u32, height: u32, paint: impl Fn(u32, u32) -> [f64; 3]) -> Self {
        let pixels = (0..height)
            .flat_map(|y| (0..width).map(move |x| (x, y)))
            .map(|(x, y)| paint(x, y))
            .collect();
        Self {
            width,
            height,
            pixels,
        }
    }

    pub(crate) fn flat(rgb: [u8; 3]) -> Self {
        Self::new(40, 30, |_, _| bytes(rgb))
    }

    pub(crate) fn eight(&self) -> Vec<u8> {
        let samples = self.pixels.iter().flatten();
        samples.map(|v| (v * 255.0).round() as u8).collect()
    }

    pub(crate) fn sixteen(&self) -> Vec<u8> {
        let samples = self.pixels.iter().flatten();
        samples
            .flat_map(|v| ((v * 65535.0).round() as u16).to_ne_bytes())
            .collect()
    }

    /// The picture as it is stored under an EXIF orientation, so that it is upright when that is applied.
    ///
    /// Source: CIPA DC-008 (Exif 2.3), Orientation: which side of the scene row 0 and column 0 are.
    pub(crate) fn stored(&self, orientation: u8) -> Self {
        let (w, h) = (self.width, self.height);
        let turned = orientation >= 5;
        let (width, height) = if turned { (h, w) } else { (w, h) };
        Self::new(width, height, |column, row| {
            let (x, y) = match orientation {
                1 => (column, row),                 // row 0 top, column 0 left
                2 => (w - 1 - column, row),         // top, right
                3 => (w - 1 - column, h - 1 - row), // bottom, right
                4 => (column, h - 1 - row),         // bottom, left
                5 => (row, column),                 // left, top
                6 => (w - 1 - row, column),         // right, top
                7 => (w - 1 - row, h - 1 - column), // right, bottom
                _ => (row, h - 1 - column),         // left, bottom
            };
            self.pixels[(y * w + x) as usize]
        })
    }
}

pub(crate) fn bytes(rgb: [u8; 3]) -> [f64; 3] {
    rgb.map(|v| f64::from(v) / 255.0)
}

/// sRGB's transfer function. Source: IEC 61966-2-1:1999.
pub(crate) fn srgb(linear: f64) -> f64 {
    if linear <= 0.003_130_8 {
        12.92 * linear
    } else {
        1.055 * linear.powf(1.0 / 2.4) - 0.055
    }
}

/// An EXIF block that holds nothing but an orientation.
fn exif(orientation: u8) -> Vec<u8> {
    let mut block = b"MM\0\x2a\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0".to_vec();
    block.extend([orientation, 0, 0, 0, 0, 0, 0]);
    block
}

pub(crate) struct Studio(pub(crate) TempDir);

impl Studio {
    pub(crate) fn new() -> Self {
        Self(tempfile::tempdir().expect("a folder"))
    }

    pub(crate) fn file(&self, name: &str, content: &[u8]) -> PathBuf {
        let path = self.0.path().join(name);
        fs::write(&path, content).expect("written");
        path
    }

    pub(crate) fn png(&self, name: &str, painting: &Painting, profile: Option<Vec<u8>>) -> PathBuf {
        self.png_with(name, painting, profile, None, false)
    }

    pub(crate) fn png_with(
        &self,
        name: &str,
        painting: &Painting,
        profile: Option<Vec<u8>>,
        orientation: Option<u8>,
        sixteen: bool,
    ) -> PathBuf {
        let mut content = Vec::new();
        let mut encoder = PngEncoder::new(&mut content);
        if let Some(profile) = profile {
            encoder.set_icc_profile(profile).expect("kept");
        }
        if let Some(orientation) = orientation {
            encoder.set_exif_metadata(exif(orientation)).expect("kept");
        }
        let (samples, kind) = if sixteen {
            (painting.sixteen(), ExtendedColorType::Rgb16)
        } else {
            (painting.eight(), ExtendedColorType::Rgb8)
        };
        encoder
            .write_image(&samples, painting.width, painting.height, kind)
            .expect("encoded");
        self.file(name, &content)
    }

    pub(crate) fn jpeg(&self, name: &str, painting: &Painting, orientation: Option<u8>) -> PathBuf {
        let mut content = Vec::new();
        let mut encoder = JpegEncoder::new_with_quality(&mut content, 95);
        if let Some(orientation) = orientation {
            encoder.set_exif_metadata(exif(orientation)).expect("kept");
        }
        encoder
            .write_image(
                &painting.eight(),
                painting.width,
                painting.height,
                ExtendedColorType::Rgb8,
            )
            .expect("encoded");
        self.file(name, &content)
    }

    pub(crate) fn webp(&self, name: &str, painting: &Painting, orientation: Option<u8>) -> PathBuf {
        let mut content = Vec::new();
        let mut encoder = WebPEncoder::new_lossless(&mut content);
        if let Some(orientation) = orientation {
            encoder.set_exif_metadata(exif(orientation)).expect("kept");
        }
        encoder
            .write_image(
                &painting.eight(),
                painting.width,
                painting.height,
                ExtendedColorType::Rgb8,
            )
            .expect("encoded");
        self.file(name, &content)
    }

    /// A TIFF of one strip, written by the book. Source: TIFF revision 6.0 (1992), sections 3–6 and 16.
    pub(crate) fn tiff(
        &self,
        name: &str,
        size: [u32; 2],
        samples: &[u8],
        channels: u16,
        photometric: u16,
        orientation: u16,
    ) -> PathBuf {
        let mut content = b"II\x2a\0\x08\0\0\0".to_vec();
        let entries: [(u16, u16, u32, u32); 10] = [
            (256, 4, 1, size[0]),
            (257, 4, 1, size[1]),
            (
                258,
                3,
                u32::from(channels),
                if channels == 1 { 8 } else { 134 },
            ),
            (259, 3, 1, 1),
            (262, 3, 1, u32::from(photometric)),
            (273, 4, 1, 134 + 2 * u32::from(channels)),
            (274, 3, 1, u32::from(orientation)),
            (277, 3, 1, u32::from(channels)),
            (278, 4, 1, size[1]),
            (279, 4, 1, samples.len() as u32),
        ];
        content.extend((entries.len() as u16).to_le_bytes());
        for (tag, kind, count, value) in entries {
            content.extend(tag.to_le_bytes());
            content.extend(kind.to_le_bytes());
            content.extend(count.to_le_bytes());
            content.extend(value.to_le_bytes());
        }
        content.extend([0; 4]);
        assert_eq!(content.len(), 134, "where the bits a sample stand");
        for _ in 0..channels {
            content.extend(8_u16.to_le_bytes());
        }
        content.extend(samples);
        self.file(name, &content)
    }
}
