//! A still picture of one run, for a text that cannot hold a page.

use std::fmt::Write as _;

use super::run::{PagePoint, PageRun};
use super::words::{self, escape, number};

const WIDTH: f64 = 900.0;
const HEIGHT: f64 = 420.0;
const LEFT: f64 = 56.0;
const RIGHT: f64 = 770.0;
const TOP: f64 = 70.0;
const BOTTOM: f64 = 370.0;

/// Width of a letter of the usual sans-serif faces at this size.
const LETTER: f64 = 7.4;

/// Steps of the scales: parts and multiples of a turn, and round torques. Beyond the largest a
/// scale stays bare.
pub const ANGLE_STEPS: [f64; 12] = [
    0.2, 1.0, 5.0, 15.0, 30.0, 90.0, 180.0, 360.0, 720.0, 1800.0, 3600.0, 36000.0,
];
pub const TORQUE_STEPS: [f64; 12] = [
    0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0,
];

pub const INK: &str = "#1a1e23";
pub const SOFT: &str = "#55606b";
pub const CURVE: &str = "#0068a8";
pub const ALARM: &str = "#c24a00";

/// Draws one run with its snug point, target window and alarms. The same run gives the same bytes.
pub fn svg(run: &PageRun) -> String {
    let scale = Scale::of(run);
    let mut marks = String::new();
    scale.grid(&mut marks);
    scale.target(run, &mut marks);
    scale.curve(run, &mut marks);
    scale.flags(run, &mut marks);
    let (verdict, _) = words::verdict(run.verdict);
    let invented = if run.invented {
        ": invented scenario, simulated data"
    } else {
        ""
    };
    let heading = format!("{}, {verdict}{invented}", escape(&run.name));
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" role=\"img\" font-family=\"sans-serif\" font-size=\"13\" fill=\"{INK}\">\n\
         <title>{heading}: bolt torque over bolt angle</title>\n\
         <rect width=\"{WIDTH}\" height=\"{HEIGHT}\" fill=\"#ffffff\"/>\n\
         <text x=\"{LEFT}\" y=\"22\" font-size=\"15\" font-weight=\"bold\">{heading}</text>\n\
         {marks}\
         <text x=\"{RIGHT}\" y=\"{}\" text-anchor=\"end\">bolt angle, degrees from the start of the run</text>\n\
         <text transform=\"translate(16 {}) rotate(-90)\" text-anchor=\"middle\">bolt torque, N·m</text>\n\
         </svg>\n",
        BOTTOM + 40.0,
        (TOP + BOTTOM) / 2.0,
    )
}

/// From angle and torque to places in the picture.
struct Scale {
    angle: [f64; 2],
    torque: [f64; 2],
}

impl Scale {
    fn of(run: &PageRun) -> Self {
        let angles = points(run).map(|(a, _)| a);
        let torques = points(run)
            .map(|(_, t)| t)
            .chain(run.target.map(|t| t.torque_nm + t.half_width_nm));
        Self {
            angle: span(angles.chain([0.0]), 0.02),
            torque: span(torques.chain([0.0]), 0.05),
        }
    }

    fn x(&self, angle_deg: f64) -> f64 {
        let [low, high] = self.angle;
        LEFT + (angle_deg - low) / (high - low) * (RIGHT - LEFT)
    }

    fn y(&self, torque_nm: f64) -> f64 {
        let [low, high] = self.torque;
        // Marks stay inside the frame.
        (BOTTOM - (torque_nm - low) / (high - low) * (BOTTOM - TOP)).clamp(TOP, BOTTOM)
    }

    fn grid(&self, out: &mut String) {
        for (at, text) in ticks(self.angle, 9.0, &ANGLE_STEPS) {
            let x = self.x(at);
            line(out, [x, TOP], [x, BOTTOM], "#d3d9df");
            label(out, x, BOTTOM + 18.0, "middle", SOFT, &text);
        }
        for (at, text) in ticks(self.torque, 7.0, &TORQUE_STEPS) {
            let y = self.y(at);
            line(out, [LEFT, y], [RIGHT, y], "#d3d9df");
            label(out, LEFT - 8.0, y + 4.0, "end", SOFT, &text);
        }
    }

    fn target(&self, run: &PageRun, out: &mut String) {
        let Some(t) = run.target else { return };
        let [low, high] = [-1.0, 1.0].map(|side| self.y(t.torque_nm + side * t.half_width_nm));
        write(
            out,
            format_args!(
                "<rect x=\"{LEFT}\" y=\"{high:.1}\" width=\"{:.1}\" height=\"{:.1}\" fill=\"#8a94a0\" opacity=\"0.28\"/>\n",
                RIGHT - LEFT,
                low - high
            ),
        );
        line(
            out,
            [LEFT, self.y(t.torque_nm)],
            [RIGHT, self.y(t.torque_nm)],
            "#8a94a0",
        );
        for (side, what) in [(1.0, "window"), (0.0, "target"), (-1.0, "window")] {
            let torque = t.torque_nm + side * t.half_width_nm;
            let text = format!("{} {what}", number(torque, 1));
            label(out, RIGHT + 8.0, self.y(torque) + 4.0, "start", SOFT, &text);
        }
    }

    fn curve(&self, run: &PageRun, out: &mut String) {
        for stretch in run.curve.split(|p| place(p).is_none()) {
            let mut d = String::new();
            for (a, t) in columns(stretch, |a| self.x(a).round()) {
                let stroke = if d.is_empty() { 'M' } else { 'L' };
                write(
                    &mut d,
                    format_args!("{stroke}{:.1} {:.1}", self.x(a), self.y(t)),
                );
            }
            if !d.is_empty() {
                write(
                    out,
                    format_args!(
                        "<path d=\"{d}\" fill=\"none\" stroke=\"{CURVE}\" stroke-width=\"2\" stroke-linejoin=\"round\"/>\n"
                    ),
                );
            }
        }
    }

    /// Snug point and alarms, each with its words above the frame.
    fn flags(&self, run: &PageRun, out: &mut String) {
        let mut flags = Vec::new();
        if let Some(s) = run.snug_angle_deg {
            let text = format!("snug {}°", words::with_u(s, 1));
            flags.push((s.value, run.snug_torque_nm, INK, text));
        }
        for f in &run.findings {
            let text = format!("{} at {}°", f.label, number(f.angle_deg, 1));
            flags.push((f.angle_deg, f.torque_nm.unwrap_or(0.0), ALARM, text));
        }
        flags.retain(|(angle, torque, ..)| angle.is_finite() && torque.is_finite());
        let mut taken: Vec<(f64, [f64; 2])> = Vec::new();
        for (angle, torque, colour, text) in &flags {
            let (x, y) = (self.x(*angle).clamp(LEFT, RIGHT), self.y(*torque));
            let length = LETTER * text.chars().count() as f64;
            let (row, anchor, aside) = room(x, length, &taken);
            let from = if aside < 0.0 {
                x + aside - length
            } else {
                x + aside
            };
            taken.push((row, [from, from + length]));
            line(out, [x, row - 10.0], [x, y], colour);
            label(out, x + aside, row, anchor, colour, text);
            write(
                out,
                format_args!(
                    "<path d=\"M{x:.1} {:.1}l6 6l-6 6l-6 -6z\" fill=\"{colour}\"/>\n",
                    y - 6.0
                ),
            );
        }
    }
}

/// Row, anchor and distance of a flag's words, beside others that are there already: towards the wider
/// side and in the lower row where there is room.
fn room(x: f64, length: f64, taken: &[(f64, [f64; 2])]) -> (f64, &'static str, f64) {
    let sides = if x > (LEFT + RIGHT) / 2.0 {
        [("end", -6.0), ("start", 6.0)]
    } else {
        [("start", 6.0), ("end", -6.0)]
    };
    let places = [TOP - 10.0, TOP - 26.0]
        .into_iter()
        .flat_map(|row| sides.map(|(anchor, aside)| (row, anchor, aside)));
    places
        .clone()
        .find(|(row, _, aside)| {
            let from = if *aside < 0.0 {
                x + aside - length
            } else {
                x + aside
            };
            let to = from + length;
            let over = |(other, [a, b]): &(f64, [f64; 2])| other == row && from < *b && *a < to;
            from >= 0.0 && to <= WIDTH && !taken.iter().any(over)
        })
        .or(places.clone().next())
        .unwrap_or((TOP - 10.0, "start", 6.0))
}

fn place(p: &PagePoint) -> Option<(f64, f64)> {
    let torque = p.torque_nm.map(|t| t.value)?;
    (p.angle_deg.is_finite() && torque.is_finite()).then_some((p.angle_deg, torque))
}

fn points(run: &PageRun) -> impl Iterator<Item = (f64, f64)> {
    run.curve.iter().filter_map(place)
}

/// First, lowest, highest and last point of each column: a peak is evidence, an average would hide it.
fn columns(stretch: &[PagePoint], column: impl Fn(f64) -> f64) -> Vec<(f64, f64)> {
    let points: Vec<_> = stretch.iter().filter_map(place).collect();
    points
        .chunk_by(|a, b| column(a.0) == column(b.0))
        .flat_map(|group| {
            let by_torque = |a: &&(f64, f64), b: &&(f64, f64)| a.1.total_cmp(&b.1);
            let low = group.iter().min_by(by_torque);
            let high = group.iter().max_by(by_torque);
            let mut kept: Vec<_> = [group.first(), low, high, group.last()]
                .into_iter()
                .flatten()
                .copied()
                .collect();
            kept.dedup();
            kept
        })
        .collect()
}

/// From the least to the greatest, never empty, with room for its `part` above.
fn span(values: impl Iterator<Item = f64>, part: f64) -> [f64; 2] {
    let [low, high] = values
        .filter(|x| x.is_finite())
        .fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], x| {
            [low.min(x), high.max(x)]
        });
    if low < high {
        [low, high + part * (high - low)]
    } else if low.is_finite() {
        [low, low + 1.0]
    } else {
        [0.0, 1.0]
    }
}

pub fn ticks([low, high]: [f64; 2], at_most: f64, steps: &[f64]) -> Vec<(f64, String)> {
    let least = (high - low) / at_most;
    let Some(step) = steps.iter().copied().find(|s| *s >= least) else {
        return Vec::new();
    };
    let digits = usize::from(step < 1.0);
    let (first, last) = ((low / step).ceil() as i64, (high / step).floor() as i64);
    (first..=last)
        .map(|k| k as f64 * step)
        .map(|x| (x, number(x, digits)))
        .collect()
}

pub fn line(out: &mut String, from: [f64; 2], to: [f64; 2], colour: &str) {
    write(
        out,
        format_args!(
            "<path d=\"M{:.1} {:.1}L{:.1} {:.1}\" stroke=\"{colour}\"/>\n",
            from[0], from[1], to[0], to[1]
        ),
    );
}

pub fn label(out: &mut String, x: f64, y: f64, anchor: &str, colour: &str, text: &str) {
    write(
        out,
        format_args!(
            "<text x=\"{x:.1}\" y=\"{y:.1}\" text-anchor=\"{anchor}\" fill=\"{colour}\">{}</text>\n",
            escape(text)
        ),
    );
}

pub fn write(out: &mut String, text: std::fmt::Arguments<'_>) {
    // Writing to a string cannot fail.
    let _ = out.write_fmt(text);
}
