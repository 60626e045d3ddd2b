//! The demo in this process: its files are complete, and a replay of them gives what its log tells.

use std::time::SystemTime;

use bolting_host::demo::{DemoArgs, DemoError, run};
use bolting_host::description::Description;
use bolting_host::replay;
use bolting_host::samples::{BadRows, Recording};
use bolting_host::simulate::JOINTS;
use bolting_host::store::{Content, RawLog, RawWriter, Record, decode};
use bolting_monitor::procedure::Verdict;

/// A recording of something real under the name of the demo's own, in its folder or in another.
fn keeps_what_is_not_its_own(args: &DemoArgs) {
    let out = tempfile::tempdir().expect("a folder");
    for (folder, marked) in [(out.path().to_owned(), false), (args.out.clone(), true)] {
        let path = folder.join("flange.wirelog");
        let own = std::fs::read(&path).ok();
        let _ = std::fs::remove_file(&path);
        let mut log = RawWriter::create(&path).expect("made");
        log.append(&Record {
            at: SystemTime::UNIX_EPOCH,
            content: Content::Connected("tcp:controller:5751".to_owned()),
        })
        .expect("kept");
        let real = std::fs::read(&path).expect("a log");
        let count = std::fs::read_dir(&folder).expect("a folder").count();
        let out = folder.clone();
        match run(&DemoArgs {
            out,
            ..args.clone()
        }) {
            Err(DemoError::NotOurs(_)) => assert!(!marked),
            Err(DemoError::OtherLog(_)) => assert!(marked),
            other => panic!("{other:?}"),
        }
        assert_eq!(std::fs::read(&path).expect("a log"), real);
        assert_eq!(std::fs::read_dir(&folder).expect("a folder").count(), count);
        if let Some(own) = own {
            std::fs::write(&path, own).expect("put back");
        }
    }
}

#[test]
fn a_replay_of_its_files_gives_what_its_log_tells() {
    let folder = tempfile::tempdir().expect("a folder");
    let out = folder.path().join("made by the demo");
    let args = DemoArgs {
        out: out.clone(),
        seed: 1,
        in_process: true,
        no_page: false,
    };
    run(&args).expect("a demo");
    run(&args).expect("once more over its own files");
    keeps_what_is_not_its_own(&args);

    let log = decode(RawLog::open(&out.join("flange.wirelog")).expect("a log")).expect("readable");
    assert_eq!((log.counts.garbled, log.counts.lost), (0, 0));
    let told = log.runs();
    let expected = [
        (Verdict::Accepted, None),
        (Verdict::Accepted, None),
        (Verdict::Rejected, Some("cross_thread")),
        (Verdict::Rejected, Some("strip")),
    ];
    assert_eq!(told.len(), expected.len());
    for ((number, told), (verdict, stop)) in (1..).zip(&told).zip(expected) {
        let name = format!("flange-bolt-{number}");
        let description = Description::load(&out.join(format!("{name}.toml"))).expect("sound");
        let recording = Recording::load(&out.join(format!("{name}.csv")), BadRows::Refuse)
            .expect("a recording");
        let samples = recording.samples::<JOINTS>().expect("seven joints");
        let replayed = replay::run::<JOINTS>(&description, None, samples).expect("sound");
        assert_eq!(format!("{:?}", told.outcome), format!("{replayed:?}"));
        assert_eq!(told.hello.job, name.as_str());
        assert_eq!(replayed.summary.verdict, verdict, "{name}: {replayed:?}");
        assert_eq!(replayed.stop().map(|f| f.kind.name()), stop, "{name}");
        assert!(out.join(format!("{name}.truth.json")).is_file());
    }
}
