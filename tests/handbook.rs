//! The handbook's figures as they stand in the book: what the screener makes of each.
//!
//! Labels: FBI, *The Science of Fingerprints: Classification and Uses* (1963 revision, public domain), captions and text of
//! the figures by number; `testdata/handbook/figures.csv` holds them. Figures count here that the handbook shows as typical
//! of their kind; the others turn on single ridges, and only the form of the answer is checked on them.

use recurve::intake::{self, IntakeSettings};
use recurve::pattern::enclosure::{CLOSED, enclosure};
use recurve::picture::{self, Overlay, Role, Shape};
use recurve::proposal::{ADVISORY, General, LEAST_REFERENCE_PROBABILITY, Reading, SCHEMA, Subclass};
use recurve::singular::PointKind;
use recurve::{Proposal, Screener, Status};
use serde::Deserialize;
use std::path::PathBuf;
use std::sync::OnceLock;

/// Typical figures whose class (arch, loop, whorl) must be the preferred reading. Not the aim but a floor: a little below
/// what holds today, so that a change for the worse is seen. Raise it when more is reached.
const CLASS_FLOOR: Floors = Floors { arch: 13, loop_: 15, whorl: 34, all: 66 };
/// The same with the kind of arch (plain or tented) right as well.
const KIND_FLOOR: usize = 64;
/// Of the eight figures of pockets that are loops, those that must name the loop. All do today.
const SPOILED_POCKET_FLOOR: usize = 7;
/// Typical figures whose class must be the preferred reading or stand among the references.
const SHOWN_FLOOR: usize = 67;

struct Floors {
    arch: usize,
    loop_: usize,
    whorl: usize,
    all: usize,
}

/// A line of `figures.csv`.
#[derive(Debug, Clone, Deserialize)]
struct Figure {
    file: String,
    figure: String,
    pattern: String,
    subtype: String,
    ridge_count: Option<u16>,
    difficulty: String,
}

struct Screened {
    figure: Figure,
    proposal: Proposal,
    /// How firmly the valleys around the surest core are enclosed.
    enclosed: Option<f64>,
    /// The last number on the picture's line of a count or of a tracing, where there is such a line.
    ticked: Option<u16>,
}

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("testdata/handbook")
}

fn figures() -> Vec<Figure> {
    let mut table = csv::Reader::from_path(folder().join("figures.csv")).unwrap();
    table.deserialize().map(Result::unwrap).collect()
}

/// All figures screened once for all tests of this file. Each figure has a scale of its own, so none is given.
fn screened() -> &'static [Screened] {
    static ALL: OnceLock<Vec<Screened>> = OnceLock::new();
    ALL.get_or_init(|| {
        let screener = Screener::default();
        let screen = |figure: Figure| {
            let prints = intake::read(&folder().join(&figure.file), &IntakeSettings::default()).unwrap();
            assert_eq!(prints.len(), 1, "{}", figure.file);
            let seen = screener.examine(&prints[0]).unwrap();
            let cores = seen.found.candidates.iter().filter(|c| c.kind == PointKind::Core);
            let surest = cores.max_by(|a, b| a.confidence.total_cmp(&b.confidence));
            let enclosed = seen.field.as_ref().zip(surest).map(|(field, core)| {
                enclosure(field, core.at, core.directions[0], field.median_period().max(3.0)).any_way
            });
            let working = picture::working(&seen.ridges);
            let counting = |o: &&Overlay| matches!(o.role, Role::CountLine | Role::BetweenLine);
            let ticked = working.iter().filter(counting).filter_map(|o| match &o.shape {
                Shape::Tick { number, .. } => *number,
                Shape::Line(_) => Some(0),
                _ => None,
            });
            let ticked = ticked.max();
            Screened { proposal: seen.proposal, figure, enclosed, ticked }
        };
        figures().into_iter().map(screen).collect()
    })
}

fn typical() -> impl Iterator<Item = &'static Screened> {
    screened().iter().filter(|s| s.figure.difficulty == "typical")
}

fn class(reading: &Reading) -> &'static str {
    match reading.general {
        General::Au => "arch",
        General::Ls | General::Rs => "loop",
        General::Wu => "whorl",
        _ => "none",
    }
}

fn class_is_right(s: &Screened) -> bool {
    s.proposal.pattern.as_ref().is_some_and(|p| class(p) == s.figure.pattern)
}

fn kind_is_right(s: &Screened) -> bool {
    let kind = match s.proposal.pattern.and_then(|p| p.subclass) {
        Some(Subclass::Pa) => "plain arch",
        Some(Subclass::Ta) => "tented arch",
        _ => "",
    };
    class_is_right(s) && (s.figure.pattern != "arch" || s.figure.subtype == kind)
}

/// The figures that `right` does not hold for, to read in a failed test.
fn misses(right: impl Fn(&Screened) -> bool) -> String {
    let line = |s: &Screened| {
        let read = s.proposal.pattern.map_or("abstained".to_owned(), |p| format!("{p:?}"));
        format!("figure {}: {} {}; read as {read}", s.figure.figure, s.figure.pattern, s.figure.subtype)
    };
    typical().filter(|s| !right(s)).map(line).collect::<Vec<_>>().join("\n")
}

#[test]
fn the_table_names_every_figure_in_the_folder_once() {
    let mut named: Vec<String> = figures().into_iter().map(|f| f.file).collect();
    named.sort();
    let mut present: Vec<String> = std::fs::read_dir(folder())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| name.ends_with(".png"))
        .collect();
    present.sort();
    assert_eq!(named, present);
}

#[test]
fn only_loops_carry_a_ridge_count_in_the_table() {
    for figure in figures().iter().filter(|f| f.ridge_count.is_some()) {
        assert_eq!(figure.pattern, "loop", "figure {}", figure.figure);
    }
}

#[test]
fn typical_figures_are_read_as_the_handbook_names_them_down_to_the_floor() {
    let right = |name: &str| typical().filter(|s| s.figure.pattern == name && class_is_right(s)).count();
    let (arch, loop_, whorl) = (right("arch"), right("loop"), right("whorl"));
    let all = arch + loop_ + whorl;
    println!(
        "typical figures of the right class: {all} of {} ({arch} arches, {loop_} loops, {whorl} whorls)",
        typical().count()
    );
    let missed = misses(class_is_right);
    assert!(all >= CLASS_FLOOR.all, "{all} right\n{missed}");
    assert!(arch >= CLASS_FLOOR.arch, "{arch} arches right\n{missed}");
    assert!(loop_ >= CLASS_FLOOR.loop_, "{loop_} loops right\n{missed}");
    assert!(whorl >= CLASS_FLOOR.whorl, "{whorl} whorls right\n{missed}");
}

#[test]
fn plain_and_tented_arches_are_told_apart_down_to_the_floor() {
    let right = typical().filter(|s| kind_is_right(s)).count();
    println!("typical figures right with the kind of arch: {right} of {}", typical().count());
    assert!(right >= KIND_FLOOR, "{right} right\n{}", misses(kind_is_right));
}

#[test]
fn what_a_typical_figure_shows_is_at_least_a_reference_down_to_the_floor() {
    let shown = |s: &Screened| class_is_right(s) || s.proposal.references.iter().any(|r| class(r) == s.figure.pattern);
    let count = typical().filter(|s| shown(s)).count();
    println!("typical figures with the right class proposed or referenced: {count} of {}", typical().count());
    assert!(count >= SHOWN_FLOOR, "{count} shown\n{}", misses(shown));
}

#[test]
fn ridges_close_around_the_small_pockets_and_around_no_core_of_a_typical_loop() {
    // Chapter II, "Whorls": the figures are central pocket loops, which have a complete circuit. On the other typical ones of the book it
    // is too wide, open as a spiral, or lost in the print: these four are where it shows, found with this measure.
    for pocket in ["213", "217", "227", "233"] {
        let found = screened().iter().find(|s| s.figure.figure == pocket).and_then(|s| s.enclosed);
        assert!(found.is_some_and(|e| e > CLOSED), "figure {pocket}: {found:?}");
    }
    for s in typical().filter(|s| s.figure.pattern == "loop") {
        assert!(s.enclosed.is_none_or(|e| e < CLOSED), "{}: {:?}", s.figure.file, s.enclosed);
    }
}

#[test]
fn every_figure_is_answered_with_a_reading_or_with_the_reason_why_not() {
    for Screened { figure, proposal, .. } in screened() {
        assert_eq!(proposal.schema, SCHEMA);
        assert_eq!(proposal.advisory, ADVISORY, "figure {}", figure.figure);
        assert!(!proposal.reasons.is_empty(), "figure {} has no reason", figure.figure);
        assert!(proposal.reasons.iter().all(|r| !r.rule.is_empty() && !r.text.is_empty()), "figure {}", figure.figure);
        match proposal.status {
            Status::Proposed => assert!(proposal.pattern.is_some(), "figure {}", figure.figure),
            Status::Abstained => {
                assert!(proposal.pattern.is_none() && proposal.references.is_empty(), "figure {}", figure.figure);
            }
        }
    }
}

#[test]
fn a_number_on_the_picture_is_the_one_told_or_a_reason_says_why_it_is_not() {
    let mut differ = 0;
    for Screened { figure, proposal, ticked, .. } in screened() {
        let count = proposal.loop_.as_ref().and_then(|l| l.ridge_count).map(|c| c.best);
        let between = proposal.whorl.as_ref().and_then(|w| w.tracing).map(|t| t.ridges_between);
        let Some((told, ticked)) = count.or(between).zip(*ticked) else { continue };
        let said = proposal.reasons.iter().filter(|r| r.rule.ends_with("doubt"));
        let said = said.filter(|r| r.text.contains("drawn on the picture alone")).count();
        assert_eq!(said, usize::from(told != ticked), "figure {}: {told} told, {ticked} drawn", figure.figure);
        differ += said;
    }
    assert!(differ > 0, "no figure asks for it");
}

#[test]
fn probabilities_of_all_readings_of_a_figure_sum_to_one_at_most_and_references_are_sorted() {
    for Screened { figure, proposal, .. } in screened() {
        let shown: Vec<f64> = proposal.references.iter().map(|r| r.probability).collect();
        assert!(
            shown.iter().all(|p| (LEAST_REFERENCE_PROBABILITY..=1.0).contains(p)),
            "figure {}: {shown:?}",
            figure.figure
        );
        assert!(shown.is_sorted_by(|a, b| a >= b), "figure {}: {shown:?}", figure.figure);
        let best = proposal.pattern.map_or(0.0, |p| p.probability);
        // Plain and tented arches are weighed as one class, so are the kinds of whorl: no other class is more probable.
        let of_class = |general| {
            let readings = proposal.pattern.iter().chain(&proposal.references);
            readings.filter(|r| r.general == general).map(|r| r.probability).sum::<f64>()
        };
        let sum = best + shown.iter().sum::<f64>();
        if let Some(pattern) = proposal.pattern {
            let others = proposal.references.iter().map(|r| of_class(r.general));
            // What is too small to be listed may belong to the class proposed.
            let class = of_class(pattern.general) + (1.0 - sum);
            assert!(others.fold(0.0, f64::max) <= class, "figure {}", figure.figure);
        }
        assert!(sum <= 1.0 + 1e-9, "figure {}: {sum}", figure.figure);
    }
}

#[test]
fn points_lie_on_the_figure_and_are_as_sure_as_a_probability_can_be() {
    for Screened { figure, proposal, .. } in screened() {
        let cores = proposal.cores.iter().map(|c| (c.x, c.y, c.radius_px, c.confidence));
        let deltas = proposal.deltas.iter().map(|d| (d.x, d.y, d.radius_px, d.confidence));
        for (x, y, radius, confidence) in cores.chain(deltas) {
            let (width, height) = (proposal.image.width_px as f64, proposal.image.height_px as f64);
            assert!((-0.5..width).contains(&x) && (-0.5..height).contains(&y), "figure {}: {x}, {y}", figure.figure);
            assert!(radius > 0.0, "figure {}", figure.figure);
            assert!((0.0..=1.0).contains(&confidence), "figure {}: {confidence}", figure.figure);
        }
    }
}

#[test]
fn a_proposal_survives_the_way_through_json_unchanged() {
    for Screened { figure, proposal, .. } in screened() {
        let text = serde_json::to_string(proposal).unwrap();
        assert_eq!(&serde_json::from_str::<Proposal>(&text).unwrap(), proposal, "figure {}", figure.figure);
    }
}

/// Figures 9 and 255 to 266 are double loops, of separate loops; of figure 267 "one side of one loop forms the side of the other" (chapter II,
/// "Double loop").
#[test]
fn double_loops_have_two_ridges_for_their_recurves_and_figure_267_has_not() {
    let of = |s: &Screened| s.proposal.reasons.iter().find(|r| r.rule.starts_with("double loop")).cloned();
    let apart = |s: &&Screened| of(s).is_some_and(|r| r.text.contains("two ridges make the two recurves"));
    let double: Vec<&Screened> = screened().iter().filter(|s| s.figure.subtype == "double loop").collect();
    let typical = || double.iter().filter(|s| s.figure.difficulty == "typical").copied();
    // Of seven, figure 257 is followed from one loop into the other.
    assert!(typical().count() == 7 && typical().filter(apart).count() >= 6);
    let shared = screened().iter().find(|s| s.figure.figure == "267").and_then(of).unwrap();
    assert_eq!(shared.rule, "double loop: excluded", "{}", shared.text);
}

#[test]
fn pockets_that_are_loops_by_a_single_ridge_name_the_loop_down_to_the_floor() {
    // Handbook, chapter II, "Central pocket loops": figure 239 is a loop because the second delta lies on the only recurving ridge, 240 to 244
    // because the obstructions do not cross the line of flow at right angles, 245 to 254 because each recurve is spoiled.
    let shown: Vec<&Screened> =
        screened().iter().filter(|s| s.figure.figure.parse::<u32>().is_ok_and(|n| (239..=254).contains(&n))).collect();
    assert_eq!(shown.len(), 8, "figures in the folder");
    let named = |s: &&&Screened| s.proposal.pattern.iter().chain(&s.proposal.references).any(|r| class(r) == "loop");
    let named = shown.iter().filter(named).count();
    assert!(named >= SPOILED_POCKET_FLOOR, "{named} of {}", shown.len());
}

/// Figures 122 to 124 and 145 to 148 are tented arches by an angle, 125 to 129 and 149 by an upthrust (chapter II, "The tented arch"). A pointed
/// upthrust in a bend is thinned into the ridge over it, so it may be told as an angle.
#[test]
fn a_tented_arch_says_which_ridges_make_the_tent() {
    let rules = |s: &Screened| s.proposal.reasons.iter().map(|r| r.rule.clone()).collect::<Vec<_>>();
    let of = |number: &str| rules(screened().iter().find(|s| s.figure.figure == number).unwrap());
    for (figure, rule) in
        [("129", "tented arch: upthrust"), ("145", "tented arch: angle"), ("147", "tented arch: angle")]
    {
        assert!(of(figure).iter().any(|r| r == rule), "figure {figure}: {:?}", of(figure));
    }
    let named = |number: &&str| of(number).iter().any(|r| r == "tented arch: upthrust" || r == "tented arch: angle");
    // Figure 123 is called a plain arch.
    assert!(["123", "125", "127", "129", "145", "147", "149"].iter().filter(|number| named(number)).count() >= 5);
    // Plain arches that no tented arch comes near: their centres are not looked at.
    for figure in ["107", "109", "111", "113"] {
        assert!(
            !of(figure).iter().any(|r| r.starts_with("tented arch:") || r == "plain arch: doubt"),
            "figure {figure}"
        );
    }
}

#[test]
fn a_tented_arch_with_a_loop_among_its_references_says_what_that_loop_counts() {
    const RULE: &str = "loop among the references: ridge count";
    let (mut said, mut countable) = (0, 0);
    for s in screened().iter().filter(|s| s.proposal.status == Status::Proposed) {
        let tented = s.proposal.pattern.is_some_and(|p| p.subclass == Some(Subclass::Ta));
        let looped = s.proposal.references.iter().any(|r| matches!(r.general, General::Ls | General::Rs));
        let reason = s.proposal.reasons.iter().find(|r| r.rule == RULE);
        assert!(reason.is_none() || tented && looped, "{}: {reason:?}", s.figure.figure);
        said += usize::from(reason.is_some());
        if let Some(reason) = reason {
            let numbers: Vec<u16> =
                reason.text.split(|c: char| !c.is_ascii_digit()).filter_map(|n| n.parse().ok()).collect();
            let [.., least, most] = numbers.as_slice() else { panic!("{}", reason.text) };
            // Few ridges lie between delta and core of what looks like a tented arch.
            assert!(1 <= *least && least <= most && *most < 12, "figure {}: {}", s.figure.figure, reason.text);
        }
        let both = s.proposal.cores.len() == 1 && s.proposal.deltas.len() == 1;
        countable += usize::from(tented && looped && both);
    }
    // Where no recurve is found on the ridges no core can be put, and nothing is counted.
    assert!(countable > 0 && 4 * said >= 3 * countable, "{said} of {countable}");
}
