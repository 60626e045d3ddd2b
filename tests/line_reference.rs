//! Slope and standard error against scipy.stats.linregress, see `tests/reference/line.py`.

use bolting_monitor::curve::{Line, Point};

#[test]
fn slopes_and_their_errors_are_those_of_a_statistics_library() {
    let text = include_str!("reference/line.csv");
    let rows: Vec<Vec<f64>> = text
        .lines()
        .skip(1)
        .map(|line| {
            line.split(',')
                .map(|v| v.parse().expect("a number"))
                .collect()
        })
        .collect();
    let (mut cases, mut worst) = (0, 0.0_f64);
    for case in rows.chunk_by(|a, b| a[0] == b[0]) {
        let points = case.iter().map(|r| Point {
            x: r[1] as f32,
            y: r[2] as f32,
            weight: 0.0087,
        });
        let line = Line::fit(points).expect("a line");
        for (got, wanted) in [
            (line.slope, case[0][3]),
            (line.slope_u, case[0][4]),
            (line.residual, case[0][5]),
        ] {
            // Against the size of slope or error, whichever is larger: a slope may be near 0.
            let scale = wanted.abs().max(case[0][4]);
            worst = worst.max((f64::from(got) - wanted).abs() / scale);
        }
        cases += 1;
    }
    println!("worst relative difference over {cases} fits: {worst:e}");
    assert_eq!(cases, 12);
    assert!(worst < 2e-3, "{worst:e}");
}
