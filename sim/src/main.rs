//! The program `drydown`.

use std::fmt::Display;
use std::io::{ErrorKind, Write};
use std::process::ExitCode;

use clap::{CommandFactory, FromArgMatches, Parser, Subcommand};
use drydown_sim::command::calibrate::CalibrateArgs;
use drydown_sim::command::campaign::CampaignArgs;
use drydown_sim::command::check::CheckArgs;
use drydown_sim::command::diff::DiffArgs;
use drydown_sim::command::explain::ExplainArgs;
use drydown_sim::command::fit::FitArgs;
use drydown_sim::command::hunt::HuntArgs;
use drydown_sim::command::leave::LeaveArgs;
use drydown_sim::command::new::NewArgs;
use drydown_sim::command::pack::PackArgs;
use drydown_sim::command::replay::ReplayArgs;
use drydown_sim::command::run::RunArgs;
use drydown_sim::command::sheet::SheetArgs;
use drydown_sim::command::size::SizeArgs;
use drydown_sim::command::sweep::SweepArgs;
use drydown_sim::command::watch::WatchArgs;
use drydown_sim::command::weather::WeatherArgs;
use drydown_sim::command::{
    calibrate, campaign, check, diff, explain, fit, hunt, leave, line, new, pack, replay, run,
    sheet, size, sweep, watch, weather,
};

/// Tries a small watering device against soil, weather and faults before it is left alone
#[derive(Parser)]
#[command(name = "drydown", version, max_term_width = 80)]
struct Program {
    #[command(subcommand)]
    command: Option<Command>,
}

#[derive(Subcommand)]
enum Command {
    New(Box<NewArgs>),
    Check(CheckArgs),
    Size(SizeArgs),
    Leave(LeaveArgs),
    Run(RunArgs),
    Sweep(SweepArgs),
    Hunt(HuntArgs),
    Campaign(CampaignArgs),
    Watch(WatchArgs),
    Weather(WeatherArgs),
    Calibrate(Box<CalibrateArgs>),
    Fit(FitArgs),
    Replay(ReplayArgs),
    Diff(DiffArgs),
    Sheet(SheetArgs),
    Pack(PackArgs),
    Explain(ExplainArgs),
}

/// Where the built-in run leaves its page.
const PAGE: &str = "drydown-dry-week.html";

fn main() -> ExitCode {
    let program = match program() {
        Ok(program) => program,
        Err(error) => return unread(&error),
    };
    let result = match program.command {
        None => run::run(&built_in()),
        Some(Command::New(args)) => new::run(&args),
        Some(Command::Check(args)) => check::run(&args),
        Some(Command::Size(args)) => size::run(&args),
        Some(Command::Leave(args)) => leave::run(&args),
        Some(Command::Run(args)) => run::run(&args),
        Some(Command::Sweep(args)) => sweep::run(&args),
        Some(Command::Hunt(args)) => hunt::run(&args),
        Some(Command::Campaign(args)) => campaign::run(&args),
        Some(Command::Watch(args)) => watch::run(&args),
        Some(Command::Weather(args)) => weather::run(&args),
        Some(Command::Calibrate(args)) => calibrate::run(&args),
        Some(Command::Fit(args)) => fit::run(&args),
        Some(Command::Replay(args)) => replay::run(&args),
        Some(Command::Diff(args)) => diff::run(&args),
        Some(Command::Sheet(args)) => sheet::run(&args),
        Some(Command::Pack(args)) => pack::run(&args),
        Some(Command::Explain(args)) => explain::run(&args),
    };
    match result {
        Ok(printed) => {
            let mut out = std::io::stdout();
            let written = out.write_all(printed.text.as_bytes()).and_then(|()| out.flush());
            for note in printed.notes {
                tell(&note);
            }
            match written {
                // A reader that closed the pipe has seen what it wanted.
                Err(error) if error.kind() != ErrorKind::BrokenPipe => {
                    tell(&format_args!("The output cannot be written: {error}."));
                    ExitCode::from(2)
                }
                _ if printed.bad => ExitCode::FAILURE,
                _ => ExitCode::SUCCESS,
            }
        }
        Err(error) => {
            tell(&error);
            ExitCode::from(2)
        }
    }
}

/// Says it beside the output. Where nobody listens the exit code speaks.
fn tell(message: &dyn Display) {
    let _ = writeln!(std::io::stderr(), "{message}");
}

/// The line as it was typed. A number below zero is a value to every command: a latitude, or days that
/// the command itself refuses with its bound.
fn program() -> Result<Program, clap::Error> {
    let line = Program::command().mut_subcommands(|command| command.allow_negative_numbers(true));
    Program::from_arg_matches(&line.try_get_matches()?)
}

/// Help and version are shown; anything else is said like what is wrong in a file.
fn unread(error: &clap::Error) -> ExitCode {
    if let Some(refused) = line::refused(error) {
        tell(&refused);
        return ExitCode::from(2);
    }
    // A reader that closed the pipe has seen what it wanted.
    let _ = error.print();
    ExitCode::SUCCESS
}

/// Without a command: the built-in dry week, with its page.
fn built_in() -> RunArgs {
    #[derive(Parser)]
    struct Defaults {
        #[command(flatten)]
        run: RunArgs,
    }
    let Defaults { run } = Defaults::parse_from(["drydown", "--page", PAGE]);
    run
}
