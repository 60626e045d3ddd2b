"""What spoils a job, and what a practitioner would accept as its name.

Each function changes the job before it is run. The names were decided before any result was looked at.
Magnitudes: the signature list in common use (strip: fall of 20 % and more over 5 to 30 deg or slower;
bottoming: slope 1.5 to 3 times; missing part: 360 t/P deg; socket on a hexagon: 60 or 30 deg), otherwise
common practice, no source.
"""

import numpy as np

# kind: (accepted names, names near enough to be no nonsense)
NAMES = {
    "cross_thread": ({"cross_thread"}, {"galling", "prevailing_high", "early_snug", "not_started"}),
    "strip_fast": ({"strip"}, {"fracture", "early_yield", "yield_onset", "socket_slip", "over_angle"}),
    "strip_slow": ({"strip"}, {"early_yield", "yield_onset", "over_angle", "fracture"}),
    "galling": ({"galling"}, {"cross_thread", "early_snug", "prevailing_high", "seized"}),
    "early_yield": ({"early_yield", "yield_onset"}, {"over_angle", "strip"}),
    "yield_near": ({"yield_onset", "early_yield"}, {"over_angle", "strip"}),
    "fracture": ({"fracture"}, {"strip", "early_yield", "yield_onset", "socket_slip"}),
    "debris": ({"early_snug", "false_snug"}, {"cross_thread", "galling"}),
    "bottoming": ({"early_snug"}, {"cross_thread", "galling"}),
    "missing_part": ({"late_snug"}, {"not_started", "over_angle"}),
    "false_snug": ({"false_snug"}, {"early_snug", "strip", "galling", "prevailing_high"}),
    "prevailing_high": ({"prevailing_high"}, {"cross_thread", "galling"}),
    "prevailing_dead": ({"prevailing_low"}, set()),
    "already_tight": ({"already_tight"}, {"early_snug"}),
    "not_started": ({"not_started"}, {"late_snug", "under_torque"}),
    "socket_slip": ({"socket_slip"}, {"strip", "fracture", "stick_slip"}),
    "stick_slip": ({"stick_slip"}, {"galling"}),
    "under_torque": ({"under_torque"}, set()),
    "over_torque": ({"over_torque"}, {"yield_onset"}),
    "over_angle": ({"over_angle"}, {"early_yield", "yield_onset", "late_snug"}),
    "relaxation": ({"relaxation"}, set()),
    "tool_lifting": ({"tool_lifting"}, {"side_load", "socket_slip", "strip"}),
    "side_load": ({"side_load"}, {"joints_disagree"}),
    "contact": ({"joints_disagree"}, {"side_load", "torque_not_observable", "sensor_drift"}),
    "frozen": ({"sensor_frozen"}, {"joints_disagree"}),
    "saturated": ({"sensor_saturated"}, {"joints_disagree", "sensor_frozen"}),
    "drift": ({"sensor_drift", "joints_disagree"}, set()),
    "undo_seized": ({"seized"}, {"galling"}),
    "undo_turning": ({"turning_together"}, {"galling", "seized"}),
    "undo_stripped_drive": ({"drive_stripped", "socket_slip"}, {"seized"}),
    "undo_fracture": ({"fracture"}, {"drive_stripped"}),
    "undo_galling": ({"galling", "seized"}, {"turning_together"}),
}
ARM_ONLY = {"tool_lifting", "side_load", "contact", "frozen", "saturated", "drift"}
UNDO = {k for k in NAMES if k.startswith("undo_")}


def _between(x, lo, hi):
    return np.clip((x - lo) / (hi - lo), 0.0, 1.0)


def cross_thread(job, rng):
    at, per_turn, power = rng.uniform(40, 330), rng.uniform(0.25, 0.8), rng.uniform(0.9, 1.5)
    rough, correlation = rng.uniform(0.06, 0.2), rng.uniform(5, 20)

    def shape(c):
        x = np.clip(c.angle - at, 0, None) / 360
        grain = c._grain(correlation)
        crossed = job.target * per_turn * x**power * (1 + rough * grain + 0.12 * c._once_a_turn())
        c.torque = c.running + np.maximum(crossed, 0)
        c.preload *= 0
        c.truth.pop("snug_deg")
        c.mark(at + 360 * (max(0.03, 2 * job.joint.running / job.target) / per_turn) ** (1 / power))

    job.joint.shapes.append(shape)
    job.advance = rng.uniform(0.6, 1.0)
    job.hand.give_up_deg = 5 * 360.0


def _fall(job, rng, part, plateau, fall, sharp, after):
    def shape(c):
        peak = part * job.target
        at = c.reached(peak)
        if at is None:
            return
        x = np.clip(c.angle - at, 0, None)
        limit = peak * (plateau + (1 - plateau) * np.exp(-((x / fall) ** 1.4)))
        base = np.maximum(c.torque, 1e-3)
        c.torque = (base**-sharp + limit**-sharp) ** (-1 / sharp)
        c.torque *= 1 + 0.03 * c._grain(10.0) * (c.angle > at)
        near = slice(c.index(at - 90), c.index(at + fall + 90))
        top = c.angle[near][int(np.argmax(c.torque[near]))]
        c.mark(top)

    job.joint.shapes.append(shape)
    job.hand.give_up_deg = job.joint.snug + job.elastic_deg + after


def strip_fast(job, rng):
    part, plateau, fall = rng.uniform(0.5, 0.97), rng.uniform(0.1, 0.5), rng.uniform(4, 15)
    _fall(job, rng, part, plateau, fall, rng.uniform(10, 30), rng.uniform(120, 360))


def strip_slow(job, rng):
    part, plateau, fall = rng.uniform(0.5, 0.97), rng.uniform(0.2, 0.6), rng.uniform(35, 160)
    _fall(job, rng, part, plateau, fall, rng.uniform(8, 20), rng.uniform(180, 400))


def galling(job, rng):
    job.stated["class"] = "A4-80"
    clamp = rng.random() < 0.3
    length = rng.uniform(0.12, 0.3) * job.elastic_deg if clamp else rng.uniform(60, 160)
    ragged = rng.uniform(0.12, 0.35)
    start = job.joint.snug + 0.3 * job.elastic_deg if clamp else rng.uniform(0.35, 0.85) * job.joint.snug

    def shape(c):
        x = np.clip(c.angle - start, 0, None)
        seize = 0.04 * job.target * np.expm1(np.minimum(x / length, 8)) * (1 + ragged * c._grain(6.0))
        c.torque = c.torque + np.maximum(seize, 0)
        c.truth.pop("snug_deg", None) if not clamp else None
        c.mark(start + 0.9 * length)  # 6 % of the target on top

    job.joint.shapes.append(shape)


def _yield(job, rng, part, extra):
    j, f = job.joint, job.fastener
    net = max(job.target * part - j.locking - j.running, 0.3 * job.target)
    j.yield_part = net / (f.nm_per_newton() * f.yield_preload())
    j.hardening = rng.uniform(0.03, 0.08)

    def shape(c):
        at = c.reached(job.target * part * 0.93)
        c.mark(at if at is not None else j.snug)

    j.shapes.append(shape)
    job.hand.give_up_deg = j.snug + part * job.elastic_deg + extra


def early_yield(job, rng):
    _yield(job, rng, rng.uniform(0.55, 0.85), rng.uniform(90, 220))


def yield_near(job, rng):
    _yield(job, rng, rng.uniform(0.92, 1.02), rng.uniform(60, 150))
    job.hand.stop_torque = job.target * rng.uniform(1.0, 1.05)


def fracture(job, rng):
    part = rng.uniform(0.5, 0.97)
    if rng.random() < 0.6:
        _yield(job, rng, part, 0)
        job.joint.shapes.pop()
        plastic = rng.uniform(20, 110)
    else:
        plastic = 0.0
    drop = rng.uniform(1.5, 7)

    def shape(c):
        at = c.reached(part * job.target * (0.96 if plastic else 1.0))
        if at is None:
            return
        at += plastic
        x = np.clip(c.angle - at, 0, None)
        left = c.running * 0.3 + 0.01 * job.target
        c.torque = np.where(x > 0, left + (c.torque[c.index(at)] - left) * np.exp(-x / drop), c.torque)
        c.mark(at - plastic)  # the bolt yields first, where it does
        c.named_deg = at

    job.joint.shapes.append(shape)
    job.hand.give_up_deg = job.joint.snug + job.elastic_deg + plastic + rng.uniform(60, 200)


def _early(job, rng, early, rate):
    def shape(c):
        snug = job.joint.snug - early
        preload = c._preload(snug, job.joint.toe, rate)
        c.torque = c.running + c._clamp(preload)
        c.truth["snug_deg"] = snug
        over = np.flatnonzero(c.torque - c.running > 0.05 * job.target)
        c.mark(c.angle[over[0]])

    job.joint.shapes.append(shape)


def debris(job, rng):
    _known_turns(job, rng)
    turns = min(rng.uniform(0.25, 0.6) + job.stated["turns_tol"], job.joint.snug / 360 - 0.4)
    _early(job, rng, turns * 360, rng.uniform(0.45, 1.0))


def bottoming(job, rng):
    _known_turns(job, rng)
    turns = min(rng.uniform(0.4, 1.6) + job.stated["turns_tol"], job.joint.snug / 360 - 0.4)
    _early(job, rng, turns * 360, rng.uniform(1.5, 3.0))


def missing_part(job, rng):
    _known_turns(job, rng)
    _early(job, rng, -(rng.uniform(0.4, 1.5) + job.stated["turns_tol"]) * 360, rng.uniform(0.8, 1.2))
    job.hand.give_up_deg = job.joint.snug + 1500


def _known_turns(job, rng):
    """These faults are faults against stated turns only."""
    if job.joint.snug < 720:
        job.joint.snug = rng.uniform(2.1, 3.6) * 360
    job.stated["turns"] = round(job.joint.snug / 360 + rng.uniform(-0.1, 0.1), 1)


def false_snug(job, rng):
    before = min(rng.uniform(100, 260), job.joint.snug - 120)
    height, rise, fall, flat = rng.uniform(0.12, 0.4), rng.uniform(15, 60), rng.uniform(8, 40), rng.uniform(0, 20)

    def shape(c):
        at = job.joint.snug - before
        x = c.angle - at
        bump = _between(x, 0, rise) ** 1.3 * (1 - _between(x, rise + flat, rise + flat + fall))
        c.torque = c.torque + height * job.target * bump * (1 + 0.08 * c._grain(6.0))
        c.mark(at + 0.3 * rise)  # the burr itself shows here; it is proved false only when the torque falls back
        c.named_deg = at + rise + flat + 0.5 * fall

    job.joint.shapes.append(shape)


def prevailing_high(job, rng):
    j = job.joint
    stated = max(0.03 * job.target, 0.3 * rng.uniform(0.5, 1.2))
    job.stated["prevailing"], job.stated["locking"] = (0.0, round(stated, 1)), None
    j.locking, j.locking_from = stated * rng.uniform(1.8, 4.0), rng.uniform(-300, 100)
    job.hand.ratchet = False
    job.stated.pop("ratchet_tooth_deg", None)

    def shape(c):
        c.mark(j.locking_from + 200)

    j.shapes.append(shape)


def prevailing_dead(job, rng):
    j = job.joint
    least = 0.06 * job.target
    j.locking = 0.0
    j.running = rng.uniform(0.05, 0.3) * least
    job.stated["prevailing"], job.stated["locking"] = (round(least, 1), round(3 * least, 1)), None
    job.onset = "start"


def already_tight(job, rng):
    j = job.joint
    carried = rng.uniform(0.45, 0.95) * job.target
    j.locking_from = -3000.0
    slope = job.target / job.elastic_deg
    j.snug = -(carried - j.locking) / slope
    job.stated["turns"] = job.stated["turns"] or 3.0
    job.hand.restart = rng.uniform(0.03, 0.15)
    job.onset = "start"


def not_started(job, rng):
    click = rng.uniform(0.1, 0.5)

    def shape(c):
        beat = ((c.angle + 40) % 360) < 25
        c.torque = c.running * (0.3 + beat * 2 * click)
        c.truth.pop("snug_deg")
        c.mark(360)

    job.joint.locking = 0.0
    job.joint.shapes.append(shape)
    job.advance = 0.0
    job.hand.give_up_deg = job.joint.snug + rng.uniform(1.2, 2.5) * 360
    job.hand.ratchet = False
    job.stated.pop("ratchet_tooth_deg", None)
    job.stated["turns"] = round(job.joint.snug / 360, 1)


def socket_slip(job, rng):
    job.hand.slips = sorted(rng.uniform(0.35, 0.92, rng.integers(1, 4)) * job.hand.stop_torque)
    job.onset = "slip"


def stick_slip(job, rng):
    job.hand.stick = rng.uniform(0.12, 0.35)
    job.hand.stiffness = rng.uniform(8, 20) * job.target
    job.hand.end_speed = rng.uniform(4, 10)
    job.stated["windup"] = round(job.hand.stiffness)
    job.onset = "stick"


def under_torque(job, rng):
    job.hand.stop_torque *= rng.uniform(0.6, 0.98 - 1.6 * job.stated["tolerance"] / 100)
    job.onset = "end"


def over_torque(job, rng):
    job.hand.stop_torque *= rng.uniform(1.03 + 1.4 * job.stated["tolerance"] / 100, 1.4)
    job.joint.yield_part = 1.6
    job.onset = "over"


def over_angle(job, rng):
    job.stated["rate"] = "angle"
    factor = rng.uniform(2.2, 3.5)
    job.stated["elastic"] = max(8.0, round(job.elastic_deg / factor))
    job.stated["elastic_tol"] = max(4.0, round(0.4 * job.stated["elastic"]))

    def shape(c):
        c.mark(job.joint.snug + job.stated["elastic"] + job.stated["elastic_tol"])

    job.joint.shapes.append(shape)


def relaxation(job, rng):
    job.hand.embed, job.hand.embed_s = rng.uniform(0.18, 0.45), rng.uniform(0.4, 1.5)
    job.hand.hold_s = rng.uniform(3, 6)
    job.onset = "hold"


def _time_effect(name, **ranges):
    def make(job, rng):
        job.effects[name] = {k: rng.uniform(*v) for k, v in ranges.items()}
        job.onset = "effect"

    return make


tool_lifting = _time_effect("lifting", from_part=(0.15, 0.5), mm=(3, 8), over_s=(0.5, 2.0))
side_load = _time_effect("side", from_part=(0.1, 0.5), times=(1.4, 2.8), over_s=(0.2, 1.0))
contact = _time_effect("contact", at_part=(0.3, 0.8), newton=(40, 150), over_s=(0.1, 0.6), for_s=(1.0, 5.0))
frozen = _time_effect("frozen", at_part=(0.3, 0.85))
saturated = _time_effect("saturated", part=(0.5, 0.8))
drift = _time_effect("drift", at_part=(0.1, 0.3), of_target=(0.12, 0.35))


def undo_seized(job, rng):
    def shape(c):
        c.torque = np.full_like(c.torque, 3.0 * job.target)
        c.mark(0.0)

    job.joint.shapes.append(shape)
    job.hand.give_up_torque = job.target * rng.uniform(1.3, 1.8)
    job.onset = "seized"


def undo_turning(job, rng):
    part, after = rng.uniform(0.12, 0.6), rng.uniform(0, 15)

    def shape(c):
        level = part * c.breakaway * (1 + 0.05 * c._grain(12.0) + 0.05 * c._once_a_turn())
        c.torque = np.where(c.angle > after, np.maximum(level, np.where(c.angle < after + 6, c.torque, 0)), c.torque)
        c.mark(after + 6)

    job.joint.shapes.append(shape)
    job.hand.give_up_deg = rng.uniform(1.5, 3.5) * 360
    job.advance = 0.0


def undo_stripped_drive(job, rng):
    first = rng.uniform(0.15, 0.6) * job.tightened
    wear = rng.uniform(0.5, 0.9)
    job.hand.slips = [first * wear**i for i in range(rng.integers(5, 12))]
    job.hand.slips_only = True
    job.onset = "slip"


def undo_fracture(job, rng):
    twist, drop = rng.uniform(2, 40), rng.uniform(1, 5)

    def shape(c):
        hold = c.breakaway * rng.uniform(1.0, 1.4)
        x = np.clip(c.angle - twist, 0, None)
        c.torque = np.where(c.angle < twist, hold, 0.01 * job.target + hold * np.exp(-x / drop))
        c.mark(twist)

    job.joint.shapes.append(shape)
    job.hand.give_up_deg = twist + rng.uniform(180, 500)
    job.advance = 0.0


def undo_galling(job, rng):
    start, length = rng.uniform(0.3, 0.7) * job.free_deg, rng.uniform(50, 160)

    def shape(c):
        x = np.clip(c.angle - start, 0, None)
        rise = 0.05 * job.target * np.expm1(np.minimum(x / length, 6)) * (1 + 0.2 * c._grain(6.0))
        c.torque = c.torque + np.maximum(rise, 0) * (c.angle < c.free_from)
        c.mark(start + 0.4 * length)  # 2.5 % of the recorded torque on top

    job.joint.shapes.append(shape)
    job.hand.give_up_torque = 1.3 * job.target
