//! What version 1 wrote must be read by every later version, and written the same as long as the
//! protocol is version 1. `WRITE_GOLDEN=1` makes the files anew: only for a message that is new.

mod common;

use bolting_monitor::detect::{Finding, Place};
use bolting_monitor::procedure::Turn;
use bolting_monitor::wire::{
    Ack, Cycle, Decoder, EarlierEvidence, EarlierHello, Evidence, EvidenceWithoutPlace, Finish,
    FromController, Heartbeat, Hello, JobReply, JobStatus, LiftStop, MAX_WIRE, Payload, Point,
    Points, Sample, SnugAngle, SnugSeen, Start, Summary, Thinned, ToController, encode, job_chunks,
};
use common::{finding, sample, summary};

fn wire<T: Payload>(seq: u32, message: &T) -> Vec<u8> {
    let mut out = [0; MAX_WIRE];
    let n = encode(seq, message, &mut out).expect("fits");
    out[..n].to_vec()
}

fn file(name: &str, current: &[u8]) -> Vec<u8> {
    let path = format!("{}/tests/golden/{name}", env!("CARGO_MANIFEST_DIR"));
    if std::env::var_os("WRITE_GOLDEN").is_some() {
        std::fs::write(&path, current).expect("write the golden file");
    }
    std::fs::read(&path).expect("the golden file is part of the repository")
}

/// Everything a version 1 controller could say, and what is expected of every later reader.
fn said() -> Vec<FromController> {
    let unexplained = Finding {
        likely: None,
        runner_up: None,
        ..finding()
    };
    let (alarm, evidence) = Evidence::split(&unexplained, 1, 2, 250_000);
    let point = Point {
        time_us: 1_000,
        angle_rad: 0.5,
        torque_nm: 1.25,
        torque_u_nm: 0.125,
        flags: Point::OBSERVABLE | Point::TURNING,
    };
    vec![
        FromController::Hello(Hello {
            boot_id: 0x1234_5678,
            run: 2,
            run_start_us: 250_000,
            ticks_per_s: 1_000_000,
            joints: 7,
            software: [0, 1, 0],
            job_crc: 0xCBF4_3926,
            job: "cell-7 flange bolt 3".try_into().expect("short"),
            turn: Turn::default(),
        }),
        FromController::JobReply(JobReply {
            crc: 0xCBF4_3926,
            status: JobStatus::Loaded.wire_code(),
        }),
        FromController::Points(Points {
            points: [point, Point { flags: 0, ..point }].into_iter().collect(),
        }),
        FromController::SnugSeen(SnugSeen {
            id: 0,
            run: 2,
            point,
        }),
        FromController::Alarm(alarm),
        FromController::Evidence(evidence),
        FromController::SnugAngle(SnugAngle {
            id: 2,
            run: 2,
            angle_rad: 31.5,
            angle_u_rad: 0.125,
            torque_nm: 0.5,
        }),
        FromController::Thinned(Thinned { points: 300 }),
        FromController::Summary(Summary::new(&summary(), 3, 2)),
        FromController::Heartbeat(Heartbeat {
            time_us: 4_000_000,
            samples: 4000,
            permitted: false,
            retained: 4,
            displaced: 0,
            garbled: 1,
            lost: 2,
            refused: 3,
        }),
    ]
}

/// What a controller without passes said.
fn earlier_hello(h: &Hello) -> EarlierHello {
    EarlierHello {
        boot_id: h.boot_id,
        run: h.run,
        run_start_us: h.run_start_us,
        ticks_per_s: h.ticks_per_s,
        joints: h.joints,
        software: h.software,
        job_crc: h.job_crc,
        job: h.job.clone(),
    }
}

/// What a controller that named no causes said.
fn earlier(e: &Evidence) -> EarlierEvidence {
    EarlierEvidence {
        id: e.id,
        run: e.run,
        time_us: e.time_us,
        slope_nm_per_rad: e.slope_nm_per_rad,
        slope_u_nm_per_rad: e.slope_u_nm_per_rad,
        advance_ratio: e.advance_ratio,
        quantity: e.quantity,
        value: e.value,
        limit: e.limit,
    }
}

fn without_place(e: &Evidence) -> EvidenceWithoutPlace {
    EvidenceWithoutPlace {
        id: e.id,
        run: e.run,
        time_us: e.time_us,
        slope_nm_per_rad: e.slope_nm_per_rad,
        slope_u_nm_per_rad: e.slope_u_nm_per_rad,
        advance_ratio: e.advance_ratio,
        quantity: e.quantity,
        value: e.value,
        limit: e.limit,
        likely: e.likely,
        runner_up: e.runner_up,
    }
}

fn said_bytes(messages: &[FromController]) -> Vec<u8> {
    (0..)
        .zip(messages)
        .flat_map(|(seq, message)| match message {
            FromController::Hello(m) => wire(seq, &earlier_hello(m)),
            FromController::Points(m) => wire(seq, m),
            FromController::Alarm(m) => wire(seq, m),
            FromController::Evidence(m) => wire(seq, &earlier(m)),
            FromController::SnugSeen(m) => wire(seq, m),
            FromController::SnugAngle(m) => wire(seq, m),
            FromController::Summary(m) => wire(seq, m),
            FromController::Thinned(m) => wire(seq, m),
            FromController::Heartbeat(m) => wire(seq, m),
            FromController::JobReply(m) => wire(seq, m),
            other => panic!("no golden bytes for {other:?}"),
        })
        .collect()
}

/// Everything a version 1 host could say.
fn asked() -> Vec<ToController> {
    let job: Vec<u8> = (0..200).collect();
    let mut asked: Vec<_> = job_chunks(&job)
        .expect("short enough")
        .map(ToController::JobChunk)
        .collect();
    asked.extend([
        ToController::Start(Start),
        ToController::Sample(Sample::new(&sample()).expect("seven joints")),
        ToController::Ack(Ack {
            boot_id: 0x1234_5678,
            id: 3,
        }),
        ToController::Finish(Finish),
        ToController::LiftStop(LiftStop),
    ]);
    asked
}

fn asked_bytes(messages: &[ToController]) -> Vec<u8> {
    (0..)
        .zip(messages)
        .flat_map(|(seq, message)| match message {
            ToController::Sample(m) => wire(seq, m),
            ToController::Ack(m) => wire(seq, m),
            ToController::JobChunk(m) => wire(seq, m),
            ToController::Start(m) => wire(seq, m),
            ToController::Finish(m) => wire(seq, m),
            ToController::LiftStop(m) => wire(seq, m),
            other => panic!("no golden bytes for {other:?}"),
        })
        .collect()
}

#[test]
fn what_a_controller_of_version_1_said_is_read_and_written_the_same() {
    let bytes = file("wire-v1.bin", &said_bytes(&said()));
    let (messages, counts) = common::read(&bytes);
    assert_eq!(messages, said());
    assert_eq!((counts.garbled, counts.lost), (0, 0));
    assert_eq!(said_bytes(&said()), bytes);
}

#[test]
fn what_a_host_of_version_1_asked_is_read_and_written_the_same() {
    let bytes = file("wire-v1-requests.bin", &asked_bytes(&asked()));
    let mut decoder = Decoder::new();
    let mut messages = Vec::new();
    for byte in &bytes {
        if let Some(frame) = decoder.feed(*byte) {
            messages.push(ToController::decode(&frame).expect("a known message"));
        }
    }
    assert_eq!(messages, asked());
    assert_eq!(asked_bytes(&asked()), bytes);
}

#[test]
fn causes_and_turns_are_read_and_written_the_same() {
    let (_, evidence) = Evidence::split(&finding(), 1, 2, 250_000);
    let hello = Hello {
        boot_id: 7,
        run: 2,
        job: "flange".try_into().expect("short"),
        turn: Turn { pass: 2, bolt: 11 },
        ..Hello::default()
    };
    let now = [wire(0, &hello), wire(1, &without_place(&evidence))].concat();
    let bytes = file("wire-causes-and-turns.bin", &now);
    let (messages, _) = common::read(&bytes);
    assert_eq!(
        messages,
        [
            FromController::Hello(hello),
            FromController::Evidence(evidence)
        ]
    );
    assert_eq!(now, bytes);
}

#[test]
fn places_are_read_and_written_the_same() {
    let places = [
        None,
        Some(Place::Joint(4)),
        Some(Place::Relief([0.6, -0.8, 0.0])),
    ];
    let evidence = places.map(|place| {
        let finding = Finding { place, ..finding() };
        let (alarm, evidence) = Evidence::split(&finding, 1, 2, 250_000);
        assert_eq!(evidence.join(&alarm), Some(finding));
        evidence
    });
    let now = evidence.map(|e| wire(0, &e)).concat();
    let bytes = file("wire-places.bin", &now);
    let expected = evidence.map(FromController::Evidence);
    assert_eq!(common::read(&bytes).0, expected);
    assert_eq!(now, bytes);
}

#[test]
fn the_cycle_is_read_and_written_the_same() {
    let cycle = Cycle {
        period_us: 1_000,
        cycles: 70_000,
        idle: 300,
        worst_us: 250,
        left_out: 2,
    };
    let now = wire(0, &cycle);
    let bytes = file("wire-cycle.bin", &now);
    assert_eq!(common::read(&bytes).0, [FromController::Cycle(cycle)]);
    assert_eq!(now, bytes);
}
