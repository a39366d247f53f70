//! A photograph, decoded, upright, and turned into colour by its own profile.
//!
//! The picture stays as its samples; only the pixels that are asked for become colour, relative
//! colorimetrically, in the profile connection space: XYZ relative to D50, 2° observer, white at Y = 1.
//! Nothing is clipped on the way: the profile's RGB is taken to linear light in primaries that hold every
//! real colour, and from there to XYZ. A picture without a profile is taken as sRGB.
//!
//! Source: ICC.1:2022, annex F; the primaries AP0 of SMPTE ST 2065-1:2021.

use std::fs::File;
use std::io::{BufRead, BufReader, ErrorKind, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};
use std::sync::{Arc, LazyLock, OnceLock};

use image::codecs::jpeg::JpegDecoder;
use image::codecs::png::PngDecoder;
use image::codecs::tiff::TiffDecoder;
use image::codecs::webp::WebPDecoder;
use image::error::DecodingError;
use image::metadata::Orientation;
use image::{DynamicImage, ExtendedColorType, ImageDecoder, ImageError, ImageFormat, Limits};
use moxcms::{
    ColorProfile, DataColorSpace, Layout, RenderingIntent, TransformF64Executor, TransformOptions,
};

use tiff::tags::Tag;

use super::jpeg::Outline;
use super::window::Window;
use super::{format, jpeg, jpeg_scan, packed, webp_scan};
use crate::error::{self, Error, FileKind, Result};

/// Largest picture that is decoded, pixels: above what cameras and phones give.
const MOST_PIXELS: u64 = 200_000_000;
/// Memory that a picture may take while it is decoded, bytes: 190 million pixels of 8 bits fit, 63 million of a progressive JPEG, 47
/// million of a TIFF of 16 bits.
const MOST_MEMORY: u64 = 544 << 20;
/// Largest profile, bytes, once it is unpacked; also what a PNG decoder may take beside the picture. Real ones have up to 3 MB.
const MOST_PROFILE: usize = 16 << 20;
/// Pixels from which on a file must have a byte for every [`PIXELS_A_BYTE`]: no photograph packs as small, and what does claims
/// a size that it has not.
const LARGE: u64 = 4_000_000;
const PIXELS_A_BYTE: u64 = 400;

/// A channel at or above this is at the top of its range: 254 of 255.
const TOP: f64 = 253.5 / 255.0;
/// Three channels at or below this are at the bottom: 1 of 255.
const BOTTOM: f64 = 1.5 / 255.0;
/// A channel at or below this may have been cut at the bottom, which JPEG's coding smears: 6 of 255, a
/// five-hundredth of the light.
const NEAR_BOTTOM: f64 = 6.5 / 255.0;

/// The space that all pixels are taken to: linear, and so wide that no colour of a photograph lies outside.
static LINEAR: LazyLock<ColorProfile> = LazyLock::new(ColorProfile::new_aces_aces_2065_1_linear);

/// A decoded photograph.
pub(super) struct Picture {
    path: PathBuf,
    /// Width and height as stored, before the picture is turned upright.
    stored_size: [u32; 2],
    orientation: Orientation,
    channels: usize,
    samples: Samples,
    to_linear: Arc<TransformF64Executor>,
    linear_to_xyz: [[f64; 3]; 3],
    /// Whether the picture carries a profile of its own.
    pub(super) has_profile: bool,
    /// Whether it would have been refused where it is damaged.
    pub(super) tells_damage: bool,
}

enum Samples {
    Eight(Vec<u8>),
    Sixteen(Vec<u16>),
}

/// One pixel that was asked for.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pixel {
    /// X, Y, Z of the profile connection space (D50, 2°), white at Y = 1.
    pub(super) xyz: [f64; 3],
    /// Whether the pixel is opaque.
    pub(super) opaque: bool,
    /// Whether the camera could not hold the pixel's colour.
    pub(super) clipped: bool,
    /// Whether any channel is near the bottom of its range: the colour may lie beyond the picture's primaries.
    pub(super) at_bottom: bool,
}

impl Picture {
    /// Reads and decodes the picture at `path`.
    ///
    /// # Errors
    ///
    /// An input error that says what to do where the file is missing, is no JPEG, PNG, TIFF or WebP, is
    /// grey, in inks, animated, cut short or too large, or has a profile that can't be used; the machine's
    /// where the file can't be read.
    pub(super) fn open(path: &Path) -> Result<Self> {
        Self::decode(path).map_err(|error| error.in_file(path))
    }

    fn decode(path: &Path) -> Result<Self> {
        let machine = |cause| Error::unreadable(path, cause);
        let mut file = BufReader::new(error::open(path, FileKind::Picture)?);
        let mut head = Vec::new();
        file.by_ref()
            .take(format::HEAD_BYTES)
            .read_to_end(&mut head)
            .map_err(machine)?;
        file.rewind().map_err(machine)?;
        let bytes = file.seek(SeekFrom::End(0)).map_err(machine)?;
        file.rewind().map_err(machine)?;
        let refused = |error| decoding_error(path, error);
        match format::recognise(path, &head)? {
            ImageFormat::Jpeg => {
                let (file, working) = check_jpeg(path, file.into_inner(), bytes)?;
                let decoder = JpegDecoder::new(file).map_err(refused)?;
                // The decoder reads all of the file first.
                let beside = bytes + working * pixels_of(&decoder);
                Self::from_decoder(path, decoder, bytes, beside)
            }
            ImageFormat::Png => {
                check_png(path, &mut file)?;
                file.rewind().map_err(machine)?;
                let mut limits = limits();
                limits.max_alloc = Some(MOST_PROFILE as u64);
                let decoder = PngDecoder::with_limits(file, limits).map_err(refused)?;
                if decoder.is_apng().map_err(refused)? {
                    return Err(animated());
                }
                Self::from_decoder(path, decoder, bytes, 0)
            }
            ImageFormat::WebP => {
                let tells_damage = check_webp(path, &head, &mut file, bytes)?;
                file.rewind().map_err(machine)?;
                let decoder = WebPDecoder::new(file).map_err(refused)?;
                if decoder.has_animation() {
                    return Err(animated());
                }
                let beside = WEBP_PLANES * pixels_of(&decoder);
                let picture = Self::from_decoder(path, decoder, bytes, beside)?;
                Ok(Self {
                    tells_damage,
                    ..picture
                })
            }
            _ => {
                check_tiff(path, &mut file, bytes)?;
                file.rewind().map_err(machine)?;
                let decoder = TiffDecoder::new(file).map_err(refused)?;
                // Its strips are unpacked beside the picture, and one may hold all of it.
                let beside = decoder.total_bytes();
                Self::from_decoder(path, decoder, bytes, beside)
            }
        }
    }

    /// The picture of `decoder`, whose file has so many `bytes`, and which takes as many as `beside` beside the samples.
    fn from_decoder(
        path: &Path,
        mut decoder: impl ImageDecoder,
        bytes: u64,
        beside: u64,
    ) -> Result<Self> {
        let refused = |error| decoding_error(path, error);
        let (width, height) = decoder.dimensions();
        check_pixels((width, height), bytes)?;
        check_colour_type(decoder.original_color_type())?;
        let memory = decoder.total_bytes().saturating_add(beside);
        if memory > MOST_MEMORY {
            return Err(Error::input(format!(
                "the picture takes {} MB of memory; at most {} MB are given to one",
                memory >> 20,
                MOST_MEMORY >> 20
            ))
            .mend("crop it, or save it smaller or with 8 bits a channel"));
        }
        decoder.set_limits(limits()).map_err(refused)?;
        let embedded = decoder.icc_profile().map_err(refused)?;
        let orientation = decoder.orientation().map_err(refused)?;
        let to_linear = match &embedded {
            Some(bytes) => linearising(&rgb_profile(bytes)?)?,
            None => Arc::clone(srgb_to_linear()?),
        };
        let image = DynamicImage::from_decoder(decoder).map_err(refused)?;
        let channels = usize::from(image.color().channel_count());
        let samples = match image {
            DynamicImage::ImageRgb8(pixels) => Samples::Eight(pixels.into_raw()),
            DynamicImage::ImageRgba8(pixels) => Samples::Eight(pixels.into_raw()),
            DynamicImage::ImageRgb16(pixels) => Samples::Sixteen(pixels.into_raw()),
            DynamicImage::ImageRgba16(pixels) => Samples::Sixteen(pixels.into_raw()),
            other => return Err(unread_samples(&format!("{:?}", other.color()))),
        };
        Ok(Self {
            path: path.to_owned(),
            stored_size: [width, height],
            orientation,
            channels,
            samples,
            to_linear,
            linear_to_xyz: LINEAR.rgb_to_xyz_matrix().v,
            has_profile: embedded.is_some(),
            tells_damage: true,
        })
    }

    /// Width and height of the upright picture.
    pub(super) fn size(&self) -> [u32; 2] {
        let [width, height] = self.stored_size;
        match self.orientation {
            Orientation::NoTransforms
            | Orientation::Rotate180
            | Orientation::FlipHorizontal
            | Orientation::FlipVertical => [width, height],
            Orientation::Rotate90
            | Orientation::Rotate270
            | Orientation::Rotate90FlipH
            | Orientation::Rotate270FlipH => [height, width],
        }
    }

    /// The pixels at `places`, columns and rows of the upright picture, each inside it.
    ///
    /// # Errors
    ///
    /// An input error where the profile can't be used.
    pub(super) fn pixels(&self, places: &[[u32; 2]]) -> Result<Vec<Pixel>> {
        let mut encoded = Vec::with_capacity(3 * places.len());
        let mut opaque = Vec::with_capacity(places.len());
        for [x, y] in places {
            let [red, green, blue, alpha] = self.sample(self.stored_place(*x, *y));
            encoded.extend([red, green, blue]);
            opaque.push(alpha >= 1.0);
        }
        let mut linear = vec![0.0; encoded.len()];
        self.to_linear
            .transform(&encoded, &mut linear)
            .map_err(|error| unusable_profile(&error.to_string()).in_file(&self.path))?;
        let pixels = encoded.chunks_exact(3).zip(linear.chunks_exact(3));
        Ok(pixels
            .zip(opaque)
            .map(|((encoded, linear), opaque)| Pixel {
                clipped: is_clipped(encoded),
                at_bottom: encoded.iter().any(|channel| *channel <= NEAR_BOTTOM),
                xyz: self
                    .linear_to_xyz
                    .map(|row| row.iter().zip(linear).map(|(a, b)| a * b).sum()),
                opaque,
            })
            .collect())
    }

    /// Red, green and blue of the upright picture, as they are encoded, 0–1.
    pub(super) fn encoded(&self, [x, y]: [u32; 2]) -> [f64; 3] {
        let [red, green, blue, _] = self.sample(self.stored_place(x, y));
        [red, green, blue]
    }

    /// Column and row, as stored, of a pixel of the upright picture.
    fn stored_place(&self, x: u32, y: u32) -> [u32; 2] {
        let [right, bottom] = self.stored_size.map(|count| count - 1);
        match self.orientation {
            Orientation::NoTransforms => [x, y],
            Orientation::FlipHorizontal => [right - x, y],
            Orientation::Rotate180 => [right - x, bottom - y],
            Orientation::FlipVertical => [x, bottom - y],
            Orientation::Rotate90 => [y, bottom - x],
            Orientation::Rotate270 => [right - y, x],
            Orientation::Rotate90FlipH => [y, x],
            Orientation::Rotate270FlipH => [right - y, bottom - x],
        }
    }

    /// Red, green, blue and alpha, 0–1, of a pixel by its place as stored.
    fn sample(&self, [x, y]: [u32; 2]) -> [f64; 4] {
        let pixel = y as usize * self.stored_size[0] as usize + x as usize;
        let sample = |channel: usize| pixel * self.channels + channel;
        std::array::from_fn(|channel| match &self.samples {
            _ if channel >= self.channels => 1.0,
            Samples::Eight(samples) => f64::from(samples[sample(channel)]) / 255.0,
            Samples::Sixteen(samples) => f64::from(samples[sample(channel)]) / 65535.0,
        })
    }
}

/// Whether a channel is at the top of its range, or all are at the bottom.
fn is_clipped(encoded: &[f64]) -> bool {
    let highest = encoded.iter().copied().fold(0.0, f64::max);
    highest >= TOP || highest <= BOTTOM
}

fn limits() -> Limits {
    let mut limits = Limits::default();
    limits.max_alloc = Some(MOST_MEMORY);
    limits
}

/// Refuses more pixels than are decoded, or than a file of so many `bytes` can tell of.
fn check_pixels((width, height): (u32, u32), bytes: u64) -> Result<()> {
    let pixels = u64::from(width) * u64::from(height);
    if pixels > MOST_PIXELS {
        let millions = pixels / 1_000_000;
        return Err(Error::input(format!(
            "the picture has {millions} million pixels; at most {} million are read",
            MOST_PIXELS / 1_000_000
        ))
        .mend("crop it or save it smaller"));
    }
    if pixels > LARGE && pixels / PIXELS_A_BYTE > bytes {
        return Err(hollow());
    }
    Ok(())
}

/// Bytes a pixel that a WebP decoder takes beside the samples: planes of luminance and colour, or whole pixels before they are told
/// apart.
const WEBP_PLANES: u64 = 4;

fn pixels_of(decoder: &impl ImageDecoder) -> u64 {
    let (width, height) = decoder.dimensions();
    u64::from(width) * u64::from(height)
}

/// Refuses what is no whole and sound JPEG of colours; returns it from its start, and how many bytes a pixel its decoder takes beside
/// the samples.
fn check_jpeg(path: &Path, file: File, bytes: u64) -> Result<(BufReader<File>, u64)> {
    let mut window = Window::new(file, usize::try_from(bytes).unwrap_or(usize::MAX));
    let outline = jpeg::outline(&mut window);
    let walked = match outline {
        Outline {
            complete: false, ..
        } => Err(cut_short()),
        Outline { components: 1, .. } => Err(grey()),
        Outline { components: 4, .. } => Err(inks()),
        _ => jpeg_scan::walk(&mut window).map_err(|damage| match damage {
            jpeg_scan::Damage::Missing => cut_short(),
            jpeg_scan::Damage::Garbled => damaged(LED_ASTRAY),
        }),
    };
    let mut file = (window.close()).map_err(|cause| Error::unreadable(path, cause))?;
    walked?;
    file.rewind()
        .map_err(|cause| Error::unreadable(path, cause))?;
    // All coefficients of a progressive picture are kept until the last scan: two bytes for each sample.
    let working = if outline.progressive { 6 } else { 0 };
    Ok((BufReader::new(file), working))
}

/// Refuses a PNG whose rows are not all there and sound, before memory for them is asked for; and one whose profile its decoder
/// would pass over, since it can't be unpacked or is larger than any profile.
fn check_png(path: &Path, file: &mut (impl BufRead + Seek)) -> Result<()> {
    let refused = |error| decoding_error(path, ImageError::Decoding(unpacking(error)));
    let has_profile = png_has_profile(file).map_err(|cause| Error::unreadable(path, cause))?;
    let limits = png::Limits {
        bytes: MOST_PROFILE,
    };
    let mut rows = png::Decoder::new_with_limits(file, limits)
        .read_info()
        .map_err(refused)?;
    if has_profile && rows.info().icc_profile.is_none() {
        return Err(unusable_profile("it can't be unpacked"));
    }
    let [width, height] = [rows.info().width, rows.info().height].map(u64::from);
    if width * height > MOST_PIXELS {
        // Told from the header alone.
        return Ok(());
    }
    while rows.next_row().map_err(refused)?.is_some() {}
    rows.finish().map_err(refused)
}

/// Refuses a WebP that is shorter than it says, and one whose coded data are not the picture of its header, before memory for that
/// is asked for. Source: the container's specification, section RIFF file format: its size, less the eight bytes before it, stands
/// behind `RIFF`. Returns whether damage shows.
fn check_webp(
    path: &Path,
    head: &[u8],
    file: &mut (impl BufRead + Seek),
    bytes: u64,
) -> Result<bool> {
    let size = head.get(4..8).and_then(|size| size.first_chunk());
    if size.is_some_and(|size| u64::from(u32::from_le_bytes(*size)) + 8 > bytes) {
        return Err(cut_short());
    }
    let decoder = WebPDecoder::new(&mut *file).map_err(|error| decoding_error(path, error))?;
    check_pixels(decoder.dimensions(), bytes)?;
    webp_scan::walk(file, bytes).map_err(|damage| match damage {
        webp_scan::Damage::Missing => cut_short(),
        webp_scan::Damage::Garbled => damaged(LED_ASTRAY),
        webp_scan::Damage::TooLarge => {
            let most = webp_scan::MOST_LOSSY >> 20;
            let finding = format!(
                "the file is larger than {most} MB; at most as much is read of a lossy WebP"
            );
            Error::input(finding).mend("save it smaller")
        }
        webp_scan::Damage::Unreadable(cause) => Error::unreadable(path, cause),
    })
}

/// Refuses a large TIFF whose strips or tiles are not all there and sound, before memory for the picture is asked for. What is
/// wrong with it otherwise, and other ways of packing, are left to the picture's decoder.
fn check_tiff(path: &Path, file: &mut (impl BufRead + Seek), bytes: u64) -> Result<()> {
    let Ok(mut tiff) = tiff::decoder::Decoder::new(&mut *file) else {
        return Ok(());
    };
    let pixels = tiff
        .dimensions()
        .map_or(0, |(width, height)| u64::from(width) * u64::from(height));
    if !(LARGE..=MOST_PIXELS).contains(&pixels) {
        return Ok(());
    }
    let mut numbers = |tag| {
        tiff.find_tag_unsigned_vec::<u64>(tag)
            .ok()
            .flatten()
            .unwrap_or_default()
    };
    let strips = [Tag::StripOffsets, Tag::StripByteCounts].map(&mut numbers);
    let tiles = [Tag::TileOffsets, Tag::TileByteCounts].map(numbers);
    let [offsets, lengths] = if strips[0].is_empty() { tiles } else { strips };
    let packing = tiff.find_tag_unsigned(Tag::Compression).ok().flatten();
    let Some(packing) = packing.and_then(packed::Packing::of) else {
        return Ok(());
    };
    let mut strips = Vec::with_capacity(offsets.len());
    for ((index, offset), length) in (0..).zip(offsets).zip(lengths) {
        if offset.saturating_add(length) > bytes {
            return Err(cut_short());
        }
        let Ok(layout) = tiff.image_chunk_buffer_layout(index) else {
            return Ok(());
        };
        strips.push((offset, length, layout.len as u64));
    }
    for (offset, length, unpacked) in strips {
        (file.seek(SeekFrom::Start(offset)))
            .and_then(|_| packing.check(file.by_ref().take(length), unpacked))
            .map_err(|cause| match cause.kind() {
                ErrorKind::UnexpectedEof => cut_short(),
                // What can't be unpacked.
                _ if cause.raw_os_error().is_none() => damaged(&cause.to_string()),
                _ => Error::unreadable(path, cause),
            })?;
    }
    Ok(())
}

/// Whether a profile stands before the data of a PNG, which is left at its start. Source: PNG specification, third edition (2025).
fn png_has_profile(file: &mut (impl BufRead + Seek)) -> std::io::Result<bool> {
    file.seek(SeekFrom::Start(8))?;
    let mut head = [0; 8];
    let mut found = false;
    while file.read_exact(&mut head).is_ok() {
        let [a, b, c, d, kind @ ..] = head;
        found |= kind == *b"iCCP";
        if found || kind == *b"IDAT" {
            break;
        }
        // Past the chunk and its check sum.
        file.seek_relative(i64::from(u32::from_be_bytes([a, b, c, d])) + 4)?;
    }
    file.rewind()?;
    Ok(found)
}

/// The same as the decoder of pictures says of one that can't be unpacked.
fn unpacking(error: png::DecodingError) -> DecodingError {
    DecodingError::new(ImageFormat::Png.into(), error)
}

fn check_colour_type(stored: ExtendedColorType) -> Result<()> {
    use ExtendedColorType as Type;
    match stored {
        Type::Cmyk8 | Type::Cmyk16 => Err(inks()),
        Type::A8
        | Type::L1
        | Type::L2
        | Type::L4
        | Type::L8
        | Type::L16
        | Type::La1
        | Type::La2
        | Type::La4
        | Type::La8
        | Type::La16 => Err(grey()),
        Type::Rgb32F | Type::Rgba32F => Err(unread_samples("floating-point")),
        _ => Ok(()),
    }
}

fn rgb_profile(bytes: &[u8]) -> Result<ColorProfile> {
    if bytes.len() > MOST_PROFILE {
        return Err(unusable_profile("no profile is as large"));
    }
    let profile = ColorProfile::new_from_slice(bytes)
        .map_err(|error| unusable_profile(&error.to_string()))?;
    if profile.color_space == DataColorSpace::Rgb {
        Ok(profile)
    } else {
        let space = format!("it is for {:?}, not for RGB", profile.color_space);
        Err(unusable_profile(&space))
    }
}

/// What takes pixels of `profile` to linear light.
fn linearising(profile: &ColorProfile) -> Result<Arc<TransformF64Executor>> {
    let options = TransformOptions {
        rendering_intent: RenderingIntent::RelativeColorimetric,
        ..TransformOptions::default()
    };
    (profile.create_transform_f64(Layout::Rgb, &LINEAR, Layout::Rgb, options))
        .map_err(|error| unusable_profile(&error.to_string()))
}

/// The same for sRGB, which most photographs are in: worked out once, for its tables take longer than a small picture.
fn srgb_to_linear() -> Result<&'static Arc<TransformF64Executor>> {
    static SRGB: OnceLock<Arc<TransformF64Executor>> = OnceLock::new();
    match SRGB.get() {
        Some(kept) => Ok(kept),
        None => {
            let made = linearising(&ColorProfile::new_srgb())?;
            Ok(SRGB.get_or_init(|| made))
        }
    }
}

fn unusable_profile(why: &str) -> Error {
    Error::input(format!("the picture's colour profile can't be used: {why}"))
        .mend("convert the picture to sRGB in a photo program and save it again")
}

fn unread_samples(kind: &str) -> Error {
    Error::input(format!(
        "the picture has {kind} samples, which are not read here"
    ))
    .mend("save it with 8 or 16 bits a channel")
}

fn grey() -> Error {
    Error::input("this is a grey picture, which has no colour to match").mend("give a colour photo")
}

fn inks() -> Error {
    Error::input("this picture is in printing inks (CMYK), not in RGB")
        .mend("convert it to sRGB in a photo program, or export it as RGB from the original")
}

fn animated() -> Error {
    Error::input("this is an animated picture; expected one photo").mend("export one frame of it")
}

fn cut_short() -> Error {
    Error::input("the picture is cut short: its end is missing")
        .mend("copy it from the camera again, or open it in a photo program and save it anew")
}

/// What is wrong with coded data that end where no picture does.
const LED_ASTRAY: &str = "its coded data lead astray on the way";

fn damaged(how: &str) -> Error {
    Error::input(format!("the picture is damaged: {how}"))
        .mend("copy it from the camera again, or open it in a photo program and save it anew")
}

/// What claims more pixels than its bytes can tell of.
fn hollow() -> Error {
    Error::input("the file is far too small for as many pixels: there is no photograph in it")
        .mend("copy it from the camera again")
}

/// What a decoder's error means for the user.
fn decoding_error(path: &Path, error: ImageError) -> Error {
    match error {
        ImageError::IoError(cause) if cause.kind() == ErrorKind::UnexpectedEof => cut_short(),
        // Eight bytes can name a place that no file reaches.
        ImageError::IoError(cause) if cause.kind() == ErrorKind::InvalidInput => {
            damaged("it points to where no file reaches")
        }
        ImageError::IoError(cause) if cause.raw_os_error().is_some() => {
            Error::unreadable(path, cause)
        }
        ImageError::Limits(_) => {
            Error::input("the picture is too large to decode").mend("crop it or save it smaller")
        }
        ImageError::Unsupported(what) => {
            Error::input(format!("this kind of picture is not read here: {what}"))
                .mend("export it as an 8-bit or 16-bit RGB picture")
        }
        other => damaged(&other.to_string()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ends_of_the_range_are_clipped_and_their_neighbours_are_not() {
        for (encoded, clipped) in [
            ([1.0, 0.5, 0.5], true),
            ([254.0 / 255.0, 0.5, 0.5], true),
            ([253.0 / 255.0, 0.5, 0.5], false),
            ([0.0, 0.0, 0.0], true),
            ([0.0, 0.0, 2.0 / 255.0], false),
        ] {
            assert_eq!(is_clipped(&encoded), clipped, "{encoded:?}");
        }
    }
}
