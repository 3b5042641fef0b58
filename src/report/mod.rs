//! Proposals as JSON Lines, CSV and tables.
