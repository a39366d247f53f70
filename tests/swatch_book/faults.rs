//! Faults of what a user wrote, each told in one line.

use super::{refusal_with, starter_book, text};

#[test]
fn every_fault_of_the_shelf_is_told_with_its_place_and_mend() {
    let cases = [
        (
            "bases.csv",
            "mass,4,7",
            "mass,four,7",
            "bases.csv:2:7: pot_life_min is \"four\"; expected a number from 0.5 to 10000 with a point (write digits, such as 4)",
        ),
        (
            "bases.csv",
            "mass,4,7",
            "mass,7,4",
            "bases.csv:2:7: pot_life_min is 7 and gel_min 4; expected a pot life no longer than it takes to gel (exchange the two, or mend one by the material's sheet)",
        ),
        (
            "bases.csv",
            "1.04",
            "\"1,04\"",
            "bases.csv:2:3: density_g_ml is \"1,04\"; expected a number from 0.1 to 10 with a point (write 1.04)",
        ),
        (
            "bases.csv",
            "1.04",
            "1,04",
            "bases.csv:2: 14 fields in a row of 13 (write 2.1, not 2,1; put text that holds a comma in quotes)",
        ),
        (
            "bases.csv",
            ",mass,4,7,60,1,,1,spectra/base-clear-skin.csv",
            "",
            "bases.csv:2: 5 fields in a row of 13; ratio_by is the first that is missing (an empty cell keeps its comma)",
        ),
        (
            "bases.csv",
            "ratio_by",
            "ratioby",
            "bases.csv:1: no column is called `ratio_by` (did you mean `ratioby`?)",
        ),
        (
            "bases.csv",
            "skin,skin",
            "skin,skn",
            "bases.csv:2:2: no kind of base is called `skn` (did you mean `skin`?)",
        ),
        (
            "bases.csv",
            "1,mass",
            "1,weight",
            "bases.csv:2:6: no way to measure parts is called `weight` (known here: mass, volume)",
        ),
        (
            "bases.csv",
            "1,1,mass",
            "0,0,mass",
            "bases.csv:2:4: part_a is 0; expected the parts of A to mix (a base that comes as one part has part_a 1 and part_b 0)",
        ),
        (
            "bases.csv",
            "6,0.4",
            "0.8,0.4",
            "bases.csv:3:10: expansion is \"0.8\"; expected a number from 1 to 60",
        ),
        (
            "bases.csv",
            "6,0.4",
            "6,0",
            "bases.csv:3:11: cell_mm is \"0\"; expected a number from 0.01 to 10",
        ),
        (
            "bases.csv",
            "0.35",
            "",
            "bases.csv:4:12: solids is empty for a paint; expected a number from 0.01 to 1 (write the share of its mass that stays when it dries: weigh a film wet and dry)",
        ),
        (
            "bases.csv",
            "0.35",
            "0",
            "bases.csv:4:12: solids is \"0\"; expected a number from 0.01 to 1",
        ),
        (
            "bases.csv",
            "0.35",
            "35",
            "bases.csv:4:12: solids is \"35\"; expected a number from 0.01 to 1 (in percent? write 0.35)",
        ),
        (
            "bases.csv",
            "60,1,,1",
            "60,6,,1",
            "bases.csv:2:10: expansion is 6 for a skin; expected 1 or nothing (is its kind right?)",
        ),
        (
            "bases.csv",
            "flexible foam",
            "clear skin",
            "bases.csv:3:1: base `clear skin` stands on line 2 already (give each its own name)",
        ),
        (
            "bases.csv",
            "base-clear-skin.csv",
            "base-skin.csv",
            "bases.csv:2:13: ks_file names `spectra/base-skin.csv`, which is not there (write the file's path from the book's folder, such as spectra/umber.csv)",
        ),
        (
            "pigments.csv",
            "spectra/umber.csv",
            "/etc/umber.csv",
            "pigments.csv:5:6: `/etc/umber.csv` does not stay within the book's folder (copy the file into the book and write its path from there with `/`, such as spectra/umber.csv)",
        ),
        (
            "pigments.csv",
            "spectra/umber.csv",
            "../umber.csv",
            "pigments.csv:5:6: `../umber.csv` does not stay within the book's folder (copy the file into the book and write its path from there with `/`, such as spectra/umber.csv)",
        ),
        (
            "pigments.csv",
            "invented,umber",
            "invented,umbre",
            "pigments.csv:5:5: no starter pigment is called `umbre` (did you mean `umber`?)",
        ),
        (
            "pigments.csv",
            "\nblue",
            "\nblue; deep",
            "pigments.csv:7:1: `blue; deep` cannot be told from other parts of a mix (a pigment's name has no semicolon and does not end in a ratio such as 1:10)",
        ),
        (
            "pigments.csv",
            "\nblue",
            "\n",
            "pigments.csv:7:1: pigment is empty; expected a name",
        ),
        (
            "pigments.csv",
            "0.027,0.03",
            "0.027,3",
            "pigments.csv:6:3: max_fraction is \"3\"; expected a number from 0.000001 to 1 (in percent? write 0.03)",
        ),
        (
            "backings.csv",
            "white card",
            "ivory card",
            "backings.csv: no backing is called `white card`, over which contrast is taken (add a row for `white card` with its r_file)",
        ),
        (
            "backings.csv",
            "spectra/black-card.csv",
            "",
            "backings.csv:3:2: r_file is empty; expected the backing's reflectance (name a file of wavelength_nm and r)",
        ),
        (
            "spectra/white-card.csv",
            "\n380,0.83000",
            "\n380,83",
            "spectra/white-card.csv:2:2: r is \"83\"; expected a number from 0 to 1 (in percent? write 0.83)",
        ),
        (
            "spectra/umber.csv",
            "\n380,",
            "\n380,-",
            "spectra/umber.csv:2:2: k is \"-602.20\"; expected a number from 0 to 1000000000",
        ),
        (
            "spectra/umber.csv",
            "\n390,",
            "\n370,",
            "spectra/umber.csv:3:1: wavelength_nm is 370 after 380; expected it to rise (sort the rows, and give each wavelength once)",
        ),
        (
            "spectra/umber.csv",
            "wavelength_nm,k,s",
            "nm,k,s",
            "spectra/umber.csv:1: no column is called `wavelength_nm` (known here: nm)",
        ),
    ];
    let (_parent, book) = starter_book();
    for (name, from, to, line) in cases {
        let sound = text(&book, name);
        assert!(sound.contains(from), "{name} holds {from:?}");
        let found = refusal_with(&book, name, &sound.replacen(from, to, 1));
        assert_eq!(found, line, "{from:?} as {to:?}");
    }
}

#[test]
fn a_table_without_rows_and_a_spectrum_that_stops_short_are_refused() {
    let (_parent, book) = starter_book();
    for (name, column) in [("bases.csv", "base"), ("pigments.csv", "pigment")] {
        let sound = text(&book, name);
        let header = sound.lines().next().expect("a header");
        let line = format!(
            "{name}: the table names no {column}; expected at least one row below the header"
        );
        assert_eq!(refusal_with(&book, name, header), line, "an empty shelf");
    }
    let whole = text(&book, "spectra/umber.csv");
    let half: Vec<&str> = whole.lines().take(20).collect();
    let line = "spectra/umber.csv: the table holds 380 to 560 nm; expected all of 400 to 700 nm in steps of 20 nm or less (export the reading over the whole visible range)";
    let found = refusal_with(&book, "spectra/umber.csv", &half.join("\n"));
    assert_eq!(found, line, "half a spectrum");
}

#[test]
fn every_fault_of_a_swatch_is_told_with_its_place_and_mend() {
    let header = "swatch,date,base,base_g,mix,thickness_mm,backing,contact,L,a,b,r_file,foam,foam_g,foam_mix,paint,paint_g,paint_mix,paint_mm";
    let sound = "A1,2026-03-09,clear skin,600,umber 2,2.1,white card,,62,14,18,,,,,,,,";
    let cases = [
        (
            "2.1,white",
            "\"2,1\",white",
            "swatches.csv:2:6: thickness_mm is \"2,1\"; expected a number from 0.05 to 50 with a point (write 2.1)",
        ),
        (
            "2026-03-09",
            "9.3.2026",
            "swatches.csv:2:2: date is \"9.3.2026\"; expected a day (write year, month, day as in 2026-03-09)",
        ),
        (
            "clear skin",
            "clear skim",
            "swatches.csv:2:3: no base is called `clear skim` (did you mean `clear skin`?)",
        ),
        (
            "clear skin",
            "",
            "swatches.csv:2:3: base is empty; expected the name of a base",
        ),
        (
            "umber 2",
            "umbr 2",
            "swatches.csv:2:5: no pigment is called `umbr` (did you mean `umber`?)",
        ),
        (
            "umber 2",
            "\"umber 2,5\"",
            "swatches.csv:2:5: mix entry `umber 2,5`: \"2,5\" is not a number (write 2.5, with a point)",
        ),
        (
            "umber 2",
            "umber",
            "swatches.csv:2:5: `umber` lacks its amount (write drops as in `umber 2`, grams as in `fibre 12.5 g`, and a semicolon between entries)",
        ),
        (
            "white card,",
            "wite card,",
            "swatches.csv:2:7: no backing is called `wite card` (did you mean `white card`?)",
        ),
        (
            "white card,",
            ",",
            "swatches.csv:2:7: neither backing nor foam is named; expected one of them (what it lay on when it was read, such as white card)",
        ),
        (
            "card,,",
            "card,wet,",
            "swatches.csv:2:8: no contact is called `wet` (known here: bonded, dry)",
        ),
        (
            "62,14",
            "620,14",
            "swatches.csv:2:9: L is \"620\"; expected a number from 0 to 100",
        ),
        (
            "62,14",
            "62,",
            "swatches.csv:2:10: a is empty, and the reading goes on (give all of L, a and b, or none and an r_file)",
        ),
        (
            "62,14,18",
            ",,",
            "swatches.csv:2:9: the row has no reading; expected L, a and b, or an r_file",
        ),
        (
            "18,,",
            "18,spectra/none.csv,",
            "swatches.csv:2:12: r_file names `spectra/none.csv`, which is not there (write the file's path from the book's folder, such as spectra/umber.csv)",
        ),
        (
            "18,,,,,",
            "18,,clear skin,150,,",
            "swatches.csv:2:13: `clear skin` is a skin; expected a foam",
        ),
        (
            "18,,,,,",
            "18,,flexible foam,,,",
            "swatches.csv:2:14: foam_g is empty; expected a number from 0.01 to 1000000 (write digits, such as 600)",
        ),
        (
            "18,,,,,",
            "18,,,150,,",
            "swatches.csv:2:14: foam_g is given, and foam is empty (name the foam)",
        ),
        (
            "18,,,,,,,,",
            "18,,,,,clear paint,60,,",
            "swatches.csv:2:19: paint_mm is empty; expected a number from 0.001 to 5 (write digits, such as 0.03)",
        ),
        (
            "18,,,,,,,,",
            "18,,,,,,,,0.03",
            "swatches.csv:2:19: paint_mm is given, and paint is empty (name the paint)",
        ),
    ];
    let (_parent, book) = starter_book();
    for (from, to, line) in cases {
        assert!(sound.contains(from), "{from:?}");
        let table = format!("{header}\n{}\n", sound.replacen(from, to, 1));
        let found = refusal_with(&book, "swatches.csv", &table);
        assert_eq!(found, line, "{from:?} as {to:?}");
    }
    let other = sound.replace("umber 2", "umber 3");
    let table = format!("{header}\n{sound}\n{other}\n");
    let line = "swatches.csv:3:1: swatch `A1` has another mix than on line 2; rows of one chip differ in what it lay on and in how it read (give another chip its own name)";
    let found = refusal_with(&book, "swatches.csv", &table);
    assert_eq!(found, line, "two chips of one name");
}
