//! What shells complete and what `man` shows: made from the commands as they are, and readable by those programs.

use std::process::{Command, Stdio};

use dropwise::cli::Plain;

use super::run;

/// The commands that `--help` lists.
fn commands() -> Vec<String> {
    let mut help = Vec::new();
    let coloured = run("--help").out;
    std::io::Write::write_all(&mut Plain::new(&mut help), coloured.as_bytes()).expect("memory");
    let help = String::from_utf8(help).expect("text");
    let listed = help.split("Commands:").nth(1).expect("a list of commands");
    let named = listed.lines().skip(1).take_while(|line| !line.is_empty());
    let named = named.filter_map(|line| line.split_whitespace().next());
    named.map(str::to_owned).collect()
}

/// Whether `program` takes `text` on its standard input; `None` where it isn't there.
fn takes(program: &str, arguments: &[&str], text: &str) -> Option<bool> {
    let mut child = Command::new(program)
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .ok()?;
    let mut input = child.stdin.take().expect("standard input");
    std::io::Write::write_all(&mut input, text.as_bytes()).expect("the program reads");
    drop(input);
    Some(child.wait().expect("the program ends").success())
}

#[expect(clippy::print_stdout, reason = "a test that skips itself says so")]
fn skipped(reason: &str) {
    println!("skipped: {reason}");
}

#[test]
fn every_shell_is_told_every_command_and_bash_reads_what_it_is_told() {
    let commands = commands();
    assert!(commands.len() > 15, "commands: {commands:?}");
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let said = run(&format!("completions {shell}"));
        assert_eq!((said.code, &*said.err), (0, ""), "{shell}");
        for command in &commands {
            assert!(said.out.contains(command.as_str()), "{shell}: {command}");
        }
    }
    match takes("bash", &["-n"], &run("completions bash").out) {
        Some(taken) => assert!(taken, "bash reads it"),
        None => skipped("no bash on this machine"),
    }
    assert_eq!(run("completions abacus").code, 2, "no such shell");
}

#[test]
fn the_program_and_each_command_have_a_page_for_man() {
    let whole = run("man");
    assert_eq!((whole.code, &*whole.err), (0, ""), "the program's page");
    for command in commands() {
        assert!(
            whole.out.contains(&command.replace('-', "\\-")),
            "{command}"
        );
        let page = run(&format!("man {command}"));
        let title = page.out.lines().find(|line| line.starts_with(".TH"));
        let named = title.is_some_and(|title| title.contains(&format!("dropwise-{command}")));
        assert!(page.code == 0 && named, "{command}: {title:?}");
    }
    match takes("groff", &["-man", "-Tutf8", "-ww"], &whole.out) {
        Some(taken) => assert!(taken, "groff reads it"),
        None => skipped("no groff on this machine"),
    }
    let unknown = run("man abacus");
    assert_eq!(unknown.code, 2, "no such command");
    assert!(
        unknown.err.contains("no command `abacus`"),
        "{}",
        unknown.err
    );
}
