//! What holds for every figure, whatever it shows.
use crate::inspection::{collisions, outside, printed};
use crate::look::Width;
use crate::{Drawing, FigureFault, samples};

fn all() -> Vec<Drawing> {
    let figures: Vec<Result<Vec<Drawing>, FigureFault>> = vec![
        samples::means().draw(),
        samples::means_of_ten_varieties().draw(),
        samples::differences().draw(),
        samples::differences_of_45_pairs().draw(),
        samples::cumulative().draw(),
        samples::climate().draw(),
        samples::root_zone().draw(),
        samples::calendar(60, 40).draw(),
        samples::calendar(150, 90).draw(),
        samples::plan(true).draw(),
        samples::plan(false).draw(),
        samples::residuals(4).draw(),
        samples::residuals(11).draw(),
    ];
    figures.into_iter().flat_map(Result::unwrap).collect()
}

fn narrow() -> Vec<Drawing> {
    let mut drawings = Vec::new();
    for width in [Width::Single, Width::Middle] {
        let mut means = samples::means();
        means.width = width;
        let mut differences = samples::differences();
        differences.width = width;
        let mut cumulative = samples::cumulative();
        cumulative.width = width;
        let mut climate = samples::climate();
        climate.width = width;
        let mut residuals = samples::residuals(4);
        residuals.width = width;
        let mut plan = samples::plan(true);
        plan.width = width;
        let mut calendar = samples::calendar(40, 40);
        calendar.width = width;
        let figures = [means.draw(), differences.draw(), cumulative.draw(), climate.draw(), residuals.draw(), plan.draw(), calendar.draw()];
        drawings.extend(figures.into_iter().flat_map(Result::unwrap));
    }
    drawings
}

/// Dark pixels (all of red, green, blue under 128) inside a box given in mm.
fn dark(png: &[u8], drawing: &Drawing, (left, top, right, bottom): (f64, f64, f64, f64)) -> usize {
    let mut decoder = png::Decoder::new(std::io::Cursor::new(png));
    decoder.set_transformations(png::Transformations::EXPAND);
    let mut reader = decoder.read_info().unwrap();
    let mut pixels = vec![0; reader.output_buffer_size().unwrap()];
    let info = reader.next_frame(&mut pixels).unwrap();
    let per_mm = f64::from(info.width) / drawing.width_mm;
    let at = |mm: f64, most: u32| ((mm * per_mm) as usize).min(most as usize);
    let mut seen = 0;
    for y in at(top, info.height)..at(bottom, info.height) {
        for x in at(left, info.width)..at(right, info.width) {
            let samples = info.color_type.samples();
            let p = &pixels[samples * (y * info.width as usize + x)..][..3];
            seen += usize::from(p.iter().all(|c| *c < 128));
        }
    }
    seen
}

#[test]
fn every_text_is_inside_its_sheet() {
    for drawing in all().iter().chain(&narrow()) {
        assert_eq!(outside(drawing), Vec::<String>::new(), "{} at {} mm", drawing.name, drawing.width_mm);
    }
}

#[test]
fn no_two_texts_touch() {
    for drawing in all().iter().chain(&narrow()) {
        assert_eq!(collisions(drawing), Vec::new(), "{} at {} mm", drawing.name, drawing.width_mm);
    }
}

#[test]
fn no_sheet_is_higher_than_a_page() {
    for drawing in all().iter().chain(&narrow()) {
        assert!(drawing.height_mm <= crate::look::PAGE_HEIGHT, "{}: {}", drawing.name, drawing.height_mm);
    }
}

#[test]
fn every_drawing_is_well_formed_and_as_large_as_it_says() {
    for drawing in all() {
        let options = resvg::usvg::Options::default();
        let tree = resvg::usvg::Tree::from_str(&drawing.svg, &options).unwrap();
        let mm = |px: f32| f64::from(px) / 96.0 * 25.4;
        assert!((mm(tree.size().width()) - drawing.width_mm).abs() < 0.02, "{}", drawing.name);
        assert!((mm(tree.size().height()) - drawing.height_mm).abs() < 0.02, "{}", drawing.name);
    }
}

#[test]
fn every_drawing_has_a_role_a_title_a_description_and_a_sentence() {
    for drawing in all() {
        let head: String = drawing.svg.lines().take(3).collect();
        let name = &drawing.name;
        for part in ["role=\"img\"".to_string(), format!("<title id=\"{name}-title\">"), format!("<desc id=\"{name}-desc\">")] {
            assert!(head.contains(&part), "{name} lacks {part}");
        }
        assert!(!drawing.alt.is_empty() && drawing.finding.ends_with('.'), "{name}: {}", drawing.finding);
        assert!(drawing.table.ends_with(".csv"));
    }
}

#[test]
fn two_drawings_of_the_same_input_are_the_same_bytes() {
    assert_eq!(all(), all());
    let drawing = &samples::means().draw().unwrap()[0];
    assert_eq!(drawing.png(150).unwrap(), drawing.png(150).unwrap());
}

#[test]
fn names_differ_between_pages() {
    let pages = samples::calendar(150, 90).draw().unwrap();
    assert!(pages.len() > 1);
    assert_eq!(pages[0].name, "completeness-tarn-hollow-1");
    assert!(pages[1].title.ends_with(&format!("(part 2 of {})", pages.len())));
}

#[test]
fn a_picture_has_its_density_and_dark_pixels_where_text_stands() {
    let drawing = &samples::differences().draw().unwrap()[0];
    let png = drawing.png(300).unwrap();
    let reader = png::Decoder::new(std::io::Cursor::new(png.as_slice())).read_info().unwrap();
    let density = reader.info().pixel_dims.unwrap();
    assert_eq!((density.xppu, density.yppu), (11811, 11811));
    assert_eq!(reader.info().width, 2055);
    for text in printed(drawing).iter().filter(|t| t.text.contains("Tarn") || t.text.contains("at these")) {
        let seen = dark(&png, drawing, (text.left, text.top, text.right, text.bottom));
        assert!(seen > 200, "{}: {seen} dark pixels", text.text);
    }
}

#[test]
fn text_is_rastered_where_it_was_measured() {
    let drawing = &samples::differences().draw().unwrap()[0];
    let png = drawing.png(300).unwrap();
    let text = printed(drawing).into_iter().find(|t| t.text.starts_with("coir–bark blend − perlite, in res")).unwrap();
    assert!(dark(&png, drawing, (text.right - 1.5, text.top, text.right + 0.1, text.bottom)) > 10);
    assert_eq!(dark(&png, drawing, (text.right + 0.3, text.top, text.right + 4.0, text.bottom)), 0);
}

#[test]
fn a_site_name_with_markup_stays_text() {
    let evil = "</text><script>alert('x')</script>&\"\u{1} opacity=\"1\"";
    let mut figure = samples::means();
    figure.caption.name = "../<b>".into();
    figure.caption.title = evil.into();
    figure.panels[0].title = evil.into();
    figure.factors[0].label = evil.into();
    let drawing = &figure.draw().unwrap()[0];
    assert!(!drawing.svg.contains("<script"));
    assert_eq!(drawing.name, "b");
    resvg::usvg::Tree::from_str(&drawing.svg, &resvg::usvg::Options::default()).unwrap();
    assert!(printed(drawing).iter().any(|t| t.text.starts_with("</text>")));
}

#[test]
fn a_picture_too_large_is_refused_with_its_size() {
    let drawing = &samples::means().draw().unwrap()[0];
    assert!(matches!(drawing.png(20_000), Err(FigureFault::Size { .. })));
    assert!(matches!(drawing.png(0), Err(FigureFault::Size { .. })));
}

#[test]
fn figures_without_data_give_no_page() {
    use crate::{calendar, climate, cumulative, differences, means, plan, residuals, root_zone};
    let empty = [
        means::MeansFigure::default().draw(),
        differences::DifferencesFigure::default().draw(),
        cumulative::CumulativeFigure::default().draw(),
        climate::ClimateFigure::default().draw(),
        root_zone::RootZoneFigure::default().draw(),
        calendar::CalendarFigure::default().draw(),
        plan::PlanFigure::default().draw(),
        residuals::ResidualsFigure::default().draw(),
    ];
    assert!(empty.into_iter().all(|drawn| drawn.unwrap().is_empty()));
}

#[test]
fn values_that_are_not_finite_harm_no_figure() {
    use crate::differences::DifferenceValue;
    use crate::means::MeanValue;
    let mut means = samples::means();
    means.panels[0].rows[0].value = MeanValue::Told { estimate: f64::NAN, low: f64::NEG_INFINITY, high: f64::INFINITY, letters: None };
    let mut differences = samples::differences();
    differences.groups[0].rows[0].value = DifferenceValue::Told { estimate: 1.0, low: f64::NEG_INFINITY, high: f64::INFINITY };
    let mut plan = samples::plan(true);
    plan.units[0].value = Some(f64::NAN);
    for drawing in [means.draw(), differences.draw(), plan.draw()].into_iter().flat_map(Result::unwrap) {
        assert_eq!(outside(&drawing), Vec::<String>::new());
        assert!(!drawing.svg.contains("NaN"));
    }
}

#[test]
fn the_pages_of_a_list_of_pairs_hold_every_pair() {
    let pages = samples::differences_of_45_pairs().draw().unwrap();
    let rows: usize = pages.iter().map(|d| printed(d).iter().filter(|t| t.text.contains(" to ") && t.text.ends_with(')')).count()).sum();
    assert_eq!(rows, 45);
}
