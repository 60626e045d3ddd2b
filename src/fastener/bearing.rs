//! What a hexagon head rests on: the ring between its bearing face and the clearance hole.

use super::Thread;

/// Bearing faces and holes of one metric size, mm.
struct Seat {
    diameter_mm: f32,
    /// Least diameter of the bearing face, ISO 4014 product grade A up to M24, B above.
    face_mm: f32,
    /// Clearance hole, ISO 273 medium series.
    hole_mm: f32,
}

const fn seat(diameter_mm: f32, face_mm: f32, hole_mm: f32) -> Seat {
    Seat {
        diameter_mm,
        face_mm,
        hole_mm,
    }
}

/// From memory; the sizes M8 to M24 are borne out by the published assembly torques that come out.
const SEATS: [Seat; 19] = [
    seat(3.0, 4.57, 3.4),
    seat(4.0, 5.88, 4.5),
    seat(5.0, 6.88, 5.5),
    seat(6.0, 8.88, 6.6),
    seat(8.0, 11.63, 9.0),
    seat(10.0, 14.63, 11.0),
    seat(12.0, 16.63, 13.5),
    seat(14.0, 19.64, 15.5),
    seat(16.0, 22.49, 17.5),
    seat(18.0, 25.34, 20.0),
    seat(20.0, 28.19, 22.0),
    seat(22.0, 31.71, 24.0),
    seat(24.0, 33.61, 26.0),
    seat(27.0, 38.0, 30.0),
    seat(30.0, 42.75, 33.0),
    seat(33.0, 46.55, 36.0),
    seat(36.0, 51.11, 39.0),
    seat(39.0, 55.86, 42.0),
    seat(42.0, 59.95, 45.0),
];

/// Diameters of a bearing face and of the hole in it, mm. For sizes that are not in the table, and
/// for unified threads, a face of 1.5·d and a hole of d (Shigley, eq. 8-27).
pub(super) fn face_and_hole_mm(thread: &Thread) -> (f32, f32) {
    let d = thread.diameter_mm;
    SEATS
        .iter()
        .find(|seat| seat.diameter_mm == d)
        .map_or((1.5 * d, d), |seat| (seat.face_mm, seat.hole_mm))
}

/// Mean bearing diameter `DKm = (dw + dh)/2` in mm of a hexagon head on a medium hole (ISO 4014,
/// ISO 273); 1.25·d for unified threads and sizes beyond M3 to M42 (Shigley, eq. 8-27).
pub fn mean_bearing_mm(thread: &Thread) -> f32 {
    let (face, hole) = face_and_hole_mm(thread);
    0.5 * (face + hole)
}
