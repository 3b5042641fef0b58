//! Advisory pre-screening of fingerprint patterns for a qualified examiner.

#![forbid(unsafe_code)]
#![warn(missing_docs)]

pub mod cli;
pub mod draw;
pub mod error;
pub mod field;
pub mod formula;
pub mod geometry;
pub mod impression;
pub mod intake;
pub mod pattern;
pub mod picture;
pub mod proposal;
pub mod report;
pub mod screener;
pub mod singular;

pub use error::Error;
pub use impression::{Impression, PpiFrom};
pub use proposal::{Proposal, Status};
pub use screener::{Screener, Settings};
