//! The page of a book, served by the program itself, and forms sent to it.

use std::fs;
use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
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
    pub(super) fn post(&self, path: &str, form: &Form) -> Option<u16> {
        self.send(path, form).map(|(status, _)| status)
    }

    /// The status, and what stands below it.
    pub(super) fn send(&self, path: &str, form: &Form) -> Option<(u16, String)> {
        let host = &self.host;
        let mut stream = TcpStream::connect(host).ok()?;
        let (kind, body) = form.body();
        let head = format!(
            "POST {path} HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\n\
             Content-Type: {kind}\r\nContent-Length: {}\r\nConnection: close\r\n\r\n",
            body.len()
        );
        stream.write_all(&[head.as_bytes(), &body].concat()).ok()?;
        let mut text = String::new();
        stream.read_to_string(&mut text).ok()?;
        let status = text.split(' ').nth(1)?.parse().ok()?;
        Some((status, text))
    }
}

/// A form, filled in.
#[derive(Clone, Default)]
pub(super) struct Form {
    fields: Vec<(String, String)>,
    /// Files that come along, by their fields.
    files: Vec<(String, PathBuf)>,
}

impl Form {
    pub(super) fn of(fields: &[(&str, &str)]) -> Self {
        let all = fields.iter();
        all.fold(Self::default(), |form, (name, value)| {
            form.with(name, value)
        })
    }

    /// The same with another field, or with something else in it.
    #[must_use]
    pub(super) fn with(&self, name: &str, value: &str) -> Self {
        let mut form = self.clone();
        form.fields.retain(|(known, _)| known != name);
        form.fields.push((name.to_owned(), value.to_owned()));
        form
    }

    /// The same with these files.
    #[cfg(feature = "photo")]
    #[must_use]
    pub(super) fn bringing(&self, files: &[(&str, &Path)]) -> Self {
        let files = files.iter();
        let files = files.map(|(name, path)| ((*name).to_owned(), (*path).to_owned()));
        Self {
            files: files.collect(),
            ..self.clone()
        }
    }

    /// What it says, for people.
    pub(super) fn in_words(&self) -> String {
        let fields = self.fields.iter();
        let fields: Vec<String> = fields
            .map(|(name, value)| format!("{name}={value:?}"))
            .collect();
        fields.join(" ")
    }

    /// What it is sent as, and all of it.
    fn body(&self) -> (String, Vec<u8>) {
        const BOUNDARY: &str = "----of-this-test";
        if self.files.is_empty() {
            let plain = |text: &str| -> String {
                text.bytes().map(|byte| format!("%{byte:02X}")).collect()
            };
            let fields = self.fields.iter();
            let fields: Vec<String> = fields
                .map(|(name, value)| format!("{name}={}", plain(value)))
                .collect();
            let kind = "application/x-www-form-urlencoded".to_owned();
            return (kind, fields.join("&").into_bytes());
        }
        let mut body = Vec::new();
        let mut part = |head: &str, content: &[u8]| {
            let head = format!("--{BOUNDARY}\r\nContent-Disposition: form-data; {head}\r\n\r\n");
            body.extend([head.as_bytes(), content, b"\r\n"].concat());
        };
        for (name, value) in &self.fields {
            part(&format!("name=\"{name}\""), value.as_bytes());
        }
        for (name, path) in &self.files {
            let called = path.file_name().expect("a name").to_string_lossy();
            let content = fs::read(path).expect("a file");
            let kind = "Content-Type: application/octet-stream";
            part(
                &format!("name=\"{name}\"; filename=\"{called}\"\r\n{kind}"),
                &content,
            );
        }
        body.extend(format!("--{BOUNDARY}--\r\n").bytes());
        (format!("multipart/form-data; boundary={BOUNDARY}"), body)
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
