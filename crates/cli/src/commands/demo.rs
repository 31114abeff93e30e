//! `setdrift demo`: the main job on the bundled sample.

use super::review::{self, ReviewArgs};
use crate::{error::CommandError, printer::Printer};
use std::path::{Path, PathBuf};

/// Review the bundled sample: three games and a practice of an invented club.
#[derive(clap::Args)]
pub struct DemoArgs {
    /// Folder with the sample.
    #[arg(long, default_value = "sample-tracks")]
    sample: PathBuf,
    /// Folder for the results.
    #[arg(long, default_value = "out/demo")]
    out: PathBuf,
}

/// Runs the command.
pub fn run(args: &DemoArgs, printer: &Printer) -> Result<(), CommandError> {
    let playbook = args.sample.join("lantern.toml");
    if !Path::new(&playbook).is_file() {
        return Err(CommandError::input(
            format!("no sample in `{}`", args.sample.display()),
            "run this in the folder of the source code, or name the sample with --sample",
        ));
    }
    review::run(
        &ReviewArgs::new(vec![args.sample.clone()], playbook, args.out.clone()),
        printer,
    )
}
