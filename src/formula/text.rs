//! Calls typed by hand.
//!
//! ```text
//! card     = finger "=" readings, ten times, separated by blanks or commas     1=PI 2=09 3=U12 ...
//! readings = reading { "|" reading }         preferred first, then the references         3=PM|PI
//! reading  = call [ "?" ] [ "@" probability ]                                 3=09?   3=PM@0.8|PI@0.2
//! call     = NCIC       PI PM PO, CI CM CO, dI dM dO (DI DM DO), XI XM XO, AA, TT, 01-49 ulnar, 51-99 radial, XX, SR
//!          | arch       A T (a t, PA TA)
//!          | loop       ( U | R | RS | LS | / | \ ) [ ":" ] [ count ]          U9 R12 RS:14 /11
//!          | whorl      ( W P C D X | WU PW CP DL AW ) [ ":" ] [ I | M | O ] [ ":" count ]     W:I  PO:18
//!          | "XX" | "XX:BIRTH" | "XX:HALF"          amputated, missing at birth, half or more of the pattern area gone
//!          | "TIP:" call                            less than half gone: read as it appears
//!          | "UP" | "UP:" call                      not printed; what the taker noted from the finger itself
//!          | "SR" | "SR:" kinds [ ":" tracing ] [ ":" count ]                  SR:U:6-17  SR:U/W:12  SR:?:I
//!          | "UC" | "DR"                            cannot be classified; dissociated ridges
//! kinds    = "?" | kind { "/" kind }, kind = A | T | R | U | W        what the visible ridges allow, most likely first
//! count    = n | n "~" least "-" most | least "-" most | least "+"            12   12~10-14   10-14   17+
//! ```
//!
//! A slant line is the mark of the ulnar loop, in whichever finger; `/` serves for both hands because shells swallow `\`.

use super::call::{
    Alternative, Call, Count, FingerCall, GREATEST_COUNT, Kind, LEAST_COUNT, Pattern, Scar, TenFingers, WhorlKind,
    hand_of,
};
use super::finger::Finger;
use crate::error::Error;
use crate::proposal::{General, Hand, Tracing};

/// What the NCIC code adds to the count of a radial loop.
const RADIAL_OFFSET: u8 = 50;

impl TenFingers {
    /// Reads ten calls, as in `1=PI 2=09 3=U12 ...`; the grammar stands at the head of this file's documentation and in
    /// the help of `recurve formula`.
    ///
    /// ```
    /// use recurve::formula::TenFingers;
    /// let card = TenFingers::from_text("1=PI 2=09 3=CI 4=12 5=14 6=62 7=AA 8=PM 9=dM 10=TT")?;
    /// assert_eq!(card.iter().count(), 10);
    /// let wrong = TenFingers::from_text("1=PI 2=U60 3=CI 4=12 5=14 6=62 7=AA 8=PM 9=dM 10=TT");
    /// assert!(wrong.unwrap_err().to_string().starts_with("finger 2 (right index): U60: ridge count 60"));
    /// # Ok::<(), recurve::Error>(())
    /// ```
    ///
    /// # Errors
    /// Naming the finger and the reason.
    pub fn from_text(text: &str) -> Result<Self, Error> {
        let words = text.split(|c: char| c.is_whitespace() || c == ',').filter(|word| !word.is_empty());
        let calls: Result<Vec<_>, _> = words.map(assignment).collect();
        Self::new(calls?)
    }
}

/// Reads one `finger=readings`.
fn assignment(word: &str) -> Result<FingerCall, Error> {
    let (number, readings) =
        word.split_once('=').ok_or_else(|| Error::bad_value(format!("`{word}`"), "write finger=call, as in 2=09"))?;
    let number: u8 = number
        .trim()
        .parse()
        .map_err(|_| Error::bad_value(format!("`{word}`"), "the finger is a number from 1 to 10"))?;
    finger_call(Finger::new(number)?, readings)
}

/// Reads the readings of one finger, preferred first, separated by `|`.
///
/// # Errors
/// Naming the finger and the reason.
pub fn finger_call(finger: Finger, readings: &str) -> Result<FingerCall, Error> {
    let mut parts = readings.split('|');
    let first = marked_reading(finger, parts.next().unwrap_or_default())?;
    let mut references = Vec::new();
    for part in parts {
        let other = marked_reading(finger, part)?;
        let Call::Printed(pattern) = other.call else {
            return Err(refuse(finger, part, "a reference names a pattern, as in PM or U9"));
        };
        if other.doubtful {
            return Err(refuse(finger, part, "a reference is a doubt already; leave out its ?"));
        }
        references.push(Alternative { pattern, probability: other.probability });
    }
    FingerCall { finger, call: first.call, probability: first.probability, references, doubtful: first.doubtful }
        .checked()
}

/// One reading with its marks of doubt.
struct MarkedReading {
    call: Call,
    doubtful: bool,
    probability: Option<f64>,
}

fn marked_reading(finger: Finger, text: &str) -> Result<MarkedReading, Error> {
    let (text, probability) = match text.trim().split_once('@') {
        Some((text, p)) => {
            let p = p.parse().map_err(|_| refuse(finger, p, "after @ stands a probability from 0 to 1"))?;
            (text, Some(p))
        }
        None => (text.trim(), None),
    };
    let (text, doubtful) = text.strip_suffix('?').map_or((text, false), |text| (text, true));
    Ok(MarkedReading { call: call(finger, text)?, doubtful, probability })
}

/// Reads one call without marks of doubt.
pub(crate) fn call(finger: Finger, text: &str) -> Result<Call, Error> {
    let upper = text.to_ascii_uppercase();
    let (head, rest) = upper.split_once(':').map_or((upper.as_str(), None), |(head, rest)| (head, Some(rest)));
    Ok(match (head, rest) {
        ("", _) => {
            return Err(refuse(finger, text, "no call; XX amputated, UP not printed, SR scarred"));
        }
        ("XX" | "AMP", None) => Call::Amputated,
        ("XX" | "AMP", Some("BIRTH")) => Call::MissingAtBirth,
        ("XX" | "AMP", Some("HALF")) => Call::HalfAmputated,
        ("XX" | "AMP", Some(_)) => {
            return Err(refuse(finger, text, "write XX, XX:BIRTH (missing at birth) or XX:HALF (half or more gone)"));
        }
        ("TIP", Some(rest)) => Call::TipAmputated(pattern(finger, rest)?),
        ("TIP", None) => {
            return Err(refuse(finger, text, "a tip amputation is read as it appears: TIP:U9"));
        }
        ("UP", None) => Call::Unprinted(None),
        ("UP", Some(rest)) => Call::Unprinted(Some(pattern(finger, rest)?)),
        ("SR", None) => Call::Scarred(Scar::default()),
        ("SR", Some(rest)) => Call::Scarred(scar(finger, rest)?),
        ("UC", None) => Call::Unclassifiable,
        ("DR", None) => Call::Dissociated,
        ("UC" | "DR", Some(_)) => return Err(refuse(finger, text, "UC and DR stand alone")),
        _ => Call::Printed(pattern(finger, text)?),
    })
}

/// Reads a pattern.
fn pattern(finger: Finger, text: &str) -> Result<Pattern, Error> {
    let upper = text.to_ascii_uppercase();
    if upper.starts_with(|c: char| c.is_ascii_digit()) {
        return ncic_loop(finger, &upper);
    }
    if upper == "AU" {
        return Err(refuse(finger, text, "AU leaves the kind of arch open; write AA or TT, or AA|TT when in doubt"));
    }
    if let Some((arch, rest)) = arch(&upper) {
        return if rest.is_empty() {
            Ok(arch)
        } else {
            Err(refuse(finger, text, "an arch has neither ridge count nor tracing"))
        };
    }
    if let Some((hand, rest)) = loop_hand(finger, text, &upper)? {
        return Ok(Pattern::Loop { hand, count: loop_count(finger, text, rest)? });
    }
    if let Some((kind, rest)) = whorl_kind(&upper) {
        return whorl(finger, text, kind, rest);
    }
    Err(refuse(finger, text, "no call of the trade; see recurve formula --help for what can be written"))
}

/// The arch at the head of a text, and what follows it.
fn arch(upper: &str) -> Option<(Pattern, &str)> {
    // Two-letter spellings first, so that AA is no A followed by rubbish. AW is an accidental whorl.
    let arches = [
        ("AA", Pattern::PlainArch),
        ("PA", Pattern::PlainArch),
        ("TT", Pattern::TentedArch),
        ("TA", Pattern::TentedArch),
        ("A", Pattern::PlainArch),
        ("T", Pattern::TentedArch),
    ];
    if upper.starts_with("AW") {
        return None;
    }
    arches.into_iter().find_map(|(mark, pattern)| Some((pattern, upper.strip_prefix(mark)?)))
}

/// The loop at the head of a text, and what follows it.
fn loop_hand<'a>(finger: Finger, text: &str, upper: &'a str) -> Result<Option<(Hand, &'a str)>, Error> {
    for (mark, slant) in [("RS", General::Rs), ("LS", General::Ls)] {
        if let (Some(rest), Some(hand)) = (upper.strip_prefix(mark), hand_of(finger, slant)) {
            return Ok(Some((hand, rest)));
        }
    }
    if upper.starts_with('\\') && !finger.is_right() {
        let reason = "an ulnar loop of the left hand slants the other way, /; a radial loop is written R or r";
        return Err(refuse(finger, text, reason));
    }
    let marks = [("U", Hand::Ulnar), ("R", Hand::Radial), ("/", Hand::Ulnar), ("\\", Hand::Ulnar)];
    Ok(marks.into_iter().find_map(|(mark, hand)| Some((hand, upper.strip_prefix(mark)?))))
}

/// The whorl at the head of a text, and what follows it.
fn whorl_kind(upper: &str) -> Option<(Option<WhorlKind>, &str)> {
    let kinds = [
        ("WU", None),
        ("PW", Some(WhorlKind::Plain)),
        ("CP", Some(WhorlKind::CentralPocket)),
        ("DL", Some(WhorlKind::DoubleLoop)),
        ("AW", Some(WhorlKind::Accidental)),
        ("W", None),
        ("P", Some(WhorlKind::Plain)),
        ("C", Some(WhorlKind::CentralPocket)),
        ("D", Some(WhorlKind::DoubleLoop)),
        ("X", Some(WhorlKind::Accidental)),
    ];
    kinds.into_iter().find_map(|(mark, kind)| Some((kind, upper.strip_prefix(mark)?)))
}

/// Reads the tracing and the count after a whorl.
fn whorl(finger: Finger, text: &str, kind: Option<WhorlKind>, rest: &str) -> Result<Pattern, Error> {
    let rest = rest.strip_prefix(':').unwrap_or(rest);
    let (traced, counted) = match rest.split_once(':') {
        Some((traced, counted)) => (traced, Some(counted)),
        None if rest.starts_with(|c: char| c.is_ascii_digit()) => ("", Some(rest)),
        None => (rest, None),
    };
    let tracing = if traced.is_empty() {
        None
    } else {
        let known = tracing(traced);
        Some(known.ok_or_else(|| {
            refuse(finger, text, "a whorl is traced I, M or O; its count, for a final, follows as in PO:18")
        })?)
    };
    let count = counted.map(|counted| count(finger, text, counted)).transpose()?;
    Ok(Pattern::Whorl { kind, tracing, count })
}

fn tracing(upper: &str) -> Option<Tracing> {
    match upper {
        "I" => Some(Tracing::I),
        "M" => Some(Tracing::M),
        "O" => Some(Tracing::O),
        _ => None,
    }
}

/// Reads a loop in the NCIC spelling: two digits.
fn ncic_loop(finger: Finger, upper: &str) -> Result<Pattern, Error> {
    let digits: String = upper.chars().take_while(char::is_ascii_digit).collect();
    let rest = &upper[digits.len()..];
    if rest.starts_with([':', 'I', 'M', 'O']) {
        return Err(refuse(finger, upper, "a loop has no tracing; only whorls are traced"));
    }
    if digits.len() != 2 || !rest.is_empty() {
        return Err(refuse(
            finger,
            upper,
            "a loop in the NCIC spelling has two digits, as in 09; U9 and R9 are read too",
        ));
    }
    let code: u8 = digits.parse().map_err(|_| refuse(finger, upper, "not a number"))?;
    let (hand, ridges) = if code > GREATEST_COUNT { (Hand::Radial, code - RADIAL_OFFSET) } else { (Hand::Ulnar, code) };
    let count = Count::exact(ridges).map_err(|error| refuse(finger, upper, &error.to_string()))?;
    Ok(Pattern::Loop { hand, count: Some(count) })
}

/// Reads what follows a loop: nothing or a count.
fn loop_count(finger: Finger, text: &str, rest: &str) -> Result<Option<Count>, Error> {
    let rest = rest.strip_prefix(':').unwrap_or(rest);
    if rest.is_empty() {
        return Ok(None);
    }
    if tracing(rest.rsplit(':').next().unwrap_or(rest)).is_some() || rest.ends_with(['I', 'M', 'O']) {
        return Err(refuse(finger, text, "a loop has no tracing; only whorls are traced"));
    }
    count(finger, text, rest).map(Some)
}

/// Reads a count.
fn count(finger: Finger, text: &str, rest: &str) -> Result<Count, Error> {
    let number = |digits: &str| -> Result<u8, Error> {
        let n: u64 = digits.parse().map_err(|_| {
            refuse(finger, text, "a ridge count is written 12, 12~10-14 (extremes), 10-14 (range) or 17+")
        })?;
        let too_many =
            || refuse(finger, text, &format!("ridge count {n}: counts are {LEAST_COUNT} to {GREATEST_COUNT}"));
        u8::try_from(n).map_err(|_| too_many())
    };
    let range = |range: &str| -> Result<Option<(u8, u8)>, Error> {
        if let Some(least) = range.strip_suffix('+') {
            return Ok(Some((number(least)?, GREATEST_COUNT)));
        }
        range.split_once('-').map(|(least, most)| Ok((number(least)?, number(most)?))).transpose()
    };
    let read = if let Some((best, extremes)) = rest.split_once('~') {
        let best = number(best)?;
        let (least, most) = range(extremes)?
            .ok_or_else(|| refuse(finger, text, "after ~ stand the extremes of the count, as in 12~10-14"))?;
        Count::between(Some(best), least, most)
    } else if let Some((least, most)) = range(rest)? {
        Count::between((least == most).then_some(least), least, most)
    } else {
        Count::exact(number(rest)?)
    };
    read.map_err(|error| refuse(finger, text, &error.to_string()))
}

/// Reads what can be seen of a scarred print.
fn scar(finger: Finger, rest: &str) -> Result<Scar, Error> {
    let shown = format!("SR:{rest}");
    let mut parts = rest.split(':');
    let kinds = parts.next().unwrap_or_default();
    let mut scar = Scar::default();
    if kinds != "?" {
        for kind in kinds.split('/') {
            scar.possible.push(match kind {
                "A" | "AA" => Kind::PlainArch,
                "T" | "TT" => Kind::TentedArch,
                "R" => Kind::RadialLoop,
                "U" => Kind::UlnarLoop,
                "W" => Kind::Whorl,
                _ => {
                    let reason =
                        "after SR: stand the kinds that remain possible, as in SR:U/W, or ? when none is excluded";
                    return Err(refuse(finger, &shown, reason));
                }
            });
        }
    }
    for part in parts {
        match tracing(part) {
            Some(traced) if scar.tracing.is_none() => scar.tracing = Some(traced),
            None if scar.count.is_none() => scar.count = Some(count(finger, &shown, part)?),
            _ => return Err(refuse(finger, &shown, "one tracing and one count at most")),
        }
    }
    let any = |test: fn(&Kind) -> bool| scar.possible.is_empty() || scar.possible.iter().any(test);
    if scar.tracing.is_some() && !any(|kind| *kind == Kind::Whorl) {
        return Err(refuse(finger, &shown, "a tracing needs a whorl among the possible kinds"));
    }
    if scar.count.is_some() && !any(|kind| matches!(kind, Kind::RadialLoop | Kind::UlnarLoop)) {
        return Err(refuse(finger, &shown, "a ridge count needs a loop among the possible kinds"));
    }
    Ok(scar)
}

fn refuse(finger: Finger, text: &str, reason: &str) -> Error {
    Error::bad_value(finger.to_string(), if text.is_empty() { reason.to_owned() } else { format!("{text}: {reason}") })
}

/// Writes a pattern as this grammar reads it.
pub(crate) fn written(pattern: &Pattern) -> String {
    match pattern {
        Pattern::PlainArch => "AA".to_owned(),
        Pattern::TentedArch => "TT".to_owned(),
        Pattern::Loop { hand, count } => {
            let letter = if *hand == Hand::Ulnar { 'U' } else { 'R' };
            count.map_or_else(|| letter.to_string(), |count| format!("{letter}{count}"))
        }
        Pattern::Whorl { kind, tracing, count } => {
            let letter = match kind {
                None => "W",
                Some(WhorlKind::Plain) => "P",
                Some(WhorlKind::CentralPocket) => "C",
                Some(WhorlKind::DoubleLoop) => "D",
                Some(WhorlKind::Accidental) => "X",
            };
            let traced = tracing.map_or_else(String::new, |tracing| format!("{tracing:?}"));
            let colon = if kind.is_none() && tracing.is_some() { ":" } else { "" };
            let counted = count.map_or_else(String::new, |count| format!(":{count}"));
            format!("{letter}{colon}{traced}{counted}")
        }
    }
}

/// Writes a finger's readings as this grammar reads them.
pub(crate) fn written_readings(call: &FingerCall) -> String {
    // Four digits, as probabilities are told elsewhere.
    let probable = |p: Option<f64>| p.map_or_else(String::new, |p| format!("@{}", (1e4 * p).round() / 1e4));
    let doubt = if call.doubtful { "?" } else { "" };
    let mut text = format!("{}{doubt}{}", written_call(&call.call), probable(call.probability));
    for other in &call.references {
        text.push_str(&format!("|{}{}", written(&other.pattern), probable(other.probability)));
    }
    text
}

fn written_call(call: &Call) -> String {
    match call {
        Call::Printed(pattern) => written(pattern),
        Call::TipAmputated(pattern) => format!("TIP:{}", written(pattern)),
        Call::Unprinted(Some(pattern)) => format!("UP:{}", written(pattern)),
        Call::Unprinted(None) => "UP".to_owned(),
        Call::Amputated => "XX".to_owned(),
        Call::MissingAtBirth => "XX:BIRTH".to_owned(),
        Call::HalfAmputated => "XX:HALF".to_owned(),
        Call::Unclassifiable => "UC".to_owned(),
        Call::Dissociated => "DR".to_owned(),
        Call::Scarred(scar) if scar.is_complete() => "SR".to_owned(),
        Call::Scarred(scar) => written_scar(scar),
    }
}

fn written_scar(scar: &Scar) -> String {
    let letter = |kind: &Kind| match kind {
        Kind::PlainArch => "A",
        Kind::TentedArch => "T",
        Kind::RadialLoop => "R",
        Kind::UlnarLoop => "U",
        Kind::Whorl => "W",
    };
    let kinds: Vec<&str> = scar.possible.iter().map(letter).collect();
    let mut text = format!("SR:{}", if kinds.is_empty() { "?".to_owned() } else { kinds.join("/") });
    if let Some(tracing) = scar.tracing {
        text.push_str(&format!(":{tracing:?}"));
    }
    if let Some(count) = scar.count {
        text.push_str(&format!(":{count}"));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    fn finger(number: u8) -> Finger {
        Finger::new(number).unwrap()
    }

    fn reason(number: u8, text: &str) -> String {
        finger_call(finger(number), text).unwrap_err().to_string()
    }

    fn read(number: u8, text: &str) -> Pattern {
        match call(finger(number), text).unwrap() {
            Call::Printed(pattern) => pattern,
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn ncic_digits_above_fifty_are_radial_loops() {
        // Records-manual table: radial 16 is 66, ulnar 14 is 14, ulnar 9 is 09.
        let radial = Pattern::Loop { hand: Hand::Radial, count: Some(Count::exact(16).unwrap()) };
        assert_eq!(read(4, "66"), radial);
        assert_eq!(read(4, "14"), read(4, "U14"));
        assert_eq!(read(4, "09"), read(4, "U:9"));
    }

    #[test]
    fn both_spellings_of_the_double_loop_are_read() {
        assert_eq!(read(3, "dM"), read(3, "DM"));
        assert_eq!(read(3, "dM"), read(3, "DL:M"));
    }

    #[test]
    fn the_slant_of_the_image_gives_the_hand_by_the_finger() {
        assert_eq!(read(2, "RS:9"), read(2, "U9"));
        assert_eq!(read(2, "LS:9"), read(2, "R9"));
        assert_eq!(read(7, "LS:9"), read(7, "U9"));
        assert_eq!(read(7, "RS9"), read(7, "R9"));
    }

    #[test]
    fn a_slant_line_is_an_ulnar_loop_in_either_hand() {
        assert_eq!(read(4, "/"), read(4, "U"));
        assert_eq!(read(4, "\\12"), read(4, "U12"));
        assert_eq!(read(9, "/12"), read(9, "U12"));
        assert!(reason(9, "\\12").contains("slants the other way"));
    }

    #[test]
    fn an_accidental_and_an_amputation_are_told_apart_by_the_second_character() {
        assert_eq!(call(finger(1), "XX").unwrap(), Call::Amputated);
        assert_eq!(read(1, "XI"), read(1, "AW:I"));
    }

    #[test]
    fn wrong_calls_name_finger_and_reason() {
        for (text, wanted) in [
            ("00", "ridge count 0"),
            ("50", "ridge count 0"),
            ("U0", "ridge count 0"),
            ("U60", "ridge count 60"),
            ("R99999999", "ridge count 99999999"),
            ("09I", "a loop has no tracing"),
            ("U9:I", "a loop has no tracing"),
            ("R:M", "a loop has no tracing"),
            ("AA:I", "neither ridge count nor tracing"),
            ("T9", "neither ridge count nor tracing"),
            ("W:K", "traced I, M or O"),
            ("PI:0", "ridge count 0"),
            ("9", "two digits"),
            ("123", "two digits"),
            ("AU", "kind of arch open"),
            ("Q", "no call of the trade"),
            ("", "no call"),
            ("U14-10", "lesser extreme"),
            ("U9~10-12", "lesser extreme"),
            ("XX|U9", "only the reading of a print"),
            ("U9|XX", "a reference names a pattern"),
            ("U9@1.5|U10@0.1", "a probability is 0 to 1"),
            ("U9|U10@0.4", "the preferred reading a probability too"),
            ("U9@0.9|U10@0.4", "exceed 1"),
            ("SR:W:12", "a ridge count needs a loop"),
            ("SR:U:I", "a tracing needs a whorl"),
            ("SR:U:6:7", "one tracing and one count"),
        ] {
            let shown = reason(3, text);
            assert!(shown.starts_with("finger 3 (right middle): "), "{shown}");
            assert!(shown.contains(wanted), "{text}: {shown}");
        }
    }

    #[test]
    fn a_missing_or_repeated_finger_is_named() {
        let nine = "1=PI 2=09 3=CI 4=12 5=14 6=62 7=AA 8=PM 9=dM";
        assert!(TenFingers::from_text(nine).unwrap_err().to_string().starts_with("finger 10 (left little): no call"));
        let twice = format!("{nine} 9=PI");
        assert!(TenFingers::from_text(&twice).unwrap_err().to_string().contains("finger 9 (left ring): called twice"));
        let eleven = format!("{nine} 11=PI");
        assert!(TenFingers::from_text(&eleven).unwrap_err().to_string().starts_with("finger 11"));
    }

    #[test]
    fn what_is_written_is_read_back() {
        for text in ["AA", "TT", "U9", "R12~10-14", "U10-14", "U17+", "W", "W:I", "P", "PO:18", "DM", "X:12", "U"] {
            assert_eq!(written(&read(8, text)), text);
        }
        for text in [
            "XX",
            "XX:HALF",
            "XX:BIRTH",
            "UP",
            "UP:U8",
            "TIP:R9",
            "SR",
            "SR:U/W:12",
            "SR:?:I:14",
            "U9?",
            "PM@0.7|PI@0.25",
        ] {
            assert_eq!(written_readings(&finger_call(finger(4), text).unwrap()), text);
        }
    }
}
