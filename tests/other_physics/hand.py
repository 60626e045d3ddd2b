"""The operator's hand, the tool between arm and bolt, and time.

A scalar loop: the hand moves the tool's near end, the drive line winds up, the bolt turns when what the
drive line carries exceeds what the bolt asks (`bolts.Curve`). Between strokes the tool is lifted and seated
anew, or a ratchet runs back. Angles in deg of the tool, positive the way the work goes; torque in N m.
Speeds, pauses and reaction times: common practice, no source.
"""

from dataclasses import dataclass, field
import math

import numpy as np
from scipy.signal import lfilter

FREE, NEAR, DRIVE, BACK, LIFTED, SEEK, HOLD, LEAVE, REST = range(9)


@dataclass
class Hand:
    """How this operator and this tool work."""

    dt: float = 0.001
    speed: float = 90.0  # deg/s while running down
    end_speed: float = 12.0  # deg/s near the target
    jerk: float = 0.1  # relative unsteadiness of the speed
    jerk_s: float = 0.3
    pause_deg: float = 0.0  # mean angle between pauses; 0: none
    pause_s: tuple = (0.3, 1.5)
    relax_pause: float = 0.3  # part of pauses in which the hand lets go of the torque
    tremor: float = 0.01  # deg
    stroke: tuple = (60.0, 120.0)
    continuous: bool = False  # a spindle: no strokes
    ratchet: bool = False
    tooth: float = 5.0
    drag: float = 0.3
    seat: float = 60.0
    play: float = 1.0
    rub: float = 0.15
    stiffness: float = 3000.0  # N m/rad from hand to head
    reaction_s: float = 0.15
    stop_torque: float = 50.0
    give_up_deg: float = 1e9  # of the bolt
    give_up_torque: float = 1e9
    hold_s: float = 0.6
    free_s: float = 0.9
    leave_s: float = 0.5
    restart: float = 0.03  # friction after standing above that in motion, as a part
    stick: float = 0.0  # stick-slip: part of the torque that is lost in a jump
    stick_from: float = 0.2  # of the stop torque
    stribeck_deg_s: float = 15.0
    embed: float = 0.01  # part of the clamping torque lost while held
    embed_s: float = 0.8
    slow_from: float = 0.25  # part of the stop torque from which the hand slows
    longest_s: float = 90.0
    slips: list = field(default_factory=list)  # torques at which the socket rides over
    slips_only: bool = False  # the drive never holds: the hand gives up after the last ride-over
    slow_at_deg: float = 1e9  # bolt angle from which a programme runs at its second speed
    second_speed: float = 60.0
    lift_mm: float = 14.0
    aims: bool = True  # turns back to just before a seat; otherwise anywhere, and seeks up to a whole seat


def work(hand, curve, rng):
    """Arrays over a steady time base: time_s, tool_deg, bolt_deg, torque_nm, axial_mm lift, phase, drive_deg."""
    dt, k = hand.dt, hand.stiffness * math.pi / 180
    grid, first, step = curve.torque.tolist(), curve.first, curve.STEP
    clamp = np.maximum(curve.torque - curve.running, 0.0).tolist()
    slope = max(curve.k * curve.newton_per_deg, 1e-4)
    stribeck = curve.joint.stribeck
    most = len(grid) - 3
    count = int(hand.longest_s / dt)
    rough = _correlated(rng, count, dt / hand.jerk_s).tolist()
    shake = _correlated(rng, count, dt / 0.04).tolist()
    tool = bolt = drive = wander = 0.0
    seat = rng.uniform(0, hand.seat * 0.5)  # tool angle at which a flat is met, bolt at 0
    shift = v = v_bolt = stood = embedded = 0.0
    phase, since, lift = FREE, 0.0, 30.0
    limit = rng.uniform(*hand.stroke)
    home = 0.0
    stopping = back_to = None
    pause_left = 0.0
    relaxing = False
    next_pause = rng.exponential(hand.pause_deg) if hand.pause_deg else 1e9
    slips = list(hand.slips)
    sliding = None  # (tool angle, torque) where the socket rode over
    slipped_at = []
    worn_out = False
    out = []
    done = False
    held_drop = 0.0
    for i in range(count):
        since += dt
        torque = 0.0
        want = 0.0
        tau_v = 0.05
        if phase == FREE:
            want = 12.0 * math.sin(2.2 * since) if hand.tremor > 0 else 0.0
            if since >= hand.free_s:
                phase, since = NEAR, 0.0
        elif phase == NEAR:
            lift = max(5.0, lift - 60.0 * dt)
            if since > 0.6:
                phase, since = SEEK, 0.0
                home = tool
                # The first seat may lie anywhere within one flat.
                seat = tool + rng.uniform(0, hand.seat if not hand.continuous else 8.0) - bolt
        elif phase in (DRIVE, HOLD, BACK, LEAVE):
            x = tool - bolt - seat
            if sliding is not None:
                at, was = sliding
                torque = 0.25 * was * math.exp(-max(tool - at, 0.0) / 6.0) + hand.rub
                if x >= 0.0:
                    sliding = None
            elif x > 0.0:
                torque = k * x
                where = (bolt - shift - first) / step
                j = min(max(int(where), 0), most)
                need = grid[j] + (grid[j + 1] - grid[j]) * (where - j)
                factor = 1.0 + stribeck * math.exp(-v_bolt / hand.stribeck_deg_s)
                sticking = hand.stick > 0 and need > hand.stick_from * hand.stop_torque
                if v_bolt <= 0.02:
                    factor += hand.restart * (1.0 - math.exp(-stood / 0.3))
                if sticking and v_bolt <= 0.02:
                    factor *= 1.0 / (1.0 - 0.5 * hand.stick)
                moved = 0.0
                if torque > need * factor:
                    if sticking:
                        factor *= 1.0 - hand.stick
                    for _ in range(400):
                        excess = torque - need * factor
                        if excess <= 1e-4 * (1.0 + need):
                            break
                        grade = (grid[j + 1] - grid[j]) / step * factor
                        go = min(excess / (k + max(grade, -0.7 * k)), step)
                        bolt += go
                        moved += go
                        torque = k * (tool - bolt - seat)
                        where = (bolt - shift - first) / step
                        j = min(max(int(where), 0), most)
                        need = grid[j] + (grid[j + 1] - grid[j]) * (where - j)
                v_bolt = 0.0 if (sticking and moved == 0.0) else v_bolt + (moved / dt - v_bolt) * min(1.0, dt / 0.01)
                drive += moved
                if moved > 0.0 and v_bolt > 0.5:
                    stood = 0.0
                    embedded = 0.0 if v_bolt > 3.0 else embedded  # creeping on while the parts settle is no new turn
                else:
                    stood += dt
                    if torque > 0.3 * need and clamp[j] > 0:
                        rate = hand.embed * clamp[j] / slope / hand.embed_s
                        shift += rate * math.exp(-embedded / hand.embed_s) * dt
                        embedded += dt
                if slips and torque >= slips[0]:
                    was = torque
                    threshold = slips.pop(0)
                    if hand.slips_only and not slips:
                        slips, worn_out = [threshold], True
                    sliding = (tool, was)
                    slipped_at.append((i * dt, bolt, torque))
                    seat = tool + hand.seat * rng.uniform(0.75, 0.98) - bolt
                    torque *= 0.25
            elif x < -hand.play:
                torque = max(k * (x + hand.play), -hand.drag) if hand.ratchet else k * (x + hand.play)
                if hand.ratchet:
                    seat = tool - bolt + hand.play
            if phase == DRIVE:
                part = min(max(torque / hand.stop_torque, 0.0), 1.0)
                want = hand.speed if bolt < hand.slow_at_deg else min(hand.speed, hand.second_speed)
                if part > hand.slow_from:
                    span = (part - hand.slow_from) / (1.0 - hand.slow_from)
                    want = hand.end_speed + (hand.speed - hand.end_speed) * (1.0 - span) ** 2 * 0.6
                want = max(want * (1.0 + hand.jerk * rough[i]), 0.0)
                if pause_left > 0.0 and stopping is None:
                    pause_left -= dt
                    want = 0.0
                    if relaxing and torque > 0.35 * held_drop:
                        want = -25.0
                    tau_v = 0.03
                elif drive > next_pause:
                    pause_left = rng.uniform(*hand.pause_s)
                    relaxing = rng.random() < hand.relax_pause
                    held_drop = torque
                    next_pause = drive + rng.exponential(hand.pause_deg)
                lead = max(v, 0.0) * 0.5 * hand.reaction_s * slope if torque > 0.5 * hand.stop_torque else 0.0
                if stopping is None and (
                    torque + min(lead, 0.05 * hand.stop_torque) >= hand.stop_torque
                    or torque >= hand.give_up_torque
                    or drive >= hand.give_up_deg
                    or (worn_out and sliding is None)
                ):
                    stopping = since + hand.reaction_s * rng.uniform(0.4, 1.0)
                if stopping is not None and since >= stopping:
                    phase, since, done = HOLD, 0.0, True
                elif not hand.continuous and tool - home >= limit and stopping is None:
                    phase, since = BACK, 0.0
            elif phase == HOLD:
                want = 0.0
                tau_v = 0.02
                if since > hand.hold_s:
                    phase, since = LEAVE, 0.0
            # Otherwise let go of the torque, then run back (ratchet) or lift.
            elif x <= -0.25 * hand.play and not (hand.ratchet and phase == BACK):
                want = 0.0
                if abs(v) < 20.0 or hand.continuous:
                    phase, since, sliding = (REST if phase == LEAVE else LIFTED), 0.0, None
            elif hand.ratchet and phase == BACK:
                want = -1.4 * hand.speed
                if x < -hand.play:
                    sliding = None
                    ripple = 0.5 + 0.5 * ((tool / hand.tooth) % 1.0)
                    torque = -hand.drag * ripple
                    if tool <= home:
                        phase, since, limit = DRIVE, 0.0, rng.uniform(*hand.stroke)
                        seat = tool + rng.uniform(0.02, 1.0) * hand.tooth - bolt
            else:  # eased into the play, not onto the other flank
                want = max(-40.0, -(x + 0.5 * hand.play) / 0.12)
                tau_v = 0.02
                if since > 3.0:  # stuck on a flank: pulled off
                    phase, since, sliding = (REST if phase == LEAVE else LIFTED), 0.0, None
        elif phase == LIFTED:
            if since <= dt * 1.5 or back_to is None:
                back_to = home
                if hand.aims:
                    n = round((home - bolt - seat) / hand.seat)  # back to where the arm is at ease
                    back_to = bolt + seat + n * hand.seat - hand.play - rng.uniform(1.0, 12.0)
            turn_back = tool - back_to
            if lift < hand.lift_mm and since < 1.5 and turn_back > 0:
                lift = min(hand.lift_mm, lift + 70.0 * dt)
            elif turn_back > 0:
                want = -1.4 * hand.speed
            else:
                lift = lift - 60.0 * dt
                if lift <= 5.0:
                    lift, phase, since = 5.0, SEEK, 0.0
                    n = math.ceil((tool - bolt - seat) / hand.seat)
                    seat = seat + n * hand.seat
                    limit = rng.uniform(*hand.stroke)
        elif phase == SEEK:
            # On top of the head: turn until it falls in.
            want = min(45.0, hand.speed)
            torque = hand.rub * min(1.0, since / 0.1)
            if tool - bolt - seat >= -hand.play:
                lift = lift - 80.0 * dt
                want = 8.0
                torque = hand.rub * 0.5
                if lift <= 0.0:
                    lift, phase, since = 0.0, DRIVE, 0.0
        else:  # REST: off the head, free
            lift = min(30.0, lift + 60.0 * dt)
            if since > hand.leave_s + 0.6:
                break
        v += (want - v) * min(1.0, dt / tau_v)
        tool += v * dt
        jitter = hand.tremor * shake[i] if not hand.continuous else 0.0
        tool += jitter - wander
        wander = jitter
        out.append((tool, bolt, torque, lift, phase, drive, shift))
    got = np.array(out)
    return {
        "time_s": np.arange(len(got)) * dt, "tool_deg": got[:, 0], "bolt_deg": got[:, 1], "torque_nm": got[:, 2],
        "lift_mm": got[:, 3], "phase": got[:, 4].astype(int), "drive_deg": got[:, 5], "shift_deg": got[:, 6],
        "finished": done, "slips": slipped_at,
    }


def _correlated(rng, count, rate):
    """Unit-variance process over time with the given rate of forgetting a step."""
    keep = math.exp(-rate)
    return lfilter([math.sqrt(1 - keep * keep)], [1.0, -keep], rng.normal(size=count))
