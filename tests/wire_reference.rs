//! Frames against an independent implementation: `tests/reference/framing.py` (PyPI `cobs`, Python's
//! zlib) made `framing.csv`.

use bolting_monitor::wire::{
    Ack, Alarm, Decoder, Finish, FromController, JobReply, Start, Thinned, ToController, crc32,
    encode, encode_raw,
};

struct Vector {
    name: String,
    kind: u8,
    seq: u32,
    payload: Vec<u8>,
    wire: Vec<u8>,
}

fn hex(text: &str) -> Vec<u8> {
    (0..text.len())
        .step_by(2)
        .map(|i| u8::from_str_radix(&text[i..i + 2], 16).expect("hex digits"))
        .collect()
}

fn vectors() -> Vec<Vector> {
    include_str!("reference/framing.csv")
        .lines()
        .skip(1)
        .map(|line| {
            let [name, kind, seq, payload, wire] = line
                .split(',')
                .collect::<Vec<_>>()
                .try_into()
                .expect("five columns");
            Vector {
                name: name.to_owned(),
                kind: kind.parse().expect("kind"),
                seq: seq.parse().expect("seq"),
                payload: hex(payload),
                wire: hex(wire),
            }
        })
        .collect()
}

#[test]
fn crc_has_the_published_check_value() {
    // Catalogue of parametrised CRC algorithms, CRC-32/ISO-HDLC (IEEE 802.3, zlib).
    assert_eq!(crc32(b"123456789"), 0xCBF4_3926);
}

#[test]
fn frames_are_byte_for_byte_those_of_the_reference() {
    let vectors = vectors();
    assert!(vectors.len() > 40);
    for v in &vectors {
        let mut out = [0; 256];
        let n = encode_raw(v.kind, v.seq, &v.payload, &mut out).expect(&v.name);
        assert_eq!(out[..n], v.wire, "{}", v.name);
    }
}

#[test]
fn frames_of_the_reference_are_read() {
    for v in vectors() {
        let mut decoder = Decoder::new();
        let (last, before) = v.wire.split_last().expect("not empty");
        for byte in before {
            assert!(decoder.feed(*byte).is_none(), "{}", v.name);
        }
        let frame = decoder.feed(*last).expect(&v.name);
        assert_eq!(
            (frame.kind, frame.seq, frame.payload),
            (v.kind, v.seq, v.payload.as_slice()),
            "{}",
            v.name
        );
    }
}

#[test]
fn payloads_laid_out_by_hand_are_the_messages() {
    let find = |name: &str| {
        vectors()
            .into_iter()
            .find(|v| v.name == name)
            .expect("vector")
    };
    let mut out = [0; 256];
    let mut check = |name: &str, encoded: &dyn Fn(u32, &mut [u8]) -> usize| {
        let v = find(name);
        let n = encoded(v.seq, &mut out);
        assert_eq!(out[..n], v.wire, "{name}");
    };
    let alarm = Alarm {
        id: 7,
        run: 1,
        code: 2,
        time_us: 1_500_000,
        angle_rad: 12.5,
        torque_nm: 31.25,
        torque_u_nm: 0.5,
    };
    let ack = Ack {
        boot_id: 0xDEAD_BEEF,
        id: 5,
    };
    let thinned = Thinned { points: 70_000 };
    let reply = JobReply {
        crc: 0xCBF4_3926,
        status: 1,
    };
    check("alarm", &|s, o| encode(s, &alarm, o).unwrap());
    check("ack", &|s, o| encode(s, &ack, o).unwrap());
    check("thinned", &|s, o| encode(s, &thinned, o).unwrap());
    check("job_reply", &|s, o| encode(s, &reply, o).unwrap());
    check("start", &|s, o| encode(s, &Start, o).unwrap());
    check("finish", &|s, o| encode(s, &Finish, o).unwrap());

    let mut decoder = Decoder::new();
    let wire = find("alarm").wire;
    let read = wire
        .iter()
        .find_map(|b| decoder.feed(*b).map(|f| FromController::decode(&f)));
    assert_eq!(read, Some(Ok(FromController::Alarm(alarm))));
    let wire = find("ack").wire;
    let read = wire
        .iter()
        .find_map(|b| decoder.feed(*b).map(|f| ToController::decode(&f)));
    assert_eq!(read, Some(Ok(ToController::Ack(ack))));
}

#[test]
fn the_vectors_printed_in_the_specification_are_those_of_the_reference() {
    let specification = include_str!("../src/wire/mod.rs");
    for name in ["start", "alarm"] {
        let v = vectors()
            .into_iter()
            .find(|v| v.name == name)
            .expect("vector");
        let digits: Vec<_> = v.wire.iter().map(|b| format!("{b:02X}")).collect();
        let line = format!("wire     {}\n", digits.join(" "));
        assert!(specification.contains(&line), "{line}");
    }
}
