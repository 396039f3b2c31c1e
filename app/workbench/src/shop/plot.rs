//! A worksheet's plot drawn: as an SVG file for paper and pages, as dots for the terminal.
//! Promise: the picture carries its title and a description in words, so that it can be read aloud; colors differ in
//! lightness too. Limit: at most four curves.

use calculator::Plot;
use plotters::prelude::*;
use textplots::{Chart, Plot as _, Shape};

/// Size of the drawing, px.
const SIZE: (u32, u32) = (720, 420);
/// Lines in the order of the curves, dark to light.
const COLORS: [RGBColor; 4] =
    [RGBColor(16, 32, 72), RGBColor(176, 64, 16), RGBColor(48, 124, 96), RGBColor(136, 96, 160)];
const LIMIT: RGBColor = RGBColor(96, 96, 96);

/// Why a plot cannot be drawn.
#[derive(Debug, thiserror::Error)]
#[error("the plot cannot be drawn: {0}")]
pub struct Undrawn(String);

/// The plot without what has no place on paper: points and limits that are no finite number.
fn drawable(plot: &Plot) -> Plot {
    let mut plot = plot.clone();
    plot.curves.iter_mut().for_each(|curve| curve.points.retain(|(x, y)| x.is_finite() && y.is_finite()));
    plot.curves.retain(|curve| !curve.points.is_empty());
    plot.limits.retain(|limit| limit.at.is_finite());
    plot
}

/// The ranges of both axes, a little more than the points need upwards.
fn ranges(plot: &Plot) -> ((f64, f64), (f64, f64)) {
    let points = || plot.curves.iter().flat_map(|curve| curve.points.iter().copied());
    let span = |values: &mut dyn Iterator<Item = f64>| {
        let (low, high) =
            values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), at| (low.min(at), high.max(at)));
        match (low, high) {
            (low, high) if low < high => (low, high),
            (low, _) if low.is_finite() => (low - 0.5, low + 0.5),
            _ => (0.0, 1.0),
        }
    };
    let (left, right) = span(&mut points().map(|(x, _)| x));
    let (low, high) = span(&mut points().map(|(_, y)| y).chain(plot.limits.iter().map(|limit| limit.at)));
    // A curve that begins near nothing is shown from nothing.
    let low = if low > 0.0 && low < 0.35 * high { 0.0 } else { low };
    let room = 0.06 * (high - low);
    ((left, right), (if low == 0.0 { 0.0 } else { low - room }, high + room))
}

/// The plot in words.
pub fn described(plot: &Plot) -> String {
    let curve = |curve: &calculator::Curve| match (curve.points.first(), curve.points.last()) {
        (Some(first), Some(last)) => {
            format!("{}: from {:.3} at {:.3} to {:.3} at {:.3}", curve.title, first.1, first.0, last.1, last.0)
        }
        _ => curve.title.clone(),
    };
    let mut said: Vec<String> = plot.curves.iter().map(curve).collect();
    said.extend(plot.limits.iter().map(|limit| format!("{} at {:.3}", limit.title, limit.at)));
    format!("{} by {}. {}.", plot.y.title, plot.x.title, said.join("; "))
}

/// The plot as the text of an SVG file.
///
/// # Errors
/// When the drawing library refuses.
pub fn svg(plot: &Plot) -> Result<String, Undrawn> {
    let plot = &drawable(plot);
    let mut text = String::new();
    draw(plot, &mut text).map_err(|error| Undrawn(error.to_string()))?;
    let escape = |text: &str| text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;");
    let words = format!("<title>{}</title>\n<desc>{}</desc>", escape(&plot.title), escape(&described(plot)));
    let Some(end) = text.find('>') else { return Err(Undrawn("no picture came out".to_owned())) };
    text.replace_range(end..=end, &format!(" role=\"img\">\n{words}"));
    Ok(text)
}

fn draw(plot: &Plot, text: &mut String) -> Result<(), Box<dyn std::error::Error>> {
    let ((left, right), (low, high)) = ranges(plot);
    let area = SVGBackend::with_string(text, SIZE).into_drawing_area();
    area.fill(&WHITE)?;
    let mut chart = ChartBuilder::on(&area)
        .caption(&plot.title, ("sans-serif", 20))
        .margin(14)
        .x_label_area_size(44)
        .y_label_area_size(64)
        .build_cartesian_2d(left..right, low..high)?;
    chart
        .configure_mesh()
        .max_light_lines(1)
        .light_line_style(RGBColor(236, 236, 236))
        .bold_line_style(RGBColor(204, 204, 204))
        .label_style(("sans-serif", 15))
        .x_desc(&plot.x.title)
        .y_desc(&plot.y.title)
        .axis_desc_style(("sans-serif", 16))
        .draw()?;
    for (curve, color) in plot.curves.iter().zip(COLORS) {
        let line = LineSeries::new(curve.points.iter().copied(), color.stroke_width(3));
        chart
            .draw_series(line)?
            .label(&curve.title)
            .legend(move |(x, y)| PathElement::new(vec![(x, y), (x + 24, y)], color.stroke_width(3)));
    }
    for limit in &plot.limits {
        let dashes = DashedLineSeries::new([(left, limit.at), (right, limit.at)], 8, 6, LIMIT.stroke_width(2));
        chart
            .draw_series(dashes)?
            .label(&limit.title)
            .legend(|(x, y)| PathElement::new(vec![(x, y), (x + 24, y)], LIMIT.stroke_width(2)));
    }
    if plot.curves.len() + plot.limits.len() > 1 {
        chart
            .configure_series_labels()
            .position(emptiest(plot, (left, right), (low, high)))
            .background_style(WHITE.mix(0.85))
            .border_style(RGBColor(160, 160, 160))
            .label_font(("sans-serif", 15))
            .draw()?;
    }
    area.present()?;
    Ok(())
}

/// The corner in which the fewest points of the curves and the limits lie.
fn emptiest(plot: &Plot, (left, right): (f64, f64), (low, high): (f64, f64)) -> SeriesLabelPosition {
    let limits =
        plot.limits.iter().flat_map(|limit| [0.15, 0.85].map(|share| (left + share * (right - left), limit.at)));
    let points: Vec<(f64, f64)> =
        plot.curves.iter().flat_map(|curve| curve.points.iter().copied()).chain(limits).collect();
    let within = |at: f64, least: f64, most: f64, begins: f64, ends: f64| {
        let share = (at - least) / (most - least);
        share >= begins && share <= ends
    };
    let corners = [
        (SeriesLabelPosition::UpperRight, 0.65, 0.7),
        (SeriesLabelPosition::UpperLeft, 0.0, 0.7),
        (SeriesLabelPosition::LowerRight, 0.65, 0.0),
        (SeriesLabelPosition::LowerLeft, 0.0, 0.0),
    ];
    let crowd = |begins: f64, rises: f64| {
        let inside = |(x, y): &&(f64, f64)| {
            within(*x, left, right, begins, begins + 0.35) && within(*y, low, high, rises, rises + 0.3)
        };
        points.iter().filter(inside).count()
    };
    let best = corners.into_iter().min_by_key(|(_, begins, rises)| crowd(*begins, *rises));
    best.map_or(SeriesLabelPosition::UpperRight, |(corner, ..)| corner)
}

/// Dots across and down of the drawing in the terminal: 66 by 14 letters.
const DOTS: (u32, u32) = (132, 56);

/// The plot as lines of text, at most 80 columns. Limits are dotted.
pub fn dots(plot: &Plot) -> String {
    let plot = &drawable(plot);
    let ((left, right), (low, high)) = ranges(plot);
    let curves: Vec<Vec<(f32, f32)>> =
        plot.curves.iter().map(|curve| curve.points.iter().map(|(x, y)| (*x as f32, *y as f32)).collect()).collect();
    let limits: Vec<Vec<(f32, f32)>> = plot
        .limits
        .iter()
        .map(|limit| (0..33).map(|at| (left + (right - left) * f64::from(at) / 32.0, limit.at)))
        .map(|points| points.map(|(x, y)| (x as f32, y as f32)).collect())
        .collect();
    let lines: Vec<Shape<'_>> = curves.iter().map(|points| Shape::Lines(points)).collect();
    let marks: Vec<Shape<'_>> = limits.iter().map(|points| Shape::Points(points)).collect();
    let mut chart = Chart::new_with_y_range(DOTS.0, DOTS.1, left as f32, right as f32, low as f32, high as f32);
    let mut drawn = &mut chart;
    for shape in lines.iter().chain(&marks) {
        drawn = drawn.lineplot(shape);
    }
    drawn.axis();
    drawn.figures();
    let frame = drawn.to_string();
    let rows = frame.lines().map(|line| format!("  {}", line.trim_end_matches('\u{2800}').trim_end()));
    rows.map(|row| row + "\n").collect()
}

/// What the axes and the lines of [`dots`] are.
pub fn legend(plot: &Plot) -> String {
    let titles = plot.curves.iter().map(|curve| curve.title.clone());
    let dotted = plot.limits.iter().map(|limit| format!("dotted: {} ({})", limit.title, short(limit.at)));
    format!("{} over {}; {}", plot.y.title, plot.x.title, titles.chain(dotted).collect::<Vec<_>>().join(", "))
}

fn short(number: f64) -> String {
    quantity::show(number, quantity::Dimension::Ratio)
}
