//! Which ridges are type lines: what the handbook says of its sketches, drawn anew from its words.
//!
//! Source: FBI, *The Science of Fingerprints: Classification and Uses* (1963 revision, public domain), chapter II, "Type lines",
//! the figures by number. The drawings are our own. In all of them the ridges come in from the left and the pattern area lies on
//! the right.

mod sketch;

use recurve::pattern::type_lines::{TypeLine, type_lines};
use sketch::{At, Drawing, Sketch, at, px};
use std::f64::consts::{FRAC_PI_3, PI};

/// The middle of the divergence, the pattern area, and the flow's three ways out of the divergence.
const MIDDLE: At = (9.0, 10.0);
const PATTERN: At = (17.0, 10.0);
const ARMS: [f64; 3] = [PI, FRAC_PI_3, -FRAC_PI_3];

/// A line that comes in `off` periods above the middle (below: `sign` -1) and spreads from there.
fn spreading(sign: f64, off: f64) -> Vec<At> {
    let y = |v: f64| 10.0 - sign * v;
    vec![
        (1.0, y(off)),
        (7.0 - 0.3 * off, y(off)),
        (8.3 - 0.3 * off, y(off + 0.6)),
        (9.8, y(off + 2.4)),
        (12.6, y(off + 7.0)),
    ]
}

/// A ridge around the pattern area in front of the divergence.
fn in_front(sketch: Sketch) -> Sketch {
    sketch.ridge("recurve", &[(14.2, 3.5), (12.0, 7.6), (11.5, 10.0), (12.0, 12.4), (14.2, 16.5)])
}

/// A ridge around the pattern area, and on either side one that spreads farther out. A function, not a closure: rustc 1.95 lets a closure
/// that is called twice with the same empty value change that value in place (rust-lang/rust issue 155241).
fn between_outer_ridges(sketch: Sketch) -> Sketch {
    in_front(sketch).ridge("outer upper", &spreading(1.0, 1.9)).ridge("outer lower", &spreading(-1.0, 1.9))
}

/// Names of the ridges on which the pieces of a type line run, taken from their middles.
fn names<'a>(drawing: &'a Drawing, line: Option<&TypeLine>) -> Vec<&'a str> {
    line.iter().flat_map(|l| &l.pieces).map(|piece| drawing.name_at(at(piece[piece.len() / 2]))).collect()
}

/// The names of the upper and of the lower type line.
fn found(drawing: &Drawing) -> (Vec<&str>, Vec<&str>) {
    let found = type_lines(&drawing.lines, px(MIDDLE), ARMS, px(PATTERN));
    // Coming in from the left, the lower one is on the right hand.
    let [lower, upper] = &found.lines;
    (names(drawing, upper.as_ref()), names(drawing, lower.as_ref()))
}

#[test]
fn the_two_innermost_ridges_that_run_side_by_side_and_spread_are_the_type_lines() {
    // Figures 11 and 12.
    let drawing = in_front(Sketch::default())
        .ridge("outer upper", &spreading(1.0, 1.8))
        .ridge("upper", &spreading(1.0, 0.7))
        .ridge("lower", &spreading(-1.0, 0.7))
        .ridge("outer lower", &spreading(-1.0, 1.8))
        .draw();
    assert_eq!(found(&drawing), (vec!["upper"], vec!["lower"]));
}

#[test]
fn at_a_definite_break_the_next_ridge_outside_goes_on() {
    // Figure 13.
    let whole = spreading(1.0, 0.7);
    let drawing = in_front(Sketch::default())
        .ridge("outer upper", &spreading(1.0, 2.2))
        .ridge("upper", &[whole[0], whole[1], whole[2], whole[3], (10.4, 5.8)])
        .ridge("lower", &spreading(-1.0, 0.7))
        .draw();
    assert_eq!(found(&drawing), (vec!["upper", "outer upper"], vec!["lower"]));
}

#[test]
fn legs_of_a_fork_are_type_lines_only_where_they_run_side_by_side_after_it() {
    // Figure 16: the fork lies far out, its legs run side by side, then spread.
    let leg = |sign: f64| {
        let mut way = spreading(sign, 0.7);
        way.splice(0..1, [(1.0, 10.0), (2.0, 10.0), (2.8, 10.0 - sign * 0.7)]);
        way
    };
    let drawing =
        between_outer_ridges(Sketch::default()).ridge("upper leg", &leg(1.0)).ridge("lower leg", &leg(-1.0)).draw();
    assert_eq!(found(&drawing), (vec!["upper leg"], vec!["lower leg"]));
    // Figures 17 and 322: the legs spread at once; the ridges outside them are the type lines.
    let leg = |sign: f64| {
        let y = |v: f64| 10.0 - sign * v;
        vec![(1.0, 10.0), (7.6, 10.0), (8.6, y(1.0)), (9.8, y(2.8)), (12.4, y(7.0))]
    };
    let drawing =
        between_outer_ridges(Sketch::default()).ridge("upper leg", &leg(1.0)).ridge("lower leg", &leg(-1.0)).draw();
    assert_eq!(found(&drawing), (vec!["outer upper"], vec!["outer lower"]));
}

#[test]
fn ridges_that_meet_at_an_angle_are_no_type_lines() {
    // Figure 18: A and B meet at an angle in front of the divergence; C and D are the type lines.
    let drawing = in_front(Sketch::default())
        .ridge("C", &spreading(1.0, 1.6))
        .ridge("A", &[(8.1, 10.0), (9.2, 8.6), (10.4, 6.4), (12.8, 2.6)])
        .ridge("B", &[(8.1, 10.0), (9.2, 11.4), (10.4, 13.6), (12.8, 17.4)])
        .ridge("D", &spreading(-1.0, 1.6))
        .draw();
    assert_eq!(found(&drawing), (vec!["C"], vec!["D"]));
}

#[test]
fn a_ridge_that_runs_beside_its_partner_nowhere_is_passed_over() {
    // Figures 32 and 307: ridges that start between the type lines.
    let drawing = in_front(Sketch::default())
        .ridge("upper", &spreading(1.0, 1.8))
        .ridge("starts inside", &[(9.2, 8.5), (10.6, 6.2), (12.9, 2.6)])
        .ridge("lower", &spreading(-1.0, 0.7))
        .draw();
    assert_eq!(found(&drawing), (vec!["upper"], vec!["lower"]));
}

#[test]
fn without_ridges_that_spread_there_are_none() {
    let flat = |y: f64| [(1.0, y), (19.0, y)];
    let drawing = Sketch::default().ridge("a", &flat(9.3)).ridge("b", &flat(10.7)).draw();
    assert_eq!(found(&drawing), (vec![], vec![]));
}
