//! The work itself: a tone, a part, its pour, its clock, a casting compared and logged.

use axum::http::StatusCode;
use dropwise::batch::{Measure, Parts};
use dropwise::colour::{Illuminant, Light};
use dropwise::jobs::batching::Size;
use dropwise::jobs::nudging::Nudge;
use dropwise::jobs::parts::{self, Pots};
use dropwise::materials::Millimetres;

use super::{Bench, ask, asked, attributes, page_of};

#[test]
fn a_tone_becomes_a_part_whose_steps_pour_what_the_job_pours() {
    let bench = Bench::new();
    let typed = bench.post("/tone/typed", &[("l", "66"), ("a", "12"), ("b", "17")]);
    assert_eq!(typed.status, StatusCode::OK, "{}", typed.text);
    assert!(typed.text.contains("Light brown"), "the tone in words");
    let made = bench.make("left arm");
    assert_eq!(made.status, StatusCode::SEE_OTHER, "{}", made.text);
    assert_eq!(
        made.headers["location"], "/parts/left%20arm/pour",
        "on to its pour"
    );
    let book = bench.book();
    let day = dropwise::Date::constant(2026, 3, 12);
    let (part, matched) =
        parts::to_pour(&book, "left arm", Size::Times(1.0), Pots::default(), day).expect("a part");
    assert_eq!(part.request.thickness.0, 2.5, "a decimal comma is read");
    let poured = bench.get("/parts/left%20arm/pour");
    assert_eq!(poured.status, StatusCode::OK, "{}", poured.text);
    let counts = attributes(&poured.text, "data-count=\"");
    let wanted: Vec<String> = (matched.skin.pour.doses.iter())
        .filter_map(|dose| match dose.measure {
            Measure::Drops(count) => Some(count.to_string()),
            Measure::MassG(_) => None,
        })
        .collect();
    assert!(!wanted.is_empty(), "something is dropped");
    assert_eq!(counts, wanted, "every dose is a step, in order");
    assert_eq!(
        attributes(&poured.text, "data-clock=\""),
        ["skin 1"],
        "one clock"
    );
    let today = bench.get("/");
    assert!(
        today.text.contains("left arm") && today.text.contains("Ready to pour"),
        "{}",
        today.text
    );
}

#[test]
fn a_size_is_poured_in_the_same_shares() {
    let bench = Bench::new();
    bench.make("left arm");
    let book = bench.book();
    let doubled = bench.get("/parts/left%20arm/pour?skin_g=200");
    let day = dropwise::Date::constant(2026, 3, 12);
    let size = Size::Times(2.0);
    let (_, matched) =
        parts::to_pour(&book, "left arm", size, Pots::default(), day).expect("a part");
    let drops = matched
        .skin
        .pour
        .doses
        .iter()
        .filter(|dose| matches!(dose.measure, Measure::Drops(_)));
    assert_eq!(
        attributes(&doubled.text, "data-count=\"").len(),
        drops.count(),
        "steps"
    );
    let nonsense = bench.get("/parts/left%20arm/pour?skin_g=much");
    assert_eq!(nonsense.status, StatusCode::UNPROCESSABLE_ENTITY, "no mass");
}

#[test]
fn several_pots_are_tinted_at_once_as_on_the_command_line() {
    let bench = Bench::new();
    let book = bench.folder.path().join("book").display().to_string();
    let line = [
        "dropwise",
        "match",
        "--book",
        &book,
        "--target",
        "60,12,17",
        "--base-g",
        "600",
        "--fibre-g",
        "12",
        "--backing",
        "white card",
        "--largest-pot",
        "200",
        "--tolerance",
        "9",
        "--part",
        "arm",
        "--time-limit",
        "60",
    ];
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = dropwise::cli::run(line.map(Into::into), &mut out, &mut err);
    assert_eq!(code, 0, "{}", String::from_utf8_lossy(&err));
    let poured = bench.get("/parts/arm/pour");
    assert_eq!(poured.status, StatusCode::OK, "{}", poured.text);
    let told = |words: &str| poured.text.matches(words).count();
    assert!(
        told("part B of all 3 pots") > 2,
        "one after the other: {}",
        poured.text
    );
    assert_eq!(told("the tinted part B of clear skin"), 3, "a share a pot");
    let clocks = attributes(&poured.text, "data-clock=\"");
    assert_eq!(clocks, ["skin 1", "skin 2", "skin 3"], "a clock a pot");
    let day = dropwise::Date::constant(2026, 3, 12);
    let (_, matched) = parts::to_pour(&bench.book(), "arm", Size::Times(1.0), Pots::default(), day)
        .expect("a part");
    let at_once = matched.skin.pour.at_once.expect("three pots");
    for mass in [at_once.part_b_g, at_once.share_g, at_once.part_a_g] {
        assert!(
            told(&format!("<b>{mass}</b>")) > 0,
            "{mass} g: {}",
            poured.text
        );
    }
}

/// Seven drops of umber for three pots are three, two and two; tinted at once there is nothing to count again.
#[test]
fn pots_are_tinted_each_by_itself_where_that_is_chosen_and_stay_so() {
    let bench = Bench::new();
    let book = bench.folder.path().join("book");
    let line = format!(
        "dropwise match --book {} --target 67.7,8.0,15.9 --base-g 600 --fibre-g 14 --pigments umber --tolerance 9 --part bark --time-limit 60",
        book.display()
    );
    let backing = ["--backing", "white card"];
    let words = line.split(' ').chain(backing).map(Into::into);
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = dropwise::cli::run(words, &mut out, &mut err);
    assert_eq!(code, 0, "{}", String::from_utf8_lossy(&err));
    let kept = book.join("parts/bark.toml");
    let text = std::fs::read_to_string(&kept).expect("the part");
    assert!(text.contains("umber 7"), "seven drops: {text}");
    let narrow = text.replacen("fibre_g = 14.0", "fibre_g = 14.0\nlargest_pot_g = 260.0", 1);
    std::fs::write(&kept, narrow).expect("written");

    let chosen = |page: &str| {
        let inputs = page
            .split("<input")
            .find(|input| input.contains(" checked"));
        let values = attributes(inputs.expect("a choice"), "value=\"");
        values[0].to_owned()
    };
    let at_once = bench.get("/parts/bark/pour").text;
    assert_eq!(chosen(&at_once), "once", "by default: {at_once}");
    assert_eq!(
        attributes(&at_once, "data-count=\""),
        ["7"],
        "all of them once"
    );
    let each = bench.get("/parts/bark/pour?pots=each").text;
    assert_eq!(chosen(&each), "each", "as chosen: {each}");
    assert_eq!(
        attributes(&each, "data-count=\""),
        ["3", "2", "2"],
        "pot by pot"
    );
    assert!(each.contains("3 pots, not all of one size"), "{each}");
    assert!(
        !each.contains("the tinted part B"),
        "nothing is divided: {each}"
    );
    // As the job has it, and no jar is stirred for either.
    let pots = Pots {
        pot_by_pot: true,
        ..Pots::default()
    };
    let day = dropwise::Date::constant(2026, 3, 12);
    let size = Size::Times(1.0);
    let (_, matched) = parts::to_pour(&bench.book(), "bark", size, pots, day).expect("a part");
    let unlike = matched.skin.unlike.expect("seven drops in three pots");
    for pot in &unlike.pots {
        let Parts::Weighed { part_a_g, part_b_g } = pot.parts else {
            panic!("clear skin is mixed by mass: {pot:?}");
        };
        for mass in [part_a_g, part_b_g] {
            assert!(each.contains(&format!("<b>{mass}</b>")), "{mass} g: {each}");
        }
    }
    let (_, matched) =
        parts::to_pour(&bench.book(), "bark", size, Pots::default(), day).expect("it");
    assert_eq!(
        matched.skin.unlike, None,
        "not worked out where nobody asks"
    );
    // What follows from the screen is of the same pots.
    let onward = attributes(&each, "name=\"pots\" value=\"");
    assert_eq!(
        onward.iter().filter(|pots| **pots == "each").count(),
        onward.len() - 1,
        "{onward:?}"
    );
    let one = bench.make("small");
    assert_eq!(one.status, StatusCode::SEE_OTHER, "{}", one.text);
    assert!(
        !bench.get("/parts/small/pour").text.contains("How the pots"),
        "one pot leaves no choice"
    );
}

#[test]
fn a_clock_outlives_the_server() {
    let bench = Bench::new();
    bench.make("left arm");
    let begun = (jiff_now() - 3_600_000).to_string();
    let kept = bench.post(
        "/parts/left%20arm/clock",
        &[("cup", "skin 1"), ("begun", &begun)],
    );
    assert_eq!(kept.status, StatusCode::OK, "{}", kept.text);
    let elsewhere = page_of(Some(bench.folder.path().join("book")));
    let listed = ask(&elsewhere, asked("GET", "/clocks")).text;
    assert!(
        listed.contains(&begun) && listed.contains("skin 1"),
        "{listed}"
    );
    assert!(listed.contains("open the mould"), "its stages: {listed}");
    bench.post(
        "/parts/left%20arm/clock",
        &[("cup", "skin 1"), ("begun", "")],
    );
    assert_eq!(bench.get("/clocks").text, "[]", "forgotten");
    let foreign = bench.post(
        "/parts/left%20arm/clock",
        &[("cup", "soup"), ("begun", &begun)],
    );
    assert_eq!(
        foreign.status,
        StatusCode::UNPROCESSABLE_ENTITY,
        "no such cup"
    );
    let future = (jiff_now() + 86_400_000).to_string();
    let early = bench.post(
        "/parts/left%20arm/clock",
        &[("cup", "skin 1"), ("begun", &future)],
    );
    assert_eq!(
        early.status,
        StatusCode::UNPROCESSABLE_ENTITY,
        "not mixed yet"
    );
}

/// Milliseconds since 1970.
fn jiff_now() -> i64 {
    let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH);
    i64::try_from(since.expect("after 1970").as_millis()).expect("before the year 292 million")
}

#[test]
fn a_reading_is_answered_and_logged_once() {
    let bench = Bench::new();
    bench.make("left arm");
    let logged = bench.book().swatches().expect("a sound log").len();
    let revision = bench.book().revision();
    let fields = [
        ("revision", revision.as_str()),
        ("stage", "test"),
        ("l", "64"),
        ("a", "12"),
        ("b", "15"),
    ];
    let answer = bench.post("/parts/left%20arm/compare", &fields);
    assert_eq!(answer.status, StatusCode::OK, "{}", answer.text);
    assert!(answer.text.contains("Logged as S001"), "{}", answer.text);
    assert!(answer.text.contains("The next cup"), "{}", answer.text);
    let book = bench.book();
    assert_eq!(
        book.swatches().expect("a sound log").len(),
        logged + 1,
        "one reading"
    );
    assert_eq!(
        book.part("left arm").expect("a part").castings,
        ["S001"],
        "of this part"
    );
    let before = book.part("left arm").expect("a part").recipe;
    // The form is as old as the log by now: it is given back, and nothing is written.
    let stale = bench.post("/parts/left%20arm/compare", &fields);
    assert_eq!(stale.status, StatusCode::CONFLICT, "{}", stale.text);
    assert!(
        stale.text.contains("value=\"64\""),
        "what was typed is not lost"
    );
    assert_eq!(
        bench.book().swatches().expect("a sound log").len(),
        logged + 1,
        "nothing more"
    );
    let revision = bench.book().revision();
    let fields = [
        fields[1],
        fields[2],
        fields[3],
        fields[4],
        ("revision", revision.as_str()),
        ("replace", "yes"),
    ];
    let replaced = bench.post("/parts/left%20arm/compare", &fields);
    assert_eq!(replaced.status, StatusCode::OK, "{}", replaced.text);
    let book = bench.book();
    assert_eq!(
        book.swatches().expect("a sound log").len(),
        logged + 1,
        "the same reading is logged once"
    );
    let after = book.part("left arm").expect("a part").recipe;
    let said = replaced.text.contains("poured by this from now on");
    assert_eq!(
        said,
        !after.pours_like(&before),
        "it says whether the recipe changed"
    );
}

/// The right to write to the book that lies in `folder`, held as another program would hold it.
fn held(folder: &std::path::Path) -> std::fs::File {
    let lock = std::fs::OpenOptions::new()
        .create(true)
        .truncate(false)
        .write(true)
        .open(folder.join(".lock"))
        .expect("a lock");
    lock.lock().expect("held");
    lock
}

#[test]
fn what_others_write_while_a_form_waits_for_its_turn_makes_it_old() {
    let bench = Bench::new();
    bench.make("left arm");
    let folder = bench.folder.path().join("book");
    let revision = bench.book().revision();
    let fields = [
        ("revision", revision.as_str()),
        ("only", "log"),
        ("l", "65"),
        ("a", "12"),
        ("b", "16"),
    ];
    let logged = bench.book().swatches().expect("a sound log").len();
    let lock = held(&folder);
    let answer = std::thread::scope(|scope| {
        let waits = scope.spawn(|| bench.post("/parts/left%20arm/compare", &fields));
        // Long enough for the form to be read, looked at and worked out; then it waits, and finds what was written meanwhile.
        std::thread::sleep(std::time::Duration::from_secs(2));
        let table = folder.join("bases.csv");
        let text = std::fs::read_to_string(&table).expect("a table");
        std::fs::write(&table, text + "\n").expect("written by another program");
        drop(lock);
        waits.join().expect("an answer")
    });
    assert_eq!(answer.status, StatusCode::CONFLICT, "{}", answer.text);
    assert!(
        answer.text.contains("value=\"65\""),
        "what was typed is not lost"
    );
    let now = bench.book().revision();
    assert!(
        answer.text.contains(&now),
        "sent again, it is of the state that stands there now"
    );
    let book = bench.book();
    assert_eq!(
        book.swatches().expect("a sound log").len(),
        logged,
        "nothing was written"
    );
    assert!(
        book.part("left arm").expect("a part").castings.is_empty(),
        "nor noted"
    );
}

#[test]
fn what_keeps_screens_sees_all_of_them_and_keeps_no_key() {
    let bench = Bench::new();
    let worker = bench.get("/worker.js");
    assert_eq!(worker.status, StatusCode::OK, "at the top");
    assert_eq!(
        worker.headers["content-type"], "text/javascript; charset=utf-8",
        "or no browser takes it"
    );
    let policy = worker.headers["content-security-policy"]
        .to_str()
        .expect("text");
    assert!(policy.contains("worker-src 'self'"), "{policy}");
    assert!(
        worker.text.contains("has(\"key\")"),
        "an address with a key goes by"
    );
}

#[test]
fn the_eye_is_asked_where_there_is_no_reader() {
    let bench = Bench::new();
    bench.make("left arm");
    let logged = bench.book().swatches().expect("a sound log").len();
    let revision = bench.book().revision();
    let fields = [
        ("revision", revision.as_str()),
        ("stage", "test"),
        ("look_l", "darker"),
        ("look_a", "a little redder"),
    ];
    let answer = bench.post("/parts/left%20arm/compare", &fields);
    assert_eq!(answer.status, StatusCode::OK, "{}", answer.text);
    assert!(
        answer.text.contains("By eye and book together"),
        "{}",
        answer.text
    );
    assert_eq!(
        bench.book().swatches().expect("a sound log").len(),
        logged,
        "the eye is not logged"
    );
    let nothing = bench.post(
        "/parts/left%20arm/compare",
        &[("revision", &bench.book().revision()), ("stage", "test")],
    );
    assert_eq!(
        nothing.status,
        StatusCode::UNPROCESSABLE_ENTITY,
        "nothing was said"
    );
}

#[test]
fn only_logging_asks_for_nothing_else() {
    let bench = Bench::new();
    bench.make("left arm");
    let revision = bench.book().revision();
    let fields = [
        ("revision", revision.as_str()),
        ("only", "log"),
        ("l", "65"),
        ("a", "12"),
        ("b", "16"),
        ("tone", ""),
    ];
    let answer = bench.post("/parts/left%20arm/compare", &fields);
    assert_eq!(answer.status, StatusCode::OK, "{}", answer.text);
    assert!(answer.text.contains("Logged as S001"), "{}", answer.text);
    assert!(bench.get("/").text.contains("Cast and read"), "it moves on");
}

#[test]
fn a_drop_more_is_told_as_a_recipe_with_that_drop_would_be() {
    let bench = Bench::new();
    bench.make("left arm");
    let book = bench.book();
    let day = dropwise::Date::constant(2026, 3, 12);
    let kept =
        dropwise::jobs::nudging::run(&book, "left arm", Nudge::default(), day).expect("as kept");
    let (_, matched) =
        parts::to_pour(&book, "left arm", Size::Times(1.0), Pots::default(), day).expect("a part");
    let predicted = matched.skin.recipe.best().prediction.lab;
    let apart = dropwise::colour::delta_e_2000(kept.lab, predicted);
    assert!(apart < 1e-9, "what was matched, ΔE00 {apart}");
    let why = bench.get("/parts/left%20arm/why");
    assert_eq!(why.status, StatusCode::OK, "{}", why.text);
    // Under other lights, as `match` would tell of them.
    let lit = bench.get("/parts/left%20arm/why?A=on&LED-B3=on");
    assert_eq!(lit.status, StatusCode::OK, "{}", lit.text);
    let mut elsewhere = book.part("left arm").expect("a part");
    elsewhere.request.lights = [Illuminant::A, Illuminant::LedB3].map(Light::from).to_vec();
    let size = Size::Times(1.0);
    let seen = parts::told(&book, &elsewhere, size, Pots::default(), day).expect("told");
    let under = &seen.skin.recipe.best().under;
    assert_eq!(under.len(), 2, "two lights");
    for pair in under {
        let figure = lit.text.split(&format!("({})</b>: ", pair.light)).nth(1);
        let words = figure.and_then(|rest| rest.split('<').next());
        let delta_e = format!("ΔE00 {:.1}", pair.delta_e);
        let is_told = words.is_some_and(|words| words.ends_with(&delta_e));
        assert!(is_told, "{} {delta_e}: {words:?}", pair.light);
    }
    let mut counts: Vec<u32> = attributes(&why.text, "output data-count=\"")
        .iter()
        .map(|count| count.parse().expect("a count"))
        .collect();
    counts[0] += 1;
    let text: Vec<String> = counts.iter().map(u32::to_string).collect();
    let nudged = bench.get(&format!("/parts/left%20arm/nudge?drops={}", text.join(",")));
    let more = Nudge {
        drops: Some(&counts),
        thickness: None,
    };
    let own = dropwise::jobs::nudging::run(&book, "left arm", more, day).expect("one more");
    assert!(own.lab != kept.lab, "another colour");
    assert!(
        nudged.text.contains(&format!("ΔE00 {:.2}", own.delta_e)),
        "{}",
        nudged.text
    );
    // The thickness table of the same part tells of a thinner skin what the slider does.
    let thin = (matched.prospects.at_thicknesses.iter()).find(|at| at.thickness.0 == 1.0);
    let thinner = Nudge {
        drops: None,
        thickness: Some(Millimetres(1.0)),
    };
    let thinner = dropwise::jobs::nudging::run(&book, "left arm", thinner, day).expect("thinner");
    let apart = dropwise::colour::delta_e_2000(thinner.lab, thin.expect("1 mm").lab);
    assert!(apart < 1e-9, "1 mm, ΔE00 {apart}");
    let text = text.join(",");
    for thickness in ["-1", "0", "NaN", "1e9", "x"] {
        let refused = bench.get(&format!(
            "/parts/left%20arm/nudge?drops={text}&thickness_mm={thickness}"
        ));
        assert!(
            refused.status.is_client_error(),
            "{thickness} mm: {}",
            refused.text
        );
    }
    for faulty in ["", "1", "1,2,x", "-1", "99999999999"] {
        let refused = bench.get(&format!("/parts/left%20arm/nudge?drops={faulty}"));
        assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY, "{faulty}");
    }
}

#[test]
fn the_demo_shows_what_it_would_pour_and_keeps_nothing() {
    let demo = page_of(None);
    let fields = super::form(&[
        ("target", r#"{"L": 66, "a": 12, "b": 17}"#),
        ("name", "arm"),
        ("base_g", "100"),
        ("beneath", "backing"),
        ("backing", "white card"),
    ]);
    let mut request = asked("POST", "/parts");
    *request.body_mut() = axum::body::Body::from(fields);
    let headers = request.headers_mut();
    headers.insert("sec-fetch-site", "same-origin".parse().expect("a value"));
    headers.insert(
        "content-type",
        "application/x-www-form-urlencoded"
            .parse()
            .expect("a value"),
    );
    let shown = ask(&demo, request);
    assert_eq!(shown.status, StatusCode::OK, "{}", shown.text);
    assert!(shown.text.contains("keeps nothing"), "it says so");
    assert!(
        shown.text.contains("data-act=\"count\""),
        "and pours all the same"
    );
}

#[test]
fn the_first_view_is_light_and_no_screen_holds_script_or_style() {
    /// Most that the first view may weigh, bytes.
    const MOST: usize = 200_000;
    let bench = Bench::new();
    bench.make("left arm");
    let mut whole = bench.get("/").text.len();
    let modules = [
        "page.css",
        "page.js",
        "drop.svg",
        "clocks.js",
        "forms.js",
        "keypad.js",
        "nudge.js",
        "offline.js",
        "photo.js",
        "pour.js",
        "revision.js",
        "store.js",
    ];
    for name in modules {
        let file = bench.get(&format!("/files/{name}"));
        assert_eq!(file.status, StatusCode::OK, "{name}");
        whole += file.text.len();
    }
    assert!(whole <= MOST, "{whole} bytes");
    for path in [
        "/",
        "/tone",
        "/parts/left%20arm/pour",
        "/parts/left%20arm/compare",
        "/parts/left%20arm/why",
        "/parts/left%20arm/photo",
        "/board/photo",
    ] {
        let page = bench.get(path);
        assert_eq!(page.status, StatusCode::OK, "{path}");
        for hidden in [
            " style=",
            "<style",
            " onclick=",
            " onload=",
            "<script>",
            "javascript:",
        ] {
            assert!(
                !page.text.contains(hidden),
                "{path} holds {hidden}, which its policy forbids"
            );
        }
        assert!(
            page.text.contains("<html lang=\"en\">") && page.text.contains("<h1>"),
            "{path}: for who listens"
        );
        for address in attributes(&page.text, "src=\"")
            .into_iter()
            .chain(attributes(&page.text, "href=\""))
        {
            assert!(
                !address.contains("//"),
                "{path} points elsewhere: {address}"
            );
        }
    }
}

#[test]
fn what_is_left_of_jars_is_kept_and_drawn_on_by_the_next_pour() {
    let bench = Bench::new();
    bench.make("left arm");
    let day = dropwise::Date::constant(2026, 3, 12);
    let of_pour = |book: &dropwise::book::Book| {
        let (_, matched) = parts::to_pour(book, "left arm", Size::Times(1.0), Pots::default(), day)
            .expect("a part");
        let called_for = matched.skin.pour.let_downs;
        called_for.iter().map(|each| each.uses_g).sum::<f64>()
    };
    let uses_g = of_pour(&bench.book());
    assert!(uses_g > 0.0, "this skin takes a let-down");
    let left = || {
        bench
            .book()
            .shelf()
            .let_downs
            .iter()
            .map(|jar| jar.mass.0)
            .sum::<f64>()
    };
    let before = left();
    let note = || {
        let revision = bench.book().revision();
        bench.post(
            "/parts/left%20arm/poured",
            &[("revision", &revision), ("skin_g", "")],
        )
    };
    assert_eq!(
        note().status,
        StatusCode::SEE_OTHER,
        "stirred, and poured of"
    );
    let stirred = left();
    assert!(stirred > before, "what is left of {before} g: {stirred} g");
    assert!(
        bench.get("/").text.contains("g left"),
        "it stands on the first screen"
    );
    assert_eq!(
        note().status,
        StatusCode::SEE_OTHER,
        "poured again, of what stands there"
    );
    let apart = stirred - left() - uses_g;
    assert!(apart.abs() < 0.01, "taken but for {apart} g");
}
