//! The page of a book, served by the program itself, and forms sent to it.

use std::fs;
use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};

/// A program that serves a page, until this is dropped.
pub(super) struct Served {
    child: Child,
    /// Where it listens; empty where it ended before.
    host: String,
}

impl Served {
    /// Has `server`, which is the program or what traces it, serve the book in `dir`.
    pub(super) fn begin(mut server: Command, dir: &Path) -> Self {
        let mut child = server
            .args(["serve", "--port", "0", "--book"])
            .arg(dir)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("it starts");
        let mut line = String::new();
        let out = child.stdout.take().expect("it is piped");
        BufReader::new(out)
            .read_line(&mut line)
            .expect("it speaks or ends");
        let address = line.split("http://").nth(1).unwrap_or_default();
        let host = address.split('/').next().unwrap_or_default().to_owned();
        Self { child, host }
    }

    /// The status that `form` is answered with at `path`; none where there is no answer.
    pub(super) fn post(&self, path: &str, form: &str) -> Option<u16> {
        let host = &self.host;
        let mut stream = TcpStream::connect(host).ok()?;
        write!(
            stream,
            "POST {path} HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\n\
             Content-Type: application/x-www-form-urlencoded\r\nContent-Length: {}\r\n\
             Connection: close\r\n\r\n{form}",
            form.len()
        )
        .ok()?;
        let mut text = String::new();
        stream.read_to_string(&mut text).ok()?;
        text.split(' ').nth(1)?.parse().ok()
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        // Of what traces it the server is the only child, and goes by itself; the tracer follows.
        let children = format!("/proc/{0}/task/{0}/children", self.child.id());
        let traced = fs::read_to_string(children).unwrap_or_default();
        for id in traced.split_whitespace() {
            // It may have ended already.
            let mut kill = Command::new("kill");
            let _ = kill.args(["-KILL", id]).stderr(Stdio::null()).status();
        }
        if traced.trim().is_empty() {
            let _ = self.child.kill();
        }
        let _ = self.child.wait();
    }
}
