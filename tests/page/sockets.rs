//! What only sockets do: clients that are slow, silent or many.

use std::io::{Read as _, Write as _};
use std::net::TcpStream;
use std::sync::mpsc;
use std::thread;
use std::time::{Duration, Instant};

use super::Bench;

/// A server of its own that goes on until the tests end; its address as `127.0.0.1:PORT`.
fn served(bench: &Bench) -> String {
    let (tell, told) = mpsc::channel();
    let book = bench.folder.path().join("book");
    thread::spawn(move || {
        dropwise::page::serve(Some(book), 0, None, |listening| {
            tell.send(listening.address.clone()).expect("someone waits");
            Ok(())
        })
    });
    let address = told
        .recv_timeout(Duration::from_secs(20))
        .expect("it listens");
    let address = address.trim_start_matches("http://").trim_end_matches('/');
    address.to_owned()
}

fn connect(address: &str) -> TcpStream {
    let stream = TcpStream::connect(address).expect("it listens");
    let patience = Some(Duration::from_secs(20));
    stream.set_read_timeout(patience).expect("a limit");
    stream
}

/// The status line of what is asked for in one go.
fn status(address: &str, path: &str) -> String {
    let mut stream = connect(address);
    let request = format!("GET {path} HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n");
    stream.write_all(request.as_bytes()).expect("sent");
    let mut answer = String::new();
    stream.read_to_string(&mut answer).expect("an answer");
    answer.lines().next().unwrap_or_default().to_owned()
}

#[test]
fn slow_and_silent_clients_are_let_go_and_others_are_served_meanwhile() {
    let bench = Bench::new();
    let address = served(&bench);
    let begun = Instant::now();
    let silent = connect(&address);
    let mut half = connect(&address);
    half.write_all(format!("GET / HTTP/1.1\r\nHost: {address}\r\nX-Slow: ").as_bytes())
        .expect("sent");
    let mut body = connect(&address);
    let head = format!(
        "POST /tone/typed HTTP/1.1\r\nHost: {address}\r\nOrigin: http://{address}\r\nContent-Length: 1000\r\n\
         Content-Type: application/x-www-form-urlencoded\r\n\r\nl=1"
    );
    body.write_all(head.as_bytes()).expect("sent");
    assert_eq!(status(&address, "/"), "HTTP/1.1 200 OK", "meanwhile");
    assert!(
        begun.elapsed() < Duration::from_secs(4),
        "without waiting for them"
    );
    for mut stream in [silent, half] {
        let mut rest = Vec::new();
        // Some are told before they are let go.
        let ended = stream.read_to_end(&mut rest);
        assert!(
            ended.is_ok() || begun.elapsed() < Duration::from_secs(15),
            "{ended:?}"
        );
    }
    assert!(
        begun.elapsed() < Duration::from_secs(15),
        "heads have their time"
    );
    let mut answer = String::new();
    body.read_to_string(&mut answer).expect("an answer");
    assert!(
        answer.starts_with("HTTP/1.1 408"),
        "a body has its time: {answer}"
    );
}

#[test]
fn a_thousand_connections_take_no_more_than_their_places() {
    let bench = Bench::new();
    let address = served(&bench);
    let many: Vec<TcpStream> = (0..1000)
        .filter_map(|_| TcpStream::connect(&address).ok())
        .collect();
    assert!(many.len() > 100, "{} came through to the door", many.len());
    drop(many);
    thread::sleep(Duration::from_millis(500));
    assert_eq!(
        status(&address, "/revision"),
        "HTTP/1.1 200 OK",
        "it serves on"
    );
}
