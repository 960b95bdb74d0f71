"""A sweep and a search on a cluster: the executor of a dask client is taken as it is."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner
from pandas.testing import assert_frame_equal

import gistools as gt
from gistools.cli.main import main
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


@pytest.mark.slow
def test_a_search_on_a_local_cluster_is_the_same(tmp_path):
    """By the command: a carry shortened by moving the burn, alone and on two workers."""
    path = gt.write_sample(tmp_path / "m.gpkg")
    rows = tmp_path / "rows.toml"
    row = 'hole = 1\nmeasure = "carries.carry_m"\ntee = "forward"\nfeature = "Teasel Burn"\nat_most = 157.0\n'
    rows.write_text(f"[[brief]]\n{row}", encoding="utf-8")
    words = [
        "search",
        str(path),
        "--hole",
        "1",
        "--brief-file",
        str(rows),
        "--move",
        "Teasel Burn: along -9..0",
    ]
    alone = CliRunner().invoke(main, [*words, "--json", "--quiet"], catch_exceptions=False)
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as cluster:
        address = ["--cluster", cluster.scheduler_address]
        apart = CliRunner().invoke(main, [*words, *address, "--json", "--quiet"], catch_exceptions=False)
    assert (alone.exit_code, apart.exit_code) == (0, 0)
    one, other = json.loads(alone.stdout), json.loads(apart.stdout)
    assert one == other and one["holds"] and len(one["tried"]) > 8
    assert one["margin_before"] < 0 <= one["margin"]
