"""What stands between the truth and the file: friction of joints, sensors, sampling.

Friction: Dahl's pre-sliding model (P. R. Dahl, 1968) with a Stribeck lift, load and warm-up dependence
(Bittencourt et al., IROS 2010, report that load and temperature matter). Time stamps: gaps to 8.8 ms at a
nominal 1 kHz as measured on a real arm (see the project's reference data). The rest: common practice.
"""

import numpy as np
from scipy.ndimage import gaussian_filter1d
from scipy.signal import lfilter


def smooth_noise(rng, count, dt, seconds, shape=()):
    """Unit-variance noise without corners, correlated over about `seconds`."""
    width = max(seconds / dt / 2, 0.5)
    noise = gaussian_filter1d(rng.normal(size=(count + 8,) + shape), width, axis=0, mode="wrap")[:count]
    return noise * np.sqrt(2 * width * np.sqrt(np.pi))


def joint_friction(arm, rate, load, dt, rng):
    """Torque (T, n) that the joint spends on rubbing, positive along the motion."""
    steps = rate * dt
    time = np.arange(len(rate)) * dt
    out = np.empty_like(rate)
    truth = []
    for i in range(arm.n):
        coulomb = arm.coulomb[i] * rng.normal(1.0, 0.12)
        viscous = arm.viscous[i] * rng.normal(1.0, 0.15)
        keep = np.exp(-np.abs(steps[:, i]) / arm.presliding[i])
        push = np.sign(steps[:, i]) * (1 - keep)
        z = np.empty(len(steps))
        state = rng.uniform(-0.6, 0.6)
        for k, (a, b) in enumerate(zip(keep.tolist(), push.tolist())):
            state = a * state + b
            z[k] = state
        stribeck = 1 + rng.uniform(0.0, 0.25) * np.exp(-np.abs(rate[:, i]) / 0.03)
        warm = 1 + rng.uniform(-0.02, 0.08) * np.exp(-time / 40.0)
        loaded = rng.uniform(0.0, 0.006) * np.abs(load[:, i])
        out[:, i] = z * (coulomb * warm * stribeck + loaded) + viscous * warm * rate[:, i]
        truth.append((float(coulomb), float(viscous)))
    return out, truth


def stamps(rng, last_s, rate_hz):
    """Times of the samples: jitter, single losses, and a gap of 3 to 9 ms now and then."""
    dt = 1 / rate_hz
    time = np.arange(0.0, last_s, dt)
    jitter = rng.uniform(0.01, 0.12) * dt
    time = time + np.clip(rng.normal(size=len(time)) * jitter, -0.4 * dt, 0.4 * dt)
    keep = rng.random(len(time)) > rng.uniform(0, 0.003)
    for at in np.cumsum(rng.exponential(rng.uniform(1.0, 8.0), size=200)):
        if at > last_s:
            break
        keep &= ~((time > at) & (time < at + rng.uniform(0.003, 0.009)))
    keep[0] = True
    return np.maximum(time[keep], 0.0)


def sense(arm, torque, dt, rng, clip, time, drift=None):
    """What the joint torque sensors say at `time`, of the true torque (T, n) on a grid of `dt`."""
    lag = rng.uniform(0.001, 0.003)
    base = np.arange(len(torque)) * dt
    keep = np.exp(-dt / lag)
    out = np.empty((len(time), arm.n))
    info = {"gain": [], "bias": []}
    for i in range(arm.n):
        filtered, _ = lfilter([1 - keep], [1.0, -keep], torque[:, i], zi=[keep * torque[0, i]])
        gain = 1 + rng.normal(0, 0.003)
        bias = rng.normal(0, 0.012 * np.sqrt(arm.range_nm[i]))
        slow = 0.15 * arm.coulomb[i] * rng.normal() * base / 60.0  # warming of the sensor
        if drift is not None and drift[0] == i:
            slow = slow + drift[1]
        read = np.interp(time, base, gain * filtered + bias + slow)
        read += rng.normal(0, arm.noise[i] * rng.uniform(0.7, 1.1), len(time))
        read = np.round(read / arm.quantum[i]) * arm.quantum[i]
        out[:, i] = np.clip(read, -clip[i], clip[i])
        info["gain"].append(float(gain))
        info["bias"].append(float(bias))
    return out, info
