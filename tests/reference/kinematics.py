"""Reference kinematics and gravity of arm7.urdf from a general rigid-body library (PyPI `pin`).

    python3 kinematics.py            write kinematics.csv beside this file
    python3 kinematics.py --check    compute again and compare with it; exit 1 on a difference

One row per pose: joint positions (rad), tip position (m), tip rotation (row by row), Jacobian of the
tip (row by row: linear x y z, angular x y z, base axes) and the torques that hold the arm (N m).
"""

import csv
import pathlib
import sys

import numpy as np
import pinocchio as pin

HERE = pathlib.Path(__file__).parent
TABLE = HERE / "kinematics.csv"
POSES = 240
SEED = 20_261_125
TOLERANCE = 1e-9  # the table holds 12 digits; the last bits may differ between builds of the library
JOINTS = 7


def header():
    return (
        [f"q{j}" for j in range(JOINTS)]
        + [f"p{i}" for i in range(3)]
        + [f"r{i}{j}" for i in range(3) for j in range(3)]
        + [f"j{i}{j}" for i in range(6) for j in range(JOINTS)]
        + [f"g{j}" for j in range(JOINTS)]
    )


def configuration(model, q):
    """The library keeps a continuous joint as cosine and sine."""
    out = pin.neutral(model)
    for joint, angle in zip(model.joints[1:], q):
        if joint.nq == 2:
            out[joint.idx_q : joint.idx_q + 2] = np.cos(angle), np.sin(angle)
        else:
            out[joint.idx_q] = angle
    return out


def rows(positions):
    model = pin.buildModelFromUrdf(str(HERE / "arm7.urdf"))
    assert model.nv == JOINTS, model.nv
    data = model.createData()
    frame = model.getFrameId("tool_flange")
    for q in positions:
        full = configuration(model, q)
        jacobian = pin.computeFrameJacobian(model, data, full, frame, pin.LOCAL_WORLD_ALIGNED)
        pin.framesForwardKinematics(model, data, full)
        tip = data.oMf[frame]
        gravity = pin.computeGeneralizedGravity(model, data, full)
        yield np.concatenate([q, tip.translation, tip.rotation.ravel(), jacobian.ravel(), gravity])


def main():
    print(f"pin {pin.__version__}, gravity {pin.Model().gravity.linear}")
    if "--check" in sys.argv[1:]:
        with TABLE.open(newline="") as file:
            names, *table = csv.reader(file)
        table = np.array(table, dtype=float)
        if names != header() or len(table) != POSES:
            sys.exit(f"{TABLE.name}: not {POSES} poses under the expected header; write it again")
        again = np.array(list(rows(table[:, :JOINTS])))
        worst = np.abs(again - table).max()
        print(f"largest difference over {POSES} poses: {worst:.3g}")
        if not worst <= TOLERANCE:
            sys.exit(f"{TABLE.name} differs from a fresh computation by more than {TOLERANCE:g}")
        return
    # Positions that an f32 holds exactly, so that both sides compute the same pose.
    random = np.random.default_rng(SEED)
    positions = random.uniform(-np.pi, np.pi, (POSES, JOINTS)).astype(np.float32).astype(float)
    with TABLE.open("w", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(header())
        out.writerows([f"{x:.12g}" for x in row] for row in rows(positions))


if __name__ == "__main__":
    main()
