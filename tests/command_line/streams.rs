//! What becomes of an answer: help, closed pipes, full disks.

use std::ffi::OsString;
use std::io::{self, Write};
use std::process::{Command, Stdio};

use super::run;

/// A stream that fails in one way.
struct Failing(io::ErrorKind);

impl Write for Failing {
    fn write(&mut self, _: &[u8]) -> io::Result<usize> {
        Err(self.0.into())
    }

    fn flush(&mut self) -> io::Result<()> {
        Err(self.0.into())
    }
}

fn run_into(out: io::ErrorKind, line: &str) -> (u8, String) {
    let mut err = Vec::new();
    let arguments = super::words(&format!("dropwise {line}"));
    let code = dropwise::cli::run(
        arguments.into_iter().map(OsString::from),
        &mut Failing(out),
        &mut err,
    );
    (code, String::from_utf8(err).expect("UTF-8"))
}

fn binary() -> Command {
    Command::new(env!("CARGO_BIN_EXE_dropwise"))
}

#[test]
fn help_lists_every_command_and_how_it_ends() {
    let help = run("--help");
    assert_eq!(
        (help.code, help.err.as_str()),
        (0, ""),
        "help was asked for"
    );
    for command in ["new", "target", "match", "predict", "swatch", "batch"] {
        let listed = help
            .out
            .lines()
            .any(|line| line.trim_start().starts_with(&format!("{command} ")));
        assert!(
            listed || help.out.contains(command),
            "{command}: {}",
            help.out
        );
        let own = run(&format!("{command} --help"));
        assert_eq!((own.code, own.err.as_str()), (0, ""), "{command} --help");
        assert!(
            own.out.contains("Usage:") && own.out.contains("--book"),
            "{command}: {}",
            own.out
        );
    }
    let words: Vec<&str> = help.out.split_whitespace().collect();
    let help = words.join(" ");
    for told in [
        "Exit codes: 0 done; 1 no recipe within tolerance; 2 bad input; 3 the machine failed",
        "isocyanates",
    ] {
        assert!(help.contains(told), "{told}: {help}");
    }
}

#[test]
fn the_list_of_commands_says_each_in_one_short_line_and_in_one_form() {
    const WIDTH: usize = 80;
    let help = run("--help").out;
    let plain = anstream::adapter::strip_str(&help).to_string();
    let (_, list) = plain.split_once("Commands:\n").expect("a list");
    let (list, _) = list.split_once("\n\n").expect("that ends");
    let own = list.lines().filter(|line| !line.starts_with("  help"));
    let mut count = 0;
    for line in own {
        assert!(line.chars().count() <= WIDTH, "{line}");
        let (command, does) = line.trim().split_once("  ").expect("what it does");
        // A verb and its object, then a comma and what limits it; another line begins with another command.
        assert!(!command.contains(' '), "{line}");
        assert!(does.trim().starts_with(char::is_uppercase), "{line}");
        assert!(does.matches(", ").count() >= 1, "{line}");
        count += 1;
    }
    assert_eq!(count, 19, "{list}");
}

#[test]
fn the_command_in_the_help_to_begin_with_works() {
    let help = run("--help").out;
    let (_, line) = help
        .split_once("To begin: dropwise ")
        .expect("a first command");
    let said = run(line.lines().next().expect("a line"));
    assert_eq!((said.code, said.err.as_str()), (0, ""), "within tolerance");
}

#[test]
fn the_version_is_told_and_no_command_gets_the_help() {
    let version = run("--version");
    let expected = format!("dropwise {}\n", env!("CARGO_PKG_VERSION"));
    assert_eq!((version.code, version.err.as_str()), (0, ""), "asked for");
    assert!(version.out.contains(expected.trim()), "{}", version.out);
    for line in ["", "swatch"] {
        let nothing = run(line);
        assert_eq!(
            (nothing.code, nothing.out.as_str()),
            (2, ""),
            "no command: {line}"
        );
        assert!(
            nothing.err.contains("Usage:") && nothing.err.contains("Commands:"),
            "{}",
            nothing.err
        );
    }
}

#[test]
fn a_pipe_that_is_closed_is_no_error() {
    for line in ["swatch list", "--help", "target --lab 65,12,17 --json"] {
        assert_eq!(
            run_into(io::ErrorKind::BrokenPipe, line),
            (0, String::new()),
            "{line}"
        );
    }
    let mut child = binary()
        .args(["swatch", "list"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the binary runs");
    drop(child.stdout.take());
    let output = child.wait_with_output().expect("it ends");
    let error = String::from_utf8_lossy(&output.stderr);
    assert_eq!(
        (output.status.code(), &*error),
        (Some(0), ""),
        "closed before a word was read"
    );
}

#[test]
fn a_stream_that_is_full_is_the_machines_fault_and_told() {
    for line in ["swatch list", "--help"] {
        let (code, error) = run_into(io::ErrorKind::StorageFull, line);
        assert_eq!(code, 3, "{line}");
        assert!(
            error.starts_with("error: cannot write the answer: "),
            "{line}: {error}"
        );
    }
}

#[test]
fn piped_text_has_no_colour_codes() {
    let plain = |set: &[(&str, &str)]| {
        let output = binary()
            .args(["swatch", "list"])
            .envs(set.iter().copied())
            .output()
            .expect("it runs");
        String::from_utf8(output.stdout).expect("UTF-8")
    };
    assert!(!plain(&[]).contains('\u{1b}'), "no terminal");
    assert!(
        !plain(&[("NO_COLOR", "1")]).contains('\u{1b}'),
        "not wanted"
    );
    assert!(
        plain(&[("CLICOLOR_FORCE", "1")]).contains("\u{1b}[48;2;"),
        "forced: patches in colour"
    );
}

/// Runs that need a disk, a device or a mount of Linux's.
#[cfg(target_os = "linux")]
mod linux {
    use std::fs::{self, OpenOptions};
    use std::os::unix::fs::FileTypeExt;
    use std::path::Path;
    use std::process::Command;

    use super::super::{folder, run, word};
    use super::binary;

    #[test]
    fn a_full_disk_behind_standard_output_ends_in_three() {
        let full = OpenOptions::new()
            .write(true)
            .open("/dev/full")
            .expect("Linux has it");
        let output = binary()
            .args(["swatch", "list"])
            .stdout(full)
            .output()
            .expect("it runs");
        let error = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(3), "{error}");
        assert!(
            error.starts_with("error: cannot write the answer: ") && error.lines().count() == 1,
            "{error}"
        );
    }

    #[test]
    fn a_device_is_written_to_and_not_replaced() {
        let said = run("target --lab 65,12,17 --save /dev/full");
        assert_eq!((said.code, said.out.as_str()), (3, ""), "{}", said.err);
        assert!(
            said.err
                .starts_with("error: /dev/full: cannot write this file: "),
            "{}",
            said.err
        );
        let device = fs::metadata("/dev/full").expect("still there").file_type();
        assert!(device.is_char_device(), "still a device");
        assert_eq!(
            run("target --lab 65,12,17 --save /dev/null").code,
            0,
            "one that takes it"
        );
    }

    /// A file system of 16 kB in `folder`, until dropped.
    struct SmallDisk<'a>(&'a Path);

    impl<'a> SmallDisk<'a> {
        fn mount(folder: &'a Path) -> Option<Self> {
            let mounted = Command::new("mount")
                .args(["-t", "tmpfs", "-o", "size=16k", "tmpfs"])
                .arg(folder)
                .output();
            mounted
                .is_ok_and(|output| output.status.success())
                .then_some(Self(folder))
        }
    }

    impl Drop for SmallDisk<'_> {
        fn drop(&mut self) {
            let _ = Command::new("umount").arg(self.0).output();
        }
    }

    #[test]
    #[expect(clippy::print_stdout, reason = "a test that skips itself says so")]
    fn a_full_disk_leaves_the_old_file_whole_and_nothing_beside_it() {
        let folder = folder();
        let Some(_disk) = SmallDisk::mount(folder.path()) else {
            println!("skipped: no small disk could be mounted (that takes root)");
            return;
        };
        let path = folder.path().join("tone.json");
        let old = r#"{"written_by":"dropwise","L":50}"#;
        fs::write(&path, old).expect("written");
        fs::write(folder.path().join("ballast"), vec![0; 12 * 1024]).expect("the rest of the disk");
        let said = run(&format!("target --lab 65,12,17 --save {}", word(&path)));
        assert_eq!((said.code, said.out.as_str()), (3, ""), "{}", said.err);
        assert!(
            said.err.contains("tone.json: cannot write this file: "),
            "{}",
            said.err
        );
        assert_eq!(
            fs::read_to_string(&path).expect("still there"),
            old,
            "whole"
        );
        assert_eq!(
            fs::read_dir(folder.path()).expect("a folder").count(),
            2,
            "nothing unfinished is left"
        );
    }
}

#[test]
fn a_pipe_gets_no_colour_and_no_blanks_at_the_ends_of_lines() {
    let said = binary()
        .args(["match", "--target", "66,12,17", "--base-g", "600"])
        .args(["--backing", "white card", "--why"])
        .output()
        .expect("the binary runs");
    let text = String::from_utf8(said.stdout).expect("UTF-8");
    let aim = text.lines().find(|line| line.starts_with("  aim"));
    assert_eq!(aim, Some("  aim             L*  66.0  a*  12.0  b*  17.0"));
    let blank = text.lines().find(|line| line.ends_with(' '));
    assert_eq!(blank, None, "{text}");
    assert!(!text.contains('\u{1b}'), "{text}");
}
