//! Which kind of picture a file holds, and what to do with the kinds that are not read.

use std::path::Path;

use image::ImageFormat;

use crate::error::{Error, Result};

/// Bytes from the start of a file that [`recognise`] wants to see; fewer where the file is shorter.
pub(super) const HEAD_BYTES: u64 = 4096;

/// File name extensions of sensor data as cameras write it.
const RAW_EXTENSIONS: [&str; 16] = [
    "3fr", "arw", "cr2", "cr3", "crw", "dng", "erf", "iiq", "kdc", "mos", "nef", "orf", "pef",
    "raf", "rw2", "srw",
];

/// First bytes of sensor data files that are not TIFF and say so at once.
const RAW_STARTS: [&[u8]; 5] = [b"IIRO", b"IIRS", b"MMOR", b"IIU\0", b"FUJIFILMCCD-RAW"];

/// The format of the file at `path` whose first bytes are `head`: JPEG, PNG, TIFF or WebP.
///
/// # Errors
///
/// An input error with the mend for every other kind of file: phone formats, sensor data, other pictures,
/// what is no picture at all.
pub(super) fn recognise(path: &Path, head: &[u8]) -> Result<ImageFormat> {
    let refuse = |finding: &str, mend: &str| Err(Error::input(finding).mend(mend).in_file(path));
    if head.is_empty() {
        return refuse("this file is empty", "copy it from the camera again");
    }
    if is_sensor_data(path, head) {
        return refuse(
            "this is a camera's raw sensor data, which has no colour of its own yet",
            "develop it in a photo program and export it as a 16-bit TIFF or a JPEG, with its profile",
        );
    }
    if let Some(brand) = container_brand(head) {
        let kind = match brand {
            b"heic" | b"heix" | b"heim" | b"heis" | b"hevc" | b"hevx" | b"mif1" | b"msf1" => {
                "a HEIC picture"
            }
            b"avif" | b"avis" => "an AVIF picture",
            _ => "a film or another media container",
        };
        return refuse(
            &format!("this is {kind}, which is not read here"),
            "export it as JPEG or PNG from the phone or a photo program, or set the camera to write JPEG",
        );
    }
    match image::guess_format(head) {
        Ok(
            format @ (ImageFormat::Jpeg | ImageFormat::Png | ImageFormat::Tiff | ImageFormat::WebP),
        ) => Ok(format),
        Ok(other) => refuse(
            &format!("this is a {other:?} picture, which is not read here"),
            "save it as JPEG, PNG, TIFF or WebP",
        ),
        Err(_) => refuse(
            "this is not a picture that can be read",
            "give a photo as JPEG, PNG, TIFF or WebP",
        ),
    }
}

/// The major brand of an ISO base media file (ISO/IEC 14496-12, the `ftyp` box).
fn container_brand(head: &[u8]) -> Option<&[u8; 4]> {
    let rest = head.get(4..)?.strip_prefix(b"ftyp")?;
    rest.first_chunk()
}

fn is_sensor_data(path: &Path, head: &[u8]) -> bool {
    let by_name = path
        .extension()
        .and_then(|extension| extension.to_str())
        .is_some_and(|extension| {
            RAW_EXTENSIONS
                .iter()
                .any(|raw| raw.eq_ignore_ascii_case(extension))
        });
    by_name
        || RAW_STARTS.iter().any(|start| head.starts_with(start))
        || container_brand(head) == Some(b"crx ")
        || tiff_holds_sensor_data(head) == Some(true)
}

/// Whether the first directory of a TIFF file is that of sensor data: it says so, or holds but a small
/// preview. `None` where the head is no TIFF, or its directory lies further on.
fn tiff_holds_sensor_data(head: &[u8]) -> Option<bool> {
    /// NewSubfileType; its lowest bit marks a preview (TIFF 6.0, p. 36).
    const SUBFILE_TYPE: u32 = 254;
    /// The tag that carries the version of the open raw format built on TIFF.
    const RAW_VERSION: u32 = 50706;

    let little = match head.get(..4)? {
        b"II\x2a\0" => true,
        b"MM\0\x2a" => false,
        _ => return None,
    };
    let number = |offset: usize, bytes: usize| -> Option<u32> {
        let slice = head.get(offset..offset.checked_add(bytes)?)?;
        let add = |sum: u32, byte: &u8| sum << 8 | u32::from(*byte);
        Some(if little {
            slice.iter().rev().fold(0, add)
        } else {
            slice.iter().fold(0, add)
        })
    };
    let directory = usize::try_from(number(4, 4)?).ok()?;
    let entries = usize::try_from(number(directory, 2)?).ok()?;
    for entry in 0..entries {
        let offset = directory.checked_add(2 + 12 * entry)?;
        match number(offset, 2)? {
            RAW_VERSION => return Some(true),
            SUBFILE_TYPE if number(offset + 8, 4)? & 1 == 1 => return Some(true),
            _ => {}
        }
    }
    Some(false)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refusal(name: &str, head: &[u8]) -> String {
        let error = recognise(Path::new(name), head).expect_err(name);
        assert!(error.is_input(), "{error}");
        error.to_string()
    }

    #[test]
    fn the_four_formats_are_known_by_their_content_not_their_name() {
        let found = recognise(Path::new("face.txt"), b"\xff\xd8\xff\xe0rest").ok();
        assert_eq!(found, Some(ImageFormat::Jpeg), "JPEG");
        let found = recognise(Path::new("face"), b"\x89PNG\r\n\x1a\nrest").ok();
        assert_eq!(found, Some(ImageFormat::Png), "PNG");
        let found = recognise(Path::new("face"), b"II*\0\x08\0\0\0\0\0").ok();
        assert_eq!(found, Some(ImageFormat::Tiff), "TIFF");
        let found = recognise(Path::new("face"), b"RIFF\x10\0\0\0WEBPVP8 ").ok();
        assert_eq!(found, Some(ImageFormat::WebP), "WebP");
    }

    #[test]
    fn phone_formats_and_raw_are_told_what_to_do() {
        let heic = refusal("face.jpg", b"\0\0\0\x18ftypheic\0\0\0\0");
        assert!(
            heic.contains("HEIC") && heic.contains("export it as JPEG"),
            "{heic}"
        );
        let avif = refusal("face.avif", b"\0\0\0\x18ftypavif\0\0\0\0");
        assert!(avif.contains("AVIF"), "{avif}");
        let film = refusal("face.mov", b"\0\0\0\x18ftypqt  \0\0\0\0");
        assert!(film.contains("film"), "{film}");
        for (name, head) in [
            ("face.NEF", b"II*\0".as_slice()),
            ("face", b"\0\0\0\x18ftypcrx \0\0\0\0".as_slice()),
            ("face", b"IIRO\x08\0\0\0".as_slice()),
        ] {
            let raw = refusal(name, head);
            assert!(
                raw.contains("raw sensor data") && raw.contains("develop"),
                "{raw}"
            );
        }
    }

    #[test]
    fn a_tiff_that_holds_only_a_preview_is_raw_whatever_its_name() {
        // One entry each: NewSubfileType = 1, long; and the raw version, four bytes.
        let preview = b"II*\0\x08\0\0\0\x01\0\xfe\0\x04\0\x01\0\0\0\x01\0\0\0\0\0\0\0";
        assert!(refusal("face.tif", preview).contains("raw"), "preview");
        let version = b"MM\0*\0\0\0\x08\0\x01\xc6\x12\0\x01\0\0\0\x04\x01\x04\0\0\0\0\0\0";
        assert!(refusal("face.tif", version).contains("raw"), "version");
        let plain = b"II*\0\x08\0\0\0\x01\0\xfe\0\x04\0\x01\0\0\0\0\0\0\0\0\0\0\0";
        assert!(recognise(Path::new("face.tif"), plain).is_ok(), "plain");
    }

    #[test]
    fn other_files_are_no_photos() {
        assert!(
            refusal("notes.jpg", b"just some words").contains("not a picture"),
            "text"
        );
        assert!(refusal("face.gif", b"GIF89a......").contains("Gif"), "GIF");
        assert!(refusal("face.jpg", b"").contains("empty"), "empty");
    }
}
