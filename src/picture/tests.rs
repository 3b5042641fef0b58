//! Checks of the drawings as a reader of the file sees them: parsed again, measured again.

use super::*;
use crate::geometry::{Frame, Point, orientation_difference};
use crate::impression::PpiFrom;
use crate::proposal::*;
use base64::Engine as _;
use ndarray::Array2;
use proptest::prelude::*;
use roxmltree::{Document, Node, ParsingOptions};

const HOSTILE: &str = "a</text><script>alert('x')</script>\u{0}\u{8}\u{202e}gnp.\"&amp;\u{fffe}\n%00 'x'.png";

fn gray(width: usize, height: usize) -> Impression {
    let pixels: Vec<u8> = (0..width * height).map(|i| ((i * 37) % 251) as u8).collect();
    Impression::from_gray8(width, height, &pixels, Some(500.0)).unwrap().named("prints/one.png")
}

fn proposal_for(print: &Impression) -> Proposal {
    Proposal {
        schema: SCHEMA.to_owned(),
        advisory: ADVISORY.to_owned(),
        source: print.source.clone(),
        part: None,
        finger: print.finger,
        image: ImageFacts {
            width_px: print.original_size.0,
            height_px: print.original_size.1,
            ppi: print.ppi,
            ppi_from: print.ppi_from,
        },
        field: None,
        cores: vec![],
        deltas: vec![],
        off_print: vec![],
        status: Status::Proposed,
        pattern: Some(reading(General::Wu, None, 0.9)),
        references: vec![],
        loop_: None,
        whorl: None,
        card_notation: None,
        ncic: None,
        reasons: vec![],
        seconds: None,
    }
}

fn reading(general: General, subclass: Option<Subclass>, probability: f64) -> Reading {
    Reading { general, subclass, tracing: None, probability }
}

fn core(x: f64, y: f64, direction_deg: f64) -> CoreMark {
    CoreMark { x, y, direction_deg, radius_px: 4.0, confidence: 0.97 }
}

fn delta(x: f64, y: f64) -> DeltaMark {
    DeltaMark { x, y, directions_deg: [30.0, 150.0, 270.0], radius_px: 6.0, confidence: 0.91 }
}

fn uniform_field(rows: usize, columns: usize, orientation: f64) -> RidgeField {
    let cos2 = Array2::from_elem((rows, columns), (2.0 * orientation).cos() as f32);
    let sin2 = Array2::from_elem((rows, columns), (2.0 * orientation).sin() as f32);
    RidgeField::from_vectors(cos2, sin2, Array2::from_elem((rows, columns), true), 8, 9.0)
}

fn attribute(node: Node<'_, '_>, name: &str) -> f64 {
    node.attribute(name).unwrap().parse().unwrap()
}

fn by_id<'a>(document: &'a Document<'a>, id: &str) -> Option<Node<'a, 'a>> {
    document.descendants().find(|n| n.attribute("id") == Some(id))
}

/// The frame of the print in the drawing: left, top, width, height.
fn print_box(document: &Document<'_>) -> [f64; 4] {
    let image = by_id(document, "print").unwrap();
    ["x", "y", "width", "height"].map(|name| attribute(image, name))
}

/// All text in reading order, one element a line.
fn texts(document: &Document<'_>) -> Vec<String> {
    document.descendants().filter(|n| n.has_tag_name("text")).map(|n| n.text().unwrap_or("").to_owned()).collect()
}

/// The polylines of a path: points of every sub-path of absolute moves and lines.
fn polylines(data: &str) -> Vec<Vec<Point>> {
    let mut lines = Vec::new();
    for part in data.split('M').filter(|p| !p.is_empty()) {
        let points = part.trim_end_matches('Z').split('L').map(|pair| {
            let (x, y) = pair.trim().split_once(' ').unwrap();
            Point::new(x.parse().unwrap(), y.parse().unwrap())
        });
        lines.push(points.collect());
    }
    lines
}

#[test]
fn marks_lie_where_the_image_shows_their_pixel() {
    let print = gray(300, 200);
    let mut proposal = proposal_for(&print);
    proposal.cores = vec![core(0.0, 0.0, 270.0), core(123.4, 56.0, 90.0), core(299.0, 199.0, 10.0)];
    let text = svg(&print, &proposal, &PictureView::default()).unwrap();
    let document = Document::parse(&text).unwrap();
    let [left, top, width, height] = print_box(&document);
    let mut groups = document.descendants().filter(|n| n.attribute("class") == Some("core"));
    for mark in &proposal.cores {
        // The centre of pixel (x, y) lies half a pixel inside the pixel's own edge.
        let (x, y) = (left + (mark.x + 0.5) * width / 300.0, top + (mark.y + 0.5) * height / 200.0);
        let circle = groups.next().unwrap().children().find(|n| n.has_tag_name("circle")).unwrap();
        assert!((attribute(circle, "cx") - x).abs() < 0.06 && (attribute(circle, "cy") - y).abs() < 0.06);
        assert!((attribute(circle, "r") - 4.0 * width / 300.0).abs() < 0.06, "radius to scale");
    }
}

#[test]
fn a_part_cut_turned_from_a_larger_image_shows_its_marks_upright() {
    let mut print = gray(300, 200);
    // The part is a quarter turned: one print pixel to the right is one original pixel up.
    print.to_original = Frame::new(1.0, std::f64::consts::FRAC_PI_2, 1000.0, 800.0);
    print.original_size = (2000, 2000);
    let mut proposal = proposal_for(&print);
    // 100 print pixels to the right of the print's first pixel, opening to the print's right (the original's up).
    proposal.cores = vec![core(1000.0, 700.0, 90.0)];
    let text = svg(&print, &proposal, &PictureView::default()).unwrap();
    let document = Document::parse(&text).unwrap();
    let [left, top, width, _] = print_box(&document);
    let group = document.descendants().find(|n| n.attribute("class") == Some("core")).unwrap();
    let dot = group.children().rfind(|n| n.has_tag_name("circle")).unwrap();
    let scale = width / 300.0;
    assert!((attribute(dot, "cx") - (left + 100.5 * scale)).abs() < 0.06);
    assert!((attribute(dot, "cy") - (top + 0.5 * scale)).abs() < 0.06);
    let pin = group.children().find(|n| n.has_tag_name("path")).unwrap().attribute("d").unwrap();
    let first: f64 = pin[1..].split(' ').next().unwrap().parse().unwrap();
    assert!(first > attribute(dot, "cx") + 5.0, "the open end lies to the right: {pin}");
    // At the mark and in the list beside the print.
    assert_eq!(text.matches("opens right").count(), 2, "{text}");
}

#[test]
fn flow_strokes_run_along_the_field() {
    let print = gray(320, 240);
    for orientation in [0.0, 0.4, 1.2, 2.6] {
        let field = uniform_field(30, 40, orientation);
        let view = PictureView { field: Some(&field), ..PictureView::default() };
        let text = svg(&print, &proposal_for(&print), &view).unwrap();
        let document = Document::parse(&text).unwrap();
        let paths = by_id(&document, "flow").unwrap().children().filter(|n| n.has_tag_name("path"));
        let strokes: Vec<Vec<Point>> = paths.flat_map(|n| polylines(n.attribute("d").unwrap())).collect();
        assert!(strokes.len() > 200, "{} strokes", strokes.len());
        for stroke in strokes.iter().filter(|s| s.len() == 7) {
            let along = stroke[0].direction_to(stroke[6]);
            assert!(orientation_difference(along, orientation).abs() < 0.02, "{along} for {orientation}");
        }
    }
}

#[test]
fn flow_strokes_turn_with_the_working_image() {
    let print = gray(320, 240);
    let field = uniform_field(30, 40, 0.4);
    // The working image stood half a radian clockwise of the original, so its angles grow by half a radian.
    let view = PictureView { field: Some(&field), frame: Frame::new(1.5, 0.5, -40.0, 60.0), ..PictureView::default() };
    let text = svg(&print, &proposal_for(&print), &view).unwrap();
    let document = Document::parse(&text).unwrap();
    let paths = by_id(&document, "flow").unwrap().children().filter(|n| n.has_tag_name("path"));
    let strokes: Vec<Vec<Point>> = paths.flat_map(|n| polylines(n.attribute("d").unwrap())).collect();
    assert!(strokes.len() > 100);
    for stroke in strokes.iter().filter(|s| s.len() == 7) {
        assert!(orientation_difference(stroke[0].direction_to(stroke[6]), 0.9).abs() < 0.02);
    }
}

#[test]
fn flow_strokes_bend_with_circular_ridges() {
    let print = gray(320, 320);
    let mut field = uniform_field(40, 40, 0.0);
    for row in 0..40 {
        for column in 0..40 {
            let p = field.centre(row as f64, column as f64);
            // A ridge on a circle about (159.5, 159.5) stands at a right angle to the radius.
            let tangent = Point::new(159.5, 159.5).direction_to(p) + std::f64::consts::FRAC_PI_2;
            field.cos2[[row, column]] = (2.0 * tangent).cos() as f32;
            field.sin2[[row, column]] = (2.0 * tangent).sin() as f32;
        }
    }
    let view = PictureView { field: Some(&field), ..PictureView::default() };
    let text = svg(&print, &proposal_for(&print), &view).unwrap();
    let document = Document::parse(&text).unwrap();
    let [left, top, width, height] = print_box(&document);
    let middle = Point::new(left + 0.5 * width, top + 0.5 * height);
    let paths = by_id(&document, "flow").unwrap().children().filter(|n| n.has_tag_name("path"));
    let mut checked = 0;
    for stroke in paths.flat_map(|n| polylines(n.attribute("d").unwrap())) {
        let radii: Vec<f64> = stroke.iter().map(|p| p.distance(middle)).collect();
        if radii[0] < 60.0 {
            continue; // Cells of 22 drawing pixels cannot follow a tighter circle.
        }
        checked += 1;
        let (least, most) = radii.iter().fold((f64::INFINITY, 0.0f64), |(a, b), r| (a.min(*r), b.max(*r)));
        assert!(most - least < 1.0, "a stroke leaves its circle by {} at radius {}", most - least, radii[0]);
    }
    assert!(checked > 200);
}

#[test]
fn strokes_stay_on_the_foreground() {
    let print = gray(320, 240);
    let mut field = uniform_field(30, 40, 0.3);
    for ((_, column), own) in field.foreground.indexed_iter_mut() {
        *own = column < 20;
    }
    let view = PictureView { field: Some(&field), ..PictureView::default() };
    let text = svg(&print, &proposal_for(&print), &view).unwrap();
    let document = Document::parse(&text).unwrap();
    let [left, _, width, _] = print_box(&document);
    let paths = by_id(&document, "flow").unwrap().children().filter(|n| n.has_tag_name("path"));
    let rightmost = paths.flat_map(|n| polylines(n.attribute("d").unwrap())).flatten().map(|p| p.x).fold(0.0, f64::max);
    // Twenty of forty cells; half a stroke step may reach over the border.
    assert!(rightmost < left + 0.5 * width + 6.0, "{rightmost}");
    assert!(rightmost > left + 0.4 * width);
}

#[test]
fn what_lies_off_the_print_stands_beside_its_own_side() {
    let print = gray(300, 200);
    let note = |words: &str| {
        let mut proposal = proposal_for(&print);
        proposal.off_print = vec![words.to_owned()];
        let text = svg(&print, &proposal, &PictureView::default()).unwrap();
        let document = Document::parse(&text).unwrap();
        let place = by_id(&document, "off-print").unwrap().first_element_child().unwrap();
        assert!(texts(&document).contains(&format!("{words} expected off the print")));
        let transform = place.attribute("transform").unwrap();
        let inner = transform.strip_prefix("translate(").unwrap().split(')').next().unwrap();
        let (x, y) = inner.split_once(' ').unwrap();
        let [left, top, width, height] = print_box(&document);
        let (x, y): (f64, f64) = (x.parse().unwrap(), y.parse().unwrap());
        (x < left, x > left + width, y < top, y > top + height)
    };
    assert_eq!(note("left delta"), (true, false, false, false));
    assert_eq!(note("Right delta"), (false, true, false, false));
    assert_eq!(note("upper core"), (false, false, true, false));
    assert_eq!(note("a delta"), (false, false, false, true));
    // "bright" holds "right" but names no side.
    assert_eq!(note("bright delta"), (false, false, false, true));
}

#[test]
fn a_point_beyond_the_image_is_named_at_the_border_instead_of_drawn() {
    let print = gray(300, 200);
    let mut proposal = proposal_for(&print);
    proposal.deltas = vec![delta(-40.0, 100.0), delta(120.0, 150.0)];
    let text = svg(&print, &proposal, &PictureView::default()).unwrap();
    let document = Document::parse(&text).unwrap();
    assert_eq!(document.descendants().filter(|n| n.attribute("class") == Some("delta")).count(), 1);
    assert!(texts(&document).contains(&"delta D1 beyond the image".to_owned()));
}

#[test]
fn hostile_names_stay_text() {
    let print = gray(60, 50).named(HOSTILE);
    let mut proposal = proposal_for(&print);
    proposal.part = Some(HOSTILE.to_owned());
    proposal.off_print = vec![HOSTILE.to_owned()];
    proposal.reasons = vec![Reason::new(HOSTILE, HOSTILE)];
    proposal.ncic = Some(HOSTILE.to_owned());
    let overlays = vec![Overlay::label(Role::TypeLine, Point::new(20.0, 20.0), HOSTILE)];
    let text = svg(&print, &proposal, &PictureView { overlays, ..PictureView::default() }).unwrap();
    let document = Document::parse(&text).unwrap();
    assert!(!document.descendants().any(|n| n.has_tag_name("script")));
    assert!(!text.chars().any(|c| c.is_control() && c != '\n'));
    assert!(!text.contains('\u{202e}') && !text.contains('\u{fffe}'), "reordering characters are shown, not obeyed");
    assert!(texts(&document).iter().any(|t| t.contains("<script>")), "the name itself is still readable");

    let page = index_html(&[IndexEntry::new(&print, &proposal, HOSTILE).unwrap()]);
    let options = ParsingOptions { allow_dtd: true, ..ParsingOptions::default() };
    let page_document = Document::parse_with_options(&page, options).unwrap();
    assert!(!page_document.descendants().any(|n| n.has_tag_name("script")));
}

#[test]
fn an_abstention_is_drawn_from_the_proposal_alone() {
    let print = gray(120, 400);
    let mut proposal = proposal_for(&print);
    proposal.status = Status::Abstained;
    proposal.pattern = None;
    proposal.reasons = vec![Reason::new("sampled too coarsely", "A ridge is 2.1 pixels wide.")];
    let text = svg(&print, &proposal, &PictureView::default()).unwrap();
    let document = Document::parse(&text).unwrap();
    let words = texts(&document).join("|");
    for part in ["NO PROPOSAL|Abstained", "This is no finding", "sampled too coarsely|A ridge is 2.1 pixels wide."] {
        assert!(words.contains(part), "{part} is missing in {words}");
    }
    assert!(by_id(&document, "legend").is_none(), "no marks, no legend");
    assert!(!words.contains('%'), "an abstention carries no probability: {words}");
}

#[test]
fn the_advisory_line_stands_under_the_print_beside_the_result_and_on_the_page() {
    for (width, height) in [(300, 200), (40, 400), (400, 40)] {
        let print = gray(width, height);
        let text = svg(&print, &proposal_for(&print), &PictureView::default()).unwrap();
        let document = Document::parse(&text).unwrap();
        let spoken = texts(&document).join(" ").split_whitespace().collect::<Vec<_>>().join(" ");
        assert_eq!(spoken.matches(ADVISORY).count(), 2, "{spoken}");
        assert!(document.descendants().any(|n| n.has_tag_name("desc") && n.text().unwrap().ends_with(ADVISORY)));
        let page = index_html(&[IndexEntry::new(&print, &proposal_for(&print), "x.svg").unwrap()]);
        assert_eq!(page.matches(ADVISORY).count(), 2);
    }
    assert_eq!(index_html(&[]).matches(ADVISORY).count(), 2);
}

#[test]
fn the_embedded_print_is_the_print() {
    // 700 pixels are shown at 900: neither enlarged nor reduced before embedding.
    let print = gray(700, 40);
    let text = svg(&print, &proposal_for(&print), &PictureView::default()).unwrap();
    let document = Document::parse(&text).unwrap();
    let address = by_id(&document, "print").unwrap();
    let data = address.attribute(("http://www.w3.org/1999/xlink", "href")).unwrap();
    let png =
        base64::engine::general_purpose::STANDARD.decode(data.strip_prefix("data:image/png;base64,").unwrap()).unwrap();
    let shown = image::load_from_memory(&png).unwrap().into_luma8();
    assert_eq!(shown.dimensions(), (700, 40));
    assert!(shown.as_raw().iter().enumerate().all(|(i, v)| usize::from(*v) == (i * 37) % 251));
}

#[test]
fn a_large_scan_is_reduced_and_a_small_one_enlarged() {
    let longest = |width, height| {
        let print = gray(width, height);
        let text = svg(&print, &proposal_for(&print), &PictureView::default()).unwrap();
        let document = Document::parse(&text).unwrap();
        let data = by_id(&document, "print").unwrap().attribute(("http://www.w3.org/1999/xlink", "href")).unwrap();
        let png = base64::engine::general_purpose::STANDARD.decode(&data["data:image/png;base64,".len()..]).unwrap();
        let shown = image::load_from_memory(&png).unwrap();
        shown.width().max(shown.height())
    };
    assert_eq!(longest(4000, 30), 1800);
    assert_eq!(longest(190, 170), 900);
}

#[test]
fn the_legend_explains_the_marks_of_the_picture_and_no_others() {
    let print = gray(300, 200);
    let mut proposal = proposal_for(&print);
    let legend = |proposal: &Proposal, overlays: Vec<Overlay>| {
        let text = svg(&print, proposal, &PictureView { overlays, ..PictureView::default() }).unwrap();
        let document = Document::parse(&text).unwrap();
        let words: Vec<String> = by_id(&document, "legend")
            .iter()
            .flat_map(|l| l.descendants().filter(|n| n.has_tag_name("text")).map(|n| n.text().unwrap().to_owned()))
            .collect();
        words.join(" ")
    };
    assert_eq!(legend(&proposal, vec![]), "");
    proposal.cores = vec![core(100.0, 100.0, 270.0)];
    assert!(legend(&proposal, vec![]).contains("Core (dot)") && !legend(&proposal, vec![]).contains("Delta"));
    proposal.cores.clear();
    proposal.deltas = vec![delta(100.0, 100.0)];
    assert!(legend(&proposal, vec![]).contains("Delta (open middle)") && !legend(&proposal, vec![]).contains("Core"));
    for role in Role::ALL {
        let line = Overlay::line(role, vec![Point::new(20.0, 20.0), Point::new(90.0, 60.0)]);
        let words = legend(&proposal, vec![line]);
        let explained: Vec<Role> = Role::ALL.into_iter().filter(|r| words.contains(&r.words()[..13])).collect();
        assert_eq!(explained, [role], "{words}");
        let label = Overlay::label(role, Point::new(50.0, 50.0), "says itself what it is");
        assert!(!legend(&proposal, vec![label]).contains(role.words()));
    }
}

#[test]
fn every_counted_ridge_has_its_tick_and_the_numbers_do_not_touch() {
    let print = gray(400, 400);
    let mut overlays = vec![Overlay::line(Role::CountLine, vec![Point::new(50.0, 350.0), Point::new(350.0, 50.0)])];
    for i in 1..=25u16 {
        let p = Point::new(50.0, 350.0).lerp(Point::new(350.0, 50.0), f64::from(i) / 26.0);
        overlays.push(Overlay::tick(Role::CountLine, p, std::f64::consts::FRAC_PI_4 * 3.0, Some(i)));
    }
    let text = svg(&print, &proposal_for(&print), &PictureView { overlays, ..PictureView::default() }).unwrap();
    let document = Document::parse(&text).unwrap();
    let working = by_id(&document, "working").unwrap();
    let numbers: Vec<(Point, u16)> = working
        .children()
        .filter(|n| n.has_tag_name("text"))
        .map(|n| (Point::new(attribute(n, "x"), attribute(n, "y")), n.text().unwrap().parse().unwrap()))
        .collect();
    assert_eq!(numbers.iter().map(|n| n.1).collect::<Vec<_>>(), (1..=25).collect::<Vec<_>>());
    for (i, a) in numbers.iter().enumerate() {
        assert!(numbers[i + 1..].iter().all(|b| a.0.distance(b.0) > 12.0));
    }
    // The line and each tick are painted twice: rim and mark.
    assert_eq!(working.children().filter(|n| n.has_tag_name("path")).count(), 2 + 2 * 25);
}

#[test]
fn the_words_beside_a_print() {
    let mut print = gray(300, 200).with_finger(2).unwrap();
    print.ppi_from = PpiFrom::File;
    let mut proposal = proposal_for(&print);
    proposal.pattern = Some(reading(General::Rs, None, 0.93));
    proposal.references = vec![reading(General::Au, Some(Subclass::Ta), 0.05)];
    proposal.loop_ = Some(LoopFacts {
        side: Side::Right,
        hand: Some(Hand::Ulnar),
        ridge_count: Some(RidgeCount { best: 14, min: 13, max: 15 }),
    });
    proposal.field = Some(FieldFacts { foreground_fraction: 0.61, ridge_period_px: 9.1, coherence: 0.83 });
    proposal.cores = vec![core(150.0, 80.0, 300.0)];
    proposal.deltas = vec![delta(60.0, 150.0)];
    proposal.reasons = vec![Reason::new("loop: looping ridge", "Six ridges lie between delta and core.")];
    let text = svg(&print, &proposal, &PictureView::default()).unwrap();
    let document = Document::parse(&text).unwrap();
    insta::assert_snapshot!(texts(&document).join("\n"), @r"
    D1
    91 %
    C1
    97 %
    Proposal for a qualified examiner to confirm. Not an identification.
    THE MARKS
    Core (dot): focal point of the
    recurve in the flow; the hairpin
    opens as the recurve does. A
    ridge count may start from
    another point
    Holds the true core with 95 %
    probability, if there is a core
    Delta (open middle): meeting
    point of three flows, which the
    spikes follow
    Holds the true delta with 95 %
    probability, if there is a delta
    97 %
    Probability that the point is
    there at all
    PROPOSED PATTERN
    Ulnar loop, right slant
    93 %
    probability (program's estimate)
    Opens to the right; on the stated hand that is toward the
    little finger.
    Ridge count: 14; 13 to 15 within the doubt in delta and
    core.
    Proposal for a qualified examiner to confirm.
    Not an identification.
    IT MIGHT ALSO BE (probability)
    5 %
    Tented arch
    Every reading not listed, together: 2 %
    WHY
    loop: looping ridge
    Six ridges lie between delta and core.
    POINTS (pixels from the top left of the original image)
    C1: core, probability 97 %, opens down and right; at 150, 80,
    with 95 % within 4.0 px
    D1: delta, probability 91 %; at 60, 150, with 95 % within 6.0 px
    THE PRINT
    Finger 2, right index, as stated with the print
    prints/one.png
    Image: 300 x 200 px
    500 ppi, from the file's resolution tag
    Shown 3.0 times its size; what lies between its pixels is
    interpolated, not recorded.
    Ridges read on 61 % of the image, 9.1 px apart; coherence 0.83
    (0 no flow, 1 parallel ridges)
    THE PRINT WITHOUT MARKS
    ");
}

#[test]
fn the_page_filters_by_class_and_counts_right() {
    let print = gray(60, 50);
    let entry = |general: Option<General>, probability: f64, name: &str| {
        let mut proposal = proposal_for(&print);
        proposal.pattern = general.map(|g| reading(g, None, probability));
        proposal.status = if general.is_some() { Status::Proposed } else { Status::Abstained };
        IndexEntry::new(&print, &proposal, name).unwrap()
    };
    let entries = [
        entry(Some(General::Wu), 0.9, "a b#1.svg"),
        entry(None, 0.0, "sub/b.svg"),
        entry(Some(General::Wu), 0.4, "javascript:alert(1)"),
        entry(Some(General::Au), 0.7, "//elsewhere.example/ü.svg"),
    ];
    let page = index_html(&entries);
    let options = ParsingOptions { allow_dtd: true, ..ParsingOptions::default() };
    let document = Document::parse_with_options(&page, options).unwrap();
    let nav = document.descendants().find(|n| n.has_tag_name("nav")).unwrap();
    let links: Vec<&str> = nav.descendants().filter(|n| n.has_tag_name("a")).map(|n| n.text().unwrap()).collect();
    assert_eq!(links, ["All (4)", "Arch (1)", "Whorl (2)", "Abstained (1)"]);
    let shown: Vec<Node<'_, '_>> =
        document.descendants().filter(|n| n.attribute("class").is_some_and(|c| c.starts_with("entry "))).collect();
    let classes: Vec<&str> = shown.iter().map(|n| n.attribute("class").unwrap()).collect();
    assert_eq!(classes, ["entry of-1", "entry of-2", "entry of-1", "entry of-0"]);
    // The abstention first, then the probabilities in ascending order.
    let ranks: Vec<&str> = shown.iter().map(|n| n.attribute("style").unwrap()).collect();
    assert_eq!(ranks, ["--rank:3", "--rank:0", "--rank:1", "--rank:2"]);
    let addresses: Vec<&str> = shown.iter().map(|n| n.attribute("href").unwrap()).collect();
    assert_eq!(addresses, ["a%20b%231.svg", "sub/b.svg", "javascript%3Aalert%281%29", "elsewhere.example/%C3%BC.svg"]);
}

#[test]
fn settings_out_of_range_are_refused() {
    let print = gray(60, 50);
    for settings in [
        PictureSettings { longest_side: f64::NAN, ..PictureSettings::default() },
        PictureSettings { flow_spacing: 0.0, ..PictureSettings::default() },
        PictureSettings { references_shown: 0, ..PictureSettings::default() },
        PictureSettings { name_length: 2, ..PictureSettings::default() },
    ] {
        assert!(svg_with(&print, &proposal_for(&print), &PictureView::default(), &settings).is_err());
    }
    let mut empty = print.clone();
    empty.pixels = Array2::zeros((0, 5));
    assert!(svg(&empty, &proposal_for(&print), &PictureView::default()).is_err());
    assert!(IndexEntry::new(&empty, &proposal_for(&print), "x.svg").is_err());
}

/// Numbers as a broken or hostile proposal might hold them.
fn odd_number() -> impl Strategy<Value = f64> {
    prop_oneof![6 => -50.0..400.0f64, 1 => Just(f64::NAN), 1 => Just(f64::INFINITY), 1 => Just(-1e300), 1 => Just(1e12)]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    #[test]
    fn any_size_and_any_numbers_give_a_sound_drawing(
        (width, height) in (1usize..90, 1usize..90),
        numbers in proptest::collection::vec(odd_number(), 24),
        name in "\\PC{0,200}",
        cell in 0usize..12,
        (rows, columns) in (0usize..12, 0usize..12),
        scale in 0.2..4.0f64,
    ) {
        let print = gray(width, height).named(name.clone());
        let mut proposal = proposal_for(&print);
        proposal.cores = numbers.chunks(4).take(3)
            .map(|n| CoreMark { x: n[0], y: n[1], direction_deg: n[2], radius_px: n[3], confidence: n[0] })
            .collect();
        proposal.deltas = numbers[12..].chunks(6)
            .map(|n| DeltaMark { x: n[0], y: n[1], directions_deg: [n[2], n[3], n[4]], radius_px: n[5], confidence: n[1] })
            .collect();
        proposal.off_print = vec![name.clone(), format!("left {name}")];
        proposal.references = numbers.iter().map(|p| reading(General::Ls, None, *p)).collect();
        proposal.reasons = vec![Reason::new(name.clone(), name.repeat(4))];
        proposal.field = Some(FieldFacts { foreground_fraction: numbers[3], ridge_period_px: numbers[4], coherence: numbers[5] });
        let mut field = uniform_field(rows, columns, numbers[6]);
        field.cell = cell;
        let overlays = vec![
            Overlay::line(Role::TracedRidge, numbers.chunks(2).map(|n| Point::new(n[0], n[1])).collect()),
            Overlay::tick(Role::CountLine, Point::new(numbers[0], numbers[1]), numbers[2], Some(3)),
            Overlay::label(Role::DeltaLine, Point::new(numbers[5], numbers[1]), name),
        ];
        let view = PictureView { field: Some(&field), frame: Frame::of_resampling(scale), overlays };
        let text = svg(&print, &proposal, &view).unwrap();
        prop_assert_eq!(&text, &svg(&print, &proposal, &view).unwrap(), "the same bytes twice");
        let document = Document::parse(&text).unwrap();
        let (w, h) = (attribute(document.root_element(), "width"), attribute(document.root_element(), "height"));
        let sheet_bottom = h;
        for node in document.descendants().filter(|n| n.has_tag_name("text")) {
            let turned = node.ancestors().any(|a| a.attribute("transform").is_some());
            if !turned {
                let (x, y) = (attribute(node, "x"), attribute(node, "y"));
                prop_assert!(x >= 0.0 && x < w && y > 0.0 && y < sheet_bottom, "text at {}, {} on {} x {}", x, y, w, h);
            }
        }
        for node in document.descendants().filter(|n| n.has_tag_name("circle")) {
            let (x, y) = (attribute(node, "cx"), attribute(node, "cy"));
            prop_assert!(x >= 0.0 && x <= w && y >= 0.0 && y <= h);
        }
        for node in document.descendants().filter(|n| n.has_tag_name("path")) {
            let data = node.attribute("d").unwrap();
            prop_assert!(!data.contains("NaN") && !data.contains("inf"), "{}", data);
        }
    }

    #[test]
    fn wrapped_lines_fit_and_lose_no_letter(text in "\\PC{0,300}", width in 60.0..500.0f64) {
        let lines = words::wrap(&text, 15.0, width);
        for line in &lines {
            prop_assert!(words::measure(line, 15.0) <= width + 1e-9, "{}", line);
        }
        let letters = |t: &str| t.chars().filter(|c| !c.is_whitespace()).collect::<String>();
        prop_assert_eq!(letters(&lines.concat()), letters(&text));
    }

    #[test]
    fn a_shortened_name_keeps_its_beginning_and_its_end(name in "[a-zü/]{1,200}", longest in 5usize..100) {
        let short = words::shorten(&name, longest);
        let (count, own): (usize, Vec<char>) = (short.chars().count(), name.chars().collect());
        prop_assert!(count <= longest.max(own.len().min(longest)));
        prop_assert_eq!(short.chars().next(), own.first().copied());
        prop_assert_eq!(short.chars().last(), own.last().copied());
        let marked = short.contains('\u{2026}');
        prop_assert!(count == own.len() || marked);
    }

    #[test]
    fn a_percentage_is_the_probability_to_half_a_percent_and_claims_no_false_certainty(p in 0.0..1.0f64) {
        let shown = words::percent(p);
        match shown.as_str() {
            "over 99 %" => prop_assert!(p >= 0.995),
            "under 1 %" => prop_assert!(p > 0.0 && p < 0.005),
            other => {
                let value: f64 = other.strip_suffix(" %").unwrap().parse().unwrap();
                prop_assert!((value - 100.0 * p).abs() <= 0.5 + 1e-9 && value < 100.0);
            }
        }
    }
}

#[test]
fn a_reading_below_one_half_is_said_to_be_the_less_probable_side() {
    let print = gray(300, 200);
    let says_so = |probability: f64| {
        let mut proposal = proposal_for(&print);
        proposal.pattern = Some(reading(General::Wu, None, probability));
        svg(&print, &proposal, &PictureView::default()).unwrap().contains("Below one half")
    };
    assert!(says_so(0.43) && !says_so(0.5) && !says_so(0.97));
}

#[test]
fn directions_are_named_as_an_upright_print_shows_them() {
    // Degrees count counter-clockwise from image right, so 90 is up.
    for (degrees, words) in [
        (0.0, "right"),
        (90.0, "up"),
        (180.0, "left"),
        (270.0, "down"),
        (359.0, "right"),
        (-45.0, "down and right"),
        (600.0, "down and left"),
    ] {
        assert_eq!(words::opening(f64::to_radians(degrees)), words);
    }
}
