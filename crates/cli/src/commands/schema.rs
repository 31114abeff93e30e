//! `setdrift schema`: the JSON Schema of a playbook, for editors.

use crate::{error::CommandError, printer::Printer};

/// Print the JSON Schema of a playbook, for editors that check TOML against one.
#[derive(clap::Args)]
pub struct SchemaArgs {}

/// Runs the command.
pub fn run(_: &SchemaArgs, printer: &Printer) -> Result<(), CommandError> {
    printer.value(&setdrift_playbook::json_schema());
    Ok(())
}
