//! `setdrift review`: the main job, from tracks to tables and page.

use crate::{error::CommandError, printer::Printer};
use std::path::PathBuf;

/// Review sessions against a playbook: tables and a page.
#[derive(clap::Args)]
pub struct ReviewArgs {
    /// Track files, or folders of them.
    #[arg(required = true)]
    tracks: Vec<PathBuf>,
    /// The playbook.
    #[arg(long, short)]
    playbook: PathBuf,
    /// Folder for the results; made if it does not exist.
    #[arg(long, short, default_value = "out/review")]
    out: PathBuf,
}

impl ReviewArgs {
    /// Arguments as if given on the command line.
    pub fn new(tracks: Vec<PathBuf>, playbook: PathBuf, out: PathBuf) -> Self {
        Self {
            tracks,
            playbook,
            out,
        }
    }
}

/// Runs the command.
pub fn run(args: &ReviewArgs, printer: &Printer) -> Result<(), CommandError> {
    let _ = (args, printer);
    Err(CommandError::system(
        "the pipeline is not assembled yet",
        "wait for the next commit",
    ))
}
