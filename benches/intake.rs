//! What reading and preparing one print costs: a 800 x 750 px print at 500 pixels per inch, one thread.

use criterion::{Criterion, criterion_group, criterion_main};
use image::{DynamicImage, GrayImage, ImageFormat, Luma};
use recurve::Impression;
use recurve::intake::{IntakeSettings, prepare, read_bytes, recognise_polarity, ridge_period};
use std::hint::black_box;
use std::io::Cursor;

/// Rings 9 px apart on a white ground: as much to do as a real print, and the same on every machine.
fn print(width: u32, height: u32) -> GrayImage {
    let (x0, y0) = (width as f32 / 2.0, height as f32 / 2.0);
    GrayImage::from_fn(width, height, |x, y| {
        let radius = (x as f32 - x0).hypot(y as f32 - y0);
        let ridge = 128.0 - 100.0 * (radius * std::f32::consts::TAU / 9.0).cos();
        Luma([if radius < 0.45 * height as f32 { ridge as u8 } else { 240 }])
    })
}

fn intake(criterion: &mut Criterion) {
    let settings = IntakeSettings::default();
    let image = print(800, 750);
    let mut png = Cursor::new(Vec::new());
    if let Err(error) = DynamicImage::ImageLuma8(image.clone()).write_to(&mut png, ImageFormat::Png) {
        panic!("the bench's own picture cannot be encoded: {error}");
    }
    let impression = |ppi| match Impression::from_gray8(800, 750, &image, ppi) {
        Ok(impression) => impression,
        Err(error) => panic!("the bench's own picture is refused: {error}"),
    };
    let (at_500, at_1000, unknown) = (impression(Some(500.0)), impression(Some(1000.0)), impression(None));
    criterion
        .bench_function("intake/read png", |b| b.iter(|| read_bytes(black_box(png.get_ref()), "print", &settings)));
    criterion.bench_function("intake/prepare at 500 ppi", |b| b.iter(|| prepare(black_box(&at_500), &settings)));
    criterion.bench_function("intake/prepare from 1000 ppi", |b| b.iter(|| prepare(black_box(&at_1000), &settings)));
    criterion.bench_function("intake/prepare of unknown scale", |b| b.iter(|| prepare(black_box(&unknown), &settings)));
    criterion.bench_function("intake/ridge period", |b| b.iter(|| ridge_period(black_box(&unknown.pixels))));
    criterion.bench_function("intake/polarity", |b| b.iter(|| recognise_polarity(black_box(&at_500.pixels), 9.0)));
}

criterion_group!(benches, intake);
criterion_main!(benches);
