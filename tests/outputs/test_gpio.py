"""What is a pin's own: its driver is named, and closing it de-energises."""

from __future__ import annotations

import pytest
from gpiozero.pins.mock import MockFactory

from signals.outputs.gpio import Gpio, pin_driver
from signals.outputs.line import Line, OutputLost, Point
from tests.outputs.rigs import GpioRig


@pytest.mark.parametrize("point", [Point("A", "pin", 4, fail=True), Point("A", "pin", 4, invert=True)])
def test_a_lamp_whose_fail_state_needs_current_is_refused(point: Point) -> None:
    with pytest.raises(ValueError, match="A: a pin that is closed is de-energised"):
        Gpio(Line(protocol="gpio", host="mock", outs=(point,)))


def test_the_driver_is_the_one_named_and_none_stands_in() -> None:
    assert isinstance(pin_driver("mock"), MockFactory)
    with pytest.raises(OutputLost, match=r"no pin driver 'bogus'; known: .*mock"):
        pin_driver("bogus")


async def test_on_the_way_out_every_pin_is_an_input_again() -> None:
    rig = GpioRig()
    await rig.start()
    rig.output.show({"RED": 1, "YEL": 0})
    await rig.shows(RED=1, YEL=0)
    assert rig.factory.pin(17).function == "output"
    await rig.stop()
    assert {rig.factory.pin(number).function for number in (17, 18)} == {"input"}
    assert rig.lamps() == {"RED": 0, "YEL": 1}
    await rig.unplug()


async def test_a_contact_closes_to_ground() -> None:
    rig = GpioRig()
    await rig.plug_in()
    pin = rig.factory.pin(22)
    output = Gpio(Line(protocol="gpio", host="mock", ins=(Point("C", "contact", 22),)), driver=rig.factory)
    await output._open()
    assert (await output._read()).sensed == {"C": 0}
    pin.drive_low()
    assert (await output._read()).sensed == {"C": 1}
    await output._close(final=True)
    await rig.unplug()
