//! The program `drydown`.

use std::io::Write;
use std::process::ExitCode;

use clap::{Parser, Subcommand};
use drydown_sim::command::weather;

#[derive(Parser)]
#[command(name = "drydown", version, about = "Proves a watering set-up before it is left alone")]
struct Program {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    Weather(weather::WeatherArgs),
}

fn main() -> ExitCode {
    let result = match Program::parse().command {
        Command::Weather(args) => weather::run(&args),
    };
    match result {
        // A reader that closed the pipe has seen what it wanted.
        Ok(report) => match std::io::stdout().write_all(report.as_bytes()) {
            Ok(()) => ExitCode::SUCCESS,
            Err(_) => ExitCode::FAILURE,
        },
        Err(error) => {
            eprintln!("{error}");
            ExitCode::from(2)
        }
    }
}
