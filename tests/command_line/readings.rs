//! `--reading`, `swatch export` and `--r-file`: what instruments' files become, and which are refused in which words.

use dropwise::colour::{Lab, Spectrum, Viewing};

use super::{assert_same, file, folder, json, lab, number, run, starter_book, word};

/// A made-up skin, the same three times but lighter each time by 2 %.
fn skins() -> [Spectrum; 3] {
    [1.0, 1.02, 1.04].map(|lighter| {
        Spectrum::from_fn(|place| {
            let part = place as f64 / 35.0;
            lighter * (0.12 + 0.45 * part * part + 0.05 * part)
        })
    })
}

fn values(spectrum: &Spectrum, times: f64, between: &str) -> String {
    let values = spectrum
        .values()
        .iter()
        .map(|value| format!("{:.5}", value * times));
    values.collect::<Vec<_>>().join(between)
}

/// The skins as CGATS, in fields that are named `field` before the wavelength.
fn cgats(field: &str, times: f64) -> String {
    let fields: Vec<String> = Spectrum::wavelengths_nm()
        .map(|nm| format!("{field}{nm}"))
        .collect();
    let mut text = format!(
        "CGATS.17\nMEASUREMENT_GEOMETRY \"di:8\"\nAPERTURE_MM 6\nNUMBER_OF_SETS 3\nBEGIN_DATA_FORMAT\nSAMPLE_NAME {}\n\
         END_DATA_FORMAT\nBEGIN_DATA\n",
        fields.join(" ")
    );
    for (place, skin) in skins().iter().enumerate() {
        text += &format!("\"place {}\" {}\n", place + 1, values(skin, times, " "));
    }
    text + "END_DATA\n"
}

/// The skins as CSV, one row a reading.
fn rows() -> String {
    let wavelengths: Vec<String> = Spectrum::wavelengths_nm()
        .map(|nm| nm.to_string())
        .collect();
    let mut text = format!("reading,specular,aperture_mm,{}\n", wavelengths.join(","));
    for (place, skin) in skins().iter().enumerate() {
        text += &format!(
            "place {},included,6,{}\n",
            place + 1,
            values(skin, 1.0, ",")
        );
    }
    text
}

#[test]
fn several_readings_are_their_mean_with_their_spread() {
    let folder = folder();
    let weights = Viewing::D65_10.weights();
    let labs = skins().map(|skin| weights.lab(&skin));
    let mean = weights.lab(&skins()[1]);
    let mean_l = labs.iter().map(|lab| lab.l).sum::<f64>() / 3.0;
    let l_sd = (labs.iter().map(|lab| (lab.l - mean_l).powi(2)).sum::<f64>() / 2.0).sqrt();
    // Five printed digits.
    const PRINTED: f64 = 2e-3;
    for (name, text) in [
        ("rows.csv", rows()),
        ("fraction.txt", cgats("SPECTRAL_DEC", 1.0)),
        ("percent.txt", cgats("SPECTRAL_PCT", 100.0)),
        ("unsaid.txt", cgats("nm", 100.0)),
    ] {
        let path = file(folder.path(), name, &text);
        let target = json(&format!("target --reading {path} --illuminants A"));
        let found = lab(&target);
        for (found, expected) in [(found.l, mean.l), (found.a, mean.a), (found.b, mean.b)] {
            assert!(
                (found - expected).abs() < PRINTED,
                "{name}: {found} and {expected}"
            );
        }
        assert!(
            (number(&target["L_sd"]) - l_sd).abs() < PRINTED,
            "{name}: {}",
            target["L_sd"]
        );
        assert_eq!(target["r_from"], "reading", "{name}");
        let r: Spectrum = serde_json::from_value(target["r"].clone()).expect("36 samples");
        assert!(
            (r[20] - skins()[1][20]).abs() < 1e-5,
            "{name}: its own spectrum"
        );
        let a = Viewing::D65_10
            .under("A".parse().expect("a light"))
            .weights()
            .lab(&r);
        assert_same(
            a,
            lab(&target["under"]["A"]),
            "under A, by its own spectrum",
        );
        assert_eq!(target["seen_by"], "contact", "{name}");
        assert_eq!(target["specular"], "included", "{name}");
        assert_eq!(number(&target["aperture_mm"]), 6.0, "{name}");
        assert_eq!(target["tones"][0]["role"], "base", "{name}");
    }
}

#[test]
fn one_spectrum_and_a_lab_are_readings_too() {
    let folder = folder();
    let pairs: Vec<String> = Spectrum::wavelengths_nm()
        .zip(skins()[0].values())
        .map(|(nm, r)| format!("{nm},{r}"))
        .collect();
    let one = file(
        folder.path(),
        "one.csv",
        &format!("wavelength_nm,r\n{}\n", pairs.join("\n")),
    );
    let target = json(&format!("target --reading {one}"));
    assert_same(
        lab(&target),
        Viewing::D65_10.weights().lab(&skins()[0]),
        "as read",
    );
    assert_eq!(number(&target["L_sd"]), 0.0, "one reading has no spread");

    let labs = file(folder.path(), "labs.csv", "L,a,b\n64,12,17\n66,12,17\n");
    let target = json(&format!("target --reading {labs}"));
    assert_same(
        lab(&target),
        Lab::new(65.0, 12.0, 17.0),
        "their mean, under the book's light",
    );
    assert_eq!(target["r_from"], "skin", "worked out");

    let labs = "CGATS.17\nBEGIN_DATA_FORMAT\nLAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n65 14 17\nEND_DATA\n";
    let labs = file(folder.path(), "labs.txt", labs);
    let said = run(&format!("target --reading {labs}"));
    assert!(
        said.out.contains("are for D50/2°"),
        "brought over: {}",
        said.out
    );
}

#[test]
fn several_files_are_averaged_as_one() {
    let folder = folder();
    let whole = rows();
    let part = |keep: &str| -> String {
        let lines = whole
            .lines()
            .filter(|line| line.starts_with("reading") || line.starts_with(keep));
        lines.map(|line| format!("{line}\n")).collect()
    };
    let files: Vec<String> = ["place 1", "place 2", "place 3"]
        .map(|keep| file(folder.path(), &format!("{keep}.csv"), &part(keep)))
        .into();
    let by_parts = json(&format!("target --reading {}", files.join(" --reading ")));
    let whole = file(folder.path(), "rows.csv", &whole);
    assert_eq!(
        by_parts,
        json(&format!("target --reading {whole}")),
        "as if they stood in one"
    );
}

#[test]
fn a_reading_is_no_photograph_and_no_typed_colour() {
    for line in [
        "target --reading a.csv --lab 65,12,17",
        "match --reading a.csv --target 65,12,17 --base-g 600",
    ] {
        let said = run(line);
        assert_eq!(said.code, 2, "{line}");
        assert!(said.err.contains("cannot be used with"), "{}", said.err);
    }
}

#[test]
fn a_target_from_a_reading_is_kept_and_matched() {
    let folder = folder();
    let rows = file(folder.path(), "rows.csv", &rows());
    let saved = word(&folder.path().join("tone.json"));
    let printed = json(&format!("target --reading {rows} --save {saved}"));
    let rest = r#"--base-g 600 --backing "white card" --pigments "iron oxide red,titanium white,umber" --tolerance 50"#;
    let straight = json(&format!("match --reading {rows} {rest}"));
    let by_file = json(&format!("match --target {saved} {rest}"));
    assert_eq!(straight["recipes"], by_file["recipes"], "the same recipes");
    assert_eq!(by_file["target"]["r"], printed["r"], "the spectrum as read");
    assert_eq!(
        by_file["target"]["r_from"], "reading",
        "and where it is from"
    );
    assert_eq!(
        by_file["target"]["specular"], "included",
        "and how it was taken"
    );
}

#[test]
fn what_does_not_fit_together_is_pointed_out() {
    let folder = folder();
    let excluded = file(
        folder.path(),
        "excluded.csv",
        &rows().replace("included", "excluded"),
    );
    let said = run(&format!("target --reading {excluded}"));
    assert!(
        said.out
            .contains("specular light excluded, and this book has it included"),
        "{}",
        said.out
    );
    let mixed = file(
        folder.path(),
        "mixed.csv",
        &rows().replacen("included", "excluded", 1),
    );
    let said = run(&format!("target --reading {mixed}"));
    assert_eq!(said.code, 2, "no mean of both");
    assert!(
        said.err
            .contains("have no common mean (keep one kind in a file)"),
        "{}",
        said.err
    );
    let stray = file(
        folder.path(),
        "stray.csv",
        "reading,L,a,b\na,65,12,17\nwrist,50,12,17\nc,66,12,17\nd,65,12,18\n",
    );
    let said = run(&format!("target --reading {stray}"));
    assert!(
        said.out.contains("the reading `wrist` lies"),
        "{}",
        said.out
    );
    assert!(!said.out.contains("the reading `a` lies"), "{}", said.out);
    let unnamed = file(
        folder.path(),
        "unnamed.csv",
        "L,a,b\n65,12,17\n50,12,17\n66,12,17\n65,12,18\n",
    );
    let said = run(&format!("target --reading {unnamed}"));
    assert!(
        said.out.contains("the reading `line 3` lies"),
        "{}",
        said.out
    );
}

/// The line that a file of that name and text is refused with.
fn refusal(name: &str, text: &str) -> String {
    let folder = folder();
    let path = file(folder.path(), name, text);
    let said = run(&format!("target --reading {path}"));
    assert_eq!(
        (said.code, said.out.as_str()),
        (2, ""),
        "{name}: {}",
        said.err
    );
    let place = format!("{}/", folder.path().display());
    said.err.replace(&place, "")
}

#[test]
fn files_that_can_not_be_trusted_are_refused_with_line_and_mend() {
    let good = cgats("SPECTRAL_DEC", 1.0);
    let cases = [
        (
            good.replace("END_DATA\n", ""),
            "error: r.txt:8: BEGIN_DATA never ends; expected END_DATA (the file seems cut off: export it again)",
        ),
        (
            good.replace("END_DATA_FORMAT\n", ""),
            "error: r.txt:5: BEGIN_DATA_FORMAT never ends; expected END_DATA_FORMAT (the file seems cut off: export it again)",
        ),
        (
            good.replace("NUMBER_OF_SETS 3", "NUMBER_OF_SETS 4"),
            "error: r.txt:4: NUMBER_OF_SETS is 4, and 3 sets follow (export the readings again, or write the count of sets that are there)",
        ),
        (
            good.replacen("0.12000", "NaN", 1),
            "error: r.txt:9:2: SPECTRAL_DEC380 is \"NaN\"; expected a number (write digits with a point, or leave the reading out)",
        ),
        (
            good.replacen("SPECTRAL_DEC390", "SPECTRAL_DEC380", 1),
            "error: r.txt:6: the field `SPECTRAL_DEC380` stands twice (keep one of the two)",
        ),
        (
            cgats("SPECTRAL_DEC", 100.0),
            "error: r.txt:9:2: the reflectance at 380 nm is 12; expected 0 to 1 (in percent? name the fields SPECTRAL_PCT380 and so on)",
        ),
        (
            cgats("SPECTRAL_PCT", 1.0),
            "error: r.txt:11:37: the reflectances are said to be percent, and go up to 0.6448 only (if they are fractions name the fields SPECTRAL_DEC380 and so on)",
        ),
        (
            cgats("nm", 2.0),
            "error: r.txt:11:37: the reflectances go up to 1.2896; percent or fraction? (name the fields SPECTRAL_PCT380 and so on where they are percent, SPECTRAL_DEC380 where they are fractions)",
        ),
        (
            good.replace(" SPECTRAL_DEC730\n", "\n"),
            "error: r.txt:9: 37 values in a set of 36 fields (put a value that holds a space in quotes, and give every field a value)",
        ),
        (
            "CGATS.17\nORIGINATOR \"x\"\n".to_owned(),
            "error: r.txt: the file holds no table; expected BEGIN_DATA and END_DATA (export the readings again)",
        ),
    ];
    for (text, line) in cases {
        assert_eq!(refusal("r.txt", &text).trim_end(), line);
    }
    let slip = refusal("r.txt", &cgats("nm", 1.0).replacen("0.12000", "12.000", 1));
    assert!(
        slip.starts_with("error: r.txt:9:2: the reflectances go up to 12; percent or fraction?"),
        "{slip}"
    );
    let short = good.replacen(&values(&skins()[2], 1.0, " "), "0.1 0.2", 1);
    let line = refusal("r.txt", &short);
    assert!(
        line.starts_with(
            "error: r.txt:11: 3 values in a set of 37 fields; SPECTRAL_DEC400 is the first"
        ),
        "{line}"
    );
    let range = refusal("r.csv", "420,430,440\n0.1,0.2,0.3\n");
    assert!(
        range.starts_with(
            "error: r.csv:2: the reading `line 2` holds 420 to 440 nm; expected all of 400 to 700 nm"
        ),
        "{range}"
    );
    let nothing = refusal("r.csv", "x,y\n1,2\n");
    assert!(
        nothing.starts_with("error: r.csv:1: the table has neither a spectrum nor a CIELAB"),
        "{nothing}"
    );
    let twice = refusal("r.csv", "L,a,b,L\n65,12,17,66\n");
    assert_eq!(
        twice.trim_end(),
        "error: r.csv:1:4: the field `L` stands twice (keep one of the two)"
    );
    let empty = refusal("r.csv", "L,a,b\n");
    assert!(empty.contains("the file holds no reading"), "{empty}");
    let binary = refusal("r.csv", "L,a,b\n\0\0\0");
    assert!(binary.contains("this is no text"), "{binary}");
    let unknown = good.replacen(
        "MEASUREMENT",
        "WEIGHTING_FUNCTION \"ILLUMINANT, D55\"\nMEASUREMENT",
        1,
    );
    let folder = folder();
    let fine = file(folder.path(), "d55.txt", &unknown);
    assert_eq!(
        run(&format!("target --reading {fine}")).code,
        0,
        "a spectrum needs no light"
    );
    let labs = "CGATS.17\nWEIGHTING_FUNCTION \"ILLUMINANT, D55\"\nBEGIN_DATA_FORMAT\nLAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n65 14 17\nEND_DATA\n";
    let line = refusal("d55.txt", labs);
    assert!(
        line.starts_with("error: d55.txt:2: no illuminant is called `D55` (did you mean"),
        "{line}"
    );
}

#[test]
fn a_spectrum_that_belies_the_lab_beside_it_is_refused() {
    // All under 1 %: a fraction by its looks, and percent by the lightness.
    let text = cgats("nm", 1.5).replace("SAMPLE_NAME", "SAMPLE_NAME LAB_L LAB_A LAB_B");
    let text = text.replace("\" ", "\" 40 12 17 ");
    let line = refusal("r.txt", &text);
    assert!(
        line.contains("its LAB_L is 40; is it percent or fraction?"),
        "{line}"
    );
}

#[test]
fn a_chip_is_logged_from_cgats_and_the_book_is_exported() {
    let (parent, book) = starter_book();
    let chip = file(parent.path(), "chip.txt", &cgats("SPECTRAL_DEC", 1.0));
    let add = format!(
        "swatch add {book} --base \"clear skin\" --base-g 100 --thickness-mm 2 --backing \"white card\""
    );
    let logged = json(&format!("{add} --r-file {chip}"));
    let measured = lab(&logged["swatches"][0]["measured"]);
    let mean = Viewing::D65_10.weights().lab(&skins()[1]);
    assert!(
        (measured.l - mean.l).abs() < 2e-3,
        "the mean of three: {measured:?}"
    );

    let out = word(&parent.path().join("out.txt"));
    let said = json(&format!("swatch export {out} {book}"));
    assert_eq!(number(&said["readings"]), 1.0, "one reading");
    let target = json(&format!("target --reading {out} {book}"));
    assert_same(lab(&target), measured, "there and back");

    let other = rows()
        .replace("place 3,included,6,", "place 3,included,6,0.9,")
        .replacen(",730\n", "\n", 1);
    let other = other.replace(
        "reading,specular,aperture_mm,380",
        "reading,specular,aperture_mm,370,380",
    );
    let strangers = file(parent.path(), "strangers.csv", &other);
    assert_eq!(
        run(&format!("{add} --r-file {strangers}")).code,
        2,
        "no sound table"
    );
    let two = "reading,400,420,440,460,480,500,520,540,560,580,600,620,640,660,680,700\n";
    let row = |name: &str, r: &str| format!("{name},{}\n", vec![r; 16].join(","));
    let two = format!("{two}{}{}", row("pale", "0.8"), row("dark", "0.2"));
    let two = file(parent.path(), "two.csv", &two);
    let said = run(&format!("{add} --r-file {two}"));
    assert_eq!(said.code, 2, "{}", said.out);
    assert!(
        said.err
            .contains("these are not readings of one chip: `pale` lies"),
        "{}",
        said.err
    );
    let labs = file(parent.path(), "labs.csv", "L,a,b\n65,12,17\n");
    let said = run(&format!("{add} --r-file {labs}"));
    assert!(
        said.err.contains(
            "has no spectrum (export it with its spectrum, or give its colour with --lab)"
        ),
        "{}",
        said.err
    );
}

#[test]
fn a_book_without_readings_has_nothing_to_export() {
    let (parent, book) = starter_book();
    let out = parent.path().join("out.txt");
    let said = run(&format!("swatch export {} {book}", word(&out)));
    assert_eq!(said.code, 2, "bad input");
    assert!(said.err.contains("holds no reading yet"), "{}", said.err);
    assert!(!out.exists(), "nothing is written");
}

#[test]
fn published_skin_stands_beside_a_target_when_asked() {
    let folder = folder();
    let rows = file(folder.path(), "rows.csv", &rows());
    let plain = json(&format!("target --reading {rows}"));
    assert!(plain.get("published").is_none(), "not asked for");
    let target = json(&format!("target --reading {rows} --published"));
    let published = target["published"].as_array().expect("rows");
    assert_eq!(published.len(), 10, "every row");
    let forearm = &published[9];
    assert_eq!(forearm["same_kind"], true, "a contact reader both");
    assert!(number(&forearm["delta_e"]) > 0.0, "not the same skin");
    assert_eq!(published[4]["same_kind"], false, "from afar");
    let said = run("target --lab 65,12,17 --published").out;
    assert!(
        said.contains("contact readers see skin lighter and less red"),
        "{said}"
    );
}

/// Four readings of one arm, invented; the last slipped off the arm.
const SLIPPED: &str = "name,L,a,b\none,64.1,11.9,16.2\ntwo,64.5,12.2,15.8\nthree,63.8,12.1,16.1\nfour,51.0,18.0,9.0\n";

#[test]
fn a_reading_far_from_the_others_is_named_and_left_out_or_kept_as_told() {
    let folder = folder();
    let path = file(folder.path(), "arm.csv", SLIPPED);
    let kept = json(&format!("target --reading {path}"));
    let left_out = json(&format!("target --reading {path} --leave-out-far"));
    let l = |of: &[f64]| of.iter().sum::<f64>() / of.len() as f64;
    assert!(
        (number(&kept["L"]) - l(&[64.1, 64.5, 63.8, 51.0])).abs() < 0.05,
        "{kept}"
    );
    assert!(
        (number(&left_out["L"]) - l(&[64.1, 64.5, 63.8])).abs() < 0.05,
        "{left_out}"
    );
    assert!(number(&left_out["L_sd"]) < 1.0, "{left_out}");
    for (target, words) in [
        (&kept, "`four` lies"),
        (&left_out, "left out: the reading `four`"),
    ] {
        assert!(
            target["notes"].to_string().contains(words),
            "{words}: {target}"
        );
    }
    // Where all are near, nothing is left out.
    let near = SLIPPED.replace("51.0,18.0,9.0", "64.0,12.0,16.0");
    let path = file(folder.path(), "near.csv", &near);
    let all = run(&format!("target --reading {path} --leave-out-far")).out;
    assert!(
        !all.contains("left out") && all.contains("mean of 4 readings"),
        "{all}"
    );
}
