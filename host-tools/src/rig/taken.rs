//! What the rehearsal took where the description does not say: nobody should have to guess it.

use bolting_monitor::procedure::{Direction as Way, Mode};

use super::site::Site;
use crate::description::{Description, Stated};

/// Sentences for the reader.
pub fn taken(description: &Description, stated: &Stated, site: Option<&Site>) -> Vec<String> {
    let job = &description.job;
    let fastener = &job.fastener;
    let goals = || (0..).map_while(|pass| description.procedure.goal(pass));
    let mut taken: Vec<String> = Vec::new();
    say(
        &mut taken,
        fastener.friction.is_none(),
        "friction is not stated: 0.08 to 0.16 (class B of VDI 2230)",
    );
    say(
        &mut taken,
        fastener.locking.is_none(),
        "nothing is said of the torque before snug: half of the bolts run free, half have a locking feature within ISO 2320",
    );
    let up = goals().any(|goal| goal.direction() == Way::Tighten);
    say(
        &mut taken,
        up && job.expected_run().earliest_snug_rad.is_none(),
        "turns to snug are not stated: 2 to 6",
    );
    say(
        &mut taken,
        up && !stated.has("run.elastic_angle_deg") && fastener.joint.is_none(),
        "the joint is not stated: 30 to 360° from snug to target (ISO 5393)",
    );
    say(
        &mut taken,
        goals().any(|goal| goal.scale_nm().is_none()) && job.carried_nm.is_none(),
        "a pass states no torque: one of a usual preload of class 8.8",
    );
    say(
        &mut taken,
        job.tool.windup_nm_per_rad.is_none(),
        "the wind-up of the tool is not stated: 1500 to 8000 N·m/rad",
    );
    say(
        &mut taken,
        job.tool.socket_play_rad.is_none(),
        "the play of the socket is not stated: 0.5 to 4°",
    );
    say(
        &mut taken,
        job.mode == Mode::WristStrokes && job.tool.ratchet_tooth_rad.is_some(),
        "where a ratchet would turn a loose bolt back (undoing, thread not caught) the socket is lifted off and set down instead",
    );
    say(
        &mut taken,
        stated.has("wrist_sensor.force_u_n") || stated.has("wrist_sensor.moment_u_nm"),
        "no wrist sensor is simulated: the torque is that of the joints or the spindle",
    );
    say(
        &mut taken,
        true,
        "turns to snug or to the last thread spread about the middle of their window, which counts as three standard deviations wide (common practice, no source)",
    );
    match site {
        Some(site) => {
            let along = 1e3 * site.standing.along_m;
            say(
                &mut taken,
                job.bolt_axis.is_none(),
                "bolt_axis is not stated: the arm stands where it can push and turn best",
            );
            if along != 0.0 {
                taken.push(format!(
                    "the head lies {along:+.0} mm along bolt_axis from bolt_axis.point_m, where the arm reaches it"
                ));
            }
            if job.mode == Mode::WristStrokes && !site.machine.wrist_turns {
                taken.push(format!(
                    "tool.axis is not that of the last joint: the whole arm swings about the bolt, {:.0}° a stroke",
                    site.standing.stroke_deg
                ));
            }
            let noise = description
                .arm
                .as_ref()
                .is_some_and(|arm| arm.joints.iter().any(|j| j.torque_noise_nm.is_none()));
            say(
                &mut taken,
                noise,
                "arm.joint_torque_noise_nm is not stated: 0.06 N·m, as of torque sensors in the joints",
            );
            say(
                &mut taken,
                true,
                "arm: masses, friction and zeros are off by what is stated as their standard uncertainty; ripple as large as the noise",
            );
        }
        None => say(
            &mut taken,
            true,
            "no arm is described: the spindle alone is read",
        ),
    }
    let steady = "the hand stops within 3 % of its torque (1.2 %, one standard deviation); joints embed by 2 to 12 % of their clamp force; bolts are up to 15 % stronger than their class guarantees (common practice, no source)";
    taken.push(steady.to_owned());
    taken
}

fn say(taken: &mut Vec<String>, when: bool, what: &str) {
    if when {
        taken.push(what.to_owned());
    }
}
