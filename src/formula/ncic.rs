//! The NCIC fingerprint classification: twenty characters, two a finger, right thumb to left little finger.
//!
//! A code of this kind is an aid to elimination, never an identification.

use super::call::{Call, FingerCall, Pattern, TenFingers, WhorlKind};
use super::finger::Finger;
use super::settings::{DoubleLoopLetter, NcicSettings};
use super::text;
use crate::error::Error;
use crate::proposal::Hand;

/// Characters of a whole code.
const LENGTH: usize = 20;

/// What the code adds to the count of a radial loop.
const RADIAL_OFFSET: u8 = 50;

/// The code of one finger.
///
/// Source: the published NCIC table (AA TT, 01-49 ulnar, 51-99 radial, P C D X with I M O, XX, SR), as printed alike in
/// Komarinski, *AFIS* (2005), table 3.1, and Hawthorne, *Fingerprints* (2009).
///
/// # Errors
/// When the table has no code for the finger; the reason names what is lacking.
pub fn encode_finger(call: &FingerCall, settings: NcicSettings) -> Result<String, Error> {
    let refuse = |reason: &str| Err(Error::bad_value(call.finger.to_string(), reason));
    match &call.call {
        Call::Printed(pattern) | Call::TipAmputated(pattern) => encode_pattern(call.finger, pattern, settings),
        Call::Amputated | Call::MissingAtBirth | Call::HalfAmputated => Ok("XX".to_owned()),
        Call::Scarred(scar) if scar.is_complete() => Ok("SR".to_owned()),
        Call::Scarred(_) => refuse("partly scarred: the code SR is for complete scars, others are coded as they read"),
        Call::Unprinted(_) | Call::Unclassifiable | Call::Dissociated if settings.unprinted_as_missing => {
            Ok("XX".to_owned())
        }
        Call::Unprinted(_) => refuse("not printed: the table has no code for it"),
        Call::Unclassifiable | Call::Dissociated => refuse("not classified: the table has no code for it"),
    }
}

fn encode_pattern(finger: Finger, pattern: &Pattern, settings: NcicSettings) -> Result<String, Error> {
    let refuse = |reason: &str| Err(Error::bad_value(finger.to_string(), reason));
    match pattern {
        Pattern::PlainArch => Ok("AA".to_owned()),
        Pattern::TentedArch => Ok("TT".to_owned()),
        Pattern::Loop { hand, count } => match count.and_then(super::call::Count::best) {
            Some(ridges) => Ok(format!("{:02}", if *hand == Hand::Radial { ridges + RADIAL_OFFSET } else { ridges })),
            None => refuse("the loop has no exact ridge count"),
        },
        Pattern::Whorl { kind, tracing, .. } => {
            let letter = match kind {
                Some(WhorlKind::Plain) => 'P',
                Some(WhorlKind::CentralPocket) => 'C',
                Some(WhorlKind::DoubleLoop) if settings.double_loop == DoubleLoopLetter::Lower => 'd',
                Some(WhorlKind::DoubleLoop) => 'D',
                Some(WhorlKind::Accidental) => 'X',
                None => return refuse("the kind of whorl is not settled"),
            };
            match tracing {
                Some(tracing) => Ok(format!("{letter}{tracing:?}")),
                None => refuse("the whorl has no tracing"),
            }
        }
    }
}

/// The code of a card.
///
/// # Errors
/// When a finger has no code; the first such finger is named.
pub fn encode(card: &TenFingers, settings: NcicSettings) -> Result<String, Error> {
    card.iter().map(|call| encode_finger(call, settings)).collect()
}

/// Reads a code of twenty characters; blanks between the fingers are allowed, and both spellings of the double loop.
///
/// ```
/// use recurve::formula::{ncic, settings::NcicSettings};
/// let card = ncic::decode("19 PI PO PM 07 16 PO 18 PI CI")?;
/// assert_eq!(ncic::encode(&card, NcicSettings::default())?, "19PIPOPM0716PO18PICI");
/// # Ok::<(), recurve::Error>(())
/// ```
///
/// # Errors
/// When the length is wrong or a finger's two characters are no code.
pub fn decode(code: &str) -> Result<TenFingers, Error> {
    let characters: Vec<char> = code.chars().filter(|c| !c.is_whitespace()).collect();
    if characters.len() != LENGTH {
        let reason = format!("has {} characters; there are {LENGTH}, two a finger", characters.len());
        return Err(Error::bad_value("NCIC code", reason));
    }
    let pairs = Finger::ALL.into_iter().zip(characters.chunks(2));
    let calls: Result<Vec<_>, _> =
        pairs.map(|(finger, pair)| decode_finger(finger, &pair.iter().collect::<String>())).collect();
    TenFingers::new(calls?)
}

/// Reads the two characters of one finger.
///
/// # Errors
/// When they are no code of the table.
pub fn decode_finger(finger: Finger, pair: &str) -> Result<FingerCall, Error> {
    let characters: Vec<char> = pair.chars().collect();
    let is_code = match characters.as_slice() {
        [tens, ones] if tens.is_ascii_digit() && ones.is_ascii_digit() => true,
        ['X', 'X'] | ['S', 'R'] | ['A', 'A'] | ['T', 'T'] => true,
        ['P' | 'C' | 'D' | 'd' | 'X', 'I' | 'M' | 'O'] => true,
        _ => false,
    };
    if !is_code {
        let reason =
            format!("{pair} is no NCIC code; there are 01-49, 51-99, AA, TT, PI..PO, CI..CO, dI..dO, XI..XO, XX, SR");
        return Err(Error::bad_value(finger.to_string(), reason));
    }
    Ok(FingerCall::sure(finger, text::call(finger, pair)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_of_eighteen_characters_is_refused() {
        // A county's page prints the published string with the right little finger's 07 left out.
        let error = decode("19PIPOPM16PO18PICI").unwrap_err().to_string();
        assert_eq!(error, "NCIC code: has 18 characters; there are 20, two a finger");
    }

    #[test]
    fn only_codes_of_the_table_are_read() {
        for pair in ["00", "50", "U9", "WI", "pi", "AT", "PX", "??", "é1"] {
            assert!(decode_finger(Finger::RIGHT_INDEX, pair).is_err(), "{pair}");
        }
    }

    #[test]
    fn both_spellings_of_the_double_loop_are_read_and_one_is_written() {
        // Sources differ: dI dM dO in one set of tables, DI DM DO in two textbooks.
        let upper = decode("PI09CI121462AAPMDMTT").unwrap();
        let lower = decode("PI09CI121462AAPMdMTT").unwrap();
        assert_eq!(upper, lower);
        assert_eq!(encode(&upper, NcicSettings::default()).unwrap(), "PI09CI121462AAPMdMTT");
        let settings = NcicSettings { double_loop: DoubleLoopLetter::Upper, ..NcicSettings::default() };
        assert_eq!(encode(&upper, settings).unwrap(), "PI09CI121462AAPMDMTT");
    }

    #[test]
    fn every_code_of_the_table_comes_back_as_written() {
        let mut codes: Vec<String> = (1..=99).filter(|n| *n != 50).map(|n: u8| format!("{n:02}")).collect();
        codes.extend(["AA", "TT", "XX", "SR"].map(str::to_owned));
        codes.extend("PCdX".chars().flat_map(|kind| "IMO".chars().map(move |tracing| format!("{kind}{tracing}"))));
        assert_eq!(codes.len(), 98 + 4 + 12);
        for code in codes {
            for finger in Finger::ALL {
                let call = decode_finger(finger, &code).unwrap();
                assert_eq!(encode_finger(&call, NcicSettings::default()).unwrap(), code);
            }
        }
    }
}
