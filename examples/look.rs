//! Scratch: pictures of the intermediate steps.
use ndarray::Array2;
use recurve::draw::*;
use recurve::field::*;
use recurve::impression::*;
use recurve::singular::*;
fn show(name: &str, px: &Array2<f32>, out: &str, analyser: &mut spectrum::SpectrumAnalyser, truth: Option<&Truth>) {
    let settings = FieldSettings::default();
    let t = std::time::Instant::now();
    let f = estimate(px.view(), &settings, analyser);
    let t1 = t.elapsed();
    let s = find(&f, &SingularSettings::default());
    let t2 = t.elapsed();
    let rd = recurve::pattern::decide::readings(&f, &s);
    let e = rd[0].evidence.clone();
    if let Ok(path) = std::env::var("FACTS") {
        use std::io::Write;
        let mut o = std::fs::OpenOptions::new().create(true).append(true).open(path).unwrap();
        for r in &rd {
            writeln!(
                o,
                "{name},{},{:.4},{}",
                r.bucket,
                r.probability,
                recurve::pattern::decide::facts(&r.evidence, r.bucket)
                    .iter()
                    .map(|v| format!("{v:.5}"))
                    .collect::<Vec<_>>()
                    .join(",")
            )
            .unwrap();
        }
    }
    let t3 = t.elapsed();
    let (h, w) = px.dim();
    let mut canvas = image::RgbImage::new(2 * w as u32, h as u32);
    for y in 0..h {
        for x in 0..w {
            let v = (px[[y, x]] * 255.0) as u8;
            let m = f.foreground[[y / 4, x / 4]];
            let v = if m { 90 + (v as u32 * 165 / 255) as u8 } else { v / 3 };
            canvas.put_pixel(x as u32, y as u32, image::Rgb([v, v, v]));
            let g = (128.0 + 60.0 * f.filtered[[y, x]]).clamp(0.0, 255.0) as u8;
            canvas.put_pixel((x + w) as u32, y as u32, if m { image::Rgb([g, g, g]) } else { image::Rgb([g / 2; 3]) });
        }
    }
    let mut ring = |p: recurve::geometry::Point, rad: f64, col: [u8; 3]| {
        for a in 0..150 {
            let a = a as f64 * 0.0419;
            for off in [0.0, w as f64] {
                let (x, y) = (p.x + rad * a.cos() + off, p.y + rad * a.sin());
                if x >= off && y >= 0.0 && x < off + w as f64 && y < h as f64 {
                    canvas.put_pixel(x as u32, y as u32, image::Rgb(col));
                }
            }
        }
    };
    for c in &s.candidates {
        let base = if c.kind == PointKind::Core { [255u8, 60, 0] } else { [0, 120, 255] };
        let col = if c.chosen { base } else { [base[0] / 2 + 80, 120, base[2] / 2 + 80] };
        let rr = 3.0 + c.persistence_px;
        ring(c.at, rr, col);
        if c.chosen {
            ring(c.at, rr + 1.0, col);
            ring(c.at, 1.5, col);
        }
    }
    if let Some(t) = truth {
        for p in t.cores.iter() {
            for k in 0..3 {
                ring(p.at, 12.0 + k as f64 * 0.7, [0, 200, 0]);
            }
        }
        for p in t.deltas.iter() {
            for k in 0..3 {
                ring(p.at, 12.0 + k as f64 * 0.7, [200, 0, 200]);
            }
        }
    }
    let n = |k| s.chosen(k).count();
    eprintln!(
        "{name:22} {w}x{h} {:.1}/{:.1}/{:.1}ms best {:.2} per {:.1} c{} d{} core {:.2?} delta {:.2?} exit {:.2}±{:.2} curl {:.1} btw {:?} side {:.1} below {:.1} bend {:.2} steep {:.2} rise {:.2} bht {} unch {:.2} circ {:.2}/{:.2} {}",
        t1.as_secs_f64() * 1e3,
        (t2 - t1).as_secs_f64() * 1e3,
        (t3 - t2).as_secs_f64() * 1e3,
        f.best_strength,
        f.median_period(),
        n(PointKind::Core),
        n(PointKind::Delta),
        e.core_count,
        e.delta_count,
        e.exit,
        e.exit_spread,
        e.curl,
        e.between.map(|b| (b.ridges, (b.turns * 10.0).round() / 10.0)),
        e.delta_sideways,
        e.delta_below,
        e.sharpest_bend,
        e.steepness,
        e.rise,
        e.border_half_turns,
        e.unchosen_pair,
        e.circuits,
        e.half_circuits,
        {
            let p = recurve::pattern::decide::DecisionModel::embedded().probabilities(&rd);
            format!("PA{:.2} TA{:.2} L{:.2} R{:.2} W{:.2}", p[0], p[1], p[2], p[3], p[4])
        }
    );
    for c in &s.candidates {
        eprintln!(
            "      {:?} {:.0},{:.0} pers {:.0} clar {:.2} ring {:.2} border {:.0} partner {} conf {:.2} {}",
            c.kind,
            c.at.x,
            c.at.y,
            c.persistence_px,
            c.clarity,
            c.ring_error,
            c.border_px,
            c.partner.is_some(),
            c.confidence,
            if c.chosen { "*" } else { "" }
        );
    }
    canvas.save(format!("{out}/{name}.png")).unwrap();
}
fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let out = &args[0];
    let mut analyser = spectrum::SpectrumAnalyser::new(FieldSettings::default().spectrum);
    if args[1] == "draw" {
        let q = match args[2].as_str() {
            "good" => Quality::Good,
            "fair" => Quality::Fair,
            _ => Quality::Poor,
        };
        let fr = match args[3].as_str() {
            "rolled" => Framing::Rolled,
            "plain" => Framing::Plain,
            _ => Framing::Crop,
        };
        for (i, k) in Kind::ALL.iter().enumerate() {
            let t = std::time::Instant::now();
            match draw(&Wish { quality: q, framing: fr, ..Wish::of(*k) }, i as u64 + 100) {
                Ok(d) => {
                    eprint!("{:.0}ms ", t.elapsed().as_secs_f64() * 1e3);
                    show(&format!("{:02}{:?}", i, d.truth.subclass), &d.pixels, out, &mut analyser, Some(&d.truth))
                }
                Err(e) => eprintln!("{k:?}: {e}"),
            }
        }
        return;
    }
    let mut intake = recurve::intake::IntakeSettings::default();
    for a in &args[1..] {
        let (path, ppi) = match a.split_once('@') {
            Some((p, s)) => (p, Some(s.parse::<f64>().unwrap())),
            None => (a.as_str(), None),
        };
        intake.ppi = ppi;
        let print: Impression = recurve::intake::read(path.as_ref(), &intake).unwrap().remove(0);
        match recurve::intake::prepare(&print, &intake) {
            Ok(p) => show(
                &path
                    .rsplit('/')
                    .take(2)
                    .collect::<Vec<_>>()
                    .into_iter()
                    .rev()
                    .collect::<Vec<_>>()
                    .join("_")
                    .trim_end_matches(".png")
                    .trim_end_matches(".tif"),
                &p.pixels,
                out,
                &mut analyser,
                None,
            ),
            Err(u) => eprintln!("{path}: {u:?}"),
        }
    }
}
