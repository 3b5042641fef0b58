//! Advisory pre-screening of fingerprint patterns for a qualified examiner.
//!
//! Recurve reads one grey print, follows its ridges, finds cores and deltas and proposes the pattern, with a calibrated
//! probability, with every other reading worth a look and with reasons in the trade's words. It compares no prints and
//! identifies nobody: each [`Proposal`] is for an examiner to confirm or correct, and says so ([`proposal::ADVISORY`]).
//!
//! # A print end to end
//!
//! ```
//! use recurve::draw::{Framing, Kind, Wish, draw};
//! use recurve::proposal::General;
//! use recurve::{Impression, Screener, Settings, Status};
//!
//! // A print whose answer is known: a left-slant loop, drawn as a flat live scan at 500 pixels per inch.
//! let drawn = draw(&Wish { framing: Framing::Plain, ..Wish::of(Kind::LeftLoop) }, 1)?;
//! let (height, width) = drawn.pixels.dim();
//! let gray: Vec<u8> = drawn.pixels.iter().map(|v| (255.0 * v).round() as u8).collect();
//!
//! // Rows of grey values, 0 black; the finger (2, right index) lets a loop be called ulnar or radial.
//! let print = Impression::from_gray8(width, height, &gray, Some(500.0))?.with_finger(2)?.named("drawn loop");
//! let proposal = Screener::new(Settings::default()).screen(&print)?;
//!
//! assert_eq!(proposal.status, Status::Proposed);
//! let reading = proposal.pattern.expect("a proposed print has a reading");
//! assert_eq!(reading.general, General::Ls);
//! assert!(reading.probability > 0.5);
//!
//! // The core lies where it was drawn, in pixels of the image as given.
//! let (found, truth) = (proposal.cores[0], drawn.truth.cores[0].at);
//! assert!((found.x - truth.x).hypot(found.y - truth.y) < 10.0);
//!
//! // One line of the result format `recurve.proposal/1`.
//! let line = serde_json::to_string(&proposal).expect("a proposal is plain data");
//! assert!(line.contains("Not an identification."));
//! # Ok::<(), recurve::Error>(())
//! ```
//!
//! A print that allows no reading is answered, not refused: [`Status::Abstained`] with the reason. [`Error`] is for calls that
//! make no sense, such as a resolution of 7 pixels per inch.
//!
//! ```
//! use recurve::{Impression, Screener, Status};
//! let paper = Impression::from_gray8(300, 300, &[250; 90_000], Some(500.0))?;
//! let proposal = Screener::default().screen(&paper)?;
//! assert_eq!(proposal.status, Status::Abstained);
//! println!("{}", proposal.reasons[0].text);
//! # Ok::<(), recurve::Error>(())
//! ```
//!
//! # Doors
//!
//! | wanted | door |
//! |---|---|
//! | a proposal for pixels in memory | [`Impression::from_gray8`], [`Impression::from_gray16`], [`Screener::screen`] |
//! | a proposal for an image file | [`intake::read`], then [`Screener::screen`] |
//! | what the proposal was read from | [`Screener::examine`]: the ridge field and all points that were weighed |
//! | a picture that explains it | [`picture::svg`] |
//! | the prints of a scanned card | [`card::find`], then [`card_screener::screen_card`] |
//! | the ridge flow alone | [`field::estimate`] |
//! | the written ten-finger classification | [`formula`] |
//! | prints with known truth | [`draw::draw`] |
//!
//! # Rooms
//!
//! A print goes one way through the rooms; each imports only those above it.
//!
//! | room | from | to |
//! |---|---|---|
//! | [`intake`] | bytes | [`Impression`]: scale and polarity known |
//! | [`card`] | scan of a ten-print card | one [`Impression`] for each finger |
//! | [`field`] | [`Impression`] | [`field::RidgeField`]: flow, period, foreground |
//! | [`network`] | [`field::RidgeField`] | [`network::Sight`]: what a trained network takes the print for |
//! | [`singular`] | [`field::RidgeField`] | [`singular::Singularities`]: cores, deltas, how sure each is |
//! | [`ridge`] | [`field::RidgeField`] | [`ridge::RidgeLines`]: single ridges, endings, forks |
//! | [`pattern`] | all of it | probability of each pattern, reasons |
//! | [`proposal`] | all of it | [`Proposal`]: the result format |
//! | [`formula`] | ten calls | the classification; knows no images |
//! | [`tenprint`] | ten proposals | doubts between fingers, the record of a card |
//! | [`draw`] | a wish and a seed | a print and its truth; shares nothing with the rooms that read prints |
//! | [`picture`], [`report`] | [`Proposal`] | pictures, tables, lines; decide nothing |
//! | [`cli`] | arguments | the commands of the program `recurve` |
//!
//! # Conventions
//!
//! * **Coordinates** are pixels, the origin at the centre of the top-left pixel, x right, y down; arrays are `[row, column]`. A
//!   [`Proposal`] counts in pixels of the image as given; the rooms work at 500 pixels per inch and [`geometry::Frame`] leads back.
//! * **Angles** are radians inside the crate and degrees in a [`Proposal`], counter-clockwise as seen, from image right. A
//!   ridge's orientation counts modulo half a turn, a direction modulo a full one. They wrap in [`geometry`] only.
//! * **Grey** runs from 0.0, black, to 1.0, white; ridges are dark once [`intake`] is passed.
//! * **Scale.** Without a usable resolution the ridge period sets it ([`PpiFrom::Ridges`]); millimetres are then unknown.
//! * **Settings** of a room are a struct with a documented default for every number.
//!
//! # What it costs
//!
//! Time and memory are linear in the pixels of the working image; the local Fourier spectra take the largest share. One print
//! is one thread; spread prints over cores, sharing one [`Screener`] (`Send + Sync`), which hands its tables and buffers from print to print. The
//! answer is the same for the same input, whatever was screened before and on however many threads.
//!
//! Nothing here prints, keeps global state or panics on the pixels of an image.

#![forbid(unsafe_code)]
#![warn(missing_docs)]

pub mod card;
pub mod card_screener;
pub mod cli;
pub mod draw;
pub mod error;
pub mod field;
pub mod formula;
pub mod geometry;
pub mod impression;
pub mod intake;
pub mod network;
pub mod pattern;
pub mod picture;
pub mod proposal;
pub mod report;
pub mod ridge;
pub mod screener;
pub mod singular;
pub mod tenprint;
pub mod trees;

pub use error::Error;
pub use impression::{Impression, PpiFrom};
pub use proposal::{Proposal, Status};
pub use screener::{Screener, Settings};
