"""The quick part of the net of tools/net: what the product can do is what it could do."""

from __future__ import annotations

import net.abilities  # noqa: F401  enters all abilities
from net.compare import differences
from net.names import options_without_ability, without_ability
from net.record import ABILITIES, Missing
from net.run import check, given_by


def test_abilities_that_are_quick_give_what_they_gave():
    """`python -m tools.net --quick` says the same in a table."""
    failed = {}
    for one in ABILITIES.values():
        if one.quick:
            try:
                found = check(one, given_by(one))
            except Missing:
                continue
            if found:
                failed[one.name] = found
    assert not failed


def test_every_golden_has_an_ability():
    """An ability without a golden differs where it is run, here or by `python -m tools.net`."""
    kept = {one.path for one in ABILITIES.values()}
    assert set(next(iter(kept)).parent.glob("*.json")) <= kept


def test_every_public_name_is_in_an_ability():
    """Names, methods, options: by how `abilities.py` reads, for what runs it the goldens vouch."""
    assert without_ability() + options_without_ability() == []


def test_numbers_agree_by_tolerance_and_texts_whole():
    was = {"numbers": {"shape": [3], "numbers": [1.0, 1e-12, 5.0]}, "text": "one\ntwo", "count": 3}
    near = {**was, "numbers": {"shape": [3], "numbers": [1.0 + 5e-8, 3e-9, 5.0]}}
    assert differences(was, near, 1e-7, 1e-9) == []
    for now in (
        {**was, "numbers": {"shape": [3], "numbers": [1.0 + 3e-7, 0.0, 5.0]}},
        {**was, "numbers": {"shape": [2], "numbers": [1.0, 0.0]}},
        {**was, "numbers": {"shape": [3], "numbers": [float("nan"), 0.0, 5.0]}},
        {**was, "text": "one\ntwo "},
        {**was, "count": 4},
        {**was, "count": True},
        {"text": "one\ntwo"},
        {**was, "more": 1},
    ):
        assert differences(was, now, 1e-7, 1e-9), now
