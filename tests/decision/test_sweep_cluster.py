"""A sweep on a cluster: the executor of a dask client is taken as it is."""

from __future__ import annotations

import pytest
from pandas.testing import assert_frame_equal

from gistools.design.vary import sweep

distributed = pytest.importorskip("distributed")


@pytest.mark.slow
def test_sweep_on_a_local_cluster_is_the_same(straight_site):
    grid = {"move_tee": [None, {(1, "back"): (0.0, -10.0)}, {(1, "back"): (0.0, -20.0)}]}
    simple = sweep(straight_site, grid, ["lengths.grid_m"], hole=1)
    with (
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
        ) as cluster,
        distributed.Client(cluster) as client,
        client.get_executor() as executor,
    ):
        output = sweep(straight_site, grid, ["lengths.grid_m"], hole=1, executor=executor)
    assert_frame_equal(simple, output)
