//! `setdrift draw`: what was understood of a playbook, as court diagrams.

use crate::{error::CommandError, load, printer::Printer};
use clap::ValueEnum;
use serde_json::json;
use setdrift_report::diagram::{DiagramStyle, option_svg, playbook_page, sheet_svg};
use setdrift_tracks::atomic::write_atomic;
use std::path::PathBuf;

/// The hand a diagram is drawn for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum DrawHand {
    /// As declared.
    Right,
    /// Mirrored, words included.
    Left,
}

/// Draw a playbook: one SVG per option, a sheet of all, and a page with the options in motion.
#[derive(clap::Args)]
pub struct DrawArgs {
    /// The playbook.
    playbook: PathBuf,
    /// Folder for the drawings; made if it does not exist.
    #[arg(long, short, default_value = "out/draw")]
    out: PathBuf,
    /// Which hand.
    #[arg(long, value_enum, default_value_t = DrawHand::Right)]
    hand: DrawHand,
    /// Leave out the sentences below each step.
    #[arg(long)]
    bare: bool,
}

/// Runs the command.
pub fn run(args: &DrawArgs, printer: &Printer) -> Result<(), CommandError> {
    let compiled = load::playbook(&args.playbook)?;
    for w in &compiled.warnings.list {
        printer.note(&w.to_string());
    }
    let g = &compiled.graph;
    let style = DiagramStyle {
        left_hand: args.hand == DrawHand::Left,
        captions: !args.bare,
        ..DiagramStyle::default()
    };
    let mut files = vec![
        ("sheet.svg".to_owned(), sheet_svg(g, &style)),
        ("page.html".to_owned(), playbook_page(g, &style)),
    ];
    for (o, option) in g.options.iter().enumerate() {
        // A key may hold anything TOML allows; a file's name may not.
        let key: String = option
            .id
            .chars()
            .map(|c| {
                if c.is_alphanumeric() || c == '-' {
                    c
                } else {
                    '_'
                }
            })
            .take(60)
            .collect();
        files.push((format!("{:02}-{key}.svg", o + 1), option_svg(g, o, &style)));
    }
    for (name, text) in &files {
        write_atomic(&args.out.join(name), text.as_bytes())?;
    }
    if printer.json() {
        let names: Vec<&String> = files.iter().map(|f| &f.0).collect();
        printer.value(&json!({ "folder": args.out.display().to_string(), "files": names }));
    } else {
        printer.text(&format!(
            "{} options drawn, each from every arrangement it can be entered in\nSheet  {}\nPage   {}\n",
            g.options.len(),
            args.out.join("sheet.svg").display(),
            args.out.join("page.html").display()
        ));
    }
    Ok(())
}
