"""A PostgreSQL and a Redis of the tests' own: private ports, a temporary folder, nothing kept."""

from __future__ import annotations

import os
import pwd
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import psycopg
import redis

from crm.management.stack.programs import Program
from crm.management.stack.supervisor import Supervisor
from crm.setting_up.system import postgres_programs, redis_server

NAME = "overwinter"
# Nothing here has to survive a power cut.
CARELESS = ("fsync=off", "full_page_writes=off", "synchronous_commit=off", "max_connections=60")


class NoServer(Exception):
    """A server the tests need cannot be had; the sentence says which and how to get it."""


@dataclass(frozen=True, kw_only=True)
class Servers:
    """Where the two servers listen."""

    postgres: str
    redis: str


@contextmanager
def private_servers() -> Iterator[Servers]:
    """Both servers, ended and their files removed on leaving. Must be used from the main thread.

    Raises NoServer where one is not installed.
    """
    binaries, redis_program = postgres_programs(), redis_server()
    if binaries is None:
        raise NoServer("PostgreSQL is missing. Type: sudo apt-get install postgresql-15")
    if redis_program is None:
        raise NoServer("Redis is missing. Type: sudo apt-get install redis-server")
    folder = Path(tempfile.mkdtemp(prefix="overwinter-servers-"))
    folder.chmod(0o755)
    supervisor = Supervisor(folder / "logs")
    try:
        servers = Servers(
            postgres=f"postgresql://{NAME}@127.0.0.1:{_free_port()}/{NAME}",
            redis=f"redis://127.0.0.1:{_free_port()}/0",
        )
        supervisor.start(_postgres(binaries, folder / "postgres", _port_of(servers.postgres)))
        supervisor.start(_redis(redis_program, folder, _port_of(servers.redis)))
        admin = servers.postgres.removesuffix(NAME) + "postgres"
        supervisor.wait_until(lambda: _postgres_answers(admin), what="PostgreSQL", seconds=30)
        supervisor.wait_until(lambda: _redis_answers(servers.redis), what="Redis", seconds=10)
        with psycopg.connect(admin, autocommit=True) as connection:
            connection.execute(f'CREATE DATABASE "{NAME}"')
        yield servers
    finally:
        supervisor.stop()
        shutil.rmtree(folder, ignore_errors=True)


def _postgres(binaries: Path, data: Path, port: int) -> Program:
    """PostgreSQL refuses to run as root: there it runs as the user that Debian's package made."""
    user = "postgres" if os.geteuid() == 0 else None
    data.mkdir()
    if user is not None:
        known = pwd.getpwnam(user)
        os.chown(data, known.pw_uid, known.pw_gid)
    subprocess.run(
        [
            binaries / "initdb",
            "-D",
            data,
            "-U",
            NAME,
            "-A",
            "trust",
            "-E",
            "UTF8",
            "--locale=C.UTF-8",
            "--no-sync",
        ],
        user=user,
        group=user,
        extra_groups=[] if user else None,
        cwd=data,
        stdout=subprocess.DEVNULL,
        check=True,
    )
    options = (f"port={port}", "listen_addresses=127.0.0.1", f"unix_socket_directories={data}", *CARELESS)
    command = [str(binaries / "postgres"), "-D", str(data)]
    for option in options:
        command += ["-c", option]
    return Program(name="postgres", command=tuple(command), user=user)


def _redis(program: str, folder: Path, port: int) -> Program:
    words = (
        "--bind",
        "127.0.0.1",
        "--port",
        str(port),
        "--save",
        "",
        "--appendonly",
        "no",
        "--dir",
        str(folder),
    )
    return Program(name="redis", command=(program, *words))


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _port_of(url: str) -> int:
    return int(url.rpartition(":")[2].partition("/")[0])


def _postgres_answers(url: str) -> bool:
    try:
        psycopg.connect(url, connect_timeout=2).close()
    except psycopg.OperationalError:
        return False
    return True


def _redis_answers(url: str) -> bool:
    client = redis.Redis.from_url(url, socket_timeout=2)
    try:
        return bool(client.ping())
    except redis.RedisError:
        return False
    finally:
        client.close()
