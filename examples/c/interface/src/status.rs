//! What a call answers.

use core::ffi::CStr;

/// What a call answers. Numbers are never reused: a later version may add to them.
///
/// After anything but `BM_STATUS_OK` nothing was written to the caller's structs, and turning must
/// not be permitted on the word of an earlier call.
#[repr(i32)]
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Status {
    /// Done.
    Ok = 0,
    /// A pointer that is needed is null.
    NullPointer = 1,
    /// A pointer is not aligned as its type or `bm_monitor_align` asks.
    Misaligned = 2,
    /// `struct_size` is not the size of this version's struct.
    StructSize = 3,
    /// The header is of another ABI version than the library.
    AbiVersion = 4,
    /// The memory is smaller than `bm_monitor_size` asks.
    MemoryTooSmall = 5,
    /// The library was not built for this number of joints.
    JointsNotBuilt = 6,
    /// The sample has another number of joints than the plan's arm.
    JointsDiffer = 7,
    /// There is no monitor in this memory: never created, destroyed, moved or overwritten.
    NotAMonitor = 8,
    /// Another call on this monitor has not returned yet.
    Busy = 9,
    /// A flag is set that this version does not know.
    UnknownFlag = 10,
    /// The plan is damaged or cut short.
    PlanDamaged = 11,
    /// The plan is of another version.
    PlanVersion = 12,
    /// The plan arrived whole, but its figures or its layout are unsound.
    PlanUnsound = 13,
    /// The plan has no such pass or bolt.
    NoSuchTurn = 14,
    /// A length or a size cannot be true.
    BadLength = 15,
    /// A number stands for nothing in this version.
    UnknownNumber = 16,
}

impl Status {
    /// Every one, in the order of their numbers.
    const ALL: [Self; 17] = [
        Self::Ok,
        Self::NullPointer,
        Self::Misaligned,
        Self::StructSize,
        Self::AbiVersion,
        Self::MemoryTooSmall,
        Self::JointsNotBuilt,
        Self::JointsDiffer,
        Self::NotAMonitor,
        Self::Busy,
        Self::UnknownFlag,
        Self::PlanDamaged,
        Self::PlanVersion,
        Self::PlanUnsound,
        Self::NoSuchTurn,
        Self::BadLength,
        Self::UnknownNumber,
    ];

    /// The status of a number; `None` if this version has none.
    pub fn from_number(number: i32) -> Option<Self> {
        Self::ALL
            .into_iter()
            .find(|status| *status as i32 == number)
    }

    /// What it means and how to mend it.
    pub const fn text(self) -> &'static CStr {
        match self {
            Self::Ok => c"done",
            Self::NullPointer => c"a pointer that is needed is null",
            Self::Misaligned => {
                c"a pointer is misaligned: align the memory to bm_monitor_align(), structs as the compiler does"
            }
            Self::StructSize => {
                c"struct_size is not that of this version: set it to sizeof, compile with this library's header"
            }
            Self::AbiVersion => c"header and library differ: compile with this library's header",
            Self::MemoryTooSmall => {
                c"the memory is too small: give bm_monitor_size(joints), or BM_MONITOR_ROOM, bytes"
            }
            Self::JointsNotBuilt => {
                c"no monitor for this number of joints: build the library with the feature any-joints"
            }
            Self::JointsDiffer => {
                c"the sample has other joints than the plan: give those of the plan's arm, 0 without one"
            }
            Self::NotAMonitor => {
                c"no monitor in this memory: create one there, and do not move or overwrite it"
            }
            Self::Busy => {
                c"another call on this monitor has not returned: call it from one place at a time"
            }
            Self::UnknownFlag => c"a flag is not known: set only those of this version's header",
            Self::PlanDamaged => c"the plan is damaged or cut short: load it again",
            Self::PlanVersion => {
                c"the plan is of another version: compile it with the host tools of this release"
            }
            Self::PlanUnsound => {
                c"the plan is unsound: bm_setup.why says where, correct the description"
            }
            Self::NoSuchTurn => c"the plan has no such pass or bolt: both count from 0",
            Self::BadLength => c"a length is 0 or beyond any memory",
            Self::UnknownNumber => {
                c"a number stands for nothing here: header and library may be of different releases"
            }
        }
    }
}
