"""The flow of every line at given levels, with its slopes: what `aquaplumb.system.stepping` steps.

Bare SI numbers only. Levels are [..., stories, vessels]; any axes before are tried side by side. Lines are in the
order: what falls, the ends of pumped lines, the ways back through pumps that stand still; then, where a pipe may come off, what each pump throws out.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from aquaplumb.system import implicit
from aquaplumb.system.flow_tables import FILM, SOURCE, Network

TRICKLES, FILLS, RUNS = 0, 1, 2  # a siphon's states


def _nothing(head, places):
    return head, head


class LineFlows:
    """Flows of a network's lines; `now` is the state of its pumps and siphons (`aquaplumb.system.switches.Switches`); `loose`: a pipe may come off."""

    def __init__(self, network: Network, now, rows: int, *, loose: bool = False):
        self.net, self.now, n = network, now, network
        self.ends = np.arange(len(n.ends))
        self.side_by_side(rows)
        off = n.line_from if loose else n.line_from[:0]  # it ends on the floor: its end is its start, and counts for nothing
        self.start_of = np.concatenate([n.fall_from, n.line_from[n.end_line], n.way_far, off]).astype(int)
        self.end_of = np.concatenate([n.fall_to, n.end_to, n.way_to, off]).astype(int)
        self.arrives = 1.0 * (np.arange(len(self.end_of)) < len(self.end_of) - len(off))
        self.tables: Callable = n.fallen if n.falls else _nothing  # of what falls
        falls, pumped, count = len(n.falls), len(n.falls) + len(n.ends), len(self.start_of)
        self.falls, self.pumped, self.ways = slice(0, falls), slice(falls, pumped), slice(pumped, count - len(off))
        self.thrown = slice(count - len(off), count)
        self.spread = np.zeros((count, len(n.names)))  # from flows to changes of volume
        self.spread[np.arange(count), self.start_of] -= 1.0
        self.spread[np.arange(count), self.end_of] += self.arrives
        self._scatter = self._scattered(count, len(n.names))
        self._parted = None if len(n.names) <= implicit.DENSE else implicit.Parted(self.start_of, self.end_of, len(n.names), self._scatter)
        self._ever_back = bool(falls) and bool((n.rim[n.fall_to] > n.lip).any())  # a line whose lower vessel can stand over its lip

    def side_by_side(self, rows: int) -> None:
        """So many stories."""
        self.rows = np.arange(rows)[:, None]
        self._first_piece = self.rows * (len(self.ends) * (SOURCE - 1)) + self.ends * (SOURCE - 1)

    def _scattered(self, count: int, vessels: int):
        """The matrix from slopes (at each line's start, then at its end) to the cells of the Jacobian."""
        from scipy.sparse import coo_array

        lines, goes = np.arange(count), np.full(count, -1.0)
        cells = [(lines, self.start_of, self.start_of, goes), (lines, self.end_of, self.start_of, self.arrives),
                 (count + lines, self.start_of, self.end_of, goes), (count + lines, self.end_of, self.end_of, self.arrives)]  # fmt: skip
        line, row, column, sign = (np.concatenate([c[i] for c in cells]) for i in range(4))
        whole = coo_array((sign, (row * vessels + column, line)), shape=(vessels * vessels, 2 * count)).tocsr()
        return whole.toarray().T if vessels <= implicit.DENSE else whole

    def solver(self, parts, rise, drop, give) -> implicit.Solve:
        """What solves for a step at these slopes; `parts` [parts, stories, 1, 1] are its parts in s."""
        slopes = np.concatenate([rise * give[:, self.start_of], drop * give[:, self.end_of]], axis=1)
        if self._parted:
            return self._parted(parts, slopes)
        vessels = len(self.net.names)
        return implicit.whole(parts, (slopes @ self._scatter).reshape(-1, vessels, vessels))

    def __call__(self, level, inputs, *, slopes: bool = True):
        """(flow of each line, slope against its start's level, against its end's); [..., stories, lines]. Without slopes both are None."""
        n, self.inputs = self.net, inputs
        flow = np.zeros((*level.shape[:-1], len(self.start_of)))
        rise, drop = (np.zeros(flow.shape), np.zeros(flow.shape)) if slopes else (None, None)
        wet = (level - n.floor) * (1 / FILM)
        wet = wet if np.minimum.reduce(wet, axis=None) < 1.0 else None  # the last film of water, where a vessel runs dry
        if n.falls:
            self.fallen(level, flow, rise, drop, wet)
        if n.lines:
            self._lifted(level, flow, rise, drop)
            if inputs.ways and not self.now.on.all():
                self._backwards(level, flow, rise, drop, wet)
        if self.thrown.start < self.thrown.stop:
            self._thrown_out(level, flow, rise)
        return flow, rise, drop

    def fallen(self, level, flow, rise, drop, wet) -> None:
        """What falls, filled into the arrays of flow and slopes."""
        n, g, now, part, count = self.net, self.inputs, self.now, self.falls, len(self.net.falls)
        high, low = level.take(n.fall_from, axis=-1), level.take(n.fall_to, axis=-1)
        mouth, back = n.outlet, self._runs_back(high, low) if self._ever_back else None
        if back is not None:
            high, low, mouth = np.where(back, low, high), np.where(back, np.maximum(high, n.lip), low), np.where(back, n.lip, mouth)
        drowned = low > mouth if rise is not None else None
        low = np.maximum(low, mouth)
        q, slope = self.tables(np.concatenate([high - n.lip, high - low], axis=-1), g.fall_places)
        over, down = q[..., :count], q[..., count:]
        full = down < over
        if len(n.siphons):
            runs = now.siphon == RUNS
            if np.count_nonzero(runs):
                full[..., n.siphons] |= runs if back is None else runs & ~back[..., n.siphons]
        q = np.where(full, down, over)
        share = fills = None
        if wet is not None:
            source = wet[..., n.fall_from] if back is None else np.where(back, wet[..., n.fall_to], wet[..., n.fall_from])
            share = np.minimum(np.maximum(source, 0.0), 1.0)
        if now.filling and len(n.siphons):  # one that fills takes its water as it was at the start of the step
            fills = np.zeros(full.shape[-2:], bool)
            fills[:, n.siphons] = now.siphon == FILLS
        if rise is not None:
            up = np.where(full, slope[..., count:], slope[..., :count])
            held = np.where(full & drowned, -up, 0.0)
            if share is not None:
                up, held = up * share + q * ((share < 1) / FILM), held * share
            if fills is not None:
                up, held = np.where(fills, 0.0, up), np.where(fills, 0.0, held)
            rise[..., part], drop[..., part] = (up, held) if back is None else (np.where(back, -held, up), np.where(back, -up, held))
        if share is not None:
            q = q * share
        if fills is not None:
            q = np.where(fills, 0.0, q)
        flow[..., part] = q if back is None else np.where(back, -q, q)

    def _runs_back(self, high, low) -> np.ndarray | None:
        """Which drowned lines run the other way; None where none does."""
        back = (low > self.net.lip) & (low > high)
        return back if np.count_nonzero(back) else None

    def _lifted(self, level, flow, rise, drop) -> None:
        n, g, now, part, to_end = self.net, self.inputs, self.now, self.pumped, self.net.end_line
        over = level.take(n.line_from, axis=-1) - n.line_floor
        place = np.minimum(over * n.per_grid, SOURCE - 1.5).astype(np.intp)
        piece = place.take(to_end, axis=-1) + self._first_piece
        up = g.base_slope.take(piece)
        q = g.base_start.take(piece) + up * over.take(to_end, axis=-1)
        held = None
        if g.drowned:
            held = np.zeros_like(q)
            for one in g.drowned:
                self._drown(one, level, over, place, q, held)
            q = np.maximum(q, 0.0)
        share = np.minimum((over - n.inlet_depth) * (1 / FILM), 1.0)
        fades = np.minimum.reduce(share, axis=None) < 1.0
        share = np.maximum(share, 0.0) if fades else share
        self.line_flow, self.line_share = q, share  # what a filling line takes
        runs = np.where(now.pumping, share, 0.0).take(to_end, axis=-1)
        flow[..., part] = q * runs
        if rise is None:
            return
        rise[..., part] = up * runs
        if fades:
            rise[..., part] += q * np.where(now.pumping & (share < 1) & (share > 0), 1 / FILM, 0.0)[..., to_end]
        if held is not None:
            drop[..., part] = held * runs

    def _thrown_out(self, level, flow, rise) -> None:
        """What pumps throw on the floor whose pipe has come off, down to their inlets."""
        share = (level.take(self.net.line_from, axis=-1) - self.net.inlet) * (1 / FILM)
        most = np.where(self.now.on, self.inputs.loose, 0.0)
        flow[..., self.thrown] = most * np.clip(share, 0.0, 1.0)
        if rise is not None:
            rise[..., self.thrown] = most * ((share > 0) & (share < 1)) * (1 / FILM)

    def _drown(self, one, level, over, place, q, held) -> None:
        """Add what it changes that a vessel stands over its pipes' ends."""
        p, mine, vessel, low, high, change = one
        rises = level[..., vessel] > low
        if not rises.any():
            return
        steps = change.shape[3] - 1
        y = np.minimum(np.maximum(level[..., vessel] - low, 0.0) * (steps / (high - low)), steps - 1e-6)
        k, j, r = y.astype(np.intp), place[..., p], self.rows[:, 0]
        along, across = (over[..., p] * self.net.per_grid[p] - j)[..., None], (y - k)[..., None]
        near, far = (change[r, :, j, k + b] + along * (change[r, :, j + 1, k + b] - change[r, :, j, k + b]) for b in (0, 1))
        q[..., mine] += near + across * (far - near)
        own = (self.net.end_to[mine] == vessel) & rises[..., None]
        held[..., mine] += np.where(own, (far - near) * (steps / (high - low)), 0.0)

    def _backwards(self, level, flow, rise, drop, wet) -> None:
        n, g, now, part = self.net, self.inputs, self.now, self.ways
        low, high = level[..., n.way_far], level[..., n.way_to]
        over = np.maximum(low, n.way_end)  # of water that crosses to another end: that end, or the water over it
        still = ~now.on[:, n.way_line]
        back = still & now.primed & g.back & (high > over)
        end = np.maximum(high, n.way_mouth)
        forth = still & g.open & ~n.way_across & (low > end)  # downhill, water finds its way with or without a pump
        moves = back | forth
        if not moves.any():
            return
        q, slope = n.back(np.where(back, high - over, np.where(forth, low - end, 0.0)))
        if wet is not None:
            share = np.clip(np.where(back, wet[..., n.way_to], wet[..., n.line_from[n.way_line]]), 0.0, 1.0)
            q, slope = q * share, slope * share
        flow[..., part] = np.where(back, -q, q)
        if rise is None:
            return
        slope = np.where(moves, slope, 0.0)
        fixed = np.where(back, low < n.way_end, False)  # its end is in the air: what stands in the far vessel does not count
        rise[..., part], drop[..., part] = np.where(fixed, 0.0, slope), np.where(back | (high > n.way_mouth), -slope, 0.0)
