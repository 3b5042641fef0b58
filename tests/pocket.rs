//! What stands before the inner delta of a print that looks like a central pocket loop: sketches drawn anew from the words of the rule, and the
//! handbook's own figures.
//!
//! Source: FBI, *The Science of Fingerprints: Classification and Uses* (1963 revision, public domain), chapter II, "Central pocket loops": a recurve with
//! an appendage connected with it at the point crossed by the line of flow is spoiled, and where each is, the print is a loop (figures 245 to 254); one
//! connected elsewhere does no harm (figures 237 and 238); an obstruction at right angles does as well as a recurve. The sketches are our own.

mod sketch;

use recurve::intake::{self, IntakeSettings};
use recurve::pattern::line_of_flow::line_of_flow;
use recurve::pattern::pocket::Pocket;
use recurve::proposal::{General, Subclass};
use recurve::{Proposal, Screener};
use sketch::{At, Sketch, px};
use std::f64::consts::TAU;

/// Middle of the pocket, its inner delta below it on the left, its outer one far on the right.
const CENTRE: At = (14.0, 10.0);
const INNER: At = (11.0, 17.0);
const OUTER: At = (25.0, 22.0);

/// A place so far from the centre in the direction of the inner delta, and so far to the side of that line.
fn toward_delta(out: f64, aside: f64) -> At {
    let (dx, dy) = (INNER.0 - CENTRE.0, INNER.1 - CENTRE.1);
    let length = dx.hypot(dy);
    let (ux, uy) = (dx / length, dy / length);
    (CENTRE.0 + out * ux - aside * uy, CENTRE.1 + out * uy + aside * ux)
}

/// A closed ridge that comes to a tip so far from the centre, toward the inner delta.
fn drop(tip: f64) -> Vec<At> {
    let round = |i: u32| {
        let turn = TAU * f64::from(i) / 72.0;
        // Round about the centre and drawn out to the tip.
        let out = if turn.cos() > 0.0 { tip * turn.cos().powi(3) } else { 0.6 * tip * turn.cos() };
        toward_delta(out, 0.6 * tip * turn.sin())
    };
    (0..=72).map(round).collect()
}

fn read(sketch: Sketch) -> Option<Pocket> {
    let lines = sketch.draw().lines;
    Pocket::of(&lines, &[INNER, OUTER].map(|delta| line_of_flow(&lines, px(delta), px(CENTRE))))
}

/// The same seen in a mirror, where the inner delta is the right one.
fn read_mirrored(sketch: Sketch) -> Option<Pocket> {
    let lines = sketch.mirrored().draw().lines;
    let over = |(x, y): At| (sketch::SIDE - x, y);
    Pocket::of(&lines, &[OUTER, INNER].map(|delta| line_of_flow(&lines, px(over(delta)), px(over(CENTRE)))))
}

/// So many recurves outside the pocket that the line to the outer delta meets.
fn around(sketch: Sketch) -> Sketch {
    let line = |k: u32| {
        let x = 19.5 + 1.3 * f64::from(k);
        [(x, 2.0), (x, 28.0)]
    };
    (0..5).fold(sketch, |sketch, k| sketch.ridge("outside", &line(k)))
}

#[test]
fn a_recurve_with_a_ridge_at_its_tip_in_the_line_of_flow_is_spoiled() {
    let whole = read(around(Sketch::default().ridge("recurve", &drop(3.0)))).unwrap();
    assert!(!whole.is_spoiled() && whole.spoiled.is_empty() && !whole.sound.is_empty(), "{whole:?}");
    let appendage = [toward_delta(3.0, 0.0), toward_delta(5.2, 0.0)];
    let spoiled = around(Sketch::default().ridge("recurve", &drop(3.0)).ridge("appendage", &appendage));
    let spoiled = read(spoiled).unwrap();
    assert!(spoiled.is_spoiled() && spoiled.spoiled.len() == 1 && spoiled.opens_left, "{spoiled:?}");
    let tip = spoiled.spoiled[0].tip;
    assert!(tip.distance(px(toward_delta(3.0, 0.0))) < 0.7 * sketch::PERIOD_PX, "{tip:?}");
    assert_eq!(spoiled.outer, Some(px(OUTER)));
    let mirrored = around(Sketch::default().ridge("recurve", &drop(3.0)).ridge("appendage", &appendage));
    let mirrored = read_mirrored(mirrored).unwrap();
    assert!(mirrored.is_spoiled() && !mirrored.opens_left, "{mirrored:?}");
}

#[test]
fn a_sound_recurve_outside_a_spoiled_one_and_an_obstruction_at_right_angles_leave_a_whorl() {
    let stalk = [toward_delta(2.2, 0.0), toward_delta(3.4, 0.0)];
    let inner = || around(Sketch::default().ridge("recurve", &drop(2.2)).ridge("appendage", &stalk));
    assert!(read(inner()).unwrap().is_spoiled());
    let outside = read(inner().ridge("recurve", &drop(4.6))).unwrap();
    assert!(!outside.is_spoiled() && outside.spoiled.len() == 1 && !outside.sound.is_empty(), "{outside:?}");
    // One that the appendage of the inner one comes up to from inside is not spoiled by that.
    let bridge = [toward_delta(2.2, 0.0), toward_delta(4.6, 0.0)];
    let bridged = around(Sketch::default().ridge("recurve", &drop(2.2)).ridge("appendage", &bridge));
    let bridged = read(bridged.ridge("recurve", &drop(4.6))).unwrap();
    assert!(!bridged.is_spoiled() && bridged.spoiled.len() == 1, "{bridged:?}");
    let bar = [toward_delta(4.6, -1.8), toward_delta(4.6, 1.8)];
    let barred = read(inner().ridge("bar", &bar)).unwrap();
    assert!(!barred.is_spoiled() && !barred.sound.is_empty(), "{barred:?}");
}

#[test]
fn an_appendage_elsewhere_a_thin_one_and_a_fork_of_the_delta_itself_spoil_nothing() {
    let recurve = || around(Sketch::default().ridge("recurve", &drop(3.0)));
    let aside = [toward_delta(0.2, 1.75), toward_delta(1.8, 3.4)];
    let thin = [toward_delta(3.0, 0.0), toward_delta(5.2, 0.0)];
    let cases = [("aside", recurve().ridge("appendage", &aside)), ("thin", recurve().thin("line", &thin))];
    for (name, sketch) in cases {
        let found = read(sketch).unwrap();
        assert!(!found.is_spoiled() && found.spoiled.is_empty() && !found.sound.is_empty(), "{name}: {found:?}");
    }
    // A recurve whose tip lies on the delta.
    let touching = [toward_delta(6.9, 0.0), toward_delta(8.6, 0.0)];
    let sketch = around(Sketch::default().ridge("recurve", &drop(6.9)).ridge("appendage", &touching));
    assert!(read(sketch).unwrap().spoiled.is_empty());
}

#[test]
fn where_many_ridges_stand_before_the_inner_delta_it_is_not_asked() {
    let sketch = [1.4, 2.5, 3.6, 4.7, 5.8].iter().fold(Sketch::default(), |s, tip| s.ridge("recurve", &drop(*tip)));
    assert_eq!(read(around(sketch)), None);
}

fn figure(number: u16) -> Proposal {
    let file = format!("testdata/handbook/fig{number:03}.png");
    let print = intake::read(std::path::Path::new(&file), &IntakeSettings::default()).unwrap().remove(0);
    Screener::default().screen(&print).unwrap()
}

/// Figures 245 to 254: loops "because each recurve is spoiled"; those of odd number. Of the five four are found; 251 shows its tip less than a ridge
/// from the delta.
#[test]
fn four_of_the_handbooks_five_spoiled_pockets_are_called_loops_for_that_and_name_the_whorl() {
    let said = |p: &Proposal| p.reasons.iter().any(|r| r.rule == "loop: spoiled pocket");
    let is_loop = |p: &Proposal| p.pattern.is_some_and(|r| matches!(r.general, General::Ls | General::Rs));
    let read: Vec<(u16, Proposal)> = [245, 247, 249, 251, 253].map(|n| (n, figure(n))).into();
    let found = read.iter().filter(|(_, p)| said(p) && is_loop(p)).count();
    let whorls = read.iter().filter(|(_, p)| p.references.iter().any(|r| r.general == General::Wu)).count();
    assert!(found >= 4 && whorls == read.len(), "{:?}", read.iter().map(|(n, p)| (n, p.pattern)).collect::<Vec<_>>());
    // As they open by eye.
    let slant = |n: u16| read.iter().find(|r| r.0 == n).and_then(|r| r.1.pattern).map(|p| p.general);
    let slants = [245, 247, 249, 253].map(slant);
    assert_eq!(slants, [General::Ls, General::Rs, General::Ls, General::Rs].map(Some));
    // A count needs the outer delta; on 249 it is not clear which that is.
    let counted =
        |n: u16| read.iter().find(|r| r.0 == n).is_some_and(|r| r.1.loop_.is_some_and(|l| l.ridge_count.is_some()));
    assert!(counted(253) && !counted(249));
}

/// Figures 213 to 237 of odd number are central pocket loops: none of them is a loop to us because of this.
#[test]
fn none_of_the_handbooks_central_pocket_loops_is_called_spoiled() {
    for number in (213..=237).step_by(2) {
        let found = figure(number);
        assert!(found.reasons.iter().all(|r| r.rule != "loop: spoiled pocket"), "figure {number}");
        let named = found.pattern.iter().chain(&found.references).any(|r| r.subclass == Some(Subclass::Cp));
        assert!(named, "figure {number}: {:?}", found.references);
    }
}
