//! The corridor of one pass as a still picture.

use super::figure::{number, with_unit};
use super::picture::{Level, Meaning, Panel, Picture, Window};
use crate::page::svg::{
    ALARM, ANGLE_STEPS, CURVE, INK, SOFT, TORQUE_STEPS, label, line, ticks, write,
};
use crate::page::words::minus;

const WIDTH: f64 = 1040.0;
const HEIGHT: f64 = 430.0;
const LEFT: f64 = 56.0;
const RIGHT: f64 = 740.0;
const TOP: f64 = 46.0;
const BOTTOM: f64 = 370.0;
/// Width of the panel that counts turns, where there are two, and the gap behind it.
const TURNS: f64 = 190.0;
const GAP: f64 = 26.0;
/// Room that one line of words takes.
const LINE: f64 = 17.0;
/// Width of a letter of the usual sans-serif faces at this size, wide ones among them.
const LETTER: f64 = 7.8;
/// Room between the words and the edge.
const MARGIN: f64 = 10.0;
const GRID: &str = "#d3d9df";
const BAND: &str = "#8a94a0";

/// Draws the picture. The same picture gives the same bytes.
pub fn svg(picture: &Picture) -> String {
    let mut marks = String::new();
    let y = |nm: f32| y_of(picture, nm);
    for (at, text) in ticks([0.0, picture.top_nm.into()], 8.0, &TORQUE_STEPS) {
        let y = y(at as f32);
        line(&mut marks, [LEFT, y], [RIGHT, y], GRID);
        label(&mut marks, LEFT - 8.0, y + 4.0, "end", SOFT, &text);
    }
    let panels = picture.panels.len();
    let mut left = LEFT;
    for (i, panel) in picture.panels.iter().enumerate() {
        let right = if i + 1 == panels { RIGHT } else { left + TURNS };
        Frame { left, right, panel }.draw(picture, &mut marks);
        left = right + GAP;
    }
    // The words beside the bars end where they end: the picture goes on until there.
    let width = levels(picture, &mut marks).max(WIDTH);
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width:.0} {HEIGHT}\" role=\"img\" font-family=\"sans-serif\" font-size=\"13\" fill=\"{INK}\">\n\
         <title>Expected torque over bolt angle; the same in figures in the table</title>\n\
         <rect width=\"{width:.0}\" height=\"{HEIGHT}\" fill=\"#ffffff\"/>\n\
         {marks}\
         <text transform=\"translate(16 {}) rotate(-90)\" text-anchor=\"middle\">bolt torque, N·m</text>\n\
         </svg>\n",
        (TOP + BOTTOM) / 2.0,
    )
}

fn y_of(picture: &Picture, nm: f32) -> f64 {
    let part = f64::from(nm) / f64::from(picture.top_nm);
    // A limit above the picture ends at its upper edge.
    (BOTTOM - part * (BOTTOM - TOP)).clamp(TOP, BOTTOM)
}

struct Frame<'a> {
    left: f64,
    right: f64,
    panel: &'a Panel,
}

impl Frame<'_> {
    fn x(&self, angle: f32) -> f64 {
        let [from, to] = self.panel.span().map(f64::from);
        let part = (f64::from(angle) - from) / (to - from);
        (self.left + part * (self.right - self.left)).clamp(self.left, self.right)
    }

    fn draw(&self, picture: &Picture, out: &mut String) {
        let middle = (self.left + self.right) / 2.0;
        let span = self.panel.span().map(f64::from);
        for (at, text) in ticks(span, (self.right - self.left) / 60.0, &ANGLE_STEPS) {
            let x = self.x(at as f32);
            line(out, [x, TOP], [x, BOTTOM], GRID);
            label(out, x, BOTTOM + 18.0, "middle", SOFT, &text);
        }
        label(out, middle, BOTTOM + 40.0, "middle", INK, self.panel.angle);
        for window in &self.panel.windows {
            self.window(window, out);
        }
        self.corridor(picture, out);
        // Between two panels the scale of torque goes on, the curve does not.
        for x in [self.left, self.right] {
            line(out, [x, TOP], [x, BOTTOM], BAND);
        }
    }

    fn window(&self, window: &Window, out: &mut String) {
        let (from, to) = (self.x(window.from), self.x(window.to));
        write(
            out,
            format_args!(
                "<rect x=\"{from:.1}\" y=\"{TOP}\" width=\"{:.1}\" height=\"{:.1}\" fill=\"{CURVE}\" opacity=\"0.12\"/>\n",
                to - from,
                BOTTOM - TOP
            ),
        );
        let ends = format!(
            "{} {} to {}",
            window.what,
            number(window.from),
            number(window.to)
        );
        let words = minus(&with_unit(&ends, self.panel.unit));
        label(
            out,
            (self.left + self.right) / 2.0,
            TOP - 10.0,
            "middle",
            CURVE,
            &words,
        );
    }

    fn corridor(&self, picture: &Picture, out: &mut String) {
        let path = |points: &mut dyn Iterator<Item = (f32, f32)>| {
            points
                .map(|(angle, nm)| format!("L{:.1} {:.1}", self.x(angle), y_of(picture, nm)))
                .collect::<String>()
                .replacen('L', "M", 1)
        };
        let corridor = &self.panel.corridor;
        let high = path(&mut corridor.iter().map(|p| (p.angle, p.max_nm)));
        let low = path(&mut corridor.iter().map(|p| (p.angle, p.min_nm)));
        let back = path(&mut corridor.iter().rev().map(|p| (p.angle, p.min_nm)));
        write(
            out,
            format_args!(
                "<path d=\"{high}{}z\" fill=\"{CURVE}\" opacity=\"0.22\"/>\n\
                 <path d=\"{high}{low}\" fill=\"none\" stroke=\"{CURVE}\" stroke-width=\"2\" stroke-linejoin=\"round\"/>\n",
                back.replacen('M', "L", 1)
            ),
        );
    }
}

/// Bands across the panels for what is aimed at, bars beside them for what the bolt does. Returns where
/// the longest of their words ends.
fn levels(picture: &Picture, out: &mut String) -> f64 {
    let mut words: Vec<(f64, f64, &str, String)> = Vec::new();
    let mut bar_x = RIGHT + 12.0;
    for level in &picture.levels {
        let (low, high) = (y_of(picture, level.min_nm), y_of(picture, level.max_nm));
        let colour = colour(level);
        if matches!(level.meaning, Meaning::Limit | Meaning::Breakaway) {
            let dash = format!("M{LEFT} {low:.1}H{bar_x:.1}");
            write(
                out,
                format_args!(
                    "<path d=\"{dash}\" stroke=\"{colour}\" stroke-dasharray=\"5 4\"/>\n\
                     <rect x=\"{:.1}\" y=\"{high:.1}\" width=\"6\" height=\"{:.1}\" fill=\"{colour}\"/>\n",
                    bar_x - 3.0,
                    (low - high).max(1.0)
                ),
            );
            words.push((low, bar_x + 3.0, colour, told(level)));
            bar_x += 14.0;
        } else {
            write(
                out,
                format_args!(
                    "<rect x=\"{LEFT}\" y=\"{high:.1}\" width=\"{:.1}\" height=\"{:.1}\" fill=\"{colour}\" opacity=\"0.35\"/>\n",
                    RIGHT - LEFT,
                    (low - high).max(1.5)
                ),
            );
            words.push(((low + high) / 2.0, RIGHT, colour, told(level)));
        }
    }
    let x = bar_x + 8.0;
    let longest = words.iter().map(|(.., text)| text.chars().count()).max();
    beside(words, x, out);
    x + LETTER * longest.unwrap_or(0) as f64 + MARGIN
}

/// Words beside the bars, none over another, each with a line to what it speaks of.
fn beside(mut words: Vec<(f64, f64, &str, String)>, x: f64, out: &mut String) {
    words.sort_by(|a, b| a.0.total_cmp(&b.0));
    // From below, so that the lowest stays inside the picture.
    let mut below = BOTTOM + LINE;
    for (y, from, colour, text) in words.iter().rev() {
        below = (below - LINE).min(*y);
        line(out, [*from, *y], [x - 4.0, below], colour);
        label(out, x, below + 4.0, "start", INK, text);
    }
}

fn told(level: &Level) -> String {
    if level.min_nm == level.max_nm {
        return format!("{} {} N·m", level.what, number(level.min_nm));
    }
    format!(
        "{} {} to {} N·m",
        level.what,
        number(level.min_nm),
        number(level.max_nm)
    )
}

fn colour(level: &Level) -> &'static str {
    match level.meaning {
        Meaning::Limit => ALARM,
        Meaning::Breakaway => CURVE,
        Meaning::Target | Meaning::Carried => BAND,
    }
}
