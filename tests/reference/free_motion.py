"""Free motion of arm7.urdf with masses and friction that are known, and what a plain fit says of it.

    python3 free_motion.py            write free_motion.csv and free_motion_fit.csv beside this file
    python3 free_motion.py --check    compute again and compare with them; exit 1 on a difference

Torques by the recursive Newton-Euler algorithm of a general rigid-body library (PyPI `pin`), velocities and
all, of an arm whose masses are a few percent off; joint friction, zero and noise are put on. The fit is
`numpy.linalg.lstsq` on the library's own torque regressor, all ten inertial figures of each link free,
beside zero, dry and viscous friction of each joint. Figures of friction in N m and N m s/rad, gravity's error
as a part of how gravity changes in the motion.
"""

import csv
import pathlib
import sys

import numpy as np
import pinocchio as pin

from kinematics import HERE, JOINTS, configuration

MOTION = HERE / "free_motion.csv"
FIT = HERE / "free_motion_fit.csv"
SEED = 20_261_129
RATE_HZ = 20
DURATION_S = 60
COULOMB = np.array([0.5, 0.6, 0.4, 0.45, 0.3, 0.25, 0.2])
VISCOUS = np.array([0.6, 0.5, 0.4, 0.5, 0.3, 0.2, 0.25])
NOISE_NM = 0.05


def motion(rng):
    time = np.arange(DURATION_S * RATE_HZ) / RATE_HZ
    pace = 2 * np.pi / rng.uniform(7.0, 12.0, JOINTS)
    phase = rng.uniform(0, 2 * np.pi, JOINTS)
    middle = np.array([0.2, 0.6, 0.3, 1.1, -0.2, 0.9, 0.0])
    at = pace * time[:, None] + phase
    q = middle + 0.35 * np.sin(at)
    return time, q, 0.35 * pace * np.cos(at), -0.35 * pace**2 * np.sin(at)


def computed():
    rng = np.random.default_rng(SEED)
    nominal = pin.buildModelFromUrdf(str(HERE / "arm7.urdf"))
    built = nominal.copy()
    for inertia in built.inertias:
        inertia.mass *= 1 + 0.03 * rng.standard_normal()
    data, built_data = nominal.createData(), built.createData()
    time, q, dq, ddq = motion(rng)
    zero = 0.2 * rng.standard_normal(JOINTS)
    full = [configuration(nominal, row) for row in q]
    rigid = np.array([pin.rnea(built, built_data, *row) for row in zip(full, dq, ddq)])
    tau = rigid + COULOMB * np.sign(dq) + VISCOUS * dq + zero + NOISE_NM * rng.standard_normal(q.shape)
    tau = np.round(tau, 3)

    gravity = np.array([pin.computeGeneralizedGravity(nominal, data, row) for row in full])
    heavy = np.array([pin.computeGeneralizedGravity(built, built_data, row) for row in full])
    mass_u = np.sqrt((heavy - gravity).var(axis=0).sum() / gravity.var(axis=0).sum())

    rows, right = [], []
    for k, row in enumerate(full):
        known = pin.rnea(nominal, data, row, dq[k], ddq[k])
        inertial = pin.computeJointTorqueRegressor(nominal, data, row, dq[k], ddq[k])
        own = np.hstack([np.eye(JOINTS), np.diag(np.sign(dq[k])), np.diag(dq[k])])
        rows.append(np.hstack([own, inertial]))
        right.append(tau[k] - known)
    found = np.linalg.lstsq(np.vstack(rows), np.concatenate(right), rcond=1e-9)[0]
    table = np.column_stack(
        [COULOMB, VISCOUS, found[JOINTS : 2 * JOINTS], found[2 * JOINTS : 3 * JOINTS], np.full(JOINTS, mass_u)]
    )
    return np.column_stack([time, q, tau]), table


FORMS = {
    MOTION: (
        ["time_s"] + [f"q{j + 1}" for j in range(JOINTS)] + [f"tau{j + 1}" for j in range(JOINTS)],
        ["%.3f"] + ["%.6f"] * JOINTS + ["%.3f"] * JOINTS,
        2e-3,  # the last digit of a torque may round the other way
    ),
    FIT: (["coulomb", "viscous", "coulomb_fit", "viscous_fit", "mass_u"], ["%.6f"] * 5, 1e-4),
}


def main():
    for (path, (header, forms, tolerance)), table in zip(FORMS.items(), computed()):
        if "--check" in sys.argv:
            with path.open() as file:
                lines = list(csv.reader(file))
            kept = np.array(lines[1:], dtype=float)
            if lines[0] != header or kept.shape != table.shape:
                sys.exit(f"{path.name}: other rows or columns than this script writes")
            worst = np.abs(kept - table).max()
            if worst > tolerance:
                sys.exit(f"{path.name}: differs by {worst}")
            print(f"{path.name}: agrees, largest difference {worst:.1e}")
        else:
            with path.open("w", newline="") as file:
                out = csv.writer(file, lineterminator="\n")
                out.writerow(header)
                out.writerows([form % x for form, x in zip(forms, row)] for row in table)


if __name__ == "__main__":
    main()
