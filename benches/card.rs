//! What a whole card costs: 4000 x 4000 pixels, from the bytes of the file to classification and sheet, on the cores at hand.
//!
//! The goal is 1.2 s and 400 MiB on two cores.

use criterion::{Criterion, criterion_group, criterion_main};
use image::{DynamicImage, GrayImage, ImageFormat};
use recurve::card::{Card, CardSettings, Form, find, register};
use recurve::card_screener::{CardWish as Wish, ScreenedCard, screen_card};
use recurve::draw::card::{CardWish, draw_card};
use recurve::intake::{IntakeSettings, read_bytes};
use recurve::picture::PictureView;
use recurve::report::{SheetFinger, card_page, sheet_html};
use recurve::{Error, Impression, Screener};
use std::hint::black_box;
use std::io::Cursor;

/// A bench whose own input fails has nothing to measure.
fn must<T, E: std::fmt::Display>(result: Result<T, E>) -> T {
    match result {
        Ok(value) => value,
        Err(error) => panic!("the bench's own card fails: {error}"),
    }
}

fn scan_of(bytes: &[u8]) -> Impression {
    must(read_bytes(bytes, "card.png", &IntakeSettings::default())).remove(0)
}

fn sheet(card: &ScreenedCard) -> Result<String, Error> {
    let finger = |finger: &'_ recurve::card_screener::ScreenedFinger| -> (Impression, recurve::Proposal) {
        (finger.print.clone(), finger.examination.proposal.clone())
    };
    let fingers: Vec<_> = card.fingers.iter().map(finger).collect();
    let cells: Vec<SheetFinger<'_>> =
        fingers.iter().map(|(print, proposal)| SheetFinger { print, proposal, view: PictureView::default() }).collect();
    Ok(sheet_html(&[card_page(&card.record, &card.classification, &cells)?]))
}

fn cards(criterion: &mut Criterion) {
    let drawn = must(draw_card(&CardWish { turn_deg: Some(0.0), ..CardWish::default() }, 1));
    let (height, width) = drawn.pixels.dim();
    let image =
        GrayImage::from_fn(width as u32, height as u32, |x, y| image::Luma([drawn.pixels[[y as usize, x as usize]]]));
    let mut png = Cursor::new(Vec::new());
    must(DynamicImage::ImageLuma8(image).write_to(&mut png, ImageFormat::Png));
    let bytes = png.into_inner();
    let (forms, settings, screener) = (must(Form::embedded()), CardSettings::default(), Screener::default());
    let scan = scan_of(&bytes);
    let found: Card = must(find(&scan, &forms, &settings));
    let screened = must(screen_card(&screener, &found, &scan, &Wish::default()));
    let mut group = criterion.benchmark_group("card");
    group.sample_size(10);
    group.bench_function("read", |b| b.iter(|| scan_of(black_box(&bytes))));
    group.bench_function("register", |b| b.iter(|| register(black_box(&scan), &forms, &settings)));
    group.bench_function("find", |b| b.iter(|| must(find(black_box(&scan), &forms, &settings))));
    group.bench_function("screen", |b| {
        b.iter(|| must(screen_card(&screener, &found, black_box(&scan), &Wish::default())))
    });
    group.bench_function("sheet", |b| b.iter(|| must(sheet(black_box(&screened)))));
    group.bench_function("file to formula and sheet", |b| {
        b.iter(|| {
            let scan = scan_of(black_box(&bytes));
            let card = must(find(&scan, &forms, &settings));
            must(sheet(&must(screen_card(&screener, &card, &scan, &Wish::default()))))
        });
    });
    group.finish();
}

criterion_group!(benches, cards);
criterion_main!(benches);
