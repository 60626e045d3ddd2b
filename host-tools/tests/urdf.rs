//! What the URDF reader folds, freezes and refuses.

use bolting_host::urdf::{self, UrdfArm};
use bolting_monitor::arm::ArmModel;

const ARM7: &str = include_str!("../../tests/reference/arm7.urdf");

fn joint(name: &str, kind: &str, parent: &str, child: &str, inside: &str) -> String {
    format!(
        r#"<joint name="{name}" type="{kind}"><origin xyz="1 0 0" rpy="0 0 0"/><parent link="{parent}"/><child link="{child}"/><axis xyz="0 1 0"/>{inside}</joint>"#
    )
}

fn link(name: &str, mass_kg: f64) -> String {
    format!(
        r#"<link name="{name}"><inertial><mass value="{mass_kg}"/><inertia ixx="0" ixy="0" ixz="0" iyy="0" iyz="0" izz="0"/></inertial></link>"#
    )
}

fn robot(parts: &[String]) -> String {
    format!(r#"<robot name="r">{}</robot>"#, parts.concat())
}

/// base -(a)- one -(b)- two, with a finger that moves beside `two`.
fn two_joints(inside_b: &str) -> String {
    robot(&[
        r#"<link name="base"/>"#.to_owned(),
        link("one", 1.0),
        link("two", 2.0),
        link("finger", 3.0),
        joint(
            "a",
            "revolute",
            "base",
            "one",
            "<limit lower='-1' upper='1' velocity='1'/>",
        ),
        joint("b", "continuous", "one", "two", inside_b),
        joint(
            "grip",
            "prismatic",
            "two",
            "finger",
            "<limit lower='0' upper='1' effort='1' velocity='1'/>",
        ),
    ])
}

fn refused(text: &str, base: Option<&str>, tip: &str) -> String {
    urdf::read(text, base, tip).unwrap_err().to_string()
}

#[test]
fn bodies_fixed_to_a_link_weigh_with_it() {
    let UrdfArm { arm, notices, .. } = urdf::read(ARM7, None, "tool_flange").unwrap();
    let mass = |i: usize| arm.joints[i].link.mass_kg;
    assert_eq!(arm.joints.len(), 7);
    assert!(
        (mass(2) - (3.3 + 0.4)).abs() < 1e-6,
        "upper arm and cover: {}",
        mass(2)
    );
    assert!(
        (mass(6) - (0.55 + 0.22)).abs() < 1e-6,
        "last link and flange: {}",
        mass(6)
    );
    // Last link and flange by hand: the flange's centre is at 0.085 + 0.012 along z.
    let z = (0.55 * 0.046 + 0.22 * 0.097) / 0.77;
    assert!((arm.joints[6].link.com_m[2] - z).abs() < 1e-6);
    assert!(notices.is_empty(), "{notices:?}");
}

#[test]
fn a_joint_beside_the_chain_is_frozen_with_a_notice() {
    let UrdfArm {
        arm,
        limits_rad,
        notices,
    } = urdf::read(&two_joints(""), None, "two").unwrap();
    assert_eq!(limits_rad, [Some([-1.0, 1.0]), None]);
    assert_eq!(arm.joints[1].link.mass_kg, 5.0);
    assert_eq!(arm.joints[1].link.com_m, [0.6, 0.0, 0.0]); // 3 kg at 1 m, 2 kg at 0
    assert_eq!(notices.len(), 1);
    assert!(notices[0].contains("\"grip\""), "{notices:?}");
}

#[test]
fn dynamics_are_the_default_friction() {
    let text = two_joints(r#"<dynamics damping="0.4" friction="2.0"/>"#);
    let arm = urdf::read(&text, None, "two").unwrap().arm;
    let (none, stated) = (&arm.joints[0].friction, &arm.joints[1].friction);
    assert_eq!((none.coulomb_nm, none.viscous_nm_s_per_rad), (0.0, 0.0));
    assert_eq!((stated.coulomb_nm, stated.viscous_nm_s_per_rad), (2.0, 0.4));
    assert_eq!((none.coulomb_u_nm, stated.coulomb_u_nm), (0.1, 0.5));
}

#[test]
fn a_base_further_out_shortens_the_chain() {
    let arm = urdf::read(ARM7, Some("link3"), "tool_flange").unwrap().arm;
    assert_eq!(arm.joints.len(), 4);
    assert_eq!(arm.joints[0].name.as_str(), "elbow");
}

#[test]
fn a_base_that_is_the_tip_is_an_arm_without_joints() {
    let arm = urdf::read(ARM7, Some("link7"), "tool_flange").unwrap().arm;
    assert!(ArmModel::<0>::try_new(&arm).is_ok());
    assert_eq!(arm.tip.translation_m, [0.0, 0.0, 0.085]);
}

#[test]
fn faults_name_the_link_or_joint_and_the_way_out() {
    let prismatic = refused(&two_joints(""), None, "finger");
    assert!(
        prismatic.contains("\"grip\"") && prismatic.contains("prismatic"),
        "{prismatic}"
    );

    let missing = refused(ARM7, None, "flange");
    assert!(
        missing.contains("tip_link") && missing.contains("link7, cover, tool_flange"),
        "{missing}"
    );

    let no_base = refused(ARM7, Some("floor"), "tool_flange");
    assert!(
        no_base.contains("base_link names link \"floor\""),
        "{no_base}"
    );

    let behind = refused(ARM7, Some("link5"), "link3");
    assert!(
        behind.contains("not beyond") && behind.contains("link2, link1, base"),
        "{behind}"
    );

    let mimic = refused(&two_joints(r#"<mimic joint="a"/>"#), None, "two");
    assert!(
        mimic.contains("\"b\"") && mimic.contains("\"a\""),
        "{mimic}"
    );

    let negative = robot(&[
        link("base", 0.0),
        link("one", -1.0),
        joint("a", "revolute", "base", "one", ""),
    ]);
    let negative = refused(&negative, None, "one");
    assert!(
        negative.contains("\"one\"") && negative.contains("-1"),
        "{negative}"
    );

    let two_roots = robot(&[link("x", 0.0), link("y", 0.0)]);
    let two_roots = refused(&two_roots, None, "x");
    assert!(
        two_roots.contains("x, y") && two_roots.contains("base_link"),
        "{two_roots}"
    );

    let nowhere = robot(&[link("x", 0.0), joint("a", "fixed", "x", "y", "")]);
    let nowhere = refused(&nowhere, None, "x");
    assert!(
        nowhere.contains("joint \"a\" names link \"y\""),
        "{nowhere}"
    );

    let circle = robot(&[
        link("x", 0.0),
        link("y", 0.0),
        joint("a", "fixed", "x", "y", ""),
        joint("b", "fixed", "y", "x", ""),
    ]);
    assert!(refused(&circle, Some("x"), "y").contains("hangs from itself"));

    let twice = robot(&[
        link("x", 0.0),
        link("y", 0.0),
        joint("a", "fixed", "x", "y", ""),
        joint("b", "fixed", "x", "y", ""),
    ]);
    let twice = refused(&twice, None, "y");
    assert!(
        twice.contains("\"a\"") && twice.contains("\"b\""),
        "{twice}"
    );

    assert!(refused("<robot name='r'><xacro:macro/></robot>", None, "x").contains("xacro"));
    assert!(refused("not xml", None, "x").contains("not a URDF"));
}

#[test]
fn nine_joints_are_one_too_many() {
    let mut parts = vec![link("l0", 0.0)];
    for i in 1..=9 {
        let (parent, child) = (format!("l{}", i - 1), format!("l{i}"));
        parts.push(link(&child, 1.0));
        parts.push(joint(&format!("j{i}"), "revolute", &parent, &child, ""));
    }
    let text = robot(&parts);
    assert!(urdf::read(&text, None, "l8").is_ok());
    assert!(refused(&text, None, "l9").contains("9 moving joints, at most 8"));
}
