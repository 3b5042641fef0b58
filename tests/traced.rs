//! Whorl tracing on line drawings made from the words of the rule.
//!
//! Source: FBI, *The Science of Fingerprints: Classification and Uses* (1963 revision, public domain), chapter II, "Whorl tracing",
//! figures 280 to 296, and chapter III, figures 339 and 340. The drawings are our own. Each shows the traced ridge, the right delta (a
//! dot) and the ridges between them.

mod sketch;

use recurve::pattern::trace::{Traced, trace};
use recurve::pattern::whorl::WhorlPoints;
use recurve::singular::{Candidate, PointKind};
use sketch::{At, Drawing, Sketch, candidate, px};
use std::f64::consts::PI;

const LEFT: At = (4.0, 14.0);
const RIGHT: At = (22.0, 16.0);
const CENTRE: At = (13.0, 10.0);

/// A ridge from the left delta that rises past the right one.
const RISING: [At; 6] = [LEFT, (8.0, 14.6), (14.0, 14.0), (20.0, 11.0), (23.0, 6.0), (23.5, 2.0)];

fn delta(place: At, arms: [f64; 3]) -> Candidate {
    candidate(PointKind::Delta, place, arms)
}

/// A left delta has an arm on its lower side to the right, a right one an arm to the left.
fn left() -> Candidate {
    delta(LEFT, [-0.35, 0.5 * PI, 1.1 * PI])
}

fn right() -> Candidate {
    delta(RIGHT, [1.08 * PI, 0.5 * PI, -0.2 * PI])
}

fn traced(drawing: &Drawing) -> Traced {
    let all = trace(&drawing.field, &drawing.lines, &left(), &right(), px(CENTRE));
    all.preferred.expect("a tracing")
}

/// The rising ridge from `from` on, shifted square to its middle stretch by so many periods toward the right delta.
fn shifted(from: usize, by: f64) -> Vec<At> {
    RISING[from..].iter().map(|p| (p.0 + 0.447 * by, p.1 + 0.894 * by)).collect()
}

fn with_between(sketch: Sketch, from: usize, ridges: &[f64]) -> Sketch {
    ridges.iter().fold(sketch, |s, by| s.ridge("between", &shifted(from, *by))).dot("right delta", RIGHT)
}

#[test]
fn ridges_between_are_counted_and_positive_inside() {
    // Three or more inside make an inner tracing (figure 280), two a meeting one (figures 282 to 287).
    for (ridges, expected) in [(&[1.0, 2.0, 3.0, 4.0][..], 4), (&[1.0, 2.0, 3.0], 3), (&[1.0, 2.0], 2), (&[], 0)] {
        let drawing = with_between(Sketch::default().ridge("traced", &RISING), 1, ridges).draw();
        assert_eq!(traced(&drawing).between, expected, "{ridges:?}");
    }
}

#[test]
fn a_ridge_that_passes_below_counts_negative() {
    // Figure 281, outer; figure 295, the place opposite the right delta with two ridges between: meeting.
    let below = |n: usize| {
        let mut sketch = Sketch::default()
            .ridge("traced", &[LEFT, (8.0, 17.0), (14.0, 21.0), (20.0, 21.5), (28.0, 22.0)])
            .dot("right delta", RIGHT);
        for k in 0..n {
            let y = 20.4 - 1.05 * k as f64;
            sketch = sketch.ridge("between", &[(14.0, y - 0.6), (20.0, y), (28.0, y + 0.5)]);
        }
        traced(&sketch.draw()).between
    };
    assert_eq!(below(4), -4);
    assert_eq!(below(2), -2);
}

#[test]
fn a_right_delta_far_above_a_trace_that_runs_off_below_is_outer_though_its_arm_hangs_steep() {
    // Figure 281. The right delta stands high in the pattern; the place nearest to it is where the tracing begins.
    let (low, high) = ((8.0, 20.0), (14.0, 10.0));
    let mut sketch = Sketch::default()
        .ridge("traced", &[low, (10.0, 22.5), (14.0, 26.0), (20.0, 29.0), (28.0, 31.0)])
        .dot("right delta", high);
    for k in 1..=4 {
        let by = 1.6 * f64::from(k);
        let aside = |p: At| (p.0 + 0.75 * by, p.1 - by);
        sketch = sketch.ridge("between", &[(5.0, 15.5), (7.0, 18.5), (10.0, 22.5), (14.0, 26.0)].map(aside));
    }
    let drawing = sketch.draw();
    let left = delta(low, [-0.3 * PI, 0.5 * PI, 1.2 * PI]);
    let right = delta(high, [1.45 * PI, 0.6 * PI, 0.0]);
    let t = trace(&drawing.field, &drawing.lines, &left, &right, px((16.0, 8.0))).preferred.expect("a tracing");
    assert!((-5..=-3).contains(&t.between), "{}", t.between);
}

#[test]
fn a_right_delta_that_lies_left_of_the_left_one_is_passed_as_well() {
    // The inner delta stands right of the centre and, by a little, left of the outer one far below it, which is the left delta: the ridge runs off far below the
    // inner one.
    let (low, high) = ((16.0, 24.0), (15.0, 9.0));
    let mut sketch =
        Sketch::default().ridge("traced", &[low, (19.0, 25.5), (23.0, 27.0), (29.0, 28.5)]).dot("right delta", high);
    for k in 1..=4 {
        let up = 2.4 * f64::from(k);
        sketch = sketch.ridge("between", &[(10.0, 22.5 - up), (16.0, 23.0 - up), (22.0, 25.5 - up)]);
    }
    let drawing = sketch.draw();
    let left = delta(low, [-0.3 * PI, 0.5 * PI, 1.2 * PI]);
    let right = delta(high, [1.3 * PI, 0.6 * PI, 0.0]);
    let all = trace(&drawing.field, &drawing.lines, &left, &right, px((13.0, 8.0)));
    let t = all.preferred.expect("a tracing");
    assert!((-6..=-3).contains(&t.between), "{}", t.between);
    assert!(all.on_ridges.len() >= 4 && all.on_ridges.iter().all(|d| *d <= -3), "{:?}", all.on_ridges);
}

#[test]
fn a_traced_ridge_that_turns_back_at_a_tip_is_judged_before_it() {
    // Two ridges run together in a tip to the right; the upper one leads back over the left delta and up on the left side.
    let (low, high) = ((5.0, 22.0), (12.0, 8.0));
    let tip = [
        low,
        (10.0, 23.0),
        (18.0, 22.6),
        (19.2, 22.0),
        (18.0, 21.0),
        (10.0, 20.8),
        (5.5, 18.0),
        (4.0, 12.0),
        (4.0, 3.0),
    ];
    let mut sketch = Sketch::default().ridge("traced", &tip).dot("right delta", high);
    for k in 0..3 {
        let y = 18.5 - 2.0 * f64::from(k);
        sketch = sketch.ridge("between", &[(8.0, y), (14.0, y + 0.2), (20.0, y)]);
    }
    let drawing = sketch.draw();
    let left = delta(low, [-0.2, 0.6 * PI, 1.2 * PI]);
    let right = delta(high, [1.08 * PI, 0.5 * PI, -0.2 * PI]);
    let t = trace(&drawing.field, &drawing.lines, &left, &right, px((11.0, 5.0))).preferred.expect("a tracing");
    assert!((-5..=-3).contains(&t.between), "{}", t.between);
}

#[test]
fn a_ridge_that_rises_far_off_and_then_passes_below_the_right_delta_is_outer() {
    // The upward trend counts where the tracing passes inside the right delta (chapter II, "Whorl tracing").
    let right_low = (22.0, 18.0);
    let over = [
        (4.0, 12.0),
        (6.5, 16.0),
        (9.0, 17.0),
        (11.5, 12.0),
        (13.5, 11.0),
        (15.5, 13.0),
        (17.5, 20.0),
        (21.0, 23.0),
        (28.0, 24.0),
    ];
    let mut sketch = Sketch::default().ridge("traced", &over).dot("right delta", right_low);
    for k in 1..=3 {
        let by = 1.15 * f64::from(k);
        let aside = |p: At| (p.0 + 0.84 * by, p.1 - 0.545 * by);
        sketch = sketch.ridge("between", &[(16.6, 17.0), (17.5, 20.0), (21.0, 23.0), (28.0, 24.0)].map(aside));
    }
    let drawing = sketch.draw();
    let left = delta(over[0], [-0.35 * PI, 0.5 * PI, 1.1 * PI]);
    let right = delta(right_low, [1.08 * PI, 0.5 * PI, -0.2 * PI]);
    let t = trace(&drawing.field, &drawing.lines, &left, &right, px((13.0, 8.0))).preferred.expect("a tracing");
    assert!((-4..=-3).contains(&t.between), "{}", t.between);
}

#[test]
fn a_trace_that_runs_onto_the_right_delta_has_nothing_between() {
    // Figure 296.
    let drawing = Sketch::default().ridge("traced", &[LEFT, (8.0, 15.0), (14.0, 16.0), RIGHT]).draw();
    assert_eq!(traced(&drawing).between, 0);
}

#[test]
fn at_a_definite_end_the_trace_drops_to_the_next_lower_ridge() {
    // Figure 291: the ridge ends, the next one under the end is followed; one ridge fewer lies between.
    let drawing = with_between(Sketch::default().ridge("traced", &RISING[..3]), 1, &[1.0, 2.0, 3.0, 4.0]).draw();
    let t = traced(&drawing);
    assert_eq!((t.drops, t.between), (1, 3));
}

#[test]
fn where_the_ridge_at_the_delta_runs_another_way_the_next_lower_one_is_traced() {
    // The tracing begins on the lower side of the left delta and runs to the right ("Whorl tracing"): a ridge at the delta that climbs, or a
    // stub, is not the traced ridge.
    let lower: Vec<At> = RISING.iter().map(|p| (p.0, p.1 + 1.2)).collect();
    for away in [&[LEFT, (4.8, 13.0), (5.6, 10.5), (6.0, 4.0), (6.0, 1.0)][..], &[LEFT, (4.2, 14.2)]] {
        let own = Sketch::default().ridge("at the delta", away).ridge("traced", &lower);
        let drawing = with_between(own, 1, &[2.6, 3.6, 4.6]).draw();
        assert_eq!(traced(&drawing).between, 3, "{away:?}");
    }
}

#[test]
fn a_tracing_that_passes_far_from_an_inner_delta_has_come_round() {
    // A central pocket's inner delta lies near the core, so the traced ridge passes it nearly as far off as it began.
    let inner = delta((13.5, 14.0), right().directions);
    let passes = [LEFT, (8.0, 20.0), (14.0, 24.0), (22.0, 25.0)];
    let mut sketch = Sketch::default().ridge("traced", &passes).dot("right delta", (13.5, 14.0));
    for k in 1..=5 {
        let up = 1.4 * f64::from(k);
        sketch = sketch.ridge("between", &[(6.5, 17.75 - up), (8.0, 20.0 - up), (14.0, 24.0 - up), (22.0, 25.0 - up)]);
    }
    let drawing = sketch.draw();
    let all = trace(&drawing.field, &drawing.lines, &left(), &inner, px((13.0, 9.0)));
    let t = all.preferred.expect("a tracing");
    assert_eq!(t.between, -5);
    // A ridge that ends short of the middle of the print, with nothing below, says nothing.
    let short = Sketch::default().ridge("traced", &[LEFT, (6.0, 17.0), (7.0, 18.5)]).dot("right delta", RIGHT).draw();
    let all = trace(&short.field, &short.lines, &left(), &right(), px(CENTRE));
    assert!(all.preferred.is_none() && all.on_ridges.is_empty());
}

#[test]
fn a_break_of_the_ink_is_no_end() {
    // "Whorl tracing": breaks due to inking and the like are not dropped at, the ridge goes on beyond them.
    let [a, b] = [(10.0, 14.4), (10.9, 14.31)];
    let broken = Sketch::default()
        .ridge("traced", &[LEFT, (8.0, 14.6), a])
        .ridge("traced", &[b, RISING[2], RISING[3], RISING[4], RISING[5]]);
    let drawing = with_between(broken, 1, &[1.0, 2.0, 3.0, 4.0]).draw();
    let t = traced(&drawing);
    assert_eq!((t.drops, t.bridged, t.between), (0, 1, 4));
}

#[test]
fn at_a_fork_the_lower_limb_is_followed() {
    // Figure 292.
    let upper: Vec<At> = [RISING[2], (17.0, 10.5), (19.0, 5.0), (19.5, 2.0)].to_vec();
    let drawing =
        with_between(Sketch::default().ridge("traced", &RISING).ridge("upper limb", &upper), 1, &[1.0, 2.0, 3.0])
            .draw();
    let t = traced(&drawing);
    assert!(t.forks >= 1);
    assert_eq!(t.between, 3);
}

#[test]
fn on_an_upward_trend_the_trace_stops_where_that_is_nearest_the_right_delta() {
    // Figures 294 and 339: the ridge rises between the loops, turns over the right one and comes down close beside the right delta. It stops
    // on the upward trend: many ridges lie between, an inner tracing. Where it comes down only one would.
    let over = [
        LEFT,
        (8.0, 14.6),
        (13.0, 13.0),
        (16.0, 9.0),
        (18.0, 5.0),
        (21.0, 3.0),
        (24.0, 5.0),
        (25.0, 9.0),
        (25.0, 19.0),
    ];
    let along = |t: f64, by: f64| (13.0 + 0.6 * t + 0.8 * by, 13.0 - 0.8 * t + 0.6 * by);
    let mut sketch = Sketch::default()
        .ridge("traced", &over)
        .dot("right delta", RIGHT)
        .ridge("beside", &[(23.6, 12.0), (23.6, 19.0)]);
    for k in 1..=5 {
        sketch = sketch.ridge("between", &[along(-1.0, f64::from(k)), along(6.0, f64::from(k))]);
    }
    let t = traced(&sketch.draw());
    assert_eq!(t.between, 5);
    let stop = sketch::at(*t.path.last().unwrap());
    assert!(stop.0 < 17.0, "stopped at {stop:.1?}");
}

#[test]
fn without_an_upward_trend_the_trace_goes_on_to_the_place_opposite() {
    // Figure 340: meeting. A wave of less than three ridges is no upward trend.
    let drawing = Sketch::default()
        .ridge("traced", &[LEFT, (8.0, 14.0), (12.0, 12.0), (16.0, 13.5), (21.0, 14.5), (28.0, 15.0)])
        .dot("right delta", RIGHT)
        .draw();
    let t = traced(&drawing);
    assert_eq!(t.between, 0);
    let stop = sketch::at(*t.path.last().unwrap());
    assert!((stop.0 - RIGHT.0).abs() < 1.5, "stopped at {stop:.1?}");
}

#[test]
fn deltas_nearly_one_above_the_other_do_not_show_which_is_the_left_one() {
    let unclear = |places: &[At]| {
        let deltas = places.iter().map(|at| delta(*at, [0.0; 3])).collect();
        WhorlPoints { cores: vec![], third: None, deltas, probability: 1.0 }.unclear_order()
    };
    assert_eq!(unclear(&[(9.0, 15.0), (30.0, 16.0)]), None);
    assert_eq!(unclear(&[(21.5, 19.0), (21.2, 11.0)]), Some((px((21.5, 19.0)), px((21.2, 11.0)))));
    assert!(unclear(&[(19.5, 11.0), (20.5, 19.0)]).is_some());
    assert_eq!(unclear(&[(19.5, 11.0), (20.0, 15.0), (20.5, 19.0)]), None);
}

#[test]
fn of_three_deltas_the_extreme_ones_are_traced_between() {
    // Figure 293: a middle delta is ignored.
    let at = |x: f64| delta((x, 15.0), [0.0; 3]);
    let points =
        WhorlPoints { cores: vec![], third: None, deltas: vec![at(4.0), at(13.0), at(22.0)], probability: 1.0 };
    let (first, last) = points.extreme_deltas().unwrap();
    assert_eq!((first.at, last.at), (px((4.0, 15.0)), px((22.0, 15.0))));
    let one = WhorlPoints { deltas: vec![at(4.0)], ..points };
    assert!(one.extreme_deltas().is_none());
}
