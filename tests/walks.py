"""The ways of a build's pipes on the ground: walked leg by leg along square ways, from where its vessels stand.

    ends = walked(build, line)       # where each end of a pumped line may lie, or None where some stretch cannot be walked

A leg that goes along goes along x or y. An elbow turns it by a quarter; a union, a valve and the run of a tee do not. Two pipes that leave
a tee by its branches leave to opposite sides. Where the pump stands in its vessel is free, and so is which way each elbow looks.
"""

from aquaplumb.build.routes import legs_of
from aquaplumb.build.standing import standing
from aquaplumb.plumbing import fittings

INSIDE = 0.05  # m from the wall of what water leaves or falls into, to the middle of a pipe: half of a 75 mm pipe, and a finger
_WAYS = ((1, 0), (0, 1), (-1, 0), (0, -1))
_UPRIGHT = (0, 0)


def walked(build, line):
    """A start on the ground for a pump's stretches from which every one ends over its vessel, as {end: (x, y)} [m]; None where there is none."""
    plan, pipes = standing(build), [pipe.si for pipe in line.pipe]
    for source in plan.of(line.source):
        found = _from(plan, pipes, {}, _shrunk(source.corners))
        if found is not None:
            return found
    return None


def _from(plan, pipes, done, region):
    """The rest of the stretches from what is `done`: {name: (where it ends, as told from the start; which way it goes there; which way it set out)}; `region`: where the start may lie."""
    if not region:
        return None
    if len(done) == len(pipes):
        x, y = (sum(corner[k] for corner in region) / len(region) for k in (0, 1))
        return {p.name: (x + done[p.name][0][0], y + done[p.name][0][1]) for p in pipes}
    pipe = pipes[len(done)]
    for place, *ways in _walks(pipe, pipes, done):
        regions = [region]
        if pipe.to:
            regions = [_clipped(region, [(x - place[0], y - place[1]) for x, y in _shrunk(foot.corners)]) for foot in plan.of(pipe.to)]
        for left in regions:
            found = _from(plan, pipes, done | {pipe.name: (place, *ways)}, left)
            if found is not None:
                return found
    return None


def _walks(pipe, pipes, done):
    """Each way that the legs of a stretch can take, as (where it ends, which way it goes there, which way it set out)."""
    at = done[pipe.after][0] if pipe.after else (0.0, 0.0)
    legs = list(legs_of(pipe.route))
    for first in _first(pipe, pipes, done, legs[0][1]):
        todo = [(at, first, 0)]
        while todo:
            (x, y), way, k = todo.pop()
            length, up, joint = legs[k]
            if (way == _UPRIGHT) != bool(up):
                continue  # a leg that stands where the way lies, or the other way round
            here = (x + length * way[0], y + length * way[1])
            if k == len(legs) - 1:
                yield here, way, first
                continue
            todo += [(here, turned, k + 1) for turned in (_turns(way) if _bends(joint) else [way])]


def _first(pipe, pipes, done, up):
    """The ways in which a stretch may set out."""
    if not pipe.after:
        return [_UPRIGHT] if up else list(_WAYS)
    way = done[pipe.after][1]
    if not _counted(pipe, "tee branch"):
        return [way]
    others = [done[p.name][2] for p in pipes if p.after == pipe.after and p.name in done and _counted(p, "tee branch")]
    return [turn for turn in _turns(way) if all(turn == (-x, -y) != _UPRIGHT for x, y in others)]


def _turns(way):
    return [_UPRIGHT, *_WAYS] if way == _UPRIGHT else [_UPRIGHT, (way[1], way[0]), (-way[1], -way[0])]


def _bends(joint):
    return bool(joint) and fittings.fitting(joint).si.group == "bend"


def _counted(pipe, name):
    return any(fittings.fitting(one).si.name == name and count for one, count in pipe.fittings.items())


# --- convex ground


def _shrunk(corners):
    """A convex footprint, drawn in by INSIDE."""
    found, n = list(corners), len(corners)
    middle = [sum(corner[k] for corner in corners) / n for k in (0, 1)]
    for a, b in zip(corners, (*corners[1:], corners[0])):
        found = _kept(found, a, b, middle, INSIDE)
    return found


def _clipped(region, other):
    middle = [sum(corner[k] for corner in other) / len(other) for k in (0, 1)] if other else None
    for a, b in zip(other, (*other[1:], *other[:1])):
        region = _kept(region, a, b, middle, 0.0)
    return region if other else []


def _kept(region, a, b, middle, by):
    """What of a convex region lies on the middle's side of the line from a to b, and at least `by` from it (Sutherland and Hodgman 1974)."""
    nx, ny = a[1] - b[1], b[0] - a[0]
    size = (nx * nx + ny * ny) ** 0.5
    if nx * (middle[0] - a[0]) + ny * (middle[1] - a[1]) < 0:
        nx, ny = -nx, -ny

    def over(point):
        return (nx * (point[0] - a[0]) + ny * (point[1] - a[1])) / size - by

    found = []
    for p, q in zip(region, (*region[1:], *region[:1])):
        fp, fq = over(p), over(q)
        if fp >= 0:
            found.append(p)
        if (fp > 0 > fq) or (fp < 0 < fq):
            t = fp / (fp - fq)
            found.append((p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])))
    return found
