//! scratch
use bolting_host::campaign::run_all;
fn main() {
    let a: Vec<String> = std::env::args().collect();
    let r = run_all(
        a[1].parse().unwrap(),
        a[2].parse().unwrap()..a[3].parse().unwrap(),
    )
    .unwrap();
    for x in r.iter().filter(|r| !r.sound()) {
        let s = bolting_host::simulate::campaign(a[1].parse().unwrap(), x.index);
        println!(
            "{} {} {} tgt {:.1} at {:?} onset {:.0} peak {:.0} delay {:.1} fromPeak {:.1} grain {:.2}/{:.0}° clamp {:.3} lvl {:.2} lock {:?} band {:?} el {:.0} yield {:?} {:?}",
            x.index,
            if x.spindle { "spin" } else { "wrist" },
            x.fault,
            x.target_nm,
            x.stop
                .as_ref()
                .map(|s| (s.kind.clone(), (s.torque_part * 100.0).round())),
            x.onset_deg.unwrap_or(0.0),
            x.peak_deg,
            x.stop
                .as_ref()
                .map_or(f64::NAN, |s| s.at_deg - x.onset_deg.unwrap_or(0.0)),
            x.stop.as_ref().map_or(f64::NAN, |s| s.at_deg - x.peak_deg),
            s.bolt.grain,
            s.bolt.grain_correlation_deg,
            s.bolt.clamp_grain,
            s.bolt.running_nm,
            s.bolt
                .locking
                .as_ref()
                .map(|l| (l.torque_nm, l.entry_turns, l.rise_turns)),
            s.stated.prevailing_nm,
            s.bolt.elastic_deg,
            s.bolt.yield_nm,
            s.fault
        );
    }
}
