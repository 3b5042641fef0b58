//! Draws a few prints of every kind into a folder: `cargo run --release --example draw_sheet -- FOLDER [SEED]`.

use recurve::draw::{Framing, Kind, Quality, Wish, draw};
use std::time::Instant;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let folder = arguments.next().unwrap_or_else(|| "drawn".into());
    let seed: u64 = arguments.next().map_or(Ok(1), |s| s.parse())?;
    std::fs::create_dir_all(&folder)?;
    for (i, kind) in Kind::ALL.into_iter().enumerate() {
        for (framing, quality) in [
            (Framing::Rolled, Quality::Good),
            (Framing::Plain, Quality::Fair),
            (Framing::Crop, Quality::Good),
            (Framing::Rolled, Quality::Poor),
        ] {
            let started = Instant::now();
            match draw(&Wish { framing, quality, ..Wish::of(kind) }, seed) {
                Ok(print) => {
                    let t = &print.truth;
                    println!(
                        "{i:02} {kind:?} {framing:?} {quality:?}: {:.0} ms, count {:?}, tracing {:?} {:?}",
                        started.elapsed().as_secs_f64() * 1e3,
                        t.ridge_count,
                        t.tracing,
                        t.ridges_between
                    );
                    let (h, w) = print.pixels.dim();
                    let bytes = print.pixels.iter().map(|v| (v * 255.0) as u8).collect();
                    let image = image::GrayImage::from_raw(w as u32, h as u32, bytes).ok_or("size")?;
                    image.save(format!("{folder}/{i:02}_{framing:?}_{quality:?}.png"))?;
                    let mut text = String::new();
                    for p in &t.cores {
                        text += &format!("c {:.1} {:.1} {:.3} {}\n", p.at.x, p.at.y, p.direction, p.printed);
                    }
                    for p in &t.deltas {
                        text += &format!("d {:.1} {:.1} {:.3} {}\n", p.at.x, p.at.y, p.direction, p.printed);
                    }
                    for p in t.count_line.iter().flatten() {
                        text += &format!("l {:.1} {:.1} 0 0\n", p.x, p.y);
                    }
                    for p in &t.trace {
                        text += &format!("t {:.1} {:.1} 0 0\n", p.x, p.y);
                    }
                    for ((r, c), on) in t.field.foreground.indexed_iter() {
                        if *on {
                            text += &format!(
                                "f {r} {c} {:.3} {:.2}\n",
                                t.field.orientation[[r, c]],
                                t.field.period[[r, c]]
                            );
                        }
                    }
                    std::fs::write(format!("{folder}/{i:02}_{framing:?}_{quality:?}.txt"), text)?;
                }
                Err(e) => println!("{i:02} {kind:?} {framing:?}: {e}"),
            }
        }
    }
    Ok(())
}
