//! Motion as hands and drives make it: without jerks.

/// Rises from 0 to 1 with zero speed and acceleration at both ends.
pub(super) fn quintic(x: f64) -> f64 {
    let x = x.clamp(0.0, 1.0);
    x * x * x * (10.0 + x * (6.0 * x - 15.0))
}

/// Time constants with which a wanted speed, and the acceleration for it, are reached, s.
const SPEED_S: f64 = 0.04;
const ACCELERATION_S: f64 = 0.012;
/// Speed below which a turning tool counts as standing, rad/s.
const STANDS_RAD_S: f64 = 2e-3;

/// An angle that follows a wanted speed.
pub(super) struct Turning {
    /// rad.
    pub angle: f64,
    /// Largest acceleration, rad/s².
    pub agility: f64,
    speed: f64,
    acceleration: f64,
}

impl Turning {
    pub fn new(angle: f64, agility: f64) -> Self {
        Self {
            angle,
            agility,
            speed: 0.0,
            acceleration: 0.0,
        }
    }

    /// Moves on by `dt`.
    pub fn towards(&mut self, wanted: f64, dt: f64) {
        let pull = ((wanted - self.speed) / SPEED_S).clamp(-self.agility, self.agility);
        self.acceleration += (pull - self.acceleration) * (dt / ACCELERATION_S).min(1.0);
        self.speed += self.acceleration * dt;
        self.angle += self.speed * dt;
    }

    /// Angle that it still turns when it brakes now, rad.
    pub fn brake_way(&self) -> f64 {
        self.speed * (0.03 + 0.5 * self.speed / self.agility)
    }

    /// Whether braking has come to its end; the rest of the motion is then dropped.
    pub fn stands(&mut self) -> bool {
        let stands = self.speed.abs() < STANDS_RAD_S;
        if stands {
            self.speed = 0.0;
            self.acceleration = 0.0;
        }
        stands
    }
}
