//! How the two recurves of a whorl hang together: sketches drawn anew from the words of the rule.
//!
//! Source: FBI, *The Science of Fingerprints: Classification and Uses* (1963 revision, public domain), chapter II, "Double loop" (two separate
//! loop formations; no S core, no interlocking core, no loop inside another; figure 267: a side in common). The drawings are our own.

mod sketch;

use recurve::pattern::double_loop::{Together, two_loops};
use sketch::{At, SIDE, Sketch, arc, looping, px};
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

/// Down on the left, over the hanging loop, through the middle, round the upright loop, up on the right.
fn s_core() -> (Sketch, [At; 2]) {
    let (left, right) = ((13.0, 12.0), (17.0, 18.0));
    let mut s = looping(left, 2.0, 12.0);
    s.truncate(s.len() - 1);
    s.extend(arc(right, 2.0, 180.0, 360.0));
    s.push((19.0, 4.0));
    (Sketch::default().ridge("s", &s), [left, right])
}

#[test]
fn an_s_is_one_ridge_either_way_round() {
    let (sketch, cores) = s_core();
    assert_eq!(read(sketch, cores), Some(Together::OneRidge));
    let (sketch, cores) = s_core();
    assert_eq!(read(sketch.mirrored(), cores.map(|(x, y)| (SIDE - x, y))), Some(Together::OneRidge));
}

/// A spiral winds about both cores: a plain whorl.
#[test]
fn a_spiral_winds_about_both_cores() {
    let turn = |k: usize| {
        let angle = k as f64 * 5.0;
        let radius = 1.0 + 1.2 * angle / 360.0;
        let (s, c) = angle.to_radians().sin_cos();
        (15.0 + radius * c, 15.0 - radius * s)
    };
    let spiral: Vec<At> = (0..=144).map(turn).collect();
    let together = read(Sketch::default().ridge("spiral", &spiral), [(15.0, 14.7), (15.0, 15.3)]);
    assert!(matches!(together, Some(Together::OneRidge | Together::Circuit)), "{together:?}");
}

/// Figure 267: the ridge that comes up from the lower loop joins the side of the upper one. Which limb is followed at the fork decides whether that
/// is told as a side in common or as an S; both are no double loop.
#[test]
fn a_ridge_that_joins_the_side_of_the_other_loop_makes_no_two_loops() {
    let hanging = looping((12.0, 8.0), 2.0, 18.0);
    let mut below = vec![(14.0, 15.0), (15.0, 16.5), (15.5, 18.0), (15.5, 20.0)];
    below.extend(arc((17.5, 20.0), 2.0, 180.0, 360.0));
    below.push((19.5, 4.0));
    let sketch = Sketch::default().ridge("over", &hanging).ridge("under", &below);
    let together = read(sketch, [(12.0, 8.0), (17.5, 20.0)]);
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
    assert_eq!(two_loops(&sketch.draw().lines, cores).map(|t| t.together), Some(Together::Inside));
}

/// A core without a recurve: of a ridge that lies across its opening nothing is said.
#[test]
fn without_two_recurves_nothing_is_said() {
    let sketch = Sketch::default()
        .ridge("over", &looping(OVER, 1.0, 12.0))
        .ridge("rod", &[(UNDER.0 - 3.0, UNDER.1 + 0.5), (UNDER.0 + 3.0, UNDER.1 + 0.5)]);
    assert_eq!(read(sketch, [OVER, UNDER]), None);
}
