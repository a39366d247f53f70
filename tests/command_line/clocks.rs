//! `part clock`: who mixes what when. The tone is invented; the minutes are the starter book's.

use super::{json, json_with, number, run, starter_book};

fn kept(book: &str) {
    json_with(
        0,
        &format!(
            "match {book} --target 64,12,16 --base-g 300 --foam-g 150 --fibre-g 6 --tolerance 9 --within 2 --part arm"
        ),
    );
}

#[test]
fn six_pieces_on_three_moulds_by_two_people_are_a_table_and_a_picture() {
    let (_parent, book) = starter_book();
    kept(&book);
    let line = format!("part clock arm {book} --pieces 6 --moulds 3 --people 2");
    let day = json(&line);
    let tasks = day["tasks"].as_array().expect("tasks");
    assert_eq!(tasks.len(), 18, "skin, foam and demould of each: {day}");
    let last = tasks.iter().map(|task| number(&task["to_min"]));
    assert_eq!(last.fold(0.0, f64::max), number(&day["ends_min"]), "{day}");
    let said = run(&line);
    assert_eq!((said.code, said.err.as_str()), (0, ""), "{}", said.out);
    assert_eq!(said.out.matches("mix skin").count(), 6, "{}", said.out);
    assert!(
        said.out.lines().all(|line| line.chars().count() <= 80),
        "{}",
        said.out
    );
    #[cfg(feature = "page")]
    {
        let folder = super::folder();
        let picture = folder.path().join("day.svg");
        let drawn = run(&format!("{line} --bars {}", super::word(&picture)));
        assert_eq!((drawn.code, drawn.out), (0, said.out), "the same beside it");
        let text = std::fs::read_to_string(&picture).expect("the picture");
        super::plots::assert_well_formed(&text);
        assert!(
            text.starts_with("<svg") && text.contains("person 2"),
            "{text}"
        );
        assert!(
            text.contains("mould 3") && text.contains("piece 6"),
            "{text}"
        );
    }
}

#[test]
fn a_clock_of_nothing_or_without_end_is_refused() {
    let (_parent, book) = starter_book();
    kept(&book);
    for (more, word) in [
        ("--pieces 0", "--pieces"),
        ("--pieces 2 --people 0", "--people"),
        ("--pieces 4 --within-min 60", "of piece"),
        ("--pieces 2 --room-c 80", "°C"),
        ("", "--pieces"),
    ] {
        let said = run(&format!("part clock arm {book} {more}"));
        assert_eq!((said.code, said.out.as_str()), (2, ""), "{more}");
        assert!(said.err.contains(word), "{more}: {}", said.err);
    }
}
