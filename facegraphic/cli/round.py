"""A round of `make`: which jobs have anything new, making those, and telling of all in their order."""

from typing import Any

from facegraphic.cli.order import Order, Told


def make_all(order: Order) -> None:
    """Make every job of an order that has anything new. SystemExit(1) if one is wrong."""
    told = Told(order.options["quiet"], order.options["as_json"])
    if order.shared:
        if order.nothing_new_at_all:
            for path, folder in order.folders.items():
                told.kept(str(path), folder)
            told.kept(str(order.shared), order.shared)
        else:
            _bench(order, told).together(order.shared)
    else:
        new = [path for path in order.folders if not order.nothing_new(path)]
        made = _bench(order, told).each(new) if new else iter(())
        for path, folder in order.folders.items():
            if path in new:
                next(made)
            else:
                told.kept(str(path), folder)
        next(made, None)
    told.close()


def _bench(order: Order, told: Told) -> Any:
    from facegraphic.cli.bench import Bench  # the whole way through the house is loaded with it

    return Bench(order, told)
