//! The one table of all that is read: what each reader is fed with, and how it is asked.

use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};

use dropwise::Result;
use dropwise::book::{
    Book, Starter, read_builds, read_lamp, read_readings, read_reflectance, read_transmittance,
};
use dropwise::colour::Viewing;
use dropwise::materials::Mix;
use dropwise::tone::Target;
use jiff::Timestamp;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    Text,
    #[cfg(feature = "photo")]
    Picture,
}

/// What becomes of bytes; what they came to is not asked.
type Read = dyn Fn(&[u8]) -> Result<()>;

pub(crate) struct Reader {
    pub(crate) name: &'static str,
    pub(crate) kind: Kind,
    /// What it reads without a word.
    pub(crate) samples: Vec<Vec<u8>>,
    /// Puts right what any change breaks, such as check sums, so that more than those is tried.
    pub(crate) mend: fn(Vec<u8>) -> Vec<u8>,
    pub(crate) read: Box<Read>,
}

fn text(
    name: &'static str,
    samples: Vec<Vec<u8>>,
    read: impl Fn(&[u8]) -> Result<()> + 'static,
) -> Reader {
    Reader {
        name,
        kind: Kind::Text,
        samples,
        mend: |bytes| bytes,
        read: Box::new(read),
    }
}

/// Words that come from a command line: those that are no UTF-8 never reach a reader.
fn words(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// A reader that is given a file, of this name in `folder`.
fn of_a_file(
    folder: &Path,
    name: &str,
    read: impl Fn(&Path) -> Result<()> + 'static,
) -> impl Fn(&[u8]) -> Result<()> + 'static {
    let path = folder.join(name);
    move |bytes| {
        fs::write(&path, bytes).expect("written");
        read(&path)
    }
}

fn spectrum(head: &str) -> Vec<u8> {
    let mut table = format!("{head}\n");
    for nm in (380..=730).step_by(10) {
        table += &format!("{nm},0.4\n");
    }
    table.into_bytes()
}

const CGATS: [&[u8]; 4] = [
    include_bytes!("../published/cgats_17/old_line_ends.txt"),
    include_bytes!("../published/cgats_17/tabs_and_commas.txt"),
    include_bytes!("../published/cgats_17/two_tables.txt"),
    include_bytes!("../published/cgats_17/wavelength_pairs.txt"),
];

const BUILDS: &str = "build,base,base_g,mix,thickness_mm,backing,contact,foam,foam_g,foam_mix,paint,paint_g,paint_mix,paint_mm\n\
    a,clear skin,600,iron oxide red 4; fibre 6 g,2,white card,,,,,,,,\n\
    b,clear skin,60,umber 1:10 3,1.5,,dry,flexible foam,300,umber 2,clear paint,60,blue 1,0.03\n";

/// Nearly grey, whose spectra are soon found.
#[cfg(feature = "photo")]
const CHART: &str = "row,column,L,a,b\n1,1,38,1,2\n1,2,66,2,1\n1,3,50,-1,-2\n1,4,43,0,1\n\
    2,1,97,0,1\n2,2,81,-1,0\n2,3,51,0,0\n2,4,20,0,-1\n";

/// A chart whose patches are told by their spectra, at steps of so many nm; invented, all grey.
#[cfg(feature = "photo")]
fn chart_by_spectra(step_nm: usize) -> Vec<u8> {
    let nm = (400..=700).step_by(step_nm);
    let nm: Vec<String> = nm.map(|nm| nm.to_string()).collect();
    let mut table = format!("row,column,{}\n", nm.join(","));
    for place in 1..=8 {
        table += &format!("{place},1{}\n", format!(",0.{place}").repeat(nm.len()));
    }
    table.into_bytes()
}

const CASTING: &str = "swatch add --base 'clear skin' --base-g 60 --thickness-mm 2 --backing 'white card' --date 2026-03-01 \
    --mix 'umber 2' --lab 60,10,14";

fn run(line: &str, book: &Path) {
    let line = format!("dropwise {line} --book '{}'", book.display());
    let line = shlex::split(&line).expect("quotes that close");
    let mut err = Vec::new();
    let code = dropwise::cli::run(
        line.into_iter().map(OsString::from),
        &mut Vec::new(),
        &mut err,
    );
    assert_eq!(code, 0, "{}", String::from_utf8_lossy(&err));
}

const LEFT_PART_B: &str =
    "part,made,base,base_g,mix,left_g\narm,2026-03-14,clear skin,600,umber 2,120\n";

/// What calibrations of castings leave over; its numbers are invented.
fn left_over() -> String {
    let mut table =
        "what,value,swatch,base,base_g,mix,thickness_mm,backing,contact,foam,foam_g,foam_mix,\
        paint,paint_g,paint_mix,paint_mm,L,a,b,delta_L,delta_a,delta_b\n"
            .to_owned();
    for part in "sd_L sd_a sd_b noise of_chip shares load thickness beneath".split(' ') {
        table += &format!("{part},0.5{}\n", ",".repeat(20));
    }
    table + "reading,,S1,clear skin,60,umber 2,2,white card,bonded,,,,,,,,60,10,14,0.4,-0.3,0.2\n"
}

/// What stands on the shelf of a full book: little, for it is opened millions of times.
const ON_THE_SHELF: [&str; 6] = [
    "umber",
    "iron oxide red",
    "clear skin",
    "flexible foam",
    "clear carrier",
    "blush stock",
];

/// Keeps of the table at `path` the header and those of its lines, counted from 1.
fn thin(path: &Path, is_kept: impl Fn(usize, &str) -> bool) {
    let text = fs::read_to_string(path).expect("a table");
    let lines = text.lines().enumerate();
    let kept = lines.filter(|(at, line)| *at == 0 || is_kept(*at, line));
    let text: String = kept.map(|(_, line)| format!("{line}\n")).collect();
    fs::write(path, text).expect("written");
}

fn keep_on_the_shelf(path: &Path, names: &[&str]) {
    thin(path, |_, line| {
        names.contains(&line.split(',').next().unwrap_or(""))
    });
}

/// A small book with something in each of its tables.
fn full_book(folder: &Path) -> PathBuf {
    let dir = folder.join("bench");
    Book::create(&dir, Starter::Demo).expect("a book");
    for name in ["pigments.csv", "bases.csv", "stocks.csv"] {
        keep_on_the_shelf(&dir.join(name), &ON_THE_SHELF);
    }
    keep_on_the_shelf(&dir.join("swatches.csv"), &[]);
    for entry in fs::read_dir(dir.join("spectra"))
        .expect("a folder")
        .flatten()
    {
        let name = format!("spectra/{}", entry.file_name().display());
        if name.ends_with(".csv") {
            // By 20 nm, the widest steps that are read.
            thin(&dir.join(name), |at, _| at % 2 == 1);
        }
    }
    for line in [
        CASTING,
        "let-down add 'iron oxide red 1:20 20 g' --base 'clear skin' --date 2026-03-14",
        "mould add forearm --skin-g 300 --foam-g 210",
        "match --target 65,11,14 --base-g 600 --foam-g 300 --pigments umber --tolerance 99 --part arm",
    ] {
        run(line, &dir);
    }
    fs::write(dir.join("spectra/left-over.csv"), left_over()).expect("written");
    fs::write(dir.join("left-part-b.csv"), LEFT_PART_B).expect("written");
    let mut book = Book::open(&dir).expect("a book");
    book.set_clock("arm", "skin", Some(Timestamp::now()))
        .expect("a clock");
    dir
}

/// What is asked of a book that is open.
type Ask = fn(&Book) -> Result<()>;

/// The files of a book that are read as it is opened, or while it keeps what it read, with what is asked then.
const OPENED_WITH: [(&str, Ask); 9] = [
    ("book.toml", opened),
    ("swatches.csv", |book| book.swatches().map(drop)),
    ("pigments.csv", |book| book.first_guesses().map(drop)),
    ("bases.csv", |book| book.first_guesses().map(drop)),
    ("backings.csv", opened),
    ("stocks.csv", |book| book.first_guesses().map(drop)),
    ("let-downs.csv", opened),
    ("spectra/umber.csv", opened),
    ("spectra/left-over.csv", opened),
];

/// Those that an open book reads anew whenever they are asked for.
const READ_ANEW: [(&str, Ask); 4] = [
    ("moulds.csv", |book| book.moulds().map(drop)),
    ("clocks.csv", |book| book.clocks().map(drop)),
    ("left-part-b.csv", |book| book.left_part_b().map(drop)),
    ("parts/arm.toml", |book| book.part("arm").map(drop)),
];

fn opened(_: &Book) -> Result<()> {
    Ok(())
}

/// Readers of single files of the book `dir`, each of a copy of its own.
fn of_a_book(folder: &Path, dir: &Path) -> Vec<Reader> {
    let copy_for = |name: &str| {
        let own = folder.join(name.replace('/', "-"));
        for within in ["", "spectra", "parts", "lights"] {
            fs::create_dir_all(own.join(within)).expect("made");
            for entry in fs::read_dir(dir.join(within))
                .into_iter()
                .flatten()
                .flatten()
            {
                if entry.path().is_file() {
                    let to = own.join(within).join(entry.file_name());
                    fs::copy(entry.path(), to).expect("copied");
                }
            }
        }
        let path = own.join(name);
        let sample = fs::read(&path).unwrap_or_else(|cause| panic!("{name}: {cause}"));
        (own, path, sample)
    };
    let opened = OPENED_WITH.map(|(name, ask)| {
        let (own, path, sample) = copy_for(name);
        if name == "book.toml" {
            // Half of them are sound, and all of the book is read then.
            for table in ["pigments.csv", "bases.csv"] {
                keep_on_the_shelf(&own.join(table), &["umber", "clear skin"]);
            }
            for needless in ["stocks.csv", "let-downs.csv", "spectra/left-over.csv"] {
                fs::remove_file(own.join(needless)).expect("removed");
            }
        }
        let read = move |bytes: &[u8]| {
            fs::write(&path, bytes).expect("written");
            ask(&Book::open(&own)?)
        };
        text(name, vec![sample], read)
    });
    let anew = READ_ANEW.map(|(name, ask)| {
        let (own, path, sample) = copy_for(name);
        let book = Book::open(&own).expect("a book");
        let read = move |bytes: &[u8]| {
            fs::write(&path, bytes).expect("written");
            ask(&book)
        };
        text(name, vec![sample], read)
    });
    opened.into_iter().chain(anew).collect()
}

/// All readers; what they read lies in `folder`.
pub(crate) fn readers(folder: &Path) -> Vec<Reader> {
    let dir = full_book(folder);
    let shelf = Book::demo().expect("the demo").shelf().clone();
    let target = Target::from_lab(
        dropwise::colour::Lab::new(65.0, 11.0, 14.0),
        Viewing::D65_10,
    );
    let target = target.expect("a tone");
    let target = serde_json::to_string(&dropwise::tone::TargetDocument::new(&target, &[]));
    let target = target.expect("JSON");
    let cgats = CGATS.map(<[u8]>::to_vec).to_vec();
    let reflectance = spectrum("wavelength_nm,r");
    let lamp = spectrum("wavelength_nm,power");
    let gel = spectrum("wavelength_nm,t");
    let readings = move |path: &Path| read_readings(path, Viewing::D65_10).map(drop);
    let mut all = vec![
        text("CGATS", cgats, of_a_file(folder, "reading.txt", readings)),
        text(
            "readings",
            vec![reflectance.clone(), b"L,a,b\n65,11,14\n64,12,13\n".to_vec()],
            of_a_file(folder, "reading.csv", readings),
        ),
        text(
            "reflectance",
            vec![reflectance],
            of_a_file(folder, "r.csv", |path| read_reflectance(path).map(drop)),
        ),
        text(
            "lamp",
            vec![lamp],
            of_a_file(folder, "lamp.csv", |path| read_lamp(path, "lamp").map(drop)),
        ),
        text(
            "gel",
            vec![gel],
            of_a_file(folder, "gel.csv", |path| read_transmittance(path).map(drop)),
        ),
        text(
            "builds",
            vec![BUILDS.into()],
            of_a_file(folder, "builds.csv", move |path| {
                read_builds(path, &shelf).map(drop)
            }),
        ),
        text("target", vec![target.into_bytes()], |bytes| {
            Target::from_json(&words(bytes)).map(drop)
        }),
        text(
            "mix",
            [
                "umber 2; fibre 12 g",
                "iron oxide red 1:10 3",
                "blue 0.05 g; umber 1:5 2; titanium white 4",
            ]
            .map(Into::into)
            .to_vec(),
            |bytes| words(bytes).parse::<Mix>().map(drop),
        ),
    ];
    all.extend(of_a_book(folder, &dir));
    #[cfg(feature = "photo")]
    {
        let values = of_a_file(folder, "chart.csv", |path| {
            dropwise::book::read_chart_values(&path.to_string_lossy()).map(drop)
        });
        all.push(text(
            "chart values",
            [5, 10, 20]
                .map(chart_by_spectra)
                .into_iter()
                .chain([CHART.into()])
                .collect(),
            values,
        ));
        all.extend(pictures::readers(folder));
    }
    all
}

#[cfg(feature = "photo")]
mod pictures {
    //! Small pictures in every format, and profiles within them.

    use std::fs;
    use std::io::Cursor;
    use std::path::Path;

    use base64::Engine as _;
    use base64::prelude::BASE64_STANDARD;
    use dropwise::Result;
    use dropwise::colour::Viewing;
    use dropwise::tone::{PhotoRequest, Target};
    use image::codecs::jpeg::JpegEncoder;
    use image::codecs::png::PngEncoder;
    use image::{DynamicImage, ExtendedColorType, ImageEncoder as _, ImageFormat, RgbImage};
    use moxcms::{ColorProfile, ToneReprCurve};

    use super::{Kind, Reader};

    /// Refined scan by scan, with restarts; made by Pillow 13.0 (general-purpose, MIT-CMU).
    const PROGRESSIVE: &str = include_str!("progressive.txt");

    fn small() -> RgbImage {
        RgbImage::from_fn(24, 20, |x, y| {
            let step = |at: u32, by: u32| u8::try_from(at * by % 23).unwrap_or(0);
            image::Rgb([190 + step(x, 3), 140 + step(y, 5), 120 + step(x + y, 7)])
        })
    }

    fn written(format: ImageFormat) -> Vec<u8> {
        let mut content = Cursor::new(Vec::new());
        (DynamicImage::ImageRgb8(small()).write_to(&mut content, format)).expect("encoded");
        content.into_inner()
    }

    /// With curves as tables of 2 to 33 values, and one with formulas, which take thirty times as long to work out.
    fn profiles() -> Vec<Vec<u8>> {
        let formulas = ColorProfile::new_srgb();
        let tables = (1..=32).map(|last: u32| {
            let value = |at: u32| u16::try_from(at * at * u32::from(u16::MAX) / (last * last));
            let curve = (0..=last).map(|at| value(at).expect("16 bits")).collect();
            let curve = Some(ToneReprCurve::Lut(curve));
            let mut profile = formulas.clone();
            profile.cicp = None;
            for own in [
                &mut profile.red_trc,
                &mut profile.green_trc,
                &mut profile.blue_trc,
            ] {
                own.clone_from(&curve);
            }
            profile
        });
        let all = tables.chain([formulas.clone()]);
        all.map(|profile| profile.encode().expect("a profile"))
            .collect()
    }

    fn with_profile(profile: &[u8]) -> Vec<u8> {
        let mut content = Vec::new();
        let mut encoder = PngEncoder::new(&mut content);
        encoder.set_icc_profile(profile.to_vec()).expect("kept");
        (encoder.write_image(&small(), 24, 20, ExtendedColorType::Rgb8)).expect("encoded");
        content
    }

    /// The check sum of a PNG chunk. Source: PNG specification, annex D.
    fn crc(bytes: &[u8]) -> u32 {
        !bytes.iter().fold(u32::MAX, |sum, byte| {
            (0..8).fold(sum ^ u32::from(*byte), |sum, _| {
                (sum >> 1) ^ (0xedb8_8320 * (sum & 1))
            })
        })
    }

    /// A PNG whose chunks have the check sums of what they hold now.
    fn with_sums(mut content: Vec<u8>) -> Vec<u8> {
        let mut at = 8;
        while let Some(length) = content.get(at..at + 4).and_then(|four| four.first_chunk()) {
            let end = at + 8 + u32::from_be_bytes(*length) as usize;
            let Some(sum) = content.get(at + 4..end).map(crc) else {
                break;
            };
            let Some(place) = content.get_mut(end..end + 4) else {
                break;
            };
            place.copy_from_slice(&sum.to_be_bytes());
            at = end + 4;
        }
        content
    }

    pub(super) fn readers(folder: &Path) -> Vec<Reader> {
        let picture = |name, samples, mend| {
            let path = folder.join(name);
            Reader {
                name,
                kind: Kind::Picture,
                samples,
                mend,
                read: Box::new(move |bytes: &[u8]| -> Result<()> {
                    fs::write(&path, bytes).expect("written");
                    let request = PhotoRequest {
                        tones: 1,
                        ..PhotoRequest::new(&path)
                    };
                    Target::from_photo(&request, Viewing::D65_10).map(drop)
                }),
            }
        };
        let mut fine = Vec::new();
        let encoder = JpegEncoder::new_with_quality(&mut fine, 95);
        (encoder.write_image(&small(), 24, 20, ExtendedColorType::Rgb8)).expect("encoded");
        let progressive = BASE64_STANDARD.decode(PROGRESSIVE.trim()).expect("base64");
        let as_it_is = |bytes| bytes;
        vec![
            picture(
                "JPEG",
                vec![fine, written(ImageFormat::Jpeg), progressive],
                as_it_is,
            ),
            picture("PNG", vec![written(ImageFormat::Png)], with_sums),
            picture("TIFF", vec![written(ImageFormat::Tiff)], as_it_is),
            picture(
                "WebP",
                [
                    &written(ImageFormat::WebP)[..],
                    include_bytes!("../target_photo/webp/parts.webp"),
                    include_bytes!("../target_photo/webp/groups.webp"),
                    include_bytes!("../target_photo/webp/opaque.webp"),
                ]
                .map(<[u8]>::to_vec)
                .to_vec(),
                as_it_is,
            ),
            picture("ICC", profiles(), |profile| with_profile(&profile)),
        ]
    }
}
