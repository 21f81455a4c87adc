"""Many fields into a real PostgreSQL with PostGIS, started by the test; skipped where Debian's packages aren't installed.

`apt-get install postgresql postgresql-postgis` brings both."""

import os
import shutil
import subprocess
import tempfile
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest
from many_builders import result

from geoagro.errors import OutputError
from geoagro.outputs.portfolio import database as module
from geoagro.outputs.portfolio.database import write_database
from geoagro.outputs.portfolio.store import crops_frame, fields_frame

psycopg = pytest.importorskip("psycopg")
PROGRAMS = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
POSTGIS = list(Path("/usr/share/postgresql").glob("*/extension/postgis.control"))
pytestmark = pytest.mark.skipif(
    not (PROGRAMS and POSTGIS and (os.geteuid() or shutil.which("runuser"))), reason="no PostgreSQL with PostGIS here"
)


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    """Start a server that listens on a socket in a folder of its own, and end it."""
    with tempfile.TemporaryDirectory(prefix="pg") as place:
        folder, programs = Path(place), PROGRAMS[-1].parent
        own = [] if os.geteuid() else ["runuser", "-u", "postgres", "--"]
        if own:
            shutil.chown(folder, "postgres")

        def run(*command):
            subprocess.run([*own, *map(str, command)], check=True, capture_output=True, timeout=120, cwd="/")

        run(programs / "initdb", "-D", folder / "data", "-U", "tester", "-A", "trust", "-N", "--locale=C", "-E", "UTF8")
        options = f"-c listen_addresses= -c unix_socket_directories={folder} -c fsync=off"
        run(programs / "pg_ctl", "-D", folder / "data", "-w", "-o", options, "-l", folder / "log", "start")
        try:
            yield f"postgresql://tester@/postgres?host={folder}"
        finally:
            run(programs / "pg_ctl", "-D", folder / "data", "-m", "immediate", "stop")


@pytest.fixture
def store(address):
    yield address
    with psycopg.connect(address) as database:
        database.execute("DROP TABLE IF EXISTS field_results, field_crops")


def put(address, results, portfolio="north"):
    return write_database(fields_frame(results), crops_frame(results), address, portfolio=portfolio)


def asked(address, query):
    with psycopg.connect(address) as database:
        return database.execute(query).fetchall()


def test_fields_arrive_with_outline_figures_and_crops(store):
    put(store, [result("a"), result("b", status="failed", problem="no ground")])
    rows = asked(
        store,
        "SELECT field, status, trees, ST_AsHEXEWKB(ST_SetSRID(outline, 0)) IS NOT NULL FROM field_results ORDER BY field",
    )
    assert rows == [("a", "done", 1.0, True), ("b", "failed", None, False)]
    assert asked(store, "SELECT field, crop, plants FROM field_crops") == [("a", "apple", 3)]
    assert asked(store, "SELECT ST_SRID(outline), round(ST_Area(outline)) FROM field_results WHERE field = 'a'") == [
        (4326, 1)
    ]


def test_a_field_put_again_is_replaced_and_never_doubled(store):
    put(store, [result("a"), result("b")])
    changed = result("a")
    put(store, [replace(changed, figures=changed.figures | {"trees": 9.0}, crops=())])
    assert asked(store, "SELECT field, trees FROM field_results ORDER BY field") == [("a", 9.0), ("b", 1.0)]
    assert asked(store, "SELECT field FROM field_crops") == [("b",)]


def test_programmes_share_a_database(store):
    put(store, [result("a")], "north")
    put(store, [result("a")], "south")
    assert asked(store, "SELECT portfolio FROM field_results ORDER BY 1") == [("north",), ("south",)]


def test_a_connection_that_breaks_half_way_leaves_all_as_it_was(store, monkeypatch):
    put(store, [result("a")])

    real = module._delete

    def cut(cursor, *rest):
        real(cursor, *rest)
        with psycopg.connect(store, autocommit=True) as other:
            other.execute("SELECT pg_terminate_backend(%s)", (cursor.connection.info.backend_pid,))

    monkeypatch.setattr(module, "_delete", cut)
    with pytest.raises(OutputError, match="nothing in it was changed"):
        put(store, [result("a", status="failed"), result("new")])
    assert asked(store, "SELECT field, status FROM field_results") == [("a", "done")]
    assert asked(store, "SELECT field FROM field_crops") == [("a",)]


def test_a_database_that_isn_t_there_is_told():
    with pytest.raises(OutputError, match="--to: the database can't take the fields"):
        put("postgresql://nobody@/none?host=/nowhere", [result("a")])


def test_a_thousand_fields_take_one_transaction(store):
    assert put(store, [result(f"f{k}") for k in range(1000)]) == 1000
    assert asked(store, "SELECT count(*), count(DISTINCT field) FROM field_results") == [(1000, 1000)]
    assert pd.DataFrame(asked(store, "SELECT field FROM field_crops")).shape == (1000, 1)
