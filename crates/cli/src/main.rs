//! The `setdrift` command: arguments in, exit code out. No logic lives here.

mod commands;
mod error;
mod load;
mod printer;
mod show;

use clap::{Parser, Subcommand};
use printer::Printer;
use std::process::ExitCode;

/// Audit a basketball offence from tracking data: which option was run, who left late, where the
/// screen was set, what players did instead.
#[derive(Parser)]
#[command(
    name = "setdrift",
    version,
    max_term_width = 80,
    propagate_version = true
)]
struct Cli {
    /// Write one JSON document to standard output instead of tables.
    #[arg(long, global = true)]
    json: bool,
    /// Do not show progress.
    #[arg(long, global = true)]
    quiet: bool,
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    Review(commands::review::ReviewArgs),
    Demo(commands::demo::DemoArgs),
    Marks(commands::marks::MarksArgs),
    Score(commands::score::ScoreArgs),
    Inspect(commands::inspect::InspectArgs),
    Convert(commands::convert::ConvertArgs),
    Simulate(commands::simulate::SimulateArgs),
    Check(commands::check::CheckArgs),
    Draw(commands::draw::DrawArgs),
    Fit(commands::fit::FitArgs),
    Format(commands::format::FormatArgs),
    New(commands::new::NewArgs),
    Schema(commands::schema::SchemaArgs),
}

fn main() -> ExitCode {
    let cli = Cli::parse();
    let printer = Printer::new(cli.json, cli.quiet);
    let done = match cli.command {
        Command::Review(args) => commands::review::run(&args, &printer),
        Command::Demo(args) => commands::demo::run(&args, &printer),
        Command::Marks(args) => commands::marks::run(&args, &printer),
        Command::Score(args) => commands::score::run(&args, &printer),
        Command::Inspect(args) => commands::inspect::run(&args, &printer),
        Command::Convert(args) => commands::convert::run(&args, &printer),
        Command::Simulate(args) => commands::simulate::run(&args, &printer),
        Command::Check(args) => commands::check::run(&args, &printer),
        Command::Draw(args) => commands::draw::run(&args, &printer),
        Command::Fit(args) => commands::fit::run(&args, &printer),
        Command::Format(args) => commands::format::run(&args, &printer),
        Command::New(args) => commands::new::run(&args, &printer),
        Command::Schema(args) => commands::schema::run(&args, &printer),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            printer.error(&error);
            error.kind.into()
        }
    }
}
