"""Truth of one rendered clip: repetitions, faults and per-frame arrays."""

from __future__ import annotations

import hashlib
import itertools

import numpy as np

from sample_clips.rendering.angles import JOINT_NAMES, angle_arrays, drive_angle, joints, point
from sample_clips.rendering.faults import faults
from sample_clips.rendering.postures import HANDLE_FRONT_M
from sample_clips.rendering.scenario import CONTROLS
from sample_clips.rendering.set_truth import add_turns, set_faults, set_measures

SCHEMA = "plumbset.truth/1"
FULL_SHARE, CANDIDATE_SHARE = 0.70, 0.60
SAMPLES = 48
FLIES = ("chest-fly", "reverse-fly")


def usual_range(ranges):
    """Median of the ranges (R,) that reach 60 % of the largest."""
    return float(np.median(ranges[ranges >= CANDIDATE_SHARE * ranges.max()])) if len(ranges) else 1.0


class RepTruth:
    """Exact measures of the repetitions of one motion."""

    def __init__(self, stage):
        self.stage, self.motion = stage, stage.motion
        self.exercise = stage.scenario.exercise
        self.near = "left" if stage.machine.near == ".L" else "right"

    def reps(self):
        """List of repetition dicts in time order (see README for the keys)."""
        rows = [self._rep(rep) for rep in self.motion.timeline.reps]
        for row, after in itertools.pairwise(rows):
            row["rest_s"] = round(after["start_s"] - row["end_s"], 4)
        shares = self._shares(rows)
        full = [row for row, share in zip(rows, shares, strict=True) if share >= FULL_SHARE]
        base = self._base(full)
        self._hips = [
            (r["end_s"], -100 * point(r["_series"]["places"], "mid_hip")[SAMPLES - 1, 1]) for r in rows
        ]
        for row, share in zip(rows, shares, strict=True):
            row["partial"] = bool(share < FULL_SHARE)
            row["measures"]["range_share"] = round(share, 4)
            row["measures"]["stack_rest_s"] = self._stack_rest(row["number"])
            self._changes(row, base)
        add_turns(rows, self.motion.timeline)
        return rows

    def whole_set(self, rows):
        """Measures of the whole set, from the rows of `reps`."""
        found = faults(self.exercise, rows)
        gone = {f["rep"] for f in found if f["check"] in ("chest-drop", "lean-back", "hip-slide")}
        return set_measures(rows, self._hips, gone)

    def _shares(self, rows):
        """Range over the usual one of each repetition: of a fly's, whose elbows may bend, the hands' or the
        upper arms', whichever went further; only the hands can make it more than 1.
        """
        ranges = np.array([row["range_deg"] for row in rows])
        shares = ranges / usual_range(ranges)
        if self.exercise in FLIES and not self.motion.station.arm_pads:
            upper = np.array([row["_series"]["upper_arm_deg"] for row in rows])
            shares = np.maximum(shares, np.minimum(upper / usual_range(upper), 1.0))
        return [float(share) for share in shares]

    def _rep(self, rep):
        start, turn = rep.lift.bounds()
        lower, end = rep.lower.bounds()
        times = np.concatenate([np.linspace(start, end, SAMPLES), [turn, lower]])
        places, heads = self._sample(times)
        found = angle_arrays(places)
        drive = drive_angle(self.exercise, found, self.near, self.motion.station.arm_pads)
        lift_end, down = float(drive[-2]), float(drive[SAMPLES - 1])
        row = {
            "number": rep.number,
            "start_s": start,
            "turn_s": turn,
            "lower_start_s": lower,
            "end_s": end,
            "lift_s": turn - start,
            "hold_s": lower - turn,
            "lower_s": end - lower,
            "rest_s": None,
        }
        row = {k: v if v is None or k == "number" else round(v, 4) for k, v in row.items()}
        row["drive_lift_end_deg"], row["drive_load_down_deg"] = round(lift_end, 3), round(down, 3)
        row["range_deg"] = round(float(np.ptp(drive)), 3)
        row["hard_stop"] = rep.spec.hard_stop
        own = times >= (start + turn) / 2
        row["measures"] = self._measures({k: v[own] for k, v in found.items()}, places[own])
        row["_series"] = {
            "trunk": found["trunk_pitch_deg"],
            "head": heads,
            "end_trunk": found["trunk_pitch_deg"][SAMPLES - 1],
            "places": places,
            "upper_arm_deg": float(np.ptp(found["upper_arm_horizontal_deg"])),
        }
        return row

    def _sample(self, times):
        places, heads = [], []
        for t in times:
            pose, _ = self.motion.pose(t)
            _, centres = self.stage.rig.solve(pose)
            places.append(joints(self.stage.body, centres, {}))
            heads.append(pose.head_pitch)
        return np.array(places), np.array(heads)

    def _measures(self, found, places):
        """Extremes from the middle of the lift to the repetition's own load-down end."""
        near, out = self.near, {}
        for joint in ("knee", "elbow"):
            out[f"max_{joint}_deg"] = float(found[f"{joint}_{near}_deg"].max())
            out[f"min_{joint}_deg"] = float(found[f"{joint}_{near}_deg"].min())
        gap = point(places, "left_wrist")[:, 2] - point(places, "right_wrist")[:, 2]
        out["uneven_cm"] = float(100 * np.abs(gap).max())
        if self.exercise.endswith("fly"):
            out["max_arm_level_deg"] = float(np.abs(found[f"arm_level_{near}_deg"]).max())
            out["max_arm_horizontal_deg"] = float(found["arm_horizontal_deg"].max())
        wrist, shoulder, elbow = (point(places, f"{near}_{n}") for n in ("wrist", "shoulder", "elbow"))
        if self.exercise == "lat-pulldown":
            out["wrist_below_elbow_cm"] = float(100 * (elbow - wrist)[:, 2].max())
            out["lowest_wrist_over_shoulder_cm"] = float(100 * (wrist - shoulder)[:, 2].min())
        if self.exercise == "chest-press":
            mid_chest = shoulder[:, 2] - 0.26 * self.stage.rig.trunk_m
            out["hands_over_mid_chest_cm"] = float(100 * np.median(wrist[:, 2] - mid_chest))
        if self.exercise in ("chest-press", "chest-fly"):
            line = HANDLE_FRONT_M if self.exercise == "chest-press" else 0.0
            out["hands_behind_cm"] = float(100 * ((wrist - shoulder)[:, 1].max() + line))
        return {k: round(v, 3) for k, v in out.items()}

    def _stack_rest(self, number):
        """Seconds the load stays within 1 cm of its rest after a repetition; 0 after the last."""
        reps = self.motion.timeline.reps
        if number == len(reps):
            return 0.0
        times = np.arange(reps[number - 1].lower.start_s, reps[number].lift.end_s, 0.005)
        low = sum(self.motion.stack_height(t) < 0.01 for t in times)
        return round(0.005 * low, 3)

    def _base(self, full):
        if not full:
            return None
        first = [r["_series"] for r in full[:2]]
        start = [r["_series"] for r in full[:3]]
        return {
            "trunk": float(np.median([s["end_trunk"] for s in first])),
            "head": float(np.median([s["head"][SAMPLES - 1] for s in first])),
            "hip": float(np.median([point(s["places"], "mid_hip")[SAMPLES - 1, 1] for s in first])),
            "toe": float(
                np.median([point(s["places"], f"{self.near}_ankle")[SAMPLES - 1, 1] for s in first])
            ),
            "shoulder": np.median([self._shoulder_height(s["places"]) for s in start], axis=0),
        }

    def _shoulder_height(self, places):
        line = point(places, f"{self.near}_shoulder") - point(places, f"{self.near}_hip")
        return np.linalg.norm(line, axis=-1)

    def _changes(self, row, base):
        series = row.pop("_series")
        if base is None:
            return
        trunk = series["trunk"] - base["trunk"]
        row["measures"] |= {
            k: round(float(v), 3)
            for k, v in {
                "trunk_pitch_change_deg": trunk[np.argmax(np.abs(trunk))],
                "head_pitch_change_deg": _largest(series["head"] - base["head"]),
                "hip_forward_cm": 100 * _largest(base["hip"] - point(series["places"], "mid_hip")[:, 1]),
                "shoulder_raise_cm": 100
                * _largest(self._shoulder_height(series["places"]) - base["shoulder"]),
            }.items()
        }
        if not self.exercise.startswith("leg"):
            feet = 100 * _largest(base["toe"] - point(series["places"], f"{self.near}_ankle")[:, 1])
            row["measures"]["feet_forward_cm"] = round(float(feet), 3)


def _largest(values):
    return values[np.argmax(np.abs(values))]


def scenario_hash(scenario, version):
    """Hash of the scenario's text and the renderer's version."""
    return hashlib.sha256(f"{version}\n{scenario.source}".encode()).hexdigest()[:20]


def summary(stage, times, version):
    """The truth JSON (dict) of a stage whose clip has frames at times (F,) s."""
    s = stage.scenario
    control = s.exercise in CONTROLS
    truth = RepTruth(stage)
    rows = [] if control else truth.reps()
    whole = {} if control else truth.whole_set(rows)
    rig = stage.rig
    return {
        "schema": SCHEMA,
        "name": s.name,
        "exercise": s.exercise,
        "run_as": s.run_as,
        "part": s.part,
        "short": s.short,
        "note": "rendered, not a real person",
        "scenario_hash": scenario_hash(s, version),
        "renderer": version,
        "view": s.camera.view,
        "yaw_off_deg": s.camera.yaw_deg,
        "fit": s.fit,
        "problems": list(s.problems),
        "body": {
            "stature_cm": round(100 * stage.body.stature_m, 2),
            "trunk_cm": round(100 * rig.trunk_m, 2),
            "thigh_cm": round(100 * rig.thigh_m, 2),
            "shank_cm": round(100 * rig.shank_m, 2),
            "upper_arm_cm": round(100 * rig.upper_m, 2),
            "forearm_cm": round(100 * rig.fore_m, 2),
        },
        "fps": round((len(times) - 1) / float(times[-1]), 4) if len(times) > 1 else s.video.fps,
        "duration_s": round(float(times[-1]), 4),
        "width": s.camera.width,
        "height": s.camera.height,
        "rotation_deg": s.video.rotation_deg,
        "arm_pads": s.machine.arm_pads,
        "pivot_offset_cm": list(s.machine.pivot_offset_cm),
        "near_side": "left" if stage.machine.near == ".L" else "right",
        "count": sum(not r["partial"] for r in rows),
        "conditions": list(s.conditions),
        "faults": faults(s.exercise, rows, s.machine.arm_pads) + set_faults(s.exercise, whole),
        "reps": rows,
        "set": whole,
        "stack": {
            "rests": [{"start_s": round(a, 4), "end_s": round(b, 4)} for a, b in stage.motion.stack_rests()]
        },
        **({} if stage.machine.board is None else {"board": _board(stage)}),
    }


def _board(stage):
    """How the camera's axis lies against a line straight at the frame board, degrees, and how far it is."""
    centre, out = stage.machine.board
    camera, right = stage.camera, np.cross([0.0, 0.0, 1.0], out)
    across, ahead, up = (float(camera.rotation[2] @ v) for v in (right, -out, (0.0, 0.0, 1.0)))
    return {
        "turn_deg": round(float(np.degrees(np.arctan2(-across, ahead))), 2),
        "down_deg": round(float(np.degrees(np.arctan2(-up, np.hypot(across, ahead)))), 2),
        "distance_cm": round(100 * float(np.linalg.norm(camera.position - centre)), 1),
    }


class FrameTruth:
    """Collects per-frame arrays while a clip is rendered."""

    def __init__(self, stage):
        self.stage, self.rows = stage, []

    def add(self, t, shot, to_picture):
        """Note one frame: shot of `Stage.frame`; to_picture maps still pixels to the shaken picture."""
        stage = self.stage
        places = joints(stage.body, shot["centres"], shot["points"])
        if stage.absent:
            places = np.full_like(places, np.nan)
        project = lambda p: to_picture(stage.camera.project(p))  # noqa: E731
        heads = np.array(shot["heads"], float)
        heads[:, :2] = to_picture(heads[:, :2])
        drive = stage.motion.timeline.drive(t)
        self.rows.append(
            {
                "time_s": t,
                "joints_m": places,
                "joints_px": project(places),
                "heads_px": heads,
                "head_pitch_deg": shot["pose"].head_pitch,
                "stack_height_cm": 100 * stage.motion.stack_height(t),
                "profile_deg": drive,
                **{f"{k}_px": project(v) for k, v in shot["marks"].items()},
            }
        )

    def arrays(self):
        """Arrays of all frames, small types: times and angles float32, metres float16-safe float32."""
        out = {k: np.array([r[k] for r in self.rows]) for k in self.rows[0]}
        found = angle_arrays(out["joints_m"])
        near = "left" if self.stage.machine.near == ".L" else "right"
        found["drive_deg"] = drive_angle(
            self.stage.scenario.exercise, found, near, self.stage.motion.station.arm_pads
        )
        out |= found
        packed = {k: _packed(k, v) for k, v in out.items()}
        packed["joint_names"] = np.array(JOINT_NAMES)
        return packed


def _packed(key, values):
    """Round to 0.1 px, 1 mm or 0.01 deg so that the arrays compress well."""
    if key == "time_s":
        return values.astype(np.float64)
    digits = 1 if key.endswith("_px") else 3 if key == "joints_m" else 2
    return np.round(values, digits).astype(np.float32)
