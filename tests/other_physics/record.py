"""One run: job to recording, description and truth."""

import json
import os

import numpy as np
from scipy.interpolate import CubicSpline

import dirt
from arms import GRAVITY, Link, forward, inverse, rigid_torque, rotation
from bolts import Curve, loosening
from jobs import toml
from hand import BACK, DRIVE, FREE, HOLD, LEAVE, SEEK, work

DEG = np.pi / 180


def run(job, rng, name, folder):
    """Writes NAME.csv, NAME.toml and NAME.truth.json; returns the truth."""
    job.hand.dt = 0.001
    if job.undo:
        curve = loosening(job.joint, job.tightened, job.free_deg, rng, job.free_deg + 1200)
    else:
        first = min(-60.0, job.joint.snug - 60.0)
        curve = Curve(job.joint, job.joint.snug + 2.5 * job.elastic_deg + 2300, rng, first)
    work_done = work(job.hand, curve, rng)
    truth = _truth(job, curve, work_done)
    if truth["peak_torque_nm"] > 4 * job.target:
        raise ValueError(f"{name}: a torque of {truth['peak_torque_nm']:.0f} N m is a mistake of the loop")
    rate = float(rng.choice([500.0, 1000.0, 1000.0, 2000.0] if "spindle" in job.source else [250.0, 500.0, 1000.0]))
    if job.hand.longest_s > 60 and rate > 1000 and work_done["time_s"][-1] > 25:
        rate = 1000.0
    columns = {}
    time = dirt.stamps(rng, work_done["time_s"][-1], rate)
    if job.arm is not None:
        columns.update(_arm_columns(job, work_done, time, rng, truth))
    if "spindle" in job.source:
        columns.update(_spindle_columns(job, work_done, time, rng))
    _onset(job, curve, work_done, truth, columns, time)
    time_text = time + float(rng.choice([0.0, 12.5, 86400.25]))
    _write(os.path.join(folder, name + ".csv"), time_text, columns)
    with open(os.path.join(folder, name + ".toml"), "w") as file:
        file.write(toml(job, name))
    truth.update(name=name, source=job.source, rate_hz=rate, samples=len(time), seconds=float(time[-1]))
    thin = max(1, len(work_done["time_s"]) // 4000)
    truth["trace"] = {
        key: np.round(work_done[key][::thin], 4).tolist()
        for key in ("time_s", "bolt_deg", "torque_nm", "drive_deg", "phase")
    }
    with open(os.path.join(folder, name + ".truth.json"), "w") as file:
        json.dump(truth, file)
    return truth


def _truth(job, curve, w):
    torque, bolt = w["torque_nm"], w["bolt_deg"]
    speed = np.gradient(bolt, w["time_s"])
    turning = np.flatnonzero((speed > 1.0) & (torque > 0.02 * job.target) & (w["phase"] == DRIVE))
    last = int(turning[-1]) if len(turning) else None
    final = float(torque[max(0, last - 60):last + 60].max()) if last is not None else None
    truth = {
        "kind": job.kind, "undo": job.undo, "target_nm": job.target, "finished": bool(w["finished"]),
        "final_torque_nm": final, "last_turned_s": float(w["time_s"][last]) if last is not None else None,
        "peak_torque_nm": float(torque.max()), "final_bolt_deg": float(bolt[-1]),
        "snug_deg": curve.truth.get("snug_deg"), "elastic_deg": job.elastic_deg, "locking_nm": job.joint.locking,
        "running_nm": job.joint.running,
        "yield_torque_nm": float(job.fastener.yield_preload() * curve.k * job.joint.yield_part),
        "ratchet": job.hand.ratchet, "aims": job.hand.aims,
        "seeks": int(np.sum(np.diff((w["phase"] == SEEK) * 1) == 1)),
        "thread": job.fastener.thread, "rigidity": job.rigidity, "toe_deg": job.joint.toe,
        "stiffness_nm_per_rad": job.hand.stiffness, "stated": {k: v for k, v in job.stated.items()},
        "slips": w["slips"],
        "hand": {"speed": job.hand.speed, "jerk": job.hand.jerk, "pause_deg": job.hand.pause_deg},
    }
    end = bolt[-1] - w["shift_deg"][-1]
    rise = float(curve.torque[curve.index(end)] - curve.torque[curve.index(end - 4.0)]) / 4.0
    truth["end_slope_part"] = rise / max(curve.slope_nm_per_deg(), 1e-6)
    if job.undo:
        truth["breakaway_nm"], truth["free_deg"] = curve.breakaway, curve.free_from
    return truth


def _onset(job, curve, w, truth, columns, time):
    """When the fault first shows, s and deg, for scoring."""
    t, bolt, torque = w["time_s"], w["bolt_deg"], w["torque_nm"]
    hold = np.flatnonzero(w["phase"] == HOLD)
    drive = np.flatnonzero(w["phase"] == DRIVE)
    onset = None
    if job.kind == "sound" or job.kind == "undo_sound":
        truth["onset_s"] = None
        return
    if job.onset == "angle" and curve.onset_deg is not None:
        past = np.flatnonzero(bolt - w["shift_deg"] >= curve.onset_deg)
        onset = t[past[0]] if len(past) else None
        truth["onset_deg"] = curve.onset_deg
    elif job.onset == "slip":
        onset = w["slips"][0][0] if w["slips"] else None
    elif job.onset == "hold":
        onset = t[hold[0]] if len(hold) else None
    elif job.onset == "start":
        onset = t[drive[0]] if len(drive) else None
    elif job.onset == "end":
        onset = truth["last_turned_s"]
    elif job.onset == "stick":
        past = np.flatnonzero(torque > job.hand.stick_from * job.hand.stop_torque)
        onset = t[past[0]] if len(past) else None
    elif job.onset == "over":
        past = np.flatnonzero(torque > job.target * (1 + job.stated["tolerance"] / 100))
        onset = t[past[0]] if len(past) else None
    elif job.onset == "seized":
        past = np.flatnonzero(torque > 0.5 * job.target)
        onset = t[past[0]] if len(past) else None
    elif job.onset == "effect":
        onset = truth.get("effect_s")
    truth["onset_s"] = truth["named_s"] = None if onset is None else float(onset)
    if getattr(curve, "named_deg", None) is not None:  # where the kind, not only the fault, can be told
        past = np.flatnonzero(bolt - w["shift_deg"] >= curve.named_deg)
        truth["onset_s"] = truth["onset_s"] if len(past) else None
        truth["named_s"] = float(t[past[0]]) if len(past) else None
    truth["happened"] = onset is not None


def _spindle_columns(job, w, time, rng):
    sign = -1.0 if job.undo else 1.0
    angle = np.interp(time, w["time_s"], w["tool_deg"] - w["tool_deg"][0] - w.get("body_deg", 0.0))
    torque = np.interp(time, w["time_s"], np.where(w["phase"] == FREE, 0.0, w["torque_nm"]))
    quantum = float(rng.choice([0.02, 0.1, 0.25]))
    angle = np.round(angle / quantum) * quantum
    scale, zero = rng.normal(1, 0.006), rng.normal(0, 0.001 * job.target)
    noise = rng.uniform(0.0015, 0.006) * job.target
    torque = torque * scale + zero + rng.normal(0, noise, len(time))
    step = 10 ** np.round(np.log10(job.target / 3000))
    torque = np.round(torque / step) * step
    return {"spindle_angle_rad": sign * angle * DEG, "spindle_torque_nm": sign * torque}


def _body(link, rng, mass_u=0.02, com_m=0.003):
    return Link(link.origin, link.axis, link.mass * rng.normal(1, mass_u),
                tuple(np.array(link.com) + rng.normal(0, com_m, 3)), link.inertia)


def _arm_columns(job, w, time, rng, truth):
    arm, dt = job.arm, job.hand.dt
    sign = -1.0 if job.undo else 1.0
    t = w["time_s"]
    length = float(rng.uniform(0.12, 0.28))
    heavy = (0.8 if arm.name != "stout" else 2.0) * (2.5 if "spindle" in job.source else 1.0)
    tool = Link((0, 0, 0), (0, 0, 1), heavy * rng.uniform(0.7, 1.2),
                tuple(np.array(arm.tool_axis) * length * 0.4 + rng.normal(0, 0.01, 3)), (0.002,) * 3)
    job.effects["tool_stated"] = {"length": round(length, 3), "mass": round(tool.mass * rng.normal(1, 0.02), 2),
                                  "com": np.array(tool.com) + rng.normal(0, 0.004, 3)}
    pose = np.array(arm.pose) + rng.normal(0, 0.05 if arm.name == "bent" else 0.15, arm.n)
    turning_body = "spindle" not in job.source
    rolls = arm.name != "bent" and turning_body
    roll = (w["tool_deg"] - w["tool_deg"][0]) * sign * DEG if turning_body else np.zeros(len(t))
    if turning_body:
        middle = 0.5 * (roll.max() + roll.min())
    # Grid on which the arm's posture is found; the tool's roll is laid on where the last joint does it.
    grid_dt = 0.02 if rolls else 0.008
    grid = np.arange(0, t[-1] + 4 * grid_dt, grid_dt)
    engaged = np.interp(grid, t, (w["lift_mm"] < 1.0) * 1.0)
    engaged = dirt.gaussian_filter1d(engaged, 0.12 / grid_dt)
    loose = 1 - engaged
    axes, _, rots, tip = forward(arm, pose[None])
    frame0 = rots[0, -1]
    axis = frame0 @ np.asarray(arm.tool_axis, float)
    socket0 = tip[0] + axis * length
    side = np.linalg.svd(axis[None])[2][1:]
    wander = dirt.smooth_noise(rng, len(grid), grid_dt, rng.uniform(0.5, 1.5), (2,))
    tilt = dirt.smooth_noise(rng, len(grid), grid_dt, rng.uniform(0.7, 2.0), (3,))
    lateral = wander * (rng.uniform(0.1, 0.4) * engaged + rng.uniform(1, 3) * loose)[:, None] / 1000
    tilt = tilt * ((rng.uniform(0.2, 0.7) * engaged + rng.uniform(0.6, 1.5) * loose) * DEG)[:, None]
    if turning_body:
        tilt -= (tilt @ axis)[:, None] * axis
    else:
        body = tilt @ axis / DEG * sign
        w["body_deg"] = np.interp(t, grid, body - body[0])
    pitch = job.fastener.pitch / 1000
    along = sign * job.advance * w["bolt_deg"] / 360 * pitch - w["lift_mm"] / 1000
    rest = truth["last_turned_s"] or t[-1] * 0.7
    press_extra = np.zeros(len(t))
    lifting = job.effects.get("lifting")
    if lifting:
        load = np.flatnonzero(w["torque_nm"] > lifting["from_part"] * job.target)
        at = t[load[0]] if len(load) else rest
        ramp = np.clip((t - at) / min(lifting["over_s"], max(0.4 * (rest - at), 0.1)), 0, 1)
        along = along - ramp * lifting["mm"] / 1000
        press_extra = -ramp * 45.0
        truth["effect_s"] = float(at)
    along = np.interp(grid, t, along)
    along = dirt.gaussian_filter1d(along, 0.07 / grid_dt)  # a hand lifts with some 1 m/s^2 at most
    small = np.tile(np.eye(3), (len(grid), 1, 1))
    angle = np.linalg.norm(tilt, axis=1)
    small = rotation(tilt / np.maximum(angle, 1e-12)[:, None], angle)
    frame = small @ frame0
    if not rolls and turning_body:
        turned = np.interp(grid, t, roll - middle)
        frame = small @ rotation(axis, dirt.gaussian_filter1d(turned, 1.0)) @ frame0
    point = socket0 + along[:, None] * axis + lateral @ side
    q_grid, miss = inverse(arm, pose, point, frame, length)
    if miss > 1e-5:
        raise ValueError(f"{job.kind}: the arm {arm.name} does not reach: {miss:.2g}")
    q = CubicSpline(grid, q_grid)(t)
    if rolls:
        q[:, -1] += roll - middle
    rate = np.gradient(q, dt, axis=0)
    # Rigid body at 125 Hz with the bodies as they really are.
    thin = 8
    coarse = np.arange(0, len(t), thin)
    bodies = [_body(link, rng) for link in arm.links] + [tool]
    rigid_coarse = rigid_torque(arm, q[coarse], dt * thin, bodies)
    torque = np.stack([np.interp(t, t[coarse], rigid_coarse[:, i]) for i in range(arm.n)], 1)
    # The wrench at the socket.
    # Pressed on while on the head, eased off before lifting: nothing is pressed in the air.
    on_head = np.isin(w["phase"], (DRIVE, BACK, SEEK, HOLD, LEAVE)) * 1.0
    touch = np.clip(2 * dirt.gaussian_filter1d(on_head, 0.1 / dt) - 1, 0.0, 1.0)
    slow = dirt.smooth_noise(rng, len(t), dt, rng.uniform(0.3, 1.0), (5,))
    press = np.maximum(rng.uniform(15, 60) * (1 + 0.3 * slow[:, 0]), 2.0) * touch + press_extra * touch
    across = slow[:, 1:3] * rng.uniform(2, 12) * touch[:, None]
    lever = slow[:, 3:5] * (0.01 + rng.uniform(0.005, 0.03) * job.target)
    lever = lever * touch[:, None] + 0.06 * w["torque_nm"][:, None] * rng.normal(size=2) * touch[:, None]
    leaning = job.effects.get("side")
    if leaning:
        load = np.flatnonzero(w["torque_nm"] > leaning["from_part"] * job.target)
        at = t[load[0]] if len(load) else rest
        over = min(leaning["over_s"], max(0.4 * (rest - at), 0.05))
        ramp = np.clip((t - at) / over, 0, 1) * touch
        way = rng.normal(size=2)
        limit = job.target if job.stated["side_limit"] is None else job.stated["side_limit"]
        lever = lever + ramp[:, None] * leaning["times"] * limit * way / np.linalg.norm(way)
        truth["effect_s"] = float(at + over / leaning["times"])
    bolt_torque = sign * np.where(w["phase"] == FREE, 0.0, w["torque_nm"])
    axes_g, origins_g, rots_g, tip_g = forward(arm, q[coarse])
    tool_way = rots_g[:, -1] @ np.asarray(arm.tool_axis, float)
    socket_g = tip_g + tool_way * length
    # The wrench in the bolt's frame at the coarse times, then on every joint.
    thinned = [a[coarse] for a in (bolt_torque, press, across, lever)]
    force = axis * thinned[1][:, None] + thinned[2] @ side
    moment = thinned[3] @ side
    smooth_part = np.einsum("tik,tk->ti", np.cross(axes_g, socket_g[:, None] - origins_g), force)
    smooth_part += np.einsum("tik,tk->ti", axes_g, moment)
    gain = axes_g @ axis
    knock = job.effects.get("contact")
    if knock:
        began, ended = np.flatnonzero(touch > 0.5)[[0, -1]]
        at = t[began] + knock["at_part"] * (t[ended] - t[began])
        rise = np.clip((t[coarse] - at) / knock["over_s"], 0, 1)
        shape = rise * np.clip((at + knock["for_s"] - t[coarse]) / 0.2, 0, 1)
        hit = arm.n // 2
        spot = origins_g[:, hit] + rots_g[:, hit] @ np.array([0.03, 0.0, 0.1])
        way = rng.normal(size=3)
        push = shape[:, None] * knock["newton"] * way / np.linalg.norm(way)
        for i in range(hit + 1):
            smooth_part[:, i] += np.einsum("tk,tk->t", np.cross(axes_g[:, i], spot - origins_g[:, i]), push)
        truth["effect_s"] = float(at)
    for i in range(arm.n):
        torque[:, i] += np.interp(t, t[coarse], smooth_part[:, i])
        torque[:, i] += np.interp(t, t[coarse], gain[:, i]) * bolt_torque
    friction, truth["joint_friction"] = dirt.joint_friction(arm, rate, torque, dt, rng)
    wrist = {}
    if arm.wrist_sensor:
        load = (force, moment, bolt_torque, axis)
        wrist = _wrist(rng, time, t, coarse, tool, load, socket_g, tip_g, rots_g, dt * thin)
    full = torque + friction
    return _joint_columns(job, arm, rng, truth, t, time, q, rate, full, dt, rest) | wrist


def _joint_columns(job, arm, rng, truth, t, time, q, rate, full, dt, rest):
    clip = list(arm.range_nm)
    drift = None
    # The guide: difference of two tares; the friction band leaves about a third of Coulomb in one (own trial).
    # A gain good to 0.3 % adds its part at the target.
    zero_u = np.maximum(0.3 * np.array(arm.coulomb), 0.004 * job.target)
    job.effects["zero_u"] = zero_u
    job.effects["noise_stated"] = bool(rng.random() < 0.5)
    last = t[-1]
    if "drift" in job.effects:
        d = job.effects["drift"]
        at = d["at_part"] * last
        joint = arm.n - 1 if arm.name != "bent" else arm.n - 2
        drift = (joint, d["of_target"] * job.target * np.clip((t - at) / (0.8 * last - at), 0, 1))
        truth["effect_s"] = float(at + 0.3 * (0.8 * last - at))
    late = full[(t > 0.5 * rest) & (t < rest)]
    strong = int(np.argmax(np.abs(late).std(axis=0))) if arm.name == "bent" else arm.n - 1
    if "saturated" in job.effects:
        most = float(np.abs(full[:, strong]).max())
        clip[strong] = round(job.effects["saturated"]["part"] * most, 1)
        job.effects["range_nm"] = clip
        over = np.flatnonzero(np.abs(full[:, strong]) >= clip[strong])
        truth["effect_s"] = float(t[over[0]]) if len(over) else None
    torque, info = dirt.sense(arm, full, dt, rng, clip, time, drift)
    if "frozen" in job.effects:
        at = job.effects["frozen"]["at_part"] * rest
        k = int(np.searchsorted(time, at))
        joint = int(rng.integers(arm.n))
        torque[k:, joint] = torque[k, joint]
        truth["effect_s"], truth["frozen_joint"] = float(at), joint + 1
    truth["joint_gain"] = info["gain"]
    columns = {}
    with_rate = rng.random() < 0.75
    for i in range(arm.n):
        read = q[:, i] + full[:, i] / arm.drive_stiffness[i]  # motor-side encoder
        columns[f"q{i + 1}"] = np.round(np.interp(time, t, read) / 2e-5) * 2e-5
    if with_rate:
        for i in range(arm.n):
            columns[f"dq{i + 1}"] = np.interp(time, t, rate[:, i]) + rng.normal(0, 0.002, len(time))
    for i in range(arm.n):
        columns[f"tau{i + 1}"] = torque[:, i]
    # The engineer takes the axis from the tool placed on the bolt, to a millimetre and half a degree.
    axes, _, rots, tip = forward(arm, q[len(q) // 2][None])
    length = job.effects["tool_stated"]["length"]
    way = rots[0, -1] @ np.asarray(arm.tool_axis, float)
    point = tip[0] + way * length + rng.normal(0, 0.001, 3)
    way = way + rng.normal(0, 0.006, 3)
    job.effects["axis_stated"] = (point, way / np.linalg.norm(way))
    return columns


def _wrist(rng, time, t, coarse, tool, load, socket, tip, rots, dt):
    """Six-axis sensor between flange and tool, weight of the tool in it, zeroed by the engineer."""
    force, moment, bolt_torque, axis = load
    rot = rots[:, -1]
    com = tip + rot @ np.asarray(tool.com)
    acceleration = np.gradient(np.gradient(com, dt, axis=0), dt, axis=0)
    carried = tool.mass * (acceleration - GRAVITY)
    total = force + carried
    about = moment + np.cross(socket - tip, force) + np.cross(com - tip, carried)
    out = {}
    names = ["wrist_fx_n", "wrist_fy_n", "wrist_fz_n", "wrist_mx_nm", "wrist_my_nm", "wrist_mz_nm"]
    local_f, local_m = (np.einsum("tki,tk->ti", rot, v) for v in (total, about))
    local_axis = np.einsum("tki,k->ti", rot, axis)
    for i, name in enumerate(names):
        if i < 3:
            value = np.interp(time, t[coarse], local_f[:, i]) + rng.normal(0, 0.5)
            value = value + rng.normal(0, 0.35, len(time))
        else:
            value = np.interp(time, t[coarse], local_m[:, i - 3])
            value = value + np.interp(time, t[coarse], local_axis[:, i - 3]) * np.interp(time, t, bolt_torque)
            value = value + rng.normal(0, 0.03) + rng.normal(0, 0.02, len(time))
        out[name] = value
    return out


def _write(path, time, columns):
    names = list(columns)
    table = np.column_stack([time] + [columns[n] for n in names])
    digits = ["%.6f"] + ["%.5f" if n[0] == "q" or "angle" in n else "%.4f" for n in names]
    line = ",".join(digits) + "\n"
    with open(path, "w") as file:
        file.write("time_s," + ",".join(names) + "\n")
        file.write("".join([line % tuple(row) for row in table.tolist()]))
