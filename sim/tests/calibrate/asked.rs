//! What is asked of a person at a terminal.

use clap::Parser;
use drydown_sim::command::asking::Asks;
use drydown_sim::command::calibrate::{CalibrateArgs, run_asking};

use crate::bench::BENCH;
use crate::from_outside::Folder;

#[derive(Parser)]
struct Call {
    #[command(flatten)]
    args: CalibrateArgs,
}

/// Somebody who answers in turn, and remembers what was asked.
struct Person {
    answers: Vec<&'static str>,
    asked: Vec<String>,
}

impl Asks for Person {
    fn ask(&mut self, question: &str) -> Option<String> {
        self.asked.push(question.to_owned());
        (!self.answers.is_empty()).then(|| self.answers.remove(0).to_owned())
    }
}

fn asked(table: &str, answers: &[&'static str]) -> (Result<String, String>, Vec<String>) {
    let folder = Folder::new(&format!("calibrate-asked-{}-{}", table.len(), answers.join("-")));
    let path = folder.write("readings.csv", table);
    let call = Call::parse_from(["calibrate", &path]);
    let mut person = Person { answers: answers.to_vec(), asked: vec![] };
    let made = run_asking(&call.args, &mut person);
    (made.map(|printed| printed.text).map_err(|error| error.to_string()), person.asked)
}

#[test]
fn the_direction_is_asked_back_once() {
    let (made, questions) = asked(BENCH, &["y"]);
    assert!(made.expect("it is calibrated").contains("Yes. From 6 to 57 %"));
    assert_eq!(questions.len(), 1);
    assert!(questions[0].contains("from 2580 at the dry end to 1566 at the wet end"));
    let (made, _) = asked(BENCH, &["n"]);
    assert!(made.expect_err("it is refused").contains("swapped"));
}

#[test]
fn with_two_ends_the_drained_pot_is_asked_for() {
    let ends = "point,raw\nair,2850\nwater,870\n";
    let (made, questions) = asked(ends, &["1622", "55,5", "yes"]);
    let told = made.expect("it is calibrated");
    assert!(told.contains("From 0.0 to 55.5 % by volume, counts 2850 to 1622"), "{told}");
    assert_eq!(questions.len(), 3);
    assert!(questions[0].contains("soaked pot") && questions[1].contains("% by volume"));
    let (made, _) = asked(ends, &["lots"]);
    assert!(made.expect_err("it is refused").contains("the answer is `lots`"));
    let (made, _) = asked(ends, &[""]);
    assert!(made.expect_err("it is refused").contains("--span-only"));
}
