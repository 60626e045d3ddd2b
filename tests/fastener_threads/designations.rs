//! Designations: as written in practice, back again, and refused with what is allowed.

use bolting_monitor::fastener::{Designation, Fit, Thread};
use proptest::prelude::*;

#[test]
fn designations_are_read_as_written_in_practice() {
    let inch = Thread::unified;
    for (text, meant) in [
        ("M10", Thread::metric(10.0, 1.5)),
        ("M10x1.25", Thread::metric(10.0, 1.25)),
        ("M10X1.25", Thread::metric(10.0, 1.25)),
        ("M10×1.25", Thread::metric(10.0, 1.25)),
        (" m10 x 1.25 ", Thread::metric(10.0, 1.25)),
        ("M10-6H/6g", Thread::metric(10.0, 1.5)),
        ("M10x1.25-6g", Thread::metric(10.0, 1.25)),
        ("M12x1.25", Thread::metric(12.0, 1.25)),
        ("M12x1.5", Thread::metric(12.0, 1.5)),
        ("M14x1.5", Thread::metric(14.0, 1.5)),
        ("M16x1.5", Thread::metric(16.0, 1.5)),
        ("M22x2", Thread::metric(22.0, 2.0)),
        ("1/4-20 UNC", inch(0.25, 20.0)),
        ("3/8-16 UNC-2A/2B", inch(0.375, 16.0)),
        ("3/8-16UNC-2A", inch(0.375, 16.0)),
        ("3/8\"-16 unc 2B", inch(0.375, 16.0)),
        ("3/8-16-2A", inch(0.375, 16.0)),
        (".375-16 UNC", inch(0.375, 16.0)),
        ("0.3750-16 UNC", inch(0.375, 16.0)),
        (".312-18", inch(0.3125, 18.0)),
        ("#10-32 UNF", inch(0.19, 32.0)),
        ("10-32", inch(0.19, 32.0)),
        ("3/4-16", inch(0.75, 16.0)),
        ("1-8 UNC", inch(1.0, 8.0)),
        ("1-12", inch(1.0, 12.0)),
        ("1 1/4-7 UNC", inch(1.25, 7.0)),
        ("1-1/4-7 UNC-2A", inch(1.25, 7.0)),
        ("1 1/4 - 8 UN", inch(1.25, 8.0)),
        ("1/2-28 UNEF", inch(0.5, 28.0)),
    ] {
        assert_eq!(text.parse(), Ok(meant), "{text}");
    }
}

#[test]
fn classes_and_hand_are_told_apart() {
    for (text, written, fit, left_hand) in [
        ("M10", "M10", Fit::Unstated, false),
        ("M10x1.5-6H", "M10-6H", Fit::Internal, false),
        ("M8x1-LH", "M8x1-LH", Fit::Unstated, true),
        ("M8x1-6g-LH", "M8x1-6g-LH", Fit::External, true),
        ("M8x1-6g/6H", "M8x1-6H/6g", Fit::Both, false),
        ("3/8-16-LH", "3/8-16 UNC-LH", Fit::Unstated, true),
        (
            "3/8-16 UNC-2A/2B-LH",
            "3/8-16 UNC-2A/2B-LH",
            Fit::Both,
            true,
        ),
    ] {
        let read: Designation = text
            .parse()
            .unwrap_or_else(|error| panic!("{text}: {error}"));
        assert_eq!((read.fit, read.left_hand), (fit, left_hand), "{text}");
        assert_eq!(read.to_string(), written);
    }
}

#[test]
fn what_is_no_thread_is_told_with_what_is_allowed() {
    for (text, told) in [
        ("", "\"M10x1.25\""),
        ("bolt", "\"3/8-16 UNC\""),
        ("M", "\"M10x1.25\""),
        ("M10x", "\"M10x1.25\""),
        ("M11", "M10 M12"),
        ("MNaN", "M10 M12"),
        ("M10x1.1", "M10 has, in mm, 1.5 (coarse) 1.25 1 0.75"),
        ("M10x2", "1.5 (coarse)"),
        ("M10x0", "1.5 (coarse)"),
        ("M10xNaN", "1.5 (coarse)"),
        ("M10-5g6g", "\"6H\", \"6g\" and \"6H/6g\" only"),
        ("M10-6G", "\"6H\", \"6g\" and \"6H/6g\" only"),
        ("M10-2A", "\"6H\", \"6g\" and \"6H/6g\" only"),
        ("M10-6g-XX", "\"LH\" for a left-hand thread"),
        ("M10-LH", "state the hand by itself"),
        ("3/7-16", "5/16, 3/8, 7/16"),
        ("#11-20", "#10, #12"),
        ("3/8", "3/8 has, in threads per inch, 16 (UNC) 24 (UNF) 32"),
        (
            "3/8-18",
            "3/8 has, in threads per inch, 16 (UNC) 24 (UNF) 32",
        ),
        ("1-1/4", "1 1/4 has, in threads per inch, 7 (UNC)"),
        ("3/8-16 UNF", "this pitch is UNC"),
        ("3/8-16 UNC-3A", "\"2A\", \"2B\" and \"2A/2B\" only"),
    ] {
        let error = text.parse::<Thread>().expect_err(text).to_string();
        assert!(error.contains(told), "{text}: {error}");
    }
}

#[test]
fn a_listed_thread_reads_back_from_its_designation_with_any_fit_and_hand() {
    for thread in Thread::listed() {
        assert_eq!(thread.to_string().parse(), Ok(thread), "{thread}");
        for fit in [Fit::Unstated, Fit::External, Fit::Internal, Fit::Both] {
            for left_hand in [false, true] {
                let designation = Designation {
                    thread,
                    left_hand,
                    fit,
                };
                let text = designation.to_string();
                assert_eq!(text.parse(), Ok(designation), "{text}");
            }
        }
    }
}

proptest! {
    #[test]
    fn reading_never_panics(text in ".{0,24}") {
        let _ = text.parse::<Designation>();
    }

    /// Near misses reach deeper into the reader than noise does.
    #[test]
    fn what_is_read_is_listed_and_reads_back(text in "[M#]?[0-9]{0,2}[ ./x×-]?[0-9/.]{0,4}[ -]?[0-9]{0,2} ?(UNC|UNF|UN)?-?(6H|6g|2A|2B|/)?(-LH)?") {
        if let Ok(designation) = text.parse::<Designation>() {
            prop_assert!(designation.thread.is_listed());
            prop_assert_eq!(designation.to_string().parse(), Ok(designation));
        }
    }
}
