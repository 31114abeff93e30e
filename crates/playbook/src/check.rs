//! Checks over the whole: what leads nowhere, what nothing leads to, who stands on whom.

use crate::book::{Book, OptionWords};
use crate::diagnostic::Note;
use crate::graph::{ActionKind, Graph, Motion};
use crate::plan::{Said, in_unit};

/// Two who stand nearer than this are in one place, metres. Shoulder breadth, about 0.45 m.
const ONE_PLACE: f64 = 0.45;
/// Frames both must have stood still.
const STILL: usize = 3;

/// Checks the compiled graph against what was written.
pub(crate) fn check(book: &Book, graph: &Graph, notes: &mut Vec<Note>) {
    let broken: Vec<bool> = book
        .options
        .iter()
        .map(|o| {
            notes.iter().any(|n| {
                n.severity == crate::diagnostic::Severity::Error
                    && o.steps
                        .iter()
                        .flatten()
                        .any(|s| s.span.start <= n.span.start && n.span.end <= s.span.end)
            })
        })
        .collect();
    let any_broken = broken.iter().any(|b| *b);
    for (o, option) in book.options.iter().enumerate() {
        let last: Vec<usize> = graph
            .nodes
            .iter()
            .enumerate()
            .filter(|(_, n)| n.option == o && n.last)
            .map(|(i, _)| i)
            .collect();
        if last.is_empty() {
            // With errors elsewhere, an option may be cut off only by those.
            if !any_broken {
                notes.push(
                    Note::error(
                        "unreachable",
                        option.span.clone(),
                        format!("nothing leads to option `{}`", option.id),
                    )
                    .help(
                        "name in its `after` a formation, or an option that can be reached from one",
                    ),
                );
            }
            continue;
        }
        let dead = last.iter().any(|n| {
            !graph.edges.iter().any(|e| e.from == *n)
                && !graph.nodes[*n]
                    .actions
                    .iter()
                    .any(|a| a.kind == ActionKind::Shot)
        });
        if dead && option.returns.is_none() {
            notes.push(
                Note::warning(
                    "dead-end",
                    option.span.clone(),
                    format!(
                        "option `{}` ends without a shot, a reset or anything that may follow",
                        option.id
                    ),
                )
                .help(
                    "end it with `… shoots`, give it `returns = \"…\"`, or name it in another's \
                     `after`",
                ),
            );
        }
    }
    for (f, (formation, _, span)) in book.formations.iter().enumerate() {
        for a in 0..formation.places.len() {
            for b in a + 1..formation.places.len() {
                if formation.places[a].distance(formation.places[b]) < ONE_PLACE {
                    notes.push(Note::error(
                        "one-place",
                        span.clone(),
                        format!(
                            "`{}` and `{}` stand in one place in formation `{}`",
                            book.roles()[a],
                            book.roles()[b],
                            formation.name
                        ),
                    ));
                }
            }
        }
        let used = book.options.iter().any(|o| {
            o.returns.as_ref().is_some_and(|r| r.value == f)
                || o.after
                    .iter()
                    .any(|x| x.value == crate::book::After::Formation(f))
        });
        if !used {
            notes.push(Note::warning(
                "unused-formation",
                span.clone(),
                format!(
                    "no option begins in or returns to formation `{}`",
                    formation.name
                ),
            ));
        }
    }
}

/// Two players who stand in one place during a step.
pub(crate) fn crowding(
    book: &Book,
    m: &Motion,
    said: &[Said<'_>],
    option: &OptionWords,
    notes: &mut Vec<Note>,
) {
    let still = |r: usize, f: usize| {
        f >= STILL && (f - STILL..f).all(|k| m.roles[r][k].distance(m.roles[r][k + 1]) < 0.02)
    };
    for a in 0..m.roles.len() {
        for b in a + 1..m.roles.len() {
            // At a step's end all have arrived, so whoever is there stands there.
            let last = m.frames() - 1;
            let hit = (0..m.frames()).find(|&f| {
                m.roles[a][f].distance(m.roles[b][f]) < ONE_PLACE
                    && (f == last || (still(a, f) && still(b, f)))
            });
            let Some(f) = hit else { continue };
            let span = said
                .iter()
                .rev()
                .find(|s| s.who.contains(&a) || s.who.contains(&b))
                .map_or(option.span.clone(), |s| s.words.span.clone());
            let d = m.roles[a][f].distance(m.roles[b][f]);
            notes.push(
                Note::error(
                    "one-place",
                    span,
                    format!(
                        "`{}` and `{}` stand in one place ({} apart)",
                        book.roles()[a],
                        book.roles()[b],
                        in_unit(d, book.unit)
                    ),
                )
                .help("move one of them, for instance to `3 ft above left elbow`"),
            );
        }
    }
}
