//! Time to draw one print, one thread: `cargo bench --bench draw`.

use criterion::{BatchSize, Criterion, criterion_group, criterion_main};
use recurve::draw::{Circuit, Finger, Framing, Kind, Quality, Wish, draw};
use std::hint::black_box;

fn prints(c: &mut Criterion) {
    let mut group = c.benchmark_group("draw");
    group.sample_size(30);
    let whorl = Kind::PlainWhorl(Circuit::Oval);
    let cases = [
        ("arch_600x720", Wish { size: Some((600, 720)), ..Wish::of(Kind::PlainArch) }),
        ("loop_600x720", Wish { size: Some((600, 720)), ..Wish::of(Kind::LeftLoop) }),
        ("loop_of_12_600x720", Wish { size: Some((600, 720)), ridge_count: Some(12), ..Wish::of(Kind::LeftLoop) }),
        ("poor_whorl_600x720", Wish { size: Some((600, 720)), quality: Quality::Poor, ..Wish::of(whorl) }),
        ("plain_loop", Wish { framing: Framing::Plain, ..Wish::of(Kind::LeftLoop) }),
        ("crop_loop", Wish { framing: Framing::Crop, ..Wish::of(Kind::LeftLoop) }),
    ];
    for (name, wish) in cases {
        // Another seed each time: some wishes need several fingers until the ridges meet them.
        let mut seed = 0;
        group.bench_function(name, |b| {
            b.iter_batched(
                || {
                    seed += 1;
                    seed
                },
                |seed| black_box(draw(&wish, seed)).is_ok(),
                BatchSize::SmallInput,
            );
        });
    }
    let finger = Finger::grow(&Wish { size: Some((600, 720)), ..Wish::of(Kind::LeftLoop) }, 1);
    if let Ok(finger) = finger {
        group.bench_function("another_impression_600x720", |b| b.iter(|| black_box(finger.impress(2))));
    }
    group.finish();
}

criterion_group!(benches, prints);
criterion_main!(benches);
