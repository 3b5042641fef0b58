//! The walk of one print through the rooms, a line a room.

use crate::error::Error;
use crate::impression::Impression;
use crate::proposal::Proposal;

/// Settings of every room.
#[derive(Debug, Clone, Default)]
pub struct Settings {}

/// Screens prints one at a time.
#[derive(Debug, Clone, Default)]
pub struct Screener {
    settings: Settings,
}

impl Screener {
    /// A screener with the given settings.
    pub fn new(settings: Settings) -> Self {
        Self { settings }
    }

    /// Screens one print.
    ///
    /// # Errors
    /// When the impression itself is unusable; a print that cannot be read is an abstention instead.
    pub fn screen(&self, _print: &Impression) -> Result<Proposal, Error> {
        let _ = &self.settings;
        Err(Error::bad_value("screener", "not built yet"))
    }
}
