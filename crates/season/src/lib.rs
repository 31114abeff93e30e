//! season
