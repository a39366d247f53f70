//! How long photographs take: 12 and 50 million pixels from JPEG to target, with and without a chart.
//!
//! `cargo bench --bench photo`. Most of it is the decoder's; the reading is small beside it.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use dropwise::colour::Viewing;
use dropwise::tone::{Chart, ChartValues, Corners, PhotoRequest, Target};
use image::codecs::jpeg::JpegEncoder;

const CHART: &str = "24-patch from November 2014";

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
    // Encoded sRGB of the set, worked out once with colour-science 0.4.7 from its Lab, rounded.
    const PATCHES: [[u8; 3]; 24] = [
        [116, 79, 65],
        [197, 144, 127],
        [91, 121, 155],
        [91, 108, 65],
        [132, 127, 174],
        [95, 189, 172],
        [224, 124, 51],
        [70, 90, 166],
        [197, 80, 95],
        [93, 58, 103],
        [155, 187, 62],
        [227, 161, 44],
        [41, 62, 144],
        [59, 147, 72],
        [178, 54, 57],
        [236, 199, 30],
        [191, 80, 146],
        [0, 133, 165],
        [241, 242, 236],
        [201, 202, 201],
        [161, 163, 163],
        [121, 121, 121],
        [83, 84, 85],
        [50, 50, 50],
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
                values: ChartValues::named_or_read(CHART).expect("a set"),
            }),
            ..plain.clone()
        };
        for (what, request) in [("", plain), (", a chart", charted)] {
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
