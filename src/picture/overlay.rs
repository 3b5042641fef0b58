//! How ridges were counted or traced: lines, ticks and labels laid over the print.

use super::canvas::{Anchor, Canvas, PAPER, number, path_through};
use super::stage::Stage;
use crate::geometry::{Frame, Point};
use std::f64::consts::PI;

/// What a line, tick or label shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Role {
    /// The ridge that bounds the pattern area.
    TypeLine,
    /// A recurving ridge that the line between the deltas cuts.
    CutRecurve,
    /// The recurving ridge of a core.
    Recurve,
    /// A ridge between delta and core that loops, where the print looks like a tented arch.
    LoopingRidge,
    /// A ridge that makes an angle or an upthrust at the centre of an arch.
    Tent,
    /// A ridge that leads away from the tip of a recurve in the line of flow.
    Appendage,
    /// The ridge traced from the left delta.
    TracedRidge,
    /// The line between two deltas.
    DeltaLine,
    /// The line from delta to core along which ridges are counted.
    CountLine,
    /// The line from the traced ridge to the right delta, along which the ridges between are counted.
    BetweenLine,
}

impl Role {
    /// All roles in painting order, so that lines which decide lie on top.
    pub(super) const ALL: [Role; 10] = [
        Role::TypeLine,
        Role::CutRecurve,
        Role::Recurve,
        Role::LoopingRidge,
        Role::Tent,
        Role::Appendage,
        Role::TracedRidge,
        Role::DeltaLine,
        Role::CountLine,
        Role::BetweenLine,
    ];

    /// The words of the legend.
    pub(super) fn words(self) -> &'static str {
        match self {
            Self::TypeLine => "Type line: bounds the pattern area",
            Self::CutRecurve => "Recurving ridge that the line between the deltas cuts; cross: where it is cut",
            Self::Recurve => "Innermost recurve of a core, followed both ways",
            Self::LoopingRidge => {
                "Looping ridge between delta and core: speaks for a loop where the print looks like a tented arch"
            }
            Self::Tent => "Ridge that makes an angle or an upthrust at the centre of an arch",
            Self::Appendage => "Appendage that spoils a recurve before the inner delta; cross: where it is connected",
            Self::TracedRidge => "Traced ridge from the left delta; chevrons: the way of tracing",
            Self::DeltaLine => "Line between the deltas",
            Self::CountLine => {
                "Count line from delta to core; each tick is one counted ridge, two where it meets a fork exactly"
            }
            Self::BetweenLine => "From the traced ridge to the right delta; each tick is one ridge between",
        }
    }

    fn look(self) -> Look {
        match self {
            Self::TypeLine => Look { ink: "#4d4d4d", width: 2.0, dash: "stroke-dasharray=\"14 4 3 4 3 4\"", band: 0.0 },
            Self::CutRecurve => Look { ink: "#7a3b8f", width: 1.6, dash: "", band: 7.0 },
            Self::Recurve => Look { ink: "#6b5900", width: 1.4, dash: "", band: 5.0 },
            Self::LoopingRidge => Look { ink: "#1f4f3d", width: 3.0, dash: "stroke-dasharray=\"7 4\"", band: 0.0 },
            Self::Tent => Look { ink: "#6a1b4d", width: 2.6, dash: "stroke-dasharray=\"3 4\"", band: 0.0 },
            Self::Appendage => Look { ink: "#a03c00", width: 3.0, dash: "stroke-dasharray=\"2 3\"", band: 0.0 },
            Self::TracedRidge => Look { ink: "#8a1c4a", width: 2.2, dash: "", band: 7.0 },
            Self::DeltaLine => Look { ink: "#4b2a6b", width: 2.2, dash: "stroke-dasharray=\"12 6\"", band: 0.0 },
            Self::CountLine | Self::BetweenLine => Look { ink: "#1a1a1a", width: 1.8, dash: "", band: 0.0 },
        }
    }
}

/// Ink, breadth, dashes, and the breadth of the pale band under a highlighted ridge (0 = a haloed line instead).
struct Look {
    ink: &'static str,
    width: f64,
    dash: &'static str,
    band: f64,
}

/// The form of one overlay. Places are pixels and directions radians of the working image.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// A line through these points.
    Line(Vec<Point>),
    /// A short stroke across a line at `at`, with its number if it counts.
    Tick {
        /// Where the ridge is crossed.
        at: Point,
        /// Along which direction the tick is drawn, radians.
        direction: f64,
        /// The number written beside it.
        number: Option<u16>,
    },
    /// Words beside a place.
    Label {
        /// Where.
        at: Point,
        /// What.
        text: String,
    },
}

/// One piece of shown working.
#[derive(Debug, Clone, PartialEq)]
pub struct Overlay {
    /// What it shows.
    pub role: Role,
    /// Its form and place.
    pub shape: Shape,
}

impl Overlay {
    /// A line through points of the working image.
    pub fn line(role: Role, points: Vec<Point>) -> Self {
        Self { role, shape: Shape::Line(points) }
    }

    /// A tick across a line, numbered or not; `direction` in radians.
    pub fn tick(role: Role, at: Point, direction: f64, number: Option<u16>) -> Self {
        Self { role, shape: Shape::Tick { at, direction, number } }
    }

    /// Words beside a place of the working image.
    pub fn label(role: Role, at: Point, text: impl Into<String>) -> Self {
        Self { role, shape: Shape::Label { at, text: text.into() } }
    }
}

/// Half the length of a tick in drawing pixels.
const TICK: f64 = 7.0;
/// Height of a tick's number.
const TICK_NUMBER: f64 = 11.5;
/// Most chevrons on one line.
const MOST_CHEVRONS: f64 = 100.0;
/// Distance from one chevron of a traced ridge to the next.
const CHEVRONS: f64 = 70.0;

/// Paints all overlays, role after role.
pub(super) fn paint(canvas: &mut Canvas, stage: &Stage, frame: &Frame, overlays: &[Overlay]) {
    if overlays.is_empty() {
        return;
    }
    let place = |p: Point| stage.of_original(frame.apply(p));
    canvas.open("id=\"working\" clip-path=\"url(#print-edge)\"");
    for role in Role::ALL {
        for overlay in overlays.iter().filter(|o| o.role == role) {
            if let Shape::Line(points) = &overlay.shape {
                let drawn: Vec<Point> =
                    points.iter().map(|p| place(*p)).filter(|p| p.x.is_finite() && p.y.is_finite()).collect();
                line(canvas, role, &drawn);
            }
        }
    }
    ticks(canvas, stage, frame, overlays);
    for overlay in overlays {
        if let Shape::Label { at, text } = &overlay.shape {
            let at = place(*at);
            if stage.holds(at, 0.0) {
                canvas.words_on_print(
                    Point::new(at.x + 7.0, at.y - 7.0),
                    14.0,
                    overlay.role.look().ink,
                    Anchor::Start,
                    text,
                );
            }
        }
    }
    canvas.close();
}

/// One line in the look of its role; also used by the legend.
pub(super) fn line(canvas: &mut Canvas, role: Role, points: &[Point]) {
    if points.len() < 2 {
        return;
    }
    let look = role.look();
    let data = path_through(points, false);
    if look.band > 0.0 {
        canvas.path(
            &data,
            &format!(
                "fill=\"none\" stroke=\"{PAPER}\" stroke-width=\"{}\" stroke-opacity=\"0.7\" stroke-linejoin=\"round\"",
                number(look.band)
            ),
        );
        canvas.path(
            &data,
            &format!(
                "fill=\"none\" stroke=\"{}\" stroke-width=\"{}\" stroke-opacity=\"0.25\" stroke-linejoin=\"round\"",
                look.ink,
                number(look.band)
            ),
        );
        canvas.path(
            &data,
            &format!(
                "fill=\"none\" stroke=\"{}\" stroke-width=\"{}\" stroke-linejoin=\"round\"",
                look.ink,
                number(look.width)
            ),
        );
    } else {
        canvas.haloed(&data, look.width, look.ink, look.dash);
    }
    if role == Role::TracedRidge {
        chevrons(canvas, points, look.ink);
    }
}

/// One line of a role with what belongs to it, for the legend.
pub(super) fn sample(canvas: &mut Canvas, role: Role, at: Point) {
    line(canvas, role, &[Point::new(at.x - 24.0, at.y), Point::new(at.x + 24.0, at.y)]);
    match role {
        Role::CountLine | Role::BetweenLine => {
            for x in [-12.0, 0.0, 12.0] {
                let (top, bottom) = (Point::new(at.x + x, at.y - TICK), Point::new(at.x + x, at.y + TICK));
                canvas.haloed(&path_through(&[top, bottom], false), 2.2, role.look().ink, "");
            }
        }
        Role::CutRecurve => cross(canvas, at, 0.0, role.look().ink),
        _ => {}
    }
}

/// Small open arrows along a line that show which way it was followed.
fn chevrons(canvas: &mut Canvas, points: &[Point], ink: &str) {
    let total: f64 = points.windows(2).map(|w| w[0].distance(w[1])).sum();
    if !total.is_finite() || total <= 0.0 {
        return;
    }
    // A line far longer than any drawing, as a broken file might hold, still gets a bounded number.
    let apart = CHEVRONS.max(total / MOST_CHEVRONS);
    let (mut next, mut walked, mut data) = (0.5 * apart.min(total), 0.0, String::new());
    for w in points.windows(2) {
        let length = w[0].distance(w[1]);
        while length > 0.0 && next <= walked + length {
            let at = w[0].lerp(w[1], (next - walked) / length);
            let back = w[0].direction_to(w[1]) + PI;
            data.push_str(&path_through(&[at.step(back + 0.6, 8.0), at, at.step(back - 0.6, 8.0)], false));
            next += apart;
        }
        walked += length;
    }
    canvas.haloed(&data, 2.0, ink, "stroke-linecap=\"round\"");
}

/// Where ticks stand on the drawing, for names that should not cover them.
pub(super) fn tick_places(stage: &Stage, frame: &Frame, overlays: &[Overlay]) -> Vec<Point> {
    let place = |o: &Overlay| match o.shape {
        Shape::Tick { at, .. } => Some(stage.of_original(frame.apply(at))),
        _ => None,
    };
    overlays.iter().filter_map(place).collect()
}

/// Ticks with their numbers on alternate sides; a number that would touch the one before on its side is left out.
fn ticks(canvas: &mut Canvas, stage: &Stage, frame: &Frame, overlays: &[Overlay]) {
    let mut written: Vec<Point> = Vec::new();
    let mut numbers = Canvas::new();
    for overlay in overlays {
        let Shape::Tick { at, direction, number } = &overlay.shape else { continue };
        let place = stage.of_original(frame.apply(*at));
        if !stage.holds(place, 0.0) || !direction.is_finite() {
            continue;
        }
        let along = stage.direction(frame.direction(*direction).to_degrees());
        let ink = overlay.role.look().ink;
        if matches!(overlay.role, Role::CutRecurve | Role::Appendage) {
            cross(canvas, place, along, ink);
        } else {
            let data = path_through(&[place.step(along, TICK), place.step(along, -TICK)], false);
            canvas.haloed(&data, 2.2, ink, "stroke-linecap=\"butt\"");
        }
        let Some(number) = number else { continue };
        let side = if number % 2 == 0 { PI } else { 0.0 };
        let beside = place.step(along + side, TICK + 0.75 * TICK_NUMBER);
        if written.iter().all(|p| p.distance(beside) > TICK_NUMBER + 1.5) {
            let base = Point::new(beside.x, beside.y + 0.36 * TICK_NUMBER);
            numbers.words_on_print(base, TICK_NUMBER, ink, Anchor::Middle, &number.to_string());
            written.push(beside);
        }
    }
    canvas.append(numbers);
}

fn cross(canvas: &mut Canvas, at: Point, along: f64, ink: &str) {
    let arm = |turn: f64| [at.step(along + turn, 5.5), at.step(along + turn, -5.5)];
    let data = format!("{}{}", path_through(&arm(0.25 * PI), false), path_through(&arm(0.75 * PI), false));
    canvas.haloed(&data, 2.2, ink, "stroke-linecap=\"butt\"");
}
