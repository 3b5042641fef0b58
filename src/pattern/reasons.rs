//! Why, in the trade's words.

use super::decide::Pattern;
use super::enclosure::CLOSED;
use super::evidence::Evidence;
use super::upright::Lie;
use crate::network::Sight;
use crate::proposal::{Hand, PRINT_UPRIGHT, RADIAL_IS_RARE, Reason};
use crate::singular::{PointKind, Singularities};

/// What speaks for the preferred pattern, most important first. What speaks for the loop that a spoiled pocket leaves is told with its ridges.
pub fn reasons(pattern: Pattern, e: &Evidence, found: &Singularities, pocket: bool) -> Vec<Reason> {
    let (cores, deltas) = (found.chosen(PointKind::Core).count(), found.chosen(PointKind::Delta).count());
    let mut out = match pattern {
        Pattern::PlainArch => plain_arch(e, cores),
        Pattern::TentedArch => tented_arch(e),
        Pattern::LeftLoop | Pattern::RightLoop if pocket => Vec::new(),
        Pattern::LeftLoop | Pattern::RightLoop => looping(pattern, e, deltas),
        Pattern::Whorl => whorl(e, cores, deltas),
    };
    if e.border_half_turns > (cores as i32 - deltas as i32) {
        out.push(Reason::new(
            "turn along the border",
            "Walking once around the printed area, the ridges turn further than the marked points explain: a recurve is likely there that was not marked.",
        ));
    }
    if let Some(weak) = found
        .candidates
        .iter()
        .filter(|c| c.chosen && c.confidence < 0.8)
        .min_by(|a, b| a.confidence.total_cmp(&b.confidence))
    {
        let name = if weak.kind == PointKind::Core { "core" } else { "delta" };
        out.push(Reason::new(
            "doubtful point",
            format!("One {name} is marked with a confidence of only {:.0} %.", 100.0 * weak.confidence),
        ));
    }
    if let Some(other) = found
        .candidates
        .iter()
        .filter(|c| !c.chosen && c.confidence > 0.2)
        .max_by(|a, b| a.confidence.total_cmp(&b.confidence))
    {
        let name = if other.kind == PointKind::Core { "core" } else { "delta" };
        out.push(Reason::new(
            "unmarked point",
            format!("A further {name} is possible ({:.0} %) and was not marked.", 100.0 * other.confidence),
        ));
    }
    out
}

/// What the network takes the whole print for.
pub fn at_first_sight(sight: &Sight) -> Reason {
    const NAMES: [&str; 5] =
        ["a plain arch", "a tented arch", "a loop that opens to the left", "a loop that opens to the right", "a whorl"];
    // Kinds of whorl are told with the mirror image, later.
    let [plain, tented, left, right, whorls @ ..] = sight.kinds;
    let shares = [plain, tented, left, right, whorls.iter().sum::<f64>()];
    let best = (0..NAMES.len()).fold(0, |b, k| if shares[k] > shares[b] { k } else { b });
    Reason::new(
        "first sight",
        format!(
            "As a whole the print looks most like {} ({:.0} %) to a network trained on drawn prints; its view weighs half.",
            NAMES[best],
            100.0 * shares[best]
        ),
    )
}

/// What was turned, or how far the print lies askew and was not turned.
pub fn lie(lie: Lie) -> Option<Reason> {
    /// Less is within what fingers do: the inner delta of a central pocket loop lies well above the other. Degrees.
    const WORTH_SAYING: f64 = 40.0;
    let degrees = lie.turn.to_degrees().round();
    let text = match lie.quarters {
        0 if degrees.abs() < WORTH_SAYING => return None,
        0 => format!(
            "By its deltas the print lies askew, turned by about {} degrees {}; it was read as it lies.",
            degrees.abs(),
            if degrees > 0.0 { "counter-clockwise" } else { "clockwise" }
        ),
        2 => "By its cores and deltas the print stands on its head; it was turned by 180 degrees and then read. Left and right are those of the turned print.".into(),
        n => format!(
            "By its deltas the print lies on its side; it was turned by 90 degrees {} and then read. Left and right are those of the turned print.",
            if n == 1 { "counter-clockwise" } else { "clockwise" }
        ),
    };
    Some(Reason::new(PRINT_UPRIGHT, text))
}

fn plain_arch(e: &Evidence, cores: usize) -> Vec<Reason> {
    let bend = e.sharpest_bend.to_degrees().round();
    let mut out = Vec::new();
    if cores == 0 {
        out.push(Reason::new(
            "plain arch: flow",
            "Ridges come in on one side and run out on the other; none recurves, and no delta was found.",
        ));
        out.push(Reason::new(
            "plain arch: no angle",
            format!(
                "By the flow the sharpest bend of a ridge is {bend} degrees over two ridge intervals: a rise, not an upthrust."
            ),
        ));
    } else {
        out.push(Reason::new(
            "plain arch: flow",
            format!(
                "The flow rises steeply ({bend} degrees over two ridge intervals) but nothing recurves for certain."
            ),
        ));
    }
    out
}

fn tented_arch(e: &Evidence) -> Vec<Reason> {
    let mut out = Vec::new();
    match e.between {
        Some(b) if b.ridges == 0 => out.push(Reason::new(
            "loop essential: ridge count",
            "No ridge lies between delta and core: two essentials of a loop are there, the ridge count is not.",
        )),
        Some(b) => out.push(Reason::new(
            "loop essential: ridge count",
            format!("{} between delta and core, and the delta lies almost straight below the core: close to a loop.", ridges(b.ridges)),
        )),
        None => out.push(Reason::new(
            "tented arch: flow",
            format!("The flow bends by {} degrees over two ridge intervals at the centre, without a delta and core that stand apart.", e.sharpest_bend.to_degrees().round()),
        )),
    }
    if e.exit_spread > 0.4 {
        out.push(Reason::new("tented arch: both sides", "Ridges from under the top leave to both sides."));
    }
    out
}

fn looping(pattern: Pattern, e: &Evidence, deltas: usize) -> Vec<Reason> {
    let (side, other) = if pattern == Pattern::LeftLoop { ("left", "right") } else { ("right", "left") };
    let mut out = vec![Reason::new(
        "loop essential: sufficient recurve",
        format!("Ridges recurve at the core and leave, or tend to leave, to the {side}, the side where they came in."),
    )];
    match (e.between, deltas) {
        (Some(b), _) => {
            let side = if e.delta_sideways < 0.0 { "left" } else { "right" };
            out.push(Reason::new(
                "loop essential: delta",
                match deltas {
                    0 => format!("A delta is possible on the {side} of the core, but not certain enough to be marked."),
                    _ => format!("One delta, on the {side} of the core."),
                },
            ));
            out.push(Reason::new(
                "loop essential: ridge count",
                match b.ridges {
                    0 => "No ridge was met between delta and core; a tented arch is near.".to_string(),
                    n => format!("At least one ridge lies between delta and core (about {n} by the flow)."),
                },
            ));
        }
        (None, _) => out
            .push(Reason::new("delta off the print", format!("The delta is not printed; it must lie on the {other}."))),
    }
    out
}

/// A ridge that turns so far on its way out goes on past a second recurve, radians.
const FULL_TURN: f64 = 1.5 * std::f64::consts::PI;

fn whorl(e: &Evidence, cores: usize, deltas: usize) -> Vec<Reason> {
    let count = |n: usize, name: &str| match n {
        0 => format!("no {name}"),
        1 => format!("one {name}"),
        n => format!("{n} {name}s"),
    };
    let mut out = vec![Reason::new(
        "whorl: deltas and recurves",
        format!(
            "{} and {} on the print; a whorl has a recurve before each of two deltas.",
            capital(&count(cores, "core")),
            count(deltas, "delta")
        ),
    )];
    if e.curl.abs() > 0.9 * std::f64::consts::PI {
        out.push(Reason::new(
            "whorl: second recurve",
            format!(
                "A ridge followed out of the recurve turns through {} degrees, where a loop's would run straight: it recurves a second time{}.",
                e.curl.abs().to_degrees().round(),
                if e.curl.abs() > FULL_TURN { " and goes on as a circuit or a spiral" } else { "" }
            ),
        ));
    }
    if e.enclosure.any_way > CLOSED {
        out.push(Reason::new(
            "whorl: closed ridge",
            "No valley leads away from the core without crossing a ridge: a ridge closes around it, the smallest complete circuit.",
        ));
    }
    out
}

fn ridges(n: u16) -> String {
    if n == 1 { "One ridge".into() } else { format!("{n} ridges") }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |c| c.to_uppercase().chain(letters).collect())
}

/// What to look at where a loop opens as loops of its finger (1 to 10) seldom do. Of the loops of index fingers two in five are radial, of those of other
/// fingers far fewer (Galton, Finger Prints, 1892, table V); the handbook counts the latter among the small letters, which are rare (chapter IV,
/// "Small-letter group").
pub fn rare_hand(hand: Option<Hand>, finger: Option<u8>) -> Option<Reason> {
    const INDEX_FINGERS: [u8; 2] = [2, 7];
    let rare = hand == Some(Hand::Radial) && finger.is_some_and(|finger| !INDEX_FINGERS.contains(&finger));
    rare.then(|| {
        Reason::new(
            RADIAL_IS_RARE,
            "Radial loops are rare on any finger but the index. Look whether finger and hand are stated rightly and the scan is not mirrored \
             (--mirrored).",
        )
    })
}

/// What must lie outside the printed area for the preferred pattern to be whole.
pub fn off_print(pattern: Pattern, found: &Singularities) -> Vec<String> {
    let deltas: Vec<f64> = found.chosen(PointKind::Delta).map(|d| d.at.x).collect();
    let cores: Vec<f64> = found.chosen(PointKind::Core).map(|c| c.at.x).collect();
    let middle = cores.iter().sum::<f64>() / cores.len().max(1) as f64;
    let mut out = Vec::new();
    match pattern {
        Pattern::LeftLoop | Pattern::RightLoop => {
            if cores.is_empty() {
                out.push("core".into());
            }
            if deltas.is_empty() {
                out.push(if pattern == Pattern::LeftLoop { "right delta" } else { "left delta" }.into());
            }
        }
        Pattern::Whorl if !cores.is_empty() && deltas.len() < 2 => {
            for (name, printed) in [
                ("left delta", deltas.iter().any(|&x| x < middle)),
                ("right delta", deltas.iter().any(|&x| x >= middle)),
            ] {
                if !printed {
                    out.push(name.into());
                }
            }
        }
        _ => {}
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_radial_loop_is_remarked_on_every_finger_but_the_index() {
        let rare = |hand| (1..=10).filter(|finger| rare_hand(Some(hand), Some(*finger)).is_some()).collect::<Vec<u8>>();
        assert_eq!(rare(Hand::Radial), [1, 3, 4, 5, 6, 8, 9, 10]);
        assert!(rare(Hand::Ulnar).is_empty());
        assert!(rare_hand(None, None).is_none());
    }
}
