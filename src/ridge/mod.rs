//! Filtered print to ridge lines.
//!
//! The rules of the trade that decide below arch, loop and whorl are rules about single ridges: which one recurves, which one the
//! line between the deltas cuts, where the traced one ends, how many lie between. This room turns the print that
//! [`crate::field`] filtered along its flow into lines one pixel wide ([`lines`], thinned by [`thin`]), names what they do
//! ([`formation`]: endings, forks, islands, dots, short ridges) and follows one of them ([`mod@walk`]) the way a tracing does: at a fork a
//! limb is taken, an ink break is bridged, a ridge that ends has ended.
//!
//! The phase of the ridges is the sign of the filtered print: a ridge where it is negative, a valley where it is positive. Filtering along the
//! flow closes pores and the breaks of dry ink that are shorter than a ridge period, and keeps real endings, because the
//! neighbours of a real ending close up beside it and those of a break do not.

pub mod formation;
mod ink;
pub mod lines;
pub mod thin;
pub mod walk;

pub use formation::Formation;
pub use lines::{Crossing, Pixel, Region, RidgeLines};
pub use walk::{AtFork, Stop, Walk};

/// Settings of the ridge lines.
#[derive(Debug, Clone)]
pub struct RidgeSettings {
    /// Spurs that thinning leaves are shorter than this, in ridge periods (half a ridge is about 0.25; a real limb that short shows no
    /// direction).
    pub spur: f64,
    /// Pieces of ridge shorter than this are dots, in ridge periods.
    pub dot: f64,
    /// Pieces of ridge shorter than this, with both ends free, are short ridges, in ridge periods.
    pub short: f64,
    /// Two forks whose limbs meet again within this length enclose an island, in ridge periods.
    pub island: f64,
    /// Longest break that may be ink, in ridge periods: the filter closes shorter ones by itself.
    pub longest_break: f64,
    /// How far a ridge may shift sideways over a break and still be the same, in ridge periods.
    pub break_shift: f64,
    /// A piece of ridge whose depth is less than this share of the typical ridge's is thinner than its neighbours and does not
    /// count (handbook, chapter II, ridge counting: dots and fragments as thick and heavy as the surrounding ridges).
    pub least_depth: f64,
}

impl Default for RidgeSettings {
    fn default() -> Self {
        Self { spur: 0.55, dot: 0.6, short: 2.2, island: 3.0, longest_break: 1.3, break_shift: 0.38, least_depth: 0.35 }
    }
}
