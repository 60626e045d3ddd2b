//! Frames and messages: bounds, damage, unknown kinds, old logs.

mod common;

use bolting_monitor::detect::FindingKind;
use bolting_monitor::procedure::Reason;
use bolting_monitor::wire::{
    Ack, Alarm, Cycle, Decoder, EncodeError, Evidence, Finish, Frame, FromController, Heartbeat,
    Hello, JobAssembler, JobChunk, JobReply, JobStatus, MAX_CONTENT, MAX_WIRE, MessageError,
    Payload, Point, Points, Sample, SnugAngle, SnugSeen, Start, Summary, Thinned, ToController,
    TransferError, encode, encode_raw, job_chunks,
};
use common::{finding, sample, summary};
use heapless::Vec as FixedVec;
use proptest::prelude::*;

const NOISY: [f32; 8] = [
    f32::MAX,
    f32::MIN,
    f32::NAN,
    f32::INFINITY,
    -0.0,
    f32::MIN_POSITIVE,
    1e-45,
    -1.234_567_8e-7,
];

fn wire<T: Payload>(seq: u32, message: &T) -> Vec<u8> {
    let mut out = [0; MAX_WIRE];
    let n = encode(seq, message, &mut out).expect("fits");
    out[..n].to_vec()
}

fn only_frame<R>(bytes: &[u8], read: impl Fn(&Frame<'_>) -> R) -> Option<R> {
    let mut decoder = Decoder::new();
    let mut result = None;
    for byte in bytes {
        if let Some(frame) = decoder.feed(*byte) {
            assert!(result.is_none(), "more than one frame");
            result = Some(read(&frame));
        }
    }
    result
}

fn full_point() -> Point {
    Point {
        time_us: u32::MAX,
        angle_rad: f32::MAX,
        torque_nm: f32::MIN,
        torque_u_nm: 1.0,
        flags: u8::MAX,
    }
}

#[test]
fn an_alarm_takes_at_most_32_bytes_on_the_wire() {
    let mut longest = 0;
    for seq in [0, 127, 128, 1 << 21, 1 << 28, u32::MAX] {
        for time_us in [0, 1, 255, 65_536, u32::MAX] {
            for byte in [0, 1, 127, 128, 255] {
                for value in NOISY {
                    let alarm = Alarm {
                        id: byte,
                        run: byte,
                        code: byte,
                        time_us,
                        angle_rad: value,
                        torque_nm: value,
                        torque_u_nm: value,
                    };
                    longest = longest.max(wire(seq, &alarm).len());
                }
            }
        }
    }
    // Equality, so that the bound is also reached and the figure in the documents stays true.
    assert_eq!(longest, 32);
}

#[test]
fn the_longest_of_every_message_fits_a_frame() {
    let full = Sample {
        time_us: u64::MAX,
        position_rad: FixedVec::from_array([f32::MAX; 8]),
        velocity_rad_s: Some(FixedVec::from_array([f32::MAX; 8])),
        torque_nm: FixedVec::from_array([f32::MAX; 8]),
        ..Sample::new(&sample()).expect("seven joints")
    };
    let (alarm, evidence) = Evidence::split(&finding(), 255, u32::MAX, 0);
    let evidence = Evidence {
        time_us: u64::MAX,
        relief: Some([f32::MAX; 3]),
        ..evidence
    };
    let hello = Hello {
        boot_id: u32::MAX,
        run: u32::MAX,
        run_start_us: u64::MAX,
        ticks_per_s: u32::MAX,
        joints: 255,
        software: [255; 3],
        job_crc: u32::MAX,
        job: "x".repeat(32).as_str().try_into().expect("32 bytes"),
        turn: Default::default(),
    };
    let mut long = summary();
    long.reasons = FixedVec::from_array([Reason::UndoingNotJudged; 8]);
    (long.samples, long.gaps, long.unusable_samples) = (u32::MAX, u32::MAX, u32::MAX);
    let heartbeat = Heartbeat {
        time_us: u64::MAX,
        samples: u32::MAX,
        permitted: true,
        retained: 255,
        displaced: u32::MAX,
        garbled: u32::MAX,
        lost: u32::MAX,
        refused: u32::MAX,
    };
    let snug = SnugAngle {
        id: 255,
        run: 255,
        angle_rad: 1.0,
        angle_u_rad: 1.0,
        torque_nm: 1.0,
    };
    let points = Points {
        points: FixedVec::from_array([full_point(); 12]),
    };
    let chunk = JobChunk {
        total: u16::MAX,
        offset: u16::MAX,
        crc: u32::MAX,
        data: FixedVec::from_array([255; 192]),
    };
    let seen = SnugSeen {
        id: 255,
        run: 255,
        point: full_point(),
    };
    let lengths = [
        wire(u32::MAX, &hello).len(),
        wire(u32::MAX, &points).len(),
        wire(u32::MAX, &alarm).len(),
        wire(u32::MAX, &evidence).len(),
        wire(u32::MAX, &seen).len(),
        wire(u32::MAX, &snug).len(),
        wire(u32::MAX, &Summary::new(&long, 255, u32::MAX)).len(),
        wire(u32::MAX, &Thinned { points: u32::MAX }).len(),
        wire(u32::MAX, &heartbeat).len(),
        wire(
            u32::MAX,
            &JobReply {
                crc: u32::MAX,
                status: 255,
            },
        )
        .len(),
        wire(
            u32::MAX,
            &Cycle {
                period_us: u32::MAX,
                cycles: u32::MAX,
                idle: u32::MAX,
                worst_us: u32::MAX,
                left_out: u32::MAX,
            },
        )
        .len(),
        wire(u32::MAX, &full).len(),
        wire(
            u32::MAX,
            &Ack {
                boot_id: u32::MAX,
                id: 255,
            },
        )
        .len(),
        wire(u32::MAX, &chunk).len(),
        wire(u32::MAX, &Start).len(),
        wire(u32::MAX, &Finish).len(),
    ];
    println!("longest frames, bytes, in the order of kinds: {lengths:?}");
    assert!(lengths.iter().all(|n| *n <= MAX_WIRE));
}

#[test]
fn too_much_is_said_not_cut() {
    let mut out = [0; MAX_WIRE];
    assert_eq!(
        encode_raw(200, 0, &[1; MAX_CONTENT], &mut out),
        Err(EncodeError::MessageTooLong { kind: 200 })
    );
    for have in 0..9 {
        assert_eq!(
            encode(0, &Start, &mut out[..have]),
            Err(EncodeError::BufferTooShort { have })
        );
    }
    assert_eq!(encode(0, &Start, &mut out[..9]), Ok(9));
}

#[test]
fn findings_summaries_and_samples_come_back_as_they_went() {
    let (alarm, evidence) = Evidence::split(&finding(), 3, 257, 250_000);
    assert_eq!((alarm.run, alarm.time_us), (1, 3_000_000));
    assert_eq!(evidence.join(&alarm), Some(finding()));
    assert_eq!(evidence.join(&Alarm { id: 4, ..alarm }), None);
    assert_eq!(Summary::new(&summary(), 0, 1).summary(), Some(summary()));
    let message = Sample::new(&sample()).expect("seven joints");
    assert_eq!(message.joints::<7>(), Some(sample()));
    assert_eq!(message.joints::<6>(), None);
    let late = Evidence::split(&finding(), 0, 1, 4_000_000).0;
    assert_eq!(
        late.time_us, 0,
        "before the run's start: not a wrapped time"
    );
}

#[test]
fn numbers_of_an_unknown_meaning_are_kept_not_guessed() {
    let (alarm, evidence) = Evidence::split(&finding(), 3, 1, 0);
    let future = Alarm { code: 200, ..alarm };
    assert_eq!(future.kind(), None);
    assert_eq!(evidence.join(&future), None);
    let mut message = Summary::new(&summary(), 0, 1);
    message.reasons.push(222).expect("room");
    assert_eq!(message.summary(), None);
    assert_eq!(FindingKind::from_wire_code(0), None, "0 is never a meaning");
}

#[test]
fn unknown_kinds_and_protocols_are_skipped_with_their_bytes_known() {
    let mut stream = Vec::new();
    let mut out = [0; MAX_WIRE];
    let n = encode_raw(199, 0, &[9, 8, 7], &mut out).expect("fits");
    stream.extend_from_slice(&out[..n]);
    stream.extend(wire(1, &Thinned { points: 4 }));
    let mut decoder = Decoder::new();
    let mut seen = Vec::new();
    for byte in stream {
        if let Some(frame) = decoder.feed(byte) {
            seen.push((frame.payload.to_vec(), FromController::decode(&frame)));
        }
    }
    assert_eq!(
        seen,
        [
            (vec![9, 8, 7], Err(MessageError::UnknownKind(199))),
            (vec![4], Ok(FromController::Thinned(Thinned { points: 4 }))),
        ]
    );
    let other = Frame {
        proto: 2,
        kind: 8,
        seq: 0,
        payload: &[4],
    };
    assert_eq!(
        FromController::decode(&other),
        Err(MessageError::UnknownProtocol(2))
    );
    let sound = Frame { proto: 1, ..other };
    assert_eq!(
        FromController::decode(&Frame {
            payload: &[4, 0],
            ..sound
        }),
        Err(MessageError::LeftOver { kind: 8, bytes: 1 })
    );
    assert_eq!(
        FromController::decode(&Frame {
            payload: &[],
            ..sound
        }),
        Err(MessageError::Malformed { kind: 8 })
    );
    assert_eq!(
        ToController::decode(&sound),
        Err(MessageError::UnknownKind(8)),
        "a controller's own message is none of its requests"
    );
}

#[test]
fn gaps_repeats_and_restarts_are_told_apart() {
    let frame = |seq, points| wire(seq, &Thinned { points });
    let mut decoder = Decoder::new();
    let mut feed = |bytes: Vec<u8>| {
        for byte in bytes {
            decoder.feed(byte);
        }
        let c = decoder.counts();
        (c.frames, c.lost, c.repeats, c.restarts, c.garbled)
    };
    assert_eq!(feed(frame(u32::MAX - 1, 0)), (1, 0, 0, 0, 0));
    assert_eq!(feed(frame(1, 1)), (2, 2, 0, 0, 0), "over the wrap");
    assert_eq!(feed(frame(1, 1)), (2, 2, 1, 0, 0));
    assert_eq!(feed(frame(0, 0)), (3, 2, 1, 1, 0));
    assert_eq!(
        feed(frame(0, 5)),
        (4, 2, 1, 2, 0),
        "same number, other content"
    );
    assert_eq!(feed(vec![5, 5, 0, 0, 0]), (4, 2, 1, 2, 1));
}

#[test]
fn the_tail_of_an_overlong_piece_is_no_frame() {
    let mut decoder = Decoder::new();
    let sound = wire(0, &Thinned { points: 1 });
    for byte in [1; 300].iter().chain(&sound).chain(&sound) {
        decoder.feed(*byte);
    }
    let counts = decoder.counts();
    assert_eq!((counts.garbled, counts.frames), (1, 1));
}

#[test]
fn a_job_arrives_whole_or_not_at_all() {
    let job: Vec<u8> = (0..500_u32).map(|i| (i * 7) as u8).collect();
    let chunks: Vec<_> = job_chunks(&job).expect("short enough").collect();
    assert_eq!(chunks.len(), 3);
    let mut assembler = JobAssembler::<512>::new();
    assert_eq!(assembler.offer(&chunks[0]), Ok(None));
    assert_eq!(assembler.offer(&chunks[1]), Ok(None));
    assert_eq!(assembler.offer(&chunks[2]), Ok(Some(job.as_slice())));

    assert_eq!(assembler.offer(&chunks[0]), Ok(None));
    let error = assembler.offer(&chunks[2]).expect_err("a piece is missing");
    assert_eq!(error.status(), JobStatus::OutOfOrder);
    let mut bad = chunks.clone();
    bad[1].data[9] ^= 1;
    let all: Vec<_> = bad
        .iter()
        .map(|c| assembler.offer(c).map(|job| job.is_some()))
        .collect();
    assert_eq!(all, [Ok(false), Ok(false), Err(TransferError::Damaged)]);
    let mut small = JobAssembler::<200>::new();
    small.offer(&chunks[0]).expect("fits");
    assert_eq!(
        small.offer(&chunks[1]),
        Err(TransferError::TooLarge {
            total: 500,
            room: 200
        })
    );
    assert!(job_chunks(&[]).is_none() && job_chunks(&[0; 65_536]).is_none());
}

proptest! {
    #[test]
    fn any_payload_comes_back(
        kind: u8,
        seq: u32,
        payload in proptest::collection::vec(any::<u8>(), 0..=243),
    ) {
        let mut out = [0; MAX_WIRE];
        let n = encode_raw(kind, seq, &payload, &mut out).expect("fits");
        prop_assert!(!out[..n - 1].contains(&0));
        let back = only_frame(&out[..n], |f| (f.kind, f.seq, f.payload.to_vec()));
        prop_assert_eq!(back, Some((kind, seq, payload)));
    }

    #[test]
    fn one_flipped_bit_is_never_taken_for_a_frame(
        payload in proptest::collection::vec(any::<u8>(), 0..=100),
        at: prop::sample::Index,
        bit in 0..8_u8,
    ) {
        let mut out = [0; MAX_WIRE];
        let n = encode_raw(3, 77, &payload, &mut out).expect("fits");
        // The last delimiter itself is left whole: without it the frame merely waits.
        out[at.index(n - 1)] ^= 1 << bit;
        prop_assert_eq!(only_frame(&out[..n], |_| ()), None);
    }

    #[test]
    fn noise_never_passes_and_a_frame_behind_it_always_does(
        noise in proptest::collection::vec(any::<u8>(), 0..600),
    ) {
        let mut stream = noise;
        stream.push(0);
        stream.extend(wire(0, &Thinned { points: 9 }));
        let back = only_frame(&stream, FromController::decode);
        prop_assert_eq!(back, Some(Ok(FromController::Thinned(Thinned { points: 9 }))));
    }

    #[test]
    fn no_payload_whatever_upsets_the_reader(
        kind: u8,
        payload in proptest::collection::vec(any::<u8>(), 0..=243),
    ) {
        let frame = Frame { proto: 1, kind, seq: 0, payload: &payload };
        if let Ok(message) = ToController::decode(&frame) {
            prop_assert!((64..=69).contains(&kind), "{:?}", message);
        }
        if let Ok(message) = FromController::decode(&frame) {
            prop_assert!((1..=10).contains(&kind), "{:?}", message);
        }
    }
}
