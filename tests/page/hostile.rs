//! Requests that nobody should send: each is refused, and nothing is lost or told.

use axum::body::Body;
use axum::http::{Request, StatusCode};
use dropwise::page::{Doors, Key, Settings, app};

use super::{Bench, HOST, ask, asked};

fn with(method: &str, path: &str, headers: &[(&str, &str)]) -> Request<Body> {
    let mut request = Request::builder().method(method).uri(path);
    for (name, value) in headers {
        request = request.header(*name, *value);
    }
    request.body(Body::empty()).expect("a request")
}

#[test]
fn a_foreign_host_or_origin_is_refused() {
    let bench = Bench::new();
    let own = format!("http://{HOST}");
    let status =
        |method: &str, headers: &[(&str, &str)]| ask(&bench.app, with(method, "/", headers)).status;
    for host in [HOST, "localhost:8066", "[::1]:8066", "LOCALHOST:8066"] {
        assert_eq!(status("GET", &[("host", host)]), StatusCode::OK, "{host}");
    }
    let foreign = [
        "evil.example",
        "127.0.0.1",
        "127.0.0.1:80",
        "127.0.0.1:8066.evil.example",
        "127.0.0.1.evil.example:8066",
        "",
    ];
    for host in foreign {
        assert_eq!(
            status("GET", &[("host", host)]),
            StatusCode::FORBIDDEN,
            "{host}"
        );
    }
    assert_eq!(status("GET", &[]), StatusCode::FORBIDDEN, "none");
    assert_eq!(
        status("GET", &[("host", HOST), ("host", "evil.example")]),
        StatusCode::FORBIDDEN,
        "two"
    );
    let elsewhere = with("GET", "http://evil.example/", &[("host", HOST)]);
    assert_eq!(
        ask(&bench.app, elsewhere).status,
        StatusCode::FORBIDDEN,
        "an address of its own"
    );
    for origin in [
        "http://evil.example",
        "null",
        "https://127.0.0.1:8066",
        "http://127.0.0.1:9000",
        "http://localhost:8066",
    ] {
        for method in ["GET", "POST"] {
            let status = status(method, &[("host", HOST), ("origin", origin)]);
            assert_eq!(status, StatusCode::FORBIDDEN, "{method} from {origin}");
        }
    }
    let site = |method: &str, site: &str, more: &[(&str, &str)]| {
        let mut headers = vec![("host", HOST), ("sec-fetch-site", site)];
        headers.extend(more);
        status(method, &headers)
    };
    assert_eq!(
        site("GET", "cross-site", &[]),
        StatusCode::FORBIDDEN,
        "loaded by another"
    );
    assert_eq!(
        site("GET", "cross-site", &[("sec-fetch-mode", "navigate")]),
        StatusCode::OK,
        "a link"
    );
    assert_eq!(
        site("POST", "cross-site", &[("origin", &own)]),
        StatusCode::FORBIDDEN,
        "it belies itself"
    );
    assert_eq!(
        status("POST", &[("host", HOST)]),
        StatusCode::FORBIDDEN,
        "no word of where from"
    );
    assert_eq!(
        site("POST", "same-origin", &[]),
        StatusCode::METHOD_NOT_ALLOWED,
        "let in"
    );
}

#[test]
fn every_answer_says_what_it_may_load() {
    let bench = Bench::new();
    for path in [
        "/",
        "/nowhere",
        "/files/page.js",
        "/clocks",
        "/parts/none/pour",
    ] {
        let answer = bench.get(path);
        let policy = answer.headers["content-security-policy"]
            .to_str()
            .expect("text");
        assert!(
            policy.starts_with("default-src 'none'") && !policy.contains("unsafe"),
            "{path}: {policy}"
        );
        assert_eq!(
            answer.headers["x-content-type-options"], "nosniff",
            "{path}"
        );
        assert_eq!(answer.headers["referrer-policy"], "same-origin", "{path}");
    }
    let refused = ask(&bench.app, with("GET", "/", &[("host", "evil.example")]));
    assert!(
        refused.headers.contains_key("content-security-policy"),
        "a refusal too"
    );
}

#[test]
fn no_path_leads_out_of_the_book() {
    let bench = Bench::new();
    let secret = bench.folder.path().join("secret.toml");
    std::fs::write(&secret, "never-told").expect("a file beside the book");
    for path in [
        "/files/..%2f..%2fCargo.toml",
        "/files/../../../etc/passwd",
        "/files/%2e%2e%2f%2e%2e%2fetc%2fpasswd",
        "/parts/..%2F..%2Fsecret/pour",
        "/parts/..%2fsecret/compare",
        "/parts/%2e%2e/why",
        "/parts/..%5c..%5csecret/pour",
        "/parts/%00/pour",
        "/parts/secret%00.toml/pour",
        "/parts/%ff%fe/pour",
        "//evil.example/",
        "/../secret.toml",
    ] {
        let answer = bench.get(path);
        assert!(answer.status.is_client_error(), "{path}: {}", answer.status);
        assert!(
            !answer.text.contains("never-told") && !answer.text.contains("root:"),
            "{path}"
        );
    }
    for name in ["../escape", "a/b", "..", "", "con\u{202e}trol", "a\nb"] {
        let answer = bench.make(name);
        assert!(
            answer.status.is_client_error(),
            "{name:?}: {}",
            answer.status
        );
    }
    assert!(
        !bench.folder.path().join("escape.toml").exists(),
        "nothing beside the book"
    );
    assert!(
        bench.book().part_names().expect("names").is_empty(),
        "no part was kept"
    );
}

#[test]
fn what_is_too_large_is_refused_before_and_while_it_comes() {
    let bench = Bench::new();
    let own = format!("http://{HOST}");
    let headers = [("host", HOST), ("origin", own.as_str())];
    for (path, told) in [("/tone/photo", 1_usize << 30), ("/parts", 300 << 10)] {
        let told = told.to_string();
        let mut headers = headers.to_vec();
        headers.push(("content-length", &told));
        let answer = ask(&bench.app, with("POST", path, &headers));
        assert_eq!(
            answer.status,
            StatusCode::PAYLOAD_TOO_LARGE,
            "{path}, as told"
        );
    }
    for (path, sent) in [("/tone/photo", 41 << 20), ("/parts", 300 << 10)] {
        let mut request = with("POST", path, &headers);
        *request.body_mut() = Body::from(vec![b'x'; sent]);
        let answer = ask(&bench.app, request);
        assert_eq!(
            answer.status,
            StatusCode::PAYLOAD_TOO_LARGE,
            "{path}, as sent"
        );
    }
}

#[test]
fn malformed_forms_are_refused_in_words_and_change_nothing() {
    let bench = Bench::new();
    bench.make("left arm");
    let before = bench.book().revision();
    let revision = before.as_str();
    let target = ("target", r#"{"L": 66, "a": 12, "b": 17}"#);
    let named = [("revision", revision), ("name", "right arm")];
    let forms: [(&str, Vec<(&str, &str)>); 12] = [
        ("/parts", vec![]),
        ("/parts", named.to_vec()),
        ("/parts", [&named[..], &[("target", "{\"L\":")]].concat()),
        ("/parts", [&named[..], &[("target", "[[[[")]].concat()),
        ("/parts", [&named[..], &[target]].concat()),
        (
            "/parts",
            [
                &named[..],
                &[
                    target,
                    ("base_g", "-5"),
                    ("beneath", "backing"),
                    ("backing", "white card"),
                ],
            ]
            .concat(),
        ),
        (
            "/parts",
            [
                &named[..],
                &[
                    target,
                    ("base_g", "1e308"),
                    ("beneath", "backing"),
                    ("backing", "white card"),
                ],
            ]
            .concat(),
        ),
        (
            "/parts",
            [
                &named[..],
                &[
                    target,
                    ("base_g", "100"),
                    ("beneath", "backing"),
                    ("backing", "no such card"),
                ],
            ]
            .concat(),
        ),
        ("/tone/typed", vec![("l", "inf"), ("a", "1"), ("b", "1")]),
        ("/tone/typed", vec![("l", "500"), ("a", "1"), ("b", "1")]),
        (
            "/parts/left%20arm/compare",
            vec![("revision", revision), ("l", "60")],
        ),
        ("/parts/left%20arm/clock", vec![("begun", "1")]),
    ];
    for (path, fields) in forms {
        let answer = bench.post(path, &fields);
        let is_refused = answer.status.is_client_error();
        assert!(
            is_refused,
            "{path} {fields:?}: {} {}",
            answer.status, answer.text
        );
    }
    let own = format!("http://{HOST}");
    for (kind, body) in [
        ("application/json", "{"),
        ("text/plain", "name=x"),
        ("application/x-www-form-urlencoded", "%%%=%zz&&&==\u{0}"),
        ("multipart/form-data; boundary=x", "--x\r\nno end"),
        ("multipart/form-data", "none"),
    ] {
        for path in ["/parts", "/tone/typed", "/tone/photo"] {
            let headers = [
                ("host", HOST),
                ("origin", own.as_str()),
                ("content-type", kind),
            ];
            let mut request = with("POST", path, &headers);
            *request.body_mut() = Body::from(body);
            let answer = ask(&bench.app, request);
            let is_refused = answer.status.is_client_error();
            assert!(
                is_refused,
                "{path} as {kind}: {} {}",
                answer.status, answer.text
            );
        }
    }
    assert_eq!(bench.book().revision(), before, "the book is as it was");
}

#[test]
fn words_of_a_request_come_back_escaped() {
    let bench = Bench::new();
    let answer = bench.get("/parts/%3Cscript%3Ealert(1)%3C%2Fscript%3E/pour");
    assert!(answer.status.is_client_error(), "no such part");
    assert!(!answer.text.contains("<script>alert"), "{}", answer.text);
    let typed = bench.post("/parts", &[("name", "\"><img src=x>"), ("revision", "old")]);
    assert_eq!(typed.status, StatusCode::CONFLICT, "stale");
    assert!(!typed.text.contains("<img"), "{}", typed.text);
}

#[test]
fn a_page_for_the_network_opens_by_its_key_alone() {
    let bench = Bench::new();
    let key = Key::new().expect("a key");
    let doors = Doors::local(8066).opened("192.0.2.7".parse().expect("an address"), key.clone());
    let opened = app(Settings {
        book: Some(bench.folder.path().join("book")),
        doors,
    });
    let host = ("host", "192.0.2.7:8066");
    for path in [
        "/",
        "/files/page.js",
        "/clocks",
        "/?key=",
        "/?key=0123456789abcdef0123456789abcdef",
    ] {
        assert_eq!(
            ask(&opened, with("GET", path, &[host])).status,
            StatusCode::FORBIDDEN,
            "{path}"
        );
        let here = ask(&opened, asked("GET", path));
        assert_eq!(
            here.status,
            StatusCode::FORBIDDEN,
            "{path}, on this machine"
        );
    }
    let with_key = format!("/?key={}", key.as_str());
    let foreign = ask(
        &opened,
        with("GET", &with_key, &[("host", "evil.example:8066")]),
    );
    assert_eq!(
        foreign.status,
        StatusCode::FORBIDDEN,
        "the key under another name"
    );
    let answer = ask(&opened, with("GET", &with_key, &[host]));
    assert_eq!(
        (answer.status, &answer.headers["location"]),
        (StatusCode::SEE_OTHER, &"/".parse().expect("a value")),
        "let in"
    );
    let cookie = answer.headers["set-cookie"]
        .to_str()
        .expect("text")
        .to_owned();
    assert!(
        cookie.contains("HttpOnly") && cookie.contains("SameSite=Strict"),
        "{cookie}"
    );
    let cookie = cookie.split(';').next().expect("a pair");
    assert_eq!(
        ask(&opened, with("GET", "/", &[host, ("cookie", cookie)])).status,
        StatusCode::OK,
        "known"
    );
    let leads_out = ask(
        &opened,
        with(
            "GET",
            &format!("//evil.example?key={}", key.as_str()),
            &[host],
        ),
    );
    let location = leads_out
        .headers
        .get("location")
        .map(|to| to.to_str().expect("text").to_owned());
    assert!(
        location.is_none_or(|to| !to.starts_with("//")),
        "no way out"
    );
}
