"""Holds this folder's kinematics and dynamics to a general rigid-body library (pin), and the loop to itself.

`python check.py` prints the largest differences and fails where they are not small.
"""

import tempfile
from pathlib import Path

import numpy as np
import pinocchio as pin

import arms


def main():
    rng = np.random.default_rng(5)
    for make in arms.ARMS.values():
        arm = make()
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "arm.urdf"
            path.write_text(arms.urdf(arm))
            model = pin.buildModelFromUrdf(str(path))
        data = model.createData()
        dt = 0.002
        time = np.arange(0, 1.0, dt)
        swing, rate, phase = rng.uniform(0.05, 0.3, arm.n), rng.uniform(1, 5, arm.n), rng.uniform(0, 6, arm.n)
        q = np.array(arm.pose) + swing * np.sin(np.outer(time, rate) + phase)
        dq = swing * rate * np.cos(np.outer(time, rate) + phase)
        ddq = -swing * rate**2 * np.sin(np.outer(time, rate) + phase)
        ours = arms.rigid_torque(arm, q, dt)
        theirs = np.array([pin.rnea(model, data, a, b, c) for a, b, c in zip(q, dq, ddq)])
        inside = slice(5, -5)
        torque = np.abs(ours - theirs)[inside].max()
        axes, origins, _, tip = arms.forward(arm, q)
        frame = model.getFrameId("tool_flange")
        place = jac = 0.0
        for k in range(0, len(time), 50):
            pin.framesForwardKinematics(model, data, q[k])
            place = max(place, np.abs(data.oMf[frame].translation - tip[k]).max())
            full = pin.computeFrameJacobian(model, data, q[k], frame, pin.LOCAL_WORLD_ALIGNED)
            mine = np.concatenate([np.cross(axes[k], tip[k] - origins[k]).T, axes[k].T])
            jac = max(jac, np.abs(full - mine).max())
        print(f"{arm.name}: torque within {torque:.2e} N m of {np.abs(theirs).max():.0f}, "
              f"place {place:.1e} m, Jacobian {jac:.1e}")
        assert torque < 2e-3 * np.abs(theirs).max() and place < 1e-9 and jac < 1e-9


if __name__ == "__main__":
    main()
