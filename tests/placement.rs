//! Where the handbook puts delta, core and first count: its sketches drawn anew from the words of the rule, read by the rules that
//! screening reads prints with.
//!
//! Source: FBI, *The Science of Fingerprints: Classification and Uses* (1963 revision, public domain), chapter II, the figures by
//! number. The drawings are our own: what the text of a figure says is drawn, not traced from the page. Each is given to the rules
//! with the point that a flow would show (the middle of the divergence, the focus of the recurve).
//!
//! A row that today's rules get wrong stays in its table as [`Today::Differs`] with the reason; the test fails when it becomes right, so
//! that the row is then moved.

mod sketch;

use recurve::geometry::Point;
use recurve::pattern::core::{PlacedCore, place_core};
use recurve::pattern::delta::{PlacedDelta, other_deltas, place_delta};
use recurve::pattern::ridge_count::{ridge_count, ridges_between};
use recurve::ridge::Formation;
use sketch::{At, DOWN, Drawing, Sketch, apart, arc, at, looping, px};
use std::f64::consts::PI;

/// A place is met within this, periods: less than a ridge, more than the thinning of a fork shifts it.
const NEAR: f64 = 0.65;

/// What today's rules make of a row.
enum Today {
    Right,
    /// Known to differ, and why.
    Differs(&'static str),
}

/// Checks a table: right rows must be right, rows known to differ must still differ.
fn check(rows: Vec<(&'static str, Today, Result<(), String>)>) {
    let mut failures = Vec::new();
    for (row, today, result) in rows {
        match (today, result) {
            (Today::Right, Err(why)) => failures.push(format!("{row}: {why}")),
            (Today::Differs(reason), Ok(())) => {
                failures.push(format!("{row} is right now; it was known to differ because {reason}"));
            }
            (Today::Differs(reason), Err(why)) => println!("known difference, {row}: {why} ({reason})"),
            (Today::Right, Ok(())) => {}
        }
    }
    assert!(failures.is_empty(), "\n{}", failures.join("\n"));
}

/// Middle of the divergence in the drawings of deltas, and a core up on the right.
const MIDDLE: At = (7.2, 10.0);
const CORE: At = (17.0, 8.5);

/// Type lines that come in from the left a period apart and diverge, with a loop about the core: what all sketches of deltas
/// share.
fn divergence() -> Sketch {
    Sketch::default()
        .ridge("X", &[(1.0, 9.4), (5.6, 9.4), (6.6, 9.0), (8.0, 7.4), (10.5, 3.0)])
        .ridge("Y", &[(1.0, 10.6), (5.6, 10.6), (6.6, 11.0), (8.0, 12.6), (10.5, 17.0)])
        .ridge("core", &[(19.0, 13.0), (16.2, 8.8), (16.5, 7.9), (17.4, 7.9), (20.4, 12.0)])
}

/// The first two ridges in front of the divergence, broadside to it.
fn with_c_and_d(sketch: Sketch) -> Sketch {
    sketch
        .ridge("C", &[(11.2, 4.5), (9.6, 8.0), (9.3, 10.0), (9.6, 12.0), (11.2, 15.5)])
        .ridge("D", &[(12.3, 4.5), (10.7, 8.0), (10.4, 10.0), (10.7, 12.0), (12.3, 15.5)])
}

/// A fork that opens to the right, standing free between the type lines; its limbs run up to ridge C.
fn fork_before_c(sketch: Sketch) -> Sketch {
    sketch.ridge("fork", &[(5.9, 10.0), (7.1, 10.0), (9.3, 8.8)]).ridge("fork", &[(7.1, 10.0), (9.3, 11.2)])
}

fn delta_of(drawing: &Drawing, middle: At) -> Option<PlacedDelta> {
    place_delta(&drawing.lines, px(middle), px(CORE))
}

/// The delta must lie at `place` (and be `what`), the first ridge counted toward the core be called `first`.
fn delta_and_first(
    drawing: &Drawing,
    middle: At,
    (place, what): (At, Option<Formation>),
    first: Option<&str>,
) -> Result<(), String> {
    let placed = delta_of(drawing, middle).ok_or("no delta placed")?;
    let found = at(placed.at);
    if apart(found, place) > NEAR {
        return Err(format!(
            "delta ({}, {:?}) at {found:.1?} instead of {place:?}",
            drawing.name_at(found),
            placed.formation
        ));
    }
    if what.is_some_and(|w| w != placed.formation) {
        return Err(format!("delta is {:?} instead of {what:?}", placed.formation));
    }
    let counted: Vec<&str> =
        ridges_between(&drawing.lines, placed.at, px(CORE)).iter().map(|c| drawing.name_at(at(c.at))).collect();
    match first {
        Some(first) if counted.first() != Some(&first) => Err(format!("counted {counted:?}, first should be {first}")),
        _ => Ok(()),
    }
}

#[test]
fn what_else_at_the_divergence_may_be_the_delta_is_left_open() {
    // Chapter II, "Delta": at or in front of and nearest the center of the divergence of the type lines, which two examiners need not see alike. A fork
    // that opens toward the core and its stem's end; no fork that opens away, nothing far in front.
    let open = |sketch: Sketch| {
        let drawing = sketch.draw();
        let mut found: Vec<At> = other_deltas(&drawing.lines, px(MIDDLE), px(CORE)).into_iter().map(at).collect();
        found.sort_by(|a, b| a.0.total_cmp(&b.0));
        found
    };
    let alike = |found: &[At], wanted: &[At]| {
        found.len() == wanted.len() && found.iter().zip(wanted).all(|(f, w)| apart(*f, *w) < NEAR)
    };
    let found = open(fork_before_c(with_c_and_d(divergence())));
    assert!(alike(&found, &[(5.9, 10.0), (7.1, 10.0)]), "{found:.1?}");
    let fork = (7.7, 10.0);
    let away = || divergence().ridge("away", &[(6.5, 9.5), fork, (9.0, 10.0)]).ridge("away", &[(6.5, 10.5), fork]);
    let formations = away().draw().lines.formations_near(px(fork), px(fork).distance(px((fork.0 + NEAR, fork.1))));
    assert!(formations.iter().any(|f| f.2 == Formation::Fork), "{formations:?}");
    let found = open(away());
    assert!(found.iter().all(|f| apart(*f, fork) > NEAR), "{found:.1?}");
    let in_front = || divergence().ridge("in front", &[(8.7, 10.0), (10.6, 10.0)]);
    let reach = px(MIDDLE).distance(px((MIDDLE.0 + 2.0, MIDDLE.1)));
    assert!(in_front().draw().lines.formations_near(px(MIDDLE), reach).iter().any(|f| f.2 != Formation::Passing));
    let found = open(in_front());
    assert!(found.is_empty(), "{found:.1?}");
}

#[test]
fn deltas_lie_where_the_handbook_puts_them() {
    let (dot, fork, ending) = (Some(Formation::Dot), Some(Formation::Fork), Some(Formation::Ending));
    let mut rows = Vec::new();
    let mut row = |name, today, result| rows.push((name, today, result));

    // Figure 20: a dot before the first ridge C.
    let drawing = with_c_and_d(divergence()).dot("dot", MIDDLE).draw();
    row(
        "20, with the dot: the dot, first count C",
        Today::Right,
        delta_and_first(&drawing, MIDDLE, (MIDDLE, dot), Some("C")),
    );
    let drawing = with_c_and_d(divergence()).draw();
    let on_c = ((9.3, 10.0), Some(Formation::Passing));
    row(
        "20, without the dot: on ridge C, first count D",
        Today::Right,
        delta_and_first(&drawing, MIDDLE, on_c, Some("D")),
    );

    // Figure 25: forks off the type lines do not lie midway.
    let drawing = fork_before_c(with_c_and_d(divergence()))
        .ridge("A", &[(8.4, 13.3), (10.0, 14.6), (11.0, 17.5)])
        .ridge("B", &[(8.6, 6.3), (9.4, 6.6), (10.4, 5.9)])
        .draw();
    row("25: the fork midway, not A or B", Today::Right, delta_and_first(&drawing, MIDDLE, ((7.1, 10.0), None), None));

    // Figure 26: E lies nearer the core, but opens away from it; D opens toward it.
    let drawing = with_c_and_d(divergence())
        .ridge("D", &[(5.6, 10.0), (6.7, 10.0), (8.3, 9.2)])
        .ridge("D", &[(6.7, 10.0), (8.3, 10.8)])
        .ridge("E", &[(7.3, 7.6), (8.0, 8.4), (9.3, 8.3)])
        .ridge("E", &[(7.0, 8.9), (8.0, 8.4)])
        .draw();
    row(
        "26: fork D, which opens to the core; first count C",
        Today::Right,
        delta_and_first(&drawing, MIDDLE, ((6.7, 10.0), fork), Some("C")),
    );

    // Figure 27: dot and fork equally near.
    let drawing = with_c_and_d(divergence())
        .ridge("fork", &[(5.9, 9.7), (7.0, 9.7), (9.3, 8.6)])
        .ridge("fork", &[(7.0, 9.7), (8.6, 10.3)])
        .dot("dot", (7.3, 10.7))
        .draw();
    row("27: the fork, not the dot", Today::Right, delta_and_first(&drawing, MIDDLE, ((7.0, 9.7), fork), None));

    // Figure 28: one ridge comes in and forks at X and again at D nearer the core.
    let drawing = with_c_and_d(divergence())
        .ridge("A", &[(1.0, 10.0), (6.9, 10.0), (8.3, 9.8), (9.3, 9.2)])
        .ridge("A", &[(6.9, 10.0), (8.4, 12.0), (9.0, 14.0)])
        .ridge("A", &[(8.3, 9.8), (9.3, 10.7)])
        .draw();
    row(
        "28: the second fork, nearer the core",
        Today::Right,
        delta_and_first(&drawing, MIDDLE, ((8.3, 9.8), None), None),
    );

    // Figure 29: a ridge wholly inside that runs toward the core.
    let drawing = divergence().ridge("A", &[(7.3, 10.0), (13.0, 9.1)]).draw();
    row("29: the end at the divergence", Today::Right, delta_and_first(&drawing, MIDDLE, ((7.3, 10.0), ending), None));

    // Figure 30: the ridge comes in from below the divergence.
    let drawing = divergence().ridge("A", &[(1.0, 10.0), (7.0, 10.0), (9.6, 9.6)]).draw();
    row("30: the end nearer the core", Today::Right, delta_and_first(&drawing, MIDDLE, ((9.6, 9.6), ending), None));

    // Figure 31: forks of the type lines open away from the core; a dot stands in front.
    let drawing = with_c_and_d(divergence())
        .ridge("C'", &[(6.9, 8.7), (6.4, 7.4), (6.6, 5.0)])
        .ridge("E'", &[(6.9, 11.3), (6.4, 12.6), (6.6, 15.0)])
        .dot("dot", (7.5, 10.0))
        .draw();
    row("31: the dot", Today::Right, delta_and_first(&drawing, MIDDLE, ((7.5, 10.0), dot), None));

    // Figure 32: D and E start in front of the divergence and run the way of the lower type line; the dot is far above them.
    let drawing = divergence()
        .ridge("D", &[(9.0, 9.2), (10.4, 10.2), (12.0, 13.0)])
        .ridge("E", &[(7.4, 10.2), (8.6, 11.0), (11.2, 15.0)])
        .dot("dot", (9.4, 7.4))
        .draw();
    row("32: the end of ridge E", Today::Right, delta_and_first(&drawing, MIDDLE, ((7.4, 10.2), ending), None));

    // "A meeting of two ridges", a form of its own beside the bifurcation: three limbs nearly evenly about it, the closest two away from the core.
    let drawing = with_c_and_d(divergence())
        .ridge("meeting", &[(6.55, 9.1), MIDDLE, (9.3, 10.0)])
        .ridge("meeting", &[(6.55, 10.9), MIDDLE])
        .draw();
    row("a meeting of ridges", Today::Right, delta_and_first(&drawing, MIDDLE, (MIDDLE, fork), None));

    // Figures 50 to 52: a fork that stands free, one joined to a type line, one off a fork off a type line.
    let drawing = fork_before_c(with_c_and_d(divergence())).draw();
    row("50: the fork, first count C", Today::Right, delta_and_first(&drawing, MIDDLE, ((7.1, 10.0), None), Some("C")));
    let joined = |s: Sketch| s.ridge("stem", &[(4.9, 10.6), (5.9, 10.0)]);
    let drawing = joined(fork_before_c(with_c_and_d(divergence()))).draw();
    row(
        "51: the fork joined to the lower type line, first count C",
        Today::Right,
        delta_and_first(&drawing, MIDDLE, ((7.1, 10.0), None), Some("C")),
    );
    let drawing = with_c_and_d(divergence())
        .ridge("stem", &[(6.1, 10.8), (7.6, 10.1), (9.3, 9.2)])
        .ridge("limb", &[(7.6, 10.1), (9.3, 11.0)])
        .draw();
    row("52: the second fork", Today::Right, delta_and_first(&drawing, MIDDLE, ((7.6, 10.1), None), Some("C")));

    // Figures 53 to 55: white space between delta and first count.
    let drawing = fork_before_c(with_c_and_d(divergence())).draw();
    row(
        "53, 54: a space lies between, C is counted",
        Today::Right,
        delta_and_first(&drawing, MIDDLE, ((7.1, 10.0), None), Some("C")),
    );
    let toward = |t: f64| (7.1 + t * (CORE.0 - 7.1), 10.0 + t * (CORE.1 - 10.0));
    let drawing = with_c_and_d(divergence())
        .ridge("B", &[(5.9, 10.2), (7.1, 10.0), toward(0.23)])
        .ridge("B", &[(7.1, 10.0), (8.0, 11.2), (8.6, 13.0)])
        .draw();
    row(
        "55: ridge B runs from the delta along the line into C: C is not counted, D is first",
        Today::Right,
        delta_and_first(&drawing, MIDDLE, ((7.1, 10.0), None), Some("D")),
    );

    // Figures 104 and 337: a dot thinner than the ridges.
    let drawing = with_c_and_d(divergence()).thin("dot", &[MIDDLE]).draw();
    row(
        "104, 337: not the thin dot but a point on C",
        Today::Right,
        delta_and_first(&drawing, MIDDLE, on_c, Some("D")),
    );

    // Figure 320: a smooth ridge that answers the definition of a type line is no delta, even where the flow shows one.
    let drawing = divergence().ridge("A", &[(1.0, 10.0), (6.4, 9.8), (7.2, 10.0), (8.2, 10.9), (10.0, 17.0)]).draw();
    let on_a = match delta_of(&drawing, MIDDLE).map(|d| drawing.name_at(at(d.at))) {
        Some("A") => Err("the delta lies on A".to_owned()),
        _ => Ok(()),
    };
    row("320: no delta on the smooth type line A", Today::Differs("type lines are not followed as such"), on_a);

    // Figure 322: the legs of fork B spread at once, so they are no type lines, and B no delta; C is the point nearest the middle.
    let drawing = with_c_and_d(Sketch::default())
        .ridge("B", &[(1.0, 10.0), (7.0, 10.0), (8.6, 8.1), (9.6, 3.0)])
        .ridge("B", &[(7.0, 10.0), (8.6, 11.9), (9.6, 17.0)])
        .draw();
    row(
        "322: C, not the fork B",
        Today::Differs("the middle of the divergence comes from the flow, not from type lines"),
        delta_and_first(&drawing, MIDDLE, on_c, None),
    );
    check(rows);
}

/// Centre of the recurves in the drawings of cores, and a delta below on the right.
const CENTRE: At = (10.0, 9.0);
const DELTA: At = (20.0, 18.0);
/// How far the legs reach down, periods.
const LEG: f64 = 13.0;

/// Recurves of these radii about the centre.
fn recurves(radii: &[f64]) -> Sketch {
    radii.iter().fold(Sketch::default(), |s, r| {
        s.ridge(if *r == radii[0] { "innermost" } else { "outer" }, &looping(CENTRE, *r, LEG))
    })
}

/// A rod beside the axis whose tip lies so far above the line on which the legs begin to turn.
fn rod(name: &'static str, aside: f64, above: f64) -> impl Fn(Sketch) -> Sketch {
    move |s| s.ridge(name, &[(CENTRE.0 + aside, CENTRE.1 + LEG), (CENTRE.0 + aside, CENTRE.1 - above)])
}

fn core_of(drawing: &Drawing, focus: At, delta: At) -> Option<PlacedCore> {
    place_core(&drawing.lines, px(focus), DOWN, px(delta))
}

/// The core must lie at `place`, with so many rods where the figure leaves no choice how limbs of a pair are counted.
fn core_at(drawing: &Drawing, focus: At, delta: At, place: At, rods: impl Into<Option<usize>>) -> Result<(), String> {
    let core = core_of(drawing, focus, delta).ok_or("no core placed")?;
    let found = at(core.at);
    let rods = rods.into();
    if rods.is_some_and(|r| r != core.rods) || apart(found, place) > NEAR {
        let name = drawing.name_at(found);
        return Err(format!(
            "core on {name:?} at {found:.1?} with {} rods instead of {place:?} with {rods:?}",
            core.rods
        ));
    }
    Ok(())
}

#[test]
fn cores_of_loops_lie_where_the_handbook_puts_them() {
    let mut rows = Vec::new();
    let mut row = |name, today, result| rows.push((name, today, result));
    let (x, y) = CENTRE;

    // Figures 33 to 38, the delta on the right: the farther side is the left one. Rods rise just above the line on which the
    // legs begin to turn.
    let drawing = recurves(&[0.7, 1.7, 2.7]).draw();
    row("33: no rod, the far shoulder", Today::Right, core_at(&drawing, CENTRE, DELTA, (x - 0.7, y), 0));
    let drawing = rod("rod", 0.0, 0.15)(recurves(&[1.0, 2.0, 3.0])).draw();
    row("34: one rod", Today::Right, core_at(&drawing, CENTRE, DELTA, (x, y - 0.15), 1));
    let drawing = rod("far", -0.5, 0.3)(rod("near", 0.5, 0.3)(recurves(&[1.5, 2.5, 3.5]))).draw();
    row("35: two rods, the far one", Today::Right, core_at(&drawing, CENTRE, DELTA, (x - 0.5, y - 0.3), 2));
    let three = |s| rod("far", -1.0, 0.3)(rod("centre", 0.0, 0.9)(rod("near", 1.0, 0.3)(s)));
    let drawing = three(recurves(&[2.0, 3.0, 4.0])).draw();
    row("36: three rods, the centre one", Today::Right, core_at(&drawing, CENTRE, DELTA, (x, y - 0.9), 3));
    let spike = rod("spike", 0.0, 1.0)(recurves(&[1.0, 2.0, 3.0])).draw();
    row("36: a rod that touches the recurve", Today::Right, core_at(&spike, CENTRE, DELTA, (x, y - 1.0), 1));
    let four =
        |s| rod("farthest", -1.5, 0.3)(rod("far", -0.5, 1.0)(rod("near", 0.5, 1.0)(rod("nearest", 1.5, 0.3)(s))));
    let drawing = four(recurves(&[2.5, 3.5])).draw();
    row(
        "37: four rods, the second from the far side",
        Today::Right,
        core_at(&drawing, CENTRE, DELTA, (x - 0.5, y - 1.0), 4),
    );
    let five = |s| three(rod("farthest", -2.0, 0.3)(rod("nearest", 2.0, 0.3)(s)));
    let drawing = five(recurves(&[3.0, 4.0])).draw();
    row("38: five rods, the centre one", Today::Right, core_at(&drawing, CENTRE, DELTA, (x, y - 0.9), 5));
    // The same seen from a delta on the left.
    let drawing = rod("far", 0.5, 0.3)(rod("near", -0.5, 0.3)(recurves(&[1.5, 2.5, 3.5]))).draw();
    row("35, delta on the left", Today::Right, core_at(&drawing, CENTRE, (2.0, 18.0), (x + 0.5, y - 0.3), 2));

    // Figure 39: rod A does not reach the shoulder line.
    let drawing = rod("A", -0.5, -2.5)(rod("B", 0.5, 0.3)(recurves(&[1.5, 2.5, 3.5]))).draw();
    row(
        "39: rod A is too short, the core is on B",
        Today::Right,
        core_at(&drawing, CENTRE, DELTA, (x + 0.5, y - 0.3), 1),
    );

    // Figures 40 to 45: an appendage abuts on the innermost recurve at a right angle, outside and between the shoulders.
    let drawing = recurves(&[1.0, 2.4, 3.4]).ridge("appendage", &[(x, y - 1.0), (x, y - 2.4)]).draw();
    let touching = core_at(&drawing, CENTRE, DELTA, (x, y - 2.4), None);
    row("43, 309: where the appendage touches the next recurve", Today::Right, touching);
    let drawing = recurves(&[1.0, 2.8, 3.8]).ridge("appendage", &[(x + 0.7, y - 0.7), (x + 1.45, y - 1.45)]).draw();
    let short = core_at(&drawing, CENTRE, DELTA, (x - 2.8, y), None);
    row("40, 41, 44, 45: the far shoulder of the next recurve", Today::Right, short);
    // One that flows off smoothly, as a fork, leaves the recurve whole ("Loops", the test of tracing toward the appendage).
    let smooth = [(x - 1.0, y + 1.0), (x - 1.0, y - 0.3), (x - 0.9, y - 1.3), (x - 0.5, y - 2.0), (x + 0.5, y - 2.2)];
    let drawing = recurves(&[1.0, 3.2]).ridge("appendage", &smooth).draw();
    row("an appendage that flows off smoothly", Today::Right, core_at(&drawing, CENTRE, DELTA, (x - 1.0, y), 0));
    // One below the shoulders does no harm either.
    let drawing = recurves(&[1.0, 2.8]).ridge("appendage", &[(x + 1.0, y + 3.0), (x + 2.0, y + 3.0)]).draw();
    row("an appendage below the shoulders", Today::Right, core_at(&drawing, CENTRE, DELTA, (x - 1.0, y), 0));

    // Figures 46 to 48: two loops whose inner limbs cross, figure 49: two loops side by side.
    let pair = |half: f64, radius: f64| {
        Sketch::default()
            .ridge("far loop", &looping((x - half, y), radius, LEG))
            .ridge("near loop", &looping((x + half, y), radius, LEG))
            .ridge("outer", &looping((x, y), half + radius + 1.0, LEG))
            .ridge("outer", &looping((x, y), half + radius + 2.0, LEG))
    };
    // Limbs of radius 1 about centres 0.7 to either side meet at a height of 0.71 on the axis, near the shoulders.
    let drawing = pair(0.7, 1.0).draw();
    row("46: the crossing", Today::Right, core_at(&drawing, (x, y - 0.3), DELTA, (x, y - 0.7), None));
    // Wide apart they cross low between the heads: the shoulder line runs above, through both limbs.
    let low = Sketch::default()
        .ridge(
            "far loop",
            &[
                (x - 2.5, y + LEG),
                (x - 2.5, y),
                (x - 2.3, y - 0.8),
                (x - 1.5, y - 1.3),
                (x - 0.8, y - 0.8),
                (x - 0.6, y),
                (x, y + 1.5),
                (x + 0.7, y + 3.0),
                (x + 0.7, y + LEG),
            ],
        )
        .ridge(
            "near loop",
            &[
                (x + 2.5, y + LEG),
                (x + 2.5, y),
                (x + 2.3, y - 0.8),
                (x + 1.5, y - 1.3),
                (x + 0.8, y - 0.8),
                (x + 0.6, y),
                (x, y + 1.5),
                (x - 0.7, y + 3.0),
                (x - 0.7, y + LEG),
            ],
        )
        .ridge("outer", &looping(CENTRE, 3.6, LEG))
        .draw();
    row(
        "47: crossing below the shoulders, the limb of the far loop",
        Today::Right,
        core_at(&low, (x, y - 1.0), DELTA, (x - 0.65, y - 0.5), None),
    );
    let high = Sketch::default()
        .ridge(
            "far loop",
            &[
                (x - 2.0, y + LEG),
                (x - 2.0, y),
                (x - 1.4, y - 1.4),
                (x, y - 2.0),
                (x + 0.8, y - 1.0),
                (x + 0.8, y + LEG),
            ],
        )
        .ridge(
            "near loop",
            &[
                (x + 2.0, y + LEG),
                (x + 2.0, y),
                (x + 1.4, y - 1.4),
                (x, y - 2.0),
                (x - 0.8, y - 1.0),
                (x - 0.8, y + LEG),
            ],
        )
        .ridge("outer", &looping(CENTRE, 3.1, LEG))
        .draw();
    row(
        "48: crossing above the shoulders, the farther of the middle limbs",
        Today::Right,
        core_at(&high, (x, y - 1.5), DELTA, (x - 0.8, y - 0.8), None),
    );
    let drawing = pair(1.1, 0.6).draw();
    row(
        "49, 321, 328: side by side, the near shoulder of the far loop",
        Today::Right,
        core_at(&drawing, CENTRE, DELTA, (x - 0.5, y - 0.3), None),
    );
    check(rows);
}

/// A loop that opens to the left with its head toward a fork on the right.
#[test]
fn a_loop_that_points_at_the_delta_has_its_core_in_the_middle_of_the_recurve_and_counts_none() {
    // Handbook, chapter II, figure 139.
    let head = |radius: f64| {
        let mut points = vec![(2.0, 10.0 - radius)];
        points.extend(arc((12.0, 10.0), radius, 90.0, -90.0));
        points.push((2.0, 10.0 + radius));
        points
    };
    let drawing = Sketch::default()
        .ridge("recurve", &head(0.7))
        .ridge("fork", &[(22.0, 10.0), (14.6, 10.0), (12.2, 7.9), (2.0, 7.9)])
        .ridge("fork", &[(14.6, 10.0), (12.2, 12.1), (2.0, 12.1)])
        .draw();
    let delta = px((14.7, 10.0));
    let core = place_core(&drawing.lines, px((12.0, 10.0)), PI, delta).unwrap();
    let found = at(core.at);
    let placed = place_delta(&drawing.lines, delta, core.at).unwrap();
    assert!(apart(at(placed.at), (14.6, 10.0)) < NEAR, "delta at {:.1?}", at(placed.at));
    assert!(apart(found, (12.7, 10.0)) < 0.3, "core at {found:.1?}");
    assert_eq!(ridges_between(&drawing.lines, placed.at, core.at).len(), 0);
}

/// The core on a spike that touches the recurve: the recurve counts for a delta below the line square to the spike only.
#[test]
fn with_the_core_on_a_spike_the_recurve_is_counted_from_below_only() {
    // Handbook, chapter II, figures 105 and 106.
    let drawing = rod("spike", 0.0, 1.0)(Sketch::default().ridge("recurve", &looping(CENTRE, 1.0, LEG))).draw();
    let counted = |delta: At| {
        let core = core_of(&drawing, CENTRE, delta).expect("a core");
        assert!(apart(at(core.at), (CENTRE.0, CENTRE.1 - 1.0)) < NEAR, "core at {:.1?}", at(core.at));
        ridges_between(&drawing.lines, px(delta), core.at).len()
    };
    let around = |degrees: f64| {
        let tip = px((CENTRE.0, CENTRE.1 - 1.0));
        let place: Point = tip.step(degrees.to_radians(), 8.0 * sketch::PERIOD_PX);
        at(place)
    };
    for degrees in [-60.0, -45.0, -30.0, 210.0, 235.0] {
        assert_eq!(counted(around(degrees)), 1, "area A, {degrees} degrees");
    }
    for degrees in [8.0, 20.0, 45.0, 160.0, 172.0] {
        assert_eq!(counted(around(degrees)), 0, "area B, {degrees} degrees");
    }
}

/// An item of the itemised count: what the line from delta to core meets, and how many it counts.
#[derive(Clone, Copy, PartialEq, Debug)]
enum Item {
    Ridge,
    Ending,
    ShortRidge,
    Dot,
    Bifurcation,
    Island,
}

/// The list printed beside figure 102, from the delta to the core.
const FIGURE_102: [Item; 18] = [
    Item::ShortRidge,
    Item::Bifurcation,
    Item::Bifurcation,
    Item::Ridge,
    Item::Ending,
    Item::Bifurcation,
    Item::Ridge,
    Item::Ending,
    Item::Ridge,
    Item::ShortRidge,
    Item::Bifurcation,
    Item::Island,
    Item::Bifurcation,
    Item::Ending,
    Item::Dot,
    Item::Ridge,
    Item::Island,
    Item::Ending,
];

impl Item {
    fn counts(self) -> usize {
        if matches!(self, Item::Bifurcation | Item::Island) { 2 } else { 1 }
    }
}

/// Ridges a period apart that cross the line from left to right under a right angle, with the items in their order; the line is
/// the height [`ACROSS`]. Both limbs of a fork are crossed behind the fork, or the fork itself where `on_the_fork`.
fn itemised(items: &[Item], on_the_fork: bool) -> (Drawing, At, At) {
    const GAP: f64 = 1.0;
    let (top, bottom) = (ACROSS - 4.0, ACROSS + 4.0);
    let mut sketch = Sketch::default();
    let delta = (0.7, ACROSS);
    sketch = sketch.ridge("delta", &[(delta.0, top), (delta.0, bottom)]);
    let mut x = delta.0 + GAP;
    for item in items {
        let (left, right, middle) = (x, x + GAP, x + 0.5 * GAP);
        sketch = match item {
            Item::Ridge => sketch.ridge("ridge", &[(x, top), (x, bottom)]),
            Item::Ending => sketch.ridge("ending", &[(x, ACROSS - 0.5), (x, bottom)]),
            Item::ShortRidge => sketch.ridge("short ridge", &[(x, ACROSS - 0.6), (x, ACROSS + 0.6)]),
            Item::Dot => sketch.dot("dot", (x, ACROSS)),
            Item::Bifurcation if on_the_fork => sketch
                .ridge("bifurcation", &[(left, top), (left, ACROSS - 1.0), (middle, ACROSS + 0.7), (middle, bottom)])
                .ridge("bifurcation", &[(right, top), (right, ACROSS - 1.0), (middle, ACROSS + 0.7)]),
            Item::Bifurcation => sketch
                .ridge("bifurcation", &[(left, top), (left, ACROSS + 1.0), (middle, ACROSS + 2.5), (middle, bottom)])
                .ridge("bifurcation", &[(right, top), (right, ACROSS + 1.0), (middle, ACROSS + 2.5)]),
            Item::Island => sketch
                .ridge(
                    "island",
                    &[
                        (middle, top),
                        (middle, ACROSS - 2.0),
                        (left, ACROSS - 0.7),
                        (left, ACROSS + 0.7),
                        (middle, ACROSS + 2.0),
                        (middle, bottom),
                    ],
                )
                .ridge(
                    "island",
                    &[(middle, ACROSS - 2.0), (right, ACROSS - 0.7), (right, ACROSS + 0.7), (middle, ACROSS + 2.0)],
                ),
        };
        x += GAP * item.counts() as f64;
    }
    let core = (x, ACROSS);
    (sketch.ridge("core", &[(x, top), (x, bottom)]).draw(), delta, core)
}

/// Height of the counted line in the itemised drawing, periods.
const ACROSS: f64 = 10.0;

fn words(item: Item) -> &'static str {
    match item {
        Item::Ridge => "ridge",
        Item::Ending => "ending",
        Item::ShortRidge => "short ridge",
        Item::Dot => "dot",
        Item::Bifurcation => "bifurcation",
        Item::Island => "island",
    }
}

#[test]
fn the_itemised_list_of_figure_102_counts_25_item_by_item() {
    // Handbook, chapter II, figure 102: "Loop, 25 ridge counts", itemised from delta to core. The items in their order, drawn a ridge
    // apart; forks and islands are crossed through both limbs.
    assert_eq!(FIGURE_102.iter().map(|i| i.counts()).sum::<usize>(), 25);
    let (drawing, delta, core) = itemised(&FIGURE_102, false);
    let ridges = ridges_between(&drawing.lines, px(delta), px(core));
    let names: Vec<&str> = ridges.iter().map(|c| drawing.name_at(at(c.at))).collect();
    let expected: Vec<&str> = FIGURE_102.iter().flat_map(|i| vec![words(*i); i.counts()]).collect();
    assert_eq!(names, expected);
    assert_eq!(ridge_count(&drawing.lines, &ridges), 25);
}

#[test]
fn a_fork_exactly_on_the_line_counts_two_and_a_light_dot_or_fragment_none() {
    // Handbook, chapter II, "Ridge counting": if there is a bifurcation of a ridge exactly at the point where the line would be drawn, two
    // ridges are counted; dots and fragments are counted only if as thick and heavy as the ridges around.
    let count = |items: &[Item]| {
        let (drawing, delta, core) = itemised(items, true);
        ridge_count(&drawing.lines, &ridges_between(&drawing.lines, px(delta), px(core)))
    };
    assert_eq!(count(&[Item::Ridge, Item::Bifurcation, Item::Ridge]), 4);
    assert_eq!(count(&[Item::Ridge, Item::Dot, Item::Ridge]), 3);
    // The same with a fragment in the place of the dot, once as heavy as the ridges and once lighter.
    let upright = |x: f64| [(x, ACROSS - 4.0), (x, ACROSS + 4.0)];
    let fragment = [(4.0, ACROSS - 0.7), (4.0, ACROSS + 0.7)];
    let ridges = || [2.0, 3.0, 5.0, 6.0].into_iter().fold(Sketch::default(), |s, x| s.ridge("ridge", &upright(x)));
    let between = |drawing: &Drawing| {
        ridge_count(&drawing.lines, &ridges_between(&drawing.lines, px((2.0, ACROSS)), px((6.0, ACROSS))))
    };
    assert_eq!(between(&ridges().ridge("fragment", &fragment).draw()), 3);
    assert_eq!(between(&ridges().thin("fragment", &fragment).draw()), 2);
}
