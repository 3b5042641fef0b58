//! What is said of a whole card: whether its fingers agree with each other, its classification, and the record of both.
//!
//! The room knows proposals and the places of blocks, not images. No print is compared with another: rolled and plain impressions are
//! held against each other by their proposed patterns only, to find fingers in the wrong order.

mod doubts;
mod record;

pub use doubts::{Doubt, DoubtKind, DoubtSettings, doubts};
pub use record::{BlockRecord, CARD_SCHEMA, CardRecord, FormRecord, classification};

use crate::error::Error;
use crate::impression::{Impression, PpiFrom};
use crate::proposal::{CardNotation, General, Proposal, Reading, Reason, Status, write};
use std::collections::BTreeMap;
use std::str::FromStr;

/// Why a finger has no print, as the operator states it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lacking {
    /// Amputated: XX.
    Amputated,
    /// Not printed, bandaged for instance: UP.
    Unprinted,
}

impl Lacking {
    fn general(self) -> General {
        match self {
            Self::Amputated => General::Xx,
            Self::Unprinted => General::Up,
        }
    }

    /// The code in the block.
    pub fn code(self) -> &'static str {
        match self {
            Self::Amputated => "XX",
            Self::Unprinted => "UP",
        }
    }
}

/// A finger that the operator states as lacking, as in `4=XX`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Missing {
    /// Finger position 1 to 10.
    pub finger: u8,
    /// Why.
    pub why: Lacking,
}

impl FromStr for Missing {
    type Err = Error;

    /// ```
    /// use recurve::tenprint::{Lacking, Missing};
    /// assert_eq!("4=XX".parse::<Missing>()?, Missing { finger: 4, why: Lacking::Amputated });
    /// assert!("4=gone".parse::<Missing>().is_err());
    /// # Ok::<(), recurve::Error>(())
    /// ```
    fn from_str(text: &str) -> Result<Self, Error> {
        let wrong = || {
            Error::bad_value(
                format!("missing {text}"),
                "write FINGER=XX (amputated) or FINGER=UP (not printed), as in 4=XX",
            )
        };
        let (finger, code) = text.split_once('=').ok_or_else(wrong)?;
        let finger = finger.trim().parse().ok().filter(|f| (1..=10).contains(f)).ok_or_else(wrong)?;
        let why = match code.trim().to_ascii_uppercase().as_str() {
            "XX" => Lacking::Amputated,
            "UP" => Lacking::Unprinted,
            _ => return Err(wrong()),
        };
        Ok(Self { finger, why })
    }
}

/// The lacking fingers by their number.
///
/// # Errors
/// When a finger is stated twice in different ways.
pub fn lacking(stated: &[Missing]) -> Result<BTreeMap<u8, Lacking>, Error> {
    let mut map = BTreeMap::new();
    for Missing { finger, why } in stated {
        if map.insert(*finger, *why).is_some_and(|before| before != *why) {
            return Err(Error::bad_value(format!("missing {finger}"), "the finger is stated both as XX and as UP"));
        }
    }
    Ok(map)
}

/// The line of a finger that the operator states as lacking: the standard's code, and that it was stated and not read.
pub fn stated(print: &Impression, why: Lacking) -> Proposal {
    let (code, text) = match why {
        Lacking::Amputated => {
            ("amputation", "The operator states that this finger is amputated; its block was not read.")
        }
        Lacking::Unprinted => {
            ("unable to print", "The operator states that this finger was not printed; its block was not read.")
        }
    };
    let mut proposal = write::abstention(print, vec![Reason::new(format!("{code}, as stated"), text)]);
    proposal.status = Status::Proposed;
    proposal.pattern = Some(Reading { general: why.general(), subclass: None, tracing: None, probability: 1.0 });
    proposal.card_notation = Some(CardNotation { below: why.code().into(), upper_right: None });
    proposal.ncic = (why == Lacking::Amputated).then(|| why.code().into());
    proposal
}

/// An impression without pixels for a block that is not read, so that its line names source, block and finger.
pub fn placeholder(scan: &Impression, part: &str, finger: u8) -> Impression {
    Impression {
        pixels: ndarray::Array2::default((0, 0)),
        ppi: scan.ppi,
        ppi_from: if scan.ppi.is_some() { scan.ppi_from } else { PpiFrom::Ridges },
        finger: Some(finger),
        source: scan.source.clone(),
        part: Some(match &scan.part {
            Some(page) => format!("{page}, {part}"),
            None => part.to_owned(),
        }),
        to_original: scan.to_original,
        original_size: scan.original_size,
        remarks: Vec::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::formula::{Call, Finger, FingerCall};

    #[test]
    fn a_stated_finger_reaches_the_formula_as_the_standards_code() {
        let scan = Impression::from_gray8(40, 40, &[255; 1600], Some(500.0)).unwrap().named("card.png");
        let print = placeholder(&scan, "4 right ring", 4);
        for (why, call) in [(Lacking::Amputated, Call::Amputated), (Lacking::Unprinted, Call::Unprinted(None))] {
            let proposal = stated(&print, why);
            assert_eq!(FingerCall::from_proposal(Finger::new(4).unwrap(), &proposal).call, call);
            assert_eq!(proposal.part.as_deref(), Some("4 right ring"));
            assert_eq!(proposal.finger, Some(4));
        }
    }

    #[test]
    fn contradicting_statements_are_refused() {
        let stated: Vec<Missing> = ["4=XX", "4=up"].iter().map(|t| t.parse().unwrap()).collect();
        assert!(lacking(&stated).unwrap_err().to_string().contains("missing 4"));
        for wrong in ["11=XX", "0=UP", "4", "4=XX=UP", "=XX", "vier=XX"] {
            assert!(wrong.parse::<Missing>().is_err(), "{wrong}");
        }
    }
}
