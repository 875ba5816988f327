"""A job and its faces as one solid: the box, and what stands in its holes."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from facegraphic.job.model import Control, Job, Scale
from facegraphic.layout.cover import lever_direction
from facegraphic.layout.model import FaceLayout
from facegraphic.layout.scales import bearings
from facegraphic.masks.cut import body_paint
from facegraphic.preview.body import body, poses
from facegraphic.preview.hardware import Fitted, hardware
from facegraphic.preview.model import Mesh, Model, Pose, Setting
from facegraphic.preview.tones import Tones, material
from facegraphic.preview.vectors import along


def assemble(job: Job, layouts: Sequence[FaceLayout], setting: Setting | None = None) -> Model:
    """The box of a job with its hardware; parts stand at the holes of the layouts, which may be fewer than all."""
    setting = setting or Setting()
    stood = poses(job.box, job.across, job.deep)
    tones = Tones.of(shell_paint(job), setting.lamps)
    meshes = list(body(job.box, job.across, job.deep, tones.paint, material("hollow")))
    for layout in layouts:
        meshes += _fitted(layout, stood[layout.face.side], tones, setting)
    return Model((job.across, job.deep, job.box.size[2]), tuple(meshes), stood, setting)


def shell_paint(job: Job) -> str:
    """The colour of the edges, which masks leave as they leave the lid: that of the last coat over all sides."""
    return body_paint(job)


def _fitted(layout: FaceLayout, pose: Pose, tones: Tones, setting: Setting) -> Iterable[Mesh]:
    for spot in layout.holes:
        control = layout.face.control(spot.hole.id)
        if control is None or (control.part is None and control.knob is None):
            continue
        for one in hardware(fitted(control, setting), tones):
            yield placed(one, pose, spot.at, spot.hole.id)


def fitted(control: Control, setting: Setting) -> Fitted:
    """A control as it is set: a knob at its share of the travel, a stepped one at the nearest step; so a lever."""
    part, knob = control.part, control.knob
    bearing, lean = 0.0, (0.0, 0.0)
    if part is not None and part.turns:
        bearing = _bearing(control, setting.knobs)
    if part is not None and part.throws:
        dx, dy = lever_direction(control)
        way = 1 - 2 * round(setting.knobs * (part.throws - 1)) / (part.throws - 1)
        lean = (dx * way, dy * way)
    return Fitted(part, knob, bearing, lean)


def _bearing(control: Control, share: float) -> float:
    part = control.part
    assert part is not None
    if not part.step:
        return part.travel * (share - 0.5)
    scale = Scale(words=control.positions) if control.positions else control.scale
    if scale is not None:
        steps = bearings(part, scale)
    else:
        steps = [part.step * i - part.travel / 2 for i in range(part.detents)]
    return steps[round(share * (len(steps) - 1))]


def placed(mesh: Mesh, pose: Pose, at: tuple[float, float], hole: str) -> Mesh:
    """A mesh that stands round a hole's middle, in box space."""
    points = pose.carry(mesh.points + np.array([*at, 0.0]))
    normals = along(mesh.normals, np.array([pose.right, pose.up, pose.out]).T)
    return replace(mesh, points=points.astype(np.float32), normals=normals.astype(np.float32), hole=hole)
