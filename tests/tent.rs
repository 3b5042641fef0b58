//! What makes a tent at the centre of an arch: sketches drawn anew from the words of the rule.
//!
//! Source: FBI, *The Science of Fingerprints: Classification and Uses* (1963 revision, public domain), chapter II, "The plain arch" and "The tented
//! arch". The drawings are our own.

mod sketch;

use recurve::pattern::tent::Tent;
use sketch::{At, Sketch, looping, px};

const CENTRE: At = (15.0, 13.0);

/// Reads a drawing whose core, if it has one, opens downward at the centre, above a delta six ridges below.
fn read(sketch: Sketch, core: bool) -> Tent {
    let opening = core.then_some(sketch::DOWN);
    Tent::read(&sketch.draw().lines, (px(CENTRE), opening), core.then(|| px((CENTRE.0, CENTRE.1 + 6.0))))
}

/// Two straight slopes that meet over the centre at an angle, and others above them.
fn roof(angle_deg: f64) -> Sketch {
    let slope = |tip: f64| {
        let (s, c) = (0.5 * angle_deg).to_radians().sin_cos();
        vec![(CENTRE.0 - 12.0 * s, tip + 12.0 * c), (CENTRE.0, tip), (CENTRE.0 + 12.0 * s, tip + 12.0 * c)]
    };
    Sketch::default().ridges(&[&slope(CENTRE.1), &slope(CENTRE.1 - 4.0)])
}

/// A gentle wave over the centre and one below.
fn wave() -> Sketch {
    let over = |height: f64| -> Vec<At> {
        (0..=60)
            .map(|i| 0.5 * f64::from(i))
            .map(|x| (x, height - 1.5 * (-((x - CENTRE.0) / 6.0).powi(2)).exp()))
            .collect()
    };
    Sketch::default().ridges(&[&over(10.0), &over(20.0)])
}

/// A ridge that ends at the centre, rising at an angle from the horizontal.
fn rising(degrees: f64) -> Vec<At> {
    let (s, c) = degrees.to_radians().sin_cos();
    vec![(CENTRE.0 - 3.0 * c, CENTRE.1 + 3.0 * s), CENTRE]
}

/// "... the type in which ridges at the center form a definite angle; i.e., 90 deg. or less."
#[test]
fn an_angle_is_definite_up_to_a_right_one() {
    for wanted in [55.0, 70.0, 82.0] {
        let tent = read(roof(wanted), false);
        let got = tent.definite_angle().map(|a| a.opening.to_degrees());
        assert!(got.is_some_and(|got| (got - wanted).abs() < 8.0), "{wanted}: {got:?}");
        assert!(tent.upthrust.is_none());
    }
    for wide in [100.0, 120.0, 140.0] {
        assert!(read(roof(wide), false).definite_angle().is_none(), "{wide}");
    }
}

/// "An upthrust is an ending ridge of any length rising at a sufficient degree from the horizontal plane; i.e., 45 deg. or more."
#[test]
fn an_ending_ridge_is_an_upthrust_from_45_degrees() {
    for steep in [52.0, 65.0, 90.0, 115.0] {
        let tent = read(wave().ridges(&[&rising(steep)]), false);
        let rise = tent.upthrust.map(|u| u.rise.to_degrees());
        let from_level = f64::min(steep, 180.0 - steep);
        assert!(rise.is_some_and(|rise| (rise - from_level).abs() < 6.0), "{steep}: {rise:?}");
        assert!(tent.angle.is_none_or(|a| a.opening.to_degrees() > 90.0));
    }
    for flat in [10.0, 25.0, 38.0] {
        assert!(read(wave().ridges(&[&rising(flat)]), false).upthrust.is_none(), "{flat}");
    }
}

/// A wave without either is a plain arch; a dot is no upthrust (figure 327 and its text), nor is a ridge that ends away from the centre.
#[test]
fn a_wave_a_dot_and_a_far_ending_make_no_tent() {
    let far: [At; 2] = [(17.6, 17.0), (17.6, 14.0)];
    for sketch in [wave(), wave().dot("", CENTRE), wave().ridges(&[&far])] {
        let tent = read(sketch, false);
        assert!(tent.upthrust.is_none() && tent.definite_angle().is_none());
    }
}

/// "The mere converging of two ridges does not form a recurve, without which there can be no loop."
#[test]
fn a_looping_ridge_recurves_and_two_that_converge_do_not() {
    let looped = read(Sketch::default().ridge("loop", &looping(CENTRE, 1.0, 8.0)), true);
    assert!(looped.recurve.is_some() && looped.definite_angle().is_none() && !looped.spoiled);
    for angle in [40.0, 55.0, 62.0, 75.0, 90.0] {
        assert!(read(roof(angle), true).recurve.is_none(), "{angle}");
    }
    for radius in [0.6, 1.0, 1.5] {
        assert!(
            read(Sketch::default().ridge("loop", &looping(CENTRE, radius, 8.0)), true).recurve.is_some(),
            "{radius}"
        );
    }
}

/// An appendage that abuts on the recurve at a right angle, from outside and between the shoulders, spoils it (figures 161 to 168, and "Loops").
#[test]
fn an_appendage_at_a_right_angle_spoils_the_recurve() {
    let looped = || Sketch::default().ridge("loop", &looping(CENTRE, 1.5, 8.0));
    let above: [At; 2] = [(CENTRE.0, CENTRE.1 - 1.5), (CENTRE.0, CENTRE.1 - 6.0)];
    assert!(read(looped().ridges(&[&above]), true).spoiled);
    let inside: [At; 2] = [(CENTRE.0, CENTRE.1 - 1.5), (CENTRE.0, CENTRE.1 + 4.0)];
    let tent = read(looped().ridges(&[&inside]), true);
    assert!(tent.recurve.is_some() && !tent.spoiled);
}

/// Figures 121 and 150: a ridge that rises and goes on is no upthrust, even where ink leaves a gap in it.
#[test]
fn a_break_of_ink_in_a_rising_ridge_is_no_upthrust() {
    let below: [At; 2] = [(CENTRE.0, 17.0), (CENTRE.0, 13.0)];
    let above: [At; 2] = [(CENTRE.0, 11.9), (CENTRE.0, 8.0)];
    // The upper end of the upper piece lies above the centre.
    assert!(read(Sketch::default().ridges(&[&below]), true).upthrust.is_some());
    assert!(read(Sketch::default().ridges(&[&below, &above]), true).upthrust.is_none());
    // The same for one that leans.
    let (s, c) = 60f64.to_radians().sin_cos();
    let along = |from: f64, to: f64| -> [At; 2] { [from, to].map(|d| (CENTRE.0 + d * c, CENTRE.1 + 1.0 - d * s)) };
    let (below, above) = (along(-4.0, 0.0), along(1.1, 6.0));
    assert!(read(Sketch::default().ridges(&[&below]), true).upthrust.is_some());
    assert!(read(Sketch::default().ridges(&[&below, &above]), true).upthrust.is_none());
}
