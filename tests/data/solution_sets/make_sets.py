"""Makes poses.csv and solutions.csv: whole solution sets of every arm file here, from two published libraries.

Run as `python make_sets.py [ARM ...]`; with names, the rows of other arms stay as they are. It needs Python 3.11 or
later with numpy, eaik and ssik (versions in README.md). Everything random has the arm's name for its seed.

For every pose the answers of both libraries, and those of many random starts of a damped Newton iteration here, are
corrected on the forward kinematics below and put together; README.md says how the three differ. Inside: metres and
radians; poses are 4x4 matrices `base_from_flange`.
"""

import csv
import sys
import tomllib
import zlib
from collections import Counter
from itertools import product
from pathlib import Path

import numpy as np
import ssik
from eaik.IK_HP import HPRobot

FOLDER = Path(__file__).parent
POSE_COLUMNS = ["arm", "pose", "x_mm", "y_mm", "z_mm", "qw", "qx", "qy", "qz", "kind"]
SOLUTION_COLUMNS = ["arm", "pose", "solution", *(f"axis{i}_rad" for i in range(1, 7)), "in_range", "found_by"]

RANDOM_POSES = 30
NEAR_SINGULAR = [1e-3, 1e-3, 1e-5]
"""How far from the singular value the axis stands, rad; once each for axes 2, 3 and 5."""
FAR_POSES, JUST_BEYOND_POSES = 2, 3

STARTS_IN_A_ROUND = 400
LEAST_ROUNDS, MOST_ROUNDS, LEAST_HITS = 3, 40, 8
"""Rounds of starts go on until every known solution was met by so many of them."""
STEPS = 80
POLISHED = 1e-15
"""What is left of the pose error after correction in extended precision, m and rad: well conditioned or not."""
WRITTEN = 1e-12
"""The pose error of the numbers as they are written may be no more than this, m and rad."""
SAME = 1e-7
"""Answers closer than this in every axis (rad) are one solution; solutions are checked to be 10 times as far apart."""
CLAIMED = 1e-6
"""An answer that misses the pose by more (m, rad) is false if its library stands by it, and else no answer."""
MOVED = 1e-2
"""An answer that correction moves by more (rad) did not stand for the solution it ran to."""

ELIMINATION = "ikgeo.general_6r"
"""What ssik calls its method for arms without closed form."""


class Arm:
    """An arm file in the form of origins and axes, as scenes/README.md has it."""

    def __init__(self, path):
        file = tomllib.loads(path.read_text())
        rows, flange = file["origin_axis"], file["flange"]
        self.name = path.stem
        self.point = np.array([row["point_mm"] for row in rows], np.longdouble) / 1000
        direction = np.array([row["direction"] for row in rows], np.longdouble)
        self.direction = direction / np.sqrt((direction**2).sum(axis=1, keepdims=True))
        self.zero = np.eye(4, dtype=np.longdouble)
        self.zero[:3, 3] = np.array(flange["at_mm"], np.longdouble) / 1000
        for axis, angle in zip([2, 1, 0], flange["rotation_zyx_deg"], strict=True):
            turn = about(np.eye(3, dtype=np.longdouble)[axis], np.deg2rad(np.longdouble(angle))[None])
            self.zero[:3, :3] = self.zero[:3, :3] @ turn[0]
        self.for_libraries = library_lines(rows)
        self.ranges = np.deg2rad([[row["min_deg"], row["max_deg"]] for row in file["axis"]])

    def forward(self, axes):
        """base_from_flange and the 6x6 Jacobian at the flange (linear rows first) for each row of `axes`."""
        kind, count = axes.dtype, len(axes)
        rotation = np.broadcast_to(np.eye(3, dtype=kind), (count, 3, 3))
        at = np.zeros((count, 3), kind)
        before = np.zeros(3, kind)
        lines = []
        axis_lines = zip(self.point.astype(kind), self.direction.astype(kind), strict=True)
        for i, (point, direction) in enumerate(axis_lines):
            at = at + rotation @ (point - before)
            lines.append((at, rotation @ direction))
            rotation, before = rotation @ about(direction, axes[:, i]), point
        zero = self.zero.astype(kind)
        at = at + rotation @ (zero[:3, 3] - before)
        jacobian = np.empty((count, 6, 6), kind)
        for i, (point, direction) in enumerate(lines):
            jacobian[:, :3, i] = np.cross(direction, at - point)
            jacobian[:, 3:, i] = direction
        pose = np.broadcast_to(np.eye(4, dtype=kind), (count, 4, 4)).copy()
        pose[:, :3, :3] = rotation @ zero[:3, :3]
        pose[:, :3, 3] = at
        return pose, jacobian

    def miss(self, axes, wanted):
        """The shift (m) and turn (rad) in base axes from each pose to the `wanted` one, and the Jacobian."""
        pose, jacobian = self.forward(axes)
        turn = wanted[:3, :3].astype(axes.dtype) @ pose[:, :3, :3].swapaxes(1, 2)
        skew = turn - turn.swapaxes(1, 2)
        sine = np.stack([skew[:, 2, 1], skew[:, 0, 2], skew[:, 1, 0]], axis=1) / 2
        size = np.sqrt((sine**2).sum(axis=1))
        angle = np.arctan2(size, (np.trace(turn, axis1=1, axis2=2) - 1) / 2)
        scale = np.divide(angle, size, out=np.ones_like(size), where=size > 0)
        return np.hstack([wanted[:3, 3].astype(axes.dtype) - pose[:, :3, 3], sine * scale[:, None]]), jacobian

    def in_range(self, axes):
        """Whether some turn of every axis lies inside its range; no answer may hang on rounding."""
        turned = axes[:, None] + 2 * np.pi * np.arange(-12, 13)
        low, high = self.ranges[:, :1], self.ranges[:, 1:]
        if np.abs(np.stack([turned - low, turned - high])).min() < 1e-7:
            raise SystemExit(f"{self.name}: an axis stands on the end of its range: {axes}")
        return bool(((turned > low) & (turned < high)).any(axis=1).all())


def library_lines(rows):
    """What the libraries take: directions, and the shifts from base to axis 1, axis to axis, and axis 6 to the end.

    The end is the point of axis 6, and the point of an axis parallel to the one before is level with that one's:
    otherwise the DH rows that ssik makes are of another arm (its own forward kinematics misses the wanted pose).
    """
    directions = np.array([row["direction"] for row in rows], float)
    directions /= np.linalg.norm(directions, axis=1)[:, None]
    points = np.array([row["point_mm"] for row in rows]) / 1000
    for i in range(1, 6):
        if np.linalg.norm(np.cross(directions[i - 1], directions[i])) < 1e-9:
            points[i] += (points[i - 1] - points[i]) @ directions[i] * directions[i]
    return directions, np.diff(points, axis=0, prepend=np.zeros((1, 3)), append=points[5:])


def about(direction, angles):
    """Rotations about one direction by each of `angles` (Rodrigues)."""
    x, y, z = direction
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]], direction.dtype)
    sine, rest = np.sin(angles)[:, None, None], (1 - np.cos(angles))[:, None, None]
    return np.eye(3, dtype=direction.dtype) + sine * cross + rest * (cross @ cross)


def from_quaternion(at, quaternion):
    """base_from_flange in extended precision from a place (m) and a quaternion (w first, made to length 1)."""
    w, x, y, z = quaternion / np.sqrt((quaternion**2).sum())
    pose = np.eye(4, dtype=np.longdouble)
    pose[:3, :3] = [
        [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
        [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
        [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
    ]
    pose[:3, 3] = at
    return pose


def written(pose):
    """x, y, z in mm and the quaternion with w >= 0 as text that reads back exactly, and the pose so read."""
    r = pose[:3, :3]
    # Each row holds one part of the quaternion times all four: the row of the largest part is the accurate one.
    parts = np.array([
        [1 + r[0, 0] + r[1, 1] + r[2, 2], r[2, 1] - r[1, 2], r[0, 2] - r[2, 0], r[1, 0] - r[0, 1]],
        [r[2, 1] - r[1, 2], 1 + r[0, 0] - r[1, 1] - r[2, 2], r[0, 1] + r[1, 0], r[0, 2] + r[2, 0]],
        [r[0, 2] - r[2, 0], r[0, 1] + r[1, 0], 1 - r[0, 0] + r[1, 1] - r[2, 2], r[1, 2] + r[2, 1]],
        [r[1, 0] - r[0, 1], r[0, 2] + r[2, 0], r[1, 2] + r[2, 1], 1 - r[0, 0] - r[1, 1] + r[2, 2]],
    ])  # fmt: skip
    row = parts[np.argmax(np.diag(parts))]
    quaternion = np.copysign(1, row[0]) * row / np.sqrt((row**2).sum())
    numbers = np.concatenate([pose[:3, 3] * 1000, quaternion]).astype(float)
    exact = numbers.astype(np.longdouble)
    return [f"{number:.17g}" for number in numbers], from_quaternion(exact[:3] / 1000, exact[3:])


def wrapped(axes):
    """The same angles in (-pi, pi]."""
    return -((np.pi - axes) % (2 * np.pi) - np.pi)


def apart(one, other):
    """The greatest difference in one axis, whole turns aside."""
    return np.abs(wrapped(one - other)).max(axis=-1)


def sizes(errors):
    """The length of the shift or of the turn, whichever is greater."""
    return np.maximum(np.linalg.norm(errors[:, :3], axis=1), np.linalg.norm(errors[:, 3:], axis=1))


def starts(arm, wanted, random):
    """One round of random starts of a damped Newton iteration: where it met the pose, and how near it came anywhere."""
    axes = random.uniform(-np.pi, np.pi, (STARTS_IN_A_ROUND, 6))
    met, nearest = [], np.inf
    for _ in range(STEPS):
        error, jacobian = arm.miss(axes, wanted)
        size = sizes(error)
        nearest = min(nearest, size.min())
        done = size < 1e-9
        met.extend(axes[done])
        axes, error, jacobian = axes[~done], error[~done], jacobian[~done]
        if not len(axes):
            break
        # The damping goes with the square of the error (Sugihara 2011), so that the last steps are Newton's.
        transposed = jacobian.swapaxes(1, 2)
        damping = 0.5 * (error**2).sum(axis=1) + 1e-14
        normal = transposed @ jacobian + damping[:, None, None] * np.eye(6)
        axes = axes + np.linalg.solve(normal, transposed @ error[:, :, None])[:, :, 0]
    return np.array(met).reshape(-1, 6), nearest


def polished(arm, wanted, axes):
    """Each row corrected by Newton with the error in extended precision, and which rows then meet the pose."""
    axes = np.array(axes, np.longdouble).reshape(-1, 6)
    begun = axes
    for _ in range(12):
        error, jacobian = arm.miss(axes, wanted)
        inverse = np.linalg.pinv(jacobian.astype(float), rcond=1e-13)
        step = (inverse.astype(np.longdouble) @ error[:, :, None])[:, :, 0]
        axes = axes + step
    error, _ = arm.miss(axes, wanted)
    good = (sizes(error.astype(float)) < POLISHED) & (apart(axes, begun) < MOVED)
    return wrapped(axes).astype(float), good


class Eaik:
    """The library eaik: closed forms by subproblems; it takes no arm that has none."""

    def __init__(self, directions, offsets):
        robot = HPRobot(directions, offsets)
        self.method = robot.getKinematicFamily() if robot.hasKnownDecomposition() else None
        self.robot = robot

    def answers(self, pose):
        """Axis values, and which of them the library stands by: the others it calls least-squares solutions."""
        if self.method is None:
            return np.empty((0, 6)), np.empty(0, bool)
        answer = self.robot.IK(pose)
        return np.array(answer.Q).reshape(-1, 6), ~np.array(answer.is_LS, bool)


class Ssik:
    """The library ssik: closed forms by subproblems, elimination for all other arms.

    Where it has a closed form only for the arm from the other end, it is asked for that.
    """

    def __init__(self, directions, offsets):
        self.robot = ssik.Manipulator.from_axes(directions, offsets)
        from_other_end = ssik.Manipulator.from_axes(-directions[::-1], -offsets[::-1])
        self.is_turned_round = self.robot.solver_name == ELIMINATION != from_other_end.solver_name
        if self.is_turned_round:
            self.robot = from_other_end
        self.method = self.robot.solver_name

    def answers(self, pose):
        """Axis values, whatever the ranges; the library stands by all of them."""
        target = np.linalg.inv(pose) if self.is_turned_round else pose
        axes = np.array([answer.q for answer in self.robot.solve(target, respect_limits=False)]).reshape(-1, 6)
        axes = axes[:, ::-1] if self.is_turned_round else axes
        return axes, np.ones(len(axes), bool)


class Solutions:
    """The solutions of one pose, and which method found each of them how often."""

    def __init__(self, arm, wanted):
        self.arm, self.wanted = arm, wanted
        self.axes, self.hits = [], []
        self.stalled = Counter()

    def add(self, method, answers):
        """Corrects the answers of a method and puts them in; those that meet no solution are counted."""
        axes, good = polished(self.arm, self.wanted, answers)
        self.stalled[method] += int((~good).sum())
        for solution in axes[good]:
            distances = [apart(solution, other) for other in self.axes]
            if not distances or min(distances) > SAME:
                self.axes.append(solution)
                self.hits.append(Counter())
                distances.append(0.0)
            self.hits[int(np.argmin(distances))][method] += 1

    def search(self, random):
        """Rounds of random starts until every solution was met often enough; how near any start came to the pose."""
        nearest = np.inf
        for done in range(MOST_ROUNDS):
            if done >= LEAST_ROUNDS and all(hits["starts"] >= LEAST_HITS for hits in self.hits):
                break
            met, near = starts(self.arm, self.wanted, random)
            self.add("starts", met)
            nearest = min(nearest, near)
        return nearest

    def checked(self):
        """Solutions in the order of their axis values, each with its hits; every promise about them is checked."""
        for i, one in enumerate(self.axes):
            if any(apart(one, other) < 10 * SAME for other in self.axes[:i]):
                raise SystemExit(f"{self.arm.name}: two solutions are hard to tell apart: {self.axes}")
        if self.axes:
            error, _ = self.arm.miss(np.array(self.axes, np.longdouble), self.wanted)
            worst = sizes(error.astype(float)).max()
            if worst > WRITTEN:
                raise SystemExit(f"{self.arm.name}: a solution misses its pose by {worst}")
        order = sorted(range(len(self.axes)), key=lambda i: tuple(self.axes[i]))
        return [(self.axes[i], self.hits[i]) for i in order]


def near_singular(arm, axis, distance, random):
    """Axis values in range, singular but for `distance` in one axis; none if this axis does not get there."""
    for _ in range(200):
        axes = random.uniform(*arm.ranges.T)
        values = np.linspace(*arm.ranges[axis], 721)
        row = np.tile(axes, (len(values), 1))
        row[:, axis] = values
        signs = np.sign(np.linalg.det(arm.forward(row)[1]))
        changes = np.flatnonzero(signs[1:] != signs[:-1])
        if not len(changes):
            continue
        place = random.choice(changes)
        low, high = values[place], values[place + 1]
        for _ in range(60):
            axes[axis] = (low + high) / 2
            same = np.sign(np.linalg.det(arm.forward(axes[None])[1]))[0] == signs[place]
            low, high = (axes[axis], high) if same else (low, axes[axis])
        axes[axis] += distance * random.choice([-1, 1])
        return axes
    return None


def poses(arm, random):
    """The kind and base_from_flange of every pose of the arm."""

    def at(axes):
        return arm.forward(axes.astype(np.longdouble)[None])[0][0]

    for _ in range(RANDOM_POSES):
        yield "random", at(random.uniform(*arm.ranges.T))
    for axis, distance in product([1, 2, 4], NEAR_SINGULAR):
        axes = near_singular(arm, axis, distance, random)
        if axes is not None:
            yield f"{distance:g} rad from singular in axis {axis + 1}", at(axes)
    points = np.vstack([arm.point, arm.zero[:3, 3]]).astype(float)
    reach = np.linalg.norm(np.diff(points, axis=0), axis=1)
    for _ in range(FAR_POSES):
        pose = at(random.uniform(*arm.ranges.T))
        outward = pose[:3, 3] - arm.point[0]
        pose[:3, 3] = arm.point[0] + outward / np.sqrt((outward**2).sum()) * reach.sum() * 1.2
        yield "beyond reach", pose
    for _ in range(JUST_BEYOND_POSES):
        pose = at(random.uniform(*arm.ranges.T))
        outward = pose[:3, 3] - arm.point[0]
        step = outward / np.sqrt((outward**2).sum()) / 100
        while starts(arm, pose, random)[1] < 2e-3:
            pose[:3, 3] += step
        yield "just beyond reach", pose


def sets(arm):
    """The rows of both tables for one arm, and what README.md tells of it."""
    # The libraries' end is parallel to the base at axis values 0.
    end_from_flange = arm.zero.astype(float)
    end_from_flange[:3, 3] -= arm.for_libraries[1].sum(axis=0)
    flange_from_end = np.linalg.inv(end_from_flange)
    libraries = {"eaik": Eaik(*arm.for_libraries), "ssik": Ssik(*arm.for_libraries)}

    # Apart from each other, so that the poses do not hang on how long the search for solutions goes on.
    for_poses, for_search = np.random.default_rng(zlib.crc32(arm.name.encode())).spawn(2)
    pose_rows, solution_rows, counts, told = [], [], Counter(), []
    least_hits, nearest_miss = np.inf, np.inf
    for number, (kind, pose) in enumerate(poses(arm, for_poses)):
        text, wanted = written(pose)
        found = Solutions(arm, wanted)
        for name, library in libraries.items():
            answers, stood_by = library.answers(wanted.astype(float) @ flange_from_end)
            meets = sizes(arm.miss(answers, wanted.astype(float))[0]) <= CLAIMED
            counts[name, "false"] += int((stood_by & ~meets).sum())
            counts[name, "disowned"] += int((~stood_by & meets).sum())
            found.add(name, answers[stood_by | meets])
        nearest = found.search(for_search)
        solutions = found.checked()
        if "beyond" in kind and solutions or "beyond" not in kind and not solutions:
            raise SystemExit(f"{arm.name}: pose {number} ({kind}) has {len(solutions)} solutions")
        if not solutions:
            nearest_miss = min(nearest_miss, nearest)
        pose_rows.append([arm.name, number, *text, kind])
        for i, (axes, hits) in enumerate(solutions):
            methods = [method for method in ("eaik", "ssik", "starts") if hits[method]]
            numbers = [f"{value:.17g}" for value in axes]
            solution_rows.append([arm.name, number, i, *numbers, int(arm.in_range(axes)), "+".join(methods)])
            counts.update((method, "found") for method in methods)
            least_hits = min(least_hits, hits["starts"])
        for name, library in libraries.items():
            missed = sum(not hits[name] for _, hits in solutions)
            double = sum(max(hits[name] - 1, 0) for _, hits in solutions)
            counts[name, "double"] += double
            if library.method and (missed or found.stalled[name]):
                told.append(
                    f"{arm.name} {number} ({kind}): {name} missed {missed} of {len(solutions)}, "
                    f"{found.stalled[name]} of its answers led to none"
                )
        print(f"{arm.name} {number}: {len(solutions)} {kind}", file=sys.stderr)
        if len(solutions) % 2:
            told.append(f"{arm.name} {number} ({kind}): an odd number of solutions, {len(solutions)}")
    most = max(Counter(row[1] for row in solution_rows).values())
    cells = [arm.name, len(pose_rows), len(solution_rows), most, sum(row[9] for row in solution_rows)]
    for name, library in libraries.items():
        if library.method:
            cells += [library.method] + [counts[name, what] for what in ("found", "disowned", "double", "false")]
        else:
            cells += ["none", "", "", "", ""]
    cells += [counts["starts", "found"], least_hits, f"{nearest_miss * 1000:.2g}"]
    return pose_rows, solution_rows, cells, told


def kept(file, without):
    """The rows of a table but for those of some arms."""
    path = FOLDER / file
    if not path.exists():
        return []
    with path.open(newline="") as text:
        return [row for row in list(csv.reader(text))[1:] if row[0] not in without]


def write(file, columns, rows):
    """Writes a table, arms in the order of their names."""
    with (FOLDER / file).open("w", newline="") as text:
        writer = csv.writer(text, lineterminator="\n")
        writer.writerow(columns)
        writer.writerows(sorted(rows, key=lambda row: row[0]))


def main(names):
    """Makes the rows of the named arms, or of all."""
    for path in sorted(FOLDER.glob("*.toml")):
        if names and path.stem not in names:
            continue
        pose_rows, solution_rows, cells, told = sets(Arm(path))
        write("poses.csv", POSE_COLUMNS, kept("poses.csv", [path.stem]) + pose_rows)
        write("solutions.csv", SOLUTION_COLUMNS, kept("solutions.csv", [path.stem]) + solution_rows)
        print("| " + " | ".join(str(cell) for cell in cells) + " |", *told, sep="\n", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
