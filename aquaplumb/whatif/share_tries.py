"""What to try on the panel of notebook 07: a valve by quarters of its turn, another one, balance, and a thinner branch."""

from __future__ import annotations

from typing import TYPE_CHECKING

from aquaplumb.plumbing import pipe_sizes
from aquaplumb.units import FLOW, SHARE, DesignError, in_percent
from aquaplumb.whatif.tries import Try

if TYPE_CHECKING:
    from aquaplumb.whatif.flow_share import FlowShare, SharesWhatIf

_QUARTERS = (0.75, 0.5, 0.25)  # of how far a valve stands open now


def of_shares(what_if: SharesWhatIf, balanced: str) -> list[Try]:
    """One valve down by quarters, the first end's to half, then all balanced, and balanced with a thinner branch."""
    own = what_if.own()
    keys = {pipe.name: key for key, pipe in what_if.valves.items()}
    with_valve = [end for end in what_if.ends if what_if.last[end] in keys and what_if.valves[keys[what_if.last[end]]].opening > 0]

    def one(end: str):
        place = what_if.ends.index(end)

        def seen(record: FlowShare, system: str) -> str:
            r = record.si
            flow, was = float(r.flow[place]), float(r.first[place])
            lost = f"{in_percent(1 - flow / was)} less" if flow < was else "no less"
            told = f"**{r.to[place][:1].upper()}{r.to[place][1:]}** gets {FLOW.text(flow, system)}, where it was {FLOW.text(was, system)}: **{lost}**."
            if len(r.ends) == 1:
                return told
            fall = 1 - r.total / r.first.sum()
            gain = "The other end gains" if len(r.ends) == 2 else "The others gain"
            return f"{told} {gain}, and the whole {'hardly falls' if fall < 0.015 else f'falls by {in_percent(fall)}'}."

        return seen

    def shared(record: FlowShare, system: str) -> str:
        r = record.si
        stand = ", ".join(f"{end} {SHARE.text(opening, system)}" for end, opening in zip(r.ends, r.opening) if opening == opening)
        same = abs(r.total / r.first.sum() - 1) < 0.005
        return f"{record.sentence(system)} {'As much as before' if same else f'Before, it was {FLOW.text(r.first.sum(), system)}'}. Open: {stand}."

    tries = []
    for end in with_valve[-1:]:
        key = keys[what_if.last[end]]
        for place, part in enumerate(_QUARTERS):
            ask = f"Turn one valve a quarter towards shut: *{{{key}.label}}* **{{{key}}}**." if not place else f"Further, to **{{{key}}}**."
            tries.append(Try(ask, {key: part * own[key]}, one(end)))
    if len(with_valve) < 2:
        return tries
    first = keys[what_if.last[with_valve[0]]]
    tries.append(
        Try(f"Another one, to half of its opening: *{{{first}.label}}* **{{{first}}}**.", {first: 0.5 * own[first]}, one(with_valve[0]))
    )
    end = what_if.ends[-1]
    thin = _thinner(what_if, end)
    for to, ask in (
        ({"set": balanced}, "Under *{set.label}* choose **{set}**."),
        ({"branch": end, "size": thin, "set": balanced}, "Thinner pipe {branch}, *{size.label}* **{size}**, and *{set.label}*: **{set}**."),
    ):
        try:
            what_if.balanced(to.get("branch", own["branch"]), to.get("size", ""))
        except DesignError:
            continue
        if to.get("size", "-"):
            tries.append(Try(ask, to, shared))
    return tries


def _thinner(what_if: SharesWhatIf, end: str) -> str:
    """The next size under a branch's own, in its standard; blank where there is none."""
    standard = what_if.standard(end)
    bore = next(pipe.si.bore for pipe in what_if.line.si.pipe if pipe.si.name == end)
    bores = {size: pipe_sizes.bore.si(size, standard) for size in pipe_sizes.sizes(standard)}
    return max((size for size in bores if bores[size] < 0.99 * bore), key=lambda size: bores[size], default="")
