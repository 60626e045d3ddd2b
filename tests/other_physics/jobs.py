"""Draws a job: which bolt, joint, operator, tool and source, and what a careful engineer writes down of it.

Ranges without a named source are common practice, no source.
"""

from dataclasses import dataclass, field

import numpy as np

from arms import ARMS
from bolts import LOCKING_MOST, Fastener, Joint
from hand import Hand

# Sources of samples and their shares.
SOURCES = {"slim": 0.26, "slim+spindle": 0.12, "stout": 0.18, "bent": 0.14, "spindle": 0.30}
THREADS = {
    "slim": ["M6", "M8", "M8", "M10", "M10x1.25"], "slim+spindle": ["M6", "M8", "M10", "M10x1.25"],
    "stout": ["M10", "M12", "M12x1.5", "M14", "M16"], "bent": ["M8", "M10", "M10", "M12"],
    "spindle": ["M6", "M8", "M10", "M12", "M14", "M16", "M20", "M12x1.5"],
}
LEAST = {"slim": 5.0, "slim+spindle": 5.0, "stout": 28.0, "bent": 14.0, "spindle": 5.0}


@dataclass
class Job:
    """Everything of one run: truth and description."""

    source: str
    kind: str
    arm: object
    fastener: Fastener
    joint: Joint
    hand: Hand
    target: float
    elastic_deg: float
    util: float
    undo: bool = False
    free_deg: float = 0.0
    tightened: float = 0.0
    stated: dict = field(default_factory=dict)
    effects: dict = field(default_factory=dict)
    mu_band: tuple = (0.08, 0.16)
    length: float = 30.0
    rigidity: str = "hard"
    onset: str = "angle"  # or "time", "hold", "slip", "start", "end", "none"
    advance: float = 1.0


def draw(rng, kind, source, undo=False, soft_locking=None):
    """A sound job of this source; faults then spoil it."""
    arm = None if source == "spindle" else ARMS[source.split("+")[0]]()
    for _ in range(500):
        thread = str(rng.choice(THREADS[source]))
        grade = str(rng.choice(["5.8", "8.8", "8.8", "10.9", "A4-80"]))
        band = [(0.08, 0.16), (0.12, 0.16), (0.10, 0.14)][rng.integers(3)]
        mt, mh = rng.uniform(*band, 2)
        fastener = Fastener(thread, grade, mt, mh)
        util = rng.uniform(0.55, 0.85)
        target = fastener.yield_torque(band[0]) * util
        target = round(target * 2) / 2 if target < 20 else float(round(target))
        most = arm.most_torque * (0.75 if undo else 1.0) if arm else 300.0
        if LEAST[source] <= target <= most:
            break
    d = fastener.d
    length = float(round(d * rng.uniform(1.5, 6)))
    rigidity = str(rng.choice(["hard", "hard", "hard", "medium", "soft"]))
    factor = {"hard": (1.1, 1.7), "medium": (2.0, 5.0), "soft": (5.0, 13.0)}[rigidity]
    compliance = fastener.compliance(length) * rng.uniform(*factor)
    # Nothing on a bench is stiffer than some 15 deg from snug to target.
    compliance = max(compliance, 15 * fastener.nm_per_newton() * fastener.pitch / 360 / target)
    elastic = target / (fastener.nm_per_newton() * fastener.pitch / 360 / compliance)
    if elastic > 520:
        compliance *= 520 / elastic
        elastic = 520.0
    toe = rng.uniform(2, 10) if rigidity == "hard" else rng.uniform(0.06, 0.22) * elastic
    spindle = "spindle" in source
    turns = rng.uniform(2, 8) if spindle else rng.uniform(0.8, 2.0) if source == "bent" else rng.uniform(1.2, 3.6)
    joint = Joint(
        fastener, compliance, snug=turns * 360, toe=toe, toe_power=rng.uniform(1.3, 2.6),
        running=d * rng.uniform(0.004, 0.025), grain=rng.uniform(0.004, 0.02), grain_deg=rng.uniform(3, 25),
        running_grain=rng.uniform(0.1, 0.3), runout=rng.uniform(0.0, 0.03),
        friction_wander=rng.uniform(0.0, 0.05), stribeck=rng.uniform(0.0, 0.05),
    )
    locking_job = rng.random() < (0.25 if soft_locking is None else soft_locking)
    if locking_job:
        joint.locking = LOCKING_MOST[int(d)] * rng.uniform(0.15, 0.55)
        joint.locking = min(joint.locking, 0.4 * target)
        joint.locking_from = rng.choice([-500.0, rng.uniform(60, 400)])
        if rng.random() < 0.6 and target + joint.locking < 0.92 * fastener.yield_torque(band[0]):
            target = round((target + joint.locking) * 2) / 2  # practice: locking torque is added
    hand = _hand(rng, source, target, arm)
    job = Job(source, kind, arm, fastener, joint, hand, target, elastic, util, mu_band=band, length=length,
              rigidity=rigidity)
    job.undo = undo
    if undo:
        job.tightened = target
        job.free_deg = turns * 360 + 120
        hand.stop_torque, hand.give_up_torque = 1e6, 1.6 * target
        hand.give_up_deg = job.free_deg + rng.uniform(150, 420)
    elif hand.continuous:
        hand.slow_at_deg = joint.snug - rng.uniform(60, 200)
    state(job, rng)
    return job


def _hand(rng, source, target, arm):
    style = rng.choice(["slow", "steady", "jerky", "pauses"])
    base = {"slow": (20, 45), "steady": (50, 120), "jerky": (40, 110), "pauses": (40, 100)}[style]
    hand = Hand(
        speed=rng.uniform(*base), end_speed=rng.uniform(5, 16), jerk={"jerky": 0.5}.get(style, 0.12),
        jerk_s=rng.uniform(0.15, 0.5), tremor=rng.uniform(0.003, 0.02), stop_torque=target * rng.normal(1, 0.012),
        hold_s=rng.uniform(0.3, 1.4), restart=rng.uniform(0.0, 0.05), embed=rng.uniform(0.0, 0.03),
        embed_s=rng.uniform(0.3, 1.5), reaction_s=rng.uniform(0.08, 0.2), free_s=rng.uniform(0.8, 1.4),
        stiffness=rng.uniform(25, 70) * target, play=rng.uniform(0.4, 3.0), rub=rng.uniform(0.003, 0.012) * target,
        seat=float(rng.choice([60.0, 30.0])),
    )
    if style == "pauses":
        hand.pause_deg, hand.pause_s = rng.uniform(60, 250), (0.3, 2.0)
    if "spindle" in source:
        hand.continuous = True
        hand.speed, hand.end_speed = rng.uniform(90, 400), rng.uniform(25, 70)
        hand.jerk, hand.reaction_s, hand.tremor = 0.02, 0.004, 0.0
        hand.stiffness = rng.uniform(40, 90) * target
        hand.slow_from, hand.second_speed = 0.08, rng.uniform(40, 90)
        hand.pause_deg = rng.uniform(200, 900) if rng.random() < 0.25 else 0.0
        hand.free_s = 0.7
    else:
        hand.stroke = arm.stroke
        if style == "slow":
            hand.speed = max(hand.speed, 28.0)
        if arm.name == "bent":
            hand.seat = 30.0  # its strokes are short: twelve-point socket
        # A ratchet serves where the bolt holds still while it runs back; see `draw` for the drag.
        hand.ratchet = bool(rng.random() < 0.45)
        hand.tooth = float(rng.choice([5.0, 5.0, 7.5, 4.0]))
        hand.longest_s = 110.0
        hand.aims = bool(rng.random() < 0.7)
        hand.speed = max(hand.speed, 45.0) if source != "slim" else hand.speed
    return hand


def state(job, rng):
    """What the engineer writes: known within honest tolerances, or left out."""
    j, s, h = job.joint, job.stated, job.hand
    if h.ratchet:
        least = j.running * 0.5 if not (j.locking and j.locking_from < 0) else 0.3 * j.locking
        h.drag = min(rng.uniform(0.03, 0.35), 0.7 * least)
        s["ratchet_tooth_deg"] = h.tooth
    s["class"] = job.fastener.grade if rng.random() < 0.75 else None
    usual = job.mu_band == (0.08, 0.16)  # the description's default, which may then be left out
    s["friction"] = None if usual and rng.random() < 0.6 else job.mu_band
    s["tolerance"] = float(rng.choice([10.0, 10.0, 8.0, 15.0]))
    s["rate"] = str(rng.choice(["angle", "angle", "angle", "class", "stiffness", "none"]))
    tolerance = rng.uniform(0.25, 0.45)
    s["elastic"] = max(5.0, round(job.elastic_deg * rng.uniform(1 - 0.5 * tolerance, 1 + 0.5 * tolerance)))
    s["elastic_tol"] = max(5.0, round(s["elastic"] * tolerance))
    # Start by hand: the engineer knows the turns to a quarter or half turn and says so.
    s["turns_tol"] = float(rng.choice([0.35, 0.5, 0.75]))
    turns = j.snug / 360 + rng.uniform(-0.6, 0.6) * s["turns_tol"]
    s["turns"] = round(turns, 1) if rng.random() < 0.6 else None
    if j.locking:
        least = 0.0 if rng.random() < 0.5 else round(0.45 * j.locking, 1)
        s["prevailing"] = (least, round(1.5 * j.locking + 3 * j.running, 1))
        s["locking"] = "standard" if rng.random() < 0.3 else None
        if s["locking"]:
            s["prevailing"] = None
    else:
        s["prevailing"] = (0.0, max(0.5, round(3 * j.running + 0.02 * job.target, 1))) if rng.random() < 0.6 else None
        s["locking"] = "none" if s["prevailing"] is None and rng.random() < 0.5 else None
    # Measured by pulling at a locked bolt: tool and drives of the arm in series.
    drives = 0.0 if job.arm is None or h.continuous else 1 / job.arm.drive_stiffness[-1]
    total = 1 / (1 / h.stiffness + drives)
    s["windup"] = round(total * rng.uniform(0.85, 1.15)) if rng.random() < 0.8 else None
    s["play"] = round(h.play * 1.1, 1) if rng.random() < 0.5 else None
    s["axis"] = bool(rng.random() < 0.6)
    s["side_limit"] = None
    if job.undo:
        s["turns"] = round(job.free_deg / 360 + rng.uniform(-0.25, 0.25), 1) if rng.random() < 0.7 else None
        s["window"] = (round(0.45 * job.tightened, 1), round(1.35 * job.tightened, 1)) if rng.random() < 0.5 else None


def toml(job, name):
    """The project's own description."""
    f, s, h, arm = job.fastener, job.stated, job.hand, job.arm
    lines = ["# Invented scenario of the other simulator.", "schema = 1", f'name = "{name}"', "", "[bolt]",
             f'thread = "{f.thread}"']
    if s["class"]:
        lines.append(f'class = "{s["class"]}"')
    if s["friction"]:
        lo, hi = s["friction"]
        lines += [f"thread_friction = {{ min = {lo}, max = {hi} }}", f"head_friction = {{ min = {lo}, max = {hi} }}"]
    if s["rate"] == "class" and not s.get("no_rate"):
        # Classes as the description's own words define them.
        word = "hard" if job.elastic_deg < 32 else "medium" if job.elastic_deg < 340 else "soft"
        lines += ["", "[joint]", f'class = "{word}"']
    elif s["rate"] == "stiffness" and job.rigidity == "hard" and s["class"]:
        lines += ["", "[joint]", f"length_mm = {job.length:g}"]
    if s["locking"]:
        lines += ["", "[locking]", f'feature = "{s["locking"]}"']
    spindle = "spindle" in job.source
    lines += ["", "[run]", f'mode = "{"powered_spindle" if spindle else "wrist_strokes"}"']
    if not (job.undo and s["window"]):
        lines.append(f"target_torque_nm = {job.target:g}")
    if job.undo:
        lines.append('direction = "undo"')
        if s["window"]:
            lo, hi = s["window"]
            lines += ['goal = "loosen"', f"recorded_torque_nm = {job.target:g}",
                      f"breakaway_torque_nm = {{ min = {lo:g}, max = {hi:g} }}"]
    else:
        lines.append(f"torque_tolerance_percent = {s['tolerance']:g}")
        if s["rate"] == "angle":
            lines += [f"elastic_angle_deg = {s['elastic']:g}", f"elastic_tolerance_deg = {s['elastic_tol']:g}"]
    if s["turns"] and s["turns"] > 0:
        lines += [f"rundown_turns = {s['turns']:g}"]
        if not job.undo:
            lines += [f"rundown_tolerance_turns = {min(s['turns_tol'], s['turns']):g}"]
    if s["prevailing"]:
        lo, hi = s["prevailing"]
        lines.append(f"prevailing_torque_nm = {{ min = {lo:g}, max = {hi:g} }}")
    lines += ["", "[tool]"]
    if s["windup"]:
        lines.append(f"windup_nm_per_rad = {s['windup']:g}")
    if s.get("ratchet_tooth_deg"):
        lines.append(f"ratchet_tooth_deg = {s['ratchet_tooth_deg']:g}")
    if s["play"]:
        lines.append(f"socket_play_deg = {s['play']:g}")
    lines.append(f"seat_angle_deg = {h.seat:g}")
    if arm is None:
        zero_u = max(0.02, round(0.002 * job.target, 3))
        lines += ["", "[spindle]", "torque_u_percent = 1.0", f"torque_zero_u_nm = {zero_u:g}"]
        return "\n".join(lines) + "\n"
    tool = job.effects["tool_stated"]
    com = [round(float(c), 4) for c in tool["com"]]
    lines += [f"axis = {list(map(float, arm.tool_axis))}", f"length_m = {tool['length']:g}",
              f"mass_kg = {tool['mass']:g}", f"centre_of_mass_m = {com}"]
    if s["side_limit"]:
        lines.append(f"side_moment_limit_nm = {s['side_limit']:g}")
    if s["axis"]:
        point = [round(float(c), 4) for c in job.effects["axis_stated"][0]]
        way = [round(float(c), 5) for c in job.effects["axis_stated"][1]]
        lines += ["", "[bolt_axis]", f"point_m = {point}", f"direction = {way}"]
    def each(values, digits=3):
        return "[" + ", ".join(f"{round(float(v), digits):g}" for v in values) + "]"
    lines += ["", "[arm]", f'urdf = "{arm.name}.urdf"', 'tip_link = "tool_flange"',
              f"coulomb_friction_nm = {each(arm.coulomb)}",
              f"coulomb_friction_u_nm = {each(np.maximum(0.2 * np.array(arm.coulomb), 0.05))}",
              f"viscous_friction_nm_s_per_rad = {each(arm.viscous)}",
              f"viscous_friction_u_nm_s_per_rad = {each(0.25 * np.array(arm.viscous))}",
              f"torque_zero_u_nm = {each(job.effects['zero_u'])}", "mass_u_percent = 2.0"]
    ranges = job.effects.get("range_nm") or arm.range_nm
    lines.append(f"joint_torque_range_nm = {each(ranges)}")
    if job.effects.get("noise_stated"):
        lines.append(f"joint_torque_noise_nm = {each(arm.noise)}")
    if spindle:
        lines += ["", "[spindle]", "torque_u_percent = 1.0"]
    if arm.wrist_sensor:
        lines += ["", "[wrist_sensor]", "force_u_n = 1.5", "moment_u_nm = 0.1"]
    return "\n".join(lines) + "\n"
