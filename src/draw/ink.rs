//! Ink on paper and skin on glass: how the ridges look on the picture.

use super::chance::{CoarseGrid, Dice, SmoothField, smooth_step};
use super::impress::Scene;
use super::{Framing, Quality};
use crate::geometry::Point;
use ndarray::Array2;

/// What the print lies on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ground {
    /// The paper, card lines or glass usual for the framing.
    Own,
    /// White paper without a mark.
    BlankPaper,
}

/// Darkens a grey picture along a line.
pub(super) fn darken(grey: &mut [f32], width: usize, from: Point, to: Point, radius: f64, darkness: f32) {
    along_line(grey, width, from, to, radius, |value, share| *value = value.min(1.0 - darkness * share));
}

/// Nodes of the coarse grids on which slow fields are read, pixels.
const GRID: f64 = 8.0;

/// How one impression takes ink; every amount is in units of the ridge signal (-1 valley, 1 ridge) unless said otherwise.
struct Ink {
    /// Ridges broader (positive) or finer.
    breadth: f64,
    /// Slow variation of the breadth, deviation.
    pressure: f64,
    /// Grain of the ink, deviation.
    grain: f32,
    /// Mottle: unevenness over a few pixels, deviation.
    mottle: f32,
    /// Unevenness of the ink's own darkness from pixel to pixel, grey values.
    texture: f32,
    /// Half width of the bare band at the joint crease, pixels of the finger.
    joint: f64,
    /// Half width of the edge between ink and paper.
    edge: f32,
    /// Grey value of full ink.
    black: f32,
    /// Grey value of the paper.
    white: f32,
    /// Slow variation of the ink's darkness, grey values.
    unevenness: f64,
    /// Film of ink in the valleys, grey values.
    haze: f32,
    /// Share of ridge places left dry, 0 to 1.
    dryness: f32,
    /// Noise of the scanner, grey values.
    scanner: f32,
    /// White lines across the ridges.
    creases: i64,
    /// Chance of a scar.
    scar: f64,
    /// Chance of a smear.
    smear: f64,
    /// Pores per 1000 square pixels.
    pores: f64,
    /// Darkness of thin immature ridges in the valleys, in patches; 0 where the finger shows none.
    incipient: f32,
    /// Chance that the finger slipped while it was rolled.
    slip: f64,
}

/// Share of prints that show incipient ridges somewhere: by eye, a rough sixth of good real prints.
const INCIPIENT_SHARE: f64 = 0.16;
/// Depth of a valley's middle between which an incipient ridge lies: about a fifth of the period is deeper.
const INCIPIENT_DEPTH: (f32, f32) = (-0.80, -0.94);

fn choose(scene: &Scene, dice: &mut Dice) -> Ink {
    // 0 good, 1 fair, 2 poor.
    let level = match scene.quality {
        Quality::Good => 0,
        Quality::Fair => 1,
        Quality::Poor => 2,
    };
    let by_level = |values: [f64; 3]| values[level];
    let spread = by_level([0.18, 0.38, 0.55]);
    let mut ink = Ink {
        breadth: dice.normal(0.0, spread).clamp(-0.75, 0.75),
        pressure: dice.between(0.5, 1.0) * by_level([0.18, 0.38, 0.6]),
        grain: (dice.between(0.6, 1.2) * by_level([0.22, 0.42, 0.7])) as f32,
        mottle: (dice.between(0.4, 1.2) * by_level([0.22, 0.4, 0.6])) as f32,
        texture: 0.0,
        joint: dice.between(3.0, 12.0),
        edge: dice.between(0.3, 0.6) as f32,
        black: dice.between(0.08, 0.38) as f32,
        white: dice.between(0.86, 1.0) as f32,
        unevenness: by_level([0.04, 0.08, 0.12]),
        haze: (dice.between(0.0, 1.0) * by_level([0.05, 0.12, 0.2])) as f32,
        dryness: (dice.between(0.0, 1.0) * by_level([0.05, 0.3, 0.6])) as f32,
        scanner: dice.between(0.008, 0.03) as f32,
        creases: dice.whole(0, [1, 3, 5][level]),
        scar: by_level([0.02, 0.1, 0.2]),
        smear: by_level([0.0, 0.12, 0.5]),
        pores: if dice.chance(0.5) { dice.between(0.0, 8.0) } else { 0.0 },
        incipient: if dice.chance(INCIPIENT_SHARE) { dice.between(0.35, 0.8) as f32 } else { 0.0 },
        slip: if scene.framing == Framing::Rolled { by_level([0.0, 0.04, 0.15]) } else { 0.0 },
    };
    match scene.framing {
        Framing::Rolled => {
            ink.grain *= 1.5;
            ink.edge *= 1.4;
            ink.haze = ink.haze * 1.5 + 0.02;
            ink.texture = dice.between(0.04, 0.14) as f32;
            // Rolled prints as they come are inked more heavily and less evenly than flat ones.
            ink.breadth += by_level([0.0, 0.12, 0.12]);
            ink.pressure *= by_level([1.0, 1.25, 1.25]);
            ink.mottle *= by_level([1.0, 1.25, 1.25]) as f32;
            ink.white = dice.between(0.93, 1.0) as f32;
        }
        Framing::Plain => {
            ink.haze *= 0.3;
            ink.breadth += dice.between(-0.25, 0.1);
            ink.pores *= 1.4;
        }
        Framing::Crop => {
            ink.edge = 0.14;
            ink.black = dice.between(0.2, 0.34) as f32;
            ink.white = 1.0;
            ink.unevenness = 0.0;
            ink.haze = 0.0;
            ink.scanner = 0.012;
            ink.breadth += 0.06;
            // Printed figures were chosen for the pattern, not for even ink: clots and bare patches are common.
            ink.pressure = ink.pressure * 1.25 + 0.12;
            ink.creases = ink.creases.min(1);
            ink.smear *= 0.3;
            ink.mottle *= 1.3;
            ink.pores = 0.0;
        }
    }
    ink
}

/// Draws the picture of a scene.
pub(super) fn render(scene: &Scene, dice: &mut Dice) -> Array2<f32> {
    let ink = choose(scene, dice);
    let (width, height) = (scene.width, scene.height);
    let count = width * height;
    let fine = soften(&dice.white(count), width, height);
    let gaps = draw_gaps(scene, &ink, dice);
    let mut cover = cover(scene, &ink, &fine, &gaps, dice);
    if dice.chance(ink.smear) {
        smear(&mut cover, width, height, dice);
    }
    if dice.chance(ink.slip) {
        slip(&mut cover, width, height, dice);
    }
    if scene.framing == Framing::Crop {
        // A line block of a book knows only ink and paper.
        cover.iter_mut().for_each(|v| *v = smooth_step(0.3, 0.7, *v));
    }
    let mut grey = background(scene, &ink, dice);
    let dark = slow_field(scene, 70.0, dice);
    for row in 0..height {
        for column in 0..width {
            let i = row * width + column;
            let black = ink.black + ink.unevenness as f32 * dark.at(column as f64, row as f64)[0];
            let black = black + ink.texture * fine[(i + 11) % count];
            let inked = cover[i];
            grey[i] += inked * (black - grey[i]);
        }
    }
    if scene.framing == Framing::Rolled && scene.ground == Ground::Own {
        clutter(scene, &mut grey, dice);
    }
    finish(scene, &ink, grey, dice)
}

fn slow_field(scene: &Scene, over: f64, dice: &mut Dice) -> CoarseGrid<1> {
    let (w, h) = (scene.width as f64, scene.height as f64);
    let field = SmoothField::new(dice, 0.0, 0.0, w, h, over);
    CoarseGrid::new(0.0, 0.0, w, h, GRID, |x, y| [field.at(x, y) as f32])
}

/// How much ink each pixel takes, 0 to 1.
fn cover(scene: &Scene, ink: &Ink, fine: &[f32], gaps: &[f32], dice: &mut Dice) -> Vec<f32> {
    let (width, height) = (scene.width, scene.height);
    let (w, h) = (width as f64, height as f64);
    let pressure = slow_field(scene, 65.0 * scene.scale, dice);
    let patches = slow_field(scene, 45.0 * scene.scale, dice);
    let mottle = CoarseGrid::<1>::noise(dice, w, h, 3.2 * scene.scale);
    let shape = CoarseGrid::new(0.0, 0.0, w, h, 4.0, |x, y| [scene.contact.shape(scene.on_finger(x, y)) as f32]);
    let crop_border = if scene.framing == Framing::Crop { dice.whole(2, 6) as usize } else { 0 };
    let fade_over = if scene.framing == Framing::Rolled { 0.16 } else { 0.10 };
    let mut cover = vec![0.0f32; width * height];
    for row in crop_border..height - crop_border {
        for column in crop_border..width - crop_border {
            let (x, y) = (column as f64, row as f64);
            let i = row * width + column;
            // Grain frays the edge of the contact.
            let edge = 1.0 - shape.at(x, y)[0] + 0.02 * fine[i];
            if edge <= 0.0 {
                continue;
            }
            let q = scene.on_finger(x, y);
            let signal = scene.ridges.at(q);
            let fading = (1.0 - edge / fade_over).max(0.0);
            let push = ink.breadth as f32 + ink.pressure as f32 * pressure.at(x, y)[0] - 0.7 * fading;
            let level = signal + push + ink.grain * fine[i] + ink.mottle * mottle.at(x, y)[0];
            let mut inked = smooth_step(-ink.edge, ink.edge, level);
            if ink.incipient > 0.0 {
                // Thin, fainter than ridges, here and there, and broken into dots.
                let here = smooth_step(0.2, 0.9, -patches.at(x, y)[0]) * smooth_step(-0.9, 0.3, mottle.at(x, y)[0]);
                let middle = smooth_step(INCIPIENT_DEPTH.0, INCIPIENT_DEPTH.1, signal);
                inked = inked.max(ink.incipient * here * middle);
            }
            // Dry places: the grain decides which specks of a ridge take no ink.
            let dry = ink.dryness * smooth_step(-0.6, 1.6, patches.at(x, y)[0]);
            inked *= 1.0 - dry * smooth_step(-0.4, 0.8, fine[(i + 7 * width) % fine.len()]);
            inked = inked.max(ink.haze * smooth_step(-0.5, 1.5, patches.at(x, y)[0]));
            // The skin of the joint crease lies deeper than the ridges on both sides of it.
            let off_joint = ((q.y + 4.0 * f64::from(pressure.at(x, y)[0])).abs() / ink.joint) as f32;
            inked *= smooth_step(0.7, 1.4, off_joint + 0.15 * fine[i]);
            cover[i] = inked * (1.0 - gaps[i]);
        }
    }
    cover
}

/// White noise with a likeness over about two pixels, deviation about 1.
fn soften(noise: &[f32], width: usize, height: usize) -> Vec<f32> {
    // A 3-tap binomial twice over rows and columns keeps a deviation of 0.375; scaled back to 1.
    const BACK: f32 = 1.0 / 0.375;
    let mut out = vec![0.0; noise.len()];
    for row in 0..height {
        let line = &noise[row * width..(row + 1) * width];
        let up = &noise[row.saturating_sub(1) * width..][..width];
        let down = &noise[(row + 1).min(height - 1) * width..][..width];
        let target = &mut out[row * width..(row + 1) * width];
        let mut before = 0.25 * up[0] + 0.5 * line[0] + 0.25 * down[0];
        let mut here = before;
        for (column, value) in target.iter_mut().enumerate() {
            let next = (column + 1).min(width - 1);
            let after = 0.25 * up[next] + 0.5 * line[next] + 0.25 * down[next];
            *value = BACK * (0.25 * before + 0.5 * here + 0.25 * after);
            before = here;
            here = after;
        }
    }
    out
}

/// Draws a soft line into a layer: the greatest of what was there and the line's strength.
fn stroke(layer: &mut [f32], width: usize, from: Point, to: Point, radius: f64, strength: f32) {
    along_line(layer, width, from, to, radius, |value, share| *value = value.max(strength * share));
}

/// Changes the pixels along a line, each by the share of it that the line covers.
fn along_line(layer: &mut [f32], width: usize, from: Point, to: Point, radius: f64, change: impl Fn(&mut f32, f32)) {
    let height = layer.len() / width;
    let reach = radius + 1.0;
    let bound = |v: f64, limit: usize| v.clamp(0.0, limit as f64) as usize;
    let (x0, x1) = (bound(from.x.min(to.x) - reach, width), bound(from.x.max(to.x) + reach + 1.0, width));
    let (y0, y1) = (bound(from.y.min(to.y) - reach, height), bound(from.y.max(to.y) + reach + 1.0, height));
    let (dx, dy) = (to.x - from.x, to.y - from.y);
    let squared = (dx * dx + dy * dy).max(1e-9);
    for y in y0..y1 {
        for x in x0..x1 {
            let (px, py) = (x as f64 - from.x, y as f64 - from.y);
            let t = ((px * dx + py * dy) / squared).clamp(0.0, 1.0);
            let (ex, ey) = (px - t * dx, py - t * dy);
            let distance = (ex * ex + ey * ey).sqrt();
            change(&mut layer[y * width + x], (reach - distance).clamp(0.0, 1.0) as f32);
        }
    }
}

/// A line that wanders: points a few pixels apart.
fn wander(from: Point, heading: f64, length: f64, bend: f64, dice: &mut Dice) -> Vec<Point> {
    const STRIDE: f64 = 6.0;
    let (mut p, mut heading) = (from, heading);
    let mut line = vec![p];
    let mut turn = dice.normal(0.0, bend);
    for _ in 0..(length / STRIDE) as usize {
        turn += dice.normal(0.0, 0.3 * bend);
        heading += 0.8 * turn;
        let (s, c) = super::chance::sin_cos(heading);
        p = Point::new(p.x + STRIDE * c, p.y - STRIDE * s);
        line.push(p);
    }
    line
}

fn draw_line(layer: &mut [f32], width: usize, line: &[Point], radius: f64, strength: f32) {
    for pair in line.windows(2) {
        stroke(layer, width, pair[0], pair[1], radius, strength);
    }
}

/// Creases, scars and pores: where no ink is taken.
fn draw_gaps(scene: &Scene, ink: &Ink, dice: &mut Dice) -> Vec<f32> {
    let (w, h) = (scene.width as f64, scene.height as f64);
    let mut gaps = vec![0.0; scene.width * scene.height];
    for _ in 0..ink.creases {
        let start = Point::new(dice.between(0.0, 0.7 * w), dice.between(0.1 * h, h));
        let line = wander(start, dice.normal(0.0, 0.35), dice.between(0.1, 0.6) * w, 0.02, dice);
        draw_line(&mut gaps, scene.width, &line, dice.between(0.4, 1.8) * scene.scale, dice.between(0.5, 1.0) as f32);
    }
    if dice.chance(ink.scar) {
        let start = Point::new(dice.between(0.2 * w, 0.8 * w), dice.between(0.2 * h, 0.8 * h));
        let line = wander(start, dice.between(-3.0, 3.0), dice.between(40.0, 160.0) * scene.scale, 0.03, dice);
        draw_line(&mut gaps, scene.width, &line, dice.between(2.0, 4.5) * scene.scale, 1.0);
    }
    let pores = (ink.pores * w * h / 1000.0 / (scene.scale * scene.scale)) as usize;
    for _ in 0..pores {
        let p = Point::new(dice.between(0.0, w), dice.between(0.0, h));
        let q = scene.on_finger(p.x, p.y);
        if scene.ridges.at(q) > 0.75 {
            stroke(&mut gaps, scene.width, p, p, dice.between(0.2, 0.9) * scene.scale, 0.75);
        }
    }
    gaps
}

/// Prints a strip on one side a second time, a little further on: the finger slipped while it was rolled.
fn slip(cover: &mut [f32], width: usize, height: usize, dice: &mut Dice) {
    /// Of the ink is left for the second time.
    const INK_LEFT: f32 = 0.8;
    let seam = dice.between(0.3, 0.7) * width as f64;
    let reach = dice.between(30.0, 90.0);
    let lean = dice.normal(0.0, 0.1);
    let (right, down) = (dice.sign() * dice.between(5.0, 20.0), dice.between(-6.0, 6.0));
    let before = cover.to_vec();
    for row in 0..height {
        for column in 0..width {
            let beyond = (column as f64 - seam - lean * (row as f64 - 0.5 * height as f64)) / reach;
            // A clear seam on one side; on the other the strip runs out.
            let weight = if beyond < 0.0 { 0.0 } else { smooth_step(1.0, 0.6, beyond as f32) };
            if weight <= 0.0 {
                continue;
            }
            let x = (column as f64 - right).round().clamp(0.0, (width - 1) as f64) as usize;
            let y = (row as f64 - down).round().clamp(0.0, (height - 1) as f64) as usize;
            let i = row * width + column;
            cover[i] = cover[i].max(INK_LEFT * weight * before[y * width + x]);
        }
    }
}

/// Drags the ink along one direction in a part of the print.
fn smear(cover: &mut [f32], width: usize, height: usize, dice: &mut Dice) {
    let middle = Point::new(dice.between(0.2, 0.8) * width as f64, dice.between(0.3, 0.9) * height as f64);
    let reach = dice.between(40.0, 130.0);
    let (s, c) = super::chance::sin_cos(dice.between(0.0, 6.3));
    let length = dice.whole(5, 15);
    let before = cover.to_vec();
    for row in 0..height {
        for column in 0..width {
            let (dx, dy) = (column as f64 - middle.x, row as f64 - middle.y);
            let near = smooth_step(1.0, 0.4, ((dx * dx + dy * dy).sqrt() / reach) as f32);
            if near <= 0.0 {
                continue;
            }
            let mut sum = 0.0;
            for k in 0..length {
                let x = (column as f64 + k as f64 * c).clamp(0.0, (width - 1) as f64) as usize;
                let y = (row as f64 + k as f64 * s).clamp(0.0, (height - 1) as f64) as usize;
                sum += before[y * width + x];
            }
            let i = row * width + column;
            cover[i] += near * (sum / length as f32 - cover[i]);
        }
    }
}

/// Paper or empty glass.
fn background(scene: &Scene, ink: &Ink, dice: &mut Dice) -> Vec<f32> {
    let (width, height) = (scene.width, scene.height);
    let mut grey = vec![ink.white; width * height];
    let tone = slow_field(scene, 160.0, dice);
    if scene.ground == Ground::BlankPaper {
        return vec![1.0; width * height];
    }
    let style = if scene.framing == Framing::Plain { dice.whole(0, 2) } else { 0 };
    let (level, slope, stripes) = match (scene.framing, style) {
        (Framing::Crop, _) => (1.0, 0.0, 0.0),
        (Framing::Rolled, _) => (ink.white, 0.025, 0.0),
        (_, 0) => (1.0, 0.0, 0.0),
        (_, 1) => (dice.between(0.7, 0.95) as f32, 0.03, 0.0),
        _ => (dice.between(0.4, 0.6) as f32, 0.05, 0.02),
    };
    let columns: Vec<f32> = dice.white(width).into_iter().map(|v| stripes * v).collect();
    for row in 0..height {
        for column in 0..width {
            grey[row * width + column] = level + slope * tone.at(column as f64, row as f64)[0] + columns[column];
        }
    }
    grey
}

/// Lines, letters and strokes of the card around and across a rolled print.
fn clutter(scene: &Scene, grey: &mut [f32], dice: &mut Dice) {
    let (width, height) = (scene.width, scene.height);
    let (w, h) = (width as f64, height as f64);
    let mut marks = vec![0.0f32; grey.len()];
    let tilt = dice.normal(0.0, 0.006);
    let line = |marks: &mut [f32], y: f64, dice: &mut Dice| {
        let thick = dice.between(0.5, 1.6);
        stroke(marks, width, Point::new(0.0, y), Point::new(w, y + tilt * w), thick, 0.9);
    };
    if dice.chance(0.7) {
        line(&mut marks, dice.between(0.0, 0.02) * h, dice);
    }
    if dice.chance(0.7) {
        line(&mut marks, dice.between(0.84, 0.99) * h, dice);
    }
    for x in [dice.between(0.0, 0.02) * w, dice.between(0.97, 1.0) * w] {
        if dice.chance(0.6) {
            stroke(&mut marks, width, Point::new(x, 0.0), Point::new(x - tilt * h, h), dice.between(0.5, 1.6), 0.9);
        }
    }
    if dice.chance(0.7) {
        caption(&mut marks, width, Point::new(dice.between(0.05, 0.4) * w, dice.between(0.02, 0.06) * h), dice);
    }
    for _ in 0..dice.whole(0, 3) {
        let edge = dice.chance(0.75);
        let start = if edge {
            Point::new(
                dice.between(0.0, w),
                if dice.chance(0.5) { dice.between(0.0, 0.1) } else { dice.between(0.85, 1.0) } * h,
            )
        } else {
            Point::new(dice.between(0.0, w), dice.between(0.0, h))
        };
        let pen = wander(start, dice.between(-3.1, 3.1), dice.between(40.0, 260.0), 0.12, dice);
        draw_line(&mut marks, width, &pen, dice.between(0.8, 2.2), dice.between(0.5, 0.85) as f32);
    }
    if dice.chance(0.25) {
        neighbour(scene, grey, dice);
    }
    for (value, mark) in grey.iter_mut().zip(&marks) {
        *value = value.min(1.0 - mark);
    }
}

/// The printed name of the finger's block.
fn caption(marks: &mut [f32], width: usize, at: Point, dice: &mut Dice) {
    const HANDS: [&str; 4] = ["RIGHT", "LEFT", "R.", "L."];
    const FINGERS: [&str; 6] = ["THUMB", "INDEX", "MIDDLE", "RING", "LITTLE", "FORE"];
    let size = dice.between(13.0, 24.0);
    let pick = |dice: &mut Dice, list: &[&'static str]| list[dice.whole(0, list.len() as i64 - 1) as usize];
    let text = format!("{}. {} {}", dice.whole(1, 10), pick(dice, &HANDS), pick(dice, &FINGERS));
    let thick = dice.between(0.05, 0.1) * size;
    for (a, b) in super::lettering::write(&text, at, size) {
        stroke(marks, width, a, b, thick, 0.9);
    }
}

/// Ink of the next block's print that reaches into the picture.
fn neighbour(scene: &Scene, grey: &mut [f32], dice: &mut Dice) {
    let (width, height) = (scene.width, scene.height);
    let from_right = dice.chance(0.5);
    let reach = dice.between(15.0, 70.0);
    let (top, bottom) = (dice.between(0.1, 0.5) * height as f64, dice.between(0.6, 1.0) * height as f64);
    let shift = dice.between(60.0, 140.0);
    let fine = dice.white(width * height);
    for row in 0..height {
        let y = row as f64;
        let bulge = 1.0 - ((y - 0.5 * (top + bottom)) / (0.5 * (bottom - top))).powi(2);
        let limit = (reach * bulge).max(0.0) as usize;
        for k in 0..limit.min(width) {
            let column = if from_right { width - 1 - k } else { k };
            let q = Point::new(if from_right { -shift - k as f64 } else { shift + k as f64 }, y - height as f64);
            let i = row * width + column;
            let signal = scene.ridges.at(q) + 0.4 * fine[i];
            let inked = 0.7 * smooth_step(-0.5, 0.5, signal) * smooth_step(0.0, 12.0, (limit - k) as f32);
            grey[i] += inked * (0.3 - grey[i]);
        }
    }
}

/// Blur and noise of the scanner, and the limits of grey.
fn finish(scene: &Scene, ink: &Ink, grey: Vec<f32>, dice: &mut Dice) -> Array2<f32> {
    let (width, height) = (scene.width, scene.height);
    let noise = dice.white(width * height);
    let mix = match scene.framing {
        Framing::Crop => 0.5,
        _ => dice.between(0.3, 1.0) as f32,
    };
    let blurred: Vec<f32> = soften(&grey, width, height).into_iter().map(|v| v * 0.375).collect();
    Array2::from_shape_fn((height, width), |(r, c)| {
        let i = r * width + c;
        (grey[i] + mix * (blurred[i] - grey[i]) + ink.scanner * noise[i]).clamp(0.0, 1.0)
    })
}
