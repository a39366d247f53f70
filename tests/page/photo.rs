//! Photographs sent to the page: a tone beside a chart, one chip, a board; each as the same job reads it.

#[path = "../browser/scene.rs"]
mod scene;

use axum::body::Body;
use axum::http::{Request, StatusCode};
use dropwise::colour::{Lab, delta_e_2000};

use self::scene::{BOARD, CHART, CHIP, SKIN, Scene};
use super::{Answer, Bench, HOST, ask, attributes};

/// A bench with a part and what lies on it, photographed.
fn photographed() -> (Bench, Scene) {
    let bench = Bench::new();
    bench.make("left arm");
    let scene = Scene::of(&bench.book(), bench.folder.path());
    (bench, scene)
}

/// The corners of a rectangle, as they are drawn.
fn corners([left, top, width, height]: [u32; 4]) -> String {
    let (right, bottom) = (left + width, top + height);
    format!("{left},{top},{right},{top},{right},{bottom},{left},{bottom}")
}

fn inner([left, top, width, height]: [u32; 4]) -> String {
    format!("{},{},{},{}", left + 20, top + 20, width - 40, height - 40)
}

/// A form with the photograph and the chart's values of `scene`, with more `files`, as a browser sends it.
fn send(
    bench: &Bench,
    scene: &Scene,
    path: &str,
    fields: &[(&str, &str)],
    files: &[(&str, &std::path::Path)],
) -> Answer {
    const BOUNDARY: &str = "----of-this-test";
    let mut body = Vec::new();
    let mut part = |head: &str, content: &[u8]| {
        body.extend(
            format!("--{BOUNDARY}\r\nContent-Disposition: form-data; {head}\r\n\r\n").bytes(),
        );
        body.extend(content);
        body.extend(b"\r\n");
    };
    for (name, value) in fields {
        part(&format!("name=\"{name}\""), value.as_bytes());
    }
    let own = [
        ("photo", scene.photo.as_path()),
        ("chart_values", scene.values.as_path()),
    ];
    for (name, file) in own.iter().chain(files) {
        let called = file.file_name().expect("a name").to_string_lossy();
        let content = std::fs::read(file).expect("a file");
        part(
            &format!(
                "name=\"{name}\"; filename=\"{called}\"\r\nContent-Type: application/octet-stream"
            ),
            &content,
        );
    }
    body.extend(format!("--{BOUNDARY}--\r\n").bytes());
    let request = Request::builder()
        .method("POST")
        .uri(path)
        .header("host", HOST)
        .header("origin", format!("http://{HOST}"))
        .header(
            "content-type",
            format!("multipart/form-data; boundary={BOUNDARY}"),
        )
        .body(Body::from(body))
        .expect("a request");
    ask(&bench.app, request)
}

/// What stands in the hidden or open field `name`, as it is sent again.
fn value<'a>(text: &'a str, name: &str) -> &'a str {
    let field = text.split(&format!("name=\"{name}\"")).nth(1);
    let value = field.and_then(|rest| rest.split('>').next()?.split("value=\"").nth(1));
    value.and_then(|rest| rest.split('"').next()).unwrap_or("")
}

/// Whether the screen shows a picture, and that it is one.
fn assert_shows_picture(bench: &Bench, page: &Answer) {
    let pictures = attributes(&page.text, "src=\"/pictures/");
    assert_eq!(pictures.len(), 1, "one picture: {}", page.text);
    let address = format!("/pictures/{}", pictures[0]);
    let request = super::asked("GET", &address);
    let runtime = tokio::runtime::Builder::new_current_thread()
        .build()
        .expect("a runtime");
    let bytes = runtime.block_on(async {
        use tower::ServiceExt as _;
        let answer = bench.app.clone().oneshot(request).await.expect("an answer");
        assert_eq!(answer.status(), StatusCode::OK, "it is kept");
        assert_eq!(answer.headers()["content-type"], "image/png", "its kind");
        axum::body::to_bytes(answer.into_body(), 10 << 20)
            .await
            .expect("a body")
    });
    let picture = image::load_from_memory(&bytes).expect("a picture");
    assert!(picture.width() <= 1600 && picture.width() > 500, "its size");
}

#[test]
fn a_tone_beside_a_chart_is_read_and_the_picture_is_shown_corrected() {
    let (bench, scene) = photographed();
    let skin = inner(SKIN);
    for chart in [corners(CHART), String::new()] {
        let fields = [
            ("beside", "chart"),
            ("chart", chart.as_str()),
            ("skin", &skin),
            ("specular", "45/0"),
        ];
        let page = send(&bench, &scene, "/tone/photo", &fields, &[]);
        assert_eq!(page.status, StatusCode::OK, "{chart}: {}", page.text);
        assert!(page.text.contains("as the chart corrects it"), "{chart}");
        assert!(!page.text.contains("/tmp/"), "where it lay: {}", page.text);
        assert_shows_picture(&bench, &page);
    }
    let card = [
        ("beside", "grey"),
        ("skin", &skin),
        ("card", "1180,0,200,10"),
    ];
    let outside = send(&bench, &scene, "/tone/photo", &card, &[]);
    assert_eq!(outside.status, StatusCode::UNPROCESSABLE_ENTITY, "outside");
    assert!(outside.text.contains("bench.png"), "{}", outside.text);
    let plain = send(&bench, &scene, "/tone/photo", &[("beside", "none")], &[]);
    assert_eq!(plain.status, StatusCode::OK, "{}", plain.text);
    assert!(plain.text.contains("as it was taken"), "neither");
}

#[test]
fn a_chip_off_a_photograph_is_compared_and_logged_with_what_the_camera_gave() {
    let (bench, scene) = photographed();
    let chart = corners(CHART);
    let chip = inner(CHIP);
    let fields = [
        ("chip", chip.as_str()),
        ("chart", &chart),
        ("specular", "45/0"),
        ("stage", "part"),
    ];
    let before = bench.book().revision();
    let page = send(&bench, &scene, "/parts/left%20arm/photo", &fields, &[]);
    assert_eq!(page.status, StatusCode::OK, "{}", page.text);
    assert_eq!(bench.book().revision(), before, "nothing is written yet");
    assert_shows_picture(&bench, &page);
    let [l, a, b] = ["l", "a", "b"].map(|name| value(&page.text, name));
    let read = Lab::new(
        l.parse().expect("L*"),
        a.parse().expect("a*"),
        b.parse().expect("b*"),
    );
    // Under another light and observer a skin's colour moves by a few units.
    let apart = delta_e_2000(read, scene::CHIP_LAB);
    assert!(apart < 4.0, "{read:?}: {apart}");
    let stage = value(&page.text, "stage");
    assert!(!stage.is_empty(), "what was looked at stays said");
    let camera = value(&page.text, "camera").replace("&quot;", "\"");
    let told = format!("{l},{a},{b}");
    assert_eq!(value(&page.text, "camera_lab"), told, "of this reading");
    let revision = bench.book().revision();
    let fields = [
        ("revision", revision.as_str()),
        ("only", "log"),
        ("l", l),
        ("a", a),
        ("b", b),
        ("camera", &camera),
        ("camera_lab", &told),
        ("specular", "45/0"),
        ("stage", "part"),
    ];
    let forged =
        fields.map(|(name, value)| (name, if name == "camera" { "photo\nx" } else { value }));
    let refused = bench.post("/parts/left%20arm/compare", &forged);
    assert_eq!(
        refused.status,
        StatusCode::UNPROCESSABLE_ENTITY,
        "{}",
        refused.text
    );
    let logged = bench.post("/parts/left%20arm/compare", &fields);
    assert_eq!(logged.status, StatusCode::OK, "{}", logged.text);
    let book = bench.book();
    let kept = book.photographs().expect("a sound table");
    assert_eq!(kept.len(), 1, "what the camera gave is kept");
    assert_eq!(
        (kept[0].name.as_str(), kept[0].patches.len()),
        ("bench.png", 24),
        "chart"
    );
    let last = book
        .swatches()
        .expect("a sound log")
        .last()
        .expect("a reading");
    assert_eq!(
        (last.photo.as_str(), last.lab),
        ("bench.png", Some(read)),
        "in the log"
    );
    // Typed over, it is a reading by hand.
    let revision = book.revision();
    let typed = fields.map(|(name, value)| match name {
        "revision" => (name, revision.as_str()),
        "l" => (name, "60"),
        _ => (name, value),
    });
    let logged = bench.post("/parts/left%20arm/compare", &typed);
    assert_eq!(logged.status, StatusCode::OK, "{}", logged.text);
    let book = bench.book();
    let last = book
        .swatches()
        .expect("a sound log")
        .last()
        .expect("a reading");
    assert_eq!(last.photo, "", "no photograph's");
    let corrected = send(
        &bench,
        &scene,
        "/parts/left%20arm/photo",
        &[("chart", &chart)],
        &[],
    );
    assert_eq!(corrected.status, StatusCode::UNPROCESSABLE_ENTITY, "no box");
}

#[test]
fn a_chip_off_a_photograph_is_answered_as_a_reading_is() {
    let (bench, scene) = photographed();
    let (chart, chip) = (corners(CHART), inner(CHIP));
    let fields = [
        ("chip", chip.as_str()),
        ("chart", &chart),
        ("stage", "test"),
    ];
    let page = send(&bench, &scene, "/parts/left%20arm/photo", &fields, &[]);
    let camera = value(&page.text, "camera").replace("&quot;", "\"");
    let revision = value(&page.text, "revision");
    let [l, a, b, told] = ["l", "a", "b", "camera_lab"].map(|name| value(&page.text, name));
    let fields = [
        ("revision", revision),
        ("stage", "test"),
        ("l", l),
        ("a", a),
        ("b", b),
        ("camera", &camera),
        ("camera_lab", told),
        ("specular", "45/0"),
    ];
    let answer = bench.post("/parts/left%20arm/compare", &fields);
    assert_eq!(answer.status, StatusCode::OK, "{}", answer.text);
    assert!(answer.text.contains("The next cup"), "{}", answer.text);
    let book = bench.book();
    assert_eq!(book.photographs().expect("a sound table").len(), 1, "kept");
}

#[test]
fn a_board_is_logged_once_and_its_chips_are_told() {
    let (bench, scene) = photographed();
    let logged = bench.book().swatches().expect("a sound log").len();
    let (chart, grid) = (corners(CHART), corners(BOARD));
    let fields = [("chart", chart.as_str()), ("grid", &grid)];
    let files = [("chips", scene.chips.as_path())];
    let page = send(&bench, &scene, "/board/photo", &fields, &files);
    assert_eq!(page.status, StatusCode::OK, "{}", page.text);
    assert!(
        page.text.contains("8 readings off bench.png"),
        "{}",
        page.text
    );
    assert_shows_picture(&bench, &page);
    let count = || bench.book().swatches().expect("a sound log").len();
    assert_eq!(count(), logged + 8, "each is in the log");
    let again = send(&bench, &scene, "/board/photo", &fields, &files);
    assert_eq!(
        again.status,
        StatusCode::UNPROCESSABLE_ENTITY,
        "{}",
        again.text
    );
    assert!(again.text.contains("logged already"), "{}", again.text);
    assert_eq!(count(), logged + 8, "nothing twice");
    let bare = send(&bench, &scene, "/board/photo", &fields, &[]);
    assert!(bare.text.contains("no list of chips"), "{}", bare.text);
}
