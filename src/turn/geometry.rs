//! What tooth, seat and play tell of the slack of a stroke, whatever the torque says.
//!
//! A ratchet drives again a whole number of teeth behind where it last drove. The way back first goes
//! through the play, then over one tooth after another, so that the number is known but for the teeth
//! that the play might just make one more or less: it is stated to half a degree, no better. A socket
//! that was lifted off drives again a whole number of seats behind, in the first seat that it meets.

use super::JoinConfig;
use super::strokes::RELEASE_RAD;
use crate::math::{floor, sqrt};

/// Slack reckoned with where none is stated (12°: a 30-tooth ratchet).
const UNKNOWN_SLACK_RAD: f32 = 0.21;
/// Margin on stated slack (1.5°), and as a part of it.
const SLACK_MARGIN_RAD: f32 = 0.026;
const SLACK_MARGIN_PART: f32 = 0.15;
/// Travel that is looked at beyond the slack (5°), and as a part of it.
const BEYOND_RAD: f32 = 0.087;
const BEYOND_PART: f32 = 0.5;
/// The play lies anywhere so far from the stated one with equal right (0.6°): half a degree by which
/// it is stated, and what the tool angles at both ends of the way back leave open.
const PLAY_HALF_RAD: f32 = 0.0105;
/// So far ahead of a seat a tool may seem to stand that stands on it (0.3°).
const SEATED_RAD: f32 = 0.005;
/// So far from a catch what torque shows still means that catch (1°).
const CATCH_RAD: f32 = 0.0175;
/// Standard uncertainty of a catch (0.1°).
const CATCH_U_RAD: f32 = 0.001_75;
/// Part of the stated play that every stroke of a ratchet surely goes through.
const SURE_PLAY: f32 = 0.8;

/// Where geometry says that ratchet or socket caught.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Catch {
    /// Tool angle less wind-up, rad.
    pub start_rad: f32,
    /// Standard uncertainty of a whole tooth more or less, rad: alike in every stroke, for the play is
    /// the same.
    pub open_rad: f32,
    /// Play at which it would be the other tooth, where both are possible, rad.
    edge_rad: Option<f32>,
    other_rad: f32,
}

impl Catch {
    /// Variance of the catch itself, rad².
    pub const VARIANCE: f32 = CATCH_U_RAD * CATCH_U_RAD;

    /// Whether what torque shows at `seen_rad` is this catch.
    pub fn is_at(&self, seen_rad: f32) -> bool {
        (seen_rad - self.start_rad).abs() < CATCH_RAD
    }
}

/// Slack at the first engagement of a tool, or of a later stroke. Angles in rad.
#[derive(Clone, Copy, Debug)]
pub(super) struct Slack {
    /// Least and largest.
    pub least_rad: f32,
    pub most_rad: f32,
    /// What is to be expected, and its variance.
    pub usual_rad: f32,
    pub variance: f32,
}

/// What is known of ratchet and socket.
#[derive(Clone, Copy, Debug)]
pub(super) struct Geometry {
    pub ratchet: bool,
    /// Angle between two catches; `None` where nothing is known of them.
    catch_rad: Option<f32>,
    /// What the play can be, learned from the strokes whose catch the torque shows.
    play_rad: (f32, f32),
    /// Travel before which a tool that has gone back surely does not turn the bolt.
    pub sure_rad: f32,
    /// Travel that is looked at for the end of the slack.
    pub window_rad: f32,
    first: Slack,
    later: Slack,
    clear_joins: u16,
}

impl Geometry {
    pub fn new(config: &JoinConfig) -> Self {
        let known = config.tooth_rad.is_some() || config.play_rad.is_some();
        let tooth = config.tooth_rad.unwrap_or(0.0);
        let play = config.play_rad.unwrap_or(0.0);
        let ratchet = tooth > 0.0;
        let with_margin = |slack: f32| slack * (1.0 + SLACK_MARGIN_PART) + SLACK_MARGIN_RAD;
        let most_rad = if !known {
            UNKNOWN_SLACK_RAD
        } else if ratchet {
            with_margin(tooth + play)
        } else {
            // A socket that is set down between two seats turns on top of the head until it falls into
            // the next one.
            with_margin(play).max(config.seat_rad)
        };
        let uniform = |spread: f32| spread * spread / 12.0;
        let first_spread = config.play_rad.unwrap_or(UNKNOWN_SLACK_RAD);
        Self {
            ratchet,
            catch_rad: known
                .then_some(if ratchet { tooth } else { config.seat_rad })
                .filter(|c| *c > 0.0),
            play_rad: config.play_rad.map_or((0.0, UNKNOWN_SLACK_RAD), |play| {
                ((play - PLAY_HALF_RAD).max(0.0), play + PLAY_HALF_RAD)
            }),
            // A pause may take back less than the play, but then more than the release.
            sure_rad: if ratchet {
                RELEASE_RAD.min(SURE_PLAY * play)
            } else {
                0.0
            },
            window_rad: most_rad + BEYOND_RAD.max(BEYOND_PART * most_rad),
            // The first engagement has no tooth in it.
            first: Slack {
                least_rad: 0.0,
                most_rad: config.play_rad.map_or(UNKNOWN_SLACK_RAD, with_margin),
                usual_rad: 0.5 * play,
                variance: uniform(first_spread),
            },
            // A ratchet goes through all the play, then catches anywhere within a tooth; a socket whose
            // catch is not known is taken to land on its seat, anywhere within the play.
            later: Slack {
                least_rad: if ratchet {
                    (SURE_PLAY * play - RELEASE_RAD).max(0.0)
                } else {
                    0.0
                },
                most_rad,
                usual_rad: if ratchet {
                    0.5 * tooth + play
                } else {
                    0.5 * play
                },
                variance: uniform(if known {
                    tooth + play
                } else {
                    UNKNOWN_SLACK_RAD
                }),
            },
            clear_joins: 0,
        }
    }

    /// Slack to be reckoned with.
    pub fn slack(&self, first: bool) -> &Slack {
        if first { &self.first } else { &self.later }
    }

    /// Learns the usual slack from a join whose point the torque showed.
    pub fn learn_slack(&mut self, slack_rad: f32) {
        self.clear_joins = self.clear_joins.saturating_add(1);
        self.later.usual_rad +=
            (slack_rad - self.later.usual_rad) / (f32::from(self.clear_joins) + 1.0);
    }

    /// The catch at which the bolt begins to turn again, of a tool that last drove at `mark_rad` and
    /// has gone back to `from_rad`; `None` where nothing is known of it.
    pub fn catch(&self, mark_rad: f32, from_rad: f32) -> Option<Catch> {
        let catch = self.catch_rad?;
        let back = mark_rad - from_rad;
        if !self.ratchet {
            // Never further than a seat ahead.
            let start_rad = mark_rad - floor((back + SEATED_RAD) / catch) * catch;
            return Some(Catch {
                start_rad,
                open_rad: 0.0,
                edge_rad: None,
                other_rad: start_rad,
            });
        }
        let (least, most) = self.play_rad;
        // Teeth passed: the more, the less play there is.
        let teeth = |play: f32| floor(((back - play) / catch).max(0.0));
        let (many, few) = (teeth(least), teeth(most));
        let place = |teeth: f32| mark_rad - teeth * catch;
        if many <= few {
            return Some(Catch {
                start_rad: place(many),
                open_rad: 0.0,
                edge_rad: None,
                other_rad: place(many),
            });
        }
        if many > few + 1.0 {
            // Play that may hide a whole tooth tells nothing.
            return None;
        }
        let edge = back - many * catch;
        let part = ((edge - least) / (most - least)).clamp(0.0, 1.0);
        let (start, other) = if part >= 0.5 {
            (many, few)
        } else {
            (few, many)
        };
        Some(Catch {
            start_rad: place(start),
            open_rad: catch * sqrt(part * (1.0 - part)),
            edge_rad: Some(edge),
            other_rad: place(other),
        })
    }

    /// The catch that the torque shows at `seen_rad`, if it is one of those possible; what it tells of
    /// the play is learned.
    pub fn shown(&mut self, catch: &Catch, seen_rad: f32) -> Option<Catch> {
        let other = Catch {
            start_rad: catch.other_rad,
            ..*catch
        };
        let is = [*catch, other].into_iter().find(|c| c.is_at(seen_rad))?;
        if let Some(edge) = catch.edge_rad {
            // The nearer catch is the one of more teeth back: there is less play than the edge.
            if is.start_rad <= catch.start_rad.min(catch.other_rad) {
                self.play_rad.1 = edge;
            } else {
                self.play_rad.0 = edge;
            }
        }
        Some(Catch {
            open_rad: 0.0,
            edge_rad: None,
            other_rad: is.start_rad,
            ..is
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn geometry(tooth_deg: Option<f32>, play_deg: f32) -> Geometry {
        Geometry::new(&JoinConfig {
            windup_nm_per_rad: None,
            tooth_rad: tooth_deg.map(f32::to_radians),
            seat_rad: core::f32::consts::FRAC_PI_6,
            play_rad: Some(play_deg.to_radians()),
            reseats: true,
            gives_way: false,
        })
    }

    /// Catch after a way back by this angle from 0, degrees, and what it leaves open.
    fn after(geometry: &Geometry, back_deg: f32) -> (f32, f32) {
        let catch = geometry.catch(0.0, -back_deg.to_radians()).unwrap();
        (catch.start_rad.to_degrees(), catch.open_rad.to_degrees())
    }

    #[test]
    fn a_ratchet_catches_a_whole_number_of_teeth_behind() {
        let geometry = geometry(Some(10.0), 4.0);
        let (start, open) = after(&geometry, 73.0);
        assert!((start + 60.0).abs() < 1e-3 && open == 0.0, "{start} {open}");
        // Back within the play: no tooth was passed.
        assert_eq!(after(&geometry, 3.0), (0.0, 0.0));
    }

    #[test]
    fn a_tooth_that_the_play_might_just_hide_is_open_until_torque_has_shown_it() {
        let mut geometry = geometry(Some(10.0), 4.0);
        // Seven teeth if the play is below 4.3°: so it is stated, within 0.6°, three to one.
        let (start, open) = after(&geometry, 74.3);
        assert!((start + 70.0).abs() < 1e-3, "{start}");
        assert!((3.5..5.0).contains(&open), "{open}");
        let catch = geometry.catch(0.0, -74.3_f32.to_radians()).unwrap();
        assert!(geometry.shown(&catch, -65.0_f32.to_radians()).is_none());
        let shown = geometry.shown(&catch, -60.2_f32.to_radians()).unwrap();
        assert!((shown.start_rad.to_degrees() + 60.0).abs() < 1e-3);
        // So the play is 4.3° or more, and the next stroke alike is known.
        let (start, open) = after(&geometry, 74.25);
        assert!((start + 60.0).abs() < 1e-3 && open == 0.0, "{start} {open}");
    }

    #[test]
    fn a_socket_catches_in_the_first_seat_that_it_meets() {
        let geometry = geometry(None, 1.0);
        assert!((after(&geometry, 125.0).0 + 120.0).abs() < 1e-3);
        assert!((after(&geometry, 119.8).0 + 120.0).abs() < 1e-3);
        // Set down just past a seat, it turns on top of the head to the next.
        assert!((after(&geometry, 148.0).0 + 120.0).abs() < 1e-3);
    }
}
