//! The forecast as plain text: tables and a picture of characters.

use std::fmt::Write as _;

use comfy_table::{ContentArrangement, Table, presets};
use ratatui_core::buffer::Buffer;
use ratatui_core::layout::Rect;
use ratatui_core::symbols::Marker;
use ratatui_core::widgets::Widget;
use ratatui_widgets::chart::{Axis, Chart, Dataset, GraphType};

use super::figure::{Figure, Untold, number, with_unit};
use super::picture::{Meaning, Panel, Picture, Point};
use super::{Expectation, INVENTED, PassExpectation};

/// Characters of the picture without its margin: with the words in the margin it fits in 100.
const WIDTH: u16 = 72;
/// Characters of the panel that counts turns, where there are two.
const TURNS_WIDTH: u16 = 24;
/// Characters between two panels, for the ends of their scales.
const BETWEEN: u16 = 3;
const HEIGHT: u16 = 22;
/// Characters of a line where no terminal says.
const WIDTH_OF_FILES: u16 = 140;
/// Rows below the plot that the scale of angle takes.
const BELOW: u16 = 2;

/// The whole forecast. `width` is that of the terminal, if there is one.
pub fn text(expectation: &Expectation, width: Option<u16>) -> String {
    let mut text = format!("{}, {}\n\n", expectation.bolt, expectation.thread);
    if expectation.invented {
        let _ = writeln!(text, "{INVENTED}\n");
    }
    text += &table(&expectation.figures, width);
    text += &untold(&expectation.not_told);
    for pass in &expectation.passes {
        of_pass(pass, width, &mut text);
    }
    let _ = writeln!(text, "\nCaution. {}", expectation.caution);
    text
}

fn of_pass(pass: &PassExpectation, width: Option<u16>, text: &mut String) {
    // Writing to a string cannot fail.
    let _ = writeln!(text, "\nPass {}: {}\n", pass.pass, pass.goal);
    for warning in &pass.warnings {
        let _ = writeln!(text, "  warning: {warning}");
    }
    *text += &table(&pass.figures, width);
    *text += &untold(&pass.not_told);
    if let Some(picture) = &pass.picture {
        *text += "\n";
        *text += &drawn(picture);
    }
}

fn table(figures: &[Figure], width: Option<u16>) -> String {
    if figures.is_empty() {
        return String::new();
    }
    let mut table = Table::new();
    table
        .load_style(presets::NOTHING)
        .set_content_arrangement(ContentArrangement::Dynamic)
        .set_header(["figure", "expected", "formula", "source"]);
    table.set_width(width.unwrap_or(WIDTH_OF_FILES));
    for figure in figures {
        table.add_row([figure.name, &figure.words(), figure.formula, &figure.source]);
    }
    format!("{table}\n")
}

fn untold(untold: &[Untold]) -> String {
    untold
        .iter()
        .map(|u| format!("  not told: {}: state {}\n", u.figures, u.state))
        .collect()
}

/// The panels side by side, the levels named in the margin.
fn drawn(picture: &Picture) -> String {
    let mut buffer = Buffer::empty(Rect::new(0, 0, WIDTH, HEIGHT));
    let mut left = 0;
    for (i, panel) in picture.panels.iter().enumerate() {
        let last = i + 1 == picture.panels.len();
        let width = if last { WIDTH - left } else { TURNS_WIDTH };
        plot(
            picture,
            panel,
            i == 0,
            Rect::new(left, 0, width, HEIGHT),
            &mut buffer,
        );
        left += width + BETWEEN;
    }
    let mut text = String::from("  bolt torque, N·m\n");
    for y in 0..HEIGHT {
        let row: String = (0..WIDTH)
            .filter_map(|x| buffer.cell((x, y)))
            .map(|cell| cell.symbol())
            .collect();
        let _ = writeln!(
            text,
            "  {}",
            format!("{row} {}", margin(picture, y)).trim_end()
        );
    }
    for panel in &picture.panels {
        let _ = write!(text, "  {}", panel.angle);
        for window in &panel.windows {
            let ends = format!("{} to {}", number(window.from), number(window.to));
            let _ = write!(text, "; {} {}", window.what, with_unit(&ends, panel.unit));
        }
        text.push('\n');
    }
    text
}

/// Levels that begin in this row.
fn margin(picture: &Picture, row: u16) -> String {
    let rows = HEIGHT - BELOW;
    let row_of = |nm: f32| {
        let part = nm / picture.top_nm;
        (part <= 1.0).then(|| (f32::from(rows - 1) * (1.0 - part)).round() as u16)
    };
    let words: Vec<_> = picture
        .levels
        .iter()
        .filter(|level| row_of(level.min_nm) == Some(row))
        .map(|level| {
            let min = number(level.min_nm);
            match level.meaning {
                _ if level.min_nm == level.max_nm => format!("{} {min}", level.what),
                Meaning::Limit => format!("{} from {min}", level.what),
                _ => format!("{} {min} to {}", level.what, number(level.max_nm)),
            }
        })
        .collect();
    words.join(", ")
}

fn plot(picture: &Picture, panel: &Panel, first: bool, area: Rect, buffer: &mut Buffer) {
    let [from, to] = panel.span().map(f64::from);
    let top = f64::from(picture.top_nm);
    let line = |of: fn(&Point) -> f32| -> Vec<(f64, f64)> {
        let at = |p: &Point| (f64::from(p.angle), f64::from(of(p)));
        panel.corridor.iter().map(at).collect()
    };
    let (low, high) = (line(|p| p.min_nm), line(|p| p.max_nm));
    let levels = dotted_levels(picture, [from, to], area.width);
    let windows = dotted_windows(panel, top);
    let dots = |data| {
        Dataset::default()
            .graph_type(GraphType::Scatter)
            .marker(Marker::Braille)
            .data(data)
    };
    let curve = |data| {
        Dataset::default()
            .graph_type(GraphType::Line)
            .marker(Marker::Braille)
            .data(data)
    };
    let torque = Axis::default().bounds([0.0, top]);
    let torque = if first {
        torque.labels([0.0, 0.5 * top, top].map(|x| format!("{x:.0}")))
    } else {
        torque
    };
    Chart::new(vec![
        dots(&levels),
        dots(&windows),
        curve(&low),
        curve(&high),
    ])
    .legend_position(None)
    .y_axis(torque)
    .x_axis(Axis::default().bounds([from, to]).labels([
        format!("{from:.0}"),
        with_unit(&format!("{to:.0}"), panel.unit),
    ]))
    .render(area, buffer);
}

/// Both ends of what is aimed at, the lower end of every limit.
fn dotted_levels(picture: &Picture, [from, to]: [f64; 2], dots: u16) -> Vec<(f64, f64)> {
    picture
        .levels
        .iter()
        .flat_map(|level| match level.meaning {
            Meaning::Limit => vec![level.min_nm],
            _ => vec![level.min_nm, level.max_nm],
        })
        .flat_map(|nm| {
            (0..=dots).map(move |i| {
                let part = f64::from(i) / f64::from(dots);
                (from + part * (to - from), f64::from(nm))
            })
        })
        .collect()
}

fn dotted_windows(panel: &Panel, top: f64) -> Vec<(f64, f64)> {
    panel
        .windows
        .iter()
        .flat_map(|window| [window.from, window.to])
        .flat_map(|angle| {
            (0..=2 * HEIGHT)
                .map(move |i| (f64::from(angle), top * f64::from(i) / f64::from(2 * HEIGHT)))
        })
        .collect()
}
