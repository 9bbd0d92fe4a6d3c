"""Candidates followed from known places: steps are taken, jumps are not."""

import numpy as np

from oxhue.optics.thickness_map.unwrap import grow, settle


def two_orders(middle):
    """Each place may be of the first order or 120 nm thicker, in either place of the list."""
    values = np.stack([middle, middle + 120.0], axis=-1).astype(np.float32)
    values[::2] = values[::2, :, ::-1]
    return values


def test_every_place_without_a_jump_is_reached_and_keeps_its_order():
    middle = np.add.outer(3.0 * np.arange(7.0), 4.0 * np.arange(9.0)) + 20.0
    values = two_orders(middle)
    for start, thicker in (((3, 4), 0.0), ((0, 0), 120.0), ((6, 8), 120.0)):
        k = int(np.argmin(np.abs(values[start] - middle[start] - thicker)))
        taken = grow(values, {start: k})
        assert len(taken) == middle.size
        for place, found in taken.items():
            assert values[place][found] == np.float32(middle[place] + thicker)


def test_a_jump_and_a_gap_stop_it():
    middle = np.full((3, 8), 40.0)
    middle[:, 5:] = 56.0  # 16 nm off: more than a step may be
    values = two_orders(middle)
    values[:, 2] = np.nan
    known = int(np.argmin(values[1, 0]))
    left = grow(values, {(1, 0): known})
    assert sorted(left) == [(y, x) for y in range(3) for x in range(2)]
    middle_part = grow(values, {(1, 3): int(np.argmin(values[1, 3]))})
    assert {x for _, x in middle_part} == {3, 4}
    middle[:, 5:] = 55.0
    values = two_orders(middle)
    assert len(grow(values, {(0, 7): int(np.argmin(values[0, 7]))})) == 24


def test_the_smallest_step_comes_first():
    """From both ends of a line towards a place that fits one end better: that end has it."""
    values = np.array([[[10.0, 50.0], [20.0, 42.0], [30.0, 48.0]]], dtype=np.float32)
    taken = grow(values, {(0, 0): 0, (0, 2): 1})
    assert taken == {(0, 0): 0, (0, 2): 1, (0, 1): 1}


def test_two_known_orders_spread_until_they_meet():
    values = two_orders(np.full((2, 9), 40.0))
    thin, thick = int(np.argmin(values[0, 0])), int(np.argmax(values[0, 8]))
    taken = grow(values, {(0, 0): thin, (0, 8): thick})
    assert len(taken) == 18
    found = {values[place][k] for place, k in taken.items()}
    assert found == {np.float32(40.0), np.float32(160.0)}


def test_sure_places_carry_their_order_in_all_four_directions():
    values = np.tile(np.array([30.0, 150.0], dtype=np.float32), (7, 9, 1))
    cost = np.full(values.shape, 0.7, dtype=np.float32)
    cost[:, :, 1] = 0.6
    cost[2, 6] = [0.0, 25.0]
    settled = settle(values, cost)
    assert np.all(settled[2] == 30.0)
    assert np.all(settled[:, 6] == 30.0)


def test_nothing_is_carried_over_a_gap():
    values = np.tile(np.array([30.0, 150.0], dtype=np.float32), (3, 9, 1))
    cost = np.full(values.shape, 0.7, dtype=np.float32)
    cost[:, :, 1] = 0.6
    cost[:, 0] = cost[:, 8] = [0.0, 25.0]
    values[:, 3], cost[:, 3] = np.nan, np.inf
    values[:, 6], cost[:, 6] = np.nan, np.inf
    settled = settle(values, cost)
    assert np.isnan(settled[:, [3, 6]]).all()
    assert np.all(settled[:, :3] == 30.0)
    assert np.all(settled[:, 4:6] == 150.0)  # between the gaps nobody is sure of the first
    assert np.all(settled[:, 7:] == 30.0)


def test_the_edge_of_a_piece_is_crossed_where_both_sides_are_sure():
    values = np.tile(np.array([30.0, 150.0], dtype=np.float32), (4, 10, 1))
    cost = np.zeros(values.shape, dtype=np.float32)
    cost[:, :5, 1] = 40.0
    cost[:, 5:, 0] = 40.0
    settled = settle(values, cost)
    assert np.all(settled[:, :5] == 30.0)
    assert np.all(settled[:, 5:] == 150.0)
