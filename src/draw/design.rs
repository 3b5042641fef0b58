//! Where the cores and deltas of a wanted print lie, and everything else that makes one finger.

use super::chance::{self, Dice, SmoothField};
use super::flow::{ClosedForm, Flow, HAIRPIN_FROM, Hairpin, Knots, Rise, Turn};
use super::ridges::PeriodMap;
use super::{Circuit, Kind, Mixture, Pocket, Tent, Winding, Wish};
use crate::error::Error;
use crate::geometry::{Point, direction_difference};
use crate::proposal::Tracing;
use serde::Deserialize;
use std::f64::consts::PI;
use std::sync::LazyLock;

type Range = [f64; 2];

#[derive(Debug, Deserialize)]
struct FingerModel {
    period_px: Range,
    period_limits_px: Range,
    period_variation: Range,
    period_variation_over_px: f64,
    widening: Range,
    focus_px: Range,
    stretch: Range,
    core_height_px: Range,
    tip_above_core_px: Range,
    centre_right_px: Range,
    rolled_half_width_px: Range,
    knots_deg: Range,
    wobble_deg: Range,
    wobble_over_px: Range,
    warp_px: Range,
    warp_over_px: Range,
    whorl_ridges_between: Range,
}

#[derive(Debug, Deserialize)]
struct ArchModel {
    slope_deg: Range,
    half_width_px: Range,
    steep_slope_deg: Range,
    steep_half_width_px: Range,
    height_px: Range,
    centre_px: Range,
    pointed_share: f64,
    pointed_slope_deg: Range,
    pointed_top_px: Range,
    pointed_half_width_px: Range,
    pointed_height_px: Range,
    slight_share: f64,
    slight_px: Range,
    slight_aside_px: Range,
    slight_lean_deg: Range,
}

#[derive(Debug, Deserialize)]
struct TentModel {
    slope_deg: Range,
    half_width_px: Range,
    height_px: Range,
    lean_deg: Range,
    angle_length_px: Range,
    upthrust_length_px: Range,
    loop_like_length_px: Range,
    loop_like_tilt_deg: Range,
    delta_height_px: Range,
}

#[derive(Debug, Deserialize)]
struct LoopModel {
    ridge_count: Range,
    ridge_count_limits: [i64; 2],
    opening_deg: Range,
    axis_reach_px: Range,
    delta_below_deg: Range,
    delta_under_core_deg: Range,
    lowest_delta_px: f64,
    farthest_delta_px: f64,
    hairpin: Range,
    hairpin_lag: [f64; 3],
    hairpin_from_px: f64,
    rise_slope_deg: Range,
    rise_half_width_px: Range,
    rise_height_px: Range,
    rise_gone_at: f64,
}

#[derive(Debug, Deserialize)]
struct PlainWhorlModel {
    circle_px: Range,
    incomplete_px: Range,
    incomplete_delta_out_px: Range,
    oval_px: Range,
    spiral_px: Range,
    spiral_deg: Range,
    s_type_px: Range,
    interlocking_px: Range,
    s_type_deg: Range,
    s_type_reach: Range,
    axis_deg: Range,
    reach_px: Range,
    delta_out_px: Range,
    delta_down_px: Range,
    height_difference_px: Range,
    lowest_delta_px: f64,
}

#[derive(Debug, Deserialize)]
struct PocketModel {
    pocket_px: Range,
    tight_share: f64,
    tight_pocket_px: Range,
    tight_inner_delta_px: Range,
    inner_delta_px: Range,
    obstruction_delta_px: Range,
    inner_direction_deg: Range,
    line_turned_away_deg: Range,
    line_px: Range,
    untouched_share: f64,
    reach_px: Range,
    winding_deg: Range,
    spiral_share: f64,
    spiral_deg: Range,
    lowest_delta_px: f64,
}

#[derive(Debug, Deserialize)]
struct DoubleLoopModel {
    lowest_delta_px: f64,
    near_delta_px: Range,
    near_delta_below_deg: Range,
    between_share: f64,
    between_delta_px: Range,
    between_delta_aside_deg: Range,
    shape: Vec<DoubleLoopShape>,
}

#[derive(Debug, Deserialize)]
struct DoubleLoopShape {
    share: f64,
    cores_px: Range,
    axis_deg: Range,
    winding_deg: Range,
    reach: Range,
    hairpin: Range,
    delta_out_px: Range,
    delta_down_px: Range,
    height_difference_px: Range,
    near_delta: f64,
}

#[derive(Debug, Deserialize)]
struct AccidentalModel {
    loop_above_px: Range,
    tent_aside_px: Range,
    tent_px: Range,
    loop_delta_out_px: Range,
    loop_opening_deg: Range,
    side_px: Range,
    side_up_px: Range,
    side_opening_deg: Range,
    whorl_px: Range,
    whorl_axis_deg: Range,
    whorl_winding_deg: Range,
    double_px: Range,
    double_axis_deg: Range,
    double_deg: Range,
    middle_delta_down_px: Range,
    delta_out_px: Range,
    delta_down_px: Range,
    reach_px: Range,
    hairpin: Range,
    lowest_delta_px: f64,
}

/// The designs of `models/prints`, as they were built in.
struct Models {
    finger: FingerModel,
    arch: ArchModel,
    tent: TentModel,
    loop_: LoopModel,
    plain_whorl: PlainWhorlModel,
    pocket: PocketModel,
    double_loop: DoubleLoopModel,
    accidental: AccidentalModel,
}

fn models() -> Result<&'static Models, Error> {
    static MODELS: LazyLock<Result<Models, String>> = LazyLock::new(|| {
        fn read<T: serde::de::DeserializeOwned>(name: &str, text: &str) -> Result<T, String> {
            toml::from_str(text).map_err(|e| format!("{name}: {e}"))
        }
        Ok(Models {
            finger: read("finger", include_str!("../../models/prints/finger.toml"))?,
            arch: read("arch", include_str!("../../models/prints/arch.toml"))?,
            tent: read("tented_arch", include_str!("../../models/prints/tented_arch.toml"))?,
            loop_: read("loop", include_str!("../../models/prints/loop.toml"))?,
            plain_whorl: read("plain_whorl", include_str!("../../models/prints/plain_whorl.toml"))?,
            pocket: read("central_pocket", include_str!("../../models/prints/central_pocket.toml"))?,
            double_loop: read("double_loop", include_str!("../../models/prints/double_loop.toml"))?,
            accidental: read("accidental", include_str!("../../models/prints/accidental.toml"))?,
        })
    });
    MODELS.as_ref().map_err(|e| Error::bad_value("print design", e.clone()))
}

/// Everything that makes one finger before its ridges are grown.
#[derive(Debug, Clone)]
pub(super) struct Design {
    /// The flow with its points.
    pub flow: Flow,
    /// Ridge spacing.
    pub period: PeriodMap,
    /// Middle of the pattern in the finger frame.
    pub centre: Point,
    /// Highest printable place (negative: above the crease).
    pub tip: f64,
    /// Half the width of a rolled impression, pixels.
    pub rolled_half_width: f64,
    /// Lines along which every ridge is broken, in the finger frame.
    pub breaks: Vec<Vec<Point>>,
}

/// A place given from another by a direction (radians, counter-clockwise as seen) and a distance.
fn from(p: Point, direction: f64, distance: f64) -> Point {
    let (s, c) = chance::sin_cos(direction);
    Point::new(p.x + distance * c, p.y - distance * s)
}

fn radians(degrees: f64) -> f64 {
    degrees.to_radians()
}

/// How straight the legs of a loop run ([`Hairpin`]).
#[derive(Clone, Copy)]
struct Straightness {
    lag: [f64; 3],
    from: f64,
}

impl Straightness {
    /// One sine: 0 (parabola) to below 1 (parallel).
    fn even(strength: f64) -> Self {
        Self { lag: [strength, 0.0, 0.0], from: HAIRPIN_FROM }
    }
}

/// Where points lie and how the flow turns near them.
#[derive(Default)]
struct Layout {
    cores: Vec<Point>,
    deltas: Vec<Point>,
    /// Core and delta too near to each other to be points of the print.
    slight: Vec<(Point, Point)>,
    rise: Option<Rise>,
    /// Wanted opening directions of single cores, with reach.
    openings: Vec<(usize, f64, f64)>,
    /// Wanted winding of two cores off closed circuits, with reach.
    windings: Vec<(usize, usize, f64, f64)>,
    /// Cores whose legs run straighter than a parabola's, and by how much (0 to below 1).
    hairpins: Vec<(usize, Straightness)>,
    /// A delta that belongs to a close formation, and the share of the way that it gives when the tracing is solved for.
    held_delta: Option<(usize, f64)>,
}

/// Lays out a finger for a wish. `offset` shifts the wanted number of ridges: what an earlier attempt missed.
pub(super) fn lay_out(wish: &Wish, offset: f64, dice: &mut Dice) -> Result<Design, Error> {
    let models = models()?;
    let m = &models.finger;
    let core_height = dice.within(m.core_height_px);
    let centre = Point::new(dice.normal(m.centre_right_px[0], m.centre_right_px[1]), -core_height);
    let mut layout = match wish.kind {
        Kind::PlainArch => plain_arch(&models.arch, wish.borderline, centre, dice),
        Kind::TentedArch(tent) => tented_arch(&models.tent, tent, wish.borderline, centre, dice),
        Kind::LeftLoop => loop_(&models.loop_, -1.0, wish.delta_under_core, centre, dice),
        Kind::RightLoop => loop_(&models.loop_, 1.0, wish.delta_under_core, centre, dice),
        Kind::PlainWhorl(circuit) => plain_whorl(&models.plain_whorl, circuit, centre, dice),
        Kind::CentralPocket(pocket) => central_pocket(&models.pocket, pocket, wish.tracing, centre, dice),
        Kind::DoubleLoop(winding) => double_loop(&models.double_loop, winding, centre, dice),
        Kind::Accidental(mixture) => accidental(&models.accidental, mixture, centre, dice),
    };
    let mut design = furnish(m, &layout, centre, core_height, dice);
    if matches!(wish.kind, Kind::LeftLoop | Kind::RightLoop) {
        let l = &models.loop_;
        let limits = l.ridge_count_limits.map(|v| v as f64);
        let natural =
            dice.normal(l.ridge_count[0], l.ridge_count[1]).round().clamp(limits[0].max(2.0), limits[1] - 2.0);
        let natural = if wish.borderline { dice.whole(1, 2) as f64 } else { natural };
        let wanted = wish.ridge_count.map_or(natural, f64::from);
        layout.rise = Some(loop_rise(l, wanted, &layout, dice));
        design.flow.rise = layout.rise;
        solve_count(&mut design, &mut layout, wanted + COUNT_AT_ENDS + offset, l)?;
    }
    if layout.deltas.len() >= 2 {
        match wish.wanted_between() {
            Some(between) => solve_tracing(&mut design, &mut layout, between + offset)?,
            // The deltas of a pocket lie where its loop puts them; most are left there, whatever tracing that makes.
            None if matches!(wish.kind, Kind::CentralPocket(_))
                && !wish.borderline
                && dice.chance(models.pocket.untouched_share) => {}
            None => {
                // Without a wish the tracing is drawn by chance; where it has no place, the deltas stay where they are.
                let [mean, deviation] = m.whorl_ridges_between;
                let natural = dice.normal(mean, deviation);
                let by_chance = if wish.borderline { dice.sign() * dice.between(2.3, 4.6) } else { natural };
                let before = layout.deltas.clone();
                if solve_tracing(&mut design, &mut layout, by_chance).is_err() {
                    layout.deltas = before;
                    design.place(&layout);
                }
            }
        }
    }
    design.breaks = breaks(wish.kind, &design, dice);
    Ok(design)
}

/// Lines that break the circuits of a whorl: on both flanks for an incomplete circuit, on both sides of the inner line of flow
/// where only an obstruction is to be left before the inner delta.
fn breaks(kind: Kind, design: &Design, dice: &mut Dice) -> Vec<Vec<Point>> {
    let (cores, deltas) = (design.flow.cores(), design.flow.deltas());
    let [first, second, ..] = cores.as_slice() else { return Vec::new() };
    let centre = first.lerp(*second, 0.5);
    let toward = |p: Point| chance::atan2(centre.y - p.y, p.x - centre.x);
    let Some(nearest) = deltas.iter().copied().min_by(|a, b| a.distance(centre).total_cmp(&b.distance(centre))) else {
        return Vec::new();
    };
    let reach = centre.distance(nearest);
    let (directions, length) = match kind {
        Kind::PlainWhorl(Circuit::Incomplete) => ([dice.normal(0.0, 0.2), dice.normal(PI, 0.2)], 1.15 * reach),
        Kind::CentralPocket(Pocket::Obstruction) => {
            let half = dice.between(0.75, 1.05);
            ([toward(nearest) - half, toward(nearest) + half], 1.05 * reach)
        }
        _ => return Vec::new(),
    };
    let period = design.period.mean;
    let mut lines = Vec::new();
    for direction in directions {
        // Each ridge ends at a place of its own, not as if all were cut with a ruler.
        let mut out = 0.3 * period;
        while out < length {
            let aside = dice.normal(0.0, BREAKS_ASIDE);
            let ends = [out, out + BREAK_LENGTH * period];
            lines.push(ends.map(|reach| from(centre, direction + aside, reach)).to_vec());
            out += BREAK_EVERY * period;
        }
    }
    lines
}

/// Deviation of the directions, seen from the centre, in which neighbouring ridges of a broken circuit end, radians.
const BREAKS_ASIDE: f64 = 0.28;
/// Distance from one break to the next outward, in ridge periods.
const BREAK_EVERY: f64 = 0.9;
/// Length of a break, in ridge periods: a little more than their distance, so that no ridge slips between two.
const BREAK_LENGTH: f64 = 1.1;

/// What the straight sum of ridges along the count line has above the count by the rules: half a period of white space in
/// front of the delta, and the way from the core point inside the recurve to the recurve itself. Fitted once on drawn ridges.
const COUNT_AT_ENDS: f64 = 0.6;

/// Gives a layout its random flow and spacing.
fn furnish(m: &FingerModel, layout: &Layout, centre: Point, core_height: f64, dice: &mut Dice) -> Design {
    const MARGIN: f64 = 120.0;
    let tip = -core_height - dice.within(m.tip_above_core_px);
    let rolled_half_width = dice.within(m.rolled_half_width_px);
    let (left, top) = (-rolled_half_width - MARGIN, tip - MARGIN);
    let (width, height) = (2.0 * (rolled_half_width + MARGIN), -tip + 2.0 * MARGIN);
    let field = |dice: &mut Dice, over: f64| SmoothField::new(dice, left, top, width, height, over);
    let knots_deviation = radians(dice.within(m.knots_deg));
    let knots = (0..layout.cores.len() + layout.deltas.len()).map(|_| Knots::random(dice, knots_deviation)).collect();
    let wobble_over = dice.within(m.wobble_over_px);
    let warp_over = dice.within(m.warp_over_px);
    let flow = Flow {
        form: ClosedForm {
            half_width: dice.normal(m.focus_px[0], m.focus_px[1]).max(220.0),
            stretch: dice.within(m.stretch),
            cores: layout.cores.clone(),
            deltas: layout.deltas.clone(),
            slight: layout.slight.clone(),
        },
        turns: Vec::new(),
        rise: layout.rise,
        knots,
        hairpins: Vec::new(),
        wobble: (field(dice, wobble_over), radians(dice.within(m.wobble_deg))),
        warp: (field(dice, warp_over), field(dice, warp_over), dice.within(m.warp_px)),
    };
    let lowest = layout.deltas.iter().map(|p| p.y).fold(centre.y + 80.0, f64::max);
    let period = PeriodMap {
        mean: dice.normal(m.period_px[0], m.period_px[1]).clamp(m.period_limits_px[0], m.period_limits_px[1]),
        variation: (field(dice, m.period_variation_over_px), dice.within(m.period_variation)),
        upper: centre.y - 40.0,
        lower: lowest + 10.0,
        widening: dice.within(m.widening),
    };
    let mut design = Design { flow, period, centre, tip, rolled_half_width, breaks: Vec::new() };
    design.place(layout);
    design
}

impl Design {
    /// Moves the points to a layout and sets the local turns that its openings and windings need.
    fn place(&mut self, layout: &Layout) {
        let flow = &mut self.flow;
        flow.form.cores.clone_from(&layout.cores);
        flow.form.deltas.clone_from(&layout.deltas);
        flow.turns.clear();
        for &(core, direction, reach) in &layout.openings {
            let at = layout.cores[core];
            let natural = flow.form.argument_without(at, &[at]);
            flow.turns.push(Turn { at, by: 0.5 * direction_difference(direction, natural), reach });
        }
        for &(first, second, winding, reach) in &layout.windings {
            let (a, b) = (layout.cores[first], layout.cores[second]);
            let at = a.lerp(b, 0.5);
            // Two cores add the angle under which they are seen; circuits close when ridges cross the spokes squarely.
            let natural = flow.form.argument_without(at, &[a, b]);
            let by = 0.5 * direction_difference(PI + 2.0 * winding, natural);
            flow.turns.push(Turn { at, by, reach });
        }
        // Last: a hairpin lies along the opening that everything else gives its core.
        flow.hairpins.clear();
        let hairpins: Vec<Hairpin> = layout
            .hairpins
            .iter()
            .map(|&(core, legs)| {
                let at = layout.cores[core];
                Hairpin { at, opening: flow.opening(at), lag: legs.lag, from: legs.from }
            })
            .collect();
        flow.hairpins = hairpins;
    }

    /// Ridges that the straight line between two places crosses, by the flow and the spacing.
    pub fn ridges_between(&self, a: Point, b: Point) -> f64 {
        const SAMPLE_EVERY: f64 = 2.0;
        let (dx, dy) = (b.x - a.x, b.y - a.y);
        let length = (dx * dx + dy * dy).sqrt();
        let count = (length / SAMPLE_EVERY).ceil().max(1.0);
        (0..count as usize)
            .map(|i| {
                let p = a.lerp(b, (i as f64 + 0.5) / count);
                let (tx, ty) = self.flow.double_angle(p).tangent();
                (tx * dy - ty * dx).abs() / count / self.period.at(p)
            })
            .sum()
    }
}

fn plain_arch(m: &ArchModel, steep: bool, centre: Point, dice: &mut Dice) -> Layout {
    let at = Point::new(centre.x, centre.y + dice.within(m.centre_px));
    let rise = if !steep && dice.chance(m.pointed_share) {
        Rise {
            at,
            slope: radians(dice.within(m.pointed_slope_deg)),
            half_width: dice.within(m.pointed_half_width_px),
            top: Some(dice.within(m.pointed_top_px)),
            height: dice.within(m.pointed_height_px),
        }
    } else {
        let drawn = 0.5 * (dice.within(m.slope_deg) + dice.within(m.slope_deg));
        let slope = radians(if steep { dice.within(m.steep_slope_deg) } else { drawn });
        // Even in the logarithm: real crests are pointed as often as round.
        let [narrow, wide] = if steep { m.steep_half_width_px } else { m.half_width_px };
        let half_width = narrow * chance::exp(dice.between(0.0, 1.0) * chance::ln(wide / narrow));
        Rise { at, slope, half_width, top: None, height: dice.within(m.height_px) }
    };
    let mut slight = Vec::new();
    if dice.chance(m.slight_share) {
        let core = Point::new(at.x + dice.normal(m.slight_aside_px[0], m.slight_aside_px[1]), at.y);
        let lean = radians(dice.normal(m.slight_lean_deg[0], m.slight_lean_deg[1]));
        slight.push((core, from(core, 1.5 * PI + lean, dice.within(m.slight_px))));
    }
    Layout { rise: Some(rise), slight, ..Layout::default() }
}

fn tented_arch(m: &TentModel, tent: Tent, short: bool, centre: Point, dice: &mut Dice) -> Layout {
    let range = match tent {
        Tent::Angle => m.angle_length_px,
        Tent::Upthrust => m.upthrust_length_px,
        Tent::LoopLike => m.loop_like_length_px,
    };
    let length = if short { dice.between(range[0], 0.7 * range[0] + 0.3 * range[1]) } else { dice.within(range) };
    let lean = match tent {
        Tent::LoopLike => dice.sign() * radians(dice.within(m.loop_like_tilt_deg)),
        _ => radians(dice.normal(m.lean_deg[0], m.lean_deg[1])),
    };
    let delta = Point::new(centre.x, -dice.within(m.delta_height_px));
    let core = from(delta, PI / 2.0 + lean, length);
    let rise = Rise {
        at: delta,
        slope: radians(dice.within(m.slope_deg)),
        half_width: dice.within(m.half_width_px),
        top: None,
        height: dice.within(m.height_px),
    };
    Layout {
        openings: vec![(0, 1.5 * PI + lean, 40.0)],
        cores: vec![core],
        deltas: vec![delta],
        rise: Some(rise),
        ..Layout::default()
    }
}

/// A direction seen in a mirror when `side` is negative.
fn mirrored(direction: f64, side: f64) -> f64 {
    if side < 0.0 { PI - direction } else { direction }
}

fn loop_(m: &LoopModel, side: f64, delta_under_core: bool, centre: Point, dice: &mut Dice) -> Layout {
    let opening = 1.5 * PI + radians(dice.normal(m.opening_deg[0], m.opening_deg[1]));
    let below = if delta_under_core { m.delta_under_core_deg } else { m.delta_below_deg };
    let delta_direction = PI + radians(dice.within(below));
    let straight = dice.within(m.hairpin);
    let legs = Straightness { lag: m.hairpin_lag.map(|lag| straight * lag), from: m.hairpin_from_px };
    Layout {
        cores: vec![centre],
        deltas: vec![from(centre, mirrored(delta_direction, side), 100.0)],
        openings: vec![(0, mirrored(opening, side), dice.within(m.axis_reach_px))],
        hairpins: vec![(0, legs)],
        ..Layout::default()
    }
}

/// The rise of the ridges about a small loop: the smaller, the more it resembles a tented arch.
fn loop_rise(m: &LoopModel, count: f64, layout: &Layout, dice: &mut Dice) -> Rise {
    let small = (1.0 - count / m.rise_gone_at).max(0.0);
    let core = layout.cores[0];
    let at = Point::new(core.x, core.y + dice.between(0.0, 40.0));
    let slope = small * radians(dice.within(m.rise_slope_deg));
    Rise { at, slope, half_width: dice.within(m.rise_half_width_px), top: None, height: dice.within(m.rise_height_px) }
}

/// Moves the delta of a loop along its direction until the line to the core crosses the wanted number of ridges.
fn solve_count(design: &mut Design, layout: &mut Layout, wanted: f64, m: &LoopModel) -> Result<(), Error> {
    let (core, start) = (layout.cores[0], layout.deltas[0]);
    let along = chance::atan2(core.y - start.y, start.x - core.x);
    let mut attempt = |distance: f64| {
        let mut delta = from(core, along, distance);
        // A delta may not sink through the crease: far ones move out to the side instead.
        delta.y = delta.y.min(-m.lowest_delta_px);
        layout.deltas[0] = delta;
        design.place(layout);
        let (c, d) = (design.flow.cores(), design.flow.deltas());
        design.ridges_between(d[0], c[0])
    };
    let (mut near, mut far) = (4.0, m.farthest_delta_px);
    if attempt(far) < wanted {
        return Err(Error::bad_value(
            "ridge count",
            "no place for a delta this many ridges from the core on this finger",
        ));
    }
    for _ in 0..18 {
        let middle = 0.5 * (near + far);
        if attempt(middle) < wanted { near = middle } else { far = middle }
    }
    attempt(far);
    Ok(())
}

/// Deltas of a whorl left and right of its centre.
fn outer_deltas(centre: Point, out: Range, down: Range, difference: f64, lowest: f64, dice: &mut Dice) -> Vec<Point> {
    let level = dice.within(down);
    let place = |x: f64, y: f64| Point::new(x, y.min(-lowest));
    vec![
        place(centre.x - dice.within(out), centre.y + level - 0.5 * difference),
        place(centre.x + dice.within(out), centre.y + level + 0.5 * difference),
    ]
}

/// Two cores about a middle, the first the upper one.
fn core_pair(middle: Point, direction: f64, distance: f64) -> Vec<Point> {
    vec![from(middle, direction, 0.5 * distance), from(middle, direction + PI, 0.5 * distance)]
}

fn plain_whorl(m: &PlainWhorlModel, circuit: Circuit, centre: Point, dice: &mut Dice) -> Layout {
    let spiral = radians(dice.within(m.spiral_deg));
    let (apart, winding) = match circuit {
        Circuit::Circle => (dice.within(m.circle_px), 0.0),
        Circuit::Incomplete => (dice.within(m.incomplete_px), 0.0),
        Circuit::Oval => (dice.within(m.oval_px), 0.0),
        Circuit::SpiralClockwise => (dice.within(m.spiral_px), -spiral),
        Circuit::SpiralCounterclockwise => (dice.within(m.spiral_px), spiral),
        Circuit::SType | Circuit::Interlocking => {
            let apart = if circuit == Circuit::SType { m.s_type_px } else { m.interlocking_px };
            (dice.within(apart), dice.sign() * radians(dice.within(m.s_type_deg)))
        }
    };
    let reach = match circuit {
        Circuit::SType | Circuit::Interlocking => apart * dice.within(m.s_type_reach),
        _ => dice.within(m.reach_px),
    };
    let axis = radians(dice.normal(m.axis_deg[0], m.axis_deg[1]));
    let difference = dice.normal(m.height_difference_px[0], m.height_difference_px[1]);
    let out = if circuit == Circuit::Incomplete { m.incomplete_delta_out_px } else { m.delta_out_px };
    Layout {
        cores: core_pair(centre, axis, apart),
        deltas: outer_deltas(centre, out, m.delta_down_px, difference, m.lowest_delta_px, dice),
        windings: vec![(0, 1, winding, reach)],
        ..Layout::default()
    }
}

fn central_pocket(m: &PocketModel, pocket: Pocket, tracing: Option<Tracing>, centre: Point, dice: &mut Dice) -> Layout {
    // The inner delta lies high. On the left the ridge traced from it passes above the right delta, on the right the traced
    // ridge comes from below: there is no room for the opposite between it and the pocket.
    let by_chance = dice.sign();
    let side = match tracing {
        Some(Tracing::I) => -1.0,
        Some(Tracing::O) => 1.0,
        _ => by_chance,
    };
    let unmirrored = radians(dice.within(m.inner_direction_deg));
    let inner = mirrored(unmirrored, side);
    let (apart, before, held) = match pocket {
        Pocket::Obstruction => (0.5 * dice.within(m.pocket_px), m.obstruction_delta_px, HELD_IN_POCKET),
        Pocket::Recurve if dice.chance(m.tight_share) => {
            (dice.within(m.tight_pocket_px), m.tight_inner_delta_px, HELD_IN_TIGHT_POCKET)
        }
        Pocket::Recurve => (dice.within(m.pocket_px), m.inner_delta_px, HELD_IN_POCKET),
    };
    let cores = core_pair(centre, inner + PI, apart);
    let inner_delta = from(cores[1], inner, dice.within(before));
    // The line between the deltas passes the pocket by: square to the inner line of flow or turned away from it.
    let line = mirrored(unmirrored - 0.5 * PI + radians(dice.within(m.line_turned_away_deg)), side);
    let mut outer_delta = from(inner_delta, line, dice.within(m.line_px));
    outer_delta.y = outer_delta.y.min(-m.lowest_delta_px);
    let deltas = if side > 0.0 { vec![outer_delta, inner_delta] } else { vec![inner_delta, outer_delta] };
    let winding = if pocket == Pocket::Recurve && dice.chance(m.spiral_share) {
        dice.sign() * dice.within(m.spiral_deg)
    } else {
        dice.within(m.winding_deg)
    };
    Layout {
        cores,
        deltas,
        windings: vec![(0, 1, radians(winding), dice.within(m.reach_px))],
        held_delta: Some((usize::from(side > 0.0), held)),
        ..Layout::default()
    }
}

fn double_loop(m: &DoubleLoopModel, winding: Winding, centre: Point, dice: &mut Dice) -> Layout {
    let shares: Vec<f64> = m.shape.iter().map(|shape| shape.share).collect();
    let shape = &m.shape[dice.weighted(&shares)];
    let side = if winding == Winding::Clockwise { -1.0 } else { 1.0 };
    let turn = side * radians(dice.within(shape.winding_deg));
    let apart = dice.within(shape.cores_px);
    let axis = mirrored(radians(dice.within(shape.axis_deg)), side);
    let difference = dice.normal(shape.height_difference_px[0], shape.height_difference_px[1]);
    let cores = core_pair(centre, axis, apart);
    let mut deltas = outer_deltas(centre, shape.delta_out_px, shape.delta_down_px, difference, m.lowest_delta_px, dice);
    let mut held_delta = None;
    if dice.chance(shape.near_delta) {
        let (near, at) = if dice.chance(m.between_share) {
            // Under both loops, between them: the legs of one of them leave on the delta's own side of the print.
            let aside = dice.sign() * radians(dice.within(m.between_delta_aside_deg));
            let below = from(cores[0].lerp(cores[1], 0.5), 1.5 * PI + aside, dice.within(m.between_delta_px));
            (usize::from(dice.chance(0.5)), below)
        } else {
            // Before the lower loop, on the side on which it lies.
            let low = if cores[0].y > cores[1].y { cores[0] } else { cores[1] };
            let outward = if low.x < centre.x { -1.0 } else { 1.0 };
            let direction = mirrored(-radians(dice.within(m.near_delta_below_deg)), outward);
            (usize::from(outward > 0.0), from(low, direction, dice.within(m.near_delta_px)))
        };
        deltas[near] = at;
        held_delta = Some((near, HELD));
    }
    let hairpin = Straightness::even(dice.within(shape.hairpin));
    Layout {
        cores,
        deltas,
        windings: vec![(0, 1, turn, apart * dice.within(shape.reach))],
        hairpins: vec![(0, hairpin), (1, hairpin)],
        held_delta,
        ..Layout::default()
    }
}

fn accidental(m: &AccidentalModel, mixture: Mixture, centre: Point, dice: &mut Dice) -> Layout {
    let side = dice.sign();
    if mixture == Mixture::LoopAndTentedArch {
        let tent_core = Point::new(centre.x + side * dice.within(m.tent_aside_px), centre.y + 40.0);
        let tent_delta = from(tent_core, 1.5 * PI, dice.within(m.tent_px));
        let loop_core = Point::new(centre.x, tent_core.y - dice.within(m.loop_above_px));
        let mut loop_delta =
            Point::new(centre.x - side * dice.within(m.loop_delta_out_px), centre.y + dice.within(m.delta_down_px));
        loop_delta.y = loop_delta.y.min(-m.lowest_delta_px);
        let opening = mirrored(1.5 * PI + radians(dice.within(m.loop_opening_deg)), side);
        return Layout {
            cores: vec![loop_core, tent_core],
            deltas: vec![loop_delta, tent_delta],
            openings: vec![(0, opening, dice.within(m.reach_px)), (1, 1.5 * PI, 30.0)],
            hairpins: vec![(0, Straightness::even(dice.within(m.hairpin)))],
            held_delta: Some((1, HELD)),
            ..Layout::default()
        };
    }
    let (apart, axis, winding, reach) = match mixture {
        Mixture::LoopAndDoubleLoop => {
            let apart = dice.within(m.double_px);
            (apart, dice.within(m.double_axis_deg), dice.sign() * dice.within(m.double_deg), 0.8 * apart)
        }
        _ => {
            let apart = dice.within(m.whorl_px);
            (apart, dice.within(m.whorl_axis_deg), dice.within(m.whorl_winding_deg), dice.within(m.reach_px))
        }
    };
    let across = dice.within(m.side_px);
    let whorl = Point::new(centre.x + 0.5 * side * across, centre.y);
    let loop_core = Point::new(centre.x - 0.5 * side * across, centre.y - dice.within(m.side_up_px));
    let mut cores = core_pair(whorl, radians(axis), apart);
    cores.push(loop_core);
    let mut deltas = outer_deltas(centre, m.delta_out_px, m.delta_down_px, 0.0, m.lowest_delta_px, dice);
    deltas.push(Point::new(loop_core.x.midpoint(whorl.x), centre.y + dice.within(m.middle_delta_down_px)));
    let opening = mirrored(1.5 * PI - radians(dice.within(m.side_opening_deg)), side);
    Layout {
        cores,
        deltas,
        windings: vec![(0, 1, radians(winding), reach)],
        openings: vec![(2, opening, dice.within(m.reach_px))],
        hairpins: vec![(2, Straightness::even(dice.within(m.hairpin)))],
        ..Layout::default()
    }
}

/// The direction within a range in which ridges run straight away from a point, and how far round it lies.
fn arm(flow: &Flow, point: Point, around: f64, half_range: f64) -> f64 {
    const RADIUS: f64 = 6.0;
    const TRIES: i32 = 60;
    /// How much a degree away from the middle of the range weighs against a degree off the ridges.
    const AWAY: f64 = 0.12;
    let off = |direction: f64| {
        let (s, c) = chance::sin_cos(direction);
        let (tx, ty) = flow.double_angle(from(point, direction, RADIUS)).tangent();
        (tx * s + ty * c).abs() + AWAY * (direction - around).abs()
    };
    (-TRIES..=TRIES)
        .map(|i| around + half_range * f64::from(i) / f64::from(TRIES))
        .min_by(|a, b| off(*a).total_cmp(&off(*b)))
        .unwrap_or(around)
}

/// Follows the flow from the left delta's lower side to the place nearest the right delta and returns the ridges between
/// them, positive when the traced line passes inside. None when the line leaves the print on the left.
fn trace_by_flow(design: &Design, left: Point, right: Point) -> Option<f64> {
    const STRIDE: f64 = 2.5;
    const LEAVE: f64 = 6.0;
    const PAST: f64 = 45.0;
    let flow = &design.flow;
    let centre = 0.5 * (left.x + right.x);
    let leaving = arm(flow, left, -0.6, 1.0);
    let mut p = from(left, leaving, LEAVE);
    let (s, c) = chance::sin_cos(leaving);
    let mut heading = (c, -s);
    let (mut nearest, mut stop) = (f64::MAX, p);
    for _ in 0..400 {
        let away = p.distance(right);
        if p.x > centre && away < nearest {
            (nearest, stop) = (away, p);
        }
        if away > nearest + PAST {
            break;
        }
        let (tx, ty) = flow.double_angle(p).tangent();
        let sign = if tx * heading.0 + ty * heading.1 >= 0.0 { 1.0 } else { -1.0 };
        heading = (sign * tx, sign * ty);
        p = Point::new(p.x + STRIDE * heading.0, p.y + STRIDE * heading.1);
        if p.x < left.x - 150.0 {
            return None;
        }
    }
    if nearest == f64::MAX {
        return None;
    }
    let between = design.ridges_between(right, stop);
    let left_arm = arm(flow, right, 1.1 * PI, 0.5 * PI);
    let inside = direction_difference(chance::atan2(right.y - stop.y, stop.x - right.x), left_arm) < 0.0;
    Some(if inside { between } else { -between })
}

/// Share of the way that a delta close before its loop or tent gives when the tracing is solved for.
const HELD: f64 = 0.15;
/// Likewise the inner delta of a central pocket loop: without its help few tracings have a place.
const HELD_IN_POCKET: f64 = 0.4;
/// Where that lies a ridge or two before the pocket it would be another pocket if it moved.
const HELD_IN_TIGHT_POCKET: f64 = 0.0;

/// Shifts the outer deltas against each other until the traced ridge passes the right one at the wanted distance.
fn solve_tracing(design: &mut Design, layout: &mut Layout, wanted: f64) -> Result<(), Error> {
    /// Pixels.
    const LARGEST_SHIFT: f64 = 170.0;
    /// Steps in which a place is sought where halving the range finds none, pixels.
    const SEEK_EVERY: f64 = 40.0;
    /// Such steps up and down.
    const SEEK_STEPS: i32 = 7;
    let order = |layout: &Layout| {
        let by_x = |a: &usize, b: &usize| layout.deltas[*a].x.total_cmp(&layout.deltas[*b].x);
        let indices = 0..layout.deltas.len();
        (indices.clone().min_by(by_x).unwrap_or(0), indices.max_by(by_x).unwrap_or(0))
    };
    let (l, r) = order(layout);
    let (left, right) = (layout.deltas[l], layout.deltas[r]);
    // What one delta cannot give the other gives in full.
    let (left_share, right_share) = match layout.held_delta {
        Some((held, share)) if held == l => (share, 1.0 - share),
        Some((held, share)) if held == r => (1.0 - share, share),
        _ => (0.5, 0.5),
    };
    let mut attempt = |shift: f64| {
        layout.deltas[l].y = (left.y - left_share * shift).min(-12.0);
        layout.deltas[r].y = (right.y + right_share * shift).min(-12.0);
        design.place(layout);
        let d = design.flow.deltas();
        trace_by_flow(design, d[l], d[r])
    };
    let near_enough = |between: Option<f64>| between.is_some_and(|between| (between - wanted).abs() < 0.5);
    // Where the line leaves the print the left delta lies too low, so that it runs out below, or (`lost_is_high`) the line
    // winds up round a pocket, far inside.
    let halve = |attempt: &mut dyn FnMut(f64) -> Option<f64>, mut low: f64, mut high: f64, lost_is_high: bool| {
        for _ in 0..14 {
            let middle = 0.5 * (low + high);
            match attempt(middle) {
                Some(between) if between < wanted => low = middle,
                None if !lost_is_high => low = middle,
                _ => high = middle,
            }
        }
        near_enough(attempt(0.5 * (low + high)))
    };
    if halve(&mut attempt, -LARGEST_SHIFT, LARGEST_SHIFT, false) {
        return Ok(());
    }
    let mut before = None;
    let mut bracket = None;
    for k in -SEEK_STEPS..=SEEK_STEPS {
        let here = attempt(SEEK_EVERY * f64::from(k));
        if before.is_some_and(|b| b < wanted) && here.is_none_or(|h| h >= wanted) {
            bracket = Some(SEEK_EVERY * f64::from(k));
            break;
        }
        before = here;
    }
    if let Some(high) = bracket
        && halve(&mut attempt, high - SEEK_EVERY, high, true)
    {
        return Ok(());
    }
    Err(Error::bad_value("tracing", "no place for deltas with this tracing on this finger"))
}
