//! `match` for one layer, the form on which its answers are checked against `predict`.

use std::collections::HashSet;

use dropwise::colour::delta_e_2000;
use serde_json::Value;

use super::{assert_same, folder, json, json_with, lab, mix_of, number, predict, run};

fn recipes(answer: &Value) -> &Vec<Value> {
    answer["recipes"].as_array().expect("recipes")
}

fn drops(recipe: &Value) -> Vec<(&str, u64)> {
    let drops = recipe["drops"].as_object().expect("drops by name");
    drops
        .iter()
        .map(|(name, count)| (name.as_str(), count.as_u64().expect("whole drops")))
        .collect()
}

#[test]
fn settled_drops_stay_as_they_are_and_the_rest_is_the_best_there_is() {
    const CARD: &str = r#"match --target 61,12,15 --base-g 600 --fibre-g 6 --backing "white card" --time-limit 60
        --tolerance 99 --within 0 --pigments "iron oxide red,titanium white,iron oxide yellow" --max-drops 8"#;
    let open = json(&format!("{CARD} --max-total-drops 12"));
    let best = drops(&recipes(&open)[0]);
    let red = |drops: &[(&str, u64)]| {
        let mut red = drops.iter().filter(|(name, _)| *name == "iron oxide red");
        red.next().map_or(0, |(_, count)| *count)
    };
    for held in [red(&best), red(&best) + 2] {
        let line = format!("{CARD} --max-total-drops 12 --with \"iron oxide red={held}\"");
        let answer = json(&line);
        let recipe = &recipes(&answer)[0];
        let drops = drops(recipe);
        assert_eq!(red(&drops), held, "as settled: {drops:?}");
        assert!(answer["proven"] == true, "and the rest proven");
        assert!(
            drops.iter().map(|(_, count)| count).sum::<u64>() <= 12,
            "they count among all: {drops:?}"
        );
        // Trying all that is left, by `predict`.
        let mut rows = Vec::new();
        for white in 0..=8 {
            for yellow in (0..=8).filter(|yellow| held + white + yellow <= 12) {
                rows.push(format!(
                    "{white} {yellow},clear skin,600,iron oxide red {held}; titanium white {white}; iron oxide yellow \
                     {yellow}; fibre 6 g,2,white card"
                ));
            }
        }
        let target = dropwise::colour::Lab::new(61.0, 12.0, 15.0);
        let tried = predict(&rows, "");
        let least = (tried.iter())
            .map(|made| delta_e_2000(target, lab(made)))
            .fold(f64::INFINITY, f64::min);
        let found = number(&recipe["delta_e"]);
        assert!((found - least).abs() < 1e-9, "{held}: {found} and {least}");
    }
    for (with, says) in [
        ("iron oxide red=0", "expected a whole number from 1"),
        ("iron oxide red=two", "expected a whole number from 1"),
        ("iron oxide rde=2", "did you mean `iron oxide red`?"),
        ("umber=2", "`umber` must be in the cup and may not be"),
        ("iron oxide red=2,iron oxide red=3", "stands twice"),
    ] {
        let said = run(&format!("{CARD} --with \"{with}\""));
        assert_eq!(said.code, 2, "{with}: {}", said.out);
        assert!(said.err.contains(says), "{with}: {}", said.err);
    }
    let tinted = run(&format!("{CARD} --with \"iron oxide red=2\" --one-tint"));
    assert!(
        tinted.code == 2 && tinted.err.contains("one stock holds all tints"),
        "{}",
        tinted.err
    );
}

#[test]
fn exactly_the_named_pigments_are_used_within_every_limit() {
    let answer = json(
        r#"match --target 61,12,15 --base "clear skin" --base-g 600 --thickness-mm 2 --backing "white card"
           --pigments "iron oxide red,titanium white,iron oxide yellow,umber 1:10" --max-drops 12
           --max-total-drops 20 --fibre-g 6 --illuminants D65,A --top 5 --within 0.2 --time-limit 60 --tolerance 9"#,
    );
    let named = [
        "iron oxide red",
        "titanium white",
        "iron oxide yellow",
        "umber 1:10",
    ];
    let recipes = recipes(&answer);
    assert_eq!(recipes.len(), 5, "as many as asked for");
    let mut seen = HashSet::new();
    for recipe in recipes {
        let drops = drops(recipe);
        assert!(seen.insert(drops.clone()), "distinct: {drops:?}");
        assert!(
            drops.iter().all(|(name, _)| named.contains(name)),
            "no others: {drops:?}"
        );
        assert!(
            drops.iter().all(|(_, count)| (1..=12).contains(count)),
            "12 of each: {drops:?}"
        );
        assert!(
            drops.iter().map(|(_, count)| count).sum::<u64>() <= 20,
            "20 of all: {drops:?}"
        );
    }
    assert!(
        recipes.is_sorted_by(|one, next| number(&one["delta_e"]) <= number(&next["delta_e"]) + 0.2),
        "the best first, but for equals to within what was asked for, of which the simpler is"
    );
    let gap = number(&answer["gap"]);
    assert!(gap >= 0.0, "a distance");
    assert!(
        answer["proven"] == false || gap <= 0.2,
        "proven only within what was asked for"
    );
    assert!(number(&answer["elapsed_s"]) > 0.0, "timed");

    let rows: Vec<String> = recipes
        .iter()
        .enumerate()
        .map(|(place, recipe)| {
            format!(
                "{place},clear skin,600,{}; fibre 6 g,2,white card",
                mix_of(&recipe["drops"])
            )
        })
        .collect();
    let aims = [lab(&answer["target"]), lab(&answer["target"]["under"]["A"])];
    for (recipe, predicted) in recipes.iter().zip(predict(&rows, "--illuminants D65,A")) {
        assert_same(lab(recipe), lab(&predicted), "as predicted");
        let under = [lab(&predicted), lab(&predicted["under"]["A"])];
        assert_same(lab(&recipe["under"]["A"]), under[1], "under A too");
        let mean = (delta_e_2000(aims[0], under[0]) + delta_e_2000(aims[1], under[1])) / 2.0;
        assert!(
            (mean - number(&recipe["delta_e"])).abs() < 1e-9,
            "mean ΔE00 {mean}"
        );
    }
}

#[test]
fn on_a_small_grid_the_search_finds_the_best_there_is() {
    const MOST: u32 = 6;
    let counts: Vec<(u32, u32)> = (0..=MOST)
        .flat_map(|red| (0..=MOST).map(move |white| (red, white)))
        .collect();
    let rows: Vec<String> = counts
        .iter()
        .map(|(red, white)| {
            format!("{red}/{white},clear skin,300,iron oxide red {red}; titanium white {white},2,white card")
        })
        .collect();
    let grid: Vec<_> = predict(&rows, "").iter().map(lab).collect();
    // Within the grid's reach, between its points, at its edge, and far out of it.
    for target in [
        "66,14,11", "71,10,8", "58,18,16", "80,5,5", "40,20,20", "60,0,30",
    ] {
        let answer = run(&format!(
            r#"match --target {target} --base "clear skin" --base-g 300 --thickness-mm 2 --backing "white card"
               --pigments "iron oxide red,titanium white" --max-drops {MOST} --top 3 --within 0 --json"#
        ));
        assert!(
            answer.code <= 1 && answer.err.is_empty(),
            "{target}: {}",
            answer.err
        );
        let answer: Value = serde_json::from_str(&answer.out).expect("JSON");
        let aim = lab(&answer["target"]);
        let mut all: Vec<f64> = grid.iter().map(|lab| delta_e_2000(aim, *lab)).collect();
        all.sort_by(f64::total_cmp);
        for (recipe, best) in recipes(&answer).iter().zip(&all) {
            let found = number(&recipe["delta_e"]);
            assert!(
                (found - best).abs() < 1e-9,
                "{target}: found {found}, there is {best}"
            );
        }
        let gap = number(&answer["gap"]);
        assert!(
            number(&recipes(&answer)[0]["delta_e"]) - all[0] <= gap + 1e-9,
            "{target}: the gap holds"
        );
    }
}

#[test]
fn let_downs_join_in_only_where_no_pigments_are_named() {
    let free = json(r#"match --target 66,12,17 --base-g 60 --backing "white card""#);
    let names: Vec<&str> = drops(&recipes(&free)[0])
        .into_iter()
        .map(|(name, _)| name)
        .collect();
    assert!(
        names.iter().any(|name| name.contains(" 1:")),
        "a small cup wants them: {names:?}"
    );
    let row = format!(
        "free,clear skin,60,{},2,white card",
        mix_of(&recipes(&free)[0]["drops"])
    );
    assert_same(
        lab(&predict(&[row], "")[0]),
        lab(&recipes(&free)[0]),
        "as predicted",
    );

    let pigments = r#"--pigments "titanium white,iron oxide red 1:20""#;
    let line = format!(
        r#"match --target 80,6,6 --base-g 60 --backing "white card" {pigments} --tolerance 50"#
    );
    let named = json(&line);
    let named = drops(&recipes(&named)[0]);
    assert!(!named.is_empty(), "something goes in");
    assert!(
        named
            .iter()
            .all(|(name, _)| ["titanium white", "iron oxide red 1:20"].contains(name)),
        "{named:?}"
    );
}

#[test]
fn the_exit_code_tells_a_miss_from_a_hit_and_the_recipe_stands_either_way() {
    let line = r#"match --target 40,0,-20 --base-g 600 --backing "white card" --pigments "iron oxide red,umber""#;
    let miss = json_with(1, line);
    assert_eq!(miss["passes"], false, "no red makes a blue");
    assert!(
        number(&recipes(&miss)[0]["delta_e"]) > number(&miss["tolerance"]),
        "and says how far off"
    );
    assert_eq!(
        json(&format!("{line} --tolerance 100"))["passes"],
        true,
        "if that will do"
    );
    let text = run(&format!("{line} --why"));
    assert!(text.out.contains("NOT WITHIN TOLERANCE"), "{}", text.out);
}

#[test]
fn a_time_limit_beyond_the_clock_is_no_limit() {
    let line = r#"match --target 66,12,17 --base-g 600 --backing "white card" --time-limit"#;
    let recipes_in = |limit: &str| json(&format!("{line} {limit}"))["recipes"].clone();
    assert_eq!(recipes_in("1e19"), recipes_in("600"), "the same recipes");
}

#[test]
fn pigments_beyond_a_cups_load_are_not_offered() {
    // 3 % of a cup of 2 g are 0.06 g, and a drop of white weighs 0.036 g: one, however much is wanted.
    let answer = json_with(
        1,
        r#"match --target 90,0,0 --base-g 2 --backing "black card" --pigments "titanium white""#,
    );
    assert_eq!(
        drops(&recipes(&answer)[0]),
        [("titanium white", 1)],
        "no more than cures"
    );
}

#[test]
fn the_target_may_be_a_file_and_the_answer_is_the_same() {
    let folder = folder();
    let saved = super::word(&folder.path().join("tone.json"));
    let said = run(&format!(
        "target --lab 64,11,15 --flush 57,17,16 --save {saved}"
    ));
    assert_eq!((said.code, said.err.as_str()), (0, ""), "saved");
    let match_it = |target: &str| {
        let mut answer = json(&format!(
            r#"match --target {target} --base-g 300 --backing "white card" --paint-g 30 --time-limit 60"#
        ));
        answer
            .as_object_mut()
            .expect("an object")
            .remove("elapsed_s");
        answer
    };
    let (from_file, typed) = (match_it(&saved), match_it("64,11,15 --flush 57,17,16"));
    assert_eq!(from_file, typed, "one target, one answer");
    assert!(from_file["paint"].is_object(), "the flush was kept");
}

#[test]
fn a_tone_out_of_reach_is_said_to_be_with_its_miss_and_what_would_mend_it() {
    let line = r#"match --target 40,0,-20 --base-g 600 --backing "white card" --without blue --max-drops 12
                  --time-limit 60"#;
    let miss = json_with(1, line);
    let reach = &miss["out_of_reach"];
    let words = reach["miss"].as_str().expect("words");
    assert!(
        words.starts_with("too yellow") || words.starts_with("too red"),
        "{words}"
    );
    let help = &reach["would_help"][0];
    assert_eq!(
        (&help["pigment"], &help["at_hand"]),
        (&"blue".into(), &true.into())
    );
    assert!(
        number(&help["delta_e"]) < number(&recipes(&miss)[0]["delta_e"]) - 1.0,
        "blue helps: {reach}"
    );
    let text = run(&format!("{line} --why"))
        .out
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    assert!(text.contains("blue (left out here)"), "{text}");
}

#[test]
fn where_a_limit_of_drops_is_in_the_way_the_drops_that_would_do_are_told() {
    let line = r#"match --target 70,9,12 --base-g 600 --backing "black card" --max-drops 30 --tolerance 1.5 --time-limit 60"#;
    let miss = json_with(1, line);
    let more = &miss["out_of_reach"]["more_drops"];
    assert_eq!(more["most_of"], "titanium white", "{more}");
    let best = number(&recipes(&miss)[0]["delta_e"]);
    assert!(number(&more["delta_e"]) < best - 0.2, "{more} from {best}");
    let said = run(&format!("{line} --why")).out;
    let said: Vec<&str> = said.split_whitespace().collect();
    let (max_drops, total) = (&more["max_drops"], &more["max_total_drops"]);
    let options = format!("(--max-drops {max_drops} --max-total-drops {total};");
    assert!(said.join(" ").contains(&options), "{options}");
    let with_them = json(&format!(
        "{} --exact --max-total-drops {total}",
        line.replace("--max-drops 30", &format!("--max-drops {max_drops}"))
    ));
    let found = number(&recipes(&with_them)[0]["delta_e"]);
    assert!(
        found <= number(&more["delta_e"]) + 0.05,
        "as was told: {found}"
    );
}

#[test]
fn what_must_be_in_is_in_what_is_banned_is_not_and_the_contrast_is_kept() {
    let line = r#"match --target 62,12,16 --base-g 600 --backing "white card" --time-limit 60 --tolerance 9"#;
    let bound = json(&format!(
        "{line} --with blue --without umber --max-contrast 0.5"
    ));
    let names: Vec<&str> = drops(&recipes(&bound)[0])
        .into_iter()
        .map(|(name, _)| name)
        .collect();
    assert!(
        names.iter().any(|name| name.starts_with("blue")),
        "{names:?}"
    );
    assert!(
        !names.iter().any(|name| name.starts_with("umber")),
        "{names:?}"
    );
    assert!(
        number(&recipes(&bound)[0]["contrast_ratio"]) <= 0.5,
        "see-through enough"
    );

    for (options, says) in [
        (
            "--with blue --without blue",
            "must be in the cup and may not be",
        ),
        ("--with bleu", "bleu"),
        ("--min-contrast 0.9 --max-contrast 0.1", "is above"),
    ] {
        let said = run(&format!("{line} {options}"));
        assert!(
            said.code == 2 && said.err.contains(says),
            "{options}: {}",
            said.err
        );
    }
    let none = run(&format!("{line} --min-contrast 0.999 --max-drops 1"));
    assert_eq!(none.code, 1, "{}", none.err);
    assert!(
        none.err.contains("no recipe of these pigments keeps to")
            && !none.err.contains("--time-limit"),
        "proven: {}",
        none.err
    );
    let hurried = run(&format!(
        "{} --min-contrast 0.5 --max-contrast 0.5001",
        line.replace("--time-limit 60", "--time-limit 0")
            .replace("62,12,16", "65,11,15")
    ));
    assert_eq!(hurried.code, 1, "{}", hurried.err);
    assert!(
        hurried.err.contains("was found in the time")
            && hurried.err.contains("longer with --time-limit"),
        "not proven: {}",
        hurried.err
    );
}

#[test]
fn more_drops_are_told_with_those_that_are_held_and_never_below_the_limits_in_force() {
    let line = r#"match --target 65,11,15 --base-g 100 --backing "white card" --with "iron oxide red=3"
                  --max-total-drops 3 --tolerance 0.3 --time-limit 60"#;
    let miss = json_with(1, line);
    let more = &miss["out_of_reach"]["more_drops"];
    let [count, max_drops, total] =
        ["count", "max_drops", "max_total_drops"].map(|key| more[key].as_u64().expect(key));
    assert!(total > 3, "more than is allowed now: {more}");
    assert_eq!(max_drops, 40, "that limit is not in the way: {more}");
    assert!(count < 40, "{more}");
    let said = run(&format!("{line} --why")).out;
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    let options = format!("(--max-drops {max_drops} --max-total-drops {total}).");
    assert!(said.contains(&options), "few drops are dropped: {said}");
    let with_them = run(&format!(
        "{} --exact --json",
        line.replace("drops 3", &format!("drops {total} --max-drops {max_drops}"))
    ));
    let with_them: Value = serde_json::from_str(&with_them.out).expect("JSON");
    let found = number(&recipes(&with_them)[0]["delta_e"]);
    assert!(
        found <= number(&more["delta_e"]) + 0.05,
        "as was told: {found} and {more}"
    );
}

#[test]
fn of_a_pigment_and_its_let_down_the_one_that_needs_no_jar_is_poured_where_they_are_equals() {
    // A colour that the let-down meets, and the drops from the bottle as good as meet.
    let row = "let down,clear skin,100,titanium white 4; iron oxide red 1:5 10,2,white card";
    let target = lab(&predict(&[row], "")[0]);
    let nearer = format!(
        r#"match --target {},{},{} --base-g 100 --backing "white card" --time-limit 60
           --pigments "titanium white,iron oxide red,iron oxide red 1:5""#,
        target.l, target.a, target.b
    );
    let neat = [("titanium white", 4), ("iron oxide red", 2)];
    let let_down = [("titanium white", 4), ("iron oxide red 1:5", 10)];
    let set = |drops: Vec<(&str, u64)>| -> HashSet<(String, u64)> {
        let named = drops.into_iter();
        named
            .map(|(name, count)| (name.to_owned(), count))
            .collect()
    };
    let (neat, let_down) = (set(neat.to_vec()), set(let_down.to_vec()));
    let equals = json(&nearer);
    assert_eq!(
        set(drops(&recipes(&equals)[0])),
        neat,
        "no jar, hardly farther: {}",
        recipes(&equals)[0]["delta_e"]
    );
    assert!(number(&recipes(&equals)[0]["delta_e"]) <= 0.05, "within it");
    let by_hand = (&equals["effort"], &equals["effort_proven"]);
    let two_doses = (&Value::from(2.0), &Value::from(true));
    assert_eq!(by_hand, two_doses, "two doses of less than ten drops");
    let best = json(&format!("{nearer} --exact"));
    assert_eq!(set(drops(&recipes(&best)[0])), let_down, "the best itself");
    let several = json(&format!("{nearer} --top 3"));
    let first = set(drops(&recipes(&several)[0]));
    assert_eq!(first, neat, "first");
    let again = recipes(&several).iter().skip(1);
    assert!(
        again.clone().all(|recipe| set(drops(recipe)) != let_down),
        "and not the same once more, let down"
    );
    assert_eq!(best["effort_gap"], Value::Null, "the nearest was asked for");
}

#[test]
fn a_paint_that_is_matched_by_itself_is_sprayed_as_thick_as_ordered() {
    let said = run(
        r#"match --target 65,11,15 --base "clear paint" --base-g 60 --thickness-mm 0.5 --backing "white card" --why"#,
    );
    assert!(said.out.contains("0.5 mm dry in all"), "{}", said.out);
}

#[test]
fn a_search_without_time_gives_a_recipe_and_its_honest_gap() {
    let line =
        r#"match --target 62,12,16 --base-g 600 --backing "white card" --tolerance 9 --within 0"#;
    let (hurried, best) = (
        json(&format!("{line} --time-limit 0")),
        json(&format!("{line} --time-limit 60")),
    );
    assert_eq!(
        (&hurried["proven"], &best["proven"]),
        (&false.into(), &true.into())
    );
    let delta_e = |answer: &Value| number(&recipes(answer)[0]["delta_e"]);
    assert!(delta_e(&best) <= delta_e(&hurried), "more time, no worse");
    assert!(
        delta_e(&hurried) - number(&hurried["gap"]) <= delta_e(&best),
        "the gap holds: {hurried}"
    );
}

#[test]
fn how_see_through_a_skin_is_may_be_said_in_a_word() {
    let line = "match --target 62,12,16 --base-g 600 --fibre-g 6 --foam-g 300 --time-limit 0 --tolerance 99";
    let ratio = |word: &str| {
        let answer = json(&format!("{line} --see-through {word}"));
        number(&answer["recipes"][0]["contrast_ratio"])
    };
    // The windows are this project's own.
    for (word, (least, most)) in [
        ("glassy", (0.0, 0.25)),
        ("veiled", (0.25, 0.5)),
        ("dense", (0.5, 1.0)),
    ] {
        let ratio = ratio(word);
        assert!((least..=most).contains(&ratio), "{word}: {ratio}");
    }
    let said = run(&format!("{line} --see-through glassy --min-contrast 0.2"));
    assert_eq!(said.code, 2, "one or the other: {}", said.out);
}
