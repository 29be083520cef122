"""The sections of the season page: packs, consumption, pair and timer, over the flights of one aircraft."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from dash import html
from dash.development.base_component import Component

from dashboard.drawings import trends as drawn
from dashboard.drawings.season import Placed, called_weak
from dashboard.figures import clock, interval, limits, number, signed
from dashboard.plots import Plots
from dashboard.sections.parts import Piece, caution, note, plot, row, sentence, table, undecided
from dashboard.texts import say
from telemetry.estimate import Estimate, Undecided
from telemetry.limits import WEAK_CELL_RATIO
from telemetry.season.ageing import PackAgeing
from telemetry.season.trends import CellTrend, ConfigurationCost, PackCells, PairStep, Trends


def headline(flown: Sequence[Placed], found: Trends) -> str:
    """What changed over the season, in one sentence; what kept as it was; or that there are too few flights
    to tell.
    """
    said = [_aged(p, short=True) for p in found.packs if _is_ageing(p)]
    said += [_grew(p.pack, cell, short=True) for p in found.packs for cell in growing(p)]
    grown = {(p.pack, cell.cell) for p in found.packs for cell in growing(p)}
    said += [
        say("season.weak_short", cell=cell, pack=_pack(pack), n=n)
        for (pack, cell), n in _called_weak(flown).items()
        if (pack, cell) not in grown
    ]
    if isinstance(found.pair, PairStep):
        said.append(say("season.pair_short", since=found.pair.since))
    said += [_cost_short(c) for c in found.configurations if _is_sure(c.difference_fraction)]
    if said:
        return sentence("; ".join(said))
    kept = [say("season.pair_kept")] if found.pair is None else []
    if found.packs and all(_keeps_together(p) for p in found.packs):
        kept.insert(0, say("season.cells_kept"))
    if kept:
        return sentence("; ".join(kept))
    return say("season.too_few_one" if len(flown) == 1 else "season.too_few", count=len(flown))


def _called_weak(flown: Sequence[Placed]) -> dict[tuple[str, int], int]:
    """Cells called weak for their resistance, by pack and cell, and the latest flight that did."""
    return {weak: p.flight.id for p in flown for weak in called_weak(p)}


def _keeps_together(pack: PackCells) -> bool:
    return not isinstance(pack.cells, Undecided) and all(c.verdict == "steady" for c in pack.cells)


def growing(pack: PackCells) -> list[CellTrend]:
    """Cells of a pack that grow apart from their neighbours."""
    return [] if isinstance(pack.cells, Undecided) else [c for c in pack.cells if c.verdict == "growing"]


def _is_ageing(pack: PackCells) -> bool:
    return isinstance(pack.ageing, PackAgeing) and pack.ageing.verdict == "ageing"


def _aged(pack: PackCells, *, short: bool = False) -> str:
    """How a whole pack's resistance went, and how long it lasts at that pace."""
    found = pack.ageing
    assert isinstance(found, PackAgeing)
    share = found.change_fraction.scaled(100)
    if short:
        return say("season.aged_short", pack=_pack(pack.pack), value=number(share.value))
    words = say(
        f"season.whole_{found.verdict}",
        value=signed(share.value, 0),
        interval=limits(share, 0, plus=True),
        flights=found.flights,
    )
    if isinstance(found.flights_left, Undecided):
        return words
    left = say(
        "season.flights_left", value=number(found.flights_left.value), interval=limits(found.flights_left, 0)
    )
    return f"{words}; {left}"


def _fitted(configuration: str) -> str:
    return say("season.on", name=configuration) if configuration else say("draw.as_sheet")


def _pack(name: str) -> str:
    return say("draw.pack_named", name=name) if name else say("draw.pack_unnamed")


def _is_sure(change: Estimate) -> bool:
    return change.low > 0 or change.high < 0


def _grew(pack: str, cell: CellTrend, *, short: bool = False) -> str:
    """How a cell grew apart; the short one stands in the headline."""
    share = cell.change_fraction.scaled(100)
    words = "season.grew_short" if short else "season.grew"
    return say(
        words,
        cell=cell.cell,
        pack=_pack(pack),
        value=number(share.value),
        interval=interval(share, 0),
        since=cell.since,
    )


def _cost_short(cost: ConfigurationCost) -> str:
    share = cost.difference_fraction.scaled(100)
    more = "more" if share.value > 0 else "less"
    return say(
        f"season.cost_short_{more}",
        one=_fitted(cost.configuration),
        other=_fitted(cost.against),
        value=number(abs(share.value)),
    )


def packs(flown: Sequence[Placed], found: Trends, plots: Plots) -> Component:
    """Each pack's resistance, then its cells."""
    kind = drawn.kind_of(flown)
    grown = [(p, cell) for p in found.packs for cell in growing(p)]
    steady = bool(found.packs) and all(_keeps_together(p) for p in found.packs)
    heading = "season.packs_growing" if grown else "season.packs_steady" if steady else "season.packs_open"
    main: list[Piece] = [html.H2(say(heading, count=len(grown))), *[html.P(_of_pack(p)) for p in found.packs]]
    if not found.packs:
        main.append(html.P(undecided(say("season.no_cells"))))
    main.append(
        plot(
            plots.still(lambda view: drawn.pack_resistance(flown, narrow=view.narrow)),
            _resistance_caption(flown, kind),
        )
    )
    wide = [figure for p in reversed(found.packs) if (figure := _cells(flown, p, plots)) is not None]
    notes = [
        note("how-25", say("season.how_25"), [say("season.how_25_1")]),
        note(
            "how-grow",
            say("season.how_grow"),
            [say("season.how_grow_1"), say("season.how_grow_2", ratio=f"{WEAK_CELL_RATIO.value:g}")],
        ),
        caution(say("cells.caution")),
    ]
    return row(
        "packs",
        say("season.packs"),
        say("season.count_grown", count=len(grown)) if grown else "",
        main,
        notes=notes,
        wide=wide,
    )


def _of_pack(pack: PackCells) -> list[Piece]:
    name = html.B(f"{sentence(_pack(pack.pack)).rstrip('.')}: ")
    whole: list[Piece] = []
    if isinstance(pack.ageing, PackAgeing):
        whole = [sentence(_aged(pack)), " "]
    elif pack.ageing.reason:
        whole = [say("season.whole_open"), " ", undecided(pack.ageing), " "]
    return [name, *whole, *_of_cells(pack)]


def _of_cells(pack: PackCells) -> list[Piece]:
    if isinstance(pack.cells, Undecided):
        return [say("season.cells_open"), " ", undecided(pack.cells)]
    said = [_grew(pack.pack, c) for c in pack.cells if c.verdict == "growing"]
    steady, still_open = ([c for c in pack.cells if c.verdict == v] for v in ("steady", "undecided"))
    if len(steady) == len(pack.cells):
        return [sentence(say("season.all_steady"))]
    if steady:
        said.append(say("season.steady_one" if len(steady) == 1 else "season.steady", cells=_listed(steady)))
    if still_open:
        widest = max(still_open, key=lambda c: c.change_fraction.high - c.change_fraction.low)
        said.append(
            say(
                "season.open_one" if len(still_open) == 1 else "season.open",
                cells=_listed(still_open),
                interval=limits(widest.change_fraction.scaled(100), 0, plus=True),
            )
        )
    return [sentence("; ".join(said))]


def _flights(numbers: Sequence[int]) -> str:
    return say(
        "list.of_flight" if len(numbers) == 1 else "season.of_flights", n=", ".join(str(n) for n in numbers)
    )


def _listed(cells: Sequence[CellTrend]) -> str:
    return ", ".join(str(c.cell) for c in cells)


def _resistance_caption(flown: Sequence[Placed], kind: drawn.Kind) -> str:
    said = say(f"season.resistance_{kind}")
    out = drawn.left_out(flown)
    return f"{said} {say('season.left_out', flights=_flights(out))}" if out else said


def _cells(flown: Sequence[Placed], pack: PackCells, plots: Plots) -> Component | None:
    """One pack's cells: what each measures, and against its neighbours."""
    marked = sorted(
        {cell for name, cell in _called_weak(flown) if name == pack.pack} | {c.cell for c in growing(pack)}
    )
    pair = [
        plots.still(lambda view: drawn.cells_of_pack(flown, pack.pack, marked)),
        plots.still(lambda view: drawn.ratios_of_pack(flown, pack.pack, marked)),
    ]
    shown = [html.Figure(p) for p in pair if p is not None]
    if not shown:
        return None
    name = sentence(say("season.cells_of", pack=_pack(pack.pack))).rstrip(".")
    return html.Div(
        [
            html.H3(name),
            html.Div(shown, className="pair2"),
            html.P(say("season.cells_caption"), className="fine readme"),
        ],
        className="of-pack",
    )


def consumption(flown: Sequence[Placed], found: Trends, plots: Plots) -> Component:
    """Charge a minute by configuration, and what each costs against the one flown most."""
    flights = Counter(p.flight.configuration for p in flown if p.flight.past is not None)
    sure = [c for c in found.configurations if _is_sure(c.difference_fraction)]
    heading = (
        _cost_short(sure[0])
        if sure
        else say("season.rates_one")
        if len(flights) < 2
        else say("season.rates_open")
    )
    main: list[Piece] = [html.H2(sentence(heading).rstrip("."))]
    main += [html.P(_cost(c)) for c in found.configurations]
    lone = [name for name, count in flights.items() if count == 1 and len(flights) > 1]
    main += [
        html.P([f"{sentence(_fitted(n)).rstrip('.')}: ", undecided(say("season.needs_two"))]) for n in lone
    ]
    main.append(
        plot(plots.still(lambda view: drawn.rates(flown, narrow=view.narrow)), say("season.rates_caption"))
    )
    return row(
        "consumption",
        say("season.consumption"),
        "",
        main,
        notes=[note("how-cost", say("season.how_cost"), [say("season.how_cost_1")])],
    )


def _cost(cost: ConfigurationCost) -> str:
    share = cost.difference_fraction.scaled(100)
    key = "undecided" if not _is_sure(cost.difference_fraction) else "more" if share.value > 0 else "less"
    shown = share if share.value > 0 or key == "undecided" else share.scaled(-1)
    value = signed(shown.value) if key == "undecided" else number(shown.value)
    limits = interval(shown, 0, plus=key == "undecided")
    return sentence(
        say(
            f"season.cost_{key}",
            one=_fitted(cost.configuration),
            other=_fitted(cost.against),
            value=value,
            interval=limits,
        )
    )


def pair(flown: Sequence[Placed], found: Trends, plots: Plots) -> Component | None:
    """Whether the pair changed; None where no flight compared two motors."""
    shown = plots.still(lambda view: drawn.imbalance(flown, narrow=view.narrow))
    if shown is None:
        return None
    step = found.pair
    if isinstance(step, PairStep):
        before, after = (signed(100 * v, 1) for v in (step.before_fraction, step.after_fraction))
        words: list[Piece] = [
            html.H2(say("season.pair_step", since=step.since)),
            html.P(say("season.pair_step_more", before=before, after=after)),
        ]
    elif isinstance(step, Undecided):
        words = [html.H2(say("season.pair_open")), html.P(undecided(step))]
    else:
        words = [html.H2(say("season.pair_same"))]
    uneven = [p.flight.id for p in flown if p.flight.verdicts.get("pair") == "uneven"]
    words += [html.P(say("season.pair_uneven", flights=_flights(uneven)))] if uneven else []
    return row(
        "pair",
        say("place.pair"),
        "",
        [*words, plot(shown, say("season.pair_caption"))],
        notes=[note("how-step", say("season.how_step"), [say("season.how_step_1")])],
    )


def timer(flown: Sequence[Placed], plots: Plots) -> Component:
    """The timer that each flight left for the next."""
    known = [p for p in flown if p.flight.alarm_s is not None]
    last = {p.flight.configuration: p for p in known}
    main: list[Piece] = [html.H2(say("season.timer_now") if known else say("timer.heading_undecided"))]
    if known:
        rows = [[_fitted(name), clock(p.flight.alarm_s or 0.0), str(p.flight.id)] for name, p in last.items()]
        main.append(
            table(
                [say(f"season.{k}") for k in ("fitted", "alarm", "after")],
                rows,
                say("season.timer_now"),
                right=(1, 2),
                spaced=True,
            )
        )
    main.append(
        plot(plots.still(lambda view: drawn.timers(flown, narrow=view.narrow)), say("season.timer_caption"))
    )
    return row("timer", say("place.timer"), "", main, notes=[caution(say("timer.caution"))])
