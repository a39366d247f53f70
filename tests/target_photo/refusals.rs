//! What is refused, and what the user is told to do.

use std::fs;

use dropwise::colour::Viewing;
use dropwise::tone::{Card, PhotoRequest, Target};
use image::codecs::jpeg::JpegEncoder;
use image::{ExtendedColorType, ImageEncoder};

use super::colours::quarters;
use super::studio::{Painting, Studio, bytes};
use super::{one_tone, read, refusal, region, request};

#[test]
fn pictures_that_are_not_read_say_what_to_do() {
    let studio = Studio::new();
    let heic = studio.file("face.heic", b"\0\0\0\x18ftypheic\0\0\0\0mif1heic");
    assert!(
        refusal(&request(&heic)).contains("export it as JPEG"),
        "HEIC"
    );
    let raw = studio.file("face.dng", b"II\x2a\0\x08\0\0\0");
    assert!(refusal(&request(&raw)).contains("develop it"), "raw");
    let text = studio.file("face.jpg", b"not a picture at all, just words");
    assert!(refusal(&request(&text)).contains("not a picture"), "text");
    let missing = studio.0.path().join("none.jpg");
    assert!(
        refusal(&request(&missing)).contains("no such file"),
        "missing"
    );

    let inks = studio.tiff("inks.tif", [4, 4], &[90; 64], 4, 5, 1);
    assert!(refusal(&request(&inks)).contains("CMYK"), "inks");
    let grey = studio.tiff("grey.tif", [4, 4], &[90; 16], 1, 1, 1);
    assert!(
        refusal(&request(&grey)).contains("grey picture"),
        "grey TIFF"
    );
    let mut content = Vec::new();
    JpegEncoder::new(&mut content)
        .write_image(&[90; 256], 16, 16, ExtendedColorType::L8)
        .expect("encoded");
    let grey = studio.file("grey.jpg", &content);
    assert!(
        refusal(&request(&grey)).contains("grey picture"),
        "grey JPEG"
    );

    // An animation's control chunk put in after the header. Source: PNG specification, third edition (2025).
    let still = studio.png("still.png", &Painting::flat([198, 148, 122]), None);
    let mut content = fs::read(still).expect("just written");
    let mut chunk = b"\0\0\0\x08acTL\0\0\0\x02\0\0\0\0".to_vec();
    chunk.extend(crc(&chunk[4..]).to_be_bytes());
    content.splice(33..33, chunk);
    let moving = studio.file("moving.png", &content);
    assert!(refusal(&request(&moving)).contains("animated"), "animated");

    let profile = b"this is no profile".to_vec();
    let odd = studio.png("odd.png", &Painting::flat([198, 148, 122]), Some(profile));
    assert!(
        refusal(&request(&odd)).contains("profile can't be used"),
        "profile"
    );
}

/// The check sum of a PNG chunk. Source: PNG specification, annex D.
fn crc(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |sum, byte| {
        (0..8).fold(sum ^ u32::from(*byte), |sum, _| {
            (sum >> 1) ^ (0xedb8_8320 * (sum & 1))
        })
    })
}

#[test]
fn a_picture_cut_short_is_refused_in_every_format() {
    let studio = Studio::new();
    let painting = quarters();
    let jpeg = studio.jpeg("whole.jpg", &painting, None);
    let png = studio.png("whole.png", &painting, None);
    let webp = studio.webp("whole.webp", &painting, None);
    let tiff = studio.tiff("whole.tif", [64, 48], &painting.eight(), 3, 2, 1);
    for whole in [jpeg, png, webp, tiff] {
        let content = fs::read(&whole).expect("just written");
        assert!(
            Target::from_photo(&request(&whole), Viewing::D65_10).is_ok(),
            "whole"
        );
        let name = whole.file_name().expect("a name").to_string_lossy();
        for share in [0.5, 0.9] {
            let end = (content.len() as f64 * share) as usize;
            let cut = studio.file(&format!("cut-{name}"), &content[..end]);
            let line = refusal(&request(&cut));
            assert!(
                line.contains("cut short") || line.contains("damaged"),
                "{line}"
            );
        }
    }
}

#[test]
fn a_picture_of_too_many_pixels_is_refused_by_its_header_alone() {
    let studio = Studio::new();
    let small = studio.png("small.png", &Painting::flat([198, 148, 122]), None);
    let mut content = fs::read(small).expect("just written");
    // 30,000 × 30,000 in the header, and its check sum mended; the data stays tiny.
    content[16..24].copy_from_slice(&[0, 0, 0x75, 0x30, 0, 0, 0x75, 0x30]);
    let sum = crc(&content[12..29]);
    content[29..33].copy_from_slice(&sum.to_be_bytes());
    let bomb = studio.file("bomb.png", &content);
    let line = refusal(&request(&bomb));
    assert!(
        line.contains("900 million pixels; at most 200 million"),
        "{line}"
    );
}

#[test]
fn regions_that_do_not_fit_are_told_what_would() {
    let studio = Studio::new();
    let path = studio.png("face.png", &quarters(), None);
    let outside = PhotoRequest {
        region: Some(region("50,0,20,20")),
        ..request(&path)
    };
    assert!(refusal(&outside).contains("64 wide and 48 high"), "outside");
    let outside = PhotoRequest {
        card: Some((Some(region("0,40,10,10")), Card::GREY)),
        ..request(&path)
    };
    let line = refusal(&outside);
    assert!(
        line.contains("the card: ") && line.contains("64 wide"),
        "{line}"
    );

    let dot = studio.png(
        "dot.png",
        &Painting::new(1, 1, |_, _| bytes([198, 148, 122])),
        None,
    );
    let line = refusal(&one_tone(&dot));
    assert!(line.contains("1 pixels; at least 64"), "1 × 1: {line}");
    let few = PhotoRequest {
        region: Some(region("4,4,2,2")),
        ..request(&path)
    };
    let line = refusal(&few);
    assert!(
        line.contains("the region holds 4 pixels") && line.contains("larger"),
        "{line}"
    );
    let enough = PhotoRequest {
        region: Some(region("4,4,8,8")),
        ..request(&path)
    };
    read(&enough, Viewing::D65_10);
    let many = PhotoRequest {
        tones: 9,
        ..request(&path)
    };
    let error = Target::from_photo(&many, Viewing::D65_10).expect_err("nine tones");
    assert!(error.to_string().contains("from 1 to 8"), "{error}");
}
