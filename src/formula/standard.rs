//! The pattern codes of the ANSI/NIST-ITL standard, finger by finger.

use super::call::{Call, FingerCall, Pattern, Scar, WhorlKind};
use super::finger::Finger;
use crate::proposal::{General, Hand, Subclass, Tracing};
use serde::{Deserialize, Serialize};

/// One finger in the codes of field 9.307: general class, subclass of an arch or whorl, tracing of a whorl.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct StandardCode {
    /// General class.
    pub general: General,
    /// Subclass, of arches and whorls only.
    pub subclass: Option<Subclass>,
    /// Tracing, of whorls only.
    pub tracing: Option<Tracing>,
}

/// The standard's code of a call. A loop's code says the side of the image to which it opens: ulnar loops open to the right in
/// the right hand and to the left in the left hand.
///
/// Source: ANSI/NIST-ITL 1-2011 Update 2013, field 9.307 and its table of pattern codes.
pub fn standard_code(call: &FingerCall) -> StandardCode {
    let plain = |general| StandardCode { general, subclass: None, tracing: None };
    match &call.call {
        Call::Printed(pattern) | Call::TipAmputated(pattern) => pattern_code(call.finger, pattern),
        Call::Amputated | Call::MissingAtBirth | Call::HalfAmputated => plain(General::Xx),
        Call::Scarred(Scar { possible, .. }) => match possible.as_slice() {
            // A print whose kind is plain is coded as it reads; the code SR is for those that cannot be judged.
            [kind] => pattern_code(call.finger, &kind.pattern(None, None)),
            _ => plain(General::Sr),
        },
        Call::Unprinted(_) => plain(General::Up),
        Call::Unclassifiable => plain(General::Uc),
        Call::Dissociated => plain(General::Dr),
    }
}

/// The standard's code of a pattern.
pub fn pattern_code(finger: Finger, pattern: &Pattern) -> StandardCode {
    let code = |general, subclass, tracing| StandardCode { general, subclass, tracing };
    match pattern {
        Pattern::PlainArch => code(General::Au, Some(Subclass::Pa), None),
        Pattern::TentedArch => code(General::Au, Some(Subclass::Ta), None),
        Pattern::Loop { hand, .. } => {
            let opens_right = (*hand == Hand::Ulnar) == finger.is_right();
            code(if opens_right { General::Rs } else { General::Ls }, None, None)
        }
        Pattern::Whorl { kind, tracing, .. } => code(General::Wu, kind.map(WhorlKind::subclass), *tracing),
    }
}
