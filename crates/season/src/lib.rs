//! Results as tables with documented schemas, and the season folder that keeps them.

pub mod results;
