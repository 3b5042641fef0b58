//! Each part of the formula explained from the fingers.

use super::call::{Count, Pattern, Patterns};
use super::finger::Finger;
use super::key::Counted;
use super::settings::Settings;
use super::subsecondary::symbol;
use super::written::Formula;
use crate::proposal::{Hand, Reason, Tracing};

/// The reasons of a formula, a part each, in the order in which it is worked out.
pub fn explain(patterns: &Patterns, formula: &Formula, settings: &Settings) -> Vec<Reason> {
    let mut reasons = vec![primary(patterns, formula), secondary(patterns, formula)];
    if formula.subsecondary.is_some() {
        reasons.push(subsecondary(patterns, formula));
    }
    if formula.major.is_some() {
        reasons.push(major(patterns, formula));
    }
    reasons.extend(formula.final_.map(|counted| final_(counted, patterns)));
    reasons.extend(formula.key.map(|counted| key(counted, patterns)));
    reasons.extend(extensions(patterns, formula));
    for (division, why) in &formula.left_out {
        reasons.push(Reason::new(*division, format!("Not written: {why}.")));
    }
    if formula.major.is_some()
        && patterns.finger(Finger::RIGHT_THUMB).is_loop()
        && patterns.finger(Finger::LEFT_THUMB).is_whorl()
    {
        let table = format!("{:?}", settings.thumb_beside_whorl).to_lowercase();
        reasons.push(Reason::new(
            "major",
            format!("A loop in the right thumb beside a whorl in the left: the {table} table is used; the handbook's chart says nothing of this case."),
        ));
    }
    reasons
}

fn list(parts: Vec<String>) -> String {
    if parts.is_empty() { "none".to_owned() } else { parts.join(", ") }
}

fn primary(patterns: &Patterns, formula: &Formula) -> Reason {
    let row = |even: bool| {
        let fingers =
            Finger::ALL.into_iter().filter(|f| f.number().is_multiple_of(2) == even && patterns.finger(*f).is_whorl());
        list(fingers.map(|f| format!("{} in the {}", 16 >> ((f.number() - 1) / 2), f.name())).collect())
    };
    let text = format!(
        "Whorls in even fingers: {}; with the one that is always added, {} above. In odd fingers: {}; {} below.",
        row(true),
        formula.primary.numerator,
        row(false),
        formula.primary.denominator
    );
    Reason::new("primary", text)
}

fn secondary(patterns: &Patterns, formula: &Formula) -> Reason {
    let index = |finger: Finger| {
        let pattern = patterns.finger(finger);
        let article = if matches!(pattern, Pattern::Loop { hand: Hand::Ulnar, .. }) { "an" } else { "a" };
        format!("{} is {article} {}", finger.name(), bare(pattern))
    };
    let mut text = format!(
        "{} over {}: {}, {}.",
        formula.secondary.numerator,
        formula.secondary.denominator,
        index(Finger::RIGHT_INDEX),
        index(Finger::LEFT_INDEX)
    );
    if formula.secondary.has_small_letter() {
        text.push_str(" Small letters before the capital are the thumb's, after it those of middle, ring and little finger; a dash holds the place of a finger without one.");
    }
    Reason::new("secondary", text)
}

/// A pattern's kind without count and tracing.
fn bare(pattern: &Pattern) -> &'static str {
    match pattern {
        Pattern::PlainArch => "plain arch",
        Pattern::TentedArch => "tented arch",
        Pattern::Loop { hand: Hand::Ulnar, .. } => "ulnar loop",
        Pattern::Loop { hand: Hand::Radial, .. } => "radial loop",
        Pattern::Whorl { .. } => "whorl",
    }
}

fn subsecondary(patterns: &Patterns, formula: &Formula) -> Reason {
    let part = |finger: Finger| {
        let pattern = patterns.finger(finger);
        match symbol(finger, pattern) {
            Ok(None) => format!("{} gives no symbol (arch)", finger.name()),
            Ok(Some(tracing)) => format!("{} {tracing:?} ({})", finger.name(), grounds(pattern, tracing)),
            Err(why) => why.to_string(),
        }
    };
    let row = |right| Finger::middle_three(right).map(part).join(", ");
    let written = formula.subsecondary.map(|s| format!("{} over {}", s.row(true), s.row(false))).unwrap_or_default();
    let text = format!(
        "{written}: {} over {}. Loops are I up to 9 in the index, 10 in the middle and 13 in the ring finger, O above; whorls give their tracing.",
        row(true),
        row(false)
    );
    Reason::new("subsecondary", text)
}

fn grounds(pattern: &Pattern, tracing: Tracing) -> String {
    match pattern.count() {
        Some(count) if pattern.is_loop() => format!("count {}", count.words()),
        _ => format!("whorl, {}", tracing.name()),
    }
}

fn major(patterns: &Patterns, formula: &Formula) -> Reason {
    let (right, left) = (patterns.finger(Finger::RIGHT_THUMB), patterns.finger(Finger::LEFT_THUMB));
    let written = formula.major.map(|m| format!("{} over {}", m.row(true), m.row(false))).unwrap_or_default();
    let expanded = formula.major.is_some_and(|major| major.rows.denominator == Some(super::major::ThumbLetter::Large));
    let table = match (right.is_loop(), expanded) {
        (true, true) => {
            " The left thumb is looked up first: 17 or more there, so the right thumb is S to 17, M to 22, L above."
        }
        (true, false) => {
            " The left thumb is looked up first: not a loop of 17 or more, so the right thumb is S to 11, M to 16, L above."
        }
        _ => "",
    };
    Reason::new("major", format!("{written}: right thumb {}, left thumb {}.{table}", right.words(), left.words()))
}

fn final_(counted: Counted, patterns: &Patterns) -> Reason {
    let what = bare(patterns.finger(counted.finger));
    let why = match (counted.finger.is_right(), patterns.finger(counted.finger).is_loop()) {
        (true, true) => "a loop in the right little finger gives the final",
        (false, true) => "no loop in the right little finger, so the left one gives the final, written below the line",
        _ => "no loop in the little fingers, so a whorl gives the final",
    };
    Reason::new(
        "final",
        format!("{}: the count of the {} in the {}; {why}.", counted.ridges, what, counted.finger.name()),
    )
}

fn key(counted: Counted, patterns: &Patterns) -> Reason {
    let what = bare(patterns.finger(counted.finger));
    Reason::new(
        "key",
        format!(
            "{}: the count of the {what} in the {}, the first from the right thumb on; little fingers are left for the final. It stands in the numerator wherever it comes from.",
            counted.ridges,
            counted.finger.name()
        ),
    )
}

fn extensions(patterns: &Patterns, formula: &Formula) -> Vec<Reason> {
    let counts = |fingers: [Finger; 3]| {
        fingers
            .map(|f| patterns.finger(f).count().and_then(Count::best).map_or_else(|| "-".to_owned(), |n| n.to_string()))
            .join(" ")
    };
    let counted =
        || format!("counts {} over {}", counts(Finger::middle_three(true)), counts(Finger::middle_three(false)));
    let mut reasons = Vec::new();
    if let Some(rows) = &formula.second_subsecondary {
        let limits = "S and M end at 5 and 12 in the index, 8 and 14 in the middle, 10 and 18 in the ring finger";
        reasons.push(Reason::new(
            "second subsecondary",
            format!("{} over {}: {}; {limits}.", rows.row(true), rows.row(false), counted()),
        ));
    }
    if let Some(rows) = &formula.wcdx {
        let text = format!(
            "{} over {}: the kind of each whorl, capitals for the index fingers. Filed as {} over {}: a small w is no small letter.",
            rows.row(true),
            rows.row(false),
            rows.filed_row(true),
            rows.filed_row(false)
        );
        reasons.push(Reason::new("WCDX extension", text));
    }
    if let Some(rows) = &formula.special_loop {
        let text = format!(
            "{} over {}: {}; four counts a value, 25 and over is 7.",
            rows.row(true),
            rows.row(false),
            counted()
        );
        reasons.push(Reason::new("special loop extension", text));
    }
    reasons
}
