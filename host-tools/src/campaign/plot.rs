//! A plain line plot, as SVG.

use std::fmt::Write as _;

const WIDTH: f64 = 640.0;
const HEIGHT: f64 = 320.0;
const LEFT: f64 = 48.0;
const RIGHT: f64 = 500.0;
const TOP: f64 = 40.0;
const BOTTOM: f64 = 270.0;
/// Colours that stay apart for eyes that see few of them; the dashes tell them apart without any.
const STYLES: [(&str, &str); 5] = [
    ("#0068a8", ""),
    ("#3a8a4d", "8 3"),
    ("#c24a00", "2 3"),
    ("#6b5b95", "8 3 2 3"),
    ("#1a1e23", "14 4"),
];

/// Values of one line, one for each place.
pub(super) struct Line {
    pub name: &'static str,
    pub values: Vec<f64>,
}

/// Lines over the same places, which stand evenly apart.
pub(super) struct Plot<'a> {
    pub title: &'a str,
    pub places: &'a [f64],
    /// Highest value of the upright axis, which begins at 0.
    pub top: f64,
    pub unit: &'a str,
    pub lines: Vec<Line>,
}

impl Plot<'_> {
    /// The picture. The same figures give the same bytes.
    pub fn svg(&self) -> String {
        let steps = self.places.len().saturating_sub(1).max(1) as f64;
        let x = |i: usize| LEFT + (RIGHT - LEFT) * i as f64 / steps;
        let y = |value: f64| BOTTOM - (BOTTOM - TOP) * (value / self.top).min(1.0);
        let mut marks = String::new();
        // Writing to a string cannot fail.
        for quarter in 0..5 {
            let value = 0.25 * f64::from(quarter) * self.top;
            let at = y(value);
            let _ = writeln!(
                marks,
                "<path d=\"M{LEFT} {at}H{RIGHT}\" stroke=\"#d5dae0\"/>\n<text x=\"{}\" y=\"{}\" text-anchor=\"end\">{value} {}</text>",
                LEFT - 6.0,
                at + 4.0,
                self.unit
            );
        }
        for (i, place) in self.places.iter().enumerate() {
            let _ = writeln!(
                marks,
                "<text x=\"{}\" y=\"{}\" text-anchor=\"middle\">{place}</text>",
                x(i),
                BOTTOM + 18.0
            );
        }
        for (n, (line, (colour, dash))) in self.lines.iter().zip(STYLES).enumerate() {
            let points: Vec<String> = line
                .values
                .iter()
                .enumerate()
                .filter(|(_, v)| v.is_finite())
                .map(|(i, v)| format!("{:.1},{:.1}", x(i), y(*v)))
                .collect();
            let at = TOP + 20.0 * n as f64;
            let _ = writeln!(
                marks,
                "<g fill=\"none\" stroke=\"{colour}\" stroke-width=\"2\" stroke-dasharray=\"{dash}\"><polyline points=\"{}\"/><path d=\"M{} {at}h24\"/></g>\n<text x=\"{}\" y=\"{}\">{}</text>",
                points.join(" "),
                RIGHT + 14.0,
                RIGHT + 44.0,
                at + 4.0,
                line.name
            );
        }
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" role=\"img\" font-family=\"sans-serif\" font-size=\"12\" fill=\"#1a1e23\">\n\
             <title>{title}</title>\n\
             <rect width=\"{WIDTH}\" height=\"{HEIGHT}\" fill=\"#ffffff\"/>\n\
             {marks}\
             <text x=\"{LEFT}\" y=\"22\" font-weight=\"bold\">Simulated campaign: {title}</text>\n\
             </svg>\n",
            title = self.title
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_runs_from_the_bottom_left_to_the_top_right() {
        let plot = Plot {
            title: "t",
            places: &[1.0, 2.0, 4.0],
            top: 100.0,
            unit: "%",
            lines: vec![Line {
                name: "found",
                values: vec![0.0, f64::NAN, 100.0],
            }],
        };
        assert!(plot.svg().contains("points=\"48.0,270.0 500.0,40.0\""));
    }
}
