//! How much we read at most: beyond this a file is not a session but a mistake, or an attack.

/// Bytes of text after decompression: about sixteen full games.
pub(crate) const TEXT_BYTES: u64 = 1 << 30;
/// How many times larger than what was unpacked so far its text may be, once above [`FREE_BYTES`]. Text of
/// coordinates compresses three to ten times.
pub(crate) const RATIO: u64 = 200;
/// Text below this size is not checked for its ratio.
pub(crate) const FREE_BYTES: u64 = 16 << 20;
/// Bytes of a column's name.
pub(crate) const NAME_BYTES: usize = 512;
/// Rows of a table.
pub(crate) const ROWS: u64 = 50_000_000;
/// Bytes of a Parquet table once unpacked, as it declares them itself.
pub(crate) const TABLE_BYTES: u64 = 8 << 30;
/// Columns of a table.
pub(crate) const COLUMNS: usize = 4_096;
/// Objects in a session: two rosters, officials and spare sensors.
pub(crate) const OBJECTS: usize = 256;
/// Length of a session: twelve hours.
pub(crate) const SESSION_S: f64 = 12.0 * 3600.0;
/// Frames times objects of a session.
pub(crate) const SAMPLES: f64 = 200e6;
