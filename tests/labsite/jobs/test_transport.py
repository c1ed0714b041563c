"""The embedded broker: concurrent writers lose nothing, and nothing unreadable ends a reader."""

from __future__ import annotations

import multiprocessing
import time
from queue import Empty

import pytest
from kombu import Connection
from kombu.transport import filesystem

from labsite.jobs import transport

WRITERS, MESSAGES = 3, 200


@pytest.fixture
def options(tmp_path):
    transport.Transport.global_state.clear()  # a process remembers its bindings
    return transport.folder_options(tmp_path / "broker")


def connect(options):
    transport.register()
    return Connection("safefs://", transport_options=options)


def send_many(options, writer):
    with connect(options) as connection:
        queue = connection.SimpleQueue("work")
        for number in range(MESSAGES):
            queue.put([writer, number])


def receive_all(queue, expected, within_s=10.0):
    received, ends = [], time.monotonic() + within_s
    while len(received) < expected and time.monotonic() < ends:
        try:
            message = queue.get(block=False)
        except Empty:
            time.sleep(0.001)
            continue
        received.append(tuple(message.payload))
        message.ack()
    return received


def test_no_message_of_concurrent_writers_is_lost_or_doubled(options):
    context = multiprocessing.get_context("spawn")
    writers = [context.Process(target=send_many, args=(options, n)) for n in range(WRITERS)]
    with connect(options) as connection:
        queue = connection.SimpleQueue("work")
        for writer in writers:
            writer.start()
        received = receive_all(queue, WRITERS * MESSAGES, within_s=120)
        for writer in writers:
            writer.join()
        assert sorted(received) == [(w, n) for w in range(WRITERS) for n in range(MESSAGES)]
        assert receive_all(queue, 1, within_s=0.1) == []


def test_messages_arrive_in_the_order_of_sending(options):
    with connect(options) as connection:
        queue = connection.SimpleQueue("work")
        for number in range(20):
            queue.put([number])
        assert receive_all(queue, 20) == [(n,) for n in range(20)]


@pytest.mark.parametrize("content", [b"", b'{"body": ', b"\xff\xfe\x00"])
def test_an_unreadable_message_is_put_aside_and_the_next_one_is_read(options, tmp_path, content):
    messages = tmp_path / "broker" / "messages"
    name = f"{0:020d}_bad.work.msg"
    (messages / name).write_bytes(content)
    with connect(options) as connection:
        queue = connection.SimpleQueue("work")
        queue.put(["good"])
        assert receive_all(queue, 1) == [("good",)]
    assert (messages / transport.UNREADABLE / name).read_bytes() == content
    assert [path for path in messages.iterdir() if path.is_file()] == []


def test_a_half_written_message_is_not_seen(options, tmp_path):
    half = tmp_path / "broker" / "messages" / f"{0:020d}_x.work.msg.abc.part"
    half.write_bytes(b"{")
    with connect(options) as connection:
        queue = connection.SimpleQueue("work")
        with pytest.raises(Empty):
            queue.get(block=False)
        assert queue.qsize() == 0
    assert half.exists()


def test_a_broken_queue_table_is_put_aside_and_declared_anew(options, tmp_path):
    table = tmp_path / "broker" / "queues" / "work.exchange"
    table.write_bytes(b"")
    with connect(options) as connection:
        queue = connection.SimpleQueue("work")
        queue.put(["good"])
        assert receive_all(queue, 1) == [("good",)]
    assert (table.parent / transport.UNREADABLE / table.name).exists()


def test_its_state_is_not_shared_with_the_stock_transport():
    assert transport.Transport.global_state is not filesystem.Transport.global_state
