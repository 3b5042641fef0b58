//! What the ridges add below the pattern: kind of whorl, tracing, count, their references and marks.

use super::write::round;
use super::{
    CardNotation, General, Hand, LEAST_REFERENCE_PROBABILITY, Proposal, Reading, Reason, RidgeCount, Subclass, Tracing,
    TracingFacts,
};
use crate::geometry::Point;
use crate::pattern::double_loop::Together;
use crate::pattern::line_of_flow::inner_first;
use crate::pattern::pocket::{FEW_BEFORE_DELTA, Pocket};
use crate::pattern::reading::{LOOPING, RidgeReading};
use crate::pattern::reasons::rare_hand;
use crate::pattern::subtype::KINDS;
use crate::pattern::tent::Tent;
use crate::pattern::trace::{Tracings, tracing_of};
use crate::pattern::type_lines::TypeLine;

/// Fills a settled proposal in from what was read on the ridges. The general class and its probability stay as they were; a whorl's is
/// divided among its kinds and tracings.
pub fn refine(proposal: &mut Proposal, reading: &RidgeReading) {
    let Some(general) = proposal.pattern.map(|p| p.general) else { return };
    if general != General::Wu {
        divide_whorl_reference(proposal, reading);
    }
    match general {
        General::Wu => refine_whorl(proposal, reading),
        General::Ls | General::Rs => {
            refine_loop(proposal, reading);
            if let Some(pocket) = &reading.pocket {
                if reading.count.is_none() {
                    proposal.reasons.extend(unmarked_reason(reading, "told"));
                }
                proposal.reasons.insert(0, spoiled_pocket(pocket));
            }
            let hand = proposal.loop_.and_then(|facts| facts.hand);
            proposal.reasons.extend(rare_hand(hand, proposal.finger));
        }
        General::Au => refine_arch(proposal, reading),
        _ => {}
    }
}

/// What the ridges at the centre say for or against a tented arch.
fn refine_arch(proposal: &mut Proposal, reading: &RidgeReading) {
    if let Some((RidgeCount { best, min, max }, read)) =
        reading.if_loop.as_ref().and_then(|read| Some((read.count?, read)))
    {
        let crossed = read.crossing_looping_ridge().map_or_else(
            || {
                "Whether any ridge is crossed freely, without which it is a tented arch, is not decided by this"
                    .to_owned()
            },
            |share| {
                let seen = SeenToLoop::of(share);
                let holds = match seen {
                    SeenToLoop::Mostly => "if that holds, all three essentials of a loop are there, and it is a loop",
                    SeenToLoop::Hardly => "if it lies between them, it is a loop",
                    SeenToLoop::Never => "without one it is a tented arch",
                };
                format!("{}: {holds}. The probability of the loop takes that into account", seen.words())
            },
        );
        proposal.reasons.push(Reason::new(
            "loop among the references: ridge count",
            format!(
                "Counted as a loop, it has {} between delta and core ({min} to {max} within the doubt). {crossed}.",
                count_words(usize::from(best), "ridge")
            ),
        ));
    }
    let Some(tent) = &reading.tent else { return };
    match proposal.pattern.and_then(|p| p.subclass) {
        Some(Subclass::Ta) => drop(proposal.reasons.splice(0..0, tent_reasons(tent))),
        _ => proposal.reasons.extend(no_tent_reasons(tent)),
    }
}

fn degrees(radians: f64) -> f64 {
    radians.to_degrees().round()
}

/// Place of the central pocket loop among the kinds.
const POCKET: usize = 1;

/// Which of the three kinds of tented arch is seen.
fn tent_reasons(tent: &Tent) -> Vec<Reason> {
    let mut out = Vec::new();
    if let Some(upthrust) = &tent.upthrust {
        out.push(Reason::new(
            "tented arch: upthrust",
            format!(
                "A ridge that ends at the centre rises at {} degrees, and 45 or more make an upthrust. It is none where the ridge only goes on from a \
                 curving one, or where it leans and the ridges on both of its sides run its way: that was not looked at.",
                degrees(upthrust.rise)
            ),
        ));
    }
    if let Some(angle) = tent.definite_angle() {
        out.push(Reason::new(
            "tented arch: angle",
            format!(
                "Ridges at the centre form an angle of about {} degrees; 90 or less is definite.",
                degrees(angle.opening)
            ),
        ));
    }
    match (&tent.recurve, tent.spoiled) {
        (Some(_), true) => out.push(Reason::new(
            "tented arch: like a loop",
            "A ridge abuts on the innermost recurve from outside, between the shoulders, at a right angle. That recurve is spoiled; where no \
             other one is left, a delta and a ridge count make a tented arch that lacks one essential of a loop.",
        )),
        (Some(_), false) => out.push(Reason::new(
            "tented arch: like a loop",
            "A ridge recurves at the core. With a delta that makes two of the three essentials of a loop; it is a tented arch where the third \
             lacks, a ridge count across a looping ridge, or where the ridge does not leave on the side where it came in.",
        )),
        (None, _) => {}
    }
    if out.is_empty() {
        out.push(Reason::new(
            "tented arch: by the flow",
            "On single ridges neither an angle of 90 degrees or less nor an upthrust nor a recurve was seen; the flow and the print as a whole speak \
             for a tented arch.",
        ));
    }
    out
}

/// What would make a tented arch of what is called a plain one.
fn no_tent_reasons(tent: &Tent) -> Vec<Reason> {
    const RULE: &str = "plain arch: doubt";
    let mut out = Vec::new();
    if let Some(upthrust) = &tent.upthrust {
        out.push(Reason::new(
            RULE,
            format!(
                "A ridge that ends near the centre rises at {} degrees. If it is an upthrust, the print is a tented arch; it is none where the ridge \
                 goes on from a curving one, or where it leans and the ridges on both of its sides run its way.",
                degrees(upthrust.rise)
            ),
        ));
    }
    if let Some(angle) = tent.definite_angle() {
        out.push(Reason::new(
            RULE,
            format!(
                "Ridges near the centre seem to form an angle of {} degrees, and 90 or less are definite; where one ridge really abuts on another, \
                 the print is a tented arch.",
                degrees(angle.opening)
            ),
        ));
    }
    out
}

/// Divides a whorl among the references into its kinds, as far as each is worth showing.
fn divide_whorl_reference(proposal: &mut Proposal, reading: &RidgeReading) {
    let Some(kinds) = reading.kinds else { return };
    let Some(at) = proposal.references.iter().position(|r| r.general == General::Wu) else { return };
    let all = shares(proposal.references[at].probability, &kinds, reading.tracing);
    let shown: Vec<Reading> = all.into_iter().filter(|r| r.probability >= LEAST_REFERENCE_PROBABILITY).collect();
    if !shown.is_empty() {
        proposal.references.splice(at..=at, shown);
        proposal.references.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    }
}

fn refine_loop(proposal: &mut Proposal, reading: &RidgeReading) {
    let Some(count) = reading.count else { return };
    let Some(facts) = proposal.loop_.as_mut() else { return };
    facts.ridge_count = Some(count);
    if let Some(mark) = proposal.card_notation.as_mut() {
        mark.upper_right = Some(count.best.to_string());
    }
    proposal.ncic = facts.hand.and_then(|hand| ncic_of_loop(hand, count));
    let mut reasons = count_reasons(reading, count);
    reasons.extend(looping_ridge(reading));
    reasons.extend(unmarked_reason(reading, "counted"));
    reasons.extend(type_line_reason(reading));
    reasons.append(&mut proposal.reasons.iter().filter(|r| r.rule != "loop essential: ridge count").cloned().collect());
    proposal.reasons = reasons;
}

/// Two digits: the count of an ulnar loop, the count and fifty of a radial one; counts from 1 to 49 only.
fn ncic_of_loop(hand: Hand, count: RidgeCount) -> Option<String> {
    (1..=49).contains(&count.best).then(|| match hand {
        Hand::Ulnar => format!("{:02}", count.best),
        Hand::Radial => format!("{:02}", count.best + 50),
    })
}

/// Why a print with two deltas is, or may be, a loop.
fn spoiled_pocket(pocket: &Pocket) -> Reason {
    let recurves = match pocket.spoiled.len() {
        1 => "the only recurve found before the inner one has a ridge connected with it".to_owned(),
        n => format!("each of the {n} recurves found before the inner one has a ridge connected with it"),
    };
    let slant = if pocket.outer.is_none() {
        " Which of the deltas is the inner one is not clear here, so nothing is counted, and the loop may open to the other side."
    } else {
        ""
    };
    Reason::new(
        "loop: spoiled pocket",
        format!(
            "There are two deltas, but {recurves} at the point crossed by the line of flow, on the delta's side. That spoils it; without a sound recurve in \
             front of each delta, or an obstruction at right angles, no whorl is left but a loop. How sure that is was not measured: of what spoke for \
             a whorl at most seven parts in ten are given to the loop. Look at the tip that the picture shows, and for a recurve or an obstruction that \
             was missed: where the ridge is not connected, or not at that point, it is a whorl.{slant}"
        ),
    )
}

fn count_reasons(reading: &RidgeReading, count: RidgeCount) -> Vec<Reason> {
    let mut out = Vec::new();
    let RidgeCount { best, min, max } = count;
    out.push(Reason::new(
        "loop essential: ridge count",
        format!(
            "{best} {} between delta and core ({min} to {max} within the doubt); neither delta nor core is counted.",
            if best == 1 { "ridge" } else { "ridges" }
        ),
    ));
    if let Some(line) = &reading.counted {
        let core = &line.shown.core;
        let rods = match core.rods {
            0 if core.on_appendage => {
                "where the appendage of a spoiled loop touches the next loop outside it".to_owned()
            }
            0 if core.none_sound => "on the shoulder of the innermost recurve farther from the delta".to_owned(),
            0 => "on the shoulder of the innermost sufficient recurve farther from the delta".to_owned(),
            1 => "on the end of the one rod that rises as high as the shoulders".to_owned(),
            n if n % 2 == 1 => format!("on the end of the middle one of {n} rods"),
            n => format!("on the end of the farther of the two middle rods of {n}"),
        };
        out.push(Reason::new("core for counting", format!("Taken {rods}.")));
        if core.spoiled > 0 {
            out.push(Reason::new(
                "core for counting: spoiled recurve",
                format!(
                    "Inside it {} spoiled: a ridge abuts from outside, between the shoulders, at a right angle. Where that ridge flows off \
                     smoothly instead, the inner loop holds, and the core lies farther in.",
                    if core.spoiled == 1 { "one loop is".to_owned() } else { format!("{} loops are", core.spoiled) }
                ),
            ));
        }
        if core.none_sound {
            out.push(Reason::new(
                "loop essential: sufficient recurve: doubt",
                "On every loop found near the core a ridge abuts from outside, between the shoulders, at a right angle. Where no sound one lies \
                 farther out, no recurve is sufficient, and the print is a tented arch; where that ridge flows off smoothly, it is a loop.",
            ));
        }
        if line.shown.count != best {
            let shown = count_words(usize::from(line.shown.count), "ridge");
            out.push(Reason::new(
                "loop essential: ridge count: doubt",
                format!(
                    "The line drawn on the picture alone meets {shown}; the networks that have learned counting, or other readings of the ridges, outweigh it. \
                     Count along it."
                ),
            ));
        }
    }
    out
}

/// What the ridges between delta and core say about the third essential of a loop, where that is close.
fn looping_ridge(reading: &RidgeReading) -> Option<Reason> {
    const DOUBT: &str = "loop essential: looping ridge: doubt";
    let seen = SeenToLoop::of(reading.crossing_looping_ridge()?);
    let like_an_arch = "By the flow and the whole together the print looks more like a tented arch";
    Some(match (seen, reading.by_ridges) {
        (SeenToLoop::Mostly, false) => return None,
        (SeenToLoop::Mostly, true) => Reason::new(
            "loop essential: looping ridge",
            format!("{}. {like_an_arch}; follow that ridge: where it does not loop, it is one.", seen.words()),
        ),
        (_, true) => Reason::new(
            DOUBT,
            format!(
                "{like_an_arch}; by the ridges that are counted between delta and core it is a loop. {}. Look for one that does: where none loops, it is a tented arch.",
                seen.words()
            ),
        ),
        (_, false) => Reason::new(
            DOUBT,
            format!(
                "{}. One that ends, or a fork on it, may hide that; where none loops, it is a tented arch.",
                seen.words()
            ),
        ),
    })
}

/// On how many of the lines tried from delta to core a ridge is crossed that loops.
#[derive(Debug, Clone, Copy, PartialEq)]
enum SeenToLoop {
    Mostly,
    Hardly,
    Never,
}

impl SeenToLoop {
    fn of(share: f64) -> Self {
        match share {
            share if share >= LOOPING => Self::Mostly,
            share if share > 0.0 => Self::Hardly,
            _ => Self::Never,
        }
    }

    fn words(self) -> &'static str {
        match self {
            Self::Mostly => "A ridge between delta and core goes round over the core and out on the open side",
            Self::Hardly => {
                "A ridge that goes round over the core and out on the open side is crossed only on some of the lines tried from delta to core"
            }
            Self::Never => {
                "No ridge between delta and core was seen to go round over the core and out on the open side"
            }
        }
    }
}

/// Points too doubtful to be marked from which something was read all the same.
fn unmarked_reason(reading: &RidgeReading, read: &str) -> Option<Reason> {
    if reading.unmarked.is_empty() {
        return None;
    }
    let points: Vec<String> =
        reading.unmarked.iter().map(|p| format!("a {} ({:.0} %)", p.name(), 100.0 * p.confidence)).collect();
    Some(Reason::new(
        "unmarked point: used",
        format!(
            "The likeliest reading of the points has {} that is not certain enough to be marked; the picture names its place, and what is {read} \
             stands on it. If it is none, nothing of that holds.",
            points.join(" and ")
        ),
    ))
}

/// Which type lines were found, and where one had to be carried on over a break.
fn type_line_reason(reading: &RidgeReading) -> Option<Reason> {
    if reading.type_lines.is_empty() {
        return None;
    }
    let two_sides = reading.type_lines.len() > 1;
    let said: Vec<String> = reading
        .type_lines
        .iter()
        .enumerate()
        .map(|(i, found)| {
            let place = match (two_sides, i) {
                (false, _) => "delta",
                (true, 0) => "left delta",
                (true, _) => "right delta",
            };
            let breaks: usize = found.lines.iter().flatten().map(TypeLine::breaks).sum();
            let carried = match breaks {
                0 => String::new(),
                n => format!(", carried on with the next ridge outside at {}", count_words(n, "break")),
            };
            match found.lines.iter().flatten().count() {
                2 => format!("two ridges that run side by side spread at the {place}{carried}"),
                1 => format!("only one is found at the {place}{carried}"),
                _ => format!("none is found at the {place}"),
            }
        })
        .collect();
    Some(Reason::new("type lines", capital(&said.join("; ")) + "."))
}

/// A tracing that is no more than probable parts no whorl into readings of less than this: where the kind is doubtful as well, the tracing stays open.
/// (On flat scans without deltas the impressions of one finger get now this tracing, now that.)
const LEAST_PARTED: f64 = 1.0 / 3.0;

/// The tracing by which the kinds of a whorl are parted; none where it stays open.
fn parting(whorl: f64, kinds: &[f64; 4], tracing: Option<TracingFacts>) -> Option<TracingFacts> {
    let kind = kinds.iter().copied().fold(0.0, f64::max);
    tracing.filter(|t| t.is_likely() || whorl * kind * t.probabilities.most() >= LEAST_PARTED)
}

/// Parts a probability among kinds and tracings; kinds whose tracings are each too small to show are kept whole.
fn shares(whorl: f64, kinds: &[f64; 4], tracing: Option<TracingFacts>) -> Vec<Reading> {
    let tracings: Vec<(Option<Tracing>, f64)> = match tracing {
        Some(t) => {
            let p = t.probabilities;
            vec![(Some(Tracing::I), p.I), (Some(Tracing::M), p.M), (Some(Tracing::O), p.O)]
        }
        None => vec![(None, 1.0)],
    };
    let floor = |p: f64| (p * 1e4).floor() / 1e4;
    let whole = |subclass: Subclass, tracing, p: f64| Reading {
        general: General::Wu,
        subclass: Some(subclass),
        tracing,
        probability: floor(p),
    };
    let mut out = Vec::new();
    for (kind, share) in KINDS.iter().zip(kinds) {
        let parts: Vec<Reading> = tracings.iter().map(|(t, p)| whole(*kind, *t, whorl * share * p)).collect();
        if parts.iter().any(|r| r.probability >= LEAST_REFERENCE_PROBABILITY) {
            out.extend(parts);
        } else {
            out.push(whole(*kind, None, whorl * share));
        }
    }
    out
}

/// The readings beside the preferred one that are worth showing. A tracing whose share is spread over several kinds so thin that none of them is
/// shown is kept as a whole with its kind left open; kinds too thin to be parted by tracing are not in it.
fn worth_showing(preferred: Reading, others: Vec<Reading>) -> Vec<Reading> {
    let (mut shown, thin): (Vec<_>, Vec<_>) =
        others.into_iter().partition(|r| r.probability >= LEAST_REFERENCE_PROBABILITY);
    // A preferred reading whose tracing is open holds a part of each.
    let tracings = [Tracing::I, Tracing::M, Tracing::O].into_iter().filter(|_| preferred.tracing.is_some());
    for tracing in tracings.map(Some) {
        if preferred.tracing == tracing || shown.iter().any(|r| r.tracing == tracing) {
            continue;
        }
        let together: f64 = thin.iter().filter(|r| r.tracing == tracing).map(|r| r.probability).sum();
        if together >= LEAST_REFERENCE_PROBABILITY {
            let probability = (together * 1e4).floor() / 1e4;
            shown.push(Reading { subclass: None, tracing, probability, ..preferred });
        }
    }
    shown
}

/// Share of such pockets that is told as a loop, at least what a reference needs to be shown: how many there are is published nowhere, so it is
/// named and no more.
const SPOILED_SHARE: f64 = 0.03;
/// A reference is shown from [`LEAST_REFERENCE_PROBABILITY`] on, after rounding down to four digits.
const LEAST_NAMED: f64 = LEAST_REFERENCE_PROBABILITY + 1e-4;

/// What is left of a pocket if appendages too small to be seen spoil its few recurves: a loop that opens to the side of the inner delta. None where they
/// were seen: then the loop has its share already.
fn loop_of_spoiled_pocket(reading: &RidgeReading) -> Option<General> {
    let pocket = reading.pocket.as_ref().filter(|pocket| !pocket.is_spoiled())?;
    Some(if pocket.opens_left { General::Ls } else { General::Rs })
}

/// Adds to a reference, or makes it.
fn add_reference(proposal: &mut Proposal, general: General, probability: f64) {
    let floor = |p: f64| (p * 1e4).floor() / 1e4;
    match proposal.references.iter_mut().find(|r| r.general == general) {
        Some(known) => known.probability = floor(known.probability + probability),
        None if probability >= LEAST_REFERENCE_PROBABILITY => {
            let probability = floor(probability);
            proposal.references.push(Reading { general, subclass: None, tracing: None, probability });
        }
        None => {}
    }
}

fn refine_whorl(proposal: &mut Proposal, reading: &RidgeReading) {
    let (Some(pattern), Some(mut kinds)) = (proposal.pattern, reading.kinds) else { return };
    let whorl = pattern.probability;
    let spoiled = (kinds[POCKET] * SPOILED_SHARE).max(LEAST_NAMED / whorl.max(LEAST_NAMED));
    let sound = kinds[POCKET] - spoiled;
    if (0..kinds.len()).all(|k| k == POCKET || kinds[k] < sound)
        && let Some(general) = loop_of_spoiled_pocket(reading)
    {
        kinds[POCKET] = sound;
        add_reference(proposal, general, whorl * spoiled);
    }
    let parting = parting(whorl, &kinds, reading.tracing);
    let all = shares(whorl, &kinds, parting);
    // The kind first, then its tracing: the preferred call is the best tracing of the best kind.
    let kind = KINDS
        .iter()
        .zip(&kinds)
        .fold((Subclass::Pw, f64::NEG_INFINITY), |b, (k, p)| if *p > b.1 { (*k, *p) } else { b })
        .0;
    let tracing = parting.map(|t| t.best);
    let best = all.iter().copied().find(|r| r.subclass == Some(kind) && r.tracing == tracing);
    let Some(best) = best.or_else(|| all.iter().copied().find(|r| r.subclass == Some(kind))) else { return };
    // A division that would leave another pattern more probable than the preferred call is not made: first the tracing stays open,
    // then the kind as well.
    let rival = proposal.references.iter().map(|r| r.probability).fold(0.0, f64::max);
    let of_kind: f64 = all.iter().filter(|r| r.subclass == best.subclass).map(|r| r.probability).sum();
    let (best, others): (Reading, Vec<Reading>) = if best.probability >= rival {
        let others = all.into_iter().filter(|r| (r.subclass, r.tracing) != (best.subclass, best.tracing)).collect();
        (best, others)
    } else if of_kind >= rival {
        let whole = Reading { tracing: None, probability: (of_kind * 1e4).floor() / 1e4, ..best };
        (whole, all.into_iter().filter(|r| r.subclass != best.subclass).collect())
    } else {
        (pattern, Vec::new())
    };
    proposal.pattern = Some(best);
    proposal.references.extend(worth_showing(best, others));
    proposal.references.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    if let Some(facts) = proposal.whorl.as_mut() {
        facts.tracing = reading.tracing;
        if let Some(line) = reading.whorl.as_ref().and_then(|w| w.delta_line) {
            facts.recurves_cut = Some(line.circuits_cut.round() as u16);
            facts.clearance_ridges = Some(round(line.clearance, 1));
        }
    }
    let (Some(kind), tracing) = (best.subclass, best.tracing) else { return };
    proposal.card_notation =
        Some(CardNotation { below: "W".into(), upper_right: tracing.map(|t| format!("{}{t:?}", letter(kind))) });
    proposal.ncic = tracing.map(|t| format!("{}{t:?}", if kind == Subclass::Dl { 'd' } else { letter(kind) }));
    let mut reasons = whorl_reasons(kind, reading);
    reasons.extend(unmarked_reason(reading, "traced"));
    reasons.extend(type_line_reason(reading));
    reasons.append(&mut proposal.reasons);
    proposal.reasons = reasons;
}

/// The letter of a kind of whorl on the card and in the code.
fn letter(kind: Subclass) -> char {
    match kind {
        Subclass::Cp => 'C',
        Subclass::Dl => 'D',
        Subclass::Aw => 'X',
        _ => 'P',
    }
}

/// Which kind of whorl the network sees.
fn kind_by_sight(shares: [f64; 4]) -> Reason {
    let (kind, share) =
        KINDS.into_iter().zip(shares).fold((Subclass::Pw, 0.0), |best, k| if k.1 > best.1 { k } else { best });
    let name = match kind {
        Subclass::Cp => "a central pocket loop",
        Subclass::Dl => "a double loop",
        Subclass::Aw => "an accidental whorl",
        _ => "a plain whorl",
    };
    Reason::new(
        "first sight: kind of whorl",
        format!(
            "Of the kinds of whorl the print, seen straight and in a mirror, looks most like {name} ({:.0} %) to a network trained on drawn prints; its view weighs half.",
            100.0 * share
        ),
    )
}

/// What makes the two recurves of a whorl, where that speaks for or against a double loop.
fn two_loops_reason(kind: Subclass, reading: &RidgeReading) -> Option<Reason> {
    const RULE: &str = "double loop: two separate loops";
    let cores = reading.whorl.as_ref()?.points.cores.len();
    let Some((loops, apart)) = reading.decisive_loops() else {
        let text = if cores > 1 {
            "By the flow and at first sight; on single ridges the two recurves were not both found."
        } else {
            "At first sight only: one core was found, a second recurve is not seen."
        };
        return (kind == Subclass::Dl).then(|| Reason::new(RULE, text));
    };
    let read = match loops.together {
        Together::Separate => {
            "As far as they were followed, two ridges make the two recurves and neither runs into the other"
        }
        Together::OneRidge => "One ridge makes both recurves, as in an S, a spiral or a circuit that does not close",
        Together::SharedSide => {
            "The ridge of one loop runs into the other or along it; where it forms its side they are not separate"
        }
        Together::Circuit => "The recurve met at one core goes round the other as well",
        Together::Inside => "One loop lies inside the other",
    };
    let separate = loops.together == Together::Separate;
    let (rule, follows) = match (kind, separate) {
        (Subclass::Dl, true) => (RULE, "Each needs shoulders of its own."),
        (Subclass::Dl, false) => (
            "double loop: doubt",
            "That would be no double loop; the other facts outweigh it. Follow both recurves by eye.",
        ),
        (_, false) => ("double loop: excluded", "Two separate loops would need recurves and shoulders of their own."),
        (Subclass::Aw, true) => (
            "double loop: doubt",
            "With shoulders of their own, and no other pattern beside them, they are a double loop.",
        ),
        (_, true) => (
            "double loop: doubt",
            "With shoulders of their own they would be a double loop; the other facts outweigh it. Follow both recurves by eye.",
        ),
    };
    let spoiled = if loops.spoiled {
        " An appendage was seen on one of them, which spoils it if it abuts at a right angle."
    } else {
        ""
    };
    Some(Reason::new(
        rule,
        format!(
            "The cores lie about {} apart. {read}. {follows}{spoiled}",
            count_words(apart.round() as usize, "ridge")
        ),
    ))
}

/// What stands before the inner delta of a pocket, and recurves that appendages spoil.
fn line_of_flow_reasons(kind: Subclass, reading: &RidgeReading) -> Vec<Reason> {
    let Some(lines) = &reading.lines_of_flow else { return Vec::new() };
    let mut out: Vec<Reason> = reading.pocket.iter().filter(|p| p.is_spoiled()).map(spoiled_pocket).collect();
    let [inner, _] = inner_first(lines);
    if kind == Subclass::Cp {
        let said = match (inner.met.len(), inner.square.len()) {
            (0, _) => "No ridge is met between the inner delta and the core: neither a recurve nor an obstruction was seen there.".to_owned(),
            (1, 0) => "The only ridge between the inner delta and the core does not stand at right angles to the inner line of flow.".to_owned(),
            (1, _) => "The only ridge between the inner delta and the core stands at right angles to the inner line of flow.".to_owned(),
            (n, 0) => format!("None of {n} ridges between the inner delta and the core stands at right angles to the inner line of flow."),
            (n, k) => format!(
                "Of {n} ridges between the inner delta and the core {} at right angles to the inner line of flow.",
                if k == 1 { "one stands".to_owned() } else { format!("{k} stand") }
            ),
        };
        let asked = if inner.square.is_empty() { " An obstruction must; a recurve need not." } else { "" };
        out.push(Reason::new("central pocket loop: recurve or obstruction", said + asked));
        if inner.met.len() <= FEW_BEFORE_DELTA {
            out.push(Reason::new(
                "central pocket loop: doubt",
                "So few ridges make the pocket that the print is a loop if each recurve among them is spoiled by an appendage connected with it at \
                 the point crossed by the line of flow, if the inner delta lies on the only one, or if only an obstruction stands there, not at \
                 right angles. Of all that only plain appendages are judged here: look at each of them.",
            ));
        }
    }
    for (side, line) in ["left", "right"].into_iter().zip(lines) {
        let all = line.met.len();
        let spoiled = line.spoiled.len().min(all);
        // One of many says nothing about the pattern; half of them may.
        if spoiled == 0 || 2 * spoiled < all {
            continue;
        }
        let which = match (all, spoiled) {
            (1, _) => "The only ridge met".to_owned(),
            (n, k) if n == k => format!("Each of {n} ridges met"),
            (n, 1) => format!("One of {n} ridges met"),
            (n, k) => format!("Each of {k} out of {n} ridges met"),
        };
        let hold = if spoiled < all {
            "The others hold."
        } else {
            "Where no other recurve stands there, the print is a loop."
        };
        out.push(Reason::new(
            "whorl: spoiled recurve",
            format!(
                "{which} in the line of flow before the {side} delta has a ridge abutting on it from the delta's side, which spoils a recurve. \
                 {hold} One that is connected elsewhere than in the line of flow spoils nothing."
            ),
        ));
    }
    out
}

fn whorl_reasons(kind: Subclass, reading: &RidgeReading) -> Vec<Reason> {
    let mut out = Vec::new();
    let Some(whorl) = &reading.whorl else { return out };
    let circuits = whorl.circuits.iter().copied().fold(0.0, f64::max).round();
    let line = whorl.delta_line;
    match kind {
        Subclass::Aw => out.push(Reason::new(
            "accidental: two types in one print",
            format!(
                "{} on the print and {} recurves: more than one type, plain arch excepted, or none of the other definitions.",
                count_words(whorl.points.deltas.len(), "delta"),
                whorl.points.cores.len() + usize::from(whorl.points.third.is_some())
            ),
        )),
        Subclass::Dl => {}
        _ => out.push(Reason::new(
            "whorl: circuit",
            if circuits < 1.0 {
                "By the flow no ridge goes round a full circuit inside the deltas; a circuit of a ridge or two, or one that opens to a delta, it would not show."
                    .to_owned()
            } else {
                format!("Full circuits go on for about {} around the centre.", count_words(circuits as usize, "ridge"))
            },
        )),
    }
    out.extend(two_loops_reason(kind, reading));
    match line {
        Some(l) if l.cuts() => out.push(Reason::new(
            "delta line",
            format!(
                "The line between the deltas cuts about {} of the inner pattern area.",
                count_words(l.circuits_cut.round().max(1.0) as usize, "recurving ridge")
            ),
        )),
        Some(l) if l.clearance < 0.5 => out.push(Reason::new(
            "delta line",
            "The line between the deltas touches no recurving ridge of a full circuit, but passes close by one.",
        )),
        Some(l) => out.push(Reason::new(
            "delta line",
            format!(
                "The line between the deltas touches no recurving ridge of a full circuit; it passes {:.1} ridges outside the outermost one.",
                l.clearance
            ),
        )),
        None => out.push(Reason::new(
            "delta line",
            "The line between the deltas cannot be drawn, because one of them is not seen: the kind of whorl rests on the recurves and circuits alone.",
        )),
    }
    out.extend(line_of_flow_reasons(kind, reading));
    out.extend(reading.kinds_by_sight.map(kind_by_sight));
    let cut = line.map(|l| l.cuts());
    let against = match kind {
        Subclass::Cp if cut == Some(true) => Some("a plain whorl, not a central pocket loop"),
        Subclass::Pw if cut == Some(false) => Some("a central pocket loop, not a plain whorl"),
        _ => None,
    };
    if let Some(against) = against {
        out.push(Reason::new(
            "delta line: doubt",
            format!(
                "As it was read, that line makes {against}; the other facts and the first sight of the whole print outweigh it. Look whether \
                 the ridges it meets make a full circuit."
            ),
        ));
    }
    match (&reading.tracing, reading.tracings.as_ref().and_then(|t| t.preferred.as_ref())) {
        (Some(t), traced) => {
            let between = count_words(usize::from(t.ridges_between), "ridge");
            let between_capital = capital(&between);
            let doubt = format!("{} to {} within the doubt; three or more make inner or outer", t.min, t.max);
            let text = match (traced, reading.tracings.as_ref().is_some_and(Tracings::came_round)) {
                (Some(p), _) => format!(
                    "From the left delta the ridge passes the right one with {between} between ({doubt}): {} to the next lower ridge, {} at which the \
                     lower limb was followed, {} taken for ink.",
                    count_words(p.drops, "drop"),
                    count_words(p.forks, "fork"),
                    count_words(p.bridged, "break")
                ),
                (None, true) => format!(
                    "From the left delta the flow of the ridges passes the right one with {between} between ({doubt}); no single ridge was followed all the way."
                ),
                (None, false) if reading.tracings.is_some() => format!(
                    "No tracing from the left delta came round to the right one; {between} between ({doubt}) is what the networks that have learned tracing see on the whole print."
                ),
                (None, false) => format!(
                    "Nothing was traced: not both of the extreme deltas were found on the print. {between_capital} between ({doubt}) is what \
                     the networks that have learned tracing see on the whole print; trace on a fully rolled impression of the finger."
                ),
            };
            out.push(Reason::new("whorl tracing", text));
            if !t.is_likely() {
                out.push(Reason::new(
                    "whorl tracing: probable",
                    format!(
                        "{} is the probable tracing and no more: the others together are likelier. Search under each, as where scars hide the ridges.",
                        capital(t.best.name())
                    ),
                ));
            }
            out.extend(whorl.points.unclear_order().map(order_reason));
            if let Some(p) = traced {
                let (drawn, own) = (p.ridges.len(), tracing_of(p.between));
                let would = if own == t.best { String::new() } else { format!(" and would make it {}", own.name()) };
                if own != t.best || drawn != usize::from(t.ridges_between) {
                    out.push(Reason::new(
                        "whorl tracing: doubt",
                        format!(
                            "The ridge drawn on the picture alone has {} between{would}; the other ways within the doubt and the networks that have learned tracing outweigh it.",
                            count_words(drawn, "ridge")
                        ),
                    ));
                }
            }
        }
        (None, _) => out.push(Reason::new(
            "whorl tracing",
            if reading.tracings.is_some() {
                "Not traced: no tracing from the left delta came round to the right one, and too little of the print shows to tell one without."
            } else {
                "Not traced: not both of the extreme deltas were found on the print, and too little of it shows to tell a tracing without."
            },
        )),
    }
    out
}

/// Says which delta is held for the left one where their places across the print do not show it.
fn order_reason((left, right): (Point, Point)) -> Reason {
    let which = if left.y > right.y { "lower" } else { "upper" };
    Reason::new(
        "whorl tracing: deltas",
        format!(
            "The places of the deltas across the print do not show which is the left one. The {which} one is taken for it, because it comes \
             first on the way round the pattern from its left side under the centre; with the other one the tracing may be another."
        ),
    )
}

fn capital(text: &str) -> String {
    let mut text = text.to_owned();
    if let Some(first) = text.get_mut(..1) {
        first.make_ascii_uppercase();
    }
    text
}

fn count_words(n: usize, name: &str) -> String {
    match n {
        0 => format!("no {name}"),
        1 => format!("one {name}"),
        n => format!("{n} {name}s"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pattern::pocket::Stalk;
    use crate::proposal::TracingProbabilities;

    #[test]
    fn a_tracing_that_is_only_probable_parts_no_whorl_of_doubtful_kind() {
        let facts = |i: f64| TracingFacts {
            best: Tracing::I,
            ridges_between: 3,
            min: 0,
            max: 9,
            probabilities: TracingProbabilities { I: i, M: 0.9 - i, O: 0.1 },
        };
        let parts = |sure_of_kind: f64, i: f64| {
            let other = (1.0 - sure_of_kind) / 3.0;
            parting(0.95, &[sure_of_kind, other, other, other], Some(facts(i))).is_some()
        };
        assert!(parts(0.97, 0.46));
        assert!(!parts(0.5, 0.46));
        assert!(parts(0.5, 0.6));
    }

    #[test]
    fn it_is_said_which_delta_is_taken_for_the_left_one() {
        let (inner, outer) = (Point::new(212.0, 110.0), Point::new(215.0, 190.0));
        assert!(order_reason((outer, inner)).text.contains("The lower one is taken for it"));
        assert!(order_reason((inner, outer)).text.contains("The upper one is taken for it"));
    }

    #[test]
    fn a_tracing_spread_thin_over_the_kinds_is_kept_with_its_kind_open() {
        let reading = |subclass, tracing, probability| Reading {
            general: General::Wu,
            subclass: Some(subclass),
            tracing: Some(tracing),
            probability,
        };
        let preferred = reading(Subclass::Pw, Tracing::I, 0.5);
        let others = vec![
            reading(Subclass::Cp, Tracing::I, 0.4),
            reading(Subclass::Pw, Tracing::M, 0.016),
            reading(Subclass::Cp, Tracing::M, 0.013),
            reading(Subclass::Pw, Tracing::O, 0.009),
        ];
        let shown = worth_showing(preferred, others);
        let outer_is_too_unlikely = !shown.iter().any(|r| r.tracing == Some(Tracing::O));
        assert!(outer_is_too_unlikely && shown.len() == 2, "{shown:?}");
        let meeting = shown.iter().find(|r| r.tracing == Some(Tracing::M)).unwrap();
        assert_eq!(meeting.subclass, None);
        approx::assert_abs_diff_eq!(meeting.probability, 0.029, epsilon = 1e-9);
    }

    #[test]
    fn a_pocket_of_few_ridges_leaves_a_loop_that_opens_to_the_side_of_its_inner_delta() {
        // Handbook, chapter II, figures 239 to 254.
        let left_of = |opens_left, spoiled: usize| {
            let stalk = Stalk { tip: Point::default(), ridge: Vec::new() };
            let pocket = Pocket {
                delta: Point::default(),
                outer: None,
                opens_left,
                spoiled: vec![stalk; spoiled],
                sound: Vec::new(),
            };
            loop_of_spoiled_pocket(&RidgeReading { pocket: Some(pocket), ..Default::default() })
        };
        assert_eq!((left_of(true, 0), left_of(false, 0)), (Some(General::Ls), Some(General::Rs)));
        assert_eq!(left_of(true, 1), None, "that loop was given its share before");
        assert_eq!(loop_of_spoiled_pocket(&RidgeReading::default()), None);
    }

    #[test]
    fn a_tracing_that_one_kind_shows_is_not_told_twice() {
        let reading = |tracing, probability| Reading {
            general: General::Wu,
            subclass: Some(Subclass::Dl),
            tracing: Some(tracing),
            probability,
        };
        let thin = |subclass, p| Reading { subclass: Some(subclass), ..reading(Tracing::M, p) };
        let others = vec![reading(Tracing::M, 0.1), thin(Subclass::Aw, 0.015), thin(Subclass::Pw, 0.014)];
        let shown = worth_showing(reading(Tracing::I, 0.8), others);
        assert_eq!(shown, vec![reading(Tracing::M, 0.1)]);
    }
}
