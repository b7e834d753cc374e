"""A Modbus drive made of pymodbus's own server, with a motor behind its registers, for tests.

    with Peer(unit=3) as peer: ... peer.port ...                    registers of profiles/drives/sedge.json
    with Peer(unit=1, motor=Servo(), other=Servo()) as peer: ...    any class with what Motor has

Two pseudo-terminals and a pump between them are the line; a second unit stands on the same bus.
Serves pymodbus 3.0 and 3.8.
"""

import asyncio
import logging
import os
import select
import sys
import threading
import time
import tty
import types


class _Wire(asyncio.Transport):
    """What pymodbus 3.0 takes from pyserial-asyncio, which is not always there: a raw port in the loop."""

    def __init__(self, loop, protocol, name):
        super().__init__()
        self.loop, self.protocol = loop, protocol
        self.descriptor = os.open(name, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
        tty.setraw(self.descriptor)
        loop.call_soon(protocol.connection_made, self)
        loop.add_reader(self.descriptor, self._read)

    def _read(self):
        try:
            self.protocol.data_received(os.read(self.descriptor, 1024))
        except BlockingIOError:
            pass

    def write(self, data):
        os.write(self.descriptor, data)

    def close(self):
        self.loop.remove_reader(self.descriptor)
        os.close(self.descriptor)

    def abort(self):
        self.close()


async def _create_serial_connection(loop, factory, name, **_line):
    protocol = factory()
    return _Wire(loop, protocol, name), protocol


if "serial_asyncio" not in sys.modules:
    stand_in = types.ModuleType("serial_asyncio")
    stand_in.create_serial_connection = _create_serial_connection
    sys.modules["serial_asyncio"] = stand_in

from pymodbus.datastore import ModbusSequentialDataBlock, ModbusServerContext, ModbusSlaveContext  # noqa: E402
from pymodbus.server import StartAsyncSerialServer  # noqa: E402

try:
    from pymodbus import FramerType
    RTU = FramerType.RTU
except ImportError:
    from pymodbus.transaction import ModbusRtuFramer as RTU


logging.disable(logging.CRITICAL)  # pymodbus warns of a transport without a peer's name


class Motor:
    """The speed follows the target while the run word is set; silence stops it."""

    def __init__(self):
        self.holding = {address: 0 for address in range(64)}
        self.fault = 0
        self.rpm = self.top = 0.0
        self.has_dead_man = True
        self.trips_at = None
        self.last = self.spoken = time.monotonic()
        self.lock = threading.Lock()

    def turn(self):
        now = time.monotonic()
        step, self.last = now - self.last, now
        limit = 0.1 * self.holding[4]
        if self.holding[0] and limit and now - self.spoken > limit and self.has_dead_man:
            self.fault = 0x10
        if self.trips_at is not None and self.rpm > self.trips_at:
            self.fault = 0x01
        if self.fault:
            self.holding[0] = 0
        goal = self.holding[2] if self.holding[0] else 0
        most = (20000.0 if self.holding[0] else 3000.0) * step
        self.rpm += max(-most, min(most, goal - self.rpm))
        self.top = max(self.top, self.rpm)

    def read_holding(self, address):
        return self.holding.get(address, 0)

    def read_input(self, address):
        with self.lock:
            self.spoken = time.monotonic()
            self.turn()
            return {16: int(self.rpm), 17: 1 if self.holding[0] else 0, 18: self.fault}.get(address, 0)

    def write_holding(self, address, value):
        with self.lock:
            self.spoken = time.monotonic()
            self.turn()
            self.holding[address] = value
            if address == 3 and value == 1:  # stays: pymodbus answers with what it reads back
                self.fault, self.holding[0] = 0, 0

    def run_alone(self, ended):
        while not ended.wait(0.005):
            with self.lock:
                self.turn()


class Block(ModbusSequentialDataBlock):
    """Asks the motor instead of a table. `shift`: pymodbus counts from 1 where it has no zero mode."""

    def __init__(self, shift, read, write=None):
        super().__init__(0, [0] * 100)
        self.shift, self.read, self.write = shift, read, write
        self.has = lambda address: address < 64

    def validate(self, address, count=1):
        return all(self.has(address - self.shift + i) for i in range(count)) and address >= self.shift

    def getValues(self, address, count=1):  # noqa: N802 (pymodbus's name)
        return [self.read(address - self.shift + i) for i in range(count)]

    def setValues(self, address, values):  # noqa: N802
        for i, value in enumerate(values if isinstance(values, list) else [values]):
            self.write(address - self.shift + i, value)


def slave(motor):
    """Its registers and bits, whichever way this pymodbus counts."""
    def nothing(*_):
        return 0

    blocks = {"i": Block(0, motor.read_input), "h": Block(0, motor.read_holding, motor.write_holding),
              "d": Block(0, getattr(motor, "read_discrete", nothing)),
              "c": Block(0, getattr(motor, "read_coil", nothing), getattr(motor, "write_coil", nothing))}
    inner = ModbusSlaveContext(**{name + ("r" if name in "ih" else "i" if name == "d" else "o"): block
                                  for name, block in blocks.items()})
    probe = []
    blocks["h"].read = lambda address: probe.append(address) or 0
    inner.getValues(3, 5, 1)
    blocks["h"].read = motor.read_holding
    for block in blocks.values():
        block.shift = probe[0] - 5
        block.has = getattr(motor, "has_register", block.has)
    return inner


class Peer:
    def __init__(self, unit, motor=None, other=None):
        self.motor, self.other = motor or Motor(), other or Motor()
        self.ended = threading.Event()
        self.spoil = None  # what becomes of a reply on its way; none: nothing comes back
        self.masters, names = [], []
        for _ in range(2):
            near, far = os.openpty()
            tty.setraw(far)
            self.masters.append(near)
            names.append(os.ttyname(far))
        self.port = names[0]
        slaves = {unit: slave(self.motor), unit + 1: slave(self.other)}
        context = ModbusServerContext(slaves=slaves, single=False)
        loop = asyncio.new_event_loop()

        def serve():
            asyncio.set_event_loop(loop)
            loop.create_task(StartAsyncSerialServer(context=context, framer=RTU, port=names[1], baudrate=19200,
                                                    ignore_missing_slaves=True))
            loop.run_forever()

        for work in (serve, self.pump, lambda: self.motor.run_alone(self.ended)):
            threading.Thread(target=work, daemon=True).start()

    def pump(self):
        host, drive = self.masters
        while not self.ended.is_set():
            for ready in select.select([host, drive], [], [], 0.05)[0]:
                self.carry(ready, drive if ready == host else host)

    def carry(self, begin, end):
        said = os.read(begin, 1024)
        if self.spoil and begin == self.masters[1]:
            said = self.spoil(said)
        if said:
            os.write(end, said)

    def unplug(self):
        """The host's port is gone; the drive hears nothing more."""
        self.ended.set()
        time.sleep(0.1)  # the pump has let go of it
        os.close(self.masters[0])
        threading.Thread(target=self.motor.run_alone, args=(threading.Event(),), daemon=True).start()

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.ended.set()
