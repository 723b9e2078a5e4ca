"""The browser and the databases that other tests ask for."""

import psycopg
from sqlalchemy import create_engine, inspect, text


def _tables(url: str) -> list[str]:
    engine = create_engine(url)
    try:
        return inspect(engine).get_table_names()
    finally:
        engine.dispose()


def test_each_test_gets_an_empty_database_of_its_own(postgres_cluster):
    with postgres_cluster.fresh_database() as one, postgres_cluster.fresh_database() as other:
        address = one.replace("+psycopg", "")
        with psycopg.connect(address, autocommit=True) as connection:
            connection.execute("CREATE TABLE lesson (id integer)")
        assert (_tables(one), _tables(other)) == (["lesson"], [])


def test_a_database_is_gone_after_its_test(postgres_cluster, postgres_url):
    with postgres_cluster.fresh_database():
        pass
    engine = create_engine(postgres_url)
    try:
        with engine.connect() as connection:
            names = connection.scalars(text("SELECT datname FROM pg_database")).all()
    finally:
        engine.dispose()
    assert not [name for name in names if name.startswith("windtee_")]


def test_the_fresh_database_can_be_written(fresh_postgres):
    address = fresh_postgres.replace("+psycopg", "")
    with psycopg.connect(address) as connection:
        connection.execute("CREATE TABLE lesson (id integer)")
        connection.execute("INSERT INTO lesson VALUES (1)")
        assert connection.execute("SELECT id FROM lesson").fetchall() == [(1,)]


def test_the_browser_shows_a_page(browser):
    page = browser.new_page()
    page.set_content("<h1>Lesson card</h1>")
    assert page.get_by_role("heading", name="Lesson card").is_visible()
    page.close()
