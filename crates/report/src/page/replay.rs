//! The replay panel: the court and its controls, empty until the script fills them.

use super::court;
use crate::html::put;
use setdrift_court::Court;

/// Floor shown past the half-way line, metres, for those who are still coming.
const BELOW_M: f64 = 1.5;

/// The panel.
pub fn panel(court: &Court) -> String {
    let mut o = String::from(
        "<aside id=\"replay\" aria-labelledby=\"replay-h\"><div class=\"bar\"><h2 id=\"replay-h\">Replay</h2><p id=\"r-title\">Choose a possession, a mark or a time.</p><button type=\"button\" id=\"r-back\" aria-label=\"Back to where I was\" hidden>Back</button><button type=\"button\" id=\"r-close\" hidden>Close</button></div><p class=\"noscript\">The replay needs scripts; everything else on this page is readable without them.</p><div id=\"r-body\" hidden><p class=\"vh\" role=\"status\" id=\"r-say\"></p>",
    );
    put!(
        o,
        "<div class=\"stage\"><svg id=\"r-court\" class=\"court\" viewBox=\"{}\" role=\"img\" aria-labelledby=\"r-now\">{}<g id=\"r-trails\"></g><g id=\"r-ghosts\"></g><g id=\"r-people\"></g></svg></div>",
        court::view_box(court, BELOW_M),
        court::lines(court, BELOW_M)
    );
    o.push_str(concat!(
        "<div class=\"drive\"><p id=\"r-now\"></p>",
        "<svg id=\"r-line\" aria-hidden=\"true\"></svg>",
        "<input type=\"range\" id=\"r-scrub\" min=\"0\" value=\"0\" step=\"1\" aria-label=\"Time in the possession\">",
        "<div class=\"keys\"><button type=\"button\" id=\"r-play\">Play</button>",
        "<button type=\"button\" id=\"r-prev\" aria-label=\"Previous mark\">◂ mark</button>",
        "<button type=\"button\" id=\"r-next\" aria-label=\"Next mark\">mark ▸</button>",
        "<select id=\"r-speed\" aria-label=\"Speed\"><option value=\"0.25\">¼×</option><option value=\"0.5\">½×</option><option value=\"1\" selected>1×</option><option value=\"2\">2×</option></select>",
        "<button type=\"button\" id=\"r-up\" aria-label=\"Previous possession\" title=\"Previous possession\">◂◂</button>",
        "<button type=\"button\" id=\"r-down\" aria-label=\"Next possession\" title=\"Next possession\">▸▸</button></div>",
        "<div class=\"shows\"><label><input type=\"checkbox\" id=\"r-declared\" checked> declared</label>",
        "<label><input type=\"checkbox\" id=\"r-trail\" checked> trails</label>",
        "<label><input type=\"checkbox\" id=\"r-defend\" checked> defenders</label>",
        "<label><input type=\"checkbox\" id=\"r-roles\"> roles for numbers</label></div></div>",
        "<table id=\"r-off\" hidden><caption>From the declared place, now</caption><tbody></tbody></table>",
        "<div><h3>What happens</h3><ol id=\"r-marks\"></ol></div>",
        "<p class=\"fine\">Keys here: space plays, arrows step 0.1 s, with shift 1 s, [ and ] go from mark to mark, P and N from possession to possession, Esc goes back. Filled circle: player; dashed ring: where the role belongs by the playbook; cross: defender; hollow: position filled in.</p>",
        "</div></aside>"
    ));
    o
}
