"""Invented arms: geometry, kinematics, rigid-body torques and the URDF that an engineer would have.

Nothing here is recursive Newton-Euler: the torque of a joint is the moment, about its axis, of everything
outboard, with accelerations taken numerically from the positions of the centres of mass. That keeps this
file independent of any usual implementation. `check.py` holds it to a general rigid-body library.

Sizes, masses and joint dirt are invented; magnitudes of joint dirt follow the measured figures of two real
arms kept with the project's reference data (torque-sensed: quanta 0.006 to 0.036 N m, noise 0.03 to
0.07 N m, Coulomb 0.17 to 0.46 N m; current-sensed: Coulomb 2.7 to 17 N m, noise 0.09 to 0.67 N m).
"""

from dataclasses import dataclass, field

import numpy as np

GRAVITY = np.array([0.0, 0.0, -9.81])


@dataclass
class Link:
    """A joint (origin in the frame before it, axis) and the body it moves (frame of the joint)."""

    origin: tuple
    axis: tuple
    mass: float
    com: tuple
    inertia: tuple  # diagonal, kg m^2, about the centre of mass


@dataclass
class Arm:
    """An arm with its working pose, its joint sensors and its friction (one figure a joint)."""

    name: str
    links: list
    flange: tuple  # tip link's origin in the last joint's frame
    tool_axis: tuple  # tip frame
    pose: tuple  # rad, a working pose clear of singularities
    most_torque: float  # N m, what an engineer would do up with it
    coulomb: tuple
    viscous: tuple
    presliding: tuple  # rad of motion to build friction up to 63 % (Dahl)
    noise: tuple
    quantum: tuple
    drive_stiffness: tuple  # N m/rad, motor-side encoder to link
    stroke: tuple  # deg, least and most of a stroke
    range_nm: tuple
    wrist_sensor: bool = False
    extra: dict = field(default_factory=dict)

    @property
    def n(self):
        return len(self.links)


def slim():
    """Seven joints, torque-sensed, 12 kg: the hand-guided kind."""
    z, y = (0, 0, 1), (0, 1, 0)
    links = [
        Link((0, 0, 0.17), z, 2.9, (0, 0.02, 0.08), (0.02, 0.018, 0.008)),
        Link((0, 0, 0.16), y, 2.7, (0, -0.03, 0.10), (0.02, 0.018, 0.008)),
        Link((0, 0, 0.19), z, 2.2, (0.02, 0.01, 0.09), (0.012, 0.012, 0.005)),
        Link((0.05, 0, 0.18), y, 2.1, (-0.03, 0.01, 0.07), (0.011, 0.01, 0.005)),
        Link((-0.05, 0, 0.17), z, 1.6, (0.0, 0.03, 0.10), (0.009, 0.009, 0.003)),
        Link((0, 0, 0.18), y, 1.3, (0.03, 0.0, 0.02), (0.003, 0.004, 0.004)),
        Link((0.07, 0, 0.03), z, 0.6, (0.0, 0.01, 0.06), (0.001, 0.001, 0.001)),
    ]
    return Arm(
        "slim", links, (0, 0, 0.09), (0, 0, 1), (0.2, 0.55, -0.15, 1.25, 0.25, 1.1, 0.0), 55.0,
        coulomb=(0.45, 0.42, 0.36, 0.38, 0.25, 0.24, 0.20),
        viscous=(0.6, 0.6, 0.45, 0.45, 0.25, 0.2, 0.15),
        presliding=(0.0012, 0.0012, 0.0015, 0.0015, 0.002, 0.002, 0.002),
        noise=(0.07, 0.07, 0.055, 0.055, 0.035, 0.035, 0.03),
        quantum=(0.036, 0.036, 0.036, 0.036, 0.006, 0.006, 0.006),
        drive_stiffness=(14e3, 14e3, 11e3, 11e3, 9e3, 8e3, 8e3),
        stroke=(45.0, 170.0), range_nm=(180, 180, 140, 140, 90, 90, 90),
    )


def stout():
    """Six joints, geared and sensed behind the gears, 90 kg: reaches far, rubs more."""
    z, y, x = (0, 0, 1), (0, 1, 0), (1, 0, 0)
    links = [
        Link((0, 0, 0.30), z, 32.0, (0.05, 0.0, 0.12), (0.6, 0.6, 0.4)),
        Link((0.14, 0, 0.21), y, 21.0, (0.0, 0.06, 0.30), (0.9, 0.9, 0.1)),
        Link((0, 0, 0.66), y, 17.0, (0.08, 0.0, 0.05), (0.2, 0.3, 0.3)),
        Link((0.21, 0, 0.09), x, 9.5, (0.22, 0.0, 0.0), (0.05, 0.2, 0.2)),
        Link((0.47, 0, 0), y, 4.5, (0.04, 0.0, 0.0), (0.01, 0.015, 0.015)),
        Link((0.10, 0, 0), x, 1.6, (0.03, 0.0, 0.005), (0.004, 0.003, 0.003)),
    ]
    return Arm(
        "stout", links, (0.06, 0, 0), (1, 0, 0), (0.3, 0.25, 0.35, 0.3, 0.75, 0.0), 160.0,
        coulomb=(3.4, 3.8, 2.9, 1.3, 1.2, 0.9),
        viscous=(6.0, 7.0, 5.0, 1.6, 1.4, 0.9),
        presliding=(0.0008, 0.0008, 0.001, 0.0016, 0.0016, 0.002),
        noise=(0.22, 0.22, 0.2, 0.11, 0.1, 0.09),
        quantum=(0.12, 0.12, 0.12, 0.03, 0.03, 0.03),
        drive_stiffness=(90e3, 90e3, 60e3, 25e3, 22e3, 18e3),
        stroke=(40.0, 150.0), range_nm=(900, 1100, 800, 320, 320, 260),
    )


def bent():
    """Six joints, three of them parallel, a six-axis sensor at the wrist, the tool held across the flange."""
    z, y = (0, 0, 1), (0, 1, 0)
    links = [
        Link((0, 0, 0.14), z, 4.1, (0, -0.02, 0.02), (0.012, 0.012, 0.01)),
        Link((0, 0.12, 0.02), y, 7.6, (0, 0.02, 0.20), (0.15, 0.15, 0.02)),
        Link((0, -0.10, 0.41), y, 3.4, (0, 0.01, 0.19), (0.06, 0.06, 0.006)),
        Link((0, 0.09, 0.37), y, 1.5, (0, 0.02, 0.03), (0.003, 0.003, 0.003)),
        Link((0, 0.0, 0.10), z, 1.4, (0, 0.02, 0.02), (0.003, 0.003, 0.003)),
        Link((0, 0.09, 0.0), y, 0.5, (0, 0.03, 0.0), (0.0006, 0.0006, 0.0006)),
    ]
    return Arm(
        "bent", links, (0, 0.07, 0), (0, 0, 1), (0.26, 0.08, 2.1, 0.64, 1.46, -0.42), 60.0,
        coulomb=(6.0, 6.5, 4.5, 1.8, 1.6, 1.5),
        viscous=(8.0, 8.0, 6.0, 1.8, 1.6, 1.5),
        presliding=(0.001, 0.001, 0.0012, 0.002, 0.002, 0.002),
        noise=(0.4, 0.4, 0.35, 0.14, 0.13, 0.12),
        quantum=(0.08, 0.08, 0.08, 0.02, 0.02, 0.02),
        drive_stiffness=(20e3, 20e3, 15e3, 7e3, 7e3, 7e3),
        stroke=(26.0, 40.0), range_nm=(330, 330, 200, 110, 110, 110), wrist_sensor=True,
    )


ARMS = {"slim": slim, "stout": stout, "bent": bent}


def rotation(axis, angle):
    """Rodrigues' formula for many angles about one axis, or many axes: (..., 3, 3)."""
    axis = np.asarray(axis, float)
    angle = np.asarray(angle, float)
    axis = np.broadcast_to(axis, angle.shape + (3,))
    k = np.zeros(angle.shape + (3, 3))
    k[..., 0, 1], k[..., 0, 2] = -axis[..., 2], axis[..., 1]
    k[..., 1, 0], k[..., 1, 2] = axis[..., 2], -axis[..., 0]
    k[..., 2, 0], k[..., 2, 1] = -axis[..., 1], axis[..., 0]
    s, c = np.sin(angle)[..., None, None], np.cos(angle)[..., None, None]
    return np.eye(3) + s * k + (1 - c) * (k @ k)


def forward(arm, q):
    """World axes (T, n, 3), origins (T, n, 3), link rotations (T, n, 3, 3), tip origin (T, 3)."""
    q = np.atleast_2d(q)
    at, rot = np.zeros((len(q), 3)), np.broadcast_to(np.eye(3), (len(q), 3, 3))
    axes, origins, rots = [], [], []
    for i, link in enumerate(arm.links):
        at = at + rot @ np.asarray(link.origin, float)
        axes.append(rot @ np.asarray(link.axis, float))
        origins.append(at)
        rot = rot @ rotation(link.axis, q[:, i])
        rots.append(rot)
    tip = at + rot @ np.asarray(arm.flange, float)
    return np.stack(axes, 1), np.stack(origins, 1), np.stack(rots, 1), tip


def inverse(arm, start, point, frame, length):
    """Joint angles that bring the socket to `point` (T, 3) with the tip turned to `frame` (T, 3, 3).

    Damped Gauss-Newton, all times at once from one start, so that the answer is smooth in time.
    """
    q = np.tile(np.asarray(start, float), (len(point), 1))
    axis = np.asarray(arm.tool_axis, float)
    for step in range(12):
        axes, origins, rots, tip = forward(arm, q)
        tip_rot = rots[:, -1]
        socket = tip + tip_rot @ axis * length
        miss = frame @ np.swapaxes(tip_rot, 1, 2)
        turn = 0.5 * np.stack(
            [miss[:, 2, 1] - miss[:, 1, 2], miss[:, 0, 2] - miss[:, 2, 0], miss[:, 1, 0] - miss[:, 0, 1]], 1
        )
        error = np.concatenate([point - socket, turn], 1)
        if np.abs(error).max() < 1e-9:
            break
        jac = np.concatenate(
            [np.cross(axes, socket[:, None] - origins).swapaxes(1, 2), axes.swapaxes(1, 2)], 1
        )
        gram = jac @ jac.swapaxes(1, 2) + 1e-8 * np.eye(6)
        q = q + (jac.swapaxes(1, 2) @ np.linalg.solve(gram, error[..., None]))[..., 0]
    return q, float(np.abs(error).max())


def rigid_torque(arm, q, dt, bodies=None):
    """Torque (T, n) that the joints exert to carry and accelerate the links, no outside force."""
    axes, origins, rots, tip = forward(arm, q)
    dq = np.gradient(q, dt, axis=0) if len(q) > 2 else np.zeros_like(q)
    rate = np.cumsum(axes * dq[..., None], 1)
    bodies = bodies or arm.links
    loads = []
    for i, body in enumerate(bodies):
        frame = min(i, arm.n - 1)  # a body beyond the last link is the tool, in the tip frame
        base = tip if i >= arm.n else origins[:, i]
        com = base + rots[:, frame] @ np.asarray(body.com, float)
        spin = rots[:, frame].swapaxes(1, 2) @ rate[:, frame, :, None]
        momentum = (rots[:, frame] @ (np.asarray(body.inertia)[:, None] * spin))[..., 0]
        if len(q) > 2:
            acceleration = np.gradient(np.gradient(com, dt, axis=0), dt, axis=0)
            momentum_rate = np.gradient(momentum, dt, axis=0)
        else:
            acceleration, momentum_rate = np.zeros_like(com), np.zeros_like(com)
        loads.append((frame, com, body.mass * (acceleration - GRAVITY), momentum_rate))
    torque = np.zeros_like(q)
    for i in range(arm.n):
        moment = np.zeros_like(tip)
        for frame, com, force, spin_moment in loads:
            if frame >= i:
                moment += np.cross(com - origins[:, i], force) + spin_moment
        torque[:, i] = np.einsum("tk,tk->t", axes[:, i], moment)
    return torque


def urdf(arm):
    """The arm as its maker describes it: nominal bodies, friction left to the job's description."""
    lines = ['<?xml version="1.0"?>', f'<robot name="invented-{arm.name}">', '  <link name="base"/>']
    parent = "base"
    for i, link in enumerate(arm.links, 1):
        xyz = " ".join(f"{v:g}" for v in link.origin)
        axis = " ".join(f"{v:g}" for v in link.axis)
        com = " ".join(f"{v:g}" for v in link.com)
        ixx, iyy, izz = link.inertia
        lines += [
            f'  <joint name="joint{i}" type="revolute"><parent link="{parent}"/><child link="link{i}"/>',
            f'    <origin xyz="{xyz}" rpy="0 0 0"/><axis xyz="{axis}"/>',
            '    <limit lower="-6.3" upper="6.3" effort="1000" velocity="10"/></joint>',
            f'  <link name="link{i}"><inertial><origin xyz="{com}"/><mass value="{link.mass:g}"/>',
            f'    <inertia ixx="{ixx:g}" iyy="{iyy:g}" izz="{izz:g}" ixy="0" ixz="0" iyz="0"/></inertial></link>',
        ]
        parent = f"link{i}"
    xyz = " ".join(f"{v:g}" for v in arm.flange)
    lines += [
        f'  <joint name="flange" type="fixed"><parent link="{parent}"/><child link="tool_flange"/>',
        f'    <origin xyz="{xyz}" rpy="0 0 0"/></joint>',
        '  <link name="tool_flange"/>',
        "</robot>",
    ]
    return "\n".join(lines) + "\n"
