"""The bolt: what torque it takes to turn it further, over its angle.

The sound curve is made from threads and friction (VDI 2230 / ISO 16047 torque-preload equation, from
memory), not from a shape: preload grows with angle over the compliance of bolt and parts, after a toe in
which the parts are pulled together; torque is preload times a friction figure that wanders with the grain
of the surfaces. Faults change the parts of which the curve is made (see `faults.py`).
"""

from dataclasses import dataclass, field

import numpy as np
from scipy.signal import lfilter
from scipy.special import gamma

# d: pitch, pitch diameter d2 = d - 0.6495 P, stress area = pi/4 (d - 0.9382 P)^2 (ISO 898-1, ISO 68-1);
# width across flats ISO 4014, clearance hole ISO 273 medium.
SIZES = {
    "M6": (6.0, 1.0, 10.0, 6.6), "M8": (8.0, 1.25, 13.0, 9.0), "M10": (10.0, 1.5, 16.0, 11.0),
    "M12": (12.0, 1.75, 18.0, 13.5), "M14": (14.0, 2.0, 21.0, 15.5), "M16": (16.0, 2.0, 24.0, 17.5),
    "M20": (20.0, 2.5, 30.0, 22.0), "M10x1.25": (10.0, 1.25, 16.0, 11.0), "M12x1.5": (12.0, 1.5, 18.0, 13.5),
}
# Yield and tensile strength in MPa, ISO 898-1 and ISO 3506-1.
CLASSES = {"5.8": (420.0, 520.0), "8.8": (640.0, 800.0), "10.9": (940.0, 1040.0), "A4-80": (600.0, 800.0)}
# Highest torque at first assembly of a prevailing-torque nut, N m, ISO 2320 (from memory, steel, 8 and 10).
LOCKING_MOST = {6: 3.0, 8: 6.0, 10: 10.5, 12: 15.5, 14: 24.0, 16: 32.0, 20: 54.0}
STEEL = 205e3  # N/mm^2
DEG = np.pi / 180


@dataclass
class Fastener:
    """Thread, class and friction as they really are."""

    thread: str
    grade: str
    mu_thread: float
    mu_head: float

    def __post_init__(self):
        self.d, self.pitch, self.flats, self.hole = SIZES[self.thread]
        self.d2 = self.d - 0.6495 * self.pitch
        self.stress_d = self.d - 0.9382 * self.pitch
        self.area = np.pi / 4 * self.stress_d**2
        self.bearing = (0.95 * self.flats + self.hole) / 2

    def nm_per_newton(self, mu_thread=None, mu_head=None, loosen=False):
        """T / F in N m per N."""
        mt = self.mu_thread if mu_thread is None else mu_thread
        mh = self.mu_head if mu_head is None else mu_head
        helix = self.pitch / (2 * np.pi) * (-1 if loosen else 1)
        return (helix + 0.577 * mt * self.d2 + 0.5 * mh * self.bearing) / 1000

    def yield_preload(self, mu_thread=None, strength=None):
        """Preload at which the shank yields under tension and torsion, N (VDI 2230)."""
        mt = self.mu_thread if mu_thread is None else mu_thread
        strength = CLASSES[self.grade][0] if strength is None else strength
        twist = 1.5 * self.d2 / self.stress_d * (self.pitch / (np.pi * self.d2) + 1.155 * mt)
        return strength * self.area / np.sqrt(1 + 3 * twist**2)

    def yield_torque(self, mu):
        return self.yield_preload(mu) * self.nm_per_newton(mu, mu)

    def compliance(self, length):
        """Bolt and solid steel parts, mm/N: shank and a half diameter at either end, parts as a sleeve."""
        bolt = (length + 0.9 * self.d) / (STEEL * self.area)
        outer = self.flats + 0.5 * length * 0.5
        sleeve = np.pi / 4 * (min(outer, 3 * self.d) ** 2 - self.hole**2)
        return bolt + length / (STEEL * sleeve)


@dataclass
class Joint:
    """What one bolt really meets. Angles in deg from the start of the run."""

    fastener: Fastener
    compliance: float  # mm/N, bolt and parts together
    snug: float  # deg: where the elastic line, drawn back, meets the running torque
    toe: float  # deg over which the parts are pulled together
    toe_power: float
    running: float  # N m before snug, locking feature aside
    locking: float = 0.0  # N m at its first turn
    locking_from: float = 0.0  # deg where the locking feature is met
    grain: float = 0.015  # part of the torque, standard deviation
    grain_deg: float = 8.0  # correlation angle
    running_grain: float = 0.2
    runout: float = 0.02  # once a turn
    yield_part: float = 1.0  # of the class's yield preload
    hardening: float = 0.06  # slope beyond yield as a part of the elastic one
    friction_wander: float = 0.03  # slow change of friction over the clamping angle
    stribeck: float = 0.03  # friction at rest above that at speed, as a part
    shapes: list = field(default_factory=list)  # functions of faults: (curve) -> None


class Curve:
    """Torque to turn the bolt further over its angle (N m, grid in deg); positive, for either direction."""

    STEP = 0.1  # deg

    def __init__(self, joint, last_deg, rng, first_deg=-60.0):
        self.joint, self.rng = joint, rng
        self.first = first_deg
        self.angle = np.arange(first_deg, last_deg, self.STEP)
        self.truth = {"snug_deg": joint.snug}
        self.slip_at = []  # socket slips: (drive torque part, ...), filled by faults
        self.onset_deg = None
        self.free_from = None
        f = joint.fastener
        self.k = f.nm_per_newton()
        self.newton_per_deg = f.pitch / 360 / joint.compliance
        self.noise = self._grain(joint.grain_deg)
        self.slow = self._grain(150.0)
        self.phase = rng.uniform(0, 2 * np.pi)
        self.running = self._running()
        self.preload = self._preload(joint.snug, joint.toe, 1.0)
        self.torque = self.running + self._clamp(self.preload)
        for shape in joint.shapes:
            shape(self)
        self.torque = np.maximum(self.torque, 0.0)

    def _grain(self, correlation_deg):
        """A first-order Gauss-Markov process over angle, unit variance: surfaces, not time, make it."""
        keep = np.exp(-self.STEP / correlation_deg)
        white = self.rng.normal(size=len(self.angle)) * np.sqrt(1 - keep**2)
        white[0] /= np.sqrt(1 - keep**2)
        return lfilter([1.0], [1.0, -keep], white)

    def _once_a_turn(self):
        return np.sin(self.angle * DEG + self.phase)

    def _running(self):
        j = self.joint
        free = j.running * (1 + j.running_grain * self.noise + 0.25 * self._once_a_turn())
        if j.locking > 0:
            along = self.angle - j.locking_from
            # Up over some 400 deg as the insert is met, then 20 % less as it is smoothed.
            rise = np.clip(along / 400, 0, 1) ** 0.8
            worn = 1 - 0.2 * (1 - np.exp(-np.clip(along - 400, 0, None) / 700))
            free = free + j.locking * rise * worn * (1 + 0.05 * self.noise + 0.05 * self._once_a_turn())
        return np.maximum(free, 0.003)

    def _preload(self, snug, toe, rate, yield_part=None):
        """Preload over angle: nothing, the toe, elastic, then plastic above the yield of the shank."""
        j = self.joint
        # The elastic line starts later than contact by the integral of what the toe lacks.
        along = np.clip(self.angle - snug + toe * gamma(1 + 1 / j.toe_power), 0, None)
        closing = 1 - np.exp(-((along / max(toe, 0.05)) ** j.toe_power)) if toe > 0 else (along > 0) * 1.0
        elastic = np.cumsum(closing) * self.STEP * self.newton_per_deg * rate
        top = j.fastener.yield_preload() * (j.yield_part if yield_part is None else yield_part)
        beyond = np.clip(elastic / top, 0, None)
        # Rounded knee: the elastic part saturates, what is beyond goes on with the hardening slope.
        knee = beyond / (1 + beyond**14) ** (1 / 14)
        return top * (knee + j.hardening * (beyond - knee))

    def _clamp(self, preload):
        j = self.joint
        part = preload / max(preload.max(), 1.0)
        wander = j.friction_wander * self.slow * np.sqrt(np.clip(part, 0, 1)) * 0.5
        return self.k * preload * (1 + j.grain * self.noise + 0.5 * j.runout * self._once_a_turn() + wander)

    def slope_nm_per_deg(self):
        return self.k * self.newton_per_deg

    def reached(self, torque):
        """First angle at which the curve needs `torque`, deg (None: never)."""
        over = np.flatnonzero(self.torque >= torque)
        return float(self.angle[over[0]]) if len(over) else None

    def index(self, deg):
        return int(np.clip((deg - self.first) / self.STEP, 0, len(self.angle) - 1))

    def mark(self, deg):
        """Where the fault begins to show in the bolt."""
        if self.onset_deg is None or deg < self.onset_deg:
            self.onset_deg = float(deg)


def loosening(joint, from_torque, free_deg, rng, last_deg):
    """The curve of a bolt undone, over the angle undone: breakaway, elastic fall, running, free thread."""
    curve = Curve.__new__(Curve)
    curve.joint, curve.rng, curve.first = joint, rng, -60.0
    curve.angle = np.arange(-60.0, last_deg, Curve.STEP)
    curve.truth, curve.slip_at, curve.onset_deg = {}, [], None
    f = joint.fastener
    curve.noise, curve.slow = curve._grain(joint.grain_deg), curve._grain(150.0)
    curve.phase = rng.uniform(0, 2 * np.pi)
    preload = from_torque / f.nm_per_newton() * rng.uniform(0.85, 0.99)  # relaxed since (common practice)
    undo = f.nm_per_newton(loosen=True)
    rest = 1.0 + rng.uniform(0.05, 0.30)  # standing contact sticks: breakaway above sliding (common practice)
    settle = rng.uniform(4.0, 12.0)
    newton_per_deg = f.pitch / 360 / joint.compliance
    left = preload - newton_per_deg * np.clip(curve.angle, 0, None)
    toe = rng.uniform(0.02, 0.08) * preload
    left = np.where(left < toe, toe * np.exp(np.minimum(left - toe, 0.0) / toe), left)
    stick = 1 + (rest - 1) * np.exp(-np.clip(curve.angle, 0, None) / settle)
    joint.locking_from = -4000.0
    running = curve._running()
    fade = np.clip((free_deg - curve.angle) / 150, 0, 1) ** 0.7  # the last threads, one after another
    if joint.locking > 0:
        fade = np.clip((free_deg - 500 - curve.angle) / 300, 0.0, 1.0) * (running > 0) + 0.03 * (
            curve.angle < free_deg
        )
    curve.running = running * np.where(curve.angle < free_deg, np.maximum(fade, 0.02), 0.0)
    curve.k, curve.newton_per_deg = undo, newton_per_deg
    curve.preload = left
    curve.torque = curve.running + undo * left * stick * (1 + joint.grain * curve.noise)
    curve.free_from = free_deg
    curve.breakaway = float(curve.torque[curve.index(0.0)])
    for shape in joint.shapes:
        shape(curve)
    curve.torque = np.maximum(curve.torque, 0.0)
    return curve
