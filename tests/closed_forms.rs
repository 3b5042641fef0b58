//! The rooms against what mathematics knows beforehand: pure sinusoids, the index theorem, analytic flows.
//!
//! Nothing here is fitted or read off the program. Angles are counter-clockwise as seen, the image's y runs down.

use ndarray::Array2;
use proptest::prelude::*;
use recurve::draw;
use recurve::field::spectrum::{STRIDE, SpectrumAnalyser, SpectrumSettings, WINDOW};
use recurve::field::tensor::Tensor;
use recurve::field::{self, FieldSettings, RidgeField};
use recurve::geometry::{Point, direction_difference, orientation_difference, wrap_orientation};
use recurve::singular::{self, PointKind, SingularSettings, Singularities, border};
use std::f64::consts::{FRAC_PI_2, PI};

// A pure sinusoid: cos(2 pi (x sin a + y cos a) / period) has straight ridges at the angle a, `period` pixels apart.

fn sinusoid(side: usize, angle: f64, period: f64) -> Array2<f32> {
    Array2::from_shape_fn((side, side), |(r, c)| {
        let across = c as f64 * angle.sin() + r as f64 * angle.cos();
        (0.5 - 0.4 * (2.0 * PI * across / period).cos()) as f32
    })
}

fn angles() -> impl Iterator<Item = f64> {
    (0..36).map(|i| f64::from(i) * PI / 36.0)
}

fn angle_of(cos2: f32, sin2: f32) -> f64 {
    wrap_orientation(0.5 * f64::from(sin2).atan2(f64::from(cos2)))
}

/// The greatest of many errors, none of which may be no number.
fn worst(errors: impl Iterator<Item = f64>) -> f64 {
    errors.fold(0.0, |most, e| if e.is_nan() { f64::INFINITY } else { most.max(e.abs()) })
}

/// The default settings without the shifts that undo what filtering a print along its flow does to a tight bend: a closed form was
/// never filtered.
fn exact() -> SingularSettings {
    SingularSettings { sole_core_shift_periods: 0.0, close_cores_shift_periods: 0.0, ..Default::default() }
}

#[test]
fn the_structure_tensor_of_a_sinusoid_has_its_angle() {
    // Differences between pixels shorten steep waves (sin k < k) and turn oblique ones a little, the more the shorter the
    // period: 1.5 degrees are allowed at the shortest, half a degree from the usual period (9 px at 500 ppi) on.
    for (period, tolerance_deg) in [(5.0, 1.5), (7.0, 1.0), (9.0, 0.5), (12.0, 0.5), (16.0, 0.5)] {
        let error = |a: f64| {
            let tensor = Tensor::of(sinusoid(96, a, period).view(), 4).smoothed(3.0);
            orientation_difference(angle_of(tensor.cos2[[12, 12]], tensor.sin2[[12, 12]]), a).to_degrees()
        };
        let most = worst(angles().map(error));
        println!("tensor, period {period}: worst angle error {most:.3} degrees");
        assert!(most < tolerance_deg, "period {period}: {most} degrees");
    }
}

#[test]
fn the_local_spectra_of_a_sinusoid_have_its_angle_and_its_period() {
    // Coefficients of a window of `WINDOW` pixels lie 1 / `WINDOW` of a cycle a pixel apart (28 % of the frequency of a 9 px
    // period). A wave between them has to be read to a quarter of that step; seen from the centre of the spectrum that step
    // is wider the longer the wave, so the angle is allowed 2 degrees up to the usual period and 3 degrees beyond.
    let step = 1.0 / WINDOW as f64;
    let mut analyser = SpectrumAnalyser::new(SpectrumSettings::default());
    let at = [96 / STRIDE, 96 / STRIDE];
    for (period, tolerance_deg) in [(6.0, 2.0), (7.5, 2.0), (9.0, 2.0), (12.0, 3.0)] {
        let (mut angle, mut frequency) = (0.0_f64, 0.0_f64);
        for a in angles() {
            let spectra = analyser.analyse(sinusoid(192, a, period).view(), |_, _| false);
            let off = orientation_difference(angle_of(spectra.cos2[at], spectra.sin2[at]), a).to_degrees();
            angle = worst([angle, off].into_iter());
            frequency = worst([frequency, f64::from(spectra.frequency[at]) - 1.0 / period].into_iter());
        }
        let steps = frequency / step;
        println!("spectra, period {period}: angle {angle:.2} degrees off, frequency {steps:.3} steps off, at worst");
        assert!(angle < tolerance_deg, "period {period}: {angle} degrees");
        assert!(steps < 0.25, "period {period}: {steps} of the step between coefficients");
    }
}

#[test]
fn the_whole_field_of_a_sinusoid_has_its_angle_and_its_period() {
    let settings = FieldSettings::default();
    let mut analyser = SpectrumAnalyser::new(settings.spectrum.clone());
    for (angle, period) in [(0.0, 9.0), (0.4, 8.0), (FRAC_PI_2, 9.0), (2.2, 10.0), (3.0, 7.5)] {
        let field = field::estimate(sinusoid(256, angle, period).view(), &settings, &mut analyser);
        let middle = Point::new(127.5, 127.5);
        let off = orientation_difference(field.orientation_at(middle), angle).to_degrees();
        let length = field.period_at(middle) / period - 1.0;
        println!(
            "field, angle {angle}, period {period}: angle {off:.3} degrees off, period {:.2} % off",
            100.0 * length
        );
        assert!(off.abs() < 0.5, "{angle} rad, period {period}: {off} degrees off");
        assert!(length.abs() < 0.07, "{angle} rad, period {period}: read as {}", field.period_at(middle));
        assert!(field.foreground_fraction() > 0.9, "{}", field.foreground_fraction());
    }
}

// Flows with known points.

const CELL: usize = 4;
/// Edge of the square on which flows are sampled, pixels.
const SIDE: usize = 480;
/// The usual ridge period at 500 ppi, pixels.
const PERIOD: f32 = 9.0;

/// The angle of the vector from `from` to `to`, counter-clockwise as seen.
fn argument(from: Point, to: Point) -> f64 {
    (from.y - to.y).atan2(to.x - from.x)
}

/// The zero-pole flow: half the sum of the angles seen from the cores less those seen from the deltas (Sherlock and Monro
/// 1993).
fn zero_pole(at: Point, cores: &[Point], deltas: &[Point], turn: f64) -> f64 {
    let sum = |points: &[Point]| points.iter().map(|&p| argument(p, at)).sum::<f64>();
    0.5 * (sum(cores) - sum(deltas)) + turn
}

/// A flow sampled on cells, all of it foreground.
fn sampled(flow: impl Fn(Point) -> f64) -> RidgeField {
    let cells = SIDE / CELL;
    let centre = |i: usize| (i as f64 + 0.5) * CELL as f64 - 0.5;
    let doubled = |r: usize, c: usize| 2.0 * flow(Point::new(centre(c), centre(r)));
    let cos2 = Array2::from_shape_fn((cells, cells), |(r, c)| doubled(r, c).cos() as f32);
    let sin2 = Array2::from_shape_fn((cells, cells), |(r, c)| doubled(r, c).sin() as f32);
    RidgeField::from_vectors(cos2, sin2, Array2::from_elem((cells, cells), true), CELL, PERIOD)
}

/// Half turns of a flow along the border of the sampled square, walked counter-clockwise in steps of a pixel.
fn border_walk(flow: impl Fn(Point) -> f64) -> f64 {
    let (low, high) = (0.5 * CELL as f64 - 0.5, SIDE as f64 - 0.5 * CELL as f64 - 0.5);
    let steps = (high - low) as usize;
    let along = |i: usize| low + i as f64;
    let down = (0..steps).map(|i| Point::new(low, along(i)));
    let right = (0..steps).map(|i| Point::new(along(i), high));
    let up = (0..steps).map(|i| Point::new(high, high - i as f64));
    let left = (0..steps).map(|i| Point::new(high - i as f64, low));
    let border: Vec<f64> = down.chain(right).chain(up).chain(left).map(flow).collect();
    let turns = border.iter().zip(border.iter().cycle().skip(1)).map(|(a, b)| orientation_difference(*b, *a));
    turns.sum::<f64>() / PI
}

fn place() -> impl Strategy<Value = Point> {
    (60.0..420.0_f64, 60.0..420.0_f64).prop_map(|(x, y)| Point::new(x, y))
}

/// Whether all points keep `least` pixels from each other.
fn apart(points: &[&[Point]], least: f64) -> bool {
    let all: Vec<Point> = points.concat();
    (0..all.len()).all(|i| (0..i).all(|j| all[i].distance(all[j]) >= least))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn cores_less_deltas_inside_are_the_half_turns_along_the_border(
        cores in prop::collection::vec(place(), 0..4),
        deltas in prop::collection::vec(place(), 0..4),
        turn in 0.0..PI,
    ) {
        prop_assume!(apart(&[&cores, &deltas], 12.0));
        let flow = |p| zero_pole(p, &cores, &deltas, turn);
        let field = sampled(flow);
        let expected = cores.len() as i32 - deltas.len() as i32;
        prop_assert!((border_walk(flow) - f64::from(expected)).abs() < 1e-6);
        prop_assert_eq!(border::half_turns(&field.cos2, &field.sin2, &field.foreground), expected);
    }
}

// What the classes of ANSI/NIST-ITL 1-2011 Update (Table 39) are expected to hold, as whole prints in closed form.

/// Half the distance between the foci of the closed form, pixels.
const HALF_WIDTH: f64 = 290.0;

/// From the sampled square to the finger frame, whose origin is the middle of the joint crease below the print.
fn in_finger(p: Point) -> Point {
    Point::new(p.x - 240.0, p.y - 500.0)
}

fn on_square(p: Point) -> Point {
    Point::new(p.x + 240.0, p.y + 500.0)
}

fn whole_print(cores: &[Point], deltas: &[Point]) -> Singularities {
    let field = sampled(|p| draw::orientation(in_finger(p), HALF_WIDTH, cores, deltas));
    singular::find(&field, &exact())
}

fn found(kind: PointKind, all: &Singularities) -> Vec<Point> {
    all.chosen(kind).map(|c| c.at).collect()
}

/// The distance from each true point to the nearest that was found, farthest first.
fn farthest(truth: &[Point], found: &[Point]) -> f64 {
    let nearest = |t: &Point| found.iter().map(|f| f.distance(on_square(*t))).fold(f64::INFINITY, f64::min);
    worst(truth.iter().map(nearest))
}

struct Class {
    name: &'static str,
    cores: &'static [Point],
    deltas: &'static [Point],
    /// Expected by the standard: least and most cores, least and most deltas.
    expected: [usize; 4],
}

const fn at(x: f64, y: f64) -> Point {
    Point::new(x, y)
}

/// One print of each class as laid out by its definition in the handbook.
const CLASSES: [Class; 7] = [
    Class { name: "plain arch", cores: &[], deltas: &[], expected: [0, 0, 0, 0] },
    Class { name: "tented arch", cores: &[at(0.0, -270.0)], deltas: &[at(0.0, -200.0)], expected: [0, 1, 0, 1] },
    Class { name: "left-slant loop", cores: &[at(5.0, -280.0)], deltas: &[at(120.0, -170.0)], expected: [1, 1, 1, 1] },
    Class {
        name: "right-slant loop",
        cores: &[at(-5.0, -280.0)],
        deltas: &[at(-120.0, -170.0)],
        expected: [1, 1, 1, 1],
    },
    Class {
        name: "plain whorl",
        cores: &[at(0.0, -300.0), at(2.0, -260.0)],
        deltas: &[at(-130.0, -180.0), at(125.0, -175.0)],
        expected: [1, 2, 2, 2],
    },
    Class {
        name: "central pocket loop",
        cores: &[at(10.0, -300.0), at(4.0, -262.0)],
        deltas: &[at(-20.0, -200.0), at(140.0, -170.0)],
        expected: [1, 2, 2, 2],
    },
    Class {
        name: "double loop",
        cores: &[at(25.0, -310.0), at(-25.0, -240.0)],
        deltas: &[at(-140.0, -170.0), at(150.0, -150.0)],
        expected: [2, 2, 2, 2],
    },
];

#[test]
fn every_class_shows_the_number_of_cores_and_deltas_that_the_standard_expects() {
    for Class { name, cores, deltas, expected: [least_cores, most_cores, least_deltas, most_deltas] } in CLASSES {
        let all = whole_print(cores, deltas);
        let (c, d) = (found(PointKind::Core, &all), found(PointKind::Delta, &all));
        assert!((least_cores..=most_cores).contains(&c.len()), "{name}: {} cores", c.len());
        assert!((least_deltas..=most_deltas).contains(&d.len()), "{name}: {} deltas", d.len());
    }
}

#[test]
fn the_points_of_every_class_are_found_where_they_were_put() {
    // A tenth of a millimetre is 2 px at 500 ppi: an examiner places a core no better.
    for Class { name, cores, deltas, .. } in CLASSES {
        let all = whole_print(cores, deltas);
        let core = farthest(cores, &found(PointKind::Core, &all));
        let delta = farthest(deltas, &found(PointKind::Delta, &all));
        println!("{name}: farthest core {core:.2} px, farthest delta {delta:.2} px");
        assert!(core < 2.0, "{name}: core {core} px off");
        assert!(delta < 2.0, "{name}: delta {delta} px off");
    }
}

#[test]
fn a_lone_core_is_placed_within_a_fraction_of_a_cell_wherever_it_lies_in_it() {
    // Cells are 4 px wide: a core that were put on a cell's centre would be up to 2.8 px off. A quarter of a cell is 1 px.
    let errors: Vec<f64> = (0..25)
        .map(|i| {
            let core = Point::new(240.0 + 0.8 * f64::from(i % 5), 236.0 + 0.8 * f64::from(i / 5));
            let all = singular::find(&sampled(|p| zero_pole(p, &[core], &[], 0.3)), &exact());
            let cores = found(PointKind::Core, &all);
            assert_eq!(cores.len(), 1, "core at {core:?}");
            cores[0].distance(core)
        })
        .collect();
    let most = worst(errors.iter().copied());
    println!("lone core: worst error {most:.3} px");
    assert!(most < 1.0, "{most} px");
}

#[test]
fn a_core_opens_and_a_delta_spreads_as_the_flow_around_them_does() {
    // Around a lone core at `turn` the flow is radial where (angle / 2 + turn) = angle: at twice the turn. Around a lone
    // delta where (turn - angle / 2) = angle modulo pi: at two thirds of the turn and every third of a circle on.
    for turn in [0.0, 0.5, 1.3, 2.0, 2.9] {
        let middle = Point::new(239.0, 241.0);
        let core = singular::find(&sampled(|p| zero_pole(p, &[middle], &[], turn)), &exact());
        let opening = core.chosen(PointKind::Core).next().expect("a core").directions[0];
        assert!(direction_difference(opening, 2.0 * turn).abs().to_degrees() < 2.0, "turn {turn}: opens to {opening}");
        let delta = singular::find(&sampled(|p| zero_pole(p, &[], &[middle], turn)), &exact());
        let directions = delta.chosen(PointKind::Delta).next().expect("a delta").directions;
        for third in 0..3 {
            let expected = (2.0 * turn + 2.0 * PI * f64::from(third)) / 3.0;
            let off = worst(std::iter::once(
                directions.iter().map(|d| direction_difference(*d, expected).abs()).fold(f64::INFINITY, f64::min),
            ));
            assert!(off.to_degrees() < 2.0, "turn {turn}: {expected} is not among {directions:?}");
        }
    }
}
