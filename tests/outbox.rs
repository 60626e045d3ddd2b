//! The sender's queue over links that fail: nothing that matters is lost, and the rest is counted.

mod common;

use std::collections::BTreeSet;

use bolting_monitor::detect::{Finding, FindingKind};
use bolting_monitor::monitor::Update;
use bolting_monitor::wire::{
    Ack, Cycle, FromController, Heartbeat, Hello, LinkDown, Outbox, Point, Progress, RetainedFull,
};
use common::{finding, read, summary, update};
use embedded_io::{ErrorKind, ErrorType, Write, WriteReady};
use proptest::prelude::*;

const RESEND_US: u64 = 100_000;

/// What the link does at one write.
#[derive(Clone, Copy, Debug)]
enum Act {
    Take(usize),
    Busy,
    Fail,
    Zero,
}

/// A link that follows a script, then takes everything.
#[derive(Default)]
struct Link {
    received: Vec<u8>,
    script: std::collections::VecDeque<Act>,
}

impl ErrorType for Link {
    type Error = ErrorKind;
}

impl WriteReady for Link {
    fn write_ready(&mut self) -> Result<bool, ErrorKind> {
        if matches!(self.script.front(), Some(Act::Busy)) {
            self.script.pop_front();
            return Ok(false);
        }
        Ok(true)
    }
}

impl Write for Link {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, ErrorKind> {
        let n = match self.script.pop_front() {
            None => bytes.len(),
            Some(Act::Take(n)) => n.clamp(1, bytes.len()),
            Some(Act::Busy) => unreachable!("written to while not ready"),
            Some(Act::Fail) => {
                // What a pulled plug looks like to the receiver.
                self.received.push(0x55);
                return Err(ErrorKind::BrokenPipe);
            }
            Some(Act::Zero) => return Ok(0),
        };
        self.received.extend_from_slice(&bytes[..n]);
        Ok(n)
    }

    fn flush(&mut self) -> Result<(), ErrorKind> {
        Ok(())
    }
}

fn hello() -> Hello {
    Hello {
        boot_id: 77,
        run: 1,
        ticks_per_s: 1_000_000,
        ..Hello::default()
    }
}

fn point(i: u32) -> Point {
    Point {
        time_us: i,
        angle_rad: i as f32,
        torque_nm: 1.0,
        torque_u_nm: 0.5,
        flags: 0,
    }
}

fn kinds(messages: &[FromController]) -> Vec<&'static str> {
    messages
        .iter()
        .map(|m| match m {
            FromController::Hello(_) => "hello",
            FromController::Points(_) => "points",
            FromController::Alarm(_) => "alarm",
            FromController::Evidence(_) => "evidence",
            FromController::SnugSeen(_) => "snug_seen",
            FromController::SnugAngle(_) => "snug_angle",
            FromController::Summary(_) => "summary",
            FromController::Thinned(_) => "thinned",
            FromController::Cycle(_) => "cycle",
            FromController::Heartbeat(_) => "heartbeat",
            _ => "other",
        })
        .collect()
}

fn points_in(messages: &[FromController]) -> Vec<Point> {
    messages
        .iter()
        .flat_map(|m| match m {
            FromController::Points(p) => p.points.to_vec(),
            _ => Vec::new(),
        })
        .collect()
}

#[test]
fn only_the_newest_word_on_the_control_loop_is_sent() {
    let mut outbox = Outbox::<16, 8>::new(hello(), RESEND_US);
    let newest = Cycle {
        cycles: 2,
        ..Cycle::default()
    };
    outbox.offer_cycle(Cycle::default());
    outbox.offer_cycle(newest);
    outbox.offer_heartbeat(Heartbeat::default());
    let mut link = Link::default();
    assert_eq!(outbox.poll(0, &mut link), Ok(Progress::Idle));
    let (messages, _) = read(&link.received);
    assert_eq!(kinds(&messages), ["hello", "cycle", "heartbeat"]);
    assert!(messages.contains(&FromController::Cycle(newest)));
}

#[test]
fn the_alarm_goes_first_and_the_summary_behind_the_curve() {
    let mut outbox = Outbox::<16, 8>::new(hello(), RESEND_US);
    outbox.offer_heartbeat(Heartbeat::default());
    outbox.offer_summary(&summary()).expect("room");
    for i in 0..20 {
        outbox.offer_point(point(i));
    }
    let last = Update {
        snug_seen: true,
        finding: Some(finding()),
        curve_point: true,
        ..update(5)
    };
    outbox.offer(&last).expect("room");
    let mut link = Link::default();
    assert_eq!(outbox.poll(0, &mut link), Ok(Progress::Idle));
    let (messages, counts) = read(&link.received);
    assert_eq!(
        kinds(&messages),
        [
            "alarm",
            "hello",
            "evidence",
            "snug_seen",
            "points",
            "points",
            "thinned",
            "summary",
            "heartbeat"
        ]
    );
    assert_eq!((counts.garbled, counts.lost), (0, 0));
    assert_eq!(outbox.poll(0, &mut link), Ok(Progress::Idle));
    assert_eq!(read(&link.received).0.len(), 9, "nothing is said twice");
}

#[test]
fn retained_messages_come_again_until_acknowledged() {
    let mut outbox = Outbox::<4, 4>::new(hello(), RESEND_US);
    let id = outbox.offer_finding(&finding()).expect("room");
    let said = |outbox: &mut Outbox<4, 4>, now_us| {
        let mut link = Link::default();
        outbox.poll(now_us, &mut link).expect("sound link");
        kinds(&read(&link.received).0).join(" ")
    };
    assert_eq!(said(&mut outbox, 1_000), "alarm hello evidence");
    assert_eq!(said(&mut outbox, 100_999), "");
    assert_eq!(said(&mut outbox, 101_000), "alarm evidence");
    assert_eq!(said(&mut outbox, 500), "alarm evidence", "time began anew");
    assert!(!outbox.acknowledge(&Ack { boot_id: 78, id }));
    assert!(outbox.acknowledge(&Ack { boot_id: 77, id }));
    assert!(!outbox.acknowledge(&Ack { boot_id: 77, id }));
    assert_eq!(said(&mut outbox, 900_000), "");
}

#[test]
fn a_torn_frame_ends_and_is_sent_again_whole() {
    let mut outbox = Outbox::<4, 4>::new(hello(), RESEND_US);
    let mut link = Link::default();
    outbox.poll(0, &mut link).expect("sound link");
    outbox.offer_finding(&finding()).expect("room");
    link.script.extend([Act::Take(10), Act::Zero]);
    assert_eq!(outbox.poll(0, &mut link), Err(LinkDown::WriteZero));
    link.script.extend([Act::Fail]);
    assert_eq!(
        outbox.poll(0, &mut link),
        Err(LinkDown::Link(ErrorKind::BrokenPipe))
    );
    assert_eq!(outbox.poll(0, &mut link), Ok(Progress::Idle));
    let (messages, counts) = read(&link.received);
    assert_eq!(kinds(&messages), ["hello", "alarm", "hello", "evidence"]);
    assert_eq!((counts.garbled, counts.lost), (1, 0));
}

#[test]
fn a_host_that_never_acknowledges_gets_every_alarm_at_least_once() {
    let mut outbox = Outbox::<4, 3>::new(hello(), u64::MAX);
    outbox.offer_summary(&summary()).expect("room");
    let mut link = Link::default();
    for i in 0..300_u64 {
        let finding = Finding {
            time_us: i,
            ..finding()
        };
        outbox
            .offer_finding(&finding)
            .expect("a sent one gives way");
        outbox.poll(i, &mut link).expect("sound link");
    }
    let (messages, _) = read(&link.received);
    let seen: BTreeSet<_> = messages
        .iter()
        .filter_map(|m| match m {
            FromController::Evidence(e) => Some(e.time_us),
            _ => None,
        })
        .collect();
    assert_eq!(seen, (0..300).collect());
    assert_eq!((outbox.retained(), outbox.displaced()), (3, 298));
}

#[test]
fn what_was_never_sent_is_not_displaced() {
    let mut outbox = Outbox::<4, 2>::new(hello(), RESEND_US);
    outbox.offer_finding(&finding()).expect("room");
    outbox.offer_finding(&finding()).expect("room");
    assert_eq!(outbox.offer_finding(&finding()), Err(RetainedFull));
    assert_eq!(outbox.displaced(), 0);
}

#[test]
fn thinning_spares_both_ends_of_the_curve() {
    let mut outbox = Outbox::<64, 1>::new(hello(), RESEND_US);
    for i in 0..10_000 {
        outbox.offer_point(point(i));
    }
    let mut link = Link::default();
    outbox.poll(0, &mut link).expect("sound link");
    let points = points_in(&read(&link.received).0);
    assert_eq!(points.first().map(|p| p.time_us), Some(0));
    assert_eq!(points.last().map(|p| p.time_us), Some(9_999));
    assert!(points.is_sorted_by(|a, b| a.time_us < b.time_us));
    assert_eq!(points.len() + outbox.thinned() as usize, 10_000);
}

#[test]
fn the_rest_of_a_curve_goes_ahead_of_the_next_run() {
    let mut outbox = Outbox::<32, 4>::new(hello(), RESEND_US);
    for i in 0..20 {
        outbox.offer_point(point(i));
    }
    outbox.offer_summary(&summary()).expect("room");
    outbox.introduce(Hello { run: 2, ..hello() });
    outbox.offer_point(point(20));
    let mut link = Link::default();
    assert_eq!(outbox.poll(0, &mut link), Ok(Progress::Idle));
    let (messages, _) = read(&link.received);
    let said = "hello points points hello points summary";
    assert_eq!(kinds(&messages).join(" "), said);
    assert_eq!(points_in(&messages).len(), 21);

    // Two runs behind: only the last of them is still told of.
    for run in 3..6 {
        outbox.introduce(Hello { run, ..hello() });
        outbox.offer_point(point(run));
    }
    let mut link = Link::default();
    assert_eq!(outbox.poll(0, &mut link), Ok(Progress::Idle));
    let (messages, _) = read(&link.received);
    assert_eq!(
        kinds(&messages).join(" "),
        "hello points hello points thinned"
    );
    assert_eq!(outbox.thinned(), 1);
}

fn act() -> impl Strategy<Value = Act> {
    prop_oneof![
        6 => (1..300_usize).prop_map(Act::Take),
        2 => Just(Act::Busy),
        1 => Just(Act::Fail),
        1 => Just(Act::Zero),
    ]
}

#[derive(Clone, Debug)]
enum Step {
    Points(u32),
    Finding,
    Run,
    Poll(Vec<Act>),
    AcknowledgeAll,
}

fn step() -> impl Strategy<Value = Step> {
    prop_oneof![
        3 => (1..40_u32).prop_map(Step::Points),
        1 => Just(Step::Finding),
        1 => Just(Step::Run),
        4 => proptest::collection::vec(act(), 0..8).prop_map(Step::Poll),
        1 => Just(Step::AcknowledgeAll),
    ]
}

proptest! {
    /// Whatever the link does, once it works again: every finding has arrived with its evidence, no
    /// frame is missing, points received and points thinned are the points offered, and each came
    /// behind the introduction of its own run.
    #[test]
    fn over_any_failing_link_nothing_is_lost_uncounted(
        steps in proptest::collection::vec(step(), 1..60),
    ) {
        let mut outbox = Outbox::<32, 64>::new(hello(), RESEND_US);
        let mut link = Link::default();
        let (mut offered_points, mut offered_findings, mut now_us) = (0, 0, 0);
        let mut run = 1;
        for step in steps {
            now_us += 20_000;
            match step {
                Step::Points(n) => {
                    for i in 0..n {
                        outbox.offer_point(Point {
                            torque_nm: run as f32,
                            ..point(offered_points + i)
                        });
                    }
                    offered_points += n;
                }
                Step::Finding => {
                    let finding = Finding { time_us: offered_findings, ..finding() };
                    outbox.offer_finding(&finding).expect("room for all");
                    offered_findings += 1;
                }
                Step::Run => {
                    run += 1;
                    outbox.introduce(Hello { run, ..hello() });
                }
                Step::Poll(script) => {
                    link.script = script.into();
                    // An error is the link's; the queue must simply carry on.
                    let _ = outbox.poll(now_us, &mut link);
                    link.script.clear();
                }
                Step::AcknowledgeAll => {
                    for message in read(&link.received).0 {
                        if let FromController::Evidence(e) = message {
                            outbox.acknowledge(&Ack { boot_id: 77, id: e.id });
                        }
                    }
                }
            }
        }
        prop_assert_eq!(outbox.poll(now_us, &mut link), Ok(Progress::Idle));

        let (messages, counts) = read(&link.received);
        prop_assert_eq!(counts.lost, 0);
        let points = points_in(&messages);
        prop_assert!(points.is_sorted_by(|a, b| a.time_us < b.time_us));
        prop_assert_eq!(points.len() as u32 + outbox.thinned(), offered_points);
        let mut speaking = None;
        for message in &messages {
            match message {
                FromController::Hello(hello) => speaking = Some(hello.run as f32),
                FromController::Points(p) => {
                    prop_assert!(p.points.iter().all(|p| Some(p.torque_nm) == speaking));
                }
                _ => {}
            }
        }
        let told = messages.iter().rev().find_map(|m| match m {
            FromController::Thinned(t) => Some(t.points),
            _ => None,
        });
        prop_assert_eq!(told.unwrap_or(0), outbox.thinned());
        let mut alarms = BTreeSet::new();
        let mut evidence = BTreeSet::new();
        for message in &messages {
            match message {
                FromController::Alarm(a) => {
                    prop_assert_eq!(a.kind(), Some(FindingKind::Strip));
                    alarms.insert(u64::from(a.time_us));
                }
                FromController::Evidence(e) => { evidence.insert(e.time_us); }
                _ => {}
            }
        }
        let all: BTreeSet<_> = (0..offered_findings).collect();
        prop_assert_eq!(&alarms, &all);
        prop_assert_eq!(&evidence, &all);
    }
}
