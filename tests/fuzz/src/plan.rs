//! Any bytes as a plan, with the CRC made sound so that they reach the reader behind it.
#![no_main]

use bolting_monitor::monitor::Monitor;
use bolting_monitor::procedure::Turn;
use bolting_monitor::wire::{PLAN_VERSION, Plan, crc32};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let _ = Plan::from_blob(bytes);
    let mut blob = vec![PLAN_VERSION];
    blob.extend(bytes);
    blob.extend(crc32(&blob).to_le_bytes());
    let Ok(plan) = Plan::from_blob(&blob) else {
        return;
    };
    let mut again = [0; 8192];
    if let Ok(length) = plan.to_blob(&mut again) {
        let back = Plan::from_blob(&again[..length]).expect("what was written is read");
        assert_eq!(back, plan);
    }
    // What passes the check makes a monitor of every pass, where the joints fit.
    if plan.check().is_ok() {
        for pass in 0..plan.procedure.passes.len() as u8 {
            let turn = Turn { pass, bolt: 0 };
            let Some(job) = plan.procedure.job(&plan.job, turn) else {
                continue;
            };
            match &plan.arm {
                None => {
                    Monitor::<0, 64>::try_new(&job, None).expect("checked");
                }
                Some(arm) if arm.joints.len() == 7 => {
                    Monitor::<7, 64>::try_new(&job, Some(arm)).expect("checked");
                }
                Some(_) => {}
            }
        }
    }
});
