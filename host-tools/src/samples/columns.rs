//! Which column of a recording is what.

use std::collections::HashMap;

use bolting_monitor::arm::MAX_JOINTS;
use csv::StringRecord;

use super::Fault;

pub const TIME: &str = "time_s";
const SPINDLE: [&str; 2] = ["spindle_angle_rad", "spindle_torque_nm"];
const WRIST: [&str; 6] = [
    "wrist_fx_n",
    "wrist_fy_n",
    "wrist_fz_n",
    "wrist_mx_nm",
    "wrist_my_nm",
    "wrist_mz_nm",
];
/// Names under which a time is often written, whose unit is then not told.
const OTHER_TIMES: [&str; 8] = [
    "time",
    "t",
    "t_s",
    "timestamp",
    "time_ms",
    "time_us",
    "time_ns",
    "seconds",
];
const FORCE_RATIO: &str = "force_ratio";
const SWITCHES: [&str; 4] = ["arm_enabled", "tool_powered", "tool_held", "payload_held"];

/// Places of the columns in a row.
pub struct Columns {
    pub time: usize,
    pub position: Vec<usize>,
    pub velocity: Option<Vec<usize>>,
    pub torque: Vec<usize>,
    pub spindle: Option<[usize; 2]>,
    pub wrist: Option<[usize; 6]>,
    pub force_ratio: Option<usize>,
    pub switches: [Option<usize>; 4],
    header: StringRecord,
}

impl Columns {
    pub fn find(header: &StringRecord) -> Result<Self, Fault> {
        if header.iter().all(|name| name.parse::<f64>().is_ok()) {
            return Err(Fault::NoHeader);
        }
        if let Some(separator) = wrong_separator(header) {
            return Err(Fault::Separator(separator));
        }
        let mut places = HashMap::new();
        for (place, name) in header.iter().enumerate() {
            if !name.is_empty() && places.insert(name, place).is_some() {
                return Err(Fault::TwiceTheColumn(name.to_owned()));
            }
        }
        for name in header {
            let lower = name.to_lowercase();
            if lower != name && is_known(&lower) && !places.contains_key(lower.as_str()) {
                return Err(Fault::Capitals {
                    written: name.to_owned(),
                    meant: lower,
                });
            }
            if ["q0", "dq0", "tau0"].contains(&name) {
                return Err(Fault::FromZero(name.to_owned()));
            }
        }
        let place = |name: &str| places.get(name).copied();
        let other = header.iter().find(|name| OTHER_TIMES.contains(name));
        if let (None, Some(other)) = (place(TIME), other) {
            return Err(Fault::TimeName(other.to_owned()));
        }
        let time = place(TIME).ok_or_else(|| missing(TIME, "every recording has a time"))?;

        let last = header
            .iter()
            .filter_map(joint_of)
            .max_by_key(|(joint, _)| *joint);
        let (joints, asked_by) = last.unwrap_or((0, ""));
        if joints > MAX_JOINTS {
            return Err(Fault::TooManyJoints(asked_by.to_owned()));
        }
        let group = |prefix: &str| -> Result<Vec<usize>, Fault> {
            (1..=joints)
                .map(|joint| {
                    let name = format!("{prefix}{joint}");
                    place(&name)
                        .ok_or_else(|| missing(&name, &format!("the recording has \"{asked_by}\"")))
                })
                .collect()
        };
        let has_velocity = header
            .iter()
            .any(|name| name.starts_with("dq") && joint_of(name).is_some());
        let columns = Self {
            time,
            position: group("q")?,
            velocity: has_velocity.then(|| group("dq")).transpose()?,
            torque: group("tau")?,
            spindle: all_or_none(&places, SPINDLE)?,
            wrist: all_or_none(&places, WRIST)?,
            force_ratio: place(FORCE_RATIO),
            switches: SWITCHES.map(place),
            header: header.clone(),
        };
        if joints == 0 && columns.spindle.is_none() {
            return Err(Fault::NoSource);
        }
        Ok(columns)
    }

    pub fn joints(&self) -> usize {
        self.position.len()
    }

    pub fn width(&self) -> usize {
        self.header.len()
    }

    pub fn name(&self, column: usize) -> String {
        self.header.get(column).unwrap_or_default().to_owned()
    }

    /// A sentence for each column that means nothing here.
    pub fn notices(&self) -> Vec<String> {
        self.header
            .iter()
            .filter(|name| !is_known(name))
            .map(|name| format!("column \"{name}\" is not known and is left out"))
            .collect()
    }
}

fn is_known(name: &str) -> bool {
    name == TIME
        || name == FORCE_RATIO
        || [&SPINDLE[..], &WRIST, &SWITCHES].concat().contains(&name)
        || joint_of(name).is_some()
}

/// What stands between the names of a header that is one field, if it is no comma.
fn wrong_separator(header: &StringRecord) -> Option<&'static str> {
    let only = header.get(0).filter(|_| header.len() == 1)?;
    [
        (';', "semicolons"),
        ('\t', "tabs"),
        ('|', "bars"),
        (' ', "blanks"),
    ]
    .into_iter()
    .find(|(separator, _)| only.contains(*separator))
    .map(|(_, named)| named)
}

/// The joint, from 1, to which a column such as `tau3` belongs, and the column.
fn joint_of(name: &str) -> Option<(usize, &str)> {
    let digits = name.trim_start_matches(|c: char| c.is_ascii_alphabetic());
    let prefix = name.strip_suffix(digits)?;
    let joint = digits.parse().ok().filter(|joint| *joint > 0)?;
    ["q", "dq", "tau"]
        .contains(&prefix)
        .then_some((joint, name))
}

fn all_or_none<const K: usize>(
    places: &HashMap<&str, usize>,
    names: [&str; K],
) -> Result<Option<[usize; K]>, Fault> {
    let Some(present) = names.iter().find(|name| places.contains_key(*name)) else {
        return Ok(None);
    };
    match names.iter().find(|name| !places.contains_key(*name)) {
        Some(absent) => Err(missing(absent, &format!("the recording has \"{present}\""))),
        None => Ok(Some(names.map(|name| places[name]))),
    }
}

fn missing(column: &str, because: &str) -> Fault {
    Fault::MissingColumn {
        column: column.to_owned(),
        because: because.to_owned(),
    }
}
