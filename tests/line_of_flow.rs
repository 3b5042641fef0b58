//! What stands before a delta in a whorl's line of flow: sketches drawn anew from the words of the rule.
//!
//! Source: FBI, *The Science of Fingerprints: Classification and Uses* (1963 revision, public domain), chapter II, "Loops" (appendages, figures
//! 56 to 59), "The plain whorl" (figure 212), "Central pocket loops" (figures 237, 238), chapter III (figures 300, 305). The drawings are our own.

mod sketch;

use recurve::pattern::line_of_flow::{LineOfFlow, line_of_flow};
use sketch::{At, Sketch, arc, px};

/// Middle of the circuits, and a delta below them on the left.
const CENTRE: At = (15.0, 12.0);
const DELTA: At = (10.0, 18.0);

/// Circuits of these radii.
fn circuits(radii: &[f64]) -> Sketch {
    radii.iter().fold(Sketch::default(), |s, r| s.ridge("circuit", &arc(CENTRE, *r, 0.0, 360.0)))
}

/// A place so far from the centre in the direction of the delta, and so far to the side of that line.
fn toward_delta(out: f64, aside: f64) -> At {
    let (dx, dy) = (DELTA.0 - CENTRE.0, DELTA.1 - CENTRE.1);
    let length = dx.hypot(dy);
    let (ux, uy) = (dx / length, dy / length);
    (CENTRE.0 + out * ux - aside * uy, CENTRE.1 + out * uy + aside * ux)
}

fn read(sketch: Sketch) -> LineOfFlow {
    line_of_flow(&sketch.draw().lines, px(DELTA), px(CENTRE))
}

#[test]
fn circuits_stand_at_right_angles_and_nothing_spoils_them() {
    let found = read(circuits(&[1.5, 3.0, 4.5]));
    assert_eq!((found.met.len(), found.square.len(), found.spoiled.len()), (3, 3, 0), "{found:?}");
}

/// Figures 58, 59 and 212.
#[test]
fn an_appendage_in_the_line_of_flow_on_the_delta_side_spoils_the_circuit() {
    let appendage = [toward_delta(1.5, 0.0), toward_delta(2.6, 0.0)];
    let found = read(circuits(&[1.5, 4.0]).ridge("appendage", &appendage));
    assert_eq!(found.spoiled.len(), 1, "{found:?}");
    // The same between two circuits, from one to the other.
    let bridge = [toward_delta(1.5, 0.2), toward_delta(3.0, 0.2)];
    let found = read(circuits(&[1.5, 3.0, 4.5]).ridge("appendage", &bridge));
    assert_eq!(found.spoiled.len(), 1, "{found:?}");
}

/// Figures 237, 238, 300 and 305: elsewhere on the recurve, on its other side or inside it an appendage does no harm.
#[test]
fn an_appendage_elsewhere_spoils_nothing() {
    let above = [(CENTRE.0, CENTRE.1 - 1.5), (CENTRE.0, CENTRE.1 - 2.6)];
    let aside = [toward_delta(0.0, 1.5), toward_delta(0.0, 2.6)];
    let inside = [toward_delta(3.0, 0.0), toward_delta(1.9, 0.0)];
    for (name, radii, appendage) in
        [("above", &[1.5, 4.0], above), ("aside", &[1.5, 4.0], aside), ("inside", &[3.0, 4.5], inside)]
    {
        let found = read(circuits(radii).ridge("appendage", &appendage));
        assert_eq!(found.spoiled.len(), 0, "{name}: {found:?}");
    }
}

/// "Central pocket loops": an obstruction at right angles may be straight or curved; a ridge along the line of flow is none, nor is one at a
/// slant.
#[test]
fn a_bar_across_the_line_of_flow_is_an_obstruction_and_a_slanting_ridge_is_none() {
    let across = [toward_delta(3.0, -2.0), toward_delta(3.0, 2.0)];
    let found = read(Sketch::default().ridge("bar", &across));
    assert_eq!((found.met.len(), found.square.len()), (1, 1), "{found:?}");
    let slanting = [toward_delta(1.5, -2.0), toward_delta(4.5, 2.0)];
    let found = read(Sketch::default().ridge("slanting", &slanting));
    assert_eq!((found.met.len(), found.square.len()), (1, 0), "{found:?}");
}

/// "Central pocket loops" and figure 323: a dot is no obstruction, however heavy.
#[test]
fn a_dot_is_no_obstruction() {
    let found = read(Sketch::default().dot("dot", toward_delta(3.0, 0.0)));
    assert_eq!((found.met.len(), found.square.len()), (1, 0), "{found:?}");
}

/// "Loops", the test of tracing toward the appendage: one that flows off smoothly, and a thin line, leave the recurve whole.
#[test]
fn a_smooth_limb_and_a_thin_line_spoil_nothing() {
    let smooth = [toward_delta(3.0, 0.0), toward_delta(3.25, 0.8), toward_delta(3.8, 1.6), toward_delta(4.4, 2.2)];
    let found = read(circuits(&[1.5, 3.0]).ridge("smooth", &smooth));
    assert_eq!(found.spoiled.len(), 0, "{found:?}");
    let thin = [toward_delta(1.5, 0.0), toward_delta(2.6, 0.0)];
    let found = read(circuits(&[1.5, 4.0]).thin("thin", &thin));
    assert_eq!(found.spoiled.len(), 0, "{found:?}");
}

/// "Central pocket loops": a recurve need not stand at a right angle, and an appendage spoils it all the same.
#[test]
fn a_recurve_at_a_slant_is_spoiled_as_well() {
    let slanting = [toward_delta(1.2, -2.2), toward_delta(3.0, 0.0), toward_delta(4.8, 2.2)];
    let appendage = [toward_delta(3.0, 0.0), toward_delta(3.8, -0.75)];
    let found = read(Sketch::default().ridge("slanting", &slanting).ridge("appendage", &appendage));
    assert_eq!((found.square.len(), found.spoiled.len()), (0, 1), "{found:?}");
}
