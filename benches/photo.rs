//! How long photographs take: 12 and 50 million pixels from JPEG to target, with and without a chart, given or looked for.
//!
//! `cargo bench --bench photo`. Most of it is the decoder's; the reading is small beside it.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use dropwise::colour::Viewing;
use dropwise::tone::{Chart, ChartValues, Corners, PhotoRequest, Target};
use image::codecs::jpeg::JpegEncoder;

/// A picture that is no photograph, but as busy as one: grain over slow shades, and in its top left quarter the
/// chart's patches in sRGB's colours of the set, near enough.
fn picture(width: u32, height: u32, values: &[[u8; 3]; 24]) -> Vec<u8> {
    let mut pixels = Vec::with_capacity((width * height * 3) as usize);
    let mut grain = 1_u32;
    for y in 0..height {
        for x in 0..width {
            grain = grain.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let rgb = if x < width / 2 && y < height / 2 {
                values[(y * 8 / height * 6 + x * 12 / width) as usize]
            } else {
                [190, 145, 120]
            };
            pixels.extend(rgb.map(|v| v.saturating_add((grain >> 29) as u8)));
        }
    }
    let mut file = Vec::new();
    JpegEncoder::new_with_quality(&mut file, 90)
        .encode(&pixels, width, height, image::ExtendedColorType::Rgb8)
        .expect("encoded");
    file
}

fn photographs(criterion: &mut Criterion) {
    // Encoded sRGB of the set, worked out once from its Lab by Bradford's adaptation (ICC.1:2022, annex E), rounded.
    const PATCHES: [[u8; 3]; 24] = [
        [118, 81, 67],
        [199, 151, 132],
        [93, 124, 158],
        [86, 109, 66],
        [132, 131, 178],
        [96, 191, 173],
        [221, 126, 41],
        [69, 93, 167],
        [201, 88, 99],
        [94, 59, 108],
        [159, 189, 62],
        [231, 163, 44],
        [38, 63, 149],
        [64, 150, 74],
        [183, 47, 57],
        [237, 200, 31],
        [193, 86, 149],
        [0, 136, 168],
        [243, 243, 243],
        [202, 202, 202],
        [162, 162, 162],
        [123, 123, 123],
        [85, 85, 85],
        [50, 50, 49],
    ];
    let folder = tempfile::tempdir().expect("a folder");
    let mut group = criterion.benchmark_group("photograph to target");
    group.sample_size(10);
    for (name, width, height) in [
        ("12 million pixels", 4000, 3000),
        ("50 million pixels", 8192, 6144),
    ] {
        let path = folder.path().join(format!("{width}.jpg"));
        std::fs::write(&path, picture(width, height, &PATCHES)).expect("written");
        let [right, bottom] = [f64::from(width) / 2.0, f64::from(height) / 2.0];
        let plain = PhotoRequest {
            region: Some(
                format!("{},{},800,600", width / 2 + 100, height / 2 + 100)
                    .parse()
                    .expect("a region"),
            ),
            ..PhotoRequest::new(&path)
        };
        let charted = PhotoRequest {
            chart: Some(Chart {
                corners: Some(Corners::new([
                    [0.0, 0.0],
                    [right, 0.0],
                    [right, bottom],
                    [0.0, bottom],
                ])),
                values: ChartValues::named_or_read(ChartValues::PUBLISHED).expect("a set"),
            }),
            ..plain.clone()
        };
        let sought = PhotoRequest {
            chart: charted.chart.clone().map(|chart| Chart {
                corners: None,
                ..chart
            }),
            ..plain.clone()
        };
        for (what, request) in [
            ("", plain),
            (", a chart", charted),
            (", a chart looked for", sought),
        ] {
            group.bench_function(format!("{name}{what}"), |bencher| {
                bencher.iter(|| {
                    Target::from_photo(black_box(&request), Viewing::D65_10).expect("read")
                });
            });
        }
    }
    group.finish();
}

criterion_group!(benches, photographs);
criterion_main!(benches);
