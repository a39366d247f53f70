//! An interrupt from the keyboard ends a search with the best so far and its honest gap.

use std::os::unix::process::ExitStatusExt as _;
use std::process::{Child, Command, Output, Stdio};
use std::thread;
use std::time::Duration;

use serde_json::Value;

use super::{number, words};

/// A search whose proof outlasts every wait of this test: hundreds of drops of eight pigments for a blue that none comes near,
/// where little can be left out unlooked at.
const HARD: &str = "match --target 40,0,-20 --base-g 600 --backing \"white card\" --within 0 --max-pigments 8 --max-drops 1000 \
                    --max-total-drops 2000 --time-limit 100000 --json";

/// What ended a program as a signal.
const SIGINT: i32 = 2;

fn begin(line: &str) -> Child {
    Command::new(env!("CARGO_BIN_EXE_dropwise"))
        .args(words(line))
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the binary starts")
}

fn interrupt(child: &Child) {
    let sent = Command::new("kill")
        .args(["-INT", &child.id().to_string()])
        .status();
    assert!(sent.expect("kill runs").success(), "the signal is sent");
}

/// What the program says when it is interrupted once it searches. Before that an interrupt ends it as any program, and then
/// it is begun anew with a longer wait.
fn interrupted(line: &str) -> Output {
    for wait_ms in [250, 500, 1_000, 2_000, 4_000, 8_000, 16_000, 32_000, 64_000] {
        let child = begin(line);
        thread::sleep(Duration::from_millis(wait_ms));
        interrupt(&child);
        let output = child.wait_with_output().expect("it ends");
        if output.status.signal() != Some(SIGINT) && output.status.code() != Some(130) {
            return output;
        }
    }
    panic!("it never came as far as the search: {line}");
}

fn answer(output: &Output) -> Value {
    let [out, err] = [&output.stdout, &output.stderr].map(|bytes| String::from_utf8_lossy(bytes));
    assert_eq!(&*err, "", "nothing is wrong");
    serde_json::from_str(&out).unwrap_or_else(|error| panic!("{error}: {out}"))
}

#[test]
fn an_interrupted_match_gives_the_best_so_far_with_its_gap() {
    let output = interrupted(HARD);
    let answer = answer(&output);
    let (gap, recipes) = (number(&answer["gap"]), &answer["recipes"]);
    assert_eq!(answer["proven"], false, "it was not let finish");
    assert!(gap > 0.0, "and may be off by that: {gap}");
    let worst = recipes.as_array().expect("recipes").last();
    let worst = number(&worst.expect("one at least")["delta_e"]);
    assert!(
        gap <= worst + 1e-9,
        "none is nearer than 0: {gap} of {worst}"
    );
    // Exit code 0 is within tolerance, 1 is not.
    let passes = answer["passes"].as_bool().expect("yes or no");
    assert_eq!(output.status.code(), Some(i32::from(!passes)), "as it says");
}

#[test]
fn an_interrupted_correct_gives_both_answers_with_their_gaps() {
    // A blue that no cup of these pigments comes near: where all is far off, little can be left out unlooked at.
    let output = interrupted(
        "correct --target 30,30,-20 --measured 64,10,13 --base \"clear skin\" --base-g 6000 --thickness-mm 2 --backing \
         \"white card\" --mix \"titanium white 60; iron oxide red 40\" --no-log --within 0 --max-add 1000 --time-limit 100000 \
         --json",
    );
    let answer = answer(&output);
    assert!(answer["add"].is_object(), "the cup on the bench: {answer}");
    assert!(number(&answer["gap"]) > 0.0, "not let finish: {answer}");
    let next = &answer["next"];
    assert!(next["drops"].is_object(), "the next one: {answer}");
    assert_eq!(next["proven"], false, "nor that: {answer}");
    assert!(number(&next["gap"]) > 0.0, "and says by how much: {answer}");
    assert_eq!(output.status.code(), Some(1), "this blue is out of reach");
}
