//! A commented playbook to start from.

use toml_edit::Value;

/// A small playbook with comments on every part, ready to be edited. It compiles as it is.
/// `name` is the offence's name.
#[must_use]
pub fn scaffold(name: &str) -> String {
    START.replacen("\"NAME\"", &Value::from(name).to_string(), 1)
}

const START: &str = r#"# A playbook: the offence, in words one would say aloud.
# See what is understood with `setdrift draw`, and what is not with `setdrift check`.

name = "NAME"
court = "fiba"  # fiba, nba, ncaa, nfhs, 3x3, or [court] with your own measures
units = "m"  # of numbers without a unit: m, ft or cm

# Your own spots, beside the built-in ones (top, left wing, right elbow, nail ...):
# distance from the end line, distance to the right of the middle as one faces the basket.
[spots]
porch = [7.2, -1.0]

# Where everyone starts, and who has the ball.
[formations.start]
1 = "top"
2 = "left wing"
3 = "right wing"
4 = "left corner"
5 = "right block"
ball = 1

# An option is a list of steps. What stands in one step happens at the same time, except that
# the ball goes from hand to hand in the order written and a cue comes before what waits for it.
[options.entry]
title = "Entry"
after = ["start"]  # formations or options it may follow
steps = [
  [
    "1 passes to 2",
    # The cue: when 1 has passed, and no later than 0.8 s after.
    "1 cuts to rim when 1 passes within 0.8 s",
    "3 replaces 1 when 1 cuts within 1 s",
  ],
  ["1 clears to right corner", "5 lifts to porch"],
]
expect = ["spacing at least 3 m among 2 3 4"]

[options.side-screen]
title = "Side screen"
after = ["entry"]
read = "when X2 is below 2"  # what the defence does when this is the right choice
steps = [
  ["5 screens for 2 at 1 m right of left wing outside lane"],
  [
    "2 dribbles to nail off 5 when 5 screens between -0.2 and 0.6 s",
    "5 rolls to rim",
    "4 lifts to left wing",
  ],
  ["2 passes to 5"],
  ["5 shoots"],
]

# A reset: everyone fills the nearest place of the formation, and the offence starts again.
[options.reset]
title = "Reset"
after = ["entry"]
steps = [["2 passes to 3"]]
returns = "start"
refill = { 5 = 5 }  # the inside player stays inside
"#;
