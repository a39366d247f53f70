//! `calibrate`: what it leaves in the book, what it says, and what it refuses. The readings here are `predict`'s own, of a
//! book whose red is stronger: they check the plumbing, never the physics.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use serde_json::Value;
use tempfile::TempDir;

use super::{COLUMNS, file, folder, json, lab, number, run, word};

/// One chip: its name, its mix, its thickness (mm).
type Chip = (&'static str, &'static str, f64);

const CHIPS: [Chip; 5] = [
    ("clear", "", 2.0),
    ("white", "titanium white 3", 2.0),
    ("thick", "titanium white 3", 3.0),
    ("pink", "iron oxide red 2; titanium white 6", 2.0),
    ("red", "iron oxide red 6; titanium white 3", 2.0),
];

pub(super) const CARDS: [&str; 2] = ["white card", "black card"];

/// A book to learn in, and one in which the red is stronger, which stands for what is.
pub(super) struct Bench {
    parent: TempDir,
}

impl Bench {
    pub(super) fn new() -> Self {
        let bench = Self { parent: folder() };
        for book in ["book", "truth"] {
            let said = run(&format!("new {}", word(&bench.path(book))));
            assert_eq!(said.code, 0, "{}", said.err);
        }
        bench.strengthen("truth", "iron-oxide-red", 1.25);
        bench
    }

    pub(super) fn path(&self, name: &str) -> PathBuf {
        self.parent.path().join(name)
    }

    pub(super) fn option(&self, name: &str) -> String {
        format!("--book {}", word(&self.path(name)))
    }

    pub(super) fn calibrate(&self, options: &str) -> Value {
        json(&format!("calibrate {} {options}", self.option("book")))
    }

    pub(super) fn read(&self, name: &str) -> String {
        fs::read_to_string(self.path("book").join(name)).expect(name)
    }

    pub(super) fn write(&self, name: &str, text: &str) {
        fs::write(self.path("book").join(name), text).expect(name);
    }

    /// Multiplies K and S of a curve of `book`.
    pub(super) fn strengthen(&self, book: &str, curve: &str, times: f64) {
        let path = self.path(book).join(format!("spectra/{curve}.csv"));
        let text = fs::read_to_string(&path).expect("a curve");
        let mut lines = text.lines();
        let mut stronger = lines.next().expect("a header").to_owned() + "\n";
        for line in lines {
            let mut cells: Vec<String> = line.split(',').map(str::to_owned).collect();
            for cell in &mut cells[1..=2] {
                let value: f64 = cell.parse().expect("a number");
                *cell = (times * value).to_string();
            }
            stronger += &(cells.join(",") + "\n");
        }
        fs::write(path, stronger).expect("written");
    }

    /// What an instrument reads in the book called `truth` of a chip over each of `cards`, laid on it as `contact` says.
    pub(super) fn truth(
        &self,
        mix: &str,
        thickness_mm: f64,
        cards: &[&str],
        contact: &str,
    ) -> Vec<Value> {
        let mut table = COLUMNS.to_owned();
        for (place, card) in cards.iter().enumerate() {
            table +=
                &format!("\n{place},clear skin,100,{mix},{thickness_mm},{card},{contact},,,,,,,");
        }
        let builds = file(self.parent.path(), "builds.csv", &table);
        let answer = json(&format!(
            "predict --builds {builds} {}",
            self.option("truth")
        ));
        answer["builds"].as_array().expect("builds").clone()
    }

    /// Logs a chip, read over `card`, as a row of `swatches.csv`; as a spectrum or as L*, a*, b*.
    pub(super) fn log(
        &self,
        (id, mix, thickness_mm): (&str, &str, f64),
        card: &str,
        read: &Value,
        spectral: bool,
    ) {
        let mut row = format!("{id},2026-03-09,clear skin,100,{mix},{thickness_mm},{card}");
        row += &",".repeat(9);
        if spectral {
            let name = format!("spectra/read-{id}-{}.csv", card.replace(' ', "-"));
            let r = read["r"].as_array().expect("36 samples");
            let rows = (38..).zip(r).map(|(tens, r)| format!("{tens}0,{r}\n"));
            self.write(
                &name,
                &("wavelength_nm,r\n".to_owned() + &rows.collect::<String>()),
            );
            row += &format!(",,,{name}");
        } else {
            let read = lab(read);
            row += &format!("{},{},{},", read.l, read.a, read.b);
        }
        // The header of a new book: swatch … backing, contact, foam ×3, paint ×4, L, a, b, r_file, …
        let columns = self
            .read("swatches.csv")
            .lines()
            .next()
            .expect("a header")
            .split(',')
            .count();
        let missing = columns - row.split(',').count();
        self.write(
            "swatches.csv",
            &(self.read("swatches.csv") + &row + &",".repeat(missing) + "\n"),
        );
    }

    /// Logs every chip over both cards, spectra and L*, a*, b* in turn.
    pub(super) fn log_all(&self) {
        for (place, chip) in CHIPS.into_iter().enumerate() {
            for (card, read) in CARDS
                .iter()
                .zip(self.truth(chip.1, chip.2, &CARDS, "bonded"))
            {
                self.log(chip, card, &read, place % 3 != 2);
            }
        }
    }
}

/// Every file of a book but its lock, with its content.
pub(super) fn contents(book: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut all = BTreeMap::new();
    let mut folders = vec![book.to_owned()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                folders.push(path);
            } else if !path.ends_with(".lock") {
                let name = path.strip_prefix(book).expect("within").to_owned();
                all.insert(name, fs::read(&path).expect("a file"));
            }
        }
    }
    all
}

fn material<'a>(answer: &'a Value, name: &str) -> &'a Value {
    let materials = answer["materials"].as_array().expect("materials");
    let found = materials.iter().find(|row| row["material"] == name);
    found.unwrap_or_else(|| panic!("{name}: {answer}"))
}

fn names(value: &Value) -> Vec<&str> {
    let names = value.as_array().expect("names");
    names
        .iter()
        .map(|name| name.as_str().expect("a name"))
        .collect()
}

/// What a run on all chips should have told.
fn assert_learnt(answer: &Value) {
    let chips = answer["chips"].as_array().expect("chips");
    assert_eq!(chips.len(), 2 * CHIPS.len(), "every reading");
    let sum = |key: &str| chips.iter().map(|chip| number(&chip[key])).sum::<f64>();
    assert!(
        sum("delta_e_after") < 0.2 * sum("delta_e_before"),
        "they fit: {answer}"
    );
    assert_eq!(chips[0]["swatch"], "clear", "in their order");
    assert!(
        chips.iter().all(|chip| chip.get("disagrees").is_none()),
        "all agree: {answer}"
    );
    let red = material(answer, "iron oxide red");
    assert!(
        (number(&red["strength"]) - 1.25).abs() < 0.06,
        "stronger: {red}"
    );
    assert!(number(&red["variance_removed"]) > 0.9, "{red}");
    assert_eq!(number(&answer["noise"]), 1.0, "as quiet as an instrument");
    assert!(answer["specular"].is_null(), "as book.toml says");
    let untold = names(&answer["still_first_guess"]);
    for name in [
        "umber",
        "carbon black",
        "blue",
        "fibre",
        "flexible foam",
        "clear paint",
    ] {
        assert!(
            untold.contains(&name),
            "no chip tells of {name}: {untold:?}"
        );
    }
    assert!(!untold.contains(&"iron oxide red"), "{untold:?}");
    for key in ["lots", "lots_alone", "new_lots", "weighed"] {
        assert_eq!(answer[key], Value::Array(Vec::new()), "{key}");
    }
}

#[test]
fn mixed_readings_are_learnt_and_a_second_run_changes_no_byte() {
    let (bench, other) = (Bench::new(), Bench::new());
    for bench in [&bench, &other] {
        bench.log_all();
    }
    let before = contents(&bench.path("book"));
    let dry = bench.calibrate("--dry-run");
    assert_eq!(
        contents(&bench.path("book")),
        before,
        "a dry run writes nothing"
    );

    let first = bench.calibrate("");
    assert_learnt(&first);
    assert_eq!(first, dry, "and tells what a run does");
    let after = contents(&bench.path("book"));
    assert_ne!(after, before, "learnt");
    let said = run(&format!("calibrate {}", bench.option("book"))).out;
    assert!(said.contains("Learnt from 10 readings"), "{said}");
    for how in ["known well", "hardly known"] {
        assert!(said.contains(how), "{how}: {said}");
    }
    assert!(said.lines().count() <= 12, "no table unasked: {said}");
    assert_eq!(contents(&bench.path("book")), after, "byte for byte");

    other.calibrate("");
    assert_eq!(
        contents(&other.path("book")),
        after,
        "the same readings, the same book"
    );
}

#[test]
fn what_stood_in_the_book_is_kept() {
    let bench = Bench::new();
    bench.log_all();
    let shelf = bench.read("pigments.csv");
    let mut lines = shelf.lines();
    let header = lines.next().expect("a header");
    let mut own = format!(
        "{header},shelf place\n# the bench of the south wall{}\n",
        ",".repeat(header.split(',').count())
    );
    for (place, line) in lines.enumerate() {
        own += &format!("{line},box {place}\n");
    }
    bench.write("pigments.csv", &own);
    let red = bench.read("spectra/iron-oxide-red.csv");
    let swatches = bench.read("swatches.csv");
    bench.calibrate("");

    for (old, new) in own.lines().zip(bench.read("pigments.csv").lines()) {
        assert!(
            new.starts_with(old),
            "order, comments and own columns stay: {new}"
        );
    }
    assert_eq!(
        bench.read("swatches.csv"),
        swatches,
        "the log is not touched"
    );
    assert_ne!(bench.read("spectra/iron-oxide-red.csv"), red, "learnt");
    let earlier: Vec<PathBuf> = contents(&bench.path("book"))
        .into_iter()
        .filter(|(name, text)| name.starts_with("spectra/earlier") && *text == red.as_bytes())
        .map(|(name, _)| name)
        .collect();
    assert_eq!(earlier.len(), 1, "the earlier curve is kept");
    let today = jiff_today();
    let name = earlier[0].display().to_string();
    assert_eq!(
        name,
        format!("spectra/earlier/iron-oxide-red-{today}-1.csv"),
        "and dated"
    );
    assert!(
        bench
            .read("pigments.csv")
            .contains("spectra/first-guess/iron-oxide-red.csv"),
        "and so is where it began"
    );
}

/// Today, as the program sees it: by the name of what it last logged.
fn jiff_today() -> String {
    let bench = Bench::new();
    let chip =
        r#"--base "clear skin" --base-g 100 --thickness-mm 2 --backing "white card" --lab 80,0,0"#;
    let answer = json(&format!("swatch add {} {chip}", bench.option("book")));
    answer["swatches"][0]["date"]
        .as_str()
        .expect("a day")
        .to_owned()
}

#[test]
fn a_chip_that_disagrees_is_named_with_what_to_check() {
    for (thickness_mm, contact, words) in [
        (
            3.3,
            "bonded",
            "check its thickness: it reads as if it were 3",
        ),
        (2.0, "dry", "check whether it was wetted to the card"),
    ] {
        let bench = Bench::new();
        bench.log_all();
        let chip = ("off", "iron oxide red 1; titanium white 2", 2.0);
        // Over one card both mistakes can look alike; over both they do not.
        for (card, read) in CARDS
            .iter()
            .zip(bench.truth(chip.1, thickness_mm, &CARDS, contact))
        {
            bench.log(chip, card, &read, true);
        }
        let answer = bench.calibrate("--dry-run");
        let chips = answer["chips"].as_array().expect("chips");
        let named: Vec<&Value> = chips
            .iter()
            .filter(|chip| chip.get("disagrees").is_some())
            .collect();
        assert!(!named.is_empty(), "{contact}: {answer}");
        assert!(
            named.iter().all(|chip| chip["swatch"] == "off"),
            "{named:?}"
        );
        let said = named.iter().any(|chip| {
            chip["disagrees"]
                .as_str()
                .is_some_and(|said| said.contains(words))
        });
        assert!(said, "{words}: {named:?}");
        let red = material(&answer, "iron oxide red");
        assert!(
            (number(&red["strength"]) - 1.25).abs() < 0.15,
            "it leads nothing astray: {red}"
        );
    }
}

#[test]
fn each_reading_is_taken_by_its_own_specular_convention() {
    let bench = Bench::new();
    let excluded = fs::read_to_string(bench.path("truth").join("book.toml")).expect("settings");
    let excluded = excluded.replace("specular = \"included\"", "specular = \"excluded\"");
    fs::write(bench.path("truth").join("book.toml"), excluded).expect("written");
    bench.strengthen("truth", "iron-oxide-red", 0.8);
    let chip = ("pink", "iron oxide red 2; titanium white 6", 2.0);
    let read = bench
        .truth(chip.1, chip.2, &["white card"], "bonded")
        .remove(0);
    let colour = lab(&read);
    let add = format!(
        r#"swatch add {} --base "clear skin" --base-g 100 --mix "{}" --thickness-mm 2 --backing "white card" --lab {},{},{}"#,
        bench.option("book"),
        chip.1,
        colour.l,
        colour.a,
        colour.b
    );
    let unsaid = json(&add)["swatches"][0].clone();
    assert!(
        number(&unsaid["delta_e"]) > 1.0,
        "taken for included: {unsaid}"
    );
    let stated = json(&format!("{add} --specular excluded --aperture-mm 4"))["swatches"][0].clone();
    assert!(
        number(&stated["delta_e"]) < 1e-3,
        "taken as it is: {stated}"
    );
    assert_eq!(stated["specular"], "excluded", "told");
    assert_eq!(number(&stated["aperture_mm"]), 4.0, "told");

    let answer = bench.calibrate("--dry-run");
    let chips = answer["chips"].as_array().expect("chips");
    assert!(
        number(&chips[1]["delta_e_before"]) < 1e-3,
        "before learning too: {answer}"
    );
    assert_eq!(chips[1]["small_aperture"], true, "4 mm over 2 mm of skin");
    assert!(chips[0].get("small_aperture").is_none(), "nobody knows");
    let said = run(&format!("swatch list {}", bench.option("book"))).out;
    assert!(
        said.contains("taken with specular excluded, aperture 4 mm"),
        "{said}"
    );
    assert_eq!(
        said.matches("an aperture of less than three").count(),
        1,
        "pointed out: {said}"
    );

    let out = bench.path("out.txt");
    json(&format!(
        "swatch export {} {}",
        word(&out),
        bench.option("book")
    ));
    let text = fs::read_to_string(&out).expect("exported");
    assert!(
        text.contains("SPECULAR\tAPERTURE_MM") && text.contains("\"excluded\"\t4"),
        "{text}"
    );
}

#[test]
fn a_reading_s_file_says_how_it_was_taken() {
    let bench = Bench::new();
    let rows = "reading,specular,aperture_mm,400,420,440,460,480,500,520,540,560,580,600,620,640,660,680,700\n";
    let rows = format!(
        "{rows}a,excluded,8{}\nb,excluded,8{}\n",
        ",0.4".repeat(16),
        ",0.41".repeat(16)
    );
    let read = file(bench.parent.path(), "read.csv", &rows);
    let add = format!(
        r#"swatch add {} --base "clear skin" --base-g 100 --thickness-mm 2 --backing "white card" --r-file {read}"#,
        bench.option("book")
    );
    let logged = json(&add)["swatches"][0].clone();
    assert_eq!(logged["specular"], "excluded", "{logged}");
    assert_eq!(number(&logged["aperture_mm"]), 8.0, "{logged}");
    let said = json(&format!("{add} --specular included"))["swatches"][0].clone();
    assert_eq!(said["specular"], "included", "what is typed counts: {said}");
    assert!(
        bench.read("swatches.csv").contains(",excluded,8,"),
        "in the book"
    );

    let mixed = file(
        bench.parent.path(),
        "mixed.csv",
        &rows.replacen("excluded", "included", 1),
    );
    let refused = run(&add.replace(&read, &mixed));
    assert_eq!(refused.code, 2, "no mean of both");
    assert!(
        refused
            .err
            .contains("have no common mean (keep one kind in a file)"),
        "{}",
        refused.err
    );
    let refused = run(&format!("{add} --aperture-mm 0"));
    assert!(
        refused
            .err
            .contains("the aperture is 0 mm; expected from 0.5 to 100 mm"),
        "{}",
        refused.err
    );
}

#[test]
fn bad_readings_are_refused_with_their_place_and_nothing_is_lost() {
    let spectrum = |rows: &str| format!("wavelength_nm,r\n{rows}");
    let good: String = (38..=73).map(|tens| format!("{tens}0,0.4\n")).collect();
    let row = |id: &str, mix: &str, read: &str| {
        format!("{id},2026-03-09,clear skin,100,{mix},2,white card,{read}\n")
    };
    let header = "swatch,date,base,base_g,mix,thickness_mm,backing,L,a,b,r_file\n";
    let by_file = ",,,spectra/read.csv";
    let cases = [
        (
            row("A", "iron oxide read 2", "60,1,1,"),
            good.clone(),
            "swatches.csv:2:5: no pigment is called `iron oxide read` (did you mean `iron oxide red`?)",
        ),
        (
            row("A", "", "NaN,1,1,"),
            good.clone(),
            "swatches.csv:2:8: L is \"NaN\"; expected a number from 0 to 100",
        ),
        (
            row("A", "", by_file),
            good.replace("500,0.4", "500,NaN"),
            "spectra/read.csv:14:2: r is \"NaN\"; expected a number from 0 to 1",
        ),
        (
            row("A", "", by_file),
            good.replace("0.4", "40"),
            "spectra/read.csv:2:2: r is \"40\"; expected a number from 0 to 1 (in percent? write 0.4)",
        ),
        (
            row("A", "", by_file),
            good.lines()
                .skip(5)
                .map(|line| format!("{line}\n"))
                .collect(),
            "spectra/read.csv: the table holds 430 to 730 nm; expected all of 400 to 700 nm",
        ),
        (
            row("A", "", by_file),
            (8..=14).fold(String::new(), |text, step| {
                text + &format!("{},0.4\n", 50 * step)
            }),
            "spectra/read.csv: the table holds steps of up to 50 nm; expected all of 400 to 700 nm",
        ),
        (
            row("A", "umber 1", "60,1,1,") + &row("A", "umber 2", "60,1,1,"),
            good.clone(),
            "swatches.csv:3:1: swatch `A` has another mix than on line 2",
        ),
        (
            String::new(),
            good.clone(),
            "no swatch has a reading to learn from (cast a chip",
        ),
    ];
    for (rows, read, line) in cases {
        let bench = Bench::new();
        bench.write("swatches.csv", &(header.to_owned() + &rows));
        bench.write("spectra/read.csv", &spectrum(&read));
        let before = contents(&bench.path("book"));
        let said = run(&format!("calibrate {}", bench.option("book")));
        assert_eq!(
            (said.code, said.out.as_str()),
            (2, ""),
            "{line}: {}",
            said.err
        );
        let place = format!("{}/", bench.path("book").display());
        assert!(
            said.err.replace(&place, "").contains(line),
            "{line}: {}",
            said.err
        );
        assert_eq!(
            contents(&bench.path("book")),
            before,
            "{line}: nothing is lost"
        );
    }
}

#[test]
fn the_demo_is_never_written_to() {
    let said = run("calibrate --weigh \"umber 20 drops 0.62 g\"");
    assert_eq!(said.code, 2, "{}", said.out);
    assert!(
        said.err.contains("the demo book is never written to"),
        "{}",
        said.err
    );
    let said = run("calibrate --new-lot umber=B7");
    assert!(
        said.err.contains("the demo book is never written to"),
        "{}",
        said.err
    );
}

#[test]
fn what_a_calibration_left_unknown_is_read_back() {
    let bench = Bench::new();
    bench.log_all();
    bench.calibrate("");
    let table = format!(
        "{COLUMNS}\n1,clear skin,100,iron oxide red 4; titanium white 4,2,white card{}",
        ",".repeat(8)
    );
    let builds = file(bench.parent.path(), "builds.csv", &table);
    let spread = || {
        let answer = json(&format!(
            "predict --builds {builds} {}",
            bench.option("book")
        ));
        number(&answer["builds"][0]["L_sd"])
    };
    let told = spread();
    // Three columns of what a row is of, and then what is unknown of it, in logarithms.
    let text = bench.read("spectra/moves.csv");
    let mut lines = text.lines();
    let mut wider = lines.next().expect("a header").to_owned() + "\n";
    for line in lines {
        let mut cells: Vec<String> = line.split(',').map(str::to_owned).collect();
        for cell in &mut cells[3..] {
            let value: f64 = cell.parse().expect("a number");
            *cell = (10.0 * value).to_string();
        }
        wider += &(cells.join(",") + "\n");
    }
    bench.write("spectra/moves.csv", &wider);
    let unsure = spread();
    assert!(unsure > 1.2 * told, "{unsure} after {told}");
}
