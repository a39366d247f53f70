//! What a long log costs: to read, to look through and to list, beside what a general-purpose reader takes for its rows alone.
//!
//! `csv` is the library of that name reading the same file into rows of texts, in this run: the ratio is what counts.

use std::fmt::Write as _;
use std::fs;

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use dropwise::book::{Book, Starter};
use dropwise::colour::Lab;
use dropwise::jobs::{comparing, finding};
use dropwise::report::{found, swatches};

/// A log of `rows` readings, of one to three pigments and over one of two cards or foam.
fn log(rows: u32) -> String {
    let mut text = "swatch,date,base,base_g,mix,thickness_mm,backing,contact,foam,foam_g,foam_mix,paint,paint_g,paint_mix,\
                    paint_mm,L,a,b,r_file,batch,note\n"
        .to_owned();
    let mixes = [
        "iron oxide red 1; titanium white 4",
        "iron oxide yellow 3; titanium white 4",
        "iron oxide red 1; iron oxide yellow 2; fibre 9 g",
        "umber 1:10 7; titanium white 1:10 3; fibre 12 g",
    ];
    for row in 0..rows {
        let mix = mixes[(row / 7) as usize % mixes.len()];
        let (day, month) = (1 + row % 28, 1 + row / 28 % 12);
        let beneath = match row % 3 {
            0 => "white card,bonded,,,,,,,",
            1 => "black card,bonded,,,,,,,",
            _ => ",,flexible foam,300,iron oxide red 4; iron oxide yellow 5,,,,",
        };
        let [l, a, b] = [61, 13, 17].map(|step| f64::from(row * step % 400) / 10.0);
        writeln!(
            text,
            "C{row:06},2025-{month:02}-{day:02},clear skin,{},{mix},2,{beneath},{},{a},{b},,,\"invented, row {row}\"",
            80 + row % 300,
            40.0 + l
        )
        .expect("a text takes all");
    }
    text
}

fn of_a_long_log(criterion: &mut Criterion) {
    let parent = tempfile::tempdir().expect("a folder");
    let mut group = criterion.benchmark_group("log");
    group.sample_size(10);
    for rows in [1_000, 10_000, 100_000] {
        let folder = parent.path().join(rows.to_string());
        Book::create(&folder, Starter::Materials).expect("a new book");
        let file = folder.join("swatches.csv");
        fs::write(&file, log(rows)).expect("written");
        group.bench_function(BenchmarkId::new("csv", rows), |bench| {
            bench.iter(|| {
                let mut reader = csv::Reader::from_path(&file).expect("the log");
                let records: Result<Vec<csv::StringRecord>, _> = reader.records().collect();
                records.expect("rows").len()
            });
        });
        group.bench_function(BenchmarkId::new("open", rows), |bench| {
            bench.iter(|| Book::open(&folder).expect("the book"));
        });
        group.bench_function(BenchmarkId::new("read", rows), |bench| {
            bench.iter(|| {
                let book = Book::open(&folder).expect("the book");
                book.swatches().expect("its log").len()
            });
        });
        let book = Book::open(&folder).expect("the book");
        book.swatches().expect("its log");
        group.bench_function(BenchmarkId::new("find", rows), |bench| {
            let near = finding::Request {
                near: Some((Lab::new(62.0, 12.0, 15.0), 2.0)),
                ..finding::Request::default()
            };
            bench.iter(|| {
                let found = finding::run(&book, &near).expect("found");
                found::text(&found, "").len()
            });
        });
        for (name, newest) in [("list a screen", Some(12)), ("list all", None)] {
            group.bench_function(BenchmarkId::new(name, rows), |bench| {
                bench.iter(|| {
                    let mut listing = swatches::Listing::default();
                    let listed = comparing::listed(&book, newest, |read| listing.add(read));
                    let listed = listed.expect("the log");
                    listing.text(listed.readings, &listed.doubtful, "").len()
                });
            });
        }
    }
    group.finish();
}

criterion_group!(benches, of_a_long_log);
criterion_main!(benches);
