//! Recording over links that break: what was received is in the log, and the breaks are, too.

use std::io::{Read, Write};
use std::net::{TcpListener, TcpStream};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use bolting_host::link::Source;
use bolting_host::record::{RecordArgs, RecordError, Totals, record, run};
use bolting_host::store::{Content, RawLog, Said, View, decode};
use bolting_monitor::wire::{
    Ack, Alarm, Decoder, Evidence, FromController, Hello, MAX_WIRE, Payload, Thinned, ToController,
    encode,
};
use tempfile::TempDir;

fn frame<T: Payload>(seq: u32, message: &T) -> Vec<u8> {
    let mut out = [0; MAX_WIRE];
    let n = encode(seq, message, &mut out).expect("fits");
    out[..n].to_vec()
}

fn thinned(range: std::ops::Range<u32>) -> Vec<u8> {
    range
        .flat_map(|i| frame(i, &Thinned { points: i }))
        .collect()
}

/// A recording in the background.
struct Recording {
    stop: Arc<AtomicBool>,
    out: PathBuf,
    thread: JoinHandle<Result<Totals, RecordError>>,
    _directory: TempDir,
}

impl Recording {
    fn start(from: &str, ack: bool) -> Self {
        let directory = tempfile::tempdir().expect("a directory");
        let out = directory.path().join("run.wirelog");
        let args = RecordArgs {
            from: from.parse().expect("a source"),
            out: out.clone(),
            ack,
        };
        let stop = Arc::new(AtomicBool::new(false));
        let seen = Arc::clone(&stop);
        Self {
            thread: thread::spawn(move || record(&args, &seen)),
            stop,
            out,
            _directory: directory,
        }
    }

    fn wait_for(&self, what: &str, reached: impl Fn(&View) -> bool) {
        wait_for(&self.out, what, reached);
    }

    fn finish(self) -> (Totals, View, Vec<u8>) {
        self.stop.store(true, Ordering::Relaxed);
        let totals = self.thread.join().expect("no panic").expect("no error");
        (totals, view(&self.out), received(&self.out))
    }
}

fn wait_for(log: &Path, what: &str, reached: impl Fn(&View) -> bool) {
    let deadline = Instant::now() + Duration::from_secs(60);
    while !RawLog::open(log)
        .and_then(decode)
        .is_ok_and(|view| reached(&view))
    {
        assert!(Instant::now() < deadline, "never came: {what}");
        thread::sleep(Duration::from_millis(20));
    }
}

fn view(path: &Path) -> View {
    decode(RawLog::open(path).expect("a log")).expect("readable")
}

fn received(path: &Path) -> Vec<u8> {
    RawLog::open(path)
        .expect("a log")
        .flat_map(|record| match record.expect("readable").content {
            Content::Received(bytes) => bytes,
            _ => Vec::new(),
        })
        .collect()
}

fn numbers(view: &View) -> Vec<u32> {
    view.entries
        .iter()
        .filter_map(|entry| match entry.said {
            Said::Message(FromController::Thinned(t)) => Some(t.points),
            _ => None,
        })
        .collect()
}

fn connections(view: &View) -> usize {
    view.entries
        .iter()
        .filter(|entry| matches!(entry.said, Said::Connected(_)))
        .count()
}

#[test]
fn tcp_is_recorded_through_a_break_and_gaps_are_counted() {
    let server = TcpListener::bind("127.0.0.1:0").expect("a port");
    let address = server.local_addr().expect("an address");
    let recording = Recording::start(&format!("tcp:{address}"), false);
    let mut sent = thinned(0..500);
    // The break comes in the middle of frame 500; 501 to 503 fall into it.
    let torn = frame(500, &Thinned { points: 500 });
    sent.extend(&torn[..5]);
    let accept = || server.accept().expect("a connection").0;
    accept().write_all(&sent).expect("sent");
    let mut again = accept();
    let rest = [vec![0], thinned(504..600)].concat();
    again.write_all(&rest).expect("sent");
    recording.wait_for("the last frame", |v| numbers(v).last() == Some(&599));
    let (totals, view, received) = recording.finish();
    assert_eq!(received, [sent, rest].concat());
    assert_eq!(numbers(&view), (0..500).chain(504..600).collect::<Vec<_>>());
    assert_eq!(connections(&view), 2);
    assert_eq!((totals.breaks, totals.bytes), (1, received.len() as u64));
    assert_eq!((totals.frames.garbled, totals.frames.lost), (1, 4));
    assert_eq!(totals.frames, view.counts);
    assert_eq!(view.torn, None);
}

#[cfg(unix)]
#[test]
fn a_serial_port_is_recorded_through_a_pulled_plug() {
    use serialport::{SerialPort, TTYPort};
    let directory = tempfile::tempdir().expect("a directory");
    let name = directory.path().join("ttyTEST0");
    // The name of the port stays, what it leads to changes: as with a real plug.
    let plug_in = || {
        let (controller, port) = TTYPort::pair().expect("a pseudo-terminal");
        std::os::unix::fs::symlink(port.name().expect("a name"), &name).expect("a link");
        // Only one may hold the port's own end: the recording.
        controller
    };
    let recording = Recording::start(&format!("serial:{}?baud=115200", name.display()), false);
    let mut controller = plug_in();
    recording.wait_for("the first connection", |v| connections(v) == 1);
    controller.write_all(&thinned(0..200)).expect("sent");
    recording.wait_for("frame 199", |v| numbers(v).last() == Some(&199));
    std::fs::remove_file(&name).expect("unplugged");
    drop(controller);
    recording.wait_for("the loss", |v| {
        v.entries
            .iter()
            .any(|e| matches!(e.said, Said::Lost(_)) && connections(v) == 1)
    });
    let mut controller = plug_in();
    recording.wait_for("the second connection", |v| connections(v) == 2);
    controller.write_all(&thinned(200..400)).expect("sent");
    recording.wait_for("frame 399", |v| numbers(v).last() == Some(&399));
    let (totals, view, _) = recording.finish();
    assert_eq!(numbers(&view), (0..400).collect::<Vec<_>>());
    assert_eq!((totals.breaks, totals.frames.lost), (1, 0));
}

#[test]
fn an_alarm_is_acknowledged_once_its_evidence_is_in_the_log() {
    let server = TcpListener::bind("127.0.0.1:0").expect("a port");
    let address = server.local_addr().expect("an address");
    let recording = Recording::start(&format!("tcp:{address}"), true);
    let mut controller = server.accept().expect("a connection").0;
    let hello = Hello {
        boot_id: 99,
        ..Hello::default()
    };
    let alarm = |id| Alarm {
        id,
        run: 1,
        code: 2,
        time_us: 5,
        angle_rad: 1.0,
        torque_nm: 2.0,
        torque_u_nm: 0.5,
    };
    let evidence = |id| Evidence {
        id,
        run: 1,
        time_us: 5,
        slope_nm_per_rad: 0.0,
        slope_u_nm_per_rad: 0.0,
        advance_ratio: None,
        quantity: 1,
        value: 1.0,
        limit: 1.0,
        joint: 0,
        relief: None,
        likely: None,
        runner_up: None,
    };
    // Evidence 3 comes before anyone said who is speaking, evidence 4 without its alarm.
    let frames = [
        frame(0, &alarm(3)),
        frame(1, &evidence(3)),
        frame(2, &hello),
        frame(3, &evidence(4)),
        frame(4, &alarm(5)),
        frame(5, &evidence(5)),
    ];
    controller.write_all(&frames.concat()).expect("sent");
    assert_eq!(next_ack(&mut controller), Ack { boot_id: 99, id: 5 });
    let (totals, ..) = recording.finish();
    assert_eq!(totals.acknowledged, 1);
}

fn next_ack(controller: &mut TcpStream) -> Ack {
    let mut decoder = Decoder::new();
    controller
        .set_read_timeout(Some(Duration::from_secs(60)))
        .expect("a limit");
    loop {
        let mut byte = [0];
        controller
            .read_exact(&mut byte)
            .expect("an acknowledgement");
        if let Some(frame) = decoder.feed(byte[0]) {
            match ToController::decode(&frame) {
                Ok(ToController::Ack(ack)) => return ack,
                other => panic!("{other:?}"),
            }
        }
    }
}

const CHILD_OUT: &str = "BOLTING_TEST_CHILD_OUT";
const CHILD_FROM: &str = "BOLTING_TEST_CHILD_FROM";

/// Runs in a process of its own, because it takes standard input or an interrupt.
#[test]
#[ignore = "started by the tests that need a process of its own"]
fn child() {
    let from = std::env::var(CHILD_FROM).expect("started by another test");
    let args = RecordArgs {
        from: from.parse().expect("a source"),
        out: std::env::var_os(CHILD_OUT)
            .expect("started by another test")
            .into(),
        ack: false,
    };
    run(&args).expect("recorded");
}

fn start_child(from: &str, out: &Path) -> Child {
    Command::new(std::env::current_exe().expect("this test"))
        .args(["--exact", "child", "--ignored", "--nocapture"])
        .env(CHILD_FROM, from)
        .env(CHILD_OUT, out)
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .expect("started")
}

#[test]
fn standard_input_is_recorded_to_its_end() {
    let directory = tempfile::tempdir().expect("a directory");
    let out = directory.path().join("run.wirelog");
    let mut process = start_child("-", &out);
    let bytes = thinned(0..20_000);
    let mut input = process.stdin.take().expect("piped");
    input.write_all(&bytes).expect("sent");
    drop(input);
    assert!(process.wait().expect("ended").success());
    assert_eq!(received(&out), bytes);
    assert_eq!(numbers(&view(&out)).len(), 20_000);
}

#[cfg(unix)]
#[test]
fn an_interrupt_ends_the_recording_in_good_order() {
    let server = TcpListener::bind("127.0.0.1:0").expect("a port");
    let address = server.local_addr().expect("an address");
    let directory = tempfile::tempdir().expect("a directory");
    let out = directory.path().join("run.wirelog");
    let process = start_child(&format!("tcp:{address}"), &out);
    let mut controller = server.accept().expect("a connection").0;
    let bytes = thinned(0..1000);
    controller.write_all(&bytes).expect("sent");
    wait_for(&out, "frame 999", |v| numbers(v).last() == Some(&999));
    let pid = process.id().to_string();
    let kill = Command::new("kill").args(["-INT", &pid]).status();
    assert!(kill.expect("kill is there").success());
    let output = process.wait_with_output().expect("ended");
    assert!(output.status.success(), "{output:?}");
    let told = String::from_utf8_lossy(&output.stderr);
    let expected = format!("{} bytes, 1000 frames, 0 garbled, 0 missing", bytes.len());
    assert!(told.contains(&expected), "{told}");
    assert_eq!(received(&out), bytes);
    assert_eq!(view(&out).torn, None);
}

#[test]
fn a_recording_is_never_overwritten_and_needs_a_way_back_to_acknowledge() {
    let directory = tempfile::tempdir().expect("a directory");
    let out = directory.path().join("run.wirelog");
    std::fs::write(&out, "evidence").expect("written");
    let mut args = RecordArgs {
        from: "tcp:127.0.0.1:9".parse().expect("a source"),
        out: out.clone(),
        ack: false,
    };
    let stop = AtomicBool::new(true);
    let error = record(&args, &stop).expect_err("it exists");
    assert!(error.to_string().contains("run.wirelog"), "{error}");
    assert_eq!(std::fs::read(&out).expect("still there"), b"evidence");
    args.from = Source::Stdin;
    args.ack = true;
    assert!(matches!(record(&args, &stop), Err(RecordError::NoWayBack)));
}

#[derive(Debug, clap::Parser)]
struct CommandLine {
    #[command(flatten)]
    record: RecordArgs,
}

#[test]
fn the_command_line_is_read_and_a_wrong_source_explained() {
    use clap::Parser;
    let parse =
        |from| CommandLine::try_parse_from(["record", "--from", from, "--out", "x", "--ack"]);
    let args = parse("serial:/dev/ttyUSB0?baud=115200")
        .expect("right")
        .record;
    assert_eq!(args.from.to_string(), "serial:/dev/ttyUSB0?baud=115200");
    assert!(args.ack);
    let error = parse("/dev/ttyUSB0").expect_err("no scheme").to_string();
    assert!(error.contains("serial:/dev/ttyUSB0?baud=921600"), "{error}");
}
