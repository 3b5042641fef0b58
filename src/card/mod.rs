//! A scanned ten-print card to its prints: form, registration of the printed frame, blocks.
//!
//! [`find`] lays the known forms over a scan ([`register`]), finds what each block holds ([`find_blocks`]) and gives a [`Card`], whose
//! [`Card::impression`] cuts out one print at a time. Each cut is an [`Impression`] with finger, block and the way back to the pixels of
//! the scan, so that all later rooms treat it like any other print.
//!
//! A card may lie turned, upside down, shifted, at any scale, cut at its edges, copied or printed in colour; each printed line may lie a
//! little off its place. How sure the numbering of the fingers is, is a number ([`Registration::confidence`]), and a doubtful registration
//! says so.
//!
//! ```
//! use recurve::card::{CardSettings, Form, find};
//! use recurve::draw::card::{CardWish, draw_card};
//! use recurve::Impression;
//!
//! let drawn = draw_card(&CardWish { ppi: 250.0, turn_deg: Some(177.0), ..CardWish::default() }, 1)?;
//! let (height, width) = drawn.pixels.dim();
//! let scan = Impression::from_gray8(width, height, &drawn.pixels.into_raw_vec_and_offset().0, None)?;
//! let card = find(&scan, &Form::embedded()?, &CardSettings::default()).expect("a card");
//! let thumb = &card.blocks.found[0];
//! assert_eq!((thumb.finger, thumb.part.as_str()), (1, "1 right thumb"));
//! // The scan was upside down: the right thumb lies at its right.
//! assert!(thumb.place.corners()[0].x > 0.5 * width as f64);
//! # Ok::<(), recurve::Error>(())
//! ```

mod blocks;
mod form;
mod ink;
mod lines;
mod plain;
mod register;
mod settings;
mod view;

pub use blocks::{Blocks, Found, Holds, find_blocks};
pub use form::{BlockKind, Form, FormBlock, MOST_FORM_BYTES, PrintedLine};
pub use register::{Place, Registration, register};
pub use settings::CardSettings;

use crate::impression::{Impression, PpiFrom};

/// A card found on a scan.
#[derive(Debug)]
pub struct Card {
    /// The form laid over the scan.
    pub registration: Registration,
    /// What its blocks hold.
    pub blocks: Blocks,
    /// Whether the registration is sure enough to be taken without a look at it.
    pub sure: bool,
}

/// Why a scan is not taken for a card.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum NoCard {
    /// Too few pixels for ten prints.
    #[error(
        "{width} x {height} pixels are too few for a card with ten prints; scan the whole card at 500 pixels per inch"
    )]
    TooSmall {
        /// Width in pixels.
        width: usize,
        /// Height in pixels.
        height: usize,
    },
    /// No line, no print.
    #[error("the page is blank")]
    Blank,
    /// Nothing like a known form.
    #[error(
        "no frame of a known form ({forms}) was found on it: the back of a card, a photo, a single print, or a form of another make \
         (give its layout with --form)"
    )]
    NoFrame {
        /// Names of the forms that were tried.
        forms: String,
    },
    /// A form, but too much of it lies beyond the edge.
    #[error(
        "only a part of a card is on it: the blocks of finger {fingers} lie beyond its edge; scan the whole card, or screen the prints singly"
    )]
    Piece {
        /// The fingers that are cut off.
        fingers: String,
    },
    /// A form with nothing on it.
    #[error("it is a card ({form}), but none of its ten rolled blocks holds a print")]
    NoPrints {
        /// The form's title.
        form: String,
    },
}

/// Shortest side of a scan that can show ten prints, pixels: an 8 inch card at 70 pixels per inch.
const LEAST_SIDE_PX: usize = 400;
/// Most rolled blocks that may lie beyond the edge of the scan.
const MOST_CUT_OFF: usize = 2;
/// Spread of grey below which a page is blank, standard deviations of grey values 0 to 1.
const BLANK: f32 = 0.012;

/// Finds the card on a scan.
///
/// # Errors
/// [`NoCard`] when there is none: nothing like one of the forms, a piece of a card, a card without prints.
pub fn find(scan: &Impression, forms: &[Form], settings: &CardSettings) -> Result<Card, NoCard> {
    let (width, height) = (scan.width(), scan.height());
    if width.min(height) < LEAST_SIDE_PX {
        return Err(NoCard::TooSmall { width, height });
    }
    let no_frame = || NoCard::NoFrame { forms: forms.iter().map(|f| f.name.as_str()).collect::<Vec<_>>().join(", ") };
    let registration = register(scan, forms, settings);
    let Some(registration) = registration.filter(|r| r.confidence >= settings.guess) else {
        let blank = view::small(&scan.pixels, settings).grey.std(0.0) < BLANK;
        return Err(if blank { NoCard::Blank } else { no_frame() });
    };
    let blocks = find_blocks(&registration, settings);
    let rolled = || blocks.found.iter().filter(|f| f.kind == BlockKind::Rolled);
    let cut_off: Vec<String> = rolled().filter(|f| f.holds == Holds::CutOff).map(|f| f.finger.to_string()).collect();
    if cut_off.len() > MOST_CUT_OFF {
        return Err(NoCard::Piece { fingers: cut_off.join(", ") });
    }
    if rolled().all(|f| f.holds != Holds::Print) {
        return Err(NoCard::NoPrints { form: registration.form.title.clone() });
    }
    let sure = registration.confidence >= settings.sure;
    Ok(Card { registration, blocks, sure })
}

/// Whether a scan is so large that it may be a card. Whether it is one, its frame decides.
///
/// A believable tag says how many inches it covers. Image editors write 72 or 300 into anything, so a scan with very many
/// pixels is looked at whatever its tag.
pub fn is_card_sized(scan: &Impression, settings: &CardSettings) -> bool {
    let (shorter, longer) = (scan.width().min(scan.height()), scan.width().max(scan.height()));
    match scan.ppi {
        Some(ppi) if longer as f64 >= settings.least_card_in * ppi && shorter >= LEAST_SIDE_PX => true,
        None => shorter >= settings.untagged_side_px,
        Some(_) => shorter >= settings.card_side_px && scan.ppi_from == PpiFrom::File,
    }
}

impl Card {
    /// Cuts one of the card's prints out of its scan; see [`Blocks::impression`].
    pub fn impression(&self, found: &Found, scan: &Impression) -> Impression {
        self.blocks.impression(found, scan, &self.registration)
    }
}
