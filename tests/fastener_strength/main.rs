//! Strength, preload and stiffness held against published figures. Each table names its source and
//! how it is known: *read* in a reprint or *from memory*; figures worked out for these tests say so.

mod assembly;
mod classes;
mod faults;
mod forecast;
mod friction;

use bolting_monitor::fastener::{
    Clamp, Fastener, FrictionClass, Joint, Locking, Material, Mating, PropertyClass, Thread,
};

fn thread(designation: &str) -> Thread {
    designation.parse().unwrap()
}

fn material(class: &str, diameter_mm: f32) -> Material {
    class
        .parse::<PropertyClass>()
        .unwrap()
        .material(diameter_mm)
}

#[track_caller]
fn near(what: &str, got: f32, printed: f32, part: f32) {
    assert!(
        (got - printed).abs() <= part * printed.abs(),
        "{what}: {got}, published {printed}, allowed {} %",
        100.0 * part
    );
}

const CLASSES: [&str; 3] = ["8.8", "10.9", "12.9"];

/// M10 8.8 in steel, lubricated, hard joint: an invented scenario.
fn flange_bolt() -> Fastener {
    Fastener {
        bolt: Some(material("8.8", 10.0)),
        mating: Some(Mating {
            material: material("8.8", 10.0),
            engagement_mm: 12.0,
        }),
        friction: Some(FrictionClass::B.into()),
        joint: Some(Joint::Clamp(Clamp {
            length_mm: 30.0,
            shank_mm: 0.0,
            parts_gpa: 205.0,
            nut: false,
        })),
        locking: Some(Locking::Free),
        rundown_mm: Some(15.0),
        ..Fastener::new(thread("M10"))
    }
}
