//! court
