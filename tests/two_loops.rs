//! How the two recurves of a whorl hang together: sketches drawn anew from the words of the rule.
//!
//! Source: FBI, *The Science of Fingerprints: Classification and Uses* (1963 revision, public domain), chapter II, "Double loop" (two separate
//! loop formations; no S core, no interlocking core, no loop inside another; figure 267: a side in common). The drawings are our own.

mod sketch;

use recurve::pattern::two_loops::{Together, two_loops};
use sketch::{At, Sketch, arc, looping, px};
use std::f64::consts::PI;

/// Where the hanging and the upright loop of these sketches turn; the first opens downward, the other upward.
const OVER: At = (12.0, 12.0);
const UNDER: At = (18.0, 18.0);

/// Reads two cores, the first of which opens downward, the second upward.
fn read(sketch: Sketch, cores: [At; 2]) -> Option<Together> {
    let [over, under] = cores.map(px);
    two_loops(&sketch.draw().lines, [(over, 1.5 * PI), (under, 0.5 * PI)]).map(|t| t.together)
}

/// A loop turned about its centre to open upward.
fn upright(centre: At, radius: f64, length: f64) -> Vec<At> {
    looping((0.0, 0.0), radius, length).into_iter().map(|(x, y)| (centre.0 - x, centre.1 - y)).collect()
}

#[test]
fn two_ridges_that_keep_apart_make_two_loops() {
    let sketch = Sketch::default().ridge("over", &looping(OVER, 1.0, 12.0)).ridge("under", &upright(UNDER, 1.0, 12.0));
    assert_eq!(read(sketch, [OVER, UNDER]), Some(Together::Separate));
}

/// "It is not essential that both sides of a loop be of equal length, nor that the two loops be of the same size."
#[test]
fn two_loops_need_not_be_of_one_size_nor_their_sides_of_one_length() {
    let mut short = looping(OVER, 1.0, 12.0);
    short[0].1 = OVER.1 + 3.0;
    let sketch = Sketch::default().ridge("over", &short).ridge("under", &upright(UNDER, 2.0, 9.0));
    assert_eq!(read(sketch, [OVER, UNDER]), Some(Together::Separate));
}

#[test]
fn an_s_is_one_ridge() {
    // Down on the left, over the hanging loop, through the middle, round the upright loop, up on the right.
    let (left, right) = ((13.0, 12.0), (17.0, 18.0));
    let mut s = looping(left, 2.0, 12.0);
    s.truncate(s.len() - 1);
    s.extend(arc(right, 2.0, 180.0, 360.0));
    s.push((19.0, 4.0));
    assert_eq!(read(Sketch::default().ridge("s", &s), [left, right]), Some(Together::OneRidge));
}

/// Figure 267.
#[test]
fn a_side_in_common_makes_no_two_loops() {
    // The upright loop's left leg runs into the hanging loop's right leg and ends in it.
    let hanging = looping((13.0, 10.0), 2.0, 14.0);
    let mut below = arc((17.0, 19.0), 2.0, 180.0, 360.0);
    below.push((19.0, 4.0));
    let sketch = Sketch::default().ridge("over", &hanging).ridge("under", &below);
    // Which limb is followed at the fork decides whether it is told as an S.
    let together = read(sketch, [(13.0, 10.0), (17.0, 19.0)]);
    assert!(matches!(together, Some(Together::SharedSide | Together::OneRidge)), "{together:?}");
}

#[test]
fn a_circuit_goes_round_both_cores() {
    let (above, below) = ((15.0, 11.0), (15.0, 18.0));
    let mut oval = arc(above, 2.0, 180.0, 0.0);
    oval.extend(arc(below, 2.0, 0.0, -180.0));
    oval.push((13.0, 11.0));
    assert_eq!(read(Sketch::default().ridge("oval", &oval), [above, below]), Some(Together::Circuit));
}

/// "The formation with one loop inside another."
#[test]
fn a_loop_inside_another_makes_no_two_loops() {
    let (outer, inner) = ((15.0, 10.0), (15.0, 15.0));
    let sketch = Sketch::default().ridge("outer", &looping(outer, 3.0, 14.0)).ridge("inner", &looping(inner, 1.0, 9.0));
    let cores = [outer, inner].map(|at| (px(at), 1.5 * PI));
    assert_eq!(two_loops(&sketch.draw().lines, cores).map(|t| t.together), Some(Together::Circuit));
}

/// A core without a recurve: of a rod that ends free nothing is said.
#[test]
fn without_two_recurves_nothing_is_said() {
    let sketch =
        Sketch::default().ridge("over", &looping(OVER, 1.0, 12.0)).ridge("rod", &[UNDER, (UNDER.0, UNDER.1 - 5.0)]);
    assert_eq!(read(sketch, [OVER, UNDER]), None);
}
